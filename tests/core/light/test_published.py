"""Published factors as printed, and how far ours are from them."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from printlore.core.colour.tables import read_rows, read_table
from printlore.core.light.published import (
    compare_dichroic_rule,
    compare_published_factors,
    filter_transmittance,
    layer_cc_of_filter,
    printing_factor,
)
from printlore.errors import ValueOutOfRange

ROWS = read_rows("printlore.core.light", "cc_filter_factors.csv")
COMPARISON = compare_published_factors()


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["filter"])
def test_a_printed_factor_comes_out_as_printed(row):
    """E-142, p. 3."""
    assert printing_factor(row["filter"][-1], float(row["filter"][2:4])) == float(row["printing_factor"])


@given(st.sampled_from("CMYRGB"), st.floats(0, 300), st.floats(0, 50))
def test_more_filter_never_asks_for_less_time(letter, strength, more):
    assert printing_factor(letter, strength + more) >= printing_factor(letter, strength) - 1e-9


def test_strong_packs_are_several_sheets():
    """E-142, p. 3: factors of several filters multiply."""
    assert printing_factor("M", 120) == pytest.approx(2.1 * 2.1 * 1.5)


@pytest.mark.parametrize(("letter", "strength"), [("K", 10), ("M", -5), ("M", 1000), ("M", float("nan"))])
def test_a_filter_that_is_not_published_is_refused(letter, strength):
    with pytest.raises(ValueOutOfRange, match="No factor is published for"):
        printing_factor(letter, strength)


def test_an_unknown_filter_has_no_spectrum():
    with pytest.raises(ValueOutOfRange, match="no table for a filter"):
        filter_transmittance("CC60M", np.array([500.0]))


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["filter"])
def test_peak_densities_of_the_spectra_are_those_printed_plus_surfaces(row):
    """Nominal strength is the peak density without surfaces (0.039 for clear gelatin); printed to 0.02."""
    nm = np.arange(400.0, 701.0, 10.0)
    if row["filter"][-1] == "G":
        nm = nm[nm <= 530]
    peak = -np.log10(filter_transmittance(row["filter"], nm).min())
    assert peak == pytest.approx(float(row["nominal_peak_density"]) + 0.039, abs=0.025)


def test_every_published_factor_is_compared_and_ours_is_within_a_third_of_a_stop():
    assert [row.filter for row in COMPARISON] == [row["filter"] for row in ROWS]
    for row in COMPARISON:
        assert abs(row.difference_stops) < 1 / 3, row


def test_blue_and_red_filters_agree_within_a_tenth_of_a_stop_on_average():
    """E-142, p. 3: with the green layer and one more at stake, the table and keeping L* come to the same."""
    near = [abs(row.difference_stops) for row in COMPARISON if row.filter[-1] in "RB"]
    assert np.mean(near) < 0.1


def test_published_yellow_is_the_surfaces_alone_and_ours_grows():
    """The table prints 1.1 for every yellow; clear gelatin alone is 1 / 0.915 = 1.09."""
    yellow = [row for row in COMPARISON if row.filter[-1] == "Y"]
    assert {row.published for row in yellow} == {1.1}
    assert yellow[0].same_lightness == pytest.approx(1.1, abs=0.05)
    assert 1.2 < yellow[-1].same_lightness < 1.4


def test_published_magenta_lies_between_keeping_lightness_and_keeping_the_green_layer():
    for row in COMPARISON:
        if row.filter[-1] == "M":
            assert row.same_lightness - 0.05 <= row.published <= row.same_green + 0.05


@pytest.mark.parametrize(("letter", "own"), [("C", 0), ("M", 1), ("Y", 2)])
def test_a_filter_takes_most_from_its_own_layer_and_a_little_from_others(letter, own):
    layer = layer_cc_of_filter(f"CC30{letter}")
    assert layer.argmax() == own
    assert 25 < layer[own] < 36
    assert (np.delete(layer, own) > 3.5).all()


def tables():
    """Wavelengths of the filter tables [nm], lamp by Planck's law at 3000 K, sensitivity of the three layers."""
    nm = np.arange(400.0, 701.0, 10.0)
    lamp = nm**-5 / (np.exp(1.4388e7 / (nm * 3000.0)) - 1)
    chart = read_table("printlore.core.paper", "paper_a_sensitivity.csv")
    layers = []
    for name in ("cyan_layer", "magenta_layer", "yellow_layer"):
        drawn = ~np.isnan(chart[name])
        inside = (nm >= chart["wavelength_nm"][drawn].min()) & (nm <= chart["wavelength_nm"][drawn].max())
        layers.append(np.where(inside, 10 ** np.interp(nm, chart["wavelength_nm"][drawn], chart[name][drawn]), 0.0))
    return nm, lamp, np.array(layers)


@pytest.mark.parametrize("name", ["CC10M", "CC50M", "CC10C", "CC50C", "CC50R", "CC50B"])
def test_layer_cc_agree_with_a_plain_sum_over_the_printed_rows(name):
    """Printed percents (peed-filters), Planck's law, digitised sensitivities; red layer cut at 700 nm: 2 CC coarser."""
    _, lamp, layers = tables()
    percent = read_table("printlore.core.light", "cc_filter_transmittance_mcrb.csv")[name]
    kept = (layers * lamp * percent / 100).sum(axis=1) / (layers * lamp).sum(axis=1)
    assert np.allclose(layer_cc_of_filter(name), -100 * np.log10(kept), atol=2.0)


def test_a_negative_in_the_beam_changes_no_factor_by_more_than_three_percent():
    """Digitised midscale negative (E-4050, CC BY 4.0) between lamp and paper; M, C, R and B filters, to 700 nm."""
    nm, lamp, layers = tables()
    path = Path(__file__).parents[2] / "data" / "negative_film_a_spectral_density.csv"
    rows = [line.split(",") for line in path.read_text().splitlines() if line[:1].isdigit()]
    film = np.array([[float(cell) for cell in row] for row in rows if row[1]])
    negative = 10 ** -np.interp(nm, film[:, 0], film[:, 1])
    percents = read_table("printlore.core.light", "cc_filter_transmittance_mcrb.csv")
    for name in set(percents) - {"wavelength_nm"}:
        bare, through = (
            (layers * beam * percents[name]).sum(axis=1) / (layers * beam).sum(axis=1)
            for beam in (lamp, lamp * negative)
        )
        assert np.allclose(through / bare, 1.0, atol=0.05)
        assert np.prod((through / bare) ** (0.34, 0.55, 0.11)) == pytest.approx(1.0, abs=0.03)


def test_dial_rules_are_compared_with_an_ideal_head():
    """E-142, p. 3: +20M times 1.20, yellow 1, cyan as CC20C (1.3)."""
    cyan, magenta, yellow = compare_dichroic_rule()
    assert (cyan.published, magenta.published, yellow.published) == pytest.approx((1.3, 1.2, 1.0))
    for row in (cyan, magenta, yellow):
        assert 1.0 < row.same_lightness < 10**0.2
        assert abs(row.difference_stops) < 1 / 3
        assert row.why.endswith(".")
    assert magenta.same_lightness > cyan.same_lightness > yellow.same_lightness
