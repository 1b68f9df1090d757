"""Run lengths by simulation beside the textbook's.

CUSUM: lucas-crosier1982, Table 1. EWMA: crowder1987, Table 1; lucas_saccucci1990, Table 3. (All as quoted in the
examples of a public statistics library.)
"""

import numpy as np
import pytest
from bench.run_lengths import (
    BEYOND_THREE,
    CLASSICAL_RULES,
    FOUR_OF_FIVE,
    run_length_of_cusum,
    run_length_of_ewma,
    run_length_of_rules,
)

from printlore.core.control.rules import rule_hits


def near(found, published):
    return abs(found.mean - published) < 4 * found.standard_error + 0.006 * published


@pytest.mark.parametrize(
    ("shift", "published"), [(0.0, 168.0), (0.25, 74.2), (0.5, 26.6), (1.0, 8.38), (2.0, 3.34), (3.0, 2.19)]
)
def test_cusum_takes_as_long_as_published(shift, published):
    assert near(run_length_of_cusum(0.5, 4.0, shift, np.random.default_rng(1), horizon=900), published)


@pytest.mark.parametrize(
    ("weight", "width", "shift", "published"),
    [
        (0.5, 2.0, 0.0, 26.45),
        (0.5, 2.0, 1.0, 4.91),
        (0.05, 2.0, 0.5, 18.97),
        (0.5, 3.071, 1.0, 17.5),
        (0.03, 2.437, 1.0, 12.6),
        (0.03, 2.437, 2.0, 5.99),
    ],
)
def test_ewma_takes_as_long_as_published(weight, width, shift, published):
    assert near(run_length_of_ewma(weight, width, shift, np.random.default_rng(2), horizon=400), published)


def test_a_single_outer_limit_alarms_falsely_once_in_370():
    """1 / 0.0027, any handbook."""
    assert near(run_length_of_rules([BEYOND_THREE], 0.0, np.random.default_rng(3)), 370.4)


def test_the_four_classical_rules_alarm_falsely_once_in_92():
    """Champ and Woodall, Technometrics 29 (1987): 91.75, from memory."""
    assert near(run_length_of_rules(CLASSICAL_RULES, 0.0, np.random.default_rng(4)), 91.75)


def test_four_of_five_needs_the_last_one_beyond_and_on_one_side():
    values = np.array([1.2, 1.2, -1.2, 1.2, 1.2, 0.0])
    assert rule_hits(values, FOUR_OF_FIVE).tolist() == [False, False, False, False, True, False]
    assert rule_hits(np.array([1.2, 1.2, -1.2, -1.2, 1.2]), FOUR_OF_FIVE).sum() == 0
