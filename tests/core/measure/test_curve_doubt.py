"""How far the local slope of our curves is off, against a published paper's."""

import csv
from importlib.resources import files

import numpy as np
import pytest
from scipy.optimize import least_squares

from printlore.core.measure.compare import CURVE_DOUBT
from printlore.core.paper.layers import curve

AIM = 0.72


def test_local_slopes_of_the_fitted_curves_differ_by_the_stated_share():
    """Source: filmscan-paper-a, status A. Fitted up to 0.9 from the aim; slopes over 0.1, up to 0.5 from it."""
    text = (files("printlore.core.paper") / "paper_a_curves.csv").read_text()
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    table = np.array(list(csv.reader(lines))[1:], dtype=float)
    off = []
    for channel in (1, 2, 3):
        exposure, density = table[:, 0], table[:, channel]
        rising = slice(0, int(np.argmax(density)) + 1)
        h = exposure - np.interp(AIM, density[rising], exposure[rising])
        near = np.abs(h) <= 0.9
        amount = AIM - density.min()

        def drawn(at, p, amount=amount):
            return curve(at, np.exp(p[0]), np.exp(p[1]), np.tanh(p[2]), amount)[0]

        def misfit(p, h=h[near], above=density[near] - AIM, drawn=drawn):
            return drawn(h, p) - above

        found = least_squares(misfit, (1.0, 0.8, 0.0), method="lm").x
        steps = np.linspace(-0.5, 0.5, 11)
        off.append(np.diff(drawn(steps, found)) / np.diff(np.interp(steps, h, density)) - 1)
    assert np.sqrt(np.mean(np.square(off))) == pytest.approx(CURVE_DOUBT, abs=0.01)
