"""The judging eye says what the trade would say."""

from dataclasses import replace

import numpy as np
import pytest

from printroom.eye import CASTS, judge
from printroom.kinds import IDEAL
from printroom.room import Room


def say(error, *, noise=0.0, scale=1.0, seed=0):
    rng = np.random.default_rng(seed)
    return judge(np.array(error), gradient=2.6, scale=scale, noise_sd=noise, rng=rng)


@pytest.mark.parametrize("cast", list(CASTS))
def test_a_cast_is_named_by_what_there_is_too_much_of(cast):
    seen = say(0.2 * np.array(CASTS[cast]))
    assert (seen.cast, seen.strength) == (cast, 20.0)


def test_a_print_without_error_has_no_cast():
    seen = say([0.0, 0.0, 0.0])
    assert (seen.cast, seen.strength, seen.stops_too_dark) == ("none", 0.0, 0.0)


def test_darkness_without_colour_is_told_in_stops():
    seen = say(np.full(3, 2.6 * 0.30103))
    assert (seen.cast, seen.stops_too_dark) == ("none", 1.0)
    assert say(np.full(3, -2.6 * 0.30103)).stops_too_dark == -1.0


def test_a_bold_eye_names_stronger_filters():
    assert say(0.1 * np.array(CASTS["red"]), scale=2.0).strength == 20.0


def test_eyes_are_noisy_and_each_in_its_own_way():
    room = Room(1, replace(IDEAL, eye_sd=0.025))
    room.add_film("film")
    room.add_lot("lot")
    room.add_bath("bath")
    frame = room.add_frame("film")
    right = room.right_setting(frame)
    outcomes = [room.expose(frame, magenta=right.magenta, yellow=right.yellow, time=right.time) for _ in range(300)]
    judged = [room.judge(outcome, "printer") for outcome in outcomes]
    assert judged[0] == room.judge(outcomes[0], "printer")
    assert judged != [room.judge(outcome, "bela") for outcome in outcomes]
    stops = np.array([judgement.stops_too_dark for judgement in judged])
    expected = 0.025 / 0.30103 * np.linalg.norm([0.3, 0.45, 0.25])
    assert stops.std() == pytest.approx(expected, rel=0.35), "rounded to tenths"
    assert abs(stops.mean()) < 0.02
    assert {judgement.cast for judgement in judged} >= {"none", "red", "green", "blue", "cyan", "magenta", "yellow"}


def test_an_underfiltered_print_looks_magenta_to_the_eye():
    room = Room(4, IDEAL)
    room.add_film("film")
    room.add_lot("lot")
    room.add_bath("bath")
    frame = room.add_frame("film")
    right = room.right_setting(frame)
    outcome = room.expose(frame, magenta=right.magenta - 15, yellow=right.yellow, time=right.time)
    seen = room.judge(outcome, "printer")
    assert seen.cast == "magenta"
    assert seen.stops_too_dark > 0
