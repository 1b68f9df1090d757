"""Slips are asked about, not mended; and tones that want different filters."""

import math
import re
from dataclasses import replace

import pytest

from printlore import Exposed, FilterPack, Setting, Studio
from printlore.core.advice.crossover import Tone, best_compromise
from printlore.core.memory.forecast import learned_curves, look_up
from printlore.core.paper.dyes import generic_paper
from printlore.errors import ChangedMeanwhile, Refused, UnknownRecord
from printlore.services.advice import AdviceRequest, advise
from printlore.services.doubts import answer_doubt, doubts_of, it_was_a_slip, it_was_made_as_logged
from printlore.services.memory import current_memory
from printlore.services.tones import ToneEntry, crossover, read_tones
from printlore.services.trials import find_trial
from printroom.room import Room


@pytest.fixture(scope="module")
def printed():
    """What a room made of five prints of a frame, of which the last had twice the time that was logged."""
    room = Room(seed=11)
    room.add_film("film")
    room.add_lot("lot")
    room.add_bath("bath")
    frame = room.add_frame("film")
    right = room.right_setting(frame)
    made = []
    for magenta in (right.magenta, right.magenta + 5, right.magenta - 5, right.magenta + 2):
        outcome = room.expose(frame, cyan=0.0, magenta=round(magenta), yellow=round(right.yellow), time=right.time)
        made.append((round(magenta), right, outcome))
    wrong = room.expose(frame, cyan=0.0, magenta=made[0][0], yellow=round(right.yellow), time=right.time * 2)
    return [*made, (made[0][0], right, wrong)]


@pytest.fixture
def studio(printed):
    studio = Studio.in_memory()
    studio.add_head("head")
    studio.add_paper("paper")
    studio.add_lot("lot", paper="paper")
    studio.add_process("process")
    studio.add_bath("bath", process="process")
    studio.add_film("film")
    studio.add_frame("frame", film="film")
    for magenta, right, outcome in printed:
        setting = Setting(pack=FilterPack(magenta=magenta, yellow=round(right.yellow)), time=right.time)
        studio.log("frame", Exposed(setting=setting, density=tuple(outcome.density)))
    return studio


def stops(setting):
    """Light given [stop]."""
    return math.log2(setting.time / setting.f_number**2)


def test_a_slip_is_asked_about_where_the_next_setting_is(studio):
    doubts = advise(studio.database, AdviceRequest(frame="frame")).doubts
    assert [doubt.suspect.trial for doubt in doubts] == ["T5"]
    assert doubts[0].suspect.words.startswith("reads as if ")
    assert stops(doubts[0].suspect.as_if) - stops(doubts[0].made) == pytest.approx(1.0, abs=0.05)
    assert doubts == doubts_of(studio.database, "frame")


def test_yes_corrects_the_setting_and_keeps_what_was_logged(studio):
    db = studio.database
    (doubt,) = doubts_of(db, "frame")
    it_was_a_slip(db, "T5", doubt.suspect.as_if, version=doubt.version)
    record = find_trial(db, "T5")
    assert record.patches[0].made == doubt.suspect.as_if
    assert (record.version, record.patches[0].exposure.version) == (2, 2)
    assert doubts_of(db, "frame") == ()
    with pytest.raises(ChangedMeanwhile):
        it_was_a_slip(db, "T5", doubt.suspect.as_if, version=doubt.version)


def test_no_is_not_asked_again_and_changes_nothing_logged(studio):
    db = studio.database
    it_was_made_as_logged(db, "T5")
    it_was_made_as_logged(db, "T5")
    assert doubts_of(db, "frame") == ()
    assert find_trial(db, "T5").version == 1


def test_by_name_the_likeliest_slip_is_looked_up_and_what_is_not_doubted_is_refused(studio):
    db = studio.database
    before = find_trial(db, "T5").patches[0].made
    after = answer_doubt(db, "T5", slip=True).patches[0].made
    assert stops(after) - stops(before) == pytest.approx(1.0, abs=0.05)
    with pytest.raises(Refused, match="T5 is not doubted"):
        answer_doubt(db, "T5", slip=True)
    with pytest.raises(UnknownRecord):
        answer_doubt(db, "T99", slip=False)


