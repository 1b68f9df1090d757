"""What a bath can still do: sheets until it covers them no more, works no more, or is too old."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from printlore.core.bath.balance import AMOUNTS, trace
from printlore.core.bath.learning import Belief, departures_of, draws, wears_of
from printlore.core.bath.pours import Carry, DrumLoad, Ledger, TopUp
from printlore.core.figure import Figure
from printlore.errors import ValueOutOfRange

Array = NDArray[np.float64]
HORIZON = 80
"""Sheets looked ahead; more is written as "more than"."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Harm:
    """How far a print may depart before it counts as spoiled by the bath [density].

    Attributes
    ----------
    white : float
        Darker whites.
    light : float
        Light step either way, in any channel: 10 % of exposure is about 0.10.
    colour : float
        Between the channels of the light step: 2.5 CC is about 0.06.
    contrast : float
        Dark less light step, either way.
    black : float
        Weaker blacks.

    Notes
    -----
    Ours: light and colour follow from the tolerance of a print that hangs alone, 10 % of exposure and 2.5 CC,
    through the paper's gradient; the others are from memory.
    """

    white: float = 0.04
    light: float = 0.10
    colour: float = 0.06
    contrast: float = 0.10
    black: float = 0.10

    def __post_init__(self) -> None:
        for name in ("white", "light", "colour", "contrast", "black"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0):
                raise ValueOutOfRange(f"The limit for {name} is {Figure(value):g}; give a density above 0.")

    def spoiled(self, departures: Array) -> NDArray[np.bool_]:
        """Whether departures (..., 12, M) go beyond a limit, (..., M)."""
        white, light, contrast, black = np.split(departures, 4, axis=-2)
        return np.asarray(
            (white.max(axis=-2) > self.white)
            | (np.abs(light).max(axis=-2) > self.light)
            | (np.ptp(light, axis=-2) > self.colour)
            | (np.abs(contrast).max(axis=-2) > self.contrast)
            | (black.min(axis=-2) < -self.black)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """What is to be printed, one drum load after another; defaults from memory.

    Attributes
    ----------
    name : str
        "20x25" ...
    area : float
        In one load [m2].
    need : float
        Developer that covers this paper in this drum [mL].
    a_session : int
        Loads in one evening.
    gap : float
        Days between evenings [d].
    open_minutes : float
        Bath open for one load [min].
    top_up, bled, strength : float
        Added and, before it, taken out before each load [mL]; strength of what is added [1].
    """

    name: str
    area: float
    need: float
    a_session: int = 6
    gap: float = 4.0
    open_minutes: float = 3.0
    top_up: float = 0.0
    bled: float = 0.0
    strength: float = 1.0

    def __post_init__(self) -> None:
        for name in ("area", "need"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0):
                raise ValueOutOfRange(f'"{self.name}": {name} is {Figure(value):g}; it must be above 0.')
        if self.a_session < 1 or not self.gap >= 0:
            raise ValueOutOfRange(f'"{self.name}": give at least one load an evening and 0 or more days between.')

    def loads(self, start: float, count: int) -> list[DrumLoad]:
        """Drum loads from a day on; a quarter of an hour apart, evenings by their gap."""
        return [
            DrumLoad(
                day=start + (i // self.a_session) * self.gap + i / 96,
                area=self.area,
                open_minutes=self.open_minutes,
            )
            for i in range(count)
        ]


_WETS_DRUM, _PER_AREA = 20.0, 900.0
"""Developer that ends and wall of a drum take [mL], and each m2 of paper [mL/m2]."""


def volume_needed(area: float, drum_minimum: float = 70.0) -> float:
    """Developer that covers paper in a drum [mL]: the drum's own least, or what the paper needs, whichever is more.

    What paper needs (from memory): 50 to 70 mL for 20x25, 100 to 120 for 28x36, 150 to 200 for 40x50, 250 to 300 for
    50x60. The straight line lies in the upper half of all four.
    """
    if not (area > 0 and drum_minimum >= 0):
        raise ValueOutOfRange(f"Paper of {Figure(area):g} m2 in a drum cannot be; give an area above 0.")
    return max(drum_minimum, _WETS_DRUM + _PER_AREA * area)


@dataclass(frozen=True, slots=True, kw_only=True)
class Count:
    """How many more loads: middle, and a 90 % interval."""

    middle: int
    low: int
    high: int

    @property
    def open_ended(self) -> bool:
        return self.high >= HORIZON

    def __str__(self) -> str:
        if self.high == 0:
            return "no more"
        if self.low >= HORIZON:
            return f"more than {HORIZON} more"
        top = f"more than {HORIZON}" if self.open_ended else f"{self.high}"
        return f"{self.middle} more (90 %: {self.low} to {top})"


def count_of(members: Array) -> Count:
    """Count from one number for each member."""
    low, middle, high = np.quantile(members, [0.05, 0.5, 0.95], method="nearest")
    return Count(middle=int(middle), low=int(low), high=int(high))


@dataclass(frozen=True, slots=True, kw_only=True)
class Capacity:
    """What is left for one kind of work.

    Attributes
    ----------
    work : Work
    volume, strength, age, together : Count
        Loads until each limit, and until the first of them.
    limit : str
        What will most likely end it: "volume", "strength" or "age"; "" if nothing does within the horizon.
    spoiled : (HORIZON,) array
        Probability that the load with this number would be spoiled by the bath.
    members : (M,) array
        Loads until the first limit, one for each possible bath.
    """

    work: Work
    volume: Count
    strength: Count
    age: Count
    together: Count
    limit: str
    spoiled: Array
    members: Array

    def __str__(self) -> str:
        if self.together.high == 0:
            return f"no more {self.work.name} ({self.limit})"
        return str(self.together).replace(" more", f" more {self.work.name}", 1)


DARK_STEEPER = 0.2
"""[1] How much more the dark step moves with exposure than the light step (from memory: 0.1 to 0.4)."""


def as_printed(departures: Array) -> Array:
    """Departures (N, 12, M) of prints whose exposure makes up for what is foreseen of the light step.

    The mean over the members is what is foreseen. More exposure lifts the dark step more than the
    light step, so part of the contrast comes back with it.
    """
    printed = departures.copy()
    foreseen = departures[:, 3:6].mean(axis=2, keepdims=True)
    printed[:, 3:6] -= foreseen
    printed[:, 6:9] -= DARK_STEEPER * foreseen
    return printed


def _first(bad: NDArray[np.bool_]) -> Array:
    """Loads before the first bad one, (M,); the horizon if none is."""
    return np.asarray(np.where(bad.any(axis=0), bad.argmax(axis=0), bad.shape[0]), dtype=float)


def _ahead(ledger: Ledger, day: float, work: Work) -> tuple[Ledger, list[int]]:
    events: list[DrumLoad | TopUp] = []
    rows = []
    for load in work.loads(day, HORIZON):
        if work.top_up or work.bled:
            events.append(TopUp(day=load.day, volume=work.top_up, bled=work.bled, strength=work.strength))
        events.append(load)
        rows.append(len(ledger.events) + len(events))
    return replace(ledger, events=(*ledger.events, *events)), rows


def forecast(
    belief: Belief,
    ledger: Ledger,
    day: float,
    work: Work,
    rng: np.random.Generator,
    *,
    harm: Harm | None = None,
    life_days: float | None = None,
    corrected: bool = True,
    carry: Carry | None = None,
    members: int = 300,
) -> Capacity:
    """How many more loads of one kind a bath will do.

    Parameters
    ----------
    belief : Belief
        After this bath's control patches.
    day : float
        From when; not before the last event [d].
    life_days : float or None
        Closed-bottle days after which the kit's sheet gives it up [d].
    corrected : bool
        The printer takes the exposure that the printing memory advises for the bath's state, so that of
        the light step only what was not foreseen counts.

    Raises
    ------
    Refused
        If the bath is retired or the day lies before its last event.
    """
    harm, carry = harm or Harm(), carry or Carry()
    parameters = draws(belief, rng, members)
    ahead, rows = _ahead(ledger, day, work)
    amounts = trace(ahead, wears_of(parameters), carry)
    after = amounts[rows]
    before = amounts[[row - 1 for row in rows]]
    departures = departures_of(parameters, after)
    if corrected:
        departures = as_printed(departures)
    bad = harm.spoiled(departures)
    empty = before[:, AMOUNTS.index("volume")] < work.need
    volume = np.maximum(after[:, AMOUNTS.index("volume")], 1e-6)
    age = after[:, AMOUNTS.index("age")] / volume
    old = age > (math.inf if life_days is None else life_days)
    by = {"volume": _first(empty), "strength": _first(bad), "age": _first(old)}
    together = np.minimum.reduce(list(by.values()))
    ended = {name: float(np.mean((counts == together) & (counts < HORIZON))) for name, counts in by.items()}
    return Capacity(
        work=work,
        volume=count_of(by["volume"]),
        strength=count_of(by["strength"]),
        age=count_of(by["age"]),
        together=count_of(together),
        limit=max(ended, key=lambda name: ended[name]) if any(ended.values()) else "",
        spoiled=np.asarray((bad | empty | old).mean(axis=1)),
        members=together,
    )


def sentence(capacities: Sequence[Capacity]) -> str:
    """One line a printer would say: "9 more 20x25 (90 %: 6 to 12), no more 30x40"."""
    if not capacities:
        raise ValueOutOfRange("Nothing to print was named; give at least one paper size.")
    return ", ".join(str(capacity) for capacity in capacities) + "."
