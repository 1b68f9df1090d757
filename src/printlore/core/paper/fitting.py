"""Fit a curve to steps: the general fitter, and the response of a layer from a step series."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from printlore.core.colour.tables import Floats
from printlore.core.estimate import Estimate
from printlore.core.flags import Flag
from printlore.core.paper.layers import LayerCurve, curve
from printlore.errors import ValueOutOfRange

CurveFamily = Callable[[Floats, Floats], tuple[Floats, Floats]]
"""From x (n,) and parameters (p,) to values (n,) and their slopes (n, p) by the parameters."""

OUTLIER_ERRORS = 4.0
"""A step this many standard errors off the fitted curve is named."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CurveFit:
    """Least-squares fit of a curve.

    Attributes
    ----------
    parameters : (p,)
    covariance : (p, p)
        Of the parameters.
    residuals : (n,)
        Data less curve, in the unit of the data.
    residual_sd : float or None
        Spread about the curve with the degrees of freedom left, the usual figures counted as data; ``None``: none left.
    """

    parameters: Floats
    covariance: Floats
    residuals: Floats
    residual_sd: float | None

    @property
    def standard_errors(self) -> Floats:
        """Standard error (p,) of each parameter."""
        return np.asarray(np.sqrt(np.diag(self.covariance)))


