"""What happens to a bath: drum loads, top-ups, bleeds, looks at the bottle; and the ledger that lists them."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from printlore.core.figure import Figure
from printlore.errors import ValueOutOfRange

Array = NDArray[np.float64]

SHEET_20X25 = 0.0516
"""[m2] One sheet of 20.3 x 25.4 cm; only a unit to speak in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Carry:
    """What a drum load carries in and out where it was not weighed (from memory; weigh the drum to know).

    Out is more than in: what is spilt, or stays in drum and lid. Fifty loads so take 200 mL off a half-litre.

    Attributes
    ----------
    in_drum, out_drum : float
        Film of liquid on drum and lid [mL].
    in_area, out_area : float
        Held by the paper [mL/m2].
    """

    in_drum: float = 1.0
    in_area: float = 60.0
    out_drum: float = 5.0
    out_area: float = 60.0

    def water_in(self, area: float) -> float:
        return self.in_drum + self.in_area * area

    def solution_out(self, area: float) -> float:
        return self.out_drum + self.out_area * area


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """Something that happened to a bath.

    Attributes
    ----------
    day : float
        When, in days since any fixed moment [d].
    """

    word: ClassVar[str] = "an event"

    day: float


def said(event: Event) -> str:
    """The event in words, as the head of a sentence; days count from where the ledger's do."""
    words = f"{event.word} on day {Figure(round(event.day, 1)):g}"
    return words[0].upper() + words[1:]


def _not_negative(event: Event, *names: str) -> None:
    for name in names:
        value = getattr(event, name)
        if value is not None and not (math.isfinite(value) and value >= 0):
            what = name.replace("_", " ")
            raise ValueOutOfRange(f"{said(event)}: {what} is {Figure(value):g}; it must be 0 or more.")


@dataclass(frozen=True, slots=True, kw_only=True)
class DrumLoad(Event):
    """Paper through the bath.

    Attributes
    ----------
    area : float
        Of the paper [m2].
    water_in, solution_out : float or None
        Prewash carried in, solution carried out [mL]; ``None``: the usual figures are taken.
    open_minutes : float
        How long the bath stood open [min].
    """

    word: ClassVar[str] = "a drum load"

    area: float
    water_in: float | None = None
    solution_out: float | None = None
    open_minutes: float = 0.0

    def __post_init__(self) -> None:
        _not_negative(self, "area", "water_in", "solution_out", "open_minutes")


@dataclass(frozen=True, slots=True, kw_only=True)
class TopUp(Event):
    """Solution added, after some of the old was taken out.

    Attributes
    ----------
    volume, bled : float
        In and, before that, out [mL].
    strength : float
        Of what is added, relative to a fresh bath [1]; replenisher may be above 1.
    """

    word: ClassVar[str] = "a top-up"

    volume: float
    bled: float = 0.0
    strength: float = 1.0

    def __post_init__(self) -> None:
        _not_negative(self, "volume", "bled", "strength")


@dataclass(frozen=True, slots=True, kw_only=True)
class Bled(Event):
    """Solution taken out and not put back [mL]."""

    word: ClassVar[str] = "a bleed"

    volume: float

    def __post_init__(self) -> None:
        _not_negative(self, "volume")


@dataclass(frozen=True, slots=True, kw_only=True)
class Gauged(Event):
    """The volume was read off the bottle [mL].

    What is missing went out unseen, with its share of everything; what is too much is water.
    """

    word: ClassVar[str] = "a reading of the bottle"

    volume: float

    def __post_init__(self) -> None:
        _not_negative(self, "volume")


@dataclass(frozen=True, slots=True, kw_only=True)
class Retired(Event):
    """The bath was given up: nothing can follow."""

    word: ClassVar[str] = "a retirement"


@dataclass(frozen=True, slots=True, kw_only=True)
class Looked(Event):
    """Nothing was done: a moment at which the bath is asked for."""

    word: ClassVar[str] = "a look"


@dataclass(frozen=True, slots=True, kw_only=True)
class Bottle:
    """Where a bath is kept.

    Attributes
    ----------
    capacity : float
        [mL]
    no_air : bool
        Collapsed, topped with marbles or protective gas: the share of air counts as none.
    """

    capacity: float = 500.0
    no_air: bool = False

    def __post_init__(self) -> None:
        if not (math.isfinite(self.capacity) and self.capacity > 0):
            raise ValueOutOfRange(f"A bottle of {Figure(self.capacity):g} mL cannot be; give what it holds in mL.")

    def air(self, volume: Array | float) -> Array | float:
        """Share of air over a volume [1]."""
        return 0.0 if self.no_air else np.clip(1.0 - volume / self.capacity, 0.0, 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ledger:
    """A bath from mixing to now.

    Attributes
    ----------
    day : float
        When it was mixed [d].
    volume : float
        Mixed [mL]; it goes into the bottle.
    events : tuple of Event
        In order of time.
    bottle : Bottle
    strength : float
        As mixed, relative to what the kit's sheet says [1].
    area_per_litre, age_days : float
        By-products [m2/L] and age [d] that it starts with; above 0 only where a state was stated by hand.
    """

    day: float
    volume: float
    events: tuple[Event, ...] = ()
    bottle: Bottle = field(default_factory=Bottle)
    strength: float = 1.0
    area_per_litre: float = 0.0
    age_days: float = 0.0

    def __post_init__(self) -> None:
        if not (math.isfinite(self.volume) and self.volume > 0):
            raise ValueOutOfRange(f"A bath of {Figure(self.volume):g} mL cannot be; give what was mixed in mL.")
        if self.volume > self.bottle.capacity:
            raise ValueOutOfRange(
                f"{Figure(self.volume):g} mL do not go into a bottle of {Figure(self.bottle.capacity):g} mL. Mix "
                "less, or choose a larger bottle."
            )
        if not (math.isfinite(self.strength) and self.strength > 0):
            raise ValueOutOfRange(f"A strength of {Figure(self.strength):g} cannot be; 1 is as the kit's sheet says.")


def weighed(events: Iterable[Event]) -> tuple[int, int]:
    """How many drum loads have both carry-in and carry-out measured, and how many there are."""
    loads = [event for event in events if isinstance(event, DrumLoad)]
    return sum(load.water_in is not None and load.solution_out is not None for load in loads), len(loads)


def order_events(events: Sequence[Event]) -> tuple[Event, ...]:
    """Events by day; those of one day keep their order."""
    return tuple(sorted(events, key=lambda event: event.day))
