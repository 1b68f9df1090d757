"""What paper can measure: a size that was given in another unit is told, not taken."""

import math
from collections.abc import Mapping

from printlore.core.figure import Figure
from printlore.errors import ValueOutOfRange

LEAST_SIDE, WIDEST = 40.0, 1850.0
"""[mm] Sides of what is printed on; the widest rolls are 72 inches (from memory)."""
LONG = 100.0
"""[mm] What is as long as that may be narrower: a test strip (from memory)."""
NARROWEST, LARGEST = 8.0, 510.0
"""[mm] Short side of the picture on film, from subminiature to 20x24 inches (from memory)."""

_ROLL = {
    "width": (LEAST_SIDE, WIDEST),
    "core": (10.0, 400.0),
    "length on the label": (1e3, 1e6),
    "diameter over the paper": (20.0, 1500.0),
    "paper thickness": (0.05, 1.0),
}
"""[mm] From a length of leftover on a thin tube to the largest roll of a laboratory (from memory)."""


def refuse_no_sheet(across: float, along: float) -> None:
    """Raises ValueOutOfRange for a size [mm] of no sheet, with what it is in the unit that was probably meant."""
    strip = min(across, along) < LEAST_SIDE and max(across, along) >= LONG
    if not strip:
        _refuse_other_unit("size", "a sheet: the short side of paper", across, along, LEAST_SIDE, WIDEST)


def refuse_no_negative(one: float, other: float) -> None:
    """Raises ValueOutOfRange for a size [mm] of no negative, as ``refuse_no_sheet`` does."""
    _refuse_other_unit("negative", "a picture on film: its short side", one, other, NARROWEST, LARGEST)


def _refuse_other_unit(what: str, of: str, one: float, other: float, least: float, most: float) -> None:
    short = min(one, other)
    if not (short > 0 and math.isfinite(one) and math.isfinite(other)) or least <= short <= most:
        return  # what is no size at all is for the value itself to say
    meant, times = ("cm", 10) if short < least else ("mm", 0.1)
    raise ValueOutOfRange(
        f"The {what} {Figure(one):g} x {Figure(other):g} mm cannot be that of {of} has {Figure(least):g} to "
        f"{Figure(most):g} mm. If {meant} were meant, give {Figure(one * times):g} x {Figure(other * times):g} mm."
    )


def refuse_no_roll(measured: Mapping[str, float | None]) -> None:
    """Raises ValueOutOfRange for a measure (named as in ``_ROLL``) [mm] that no roll has."""
    for what, value in measured.items():
        least, most = _ROLL[what]
        if value is not None and value > 0 and math.isfinite(value) and not least <= value <= most:
            raise ValueOutOfRange(
                f"The {what} of {Figure(value):g} mm cannot be that of a roll; it lies between {Figure(least):g} and "
                f"{Figure(most):g} mm. Look at the unit: 1 inch is {Figure(25.4)} mm, 1 m is 1000 mm."
            )
