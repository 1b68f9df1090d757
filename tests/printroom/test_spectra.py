"""Standard tables of the print room, against an independent colour library and the standard's own definitions."""

import numpy as np
import pytest

from printroom.spectra import WAVELENGTHS, WHITE, bell, density_and_lab


def test_the_perfect_diffuser_is_white_and_has_no_density():
    """By definition: L* 100, density 0 (ISO 5-4; CIE 15)."""
    density, lab = density_and_lab(np.ones(len(WAVELENGTHS)))
    assert density == pytest.approx(np.zeros(3), abs=1e-12)
    assert lab == pytest.approx([100.0, 0.0, 0.0], abs=1e-9)


def test_a_neutral_of_density_one_reads_one_in_all_channels():
    density, lab = density_and_lab(np.full(len(WAVELENGTHS), 0.1))
    assert density == pytest.approx(np.ones(3))
    assert lab[0] == pytest.approx(116 * 0.1 ** (1 / 3) - 16)


def test_white_point_is_d50():
    """ISO 13655 and the ICC profile connection space print D50, 2 degrees, as 96.42, 100, 82.49."""
    assert pytest.approx([96.42, 100.0, 82.49], abs=0.03) == 100 * WHITE


def test_lab_equals_a_colour_library_on_smooth_spectra():
    """colour-science, its own 1 nm observer and D50; trapezoid against sum over 5 nm leaves below 0.1."""
    colour = pytest.importorskip("colour")
    colour.utilities.filter_warnings(colour_runtime_warnings=True)
    for spectrum in (0.2 + 0.5 * bell(620, 50), 0.6 - 0.4 * bell(540, 40), 0.1 + 0.3 * bell(450, 30)):
        ours = density_and_lab(spectrum)[1]
        sample = colour.SpectralDistribution(spectrum, WAVELENGTHS)
        illuminant = colour.SDS_ILLUMINANTS["D50"]
        observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
        xyz = colour.sd_to_XYZ(sample, observer, illuminant, method="Integration") / 100
        white = colour.sd_to_XYZ(colour.sd_ones(), observer, illuminant, method="Integration") / 100
        theirs = colour.XYZ_to_Lab(xyz, colour.XYZ_to_xy(white))
        assert ours == pytest.approx(theirs, abs=0.1)
