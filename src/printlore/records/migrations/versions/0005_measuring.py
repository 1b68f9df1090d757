"""Scanner profiles, comparisons, CSV mappings and the watched folder."""

from alembic import op

revision = "0005"
down_revision = "0004"

STATEMENTS = (
    """CREATE TABLE scanner_profiles (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    scanner TEXT NOT NULL,
    made TEXT NOT NULL,
    number INTEGER NOT NULL,
    document JSON NOT NULL,
    CONSTRAINT ck_scanner_profiles_number CHECK (number >= 1),
    CONSTRAINT uq_scanner_profiles_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_scanner_profiles_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_scanner_profiles_corrects_id FOREIGN KEY(corrects_id) REFERENCES scanner_profiles (id)
)""",
    """CREATE INDEX ix_scanner_profiles_scanner ON scanner_profiles (scanner)""",
    """CREATE TRIGGER scanner_profiles_never_changed BEFORE UPDATE ON scanner_profiles
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER scanner_profiles_never_deleted BEFORE DELETE ON scanner_profiles
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW scanner_profiles_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM scanner_profiles AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM scanner_profiles AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE comparisons (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    first TEXT NOT NULL,
    second TEXT NOT NULL,
    likeness TEXT NOT NULL,
    words TEXT NOT NULL,
    document JSON NOT NULL,
    CONSTRAINT uq_comparisons_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_comparisons_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_comparisons_corrects_id FOREIGN KEY(corrects_id) REFERENCES comparisons (id)
)""",
    """CREATE TRIGGER comparisons_never_changed BEFORE UPDATE ON comparisons
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER comparisons_never_deleted BEFORE DELETE ON comparisons
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW comparisons_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM comparisons AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM comparisons AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE csv_mappings (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    name TEXT NOT NULL,
    document JSON NOT NULL,
    CONSTRAINT uq_csv_mappings_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_csv_mappings_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_csv_mappings_corrects_id FOREIGN KEY(corrects_id) REFERENCES csv_mappings (id)
)""",
    """CREATE INDEX ix_csv_mappings_name ON csv_mappings (name)""",
    """CREATE UNIQUE INDEX uq_csv_mappings_name ON csv_mappings (name) WHERE corrects_id IS NULL""",
    """CREATE TRIGGER csv_mappings_never_changed BEFORE UPDATE ON csv_mappings
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER csv_mappings_never_deleted BEFORE DELETE ON csv_mappings
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW csv_mappings_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM csv_mappings AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM csv_mappings AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE watched_folders (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    path TEXT NOT NULL,
    CONSTRAINT uq_watched_folders_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_watched_folders_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_watched_folders_corrects_id FOREIGN KEY(corrects_id) REFERENCES watched_folders (id)
)""",
    """CREATE TRIGGER watched_folders_never_changed BEFORE UPDATE ON watched_folders
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER watched_folders_never_deleted BEFORE DELETE ON watched_folders
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW watched_folders_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM watched_folders AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM watched_folders AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
)


def upgrade() -> None:
    for statement in STATEMENTS:
        op.execute(statement)
