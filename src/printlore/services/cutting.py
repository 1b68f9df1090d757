"""Plan cuts, cut in the dark by voice, and let the ledger fill itself."""

import itertools
import threading
from collections.abc import Sequence
from contextvars import copy_context
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta

import sqlalchemy as sa

from printlore.core.calendar import day, moment
from printlore.core.cutting.blind import Event, Outcome, Position, outcome, position, resume_prompts
from printlore.core.cutting.drawing import size_words
from printlore.core.cutting.integer import Stop
from printlore.core.cutting.plan import SETTINGS_PER_SITTING, Found, Plan, Report, plan_cuts, trade_off
from printlore.core.cutting.price import CuttingCosts, SheetCost, Used, sheet_costs
from printlore.core.cutting.procedure import Procedure, spoken_procedure
from printlore.core.cutting.sections import Kind
from printlore.core.cutting.wanted import Roll, Sheets, Source, Trimmer, Wanted
from printlore.errors import ChangedMeanwhile, PrintloreError, Refused, UnknownRecord, ValueOutOfRange
from printlore.records.cutting import CutEvent, PlanRecord, SittingRecord, TrimmerRecord, events_of
from printlore.records.database import Database
from printlore.records.rows import add, correct, every, find, newest_records
from printlore.records.stock import BoxRecord, Happened, RollRecord, StockLine
from printlore.services.stock import RollStatus, roll_status, stock

_LEFT_OFF = timedelta(hours=2)
"""A sitting without a press for so long is not under way any more (from memory): no page stays black for it."""
USUAL_TRIMMER = Trimmer(blade_length=700.0, longest_stop=620.0)
"""Until the studio states its own (from memory)."""


def set_trimmer(db: Database, trimmer: Trimmer, *, seen: int | None = None) -> TrimmerRecord:
    """State what the trimmer can do.

    Parameters
    ----------
    seen : int, optional
        The version that was looked at (0: none was stated), so that a change in between is noticed.

    Raises
    ------
    ChangedMeanwhile
        If it was stated anew since.
    """
    with db.transaction() as conn:
        known = _trimmer(conn)
        if known.id:
            version = known.version if seen is None else seen
            return correct(conn, replace(known, version=version, trimmer=trimmer))
        return add(conn, replace(known, trimmer=trimmer))


def get_trimmer(db: Database) -> TrimmerRecord:
    """The trimmer last stated; else a usual one (version 0: not recorded)."""
    with db.reading() as conn:
        return _trimmer(conn)


def _trimmer(conn: sa.Connection) -> TrimmerRecord:
    known = every(conn, TrimmerRecord)
    return known[-1] if known else TrimmerRecord(name="trimmer", trimmer=USUAL_TRIMMER)


def sources_on_hand(
    db: Database, *, rolls: Sequence[str] | None = None, boxes: Sequence[str] = (), at: datetime | None = None
) -> list[Source]:
    """Rolls (all that hold paper, unless named) and named boxes as a plan takes them.

    Raises
    ------
    UnknownRecord
        If a name is not on hand.
    """
    on_hand = stock(db, at=at)
    by_roll = {r.roll.name: r for r in on_hand.rolls}
    by_box = {b.box.name: b for b in on_hand.boxes}
    for kind, name, known in [("roll", n, by_roll) for n in rolls or ()] + [("box", n, by_box) for n in boxes]:
        if name not in known:
            raise UnknownRecord(f'No {kind} is called "{name}". There is {", ".join(known) or "none"}.')
    every_roll = [r for r in by_roll.values() if r.usable > 0]
    chosen = every_roll if rolls is None else [by_roll[name] for name in rolls]
    found: list[Source] = [
        Roll(name=r.roll.name, lot=r.roll.lot, width=r.roll.width, length=round(r.usable, 1)) for r in chosen
    ]
    found += [
        Sheets(
            name=by_box[name].box.name,
            lot=by_box[name].box.lot,
            along=by_box[name].box.along,
            across=by_box[name].box.across,
            count=by_box[name].sheets,
        )
        for name in boxes
    ]
    return found


