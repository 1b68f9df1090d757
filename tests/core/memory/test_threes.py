"""Small inverses against the linear algebra library's."""

import numpy as np
import pytest

from printlore.core.memory.threes import half_inverse, inverses


@pytest.fixture
def many():
    """Covariances as far apart as those of frames (40 CC, mostly common) and readings (0.1 CC)."""
    rng = np.random.default_rng(4)
    root = rng.standard_normal((500, 3, 3)) * 10.0 ** rng.uniform(-3, 0, (500, 1, 1))
    return root @ np.swapaxes(root, 1, 2) + 1e-6 * np.eye(3)


def test_inverses_are_those_of_the_library(many):
    found, right = inverses(many), np.linalg.inv(many)
    assert np.abs(found - right).max(axis=(1, 2)) == pytest.approx(0, abs=1e-8 * np.abs(right).max())
    assert found @ many == pytest.approx(np.broadcast_to(np.eye(3), many.shape), abs=1e-7)
    half = half_inverse(many)
    assert np.swapaxes(half, 1, 2) @ half == pytest.approx(found, rel=1e-12)
    assert half[:, [0, 0, 1], [1, 2, 2]] == pytest.approx(0)


@pytest.mark.parametrize("bad", [np.diag([1.0, -1.0, 1.0]), np.diag([1.0, 0.0, 1.0]), np.diag([np.inf, 1.0, 1.0])])
def test_what_has_no_inverse_is_refused(bad):
    with pytest.raises(np.linalg.LinAlgError, match="positive definite"):
        half_inverse(np.stack([np.eye(3), bad]))
