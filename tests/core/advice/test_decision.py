"""Print or test: the expected costs by hand, and what a sheet or a strip would tell."""

from dataclasses import replace

import numpy as np
import pytest

from printed_rooms import printed
from printlore.core.advice.advise import advise
from printlore.core.advice.decision import Costs, decide
from printlore.core.advice.tolerance import Tolerance
from printlore.core.light.setting import Setting
from printlore.core.memory.evidence import Cast, Judgement
from printlore.core.memory.forecast import Conditions
from printlore.core.memory.solve import solve
from printlore.core.paper.dyes import generic_paper

GOOD_ALONE = Tolerance(name="good alone", colour_cc=2.5, time_share=0.10)


def test_the_costs_are_those_of_playing_it_out():
    """A cycle of 10, a sheet of 2, a strip of 1; a game of chances played a hundred thousand times."""
    costs = Costs(minute=1.0, cycle_minutes=10.0, sheet=2.0, strip=1.0)
    after = np.array([[0.3, 0.4], [0.5, 0.55], [0.7, 0.7]])
    found = decide(0.2, after, costs)
    rng = np.random.default_rng(3)

    def sheets(chances):
        """How many until one is good."""
        count = 1
        while rng.random() >= chances[min(count - 1, len(chances) - 1)]:
            count += 1
        return count

    games = 100_000
    printed_first = np.mean([12 * sheets([0.2, *after[:, 0]]) for _ in range(games)])
    strip_first = np.mean([11 + 12 * sheets(after[:, 1]) for _ in range(games)])
    assert found.print_cost == pytest.approx(printed_first, rel=0.01)
    assert found.strip_cost == pytest.approx(strip_first, rel=0.01)
    assert found.next == ("print" if printed_first < strip_first else "strip")
    assert found.good_after == 0.4


@pytest.fixture(scope="module")
def record():
    """Prints of twelve negatives that were read, and a negative that was never printed."""
    evidence = printed("coarse", 6001, 12, lots=1, readings=False).evidence
    new = replace(next(iter(evidence.frames.values())), name="new negative")
    return replace(evidence, frames={**evidence.frames, "new negative": new})


def judged(evidence):
    """The same prints as an eye would say them that sees no cast below 5."""
    trials = []
    for trial in evidence.trials:
        said = [
            replace(patch, density=None, judgement=Judgement(cast=Cast.YELLOW, strength=5.0, stops_too_dark=0.1))
            for patch in trial.patches[:1]
        ]
        trials.append(replace(trial, patches=tuple(said)))
    return replace(evidence, trials=tuple(trials))


def advice(evidence, frame):
    memory = solve(evidence)
    last = evidence.trials[-1]
    at = Conditions(frame=frame, head=last.head, lot=last.lot, bath=last.bath, date=last.date)
    (usual,) = {facts.usual for facts in evidence.heads.values()}
    assert isinstance(usual, Setting)
    return advise(memory, at, dyes=generic_paper("a"), tolerance=GOOD_ALONE, magnification=usual.magnification)


def test_by_eye_a_strip_tells_more_of_a_new_negative_than_a_sheet_and_less_than_if_it_were_read(record):
    by_eye, read = advice(judged(record), "new negative"), advice(record, "new negative")
    assert by_eye.next == read.next == "strip"
    assert by_eye.decision.good_after < read.decision.good_after


def test_strips_that_are_judged_beside_sheets_that_are_read_tell_less_than_those_sheets(record):
    """What a strip will tell is asked of the latest strip, not of the latest piece."""
    *before, last = record.trials
    said = Judgement(cast=Cast.YELLOW, strength=5.0, stops_too_dark=0.1)
    strip = replace(before[-1], strip=True, patches=(replace(before[-1].patches[0], density=None, judgement=said),))
    mixed = replace(record, trials=(*before[:-1], strip, last))
    by_strip, read = advice(mixed, "new negative").decision, advice(record, "new negative").decision
    assert by_strip.good_after < read.good_after
    assert by_strip.strip_cost > by_strip.print_cost


def test_a_negative_that_was_printed_right_is_printed(record):
    assert advice(record, record.trials[-1].frame).next == "print"


def test_what_the_steps_of_the_timer_leave_no_strip_mends(record):
    """A light so short that the timer's next step is a third more: what is known better hits the aim no better."""
    (name,) = record.heads
    whole_seconds = replace(record, heads={name: replace(record.heads[name], timer_step=4.0, shortest=1.0)})
    frame = record.trials[-1].frame
    fine, coarse = advice(record, frame), advice(whole_seconds, frame)
    assert coarse.probability_good < 0.1 < fine.probability_good
    assert coarse.decision.good_after < 0.2 < fine.decision.good_after
    assert coarse.next == "print"
