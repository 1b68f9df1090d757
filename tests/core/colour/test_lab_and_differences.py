"""CIELAB and CIEDE2000 against published pairs and a general colour library."""

import csv
import warnings
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from printlore.core.colour.lab import D50, delta_e_76, delta_e_2000, lab_from_xyz, xyz_from_lab
from printlore.core.colour.spectra import xyz_from_reflectance
from printlore.errors import ValueOutOfRange

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    colour = pytest.importorskip("colour")

DATA = Path(__file__).parents[2] / "data"


def pairs():
    lines = [x for x in (DATA / "ciede2000_published_pairs.csv").read_text().splitlines() if not x.startswith("#")]
    return [{k: float(v) for k, v in row.items()} for row in csv.DictReader(lines)]


@pytest.mark.parametrize("pair", pairs(), ids=lambda pair: f"{pair['pair']:g}")
def test_ciede2000_matches_published_pairs_both_ways(pair):
    """Sharma, Wu and Dalal (2005), Table 1, doi:10.1002/col.20070; printed to 4 decimals."""
    one, two = ([pair[f"{axis}{n}"] for axis in "Lab"] for n in (1, 2))
    assert float(delta_e_2000(one, two)) == pytest.approx(pair["dE00_published"], abs=5e-5)
    assert float(delta_e_2000(two, one)) == pytest.approx(pair["dE00_published"], abs=5e-5)


def test_there_are_34_published_pairs():
    assert len(pairs()) == 34


def test_colour_differences_match_a_general_colour_library_on_many_colours():
    """colour-science 0.4.7, delta_E CIE 2000 and CIE 1976."""
    rng = np.random.default_rng(3)
    one, two = rng.uniform((0, -90, -90), (100, 90, 90), (2, 4000, 3))
    assert np.allclose(delta_e_2000(one, two), colour.delta_E(one, two, method="CIE 2000"), atol=1e-9)
    assert np.allclose(delta_e_76(one, two), colour.delta_E(one, two, method="CIE 1976"), atol=1e-12)


def test_difference_broadcasts_over_leading_axes():
    one = np.full((4, 1, 3), (52.0, 1.0, 2.0))
    two = np.full((5, 3), (50.0, 0.0, 0.0))
    assert delta_e_2000(one, two).shape == (4, 5)


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("chart", range(len(colour.SDS_COLOURCHECKERS)))
@pytest.mark.parametrize(("illuminant", "name"), [("d50", "D50"), ("a", "A")])
def test_lab_of_chart_reflectances_matches_a_general_colour_library(chart, illuminant, name):
    """colour-science 0.4.7: every chart it ships, at 5 and 10 nm, against its own 1 nm integration."""
    cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    light = colour.SDS_ILLUMINANTS[name].copy().align(cmfs.shape)
    white = colour.sd_to_XYZ(colour.sd_ones(cmfs.shape), cmfs, light, method="Integration") / 100
    own_white = xyz_from_reflectance((380, 780), (1, 1), illuminant)
    differences = []
    for patch in list(colour.SDS_COLOURCHECKERS.values())[chart].values():
        expected = colour.sd_to_XYZ(patch.copy().align(cmfs.shape), cmfs, light, method="Integration") / 100
        ours = lab_from_xyz(xyz_from_reflectance(patch.wavelengths, patch.values, illuminant), own_white)
        differences.append(delta_e_76(ours, colour.XYZ_to_Lab(expected, colour.XYZ_to_xy(white))))
    assert len(differences) >= 20
    assert max(differences) < 0.05


def test_d50_white_is_the_published_one():
    """cie015: D50, 2 degrees, X 96.42, Y 100, Z 82.52 (5 nm sums move the last digit)."""
    assert np.allclose(100 * D50, (96.42, 100.0, 82.52), atol=0.03)


def test_grey_reflectance_is_neutral():
    lab = lab_from_xyz(xyz_from_reflectance(np.arange(400, 701, 10), np.full(31, 0.2)))
    assert np.allclose(lab, (116 * 0.2 ** (1 / 3) - 16, 0, 0), atol=1e-9)


@given(st.tuples(st.floats(0, 100), st.floats(-100, 100), st.floats(-100, 100)))
def test_lab_to_xyz_and_back_is_the_same_colour(lab):
    assert np.allclose(lab_from_xyz(xyz_from_lab(lab)), lab, atol=1e-8)


def test_unknown_illuminant_is_refused_in_words():
    with pytest.raises(ValueOutOfRange, match='no table for illuminant "d93"; use "d50" or "a"'):
        xyz_from_reflectance((400, 700), (1, 1), "d93")
