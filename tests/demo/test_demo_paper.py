"""The demo's paper: two rolls, three lots, one fogged bag; the same seed gives the same history."""

from datetime import UTC, datetime

import pytest

from printlore.demo.paper import BAD_BAG, NARROW, WIDE, add_paper_history
from printlore.records.cutting import PlanRecord
from printlore.records.database import Database
from printlore.records.papers import Lot
from printlore.services.cutting import list_sittings
from printlore.services.entry import find_record, list_records
from printlore.services.fog import fog_reports
from printlore.services.stock import ledger, stock

NOW = datetime(2026, 3, 1, 18, 0, tzinfo=UTC)


@pytest.fixture(scope="module")
def made():
    with Database.in_memory() as db:
        plan = add_paper_history(db, 1, now=NOW)
        yield db, plan


def test_two_rolls_three_lots_and_one_fogged_bag(made):
    db, plan = made
    on_hand = stock(db, at=NOW)
    assert {roll.roll.name for roll in on_hand.rolls} == {NARROW, WIDE}
    assert len(list_records(db, Lot)) == 3
    assert [c.name for c in on_hand.containers if c.unsafe] == [BAD_BAG]
    assert [report.record.verdict == "sound" for report in fog_reports(db)] == [True, True, False]
    assert any(state.sitting.booked for state in list_sittings(db, plan))
    assert find_record(db, PlanRecord, plan).plan.short == {}


def test_the_same_seed_tells_the_same_story(made):
    db, _ = made
    with Database.in_memory() as other:
        add_paper_history(other, 1, now=NOW)
        told = [[(line.at, line.happened, line.sheets, line.length) for line in ledger(one)] for one in (db, other)]
    assert told[0] == told[1]
