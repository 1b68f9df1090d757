"""Editions, numbered prints, and what became of each."""

from alembic import op

revision = "0010"
down_revision = "0009"

TABLES = (
    """CREATE TABLE editions (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    name TEXT NOT NULL,
    frame_id INTEGER NOT NULL,
    artist TEXT DEFAULT '' NOT NULL,
    prints INTEGER NOT NULL,
    proofs INTEGER NOT NULL,
    sizes TEXT DEFAULT '' NOT NULL,
    reason TEXT DEFAULT '' NOT NULL,
    confirmed BOOLEAN DEFAULT 0 NOT NULL,
    note TEXT DEFAULT '' NOT NULL,
    CONSTRAINT ck_editions_promise CHECK (prints > 0 AND proofs >= 0),
    CONSTRAINT uq_editions_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_editions_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_editions_corrects_id FOREIGN KEY(corrects_id) REFERENCES editions (id),
    CONSTRAINT fk_editions_frame_id FOREIGN KEY(frame_id) REFERENCES frames (id)
)""",
    """CREATE INDEX ix_editions_frame_id ON editions (frame_id)""",
    """CREATE INDEX ix_editions_name ON editions (name)""",
    """CREATE INDEX ix_editions_record ON editions (coalesce(corrects_id, id))""",
    """CREATE UNIQUE INDEX uq_editions_name ON editions (name) WHERE corrects_id IS NULL""",
    """CREATE TABLE numbered_prints (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    name TEXT NOT NULL,
    edition_id INTEGER NOT NULL,
    proof BOOLEAN NOT NULL,
    number INTEGER NOT NULL,
    trial_id INTEGER,
    width REAL,
    height REAL,
    printed_on TEXT,
    paper TEXT DEFAULT '' NOT NULL,
    note TEXT DEFAULT '' NOT NULL,
    CONSTRAINT ck_numbered_prints_number CHECK (number > 0),
    CONSTRAINT ck_numbered_prints_size CHECK ((width IS NULL) = (height IS NULL) AND min(width, height) > 0),
    CONSTRAINT uq_numbered_prints_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_numbered_prints_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_numbered_prints_corrects_id FOREIGN KEY(corrects_id) REFERENCES numbered_prints (id),
    CONSTRAINT fk_numbered_prints_edition_id FOREIGN KEY(edition_id) REFERENCES editions (id),
    CONSTRAINT fk_numbered_prints_trial_id FOREIGN KEY(trial_id) REFERENCES trials (id)
)""",
    """CREATE INDEX ix_numbered_prints_edition_id ON numbered_prints (edition_id)""",
    """CREATE INDEX ix_numbered_prints_name ON numbered_prints (name)""",
    """CREATE INDEX ix_numbered_prints_record ON numbered_prints (coalesce(corrects_id, id))""",
    """CREATE INDEX ix_numbered_prints_trial_id ON numbered_prints (trial_id)""",
    """CREATE UNIQUE INDEX uq_numbered_prints_name ON numbered_prints (name) WHERE corrects_id IS NULL""",
    """CREATE UNIQUE INDEX uq_numbered_prints_number ON numbered_prints (edition_id, proof, number)
WHERE corrects_id IS NULL""",
    """CREATE TABLE print_lines (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    print_id INTEGER NOT NULL,
    at TEXT NOT NULL,
    happened TEXT NOT NULL,
    price REAL,
    person TEXT DEFAULT '' NOT NULL,
    packed TEXT DEFAULT '' NOT NULL,
    note TEXT DEFAULT '' NOT NULL,
    record TEXT DEFAULT '' NOT NULL,
    digest TEXT DEFAULT '' NOT NULL,
    CONSTRAINT ck_print_lines_happened CHECK (happened IN ('signed', 'certificate written', 'on consignment', 'sold',
    'delivered', 'returned', 'destroyed')),
    CONSTRAINT ck_print_lines_price CHECK (price >= 0),
    CONSTRAINT uq_print_lines_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_print_lines_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_print_lines_corrects_id FOREIGN KEY(corrects_id) REFERENCES print_lines (id),
    CONSTRAINT fk_print_lines_print_id FOREIGN KEY(print_id) REFERENCES numbered_prints (id)
)""",
    """CREATE INDEX ix_print_lines_print_id ON print_lines (print_id)""",
    """CREATE INDEX ix_print_lines_record ON print_lines (coalesce(corrects_id, id))""",
)
GUARDS = """CREATE TRIGGER {table}_never_changed BEFORE UPDATE ON {table}
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END
;;
CREATE TRIGGER {table}_never_deleted BEFORE DELETE ON {table}
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END
;;
CREATE VIEW {table}_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM {table} AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM {table} AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)"""
KEEPS = (
    """CREATE TRIGGER numbered_prints_one_sheet BEFORE INSERT ON numbered_prints
WHEN NEW.trial_id IS NOT NULL AND NEW.removed = 0 AND EXISTS (SELECT 1 FROM numbered_prints_now AS other
WHERE other.trial_id = NEW.trial_id AND other.record_id != coalesce(NEW.corrects_id, 0))
BEGIN SELECT RAISE(ABORT, 'a sheet is one numbered print');
END""",
    """CREATE TRIGGER numbered_prints_keeps_its_number BEFORE INSERT ON numbered_prints
WHEN EXISTS (SELECT 1 FROM numbered_prints AS first WHERE first.id = NEW.corrects_id AND (first.number, first.proof,
first.edition_id, first.name) != (NEW.number, NEW.proof, NEW.edition_id, NEW.name))
BEGIN SELECT RAISE(ABORT, 'a print keeps its number and code');
END""",
)


def upgrade() -> None:
    for statement in TABLES:
        op.execute(statement)
    for table in ("editions", "numbered_prints", "print_lines"):
        for statement in GUARDS.format(table=table).split("\n;;\n"):
            op.execute(statement)
    for statement in KEEPS:
        op.execute(statement)
