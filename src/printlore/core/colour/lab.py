"""CIELAB and colour differences. The white is the perfect diffuser under D50 unless another is given."""

import numpy as np
from numpy.typing import ArrayLike

from printlore.core.colour.spectra import white_xyz
from printlore.core.colour.tables import Floats

D50 = white_xyz("d50")
D50.flags.writeable = False

_KNEE = 6.0 / 29.0
_HUE_TERMS = ((-0.17, 1, -30.0), (0.24, 2, 0.0), (0.32, 3, 6.0), (-0.20, 4, -63.0))


def lab_from_xyz(xyz: ArrayLike, white: ArrayLike = D50) -> Floats:
    """CIELAB (..., 3) of tristimulus values (..., 3) on the scale of ``white`` (3,).

    References
    ----------
    cie015
    """
    return lab_from_roots(lab_root(np.asarray(xyz, dtype=float) / np.asarray(white, dtype=float)))


def lab_root(ratio: Floats) -> Floats:
    """The f of CIELAB for X/Xn, Y/Yn or Z/Zn: cube root, with a straight line near black."""
    return np.asarray(np.where(ratio > _KNEE**3, np.cbrt(ratio), ratio / (3 * _KNEE**2) + 4.0 / 29.0))


def lab_root_slope(ratio: Floats) -> Floats:
    """Derivative of :func:`lab_root`."""
    return np.asarray(1.0 / (3.0 * np.cbrt(np.maximum(ratio, _KNEE**3)) ** 2))


def lab_from_roots(f: Floats) -> Floats:
    """CIELAB (..., 3) from f(X/Xn), f(Y/Yn), f(Z/Zn) (..., 3)."""
    lab = np.empty_like(f)
    lab[..., 0] = 116.0 * f[..., 1] - 16.0
    lab[..., 1] = 500.0 * (f[..., 0] - f[..., 1])
    lab[..., 2] = 200.0 * (f[..., 1] - f[..., 2])
    return lab


def xyz_from_lab(lab: ArrayLike) -> Floats:
    """Tristimulus values (..., 3) of CIELAB (..., 3), on the scale of ``D50``. See cie015."""
    lab = np.asarray(lab, dtype=float)
    f = np.empty_like(lab)
    f[..., 1] = (lab[..., 0] + 16.0) / 116.0
    f[..., 0] = f[..., 1] + lab[..., 1] / 500.0
    f[..., 2] = f[..., 1] - lab[..., 2] / 200.0
    ratio = np.where(f > _KNEE, f**3, 3 * _KNEE**2 * (f - 4.0 / 29.0))
    return np.asarray(ratio * D50)


def delta_e_76(lab_1: ArrayLike, lab_2: ArrayLike) -> Floats:
    """Distance (...) of CIELAB (..., 3) and (..., 3), 1976. See cie015."""
    difference = np.asarray(lab_1, dtype=float) - np.asarray(lab_2, dtype=float)
    return np.asarray(np.sqrt(np.einsum("...i,...i->...", difference, difference)))


def delta_e_2000(lab_1: ArrayLike, lab_2: ArrayLike) -> Floats:
    """CIEDE2000 colour difference, all three weights 1.

    Parameters
    ----------
    lab_1, lab_2 : (..., 3) CIELAB, shapes that broadcast

    Returns
    -------
    (...) array, not below 0

    References
    ----------
    sharma2005
    """
    L1, a1, b1 = np.moveaxis(np.asarray(lab_1, dtype=float), -1, 0)
    L2, a2, b2 = np.moveaxis(np.asarray(lab_2, dtype=float), -1, 0)

    c7 = ((np.hypot(a1, b1) + np.hypot(a2, b2)) / 2) ** 7
    stretch = 1.5 - 0.5 * np.sqrt(c7 / (c7 + 25.0**7))
    a1, a2 = a1 * stretch, a2 * stretch
    C1, C2 = np.hypot(a1, b1), np.hypot(a2, b2)
    h1, h2 = np.arctan2(b1, a1) % (2 * np.pi), np.arctan2(b2, a2) % (2 * np.pi)

    coloured = C1 * C2 != 0
    turn = h2 - h1
    far = np.abs(turn) > np.pi
    turn = np.where(coloured, turn - np.where(far, np.copysign(2 * np.pi, turn), 0.0), 0.0)
    dL, dC, dH = L2 - L1, C2 - C1, 2 * np.sqrt(C1 * C2) * np.sin(turn / 2)

    C = (C1 + C2) / 2
    total = h1 + h2
    mean = np.where(far, np.where(total < 2 * np.pi, total / 2 + np.pi, total / 2 - np.pi), total / 2)
    h = np.where(coloured, mean, total)
    T = np.ones_like(h)
    for amount, times, phase in _HUE_TERMS:
        T = T + amount * np.cos(times * h + np.radians(phase))
    L50 = ((L1 + L2) / 2 - 50.0) ** 2
    S_L = 1 + 0.015 * L50 / np.sqrt(20.0 + L50)
    S_C = 1 + 0.045 * C
    S_H = 1 + 0.015 * C * T
    C7 = C**7
    swing = np.radians(60.0 * np.exp(-(((np.degrees(h) - 275.0) / 25.0) ** 2)))
    R_T = -2 * np.sqrt(C7 / (C7 + 25.0**7)) * np.sin(swing)
    lightness, chroma, hue = dL / S_L, dC / S_C, dH / S_H
    return np.asarray(np.sqrt(np.maximum(lightness**2 + chroma**2 + hue**2 + R_T * chroma * hue, 0.0)))
