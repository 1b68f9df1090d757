"""A print that was kept and measured is what later prints of its negative should match, on its paper and on others."""

import dataclasses

import numpy as np
import pytest

from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Setting
from printlore.core.paper.dyes import paper_named
from printlore.records.negatives import NEUTRAL_GREY
from printlore.records.trials import PatchReading
from printlore.services.advice import AdviceRequest, advise
from printlore.services.entry import add_film, add_frame, add_lot, add_paper, set_frame_aim
from printlore.services.evidence import hold_evidence, load_evidence
from printlore.services.trials import PatchEntry, TrialEntry, add_reading, correct_trial, log_trial, mark_kept

SETTING = Setting(pack=FilterPack(magenta=50, yellow=40), time=9)
FIRST, SECOND = (0.70, 0.74, 0.69), (0.75, 0.72, 0.73)


@pytest.fixture
def studio(db):
    for paper, lot, dyes in (("gloss", "lot 1", "filmscan-paper-a"), ("matt", "lot 2", "filmscan-paper-b")):
        add_paper(db, paper, dye_model=dyes)
        add_lot(db, lot, paper=paper)
    add_film(db, "film 1")
    add_frame(db, "harbour 14", film="film 1")
    return db


def printed(db, density, *, kept=True, lot="lot 1"):
    patch = PatchEntry(setting=SETTING, reading=PatchReading(density=density), kept=kept)
    return log_trial(db, TrialEntry(patches=(patch,), lot=lot, frame="harbour 14")).name


def aim(db, paper="gloss"):
    """As read anew; what is read step by step must say the same."""
    evidence = load_evidence(db)
    return evidence.aim_density("harbour 14", paper)


def test_the_first_that_is_kept_and_measured_stays_the_aim(studio):
    usual = aim(studio)
    held = hold_evidence(studio, None)
    first = printed(studio, FIRST, kept=False)
    assert aim(studio) == usual
    mark_kept(studio, first)
    assert aim(studio) == FIRST
    second = printed(studio, SECOND)
    assert aim(studio) == FIRST
    held = hold_evidence(studio, held)
    assert held.evidence.aim_density("harbour 14", "gloss") == FIRST
    mark_kept(studio, first, kept=False)
    assert aim(studio) == SECOND
    correct_trial(studio, second, version=1, readings={0: dataclasses.replace(PatchReading(density=FIRST))})
    assert aim(studio) == FIRST
    mark_kept(studio, second, kept=False)
    assert aim(studio) == usual
    assert hold_evidence(studio, held).evidence.frames == load_evidence(studio).frames


def test_a_reading_that_comes_later_makes_a_kept_print_the_aim(studio):
    trial = log_trial(studio, TrialEntry(patches=(PatchEntry(setting=SETTING, kept=True),), frame="harbour 14")).name
    held = hold_evidence(studio, None)
    assert aim(studio) == (0.72, 0.72, 0.72)
    add_reading(studio, trial, PatchReading(density=SECOND))
    assert aim(studio) == SECOND
    assert hold_evidence(studio, held).evidence.frames == load_evidence(studio).frames


def test_what_is_read_beyond_range_is_no_aim_and_what_was_stated_goes_first(studio):
    beyond = PatchReading(density=FIRST, beyond=(True, False, False))
    log_trial(studio, TrialEntry(patches=(PatchEntry(setting=SETTING, reading=beyond, kept=True),), frame="harbour 14"))
    assert aim(studio) == (0.72, 0.72, 0.72)
    printed(studio, FIRST)
    set_frame_aim(studio, "harbour 14", "gloss", (0.8, 0.8, 0.8))
    assert aim(studio) == (0.8, 0.8, 0.8)


def test_on_another_paper_it_looks_the_same(studio):
    """Lab by the dye models of both papers, beside their usual greys."""
    printed(studio, FIRST)
    other = aim(studio, "matt")
    looks = []
    for dyes, density in (("filmscan-paper-a", FIRST), ("filmscan-paper-b", other)):
        model = paper_named(dyes)
        at = model.density_from_lab(NEUTRAL_GREY) + np.array(density) - 0.72
        looks.append(model.lab_from_density(at))
    assert looks[0] == pytest.approx(looks[1], abs=0.3)
    assert np.linalg.norm(looks[0] - np.array(NEUTRAL_GREY)) > 1
    printed(studio, SECOND, lot="lot 2")
    assert aim(studio, "matt") == SECOND
    assert aim(studio) == FIRST


def test_the_advice_says_what_it_is_to_match(studio):
    first = printed(studio, FIRST)
    report = advise(studio, AdviceRequest(frame="harbour 14", lot="lot 1"))
    assert f"It is to match {first}, the first print of it that was kept and measured." in report.remarks
    predicted = np.array([channel.value for channel in report.advice.predicted_density])
    assert predicted == pytest.approx(FIRST, abs=0.03)
    assert any(remark.startswith(f"It is to look like {first}") for remark in advise(
        studio, AdviceRequest(frame="harbour 14", lot="lot 2")).remarks)  # fmt: skip
