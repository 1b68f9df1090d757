"""Three layers of a paper around its aim: density for log exposure, and how it depends on the paper.

For layer k, with h the log exposure [log10] above the one that gives the aim:

    v(h) = h + s (sqrt(h^2 + w^2) - w)            straight, a little faster on one side
    a(h) = A / (1 + exp(-(u0 + k v)))             toe and shoulder
    D    = D_aim + X (a(h) - a(0))                side absorptions of the three dyes

u0 and k follow from the amount a0 at the aim, the range A and the gradient there. a rises with h for
any \\|s| < 1 and has an inverse in closed form. A family of our own choice for its inverse and derivatives.

References
----------
nist-strd : Rat42 is this curve with s = 0.
"""

import math
from dataclasses import dataclass
from typing import Self

import numpy as np
import numpy.typing as npt
from numpy.typing import ArrayLike

from printlore.core.figure import Figure
from printlore.core.paper.facts import PaperFacts
from printlore.errors import ValueOutOfRange

Floats = npt.NDArray[np.float64]

BEND = 0.3
"""w [log10]: over how much exposure toe side and shoulder side blend (ours; ``gradient.generic_curves`` says how near
that comes to a published paper)."""

_EDGE = 0.004


def curve(
    h: Floats, gradient: Floats, span: Floats, asymmetry: Floats, amount: Floats
) -> tuple[Floats, Floats, tuple[Floats, Floats, Floats, Floats]]:
    """Dye amount less that at the aim, its slope, and its derivatives by the four parameters.

    Parameters
    ----------
    h : (...,) log exposure above the aim [log10]
    gradient, span, amount : (...,) density per log10, dye range, dye at the aim [density]; above 0
    asymmetry : (...,) s [1], between -1 and 1

    Returns
    -------
    change, slope : (...,)
    by_parameter : four (...,), by ln gradient, ln range, asymmetry and amount
    """
    root = np.sqrt(h * h + BEND * BEND)
    bend = root - BEND
    v = h + asymmetry * bend
    share = amount / span
    rate = gradient / (amount * (1 - share))
    # A trial step of a fit may ask for less range than the aim needs: it gets not-a-number, and steps back.
    with np.errstate(invalid="ignore", divide="ignore"):
        start = np.log(share / (1 - share))
    dye = span / (1 + np.exp(-np.clip(start + rate * v, -40, 40)))
    lift = dye * (1 - dye / span)
    slope = lift * rate * (1 + asymmetry * h / root)
    by_gradient = lift * rate * v
    by_span = dye + lift * (-1 - rate * v * share) / (1 - share)
    by_asymmetry = lift * rate * bend
    by_amount = lift * (1 - rate * v * (1 - 2 * share)) / (amount * (1 - share)) - 1
    return dye - amount, slope, (by_gradient, by_span, by_asymmetry, by_amount)


