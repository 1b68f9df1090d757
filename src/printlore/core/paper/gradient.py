"""How a print answers a small change of exposure: the paper's gradient, layer by layer, and what follows from it."""

from collections.abc import Mapping
from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from printlore.core.colour.tables import Floats, read_table
from printlore.core.paper.dyes import HERE, DyeModel, generic_paper
from printlore.core.paper.fitting import fit_curve
from printlore.core.paper.layers import LayerCurve, curve
from printlore.errors import ValueOutOfRange

REFERENCE_LAB = (52.0, 0.0, 0.0)
"""Default reference tone: a neutral grey."""

CAST_DIRECTIONS: Mapping[str, tuple[float, float, float]] = {
    "red": (-1.0, 0.5, 0.5),
    "green": (0.5, -1.0, 0.5),
    "blue": (0.5, 0.5, -1.0),
    "cyan": (1.0, -0.5, -0.5),
    "magenta": (-0.5, 1.0, -0.5),
    "yellow": (-0.5, -0.5, 1.0),
}


@cache
def generic_curves(
    lab: tuple[float, float, float] = REFERENCE_LAB,
) -> tuple[LayerCurve, LayerCurve, LayerCurve]:
    """Response of the cyan, magenta and yellow dye-forming layer of generic paper A, through a reference tone.

    Amounts are dye amounts of :func:`generic_paper`. Fitted to the published status A curves from 0.9 below to 0.9
    above the reference; the fit is within 0.035 of dye amount there.

    Parameters
    ----------
    lab : (L*, a*, b*) of the reference tone

    References
    ----------
    filmscan-paper-a
    """
    paper = generic_paper("a")
    table = read_table(HERE, "paper_a_curves.csv")
    amounts = paper.dyes_from_density(np.stack([table[name] for name in ("red", "green", "blue")], axis=1))
    aims = paper.dyes_from_density(paper.density_from_lab(lab))
    curves = []
    for layer in range(3):
        aim = float(aims[layer])
        # The published curve dips slightly after its top; only its rise is a function that can be turned back.
        rising = slice(0, int(np.argmax(amounts[:, layer])) + 1)
        at = np.interp(aim, amounts[rising, layer], table["log_exposure"][rising])
        steps = table["log_exposure"] - at
        near = np.abs(steps) <= 0.9

        def family(h: Floats, p: Floats, aim: float = aim) -> tuple[Floats, Floats]:
            pieces = np.array((np.exp(p[1]), np.exp(p[0]), np.tanh(p[2]), aim))
            change, _, (by_gradient, by_range, by_asymmetry, _) = curve(h, *pieces)
            return aim + change, np.column_stack([by_range, by_gradient, by_asymmetry * (1 - pieces[2] ** 2)])

        fit = fit_curve(family, steps[near], amounts[near, layer], (np.log(2.5), np.log(2.8), 0.0))
        maximum, gradient = np.exp(fit.parameters[:2]).tolist()
        asymmetry = float(np.tanh(fit.parameters[2]))
        curves.append(LayerCurve(aim=aim, maximum=maximum, gradient=gradient, asymmetry=asymmetry))
    red, green, blue = curves
    return red, green, blue


def density_gradient(dyes: DyeModel, curves: tuple[LayerCurve, LayerCurve, LayerCurve]) -> Floats:
    """Slope of density by layer log exposure at the reference tone.

    Returns
    -------
    (3 densities, 3 layers) array; off the diagonal: side absorptions of the dyes
    """
    aims = [layer.aim for layer in curves]
    return np.asarray(dyes.density_jacobian_of_dyes(aims) * [layer.gradient for layer in curves])


def lightness_shares(dyes: DyeModel, curves: tuple[LayerCurve, LayerCurve, LayerCurve]) -> Floats:
    """Share (3,) of each layer in a change of L* when all three get the same change of log exposure; sums to 1."""
    aims = [layer.aim for layer in curves]
    slope = dyes.lab_jacobian_of_density(dyes.density_from_dyes(aims), exact=True)[0] @ density_gradient(dyes, curves)
    return np.asarray(slope / slope.sum())


def viewing_filter_fraction(gradient: ArrayLike, cast: str = "magenta") -> float:
    """Pack change [CC] for each CC of the viewing filter that makes the print look right.

    A viewing filter of v CC held at the eye stands for a cast of v/100 in density. The pack works on log exposure,
    and the paper multiplies that by its gradient, so v CC of density need v / gradient CC of pack. The handbooks'
    "half" (navedtra14209) is this for a gradient of 2; paper at a mid grey has 2.4 to 3.

    Parameters
    ----------
    gradient : float or (3, 3)
        Slope of density by log exposure; the matrix of :func:`density_gradient` counts side absorptions too.
    cast : str
        red, green, blue, cyan, magenta or yellow.

    Returns
    -------
    float [CC of pack / CC of viewing filter]

    Raises
    ------
    ValueOutOfRange
        If the cast is not one of the six, or the gradient cannot be turned back.
    """
    if cast not in CAST_DIRECTIONS:
        raise ValueOutOfRange(f'"{cast}" is not a cast; use one of {", ".join(CAST_DIRECTIONS)}.')
    matrix = np.asarray(gradient, dtype=float)
    if matrix.ndim == 0:
        matrix = matrix * np.eye(3)
    if matrix.shape != (3, 3) or not np.isfinite(matrix).all() or np.linalg.det(matrix) <= 0:
        raise ValueOutOfRange("The paper's gradient must be above 0, or a 3 x 3 matrix that can be turned back.")
    direction = np.array(CAST_DIRECTIONS[cast])
    # The strength of a cast, as seen or as moved, is how far its layer differs from the mean of the other two.
    return float(direction @ np.linalg.solve(matrix, direction)) / float(direction @ direction)
