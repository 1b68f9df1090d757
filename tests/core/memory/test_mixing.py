"""Mixed steps to a fixed point, on maps whose fixed point is known."""

import numpy as np
import pytest

from printlore.core.memory.mixing import Mixing


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
