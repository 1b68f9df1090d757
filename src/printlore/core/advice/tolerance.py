"""When a print is good: two tolerances, of which a studio states its own."""

from dataclasses import dataclass

import numpy as np
import scipy.special

from printlore.core.colour.lab import delta_e_2000
from printlore.core.figure import Figure
from printlore.core.memory.columns import Floats
from printlore.core.paper.dyes import DyeModel
from printlore.core.paper.layers import LayerCurves
from printlore.errors import ValueOutOfRange

DRAWS = 384
LEAST, MOST = 0.01, 999.0
"""[dE00, CC] Of a tolerance: nothing is measured more finely, and no two colours differ more."""
LEAST_SHARE, MOST_SHARE = 0.001, 10.0
"""[1] The same of the exposure time."""


def _even_normals(count: int) -> Floats:
    """(count, 3) evenly spread standard normal draws: an additive recurrence with the plastic number's 3-D sibling."""
    root = 1.2207440846057596
    steps = np.array([1 / root, 1 / root**2, 1 / root**3])
    points = (0.5 + steps * np.arange(1, count + 1)[:, None]) % 1
    result: Floats = scipy.special.ndtri(points)
    return result


_NORMALS = _even_normals(DRAWS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerance:
    """What counts as a good print.

    Attributes
    ----------
    name : str
    delta_e : float or None
        Largest CIEDE2000 of the reference patch from its aim [1].
    colour_cc, time_share : float or None
        Or: largest error of magenta and of yellow [CC], and of exposure time [1].

    Raises
    ------
    ValueOutOfRange
        If neither or both kinds of limit are given, or one is so small that no print can meet it, or so large that
        every print does.
    """

    name: str
    delta_e: float | None = None
    colour_cc: float | None = None
    time_share: float | None = None

    def __post_init__(self) -> None:
        given = [limit is not None for limit in (self.delta_e, self.colour_cc, self.time_share)]
        if given not in ([True, False, False], [False, True, True]):
            raise ValueOutOfRange(f'Tolerance "{self.name}": give a colour difference, or CC and share of time.')
        for what, value, least, most in (
            ("colour difference [dE00]", self.delta_e, LEAST, MOST),
            ("colour [CC]", self.colour_cc, LEAST, MOST),
            ("share of the time", self.time_share, LEAST_SHARE, MOST_SHARE),
        ):
            if value is not None and not least <= value <= most:
                why = "no print can meet" if value < least else "every print meets"
                raise ValueOutOfRange(
                    f'A tolerance of {Figure(value):g} {why}, and for "{self.name}" the {what} is that. '
                    f"Give {Figure(least):g} to {Figure(most):g}."
                )


@dataclass(frozen=True, slots=True)
class Outlook:
    """How n candidate settings would come out.

    Attributes
    ----------
    delta_e, delta_e_sd : (n,) mean and standard deviation of CIEDE2000 from the aim
    good : (n,) probability of being within the tolerance
    """

    delta_e: Floats
    delta_e_sd: Floats
    good: Floats


def outlook(
    density: Floats, covariance: Floats, aim: Floats, dyes: DyeModel, curves: LayerCurves, tolerance: Tolerance
) -> Outlook:
    """Distribution of the colour difference of prints with these densities.

    Parameters
    ----------
    density, covariance : (n, 3), (n, 3, 3)
    aim : (3,)
    """
    draws = np.linalg.cholesky(covariance + 1e-12 * np.eye(3))
    cloud = density[:, None, :] + np.einsum("nkl,dl->ndk", draws, _NORMALS)
    middle = np.clip(density, 0.05, 2.3)[:, None, :]
    seen = np.clip(cloud, np.maximum(middle - 0.48, -0.05), np.minimum(middle + 0.48, 2.38))
    difference = delta_e_2000(dyes.lab_from_density(seen), dyes.lab_from_density(aim))
    if tolerance.delta_e is not None:
        good = (difference <= tolerance.delta_e).mean(axis=1)
    else:
        good = within_setting(cloud, aim, curves, tolerance).mean(axis=1)
    return Outlook(difference.mean(axis=1), difference.std(axis=1), good)


def passing(density: Floats, aim: Floats, dyes: DyeModel, curves: LayerCurves, tolerance: Tolerance) -> np.ndarray:
    """Whether prints of exactly these densities (n, 3) are within the tolerance: (n,) bool."""
    if tolerance.delta_e is None:
        return within_setting(density, aim, curves, tolerance)
    seen = np.clip(density, -0.05, 2.38)
    near: np.ndarray = delta_e_2000(dyes.lab_from_density(seen), dyes.lab_from_density(aim)) <= tolerance.delta_e
    return near


def within_setting(density: Floats, aim: Floats, curves: LayerCurves, tolerance: Tolerance) -> np.ndarray:
    """Whether densities (..., 3) are within a tolerance of CC and time: (...,) bool.

    Colour errors are those of magenta and yellow against cyan; the time error is that of the mean layer.
    """
    assert tolerance.colour_cc is not None
    assert tolerance.time_share is not None
    error = curves.log_exposure_at(density)[0] - curves.log_exposure_at(aim)[0]
    colour = np.abs(error[..., 1:] - error[..., :1]).max(axis=-1)
    time = np.abs(error.mean(axis=-1))
    result: np.ndarray = (colour <= tolerance.colour_cc / 100) & (time <= np.log10(1 + tolerance.time_share))
    return result
