"""The scoreboard's own rules: same rooms, same noise, fair counting."""

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from bench.drawing import cycles_plot, reliability_plot
from bench.eye_limit import probability_said
from bench.limits import Known, Learned, nearest_setting
from bench.policies import POLICIES
from bench.rooms import Desk, Tally
from bench.scoreboard import Task, kept, play, tasks_for
from bench.tables import cycles_table, ratio_to, write_all
from bench.trade import moved, read_off, strip_of

from printroom.eye import judge
from printroom.kinds import KINDS


def test_every_policy_meets_the_same_frames_and_run_noise():
    first, second = Desk.of("steady vane", 3), Desk.of("steady vane", 3)
    job, again = next(first.jobs(1)), next(second.jobs(1))
    one = first.expose(job, first.room.usual, "a")
    second.expose(again, second.room.usual, "b")
    other = second.expose(again, second.room.usual, "a")
    assert other.measured == pytest.approx(one.measured, abs=1e-12)


def test_a_strip_is_a_cycle_and_a_tenth_of_a_sheet():
    tally = Tally(strips=2, sheets=1, good=True)
    assert tally.cycles == 3
    assert tally.paper == pytest.approx(1.2)


def test_perfect_knowledge_needs_no_more_than_the_limit_and_the_limit_no_more_than_the_handbook():
    cycles = {
        name: np.mean([t.cycles for t in POLICIES[name](Desk.of("steady vane", 5), True, "edition match", 25)])
        for name in ("perfect", "limit", "handbook")
    }
    assert 1.0 <= cycles["perfect"] < cycles["limit"] < cycles["handbook"]


def test_the_ideal_learner_is_the_limit_where_nothing_changes(monkeypatch):
    kind = replace(KINDS["steady vane"], lot_sd=0.0, bath_sd=0.0, lamp_drift_sd=0.0, ageing_spread=0.0)
    monkeypatch.setitem(KINDS, "unchanging", kind)
    limit, learner = (
        [t.cycles for t in POLICIES[name](Desk.of("unchanging", 4), True, "edition match", 22)]
        for name in ("limit", "ideal learner")
    )
    assert learner == limit


@pytest.mark.parametrize(("kind", "sure"), [("steady vane", 0.008), ("ageing baths", 0.02)])
def test_the_ideal_learner_learns_the_lot_and_is_as_sure_of_it_as_it_may_be(kind, sure):
    """After eight negatives: what is believed of lot, bath and lamp errs by what is stated."""
    desks = [Desk.of(kind, seed) for seed in range(40, 64)]
    off = []
    for desk in desks:
        changing = Learned(desk.room)
        for job in desk.jobs(8):
            at = desk.conditions(job)
            changing.meet(at)
            known = Known(desk.room, job, changing, with_reading=True)
            exposure = nearest_setting(desk.room, job, known.latent, known.shift(at))
            known.learn((desk.expose(job, exposure, job.frame),), at)
            desk.used(job, 1.0)
            known.hand_on()
        believed = changing.shift(changing.mean, at) - desk.room.shift(at)
        by_unknown = np.kron([1.0, 1.0, at.area_per_litre, at.age_days, 1.0], np.eye(3))
        covariance = by_unknown @ changing.covariance @ by_unknown.T
        off.append(np.linalg.solve(np.linalg.cholesky(covariance), believed))
    # 72 standard normal deviates: their mean square is 1 within 0.17
    assert np.mean(np.square(off)) == pytest.approx(1.0, abs=0.5)
    assert np.sqrt(covariance[1, 1]) < sure


def test_a_move_is_the_sum_of_packs_and_the_ratio_of_times():
    """Handbook arithmetic: ten points of magenta more is 0.10 less exposure of the green layer; time in ratio."""
    room = Desk.of("ideal", 1).room
    start = room.usual
    after = moved(start, (0.0, -0.10, 0.0), 0.001)
    assert after.magenta == pytest.approx(start.magenta + 10)
    assert (after.cyan, after.yellow, after.time) == pytest.approx((0.0, start.yellow, start.time))
    darker = moved(start, (0.30103, 0.30103, 0.30103), 0.001)
    assert darker.time == pytest.approx(2 * start.time, rel=1e-4)


def test_a_strip_is_read_off_where_its_density_meets_the_aim():
    desk = Desk.of("ideal", 2)
    job = next(desk.jobs(1))
    right = desk.room.right_setting(job.frame)
    at, slope = read_off(desk.expose_strip(job, strip_of(right), "run"), desk.room.aim_density)
    assert at == pytest.approx(np.full(3, np.log10(right.time)), abs=0.02)
    assert np.all(slope > 1.5)


