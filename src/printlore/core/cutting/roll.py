"""How much paper a roll still holds: from its diameter, its turns or its weight, each with its error.

Lengths are in millimetres. The paper is taken as evenly and tightly wound; a loose roll measures longer than it is.
"""

import math
from collections.abc import Sequence

from printlore.core.estimate import Estimate
from printlore.core.figure import Figure
from printlore.core.flags import Flag
from printlore.errors import ValueOutOfRange

SAFE_QUANTILE = 1.645
"""Plans may rely on the length that is there with 95 % probability: value - 1.645 standard errors."""
DIAMETER_ERROR = 1.0
"""[mm] One standard deviation of a diameter as measured (from memory, as all below)."""
TURNS_ERROR = 0.5
"""Of turns as counted."""
WEIGHT_ERROR = 5.0
"""[g] Of a weight."""
THICKNESS_SHARE = 0.02
"""Of a paper's thickness, as a share of it."""
GRAMMAGE_SHARE = 0.03
"""Of a paper's weight, as a share of it."""
_ASSUMED = (Flag.NO_ERROR_KNOWN,)


def _above_zero(name: str, value: float, cure: str) -> None:
    if not (math.isfinite(value) and value > 0):
        raise ValueOutOfRange(f"{name} is {Figure(value):g}; it must be above 0. {cure}")


def length_from_diameter(outer_diameter: float, core_diameter: float, thickness: float) -> Estimate:
    """Length of paper on a roll [mm] from what a tape measure and a micrometer say, with the errors assumed above.

    The face of the roll is a ring; unrolled it is a strip of the same area, so
    ``length = pi (D^2 - d^2) / (4 thickness)``. The exact spiral differs by
    ``thickness / (4 pi) * ln(D / d)``: a few hundredths of a millimetre.

    Parameters
    ----------
    outer_diameter, core_diameter : float
        Over the paper, and of the core outside [mm].
    thickness : float
        Of one sheet as wound [mm].

    Raises
    ------
    ValueOutOfRange
        If a measure is not above 0, or the core is not smaller than the roll.

    References
    ----------
    rollcalc
    """
    _above_zero("Paper thickness", thickness, "Measure ten sheets together and divide by ten.")
    _above_zero("Core diameter", core_diameter, "Measure the core from outside edge to outside edge.")
    if not (math.isfinite(outer_diameter) and outer_diameter >= core_diameter):
        raise ValueOutOfRange(
            f"The roll measures {Figure(outer_diameter):g} mm across and its core {Figure(core_diameter):g} mm; the "
            "core must be the smaller. Measure both again, outside to outside."
        )
    length = math.pi * (outer_diameter**2 - core_diameter**2) / (4 * thickness)
    error = math.hypot(
        math.pi * outer_diameter / (2 * thickness) * DIAMETER_ERROR,
        math.pi * core_diameter / (2 * thickness) * DIAMETER_ERROR,
        length * THICKNESS_SHARE,
    )
    return Estimate(value=length, standard_error=error, flags=_ASSUMED)


def length_from_turns(turns: float, core_diameter: float, thickness: float) -> Estimate:
    """Length of paper on a roll [mm] from the number of turns on its core: ``pi n (d + n thickness)``.

    The middle of turn i lies (i - 1/2) thicknesses above the core, so it is ``pi (d + (2 i - 1) thickness)`` long.
    """
    _above_zero("Paper thickness", thickness, "Measure ten sheets together and divide by ten.")
    _above_zero("Core diameter", core_diameter, "Measure the core from outside edge to outside edge.")
    if not (math.isfinite(turns) and turns >= 0):
        raise ValueOutOfRange(f"A roll of {Figure(turns):g} turns cannot be; count the turns on the core, 0 or more.")
    error = math.hypot(
        math.pi * (core_diameter + 2 * turns * thickness) * TURNS_ERROR,
        math.pi * turns * DIAMETER_ERROR,
        math.pi * turns**2 * thickness * THICKNESS_SHARE,
    )
    return Estimate(value=math.pi * turns * (core_diameter + turns * thickness), standard_error=error, flags=_ASSUMED)


def length_from_weight(weight: float, core_weight: float, width: float, grammage: float) -> Estimate:
    """Length of paper on a roll [mm] from its weight [g], the empty core's [g], width [mm] and paper weight [g/m2]."""
    _above_zero("Paper width", width, "Measure across the roll.")
    _above_zero("Paper weight", grammage, "Weigh a sheet and divide by its area in square metres.")
    if not (math.isfinite(weight) and math.isfinite(core_weight) and 0 <= core_weight <= weight):
        raise ValueOutOfRange(
            f"The roll weighs {Figure(weight):g} g and its core {Figure(core_weight):g} g; the core must be the "
            "lighter. Weigh an empty core of the same kind."
        )
    length = (weight - core_weight) / (grammage * width) * 1e6
    error = math.hypot(math.sqrt(2) * WEIGHT_ERROR / (grammage * width) * 1e6, length * GRAMMAGE_SHARE)
    return Estimate(value=length, standard_error=error, flags=_ASSUMED)


def combined_length(estimates: Sequence[Estimate]) -> Estimate:
    """One length [mm] from several, weighted by their errors; flagged if they disagree by more than errors explain.

    Raises
    ------
    ValueOutOfRange
        If there is none, or one has no error or an error of 0.
    """
    if not estimates:
        raise ValueOutOfRange("No length to combine; measure the roll's diameter, turns or weight.")
    errors = []
    for estimate in estimates:
        if not estimate.standard_error:
            raise ValueOutOfRange(
                f"The length of {Figure(estimate.value):g} mm has no error above 0, so it cannot be weighed against "
                "another. Say how well it was measured."
            )
        errors.append(estimate.standard_error)
    weights = [error**-2 for error in errors]
    total = sum(weights)
    value = sum(w * e.value for w, e in zip(weights, estimates, strict=True)) / total
    error = total**-0.5
    flags = list(dict.fromkeys(flag for estimate in estimates for flag in estimate.flags))
    # With errors right, chi-squared is near its degrees of freedom; beyond that the error is widened (Birge ratio).
    chi_squared = sum(w * (e.value - value) ** 2 for w, e in zip(weights, estimates, strict=True))
    freedom = len(estimates) - 1
    if freedom and chi_squared > 4 * freedom:
        error *= math.sqrt(chi_squared / freedom)
        flags.append(Flag.MEASURES_DISAGREE)
    return Estimate(value=value, standard_error=error, flags=tuple(flags))


def usable_length(length: Estimate, *, first_turns: float, last_turns: float) -> float:
    """Length [mm] a plan may rely on: the estimate's safe end, less what is thrown away outside and at the core."""
    safe = length.value - SAFE_QUANTILE * (length.standard_error or 0.0)
    return max(0.0, safe - first_turns - last_turns)


def turns_length(turns: float, diameter: float) -> float:
    """Length [mm] of a few turns at a diameter [mm], for the allowances outside and at the core."""
    return turns * math.pi * diameter
