"""What was done to a bath, entry by entry: take one back, bring it back, put a drum load right.

An entry is a drum load or something done between drum loads. All of them stay listed; what was taken back has a mark.
"""

import dataclasses
from datetime import timedelta
from typing import Any, TypeAlias, TypeVar

import sqlalchemy as sa

from printlore.core.bath.balance import contents
from printlore.errors import Refused, UnknownRecord, ValueOutOfRange
from printlore.records.baths import Bath, BathEvent, Run, ledger_of
from printlore.records.baths_control import ControlRecord
from printlore.records.database import Database
from printlore.records.rows import correct, every_ever, every_of, find
from printlore.records.trials import TrialRow
from printlore.services.baths import can_be_a_load
from printlore.services.lines import bring_line_back, find_line, take_line_back

Entry: TypeAlias = BathEvent | Run
E = TypeVar("E", BathEvent, Run)


def kind_of(entry: Entry) -> str:
    """What it is, in the printer's words."""
    return "drum load" if isinstance(entry, Run) else entry.kind


def bath_book(db: Database, bath: str) -> list[Entry]:
    """Everything that was ever done to a bath, in order of time; what was taken back has ``removed`` set."""
    with db.reading() as conn:
        return _book(conn, bath)


def _book(conn: sa.Connection, bath: str) -> list[Entry]:
    find(conn, Bath, bath)
    entries: list[Entry] = [*every_ever(conn, Run, bath=bath), *every_ever(conn, BathEvent, bath=bath)]
    return sorted(entries, key=lambda entry: (entry.at, entry.id))


TWIN = timedelta(minutes=2)
"""Two entries that say the same so soon may be one thing logged twice: no drum comes round sooner (from memory)."""


def twin_of(db: Database, entry: Entry) -> Entry | None:
    """An entry of a moment before that says the same of its bath, as two devices with one form open write it."""
    return next(
        (
            other
            for other in bath_book(db, entry.bath)[::-1]
            if not other.removed
            and other.id < entry.id
            and type(other) is type(entry)
            and timedelta() <= entry.at - other.at < TWIN
            and _amounts(other) == _amounts(entry)
        ),
        None,
    )


def _amounts(entry: Entry) -> tuple[object, ...]:
    if isinstance(entry, Run):
        return entry.area, entry.water_in, entry.solution_out
    return entry.kind, entry.volume, entry.bled, entry.strength


def find_entry(db: Database, kind: type[E], number: int) -> E:
    """The drum load (``Run``) or other event (``BathEvent``) of a record number, also if it was taken back.

    Raises
    ------
    UnknownRecord
        If there is none.
    """
    return find_line(db, kind, number, listed="the book of its bath (baths book)")


def find_load(db: Database, load: str) -> Run:
    """A drum load by its name, also if it was taken back. Raises UnknownRecord with near names."""
    with db.reading() as conn:
        for run in every_ever(conn, Run, name=load):
            return run
        return find(conn, Run, load)


def named_entry(db: Database, bath: str, *, event: int | None = None, load: str | None = None) -> Entry:
    """What was done to a bath, by the number of the event or the name of the drum load, taken back or not.

    Raises
    ------
    ValueOutOfRange
        If not one of both is named.
    UnknownRecord
        If it is not there, or in the book of another bath.
    """
    if (event is None) == (load is None):
        raise ValueOutOfRange(
            "Name one of both: an event by its number or a drum load by its name; the bath's book lists them."
        )
    entry = find_load(db, load) if load is not None else find_entry(db, BathEvent, event or 0)
    if entry.bath != bath:
        raise UnknownRecord(f'That is in the book of "{entry.bath}", not of "{bath}". Name the right bath.')
    return entry


def take_back(db: Database, bath: str) -> Entry:
    """Take the last thing done to a bath back, a drum load too; its row stays in the record.

    Raises
    ------
    Refused
        If nothing was done to it, or as ``take_entry_back``.
    """
    with db.transaction() as conn:
        entries = [entry for entry in _book(conn, bath) if not entry.removed]
        if not entries:
            raise Refused(f'Nothing was done to "{bath}" since it was mixed; there is nothing to take back.')
        return take_entry_back(db, entries[-1])


def take_entry_back(db: Database, entry: Entry) -> Entry:
    """Take something that was done to a bath back, as it was read; its row stays in the record.

    Raises
    ------
    Refused
        If it was taken back before, what came after could not be without it, or it is a drum load that prints or
        control patches came out of.
    ChangedMeanwhile
        If it was changed since it was read.
    """
    with db.transaction() as conn:
        if isinstance(entry, Run) and not entry.removed:
            _refuse_if_used(conn, entry)
        return take_line_back(db, entry, _said(entry), lambda conn: bath_trouble(conn, entry.bath))


def bring_entry_back(db: Database, entry: Entry) -> Entry:
    """Let something that was taken back count again, as it stood.

    Raises
    ------
    Refused
        If it was not taken back, or the bath as it stands cannot take it.
    ChangedMeanwhile
        If it was brought back meanwhile.
    """
    return bring_line_back(db, entry, _said(entry), lambda conn: bath_trouble(conn, entry.bath))


def correct_load(db: Database, load: Run, **changes: Any) -> Run:
    """Put a drum load right that was logged with a wrong content; what was logged first stays in its rows.

    Parameters
    ----------
    load : Run
        As it was read.
    **changes
        ``area`` [m2], ``water_in``, ``solution_out`` [mL], ``temperature`` [degrees C], ``drum``, ``note``.

    Raises
    ------
    Refused
        If the bath cannot have given what it then would have.
    ChangedMeanwhile
        If it was changed or taken back since it was read.
    """
    can_be_a_load(changes.get("area"), changes.get("temperature"))
    with db.transaction() as conn:
        sound = bath_trouble(conn, load.bath) == ""
        right = correct(conn, dataclasses.replace(load, **changes))
        trouble = bath_trouble(conn, load.bath) if sound else ""
        if trouble:
            raise Refused(f"{_said(load)} cannot have been so. {trouble}")
        return right


def _said(entry: Entry) -> str:
    if isinstance(entry, Run):
        return f'The drum load "{entry.name}"'
    return f'Event {entry.id} of "{entry.bath}" ({entry.kind})'


def bath_trouble(conn: sa.Connection, bath: str) -> str:
    """Why the bath cannot be what its entries say, if it cannot; empty if all is well."""
    try:
        contents(ledger_of(conn, bath).ledger)
    except Refused as why:
        return str(why)
    return ""


def _refuse_if_used(conn: sa.Connection, load: Run) -> None:
    """Paper that came out of it says that it happened."""
    out = [trial.name for trial in every_of(conn, TrialRow, "run_id", [load.id])]
    out += [f"control patch {patch.id}" for patch in every_of(conn, ControlRecord, "run_id", [load.id])]
    if out:
        rest = f" and {len(out) - 3} more" if len(out) > 3 else ""
        raise Refused(
            f"{_said(load)} did happen: {', '.join(out[:3])}{rest} came out of it. Correct what was wrong with it, "
            "or take those back first."
        )
