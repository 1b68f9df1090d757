"""Control patches and faults: read, judge against the aim and limits, and find the cause by the cheapest test."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
import sqlalchemy as sa

from printlore.core.bath.learning import ControlReading
from printlore.core.calendar import moment
from printlore.core.control.faults import CAUSES, NextTest, Place, Suspect, by_place, diagnose, next_tests
from printlore.core.control.limits import GOOD_READINGS, Aim, Judged, Limits, Wedge, aim_from, judge, limits_of
from printlore.errors import Refused, ValueOutOfRange
from printlore.records.baths import Bath, ledger_of
from printlore.records.baths_control import ControlRecord, FaultOutcome, LimitsRecord
from printlore.records.database import Database
from printlore.records.rows import add, every, every_ever, find
from printlore.services.lines import bring_line_back, find_line, take_line_back

LISTED = "the control patches (baths patches)"

EXPOSED_BY: Mapping[str, str] = {
    "frozen strip": "pre-exposed strip kept frozen: tells of paper and process, not of the lamp",
    "empty carrier": "through the enlarger with the carrier empty: tells of lamp, paper and process together",
    "trim": "small wedge in the trim of a print: as the empty carrier, at no extra sheet",
}
"""What exposed a control patch decides what it can tell; the difference of the first two isolates the lamp."""


def log_control(
    db: Database,
    bath: str,
    wedge: Wedge,
    *,
    at: datetime | None = None,
    run: str | None = None,
    exposed_by: str = "frozen strip",
    source: str = "typed",
    good: bool = False,
) -> ControlRecord:
    """Record the four steps of a control patch.

    Raises
    ------
    Refused
        If it is dated before the bath was mixed.
    ValueOutOfRange
        If what exposed it is not known here.
    """
    at = at or datetime.now(UTC)
    if exposed_by not in EXPOSED_BY:
        raise ValueOutOfRange(f'A patch exposed by "{exposed_by}" is not known; use one of {", ".join(EXPOSED_BY)}.')
    with db.transaction() as conn:
        mixed = find(conn, Bath, bath).mixed_at
        if at.astimezone(UTC) < mixed:
            raise Refused(
                f'The control patch of {moment(at)} lies before "{bath}" was mixed ({moment(mixed)}). '
                "Correct the date, or choose the bath that it went through."
            )
        record = ControlRecord(bath=bath, run=run, at=at, exposed_by=exposed_by, source=source, wedge=wedge, good=good)
        return add(conn, record)


def take_control_back(db: Database, number: int) -> ControlRecord:
    """Take a control patch out of the charts; its row stays in the record.

    Raises
    ------
    UnknownRecord
        If there is none of that number.
    Refused
        If it was taken back before.
    """
    return take_line_back(db, find_line(db, ControlRecord, number, listed=LISTED), f"Control patch {number}")


def bring_control_back(db: Database, number: int) -> ControlRecord:
    """Let a control patch that was taken back count again, as it was read. Raises as ``take_control_back``."""
    return bring_line_back(db, find_line(db, ControlRecord, number, listed=LISTED), f"Control patch {number}")


def set_limits(db: Database, look: Mapping[str, float], stop: Mapping[str, float], source: str) -> LimitsRecord:
    """Use typed limits, for example from a paper's own sheet, instead of ours."""
    limits = Limits(look=dict(look), stop=dict(stop), source=source)
    with db.transaction() as conn:
        return add(conn, LimitsRecord(look=limits.look, stop=limits.stop, source=source))


def readings(conn: sa.Connection, exposed_by: str | None = None) -> list[ControlRecord]:
    """Control patches in order of time."""
    rows = every(conn, ControlRecord) if exposed_by is None else every(conn, ControlRecord, exposed_by=exposed_by)
    return sorted(rows, key=_by_time)


def _by_time(row: ControlRecord) -> tuple[datetime, int]:
    return row.at, row.id


def control_patches(db: Database) -> list[ControlRecord]:
    """Every control patch in order of time; one that was taken back has ``removed`` set."""
    with db.reading() as conn:
        return sorted(every_ever(conn, ControlRecord), key=_by_time)


