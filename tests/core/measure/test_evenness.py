"""A blank sheet takes the scanner's uneven light out of the numbers."""

import numpy as np
import pytest

from measuring_scenes import WEDGE, density_picture, scanned, strip_densities
from printlore.core.flags import Flag
from printlore.core.measure.evenness import level_from_blank
from printlore.core.measure.scan import Scan
from printlore.core.measure.scanner import grey_wedge
from printlore.core.measure.strip import read_strip
from printlore.core.measure.wedge import read_wedge
from printlore.errors import ValueOutOfRange

TRUTH = strip_densities(5)


@pytest.mark.parametrize("exponent", [1.0, 2.2])
def test_blank_sheet_takes_out_a_fall_of_light(exponent):
    """The wedge runs the same way as the fall, so without the blank its curve is bent too."""
    faults = {"fall": 0.12, "flare": 0.001, "exponent": exponent}
    blank = scanned(np.full((210, 320, 3), 0.08), seed=9, **faults)
    scan = scanned(density_picture(TRUTH), **faults)
    even = level_from_blank(blank)
    known = grey_wedge(WEDGE)
    levelled = read_strip(scan, read_wedge(scan, known, evenness=even), evenness=even)
    plain = read_strip(scan, read_wedge(scan, known))
    error = [np.abs(np.array([s.density for s in reading.steps]) - TRUTH).max() for reading in (levelled, plain)]
    # The stated gauge is the middle of the picture; the whole can sit off by what the wedge's place leaves.
    assert error[0] < 0.008
    assert error[1] > 2 * error[0]
    assert Flag.NOT_LEVELLED in plain.flags
    assert Flag.NOT_LEVELLED not in levelled.flags
    assert even.range == pytest.approx(-np.log10(1 - 0.12) / exponent, abs=0.006)


def test_what_is_no_blank_sheet_is_refused():
    with pytest.raises(ValueOutOfRange, match="is clipped at white, so its evenness is unknown"):
        level_from_blank(Scan(pixels=np.full((60, 80, 3), 65535, np.uint16), name="white"))
    with pytest.raises(ValueOutOfRange, match="is not a blank sheet"):
        level_from_blank(scanned(density_picture(TRUTH, background=0.5)))
