"""Exposures as cues, the script in the dark, touch codes and the rendered track."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from printlore.core.evening.cues import PROMPTS, TONES, Cue, words_of
from printlore.core.evening.exposure import LIGHTS, Exposure, exposure_cues, exposures_of, stretches, strip_exposures
from printlore.core.evening.load import Load, Piece
from printlore.core.evening.process import usual_sequence
from printlore.core.evening.script import SHEET_GATES, paper_out_script
from printlore.core.evening.touch import TouchCode, touch_codes
from printlore.core.evening.track import placed_words, render, tone_samples
from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Burn, Setting
from printlore.errors import Refused, ValueOutOfRange

PACK = FilterPack(magenta=60.0, yellow=70.0)


def sheet(name="harbour 14", code=TouchCode.NONE, **more):
    more.setdefault("exposures", (Exposure(name="base", time=8.0),))
    return Piece(name=name, frame="harbour 14", area=0.05, code=code, **more)


def load(*pieces, drum=1):
    return Load(name="1", drum=drum, pieces=pieces or (sheet(),), sequence=usual_sequence())


@given(st.floats(0.5, 90))
def test_light_goes_on_at_zero_and_off_at_the_time_to_the_sample(time):
    cues = exposure_cues(Exposure(name="base", time=time))
    assert [cue.at for cue in cues if cue.tone == "begin"] == [0.0]
    assert [cue.at for cue in cues if cue.tone == "end"] == [time]
    assert [cue.at for cue in cues if cue.at < 0] == [-3.0, -2.0, -1.0]


@given(st.floats(0.5, 90))
def test_metronome_ticks_every_second_of_light_and_no_other(time):
    cues = exposure_cues(Exposure(name="base", time=time))
    ticks = [cue.at for cue in cues if cue.tone in ("tick", "count") and cue.at > 0]
    assert ticks == [float(n) for n in range(1, math.ceil(time))]


def test_dodges_follow_each_other_and_a_second_hand_takes_what_one_cannot():
    setting = Setting(
        pack=PACK, time=10, burns=tuple(Burn(name=n, time=-t) for n, t in (("face", 4), ("wall", 3), ("boat", 5)))
    )
    (base,) = exposures_of(setting)
    found = {d.name: (d.begin, d.end, d.hand) for d in base.dodges}
    assert found == {"boat": (0, 5, 1), "face": (6, 10, 1), "wall": (0, 3, 2)}


def test_dodges_that_two_hands_cannot_do_are_refused_with_a_cure():
    burns = tuple(Burn(name=n, time=-9.0) for n in ("a", "b", "c"))
    with pytest.raises(ValueOutOfRange, match=r'Dodge "c" of 9 s does not fit.*Stop the lens down'):
        exposures_of(Setting(pack=PACK, time=10, burns=burns))


def test_dodge_tones_are_where_the_dodger_goes_in_and_out():
    cues = exposure_cues(exposures_of(Setting(pack=PACK, time=10, burns=(Burn(name="face", time=-4),)))[0])
    assert [(cue.tone, cue.at) for cue in cues if cue.tone in ("in", "out")] == [("in", 0), ("out", 4)]


def test_burns_are_exposures_of_their_own_and_say_when_filters_change():
    warm = FilterPack(magenta=60.0, yellow=80.0)
    setting = Setting(pack=PACK, time=10, burns=(Burn(name="sky", time=6), Burn(name="edge", time=3, pack=warm)))
    _, sky, edge = exposures_of(setting)
    assert (sky.part, sky.time, sky.filters) == ("burn", 6, "")
    assert (edge.time, edge.filters) == (3, str(warm))


def test_a_strip_moves_the_card_between_its_exposures():
    base, second, _ = strip_exposures((4.0, 1.0, 1.3))
    assert (base.part, second.part, second.time) == ("base", "step", 1.0)
    with pytest.raises(ValueOutOfRange, match="no steps"):
        strip_exposures(())


@pytest.mark.parametrize(("more", "said"), [({"time": 0}, "is 0 s"), ({"time": 1, "part": "flash"}, 'is a "flash"')])
def test_an_impossible_exposure_says_so(more, said):
    with pytest.raises(ValueOutOfRange, match=said):
        Exposure(name="base", **more)


# the script


def names(script, piece=None):
    return [beat.name for beat in script if piece is None or beat.piece == piece]


def test_gates_come_before_the_sheet_and_the_box_is_closed_before_the_light():
    order = names(paper_out_script(load()))
    assert order[0] == "display"
    assert [order.index(gate) for gate in SHEET_GATES] == sorted(order.index(gate) for gate in SHEET_GATES)
    marks = [
        *SHEET_GATES,
        "sheet_out",
        "box_closed",
        "ready",
        "expose_base",
        "into_drum",
        "drum_lid",
        "box_again",
        "light",
    ]
    assert [name for name in order if name in marks] == marks


def test_every_sheet_has_its_gates_and_the_lid_goes_on_before_the_next_light():
    script = paper_out_script(load(sheet("a"), sheet("b", TouchCode.ONE)))
    for piece in (0, 1):
        order = names(script, piece)
        assert [name for name in order if name in SHEET_GATES] == list(SHEET_GATES)
        assert order[-1] == "drum_lid"
        assert "clip" in order


def test_sheets_are_counted_and_touch_codes_spoken_before_loading():
    script = paper_out_script(load(sheet("a"), sheet("b", TouchCode.ONE, kind="strip")))
    said = [words_of(beat.say) for beat in script if beat.piece == 1]
    assert "Strip 2 of 2 Take one sheet out." in said
    assert said.index("Clip one corner.") < said.index("Drum 1 Into the drum, emulsion inward. Press when it is in.")


def test_only_the_last_beat_may_end_in_light():
    script = paper_out_script(load(sheet("a"), sheet("b", TouchCode.ONE)))
    assert [beat.leaves for beat in script] == [False] * (len(script) - 1) + [True]


def test_filters_are_changed_under_cover_and_put_back():
    exposures = (
        Exposure(name="base", time=8),
        Exposure(name="edge", part="burn", time=3, filters="60 M 80 Y"),
        Exposure(name="sky", part="burn", time=4),
    )
    order = names(paper_out_script(load(sheet(exposures=exposures))))
    assert [n for n in order if "filters" in n and "gate" not in n] == ["change_filters", "filters_back"]
    assert order.index("change_filters") < order.index("expose_burn") < order.index("filters_back")


def test_a_control_that_came_exposed_is_only_loaded():
    order = names(paper_out_script(load(sheet(kind="control", exposures=()))))
    assert not [name for name in order if name.startswith("expose")]
    assert "gate_lens" not in order
    assert "into_drum" in order


# loads and touch codes


def turned(corners):
    """Every way a sheet can come out of the drum: turned half round, and turned over either way."""
    tl, tr, br, bl = corners
    return {(tl, tr, br, bl), (br, bl, tl, tr), (tr, tl, bl, br), (bl, br, tr, tl)}


def turned_square(corners):
    found = set()
    for quarter in range(4):
        found |= turned(corners[quarter:] + corners[:quarter])
    return found


def test_no_turn_makes_one_touch_code_feel_like_another():
    for a, b in itertools.combinations(touch_codes(7), 2):
        assert not turned(a.corners) & turned(b.corners), (a, b)
    for a, b in itertools.combinations(touch_codes(6, square=True), 2):
        assert not turned_square(a.corners) & turned_square(b.corners), (a, b)


def test_codes_are_all_there_are():
    """16 ways to clip four corners fall into 7 classes under the turns of a rectangle, 6 of a square (Burnside)."""
    every = list(itertools.product((False, True), repeat=4))
    assert len({frozenset(turned(corners)) for corners in every}) == len(touch_codes(7))
    assert len({frozenset(turned_square(corners)) for corners in every}) == len(touch_codes(6, square=True))


def test_more_pieces_than_codes_are_refused():
    with pytest.raises(Refused, match="8 pieces share a drum, but clipped corners tell only 7 apart"):
        touch_codes(8)
    with pytest.raises(Refused, match="only 6 apart"):
        touch_codes(7, square=True)


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: load(sheet("a"), sheet("b")), '"a" and "b" both have no corner clipped'),
        (lambda: load(drum=0), "Drum 0 cannot be"),
        (lambda: Load(name="1", drum=1, pieces=(), sequence=usual_sequence()), "has no paper"),
        (lambda: Load(name="", drum=1, pieces=(sheet(),), sequence=usual_sequence()), "load has no name"),
        (lambda: sheet(exposures=()), "is not exposed at all"),
        (lambda: sheet(name=" "), "piece of paper has no name"),
        (lambda: sheet(kind="poster"), 'is a "poster"'),
        (lambda: Piece(name="a", exposures=(Exposure(name="base", time=1),), area=0), "has 0 m2"),
    ],
)
def test_an_impossible_load_says_what_is_wrong(make, said):
    with pytest.raises(ValueOutOfRange, match=said):
        make()


def test_area_of_a_load_is_that_of_its_pieces():
    assert load(sheet("a"), sheet("b", TouchCode.ONE)).area == pytest.approx(0.1)


# the track

RATE = 12_000
SPOKEN = {name: np.full(6000, 0.25, dtype=np.float32) for name in PROMPTS}


def test_a_tone_has_its_pitch_and_length():
    sound = tone_samples(TONES["begin"], RATE)
    assert len(sound) == round(TONES["begin"].duration * RATE)
    spectrum = np.abs(np.fft.rfft(sound))
    assert np.argmax(spectrum) * RATE / len(sound) == pytest.approx(TONES["begin"].frequency, abs=RATE / len(sound))


@given(st.floats(1.2, 40))
def test_tones_begin_within_a_millisecond_of_the_plan(time):
    cues = [cue for cue in exposure_cues(Exposure(name="base", time=time)) if cue.tone]
    bare = [Cue(at=cue.at, tone=cue.tone) for cue in cues]
    track = render(bare, SPOKEN, rate=RATE, lead=3.0)
    loud = np.abs(track) > 0.001
    for cue in bare:
        first = round((cue.at + 3.0) * RATE)
        assert loud[first : first + RATE // 1000 + 3].any()


def test_words_wait_for_words_but_tones_do_not():
    cues = [Cue(at=0.0, say=("drain", "pour")), Cue(at=0.2, tone="begin", say=("pour",))]
    assert placed_words(cues, lambda name: 0.5) == ((0.0, "drain"), (0.58, "pour"), (1.16, "pour"))
    track = render(cues, SPOKEN, rate=RATE)
    assert np.abs(track[round(0.21 * RATE) : round(0.3 * RATE)]).max() > 0.5


def test_a_track_that_cannot_be_says_so():
    with pytest.raises(ValueOutOfRange, match="lies before the track; give it a lead of 3 s"):
        render([Cue(at=-3.0, tone="tick")], SPOKEN, rate=RATE)
    with pytest.raises(ValueOutOfRange, match=r"would last 4\.0 h"):
        render([Cue(at=14_400.0, tone="tick")], SPOKEN, rate=RATE)


# three lights in turn

COOL = FilterPack(magenta=30.103, yellow=60.206)
"""Half the strongest light's seconds in green, a quarter in blue: log10 2 and log10 4 (CC are hundredths)."""


