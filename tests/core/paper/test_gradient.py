"""Generic curves, gradients, and the half rule that falls out of them."""

import numpy as np
import pytest

from printlore.core.colour.tables import read_table
from printlore.core.paper.dyes import generic_paper
from printlore.core.paper.gradient import (
    CAST_DIRECTIONS,
    density_gradient,
    generic_curves,
    lightness_shares,
    viewing_filter_fraction,
)
from printlore.errors import ValueOutOfRange

PAPER = generic_paper("a")
CURVES = generic_curves()


def test_generic_curves_pass_the_reference_and_follow_the_published_ones():
    """E-4070 (March 2013), status A curves (digitised, CC BY 4.0): within 0.035 in dye amount."""
    assert np.allclose(PAPER.lab_from_dyes([c.aim for c in CURVES]), (52, 0, 0), atol=1e-6)
    table = read_table("printlore.core.paper", "paper_a_curves.csv")
    amounts = PAPER.dyes_from_density(np.stack([table[name] for name in ("red", "green", "blue")], axis=1))
    for layer, curve in enumerate(CURVES):
        at = np.interp(curve.aim, amounts[:110, layer], table["log_exposure"][:110])
        h = table["log_exposure"] - at
        miss = np.abs(curve.value(h) - amounts[:, layer])
        assert miss[np.abs(h) < 0.9].max() < 0.035


def test_gradient_at_mid_grey_is_the_slope_of_the_published_curves_there():
    """Density gained over 0.12 of log exposure around 0.71 on E-4070's curves; 2.4 to 3 in the trade."""
    table = read_table("printlore.core.paper", "paper_a_curves.csv")
    totals = density_gradient(PAPER, CURVES).sum(axis=1)
    for channel, name in enumerate(("red", "green", "blue")):
        density = table[name]
        at = int(np.argmax(density > 0.71))
        slope = (density[at + 3] - density[at - 3]) / (table["log_exposure"][at + 3] - table["log_exposure"][at - 3])
        assert totals[channel] == pytest.approx(slope, rel=0.12)


def test_half_rule_is_a_gradient_of_two():
    """NAVEDTRA 14209, ch. 12: change the pack by half of the viewing filter."""
    for cast in CAST_DIRECTIONS:
        assert viewing_filter_fraction(2.0, cast) == pytest.approx(0.5)
    assert viewing_filter_fraction(3.0) == pytest.approx(1 / 3)


def test_fraction_of_the_generic_paper_at_mid_grey_is_between_a_third_and_a_half():
    gradient = density_gradient(PAPER, CURVES)
    for cast in CAST_DIRECTIONS:
        assert 0.33 < viewing_filter_fraction(gradient, cast) < 0.5


def test_the_published_half_holds_in_the_lighter_middle_tones_where_the_handbook_says_to_judge():
    """NAVEDTRA 14209, ch. 12: judge the lighter middle tones; viewing filters overcorrect highlights."""
    by_tone = [
        viewing_filter_fraction(density_gradient(PAPER, generic_curves((tone, 0.0, 0.0))))
        for tone in (35.0, 52.0, 64.0, 75.0)
    ]
    assert by_tone == sorted(by_tone)
    assert by_tone[2] == pytest.approx(0.5, abs=0.1)


def test_lightness_is_mostly_the_green_layer_then_red_then_a_tenth_blue():
    shares = lightness_shares(PAPER, CURVES)
    assert shares.sum() == pytest.approx(1)
    assert shares[1] > shares[0] > shares[2] > 0.05


def test_a_move_by_the_fraction_takes_the_cast_out():
    """20 CC of magenta cast, moved by the fraction, leaves a density change of no magenta-ness but the judged one."""
    gradient = density_gradient(PAPER, CURVES)
    direction = np.array(CAST_DIRECTIONS["magenta"])
    cast = 0.20 * direction * 2 / 3
    move = np.linalg.solve(gradient, cast)
    assert move[1] - (move[0] + move[2]) / 2 == pytest.approx(0.20 * viewing_filter_fraction(gradient, "magenta"))


def test_unknown_cast_and_impossible_gradient_are_refused():
    with pytest.raises(ValueOutOfRange, match='"pink" is not a cast; use one of red, green'):
        viewing_filter_fraction(2.5, "pink")
    with pytest.raises(ValueOutOfRange, match="gradient must be above 0"):
        viewing_filter_fraction(-1.0)
