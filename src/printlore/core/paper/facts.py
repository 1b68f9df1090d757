"""What is known of a paper before anything has been printed on it."""

import math
from dataclasses import dataclass

from printlore.errors import ValueOutOfRange

Vector = tuple[float, float, float]
"""(red, green, blue): the layer sensitive to it, or the density read through it."""


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
        Density per log10 exposure at the aim, layer for layer [1].
    """

    name: str
    aim_density: Vector = (0.72, 0.72, 0.72)
    base_density: Vector = (0.10, 0.10, 0.10)
    black_density: Vector = (2.40, 2.35, 2.25)
    gradient: Vector = (2.6, 2.7, 2.7)

    def __post_init__(self) -> None:
        for channel in range(3):
            low, aim, high = self.base_density[channel], self.aim_density[channel], self.black_density[channel]
            if not 0 <= low < aim < high:
                raise ValueOutOfRange(
                    f'Paper "{self.name}": base {low:g}, aim {aim:g} and black {high:g} must rise in this order.'
                )
            if not 0 < self.gradient[channel] < math.inf:
                raise ValueOutOfRange(f'Paper "{self.name}": a gradient is {self.gradient[channel]:g}, not above 0.')
