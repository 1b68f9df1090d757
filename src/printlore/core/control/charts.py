"""Control charts: single readings, weighted means, cumulative sums, means and ranges of samples."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from printlore.core.control.constants import shewhart_constants
from printlore.errors import ValueOutOfRange

Array = NDArray[np.float64]


def _finite(values: Sequence[float] | Array, least: int) -> Array:
    array = np.asarray(values, dtype=float)
    if array.ndim != 1 or len(array) < least:
        raise ValueOutOfRange(f"A chart needs at least {least} readings in a row; there are {array.size}.")
    bad = np.flatnonzero(~np.isfinite(array))
    if len(bad):
        raise ValueOutOfRange(f"Reading {bad[0] + 1} of the chart is {array[bad[0]]}; read it again or leave it out.")
    return array


def _sigma(sigma: float) -> float:
    if not (math.isfinite(sigma) and sigma > 0):
        raise ValueOutOfRange(f"A chart with sigma {sigma:g} cannot be; give a standard deviation above 0.")
    return sigma


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """Values drawn, with a centre line and limits.

    Attributes
    ----------
    values : (N,) array
        What is drawn.
    centre, lower, upper : float
        Lines, in the unit of the readings.
    sigma : float
        Standard deviation of a single reading that the limits rest on.
    """

    values: Array
    centre: float
    lower: float
    upper: float
    sigma: float

    @property
    def outside(self) -> NDArray[np.bool_]:
        """Which values lie beyond a limit, (N,)."""
        return (self.values > self.upper) | (self.values < self.lower)


def individuals(readings: Sequence[float]) -> tuple[Chart, Array]:
    """Chart of single readings with limits from their mean moving range of two.

    Returns
    -------
    chart : Chart
        Limits are the mean +- 3 mean moving ranges / d2, d2 = 1.128.
    moving_ranges : (N - 1,) array

    References
    ----------
    nist_handbook section 6.3.2.2
    """
    values = _finite(readings, 2)
    ranges = np.abs(np.diff(values))
    sigma = float(ranges.mean()) / shewhart_constants(2).d2
    centre = float(values.mean())
    chart = Chart(values=values, centre=centre, lower=centre - 3 * sigma, upper=centre + 3 * sigma, sigma=sigma)
    return chart, ranges


def ewma(readings: Sequence[float], *, aim: float, sigma: float, weight: float = 0.3, width: float = 3.0) -> Chart:
    """Exponentially weighted moving average from an aim.

    Parameters
    ----------
    weight : float
        Of the newest reading, above 0 and at most 1 (lambda).
    width : float
        Limits in standard deviations of the settled average.

    References
    ----------
    nist_handbook section 6.3.2.4, lucas_saccucci1990
    """
    values = _finite(readings, 1)
    if not 0 < weight <= 1:
        raise ValueOutOfRange(f"The weight of the newest reading is {weight:g}; it must be above 0 and at most 1.")
    level, levels = aim, []
    for value in values:
        level = weight * float(value) + (1 - weight) * level
        levels.append(level)
    half = width * _sigma(sigma) * math.sqrt(weight / (2 - weight))
    return Chart(values=np.array(levels), centre=aim, lower=aim - half, upper=aim + half, sigma=sigma)


@dataclass(frozen=True, slots=True, kw_only=True)
class CusumChart:
    """Sums of what lies beyond a slack, upward and downward, (N,) each; a signal is a sum above ``limit``."""

    high: Array
    low: Array
    total: Array
    limit: float

    @property
    def signal_high(self) -> NDArray[np.bool_]:
        return self.high > self.limit

    @property
    def signal_low(self) -> NDArray[np.bool_]:
        return self.low > self.limit


def cusum(readings: Sequence[float], *, aim: float, slack: float, limit: float) -> CusumChart:
    """Tabular cumulative sum; slack k and limit h in the unit of the readings.

    References
    ----------
    nist_handbook section 6.3.2.3, page1954
    """
    values = _finite(readings, 1)
    if not (slack >= 0 and limit > 0):
        raise ValueOutOfRange(
            f"A cumulative sum with slack {slack:g} and limit {limit:g} cannot be; use 0.5 and 4 sigma."
        )
    high, low = np.zeros(len(values)), np.zeros(len(values))
    up = down = 0.0
    for i, value in enumerate(values):
        up = max(0.0, up + float(value) - aim - slack)
        down = max(0.0, down + aim - slack - float(value))
        high[i], low[i] = up, down
    return CusumChart(high=high, low=low, total=np.cumsum(values - aim), limit=limit)


def mean_and_range(samples: Array) -> tuple[Chart, Chart]:
    """Charts of sample means and of sample ranges, with limits from the mean range.

    Parameters
    ----------
    samples : (N, n) array
        N samples of n readings, n from 2 to 25.

    References
    ----------
    montgomery, nist_handbook section 6.3.2.1
    """
    samples = np.asarray(samples, dtype=float)
    if samples.ndim != 2 or len(samples) < 2:
        raise ValueOutOfRange("A chart of means needs at least two samples of equally many readings.")
    constants = shewhart_constants(samples.shape[1])
    means, ranges = _finite(samples.mean(axis=1), 2), np.ptp(samples, axis=1)
    centre, spread = float(means.mean()), float(ranges.mean())
    sigma = spread / constants.d2
    half = constants.a2 * spread
    return (
        Chart(values=means, centre=centre, lower=centre - half, upper=centre + half, sigma=sigma),
        Chart(
            values=ranges,
            centre=spread,
            lower=constants.lower_range * spread,
            upper=constants.upper_range * spread,
            sigma=sigma,
        ),
    )
