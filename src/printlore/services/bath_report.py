"""What a bath is and what it can still do: state, wear, capacity, keep or top up or retire, steady top-up."""

import dataclasses
import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
import sqlalchemy as sa

from printlore.core.bath.balance import Content, content_at, contents
from printlore.core.bath.capacity import Capacity, Harm, Work, forecast, sentence, volume_needed
from printlore.core.bath.choice import BathCosts, Option, Steady, options, plan_steady
from printlore.core.bath.kit import Use
from printlore.core.bath.learning import (
    Belief,
    ControlReading,
    expected_departure,
    for_next_bath,
    learn,
    reading_from_shift,
    usual_belief,
)
from printlore.core.bath.pours import SHEET_20X25, Retired
from printlore.core.control.limits import CHANNELS, QUANTITIES, Finding, Verdict
from printlore.core.figure import Figure
from printlore.core.memory.columns import aged
from printlore.core.memory.evidence import BathState
from printlore.core.memory.model import PROCESS_SIZE, ageing, spread_covariance
from printlore.core.memory.solve import Memory
from printlore.errors import Refused, ValueOutOfRange
from printlore.records.baths import Bath, DeclaredBathState, Kept, Mix, baths_kept_up, ledger_of
from printlore.records.baths_kept import KitRecord
from printlore.records.database import Database
from printlore.records.rows import every, find, latest
from printlore.records.studio import Costs, settled
from printlore.records.trials import TrialRow
from printlore.services.baths import kit_of, use_of
from printlore.services.control import ControlReport, control_readings, control_report
from printlore.services.memory import current_memory

USUAL_SIZES: tuple[tuple[str, float], ...] = (("20x25", SHEET_20X25), ("30x40", 0.305 * 0.406))
MIX_MINUTES = 6.0
"""[min] To mix and label a fresh bath (from memory)."""
_SPREAD_AHEAD = 4.0


def work_for(name: str, area: float, *, drum_minimum: float = 70.0, gap: float = _SPREAD_AHEAD) -> Work:
    """Work with one paper size: the drum needs its least, or what covers the paper, whichever is more."""
    return Work(name=name, area=area, need=volume_needed(area, drum_minimum), gap=gap)


@dataclass(frozen=True, slots=True, kw_only=True)
class BathReport:
    """Everything that is known of one bath.

    Attributes
    ----------
    bath : Bath
    kit : KitRecord or None
    kept : Kept
        Ledger and doubts.
    history : tuple of Content
        After mixing and each event, by the most likely wear.
    content : Content
        Now.
    state : BathState
        As the printing memory takes it.
    belief : Belief
        How this bath wears, after its control patches.
    readings : tuple of ControlReading
        What it was learned from.
    trusted : tuple of float
        How far each reading was trusted, about 1 for a good one.
    capacities : tuple of Capacity
        One for each paper size asked for; empty if retired or no developer.
    options : tuple of Option
        Cheapest first; empty if retired or no developer.
    """

    bath: Bath
    kit: KitRecord | None
    kept: Kept
    history: tuple[Content, ...]
    content: Content
    state: BathState
    belief: Belief
    readings: tuple[ControlReading, ...]
    trusted: tuple[float, ...]
    capacities: tuple[Capacity, ...]
    options: tuple[Option, ...]

    @property
    def develops(self) -> bool:
        """It is a developer, whose wear is known; what else a bath does is not reckoned."""
        return is_developer(self.kit)

    @property
    def said(self) -> str:
        """One sentence a printer would say."""
        content = self.content
        loads = f"{content.loads} drum {'load' if content.loads == 1 else 'loads'}"
        if content.retired:
            return f"{self.bath.name} was retired after {loads} and {Figure(content.area):.2f} m²."
        if not self.develops:
            return f"{loads}, {Figure(content.area):.2f} m² of paper so far. How much it takes, its kit's sheet says."
        return sentence(self.capacities)


def is_developer(kit: KitRecord | None) -> bool:
    """Whether a bath mixed from this kit develops; one without a kit is taken for a developer."""
    return use_of(kit) is Use.DEVELOPER


