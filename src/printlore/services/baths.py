"""Kits, mixing, drum loads, top-ups, retirement: what a printer does with a bath, checked against its ledger."""

import dataclasses
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import sqlalchemy as sa

from printlore.core.bath.balance import followed_by
from printlore.core.bath.kit import Kit, Part, Use, check_order
from printlore.core.bath.mixing import (
    ErrorEffect,
    Step,
    cost_per_litre,
    effect_of_error,
    largest_mix,
    mixing_steps,
    parts_for,
    water_advice,
)
from printlore.core.bath.pours import Bled, DrumLoad, Event, Gauged, Retired, TopUp
from printlore.core.calendar import moment
from printlore.core.figure import Figure
from printlore.errors import Refused, ValueOutOfRange
from printlore.records.baths import OPEN_MINUTES, Bath, BathEvent, Mix, Process, Run, ledger_of
from printlore.records.baths_kept import Concentrate, KitRecord
from printlore.records.database import Database
from printlore.records.rows import add, correct, every, every_ever, find

LITRE = 1000.0


def define_kit(
    db: Database,
    name: str,
    use: Use,
    parts: Sequence[Part],
    *,
    life_days: float | None = None,
    hazards: str = "",
    safety_sheet_read: bool = False,
) -> KitRecord:
    """Define a kit by its own sheet.

    Raises
    ------
    ValueOutOfRange
        If its parts cannot be, or the name is taken.
    """
    kit = Kit(name=name, use=use, parts=tuple(parts), life_days=life_days)
    with db.transaction() as conn:
        return add(conn, KitRecord(name=name, kit=kit, hazards=hazards, safety_sheet_read=safety_sheet_read))


