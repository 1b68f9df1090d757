"""An evening as a function of its events: what may follow what, undo, lateness, and the one voice."""

import json
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from printlore.core.evening.care import CAUTIONS, check_cautions
from printlore.core.evening.events import (
    KINDS,
    BeatDone,
    CareConfirmed,
    Closed,
    DrumDried,
    Event,
    FrameDropped,
    FrameListed,
    Held,
    LoadPlanned,
    Moved,
    MovedOn,
    Poured,
    Rehearsed,
    Resumed,
    RunBegun,
    RunWritten,
    ToldApart,
    Undone,
    WentWrong,
)
from printlore.core.evening.exposure import Exposure
from printlore.core.evening.light import RULES, Light, check_move
from printlore.core.evening.load import Load, Piece
from printlore.core.evening.process import usual_sequence
from printlore.core.evening.rehearsal import QUESTIONS, Rehearsal, check_rehearsal
from printlore.core.evening.state import ENTER_DARK, LEAVE_DARK, check, evening_at, unwritten, what_next
from printlore.core.evening.touch import TouchCode
from printlore.core.evening.voice import TERM, Voice, claim, release
from printlore.core.plain import from_plain, to_plain
from printlore.errors import Refused, UnknownRecord, ValueOutOfRange

T0 = 1_000_000.0
ME = "desk machine"
ALL_CARE = CareConfirmed(items=tuple(caution.name for caution in CAUTIONS))
REHEARSED = Rehearsed(
    rehearsal=Rehearsal(device=ME, seconds=600, confirmed=frozenset(question.name for question in QUESTIONS))
)
DARK = Moved(to=Light.PAPER_OUT, confirmed=tuple(ENTER_DARK), load="1")
OUT = Moved(to=Light.WET, confirmed=tuple(LEAVE_DARK))


def load(name="1", drum=1, pieces=1):
    codes = list(TouchCode)
    return Load(
        name=name,
        drum=drum,
        pieces=tuple(
            Piece(name=f"frame {n}", exposures=(Exposure(name="base", time=8),), area=0.05, code=codes[n])
            for n in range(pieces)
        ),
        sequence=usual_sequence(),
    )


def events(*whats, at=T0, each=1.0):
    return tuple(
        Event(number=n, key=f"key {n}", at=at + each * n, device=ME, what=what) for n, what in enumerate(whats, start=1)
    )


def evening(*whats, now=None):
    happened = events(*whats)
    return evening_at(happened, T0 + 1 + len(whats) if now is None else now)


def refuse(known, what, *, device=ME, events=()):
    with pytest.raises((Refused, UnknownRecord)) as caught:
        check(known, what, device=device, events=events)
    return str(caught.value)


READY = (ALL_CARE, REHEARSED, LoadPlanned(load=load()), Moved(to=Light.EASEL))
EXPOSED = (*READY, DARK, BeatDone(load="1", beat=15), OUT)
POURED = (*EXPOSED, RunBegun(load="1", begin=T0 + 100))
WRITTEN = (*POURED, RunWritten(load="1", ledger="run 1"))


# light


def test_every_light_can_be_left_and_reached():
    reached = {light for rules in RULES.values() for light in rules.next}
    assert reached == set(Light)
    assert all(rules.next for rules in RULES.values())


def test_paper_comes_out_only_at_the_easel_and_never_back_into_white_light_at_the_desk():
    assert {light for light in Light if Light.PAPER_OUT in RULES[light].next} == {Light.EASEL}
    assert Light.DESK not in RULES[Light.PAPER_OUT].next
    with pytest.raises(
        Refused, match='"Paper out" cannot follow "desk"; from here go to "easel" or "wet" or "viewing"'
    ):
        check_move(Light.DESK, Light.PAPER_OUT)


def test_touch_is_never_asked_for_while_paper_is_out_nor_a_keyboard_with_wet_gloves():
    assert not RULES[Light.PAPER_OUT].touch
    assert not RULES[Light.WET].keys


def test_whole_round_of_lights_is_legal():
    state = evening(*READY)
    for what in (DARK, OUT, Moved(to=Light.VIEWING), Moved(to=Light.DESK)):
        check(state, what, device=ME)
        state = replace(state, light=what.to)


