"""From a spectrum to three numbers: CIE tristimulus values and ISO 5-3 densities.

Every quantity here is a weighted sum over wavelength, so each has one table of weights that is
brought to the caller's wavelengths once: the spectrum is taken as a cubic through the four nearest
samples (Lagrange, as in the usual practice for 10 nm data) and held constant beyond its ends.
"""

import numpy as np
from numpy.typing import ArrayLike

from printlore.core.colour.tables import Floats, read_rows, read_table
from printlore.core.figure import Figure
from printlore.errors import ValueOutOfRange

HERE = "printlore.core.colour"
STATUS_FLOOR_LOG10 = -3.0
"""Spectral products are followed along their slopes down to 8 decades below the peak (log10 5.000)."""


def checked_wavelengths(wavelength: ArrayLike) -> Floats:
    """Wavelengths [nm] as an array, rising and finite.

    Raises
    ------
    ValueOutOfRange
        If there are fewer than two, or they do not rise.
    """
    grid = np.asarray(wavelength, dtype=float)
    if grid.ndim != 1 or grid.size < 2 or not np.all(np.isfinite(grid)) or not np.all(np.diff(grid) > 0):
        raise ValueOutOfRange("The wavelengths of a spectrum must be at least two and rise; give them in nm, in order.")
    return grid


def weights_at(wavelength: ArrayLike, table_wavelength: Floats, table: Floats) -> Floats:
    """Weights that give the same sum as ``table`` when used on samples at ``wavelength``.

    Parameters
    ----------
    wavelength : (n,) [nm]
    table_wavelength : (m,) [nm]
    table : (m, k)

    Returns
    -------
    (n, k) array
    """
    grid = checked_wavelengths(wavelength)
    points = min(4, grid.size)
    at = np.clip(table_wavelength, grid[0], grid[-1])
    first = np.clip(np.searchsorted(grid, at) - points // 2, 0, grid.size - points)
    near = first[:, None] + np.arange(points)
    x = grid[near]
    out = np.zeros((grid.size, table.shape[1]))
    for j in range(points):
        share = np.ones_like(at)
        for i in range(points):
            if i != j:
                share *= (at - x[:, i]) / (x[:, j] - x[:, i])
        np.add.at(out, near[:, j], table * share[:, None])
    return out


def xyz_weights(wavelength: ArrayLike, illuminant: str = "d50") -> Floats:
    """Weights (n, 3) of X, Y, Z for reflectance factors at these wavelengths; a perfect white has Y = 1.

    CIE 1931 observer, 5 nm sums from 380 to 780 nm.

    Parameters
    ----------
    wavelength : (n,) [nm]
    illuminant : "d50" or "a"

    References
    ----------
    cie015
    """
    table = read_table(HERE, "cie_5nm.csv")
    if illuminant not in ("d50", "a"):
        raise ValueOutOfRange(f'There is no table for illuminant "{illuminant}"; use "d50" or "a".')
    weights = np.stack([table[name] for name in ("x_bar", "y_bar", "z_bar")], axis=1) * table[illuminant][:, None]
    return weights_at(wavelength, table["wavelength_nm"], weights / weights[:, 1].sum())


def white_xyz(illuminant: str = "d50") -> Floats:
    """X, Y, Z (3,) of the perfect white under an illuminant, summed from the same tables; Y = 1."""
    return np.asarray(xyz_weights((380.0, 780.0), illuminant).sum(axis=0))


def status_products(status: str) -> tuple[Floats, Floats]:
    """ISO 5-3 spectral products as printed, with the slopes followed where the table is empty.

    Parameters
    ----------
    status : "a", "m" or "visual"

    Returns
    -------
    wavelength : (44,) [nm], 340 to 770
    products : (44, 3) red, green, blue, or (44, 1) visual; each column sums to 1

    References
    ----------
    iso5-3
    """
    table = read_table(HERE, "iso5_3_products.csv")
    wavelength = table["wavelength_nm"]
    if status == "visual":
        log10 = table["visual"][:, None]
        linear = np.where(np.isnan(log10), 0.0, 10.0 ** np.nan_to_num(log10))
        return wavelength, linear / linear.sum(axis=0)
    if status not in ("a", "m"):
        raise ValueOutOfRange(f'There is no status "{status}"; use "a" (prints), "m" (negatives) or "visual".')
    slopes = {row["product"]: row for row in read_rows(HERE, "iso5_3_slopes.csv")}
    columns = []
    for colour in ("red", "green", "blue"):
        name = f"status_{status}_{colour}"
        printed = table[name]
        below, above = (float(slopes[name][f"slope_{side}_log10_per_nm"]) for side in ("below", "above"))
        known = np.flatnonzero(~np.isnan(printed))
        first, last = known[0], known[-1]
        values = printed.copy()
        values[:first] = printed[first] + (wavelength[:first] - wavelength[first]) * below
        values[last + 1 :] = printed[last] + (wavelength[last + 1 :] - wavelength[last]) * above
        columns.append(np.where(values < STATUS_FLOOR_LOG10, 0.0, 10.0**values))
    linear = np.stack(columns, axis=1)
    return wavelength, linear / linear.sum(axis=0)


def status_weights(wavelength: ArrayLike, status: str) -> Floats:
    """Weights (n, 3) or (n, 1) of the ISO 5-3 densities for samples at these wavelengths [nm]."""
    table_wavelength, products = status_products(status)
    return weights_at(wavelength, table_wavelength, products)


def xyz_from_reflectance(wavelength: ArrayLike, reflectance: ArrayLike, illuminant: str = "d50") -> Floats:
    """Tristimulus values of a reflecting surface, CIE 1931 observer.

    Parameters
    ----------
    wavelength : (n,) [nm]
    reflectance : (..., n) reflectance factor [1]
    illuminant : "d50" or "a"

    Returns
    -------
    (..., 3) X, Y, Z; the perfect white has Y = 1

    References
    ----------
    cie015
    """
    return np.asarray(np.asarray(reflectance, dtype=float) @ xyz_weights(wavelength, illuminant))


def status_density(wavelength: ArrayLike, factor: ArrayLike, status: str) -> Floats:
    """ISO 5-3 density of a reflectance or transmittance spectrum.

    Parameters
    ----------
    wavelength : (n,) [nm]
    factor : (..., n) reflectance factor or transmittance [1]
    status : "a", "m" or "visual"

    Returns
    -------
    (..., 3) red, green, blue density [1]; (..., 1) for visual

    Raises
    ------
    ValueOutOfRange
        If no light is left in a channel.

    References
    ----------
    iso5-3
    """
    light = np.asarray(np.asarray(factor, dtype=float) @ status_weights(wavelength, status))
    bad = np.argwhere(~(light > 0)).tolist()
    if bad:
        raise ValueOutOfRange(
            f"Spectrum {bad[0][:-1]} leaves {Figure(light[tuple(bad[0])]):g} of the light in channel {bad[0][-1]}; "
            "density needs a value above 0. Check the black level of the measurement."
        )
    return np.asarray(-np.log10(light))


def status_a_density(wavelength: ArrayLike, reflectance: ArrayLike) -> Floats:
    """Status A density (..., 3) of reflectance spectra (..., n) at ``wavelength`` (n,) [nm]: prints. See iso5-3."""
    return status_density(wavelength, reflectance, "a")
