"""A new lot asks for one trial; once printed, its offset is known and every old setting is brought onto it."""

import pytest

from printlore.core.flags import Flag
from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Setting
from printlore.errors import Refused, UnknownRecord, ValueOutOfRange
from printlore.records.trials import PatchReading
from printlore.services.entry import add_bath, add_film, add_frame, add_head, add_lot, add_paper, add_process
from printlore.services.lots import new_lot, relations, state_same_emulsion
from printlore.services.trials import PatchEntry, TrialEntry, log_trial

AIM = (0.72, 0.70, 0.68)


@pytest.fixture
def studio_with_prints(db):
    add_head(db, "head")
    add_paper(db, "gloss", aim_density=AIM)
    add_paper(db, "matte", aim_density=AIM)
    add_lot(db, "old", paper="gloss")
    add_lot(db, "new", paper="gloss")
    add_lot(db, "flat", paper="matte")
    add_process(db, "process")
    add_bath(db, "bath", process="process")
    add_film(db, "film")
    for name in ("harbour", "steps"):
        add_frame(db, name, film="film")
    for _ in range(3):
        log(db, "harbour", "old", 50, 60)
    log(db, "steps", "old", 55, 62)
    return db


def log(db, frame, lot, magenta, yellow, density=AIM, time=10.0):
    setting = Setting(pack=FilterPack(magenta=magenta, yellow=yellow), time=time, f_number=8, magnification=5)
    patch = PatchEntry(setting=setting, reading=PatchReading(density=density), kept=True)
    return log_trial(db, TrialEntry(patches=(patch,), frame=frame, lot=lot, head="head", bath="bath"))


def test_a_new_lot_proposes_the_frame_most_kept_once_on_each_lot(studio_with_prints):
    found = new_lot(studio_with_prints, "new")
    assert found.old_lot == "old"
    assert found.frame == "harbour"
    assert "Print harbour once on new and once on old, in one drum" in found.words
    assert Flag.PRIOR_ONLY in found.offset.magenta.flags
    assert {r.frame for r in found.rebased} == {"harbour", "steps"}


def test_one_trial_tells_the_offset_and_moves_every_setting(studio_with_prints):
    """The new lot comes out too dark in green at the old setting, so it wants magenta."""
    before = new_lot(studio_with_prints, "new")
    log(studio_with_prints, "harbour", "new", 50, 60, density=(AIM[0], AIM[1] + 0.25, AIM[2]))
    found = new_lot(studio_with_prints, "new")
    assert len(found.trials) == 1
    assert found.offset.magenta.value > 4
    assert found.offset.magenta.standard_error < before.offset.magenta.standard_error
    assert Flag.PRIOR_ONLY not in found.offset.magenta.flags
    assert all(r.after.pack.magenta > r.before.pack.magenta for r in found.rebased)


def test_the_first_lot_of_a_paper_has_none_to_compare_with(studio_with_prints):
    with pytest.raises(Refused, match="first lot of its paper"):
        new_lot(studio_with_prints, "old")
    with pytest.raises(ValueOutOfRange, match="compared with itself"):
        new_lot(studio_with_prints, "new", old_lot="new")
    with pytest.raises(UnknownRecord, match="No lot is called"):
        new_lot(studio_with_prints, "new", old_lot="nix")


def test_one_emulsion_on_two_surfaces_is_stated_and_then_contradicted(studio_with_prints):
    _, check = state_same_emulsion(studio_with_prints, "flat", "old")
    assert not check.compared
    log(studio_with_prints, "harbour", "flat", 51, 60)
    assert not relations(studio_with_prints)[0][1].contradicted
    log(studio_with_prints, "harbour", "flat", 80, 60)
    assert relations(studio_with_prints)[0][1].contradicted
    with pytest.raises(ValueOutOfRange, match="as itself"):
        state_same_emulsion(studio_with_prints, "old", "old")


def test_a_lot_on_another_surface_is_compared_by_what_was_kept_on_both(studio_with_prints):
    """Two papers have no common zero in the memory: without such a print the offset is open, not 0 for sure."""
    state_same_emulsion(studio_with_prints, "flat", "old")
    before = new_lot(studio_with_prints, "flat")
    assert before.old_lot == "old"
    assert before.offset.magenta.value == 0
    assert before.offset.magenta.standard_error > 1
    assert Flag.PRIOR_ONLY in before.offset.magenta.flags
    assert "Print harbour once on flat" in before.words
    name = log(studio_with_prints, "harbour", "flat", 70, 60).row.name
    found = new_lot(studio_with_prints, "flat")
    assert found.offset.magenta.value == pytest.approx(20)
    assert 0 < found.offset.magenta.standard_error < 5
    assert found.trials == (name,)
    assert {r.frame: r.after.pack.magenta for r in found.rebased} == pytest.approx({"harbour": 70, "steps": 75})


def test_before_any_print_the_offset_is_the_usual_spread_and_says_so(db):
    add_paper(db, "gloss")
    add_lot(db, "one", paper="gloss")
    add_lot(db, "two", paper="gloss")
    found = new_lot(db, "two")
    assert found.offset.stops.value == 0
    assert Flag.PRIOR_ONLY in found.offset.stops.flags
    assert "Print any negative you know well on two" in found.words
