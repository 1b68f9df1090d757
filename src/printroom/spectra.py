"""Wavelengths, standard tables and the shapes that the room's spectra are drawn from.

Every spectrum of the room is an array of 81 samples, 380 to 780 nm each 5 nm. The shapes of dyes, filters and
sensitivities are textbook-like and invented here, from memory; only the observer, D50 and status A are standard tables.
"""

from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def _table() -> Floats:
    text = files("printroom").joinpath("standard_tables.csv").read_text(encoding="utf-8")
    rows = [line for line in text.splitlines() if not line.startswith("#")][1:]
    return np.array([[float(cell) for cell in row.split(",")] for row in rows])


_TABLE = _table()

WAVELENGTHS: Floats = _TABLE[:, 0]
"""(81,) [nm]."""

_D50 = _TABLE[:, 4]
_XYZ = _TABLE[:, 1:4] * _D50[:, None] / (_TABLE[:, 2] @ _D50)
_STATUS_A = 10.0 ** (_TABLE[:, 5:8] - 5.0)
WHITE: Floats = _XYZ.sum(axis=0)
"""(3,) XYZ of the perfect diffuser under D50, 2 degrees, Y = 1."""

PRINT_WEIGHTS: Floats = np.hstack([_STATUS_A / _STATUS_A.sum(axis=0), _XYZ / WHITE])
"""(81, 6): reflectance times this gives status A reflectances (red, green, blue), then X/Xn, Y/Yn, Z/Zn."""


def density_and_lab(reflectance: Floats) -> tuple[Floats, Floats]:
    """Status A densities (..., 3) and Lab (..., 3; D50, 2 degrees) of spectral reflectances (..., 81)."""
    weighted = reflectance @ PRINT_WEIGHTS
    ratio = weighted[..., 3:]
    f = np.where(ratio > 216 / 24389, np.cbrt(ratio), (24389 / 27 * ratio + 16) / 116)
    lab = np.empty_like(ratio)
    lab[..., 0] = 116 * f[..., 1] - 16
    lab[..., 1] = 500 * (f[..., 0] - f[..., 1])
    lab[..., 2] = 200 * (f[..., 1] - f[..., 2])
    return -np.log10(weighted[..., :3]), lab


def bell(peak: float, left: float, right: float | None = None) -> Floats:
    """Gaussian in wavelength, height 1, with its own width [nm] on either side of the peak [nm]."""
    width = np.where(peak > WAVELENGTHS, left, left if right is None else right)
    return np.exp(-0.5 * ((WAVELENGTHS - peak) / width) ** 2)


def wavenumber_bell(peak: float, width: float) -> Floats:
    """Gaussian in wavenumber, height 1; ``width`` [nm] is its standard deviation at the peak [nm]."""
    wavenumber = 1e7 / WAVELENGTHS
    return np.exp(-0.5 * ((wavenumber - 1e7 / peak) / (1e7 * width / peak**2)) ** 2)


def edge(at: float, width: float) -> Floats:
    """Smooth step from 0 below ``at`` [nm] to 1 above."""
    return 1.0 / (1.0 + np.exp(-(WAVELENGTHS - at) / width))


def black_body(temperature: float) -> Floats:
    """Relative spectral power of a black body [K], 1 at 560 nm."""
    c2 = 1.4388e7
    power = WAVELENGTHS**-5 / np.expm1(c2 / (WAVELENGTHS * temperature))
    return np.asarray(power / power[np.searchsorted(WAVELENGTHS, 560.0)])