# rehearsal and confirmations


def test_paper_stays_in_the_box_without_a_rehearsal_on_this_machine():
    without = [what for what in READY if what is not REHEARSED]
    assert "has not been rehearsed in the dark" in refuse(evening(*without), DARK)
    assert "has not been rehearsed in the dark" in refuse(evening(*READY), DARK, device="telephone")


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"seconds": 120.0}, "lasted 120 s"),
        ({"light_seen": "a charger"}, "found a light: a charger"),
        ({"confirmed": frozenset({"display"})}, "not finished: Is system sleep off"),
    ],
)
def test_a_rehearsal_that_found_something_refuses(change, said):
    with pytest.raises(Refused, match=said):
        check_rehearsal(replace(REHEARSED.rehearsal, **change), ME)


def test_a_strange_rehearsal_says_so():
    with pytest.raises(ValueOutOfRange, match='nothing called "moon"'):
        Rehearsal(device=ME, seconds=1, confirmed=frozenset({"moon"}))
    with pytest.raises(ValueOutOfRange, match="no device"):
        Rehearsal(device="", seconds=1, confirmed=frozenset())
    with pytest.raises(ValueOutOfRange, match="of -1 s"):
        Rehearsal(device=ME, seconds=-1, confirmed=frozenset())


@pytest.mark.parametrize("name", ENTER_DARK)
def test_each_confirmation_is_needed_before_paper_comes_out(name):
    given_up = replace(DARK, confirmed=tuple(n for n in ENTER_DARK if n != name))
    assert ENTER_DARK[name] in refuse(evening(*READY), given_up)


@pytest.mark.parametrize("name", LEAVE_DARK)
def test_each_confirmation_is_needed_before_light(name):
    given_up = replace(OUT, confirmed=tuple(n for n in LEAVE_DARK if n != name))
    assert LEAVE_DARK[name] in refuse(evening(*READY, DARK), given_up)


def test_no_load_no_paper():
    assert "Say which load is exposed" in refuse(evening(*READY), replace(DARK, load=None))
    assert 'no load "9" tonight; there are: "1"' in refuse(evening(*READY), replace(DARK, load="9"))


# cautions, drums


def test_first_pour_waits_for_every_caution_and_says_why():
    without = [what for what in EXPOSED if what is not ALL_CARE]
    said = refuse(evening(*without), RunBegun(load="1", begin=T0 + 8))
    for caution in CAUTIONS:
        assert caution.ask in said
        assert caution.why in said
    check_cautions(frozenset(caution.name for caution in CAUTIONS))


def test_a_wet_drum_takes_no_paper_until_it_was_dried():
    later = load("2")
    before = (*POURED, LoadPlanned(load=later), Moved(to=Light.EASEL))
    known = evening(*before, now=T0 + 900)
    dark = replace(DARK, load="2")
    assert 'Drum 1 is wet from load "1". Rinse and dry drum, lid and hands' in refuse(known, dark)
    dried = (*events(*before), Event(number=20, key="d", at=T0 + 901, device=ME, what=DrumDried(drum=1)))
    check(evening_at(dried, T0 + 902), dark, device=ME)


def test_a_drum_under_way_cannot_be_dried_or_begun_again():
    known = evening(*POURED, now=T0 + 150)
    assert "Drum 1 is under way" in refuse(known, DrumDried(drum=1))
    assert "has begun already" in refuse(known, RunBegun(load="1", begin=T0 + 151))
    second = evening(*POURED, LoadPlanned(load=load("2")), now=T0 + 150)
    assert 'Drum 1 is under way with load "1"' in refuse(second, RunBegun(load="2", begin=T0 + 151))


def test_the_first_pour_is_near_and_at_the_sink():
    known = evening(*EXPOSED)
    assert "set it between now and 15 minutes on" in refuse(known, RunBegun(load="1", begin=T0 + 2000))
    at_desk = evening(ALL_CARE, LoadPlanned(load=load()))
    assert "go to wet, lid on" in refuse(at_desk, RunBegun(load="1", begin=T0 + 3))