def memory_shift(memory: Memory, bath: str, state: BathState) -> tuple[tuple[float, ...], tuple[float, ...]] | None:
    """What prints alone taught of a bath's effect: shift of log exposure and its error, per layer.

    The memory's prior is taken out again, so that it does not count as evidence. ``None`` if prints say nothing.
    """
    names, layout = memory.columns.names, memory.layout
    if bath not in memory.evidence.baths:
        return None
    process = memory.evidence.baths[bath]
    if process not in names.processes or ("bath", bath) not in names.blocks:
        return None
    start = layout.process[names.processes.index(process)].start
    block = layout.size + 3 * names.blocks.index(("bath", bath))
    direction = np.zeros((3, memory.elimination.shared))
    amounts = (state.area_per_litre, state.age_days, state.strength - 1)
    for layer in range(3):
        for term, amount in enumerate(amounts):
            direction[layer, start + 3 * term + layer] = amount
        direction[layer, block + layer] = 1.0
    prior = spread_covariance(memory.learned.bath)
    if ("pace", bath) in names.blocks:
        pace, share = layout.size + 3 * names.blocks.index(("pace", bath)), aged(state, memory.priors)
        direction[:, pace : pace + 3] = share * np.eye(3)
        prior = prior + share**2 * spread_covariance(memory.learned.pace)
    everything = np.concatenate([memory.state.general, memory.state.blocks.ravel()])
    believed = amounts @ ageing(np.zeros(PROCESS_SIZE), memory.priors)
    shift = believed + direction @ everything
    after = np.square(memory.elimination.half(direction)).sum(axis=0)
    general = direction[:, : layout.size]
    before = np.einsum("kp,pk->k", general, np.linalg.solve(layout.precision, general.T)) + np.diag(prior)
    if np.any(after > 0.8 * before):
        return None
    evidence = 1 / (1 / after - 1 / before)
    told = evidence * (shift / after - believed / before)
    return tuple(told.tolist()), tuple(np.sqrt(evidence).tolist())


def _belief(
    conn: sa.Connection, bath: str, day: float, memory: Memory | None
) -> tuple[Belief, tuple[ControlReading, ...], tuple[float, ...]]:
    """Learned over all baths of the same kit in the order they were mixed, this one last."""
    record = find(conn, Bath, bath)
    mixes = {mix.bath: mix for mix in every(conn, Mix)}
    kit = mixes[bath].kit if bath in mixes else None
    same = [
        one
        for one in every(conn, Bath)
        if (mixes[one.name].kit if one.name in mixes else None) == kit and one.mixed_at < record.mixed_at
    ]
    belief = usual_belief()
    for one in sorted(same, key=lambda other: other.mixed_at):
        seen = control_readings(conn, one.name)
        if seen:
            belief, _ = learn(belief, ledger_of(conn, one.name).ledger, seen)
            belief = for_next_bath(belief)
    kept = ledger_of(conn, bath)
    seen = tuple(reading for reading in control_readings(conn, bath) if reading.day <= day)
    shift = None if memory is None else memory_shift(memory, bath, content_at(kept.ledger, day, strict=False).state())
    if shift is not None:
        seen = (*seen, reading_from_shift(day, *shift))
    learned, weights = learn(belief, kept.ledger, seen)
    return learned, seen, tuple(weights.tolist())