def curve_inverse(change: Floats, gradient: Floats, span: Floats, asymmetry: Floats, amount: Floats) -> Floats:
    """Log exposure [log10] above the aim for a dye amount less that at the aim; clipped just inside the range."""
    share = amount / span
    rate = gradient / (amount * (1 - share))
    dye = np.clip((amount + change) / span, _EDGE, 1 - _EDGE)
    # as above: parameters that no paper has give not-a-number
    with np.errstate(invalid="ignore", divide="ignore"):
        v = (np.log(dye / (1 - dye)) - np.log(share / (1 - share))) / rate
    lifted = v + asymmetry * BEND
    square = 1 - asymmetry * asymmetry
    result: Floats = (lifted - asymmetry * np.sqrt(lifted * lifted + square * BEND * BEND)) / square
    return result


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerCurve:
    """Curve of one layer in whole amounts: of dye, or of density above the base; the caller's choice.

    Attributes
    ----------
    aim, maximum : float
        Amount at h = 0, and at full exposure; 0 < aim < maximum.
    gradient : float
        Slope at h = 0 [amount per log10 exposure]; above 0.
    asymmetry : float
        s: toe against shoulder [1]; between -1 and 1, 0 is even.

    Raises
    ------
    ValueOutOfRange
        If a number is outside these ranges.
    """

    aim: float
    maximum: float
    gradient: float
    asymmetry: float = 0.0

    def __post_init__(self) -> None:
        for name in ("aim", "maximum", "gradient"):
            value = getattr(self, name)
            if not 0 < value < math.inf:
                raise ValueOutOfRange(f"The {name} of a layer's curve is {Figure(value):g}; it must be above 0.")
        if not -1 < self.asymmetry < 1:
            raise ValueOutOfRange(
                f"The asymmetry of a layer's curve is {Figure(self.asymmetry):g}; it runs from -1 to 1."
            )
        if self.aim >= self.maximum:
            raise ValueOutOfRange(
                f"A layer's curve cannot pass {Figure(self.aim):g} if it never goes beyond {Figure(self.maximum):g}; "
                "choose a lighter aim or read the blackest patch again."
            )

    def value(self, log_exposure: ArrayLike) -> Floats:
        """Amount (...) at log exposure (...) relative to the aim."""
        h = np.asarray(log_exposure, dtype=float)
        change, _, _ = curve(h, *self._shape)
        return np.asarray(self.aim + change)

    def log_exposure(self, amount: ArrayLike) -> Floats:
        """Log exposure (...) relative to the aim that gives an amount (...); the end of the range if it lies beyond."""
        return curve_inverse(np.asarray(amount, dtype=float) - self.aim, *self._shape)

    @property
    def _shape(self) -> tuple[Floats, Floats, Floats, Floats]:
        gradient, span, asymmetry, amount = np.array((self.gradient, self.maximum, self.asymmetry, self.aim))
        return gradient, span, asymmetry, amount


@dataclass(frozen=True, slots=True)
class LayerCurves:
    """Curves of one paper: parameters in the order that the memory learns them.

    Attributes
    ----------
    aim : (3,) density at h = 0
    theta : (18,) ln gradient, ln range, asymmetry, amount (three each), then side absorptions
        (row by row without the diagonal: density r by m, y; g by c, y; b by c, m)
    """

    aim: Floats
    theta: Floats

    @classmethod
    def from_facts(cls, facts: PaperFacts) -> Self:
        """Curves of the facts."""
        side = np.array(facts.side_absorptions)
        mix = side_matrix(side)
        aim, base, black = (np.array(v) for v in (facts.aim_density, facts.base_density, facts.black_density))
        amount = np.maximum(np.linalg.solve(mix, aim - base), 0.05)
        span = np.maximum(np.linalg.solve(mix, black - base), amount * 1.5)
        gradient = np.array(facts.gradient)
        theta = np.concatenate([np.log(gradient), np.log(span), np.zeros(3), amount, side])
        return cls(aim=aim, theta=theta)

    def log_exposure_at(self, density: Floats) -> tuple[Floats, Floats]:
        """Log exposure (..., 3) at these densities (..., 3), and d density / d log exposure (..., 3, 3)."""
        gradient, span, asymmetry, amount, mix = unpack(self.theta)
        change = (density - self.aim) @ np.linalg.inv(mix).T
        h = curve_inverse(change, gradient, span, asymmetry, amount)
        _, slope, _ = curve(h, gradient, span, asymmetry, amount)
        return h, mix * slope[..., None, :]

    def density_at(self, h: Floats) -> Floats:
        """Density (..., 3) at log exposure (..., 3)."""
        gradient, span, asymmetry, amount, mix = unpack(self.theta)
        change, _, _ = curve(h, gradient, span, asymmetry, amount)
        return self.aim + change @ mix.T


def unpack(theta: Floats) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Gradient, range, asymmetry, amount (3,) and mixing matrix (3, 3) from the parameter vector."""
    return np.exp(theta[0:3]), np.exp(theta[3:6]), np.tanh(theta[6:9]), theta[9:12], side_matrix(theta[12:18])


SIDE_ROW = np.array([0, 0, 1, 1, 2, 2])
SIDE_COLUMN = np.array([1, 2, 0, 2, 0, 1])


def side_matrix(side: Floats) -> Floats:
    """Mixing matrix (3, 3): ones on the diagonal, side absorptions beside it."""
    mix = np.eye(3)
    mix[SIDE_ROW, SIDE_COLUMN] = side
    return mix
