"""A scanner as densitometer: from the light it reports to reflection density, through a scanned grey wedge.

The curve of a channel is that of a scanner with gain, stray light and a tone exponent,

    light ** exponent = gain * 10 ** -density + flare,

plus, where leave-one-out shows that the wedge asks for it, a low polynomial for what this form
misses (a software tone curve). No profile and no linearity is assumed.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from printlore.core.figure import Figure
from printlore.core.flags import Flag
from printlore.core.measure.scan import CHANNELS, Floats
from printlore.core.paper.facts import vector
from printlore.errors import ValueOutOfRange

FEWEST_STEPS = 5
_SMALLEST_LIGHT = 1e-7
_LEAST_SIGNAL = 1e-4
"""A wedge can end above the stray light only; below, density is bounded at 4."""
_LARGEST_EXPONENT = 3.2
_WEDGE_POOR = 0.02
"""Residual sd [density] above which a wedge is called poor: twice what step wedges are sold to (from memory)."""


class Material(StrEnum):
    """What a wedge or chart is made of: other dyes than the print's look otherwise to a scanner than to an eye."""

    PHOTOGRAPHIC_PAPER = "photographic_paper"
    SILVER = "silver"
    INK = "ink"
    PAINT = "paint"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True, kw_only=True)
class Wedge:
    """A grey wedge whose densities are known.

    Attributes
    ----------
    densities : tuple of (3,) tuples of float
        Reflection density (red, green, blue) of each step in its order on the wedge [1].
    standard_error : float
        Of each stated density [1]; default 0.005, from memory.
    name : str
    material : Material
        Only a wedge printed on photographic paper reads like the print.

    Raises
    ------
    ValueOutOfRange
        If there are fewer than 5 steps, or densities are not finite, out of -0.1 to 5, or all alike.
    """

    densities: tuple[tuple[float, float, float], ...]
    standard_error: float = 0.005
    name: str = "wedge"
    material: Material = Material.UNKNOWN

    def __post_init__(self) -> None:
        if len(self.densities) < FEWEST_STEPS:
            raise ValueOutOfRange(
                f'Wedge "{self.name}" has {len(self.densities)} steps; a curve needs at least {FEWEST_STEPS}.'
            )
        array = np.asarray(self.densities, dtype=float)
        bad = np.argwhere(~((array >= -0.1) & (array <= 5.0)))
        if len(bad):
            step, channel = bad[0]
            raise ValueOutOfRange(
                f'Wedge "{self.name}", step {step + 1}, {CHANNELS[channel]}: density '
                f"{Figure(array[step, channel]):g} cannot be; it must be a number from {Figure(-0.1):g} to 5."
            )
        if np.ptp(array, axis=0).min() < 0.3:
            raise ValueOutOfRange(
                f'The steps of wedge "{self.name}" are within {Figure(0.3):g} of each other; a curve needs light '
                "and dark steps."
            )
        if not 0 <= self.standard_error < 1:
            raise ValueOutOfRange(f'The error of wedge "{self.name}" is {Figure(self.standard_error):g}; give 0 to 1.')

    def as_array(self) -> Floats:
        """(steps, 3)"""
        return np.asarray(self.densities, dtype=float)


def grey_wedge(densities: Sequence[float], *, standard_error: float = 0.005) -> Wedge:
    """Wedge whose red, green and blue densities are alike."""
    return Wedge(densities=tuple((d, d, d) for d in densities), standard_error=standard_error)


@dataclass(frozen=True, slots=True, kw_only=True)
class ToneCurve:
    """Light to density for one channel: plain numbers, so that it can be kept.

    Attributes
    ----------
    gain, flare, exponent : float
        See the module's text.
    bends : tuple of float
        Legendre coefficients [density] of degree 1, 2, ... over the wedge's span of log light; empty: none.
    span : (2,) floats
        log10 of light at the darkest and the lightest step.
    covariance : tuple of tuples of float
        Of (log gain, flare / gain, exponent, bends), for the standard error.
    residual : float
        Standard deviation of the wedge about the curve [density], degrees of freedom counted.
    """

    gain: float
    flare: float
    exponent: float
    bends: tuple[float, ...]
    span: tuple[float, float]
    covariance: tuple[tuple[float, ...], ...]
    residual: float

    def parameters(self) -> Floats:
        return np.array([np.log10(self.gain), self.flare / self.gain, self.exponent, *self.bends])

    def density(self, light: ArrayLike) -> Floats:
        """Density [1] of light [1], any shape; at or below the stray light it is bounded."""
        return _density(self.parameters(), np.asarray(light, dtype=float), self.span)

    def standard_error(self, light: ArrayLike) -> Floats:
        """Standard error [density] of the curve at these lights."""
        jacobian = _jacobian(self.parameters(), np.asarray(light, dtype=float), self.span)
        variance = np.einsum("...i,ij,...j->...", jacobian, np.array(self.covariance), jacobian)
        return np.asarray(np.sqrt(np.maximum(variance, 0.0)), dtype=float)

    def slope(self, light: ArrayLike) -> Floats:
        """Change of density per log10 of light [1]; below 0."""
        light = np.asarray(light, dtype=float)
        up, down = (_density(self.parameters(), light * 10.0**move, self.span) for move in (1e-3, -1e-3))
        return np.asarray((up - down) / 2e-3, dtype=float)


