"""Light that a print on a wall receives: lux times hours. No number of years means anything without it."""

import math

from printlore.core.figure import Figure
from printlore.errors import ValueOutOfRange

DAYS = 365.0
"""Of a year [d]."""
MOST_LUX = 100_000.0
"""About full sun [lx]; nothing hangs in more (from memory)."""


def light_dose(lux: float, hours: float) -> float:
    """Light that falls on a print in a year.

    Parameters
    ----------
    lux : float
        Where it hangs, measured at the print [lx], above 0.
    hours : float
        Of that light in a day [h], above 0, up to 24.

    Returns
    -------
    float
        [lx h] a year.

    Raises
    ------
    ValueOutOfRange
        If either cannot be.

    References
    ----------
    print-life
    """
    if not (math.isfinite(lux) and 0 < lux <= MOST_LUX):
        raise ValueOutOfRange(
            f"{Figure(lux):g} lx where a print hangs cannot be; measure at the print, above 0 to 100000."
        )
    if not (math.isfinite(hours) and 0 < hours <= 24):
        raise ValueOutOfRange(f"{Figure(hours):g} hours of light a day cannot be; give above 0 to 24.")
    return lux * hours * DAYS


def years_to(dose: float, a_year: float) -> float:
    """Years until a dose [lx h] is reached at so much light a year [lx h].

    Raises
    ------
    ValueOutOfRange
        If either is not above 0.
    """
    if not (math.isfinite(dose) and math.isfinite(a_year) and dose > 0 and a_year > 0):
        raise ValueOutOfRange(
            f"A dose of {Figure(dose):g} lx h at {Figure(a_year):g} lx h a year cannot be; both must be above 0."
        )
    return dose / a_year
