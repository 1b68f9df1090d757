"""Patches read twice: by scanner and instrument, or wet and dry."""

from alembic import op

revision = "0006"
down_revision = "0005"

STATEMENTS = (
    """CREATE TABLE reading_pairs (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    kind TEXT NOT NULL,
    paper_id INTEGER NOT NULL,
    scanner TEXT DEFAULT '' NOT NULL,
    read JSON NOT NULL,
    known JSON NOT NULL,
    standard_error REAL NOT NULL,
    note TEXT DEFAULT '' NOT NULL,
    CONSTRAINT ck_reading_pairs_kind CHECK (kind IN ('dyes', 'dry_down')),
    CONSTRAINT ck_reading_pairs_standard_error CHECK (standard_error > 0),
    CONSTRAINT uq_reading_pairs_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_reading_pairs_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_reading_pairs_corrects_id FOREIGN KEY(corrects_id) REFERENCES reading_pairs (id),
    CONSTRAINT fk_reading_pairs_paper_id FOREIGN KEY(paper_id) REFERENCES paper_families (id)
)""",
    """CREATE INDEX ix_reading_pairs_paper_id ON reading_pairs (paper_id)""",
    """CREATE TRIGGER reading_pairs_never_changed BEFORE UPDATE ON reading_pairs
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
    """CREATE TRIGGER reading_pairs_never_deleted BEFORE DELETE ON reading_pairs
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
    """CREATE VIEW reading_pairs_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM reading_pairs AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM reading_pairs AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
)


def upgrade() -> None:
    for statement in STATEMENTS:
        op.execute(statement)
