"""CIEDE2000 (ISO/CIE 11664-6; Sharma, Wu and Dalal 2005, doi:10.1002/col.20070)."""

import numpy as np

from printroom.spectra import Floats


def ciede2000(lab_1: Floats, lab_2: Floats) -> Floats:
    """Colour difference (...) of Lab (..., 3) pairs, all weights 1."""
    l1, a1, b1 = np.moveaxis(np.asarray(lab_1, dtype=float), -1, 0)
    l2, a2, b2 = np.moveaxis(np.asarray(lab_2, dtype=float), -1, 0)
    chroma_7 = (0.5 * (np.hypot(a1, b1) + np.hypot(a2, b2))) ** 7
    stretch = 1.5 - 0.5 * np.sqrt(chroma_7 / (chroma_7 + 25.0**7))
    a1, a2 = a1 * stretch, a2 * stretch
    c1, c2 = np.hypot(a1, b1), np.hypot(a2, b2)
    h1, h2 = np.degrees(np.arctan2(b1, a1)) % 360, np.degrees(np.arctan2(b2, a2)) % 360
    coloured = c1 * c2 != 0
    turn = np.where(coloured, (h2 - h1 + 180) % 360 - 180, 0.0)
    turn = np.where(coloured & (h2 - h1 == 180), 180.0, turn)
    delta_hue = 2 * np.sqrt(c1 * c2) * np.sin(np.radians(turn / 2))
    lightness, chroma = 0.5 * (l1 + l2), 0.5 * (c1 + c2)
    total, apart = h1 + h2, np.abs(h1 - h2) > 180
    hue = np.where(coloured, np.where(apart, (total + np.where(total < 360, 360, -360)) / 2, total / 2), total)
    weight = (
        1
        - 0.17 * np.cos(np.radians(hue - 30))
        + 0.24 * np.cos(np.radians(2 * hue))
        + 0.32 * np.cos(np.radians(3 * hue + 6))
        - 0.20 * np.cos(np.radians(4 * hue - 63))
    )
    offset = (lightness - 50) ** 2
    term_l = (l2 - l1) / (1 + 0.015 * offset / np.sqrt(20 + offset))
    term_c = (c2 - c1) / (1 + 0.045 * chroma)
    term_h = delta_hue / (1 + 0.015 * chroma * weight)
    rotation = (
        -2 * np.sqrt(chroma**7 / (chroma**7 + 25.0**7)) * np.sin(np.radians(60 * np.exp(-(((hue - 275) / 25) ** 2))))
    )
    return np.asarray(np.sqrt(term_l**2 + term_c**2 + term_h**2 + rotation * term_c * term_h))
