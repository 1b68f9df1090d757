"""A processing sequence of the printer's own, and what is heard while a drum goes through it."""

import math
from collections.abc import Sequence as Many
from dataclasses import dataclass
from enum import StrEnum

from printlore.core.evening.cues import Cue, in_order, spoken_number
from printlore.core.figure import Figure
from printlore.errors import ValueOutOfRange

ANNOUNCED = 10.0
"""[s] Words come this long before a pour, if the step before is long enough."""

COUNT_DOWN = 5
"""[s] Ticks before a pour."""

DRAIN_WARNING = 3.0
"""[s] "Drain soon" this long before the drain."""

LARGE_DRAIN_SHARE = 0.25
"""A developer drain beyond this share makes each second of slip count (worked out from the step's own times)."""


class StepKind(StrEnum):
    """What a step does. The value is its name in files."""

    PREWASH = "prewash"
    DEVELOPER = "developer"
    STOP = "stop"
    RINSE = "rinse"
    BLEACH_FIX = "bleach_fix"
    WASH = "wash"
    FINAL = "final"

    @property
    def words(self) -> str:
        return self.value.replace("_", "-")


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One filling of the drum.

    Attributes
    ----------
    kind : StepKind
        What it does.
    time : float
        From this pour to the next [s], the drain included: the drain belongs to the step.
    drain : float
        How long before the end the drum is tipped [s]; shorter than the time.
    volume : float
        Poured in [mL], above 0.
    temperature : float or None
        Aim at the pour [degrees C]; ``None``: as the room.
    tolerance : float or None
        How far off the aim is no cause to speak [K]; ``None``: the printer's own spread.
    source : str
        Where the figures come from, in words.

    Raises
    ------
    ValueOutOfRange
        If a number cannot be.

    References
    ----------
    ss0514
    """

    kind: StepKind
    time: float
    drain: float = 10.0
    volume: float
    temperature: float | None = None
    tolerance: float | None = None
    source: str = ""

    def __post_init__(self) -> None:
        name = self.kind.words
        if not (math.isfinite(self.time) and 0 < self.time <= 3600):
            raise ValueOutOfRange(f"The {name} lasts {Figure(self.time):g} s; it must be above 0 and at most 3600.")
        if not 0 <= self.drain < self.time:
            raise ValueOutOfRange(
                f"The {name} drains for {Figure(self.drain):g} s of {Figure(self.time):g} s; the drain belongs to the "
                "step, so it must be shorter. Lengthen the step or tip the drum faster."
            )
        if not 0 < self.volume <= 20_000:
            raise ValueOutOfRange(f"The {name} pours {Figure(self.volume):g} mL; it must be above 0 and at most 20000.")
        if self.temperature is not None and not 0 < self.temperature < 70:
            raise ValueOutOfRange(f"The {name} is poured at {Figure(self.temperature):g} degrees C; give 1 to 69.")
        if self.tolerance is not None and not 0 < self.tolerance <= 20:
            raise ValueOutOfRange(
                f"The {name} has a tolerance of {Figure(self.tolerance):g} degrees; give above 0, at most 20."
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Sequence:
    """Steps in order, under a name.

    Raises
    ------
    ValueOutOfRange
        If it has no name or no steps.
    """

    name: str
    steps: tuple[Step, ...]

    def __post_init__(self) -> None:
        if not self.name.strip():
            raise ValueOutOfRange("The sequence has no name; give it one.")
        if not self.steps:
            raise ValueOutOfRange(f'Sequence "{self.name}" has no steps; give at least a developer and a bleach-fix.')

    @property
    def time(self) -> float:
        """All steps [s]."""
        return sum(step.time for step in self.steps)


def starts(steps: Many[Step]) -> tuple[float, ...]:
    """When each step is poured [s from the first], and, last, when the sequence ends."""
    total, found = 0.0, [0.0]
    for step in steps:
        total += step.time
        found.append(total)
    return tuple(found)


def doubts(sequence: Sequence) -> tuple[str, ...]:
    """What a careful colleague would say about a sequence before it is used; in the order of its steps."""
    found = []
    kinds = [step.kind for step in sequence.steps]
    for number, (step, after) in enumerate(zip(sequence.steps, [*kinds[1:], None], strict=True), start=1):
        if step.kind is StepKind.DEVELOPER:
            if after is StepKind.BLEACH_FIX:
                found.append(
                    f"Step {number}: developer goes straight into bleach-fix; a stop or two rinses between them keep "
                    "stain out of the whites and the bleach-fix alive."
                )
            share = step.drain / step.time
            if share > LARGE_DRAIN_SHARE:
                found.append(
                    f"Step {number}: the drain is {share:.0%} of the developer; a slip of 3 s is "
                    f"{Figure(3 / step.time):.1%} of development. A longer, cooler developer would forgive more."
                )
        if step.kind is StepKind.STOP and after is not StepKind.RINSE and after is not StepKind.WASH:
            found.append(f"Step {number}: put a short rinse after the acid stop, before the next bath.")
        if step.kind is StepKind.BLEACH_FIX and after is None:
            found.append(f"Step {number}: no wash after bleach-fix; the print will stain and not keep.")
    if StepKind.DEVELOPER not in kinds:
        found.append("There is no developer.")
    if StepKind.BLEACH_FIX not in kinds:
        found.append("There is no bleach-fix: silver stays in the print.")
    if StepKind.DEVELOPER in kinds and StepKind.PREWASH not in kinds[: kinds.index(StepKind.DEVELOPER)]:
        found.append("No prewash: a cold drum takes several degrees from a small pour of developer; warm it some way.")
    return tuple(found)


def usual_sequence() -> Sequence:
    """A starting point to edit, for a 20 x 25 cm drum; each step says where its figures come from."""
    drained = "drain inside the step from SS0514 (film); volume from memory"
    memory = "time from memory; " + drained
    wash = Step(kind=StepKind.WASH, time=30, drain=5, volume=150, temperature=33, source=memory)
    return Sequence(
        name="Small drum, 35 degrees",
        steps=(
            Step(
                kind=StepKind.PREWASH,
                time=45,
                drain=10,
                volume=150,
                temperature=37.5,
                source="common practice, no source",
            ),
            Step(
                kind=StepKind.DEVELOPER,
                time=45,
                drain=10,
                volume=70,
                temperature=35,
                source="time and temperature from a paper data sheet (E-4070); " + drained,
            ),
            Step(kind=StepKind.STOP, time=30, drain=8, volume=70, temperature=33, source=memory),
            Step(kind=StepKind.RINSE, time=30, drain=8, volume=150, temperature=33, source=memory),
            Step(kind=StepKind.BLEACH_FIX, time=60, drain=10, volume=70, temperature=33, source=memory),
            wash,
            wash,
            wash,
            wash,
        ),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """When one step of a run happens.

    Attributes
    ----------
    step : Step
        What was planned.
    begin, drain, end : float
        Pour, tipping and next pour [s, on the clock of whoever asked].
    held : float
        Seconds it was held beyond the plan; the bath went on working.
    """

    step: Step
    begin: float
    drain: float
    end: float
    held: float = 0.0


def moments(sequence: Sequence, begin: float = 0.0) -> tuple[Moment, ...]:
    """The steps as planned, the first poured at ``begin`` [s]."""
    edges = starts(sequence.steps)
    return tuple(
        Moment(step=step, begin=begin + a, drain=begin + b - step.drain, end=begin + b)
        for step, a, b in zip(sequence.steps, edges[:-1], edges[1:], strict=True)
    )


def process_cues(when: Many[Moment], *, drum: int | None = None) -> tuple[Cue, ...]:
    """Everything heard while a drum goes through its steps, at the times of the moments.

    A pour is announced in words, counted down with ticks and marked by "begin"; tipping is marked by
    "out". The last end is marked by "end".

    Parameters
    ----------
    when : sequence of Moment
        In order.
    drum : int or None
        Spoken before each announcement when several drums are under way.
    """
    called: tuple[str, ...] = ("drum", *spoken_number(drum)) if drum is not None else ()
    cues: list[Cue] = []
    for number, moment in enumerate(when):
        named = (f"step_{moment.step.kind.value}",)
        before = ANNOUNCED if number == 0 else min(ANNOUNCED, when[number - 1].step.time - 1)
        cues.append(Cue(at=moment.begin - before, say=(*called, "next", *named)))
        cues += [Cue(at=moment.begin - n, tone="count") for n in range(COUNT_DOWN, 0, -1)]
        cues.append(Cue(at=moment.begin, tone="begin", say=("pour",)))
        if moment.step.drain:
            if moment.drain - DRAIN_WARNING > moment.begin + 1:
                cues.append(Cue(at=moment.drain - DRAIN_WARNING, say=(*called, "drain_soon")))
            cues.append(Cue(at=moment.drain, tone="out", say=("drain",)))
    if when:
        cues.append(Cue(at=when[-1].end, tone="end", say=(*called, "finished")))
    return in_order(cues)
