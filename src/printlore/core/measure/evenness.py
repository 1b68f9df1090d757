"""Uneven light of a scanner or camera: taken from a blank sheet.

The field is kept as smooth curves of log light over the picture, so a blank scanned once at a low
resolution serves every later scan of the same area at the same settings.
"""

from dataclasses import dataclass

import numpy as np

from printlore.core.flags import Flag
from printlore.core.measure.scan import Floats, Scan
from printlore.core.measure.scanner import ScannerCurves
from printlore.errors import ValueOutOfRange

_DEGREE = 4
_SIDE = 200
_ROUGH = 0.01
"""[log10 light] Scatter of block means about the field; a blank sheet stays well below."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Evenness:
    """Smooth field of a sheet's own light over the picture.

    Attributes
    ----------
    coefficients : tuple of three tuples of float
        Of Legendre products up to a total degree, per channel, for log10 of light over x and y from -1 to 1.
    degree : int
    residual : float
        Standard deviation of the sheet about the field, in log10 of light.
    flags : tuple of Flag
    """

    coefficients: tuple[tuple[float, ...], tuple[float, ...], tuple[float, ...]]
    degree: int
    residual: float
    flags: tuple[Flag, ...] = ()

    def light(self, x: Floats, y: Floats) -> Floats:
        """Light (..., 3) of the sheet at places from 0 to 1 across and down the picture."""
        return np.asarray(10.0 ** (_terms(x, y, self.degree) @ np.array(self.coefficients).T))

    def density_offset(self, curves: ScannerCurves, centre: tuple[float, float], size: tuple[int, int]) -> Floats:
        """Density (3,) that uneven light adds at a place [px] of a scan of this size (columns, rows)."""
        x, y = np.array([centre[0] / size[0], 0.5]), np.array([centre[1] / size[1], 0.5])
        here, middle = curves.density(self.light(x, y))
        return np.asarray(here - middle)

    @property
    def range(self) -> float:
        """Largest difference over the picture, in log10 of light."""
        x, y = np.meshgrid(np.linspace(0, 1, 21), np.linspace(0, 1, 21))
        log_light = np.log10(self.light(x.ravel(), y.ravel()))
        return float(np.ptp(log_light, axis=0).max())


def _terms(x: Floats, y: Floats, degree: int) -> Floats:
    across = np.polynomial.legendre.legvander(2 * np.asarray(x, float) - 1, degree)
    down = np.polynomial.legendre.legvander(2 * np.asarray(y, float) - 1, degree)
    pairs = [(i, j) for i in range(degree + 1) for j in range(degree + 1 - i)]
    return np.stack([across[..., i] * down[..., j] for i, j in pairs], axis=-1)


def _fitted(x: Floats, y: Floats, log_light: Floats, degree: int) -> tuple[Floats, float, float]:
    """Coefficients (terms, 3), residual sd, and share left out, by repeated rejection of dust."""
    terms = _terms(x, y, degree)
    keep = np.ones(len(x), bool)
    coefficients: Floats = np.zeros((terms.shape[1], 3))
    left = log_light
    for _ in range(5):
        coefficients = np.asarray(np.linalg.lstsq(terms[keep], log_light[keep], rcond=None)[0], dtype=float)
        left = log_light - terms @ coefficients
        sigma = np.maximum(1.4826 * np.median(np.abs(left[keep]), axis=0), 2e-4)
        keep = np.all(np.abs(left) < 4 * sigma, axis=1)
    return coefficients, float(left[keep].std(axis=0).max()), float(1 - keep.mean())


def level_from_blank(blank: Scan) -> Evenness:
    """Field of light from the scan of a blank sheet that fills the picture.

    Raises
    ------
    ValueOutOfRange
        If the scan is clipped, or is not of a blank sheet.
    """
    light, _ = blank.reduced(_SIDE)
    sample = blank.pixels[:: max(1, blank.size[1] // 300), :: max(1, blank.size[0] // 300)]
    clipped = float(np.mean((sample == blank.levels - 1).any(axis=2)))
    if clipped > 0.01:
        raise ValueOutOfRange(
            f'Blank sheet "{blank.name}": {clipped:.0%} of it is clipped at white, so its evenness is unknown. '
            "Scan again with less exposure, or automatic exposure off."
        )
    rows, columns = light.shape[:2]
    y, x = np.mgrid[0:rows, 0:columns]
    coefficients, residual, left_out = _fitted(
        ((x + 0.5) / columns).ravel(),
        ((y + 0.5) / rows).ravel(),
        np.log10(np.maximum(light, 1e-5)).astype(float).reshape(-1, 3),
        _DEGREE,
    )
    if left_out > 0.4 or residual > _ROUGH:
        raise ValueOutOfRange(
            f'Scan "{blank.name}" is not a blank sheet: it does not follow a smooth field. '
            "Scan an unexposed, processed sheet that fills the bed."
        )
    red, green, blue = (tuple(float(c) for c in channel) for channel in coefficients.T)
    return Evenness(
        coefficients=(red, green, blue),
        degree=_DEGREE,
        residual=residual,
        flags=(Flag.DUSTY,) if left_out > 0.1 else (),
    )