# a run


def test_turns_need_a_run_that_can_take_them():
    assert "has not been poured yet" in refuse(evening(*POURED, now=T0 + 50), Held(load="1"))
    known = evening(*POURED, now=T0 + 120)
    check(known, Held(load="1"), device=ME)
    assert "is not held" in refuse(known, Resumed(load="1"))
    held = evening_at((*events(*POURED), late(Held(load="1"), T0 + 110)), T0 + 120)
    assert "is held already" in refuse(held, Held(load="1"))
    assert "is finished" in refuse(evening(*POURED, now=T0 + 9000), MovedOn(load="1"))


def late(what, at, number=99):
    return Event(number=number, key=f"late {number}", at=at, device=ME, what=what)


def test_an_event_that_arrives_late_counts_from_when_it_happened():
    on_time = evening_at((*events(*POURED), late(MovedOn(load="1"), T0 + 130)), T0 + 300)
    then = evening_at((*events(*POURED, WentWrong(note="dropped")), late(MovedOn(load="1"), T0 + 130)), T0 + 300)
    assert then.loads["1"].run(T0 + 300) == on_time.loads["1"].run(T0 + 300)
    assert on_time.loads["1"].run(T0 + 300).past[0].end == T0 + 130


@given(st.floats(0, 600), st.floats(0, 600))
def test_an_evening_needs_nothing_but_its_events_and_the_time(asked, again):
    """Killed and started again: whoever looks at the same second sees the same, however often it was asked before."""
    happened = events(*POURED)
    evening_at(happened, T0 + asked)
    assert evening_at(happened, T0 + again) == evening_at(tuple(reversed(happened)), T0 + again)


def test_pours_pieces_and_ledger_follow_the_run():
    known = evening(*POURED, Poured(load="1", step=1, temperature=34.0), Poured(load="1", step=1, temperature=34.5))
    assert [p.temperature for p in known.loads["1"].pours] == [34.5]
    assert "no step 13 under way" in refuse(known, Poured(load="1", step=12))
    assert "when its last wash is over" in refuse(known, ToldApart(load="1", piece=0))
    assert "it goes into the ledger when it is" in refuse(known, RunWritten(load="1", ledger="7"))
    over = evening(*POURED, now=T0 + 900)
    assert unwritten(over) == ("1",)
    check(over, RunWritten(load="1", ledger="7"), device=ME)
    done = evening_at((*events(*POURED), late(RunWritten(load="1", ledger="7"), T0 + 901)), T0 + 902)
    assert unwritten(done) == ()


def test_two_drums_that_clash_are_told_and_both_are_named_aloud():
    two = (*POURED, LoadPlanned(load=load("2", drum=2)), RunBegun(load="2", begin=T0 + 103))
    known = evening(*two, now=T0 + 101)
    assert "need hands at once" in what_next(known)
    assert {cue.say[1] for cue in known.cues() if cue.say[:1] == ("drum",)} == {"number_1", "number_2"}


# list, plan, beats, undo, closing


def test_the_list_keeps_its_order_and_holds_a_frame_once():
    known = evening(FrameListed(frame="a"), FrameListed(frame="b"), FrameListed(frame="a"), FrameDropped(frame="b"))
    assert known.frames == ("a",)


def test_a_plan_is_replaced_until_paper_is_in_it():
    known = evening(LoadPlanned(load=load()), LoadPlanned(load=load(pieces=2)))
    assert len(known.loads["1"].load.pieces) == 2
    assert known.loads["1"].version == 2
    assert "has paper in it already" in refuse(evening(*EXPOSED), LoadPlanned(load=load()))


def test_beats_count_only_while_their_load_is_out():
    assert "is not the one being exposed" in refuse(evening(*READY), BeatDone(load="1", beat=1))
    assert "has 16 beats, not 99" in refuse(evening(*READY, DARK), BeatDone(load="1", beat=99))


