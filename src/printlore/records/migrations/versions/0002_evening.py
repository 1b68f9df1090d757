"""Evenings: their events, the printer's own sequences, and which page has the voice."""

from alembic import op

revision = "0002"
down_revision = "0001"

STATEMENTS = (
    """CREATE TABLE evenings (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    name TEXT NOT NULL,
    opened_at TEXT NOT NULL,
    CONSTRAINT uq_evenings_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_evenings_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_evenings_corrects_id FOREIGN KEY(corrects_id) REFERENCES evenings (id)
)""",
    """CREATE INDEX ix_evenings_name ON evenings (name)""",
    """CREATE UNIQUE INDEX uq_evenings_name ON evenings (name) WHERE corrects_id IS NULL""",
    """CREATE TRIGGER evenings_never_changed BEFORE UPDATE ON evenings
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER evenings_never_deleted BEFORE DELETE ON evenings
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW evenings_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM evenings AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM evenings AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE evening_events (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    evening_id INTEGER NOT NULL,
    entry_key TEXT NOT NULL,
    at REAL NOT NULL,
    device TEXT NOT NULL,
    kind TEXT NOT NULL,
    body JSON NOT NULL,
    CONSTRAINT uq_evening_events_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_evening_events_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_evening_events_corrects_id FOREIGN KEY(corrects_id) REFERENCES evening_events (id),
    CONSTRAINT fk_evening_events_evening_id FOREIGN KEY(evening_id) REFERENCES evenings (id)
)""",
    """CREATE INDEX ix_evening_events_evening_id ON evening_events (evening_id)""",
    """CREATE INDEX ix_evening_events_kind ON evening_events (kind)""",
    """CREATE UNIQUE INDEX uq_evening_events_entry_key ON evening_events (evening_id, entry_key)""",
    """CREATE TRIGGER evening_events_never_changed BEFORE UPDATE ON evening_events
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER evening_events_never_deleted BEFORE DELETE ON evening_events
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW evening_events_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM evening_events AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM evening_events AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE sequences (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    name TEXT NOT NULL,
    body JSON NOT NULL,
    CONSTRAINT uq_sequences_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_sequences_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_sequences_corrects_id FOREIGN KEY(corrects_id) REFERENCES sequences (id)
)""",
    """CREATE INDEX ix_sequences_name ON sequences (name)""",
    """CREATE UNIQUE INDEX uq_sequences_name ON sequences (name) WHERE corrects_id IS NULL""",
    """CREATE TRIGGER sequences_never_changed BEFORE UPDATE ON sequences
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER sequences_never_deleted BEFORE DELETE ON sequences
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW sequences_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM sequences AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM sequences AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    """CREATE TABLE evening_voices (
    evening_id INTEGER NOT NULL,
    page TEXT,
    renewed REAL NOT NULL,
    turn INTEGER NOT NULL,
    CONSTRAINT pk_evening_voices PRIMARY KEY (evening_id),
    CONSTRAINT fk_evening_voices_evening_id FOREIGN KEY(evening_id) REFERENCES evenings (id)
)""",
)


def upgrade() -> None:
    for statement in STATEMENTS:
        op.execute(statement)
