"""What was done to a bath stays listed: each entry can be taken back, brought back, and a drum load put right."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from printlore.core.bath.balance import contents
from printlore.core.bath.kit import Part
from printlore.core.control.limits import Wedge
from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Setting
from printlore.errors import ChangedMeanwhile, Refused, UnknownRecord
from printlore.records.baths import BathEvent, Run, ledger_of
from printlore.records.database import Database
from printlore.services import bath_book, baths, entry
from printlore.services.bath_report import baths_in_use
from printlore.services.control import log_control, take_control_back
from printlore.services.trials import PatchEntry, TrialEntry, log_trial, remove_trial

START = datetime(2026, 3, 3, 19, 0, tzinfo=UTC)
SHEET = 0.05


def later(days):
    return START + timedelta(days=days)


@pytest.fixture
def bath(studio):
    entry.add_process(studio, "45 s")
    baths.mix_bath(studio, "March 3", "45 s", None, 500, bottle=520, at=START)
    return "March 3"


def there(db, bath):
    """What is in the bottle after everything that counts."""
    with db.reading() as conn:
        return contents(ledger_of(conn, bath).ledger)[-1]


def marks(db, bath):
    return [(bath_book.kind_of(one), one.removed) for one in bath_book.bath_book(db, bath)]


def test_a_drum_load_that_was_logged_twice_is_taken_back_and_can_come_back(studio, bath):
    baths.log_run(studio, bath, SHEET, at=later(1))
    once = there(studio, bath)
    twice = baths.log_run(studio, bath, SHEET, at=later(1))
    both = there(studio, bath)
    assert (both.loads, both.area) == (2, 2 * SHEET)
    assert bath_book.take_back(studio, bath).name == twice.name
    assert there(studio, bath) == once
    assert marks(studio, bath) == [("drum load", False), ("drum load", True)]
    with Database.open(studio.folder) as another:
        back = bath_book.bring_entry_back(another, bath_book.find_load(another, twice.name))
    assert (back.version, back.removed) == (3, False)
    assert there(studio, bath) == both


def test_a_load_that_was_taken_back_keeps_its_name_and_the_next_has_another(studio, bath):
    first = baths.log_run(studio, bath, SHEET, at=later(1))
    bath_book.take_entry_back(studio, first)
    assert baths.log_run(studio, bath, SHEET, at=later(1)).name == "March 3, load 2"


def test_each_event_is_taken_back_by_itself_and_comes_back_as_it_stood(studio, bath):
    top = baths.top_up(studio, bath, 20, bled=40, at=later(1))
    baths.log_run(studio, bath, SHEET, at=later(2))
    whole = there(studio, bath)
    taken = bath_book.take_entry_back(studio, bath_book.find_entry(studio, BathEvent, top.id))
    assert taken.removed
    assert there(studio, bath).volume_in < whole.volume_in
    assert marks(studio, bath) == [("top up", True), ("drum load", False)]
    with pytest.raises(Refused, match=r'Event 1 of "March 3" \(top up\) was taken back before'):
        bath_book.take_entry_back(studio, bath_book.find_entry(studio, BathEvent, top.id))
    back = bath_book.bring_entry_back(studio, bath_book.find_entry(studio, BathEvent, top.id))
    assert (back.volume, back.bled, back.at) == (20, 40, top.at)
    assert there(studio, bath) == whole
    with pytest.raises(Refused, match="was not taken back: it counts"):
        bath_book.bring_entry_back(studio, back)
    with pytest.raises(UnknownRecord, match="No bath event has the number 99"):
        bath_book.find_entry(studio, BathEvent, 99)


def test_a_retirement_is_taken_back_and_brought_back(studio, bath):
    baths.retire(studio, bath, at=later(5))
    assert baths_in_use(studio) == []
    retirement = bath_book.take_back(studio, bath)
    assert [one.name for one, _, _ in baths_in_use(studio)] == [bath]
    bath_book.bring_entry_back(studio, retirement)
    assert baths_in_use(studio) == []


def test_what_a_top_up_drew_goes_back_into_its_bottle_and_out_again(studio, bath):
    kit = baths.define_kit(studio, "one part", baths.Use.DEVELOPER, [Part(name="A", per_litre=100)]).name
    baths.open_concentrate(studio, "bottle A", kit, "A", 200)
    baths.mix_bath(studio, "March 4", "45 s", kit, 500, bottle=600, at=START)
    baths.top_up(studio, "March 4", 100, at=later(1))

    def left():
        return round(baths.concentrates_left(studio)[0].left)

    assert left() == 140
    entry_ = bath_book.take_back(studio, "March 4")
    assert left() == 150
    bath_book.bring_entry_back(studio, entry_)
    assert left() == 140


def test_two_who_take_back_the_same_are_told_and_nothing_is_taken_back_twice(studio, bath):
    load = baths.log_run(studio, bath, SHEET, at=later(1))
    with Database.open(studio.folder) as another:
        bath_book.take_entry_back(another, load)
    with pytest.raises(ChangedMeanwhile, match="was removed meanwhile"):
        bath_book.take_entry_back(studio, load)
    assert bath_book.find_load(studio, load.name).version == 2


def test_a_load_that_paper_came_out_of_did_happen(studio, bath):
    load = baths.log_run(studio, bath, SHEET, at=later(1))
    made = Setting(pack=FilterPack(magenta=60, yellow=50), time=8.0)
    trial = log_trial(studio, TrialEntry(patches=(PatchEntry(setting=made, kept=True),), run=load.name, bath=bath))
    wedge = Wedge(white=(0.1,) * 3, light=(0.7,) * 3, dark=(1.4,) * 3, black=(2.2,) * 3)
    patch = log_control(studio, bath, wedge, run=load.name)
    with pytest.raises(Refused, match=rf"did happen: {trial.name}, control patch {patch.id} came out of it"):
        bath_book.take_entry_back(studio, load)
    remove_trial(studio, trial.name, version=1)
    take_control_back(studio, patch.id)
    assert bath_book.take_entry_back(studio, load).removed


def test_a_print_is_not_logged_out_of_a_load_that_was_taken_back(studio, bath):
    load = bath_book.take_entry_back(studio, baths.log_run(studio, bath, SHEET, at=later(1)))
    made = Setting(pack=FilterPack(magenta=60, yellow=50), time=8.0)
    with pytest.raises(UnknownRecord, match=r"was taken back and does not count\. Bring it back first"):
        log_trial(studio, TrialEntry(patches=(PatchEntry(setting=made, kept=True),), run=load.name, bath=bath))


def test_what_later_entries_rest_on_is_not_taken_away_from_under_them(studio, bath):
    out = baths.bleed(studio, bath, 400, at=later(1))
    full = baths.top_up(studio, bath, 400, at=later(2))
    baths.bleed(studio, bath, 450, at=later(3))
    with pytest.raises(Refused, match=r"cannot be taken back: what came after rests on it\. .*450 mL taken out, but"):
        bath_book.take_entry_back(studio, full)
    with pytest.raises(Refused, match=r"what came after rests on it\. .*in a bottle of 520 mL"):
        bath_book.take_entry_back(studio, out)
    assert marks(studio, bath) == [("bleed", False), ("top up", False), ("bleed", False)]
    last = bath_book.take_back(studio, bath)
    bath_book.take_back(studio, bath)
    with pytest.raises(Refused, match=r"cannot be brought back as things stand\. .*450 mL taken out, but"):
        bath_book.bring_entry_back(studio, last)


def test_a_load_with_a_wrong_content_is_put_right_and_what_was_logged_first_stays(studio, bath):
    load = baths.log_run(studio, bath, 2 * SHEET, at=later(1), water_in=5, temperature=35.0)
    right = bath_book.correct_load(studio, load, area=SHEET, water_in=None)
    assert (right.area, right.water_in, right.temperature, right.version) == (SHEET, None, 35.0, 2)
    assert there(studio, bath).area == SHEET
    with studio.reading() as conn:
        assert conn.exec_driver_sql("SELECT area FROM runs ORDER BY id").scalars().all() == [2 * SHEET, SHEET]
    with pytest.raises(ChangedMeanwhile, match="you read version 1, now it is 2"):
        bath_book.correct_load(studio, load, area=3 * SHEET)
    with pytest.raises(Refused, match=r"cannot have been so\. .*900 mL carried out, but only"):
        bath_book.correct_load(studio, right, solution_out=900)
    taken = bath_book.take_entry_back(studio, right)
    with pytest.raises(ChangedMeanwhile, match="was removed meanwhile"):
        bath_book.correct_load(studio, replace(taken, removed=False), area=SHEET)


def test_a_bath_to_which_nothing_was_done_has_nothing_to_take_back(studio, bath):
    with pytest.raises(Refused, match=r'Nothing was done to "March 3" since it was mixed'):
        bath_book.take_back(studio, bath)
    assert bath_book.bath_book(studio, bath) == []
    with pytest.raises(UnknownRecord, match='No run is called "load 9"'):
        bath_book.find_load(studio, "load 9")
    assert entry.list_records(studio, Run) == []


def test_a_load_or_a_top_up_that_was_logged_a_moment_before_is_told(studio, bath):
    """The bench and a telephone with one form open wore a bath out twice as fast, in silence."""
    first = baths.log_run(studio, bath, SHEET, at=later(1))
    assert bath_book.twin_of(studio, first) is None
    again = baths.log_run(studio, bath, SHEET, at=later(1) + timedelta(seconds=20))
    assert bath_book.twin_of(studio, again).name == first.name
    assert bath_book.twin_of(studio, baths.log_run(studio, bath, SHEET, at=later(1) + timedelta(minutes=8))) is None
    for bled, told in ((100, False), (100, True), (90, False)):
        row = baths.top_up(studio, bath, 80, bled=bled, at=later(2))
        assert (bath_book.twin_of(studio, row) is not None) == told
    bath_book.take_entry_back(studio, first)
    assert bath_book.twin_of(studio, again) is None
