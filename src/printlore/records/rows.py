"""Frozen values in and out of the tables: add, correct, remove, bring back, find.

A value refers to others by their names; the tables by their numbers. The field ``film`` of a
frame goes with the column ``film_id``; all other fields carry the name of their column.
"""

import dataclasses
import difflib
import itertools
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import Enum
from functools import cache
from typing import Any, ClassVar, Self, TypeVar

import sqlalchemy as sa
from sqlalchemy.sql.selectable import TableClause

from printlore.core.calendar import sensible
from printlore.errors import ChangedMeanwhile, PrintloreError, UnknownRecord, ValueOutOfRange
from printlore.records.tables import KEEPING, now

R = TypeVar("R", bound="Record")
LONGEST_NAME = 200
UNREADABLE = (LookupError, TypeError, ValueError, ArithmeticError, AttributeError)
"""What a row that no program of ours wrote may raise when it is read."""


def clean_name(what: str, name: str) -> str:
    """A name as it is kept: composed Unicode, single spaces, nothing that does not print."""
    tidy = " ".join(unicodedata.normalize("NFC", str(name)).split())
    if not tidy:
        raise ValueOutOfRange(f"No {what} is named. Give its name: 1 to {LONGEST_NAME} letters, digits or signs.")
    if len(tidy) > LONGEST_NAME or not tidy.isprintable():
        raise ValueOutOfRange(
            f"{tidy[:40]!r} cannot be the name of {_a(what)}; give 1 to {LONGEST_NAME} letters, digits or signs."
        )
    return tidy