def test_undo_takes_back_the_last_step_and_only_that():
    happened = events(FrameListed(frame="a"), FrameListed(frame="b"))
    known = evening_at(happened, T0 + 5)
    assert known.last is not None
    check(known, Undone(key=known.last.key), device=ME, events=happened)
    after = evening_at((*happened, late(Undone(key=known.last.key), T0 + 6)), T0 + 7)
    assert after.frames == ("a",)
    assert after.last is not None
    assert after.last.key == "key 1"


def test_what_cannot_be_taken_back_says_so():
    happened = events(*POURED)
    known = evening_at(happened, T0 + 900)
    assert "cannot be taken back" in refuse(known, Undone(key="key 4"), events=happened)
    assert "its plan cannot be taken back" in refuse(known, Undone(key="key 3"), events=happened)
    assert "not there, or is undone already" in refuse(known, Undone(key="none"), events=happened)
    written = (*happened, late(RunWritten(load="1", ledger="7"), T0 + 901))
    known = evening_at(written, T0 + 902)
    assert "is in the bath ledger" in refuse(known, Undone(key="key 8"), events=written)


def test_events_of_a_load_whose_plan_was_undone_are_let_be():
    happened = (
        *events(LoadPlanned(load=load())),
        late(Undone(key="key 1"), T0 + 5),
        late(WentWrong(note="x"), T0 + 6, 100),
    )
    known = evening_at((*happened, late(BeatDone(load="1", beat=1), T0 + 7, 101)), T0 + 8)
    assert known.loads == {}
    assert known.notes[0].note == "x"


def test_an_evening_closes_when_nothing_is_under_way():
    assert "Still under way: 1" in refuse(evening(*POURED, now=T0 + 150), Closed())
    assert "Paper is out" in refuse(evening(*READY, DARK), Closed())
    assert "This evening is closed" in refuse(evening(Closed()), FrameListed(frame="a"))
    assert what_next(evening(Closed())) == "The evening is closed."


def test_unknown_cautions_are_refused():
    assert 'no caution "luck"' in refuse(evening(), CareConfirmed(items=("luck",)))


@pytest.mark.parametrize(
    ("whats", "now", "said"),
    [
        ((), 5, "Put the negatives you want to print on tonight's list."),
        ((FrameListed(frame="a"),), 5, 'Plan a load for "a".'),
        (READY[:-1], 9, "Load 1 is planned for drum 1: go to the easel."),
        (READY, 9, "Load 1 is planned for drum 1: project and focus, then press Paper out."),
        (
            (*READY[:-1], Moved(to=Light.WET)),
            9,
            "Load 1 is planned for drum 1: is it in, and the lid on? Press to begin.",
        ),
        ((*READY, DARK), 9, "Paper is out: listen."),
        (EXPOSED, 9, "Lid on: load 1 is in drum 1. Press to begin the sequence."),
        (POURED, 165, "Drum 1 (load 1): developer, 25 s left."),
        (POURED, 900, "Load 1 is finished and not in the bath ledger yet."),
        (WRITTEN, 900, "Load 1 is finished: rinse and dry drum 1, its lid and your hands."),
        ((*WRITTEN, DrumDried(drum=1)), 900, "Put the negatives you want to print on tonight's list."),
    ],
)
def test_one_sentence_says_what_comes_next(whats, now, said):
    assert what_next(evening(*whats, now=T0 + now)) == said


def test_of_several_pieces_it_is_said_to_tell_them_apart_first():
    two = tuple(replace(what, load=load(pieces=2)) if isinstance(what, LoadPlanned) else what for what in WRITTEN)
    said = "Load 1 is finished: feel the corners to tell its pieces apart, then rinse and dry drum 1, its lid and your"
    assert what_next(evening(*two, now=T0 + 900)) == f"{said} hands."
    told = (ToldApart(load="1", piece=0), ToldApart(load="1", piece=1))
    assert "tell its pieces" not in what_next(evening(*two, *told, now=T0 + 900))


def test_on_a_page_that_counts_the_sentence_names_what_follows_and_no_seconds_that_would_stand_still():
    assert what_next(evening(*POURED, now=T0 + 165), counting=True) == "Drum 1 (load 1): developer, then stop."


# plain values


