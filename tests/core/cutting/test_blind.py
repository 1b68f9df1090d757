"""The spoken cut: safe order, right counts from the events alone, undo, ends and spoiled pieces."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from printlore.core.cutting.blind import Event, outcome, position, resume_prompts
from printlore.core.cutting.plan import Sitting, plan_cuts
from printlore.core.cutting.procedure import spoken_procedure
from printlore.core.cutting.sections import Kind
from printlore.core.cutting.spoken import CUT_PROMPTS, said, spoken, written
from printlore.core.cutting.wanted import Roll, Sheets, Trimmer, Wanted
from printlore.core.evening.cues import PROMPTS
from printlore.errors import Refused, ValueOutOfRange

TRIMMER = Trimmer(blade_length=700)
SHEET, STRIP = (254.0, 203.0, Kind.SHEET), (254.0, 102.0, Kind.STRIP)


def simple(count=6, discard=900.0):
    """Six 203 x 254 and six strips off a 305 mm roll."""
    wanted = [Wanted(name="w", along=254, across=203, count=count)]
    plan = plan_cuts(wanted, [Roll(name="r", lot="a", width=305, length=9000)], TRIMMER)
    return spoken_procedure(plan.sittings[0], from_roll=True, discard=discard)


def two_piles():
    wanted = [
        Wanted(name="w", along=254, across=203, count=4),
        Wanted(name="v", along=178, across=203, count=3),
    ]
    roll = Roll(name="r", lot="a", width=305, length=9000)
    plan = plan_cuts(wanted, [roll], TRIMMER, settings_per_sitting=3)
    assert len(plan.sittings) == 1
    return spoken_procedure(plan.sittings[0], from_roll=True)


def pressed_until(procedure, key, events=()):
    events = list(events)
    while position(procedure, events).step.key != key:
        events.append(Event.PRESS)
    return events


def key_of(procedure, part):
    return next(step.key for step in procedure.steps if step.key.startswith(part))


def finished(procedure, events=()):
    events = list(events)
    while position(procedure, events).step is not None:
        events.append(Event.PRESS)
    return events


def test_a_sitting_pressed_through_makes_what_was_planned():
    done = outcome(simple(), finished(simple()))
    assert done.pieces == {SHEET: 6, STRIP: 6}
    assert done.length == pytest.approx(900 + 6 * 254)
    assert done.uncut == {}
    assert done.spoiled == {}


@pytest.mark.parametrize("procedure", [simple(), two_piles()], ids=["one pile", "two piles"])
def test_the_roll_is_sealed_before_any_section_is_slit_and_again_confirmed_before_light(procedure):
    keys = [step.key for step in procedure.steps]
    first_slit = next(i for i, key in enumerate(keys) if " slit " in key and key.startswith("cut"))
    assert keys.index("take") < keys.index("away") < first_slit
    assert "sealed" in procedure.steps[keys.index("away")].words
    light = keys.index("light")
    assert {"confirm_roll", "confirm_boxes", "confirm_table"} <= set(keys[:light])
    assert all(step.dark for step in procedure.steps[keys.index("take") : light + 1])
    assert not any(step.dark for step in procedure.steps[: keys.index("take")])


@pytest.mark.parametrize("procedure", [simple(), two_piles()], ids=["one pile", "two piles"])
def test_every_counted_cut_is_followed_by_a_closed_box_before_the_next_stop(procedure):
    open_ = False
    for step in procedure.steps:
        if step.counted:
            open_ = True
        elif "Lid on" in step.words or "Box closed" in step.words:
            open_ = False
        assert not (open_ and step.key.startswith("stop")), step.key


def test_one_stop_setting_at_a_time_and_the_first_is_set_in_the_light():
    procedure = simple()
    stops = [step.words for step in procedure.steps if "the stop" in step.words]
    assert stops == [
        "Set the stop now, in the light, and try it on waste paper. 2 5 4",
        "Set the stop to 2 0 3",
    ]


def test_cautions_of_blade_trip_and_static_come_before_the_dark():
    words = " ".join(step.words for step in simple().steps if not step.dark)
    for caution in ("Blade guarded", "Floor clear", "sparks", "standby lamps", "as warm as the room"):
        assert caution in words


def test_every_prompt_has_words_and_hidden_numbers_none():
    for procedure in (simple(), two_piles()):
        for step in procedure.steps:
            assert all(name in CUT_PROMPTS or name in PROMPTS for name in step.say)


def test_numbers_are_words_up_to_sixty_and_digits_beyond():
    assert said(spoken(42)) == "42"
    assert said(spoken(254)) == "2 5 4"
    assert said(spoken(203.2)) == "2 0 3 point 2"
    assert said(spoken(25.5)) == "2 5 point 5"
    assert written(["set_stop", *spoken(203.2)]) == "Set the stop to 203.2 mm."
    assert written(["across", *spoken(120), "times"]) == "Cut across 120 times. Press after each cut."
    assert written(["into_box", *spoken(1), "box_shut"]) == "Into box 1. Box closed before anything else. Press."
    assert written(["resumed_at", *spoken(7)]) == "Going on where you were. Counted so far: 7"


def test_each_press_speaks_its_count_and_the_last_leads_on():
    procedure = simple()
    events = pressed_until(procedure, key_of(procedure, "cut 1 cross"))
    assert position(procedure, events).words == "Cut across 6 times. Press after each cut."
    events.append(Event.PRESS)
    assert position(procedure, events).words == "1"
    events += [Event.PRESS] * 5
    assert position(procedure, events).words.startswith("6 Sections in the box")


def test_undo_takes_back_one_press_even_over_the_border_of_a_step():
    procedure = simple()
    events = pressed_until(procedure, key_of(procedure, "box pile 1"))
    place = position(procedure, [*events, Event.UNDO])
    assert (place.counted, place.needed) == (5, 6)
    assert place.words.startswith("Taken back.")
    assert place.words.endswith("Counted so far: 5")


def test_ended_early_less_is_slit_and_less_is_made():
    procedure = simple()
    events = [*pressed_until(procedure, key_of(procedure, "cut 1 cross")), *[Event.PRESS] * 4, Event.END]
    place = position(procedure, pressed_until(procedure, key_of(procedure, "cut 1 slit"), events))
    assert place.needed == 4
    assert "4 times" in place.words
    done = outcome(procedure, finished(procedure, events))
    assert done.pieces == {SHEET: 4, STRIP: 4}
    assert done.length == pytest.approx(900 + 4 * 254)


def test_a_spoiled_section_is_cut_again_and_its_length_is_gone():
    procedure = simple()
    events = [*pressed_until(procedure, key_of(procedure, "cut 1 cross")), Event.PRESS, Event.SPOILED]
    assert position(procedure, events).counted == 1
    assert position(procedure, events).words.startswith("One spoiled.")
    done = outcome(procedure, finished(procedure, events))
    assert done.pieces[SHEET] == 6
    assert done.length == pytest.approx(900 + 7 * 254)
    assert done.spoiled == {(254, 305): 1}


def test_a_spoiled_sheet_is_one_less_in_the_box():
    procedure = simple()
    events = [*pressed_until(procedure, key_of(procedure, "cut 1 slit")), Event.SPOILED]
    assert position(procedure, events).counted == 1
    done = outcome(procedure, finished(procedure, events))
    assert done.pieces == {SHEET: 5, STRIP: 6}
    assert done.spoiled == {(254, 203): 1}


def test_sections_not_slit_to_the_end_are_kept_as_uncut():
    procedure = simple()
    events = [*pressed_until(procedure, key_of(procedure, "cut 1 slit")), Event.PRESS, Event.PRESS, Event.END]
    done = outcome(procedure, finished(procedure, events))
    assert done.pieces == {SHEET: 2, STRIP: 2}
    assert done.uncut == {(254, 305): 4}


def test_two_piles_are_told_apart():
    procedure = two_piles()
    assert any("Take the sections of pile 2" in step.words for step in procedure.steps)
    done = outcome(procedure, finished(procedure))
    assert {size: n for size, n in done.pieces.items() if size[2] is Kind.SHEET} == {
        (254.0, 203.0, Kind.SHEET): 4,
        (178.0, 203.0, Kind.SHEET): 3,
    }


def test_sheets_are_cut_up_and_counted():
    pile = Sheets(name="s", lot="a", along=508, across=406, count=5)
    plan = plan_cuts([Wanted(name="w", along=254, across=203, count=8)], [pile], TRIMMER)
    procedure = spoken_procedure(plan.sittings[0], from_roll=False)
    done = outcome(procedure, finished(procedure))
    assert done.pieces == {SHEET: 8}
    assert done.sheets_used == 2
    assert done.length == 0


@settings(max_examples=60, deadline=None)
@given(st.lists(st.sampled_from([Event.PRESS] * 6 + [Event.UNDO, Event.SPOILED, Event.END]), max_size=60))
def test_laid_down_anywhere_the_count_is_that_of_the_presses(trial):
    """Kept as events only; whatever was refused changed nothing."""
    procedure = two_piles()
    kept = []
    for event in trial:
        try:
            position(procedure, [*kept, event])
        except Refused:
            continue
        kept.append(event)
    place = position(procedure, kept)
    stack = []
    for event in kept:
        if event is Event.UNDO:
            stack.pop()
        else:
            stack.append(event)
    presses = sum(event is Event.PRESS for event in stack)
    slit_spoils = sum(n for key, n in place.spoiled.items() if "slit" in key)
    assert sum(place.counts.values()) == presses + slit_spoils
    if place.step is not None and place.step.counted:
        assert resume_prompts(place)[-len(spoken(place.counted)) :] == spoken(place.counted)
    done = outcome(procedure, kept)
    area = sum(a * b * n for (a, b, _), n in done.pieces.items())
    area += sum(a * b * n for (a, b), n in [*done.uncut.items(), *done.spoiled.items()])
    assert area <= done.length * 305 + 1e-6


def test_resuming_says_the_step_again_and_the_count():
    procedure = simple()
    events = [*pressed_until(procedure, key_of(procedure, "cut 1 cross")), Event.PRESS, Event.PRESS]
    assert said(resume_prompts(position(procedure, events))) == (
        "Cut across 6 times. Press after each cut. Going on where you were. Counted so far: 2"
    )
    assert resume_prompts(position(procedure, finished(procedure))) == ("done",)
    assert said(resume_prompts(position(procedure, []))).startswith("Look for lights")


@pytest.mark.parametrize(
    ("events", "words"),
    [
        ([Event.UNDO], "nothing to take back"),
        ([Event.SPOILED], "Nothing is counted in this step"),
        ([Event.END], "Nothing is counted in this step"),
    ],
)
def test_events_that_cannot_be_are_refused_in_words(events, words):
    with pytest.raises(Refused, match=words):
        position(simple(), events)


def test_nothing_follows_the_end():
    procedure = simple()
    with pytest.raises(Refused, match="This sitting is done"):
        position(procedure, [*finished(procedure), Event.PRESS])


def test_a_sitting_that_cuts_nothing_is_refused():
    with pytest.raises(ValueOutOfRange, match="cuts nothing"):
        spoken_procedure(Sitting(source="r", lot="a", sections=()), from_roll=True)
