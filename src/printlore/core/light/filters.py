"""Filter packs in CC: the one home of filter arithmetic.

CC is 0.01 log10 of exposure of one layer (100 CC = 1.00). A filter of 10 CC magenta
takes 0.10 log10 of green light away from the paper.
"""

import math
from dataclasses import dataclass
from typing import Self

from printlore.core.figure import Figure
from printlore.core.plain import says_what_fits
from printlore.errors import ValueOutOfRange

LARGEST_FILTER_CC = 400.0
"""No head or set of loose filters goes beyond this in one colour: 400 CC passes 1/10000 of the light."""


@says_what_fits
@dataclass(frozen=True, slots=True, kw_only=True)
class FilterPack:
    """Filters between lamp and negative.

    Attributes
    ----------
    cyan, magenta, yellow : float
        Filter strength [CC]: 100 times the density to the primary that the
        filter absorbs (red, green, blue). Finite, from 0 to 400.

    Raises
    ------
    ValueOutOfRange
        If a strength is below 0, above 400 or not finite.

    References
    ----------
    hunt2004
    """

    cyan: float = 0.0
    magenta: float = 0.0
    yellow: float = 0.0

    def __post_init__(self) -> None:
        for name, strength in self.by_colour().items():
            if not (math.isfinite(strength) and 0 <= strength <= LARGEST_FILTER_CC):
                raise ValueOutOfRange(
                    f"{name} filter is {Figure(strength):g} CC; it must be between 0 and "
                    f"{Figure(LARGEST_FILTER_CC):g}. For the same balance with less than none of one colour, add as "
                    "much to the other two."
                )

    def by_colour(self) -> dict[str, float]:
        """Strengths under their names, in the order cyan, magenta, yellow."""
        return {"cyan": self.cyan, "magenta": self.magenta, "yellow": self.yellow}

    def as_tuple(self) -> tuple[float, float, float]:
        """(cyan, magenta, yellow) [CC]: what the red, green and blue layers lose, for ideal filters."""
        return (self.cyan, self.magenta, self.yellow)

    @property
    def neutral(self) -> float:
        """Neutral density [CC] hidden in the pack: the part that all three colours share."""
        return min(self.as_tuple())

    def without_neutral(self) -> Self:
        """Same colour balance with the fewest filters: the part all three share goes."""
        grey = self.neutral
        return type(self)(cyan=self.cyan - grey, magenta=self.magenta - grey, yellow=self.yellow - grey)

    def moved(self, *, cyan: float = 0.0, magenta: float = 0.0, yellow: float = 0.0) -> tuple[Self, float]:
        """Pack after a move [CC], and the neutral density [CC] by which it was shifted.

        A colour that would go below 0 is lifted to 0 together with the other two; all
        three above 0 are brought down together. The second value is how much neutral the
        new pack holds more than asked for (negative: less), so the exposure time changes by
        ``10 ** (shift / 100)``.
        """
        wanted = (self.cyan + cyan, self.magenta + magenta, self.yellow + yellow)
        shift = -min(wanted)
        pack = type(self)(
            **{name: max(value + shift, 0.0) for name, value in zip(self.by_colour(), wanted, strict=True)}
        )
        return pack, shift

    def __add__(self, other: "FilterPack") -> "FilterPack":
        """Like colours add; nothing else changes."""
        return FilterPack(
            cyan=self.cyan + other.cyan, magenta=self.magenta + other.magenta, yellow=self.yellow + other.yellow
        )

    def __str__(self) -> str:
        letters = zip("CMY", self.as_tuple(), strict=True)
        written = [(f"{Figure(strength):.1f}".rstrip("0").rstrip(".,"), letter) for letter, strength in letters]
        parts = [f"{strength} {letter}" for strength, letter in written if strength != "0"]
        return " ".join(parts) or "no filters"
