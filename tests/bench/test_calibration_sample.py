"""What the advice states about its own certainty, against what simulated rooms do: a sample of ``make bench``.

The rooms are built apart from the estimator (``printroom``); the reference is the definition of an interval and of a
probability, no source needed. Bounds are wide enough that chance fails them less than once in thousands of runs of an
honest memory, and narrow enough that errors stated at half or twice their size fail.
"""

import numpy as np
import pytest
from bench.calibration import Foretold, coverage, gather, log_score_gain
from bench.scoreboard import Task, play

ROOMS = (("steady vane", 9001, True), ("steady gel", 9002, False), ("additive times", 9003, True))
NEGATIVES = 14


@pytest.fixture(scope="module")
def rows(tmp_path_factory):
    tasks = [Task(seed, kind, reading, "memory", "edition match", NEGATIVES) for kind, seed, reading in ROOMS]
    return play(tasks, tmp_path_factory.mktemp("rooms") / "rows.jsonl", processes=1)


@pytest.fixture(scope="module")
def sheets(rows):
    return gather(rows)


def test_intervals_hold_about_what_they_state(sheets):
    assert 0.34 <= coverage(sheets, 0.5)[0] <= 0.70
    assert 0.78 <= coverage(sheets, 0.9)[0] <= 0.98


def test_stated_probabilities_come_true_on_the_whole(sheets):
    assert abs(sheets.probability.mean() - sheets.good.mean()) <= 0.20


def test_nothing_is_stated_for_certain(sheets):
    assert sheets.probability.max() < 0.999


def test_every_negative_of_the_sample_came_out_good_in_few_cycles(rows):
    cycles = [s + t for row in rows for s, t in zip(row["strips"], row["sheets"], strict=True)]
    assert all(all(row["good"]) for row in rows)
    assert np.mean(cycles) <= 3.6


def _invented(rng, stated_share):
    """Sheets that come out as foretold but for errors this many times as large as stated, and coin-like success."""
    count = 3000
    probability = rng.uniform(0.05, 0.95, count)
    return Foretold(
        room=rng.integers(0, 30, count),
        place=np.arange(count),
        negative=np.arange(count),
        order=np.ones(count, dtype=int),
        after_strip=np.zeros(count, dtype=bool),
        probability=probability,
        good=(rng.uniform(size=count) < probability).astype(float),
        off=stated_share * rng.standard_normal((count, 3)),
        blunder=np.zeros(count, dtype=bool),
    )


@pytest.mark.parametrize(("share", "inside"), [(1.0, 0.5), (2.0, 0.264), (0.5, 0.823)])
def test_coverage_tells_honest_errors_from_others(share, inside):
    """Normal law: a 50 % interval of errors twice as large holds 26.4 %, of half as large 82.3 %."""
    assert coverage(_invented(np.random.default_rng(5), share), 0.5)[0] == pytest.approx(inside, abs=0.02)


def test_true_probabilities_score_better_than_their_mean_and_a_constant_does_not():
    honest = _invented(np.random.default_rng(6), 1.0)
    assert log_score_gain(honest)[0] > 0.1
    constant = Foretold(
        **{name: getattr(honest, name) for name in honest.__slots__ if name != "probability"},
        probability=np.full(len(honest), honest.good.mean()),
    )
    assert log_score_gain(constant)[0] == pytest.approx(0.0, abs=1e-9)
