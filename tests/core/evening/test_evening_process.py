"""Sequences, cues, rotation and pours, against figures printed elsewhere."""

import csv
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from printlore.core.evening.cues import PROMPTS, Cue, spoken_number
from printlore.core.evening.pour import check_pour
from printlore.core.evening.process import (
    Sequence,
    Step,
    StepKind,
    doubts,
    moments,
    process_cues,
    starts,
    usual_sequence,
)
from printlore.core.evening.rotation import clashes, hands, next_start
from printlore.core.evening.run import Turn, follow, missed
from printlore.errors import Refused, ValueOutOfRange

DATA = Path(__file__).parents[2] / "data"


def published(name):
    lines = [line for line in (DATA / name).read_text().splitlines() if not line.startswith("#")]
    return list(csv.DictReader(lines))


def step(kind=StepKind.DEVELOPER, time=45.0, drain=10.0, volume=70.0, **more):
    return Step(kind=kind, time=time, drain=drain, volume=volume, **more)


times = st.floats(15, 240).map(lambda value: round(value, 1))
sequences = st.lists(times, min_size=2, max_size=6).map(
    lambda seconds: Sequence(name="own", steps=tuple(step(time=time, drain=8.0) for time in seconds))
)


def test_usual_developer_is_the_published_time_and_temperature():
    """E-4070 (March 2013), p. 4: 45 s at 35 degrees C; copied in colour_paper_process_cycle.csv."""
    printed = {row["parameter"]: float(row["value"]) for row in published("colour_paper_process_cycle.csv")}
    developer = next(s for s in usual_sequence().steps if s.kind is StepKind.DEVELOPER)
    assert developer.time == printed["developer time"]
    assert developer.temperature == printed["developer temperature"]


def test_drain_of_ten_seconds_lies_inside_the_step():
    """SS0514 A (1994): the 10 s drain before the end of each step belongs to that step."""
    (developer, _) = moments(Sequence(name="two", steps=(step(), step(StepKind.STOP))))
    assert (developer.begin, developer.drain, developer.end) == (0, 35, 45)


def test_drain_share_and_slip_match_the_worked_example():
    """Worked out by hand: 12 s of a 45 s step is 27 %, and a slip of 3 s is 6.7 % of development."""
    (said,) = [d for d in doubts(usual_like(step(drain=12))) if "drain is" in d]
    assert "27%" in said
    assert "6.7%" in said


def usual_like(developer, *after):
    rest = after or (step(StepKind.STOP), step(StepKind.RINSE), step(StepKind.BLEACH_FIX), step(StepKind.WASH))
    return Sequence(name="own", steps=(step(StepKind.PREWASH), developer, *rest))


def test_usual_sequence_raises_no_doubt():
    assert doubts(usual_sequence()) == ()


@pytest.mark.parametrize(
    ("after", "said"),
    [
        ((step(StepKind.BLEACH_FIX), step(StepKind.WASH)), "straight into bleach-fix"),
        ((step(StepKind.STOP), step(StepKind.BLEACH_FIX), step(StepKind.WASH)), "short rinse after the acid stop"),
        ((step(StepKind.RINSE), step(StepKind.BLEACH_FIX)), "no wash after bleach-fix"),
        ((step(StepKind.RINSE),), "no bleach-fix"),
    ],
)
def test_a_careless_sequence_is_doubted(after, said):
    assert any(said in doubt for doubt in doubts(usual_like(step(), *after)))


def test_no_prewash_and_no_developer_are_doubted():
    said = " ".join(doubts(Sequence(name="own", steps=(step(StepKind.BLEACH_FIX), step(StepKind.WASH)))))
    assert "no developer" in said
    assert "No prewash" in " ".join(doubts(Sequence(name="own", steps=(step(), step(StepKind.WASH)))))


@pytest.mark.parametrize(
    ("numbers", "said"),
    [
        ({"time": 0}, "lasts 0 s"),
        ({"drain": 45}, "the drain belongs to the step"),
        ({"volume": 0}, "pours 0 mL"),
        ({"temperature": 80}, "poured at 80 degrees"),
        ({"tolerance": 0}, "tolerance of 0"),
    ],
)
def test_an_impossible_step_says_what_is_wrong(numbers, said):
    with pytest.raises(ValueOutOfRange, match=said):
        step(**numbers)