def open_concentrate(
    db: Database,
    name: str,
    kit: str,
    part: str,
    volume: float,
    *,
    opened_at: datetime | None = None,
    price: float | None = None,
) -> Concentrate:
    """Record an opened bottle of a part [mL], with its price for the bottle.

    Raises
    ------
    ValueOutOfRange
        If the kit has no such part.
    """
    with db.transaction() as conn:
        known = find(conn, KitRecord, kit).kit
        names = [one.name for one in known.parts]
        if part not in names:
            raise ValueOutOfRange(f'Kit "{kit}" has no part "{part}"; it has {", ".join(names)}.')
        return add(
            conn,
            Concentrate(
                name=name, kit=kit, part=part, volume=volume, opened_at=opened_at or datetime.now(UTC), price=price
            ),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Left:
    """An opened concentrate and how much is left [mL]."""

    concentrate: Concentrate
    left: float


def _left(conn: sa.Connection, kit: str | None = None) -> list[Left]:
    drawn: dict[str, float] = {}
    for taken in (*(row.drawn for row in every(conn, Mix)), *(row.drawn for row in every(conn, BathEvent))):
        for name, volume in taken.items():
            drawn[name] = drawn.get(name, 0.0) + volume
    bottles = every(conn, Concentrate) if kit is None else every(conn, Concentrate, kit=kit)
    return [Left(concentrate=one, left=one.volume - drawn.get(one.name, 0.0)) for one in bottles]


def bottle_troubles(conn: sa.Connection) -> tuple[str, ...]:
    """Words about opened bottles that more was drawn from than was in them."""
    return tuple(
        f'Of the bottle "{one.concentrate.name}" {Figure(one.concentrate.volume - one.left):.0f} mL were drawn, and '
        f"{Figure(one.concentrate.volume):.0f} mL were in it."
        for one in _left(conn)
        if one.left < -0.5
    )


def concentrates_left(db: Database) -> list[Left]:
    """Opened concentrates and what is left in each."""
    with db.reading() as conn:
        return _left(conn)


@dataclass(frozen=True, slots=True, kw_only=True)
class MixingPlan:
    """How to mix, before anything is poured.

    Attributes
    ----------
    kit : KitRecord
    volume : float
        [mL]
    steps : tuple of Step
    one_too_much : dict of part to ErrorEffect
        What one millilitre too much of each part does.
    water : str
        Which water.
    cost : float or None
        Of one litre [studio's unit], if all prices are known.
    largest : float or None
        Most that the opened bottles can make [mL]; ``None`` if none is recorded.
    doubts : tuple of str
    """

    kit: KitRecord
    volume: float
    steps: tuple[Step, ...]
    one_too_much: dict[str, ErrorEffect]
    water: str
    cost: float | None
    largest: float | None
    doubts: tuple[str, ...]


def plan_mixing(
    db: Database,
    kit: str,
    volume: float,
    *,
    bottle: float | None = None,
    hardness: float | None = None,
) -> MixingPlan:
    """What to pour, in which order, with which vessel, how exact it will be and what it costs.

    Raises
    ------
    UnknownRecord, ValueOutOfRange
        If there is no such kit, or the volume cannot be mixed or does not go into the bottle [mL].
    """
    with db.reading() as conn:
        record = find(conn, KitRecord, kit)
        left = _left(conn, kit)
    parts = parts_for(record.kit, volume)
    by_part: dict[str, float] = {}
    prices: dict[str, float] = {}
    for one in left:
        part = one.concentrate.part
        by_part[part] = by_part.get(part, 0.0) + max(one.left, 0.0)
        if one.concentrate.price is not None:
            prices[part] = one.concentrate.price / one.concentrate.volume * LITRE
    doubts = []
    if not record.safety_sheet_read:
        doubts.append("the safety sheet of this kit is not marked as read: read it before you open a bottle")
    largest = largest_mix(record.kit, by_part) if left else None
    if largest is not None and largest < volume - 0.5:
        doubts.append(f"the opened bottles make {largest:.0f} mL only")
    return MixingPlan(
        kit=record,
        volume=volume,
        steps=mixing_steps(record.kit, volume, bottle=bottle),
        one_too_much={name: effect_of_error(record.kit, name, 1.0, volume) for name in parts},
        water=water_advice(hardness),
        cost=cost_per_litre(record.kit, prices) if set(prices) >= set(parts) else None,
        largest=largest,
        doubts=tuple(doubts),
    )


def _draw(conn: sa.Connection, kit: Kit, volume: float, strength: float) -> dict[str, float]:
    """What comes from which opened bottle, oldest first; a part without a bottle on record draws on none."""
    drawn: dict[str, float] = {}
    for name, need in parts_for(kit, volume).items():
        bottles = [one for one in _left(conn, kit.name) if one.concentrate.part == name]
        need *= strength
        if bottles and sum(max(one.left, 0.0) for one in bottles) < need - 0.5:
            have = sum(max(one.left, 0.0) for one in bottles)
            raise Refused(
                f'{need:.0f} mL of part "{name}" are needed, but the opened bottles hold {have:.0f} mL. '
                "Open another bottle and record it, or mix less."
            )
        for one in bottles:
            taken = min(need, max(one.left, 0.0))
            if taken > 0:
                drawn[one.concentrate.name] = taken
                need -= taken
    return drawn


def mix_bath(
    db: Database,
    name: str,
    process: str,
    kit: str | None,
    volume: float,
    *,
    bottle: float | None = None,
    at: datetime | None = None,
    no_air: bool = False,
    strength: float = 1.0,
    poured: Sequence[str] | None = None,
    new_process: bool = False,
) -> Bath:
    """Record a mixed bath and take its concentrates off the opened bottles.

    Parameters
    ----------
    process : str
        How it develops; one of the studio's, or a new one if ``new_process``.
    bottle : float or None
        What its bottle holds [mL]; ``None``: it is full.
    poured : sequence of str or None
        Order in which things went in, if told: it is checked.

    Raises
    ------
    Refused
        If the order was wrong, or a bottle holds too little.
    ValueOutOfRange
        If volume and bottle do not go together, or the name is taken.
    """
    at = at or datetime.now(UTC)
    bottle = volume if bottle is None else bottle
    if not (math.isfinite(volume) and volume > 0):
        raise ValueOutOfRange(f"A bath of {Figure(volume):g} mL cannot be mixed; give more than 0.")
    if volume > bottle:
        raise ValueOutOfRange(
            f"{Figure(volume):g} mL do not go into a bottle of {Figure(bottle):g} mL. Mix less, or choose a larger "
            "bottle."
        )
    with db.transaction() as conn:
        drawn: dict[str, float] = {}
        if kit is not None:
            known = find(conn, KitRecord, kit).kit
            if poured is not None:
                check_order(known, poured)
            drawn = _draw(conn, known, volume, strength)
        if new_process:
            add(conn, Process(name=process))
        bath = add(conn, Bath(name=name, process=process, mixed_at=at, volume=volume))
        mix = Mix(
            bath=bath.name,
            kit=kit,
            at=at,
            volume=volume,
            bottle=bottle,
            no_air=no_air,
            strength=strength,
            drawn=drawn,
        )
        add(conn, mix)
    return bath


def _check_follows(conn: sa.Connection, bath: str, at: datetime, event: Event) -> None:
    """Refuse an event that the ledger cannot take."""
    kept = ledger_of(conn, bath)
    if at.astimezone(UTC) < kept.mixed_at:
        raise Refused(
            f'"{bath}" was mixed on {moment(kept.mixed_at)}; {moment(at)} lies before that. '
            "Correct the date, or choose the bath that was in use then."
        )
    followed_by(kept.ledger, event)


def _day(conn: sa.Connection, bath: str, at: datetime) -> float:
    return (at.astimezone(UTC) - find(conn, Bath, bath).mixed_at).total_seconds() / 86400


LARGEST_LOAD = 10.0
"""[m2] No drum holds more paper; an area beyond this was given in another unit (from memory)."""


def can_be_a_load(area: float | None, temperature: float | None) -> None:
    """Refuse what no drum load has had: an area in another unit, a temperature that no bath is poured at."""
    if area is not None and not area <= LARGEST_LOAD:
        raise ValueOutOfRange(
            f"{Figure(area):g} m2 of paper cannot be in one drum load; give at most {Figure(LARGEST_LOAD):g}. "
            "1 m2 is 10000 cm2, and a sheet of 20x25 cm is 0.05 m2."
        )
    if temperature is not None and not 0 < temperature < 100:
        raise ValueOutOfRange(
            f"A bath is not poured at {Figure(temperature):g} degrees C; give what the thermometer said, between 0 and "
            "100, or leave it out."
        )


def log_run(
    db: Database,
    bath: str,
    area: float,
    *,
    name: str = "",
    at: datetime | None = None,
    drum: str = "",
    water_in: float | None = None,
    solution_out: float | None = None,
    temperature: float | None = None,
    note: str = "",
) -> Run:
    """Record a drum load: paper [m2], weighed carry-in and carry-out [mL] if known.

    Raises
    ------
    Refused
        If the bath is retired, or the run is dated before what was recorded last, or takes out more than there is.
    """
    at = at or datetime.now(UTC)
    can_be_a_load(area, temperature)
    with db.transaction() as conn:
        event = DrumLoad(
            day=_day(conn, bath, at), area=area, water_in=water_in, solution_out=solution_out, open_minutes=OPEN_MINUTES
        )
        _check_follows(conn, bath, at, event)
        # those that were taken back keep their names
        name = name or f"{bath}, load {len(every_ever(conn, Run, bath=bath)) + 1}"
        return add(
            conn,
            Run(
                name=name,
                bath=bath,
                at=at,
                drum=drum,
                area=area,
                water_in=water_in,
                solution_out=solution_out,
                temperature=temperature,
                note=note,
            ),
        )


def _log_event(
    db: Database,
    bath: str,
    kind: str,
    at: datetime | None,
    *,
    volume: float | None = None,
    bled: float | None = None,
    strength: float | None = None,
    note: str = "",
) -> BathEvent:
    at = at or datetime.now(UTC)
    with db.transaction() as conn:
        day = _day(conn, bath, at)
        event: Event
        if kind == "top up":
            event = TopUp(day=day, volume=volume or 0.0, bled=bled or 0.0, strength=strength or 0.0)
        elif kind == "retired":
            event = Retired(day=day)
        else:
            event = (Bled if kind == "bleed" else Gauged)(day=day, volume=volume or 0.0)
        _check_follows(conn, bath, at, event)
        drawn: dict[str, float] = {}
        kit = kit_of(conn, bath)
        if kind == "top up" and kit is not None and volume:
            drawn = _draw(conn, kit.kit, volume, strength or 0.0)
        row = BathEvent(
            bath=bath, at=at, kind=kind, volume=volume, bled=bled, strength=strength, drawn=drawn, note=note
        )
        return add(conn, row)


def top_up(
    db: Database, bath: str, volume: float, *, bled: float = 0.0, strength: float = 1.0, at: datetime | None = None
) -> BathEvent:
    """Take some out, then add solution [mL]. Raises Refused if it does not fit the bottle or the bath is retired."""
    return _log_event(db, bath, "top up", at, volume=volume, bled=bled, strength=strength)


def bleed(db: Database, bath: str, volume: float, *, at: datetime | None = None) -> BathEvent:
    """Take solution out for good [mL]. Raises Refused if there is less, or the bath is retired."""
    return _log_event(db, bath, "bleed", at, volume=volume)


def gauge(db: Database, bath: str, volume: float, *, at: datetime | None = None) -> BathEvent:
    """Record the volume read off the bottle [mL]; the ledger goes on from it."""
    return _log_event(db, bath, "gauged", at, volume=volume)


def retire(db: Database, bath: str, *, at: datetime | None = None, note: str = "") -> BathEvent:
    """Give a bath up. Nothing can follow; ``bath_book.take_back`` undoes it."""
    return _log_event(db, bath, "retired", at, note=note)


CARE: Mapping[Use, tuple[str, ...]] = {
    Use.DEVELOPER: (
        "Nitrile gloves without holes, goggles, long sleeves: the developing agent can make skin allergic for life. "
        "Rash, wheeze or swelling: stop, rinse, see a doctor.",
        "Wash a splash off with cool water and soap, never with solvent. In an eye: rinse 15 minutes (from memory; the "
        "safety sheet decides) and call for help.",
    ),
    Use.STOP: ("Acid into water, never water into acid. Fan on.",),
    Use.BLEACH_FIX: (
        "Never mix bleach-fix, in bottle or waste, with acid (it gives off sulfur dioxide), with developer (ammonia), "
        "or with household bleach or cleaners.",
        "Its own jug and funnel: a trace in the developer spoils it. Some people react to its sulfite (asthma).",
    ),
    Use.STABILISER: ("Gloves and fan: read what its safety sheet says of vapour.",),
}
CARE_ALWAYS = (
    "Read your own safety sheet and keep it in the room.",
    "Fan on or window baffled open, draught low behind the sink; mains away from water and on a safety breaker, no "
    "wet glove on a plug.",
    "Labelled, closed bottles, never food or drink ones; out of reach of children and animals; no food in the room.",
)
"""Usual cautions (common practice; local rules and licensed practice come first)."""
BEFORE_OPENING = "Before a bottle is opened: its safety sheet read, nitrile gloves and goggles on, fan on."
GIVEN_UP = "Pour it into its own waste container, not down the drain."
TAKEN_OUT = "What was taken out goes into its own waste container, not down the drain."


def care_for(use: Use) -> tuple[str, ...]:
    """Cautions to read before this kind of solution is opened."""
    return (*CARE[use], *CARE_ALWAYS)


def kit_of(conn: sa.Connection, bath: str) -> KitRecord | None:
    """The kit that a bath was mixed from, if that is recorded."""
    mixes = every(conn, Mix, bath=bath)
    return find(conn, KitRecord, mixes[-1].kit) if mixes and mixes[-1].kit else None


def use_of(kit: KitRecord | None) -> Use:
    """What a bath of this kit is for; one of no known kit is taken for a developer."""
    return kit.kit.use if kit else Use.DEVELOPER


def care_at_hand(kit: KitRecord | None) -> tuple[str, ...]:
    """Cautions for whoever handles a bath of this kit."""
    return CARE[use_of(kit)]


def mark_safety_sheet_read(db: Database, kit: str) -> KitRecord:
    """The user has read the kit's safety sheet."""
    with db.transaction() as conn:
        return correct(conn, dataclasses.replace(find(conn, KitRecord, kit), safety_sheet_read=True))
