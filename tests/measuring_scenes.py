"""Small synthetic scans whose densities are known, with the faults of real ones. Invented."""

import numpy as np
from scipy import ndimage

from printlore.core.measure.scan import Scan

WEDGE = tuple(float(d) for d in np.linspace(0.06, 2.0, 14).round(3))


def strip_densities(count, first=(0.55, 0.60, 0.50), step=(0.13, 0.15, 0.11)):
    return np.array(first) + np.arange(count)[:, None] * np.array(step)


def density_picture(steps, *, rows=420, columns=640, background=0.07, wedge=WEDGE, picture=None):
    """(rows, columns, 3) densities: a wedge along the top, a strip below it."""
    density = np.full((rows, columns, 3), background)
    left, top, pitch, height = columns // 10, rows // 16, int(0.8 * columns / len(wedge)), rows // 10
    for number, value in enumerate(wedge):
        density[top : top + height, left + number * pitch : left + (number + 1) * pitch] = value
    width = int(0.7 * columns / len(steps))
    x, y, tall = columns // 8, int(0.3 * rows), rows // 2
    for number, value in enumerate(steps):
        density[y : y + tall, x + number * width : x + (number + 1) * width] = value
    if picture is not None:
        density[y : y + tall, x : x + len(steps) * width] += picture(tall, len(steps) * width)[..., None]
    return density


def scanned(
    density, *, seed=1, gain=0.95, flare=0.003, exponent=1.0, noise=0.006, specks=25, skew=0.0, bits=16, fall=0.0
):
    """Scan of a density picture: gain, stray light, tone exponent, noise, dust, uneven light."""
    rng = np.random.default_rng(seed)
    if skew:
        density = np.stack(
            [ndimage.rotate(density[..., k], skew, reshape=False, order=1, mode="nearest") for k in range(3)], axis=-1
        )
    rows, columns = density.shape[:2]
    light = gain * 10.0**-density * (1 - fall * np.linspace(0, 1, columns)[None, :, None]) + flare
    light = light * 10.0 ** rng.normal(0, noise, light.shape) + rng.normal(0, 4e-4, light.shape)
    for _ in range(specks):
        y, x, size = rng.integers(0, rows), rng.integers(0, columns), rng.integers(1, 4)
        light[y : y + size, x : x + size] = rng.choice([0.9, 0.02])
    codes = np.clip(light, 0, 1) ** (1 / exponent) * (2**bits - 1)
    return Scan(pixels=np.rint(codes).astype(np.uint16 if bits == 16 else np.uint8), name="synthetic")
