"""Run rules: patterns inside the limits that chance makes seldom."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class RunRule:
    """So many of so many readings in a row beyond so many sigma on one side."""

    name: str
    beyond: float
    hits: int
    of: int
    words: str


BEYOND_THREE = RunRule(
    name="beyond_three", beyond=3.0, hits=1, of=1, words="one reading beyond 3 sigma: a sudden change, or a bad reading"
)
FOUR_OF_FIVE = RunRule(
    name="four_of_five", beyond=1.0, hits=4, of=5, words="four of five beyond 1 sigma on one side: a slow drift"
)
TWO_OF_THREE = RunRule(
    name="two_of_three", beyond=2.0, hits=2, of=3, words="two of three beyond 2 sigma on one side: an early warning"
)
EIGHT_IN_A_ROW = RunRule(
    name="eight_in_a_row", beyond=0.0, hits=8, of=8, words="eight in a row on one side: the level has moved"
)

FOUR_WELL_BEYOND = RunRule(
    name="four_well_beyond",
    beyond=1.5,
    hits=4,
    of=5,
    words="four of the last five beyond 1.5 sigma on one side: the level has moved",
)
"""Four of five beyond one sigma is a good single test of one line (quesenberry1993); with twelve lines and an aim
that is itself read it would cry wolf, so half a sigma is added."""
CLASSICAL_RULES: tuple[RunRule, ...] = (BEYOND_THREE, TWO_OF_THREE, FOUR_OF_FIVE, EIGHT_IN_A_ROW)
"""All four together alarm falsely once in about 92 readings of one line (champ_woodall1987, from memory)."""


def rule_hits(standardised: Array, rule: RunRule) -> NDArray[np.bool_]:
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