def plan_paper(
    db: Database,
    wanted: Sequence[Wanted],
    *,
    rolls: Sequence[str] | None = None,
    boxes: Sequence[str] = (),
    settings_per_sitting: int | None = SETTINGS_PER_SITTING,
    seconds: float = 10.0,
    report: Report | None = None,
    stop: Stop | None = None,
) -> Plan:
    """The best plan for what is wanted from what is on hand, within the trimmer's limits."""
    trimmer = get_trimmer(db).trimmer
    return plan_cuts(
        wanted,
        sources_on_hand(db, rolls=rolls, boxes=boxes),
        trimmer,
        settings_per_sitting=settings_per_sitting,
        seconds=seconds,
        report=report,
        stop=stop,
    )


def plan_trade_off(
    db: Database,
    wanted: Sequence[Wanted],
    *,
    rolls: Sequence[str] | None = None,
    boxes: Sequence[str] = (),
    settings_per_sitting: int = SETTINGS_PER_SITTING,
    seconds: float = 10.0,
    stop: Stop | None = None,
) -> list[Plan]:
    """Plans from the fewest stop settings on, each with the least paper."""
    trimmer = get_trimmer(db).trimmer
    sources = sources_on_hand(db, rolls=rolls, boxes=boxes)
    return trade_off(wanted, sources, trimmer, settings_per_sitting=settings_per_sitting, seconds=seconds, stop=stop)


@dataclass(slots=True)
class Planning:
    """A search under way, or done.

    Attributes
    ----------
    number : int
    news : list of Found
        Better plans so far, oldest first.
    plans : list of Plan
        When done: from the fewest settings on.
    problem : PrintloreError or None
    """

    number: int
    seconds: float
    news: list[Found] = field(default_factory=list)
    plans: list[Plan] = field(default_factory=list)
    problem: PrintloreError | None = None
    done: bool = False
    _stopped: threading.Event = field(default_factory=threading.Event)

    def stop(self) -> None:
        """End with the best plan so far."""
        self._stopped.set()

    def is_stopped(self) -> bool:
        """Whether somebody asked for the end."""
        return self._stopped.is_set()


_PLANNINGS: dict[int, Planning] = {}
_NUMBERS = itertools.count(1)
_MOST_KEPT = 20


def start_planning(
    db: Database,
    wanted: Sequence[Wanted],
    *,
    rolls: Sequence[str] | None = None,
    boxes: Sequence[str] = (),
    settings_per_sitting: int = SETTINGS_PER_SITTING,
    seconds: float = 20.0,
) -> Planning:
    """Search in the background; look with `planning`. A plan is not of the record until it is kept."""
    trimmer = get_trimmer(db).trimmer
    sources = sources_on_hand(db, rolls=rolls, boxes=boxes)
    job = Planning(number=next(_NUMBERS), seconds=seconds)
    _PLANNINGS[job.number] = job
    for old in sorted(_PLANNINGS)[:-_MOST_KEPT]:
        _PLANNINGS.pop(old).stop()

    def work() -> None:
        try:
            best = plan_cuts(
                wanted,
                sources,
                trimmer,
                settings_per_sitting=settings_per_sitting,
                seconds=0.6 * seconds,
                report=job.news.append,
                stop=job.is_stopped,
            )
            job.plans = [best]
            if best.sittings and not job.is_stopped():
                more = trade_off(
                    wanted,
                    sources,
                    trimmer,
                    settings_per_sitting=settings_per_sitting,
                    seconds=0.4 * seconds,
                    stop=job.is_stopped,
                )
                job.plans += [plan for plan in more if plan.settings > best.settings and plan.paper < best.paper]
        except PrintloreError as problem:
            job.problem = problem
        finally:
            job.done = True

    # The copy of the context writes the plan's words with the studio's decimal mark.
    threading.Thread(target=copy_context().run, args=(work,), name=f"cut plan {job.number}", daemon=True).start()
    return job


