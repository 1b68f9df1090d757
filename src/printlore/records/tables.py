"""The form that every table of the record has: rows are only added, a correction is a new row.

``id`` of a record's first row is the record's number, which everything else refers to. A
correction carries that number in ``corrects_id`` and counts ``version`` up; a removal is a
correction with ``removed`` set. The view ``<table>_now`` shows the newest row of each record.
"""

from datetime import UTC, datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.sql.selectable import TableClause

from printlore.core.calendar import sensible

metadata = sa.MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
    }
)

NOW = "(strftime('%Y-%m-%dT%H:%M:%fZ', 'now'))"
KEEPING = frozenset({"id", "created_at", "corrects_id", "version", "removed"})
"""Columns that keep the history; all others are what was recorded."""


def moment_to_text(moment: datetime) -> str:
    """UTC as ISO 8601 text with microseconds; a time without a zone is taken as local time.

    Raises
    ------
    ValueOutOfRange
        If its year is none that a record can be of.
    """
    # a year may begin or end between here and Greenwich
    return sensible(sensible(moment).astimezone(UTC)).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


class Moment(sa.types.TypeDecorator[datetime]):
    """A point in time, kept as UTC text that sorts by time and anybody can read."""

    impl = sa.Text
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: sa.Dialect) -> str | None:
        return None if value is None else moment_to_text(value)

    def process_result_value(self, value: str | None, dialect: sa.Dialect) -> datetime | None:
        return None if value is None else datetime.fromisoformat(value)


def guards(name: str) -> tuple[str, ...]:
    """SQL that goes with a table: two triggers that keep its rows as they are, and the view of the newest.

    A migration that makes a table runs these too.
    """
    return (
        f"CREATE TRIGGER {name}_never_changed BEFORE UPDATE ON {name} BEGIN "
        "SELECT RAISE(ABORT, 'records are only added to: a correction is a new row'); END",
        f"CREATE TRIGGER {name}_never_deleted BEFORE DELETE ON {name} BEGIN "
        "SELECT RAISE(ABORT, 'records are only added to: a removal is a new row'); END",
        f"CREATE VIEW {name}_now AS SELECT coalesce(this.corrects_id, this.id) AS record_id, this.* "
        f"FROM {name} AS this WHERE this.removed = 0 AND NOT EXISTS (SELECT 1 FROM {name} AS later "
        "WHERE later.corrects_id = coalesce(this.corrects_id, this.id) AND later.version > this.version)",
    )


def record_table(name: str, *columns: sa.schema.SchemaItem) -> sa.Table:
    """Declare a table of the record: the columns that keep its history, then its own.

    A column called ``name`` is never given to a second record.
    """
    table = sa.Table(
        name,
        metadata,
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("created_at", Moment, nullable=False, server_default=sa.text(NOW)),
        sa.Column("corrects_id", sa.Integer, sa.ForeignKey(f"{name}.id")),
        sa.Column("version", sa.Integer, nullable=False, server_default=sa.text("1")),
        sa.Column("removed", sa.Boolean, nullable=False, server_default=sa.text("0")),
        *columns,
        sa.UniqueConstraint("corrects_id", "version"),
        sa.CheckConstraint("(corrects_id IS NULL) = (version = 1)", name="first_is_version_1"),
        sqlite_autoincrement=True,
    )
    # what the view calls record_id: newest first, and one by its number, without reading the whole table
    sa.Index(f"ix_{name}_record", sa.func.coalesce(table.c.corrects_id, table.c.id))
    if "name" in table.c:
        sa.Index(f"ix_{name}_name", table.c.name)
        sa.Index(f"uq_{name}_name", table.c.name, unique=True, sqlite_where=sa.text("corrects_id IS NULL"))
    for statement in guards(name):
        sa.event.listen(table, "after_create", sa.DDL(statement))  # type: ignore[no-untyped-call]
    return table


def refers(name: str, table: str, *, required: bool = True) -> sa.Column[Any]:
    """A column that refers to a record of another table by its number; searched by, so indexed."""
    return sa.Column(name, sa.Integer, sa.ForeignKey(f"{table}.id"), nullable=not required, index=True)


def now(table: sa.Table) -> TableClause:
    """The view of the newest rows, with ``record_id`` in front."""
    return sa.table(
        f"{table.name}_now",
        sa.column("record_id", sa.Integer),
        *(sa.column(column.name, column.type) for column in table.columns),
    )
