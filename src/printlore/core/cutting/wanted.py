"""What is wanted, what there is to cut it from, and what the trimmer can do: the givens of a cut plan.

All measures are in millimetres. *Along* runs with the length of the roll (the way the paper curls), *across* runs
over its width. A piece keeps these names whichever way it is turned, and its emulsion is never turned over.
"""

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from printlore.core.figure import Figure
from printlore.core.plain import says_what_fits
from printlore.errors import ValueOutOfRange

TOLERANCE = 0.05
"""[mm] Sizes closer than this are the same size; no hand trimmer repeats better."""


def _above_zero(what: str, value: float, cure: str) -> None:
    if not (math.isfinite(value) and value > 0):
        raise ValueOutOfRange(f"{what} is {Figure(value):g} mm; it must be above 0. {cure}")


@says_what_fits
@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """One size wanted.

    Attributes
    ----------
    name : str
        Unique among what is wanted.
    along, across : float
        Size with and over the roll's length [mm].
    count : int
        Pieces, 0 or more.
    may_turn : bool
        The curl may run the other way.
    priority : int
        If the paper does not reach, 1 is served before 2.
    strip : bool
        A test strip: any trim of at least this size, lying either way, serves.
    lots : frozenset of str or None
        Only from these paper lots; ``None``: from any.
    """

    name: str
    along: float
    across: float
    count: int
    may_turn: bool = False
    priority: int = 1
    strip: bool = False
    lots: frozenset[str] | None = None

    def __post_init__(self) -> None:
        for side in (self.along, self.across):
            _above_zero(f'A side of "{self.name}"', side, "Enter the size of the sheet.")
        if self.count < 0:
            raise ValueOutOfRange(f'"{self.name}" is wanted {self.count} times; enter 0 or more.')
        if self.priority < 1:
            raise ValueOutOfRange(f'"{self.name}" has priority {self.priority}; the first is 1.')

    @property
    def area(self) -> float:
        """Area of one piece [mm2]."""
        return self.along * self.across

    def served_by(self, along: float, across: float, lot: str, *, trim: bool) -> bool:
        """Whether a piece of this size and lot will do; a trim serves only test strips."""
        if self.lots is not None and lot not in self.lots:
            return False
        if self.strip:
            return fits_inside(self.along, self.across, along, across, may_turn=True)
        if trim:
            return False
        straight = same(along, self.along) and same(across, self.across)
        return straight or (self.may_turn and same(along, self.across) and same(across, self.along))


@dataclass(frozen=True, slots=True, kw_only=True)
class Roll:
    """A roll on hand.

    Attributes
    ----------
    name, lot : str
    width : float
        Across [mm].
    length : float
        That a plan may use [mm]: first and last turns and doubt about the length are already taken off.
    """

    name: str
    lot: str
    width: float
    length: float

    def __post_init__(self) -> None:
        _above_zero(f'Width of roll "{self.name}"', self.width, "Measure across the roll.")
        if not (math.isfinite(self.length) and self.length >= 0):
            raise ValueOutOfRange(
                f'Usable length of roll "{self.name}" is {Figure(self.length):g} mm; it must be 0 or more.'
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheets:
    """Sheets of one size on hand that may be cut smaller."""

    name: str
    lot: str
    along: float
    across: float
    count: int

    def __post_init__(self) -> None:
        for side in (self.along, self.across):
            _above_zero(f'A side of sheets "{self.name}"', side, "Enter the size of the sheet.")
        if self.count < 0:
            raise ValueOutOfRange(f'There are {self.count} sheets of "{self.name}"; enter 0 or more.')

    @property
    def width(self) -> float:
        """Across [mm], as of a roll."""
        return self.across


Source = Roll | Sheets


@says_what_fits
@dataclass(frozen=True, slots=True, kw_only=True)
class Trimmer:
    """What the trimmer and the hands can do.

    Attributes
    ----------
    blade_length : float
        Longest cut [mm].
    longest_stop, shortest_stop : float
        Farthest and nearest the stop can stand from the blade [mm]. The nearest also keeps fingers off the blade.
    kerf : float
        Paper lost in a cut [mm]; 0 for a rolling blade.
    edge : float
        Of each long edge of a roll [mm] that must not be in a sheet. Above 0 the near edge is cut off at a stop
        setting of its own.
    smallest_trim : (float, float)
        Sides [mm] from which a trim is worth keeping as a test strip; smaller is waste.
    """

    blade_length: float
    longest_stop: float = math.inf
    shortest_stop: float = 25.0
    kerf: float = 0.0
    edge: float = 0.0
    smallest_trim: tuple[float, float] = (50.0, 100.0)

    def __post_init__(self) -> None:
        _above_zero("Blade length", self.blade_length, "Measure the longest cut the trimmer makes.")
        if not 0 < self.shortest_stop <= self.longest_stop:
            raise ValueOutOfRange(
                f"The stop reaches from {Figure(self.shortest_stop):g} to {Figure(self.longest_stop):g} mm; the "
                "nearest must be above 0 and not beyond the farthest."
            )
        for name, value in (("kerf", self.kerf), ("edge", self.edge)):
            if not (math.isfinite(value) and value >= 0):
                raise ValueOutOfRange(f"The {name} is {Figure(value):g} mm; it must be 0 or more.")

    def can_stop_at(self, distance: float) -> bool:
        """Whether the stop reaches this distance [mm] from the blade."""
        return self.shortest_stop - TOLERANCE <= distance <= self.longest_stop + TOLERANCE

    def can_cut(self, length: float) -> bool:
        """Whether the blade makes a cut of this length [mm]."""
        return length <= self.blade_length + TOLERANCE

    def pieces_within(self, length: float, piece: float) -> int:
        """How many pieces of a size fit one after the other into a length [mm], with a cut between."""
        return int((length + self.kerf + TOLERANCE) // (piece + self.kerf))

    def worth_keeping(self, along: float, across: float) -> bool:
        """Whether a trim of this size is a test strip rather than waste."""
        return fits_inside(*self.smallest_trim, along, across, may_turn=True)


def same(a: float, b: float) -> bool:
    """Whether two measures [mm] are one size."""
    return abs(a - b) <= TOLERANCE


def fits_inside(along: float, across: float, room_along: float, room_across: float, *, may_turn: bool) -> bool:
    """Whether a piece fits into a room [mm], turned if it may."""
    straight = along <= room_along + TOLERANCE and across <= room_across + TOLERANCE
    return straight or (may_turn and across <= room_along + TOLERANCE and along <= room_across + TOLERANCE)


def check_names(wanted: Sequence[Wanted], sources: Collection[Source]) -> None:
    """Refuse two wanted sizes or two sources of one name, or nothing at all."""
    for what, names in (("wanted sizes", [w.name for w in wanted]), ("rolls or sheets", [s.name for s in sources])):
        if not names:
            raise ValueOutOfRange(f"There are no {what} to plan with; add one.")
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise ValueOutOfRange(f'Two {what} are called "{twice[0]}"; give each its own name.')
