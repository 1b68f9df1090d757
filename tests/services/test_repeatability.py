"""What the printer says of prints made alike, from the record to the memory."""

import pytest

from printlore.records.studio import Repeatability
from printlore.services.entry import add_film, add_frame, write_settings
from printlore.services.evidence import hold_evidence, load_evidence
from printlore.services.memory import current_memory


def test_nothing_is_said_of_it_until_the_printer_does(db):
    assert load_evidence(db).alike is None
    write_settings(db, Repeatability(alike_cc=1.5))
    assert load_evidence(db).alike == pytest.approx(0.015)
    write_settings(db, Repeatability())
    assert load_evidence(db).alike is None


def test_a_change_is_seen_by_what_was_held_before(db):
    held = hold_evidence(db)
    write_settings(db, Repeatability(alike_cc=2))
    held = hold_evidence(db, held)
    assert held.evidence.alike == pytest.approx(0.02)
    add_film(db, "film 1")
    add_frame(db, "harbour 14", film="film 1")
    assert hold_evidence(db, held).evidence.alike == pytest.approx(0.02)


def test_the_memory_follows(db):
    before = current_memory(db)
    write_settings(db, Repeatability(alike_cc=4))
    after = current_memory(db)
    assert after.learned.run.common > 3 * before.learned.run.common
    write_settings(db, Repeatability(alike_cc=1))
    assert current_memory(db).learned.run.common < after.learned.run.common / 3