def _a(what: str) -> str:
    return f"{'an' if what[0] in 'aeiou' else 'a'} {what}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """What every recorded value has besides its own fields.

    Attributes
    ----------
    id : int
        The record's number; 0 before it is recorded.
    version : int
        How often it was written; a correction is refused if the record has moved on. 0 before it is recorded.
    created_at : datetime or None
        When this version was written (UTC), on a record that was read.
    removed : bool
        It was taken back and does not count; only ``every_ever`` reads such a record.
    """

    table: ClassVar[sa.Table]
    word: ClassVar[str]
    naming: ClassVar[str] = "name"

    id: int = 0
    version: int = 0
    created_at: datetime | None = None
    removed: bool = False

    def columns(self) -> dict[str, Any]:
        """Own fields by column; a field that names another record still holds the name."""
        return {
            field.name: getattr(self, field.name) for field in dataclasses.fields(self) if field.name not in KEEPING
        }

    @classmethod
    def from_columns(cls, values: dict[str, Any]) -> Self:
        """The value of a row; the other way of ``columns``."""
        own: dict[str, Any] = {key: tuple(value) if isinstance(value, list) else value for key, value in values.items()}
        return cls(**own)


@cache
def _view(table: sa.Table) -> TableClause:
    return now(table)


@cache
def _references(table: sa.Table) -> dict[str, tuple[str, type[Record]]]:
    """Field -> (column, kind of record it names)."""
    kinds = kinds_by_table()
    named = {field.name for field in dataclasses.fields(kinds[table.name])}
    found = {}
    for column in table.columns:
        for key in column.foreign_keys:
            field = column.name.removesuffix("_id")
            if column.name not in KEEPING and field in named:
                found[field] = (column.name, kinds[key.column.table.name])
    return found


def kinds_by_table() -> dict[str, type[Record]]:
    """Every kind of record by the name of its table."""
    return {sub.table.name: sub for sub in _kinds(Record)}


def _kinds(parent: type[Record]) -> list[type[Record]]:
    found = []
    for sub in parent.__subclasses__():
        if "table" in vars(sub):
            found.append(sub)
        found.extend(_kinds(sub))
    return found


def number_of(conn: sa.Connection, kind: type[Record], name: str) -> int:
    """Number of the record with this name.

    Raises
    ------
    UnknownRecord
        Names the nearest names there are.
    """
    wanted = clean_name(kind.word, name)
    number = conn.execute(_number_by_name(kind.table, kind.naming), {"wanted": wanted}).scalar()
    if number is None:
        raise _unknown(conn, kind, wanted)
    return int(number)


@cache
def _number_by_name(table: sa.Table, naming: str) -> sa.Select[Any]:
    view = _view(table)
    return sa.select(view.c.record_id).where(view.c[naming] == sa.bindparam("wanted"))


@cache
def _users_of_name(table: sa.Table, naming: str) -> sa.Select[Any]:
    number = sa.func.coalesce(table.c.corrects_id, table.c.id)
    return sa.select(number).where(table.c[naming] == sa.bindparam("wanted"))


@cache
def _insertion(table: sa.Table) -> sa.Insert:
    return sa.insert(table)


def _unknown(conn: sa.Connection, kind: type[Record], name: str) -> UnknownRecord:
    if any(record.removed for record in every_ever(conn, kind, **{kind.naming: name})):
        return UnknownRecord(f'The {kind.word} "{name}" was taken back and does not count. Bring it back first.')
    view = _view(kind.table)
    names = [str(row[0]) for row in conn.execute(sa.select(view.c[kind.naming]).order_by(view.c.record_id.desc()))]
    by_folded = {known.casefold(): known for known in names}
    near = [by_folded[found] for found in difflib.get_close_matches(name.casefold(), by_folded, n=4, cutoff=0.5)]
    if near:
        rest = "Near it: " + ", ".join(f'"{known}"' for known in near) + "."
    elif names:
        rest = "There is " + ", ".join(f'"{known}"' for known in names[:4]) + (" and others." if names[4:] else ".")
    else:
        rest = f"There is no {kind.word} yet; add it first."
    return UnknownRecord(f'No {kind.word} is called "{name}". {rest}')


def _to_columns(conn: sa.Connection, record: R, there: R | None = None) -> dict[str, Any]:
    """Columns of a record; what it refers to as ``there`` did is left out: it may have been taken back since."""
    references = _references(record.table)
    values: dict[str, Any] = {}
    for field, value in record.columns().items():
        if field in references and there is not None and value == getattr(there, field):
            continue
        if field in references:
            column, kind = references[field]
            values[column] = None if value is None else number_of(conn, kind, value)
        elif field == record.naming:
            values[field] = clean_name(record.word, value)
        else:
            values[field] = value.value if isinstance(value, Enum) else value
    return values


def _refuse_taken_name(conn: sa.Connection, record: Record, name: str) -> None:
    if any(number != record.id for number in numbers_called(conn, type(record), name)):
        raise ValueOutOfRange(f'A {record.word} called "{name}" is or was in the studio; choose another name.')


def numbers_called(conn: sa.Connection, kind: type[Record], name: str) -> list[int]:
    """Numbers of the records of a kind that have this name, or had it before they were renamed or taken back."""
    return list(conn.execute(_users_of_name(kind.table, kind.naming), {"wanted": name}).scalars())


def free_name(conn: sa.Connection, kind: type[Record], name: str) -> str:
    """The name; numbered, if a record of the kind has it or had it before."""
    numbered = itertools.chain((name,), (f"{name} {number}" for number in itertools.count(2)))
    return next(one for one in numbered if not numbers_called(conn, kind, one))


def add(conn: sa.Connection, record: R) -> R:
    """Record a value for the first time; returns it with its number.

    It was written now, unless it says itself when: invented records do.

    Raises
    ------
    UnknownRecord
        If it names something that is not in the studio.
    ValueOutOfRange
        If its name is or was another record's.
    """
    values = _to_columns(conn, record)
    if record.naming in values:
        _refuse_taken_name(conn, dataclasses.replace(record, id=0), values[record.naming])
    if record.created_at is not None:
        values["created_at"] = record.created_at
    number = conn.execute(_insertion(record.table), values).lastrowid
    return dataclasses.replace(record, id=number, version=1)


def correct(conn: sa.Connection, record: R) -> R:
    """Write a correction of a record that was read before and changed by ``dataclasses.replace``.

    Raises
    ------
    ChangedMeanwhile
        If the record has another version now than when this value was read.
    """
    there = every_ever(conn, type(record), id=record.id)
    values = _to_columns(conn, record, there[0] if there else None)
    if record.naming in values:
        _refuse_taken_name(conn, record, values[record.naming])
    return _write_next(conn, record, values)


def remove(conn: sa.Connection, record: Record) -> None:
    """Take a record out of sight; its rows stay. Raises ChangedMeanwhile as ``correct`` does."""
    _write_next(conn, record, {"removed": True})


def bring_back(conn: sa.Connection, record: R) -> R:
    """Let a record that was removed count again, as it stood (see ``every_ever``).

    Raises
    ------
    ChangedMeanwhile
        If it counts, or was brought back and removed again since it was read.
    """
    return _write_next(conn, record, {"removed": False}, from_removed=True)


def _write_next(conn: sa.Connection, record: R, changes: dict[str, Any], *, from_removed: bool = False) -> R:
    """Write the newest row again with these columns changed, whatever it refers to still counts or not."""
    table = record.table
    rows = sa.or_(table.c.id == record.id, table.c.corrects_id == record.id)
    newest = conn.execute(sa.select(table).where(rows).order_by(table.c.version.desc()).limit(1)).mappings().first()
    if newest is None:
        raise UnknownRecord(f"No {record.word} has the number {record.id}; list what there is, or add it.")
    this = f"This {record.word} (number {record.id})"
    if newest["removed"] and not from_removed:
        raise ChangedMeanwhile(f"{this} was removed meanwhile. Look at the list again.")
    if from_removed and not newest["removed"]:
        raise ChangedMeanwhile(f"{this} counts already: it was brought back meanwhile. Look at the list again.")
    if newest["version"] != record.version:
        raise ChangedMeanwhile(
            f"{this} was changed meanwhile: you read version {record.version}, "
            f"now it is {newest['version']}. Look at it again before writing."
        )
    own = {column: value for column, value in newest.items() if column not in KEEPING}
    keeping = {"corrects_id": record.id, "version": record.version + 1}
    conn.execute(_insertion(table), own | changes | keeping)
    return dataclasses.replace(
        record, version=record.version + 1, created_at=None, removed=changes.get("removed", False)
    )


@cache
def _newest_rows(table: sa.Table) -> sa.Subquery:
    """As the view, with the newest rows of what was removed."""
    later, number = table.alias(), sa.func.coalesce(table.c.corrects_id, table.c.id)
    has_later = sa.exists().where(later.c.corrects_id == number, later.c.version > table.c.version)
    return sa.select(number.label("record_id"), table).where(~has_later).subquery()


@cache
def _selection(table: sa.Table, view: sa.FromClause) -> sa.Select[Any]:
    """Newest rows of a kind, out of one of the two above, with the names of what they refer to."""
    references = {column: (field, other) for field, (column, other) in _references(table).items()}
    columns: list[Any] = [view.c.record_id.label("id"), view.c.version, view.c.created_at, view.c.removed]
    for column in table.columns:
        if column.name in KEEPING:
            continue
        if column.name in references:
            field, other = references[column.name]
            rows = other.table.alias()
            name = (
                sa.select(rows.c[other.naming])
                .where(sa.or_(rows.c.id == view.c[column.name], rows.c.corrects_id == view.c[column.name]))
                .order_by(rows.c.version.desc())
                .limit(1)
                .scalar_subquery()
            )
            columns.append(name.label(field))
        else:
            columns.append(view.c[column.name])
    return sa.select(*columns)


def every(conn: sa.Connection, kind: type[R], **where: Any) -> list[R]:
    """Newest version of each record of a kind whose fields have these values, in the order recorded.

    A field that names another record is given as that name.
    """
    return _every(conn, kind, _view(kind.table), where)


def every_ever(conn: sa.Connection, kind: type[R], **where: Any) -> list[R]:
    """As ``every``, with what was taken back; that has ``removed`` set."""
    return _every(conn, kind, _newest_rows(kind.table), where)


def _every(conn: sa.Connection, kind: type[R], view: sa.FromClause, where: dict[str, Any]) -> list[R]:
    references = _references(kind.table)
    values: dict[str, Any] = {}
    empty = []
    for field, value in where.items():
        column, other = references.get(field, ("record_id" if field == "id" else field, None))
        if value is None:
            empty.append(column)
        else:
            values[column] = value if other is None else number_of(conn, other, value)
    rows = conn.execute(_matching(kind.table, view, tuple(values), tuple(empty)), values).mappings()
    return [kind.from_columns(dict(row)) for row in rows]


@cache
def _matching(table: sa.Table, view: sa.FromClause, equal: tuple[str, ...], empty: tuple[str, ...]) -> sa.Select[Any]:
    """Built once: building and compiling a statement costs more than running it."""
    query = _selection(table, view).order_by(view.c.record_id)
    for column in equal:
        query = query.where(view.c[column] == sa.bindparam(column))
    for column in empty:
        query = query.where(view.c[column].is_(None))
    return query


def refuse_unreadable(conn: sa.Connection, kind: type[Record]) -> None:
    """Read the newest version of each record of a kind, taken back or not, as everything that shows it does.

    Raises
    ------
    ValueOutOfRange
        If one cannot be: names it, and says why.
    """
    for row in conn.execute(_matching(kind.table, _newest_rows(kind.table), (), ())).mappings():
        try:
            kind.from_columns(dict(row))
            for moment in (value for value in row.values() if isinstance(value, datetime)):
                sensible(moment)
            if kind.naming in row and clean_name(kind.word, row[kind.naming]) != row[kind.naming]:
                raise ValueOutOfRange(f"{row[kind.naming]!r} is not written as the name of {_a(kind.word)} is kept.")
        except UNREADABLE as error:
            raise ValueOutOfRange(f"{kind.word} {row['id']}: {why_unreadable(error)}") from error


def why_unreadable(error: Exception) -> str:
    """In a sentence, also if it is none of our own errors."""
    return str(error) if isinstance(error, PrintloreError) else f"it cannot be read ({error!r})."


def every_of(conn: sa.Connection, kind: type[R], column: str, numbers: Sequence[int]) -> list[R]:
    """Newest version of each record whose column holds one of these record numbers, in the order recorded."""
    view = _view(kind.table)
    found: list[R] = []
    for start in range(0, len(numbers), 500):
        some = numbers[start : start + 500]
        query = _selection(kind.table, view).where(view.c[column].in_(some)).order_by(view.c.record_id)
        found.extend(kind.from_columns(dict(row)) for row in conn.execute(query).mappings())
    return found


def find(conn: sa.Connection, kind: type[R], name: str) -> R:
    """The record of this name.

    Raises
    ------
    UnknownRecord
        Names the nearest names there are.
    """
    wanted = clean_name(kind.word, name)
    row = (
        conn.execute(_matching(kind.table, _view(kind.table), (kind.naming,), ()), {kind.naming: wanted})
        .mappings()
        .first()
    )
    if row is None:
        raise _unknown(conn, kind, wanted)
    return kind.from_columns(dict(row))


def latest(conn: sa.Connection, kind: type[R], **where: str | int) -> R | None:
    """The record of a kind that was added last, if there is one; only one whose columns hold this, if given."""
    found = newest_records(conn, kind, 1, **where)
    return found[0] if found else None


def newest_records(conn: sa.Connection, kind: type[R], count: int, **where: str | int) -> list[R]:
    """The records of a kind that were added last, newest first; at most so many."""
    rows = conn.execute(_last(kind.table, tuple(where)), {"count": count, **where}).mappings()
    return [kind.from_columns(dict(row)) for row in rows]


@cache
def _last(table: sa.Table, equal: tuple[str, ...]) -> sa.Select[Any]:
    view = _view(table)
    query = _selection(table, view).order_by(view.c.record_id.desc()).limit(sa.bindparam("count"))
    for column in equal:
        query = query.where(view.c[column] == sa.bindparam(column))
    return query


def record_version(conn: sa.Connection) -> int:
    """Changes with every row written anywhere in the record: rows are only added and keep their numbers."""
    return int(conn.exec_driver_sql("SELECT coalesce(sum(seq), 0) FROM sqlite_sequence").scalar_one())


def history(conn: sa.Connection, record: Record) -> list[dict[str, Any]]:
    """Every version of a record as its plain columns, oldest first."""
    table = record.table
    rows = sa.or_(table.c.id == record.id, table.c.corrects_id == record.id)
    return [dict(row) for row in conn.execute(sa.select(table).where(rows).order_by(table.c.version)).mappings()]


def newest(table: str, *columns: str) -> str:
    """SQL for number and columns of each record's newest row, removed or not; can be narrowed by AND."""
    return (
        f"SELECT coalesce(this.corrects_id, this.id), {', '.join(columns)} FROM {table} AS this WHERE NOT EXISTS "
        f"(SELECT 1 FROM {table} AS later WHERE later.corrects_id = coalesce(this.corrects_id, this.id) "
        "AND later.version > this.version)"
    )
