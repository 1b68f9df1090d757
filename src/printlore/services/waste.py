"""Waste by container, what the local authority says of it, and the diary of exposure."""

from dataclasses import dataclass
from datetime import UTC, datetime

import sqlalchemy as sa

from printlore.core.calendar import day
from printlore.core.figure import Figure
from printlore.errors import Refused, ValueOutOfRange
from printlore.records.baths_waste import HOLDS, DiaryEntry, DisposalAnswer, WasteContainer, WasteEntry
from printlore.records.database import Database
from printlore.records.rows import add, every, every_ever, find
from printlore.services.lines import bring_line_back, find_line, take_line_back

NEVER_TOGETHER = (
    "Keep each kind in its own container. Bleach-fix with acid gives off sulfur dioxide, with developer ammonia; "
    "with household bleach or cleaners worse."
)
ASK_FIRST = (
    "Used bleach-fix and first washes carry silver: they do not go down the drain, nor into a septic tank, and to thin "
    "them is no treatment. Ask your local authority what to do with each kind, and record what it says here."
)

WASTE_LISTED, DIARY_LISTED = "the waste book (baths waste book)", "the diary of exposure (baths waste diary)"
"""Where the lines are listed with their numbers."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ContainerState:
    """A container, how much is in it [L], and the newest answer of the authority for its kind."""

    container: WasteContainer
    litres: float
    answer: DisposalAnswer | None

    @property
    def holds_words(self) -> str:
        return HOLDS[self.container.holds]

    @property
    def share(self) -> float:
        """How full it is [1]."""
        return self.litres / self.container.capacity


def add_container(db: Database, name: str, holds: str, capacity: float) -> WasteContainer:
    """Set up a labelled container [L] for one kind of waste."""
    with db.transaction() as conn:
        return add(conn, WasteContainer(name=name, holds=holds, capacity=capacity))


def _litres(conn: sa.Connection, container: str) -> float:
    return sum(entry.litres for entry in every(conn, WasteEntry, container=container))


def pour_waste(
    db: Database,
    container: str,
    litres: float,
    what: str,
    *,
    holds: str | None = None,
    bath: str | None = None,
    at: datetime | None = None,
) -> WasteEntry:
    """Record waste poured into a container.

    Parameters
    ----------
    holds : str or None
        Which kind the waste is, if told ("silver", "developer" or "stop"): it is checked against the container.

    Raises
    ------
    Refused
        If it does not fit, or does not belong together.
    ValueOutOfRange
        If the volume is not above 0.
    """
    if not litres > 0:
        raise ValueOutOfRange(f"{Figure(litres):g} L of waste cannot be poured; give litres above 0.")
    with db.transaction() as conn:
        known = find(conn, WasteContainer, container)
        if holds is not None and holds != known.holds:
            raise Refused(
                f'"{container}" is for {HOLDS[known.holds]}; {HOLDS.get(holds, holds)} does not go in. {NEVER_TOGETHER}'
            )
        full = _litres(conn, container)
        if full + litres > known.capacity * 1.0001:
            raise Refused(
                f'"{container}" holds {Figure(full):.2f} of {Figure(known.capacity):g} L; {Figure(litres):g} L '
                "more do not fit. Hand it over first, or set up another container."
            )
        return add(
            conn, WasteEntry(container=container, bath=bath, at=at or datetime.now(UTC), litres=litres, what=what)
        )


def waste_book(db: Database) -> list[WasteEntry]:
    """Everything poured in or handed over, in order of time; what was taken back has ``removed`` set."""
    with db.reading() as conn:
        return sorted(every_ever(conn, WasteEntry), key=lambda entry: (entry.at, entry.id))


def take_waste_back(db: Database, number: int) -> WasteEntry:
    """Take a line of the waste book back; its row stays in the record.

    Raises
    ------
    Refused
        If it was taken back before, or a container would then have handed over more than was in it, or hold more
        than it takes.
    UnknownRecord
        If there is none of this number.
    """
    entry = find_line(db, WasteEntry, number, listed=WASTE_LISTED)
    return take_line_back(db, entry, _said(entry), lambda conn: waste_trouble(conn, entry.container))


def bring_waste_back(db: Database, number: int) -> WasteEntry:
    """Let a line of the waste book that was taken back count again. Raises as ``take_waste_back``."""
    entry = find_line(db, WasteEntry, number, listed=WASTE_LISTED)
    return bring_line_back(db, entry, _said(entry), lambda conn: waste_trouble(conn, entry.container))


def _said(entry: WasteEntry) -> str:
    way = "poured into" if entry.litres > 0 else "handed over of"
    return f'Line {entry.id} of the waste book ({Figure(abs(entry.litres)):.4g} L {way} "{entry.container}")'


def waste_trouble(conn: sa.Connection, container: str) -> str:
    """Why a container cannot hold what its lines say, if it cannot; empty if all is well."""
    capacity, there = find(conn, WasteContainer, container).capacity, 0.0
    for entry in sorted(every(conn, WasteEntry, container=container), key=lambda entry: (entry.at, entry.id)):
        before, there = there, there + entry.litres
        if there < -1e-6:
            return (
                f"{Figure(-entry.litres):.4g} L were handed over on {day(entry.at)} (line {entry.id}), and only "
                f"{Figure(before):.4g} L would have been there. Take that line back first."
            )
        if entry.litres > 0 and there > capacity * 1.0001:
            return (
                f'"{container}" takes {Figure(capacity):g} L and would have held {Figure(there):.4g} L on '
                f"{day(entry.at)} (line {entry.id}). Take that line back first."
            )
    return ""


def hand_over(db: Database, container: str, to: str, *, at: datetime | None = None) -> WasteEntry:
    """Record that a container was handed in, all of it.

    Raises
    ------
    Refused
        If it is empty, or no answer of the authority for its kind was recorded yet.
    """
    with db.transaction() as conn:
        known = find(conn, WasteContainer, container)
        litres = _litres(conn, container)
        if litres <= 0:
            raise Refused(f'"{container}" is empty; there is nothing to hand over.')
        if not every(conn, DisposalAnswer, holds=known.holds):
            raise Refused(f"No answer of your local authority about {HOLDS[known.holds]} is recorded. {ASK_FIRST}")
        return add(
            conn,
            WasteEntry(
                container=container,
                at=at or datetime.now(UTC),
                litres=-litres,
                what=HOLDS[known.holds],
                handed_to=to.strip() or "not said",
            ),
        )


def record_answer(
    db: Database, authority: str, holds: str, answer: str, *, at: datetime | None = None
) -> DisposalAnswer:
    """Record what the local authority said about a kind of waste."""
    if holds not in HOLDS:
        raise ValueOutOfRange(f'"{holds}" is no kind of waste kept here; use one of {", ".join(HOLDS)}.')
    if not authority.strip() or not answer.strip():
        raise ValueOutOfRange("Name the authority and write down what it said.")
    with db.transaction() as conn:
        row = DisposalAnswer(
            at=at or datetime.now(UTC), authority=authority.strip(), holds=holds, answer=answer.strip()
        )
        return add(conn, row)


def waste_report(db: Database) -> list[ContainerState]:
    """Every container, how full it is, and what the authority said of its kind."""
    with db.reading() as conn:
        answers = {row.holds: row for row in every(conn, DisposalAnswer)}
        return [
            ContainerState(container=one, litres=_litres(conn, one.name), answer=answers.get(one.holds))
            for one in every(conn, WasteContainer)
        ]


def write_diary(
    db: Database,
    person: str,
    minutes: float,
    substances: str,
    *,
    gloves: bool,
    goggles: bool,
    ventilation: bool,
    symptoms: str = "",
    at: datetime | None = None,
) -> DiaryEntry:
    """Record who worked with what for how long, and any rash, wheeze or headache."""
    with db.transaction() as conn:
        return add(
            conn,
            DiaryEntry(
                at=at or datetime.now(UTC),
                person=person,
                minutes=minutes,
                substances=substances,
                gloves=gloves,
                goggles=goggles,
                ventilation=ventilation,
                symptoms=symptoms.strip(),
            ),
        )


def diary(db: Database) -> list[DiaryEntry]:
    """The diary of exposure, newest first; what was taken back has ``removed`` set."""
    with db.reading() as conn:
        return sorted(every_ever(conn, DiaryEntry), key=lambda entry: (entry.at, entry.id), reverse=True)


def take_diary_back(db: Database, number: int) -> DiaryEntry:
    """Take an entry of the diary back; it stays listed. Raises Refused if it was before, UnknownRecord if none."""
    entry = find_line(db, DiaryEntry, number, listed=DIARY_LISTED)
    return take_line_back(db, entry, f"Entry {number} of the diary")


def bring_diary_back(db: Database, number: int) -> DiaryEntry:
    """Let an entry of the diary that was taken back count again. Raises as ``take_diary_back``."""
    entry = find_line(db, DiaryEntry, number, listed=DIARY_LISTED)
    return bring_line_back(db, entry, f"Entry {number} of the diary")


def symptoms_said(entries: list[DiaryEntry]) -> str:
    """What the diary says of symptoms: said plainly, since a sensitiser forgives nothing."""
    told = [entry for entry in entries if entry.symptoms and not entry.removed]
    if not told:
        return ""
    many = "One entry tells" if len(told) == 1 else f"{len(told)} entries tell"
    return (
        f"{many} of symptoms, the last on {day(told[0].at)}: {told[0].symptoms}. "
        "Stop work with developer and see a doctor before the next evening; take the safety sheet along."
    )
