"""Whether a pour is at the printer's own usual temperature.

A cold drum cannot be held to a few tenths of a degree; what repeats a print is pouring as one always does.
"""

import statistics
from collections.abc import Sequence as Many
from dataclasses import dataclass

from printlore.core.evening.process import Step
from printlore.core.figure import Figure
from printlore.errors import ValueOutOfRange

ENOUGH = 3
"""Pours before they count as a habit."""

SMALLEST_SPREAD = 0.5
"""[K] A habit is not known better than a hand-held thermometer reads (from memory)."""

MAD_TO_SIGMA = 1.4826
"""Median absolute deviation to standard deviation of a normal spread."""

FAR = 2.0
"""Standard deviations at which the tool speaks."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PourCheck:
    """How a pour compares.

    Attributes
    ----------
    difference : float or None
        Poured less usual [K]; ``None``: nothing to compare with.
    usual : float or None
        [degrees C]
    spread : float or None
        One standard deviation of the habit, or the step's tolerance [K].
    warn : bool
        Whether to speak.
    words : str
        For the page.
    """

    difference: float | None
    usual: float | None
    spread: float | None
    warn: bool
    words: str


def check_pour(step: Step, temperature: float, past: Many[float]) -> PourCheck:
    """Compare a pour with the printer's earlier pours of the same step, or with the aim if there are few.

    Parameters
    ----------
    step : Step
        What is poured.
    temperature : float
        Measured at the pour [degrees C], 1 to 69.
    past : sequence of float
        Earlier pours of this step [degrees C].

    Raises
    ------
    ValueOutOfRange
        If the temperature cannot be.
    """
    name = step.kind.words
    if not 0 < temperature < 70:
        raise ValueOutOfRange(f"The {name} was poured at {Figure(temperature):g} degrees C; give 1 to 69, as read.")
    if len(past) >= ENOUGH:
        usual = statistics.median(past)
        spread = max(SMALLEST_SPREAD, MAD_TO_SIGMA * statistics.median(abs(value - usual) for value in past))
        against = f"your usual {Figure(usual):.1f} ({len(past)} pours, give or take {Figure(spread):.1f})"
        limit = FAR * spread
    elif step.temperature is not None:
        usual, spread = step.temperature, step.tolerance or SMALLEST_SPREAD
        against = f"the aim of {Figure(usual):.1f}; there are too few pours to know your usual"
        limit = step.tolerance or FAR * spread
    else:
        return PourCheck(
            difference=None,
            usual=None,
            spread=None,
            warn=False,
            words=f"The {name} was poured at {Figure(temperature):.1f} degrees; there is nothing yet to "
            "compare it with.",
        )
    difference = temperature - usual
    warn = abs(difference) > limit + 1e-9
    side = "above" if difference > 0 else "below"
    if warn:
        words = (
            f"The {name} is at {Figure(temperature):.1f}: {Figure(abs(difference)):.1f} degrees {side} {against}. "
            "Bring it closer before pouring, or pour and expect a different print."
        )
    else:
        words = f"The {name} at {Figure(temperature):.1f} degrees agrees with {against}."
    return PourCheck(difference=difference, usual=usual, spread=spread, warn=warn, words=words)