def bath_report(
    db: Database,
    bath: str,
    *,
    at: datetime | None = None,
    sizes: Sequence[tuple[str, float]] = USUAL_SIZES,
    loads: int = 6,
    drum_minimum: float = 70.0,
    strengths: Sequence[float] = (1.0, 1.25),
    harm: Harm | None = None,
    with_memory: bool = True,
) -> BathReport:
    """State, forecast and what to do before the next loads.

    Parameters
    ----------
    at : datetime or None
        ``None``: now, or the last event if that is later.
    sizes : sequence of (name, area [m2])
        Paper sizes to forecast for; the first is the one the options are for.
    loads : int
        Planned before the bath is asked about again.
    drum_minimum : float
        Least solution the drum needs [mL].

    Raises
    ------
    UnknownRecord
        If there is no such bath.
    """
    if not sizes:
        raise ValueOutOfRange("Name at least one paper size to forecast for, as 20x25.")
    memory = current_memory(db) if with_memory and _has_trials(db) else None
    with db.reading() as conn:
        record = find(conn, Bath, bath)
        kit = kit_of(conn, bath)
        kept = _counted(conn, bath, ledger_of(conn, bath))
        moment = (at or datetime.now(UTC)).astimezone(UTC)
        last = kept.ledger.events[-1].day if kept.ledger.events else kept.ledger.day
        day = max(kept.day(moment), last, kept.ledger.day)
        belief, seen, trusted = _belief(conn, bath, day, memory)
        costs = settled(conn, Costs)
    retired = any(isinstance(event, Retired) for event in kept.ledger.events)
    history = tuple(contents(kept.ledger, belief.wear, strict=False))
    works = [work_for(name, area, drum_minimum=drum_minimum) for name, area in sizes]
    life = kit.kit.life_days if kit else None
    capacities: tuple[Capacity, ...] = ()
    choices: tuple[Option, ...] = ()
    if not retired and is_developer(kit):
        choices = options(
            belief,
            kept.ledger,
            day,
            works[0],
            loads,
            _rng(record),
            costs=_costs(costs),
            harm=harm,
            life_days=life,
            strengths=strengths,
        )
        # the first is what is left if nothing is done: one forecast, so that two numbers never stand for the same
        kept_as_it_is = next(one.capacity for one in choices if one.what == "keep")
        others = (
            forecast(belief, kept.ledger, day, work, _rng(record), harm=harm, life_days=life) for work in works[1:]
        )
        capacities = (kept_as_it_is, *others)
    return BathReport(
        bath=record,
        kit=kit,
        kept=kept,
        history=history,
        content=content_at(kept.ledger, day, belief.wear, strict=False),
        state=content_at(kept.ledger, day, strict=False).state(),
        belief=belief,
        readings=seen,
        trusted=trusted,
        capacities=capacities,
        options=choices,
    )


def _counted(conn: sa.Connection, bath: str, kept: Kept) -> Kept:
    """Say it where more was logged as printed in a bath than went through it by its ledger."""
    trials = every(conn, TrialRow, bath=bath)
    of_loads = {trial.run for trial in trials}
    alone = sum(trial.run is None for trial in trials)
    loads = sum(run not in of_loads for run in kept.runs)
    if alone <= loads or every(conn, DeclaredBathState, bath=bath):
        return kept
    missing = (
        f"{alone} {'print or strip was' if alone == 1 else 'prints and strips were'} logged in it without a drum load, "
        f"and its ledger has {loads} {'load' if loads == 1 else 'loads'} beside: enter those that are missing, "
        "else it is taken for fresher than it is"
    )
    return dataclasses.replace(kept, doubts=(*kept.doubts, missing))


def steady_plan(
    db: Database,
    bath: str,
    *,
    size: tuple[str, float] = USUAL_SIZES[0],
    strength: float = 1.0,
) -> tuple[Steady | None, tuple[Steady, ...]]:
    """The least top-up for each load that holds a bath steady, and all that were tried.

    Raises
    ------
    Refused
        If the bath is retired or no developer.
    """
    with db.reading() as conn:
        record = find(conn, Bath, bath)
        kept = ledger_of(conn, bath)
        if not is_developer(kit_of(conn, bath)):
            raise Refused(f'"{bath}" is no developer: how it wears is not reckoned. Go by its kit\'s sheet.')
        if any(isinstance(event, Retired) for event in kept.ledger.events):
            raise Refused(f'"{bath}" is retired; plan the top-up of a bath in use.')
        belief, _, _ = _belief(conn, bath, math.inf, None)
    work = work_for(*size)
    return plan_steady(belief, kept.ledger.volume, work, _rng(record), strength=strength)