def fit_curve(
    family: CurveFamily,
    x: ArrayLike,
    y: ArrayLike,
    start: ArrayLike,
    *,
    standard_error: float | None = None,
    usual: ArrayLike | None = None,
    usual_error: ArrayLike | None = None,
) -> CurveFit:
    """Least squares with Levenberg's damping.

    Parameters
    ----------
    family : CurveFamily
    x, y : (n,)
    start : (p,)
        Where the search begins.
    standard_error : float or None
        Of each y, where known; scatter beyond it still widens the answer. ``None``: judged from the scatter alone.
    usual, usual_error : (p,) or None
        Figures the parameters usually have and their spread, entered as one observation each; an infinite spread
        leaves that parameter to the data.

    Raises
    ------
    ValueOutOfRange
        If shapes do not agree, a number is not finite, the data are too few, or the search does not settle.

    References
    ----------
    nist-strd
    """
    x, y, start = (np.asarray(values, dtype=float) for values in (x, y, start))
    if x.shape != y.shape or x.ndim != 1 or not (np.isfinite(x).all() and np.isfinite(y).all()):
        raise ValueOutOfRange(f"A fit needs as many readings as steps, all numbers; got {x.shape} and {y.shape}.")
    scale = 1.0 if standard_error is None else standard_error
    weight = np.zeros(start.size)
    centre = start
    if usual is not None and usual_error is not None:
        centre, weight = np.asarray(usual, dtype=float), scale / np.asarray(usual_error, dtype=float)
    known = np.flatnonzero(weight)
    count = x.size + known.size
    left = count - start.size
    if left < 0 or (left == 0 and standard_error is None):
        raise ValueOutOfRange(
            f"{x.size} steps cannot settle {start.size} unknowns of a curve; read more steps, or give usual figures."
        )

    def misfit(parameters: Floats) -> Floats:
        values = family(x, parameters)[0]
        return np.concatenate([values - y, (weight * (parameters - centre))[known]])

    def slopes(parameters: Floats) -> Floats:
        return np.vstack([family(x, parameters)[1], np.diag(weight)[known]])

    tight = 4 * np.finfo(float).eps
    from scipy.optimize import least_squares  # here: it costs a third of a second of every start

    found = least_squares(misfit, start, jac=slopes, method="lm", xtol=tight, ftol=tight, gtol=tight, max_nfev=4000)
    if found.status <= 0 or not np.isfinite(found.x).all():
        raise ValueOutOfRange("The curve does not settle on these steps; check them for a slip, or start nearer.")
    spread = float(np.sqrt(np.sum(found.fun**2) / left)) if left else None
    noise = spread if standard_error is None else max(standard_error, spread or 0.0)
    _, singular, right = np.linalg.svd(slopes(found.x), full_matrices=False)
    if singular[-1] <= singular[0] * 1e-13:
        raise ValueOutOfRange(
            "These steps leave an unknown of the curve open; spread the steps, or give usual figures."
        )
    half = right.T / singular
    assert noise is not None
    return CurveFit(
        parameters=found.x,
        covariance=noise**2 * half @ half.T,
        residuals=-found.fun[: x.size],
        residual_sd=spread,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class UsualResponse:
    """What a layer's curve is like before any step was read: value and spread of each (from memory).

    Attributes
    ----------
    minimum, minimum_error : float
        Density of unexposed paper [1].
    range, gradient, asymmetry : float
        Density from white to black, slope at the aim, toe against shoulder.
    range_error, gradient_error : float
        Spread of their natural logarithms.
    asymmetry_error : float
        Spread of its inverse hyperbolic tangent.
    """

    minimum: float = 0.09
    minimum_error: float = 0.02
    range: float = 2.5
    range_error: float = 0.15
    gradient: float = 2.8
    gradient_error: float = 0.25
    asymmetry: float = 0.0
    asymmetry_error: float = 0.25


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StepFit:
    """Response of one channel of a paper, from a step series.

    Density at log exposure H is ``minimum + curve.value(H - aim_log_exposure)``.

    Attributes
    ----------
    curve : LayerCurve
        Amounts are density above the minimum; the aim is the density asked for.
    minimum : Estimate
        Density of unexposed paper [1].
    aim_log_exposure : Estimate
        Log exposure, on the scale of the steps, that gives the aim [log10].
    gradient : Estimate
        Slope there [density per log10 exposure].
    maximum : Estimate
        Density at full exposure [1].
    residuals : (n,)
        Density read less density of the curve.
    flags : tuple of Flag
    """

    curve: LayerCurve
    minimum: Estimate
    aim_log_exposure: Estimate
    gradient: Estimate
    maximum: Estimate
    residuals: Floats
    flags: tuple[Flag, ...]

    def density(self, log_exposure: ArrayLike) -> Floats:
        """Density (...) at log exposure (...) on the scale of the steps."""
        shift = np.asarray(log_exposure, dtype=float) - self.aim_log_exposure.value
        return np.asarray(self.minimum.value + self.curve.value(shift))


def fit_step_series(
    log_exposure: ArrayLike,
    density: ArrayLike,
    *,
    aim_density: float,
    standard_error: float = 0.006,
    usual: UsualResponse | None = None,
) -> StepFit:
    """Response of one channel from densities read off a step series.

    Few steps are enough to place the curve; the usual figures hold what they leave open, and the standard errors
    say how much that is.

    Parameters
    ----------
    log_exposure : (n,) [log10], on any scale
    density : (n,)
        Read in one channel, with the paper's base [1].
    aim_density : float
        Density that the reference should have [1].
    standard_error : float
        Of each density; 0.006 is a flatbed's (from memory).
    usual : UsualResponse

    Raises
    ------
    ValueOutOfRange
        If there is no step, a number is not finite, or the aim lies outside what paper can hold.
    """
    usual = usual or UsualResponse()
    x, y = np.asarray(log_exposure, dtype=float), np.asarray(density, dtype=float)
    if x.size == 0:
        raise ValueOutOfRange("There is no step to fit; read at least one patch.")
    if not usual.minimum < aim_density < usual.minimum + usual.range:
        raise ValueOutOfRange(
            f"The aim density is {aim_density:g}; paper holds about {usual.minimum:g} to "
            f"{usual.minimum + usual.range:g}. Choose another reference tone."
        )
    if standard_error <= 0:
        raise ValueOutOfRange(f"The error of a density is {standard_error:g}; it must be above 0.")

    def curve_of(parameters: Floats) -> tuple[float, LayerCurve]:
        minimum = min(float(parameters[0]), aim_density - 1e-3)
        maximum = max(float(np.exp(parameters[1])), (aim_density - minimum) * 1.001)
        gradient = float(np.exp(np.clip(parameters[2], -5.0, 5.0)))
        asymmetry = float(np.tanh(np.clip(parameters[3], -4.0, 4.0)))
        return minimum, LayerCurve(aim=aim_density - minimum, maximum=maximum, gradient=gradient, asymmetry=asymmetry)

    def family(steps: Floats, parameters: Floats) -> tuple[Floats, Floats]:
        _, layer = curve_of(parameters)
        h = steps - parameters[4]
        pieces = np.array((layer.gradient, layer.maximum, layer.asymmetry, layer.aim))
        change, by_h, (by_gradient, by_range, by_asymmetry, by_amount) = curve(h, *pieces)
        by_asymmetry = by_asymmetry * (1 - layer.asymmetry**2)
        return aim_density + change, np.column_stack([-by_amount, by_range, by_gradient, by_asymmetry, -by_h])

    centre = np.array([usual.minimum, np.log(usual.range), np.log(usual.gradient), np.arctanh(usual.asymmetry), 0.0])
    error = np.array([usual.minimum_error, usual.range_error, usual.gradient_error, usual.asymmetry_error, np.inf])
    # The step nearest the aim, moved along the usual curve, is near enough to begin.
    nearest = int(np.argmin(np.abs(y - aim_density))) if np.isfinite(y).all() else 0
    _, first = curve_of(centre)
    reach = float(np.clip(y[nearest] - usual.minimum, 0.02 * usual.range, 0.98 * usual.range))
    start = centre.copy()
    start[4] = x[nearest] - float(first.log_exposure(reach))
    fit = fit_curve(family, x, y, start, standard_error=standard_error, usual=centre, usual_error=error)

    minimum, layer = curve_of(fit.parameters)
    flags: list[Flag] = []
    if x.size == 1:
        flags.append(Flag.ONE_PATCH)
    if not y.min() <= aim_density <= y.max():
        flags.append(Flag.EXTRAPOLATED)
    share = (y - minimum) / layer.maximum
    if np.all((share < 0.05) | (share > 0.95)):
        flags.append(Flag.SATURATED)
    if np.any(np.abs(fit.residuals) > OUTLIER_ERRORS * standard_error):
        flags.append(Flag.OUTLIER)
    marks = tuple(flags)
    sd = fit.standard_errors
    top_slope = np.array([1.0, layer.maximum])
    top_error = float(np.sqrt(top_slope @ fit.covariance[:2, :2] @ top_slope))
    return StepFit(
        curve=layer,
        minimum=Estimate(value=minimum, standard_error=float(sd[0]), flags=marks),
        aim_log_exposure=Estimate(value=float(fit.parameters[4]), standard_error=float(sd[4]), flags=marks),
        gradient=Estimate(value=layer.gradient, standard_error=float(sd[2]) * layer.gradient, flags=marks),
        maximum=Estimate(value=minimum + layer.maximum, standard_error=top_error, flags=marks),
        residuals=fit.residuals,
        flags=marks,
    )
