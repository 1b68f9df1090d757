"""What a layer of the paper receives from one setting: light of all segments added."""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from printlore.core.light.exposure import f_number_log_exposure, magnification_log_exposure, time_log_exposure
from printlore.core.light.head import Head, Segment
from printlore.core.light.setting import Setting
from printlore.errors import ValueOutOfRange

Floats = NDArray[np.float64]

REFERENCE_TIME = 8.0
"""[s] Time against which exposures are counted, and at which reciprocity does nothing."""


def segments_of(setting: Setting, head: Head, part: str | None = None) -> tuple[Segment, ...]:
    """Segments that fall on one part of the picture.

    Parameters
    ----------
    setting : Setting
    head : Head
    part : str or None
        Name of the burn or dodge that covers it; ``None``: the part that gets the base exposure only.

    Raises
    ------
    ValueOutOfRange
        If no burn or dodge has that name, or dodges leave nothing.
    """
    extra = [burn for burn in setting.burns if burn.name == part]
    if part is not None and not extra:
        known = ", ".join(sorted({burn.name for burn in setting.burns})) or "none"
        raise ValueOutOfRange(f'This setting has no burn or dodge named "{part}"; it has: {known}.')
    base = setting.time + sum(burn.time for burn in extra if burn.time < 0)
    if base <= 0:
        raise ValueOutOfRange(f'Dodges of "{part}" take all of the {setting.time:g} s; nothing is left.')
    segments = list(head.segments(setting.pack, base))
    for burn in extra:
        if burn.time > 0:
            segments.extend(head.segments(burn.pack or setting.pack, burn.time))
    return tuple(segments)


def layer_log_exposure(
    setting: Setting,
    head: Head,
    *,
    part: str | None = None,
    reciprocity: Sequence[float] = (1.0, 1.0, 1.0),
    rise: float = 0.0,
    reference_time: float = REFERENCE_TIME,
    reference_f_number: float = 8.0,
    reference_magnification: float = 8.0,
    pupil_factor: float = 1.0,
) -> Floats:
    """Log exposure (3,) of the red, green and blue layer, against the open head at the references, without negative.

    Light adds, not time: each segment's exposure is reckoned with its own reciprocity and lamp rise, then summed.

    Parameters
    ----------
    setting : Setting
    head : Head
    part : str or None
        See :func:`segments_of`.
    reciprocity : 3 floats
        Exponent of each layer [1]; 1 is none.
    rise : float
        Effective delay of the lamp at every switching on [s].
    reference_time : float
        [s]; also the time at which reciprocity does nothing.
    reference_f_number, reference_magnification, pupil_factor : float
        See :mod:`printlore.core.light.exposure`.

    Raises
    ------
    ValueOutOfRange
        If a time is not longer than the rise, or a number is out of range.

    References
    ----------
    hunt2004
    """
    common = f_number_log_exposure(setting.f_number, reference_f_number) + magnification_log_exposure(
        setting.magnification, reference_magnification, pupil_factor=pupil_factor
    )
    total = np.full(3, -math.inf)
    for segment in segments_of(setting, head, part):
        moves = [time_log_exposure(segment.time, reference_time, reciprocity=rho, rise=rise) for rho in reciprocity]
        with np.errstate(divide="ignore"):
            total = np.logaddexp(total, math.log(10.0) * (np.array(segment.log_light) + moves))
    return np.asarray(total / math.log(10.0) + common)


def rounded_time(time: float, step: float) -> float:
    """Nearest time on the timer's step [s], at least one step; a step of 0 leaves it.

    Raises
    ------
    ValueOutOfRange
        If the time is not above 0 or the step is below 0.
    """
    if not (math.isfinite(time) and time > 0):
        raise ValueOutOfRange(f"Exposure time is {time:g} s; it must be above 0. Enter the seconds the lamp was on.")
    if not (math.isfinite(step) and step >= 0):
        raise ValueOutOfRange(f"The timer's step is {step:g} s; give 0 or more, for example 0.1.")
    return time if step == 0 else max(1, round(time / step)) * step
