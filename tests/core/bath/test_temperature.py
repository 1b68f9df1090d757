"""Textbook thermal examples (tests/data/thermal_worked_examples.csv names each source) and the trade's pour figures."""

import csv
import math
from pathlib import Path

import numpy as np
import pytest

from printlore.core.bath.temperature import (
    DrumCooling,
    OwnTime,
    first_trial,
    fit_drum_cooling,
    hot_volume,
    poured,
    time_for,
)
from printlore.core.flags import Flag
from printlore.errors import Refused, ValueOutOfRange

DATA = Path(__file__).parents[2] / "data"


def recomputed(key):
    with (DATA / "thermal_worked_examples.csv").open() as file:
        rows = csv.DictReader(line for line in file if not line.startswith("#"))
        return {row["id"]: row["recomputed"] for row in rows}[key].split()[0]


@pytest.mark.parametrize(
    ("key", "start", "around", "read", "after", "time", "printed"),
    [("T1", 72, 44, 61, 30, 60, 54.3), ("T3", 200, 70, 180, 2, 2.557, 175.0), ("T4", 200, 70, 180, 2, 5.087, 155.0)],
)
def test_a_pour_beside_a_wall_too_large_to_warm_cools_as_newton_says(key, start, around, read, after, time, printed):
    """Stewart, Calculus (T1: 54.3 F at 60 min); OpenStax Calculus 1, 6.8 (T3, T4: 175 and 155 F); from memory."""
    wall = DrumCooling(wall_heat=1e12, rate=-math.log((read - around) / (start - around)) / after)
    found = wall.at(time, 70, start, around)
    assert found == pytest.approx(printed, abs=0.05)
    if key == "T1":
        assert found == pytest.approx(float(recomputed(key)), abs=0.005)
    else:
        assert time == float(recomputed(key))


def test_hot_and_cold_water():
    """Heat balance, any physics text."""
    hot = hot_volume(1000, 35, 20, 60)
    assert hot == pytest.approx(float(recomputed("T7")))
    assert (hot * 60 + (1000 - hot) * 20) / 1000 == pytest.approx(35)


@pytest.mark.parametrize(("share", "settles"), [(0.15, 32), (0.30, 30), (1.0, 26)])
def test_a_small_pour_in_a_cold_drum_falls_by_degrees(share, settles):
    """70 mL at 35 C in 400 g of plastic at 22 C (trade figures, calculated, printed to a degree)."""
    assert poured(70, 35, 400, 22, share) == pytest.approx(settles, abs=0.5)


@pytest.mark.parametrize(
    ("temperature", "fast", "slow"), [(33, 52, 54), (30, 64, 71), (27, 78, 94), (24, 96, 123), (20, 127, 178)]
)
def test_first_trial_times_are_the_trades(temperature, fast, slow):
    """From 45 s at 35 C with a rate ratio of 2 to 2.5 for 10 degrees (trade figures, calculated)."""
    assert first_trial(temperature, OwnTime(temperature=35, time=45)) == (
        pytest.approx(fast, abs=0.6),
        pytest.approx(slow, abs=0.6),
    )


def test_start_temperature_gives_the_mean_it_promises():
    drum = DrumCooling(wall_heat=90, rate=0.05)
    start = drum.start_for_mean(35, 45, 70, 28)
    # Integrated step by step, apart from the closed form.
    times = np.linspace(0, 45, 4001)
    bath = 70 * 4.18
    temperature, wall, dt = start, 28.0, times[1]
    mean = 0.0
    exchange = 0.05 * bath * 90 / (bath + 90)
    for _ in times[1:]:
        flow = exchange * (temperature - wall)
        mean += temperature * dt / 45
        temperature -= flow * dt / bath
        wall += flow * dt / 90
    assert mean == pytest.approx(35, abs=0.01)
    assert start > 35


@pytest.mark.parametrize("wall", [20.0, 45.0, 60.0])
def test_a_drum_colder_or_hotter_than_the_aim_has_a_start_that_gives_the_mean(wall):
    """In a hot drum the pour starts below the aim: its mean, taken over many moments, is the aim."""
    drum = DrumCooling(wall_heat=150, rate=0.02)
    start = drum.start_for_mean(38, 45, 70, wall)
    assert (start - 38) * (wall - 38) < 0
    moments = np.linspace(0, 45, 20_001)
    assert np.mean([drum.at(t, 70, start, wall) for t in moments]) == pytest.approx(38, abs=1e-3)


def test_a_measured_curve_gives_back_the_drum_within_its_error():
    truth = DrumCooling(wall_heat=120, rate=0.04)
    rng = np.random.default_rng(7)
    inside = 0
    for _ in range(40):
        times = np.arange(0, 100, 8.0)
        readings = [truth.at(t, 70, 36, 23) + rng.normal(0, 0.1) for t in times]
        found = fit_drum_cooling(times, readings, 70, 23)
        inside += abs(found.wall_heat - truth.wall_heat) < 2 * found.wall_heat_error
    assert 33 <= inside <= 40


def test_time_for_today_comes_from_own_trials_and_warns_of_the_layers():
    trials = [OwnTime(temperature=35, time=45), OwnTime(temperature=30, time=68), OwnTime(temperature=25, time=104)]
    estimate = time_for(28, trials)
    assert 68 < estimate.value < 104
    assert estimate.standard_error > 0
    assert Flag.LAYER_BALANCE in estimate.flags


def test_no_time_is_promised_without_trials_or_beyond_them():
    with pytest.raises(Refused, match="none of your own trials is logged"):
        time_for(25, [])
    with pytest.raises(Refused, match="25 lies outside"):
        time_for(25, [OwnTime(temperature=35, time=45)])
    with pytest.raises(Refused, match="20 lies outside"):
        time_for(20, [OwnTime(temperature=35, time=45), OwnTime(temperature=30, time=66)])


@pytest.mark.parametrize(
    ("call", "error", "words"),
    [
        (lambda: hot_volume(1000, 65, 20, 60), ValueOutOfRange, "cannot give 65"),
        (lambda: hot_volume(0, 35, 20, 60), ValueOutOfRange, "total of 0 mL"),
        (lambda: poured(-5, 35, 400, 22), ValueOutOfRange, "-5 mL"),
        (lambda: DrumCooling(wall_heat=-1, rate=1), ValueOutOfRange, "cannot be"),
        (lambda: DrumCooling(wall_heat=900, rate=1).start_for_mean(35, 45, 70, 15), Refused, "Prewarm the drum"),
        (lambda: DrumCooling(wall_heat=900, rate=1).start_for_mean(35, 45, 70, 55), Refused, "Let the drum cool"),
        (lambda: DrumCooling(wall_heat=9, rate=1).start_for_mean(35, 0, 70, 15), ValueOutOfRange, "step of 0 s"),
        (lambda: fit_drum_cooling([0, 1], [35, 34], 70, 22), ValueOutOfRange, "four readings"),
        (lambda: fit_drum_cooling([0, 2, 1, 3], [35, 34, 33, 32], 70, 22), ValueOutOfRange, "grow from 0"),
        (lambda: fit_drum_cooling([0, 1, 2, 3], [35, 36, 37, 38], 70, 22), ValueOutOfRange, "not toward the wall"),
        (lambda: OwnTime(temperature=35, time=0), ValueOutOfRange, "0 s at 35"),
    ],
)
def test_temperature_nonsense_is_refused_in_words(call, error, words):
    with pytest.raises(error, match=words):
        call()