def test_lights_in_turn_make_three_exposures_of_each_and_dodge_the_same_share():
    burns = (Burn(name="face", time=-4), Burn(name="sky", time=6), Burn(name="edge", time=4, pack=PACK))
    given = exposures_of(Setting(pack=COOL, time=16, burns=burns), in_turn=0.1)
    assert [exposure.light for exposure in given] == [*LIGHTS] * 3
    assert [exposure.time for exposure in given[:6]] == pytest.approx([16, 8, 4, 6, 3, 1.5])
    assert [dodge.end - dodge.begin for exposure in given[:3] for dodge in exposure.dodges] == pytest.approx([4, 2, 1])
    assert {exposure.part for exposure in given[3:]} == {"burn"}
    assert given[6].time == 4
    assert [light.filters for light in given[6:]] == [str(PACK)] * 3


def test_a_strip_in_three_lights_moves_its_card_after_the_third():
    given = strip_exposures((8.0, 4.0), setting=Setting(pack=COOL, time=8), in_turn=0.5)
    assert [(one.part, one.light, one.time) for one in given] == [
        ("base", "red", 8.0),
        ("base", "green", 4.0),
        ("base", "blue", 2.0),
        ("step", "red", 4.0),
        ("step", "green", 2.0),
        ("step", "blue", 1.0),
    ]
    script = paper_out_script(load(sheet(exposures=given)))
    said = [words_of(beat.say) for beat in script if beat.name == "ready"]
    assert said == [
        "Red exposure. Emulsion up on the easel. Press to begin.",
        "Green exposure. Press to begin.",
        "Blue exposure. Press to begin.",
        "Red exposure. Move the card. Press to begin.",
        "Green exposure. Press to begin.",
        "Blue exposure. Press to begin.",
    ]
    lit = [beat.words for beat in script if beat.track]
    assert lit[1] == "the exposure, green light"
    assert stretches(given) == [given[:3], given[3:]]