def aim_of(rows: Sequence[ControlRecord]) -> Aim | None:
    """Aim from the patches marked good; with none marked, from the first five of fresh work."""
    good = [row.wedge for row in rows if row.good] or [row.wedge for row in rows[:GOOD_READINGS]]
    return aim_from(good) if good else None


def limits_in_use(conn: sa.Connection, aim: Aim) -> Limits:
    """Typed limits if there are any, else ours."""
    typed = every(conn, LimitsRecord)
    if typed:
        last = typed[-1]
        return Limits(look=last.look, stop=last.stop, source=last.source)
    return limits_of(aim)


@dataclass(frozen=True, slots=True, kw_only=True)
class ControlReport:
    """State of the process.

    Attributes
    ----------
    exposed_by : str
        Of the series that is charted.
    rows : tuple of ControlRecord
        Oldest first.
    aim : Aim
    limits : Limits
    judged : Judged
    """

    exposed_by: str
    rows: tuple[ControlRecord, ...]
    aim: Aim
    limits: Limits
    judged: Judged


def control_report(db: Database, exposed_by: str | None = None) -> ControlReport | None:
    """The longest series (or one kind of exposure), its aim and limits and what the newest says; ``None`` with none."""
    with db.reading() as conn:
        rows = readings(conn)
        if exposed_by is None and rows:
            kinds = [row.exposed_by for row in rows]
            exposed_by = max(set(kinds), key=kinds.count)
        chosen = tuple(row for row in rows if row.exposed_by == exposed_by)
        aim = aim_of(chosen)
        if aim is None or exposed_by is None:
            return None
        limits = limits_in_use(conn, aim)
    judged = judge([row.wedge for row in chosen], aim, limits)
    return ControlReport(exposed_by=exposed_by, rows=chosen, aim=aim, limits=limits, judged=judged)


def control_readings(conn: sa.Connection, bath: str) -> tuple[ControlReading, ...]:
    """Departures of a bath's control patches from the aim of their kind, dated in days of its ledger."""
    kept = ledger_of(conn, bath)
    found = []
    for kind in EXPOSED_BY:
        rows = readings(conn, kind)
        aim = aim_of(rows)
        if aim is None:
            continue
        for row in rows:
            if row.bath == bath:
                away = np.asarray(row.wedge.quantities() - aim.values).ravel()
                found.append(ControlReading(day=max(kept.day(row.at), 0.0), departures=tuple(away.tolist())))
    return tuple(sorted(found, key=lambda reading: reading.day))


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultReport:
    """Likely causes, where to look in which order, and the tests worth their minutes."""

    suspects: tuple[Suspect, ...]
    places: tuple[tuple[Place, float], ...]
    tests: tuple[NextTest, ...]


def find_fault(
    db: Database, seen: Sequence[str], *, not_seen: Sequence[str] = (), results: Mapping[str, bool] | None = None
) -> FaultReport:
    """Rank causes by what is seen and tested, with this studio's own outcomes, and choose the next test."""
    with db.reading() as conn:
        counts: dict[str, int] = {}
        for row in every(conn, FaultOutcome):
            counts[row.cause] = counts.get(row.cause, 0) + 1
    suspects = diagnose(seen, results, not_seen=not_seen, outcomes=counts)
    return FaultReport(
        suspects=suspects, places=by_place(suspects), tests=next_tests(suspects, done=tuple(results or {}))
    )


def log_fault(
    db: Database,
    cause: str,
    seen: Sequence[str],
    *,
    results: Mapping[str, bool] | None = None,
    at: datetime | None = None,
    note: str = "",
) -> FaultOutcome:
    """Record what a fault turned out to be; it counts when the next one is looked for.

    Raises
    ------
    ValueOutOfRange
        If the cause is not one of the list nor "something else".
    """
    known = [*(one.name for one in CAUSES), Place.ELSE.value]
    if cause not in known:
        raise ValueOutOfRange(f'"{cause}" is no cause known here; use one of {", ".join(known)}.')
    diagnose(seen, results)
    with db.transaction() as conn:
        row = FaultOutcome(
            at=at or datetime.now(UTC), cause=cause, seen=tuple(seen), results=dict(results or {}), note=note
        )
        return add(conn, row)
