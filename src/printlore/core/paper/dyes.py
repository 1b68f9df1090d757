"""What a paper's three dyes look like: dye amounts, status A densities and Lab of a print.

The spectral model is Beer's law for three image dyes over the paper's base, and a little light that the
surface sends back unchanged:

    R(w) = surface + (1 - surface) * 10 ** -(base(w) + cyan*c(w) + magenta*m(w) + yellow*y(w))

Densities are status A (red, green, blue) with the base; Lab is D50, 2 degrees. Dye amounts are
(cyan, magenta, yellow), in units of the amount whose peak density is near 1.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache
from itertools import combinations_with_replacement

import numpy as np
from numpy.typing import ArrayLike

from printlore.core.colour.lab import D50, delta_e_76, lab_from_roots, lab_root, lab_root_slope, xyz_from_lab
from printlore.core.colour.spectra import checked_wavelengths, status_weights, xyz_weights
from printlore.core.colour.tables import Floats, read_table
from printlore.core.figure import Figure
from printlore.core.paper.facts import is_paper_b
from printlore.errors import ValueOutOfRange

HERE = "printlore.core.paper"

LEAST_AMOUNT, MOST_AMOUNT = -0.3, 4.0
"""Amounts that the inverses search; a little below 0 so that noise on white paper does not bend."""

MAP_DEGREE = 6
MAP_LEAST, MAP_MOST, MAP_SPREAD = -0.1, 2.4, 1.0
"""Densities, and the largest difference between channels, for which the fitted map stands in for the spectral sum."""

_LN10 = float(np.log(10.0))
_TERMS = [t for order in range(MAP_DEGREE + 1) for t in combinations_with_replacement(range(3), order)]
_TERM_AT = {term: column for column, term in enumerate(_TERMS)}
_ORDERS = [
    (
        np.array([column for column, term in enumerate(_TERMS) if len(term) == order]),
        np.array([_TERM_AT[term[:-1]] for term in _TERMS if len(term) == order]),
        np.array([term[-1] for term in _TERMS if len(term) == order]),
    )
    for order in range(1, MAP_DEGREE + 1)
]
"""For each order: where its terms are, of which term of the order below each is a multiple, and by which density."""


def _powers(density: Floats) -> Floats:
    """All products of densities (m, 3) up to the degree of the map: (m, terms), scaled to about -1 to 1."""
    scaled = (density / 1.2 - 1.0).T
    out = np.empty((len(_TERMS), density.shape[0]))
    out[0] = 1.0
    for terms, parents, factors in _ORDERS:
        np.multiply(out[parents], scaled[factors], out=out[terms[0] : terms[-1] + 1])
    return out.T


def _slopes(coefficients: Floats) -> Floats:
    """Coefficients (terms, k, 3) of the derivative, by density, of the map with coefficients (terms, k)."""
    out = np.zeros((*coefficients.shape, 3))
    for column, term in enumerate(_TERMS):
        for channel in set(term):
            rest = list(term)
            rest.remove(channel)
            out[_TERM_AT[tuple(rest)], :, channel] += term.count(channel) * coefficients[column] / 1.2
    return out


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DyeModel:
    """Dyes, base and surface of one paper family.

    Attributes
    ----------
    name : str
        What to call it.
    wavelength : (n,) [nm]
        Rising; dye spectra are held constant beyond the ends.
    dyes : (n, 3)
        Spectral density of unit amounts of cyan, magenta and yellow dye [1].
    base : (n,)
        Spectral density of unexposed, processed paper, surface apart [1].
    surface : float
        Reflectance factor of the surface [1], 0 to 0.1. About 0.001 for gloss under 45:0 (from memory).

    Raises
    ------
    ValueOutOfRange
        If shapes do not agree, a spectrum is not finite, or the surface is out of range.

    References
    ----------
    hunt2004
    """

    name: str
    wavelength: Floats
    dyes: Floats
    base: Floats
    surface: float = 0.001
    _weights: Floats = field(init=False, repr=False)
    _factor: Floats = field(init=False, repr=False)
    _map: Floats = field(init=False, repr=False)
    _map_slopes: Floats = field(init=False, repr=False)

    def __post_init__(self) -> None:
        grid = checked_wavelengths(self.wavelength)
        if self.dyes.shape != (grid.size, 3) or self.base.shape != (grid.size,):
            raise ValueOutOfRange(
                f'Paper "{self.name}": {grid.size} wavelengths, dyes {self.dyes.shape}, base {self.base.shape}; '
                f"give ({grid.size}, 3) and ({grid.size},)."
            )
        if not (np.isfinite(self.dyes).all() and np.isfinite(self.base).all()):
            raise ValueOutOfRange(f'Paper "{self.name}": a dye or base density is not a number; fill the gap.')
        if not 0 <= self.surface <= 0.1:
            raise ValueOutOfRange(
                f'Paper "{self.name}": surface reflectance is {Figure(self.surface):g}; give 0 to 0.1.'
            )
        store = object.__setattr__
        store(self, "_factor", (1 - self.surface) * 10.0**-self.base)
        # Columns: status A red, green, blue, then X/Xn, Y/Yn, Z/Zn.
        store(self, "_weights", np.hstack([status_weights(grid, "a"), xyz_weights(grid) / D50]))
        coefficients = self._fitted_map()
        store(self, "_map", coefficients)
        store(self, "_map_slopes", _slopes(coefficients).reshape(len(_TERMS), 9))

    def reflectance_from_dyes(self, amounts: ArrayLike) -> Floats:
        """Reflectance factor (..., n) of dye amounts (..., 3)."""
        density = np.asarray(amounts, dtype=float) @ self.dyes.T
        return np.asarray(self.surface + self._factor * np.exp(-_LN10 * density))

    def density_from_dyes(self, amounts: ArrayLike) -> Floats:
        """Status A density (..., 3) of dye amounts (..., 3)."""
        return np.asarray(-np.log10(self.reflectance_from_dyes(amounts) @ self._weights[:, :3]))

    def lab_from_dyes(self, amounts: ArrayLike) -> Floats:
        """Lab (..., 3) of dye amounts (..., 3)."""
        return lab_from_roots(lab_root(self.reflectance_from_dyes(amounts) @ self._weights[:, 3:]))

    def density_jacobian_of_dyes(self, amounts: ArrayLike) -> Floats:
        """Change of density (..., 3 densities, 3 dyes) with dye amounts (..., 3)."""
        return self._log_jacobian(np.asarray(amounts, dtype=float), slice(0, 3))[1]

    def dyes_from_density(self, density: ArrayLike) -> Floats:
        """Dye amounts (..., 3) of status A densities (..., 3).

        A density that these dyes cannot give (below the base, beyond the surface) gets the amounts at the
        nearest end of the range; :meth:`density_from_dyes` of the answer says what they do give.
        """
        wanted = _finite(density)
        return self._solve(wanted, slice(0, 3))

    def density_from_lab(self, lab: ArrayLike) -> Floats:
        """Status A density (..., 3) of a print of this Lab (..., 3).

        Raises
        ------
        ValueOutOfRange
            If the paper cannot show that colour within 0.1; names the nearest it can.
        """
        lab = _finite(lab)
        xyz = np.maximum(xyz_from_lab(lab) / D50, 1e-6)
        amounts = self._solve(-np.log10(xyz), slice(3, 6), least=0.0)
        shown = self.lab_from_dyes(amounts)
        off = delta_e_76(shown, lab)
        if np.any(off > 0.1):
            worst = np.unravel_index(int(np.argmax(off)), off.shape)
            raise ValueOutOfRange(
                f"{self.name} cannot show Lab {_words(lab[worst])}; near it, it can show {_words(shown[worst])}. "
                "Choose a reference tone that the paper can hold."
            )
        return self.density_from_dyes(amounts)

    def lab_from_density(self, density: ArrayLike, *, exact: bool = False) -> Floats:
        """Lab (..., 3) of status A densities (..., 3).

        Parameters
        ----------
        exact : bool
            Go through the spectrum for every colour. Otherwise a fitted polynomial stands in for it where channels
            differ by less than 1.0: within 0.02 near greys of L* 25 to 85, within 0.1 elsewhere.
        """
        return self._by_density(
            _finite(density),
            lambda rows: lab_from_roots(lab_root((_powers(rows) @ self._map) ** 3)),
            lambda rows: self.lab_from_dyes(self._solve(rows, slice(0, 3))),
            (3,),
            exact,
        )

    def lab_jacobian_of_density(self, density: ArrayLike, *, exact: bool = False) -> Floats:
        """Change of Lab (..., 3 Lab, 3 densities) with status A densities (..., 3); ``exact`` as above."""
        return self._by_density(_finite(density), self._mapped_jacobian, self._spectral_jacobian, (3, 3), exact)

    def _by_density(
        self,
        density: Floats,
        mapped: Callable[[Floats], Floats],
        spectral: Callable[[Floats], Floats],
        shape: tuple[int, ...],
        exact: bool,
    ) -> Floats:
        rows = density.reshape(-1, 3)
        low, high = rows.min(axis=1), rows.max(axis=1)
        fits = (low >= MAP_LEAST) & (high <= MAP_MOST) & (high - low <= MAP_SPREAD) & (not exact)
        if fits.all():
            out = mapped(rows)
        else:
            out = np.empty((rows.shape[0], *shape))
            out[fits] = mapped(rows[fits])
            out[~fits] = spectral(rows[~fits])
        return out.reshape(*density.shape[:-1], *shape)

    def _mapped_jacobian(self, density: Floats) -> Floats:
        powers = _powers(density)
        root = powers @ self._map
        slope = (powers @ self._map_slopes).reshape(-1, 3, 3)
        outer = lab_root_slope(root**3) * 3 * root**2
        return _lab_slope(outer[:, :, None] * slope)

    def _spectral_jacobian(self, density: Floats) -> Floats:
        amounts = self._solve(density, slice(0, 3))
        ratio, log_slope = self._log_jacobian(amounts, slice(3, 6))
        by_dye = _lab_slope((-_LN10 * ratio * lab_root_slope(ratio))[..., None] * log_slope)
        return np.asarray(by_dye @ np.linalg.inv(self._log_jacobian(amounts, slice(0, 3))[1]))

    def _log_jacobian(self, amounts: Floats, columns: slice) -> tuple[Floats, Floats]:
        """Weighted light (..., 3) and the slope (..., 3, 3) of its -log10 by dye amount."""
        weights = self._weights[:, columns]
        factor = self.reflectance_from_dyes(amounts)
        light = factor @ weights
        pairs = (weights[:, :, None] * self.dyes[:, None, :]).reshape(-1, 9)
        slope = ((factor - self.surface) @ pairs).reshape(*light.shape, 3) / light[..., None]
        return light, slope

    def _solve(self, wanted: Floats, columns: slice, least: float = LEAST_AMOUNT) -> Floats:
        """Dye amounts (..., 3) from ``least`` up whose -log10 of weighted light is ``wanted``, by Newton steps."""
        goal = wanted.reshape(-1, 3)
        amounts = np.zeros_like(goal)
        open_rows = np.arange(goal.shape[0])
        for _ in range(40):
            here = amounts[open_rows]
            light, slope = self._log_jacobian(here, columns)
            step = np.linalg.solve(slope, (goal[open_rows] + np.log10(light))[..., None])[..., 0]
            next_amounts = np.clip(here + np.clip(step, -1.0, 1.0), least, MOST_AMOUNT)
            amounts[open_rows] = next_amounts
            open_rows = open_rows[np.abs(next_amounts - here).max(axis=1) > 1e-12]
            if open_rows.size == 0:
                break
        return amounts.reshape(wanted.shape)

    def _fitted_map(self) -> Floats:
        """Polynomial coefficients (terms, 3) of the cube roots of X/Xn, Y/Yn, Z/Zn by density, best near grey."""
        steps = np.linspace(-0.15, 2.5, 11)
        amounts = np.stack(np.meshgrid(steps, steps, steps, indexing="ij"), axis=-1).reshape(-1, 3)
        light = self.reflectance_from_dyes(amounts) @ self._weights
        density = -np.log10(light[:, :3])
        weight = 1.0 / (1.0 + (np.ptp(density, axis=1) / 0.5) ** 2) ** 2
        powers = _powers(density) * weight[:, None]
        roots = np.cbrt(light[:, 3:]) * weight[:, None]
        return np.asarray(np.linalg.solve(powers.T @ powers, powers.T @ roots))


def _lab_slope(root_slope: Floats) -> Floats:
    """Slope of Lab (m, 3, 3) from the slope (m, 3, 3) of f(X/Xn), f(Y/Yn), f(Z/Zn)."""
    out = np.empty_like(root_slope)
    out[:, 0] = 116.0 * root_slope[:, 1]
    out[:, 1] = 500.0 * (root_slope[:, 0] - root_slope[:, 1])
    out[:, 2] = 200.0 * (root_slope[:, 1] - root_slope[:, 2])
    return out


def _finite(values: ArrayLike) -> Floats:
    array = np.asarray(values, dtype=float)
    if array.shape[-1:] != (3,) or not np.isfinite(array).all():
        raise ValueOutOfRange(
            "A colour must be three finite numbers (red, green, blue density, or L*, a*, b*); one is missing or not a "
            "number. Read the patch again, or leave it out."
        )
    return array


def _words(lab: Floats) -> str:
    return "(" + ", ".join(f"{Figure(value):.1f}" for value in lab) + ")"


def paper_from_tables(name: str, table: str, base_density: tuple[float, float, float], surface: float) -> DyeModel:
    """Dye model from a packaged dye table and the status A densities (red, green, blue) of unexposed paper."""
    columns = read_table(HERE, table)
    fine = columns["wavelength_nm"]
    grid = np.arange(400.0, 701.0, 5.0)
    known = {dye: ~np.isnan(columns[dye]) for dye in ("cyan", "magenta", "yellow")}
    dyes = np.stack([np.interp(grid, fine[rows], columns[dye][rows]) for dye, rows in known.items()], axis=1)
    wanted = np.array(base_density)
    weights = status_weights(grid, "a")
    knots = wanted
    for _ in range(4):
        # Straight lines between the status A peaks, moved until the base reads as stated.
        base = -np.log10((10.0 ** -np.interp(grid, (440.0, 530.0, 620.0), knots[::-1]) - surface) / (1 - surface))
        knots = knots + wanted + np.log10((surface + (1 - surface) * 10.0**-base) @ weights)
    return DyeModel(name=name, wavelength=grid, dyes=dyes, base=base, surface=surface)


def base_density_of_generic_paper() -> tuple[float, float, float]:
    """Status A density (red, green, blue) of unexposed generic paper A: the foot of its published curves."""
    curves = read_table(HERE, "paper_a_curves.csv")
    foot = curves["log_exposure"] < -2.3
    red, green, blue = (float(np.median(curves[name][foot])) for name in ("red", "green", "blue"))
    return red, green, blue


def paper_named(dye_model: str) -> DyeModel:
    """Dye model by the name that a paper's record gives: "b" or "generic b" is the second one, all else the first."""
    return generic_paper("b" if is_paper_b(dye_model) else "a")


@cache
def generic_paper(which: str = "a") -> DyeModel:
    """Dye model of an openly sourced generic paper.

    Parameters
    ----------
    which : "a" or "b"
        Both digitised from published data sheets; b is traced from a coarser picture and, having no published
        curves of its own, borrows the base of a. The surface (0.001) is from memory.

    References
    ----------
    filmscan-paper-a, filmscan-paper-b
    """
    if which not in ("a", "b"):
        raise ValueOutOfRange(f'There is no generic paper "{which}"; there are "a" and "b".')
    return paper_from_tables(
        f"Generic paper {which.upper()}", f"paper_{which}_dyes.csv", base_density_of_generic_paper(), 0.001
    )