def planning(number: int) -> Planning:
    """A search by its number.

    Raises
    ------
    UnknownRecord
        If it is forgotten; searches do not outlive the program.
    """
    if number not in _PLANNINGS:
        raise UnknownRecord(f"The search {number} is no longer at hand. Plan again; it takes seconds.")
    return _PLANNINGS[number]


def keep_plan(db: Database, plan: Plan, *, name: str = "", at: datetime | None = None) -> PlanRecord:
    """Record a plan, so that its sittings can be cut.

    Raises
    ------
    ValueOutOfRange
        If it cuts nothing.
    """
    if not plan.sittings:
        raise ValueOutOfRange("This plan cuts nothing; there is nothing to keep.")
    at = at or datetime.now(UTC)
    with db.transaction() as conn:
        number = len(every(conn, PlanRecord)) + 1
        return add(conn, PlanRecord(name=name or f"cut {number}, {day(at)}", at=at, plan=plan))


def pack_prices(db: Database, plan: Plan, *, hourly: float, kept: str = "") -> list[SheetCost]:
    """What a sheet of each size costs, from the price of the rolls, waste and minutes.

    Parameters
    ----------
    kept : str, optional
        Name of the plan, if it is kept: what its sittings spoiled, and the outer turns of a roll that they begin, are
        then paid by the good sheets.

    Raises
    ------
    ValueOutOfRange
        If the worth of an hour cannot be.
    Refused
        If a roll has no price, or its length when it came is not known.
    """
    CuttingCosts(per_area={}, hourly=hourly)
    prices: dict[str, float] = {}
    for source in {sitting.source for sitting in plan.sittings}:
        with db.reading() as conn:
            roll = next(iter(every(conn, RollRecord, name=source)), None)
        if roll is None or roll.price is None:
            raise Refused(f'"{source}" has no price; enter what the roll cost.')
        length = roll.stated_length
        if length is None:
            with db.reading() as conn:
                gone = -sum(line.length or 0.0 for line in every(conn, StockLine, roll=source))
            length = roll_status(db, source).length.value + gone
        if not length:
            raise Refused(f'The length of "{source}" is not known; measure it, so that its price per area is.')
        prices[source] = roll.price / (length * roll.width / 1e6)
    return sheet_costs(plan, CuttingCosts(per_area=prices, hourly=hourly), _used(db, kept) if kept else {})


def _used(db: Database, plan: str) -> dict[int, Used]:
    """What sittings of a plan used up and made where that is not what was planned, by their numbers."""
    cut = {state.sitting.number: state for state in list_sittings(db, plan) if state.sitting.booked}
    with db.reading() as conn:
        sittings = find(conn, PlanRecord, plan).plan.sittings
    found = {}
    for number, procedure in enumerate(procedures_of(db, plan), 1):
        if not procedure.from_roll:
            continue
        if number in cut:
            made = cut[number].outcome
            found[number] = Used(length=made.length, pieces=made.pieces)
        elif procedure.discard:
            found[number] = Used(length=sittings[number - 1].length + procedure.discard)
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class SittingState:
    """A sitting, where it stands, and what it has made.

    Attributes
    ----------
    sitting : SittingRecord
    events : int
        Presses and other events so far; the next is one more.
    position : Position
    outcome : Outcome
    say : tuple of str
        Prompts to be spoken now.
    """

    sitting: SittingRecord
    events: int
    position: Position
    outcome: Outcome
    say: tuple[str, ...]

    @property
    def procedure(self) -> Procedure:
        return self.sitting.procedure


