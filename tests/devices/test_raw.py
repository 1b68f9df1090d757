"""A camera's raw file comes out linear, with nothing done to it but what is said."""

import io

import numpy as np
import pytest
import tifffile

from printlore.devices.raw import read_raw
from printlore.errors import UnreadableFile

BLACK, WHITE = 512, 15000


def dng(levels):
    """A mosaic DNG (RGGB) of flat quarters, written tag by tag after the DNG specification."""
    rows, columns = 64, 96
    mosaic = np.zeros((rows, columns), np.uint16)
    red, green, blue = levels
    mosaic[0::2, 0::2], mosaic[0::2, 1::2], mosaic[1::2, 0::2], mosaic[1::2, 1::2] = red, green, green, blue
    out = io.BytesIO()
    identity = (1, 1, 0, 1, 0, 1, 0, 1, 1, 1, 0, 1, 0, 1, 0, 1, 1, 1)
    tifffile.imwrite(
        out,
        mosaic,
        photometric=32803,
        extratags=[
            (33421, "H", 2, (2, 2), True),
            (33422, "B", 4, bytes((0, 1, 1, 2)), True),
            (50706, "B", 4, bytes((1, 4, 0, 0)), True),
            (50708, "s", 0, "Invented camera", True),
            (50714, "H", 1, BLACK, True),
            (50717, "H", 1, WHITE, True),
            (50721, "2i", 9, identity, True),
            (50778, "H", 1, 21, True),
        ],
    )
    return out.getvalue()


@pytest.mark.parametrize("half", [False, True])
def test_values_are_linear_between_black_and_white(half):
    levels = (4000, 8000, 2000)
    scan = read_raw(dng(levels), half=half)
    middle = scan.pixels[scan.pixels.shape[0] // 2, scan.pixels.shape[1] // 2] / 65535
    assert middle == pytest.approx([(level - BLACK) / (WHITE - BLACK) for level in levels], abs=3e-4)


def test_no_raw_file_is_refused():
    with pytest.raises(UnreadableFile, match="LibRaw cannot read it as a camera's raw file"):
        read_raw(b"not a raw file, but long enough to be looked at " * 20, name="frame.raw")
