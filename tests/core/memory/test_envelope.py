"""The factor in the order of time gives what a dense factor gives."""

import numpy as np
import pytest
import scipy.sparse

from printlore.core.memory.envelope import Factor

GENERAL = 5


def system_of(blocks, far, rng):
    """(general, cross, between) of a positive definite system in which only neighbours meet, and a few far apart."""
    near = np.arange(blocks - 1)
    pairs = np.concatenate([np.column_stack([near, near + 1]), rng.integers(0, blocks, (far, 2))])
    rows = np.repeat(np.arange(len(pairs)), 2)
    meet = scipy.sparse.csr_array((rng.standard_normal(2 * len(pairs)), (rows, pairs.ravel())))
    meet.resize((len(pairs), blocks))
    of_general = rng.standard_normal((len(pairs), GENERAL))
    general = of_general.T @ of_general + np.eye(GENERAL)
    between = scipy.sparse.csr_array(meet.T @ meet + scipy.sparse.eye_array(blocks))
    return general, meet.T @ of_general, between


@pytest.mark.parametrize(("blocks", "far"), [(0, 0), (3, 0), (250, 0), (250, 40)])
def test_halves_and_solutions_are_those_of_the_dense_system(blocks, far):
    rng = np.random.default_rng(2)
    general, cross, between = system_of(max(blocks, 2), far, rng)
    general, cross, between = general, cross[:blocks], between[:blocks, :blocks]
    factor = Factor(general, cross, between, rng.permutation(blocks))
    dense = np.block([[general, cross.T], [cross, between.toarray()]])
    rows = rng.standard_normal((4, GENERAL + blocks))
    rows[3, GENERAL:] = 0
    half = factor.half(rows)
    assert half.T @ half == pytest.approx(rows @ np.linalg.solve(dense, rows.T), rel=1e-9)
    assert factor.solve(rows[0]) == pytest.approx(np.linalg.solve(dense, rows[0]), rel=1e-9, abs=1e-12)
    own = factor.half_general @ rows[3, :GENERAL]
    assert own @ own == pytest.approx(half[:, 3] @ half[:, 3], rel=1e-9)