def start_sitting(db: Database, plan: str, number: int, *, at: datetime | None = None) -> SittingState:
    """Begin (or go back to) a sitting of a plan.

    Raises
    ------
    ValueOutOfRange
        If the plan has no such sitting.
    Refused
        If its roll is still warming up.
    """
    at = at or datetime.now(UTC)
    with db.transaction() as conn:
        record = find(conn, PlanRecord, plan)
        for known in every(conn, SittingRecord, plan=plan):
            if known.number == number:
                return _state(conn, known, resumed=True)
        if not 1 <= number <= len(record.plan.sittings):
            raise ValueOutOfRange(f'Plan "{plan}" has sittings 1 to {len(record.plan.sittings)}; there is no {number}.')
        sitting = record.plan.sittings[number - 1]
        roll = _roll_of(db, conn, sitting.source, at)
        if roll is not None and roll.ready_at is not None:
            raise Refused(
                f'Roll "{sitting.source}" is warming up until {moment(roll.ready_at)}. Opened cold, it draws damp. '
                "The plan is kept: begin this sitting then."
            )
        discard = roll.discard if roll is not None else 0.0
        procedure = spoken_procedure(sitting, from_roll=roll is not None, discard=discard)
        name = f"{plan}, sitting {number}"
        added = add(conn, SittingRecord(name=name, plan=plan, number=number, at=at, procedure=procedure))
        return _state(conn, added, resumed=False)


def _roll_of(db: Database, conn: sa.Connection, source: str, at: datetime) -> RollStatus | None:
    """What is known of the roll that a sitting cuts; ``None``: it cuts up sheets."""
    if any(roll.name == source for roll in every(conn, RollRecord)):
        return roll_status(db, source, at=at)
    return None


def procedures_of(db: Database, plan: str) -> list[Procedure]:
    """Every sitting of a plan as steps: as it was begun, or as it would begin now if they are cut in their order.

    Off a roll that was not begun, the outer turns go first, at the first sitting that opens it.
    """
    at = datetime.now(UTC)
    with db.reading() as conn:
        record = find(conn, PlanRecord, plan)
        begun = {known.number: known.procedure for known in every(conn, SittingRecord, plan=plan)}
        opened = {procedure.source for procedure in begun.values() if procedure.discard}
        found = []
        for number, sitting in enumerate(record.plan.sittings, 1):
            if number not in begun:
                roll = _roll_of(db, conn, sitting.source, at)
                discard = roll.discard if roll is not None and sitting.source not in opened else 0.0
                begun[number] = spoken_procedure(sitting, from_roll=roll is not None, discard=discard)
                opened.add(sitting.source)
            found.append(begun[number])
    return found


def sitting_state(db: Database, sitting: str) -> SittingState:
    """Where a sitting stands, to be taken up again."""
    with db.reading() as conn:
        return _state(conn, find(conn, SittingRecord, sitting), resumed=True)


def list_sittings(db: Database, plan: str | None = None) -> list[SittingState]:
    """Sittings begun, of one plan if named."""
    with db.reading() as conn:
        records = every(conn, SittingRecord, plan=plan) if plan else every(conn, SittingRecord)
        return [_state(conn, record, resumed=True) for record in records]


def cutting_in_the_dark(db: Database, *, at: datetime | None = None) -> bool:
    """Whether paper is out in a sitting that is under way."""
    at = at or datetime.now(UTC)
    with db.reading() as conn:
        for last in newest_records(conn, CutEvent, 1):
            if last.created_at is not None and at - last.created_at < _LEFT_OFF:
                return _state(conn, find(conn, SittingRecord, last.sitting), resumed=True).position.dark
    return False


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptPlan:
    """A plan that was kept, its sittings that were begun, and what a sheet of each size costs, or why that is open."""

    record: PlanRecord
    sittings: tuple[SittingState, ...]
    costs: tuple[SheetCost, ...]
    why_not: str


def kept_plan(db: Database, name: str, *, hourly: float) -> KeptPlan:
    """One plan that was kept.

    Raises
    ------
    UnknownRecord
        If none of that name is.
    ValueOutOfRange
        If the worth of an hour cannot be.
    """
    with db.reading() as conn:
        record = find(conn, PlanRecord, name)
    costs: tuple[SheetCost, ...] = ()
    why_not = ""
    try:
        costs = tuple(pack_prices(db, record.plan, hourly=hourly, kept=record.name))
    except Refused as problem:
        why_not = str(problem)
    return KeptPlan(record=record, sittings=tuple(list_sittings(db, record.name)), costs=costs, why_not=why_not)


