"""How a print answers a small change of exposure: the paper's gradient, layer by layer, and what follows from it."""

from functools import cache

import numpy as np

from printlore.core.colour.tables import Floats, read_table
from printlore.core.paper.dyes import HERE, DyeModel, generic_paper
from printlore.core.paper.layers import LayerCurve, curve

REFERENCE_LAB = (52.0, 0.0, 0.0)
"""Default reference tone: a neutral grey."""


@cache
def generic_curves() -> tuple[LayerCurve, LayerCurve, LayerCurve]:
    """Response of the cyan, magenta and yellow dye-forming layer of generic paper A, through a neutral grey of L* 52.

    Amounts are dye amounts of :func:`generic_paper`. Fitted to the published status A curves from 0.9 below to 0.9
    above the reference; the fit is within 0.035 of dye amount there.

    References
    ----------
    filmscan-paper-a
    """
    from scipy.optimize import least_squares  # here: it costs a third of a second of every start

    paper = generic_paper("a")
    table = read_table(HERE, "paper_a_curves.csv")
    amounts = paper.dyes_from_density(np.stack([table[name] for name in ("red", "green", "blue")], axis=1))
    aims = paper.dyes_from_density(paper.density_from_lab(REFERENCE_LAB))
    curves = []
    for layer in range(3):
        aim = float(aims[layer])
        # The published curve dips slightly after its top; only its rise is a function that can be turned back.
        rising = slice(0, int(np.argmax(amounts[:, layer])) + 1)
        at = np.interp(aim, amounts[rising, layer], table["log_exposure"][rising])
        steps = table["log_exposure"] - at
        near = np.abs(steps) <= 0.9

        def pieces(p: Floats, aim: float = aim) -> Floats:
            return np.array((np.exp(p[0]), np.exp(p[1]), np.tanh(p[2]), aim))

        def misfit(p: Floats, h: Floats = steps[near], gained: Floats = amounts[near, layer] - aim) -> Floats:
            return curve(h, *pieces(p))[0] - gained

        def slopes(p: Floats, h: Floats = steps[near]) -> Floats:
            by_gradient, by_range, by_asymmetry, _ = curve(h, *pieces(p))[2]
            return np.column_stack([by_gradient, by_range, by_asymmetry * (1 - np.tanh(p[2]) ** 2)])

        found = least_squares(misfit, (np.log(2.8), np.log(2.5), 0.0), jac=slopes, method="lm", xtol=1e-12, ftol=1e-12)
        gradient, maximum, asymmetry, _ = pieces(found.x).tolist()
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
