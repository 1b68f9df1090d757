"""Pictures of what was learned: their lines against the room, their errors against differences."""

import numpy as np
import pytest

from printed_rooms import printed
from printlore.core.advice.pictures import pictures
from printlore.core.memory.model import HEAD_SIZE, curves_of, density_by_curve, loss_in_filters
from printlore.core.memory.solve import solve
from printlore.core.paper.layers import LayerCurves


@pytest.fixture(scope="module")
def record():
    return printed("steady vane", 6, 12, lots=2)


@pytest.fixture(scope="module")
def memory(record):
    return solve(record.evidence)


@pytest.fixture(scope="module")
def drawn(memory):
    return {(one.kind, one.name): one for one in pictures(memory)}


def test_every_general_effect_has_its_picture_and_none_is_drawn_of_nothing(memory, drawn):
    kinds = {kind for kind, _ in drawn}
    assert {"paper", "filters", "lamp"} <= kinds
    for one in drawn.values():
        for line in one.lines:
            assert len(line.values) == len(line.errors) == len(line.before) == len(one.at)
            assert np.isfinite([line.values, line.errors, line.before]).all()
            assert min(line.errors) >= 0
    empty = printed("steady vane", 6, 0)
    assert pictures(solve(empty.evidence)) == ()


def test_the_paper_drawn_is_the_rooms_within_its_band(record, drawn):
    """True densities of the room, whose curves are of another family, where prints have shown the paper."""
    (one,) = (one for (kind, _), one in drawn.items() if kind == "paper")
    at = np.array(one.at)
    near = np.abs(at) < 0.15
    h = np.broadcast_to(at[near, None], (near.sum(), 3))
    truth = record.room.density_at(h, record.room.conditions("lot 1", "bath 1"))[0]
    for layer, line in enumerate(one.lines):
        miss = np.array(line.values)[near] - truth[:, layer]
        # beside the band: contrast of one lot against the other, 2 % of 0.15 x 2.7
        assert np.abs(miss) == pytest.approx(0, abs=3 * max(np.array(line.errors)[near]) + 0.015)


def test_the_curves_errors_come_from_the_right_slopes(memory):
    h = np.linspace(-0.5, 0.5, 11)[:, None] + np.array([0.0, 0.05, -0.05])
    curves = curves_of(memory.layout, memory.state.general, 0)
    found = density_by_curve(curves.theta, h, np.broadcast_to(np.eye(3), (11, 3, 3)))
    step = 1e-6
    for place in range(18):
        moved = curves.theta.copy()
        # the third parameter is kept as the inverse hyperbolic tangent of what the curve takes
        moved[place] += step
        change = (LayerCurves(aim=curves.aim, theta=moved).density_at(h) - curves.density_at(h)) / step
        assert found[:, :, place] == pytest.approx(change, abs=1e-4), place


def test_the_dials_errors_come_from_the_right_slopes(memory):
    dial = np.random.default_rng(2).uniform(-0.5, 0.6, (20, 3))
    effect = np.random.default_rng(3).normal(0, 0.1, HEAD_SIZE)
    loss, slope = loss_in_filters(dial, effect, memory.priors)
    for place in range(HEAD_SIZE):
        moved = effect.copy()
        moved[place] += 1e-6
        change = (loss_in_filters(dial, moved, memory.priors)[0] - loss) / 1e-6
        assert slope[:, :, place] == pytest.approx(change, abs=1e-5), place


def test_filters_begin_at_nothing_and_say_what_was_believed(drawn):
    (one,) = (one for (kind, _), one in drawn.items() if kind == "filters")
    assert {"magenta", "yellow"} <= {line.name for line in one.lines}
    for line in one.lines:
        assert (line.values[0], line.errors[0], line.before[0]) == pytest.approx((0, 0, 0), abs=1e-9)
        assert line.before[-1] == pytest.approx(one.at[-1], rel=1e-6)


def test_the_first_day_of_the_first_head_is_the_zero_of_the_lamp(drawn):
    (one,) = (one for (kind, _), one in drawn.items() if kind == "lamp")
    for line in one.lines:
        assert (line.values[0], line.errors[0]) == pytest.approx((0, 0), abs=0.02)
        assert line.errors[-1] > line.errors[0]
