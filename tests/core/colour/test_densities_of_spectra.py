"""ISO 5-3 densities against sums made another way, and stated densities of a digitised film."""

import csv
import warnings
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from printlore.core.colour.spectra import (
    status_a_density,
    status_density,
    status_products,
    xyz_from_reflectance,
)
from printlore.errors import ValueOutOfRange

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    colour = pytest.importorskip("colour")

ROOT = Path(__file__).parents[3]
NM = np.arange(400.0, 701.0)


def table(path):
    lines = [line for line in (ROOT / path).read_text().splitlines() if line and not line.startswith("#")]
    rows = [row for row in csv.DictReader(lines) if all(row.values())]
    return {name: np.array([float(row[name]) for row in rows]) for name in rows[0]}


def density_on_a_1_nm_grid(wavelength, factor, column, slope_below, slope_above):
    """Integral on a 1 nm grid straight from the printed table: products joined in the logarithm, tails along slopes."""
    printed = csv.DictReader(
        line
        for line in (ROOT / "src/printlore/core/colour/iso5_3_products.csv").read_text().splitlines()
        if not line.startswith("#")
    )
    points = [(float(row["wavelength_nm"]), float(row[column])) for row in printed if row[column]]
    grid = np.arange(340.0, 771.0)
    log10 = np.interp(grid, *zip(*points, strict=True))
    log10 += np.minimum(grid - points[0][0], 0) * slope_below + np.maximum(grid - points[-1][0], 0) * slope_above
    product = 10.0**log10
    return -np.log10(np.sum(product * np.interp(grid, wavelength, factor)) / np.sum(product))


@pytest.mark.parametrize(
    ("status", "channel", "column", "below", "above"),
    [
        ("a", 0, "status_a_red", 0.270, -0.040),
        ("a", 1, "status_a_green", 0.220, -0.170),
        ("a", 2, "status_a_blue", 0.380, -0.140),
        ("m", 0, "status_m_red", 0.260, -0.040),
        ("m", 1, "status_m_green", 0.106, -0.120),
        ("m", 2, "status_m_blue", 0.250, -0.220),
    ],
)
def test_status_densities_of_paper_dyes_agree_with_a_sum_on_another_grid(status, channel, column, below, above):
    """ISO 5-3:1995 Tables 3 and 4 with the slopes printed under them; mixtures of generic paper A's dyes."""
    dyes = table("src/printlore/core/paper/paper_a_dyes.csv")
    for cyan, magenta, yellow in [(0.2, 0.2, 0.2), (0.6, 0.6, 0.6), (1.0, 0.5, 0.7), (0.4, 1.1, 0.8)]:
        factor = 10.0 ** -(cyan * dyes["cyan"] + magenta * dyes["magenta"] + yellow * dyes["yellow"])
        ours = status_density(dyes["wavelength_nm"], factor, status)[channel]
        theirs = density_on_a_1_nm_grid(dyes["wavelength_nm"], factor, column, below, above)
        assert ours == pytest.approx(theirs, abs=0.006)


@pytest.mark.parametrize(
    ("curve", "stated"),
    [("midscale_neutral", (0.970, 1.555, 1.833)), ("minimum_density", (0.201, 0.642, 0.808))],
)
def test_status_m_of_a_digitised_film_is_what_its_digitiser_states(curve, stated):
    """Film Scan Calibration (CC BY 4.0), data/films: values stated there, to 0.006."""
    film = table("tests/data/negative_film_a_spectral_density.csv")
    assert np.allclose(status_density(film["wavelength_nm"], 10.0 ** -film[curve], "m"), stated, atol=0.0065)


@pytest.mark.parametrize("status", ["a", "m"])
def test_peaks_of_the_products_are_at_the_printed_wavelengths(status):
    """ISO 5-3:1995: peaks at 620/530/440 nm (A) and 640/540/450 nm (M)."""
    wavelength, products = status_products(status)
    assert wavelength[products.argmax(axis=0)].tolist() == {"a": [620, 530, 440], "m": [640, 540, 450]}[status]


def test_visual_products_are_illuminant_a_times_luminous_efficiency():
    """ISO 5-3 defines the visual product so; CIE tables of colour-science 0.4.7 (its tail beyond 740 nm is coarser)."""
    wavelength, products = status_products("visual")
    use = (wavelength >= 420) & (wavelength <= 740)
    eye = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    lamp = colour.SDS_ILLUMINANTS["A"]
    expected = np.array([lamp[w] * eye[w][1] for w in wavelength[use]])
    assert np.allclose(np.log10(products[use, 0] / products.max()), np.log10(expected / expected.max()), atol=0.0021)


def test_visual_density_is_minus_log_of_luminance_under_illuminant_a():
    dyes = table("src/printlore/core/paper/paper_a_dyes.csv")
    factor = 10.0 ** -(0.6 * dyes["cyan"] + 0.6 * dyes["magenta"] + 0.6 * dyes["yellow"])
    luminance = xyz_from_reflectance(dyes["wavelength_nm"], factor, "a")[1]
    assert status_density(dyes["wavelength_nm"], factor, "visual")[0] == pytest.approx(-np.log10(luminance), abs=0.002)


@given(st.floats(0, 4))
def test_a_grey_filter_has_the_same_density_in_every_channel(density):
    factor = np.full(NM.size, 10.0**-density)
    for status in ("a", "m", "visual"):
        assert np.allclose(status_density(NM, factor, status), density, atol=1e-9)


def test_spectra_are_vectorised_over_leading_axes():
    assert status_a_density(NM, np.full((2, 5, NM.size), 0.5)).shape == (2, 5, 3)


def test_a_black_reading_is_refused_with_place_and_cure():
    with pytest.raises(ValueOutOfRange, match=r"Spectrum \[1\] leaves 0 of the light in channel 0.*black level"):
        status_a_density(NM, np.stack([np.ones(NM.size), np.zeros(NM.size)]))


def test_wavelengths_out_of_order_are_refused():
    with pytest.raises(ValueOutOfRange, match=r"must be at least two and rise; give them in nm, in order\."):
        status_a_density((500, 400), (1, 1))


def test_an_unknown_status_is_refused_with_the_known_ones():
    with pytest.raises(ValueOutOfRange, match='no status "t"; use "a"'):
        status_density(NM, np.ones(NM.size), "t")
