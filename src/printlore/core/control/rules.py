"""Run rules: patterns inside the limits that chance makes seldom."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True)
class RunRule:
    """``hits`` of ``of`` readings in a row ``beyond`` so many sigma on one side."""

    beyond: float
    hits: int
    of: int


FOUR_WELL_BEYOND = RunRule(beyond=1.5, hits=4, of=5)
"""Four of five beyond one sigma is a good single test of one line (quesenberry1993); with twelve lines and an aim
that is itself read it would cry wolf, so half a sigma is added."""


def rule_hits(standardised: NDArray[np.float64], rule: RunRule) -> NDArray[np.bool_]:
    """Where a rule fires.

    Parameters
    ----------
    standardised : (..., N) array
        Readings less the centre, over sigma, in order of time.

    Returns
    -------
    (..., N) array of bool
        True at the reading that completes the pattern.
    """
    values = np.asarray(standardised, dtype=float)
    fired = np.zeros(values.shape, dtype=bool)
    for side in (values, -values):
        beyond = side > rule.beyond
        counts = np.cumsum(beyond, axis=-1)
        before = np.zeros_like(counts)
        before[..., rule.of :] = counts[..., : -rule.of]
        fired |= beyond & (counts - before >= rule.hits)
    return fired