@pytest.mark.parametrize("step", [1.0, 0.5])
def test_small_moves_of_the_card_add_up_to_the_light_that_each_step_should_have(step):
    times = (8.0, *[step] * 10)
    given = strip_exposures(times, setting=Setting(pack=COOL, time=8), in_turn=0.1)
    assert min(one.time for one in given) >= 0.1
    for light, share in zip(LIGHTS, (1, 1 / 2, 1 / 4), strict=True):
        had = np.cumsum([one.time for one in given if one.light == light])
        assert had == pytest.approx(np.cumsum(times) * share, abs=0.051)


def test_the_filters_of_a_burn_are_in_its_three_times_and_nothing_is_changed_by_hand():
    setting = Setting(pack=COOL, time=16, burns=(Burn(name="edge", time=4, pack=PACK),))
    order = names(paper_out_script(load(sheet(exposures=exposures_of(setting, in_turn=0.1)))))
    assert "change_filters" not in order
    assert "filters_back" not in order
    assert order.count("expose_burn") == 3


def test_a_dodge_that_does_not_fit_into_one_of_the_lights_is_refused_in_words():
    burns = tuple(Burn(name=name, time=-3) for name in "abcd")
    assert len(exposures_of(Setting(pack=COOL, time=8, burns=burns))) == 1
    with pytest.raises(ValueOutOfRange, match=r'"c" of 0.75 s does not fit: .* the whole 2 s of blue light'):
        exposures_of(Setting(pack=COOL, time=8, burns=burns), in_turn=0.1)


def test_a_light_that_is_none_of_the_three_is_refused():
    with pytest.raises(ValueOutOfRange, match='is in "white" light; it must be red, green, blue'):
        Exposure(name="base", time=1, light="white")