def _bend_terms(log_light: Floats, span: tuple[float, float], count: int) -> Floats:
    """Legendre polynomials of degree 1 to count; held at their end values outside the span."""
    x = np.clip(2 * (log_light - span[0]) / (span[1] - span[0]) - 1, -1.0, 1.0)
    terms = np.polynomial.legendre.legvander(np.ravel(x), count)[:, 1:]
    return np.asarray(terms.reshape(*np.shape(x), count), dtype=float)


def _density(parameters: Floats, light: Floats, span: tuple[float, float]) -> Floats:
    log_gain, flare, exponent = parameters[:3]
    signal = light**exponent / 10.0**log_gain - flare
    density = -np.log10(np.maximum(signal, _LEAST_SIGNAL))
    bends = parameters[3:]
    if len(bends):
        log_light = np.log10(np.maximum(light, _SMALLEST_LIGHT))
        density = density + _bend_terms(log_light, span, len(bends)) @ bends
    return np.asarray(density, dtype=float)


_FLARES = np.concatenate([[0.0], 10.0 ** np.linspace(-5.0, -0.7, 44)])


def _fit_core(log_light: Floats, density: Floats, *, exponent_free: bool) -> Floats:
    """(log gain, flare / gain, exponent), by least squares in density.

    For a given flare the other two are a straight line, so only flare is searched for.
    """
    flares = _FLARES
    best = 0
    found = np.empty((0, 3))
    for _ in range(3):
        through = 10.0**-density
        left = np.log10(through + flares[:, None])
        weight = ((through + flares[:, None]) / through) ** 2  # of log light, where the fit is to be in density
        weight = np.minimum(weight, 50.0**2)
        total = weight.sum(axis=1)
        mean_x = (weight * log_light).sum(axis=1) / total
        mean_y = (weight * left).sum(axis=1) / total
        if exponent_free:
            x, y = log_light - mean_x[:, None], left - mean_y[:, None]
            exponent = np.clip((weight * x * y).sum(axis=1) / (weight * x * x).sum(axis=1), 0.3, _LARGEST_EXPONENT)
        else:
            exponent = np.ones_like(flares)
        log_gain = exponent * mean_x - mean_y
        misfit = (weight * (left - exponent[:, None] * log_light + log_gain[:, None]) ** 2).sum(axis=1)
        best = int(np.argmin(misfit))
        found = np.stack([log_gain, flares, exponent], axis=1)
        low, high = flares[max(best - 1, 0)], flares[min(best + 1, len(flares) - 1)]
        flares = np.linspace(low, high, 21)
    return np.asarray(found[best], dtype=float)


def _jacobian(parameters: Floats, light: Floats, span: tuple[float, float]) -> Floats:
    """Change of density with each parameter, (..., parameters)."""
    log_gain, flare, exponent = parameters[:3]
    log_light = np.log10(np.maximum(light, _SMALLEST_LIGHT))
    whole = 10.0 ** (exponent * log_light - log_gain)
    signal = whole - flare
    share = np.where(signal > _LEAST_SIGNAL, 1.0 / np.maximum(signal, _LEAST_SIGNAL), 0.0)
    core = np.stack([whole * share, share / np.log(10.0), -whole * log_light * share], axis=-1)
    bends = len(parameters) - 3
    return np.concatenate([core, _bend_terms(log_light, span, bends)], axis=-1) if bends else core


def _free(parameters: Floats, *, exponent_free: bool) -> list[int]:
    return [0, 1, *([2] if exponent_free else []), *range(3, len(parameters))]


def _bent(core: Floats, light: Floats, density: Floats, span: tuple[float, float], bends: int) -> Floats:
    """All parameters of a curve: its core, and so many bends through what the core leaves over."""
    if not bends:
        return core
    left = density - _density(core, light, span)
    coefficients, *_ = np.linalg.lstsq(_bend_terms(np.log10(light), span, bends), left, rcond=None)
    return np.concatenate([core, coefficients])


