"""What the prints taught, as moves whose errors know that the layers err together."""

from dataclasses import replace

import numpy as np
import pytest

from printed_rooms import printed
from printlore.core.advice.taught import taught
from printlore.core.memory.explain import shared_effects
from printlore.core.memory.solve import solve


@pytest.fixture(scope="module")
def memory():
    return solve(printed("steady vane", 6, 8, lots=3).evidence)


def test_effects_are_those_of_the_memory_with_their_errors_and_trials(memory):
    known = {(one.kind, one.name): one for one in shared_effects(memory)}
    found = taught(memory)
    assert {(one.kind, one.name) for one in found} == {key for key in known if key[0] in ("lot", "bath", "film")}
    for one in found:
        other = known[one.kind, one.name]
        assert one.log_exposure == other.log_exposure
        assert one.standard_error == pytest.approx(other.standard_error, rel=1e-8)
        assert one.trials == other.trials
        assert one.magenta == pytest.approx(100 * (other.log_exposure[1] - other.log_exposure[0]))


def test_the_error_of_a_move_is_that_of_the_difference_of_two_layers(memory):
    """By one solution with the contrast itself in the place of the unit vectors."""
    names = memory.columns.names.blocks
    (lot,) = (one for one in taught(memory, ("lot",)) if one.name == "lot 2")
    start = memory.layout.size + 3 * names.index(("lot", "lot 2"))
    contrast = np.zeros((1, memory.elimination.shared))
    contrast[0, start : start + 2] = -1.0, 1.0
    error = 100 * np.linalg.norm(memory.elimination.half(contrast))
    assert lot.magenta_error == pytest.approx(error, rel=1e-8)
    apart = 100 * np.hypot(lot.standard_error[0], lot.standard_error[1])
    assert lot.magenta_error < 0.95 * apart


def test_before_any_print_the_error_is_the_prior_one():
    record = printed("steady vane", 6, 8, lots=2)
    memory = solve(replace(record.evidence, lots={**record.evidence.lots, "lot 3": "paper"}))
    (unused,) = (one for one in taught(memory, ("lot",)) if not one.trials)
    assert unused.name == "lot 3"
    assert max(unused.magenta_error, unused.yellow_error) == pytest.approx(unused.prior, rel=1e-6)
