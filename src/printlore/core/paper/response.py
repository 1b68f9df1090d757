"""Layer response: how much dye a layer forms, against log exposure, with its toe and its shoulder.

One curve (Richards' generalised logistic) in the printer's own terms. With h the log10 exposure above the
one that gives the aim:

    a(h) = maximum * u ** (1 / shape),   logit(u) = logit((aim / maximum) ** shape) + k * h

and k such that the slope at h = 0 is ``gradient``. So h = 0 gives the aim exactly, and the inverse is exact.
The toe falls off as 10 ** (k h / (2.3 shape)), the shoulder as 10 ** (-k h / 2.3): ``shape`` above 1 is a soft toe
and a hard shoulder, below 1 the other way round. What the curve gives, dye amount or density above the base,
is the caller's choice.

References
----------
nist-strd : Rat43 is this curve.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from printlore.core.colour.tables import Floats
from printlore.errors import ValueOutOfRange

PARAMETERS = ("aim", "maximum", "gradient", "shape")
"""Last axis of every parameter array: amount at h = 0, amount at full exposure, slope at h = 0, toe and shoulder."""

_LEAST_SHARE = 1e-12


@dataclass(frozen=True, slots=True)
class _Pieces:
    aim: Floats
    maximum: Floats
    gradient: Floats
    shape: Floats
    log_u0: Floats
    rest0: Floats
    rate: Floats


def _pieces(parameters: ArrayLike) -> _Pieces:
    array = np.asarray(parameters, dtype=float)
    aim, maximum, gradient, shape = np.moveaxis(array, -1, 0)
    if not (np.isfinite(array).all() and (array > 0).all() and (aim < maximum).all()):
        raise ValueOutOfRange(
            "A response curve needs aim, maximum, gradient and shape above 0 and an aim below the maximum; "
            f"one of {array.reshape(-1, 4)[:3].tolist()} is not so."
        )
    log_u0 = shape * np.log(aim / maximum)
    rest0 = -np.expm1(log_u0)
    return _Pieces(aim, maximum, gradient, shape, log_u0, rest0, gradient * shape / (aim * rest0))


def response(log_exposure: ArrayLike, parameters: ArrayLike) -> Floats:
    """Amount (...) at log exposure (...) relative to the aim [log10], for parameters (..., 4); see PARAMETERS."""
    p = _pieces(parameters)
    z = p.log_u0 - np.log(p.rest0) + p.rate * np.asarray(log_exposure, dtype=float)
    return np.asarray(p.maximum * np.exp(-np.logaddexp(0.0, -z) / p.shape))


def response_with_slopes(log_exposure: ArrayLike, parameters: ArrayLike) -> tuple[Floats, Floats, Floats]:
    """Amount (...), its slope (...) by log exposure, and its slopes (..., 4) by the parameters.

    Arguments as for :func:`response`.
    """
    p = _pieces(parameters)
    h = np.asarray(log_exposure, dtype=float)
    z = p.log_u0 - np.log(p.rest0) + p.rate * h
    log_u = -np.logaddexp(0.0, -z)
    amount = p.maximum * np.exp(log_u / p.shape)
    by_z = amount * -np.expm1(log_u) / p.shape
    u0 = np.exp(p.log_u0)
    kh = p.rate * h
    # How z moves: through where the aim sits on the curve, and through the rate that keeps the gradient.
    z_by_aim = (p.shape / p.rest0 + kh * (p.shape * u0 / p.rest0 - 1.0)) / p.aim
    z_by_maximum = -(p.shape / p.rest0) * (1.0 + kh * u0) / p.maximum
    z_by_shape = p.log_u0 / p.shape * (1.0 + kh * u0) / p.rest0 + kh / p.shape
    by_parameters = np.stack(
        np.broadcast_arrays(
            by_z * z_by_aim,
            amount / p.maximum + by_z * z_by_maximum,
            by_z * kh / p.gradient,
            by_z * z_by_shape - amount * log_u / p.shape**2,
        ),
        axis=-1,
    )
    return np.asarray(amount), np.asarray(by_z * p.rate), by_parameters


def log_exposure_for(amount: ArrayLike, parameters: ArrayLike) -> Floats:
    """Log exposure (...) relative to the aim that gives an amount (...); exact inverse of :func:`response`.

    An amount at or below 0, or at or beyond the maximum, has no exposure: the answer is -inf or inf.
    """
    p = _pieces(parameters)
    share = np.clip(np.asarray(amount, dtype=float) / p.maximum, 0.0, 1.0)
    with np.errstate(divide="ignore"):
        log_u = p.shape * np.log(share)
        logit = log_u - np.log(-np.expm1(log_u))
    return np.asarray((logit - p.log_u0 + np.log(p.rest0)) / p.rate)


@dataclass(frozen=True, slots=True, kw_only=True)
class ResponseCurve:
    """Response of one layer.

    Attributes
    ----------
    aim : float
        Amount at h = 0; above 0.
    maximum : float
        Amount at full exposure; above the aim.
    gradient : float
        Slope at h = 0 [amount per log10 exposure]; above 0.
    shape : float
        Toe against shoulder [1]; above 0, 1 is even.

    Raises
    ------
    ValueOutOfRange
        If a number is outside these ranges.
    """

    aim: float
    maximum: float
    gradient: float
    shape: float = 1.0

    def __post_init__(self) -> None:
        for name, value in zip(PARAMETERS, self.parameters, strict=True):
            if not (math.isfinite(value) and value > 0):
                raise ValueOutOfRange(f"The {name} of a response curve is {value:g}; it must be above 0.")
        if self.aim >= self.maximum * (1 - _LEAST_SHARE):
            raise ValueOutOfRange(
                f"A response curve cannot pass {self.aim:g} if it never goes beyond {self.maximum:g}; choose a "
                "lighter aim or read the blackest patch again."
            )

    @property
    def parameters(self) -> tuple[float, float, float, float]:
        """In the order of PARAMETERS."""
        return (self.aim, self.maximum, self.gradient, self.shape)

    def value(self, log_exposure: ArrayLike) -> Floats:
        """Amount (...) at log exposure (...) relative to the aim."""
        return response(log_exposure, self.parameters)

    def log_exposure(self, amount: ArrayLike) -> Floats:
        """Log exposure (...) relative to the aim that gives an amount (...)."""
        return log_exposure_for(amount, self.parameters)
