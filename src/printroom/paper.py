"""Paper: layer sensitivities, toe-straight-shoulder curves, interlayer effect, dyes on a base."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.optimize import root

from printroom.spectra import Floats, bell, density_and_lab, edge, wavenumber_bell


def _softplus(value: Floats) -> Floats:
    return np.logaddexp(0.0, value)


def _softplus_inverse(value: Floats) -> Floats:
    return value + np.log(-np.expm1(-value))


@dataclass(frozen=True, eq=False)
class Paper:
    """One room's paper family. Vectors are by layer (red, green, blue sensitive).

    A layer's dye is a straight line of log exposure, with a soft corner at the toe and a wider one at the shoulder.
    Log exposure 0 in all layers gives the room's aim.

    Attributes
    ----------
    sensitivity : (81, 3) array
    gradient, toe, shoulder, most_dye : (3,) arrays
        Slope of the straight line [dye per log10]; widths of the corners [log10], [dye]; dye of a black.
    aim_dye : (3,) array
    interlayer : float
        Speed lost per unit of other layers' dye above the aim [log10 per density].
    dyes : (3, 81) array
        Density spectra of unit dye.
    base : (81,) array
        Density of an unexposed, processed sheet, without surface reflection.
    surface : float
        Reflectance of the surface [1].
    """

    sensitivity: Floats
    gradient: Floats
    toe: Floats
    shoulder: Floats
    most_dye: Floats
    aim_dye: Floats
    interlayer: float
    dyes: Floats
    base: Floats
    surface: float

    @cached_property
    def _corner(self) -> Floats:
        """Log exposure of the toe's corner, by inverting shoulder and toe at the aim."""
        dye = self.aim_dye
        line = self.most_dye - self.shoulder * _softplus_inverse((self.most_dye - dye) / self.shoulder)
        return -self.toe * _softplus_inverse(line / (self.gradient * self.toe))

    def _curve(self, log_exposure: Floats) -> Floats:
        line = self.gradient * self.toe * _softplus((log_exposure - self._corner) / self.toe)
        return self.most_dye - self.shoulder * _softplus((self.most_dye - line) / self.shoulder)

    def dye(self, log_exposure: Floats, contrast: Floats | float = 1.0) -> Floats:
        """Dye amounts (..., 3) for layer log exposures (..., 3); contrast is about log exposure 0."""
        exposure = contrast * log_exposure
        if self.interlayer:
            above = self._curve(exposure) - self.aim_dye
            exposure = exposure - self.interlayer * (above.sum(axis=-1, keepdims=True) - above)
        return np.maximum(self._curve(exposure), 0.0)

    def reflectance(self, dye: Floats) -> Floats:
        """Spectral reflectance (..., 81)."""
        return self.surface + (1 - self.surface) * 10.0 ** -(self.base + dye @ self.dyes)

    def density_and_lab(self, dye: Floats) -> tuple[Floats, Floats]:
        """Status A densities and Lab, each (..., 3)."""
        return density_and_lab(self.reflectance(dye))


def _sensitivity(shift: Floats) -> Floats:
    red = bell(694 + 2 * shift[0], 30, 14) + 0.004 * bell(460, 40)
    green = bell(548 + 2 * shift[1], 30, 17) + 0.006 * bell(450, 35)
    blue = bell(472 + 2 * shift[2], 42, 12)
    return np.stack([red, green, blue], axis=1)


def _dyes(rng: np.random.Generator) -> Floats:
    shift, unwanted = rng.normal(0.0, 1.0, 3), rng.uniform(0.75, 1.25, (3, 2))
    cyan = (
        wavenumber_bell(658 + 3 * shift[0], 58)
        + 0.11 * unwanted[0, 0] * bell(550, 45)
        + 0.10 * unwanted[0, 1] * bell(415, 40)
    )
    magenta = (
        0.80 * wavenumber_bell(545 + 2 * shift[1], 26)
        + 0.42 * wavenumber_bell(512 + 2 * shift[1], 24)
        + 0.13 * unwanted[1, 0] * bell(425, 40)
        + 0.03 * unwanted[1, 1] * bell(630, 35)
    )
    yellow = wavenumber_bell(444 + 2 * shift[2], 33) + 0.06 * unwanted[2, 0] * bell(525, 30) + 0.01 * unwanted[2, 1]
    stack = np.stack([cyan, magenta, yellow])
    return np.asarray(stack / stack.max(axis=1, keepdims=True))


def dye_for_lab(paper_dyes: Floats, base: Floats, surface: float, lab: tuple[float, float, float]) -> Floats:
    """Dye amounts (3,) that give this Lab. ValueError if the paper cannot."""

    def miss(dye: Floats) -> Floats:
        reflectance = surface + (1 - surface) * 10.0 ** -(base + dye @ paper_dyes)
        return np.asarray(density_and_lab(reflectance)[1] - np.asarray(lab))

    found = root(miss, np.full(3, 0.6), tol=1e-12)
    if not found.success or np.abs(found.fun).max() > 1e-6 or found.x.min() < 0.02:
        raise ValueError(f"This room's paper cannot give Lab {lab}; choose a tone between its white and its black.")
    return np.asarray(found.x, dtype=float)


def draw_paper(rng: np.random.Generator, interlayer: float, aim_lab: tuple[float, float, float]) -> Paper:
    """A paper around the textbook shapes, its log exposure 0 at the aim."""
    dyes = _dyes(rng)
    base = 0.055 + 0.03 * (1 - edge(430.0 + 5 * rng.normal(), 14.0)) + 0.01 * rng.uniform() * bell(550, 50)
    surface = rng.uniform(0.003, 0.006)
    aim_dye = dye_for_lab(dyes, base, surface, aim_lab)
    # a maker balances the layers so that greys stay grey: dye of each in the proportion that a neutral takes
    share = dye_for_lab(dyes, base, surface, (52.0, 0.0, 0.0))
    share = share / share.mean()
    common = rng.normal(0.0, 0.05)
    return Paper(
        sensitivity=_sensitivity(rng.normal(0.0, 1.0, 3)),
        gradient=3.6 * share * np.exp(common + rng.normal(0.0, 0.02, 3)),
        toe=0.095 * np.exp(rng.normal(0.0, 0.06, 3)),
        shoulder=0.32 * share * np.exp(rng.normal(0.0, 0.1, 3)),
        most_dye=2.35 * share * np.exp(rng.normal(0.0, 0.03, 3)),
        aim_dye=aim_dye,
        interlayer=interlayer,
        dyes=dyes,
        base=base,
        surface=surface,
    )
