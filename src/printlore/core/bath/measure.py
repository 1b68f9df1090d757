"""Measuring cylinders and syringes: how wrong a poured volume can be, and which one to use."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from printlore.core.figure import Figure
from printlore.errors import ValueOutOfRange


class Vessel(StrEnum):
    """What volumes are measured with."""

    CYLINDER_A = "cylinder class A"
    CYLINDER_B = "cylinder class B"
    SYRINGE = "syringe"
    JUG = "jug"


_CYLINDERS = {  # capacity: (division, class A tolerance, class B tolerance) [mL]
    10: (0.2, 0.1, 0.2),
    25: (0.5, 0.25, 0.5),
    50: (1.0, 0.5, 1.0),
    100: (1.0, 0.5, 1.0),
    250: (2.0, 1.0, 2.0),
    500: (5.0, 2.5, 5.0),
    1000: (10.0, 5.0, 10.0),
    2000: (20.0, 10.0, 20.0),
}
CYLINDER_SOURCE = "ISO 4788:2005, graduated measuring cylinders; figures from memory, the standard was not read"
SYRINGE_SOURCE = "ISO 7886-1, syringes: tolerance on graduated capacity; figures from memory, the standard was not read"
JUG_SOURCE = "common practice, no source: a kitchen or laboratory jug is taken as good to 5 %"


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """One measuring vessel of the printer's.

    Attributes
    ----------
    vessel : Vessel
    capacity : float
        Largest volume it measures [mL]. Cylinders: 10, 25, 50, 100, 250, 500, 1000 or 2000.
    """

    vessel: Vessel
    capacity: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.capacity) and self.capacity > 0):
            raise ValueOutOfRange(
                f"A {self.vessel} of {Figure(self.capacity):g} mL cannot be; give its largest mark in mL."
            )
        if self.vessel in (Vessel.CYLINDER_A, Vessel.CYLINDER_B) and self.capacity not in _CYLINDERS:
            raise ValueOutOfRange(
                f"No tolerance is known for a {Figure(self.capacity):g} mL {self.vessel}; standard ones hold "
                f"{', '.join(str(c) for c in _CYLINDERS)} mL. Enter it as a jug."
            )

    @property
    def division(self) -> float:
        """Between neighbouring marks [mL]."""
        if self.vessel in (Vessel.CYLINDER_A, Vessel.CYLINDER_B):
            return _CYLINDERS[int(self.capacity)][0]
        return self.capacity / (50 if self.vessel is Vessel.SYRINGE else 20)

    @property
    def source(self) -> str:
        return {Vessel.SYRINGE: SYRINGE_SOURCE, Vessel.JUG: JUG_SOURCE}.get(self.vessel, CYLINDER_SOURCE)

    def tolerance(self, volume: float) -> float:
        """Largest error of its marks at a volume within its capacity [mL].

        References
        ----------
        iso4788, iso7886
        """
        if self.vessel is Vessel.CYLINDER_A:
            return _CYLINDERS[int(self.capacity)][1]
        if self.vessel is Vessel.CYLINDER_B:
            return _CYLINDERS[int(self.capacity)][2]
        if self.vessel is Vessel.JUG:
            return 0.05 * self.capacity
        small = self.capacity < 5
        if volume >= self.capacity / 2:
            return (0.05 if small else 0.04) * volume
        return 0.015 * self.capacity + (0.02 if small else 0.01) * volume

    def standard_error(self, volume: float) -> float:
        """Standard error of a volume measured in as many equal fills as it takes [mL].

        Tolerance and half a division are each taken as the half-width of a rectangular
        distribution. The tolerance is the same in every fill and adds up; reading does not.

        References
        ----------
        jcgm100
        """
        fills = self.fills(volume)
        marks = fills * self.tolerance(volume / fills) / math.sqrt(3)
        reading = math.sqrt(fills) * self.division / 2 / math.sqrt(3)
        return math.hypot(marks, reading)

    def fills(self, volume: float) -> int:
        """How often it must be filled for a volume [mL] above 0."""
        if not (math.isfinite(volume) and volume > 0):
            raise ValueOutOfRange(f"A volume of {Figure(volume):g} mL cannot be measured; it must be above 0.")
        return max(1, math.ceil(volume / self.capacity - 1e-9))

    def __str__(self) -> str:
        return f"{Figure(self.capacity):g} mL {self.vessel}"


USUAL_MEASURES: tuple[Measure, ...] = (
    Measure(vessel=Vessel.SYRINGE, capacity=10),
    Measure(vessel=Vessel.SYRINGE, capacity=60),
    Measure(vessel=Vessel.CYLINDER_B, capacity=100),
    Measure(vessel=Vessel.CYLINDER_B, capacity=500),
    Measure(vessel=Vessel.CYLINDER_B, capacity=1000),
)
"""What many darkrooms have (common practice, no source)."""


MOST_FILLS = 12


def best_measure(volume: float, measures: Sequence[Measure] = USUAL_MEASURES) -> Measure:
    """The vessel that measures a volume [mL] most exactly in at most three fills; if none does, in the fewest.

    Raises
    ------
    ValueOutOfRange
        If there is no vessel, or the volume takes more than twelve fills of the largest.
    """
    few = [measure for measure in measures if measure.fills(volume) <= 3]
    if few:
        return min(few, key=lambda measure: (measure.standard_error(volume), measure.fills(volume), measure.capacity))
    fewest = min(measures, key=lambda measure: measure.fills(volume), default=None)
    if fewest is None or fewest.fills(volume) > MOST_FILLS:
        have = ", ".join(str(measure) for measure in measures) or "none"
        raise ValueOutOfRange(
            f"No vessel measures {Figure(volume):g} mL in twelve fills (there is: {have}). Add a larger one."
        )
    return fewest
