"""What is set for the whole studio: prints made alike, from the record to the memory; one thing at a time."""

import pytest

from printlore.records.database import Database
from printlore.records.studio import Costs, Repeatability
from printlore.services.entry import add_film, add_frame, change_settings, read_settings, write_settings
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


def test_of_two_who_set_one_thing_each_for_the_first_time_neither_is_lost(tmp_path):
    """Both have read that nothing is set yet."""
    with Database.open(tmp_path / "studio") as one, Database.open(tmp_path / "studio") as two:
        for db in (one, two):
            read_settings(db, Costs)
        change_settings(one, Costs, sheet=7)
        change_settings(two, Costs, strip=0.9)
        costs = read_settings(one, Costs)
    assert (costs.sheet, costs.strip) == (7, 0.9)
