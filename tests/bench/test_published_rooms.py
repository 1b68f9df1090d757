"""Rooms whose paper is a published one."""

import numpy as np
import pytest
from bench.limits import limit
from bench.published import PUBLISHED_KINDS
from bench.rooms import Desk

from printlore.core.colour.tables import read_table
from printlore.core.paper.dyes import HERE


@pytest.mark.parametrize("kind", PUBLISHED_KINDS)
def test_the_aim_is_a_grey_and_density_rises_with_exposure(kind):
    paper = Desk.of(kind, 3).room.paper
    _, lab = paper.density_and_lab(paper.dye(np.zeros(3)))
    assert lab == pytest.approx([52, 0, 0], abs=1e-4)
    density, _ = paper.density_and_lab(paper.dye(np.linspace(-0.6, 0.6, 25)[:, None] * np.ones(3)))
    assert (np.diff(density, axis=0) > 0).all()


def test_paper_a_rises_at_the_aim_as_the_published_curve_does():
    """Source: filmscan-paper-a, status A; a room's own gradient lies 6 % (sd) about it."""
    table = read_table(HERE, "paper_a_curves.csv")
    rooms = [Desk.of("published paper A", seed).room for seed in range(1, 9)]
    step = 0.03 * np.array([[-1.0] * 3, [1.0] * 3])
    ratios = []
    for room in rooms:
        ours = np.diff(room.paper.density_and_lab(room.paper.dye(step))[0], axis=0)[0]
        for channel, name in enumerate(("red", "green", "blue")):
            at = np.interp(room.aim_density[channel], table[name], table["log_exposure"])
            below, above = np.interp([at - 0.03, at + 0.03], table["log_exposure"], table[name])
            ratios.append(ours[channel] / (above - below))
    assert np.mean(ratios) == pytest.approx(1, abs=0.05)
    assert np.std(ratios) == pytest.approx(0.06, abs=0.03)


@pytest.mark.parametrize("kind", PUBLISHED_KINDS)
def test_a_printer_who_knows_all_but_the_frame_gets_good_prints(kind):
    tallies = limit(Desk.of(kind, 3), True, "edition match", 6)
    assert all(tally.good for tally in tallies)
    assert sum(tally.cycles for tally in tallies) < 18
