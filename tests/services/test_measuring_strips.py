"""A strip's scan file goes in, its densities come out."""

import numpy as np
import pytest
import tifffile

from measuring_scenes import WEDGE, density_picture, scanned, strip_densities
from printlore.errors import UnreadableFile, ValueOutOfRange
from printlore.services.strips import read_strip, wedge_from

TRUTH = strip_densities(5)


@pytest.fixture(scope="module")
def scan_file(tmp_path_factory):
    path = tmp_path_factory.mktemp("scans") / "strip.tif"
    tifffile.imwrite(path, scanned(density_picture(TRUTH)).pixels, photometric="rgb", compression="zlib")
    return path


def test_strip_file_is_read_to_densities_with_errors(scan_file):
    reading = read_strip(scan_file, WEDGE)
    densities = np.array([step.density for step in reading.steps])
    assert np.abs(densities - TRUTH).max() < 0.006
    assert all(0 < error < 0.02 for step in reading.steps for error in step.standard_error)


def test_wedge_may_be_stated_by_channel(scan_file):
    by_channel = [(d, d + 0.02, d - 0.01) for d in WEDGE]
    densities = np.array([step.density for step in read_strip(scan_file, by_channel).steps])
    assert np.abs(densities - TRUTH - (0.0, 0.02, -0.01)).max() < 0.008
    assert wedge_from(by_channel).as_array()[0].tolist() == [WEDGE[0], WEDGE[0] + 0.02, WEDGE[0] - 0.01]


def test_a_cut_file_is_refused(scan_file):
    with pytest.raises(UnreadableFile, match=r"cut short|damaged"):
        read_strip(scan_file.read_bytes()[:20000], WEDGE)


def test_wrong_wedge_is_not_found(scan_file):
    with pytest.raises(ValueOutOfRange, match="No wedge of 40 steps was found"):
        read_strip(scan_file, list(np.linspace(0, 3, 40)))
