"""The light that leaked, told from the densities of the fog it made.

Four lights are weighed against each other. Red, green and blue light expose one layer, so one dye must explain all
three densities. White light exposes every layer, the slower ones less; since dye rises steeply with exposure at the
toe, a layer that lags shows far less dye than it had light. What is not known is summed over: how much of each dye
another channel sees, how far the slower layers lag, and the error of the densities.
"""

from enum import StrEnum
from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from printlore.core.measure.scan import Floats
from printlore.errors import ValueOutOfRange


class LeakLight(StrEnum):
    """Colour of the light that leaked: the complement of the fog's colour. White hits more than one layer."""

    RED = "red"
    GREEN = "green"
    BLUE = "blue"
    WHITE = "white"


_COLOURED = (LeakLight.RED, LeakLight.GREEN, LeakLight.BLUE)

SIDES: Floats = np.array([[1.0, 0.19, 0.03], [0.17, 1.0, 0.16], [0.06, 0.21, 1.0]])
"""(3 densities, 3 dyes) What a scanner sees of a little cyan, magenta and yellow dye, each 1 in its own channel.

Means over generic papers A and B (filmscan-paper-a, filmscan-paper-b) and over scanners whose channels peak anywhere in
600-640, 520-550 and 440-470 nm with standard deviations of 12 to 25 nm (from memory)."""
SIDES_UNSURE: Floats = np.array([[0.0, 0.09, 0.03], [0.05, 0.0, 0.05], [0.03, 0.06, 0.0]])
"""Standard deviations over the same; not below 0.03, since two papers are not all papers."""

TOE = 0.09
"""[log10 exposure] Width of the toe's corner."""
TOE_RISE = 0.27
"""[density] Dye of the straight line over one ``TOE``. Both: foot of generic paper A's curves (filmscan-paper-a)."""

_LAGS = np.linspace(0.0, 0.6, 13)
"""[log10 exposure] How far slower layers lag in white light, all as likely: the second layer of generic paper A lags
0.04 to 0.6 under black bodies of 2000 to 6500 K (computed from filmscan-paper-a's sensitivities)."""
LEAST_CHANCE = 0.05
"""Another light is named beside the likeliest if its chance is above this."""


def toe(x: ArrayLike) -> Floats:
    """Dye [``TOE_RISE``] at log exposure x [``TOE``] past the toe's corner: exponential below it, straight above."""
    return np.asarray(np.logaddexp(0.0, x))


def toe_inverse(dye: float) -> float:
    """Log exposure [``TOE``] past the toe's corner that gives so much dye [``TOE_RISE``]."""
    return float(dye + np.log(-np.expm1(-dye)))


def chances(peak: ArrayLike, covariance: ArrayLike | None = None) -> dict[LeakLight, float]:
    """Chance of each light, all four as likely before the fog was seen, summing to 1.

    Parameters
    ----------
    peak : (3,) array
        Density over base through red, green and blue [1]; the strongest above 0.
    covariance : (3, 3) array, optional
        Of its error; ``None``: a standard error of 0.001 each.

    Raises
    ------
    ValueOutOfRange
        If no density is above 0.
    """
    amounts = np.asarray(peak, dtype=float)
    strongest = float(amounts.max())
    if not strongest > 0:
        raise ValueOutOfRange("There is no fog whose colour could be told; a density over base must be above 0.")
    error = 1e-6 * np.eye(3) if covariance is None else np.asarray(covariance, dtype=float)
    shares = amounts / strongest
    error = error / strongest**2 + 1e-6 * np.eye(3)
    likelihoods = {light: float(_likelihoods(np.eye(3)[[k]], shares, error)[0]) for k, light in enumerate(_COLOURED)}
    likelihoods[LeakLight.WHITE] = float(_likelihoods(_white_dyes(round(strongest, 2)), shares, error).mean())
    total = sum(likelihoods.values())
    if not total > 0:
        # So far from any single dye that all underflow: more than one layer.
        return {light: float(light is LeakLight.WHITE) for light in (*_COLOURED, LeakLight.WHITE)}
    return {light: likelihood / total for light, likelihood in likelihoods.items()}


def light_of(peak: ArrayLike, covariance: ArrayLike | None = None) -> tuple[LeakLight, LeakLight | None]:
    """Likeliest light, and the next if it cannot be ruled out; parameters and errors as of ``chances``."""
    first, second = sorted(chances(peak, covariance).items(), key=lambda pair: -pair[1])[:2]
    return first[0], second[0] if second[1] > LEAST_CHANCE else None


@cache
def _white_dyes(strongest: float) -> Floats:
    """(n, 3) dye amounts, the strongest 1, that white light may make: any layer first, the others lagging."""
    corner = toe_inverse(max(strongest, 0.01) / TOE_RISE)
    lagging = toe(corner - _LAGS / TOE) / toe(corner)
    rows = []
    for first in range(3):
        others = np.stack(np.meshgrid(lagging, lagging, indexing="ij"), axis=-1).reshape(-1, 2)
        rows.append(np.insert(others, first, 1.0, axis=1))
    return np.concatenate(rows)


def _likelihoods(dyes: Floats, shares: Floats, error: Floats) -> Floats:
    """(n,) of densities (3,) with their error, for dye amounts (n, 3) up to a common factor, which is summed over."""
    seen = dyes @ SIDES.T
    # The density is divided by its strongest, so the factor is near 1 over the strongest that the dyes make.
    factor = 1.0 / seen.max(axis=1)
    side = (dyes**2) @ (SIDES_UNSURE**2).T * factor[:, None] ** 2
    weight = np.linalg.inv(error + side[:, :, None] * np.eye(3))
    across = np.einsum("ni,nij,j->n", seen, weight, shares)
    along = np.einsum("ni,nij,nj->n", seen, weight, seen)
    misfit = np.einsum("i,nij,j->n", shares, weight, shares) - across**2 / along
    # Flat in the log of the factor: its density is 1 / factor.
    spread = np.sqrt(np.linalg.det(weight) / along) / factor
    return np.asarray(spread * np.exp(-0.5 * misfit) * (across > 0))
