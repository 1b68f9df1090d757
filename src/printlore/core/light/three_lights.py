"""Heads that give red, green and blue light apart: what each light is set to for a pack, and the pack of what was set.

The pack of such a head says by how many CC each light is below the strongest (``Setting.pack``; cyan is red light held
back, magenta green, yellow blue). A CC is 0.01 in log10 of light, so a light gives 10 ** (-CC / 100) of the strongest:
of its seconds where the three are given in turn, of its level where they burn together.
"""

import math
from dataclasses import dataclass

from printlore.core.figure import Figure
from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Setting
from printlore.errors import ValueOutOfRange


@dataclass(frozen=True, slots=True, kw_only=True)
class Lights:
    """What the three lights are set to.

    Attributes
    ----------
    red, green, blue : float
        Seconds of each, if they are given in turn; else the level of each [% of full].
    in_turn : bool
    """

    red: float
    green: float
    blue: float
    in_turn: bool

    @property
    def unit(self) -> str:
        """``s`` or ``%``."""
        return "s" if self.in_turn else "%"

    def as_tuple(self) -> tuple[float, float, float]:
        """(red, green, blue)."""
        return self.red, self.green, self.blue


def lights_of(setting: Setting, *, in_turn: bool, step: float = 0.1) -> Lights:
    """The three lights of a setting, to the step of the timer [s] or to a tenth of a percent."""
    strongest, step = (setting.time, step) if in_turn else (100.0, 0.1)
    red, green, blue = (
        round(max(round(strongest * 10 ** (-strength / 100) / step), 1) * step, 6)
        for strength in setting.pack.as_tuple()
    )
    return Lights(red=red, green=green, blue=blue, in_turn=in_turn)


def pack_of(red: float, green: float, blue: float) -> FilterPack:
    """The pack of three lights, in any unit that goes with the light they give.

    Raises
    ------
    ValueOutOfRange
        If one is not above 0, or so weak beside the strongest that no pack says it.
    """
    for name, value in (("red", red), ("green", green), ("blue", blue)):
        if not (math.isfinite(value) and value > 0):
            raise ValueOutOfRange(
                f"The {name} light is {Figure(value):g}; each of the three must be above 0 for a print in colour."
            )
    strongest = max(red, green, blue)
    cyan, magenta, yellow = (round(100 * math.log10(strongest / value), 2) for value in (red, green, blue))
    return FilterPack(cyan=cyan, magenta=magenta, yellow=yellow)
