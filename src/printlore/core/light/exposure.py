"""Time, f-number and magnification: how much light reaches the paper.

All changes are log10 of exposure, so they add. One stop is log10(2).
"""

import math

from printlore.errors import ValueOutOfRange

LOG10_PER_STOP = math.log10(2.0)


def _above_zero(name: str, value: float, unit: str, cure: str) -> float:
    if not (math.isfinite(value) and value > 0):
        raise ValueOutOfRange(f"{name} is {value:g}{unit}; it must be above 0. {cure}")
    return value


def time_log_exposure(time: float, reference: float, *, reciprocity: float = 1.0, rise: float = 0.0) -> float:
    """Change of log exposure [log10] from one exposure time to another.

    Parameters
    ----------
    time, reference : float
        Exposure times [s], above 0 and above ``rise``.
    reciprocity : float
        Exponent per layer [1]; 1 is no reciprocity failure.
    rise : float
        Effective delay of the lamp per pulse [s].
    """
    _above_zero("Exposure time", time, " s", "Enter the seconds the lamp was on.")
    if not time > rise:
        raise ValueOutOfRange(
            f"Exposure time is {time:g} s, not longer than the {rise:g} s the lamp takes to rise; expose longer."
        )
    _above_zero("Reference time", reference, " s", "Enter the seconds the lamp was on.")
    return reciprocity * math.log10((time - rise) / reference)


def f_number_log_exposure(f_number: float, reference: float) -> float:
    """Change of log exposure [log10] from one f-number to another: -2 log10(N/N0)."""
    _above_zero("f-number", f_number, "", "Read it off the lens ring, for example 8.")
    _above_zero("Reference f-number", reference, "", "Read it off the lens ring, for example 8.")
    return -2.0 * math.log10(f_number / reference)


def magnification_log_exposure(magnification: float, reference: float, *, pupil_factor: float = 1.0) -> float:
    """Change of log exposure [log10] from one print magnification to another.

    Parameters
    ----------
    magnification, reference : float
        Print length over negative length [1], above 0.
    pupil_factor : float
        Exit over entrance pupil of the lens as used [1]; 1 for a symmetric lens. The
        illuminance goes as 1 / (1 + m / pupil_factor) squared.

    References
    ----------
    hunt2004
    """
    _above_zero("Magnification", magnification, "", "Divide print length by negative length.")
    _above_zero("Reference magnification", reference, "", "Divide print length by negative length.")
    _above_zero("Pupil factor", pupil_factor, "", "Use 1 if the lens sheet gives none.")
    return -2.0 * math.log10((1 + magnification / pupil_factor) / (1 + reference / pupil_factor))


def stops(log_exposure: float) -> float:
    """Stops for a change of log exposure [log10]."""
    return log_exposure / LOG10_PER_STOP


def time_factor(log_exposure: float) -> float:
    """Factor on the exposure time that gives this change of log exposure [log10], without reciprocity failure."""
    return float(10.0**log_exposure)
