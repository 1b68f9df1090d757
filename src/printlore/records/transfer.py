"""Every row of every table out and in again, history and numbers and all."""

import json
from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, datetime
from typing import Any

import sqlalchemy as sa

from printlore.errors import Refused, UnreadableFile, ValueOutOfRange
from printlore.records.evening import EveningRecord, events_of
from printlore.records.rows import UNREADABLE, every_ever, kinds_by_table, refuse_unreadable, why_unreadable
from printlore.records.schema import metadata
from printlore.records.tables import Moment

Row = dict[str, Any]


def table_names() -> list[str]:
    """Tables in an order in which each comes after those it refers to."""
    return [table.name for table in metadata.sorted_tables]


def column_names(table: str) -> list[str]:
    return [column.name for column in metadata.tables[table].columns]


def is_json(table: str, column: str) -> bool:
    return isinstance(metadata.tables[table].c[column].type, sa.JSON)


def rows_of(conn: sa.Connection, table: str) -> Iterator[Row]:
    """Rows of a table as plain values (numbers, text, None; JSON columns as values), by number."""
    columns = column_names(table)
    for row in conn.exec_driver_sql(f'SELECT {", ".join(_quoted(c) for c in columns)} FROM "{table}" ORDER BY rowid'):
        yield {
            column: json.loads(value) if value is not None and is_json(table, column) else value
            for column, value in zip(columns, row, strict=True)
        }


def put_rows(conn: sa.Connection, table: str, rows: Iterable[Mapping[str, Any]]) -> int:
    """Put rows into an empty table as they are; returns how many.

    Raises
    ------
    UnreadableFile
        If a row has a column that this table does not have, or lacks one.
    ValueOutOfRange
        If a moment is none.
    """
    columns = column_names(table)
    statement = (
        f'INSERT INTO "{table}" ({", ".join(_quoted(c) for c in columns)}) VALUES ({", ".join("?" for _ in columns)})'
    )
    moments = [column.name for column in metadata.tables[table].columns if isinstance(column.type, Moment)]
    count = 0
    for row in rows:
        if set(row) != set(columns):
            wrong = sorted(set(row) ^ set(columns))
            raise UnreadableFile(
                f"Table {table}, row {row.get('id', '?')}: the columns {', '.join(wrong)} do not match this version. "
                "Bring it in with the version that wrote it, then open the studio with this one."
            )
        for column in moments:
            _refuse_no_moment(row[column], f"{column} of row {row['id']}")
        values = tuple(json.dumps(row[c]) if is_json(table, c) and row[c] is not None else row[c] for c in columns)
        conn.exec_driver_sql(statement, values)
        count += 1
    return count


def _refuse_no_moment(text: Any, where: str) -> None:
    """Moments of every row are compared, not those of the newest alone."""
    try:
        zone = datetime.fromisoformat(text).tzinfo if text is not None else UTC
    except (TypeError, ValueError):
        zone = None
    if zone is not UTC:
        raise ValueOutOfRange(f"{where} is {text!r}, which is no moment in UTC, such as 2026-03-14T21:30:00.000Z.")


def refuse_what_cannot_be_read(conn: sa.Connection) -> None:
    """Read the record as it is read to be shown: what the database takes may still be a value that cannot be.

    Raises
    ------
    ValueOutOfRange
        If a record cannot be: names its table and number, and says why.
    """
    for table, kind in kinds_by_table().items():
        try:
            refuse_unreadable(conn, kind)
        except UNREADABLE as error:
            raise ValueOutOfRange(f"Table {table}, {why_unreadable(error)}") from error
    for evening in every_ever(conn, EveningRecord):
        try:
            events_of(conn, evening)
        except UNREADABLE as error:
            raise ValueOutOfRange(f'Table evening_events, of "{evening.name}": {why_unreadable(error)}') from error


def scan_hashes(conn: sa.Connection) -> list[str]:
    """Hash of every scan that was ever recorded, sorted."""
    return [str(name) for (name,) in conn.exec_driver_sql("SELECT DISTINCT sha256 FROM scans ORDER BY sha256")]


def refuse_if_not_empty(conn: sa.Connection) -> None:
    """Raises Refused if any table holds a row."""
    for table in table_names():
        if conn.exec_driver_sql(f'SELECT 1 FROM "{table}" LIMIT 1').first():
            raise Refused(f"This studio already has records (in {table}). Bring an export into a new, empty studio.")


def _quoted(name: str) -> str:
    return f'"{name}"'
