"""Mixed steps to a fixed point, on maps whose fixed point is known."""

import numpy as np
import pytest

from printed_rooms import printed
from printlore.core.memory.mixing import Mixing
from printlore.core.memory.solve import solve


def steps_to(map_of, start, most=60):
    mixing, point = Mixing(), start
    for count in range(most):
        step = map_of(point) - point
        if np.abs(step).max() < 1e-10:
            return count, point
        point = mixing.after(point, step, step)
    return most, point


def test_a_linear_map_of_few_directions_is_solved_in_as_many_steps_though_it_overshoots():
    """Walker and Ni (2011), theorem 2.2: as GMRES, which ends after as many steps as directions."""
    rng = np.random.default_rng(1)
    axes = np.linalg.qr(rng.standard_normal((6, 6)))[0]
    # three directions: overshooting, creeping, in between; plain steps would never end for the first
    matrix = axes @ np.diag([-1.2, 0.95, 0.4, 0.0, 0.0, 0.0]) @ axes.T
    there = rng.standard_normal(6)
    count, found = steps_to(lambda x: there + matrix @ (x - there), np.zeros(6))
    assert found == pytest.approx(there, abs=1e-9)
    assert count <= 5


def test_a_curved_map_ends_where_plain_steps_end():
    def turned(x):
        return np.array([np.cos(x[1]), 0.9 * np.sin(x[0]) + 0.1 * x[1]])

    plain = np.array([0.5, 0.5])
    for _ in range(500):
        plain = turned(plain)
    count, found = steps_to(turned, np.array([0.5, 0.5]))
    assert found == pytest.approx(plain, abs=1e-9)
    assert count < 15


def test_where_steps_only_grow_small_is_no_end():
    """Between 0.1 and -0.1 the map's steps are a thousandth; its one fixed point is 1."""

    def narrow(x):
        return x + (1e-4 + 0.3 * x**2) * (1 - x)

    count, found = steps_to(narrow, np.array([-0.8]))
    assert found == pytest.approx([1.0], abs=1e-9)
    assert count < 60


def test_a_fixed_point_that_the_map_leads_away_from_is_no_end():
    """x (3 - x) / 2 grows from anywhere above 0, where it has a fixed point, to 1."""
    _, found = steps_to(lambda x: x * (3 - x) / 2, np.array([0.05]))
    assert found == pytest.approx([1.0], abs=1e-9)


def test_a_mixed_step_to_where_no_curve_is_defined_is_taken_back(monkeypatch):
    evidence = printed("steady vane", 3, 6).evidence
    plain = solve(evidence)
    true_after, calls = Mixing.after, []

    def wild(self, point, step, weighed):
        calls.append(1)
        found = true_after(self, point, step, weighed)
        if len(calls) == 2:
            # the black of a layer below its grey
            found[plain.layout.paper[0].start + 6] = -5.0
        return found

    monkeypatch.setattr(Mixing, "after", wild)
    again = solve(evidence)
    assert len(calls) > 2
    assert again.state.general == pytest.approx(plain.state.general, abs=1e-5)
