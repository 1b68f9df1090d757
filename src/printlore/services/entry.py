"""Declare what a studio has: heads, lenses, films, frames, papers, lots, processes, baths."""

import dataclasses
from datetime import UTC, datetime
from typing import Any, TypeVar

from printlore.core.memory.evidence import BathState, NegativeReading
from printlore.errors import ValueOutOfRange
from printlore.records.baths import Bath, DeclaredBathState, Process
from printlore.records.database import Database
from printlore.records.light import Head, Lens
from printlore.records.negatives import (
    Film,
    FoundFrames,
    Frame,
    NegativeReadingRecord,
    frames_in_work,
    search_frames,
)
from printlore.records.papers import Lot, PaperFamily
from printlore.records.rows import Record, add, correct, every, find, remove
from printlore.records.scans import Scan, path_of
from printlore.records.studio import Costs, Preferences, Repeatability, Tolerances, settle, settled
from printlore.services.aims import must_be_shown

R = TypeVar("R", bound=Record)
S = TypeVar("S", Costs, Tolerances, Repeatability, Preferences)

LISTED: dict[str, type[Record]] = {
    "films": Film,
    "frames": Frame,
    "heads": Head,
    "lenses": Lens,
    "papers": PaperFamily,
    "lots": Lot,
    "processes": Process,
    "baths": Bath,
}
"""What a studio has, by the words under which it is listed."""


def add_record(db: Database, record: R) -> R:
    """Record a value; returns it with its number and version.

    Raises
    ------
    UnknownRecord
        If it names something that is not there; says which names are near.
    ValueOutOfRange
        If its name is or was another's.
    """
    with db.transaction() as conn:
        return add(conn, record)


def correct_record(db: Database, record: R, **changes: Any) -> R:
    """Write a correction of a record as it was read, with these fields changed.

    Raises
    ------
    ChangedMeanwhile
        If the record was written since it was read.
    """
    with db.transaction() as conn:
        return correct(conn, dataclasses.replace(record, **changes))


def remove_record(db: Database, record: Record) -> None:
    """Take a record out of sight. Its rows stay, and what names it keeps it. Raises ChangedMeanwhile."""
    with db.transaction() as conn:
        remove(conn, record)


def find_record(db: Database, kind: type[R], name: str) -> R:
    """The record of this name. Raises UnknownRecord with near names."""
    with db.reading() as conn:
        return find(conn, kind, name)


def list_records(db: Database, kind: type[R], **where: Any) -> list[R]:
    """Records of a kind in the order they were added, for example ``list_records(db, Frame, film="Film 12")``."""
    with db.reading() as conn:
        return every(conn, kind, **where)


def find_frames(db: Database, text: str = "", most: int = 60, *, film: str | None = None) -> FoundFrames:
    """Frames in whose name, edge number, film or note every word of the text occurs, of one film; newest first."""
    with db.reading() as conn:
        return search_frames(conn, text, most, film=film)


def frames_at_hand(db: Database, most: int = 12) -> list[Frame]:
    """The frames that were printed or added last, newest first: those in work, and those about to be."""
    with db.reading() as conn:
        return frames_in_work(conn, most)


def add_head(db: Database, name: str, **fields: Any) -> Head:
    """Declare an enlarger head; fields as in ``records.light.Head``."""
    return add_record(db, Head(name=name, **fields))


def add_lens(db: Database, name: str, **fields: Any) -> Lens:
    """Declare a lens; fields as in ``records.light.Lens``."""
    return add_record(db, Lens(name=name, **fields))


def add_film(db: Database, name: str, **fields: Any) -> Film:
    """Declare a film; fields as in ``records.negatives.Film``."""
    return add_record(db, Film(name=name, **fields))


def add_frame(db: Database, name: str, *, film: str, **fields: Any) -> Frame:
    """Declare a frame of a film; fields as in ``records.negatives.Frame``.

    Raises
    ------
    ValueOutOfRange
        If its ``aim`` is a colour that paper cannot show; names the nearest it can.
    """
    if "aim" in fields:
        must_be_shown(fields["aim"])
    return add_record(db, Frame(name=name, film=film, **fields))


def add_paper(db: Database, name: str, **fields: Any) -> PaperFamily:
    """Declare a paper family; fields as in ``records.papers.PaperFamily``."""
    return add_record(db, PaperFamily(name=name, **fields))


def add_lot(db: Database, name: str, *, paper: str, new_paper: bool = False, **fields: Any) -> Lot:
    """Declare an emulsion lot of a paper, if need be a new one; fields as in ``records.papers.Lot``."""
    with db.transaction() as conn:
        if new_paper:
            add(conn, PaperFamily(name=paper))
        return add(conn, Lot(name=name, family=paper, **fields))


