"""The gradient that the memory starts from, against a published paper's curves."""

import csv
from importlib.resources import files

import numpy as np
import pytest

from printlore.core.paper.facts import PaperFacts
from printlore.core.paper.layers import LayerCurves


def test_a_neutral_wedge_rises_as_on_the_published_paper():
    """Source: filmscan-paper-a, status A, slope at the aim (over 0.06 log10, for it is a drawing read off)."""
    text = (files("printlore.core.paper") / "paper_a_curves.csv").read_text()
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    table = np.array(list(csv.reader(lines))[1:], dtype=float)
    facts = PaperFacts(name="usual")
    ours = LayerCurves.from_facts(facts).density_at(0.03 * np.array([[-1.0] * 3, [1.0] * 3]))
    for channel, aim in enumerate(facts.aim_density):
        exposure, density = table[:, 0], table[:, 1 + channel]
        at = np.interp(aim, density, exposure)
        below, above = np.interp([at - 0.03, at + 0.03], exposure, density)
        assert ours[1, channel] - ours[0, channel] == pytest.approx(above - below, rel=0.02)
