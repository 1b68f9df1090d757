"""What is known of a paper before anything has been printed on it."""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from printlore.core.figure import Figure
from printlore.errors import ValueOutOfRange

Vector = tuple[float, float, float]
"""(red, green, blue): the layer sensitive to it, or the density read through it."""
Sides = tuple[float, float, float, float, float, float]
"""Side absorptions: density read in red by magenta and yellow dye, in green by cyan and yellow, in blue by cyan and
magenta, per density that the dye has in its own channel [1]."""
_SIDES_A: Sides = (0.08, 0.02, 0.12, 0.11, 0.05, 0.10)
_SIDES_B: Sides = (0.12, 0.04, 0.16, 0.13, 0.06, 0.17)


def vector(values: npt.NDArray[np.floating]) -> Vector:
    """(3,) numbers of an array as plain ones."""
    return float(values[0]), float(values[1]), float(values[2])


def is_paper_b(dye_model: str) -> bool:
    """Whether this name of a dye model means the second generic paper; all else means the first."""
    return dye_model in ("b", "generic b")


def sides_named(dye_model: str) -> Sides:
    """Side absorptions of a mid grey on the generic paper that a dye model's name means, rounded.

    References
    ----------
    filmscan-paper-a, filmscan-paper-b
    """
    return _SIDES_B if is_paper_b(dye_model) else _SIDES_A


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperFacts:
    """A paper family: what its layers do before anything has been printed on it.

    Attributes
    ----------
    name : str
    aim_density : (3,) floats
        Status A density of the reference patch on a good print: where log exposure is zero.
    base_density, black_density : (3,) floats
        Unexposed and fully exposed paper [1].
    gradient : (3,) floats
        Density per log10 exposure at the aim, layer for layer; usually of a published paper (filmscan-paper-a), rounded
        [1].
    side_absorptions : (6,) floats
        Of its dyes; usually those of the first generic paper.
    """

    name: str
    aim_density: Vector = (0.72, 0.72, 0.72)
    base_density: Vector = (0.10, 0.10, 0.10)
    black_density: Vector = (2.40, 2.35, 2.25)
    gradient: Vector = (2.8, 2.5, 2.9)
    side_absorptions: Sides = _SIDES_A

    def __post_init__(self) -> None:
        if not all(0 <= side < 0.5 for side in self.side_absorptions):
            raise ValueOutOfRange(
                f'Paper "{self.name}": side absorptions {self.side_absorptions} do not all lie from 0 to 0.5.'
            )
        for channel in range(3):
            low, aim, high = self.base_density[channel], self.aim_density[channel], self.black_density[channel]
            if not 0 <= low < aim < high:
                raise ValueOutOfRange(
                    f'Paper "{self.name}": base {Figure(low):g}, aim {Figure(aim):g} and black {Figure(high):g} '
                    "must rise in this order."
                )
            if not 0 < self.gradient[channel] < math.inf:
                raise ValueOutOfRange(
                    f'Paper "{self.name}": a gradient is {Figure(self.gradient[channel]):g}, not above 0.'
                )

    def refuse_beyond_reach(self, aim: Vector) -> None:
        """No exposure makes this paper lighter than it is unexposed, or darker than fully exposed.

        Raises
        ------
        ValueOutOfRange
            If an aim (red, green, blue) does not lie between the two in each channel; names the first that does not.
        """
        for name, low, wanted, high in zip(
            ("red", "green", "blue"), self.base_density, aim, self.black_density, strict=True
        ):
            if not low < wanted < high:
                end = "white" if wanted <= low else "black"
                raise ValueOutOfRange(
                    f'No print on the paper "{self.name}" comes out at {name} {Figure(wanted):g}: unexposed it reads '
                    f"{Figure(low):g}, fully exposed {Figure(high):g}. Paper {end} cannot be an aim, for it does not "
                    "say how long to expose; read a place with some tone on a good print."
                )
