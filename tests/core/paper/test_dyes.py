"""Dye model of the generic papers: spectra, densities and Lab agree, there and back."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from printlore.core.colour.lab import delta_e_76, lab_from_xyz
from printlore.core.colour.spectra import status_a_density, xyz_from_reflectance
from printlore.core.colour.tables import read_table
from printlore.core.paper.dyes import DyeModel, generic_paper
from printlore.errors import ValueOutOfRange

amounts = st.tuples(*[st.floats(0.0, 2.4)] * 3)
papers = st.sampled_from(["a", "b"])


@pytest.mark.parametrize("which", ["a", "b"])
def test_densities_and_lab_are_those_of_the_reflectance_spectrum(which):
    """Same amounts through core.colour on the printed 1 nm dye table, base and surface apart."""
    table = read_table("printlore.core.paper", f"paper_{which}_dyes.csv")
    rows = ~np.isnan(np.stack([table[dye] for dye in ("cyan", "magenta", "yellow")])).any(axis=0)
    nm = table["wavelength_nm"][rows]
    dyes = np.stack([table[dye][rows] for dye in ("cyan", "magenta", "yellow")], axis=1)
    bare = DyeModel(name="bare", wavelength=nm, dyes=dyes, base=np.zeros(nm.size), surface=0.0)
    model = generic_paper(which)
    for mix in [(0.1, 0.1, 0.1), (0.6, 0.55, 0.6), (1.2, 0.4, 0.9)]:
        factor = 10.0 ** -(dyes @ mix)
        assert np.allclose(bare.density_from_dyes(mix), status_a_density(nm, factor), atol=1e-9)
        assert np.allclose(bare.lab_from_dyes(mix), lab_from_xyz(xyz_from_reflectance(nm, factor)), atol=1e-9)
        coarse = model.reflectance_from_dyes(mix)
        assert np.allclose(model.density_from_dyes(mix), status_a_density(model.wavelength, coarse), atol=1e-9)


def test_unexposed_paper_reads_as_the_foot_of_the_published_curves():
    """E-4070 (March 2013), status A curves at the lowest exposure: 0.092, 0.092, 0.066 (digitised, CC BY 4.0)."""
    assert np.allclose(generic_paper().density_from_dyes((0, 0, 0)), (0.092, 0.092, 0.066), atol=0.001)


def test_neutral_mid_grey_has_nearly_equal_densities_near_those_of_a_grey_of_its_luminance():
    """A spectrally flat grey of L* 52 has density -log10(((52 + 16) / 116) ** 3) = 0.696 in every channel."""
    for which in ("a", "b"):
        assert np.allclose(generic_paper(which).density_from_lab((52, 0, 0)), 0.696, atol=0.03)


def test_each_dye_darkens_its_own_channel_most_and_the_others_by_a_tenth():
    """Side absorptions: 0.1 to 0.2 of one layer's gradient shows in another's density (common practice, no source)."""
    slope = generic_paper().density_jacobian_of_dyes((0.6, 0.55, 0.6))
    assert (np.diag(slope) > 0.85).all()
    off = slope[~np.eye(3, dtype=bool)]
    assert (off > 0).all()
    assert (off < 0.2).all()


@given(papers, amounts)
def test_dyes_to_density_and_back_are_the_same_dyes(which, dyes):
    model = generic_paper(which)
    assert np.allclose(model.dyes_from_density(model.density_from_dyes(dyes)), dyes, atol=1e-7)


@given(papers, amounts)
def test_density_to_lab_and_back_is_the_same_density(which, dyes):
    model = generic_paper(which)
    density = model.density_from_dyes(dyes)
    assert np.allclose(model.density_from_lab(model.lab_from_density(density, exact=True)), density, atol=1e-5)


@given(papers, st.floats(27, 83), st.tuples(*[st.floats(-0.2, 0.2)] * 3))
def test_fitted_map_is_within_a_fiftieth_of_lab_of_the_spectral_sum_near_grey(which, lightness, off):
    model = generic_paper(which)
    density = model.density_from_lab((lightness, 0, 0)) + off
    difference = delta_e_76(model.lab_from_density(density), model.lab_from_density(density, exact=True))
    assert difference < 0.02


@given(papers, amounts)
def test_fitted_map_is_close_to_the_spectral_sum_for_every_print_colour(which, dyes):
    model = generic_paper(which)
    density = model.density_from_dyes(dyes)
    assert delta_e_76(model.lab_from_density(density), model.lab_from_dyes(dyes)) < 0.1


@pytest.mark.parametrize("exact", [False, True])
@pytest.mark.parametrize("density", [(0.7, 0.7, 0.7), (0.3, 0.5, 0.2), (1.6, 1.4, 1.5), (0.2, 1.5, 1.4)])
def test_lab_jacobian_is_the_slope_of_lab(density, exact):
    model, step = generic_paper(), 1e-5
    rows = np.array(density) + step * np.concatenate([np.eye(3), -np.eye(3)])
    lab = model.lab_from_density(rows, exact=exact)
    slope = ((lab[:3] - lab[3:]) / (2 * step)).T
    assert np.allclose(model.lab_jacobian_of_density(density, exact=exact), slope, atol=2e-4 * np.abs(slope).max())


def test_density_jacobian_is_the_slope_of_density():
    model, step = generic_paper(), 1e-6
    rows = np.array((0.6, 0.3, 1.0)) + step * np.concatenate([np.eye(3), -np.eye(3)])
    density = model.density_from_dyes(rows)
    slope = ((density[:3] - density[3:]) / (2 * step)).T
    assert np.allclose(model.density_jacobian_of_dyes((0.6, 0.3, 1.0)), slope, atol=1e-6)


def test_everything_is_vectorised_over_leading_axes():
    model = generic_paper()
    density = np.full((2, 5, 3), 0.7)
    density[1, 2] = (2.0, 0.2, 0.3)
    lab, slope = model.lab_from_density(density), model.lab_jacobian_of_density(density)
    assert lab.shape == (2, 5, 3)
    assert slope.shape == (2, 5, 3, 3)
    assert np.allclose(lab[1, 2], model.lab_from_density(density[1, 2]))
    assert np.allclose(slope[1, 2], model.lab_jacobian_of_density(density[1, 2]))


def test_densities_beyond_the_paper_get_the_nearest_dyes_not_nonsense():
    model = generic_paper()
    assert np.isfinite(model.dyes_from_density([(5.0, 5.0, 5.0), (-1.0, -1.0, -1.0), (4.0, 0.0, 0.0)])).all()
    assert model.lab_from_density((-0.5, -0.5, -0.5))[0] > model.lab_from_density((0.1, 0.1, 0.1))[0]
    assert 0 <= model.lab_from_density((5.0, 5.0, 5.0))[0] < 3


def test_a_colour_the_paper_cannot_show_is_named_with_the_nearest():
    with pytest.raises(ValueOutOfRange, match=r"Generic paper A cannot show Lab \(99.0, 0.0, 0.0\); near it.*can hold"):
        generic_paper().density_from_lab((99, 0, 0))


def test_a_reading_that_is_not_a_number_is_refused():
    with pytest.raises(ValueOutOfRange, match=r"three finite numbers.*Read the patch again"):
        generic_paper().lab_from_density((0.7, float("nan"), 0.7))


def test_unknown_paper_is_refused_with_the_known_ones():
    with pytest.raises(ValueOutOfRange, match='no generic paper "c"; there are "a" and "b"'):
        generic_paper("c")


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"dyes": np.zeros((3, 2))}, r"3 wavelengths, dyes \(3, 2\).*give \(3, 3\)"),
        ({"base": np.array([0.0, np.nan, 0.0])}, "is not a number; fill the gap"),
        ({"surface": 0.5}, "surface reflectance is 0.5; give 0 to 0.1"),
    ],
)
def test_a_model_that_cannot_be_is_refused(change, words):
    whole = {"name": "x", "wavelength": np.array([450.0, 550.0, 650.0]), "dyes": np.eye(3), "base": np.zeros(3)}
    with pytest.raises(ValueOutOfRange, match=words):
        DyeModel(**(whole | change))


def test_the_dye_tables_carry_their_source_and_licence():
    folder = Path(__file__).parents[3] / "src/printlore/core/paper"
    for path in folder.glob("paper_*.csv"):
        head = path.read_text().splitlines()[:3]
        assert "CC BY 4.0" in head[1], path
        assert "OwlMightyCh" in head[1], path