def test_a_sequence_needs_a_name_and_steps():
    with pytest.raises(ValueOutOfRange, match="no name"):
        Sequence(name=" ", steps=(step(),))
    with pytest.raises(ValueOutOfRange, match="no steps"):
        Sequence(name="empty", steps=())


@given(sequences)
def test_every_pour_has_its_tone_on_the_second_and_its_words_before(sequence):
    cues = process_cues(moments(sequence))
    poured = [cue.at for cue in cues if cue.tone == "begin"]
    assert poured == pytest.approx(starts(sequence.steps)[:-1])
    announced = [cue.at for cue in cues if "next" in cue.say]
    assert len(announced) == len(poured)
    assert all(words < tone for words, tone in zip(announced, poured, strict=True))
    assert [cue.at for cue in cues if cue.tone == "out"] == pytest.approx([m.drain for m in moments(sequence)])
    assert cues[-1].tone == "end"
    assert cues[-1].at == pytest.approx(sequence.time)


def test_the_drum_is_named_when_asked():
    cues = process_cues(moments(usual_sequence()), drum=2)
    assert cues[0].say == ("drum", "number_2", "next", "step_prewash")


def test_a_cue_says_what_is_wrong_with_it():
    with pytest.raises(ValueOutOfRange, match="silent"):
        Cue(at=1.0)
    with pytest.raises(ValueOutOfRange, match='no tone "horn"'):
        Cue(at=1.0, tone="horn")
    with pytest.raises(ValueOutOfRange, match='no prompt "sing"'):
        Cue(at=1.0, say=("sing",))
    with pytest.raises(ValueOutOfRange, match="finite"):
        Cue(at=float("nan"), tone="tick")
    with pytest.raises(ValueOutOfRange, match="number 61"):
        spoken_number(61)
    assert PROMPTS[spoken_number(7)[0]] == "7"


# one run


@given(sequences, st.floats(0, 2000))
def test_an_undisturbed_run_follows_the_plan(sequence, now):
    run = follow(sequence, 100.0, (), now)
    assert [m.begin for m in run.moments] == pytest.approx([100 + s for s in starts(sequence.steps)[:-1]])
    assert run.finished == (now >= 100 + sequence.time - 1e-9)


@given(sequences, st.floats(1, 500), st.floats(0.5, 300), st.floats(0, 600))
def test_a_hold_delays_everything_after_it_by_its_length(sequence, at, length, later):
    turns = (Turn(at=at, what="held"), Turn(at=at + length, what="resumed"))
    run = follow(sequence, 0.0, turns, at + length + later)
    expected = sequence.time + (length if at < sequence.time - 1e-6 else 0.0)
    if abs(at - sequence.time) > 1e-6:
        assert run.end == pytest.approx(expected)
        assert sum(m.held for m in run.moments) == pytest.approx(expected - sequence.time)


@given(sequences, st.floats(0.5, 200))
def test_moving_on_ends_the_step_now_and_keeps_the_rest(sequence, at):
    planned = starts(sequence.steps)
    if any(abs(at - edge) < 1e-6 for edge in planned) or at > sequence.time:
        return
    number = sum(edge <= at for edge in planned) - 1
    run = follow(sequence, 0.0, (Turn(at=at, what="moved_on"),), at)
    assert run.past[-1].end == pytest.approx(at)
    assert run.end == pytest.approx(at + sequence.time - planned[number + 1])


@settings(max_examples=30)
@given(sequences, st.lists(st.tuples(st.floats(0, 400), st.sampled_from(["held", "resumed", "moved_on"])), max_size=6))
def test_a_run_is_the_same_whenever_it_is_asked_for(sequence, turns):
    """Drift 0 after a reload: steps that ended are where they were, whoever asks later."""
    turns = tuple(Turn(at=at, what=what) for at, what in turns)
    early, late = follow(sequence, 0.0, turns, 300.0), follow(sequence, 0.0, turns, 900.0)
    assert late.past[: len(early.past)] == early.past


def test_a_hold_before_the_drain_moves_the_drain_and_one_in_it_does_not():
    sequence = Sequence(name="own", steps=(step(), step(StepKind.WASH)))
    before = follow(sequence, 0.0, (Turn(at=20, what="held"), Turn(at=30, what="resumed")), 31)
    assert (before.future[0].drain, before.future[0].end) == (45, 55)
    inside = follow(sequence, 0.0, (Turn(at=40, what="held"), Turn(at=50, what="resumed")), 51)
    assert (inside.future[0].drain, inside.future[0].end) == (35, 55)
    assert inside.draining


