"""What the declared tables have and the migrations do not make yet, as SQL for the next migration."""

import sqlalchemy as sa
from sqlalchemy.pool import StaticPool

from printlore.records.migrations.upgrade import upgrade
from printlore.records.schema import metadata

_OBJECTS = "SELECT type || ' ' || name, sql FROM sqlite_master WHERE sql IS NOT NULL AND name NOT LIKE 'sqlite_%'"


def objects(conn: sa.Connection) -> dict[str, str]:
    """Tables, indices, triggers and views by name, with their SQL in single spaces; not the migrations' own table."""
    found = {name: " ".join(sql.replace("(", " ( ").split()) for name, sql in conn.exec_driver_sql(_OBJECTS)}
    found.pop("table alembic_version", None)
    return found


def missing() -> tuple[dict[str, str], dict[str, str]]:
    """(declared but not made by the migrations, made by the migrations but not declared), by name, as SQL."""
    declared, migrated = _fresh(), _fresh()
    with declared.begin() as conn:
        metadata.create_all(conn)
        wanted = objects(conn)
    with migrated.connect() as conn:
        upgrade(conn)
        made = objects(conn)
    return (
        {name: sql for name, sql in wanted.items() if made.get(name) != sql},
        {name: sql for name, sql in made.items() if wanted.get(name) != sql},
    )


def _fresh() -> sa.Engine:
    return sa.create_engine("sqlite://", poolclass=StaticPool)


if __name__ == "__main__":
    for sql in missing()[0].values():
        print(f'    """{sql}""",')