def press(
    db: Database, sitting: str, event: Event, *, number: int | None = None, at: datetime | None = None
) -> SittingState:
    """Record one press (foot switch, key, or command); it is on disk before this returns.

    Parameters
    ----------
    number : int or None
        Which event this is, from 1. A number that was already taken with the same event is not counted twice, so a
        press may be sent again after a broken connection. ``None``: the next.

    Raises
    ------
    ChangedMeanwhile
        If another event has that number, or one before it is missing.
    Refused
        If it cannot be at this point; or an undo would take back what is already in the ledger.
    """
    at = at or datetime.now(UTC)
    with db.transaction() as conn:
        record = find(conn, SittingRecord, sitting)
        events = events_of(conn, record)
        number = len(events) + 1 if number is None else number
        if 1 <= number <= len(events) and events[number - 1] is event:
            return _state(conn, record, resumed=False)
        if number != len(events) + 1:
            raise ChangedMeanwhile(
                f"This sitting has {len(events)} presses, and yours would be number {number}. "
                "Listen to where it stands."
            )
        if record.booked and event is Event.UNDO:
            raise Refused("The sheets of this sitting are in the ledger. Correct the count of the box instead.")
        place = position(record.procedure, [*events, event])
        add(conn, CutEvent(sitting=sitting, number=number, event=event))
        if not record.booked and (place.step is None or place.step.key == "labels"):
            _book(conn, record, outcome(record.procedure, [*events, event]), at)
        return _state(conn, find(conn, SittingRecord, sitting), resumed=False)


def _state(conn: sa.Connection, record: SittingRecord, *, resumed: bool) -> SittingState:
    events = events_of(conn, record)
    place = position(record.procedure, events)
    return SittingState(
        sitting=record,
        events=len(events),
        position=place,
        outcome=outcome(record.procedure, events),
        say=resume_prompts(place) if resumed else place.say,
    )


def _book(conn: sa.Connection, record: SittingRecord, made: Outcome, at: datetime) -> None:
    """Write what a sitting made into the ledger: the roll's length, and a box for each size."""
    procedure = record.procedure
    note = record.name
    if procedure.from_roll and made.length:
        add(conn, StockLine(at=at, happened=Happened.CUT, roll=procedure.source, length=-made.length, note=note))
    elif made.sheets_used:
        add(conn, StockLine(at=at, happened=Happened.CUT, box=procedure.source, sheets=-made.sheets_used, note=note))
    sizes = [*procedure.boxes, *sorted(size for size in made.pieces if size not in procedure.boxes)]
    labelled = [
        (size_words(along, across) + (" strips" if kind is Kind.STRIP else ""), along, across, kind, made.pieces[size])
        for size in sizes
        if size in made.pieces
        for along, across, kind in [size]
    ]
    labelled += [
        (size_words(along, across) + " uncut", along, across, Kind.SHEET, n)
        for (along, across), n in made.uncut.items()
    ]
    for words, along, across, kind, count in labelled:
        box = BoxRecord(
            name=f"{record.name}: {words}", lot=procedure.lot, along=along, across=across, strips=kind is Kind.STRIP
        )
        add(conn, box)
        add(conn, StockLine(at=at, happened=Happened.CUT, box=box.name, sheets=count, note=note))
    for (along, across), count in made.spoiled.items():
        # Spoiled paper never was in a box, so it is only noted with the roll it came from.
        words = f"{note}: {count} of {size_words(along, across)} spoiled"
        if procedure.from_roll:
            line = StockLine(at=at, happened=Happened.SPOILED, roll=procedure.source, length=0.0, note=words)
        else:
            line = StockLine(at=at, happened=Happened.SPOILED, box=procedure.source, sheets=0, note=words)
        add(conn, line)
    correct(conn, replace(record, booked=True))