# tones


def test_without_tones_it_says_what_to_read(studio):
    answer = crossover(studio.database, "frame")
    assert answer.compromise is None
    assert "a light one (density about 0.3), a middle one (0.7) and a dark one (1.4)" in answer.words
    read_tones(studio.database, "T1", [ToneEntry(name="mid", density=(0.7, 0.7, 0.7))])
    assert "Only the mid tone of T1 was read" in crossover(studio.database, "frame").words


def test_opposite_casts_in_lights_and_darks_are_no_cure_for_filters(studio):
    """The first print's own grey bent: lights too magenta, darks too green; no move of magenta mends both."""
    db = studio.database
    grey = {name: tuple(generic_paper().density_from_lab((light, 0, 0))) for name, light in
            (("light", 80), ("mid", 55), ("dark", 30))}  # fmt: skip
    bend = {"light": 0.05, "mid": 0.0, "dark": -0.15}
    tones = [
        ToneEntry(name=name, density=(red, green + bend[name], blue), aim_density=(red, green, blue))
        for name, (red, green, blue) in grey.items()
    ]
    read_tones(db, "T1", tones)
    answer = crossover(db, "frame")
    assert answer.trial == "T1"
    assert answer.words.startswith("Filtration cannot cure this: light tones stay too magenta and dark ones too green")
    assert [tone.name for tone in answer.compromise.tones] == ["light", "mid", "dark"]
    conditions = replace(advise(db, AdviceRequest(frame="frame")).conditions, lot="lot")
    curves = learned_curves(look_up(current_memory(db), conditions))
    same = best_compromise(
        [Tone(name=t.name, density=t.density, aim_density=t.aim_density) for t in tones], curves, generic_paper()
    )
    assert answer.compromise.magenta == pytest.approx(same.magenta, abs=1e-6)


def test_a_neutral_print_off_by_one_filter_is_cured(studio):
    """Every tone is what its aim prints to with more green exposure: one move brings all right."""
    db = studio.database
    conditions = advise(db, AdviceRequest(frame="frame")).conditions
    curves = learned_curves(look_up(current_memory(db), conditions))
    tones = []
    for name, light in (("light", 75), ("mid", 52), ("dark", 30)):
        aim = generic_paper().density_from_lab((light, 0, 0))
        moved = curves.density_at(curves.log_exposure_at(aim)[0] + [0.0, 0.08, 0.0])
        tones.append(ToneEntry(name=name, density=tuple(moved.tolist()), aim_density=tuple(aim.tolist())))
    read_tones(db, "T2", tones)
    best = crossover(db, "frame").compromise
    assert best.curable
    assert best.magenta == pytest.approx(8.0, abs=0.1)
    assert best.yellow == pytest.approx(0.0, abs=0.1)


def test_what_no_usual_slip_explains_is_told_beside_the_other_prints_of_its_negative(printed):
    """Half the light falls on a foot of the curve that this paper has otherwise than believed; not stops beyond it."""
    room = Room(seed=11)
    for add in (room.add_film, room.add_lot, room.add_bath):
        add(add.__name__.removeprefix("add_"))
    frame = room.add_frame("film")
    magenta, right, _ = printed[0]
    half = room.expose(frame, cyan=0.0, magenta=magenta, yellow=round(right.yellow), time=right.time / 2, run="half")
    studio = Studio.in_memory()
    studio.add_film("film")
    studio.add_frame("frame", film="film")
    for made, _, outcome in [*printed[:4], (magenta, right, half)]:
        setting = Setting(pack=FilterPack(magenta=made, yellow=round(right.yellow)), time=right.time)
        studio.log("frame", Exposed(setting=setting, density=tuple(outcome.density)))
    (doubt,) = doubts_of(studio.database, "frame")
    assert doubt.suspect.trial == "T5"
    told = re.search(r"([\d.]+) stops too light", doubt.suspect.words)
    assert told is None or 0.5 < float(told[1]) < 3