def baths_in_use(db: Database) -> list[tuple[Bath, Content, KitRecord | None]]:
    """Every bath that is not retired, newest first, with what is in it by the usual wear."""
    with db.reading() as conn:
        found = []
        for bath in sorted(baths_kept_up(conn), key=lambda one: (one.mixed_at, one.id), reverse=True):
            kept = ledger_of(conn, bath.name)
            last = kept.ledger.events[-1].day if kept.ledger.events else kept.ledger.day
            day = max(kept.day(datetime.now(UTC)), last)
            content = content_at(kept.ledger, day, strict=False)
            if not content.retired:
                found.append((bath, content, kit_of(conn, bath.name)))
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Foreseen:
    """Whether the newest control patch departs from the aim as far as its bath's wear says, or further.

    Attributes
    ----------
    bath : str
    departure, expected, error : (12,) floats
        Read, foreseen from everything before it, and the standard error of the difference, noise included [density].
    """

    bath: str
    departure: tuple[float, ...]
    expected: tuple[float, ...]
    error: tuple[float, ...]

    @property
    def surprises(self) -> tuple[str, ...]:
        """Quantities and channels more than three standard errors from what was foreseen, in words."""
        names = [(quantity, channel) for quantity in QUANTITIES for channel in CHANNELS]
        return tuple(
            f"{quantity}, {channel}: {Figure(read):+.3f} where {Figure(expected):+.3f} ± {Figure(error):.3f} was "
            "foreseen"
            for (quantity, channel), read, expected, error in zip(
                names, self.departure, self.expected, self.error, strict=True
            )
            if abs(read - expected) > 3 * error
        )

    @property
    def said(self) -> str:
        if self.surprises:
            return (
                f"The wear of {self.bath} does not explain it: "
                + "; ".join(self.surprises)
                + ". Look for another cause before the bath is blamed."
            )
        return f"No further from the aim than the wear of {self.bath} says: if it is too far, top up or renew the bath."


def foreseen(db: Database, report: ControlReport) -> Foreseen:
    """Compare the newest control patch with what the wear of its bath foresaw, from everything read before it."""
    last = report.rows[-1]
    with db.reading() as conn:
        kept = ledger_of(conn, last.bath, until=last.at)
        day = max(kept.day(last.at), kept.ledger.day)
        belief, _, _ = _belief(conn, last.bath, math.nextafter(day, -math.inf), None)
    expected, error = expected_departure(belief, kept.ledger, day)
    away = np.asarray(last.wedge.quantities() - report.aim.values).ravel()
    return Foreseen(
        bath=last.bath, departure=tuple(away.tolist()), expected=tuple(expected.tolist()), error=tuple(error.tolist())
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ProcessVerdict:
    """What the newest control patch says of the process.

    Attributes
    ----------
    verdict : Verdict
    findings : tuple of Finding
    advice : str
    foreseen : str
        How it compares with the wear of its bath.
    patches, newest : int
        How many make the series, and the number of the newest.
    exposed_by, limits : str
        Of the series; what the limits come from.
    """

    verdict: Verdict
    findings: tuple[Finding, ...]
    advice: str
    foreseen: str
    patches: int
    newest: int
    exposed_by: str
    limits: str


def process_verdict(db: Database, exposed_by: str | None = None) -> ProcessVerdict:
    """Whether the process is where it was, by the longest series of control patches or one kind of exposure.

    Raises
    ------
    Refused
        If no patch was read yet.
    """
    report = control_report(db, exposed_by)
    if report is None:
        raise Refused("No control patch has been read yet; read a good one first, it becomes the aim.")
    judged = report.judged
    return ProcessVerdict(
        verdict=judged.verdict,
        findings=judged.findings,
        advice=judged.advice,
        foreseen=foreseen(db, report).said,
        patches=len(report.rows),
        newest=report.rows[-1].id,
        exposed_by=report.exposed_by,
        limits=report.limits.source,
    )


def _has_trials(db: Database) -> bool:
    with db.reading() as conn:
        return latest(conn, TrialRow) is not None


def _costs(costs: Costs) -> BathCosts:
    return BathCosts(
        millilitre=costs.millilitre,
        spoiled=costs.sheet + costs.minute * costs.cycle_minutes,
        fresh=costs.minute * MIX_MINUTES,
    )


def _rng(bath: Bath) -> np.random.Generator:
    """The same bath gives the same forecast twice."""
    return np.random.default_rng(bath.id)
