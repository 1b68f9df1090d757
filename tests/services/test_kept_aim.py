"""A print that was kept and measured is what later prints of its negative should match, on its paper and on others."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Setting
from printlore.core.memory.evidence import Cast, FrameFacts, Judgement
from printlore.core.memory.solve import solve
from printlore.core.paper.dyes import paper_named
from printlore.records.negatives import NEUTRAL_GREY, Frame
from printlore.records.rows import correct, find
from printlore.records.trials import PatchReading
from printlore.services.advice import AdviceRequest, advise
from printlore.services.aims import state_density
from printlore.services.entry import add_film, add_frame, add_lot, add_paper, remove_record
from printlore.services.evidence import hold_evidence, load_evidence
from printlore.services.trials import PatchEntry, TrialEntry, add_reading, correct_trial, log_trial, mark_kept

SETTING = Setting(pack=FilterPack(magenta=50, yellow=40), time=9)
START = datetime(2026, 3, 1, 20, tzinfo=UTC)
FIRST, SECOND = (0.70, 0.74, 0.69), (0.75, 0.72, 0.73)


@pytest.fixture
def studio(db):
    for paper, lot, dyes in (("gloss", "lot 1", "generic a"), ("matt", "lot 2", "generic b")):
        add_paper(db, paper, dye_model=dyes)
        add_lot(db, lot, paper=paper)
    add_film(db, "film 1")
    add_frame(db, "harbour 14", film="film 1")
    return db


def printed(db, density, *, kept=True, lot="lot 1"):
    patch = PatchEntry(setting=SETTING, reading=PatchReading(density=density), kept=kept)
    return log_trial(db, TrialEntry(patches=(patch,), lot=lot, frame="harbour 14")).name


def aim(db, paper="gloss"):
    return load_evidence(db).aim_density("harbour 14", paper)


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
    add_reading(studio, second, PatchReading(density=FIRST))
    assert aim(studio) == FIRST
    mark_kept(studio, second, kept=False)
    assert aim(studio) == usual
    assert hold_evidence(studio, held).evidence.frames == load_evidence(studio).frames


def test_a_reading_that_comes_later_makes_a_kept_print_the_aim(studio):
    trial = log_trial(
        studio, TrialEntry(patches=(PatchEntry(setting=SETTING, kept=True),), lot="lot 1", frame="harbour 14")
    ).name
    held = hold_evidence(studio, None)
    assert aim(studio) == (0.72, 0.72, 0.72)
    add_reading(studio, trial, PatchReading(density=SECOND))
    assert aim(studio) == SECOND
    assert hold_evidence(studio, held).evidence.frames == load_evidence(studio).frames


def test_what_is_read_beyond_range_is_no_aim_and_what_was_stated_goes_first(studio):
    beyond = PatchReading(density=FIRST, beyond=(True, False, False))
    log_trial(
        studio,
        TrialEntry(patches=(PatchEntry(setting=SETTING, reading=beyond, kept=True),), lot="lot 1", frame="harbour 14"),
    )
    assert aim(studio) == (0.72, 0.72, 0.72)
    printed(studio, FIRST)
    state_density(studio, "harbour 14", "gloss", (0.8, 0.8, 0.8))
    assert aim(studio) == (0.8, 0.8, 0.8)


def test_on_another_paper_it_looks_the_same(studio):
    """Lab by the dye models of both papers, beside their usual greys."""
    green = (0.60, 0.90, 0.60)
    printed(studio, green)
    other = aim(studio, "matt")
    assert other != green
    looks = []
    for dyes, density in (("generic a", green), ("generic b", other)):
        model = paper_named(dyes)
        at = model.density_from_lab(NEUTRAL_GREY) + np.array(density) - 0.72
        looks.append(model.lab_from_density(at))
    # straight lines carry it over: a tenth of the way it is from grey
    assert np.linalg.norm(looks[0] - looks[1]) < 0.1 * np.linalg.norm(looks[0] - np.array(NEUTRAL_GREY))
    printed(studio, SECOND, lot="lot 2")
    assert aim(studio, "matt") == SECOND
    assert aim(studio) == green


def test_what_was_said_of_the_kept_print_was_said_of_it_beside_the_usual_grey(studio):
    """Else each such print would say that its printer sees casts where there are none."""
    add_frame(studio, "harbour 15", film="film 1")
    seen = Judgement(cast=Cast.MAGENTA, strength=5.0)
    for number, frame in enumerate(("harbour 14", "harbour 15")):
        reading = PatchReading(density=(0.72, 0.76, 0.72))
        patch = PatchEntry(setting=SETTING, reading=reading, judgement=seen, kept=True)
        log_trial(studio, TrialEntry(patches=(patch,), lot="lot 1", frame=frame, at=START + timedelta(days=number)))
    with_aims, evidence = solve(load_evidence(studio)), load_evidence(studio)
    usual = {name: FrameFacts(name=name, film=facts.film) for name, facts in evidence.frames.items()}
    without = solve(replace(evidence, frames=usual))
    person = with_aims.layout.person
    assert with_aims.state.general[person] == pytest.approx(without.state.general[person], abs=1e-9)


def test_a_frame_that_was_removed_does_not_come_back_with_a_mark(studio):
    first, second = printed(studio, FIRST), printed(studio, SECOND)
    add_frame(studio, "quay", film="film 1")
    for name in (first, second):
        correct_trial(studio, name, version=1, frame="quay")
    held = hold_evidence(studio, None)
    with studio.reading() as conn:
        empty = find(conn, Frame, "harbour 14")
    remove_record(studio, empty)
    held = hold_evidence(studio, held)
    mark_kept(studio, first, kept=False)
    assert list(hold_evidence(studio, held).evidence.frames) == list(load_evidence(studio).frames) == ["quay"]


def test_a_tone_that_does_not_count_is_said_not_to(studio):
    printed(studio, FIRST)
    with studio.transaction() as conn:
        correct(conn, replace(find(conn, Frame, "harbour 14"), aim=(70.0, 0.0, 0.0)))
    (remark,) = (r for r in advise(studio, AdviceRequest(frame="harbour 14", lot="lot 1")).remarks if "to match" in r)
    assert "the tone that was given for the negative does not count" in remark


def test_the_advice_says_what_it_is_to_match(studio):
    first = printed(studio, FIRST)
    report = advise(studio, AdviceRequest(frame="harbour 14", lot="lot 1"))
    assert f"It is to match {first}, the first print of it that was kept and measured." in report.remarks
    predicted = np.array([channel.value for channel in report.advice.predicted_density])
    assert predicted == pytest.approx(FIRST, abs=0.03)
    assert any(remark.startswith(f"It is to look like {first}") for remark in advise(
        studio, AdviceRequest(frame="harbour 14", lot="lot 2")).remarks)  # fmt: skip


def test_a_frame_that_was_removed_can_still_be_advised_on(studio):
    printed(studio, FIRST)
    with studio.reading() as conn:
        gone = find(conn, Frame, "harbour 14")
    remove_record(studio, gone)
    assert advise(studio, AdviceRequest(frame="harbour 14", lot="lot 1")).advice.probability_good > 0