def test_a_held_run_says_so_and_is_silent():
    run = follow(usual_sequence(), 0.0, (Turn(at=50, what="held"),), 70)
    assert run.words == "developer, held for 20 s"
    assert run.cues() == ()
    assert follow(usual_sequence(), 0.0, (), 70).words == "developer, 20 s left"
    assert follow(usual_sequence(), 0.0, (), 85).words == "developer, draining, 5 s left"
    assert follow(usual_sequence(), 10.0, (), 0).words == "first pour (prewash) in 10 s"
    assert follow(usual_sequence(), 0.0, (), 999).words == "finished"


def test_what_nobody_heard_is_named():
    cues = process_cues(moments(Sequence(name="own", steps=(step(), step(StepKind.STOP)))))
    gone = missed(cues, 30.0, 50.0)
    assert [(cue.at, cue.tone) for cue in gone] == [(35, "out"), (45, "begin")]


# several drums


def overlaps(busy_a, busy_b):
    return any(min(a.end, b.end) - max(a.begin, b.begin) > 1e-6 for a in busy_a for b in busy_b)


@settings(max_examples=60)
@given(st.lists(sequences, min_size=2, max_size=4), st.floats(0, 120))
def test_drums_in_rotation_never_need_hands_twice(chosen, load):
    busy, start = [], 0.0
    for number, sequence in enumerate(chosen):
        so_far = [one for drum in busy for one in drum]
        start = next_start(so_far, sequence, earliest=start + load, load=load)
        busy.append(hands(moments(sequence, start), drum=f"drum {number}", load=load))
    assert not any(overlaps(a, b) for n, a in enumerate(busy) for b in busy[n + 1 :])
    assert clashes(busy) == ()


@settings(max_examples=60)
@given(sequences, sequences, st.floats(0, 300))
def test_the_next_start_is_the_earliest_there_is(going, new, earliest):
    """Against a search in steps of a fifth of a second."""
    busy = hands(moments(going), drum="one")
    start = next_start(busy, new, earliest=earliest)
    tried = earliest
    while tried < start - 0.2:
        assert overlaps(hands(moments(new, tried), drum="two"), busy)
        tried += 0.2


def test_impossible_rotation_says_when_it_would_be_possible():
    busy = hands(moments(usual_sequence()), drum="drum 1")
    with pytest.raises(Refused, match=r"Drum 2 cannot be poured in the next 1 s.*the first free moment is \d+ s"):
        next_start(busy, usual_sequence(), earliest=34.0, latest=35.0, drum="Drum 2")
    with pytest.raises(ValueOutOfRange, match="Loading takes -1 s"):
        next_start(busy, usual_sequence(), earliest=0.0, load=-1)


def test_a_clash_is_told_in_words():
    a = hands(moments(usual_sequence()), drum="drum 1")
    b = hands(moments(usual_sequence(), 3.0), drum="drum 2")
    assert clashes([a, b])[0].words.startswith("drum 1, first pour and drum 2, first pour need hands at once for")


# temperature


def test_a_pour_is_compared_with_the_printers_own_habit():
    """Median and median absolute deviation by hand: 33.0 of (32.6, 33.0, 33.2, 33.0, 34.0); |d| = .4 0 .2 0 1 -> .2."""
    past = [32.6, 33.0, 33.2, 33.0, 34.0]
    far = check_pour(step(temperature=35), 31.5, past)
    assert far.warn
    assert (far.usual, far.spread) == (33.0, 0.5)
    assert far.difference == pytest.approx(-1.5)
    assert "1.5 degrees below your usual 33.0 (5 pours" in far.words
    near = check_pour(step(temperature=35), 33.4, past)
    assert not near.warn
    assert "agrees with your usual" in near.words


def test_without_a_habit_the_aim_is_the_measure_and_without_either_nothing_is_said():
    assert check_pour(step(temperature=35, tolerance=0.3), 35.2, [33.0]).warn is False
    assert check_pour(step(temperature=35, tolerance=0.3), 35.4, [33.0]).warn is True
    assert "nothing yet to compare" in check_pour(step(), 22.0, []).words
    with pytest.raises(ValueOutOfRange, match="poured at 99"):
        check_pour(step(), 99, [])
