"""A negative whose reading is wrong: its prints agree with each other, and the reading counts no more."""

from dataclasses import replace

import numpy as np
import pytest

from printed_rooms import printed
from printlore.core.memory.evidence import Judgement, NegativeReading
from printlore.core.memory.misread import misread, still_so, without
from printlore.core.memory.solve import solve
from printlore.core.memory.update import update


@pytest.fixture(scope="module")
def evidence():
    """Twelve negatives; of the last two prints that were made alike, near right, in drums of their own."""
    record = printed("steady vane", 3, 12).evidence
    last = record.trials[-1]
    others = [trial for trial in record.trials if trial.frame != last.frame]
    again = replace(last, name="again", run="again")
    return replace(record, trials=(*others, last, again))


def printed_one_by_one(evidence):
    """The memory as the bench has it after the last print."""
    memory = solve(replace(evidence, trials=evidence.trials[:-1]))
    return update(memory, evidence)


def read_as(evidence, name, off):
    reading = evidence.frames[name].reading
    density = tuple(value + off for value in reading.density)
    wrong = replace(evidence.frames[name], reading=NegativeReading(density=density, standard_error=0.006))
    return replace(evidence, frames={**evidence.frames, name: wrong})


def test_a_reading_that_is_right_is_never_doubted(evidence):
    assert misread(solve(evidence)) == {}


@pytest.mark.parametrize("off", [0.25, -0.25, 0.5, 0.9, 1.5])
def test_a_reading_of_another_patch_is_found_out_by_prints_that_agree(evidence, off):
    last = evidence.trials[-1]
    wrong = read_as(evidence, last.frame, off)
    found = misread(printed_one_by_one(wrong))
    assert set(found) == {last.frame}
    counted = without(wrong, found)
    assert counted.frames[last.frame].reading is None
    assert counted.frames[last.frame].misread
    memory = solve(counted)
    assert memory.trust.min() > 0.5
    assert misread(memory) == {}


def test_two_prints_that_were_made_otherwise_than_logged_cost_no_reading(evidence):
    """One twice as long, one half as long: they do not agree that the reading is wrong."""
    *before, one, two = evidence.trials

    def slipped(trial, times):
        (patch,) = trial.patches
        setting = replace(patch.setting, time=patch.setting.time * times)
        return replace(trial, patches=(replace(patch, setting=setting),))

    assert misread(solve(replace(evidence, trials=(*before, slipped(one, 2), slipped(two, 0.5))))) == {}


def test_a_reading_that_was_mended_is_looked_at_anew_and_so_is_one_whose_print_was_taken_back(evidence):
    last = evidence.trials[-1]
    wrong = read_as(evidence, last.frame, 0.25)
    found = misread(printed_one_by_one(wrong))
    assert found
    assert still_so(found, wrong) == found
    assert still_so(found, evidence) == {}
    assert still_so(found, replace(wrong, trials=wrong.trials[:-1])) == {}


def test_prints_that_only_an_eye_saw_are_no_reason_to_doubt_a_reading_and_stop_nothing(evidence):
    """They have no density to hold against it; looking for one stopped all advice."""
    *before, one, two = evidence.trials

    def seen(trial):
        (patch,) = trial.patches
        by_eye = replace(patch, density=None, judgement=Judgement(stops_too_dark=1.5))
        return replace(trial, patches=(by_eye,))

    memory = solve(replace(evidence, trials=(*before, seen(one), seen(two))))
    doubted = replace(memory, trust=np.where(memory.columns.cell_frame == memory.columns.cell_frame[-1], 0.1, 1.0))
    assert misread(doubted) == {}
