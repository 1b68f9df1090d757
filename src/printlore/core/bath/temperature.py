"""Warmth of a bath: mixing water, cooling in a drum, the start that gives the right mean, time for today's warmth.

Temperatures are degrees C throughout.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from printlore.core.estimate import Estimate
from printlore.core.figure import Figure
from printlore.core.flags import Flag
from printlore.errors import Refused, ValueOutOfRange

Array = NDArray[np.float64]

WATER_HEAT = 4.18
"""[J/(mL K)] Heat capacity of water, near 35 degrees C (from memory), and of working solutions alike."""
WALL_HEAT = 1.5
"""[J/(g K)] Heat capacity of the usual drum plastics; from memory, 1.3 to 1.7."""
COLDEST = 5.0
"""[degrees C] Nobody pours colder (from memory)."""
HOTTEST = 50.0
"""[degrees C] Nor hotter (from memory)."""
TRIAL_SPREAD = 0.05
"""Share of its time within which a trial that came out right is right (from memory)."""
TEN_DEGREES = (2.0, 2.5)
"""How many times as fast a developer works 10 degrees C warmer (from memory)."""


def hot_volume(total: float, aim: float, cold: float, hot: float) -> float:
    """How much hot water in a total of hot and cold gives the aim [mL].

    Raises
    ------
    ValueOutOfRange
        If the aim does not lie between cold and hot.
    """
    if not total > 0:
        raise ValueOutOfRange(f"A total of {Figure(total):g} mL cannot be mixed; give more than 0.")
    if hot <= cold or not cold <= aim <= hot:
        raise ValueOutOfRange(
            f"Water of {Figure(cold):g} and {Figure(hot):g} degrees cannot give {Figure(aim):g}; the aim must lie "
            "between them. Use hotter or colder water."
        )
    return total * (aim - cold) / (hot - cold)


WALL_SHARES = (0.15, 0.30, 1.0)
"""Of a drum's wall that warm with a small pour: from the first to the second, and at most all of it (from memory)."""


def poured(volume: float, temperature: float, wall_mass: float, wall_temperature: float, share: float = 1.0) -> float:
    """Where a pour settles in a drum before the room matters [degrees C].

    Parameters
    ----------
    volume : float
        Poured [mL].
    wall_mass : float
        Of the drum's plastic [g].
    share : float
        Of the wall that warms with the solution, 0 to 1.
    """
    if not (volume > 0 and wall_mass >= 0 and 0 <= share <= 1):
        raise ValueOutOfRange(
            f"{Figure(volume):g} mL in a drum of {Figure(wall_mass):g} g of which {Figure(share):g} warms cannot be; "
            "volume above 0, mass 0 or more, share 0 to 1."
        )
    return _settled(volume, temperature, wall_mass * WALL_HEAT * share, wall_temperature)


def _settled(volume: float, start: float, wall_heat: float, wall: float) -> float:
    """Common temperature of a pour of ``volume`` mL and what warms with it, ``wall_heat`` J/K."""
    bath = volume * WATER_HEAT
    return (bath * start + wall_heat * wall) / (bath + wall_heat)


@dataclass(frozen=True, slots=True, kw_only=True)
class DrumCooling:
    """How a pour cools in one drum: it and its wall approach a common temperature.

    Attributes
    ----------
    wall_heat : float
        Heat capacity of what warms with the pour [J/K].
    rate : float
        Of the approach [1/s].
    wall_heat_error, rate_error : float
        Standard errors.
    flags : tuple of Flag
    """

    wall_heat: float
    rate: float
    wall_heat_error: float = 0.0
    rate_error: float = 0.0
    flags: tuple[Flag, ...] = ()

    def __post_init__(self) -> None:
        if not (math.isfinite(self.wall_heat) and self.wall_heat >= 0 and math.isfinite(self.rate) and self.rate > 0):
            raise ValueOutOfRange(
                f"A drum with {Figure(self.wall_heat):g} J/K and a rate of {Figure(self.rate):g} 1/s cannot be; "
                "measure a pour again."
            )

    def settles(self, volume: float, start: float, wall: float) -> float:
        """Common temperature of pour and wall in the end [degrees C]."""
        return _settled(volume, start, self.wall_heat, wall)

    def at(self, time: float, volume: float, start: float, wall: float) -> float:
        """Temperature of the pour after a time [s]."""
        end = self.settles(volume, start, wall)
        return end + (start - end) * math.exp(-self.rate * time)

    def mean(self, duration: float, volume: float, start: float, wall: float) -> float:
        """Mean temperature of the pour over a step [degrees C]."""
        end, kt = self.settles(volume, start, wall), self.rate * duration
        return end + (start - end) * -math.expm1(-kt) / kt

    def start_for_mean(self, aim: float, duration: float, volume: float, wall: float) -> float:
        """Temperature to pour at for the right mean over the step [degrees C].

        Raises
        ------
        Refused
            If that would be hotter than ``HOTTEST``: prewarm the drum instead; or colder than ``COLDEST``: let it cool.
        """
        if not (duration > 0 and volume > 0):
            raise ValueOutOfRange(
                f"A step of {Figure(duration):g} s with {Figure(volume):g} mL cannot be; give both above 0."
            )
        # The mean lies on a straight line between start and wall: so much of the start counts in it.
        share = self.mean(duration, volume, 1.0, 0.0)
        start = wall + (aim - wall) / share
        if start > HOTTEST:
            raise Refused(
                f"To average {Figure(aim):g} degrees C the pour would have to start above {Figure(HOTTEST):g}. "
                "Prewarm the drum, or pour more."
            )
        if start < COLDEST:
            raise Refused(
                f"To average {Figure(aim):g} degrees C the pour would have to start below {Figure(COLDEST):g}. Let "
                "the drum cool first."
            )
        return start


