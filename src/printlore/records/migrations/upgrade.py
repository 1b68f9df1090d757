"""Bring a database to the newest revision. What a migration may do: docs/records.md."""

from pathlib import Path

import sqlalchemy as sa
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.operations import Operations
from alembic.script import ScriptDirectory

from printlore.records.schema import metadata

FOLDER = Path(__file__).parent


def scripts() -> ScriptDirectory:
    config = Config()
    config.set_main_option("script_location", str(FOLDER).replace("%", "%%"))
    return ScriptDirectory.from_config(config)


def upgrade(conn: sa.Connection, revision: str = "head") -> None:
    """Run the migrations that are missing, all in one transaction."""
    directory = scripts()

    def steps(current: object, context: MigrationContext) -> object:
        return directory._upgrade_revs(revision, current)  # type: ignore[arg-type]

    conn = conn.execution_options(printlore_begin="BEGIN IMMEDIATE")
    context = MigrationContext.configure(
        conn,
        opts={"fn": steps, "target_metadata": metadata, "render_as_batch": True, "transaction_per_migration": False},
    )
    with conn.begin(), Operations.context(context):
        context.run_migrations()