def add_process(db: Database, name: str, **fields: Any) -> Process:
    """Declare a process; fields as in ``records.baths.Process``."""
    return add_record(db, Process(name=name, **fields))


def add_bath(
    db: Database,
    name: str,
    *,
    process: str,
    mixed_at: datetime | None = None,
    state: BathState | None = None,
    **fields: Any,
) -> Bath:
    """Declare a mixed bath, and its state if it is not fresh; mixed now if no time is given."""
    mixed_at = mixed_at or datetime.now(UTC)
    with db.transaction() as conn:
        bath = add(conn, Bath(name=name, process=process, mixed_at=mixed_at, **fields))
        if state is not None:
            add(conn, DeclaredBathState(bath=bath.name, at=mixed_at, state=state))
        return bath


def declare_bath_state(db: Database, bath: str, state: BathState, *, at: datetime | None = None) -> DeclaredBathState:
    """State what a bath is like from a moment (now) on."""
    return add_record(db, DeclaredBathState(bath=bath, at=at or datetime.now(UTC), state=state))


def read_negative(
    db: Database,
    frame: str,
    reading: NegativeReading,
    *,
    at: datetime | None = None,
    **fields: Any,
) -> NegativeReadingRecord:
    """Record a reading of a frame's reference patch; the newest counts, the others stay.

    Raises
    ------
    ValueOutOfRange
        If it does not say what read it: each source has a reading matrix of its own.
    """
    if not reading.source.strip():
        raise ValueOutOfRange("The source is empty. Say which probe, camera or scanner read the negative.")
    record = NegativeReadingRecord(frame=frame, reading=reading, at=at or datetime.now(UTC), **fields)
    return add_record(db, record)


def keep_scan(db: Database, content: bytes, *, media_type: str, original_name: str = "") -> Scan:
    """Keep a scan's bytes by their hash; the same bytes again give the same record."""
    sha256 = db.scans.put(content)
    with db.transaction() as conn:
        for scan in every(conn, Scan, sha256=sha256):
            return scan
        return add(
            conn,
            Scan(
                sha256=sha256,
                path=path_of(sha256),
                size=len(content),
                media_type=media_type,
                original_name=original_name,
            ),
        )


def read_settings(db: Database, kind: type[S]) -> S:
    """Costs, tolerances, repeatability or preferences of the studio; defaults if none were set."""
    with db.reading() as conn:
        return settled(conn, kind)


def write_settings(db: Database, value: S) -> S:
    """Set costs, tolerances, repeatability or preferences.

    Raises
    ------
    ChangedMeanwhile
        If they were read before and changed since.
    ValueOutOfRange
        If a tolerance is one that advice cannot work with, or money has no name that can be shown. What was set so
        earlier can still be read.
    """
    if isinstance(value, Tolerances):
        _can_be_met(value)
    if isinstance(value, Preferences):
        _can_be_shown(value)
    with db.transaction() as conn:
        return settle(conn, value)


def change_settings(db: Database, kind: type[S], *, version: int | None = None, **changes: Any) -> S:
    """Set some fields of costs, tolerances, repeatability or preferences; the others stay what they are by then.

    Parameters
    ----------
    version : int, optional
        That was looked at (0: nothing was ever set), so that a change in between is noticed.

    Raises
    ------
    ChangedMeanwhile
        If they were set since they were looked at.
    ValueOutOfRange
        As ``write_settings``.
    """
    with db.transaction() as conn:
        there = settled(conn, kind)
        if version is not None and there.id:
            there = dataclasses.replace(there, version=version)
        return write_settings(db, dataclasses.replace(there, **changes))


def _can_be_met(tolerances: Tolerances) -> None:
    # What advice works with loads libraries that every command would pay for.
    from printlore.services.advice import TOLERANCES, tolerance_named

    for name in TOLERANCES:
        tolerance_named(name, tolerances)


LONGEST_CURRENCY = 20
"""Signs of what money is in: it stands behind every sum."""


def _can_be_shown(preferences: Preferences) -> None:
    currency = preferences.currency
    if not (currency.strip() and len(currency) <= LONGEST_CURRENCY and currency.isprintable()):
        raise ValueOutOfRange(
            f"{currency[:LONGEST_CURRENCY]!r} cannot be what money is in. "
            f"Give 1 to {LONGEST_CURRENCY} signs on one line, for example unit."
        )
