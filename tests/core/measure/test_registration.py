"""A picture turned, shifted, grown and toned otherwise is laid over the first to a tenth of a pixel."""

import cv2
import numpy as np
import pytest
from scipy import ndimage

from printlore.core.measure.registration import register
from printlore.core.measure.scan import Scan
from printlore.errors import ValueOutOfRange

ROWS, COLUMNS = 900, 1200


@pytest.fixture(scope="module")
def ground():
    rng = np.random.default_rng(0)
    out = np.zeros((ROWS + 300, COLUMNS + 300), np.float32)
    for size, amount in ((40, 1.0), (12, 0.6), (4, 0.4), (1.5, 0.25)):
        grain = ndimage.gaussian_filter(rng.normal(size=out.shape).astype(np.float32), size)
        out += amount * grain / grain.std()
    return 0.7 + 0.25 * out


def taken(ground, *, turn=0.0, scale=1.0, shift=(0.0, 0.0), contrast=1.0, vignette=0.0, seed=1):
    """Picture of the ground, and the known matrix from the unmoved picture to it."""
    rng = np.random.default_rng(seed)
    a = np.radians(turn)
    linear = scale * np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
    middle = np.array([COLUMNS / 2, ROWS / 2])
    offset = middle + shift - linear @ middle
    back = np.linalg.inv(linear)
    fetch = np.column_stack([back, -back @ offset + 150])
    density = contrast * cv2.warpAffine(
        ground, fetch, (COLUMNS, ROWS), flags=cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REFLECT
    )
    y, x = np.mgrid[0:ROWS, 0:COLUMNS]
    light = 10.0**-density * (1 - vignette * ((x / COLUMNS - 0.5) ** 2 + (y / ROWS - 0.5) ** 2))
    light = np.repeat(light[..., None], 3, axis=2) + rng.normal(0, 0.003, (ROWS, COLUMNS, 3))
    return Scan(pixels=np.rint(np.clip(light, 0, 1) * 65535).astype(np.uint16)), np.column_stack([linear, offset])


@pytest.mark.parametrize(
    "moved",
    [
        {"turn": 1.3, "scale": 1.004, "shift": (37, -23), "contrast": 1.1},
        {"turn": 7.0, "scale": 1.03, "shift": (40, -30), "contrast": 1.1, "vignette": 0.4},
        {"turn": -7.0, "scale": 0.97, "shift": (-50, 30), "contrast": 0.9, "vignette": 0.4},
        {"turn": 0.2, "shift": (0.37, 0.61)},
    ],
    ids=str,
)
def test_known_moves_are_found_to_a_tenth_of_a_pixel(ground, moved):
    first, _ = taken(ground)
    second, truth = taken(ground, seed=2, **moved)
    found = register(first, second)
    x, y = np.meshgrid(np.linspace(150, COLUMNS - 150, 5), np.linspace(150, ROWS - 150, 5))
    places = np.column_stack([x.ravel(), y.ravel()])
    off = np.linalg.norm(found.moved(places) - places @ truth[:, :2].T - truth[:, 2], axis=1)
    assert np.sqrt(np.mean(off**2)) <= 0.1
    assert found.turn == pytest.approx(moved["turn"], abs=0.02)
    assert found.scale == pytest.approx(moved.get("scale", 1.0), abs=4e-4)
    assert found.flags == ()


def test_other_pictures_are_not_forced_together(ground):
    first, _ = taken(ground)
    other = Scan(
        pixels=np.ascontiguousarray(taken(ground[::-1, ::-1].T.copy().T[:, ::-1])[0].pixels[::-1]), name="other"
    )
    flat = Scan(pixels=np.full((ROWS, COLUMNS, 3), 30000, np.uint16), name="flat")
    with pytest.raises(ValueOutOfRange, match=r'"flat" could not be laid over each other: .* Check that both show the'):
        register(first, flat)
    rng = np.random.default_rng(9)
    noise = Scan(
        pixels=(ndimage.gaussian_filter(rng.normal(size=(ROWS, COLUMNS, 3)), (3, 3, 0)) * 60000 + 32768)
        .clip(0, 65535)
        .astype(np.uint16)
    )
    with pytest.raises(ValueOutOfRange, match="could not be laid over each other"):
        register(first, noise)
    assert other.size == first.size


def test_a_tiny_scan_is_refused():
    tiny = Scan(pixels=np.zeros((10, 10, 3), np.uint16), name="tiny")
    with pytest.raises(ValueOutOfRange, match='Scan "tiny" is only 10 x 10 pixels; scan at a higher resolution'):
        register(tiny, tiny)
