"""Negatives by camera: density against the empty carrier."""

import numpy as np
import pytest

from printlore.core.flags import Flag
from printlore.core.measure.negatives import large_area_density, read_negative
from printlore.core.measure.scan import Box, Scan
from printlore.errors import ValueOutOfRange
from printroom.room import Room
from printroom.scans import Faults, Scanner
from printroom.scenes import harbour

LINE = np.stack([np.linspace(0, 1, 65536, dtype=np.float32)] * 3)


@pytest.fixture(scope="module")
def taken():
    room = Room(4)
    room.add_film("film")
    frame = room.add_frame("film")
    faults = Faults(tone="linear", rotation=0.0, flare=0.0, dust=10, scratches=0, noise=0.002)
    film, carrier = Scanner(room, seed=1).negative(frame, harbour(240, 330, 4), faults=faults)
    scans = tuple(Scan(pixels=s.pixels, tone=LINE, name=n) for s, n in ((film, "frame"), (carrier, "carrier")))
    return film, *scans


def test_patches_read_as_the_room_says(taken):
    truth, frame, empty = taken
    boxes = [Box(left=b[0], top=b[1], right=b[2], bottom=b[3]) for b in (p.box for p in truth.patches)]
    read = read_negative(frame, empty, boxes)
    off = np.array([r.density for r in read]) - [p.density for p in truth.patches]
    assert np.abs(off).max() < 0.02
    assert off.std() < 0.008
    reading = read[0].reading("camera")
    assert reading.source == "camera"
    assert 0.002 < reading.standard_error < 0.05


def test_large_area_is_the_density_of_mean_light():
    """Half at density 0, half at 2: mean light 0.505, density 0.297; the mean of densities would be 1."""
    pixels = np.full((40, 60, 3), 60000, np.uint16)
    empty = Scan(pixels=pixels.copy(), tone=LINE)
    pixels[:, 30:] = 600
    value = large_area_density(Scan(pixels=pixels, tone=LINE), empty, Box(left=0, top=0, right=60, bottom=40))
    assert value == pytest.approx((0.297,) * 3, abs=1e-3)


def test_scans_without_a_tone_curve_are_flagged_and_mistakes_told():
    plain = Scan(pixels=np.full((40, 60, 3), 30000, np.uint16), name="frame")
    bright = Scan(pixels=np.full((40, 60, 3), 60000, np.uint16), name="carrier")
    box = Box(left=5, top=5, right=30, bottom=30)
    (patch,) = read_negative(plain, bright, [box])
    assert Flag.NO_PROFILE in patch.flags
    with pytest.raises(ValueOutOfRange, match=r"2\.000 of the empty carrier's light comes through, which no film does"):
        read_negative(bright, plain, [box])
    with pytest.raises(ValueOutOfRange, match="take both at the same settings"):
        read_negative(plain, Scan(pixels=np.full((10, 10, 3), 60000, np.uint16)), [box])
    clipped = Scan(pixels=np.full((40, 60, 3), 65535, np.uint16), name="carrier")
    with pytest.raises(ValueOutOfRange, match='The empty carrier "carrier" is clipped'):
        read_negative(plain, clipped, [box])
