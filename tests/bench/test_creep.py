"""Long records must not bend the curve: what is not known of each negative must not pass for gradient.

The records are drawn from the memory's own kind of curve, so what is true of it is known (bench/invented.py).
"""

import numpy as np
import pytest
from bench.invented import DIAL_SCALE, invented_evidence

from printlore.core.memory.solve import solve


@pytest.mark.parametrize("how", [{}, {"by_heart": True}, {"steeper": 0.1}, {"unread": 1.0}, {"unread": 0.0}])
def test_gradient_dials_and_reciprocity_of_a_long_record_are_what_they_were(how):
    """Each within three of its own standard errors; before deviations counted times the gradient, off by up to 20."""
    memory = solve(invented_evidence(1000, **how))
    head, paper = memory.layout.head[0].start, memory.layout.paper[0].start
    standard_error = np.sqrt(np.diag(memory.elimination.factor.covariance_general))
    steeper = how.get("steeper", 0.0)
    for at, true in ((paper, 0.0), (paper + 3, steeper), (head + 1, np.log(DIAL_SCALE))):
        count = 2 if at == head + 1 else 3
        found, error = memory.state.general[at : at + count], standard_error[at : at + count]
        assert found == pytest.approx(np.full(count, true), abs=3 * float(error.max())), at
    assert memory.state.general[paper + 3 : paper + 6].mean() == pytest.approx(steeper, abs=0.07)
