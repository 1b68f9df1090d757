"""How well prints repeat, as the printer expects it."""

from alembic import op

revision = "0009"
down_revision = "0008"


def upgrade() -> None:
    for statement in (
        """CREATE TABLE repeatability (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    alike_cc REAL,
    CONSTRAINT ck_repeatability_alike_cc CHECK (alike_cc > 0),
    CONSTRAINT uq_repeatability_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_repeatability_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_repeatability_corrects_id FOREIGN KEY(corrects_id) REFERENCES repeatability (id)
)""",
        "CREATE INDEX ix_repeatability_record ON repeatability (coalesce(corrects_id, id))",
        """CREATE TRIGGER repeatability_never_changed BEFORE UPDATE ON repeatability
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
        """CREATE TRIGGER repeatability_never_deleted BEFORE DELETE ON repeatability
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
        """CREATE VIEW repeatability_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM repeatability AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM repeatability AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
    ):
        op.execute(statement)
