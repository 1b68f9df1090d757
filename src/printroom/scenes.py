"""Invented pictures: what was in front of the camera, made by rule from a seed.

A scene is log10 exposure of the film relative to its grey card (rows, columns, 3), with flat patches at known places.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

from printroom.spectra import Floats

Box = tuple[int, int, int, int]
"""(left, top, right, bottom) in pixels; right and bottom outside."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scene:
    """One invented picture.

    Attributes
    ----------
    log_exposure : (rows, columns, 3) array
        Relative to the grey card [log10].
    patches : dict of name to Box
        Flat parts; "grey card" is the reference patch and is 0.
    """

    log_exposure: Floats
    patches: dict[str, Box]


def _box(rows: int, columns: int, left: float, top: float, right: float, bottom: float) -> Box:
    return round(left * columns), round(top * rows), round(right * columns), round(bottom * rows)


def harbour(rows: int, columns: int, seed: int = 0) -> Scene:
    """A harbour stair: sky, sea, a white wall with a door, stone steps, a boat and a grey card on the lowest step."""
    rng = np.random.default_rng([seed, 77])
    y = np.linspace(0, 1, rows)[:, None]
    x = np.linspace(0, 1, columns)[None, :]
    picture = np.zeros((rows, columns, 3))

    def paint(where: NDArray[np.bool_], tone: tuple[float, float, float]) -> None:
        picture[where] = tone

    def grain(size: float, amount: float) -> Floats:
        noise = gaussian_filter(rng.standard_normal((rows, columns)), size * min(rows, columns), mode="wrap")
        return np.asarray(amount * noise / max(float(noise.std()), 1e-12))

    horizon = 0.36 + 0.06 * rng.uniform()
    clouds = np.clip(grain(0.06, 1.0) * np.exp(-(((y - 0.15) / 0.16) ** 2)), 0, None)
    height = 1 - y
    sky = np.stack(
        [0.30 - 0.25 * height + 0.22 * clouds, 0.42 - 0.12 * height + 0.14 * clouds, 0.55 + 0.04 * clouds], -1
    )
    picture[:] = np.minimum(sky, 0.72)
    waves = gaussian_filter(grain(0.004, 0.25), (0, 0.03 * columns), mode="wrap")
    sea = np.stack([-0.35 + waves, -0.10 + waves, 0.02 + 0.8 * waves], -1)
    picture = np.where((y > horizon)[..., None] & np.ones((1, columns, 1), bool), sea, picture)
    wall = (x > 0.58 + 0.04 * y) & (y > 0.10) & (y < 0.80)
    plaster = grain(0.01, 0.012)
    picture = np.where(wall[..., None], np.stack([0.58 + plaster, 0.57 + plaster, 0.53 + plaster], -1), picture)
    paint((x > 0.70) & (x < 0.80) & (y > 0.38) & (y < 0.80), (-0.10, -0.62, -0.70))
    paint((x > 0.86) & (x < 0.95) & (y > 0.24) & (y < 0.40), (-0.75, -0.70, -0.62))
    for step in range(5):
        top = 0.70 + 0.06 * step
        shade = -0.12 - 0.10 * step + grain(0.012, 0.03)
        stone = np.stack([shade + 0.03, shade, shade - 0.05], -1)
        tread = (y > top) & (y < top + 0.06) & (x > 0.40 - 0.05 * step)
        picture = np.where(tread[..., None], stone, picture)
        paint(tread & (y > top + 0.045), (-0.85, -0.85, -0.80))
    hull = (((x - 0.22) / 0.15) ** 2 + ((y - 0.60) / 0.05) ** 2 < 1) & (y > 0.585)
    paint(hull, (0.05, -0.35, -0.55))
    paint((np.abs(x - 0.22) < 0.004) & (y > 0.40) & (y < 0.59), (-0.5, -0.55, -0.6))
    paint((x > 0.225) & (x < 0.225 + 0.6 * (y - 0.40)) & (y > 0.40) & (y < 0.56), (0.62, 0.60, 0.52))

    flats = {
        "grey card": ((0.46, 0.86, 0.56, 0.94), (0.0, 0.0, 0.0)),
        "light card": ((0.57, 0.86, 0.63, 0.94), (0.50, 0.50, 0.50)),
        "dark card": ((0.39, 0.86, 0.45, 0.94), (-0.55, -0.55, -0.55)),
        "skin": ((0.64, 0.86, 0.70, 0.94), (0.26, 0.08, -0.02)),
        "door": ((0.715, 0.45, 0.785, 0.60), (-0.10, -0.62, -0.70)),
    }
    patches = {}
    for name, (place, tone) in flats.items():
        left, top, right, bottom = patches[name] = _box(rows, columns, *place)
        picture[top:bottom, left:right] = tone
    return Scene(log_exposure=picture, patches=patches)


def flat(rows: int, columns: int) -> Scene:
    """Nothing but the reference tone: a strip exposed through a slot over the reference patch."""
    return Scene(log_exposure=np.zeros((rows, columns, 3)), patches={"grey card": (0, 0, columns, rows)})