def fit_drum_cooling(times: Sequence[float], temperatures: Sequence[float], volume: float, wall: float) -> DrumCooling:
    """Drum from the user's own curve: a thermometer in one pour.

    Parameters
    ----------
    times : sequence of float
        Since the pour [s], the first reading at 0 or soon after; at least four, in order.
    temperatures : sequence of float
        [degrees C]
    volume : float
        Poured [mL].
    wall : float
        Temperature of the drum before [degrees C].

    Raises
    ------
    ValueOutOfRange
        If there are too few readings, they are out of order, or do not cool toward the wall.
    """
    t, y = np.asarray(times, dtype=float), np.asarray(temperatures, dtype=float)
    if len(t) != len(y) or len(t) < 4:
        raise ValueOutOfRange(f"A cooling curve needs four readings at least, time and degrees; there are {len(t)}.")
    if not (np.all(np.isfinite(t)) and np.all(np.isfinite(y)) and np.all(np.diff(t) > 0) and t[0] >= 0):
        raise ValueOutOfRange("The times of a cooling curve must be numbers that grow from 0; enter them in order.")
    if abs(y[-1] - wall) >= abs(y[0] - wall):
        raise ValueOutOfRange(
            f"The pour goes from {Figure(y[0]):g} to {Figure(y[-1]):g} degrees C, not toward the wall at "
            f"{Figure(wall):g}. Check which number is the drum's."
        )
    bath = volume * WATER_HEAT

    def model(p: Array) -> Array:
        start, heat, rate = float(p[0]), math.exp(p[1]), math.exp(p[2])
        end = _settled(volume, start, heat, wall)
        return np.asarray(end + (start - end) * np.exp(-rate * t))

    guess = np.array([y[0], math.log(0.2 * bath), math.log(2.0 / max(t[-1], 1.0))])
    from scipy.optimize import least_squares  # here: it costs a third of a second of every start

    fit = least_squares(lambda p: model(p) - y, guess)
    noise = float(np.sum(fit.fun**2)) / max(len(t) - 3, 1)
    covariance = np.linalg.pinv(fit.jac.T @ fit.jac) * max(noise, 0.05**2)
    heat, rate = math.exp(fit.x[1]), math.exp(fit.x[2])
    loose = math.sqrt(max(covariance[1, 1], 0.0)) > 0.5
    return DrumCooling(
        wall_heat=heat,
        rate=rate,
        wall_heat_error=heat * math.sqrt(max(covariance[1, 1], 0.0)),
        rate_error=rate * math.sqrt(max(covariance[2, 2], 0.0)),
        flags=(Flag.EXTRAPOLATED,) if loose else (),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnTime:
    """One of the printer's trials that came out right: developer at this temperature [degrees C] for this time [s]."""

    temperature: float
    time: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.temperature) and COLDEST <= self.temperature <= 60 and 0 < self.time <= 3600):
            raise ValueOutOfRange(
                f"{Figure(self.time):g} s at {Figure(self.temperature):g} degrees C cannot be; give 5 to 60 degrees "
                "and up to an hour."
            )


def time_for(temperature: float, trials: Sequence[OwnTime]) -> Estimate:
    """Developer time for today's temperature from the printer's own trials [s].

    A straight line through ln time over temperature; each trial is right within ``TRIAL_SPREAD``; trials at one
    temperature stand for others by a tenth a degree of doubt (from memory).

    Raises
    ------
    Refused
        If the trials do not reach today's temperature (1 degree beyond them is the most), or are all
        at one: no time is promised from a rule of thumb. ``first_trial`` says what to try.
    """
    if not trials:
        raise Refused(
            "No time for another temperature is known here: none of your own trials is logged. "
            "Make one (see what to try first), judge it against a control patch, and log it."
        )
    t = np.array([trial.temperature for trial in trials])
    y = np.log([trial.time for trial in trials])
    if not t.min() - 1 <= temperature <= t.max() + 1:
        raise Refused(
            f"Your trials go from {Figure(t.min()):g} to {Figure(t.max()):g} degrees C; {Figure(temperature):g} lies "
            "outside. No time is promised from a temperature rule alone: make a trial there and log it."
        )
    if np.ptp(t) < 0.5:
        value = float(np.exp(y.mean()))
        error = value * math.hypot(TRIAL_SPREAD / math.sqrt(len(y)), 0.1 * abs(temperature - float(t.mean())))
        return Estimate(value=value, standard_error=error, flags=(Flag.LAYER_BALANCE,))
    design = np.stack([np.ones_like(t), t - t.mean()], axis=1)
    coefficients, *_ = np.linalg.lstsq(design, y, rcond=None)
    residual = y - design @ coefficients
    variance = max(float(residual @ residual) / max(len(t) - 2, 1), TRIAL_SPREAD**2)
    at = np.array([1.0, temperature - t.mean()])
    error = math.sqrt(variance * float(at @ np.linalg.inv(design.T @ design) @ at))
    value = math.exp(float(at @ coefficients))
    return Estimate(value=value, standard_error=value * error, flags=(Flag.LAYER_BALANCE,))


def first_trial(temperature: float, known: OwnTime) -> tuple[float, float]:
    """Shortest and longest time worth a first trial [s], if rate alone mattered: not a promise."""
    times = sorted(known.time * q ** ((known.temperature - temperature) / 10) for q in TEN_DEGREES)
    return times[0], times[1]
