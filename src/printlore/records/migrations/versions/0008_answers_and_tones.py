"""Answers to "was that a slip?", and tones of a print."""

from alembic import op

revision = "0008"
down_revision = "0007"

_KEEPING = """id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    created_at TEXT DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL,
    corrects_id INTEGER,
    version INTEGER DEFAULT 1 NOT NULL,
    removed BOOLEAN DEFAULT 0 NOT NULL,
    exposure_id INTEGER NOT NULL,
    at TEXT NOT NULL,"""

TABLES = {
    "made_as_logged": "",
    "tone_readings": "tone TEXT NOT NULL,\n    density JSON NOT NULL,\n    aim_density JSON,",
}


def upgrade() -> None:
    for table, columns in TABLES.items():
        for statement in (
            f"""CREATE TABLE {table} (
    {_KEEPING} {columns}
    CONSTRAINT uq_{table}_corrects_id_version UNIQUE (corrects_id, version),
    CONSTRAINT ck_{table}_first_is_version_1 CHECK ((corrects_id IS NULL) = (version = 1)),
    CONSTRAINT fk_{table}_corrects_id FOREIGN KEY(corrects_id) REFERENCES {table} (id),
    CONSTRAINT fk_{table}_exposure_id FOREIGN KEY(exposure_id) REFERENCES exposures (id)
)""",
            f"CREATE INDEX ix_{table}_record ON {table} (coalesce(corrects_id, id))",
            f"CREATE INDEX ix_{table}_exposure_id ON {table} (exposure_id)",
            f"""CREATE TRIGGER {table}_never_changed BEFORE UPDATE ON {table}
BEGIN SELECT RAISE(ABORT, 'records are only added to: a correction is a new row');
END""",
            f"""CREATE TRIGGER {table}_never_deleted BEFORE DELETE ON {table}
BEGIN SELECT RAISE(ABORT, 'records are only added to: a removal is a new row');
END""",
            f"""CREATE VIEW {table}_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.*
FROM {table} AS this
WHERE this.removed = 0
AND NOT EXISTS (SELECT 1 FROM {table} AS later
  WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)""",
        ):
            op.execute(statement)