def test_rows_are_kept_and_a_second_run_plays_only_what_is_missing(tmp_path):
    path = tmp_path / "rows.jsonl"
    tasks = [Task(1, "steady vane", True, "perfect", "edition match", 3)]
    first = play(tasks, path, 1)
    assert play(tasks, path, 1) == first
    assert len(path.read_text().splitlines()) == 1
    assert kept(path, {"perfect": "another version"}) == {}


def test_kinds_have_rooms_of_their_own_but_for_those_set_against_each_other():
    kinds = ["steady vane", "noisy vane", "coarse", "blundering"]
    seeds = {kind: {t.seed for t in tasks_for([kind], ["memory"], 30, 5, {"memory"})} for kind in kinds}
    assert seeds["blundering"] == seeds["steady vane"]
    others = [seeds[kind] for kind in kinds[:3]]
    assert len(set().union(*others)) == sum(len(one) for one in others) == 90


def test_what_a_printer_says_of_prints_made_alike_is_near_what_is_true_of_the_room():
    said = np.array([Desk.of("coarse", seed).expected_scatter() for seed in range(1, 41)])
    true = 100 * KINDS["coarse"].run_sd
    assert 0.15 < np.std(np.log(said / true)) < 0.40
    assert abs(np.mean(np.log(said / true))) < 0.15


def test_a_policy_for_first_prints_is_played_for_few_negatives():
    tasks = tasks_for(["coarse"], ["memory", "memory, told"], 1, 40, {"memory", "memory, told"})
    assert {(t.policy, t.negatives) for t in tasks} == {("memory", 40), ("memory, told", 12)}


def test_a_policy_without_use_for_readings_is_played_once():
    tasks = tasks_for(["coarse"], ["limit", "perfect"], 1, 5, {"limit"})
    assert [(t.policy, t.reading, t.tolerance) for t in tasks] == [
        ("limit", True, "good alone"),
        ("limit", False, "good alone"),
        ("perfect", False, "good alone"),
    ]


def test_ratio_is_of_the_same_rooms():
    value, error = ratio_to(np.array([2.0, 4.0, 6.0]), np.array([1.0, 2.0, 3.0]))
    assert value == pytest.approx(2.0)
    assert error == pytest.approx(0.0, abs=1e-12)


def test_a_strip_that_throws_a_young_memory_off_the_curve_is_taken_in(tmp_path):
    """In this room the first step of the low-rank change ends where no curve is defined."""
    task = Task(7, "blundering", False, "memory", "edition match", 5)
    (row,) = play([task], tmp_path / "rows.jsonl", 1)
    assert all(row["good"])


def test_tables_and_plots_are_written(tmp_path):
    rows = play(tasks_for(["steady vane"], ["limit", "perfect"], 1, 22, {"limit"}), tmp_path / "rows.jsonl", 1)
    text = write_all(rows, tmp_path / "results")
    assert "| steady vane | yes | limit | 1 |" in text
    assert text.count("perfect") == 2
    assert (tmp_path / "results" / "cycles.svg").read_text().startswith("<svg")
    assert "policy" in cycles_table(rows)


def test_plots_name_their_lines():
    assert ">memory, read<" in cycles_plot({("memory", True): np.linspace(3, 2, 40)})
    assert ">later<" in reliability_plot({"later": [(0.5, 0.45, 0.05, 60)]})


@pytest.mark.parametrize("off", [(0.0, 0.02, 0.0), (0.10, 0.02, -0.12), (-0.25, -0.2, -0.1)])
def test_what_an_eye_is_likely_to_say_is_what_it_says_in_as_many_of_many_looks(off):
    """The limit of judging by eye reckons with the words' probabilities: beside a hundred thousand looks."""
    rng = np.random.default_rng(4)
    run = np.array([[4, 3, 2], [3, 5, 2], [2, 2, 4]]) * 1e-4
    said = Counter()
    looks = 100_000
    for noise in rng.multivariate_normal(np.zeros(3), run, looks):
        said[judge(np.array(off) + noise, gradient=2.5, scale=1.2, noise_sd=0.025, rng=rng)] += 1
    whole = run + (2.5 * 0.025) ** 2 * np.eye(3)
    for words, count in said.most_common(8):
        (found,) = probability_said(words, np.array([off]), whole, gradient=2.5, scale=1.2)
        assert found == pytest.approx(count / looks, abs=4 * np.sqrt(count) / looks)


def test_the_limit_by_eye_takes_more_than_the_limit_that_measures_and_less_than_the_habit():
    cycles = {
        name: np.mean([t.cycles for t in POLICIES[name](Desk.of("coarse gel", 5), False, "good alone", 12)])
        for name in ("limit", "limit, by eye", "by eye")
    }
    assert cycles["limit"] < cycles["limit, by eye"] < cycles["by eye"]