@pytest.mark.parametrize(
    "what", [*POURED, OUT, WentWrong(note="x"), Undone(key="k"), Closed(), Poured(load="1", step=2)]
)
def test_every_event_goes_to_json_and_back(what):
    kind = next(name for name, known in KINDS.items() if isinstance(what, known))
    assert from_plain(KINDS[kind], json.loads(json.dumps(to_plain(what)))) == what


def test_every_event_has_one_name():
    assert len(set(KINDS.values())) == len(KINDS)


@pytest.mark.parametrize(
    ("kind", "plain", "said"),
    [
        (Moved, {"to": "moon"}, 'the entry, to is "moon"; it must be one of: desk, easel'),
        (Moved, {}, 'the entry lacks "to"'),
        (Moved, {"to": "desk", "why": 1}, 'unknown part "why"'),
        (Moved, [], "should have named parts"),
        (CareConfirmed, {"items": "gloves"}, "items should be a list"),
        (CareConfirmed, {"items": [1]}, "items, item 1 is 1; text is needed"),
        (Poured, {"load": "1", "step": True}, "step is True; a whole number is needed"),
        (Poured, {"load": "1", "step": 1, "temperature": "warm"}, "temperature is 'warm'; a number is needed"),
    ],
)
def test_a_plain_value_that_does_not_fit_says_where(kind, plain, said):
    with pytest.raises(ValueOutOfRange, match=said):
        from_plain(kind, plain)


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: Event(number=1, key="", at=0, device=ME, what=Closed()), "give 1 to 100 letters"),
        (lambda: Event(number=1, key="k", at=float("inf"), device=ME, what=Closed()), "give a finite time"),
        (lambda: RunBegun(load="1", begin=float("nan")), "begins at nan"),
        (lambda: WentWrong(note="x" * 2001), "has 2001 letters"),
    ],
)
def test_an_impossible_event_says_so(make, said):
    with pytest.raises(ValueOutOfRange, match=said):
        make()


# the voice


def test_only_one_page_speaks():
    voice = claim(Voice(), "a", 0.0, under_way=False, asked=False)
    with pytest.raises(Refused, match=r'Another page speaks\. Press "speak here"'):
        claim(voice, "b", 1.0, under_way=False, asked=False)
    assert claim(voice, "a", 5.0, under_way=True, asked=False).renewed == 5.0


def test_a_silent_page_is_replaced_by_itself_only_when_nothing_is_under_way():
    voice = Voice(page="a", renewed=0.0, turn=1)
    assert claim(voice, "b", TERM + 1, under_way=False, asked=False).page == "b"
    with pytest.raises(Refused, match="has not been heard for 16 s"):
        claim(voice, "b", TERM + 1, under_way=True, asked=False)
    taken = claim(voice, "b", 1.0, under_way=True, asked=True)
    assert (taken.page, taken.turn) == ("b", 2)


def test_the_page_in_the_dark_keeps_the_voice_while_it_is_heard():
    voice = Voice(page="dark", renewed=0.0, turn=1)
    with pytest.raises(Refused, match="keeps it until there is light"):
        claim(voice, "b", 1.0, under_way=True, asked=True, dark=True)
    assert claim(voice, "b", TERM + 1, under_way=True, asked=True, dark=True).page == "b"


def test_a_page_that_leaves_gives_the_voice_up_and_no_other_can():
    voice = Voice(page="a", renewed=0.0, turn=1)
    assert release(voice, "b", 1.0) is voice
    assert claim(release(voice, "a", 1.0), "b", 1.0, under_way=True, asked=False).page == "b"


@given(st.lists(st.tuples(st.sampled_from("abc"), st.floats(0.01, 40), st.booleans(), st.booleans()), max_size=30))
def test_whatever_the_pages_do_the_voice_has_at_most_one_holder_and_its_turn_only_grows(claims):
    voice, now = Voice(), 0.0
    for page, wait, under_way, asked in claims:
        now += wait
        try:
            then = claim(voice, page, now, under_way=under_way, asked=asked)
        except Refused:
            continue
        assert then.page == page
        assert then.turn == voice.turn + (page != voice.page)
        voice = then