_MAKE_UPS = ((0, False), (0, True), (2, True), (3, True), (4, True), (6, True))
"""(bends, exponent free), simplest first."""


def fit_tone_curve(light: ArrayLike, density: ArrayLike, *, density_error: float = 0.005) -> ToneCurve:
    """Curve of one channel through the steps of a wedge.

    Parameters
    ----------
    light : (steps,) array of float
        Mean light of each step [1], above 0.
    density : (steps,) array of float
        Stated reflection density of each [1].
    density_error : float
        Standard error of each stated density [1]; the curve's scatter is taken as at least this.

    Returns
    -------
    ToneCurve
        The simplest make-up whose leave-one-out error is within 10 % of the smallest, and falling.

    Raises
    ------
    ValueOutOfRange
        If there are fewer than 5 steps, light is not above 0, or it does not fall as density rises.
    """
    light, density = np.asarray(light, dtype=float), np.asarray(density, dtype=float)
    if light.shape != density.shape or len(light) < FEWEST_STEPS:
        raise ValueOutOfRange(
            f"A scanner's curve needs at least {FEWEST_STEPS} wedge steps, each with a density; got {len(light)} "
            f"and {len(density)}."
        )
    if not np.all(light > 0):
        raise ValueOutOfRange(
            f"Wedge step {int(np.argmin(light > 0)) + 1} has no light at all; scan with automatic exposure off."
        )
    if np.corrcoef(np.log10(light), density)[0, 1] > -0.8:
        raise ValueOutOfRange(
            "The wedge does not get darker as its stated densities rise; check the box and the order of the steps."
        )
    order = np.argsort(light)
    span = (float(np.log10(light[order[0]])), float(np.log10(light[order[-1]])))
    cores = [_fit_core(np.log10(light), density, exponent_free=exponent_free) for exponent_free in (False, True)]
    tried: list[tuple[float, bool, Floats]] = []
    for bends, exponent_free in _MAKE_UPS:
        if 3 + bends + 2 > len(light):
            break
        parameters = _bent(cores[exponent_free], light, density, span, bends)
        # Leave-one-out by the leverage of each step; the ends count in full, since bends are held there.
        jacobian = _jacobian(parameters, light, span)[:, _free(parameters, exponent_free=exponent_free)]
        leverage = np.sum(np.linalg.qr(jacobian)[0] ** 2, axis=1)
        missed = (density - _density(parameters, light, span)) / np.maximum(1 - leverage, 0.05)
        tried.append((float(np.sqrt(np.mean(missed**2))), exponent_free, parameters))
    best = min(error for error, *_ in tried)
    grid = 10.0 ** np.linspace(span[0], span[1], 200)
    exponent_free, parameters = next(
        (
            (exponent_free, parameters)
            for error, exponent_free, parameters in tried
            if error <= max(1.1 * best, 0.5 * density_error) and np.all(np.diff(_density(parameters, grid, span)) < 0)
        ),
        (True, cores[True]),
    )
    free = _free(parameters, exponent_free=exponent_free)
    left = density - _density(parameters, light, span)
    freedom = max(len(light) - len(free), 1)
    residual = float(np.sqrt(np.sum(left**2) / freedom))
    scatter = max(residual, density_error)
    jacobian = _jacobian(parameters, light, span)[:, free]
    # A faint prior keeps flare defined where a wedge is too light to show it.
    prior = np.diag(
        [0.0, 1.0 / 0.01**2, *([1.0 / 1.0**2] if exponent_free else []), *[1.0 / 0.1**2] * (len(parameters) - 3)]
    )
    inverse = np.linalg.inv(jacobian.T @ jacobian / scatter**2 + prior)
    covariance = np.zeros((len(parameters), len(parameters)))
    covariance[np.ix_(free, free)] = inverse
    gain = float(10.0 ** parameters[0])
    return ToneCurve(
        gain=gain,
        flare=float(parameters[1]) * gain,
        exponent=float(parameters[2]),
        bends=tuple(float(b) for b in parameters[3:]),
        span=span,
        covariance=tuple(tuple(float(c) for c in row) for row in covariance),
        residual=residual,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ScannerCurves:
    """A scanner's three curves, and how well the wedge agreed with them.

    Attributes
    ----------
    curves : three ToneCurve
        (red, green, blue)
    steps : tuple of int
        Wedge steps used, from 0.
    left_out : tuple of int
        Wedge steps that disagreed or were clipped.
    residuals : tuple of (3,) tuples of float
        Stated less fitted density of each step used [1].
    flags : tuple of Flag
    """

    curves: tuple[ToneCurve, ToneCurve, ToneCurve]
    steps: tuple[int, ...]
    left_out: tuple[int, ...]
    residuals: tuple[tuple[float, float, float], ...]
    flags: tuple[Flag, ...] = ()

    def density(self, light: ArrayLike) -> Floats:
        """Reflection density (..., 3) [1] of light (..., 3) [1]."""
        light = np.asarray(light, dtype=float)
        return np.stack([curve.density(light[..., k]) for k, curve in enumerate(self.curves)], axis=-1)

    def standard_error(self, light: ArrayLike) -> Floats:
        """Standard error (..., 3) [density] that the curves bring."""
        light = np.asarray(light, dtype=float)
        return np.stack([curve.standard_error(light[..., k]) for k, curve in enumerate(self.curves)], axis=-1)

    def slope(self, light: ArrayLike) -> Floats:
        """Change of density per log10 of light (..., 3)."""
        light = np.asarray(light, dtype=float)
        return np.stack([curve.slope(light[..., k]) for k, curve in enumerate(self.curves)], axis=-1)

    def outside(self, light: ArrayLike) -> NDArray[np.bool_]:
        """Whether light (..., 3) lies beyond the wedge's ends by more than 0.02 in log10."""
        log_light = np.log10(np.maximum(np.asarray(light, dtype=float), _SMALLEST_LIGHT))
        spans = np.array([curve.span for curve in self.curves])
        return np.asarray((log_light < spans[:, 0] - 0.02) | (log_light > spans[:, 1] + 0.02))

    @property
    def residual(self) -> tuple[float, float, float]:
        """Residual sd [density] of the three channels."""
        red, green, blue = (curve.residual for curve in self.curves)
        return red, green, blue


def calibrate(
    light: ArrayLike, wedge: Wedge, *, usable: Sequence[bool] | None = None, added: ArrayLike = 0.0
) -> ScannerCurves:
    """Three curves from the mean light of a wedge's steps; a step that disagrees is left out and named.

    Parameters
    ----------
    light : (steps, 3) array of float
        Mean light of each step in the wedge's order [1].
    wedge : Wedge
    usable : sequence of bool, optional
        False for steps not to be used (clipped, dusty).
    added : (steps, 3) array of float, optional
        Density that uneven light adds at each step [1].

    Raises
    ------
    ValueOutOfRange
        If the number of steps differs, or fewer than 5 are usable.
    """
    light, stated = np.asarray(light, dtype=float), wedge.as_array() + np.asarray(added, dtype=float)
    if light.shape != stated.shape:
        raise ValueOutOfRange(
            f'Wedge "{wedge.name}" has {len(stated)} stated densities, but {len(light)} steps were found in the scan.'
        )
    use = np.ones(len(stated), bool) if usable is None else np.asarray(usable, bool)
    use = use & np.all(np.isfinite(light) & (light > 0), axis=1)
    flags: list[Flag] = []
    while True:
        kept = np.flatnonzero(use)
        if len(kept) < FEWEST_STEPS:
            raise ValueOutOfRange(
                f'Only {len(kept)} steps of wedge "{wedge.name}" can be used; at least {FEWEST_STEPS} are needed. '
                "Clean the wedge and scan again with automatic exposure off."
            )
        curves = [fit_tone_curve(light[kept, k], stated[kept, k], density_error=wedge.standard_error) for k in range(3)]
        left = np.stack([stated[kept, k] - curves[k].density(light[kept, k]) for k in range(3)], axis=1)
        size = np.abs(left).max(axis=1)
        typical = max(1.4826 * float(np.median(np.abs(left))), wedge.standard_error)
        worst = int(np.argmax(size))
        if size[worst] < 6 * typical or len(kept) <= FEWEST_STEPS + 1:
            break
        use[kept[worst]] = False
        flags = [Flag.WEDGE_STEP_LEFT_OUT]
    if max(curve.residual for curve in curves) > max(_WEDGE_POOR, 3 * wedge.standard_error):
        flags.append(Flag.WEDGE_POOR)
    return ScannerCurves(
        curves=(curves[0], curves[1], curves[2]),
        steps=tuple(int(k) for k in kept),
        left_out=tuple(int(k) for k in np.flatnonzero(~use)),
        residuals=tuple(vector(row) for row in left),
        flags=tuple(flags),
    )
