"""Generic curves and their gradients."""

import numpy as np
import pytest

from printlore.core.colour.tables import read_table
from printlore.core.paper.dyes import generic_paper
from printlore.core.paper.gradient import (
    density_gradient,
    generic_curves,
    lightness_shares,
)

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


def test_lightness_is_mostly_the_green_layer_then_red_then_a_tenth_blue():
    shares = lightness_shares(PAPER, CURVES)
    assert shares.sum() == pytest.approx(1)
    assert shares[1] > shares[0] > shares[2] > 0.05
