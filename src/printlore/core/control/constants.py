"""Shewhart chart constants for samples of 2 to 25, computed from their definitions."""

import math
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from printlore.errors import ValueOutOfRange


@dataclass(frozen=True, slots=True, kw_only=True)
class ShewhartConstants:
    """Factors for 3-sigma charts of samples of n from a normal process.

    Attributes
    ----------
    d2, d3 : float
        Mean and standard deviation of the range over sigma.
    c4 : float
        Mean of the sample standard deviation over sigma.
    a2, a3 : float
        Limits of the mean from mean range, and from mean standard deviation.
    lower_range, upper_range : float
        D3 and D4: limits of the range from the mean range.
    lower_deviation, upper_deviation : float
        B3 and B4: limits of the standard deviation from its mean.

    References
    ----------
    nist_handbook, astm_e2587
    """

    n: int
    d2: float
    d3: float
    c4: float
    a2: float
    a3: float
    lower_range: float
    upper_range: float
    lower_deviation: float
    upper_deviation: float


@cache
def shewhart_constants(n: int) -> ShewhartConstants:
    """Constants for samples of ``n``.

    Raises
    ------
    ValueOutOfRange
        If n is not 2 to 25.
    """
    if not 2 <= n <= 25:
        raise ValueOutOfRange(f"Samples of {n} have no constants here; use 2 to 25 readings in a sample.")
    # E[W] and E[W^2] of the range W, by its distribution function (Tippett): 1 - P(W <= w).
    nodes = np.linspace(-9.0, 9.0, 1801)
    density = np.exp(-(nodes**2) / 2) / math.sqrt(2 * math.pi)

    def beyond(w: float) -> float:
        inside = ndtr(nodes + w) - ndtr(nodes)
        return 1.0 - n * _simpson(density * inside ** (n - 1), nodes)

    widths = np.linspace(0.0, 14.0, 1401)
    tail = np.array([beyond(float(w)) for w in widths])
    d2 = _simpson(tail, widths)
    second = _simpson(2 * widths * tail, widths)
    d3 = math.sqrt(second - d2**2)
    c4 = math.sqrt(2 / (n - 1)) * math.exp(math.lgamma(n / 2) - math.lgamma((n - 1) / 2))
    spread = 3 * math.sqrt(1 - c4**2) / c4
    return ShewhartConstants(
        n=n,
        d2=d2,
        d3=d3,
        c4=c4,
        a2=3 / (d2 * math.sqrt(n)),
        a3=3 / (c4 * math.sqrt(n)),
        lower_range=max(0.0, 1 - 3 * d3 / d2),
        upper_range=1 + 3 * d3 / d2,
        lower_deviation=max(0.0, 1 - spread),
        upper_deviation=1 + spread,
    )


def _simpson(values: NDArray[np.float64], nodes: NDArray[np.float64]) -> float:
    """Simpson's rule on an odd number of even steps; scipy's own costs half a second of start-up to import."""
    inner = 4 * values[1:-1:2].sum() + 2 * values[2:-1:2].sum()
    return float((nodes[1] - nodes[0]) / 3 * (values[0] + inner + values[-1]))
