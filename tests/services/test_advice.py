"""Advice out of the record: what is left out is filled in, what is missing is said."""

import pytest

from printlore import BathState, Exposed, FilterPack, Judgement, Setting, Studio, at_day
from printlore.core.light.enlarging import Sheet
from printlore.errors import Refused, UnknownRecord, ValueOutOfRange
from printlore.records.papers import Lot
from printlore.records.trials import newest_lot
from printlore.services.advice import BATH_OF_TODAY, AdviceRequest, advise
from printlore.services.baths import retire
from printlore.services.entry import add_lot, list_records
from printlore.services.memory import current_memory
from printlore.services.names import rename
from printlore.services.notebook import enter_notebook
from printlore.services.one_print import one_print
from printlore.services.trials import PatchEntry, TrialEntry, find_trial, log_trial

USUAL = Setting(pack=FilterPack(magenta=45, yellow=60), time=10, magnification=6)


@pytest.fixture
def studio():
    studio = Studio.in_memory()
    for head in ("left", "right"):
        studio.add_head(head, usual=USUAL)
    studio.add_paper("paper")
    for lot in ("lot 1", "lot 2"):
        studio.add_lot(lot, paper="paper")
    studio.add_process("process")
    for day, bath in enumerate(("bath 1", "bath 2")):
        studio.add_bath(bath, process="process", day=day)
    studio.add_film("film")
    for frame in ("one", "two"):
        studio.add_frame(frame, film="film")
    return studio


def log(studio, frame="one", density=(0.8, 0.7, 0.7), magnification=9.0, **where):
    setting = Setting(pack=USUAL.pack, time=12, magnification=magnification)
    return studio.log(frame, Exposed(setting=setting, density=density), **where)


def bath_of(studio, trial):
    return find_trial(studio.database, trial).row.bath


def test_without_a_trial_what_was_added_last_is_taken(studio):
    conditions = studio.advise(day=2).conditions
    assert (conditions.frame, conditions.head, conditions.lot, conditions.bath) == ("two", "right", "lot 2", "bath 2")


def test_after_a_trial_its_conditions_and_size_are_kept(studio):
    log(studio, head="left", lot="lot 1", bath="bath 1", day=2)
    report = advise(studio.database, AdviceRequest(frame="one", at=at_day(2)))
    conditions = report.conditions
    assert (conditions.head, conditions.lot, conditions.bath) == ("left", "lot 1", "bath 1")
    assert report.advice.setting.magnification == 9.0
    assert report.advice.compared_with


def test_a_frame_never_printed_is_advised_at_the_usual_size(studio):
    log(studio, head="left", lot="lot 1", bath="bath 1", day=2)
    report = advise(studio.database, AdviceRequest(frame="two", at=at_day(2)))
    assert report.advice.setting.magnification == USUAL.magnification
    assert report.conditions.head == "left"
    assert report.seen == ()


def test_what_is_asked_for_goes_before_what_was(studio):
    log(studio, head="left", lot="lot 1", bath="bath 1", day=2)
    state = BathState(area_per_litre=0.3, age_days=4)
    request = AdviceRequest(
        frame="one", head="right", lot="lot 2", bath="bath 2", magnification=5, f_number=11.0, bath_state=state
    )
    report = advise(studio.database, request)
    conditions = report.conditions
    assert (conditions.head, conditions.lot, conditions.bath) == ("right", "lot 2", "bath 2")
    assert conditions.bath_state == state
    assert (report.advice.setting.magnification, report.advice.setting.f_number) == (5, 11.0)


def test_a_lot_and_a_head_that_nothing_was_printed_on_are_told(studio):
    log(studio, head="left", lot="lot 1", bath="bath 1", day=2)
    known = advise(studio.database, AdviceRequest(frame="one", head="left", lot="lot 1"))
    assert "Nothing was printed on" not in " ".join(known.remarks)
    strange = advise(studio.database, AdviceRequest(frame="one", head="right", lot="lot 2"))
    told = [remark.split(" yet:")[0] for remark in strange.remarks if "Nothing was printed on" in remark]
    assert told == ['Nothing was printed on the lot "lot 2"', 'Nothing was printed on the head "right"']


def test_another_stop_than_usual_comes_with_its_reason(studio):
    made = Setting(pack=USUAL.pack, time=USUAL.time, magnification=6)
    studio.log("one", Exposed(setting=made, judgement=Judgement(stops_too_dark=2.5)), day=2)
    report = studio.advise("one", day=2)
    assert report.advice.setting.f_number > USUAL.f_number
    assert "not the usual f/8: there the time would be about" in " ".join(report.remarks)
    asked = advise(studio.database, AdviceRequest(frame="one", f_number=11.0))
    assert "not the usual" not in " ".join(asked.remarks)


def test_the_memory_is_kept_while_nothing_changes_and_follows_when_something_does(studio):
    log(studio, day=2)
    first = current_memory(studio.database)
    assert current_memory(studio.database) is first
    name = log(studio, density=(0.9, 0.9, 0.9), day=3)
    assert current_memory(studio.database) is not first
    studio.remove(name)
    assert [trial.name for trial in current_memory(studio.database).evidence.trials] == [
        trial.name for trial in first.evidence.trials
    ]


def test_seen_patches_and_the_edge_of_the_tolerance_come_with_the_advice(studio):
    log(studio, density=(0.72, 0.95, 0.72), day=2)
    report = studio.advise("one", day=2)
    (seen,) = report.seen
    assert "magenta" in seen.cast.words
    assert len(report.outline) >= 24
    # the edge encloses the aim: about 1 CC of magenta and 1.5 of yellow for an edition match (design, from memory)
    yellow, magenta = (max(abs(point[axis]) for point in report.outline) for axis in (0, 1))
    assert 0.5 < magenta < 4
    assert 0.5 < yellow < 5


def test_each_tolerance_has_limits_of_its_own(studio):
    match, alone = (studio.advise("one", tolerance=name, day=2).advice for name in ("edition match", "good alone"))
    assert match.tolerance.delta_e == 3.0
    assert (alone.tolerance.colour_cc, alone.tolerance.time_share) == (2.5, 0.10)


def test_a_judgement_works_in_the_place_of_a_reading(studio):
    setting = Setting(pack=USUAL.pack, time=10, magnification=6)
    studio.log("one", Exposed(setting=setting, judgement=Judgement(stops_too_dark=1.0)), day=2)
    assert studio.advise("one", day=2).advice.setting.time < 8


def test_names_that_are_not_there_are_refused(studio):
    for word in ("frame", "head", "lot", "bath"):
        with pytest.raises((UnknownRecord, ValueOutOfRange), match="lost"):
            advise(studio.database, AdviceRequest(**({"frame": "one"} | {word: "lost"})))


@pytest.mark.parametrize("what", ["head", "lot", "bath", "frame"])
def test_a_name_that_is_not_there_is_said_also_in_a_studio_with_nothing_in_it(what):
    with pytest.raises(UnknownRecord, match=f'No {what} is called "unknown"'):
        advise(Studio.in_memory().database, AdviceRequest(**{what: "unknown"}))


def printed_on(studio, size, magnification, kind="sheet"):
    setting = Setting(pack=USUAL.pack, time=12, magnification=magnification)
    entry = TrialEntry(patches=(PatchEntry(setting=setting, kept=True),), frame="one", print_size=size, kind=kind)
    return log_trial(studio.database, entry).name


def on(studio, *size, **how):
    report = advise(studio.database, AdviceRequest(frame="one", sheet=Sheet(size=size, **how)))
    return report.advice.setting.magnification, " ".join(report.remarks)


def test_a_sheet_is_filled_unless_the_whole_negative_is_asked_for(studio):
    found, remarks = on(studio, 200, 250)
    assert found == pytest.approx(200 / 24)
    assert "fills the sheet: 17 % of the negative's long side is cropped" in remarks
    found, remarks = on(studio, 200, 250, whole=True)
    assert found == pytest.approx(250 / 36)
    assert "33 mm of the sheet's short side stay free" in remarks
    with pytest.raises(Refused, match="not both"):
        advise(studio.database, AdviceRequest(frame="one", magnification=8, sheet=Sheet(size=(200, 250))))


def test_a_size_asked_for_is_reckoned_as_the_earlier_print_was_laid(studio):
    name = printed_on(studio, (200, 250), 250 / 36)
    found, remarks = on(studio, 250, 200)
    assert found == pytest.approx(250 / 36)
    assert f"{name} was enlarged 6.94 times on its sheet" in remarks
    found, _ = on(studio, 300, 400)
    assert found == pytest.approx(250 / 36 * 12.5 / (200 / 24))
    printed_on(studio, (200, 250), 200 / 24)
    assert on(studio, 300, 400)[0] == 12.5
    assert "17 % of the negative's long side" in on(studio, 200, 250)[1]


def test_the_whole_negative_is_on_the_sheet_if_it_is_asked_for_though_the_earlier_print_was_cropped(studio):
    name = printed_on(studio, (200, 250), 200 / 24)
    found, remarks = on(studio, 200, 250, whole=True)
    assert found == pytest.approx(250 / 36)
    assert f"33 mm of the sheet's short side stay free. {name} was cropped, so it is left aside." in remarks
    printed_on(studio, (200, 250), 6.8)
    assert on(studio, 200, 250, whole=True)[0] == pytest.approx(6.8)


def test_a_size_that_does_not_go_with_the_negative_and_a_strip_say_nothing_of_another_sheet(studio):
    printed_on(studio, (50, 200), 8, kind="strip")
    assert on(studio, 200, 250)[0] == pytest.approx(200 / 24)
    name = printed_on(studio, (200, 250), 4)
    found, remarks = on(studio, 200, 250)
    assert found == pytest.approx(200 / 24)
    assert f"{name} was logged as enlarged 4 times, which does not go with its size" in remarks
    assert on(studio, 200, 250, negative=(56, 56))[0] == pytest.approx(4)


def test_a_negative_is_advised_on_what_was_printed_on_last_whatever_it_was_printed_on_itself(studio):
    log(studio, "one", head="left", lot="lot 1", bath="bath 1", day=2)
    log(studio, "two", head="right", lot="lot 2", bath="bath 2", day=3)
    conditions = advise(studio.database, AdviceRequest(frame="one", at=at_day(4))).conditions
    assert (conditions.head, conditions.lot, conditions.bath) == ("right", "lot 2", "bath 2")


def test_a_bath_that_was_given_up_is_not_printed_in_again(studio):
    log(studio, head="left", lot="lot 1", bath="bath 2", day=2)
    retire(studio.database, "bath 2", at=at_day(3))
    asked = AdviceRequest(frame="one", at=at_day(4))
    assert advise(studio.database, asked).conditions.bath == "bath 1"
    assert bath_of(studio, log(studio, day=4)) == "bath 1"
    retire(studio.database, "bath 1", at=at_day(5))
    report = advise(studio.database, AdviceRequest(frame="one", at=at_day(6)))
    assert report.conditions.bath == "unnamed bath"
    assert "No developer is in use: usual figures, from memory, stand in for it." in report.remarks
    first = bath_of(studio, log(studio, day=6))
    retire(studio.database, first, at=at_day(7))
    second = bath_of(studio, log(studio, day=8))
    assert (first, second) == ("unnamed bath", "unnamed bath 2")


def test_old_notes_say_nothing_of_todays_lot_and_bath(studio):
    log(studio, head="left", lot="lot 1", bath="bath 1", day=2)
    plain = advise(studio.database, AdviceRequest(frame="one", at=at_day(3)))
    enter_notebook(
        studio.database, "lot = lot 2\nOld: 50M 50Y, 10 s, f/8, 9x, 1998-03-04, kept\nNew: 50M 50Y, 10 s, kept"
    )
    after = advise(studio.database, AdviceRequest(frame="one", at=at_day(3)))
    assert (after.conditions.lot, after.conditions.bath) == ("lot 1", "bath 1")
    assert after.advice.setting.time == pytest.approx(plain.advice.setting.time, rel=0.1)
    old = advise(studio.database, AdviceRequest(frame="Old", at=at_day(3)))
    assert (old.conditions.head, old.conditions.bath) == ("left", "bath 1")
    assert old.advice.setting.time == pytest.approx(10, rel=0.5)


def test_of_two_prints_of_one_day_the_reasons_start_from_the_one_logged_last():
    studio = Studio.in_memory()
    enter_notebook(studio.database, "Old: 60M 45Y, 9 s, 1998-03-04, a trace cyan\nOld: 58M 45Y, 9 s, 1998-03-04, kept")
    advice = advise(studio.database, AdviceRequest(frame="Old")).advice
    assert advice.old_setting.pack == FilterPack(magenta=58, yellow=45)


def test_a_studio_of_old_notes_alone_is_not_advised_to_use_their_baths():
    studio = Studio.in_memory()
    enter_notebook(studio.database, "Old: 50M 50Y, 10 s, f/8, 8x, 1998-03-04, kept")
    report = advise(studio.database, AdviceRequest(frame="Old"))
    assert report.conditions.bath == "unnamed bath"
    assert report.conditions.bath_state == BathState()
    assert report.advice.setting.time == pytest.approx(10, rel=0.3)
    assert bath_of(studio, studio.log("Old", Exposed(setting=report.advice.setting))) == "unnamed bath"


@pytest.mark.parametrize("named", ["", "lot = lot 1998\n"])
def test_a_studio_of_old_notes_alone_is_not_advised_for_their_lot(named):
    studio = Studio.in_memory()
    enter_notebook(studio.database, f"{named}Old: 50M 50Y, 10 s, f/8, 8x, 1998-03-04, kept")
    (noted,) = (lot.name for lot in list_records(studio.database, Lot))
    report = advise(studio.database, AdviceRequest(frame="Old"))
    assert report.conditions.lot not in {noted}
    assert one_print(studio.database).words  # for the lot of the notes, as long as there is no other
    made = log_trial(studio.database, TrialEntry(frame="Old", patches=(PatchEntry(setting=report.advice.setting),)))
    assert made.row.lot not in {noted}
    assert advise(studio.database, AdviceRequest(frame="Old")).conditions.lot == made.row.lot


def test_the_lot_of_old_notes_that_was_taken_in_is_todays():
    studio = Studio.in_memory()
    add_lot(studio.database, "lot 41", paper="semi-matt", new_paper=True, received_at=at_day(1))
    enter_notebook(studio.database, "lot = lot 41\nOld: 50M 50Y, 10 s, f/8, 8x, kept")
    assert advise(studio.database, AdviceRequest(frame="Old")).conditions.lot == "lot 41"


def test_a_lot_that_came_since_the_last_print_is_told(studio):
    log(studio, head="left", lot="lot 1", bath="bath 1", day=2)
    add_lot(studio.database, "lot 9", paper="paper")
    told = advise(studio.database, AdviceRequest(frame="one", at=at_day(3)))
    assert told.conditions.lot == "lot 1"
    words = '"lot 9" was added since the last print; this is for "lot 1". Name the lot you print on.'
    assert words in told.remarks
    assert told.newer_lot == "lot 9"
    assert words not in advise(studio.database, AdviceRequest(frame="one", lot="lot 1", at=at_day(3))).remarks
    log(studio, head="left", lot="lot 1", bath="bath 1", day=4)
    assert words not in advise(studio.database, AdviceRequest(frame="one", at=at_day(5))).remarks


def test_beside_old_notes_a_lot_that_was_added_is_what_the_advice_is_for():
    studio = Studio.in_memory()
    enter_notebook(studio.database, "Old: 50M 50Y, 10 s, f/8, 8x, 1998-03-04, kept")
    add_lot(studio.database, "lot 9", paper="semi-matt", new_paper=True)
    told = advise(studio.database, AdviceRequest(frame="Old"))
    assert told.conditions.lot == "lot 9"
    assert not [remark for remark in told.remarks if "was added since" in remark]


def test_the_lot_of_notes_entered_later_is_not_told_as_one_that_came(studio):
    log(studio, head="left", lot="lot 1", bath="bath 1", day=2)
    enter_notebook(studio.database, "lot = lot 1998\nOld: 50M 50Y, 10 s, f/8, 8x, 1998-03-04, kept")
    told = advise(studio.database, AdviceRequest(frame="one"))
    assert told.conditions.lot == "lot 1"
    assert not [remark for remark in told.remarks if "was added since" in remark]


def test_a_lot_that_was_printed_on_stays_ours_when_its_old_notes_are_entered():
    studio = Studio.in_memory()
    add_lot(studio.database, "lot 7", paper="semi-matt", new_paper=True)
    made = Exposed(setting=Setting(pack=FilterPack(magenta=50, yellow=50), time=10))
    enter_notebook(studio.database, "New: 50M 50Y, 10 s, f/8, 8x, 1999-03-04, kept")
    studio.log("New", made, lot="lot 7")
    enter_notebook(studio.database, "lot = lot 7\nOld: 50M 50Y, 10 s, f/8, 8x, 1998-03-04, kept")
    add_lot(studio.database, "lot 8", paper="semi-matt")
    enter_notebook(studio.database, "lot = lot 8\nOlder: 50M 50Y, 10 s, f/8, 8x, 1997-03-04, kept")
    with studio.database.reading() as conn:
        assert newest_lot(conn).name == "lot 7"


def test_a_bath_of_old_notes_from_before_they_gave_it_up_is_out_of_the_choice_until_it_is_used():
    studio = Studio.in_memory()
    enter_notebook(studio.database, "bath = old\nOld: 50M 50Y, 10 s, f/8, 8x, 1998-03-04, kept")
    with studio.database.transaction() as conn:
        conn.exec_driver_sql("DROP TRIGGER bath_events_never_deleted")
        conn.exec_driver_sql("DELETE FROM bath_events")
    assert studio.baths.list() == []
    assert advise(studio.database, AdviceRequest(frame="Old")).conditions.bath == "unnamed bath"
    studio.log("Old", Exposed(setting=Setting(pack=FilterPack(magenta=50, yellow=50), time=10)), bath="old")
    assert [bath.name for bath, _, _ in studio.baths.list()] == ["old"]
    assert advise(studio.database, AdviceRequest(frame="Old")).conditions.bath == "old"


def test_a_bath_of_old_notes_can_be_taken_into_use_again_by_taking_its_giving_up_back():
    studio = Studio.in_memory()
    enter_notebook(studio.database, "bath = old\nOld: 50M 50Y, 10 s, f/8, 8x, 1998-03-04, kept")
    assert studio.baths.list() == []
    studio.baths.take_back("old")
    assert [bath.name for bath, _, _ in studio.baths.list()] == ["old"]


def test_what_stood_for_a_lot_and_bath_may_be_renamed_and_is_not_missed_later():
    studio = Studio.in_memory()
    page = "Old: 50M 50Y, 10 s, f/8, 8x, 1998-03-04, kept"
    enter_notebook(studio.database, page)
    rename(studio.database, "lot", "unnamed lot", "box of 1998")
    rename(studio.database, "bath", "baths of old notes", "the tray")
    (again,) = enter_notebook(studio.database, page.replace("Old", "Older")).lines
    assert again.problem is None
    assert 'the bath "baths of old notes" is called "the tray" now' in again.doubts
    made = Exposed(setting=Setting(pack=FilterPack(magenta=50, yellow=50), time=10))
    first = studio.log("Old", made, day=1)
    assert find_trial(studio.database, first).row.lot == "unnamed lot 2"
    rename(studio.database, "bath", bath_of(studio, first), "bath of May")
    retire(studio.database, "bath of May", at=at_day(400))
    second = studio.log("Old", made, day=401)
    assert bath_of(studio, second) == "unnamed bath 2"


def test_a_bath_that_was_given_up_does_not_stand_for_one_that_is_missing():
    studio = Studio.in_memory()
    enter_notebook(studio.database, "Old: 50M 50Y, 10 s, f/8, 8x, 1998-03-04, kept")
    made = Exposed(setting=Setting(pack=FilterPack(magenta=50, yellow=50), time=10))
    trial = studio.log("Old", made, day=1)
    assert bath_of(studio, trial) == "unnamed bath"
    retire(studio.database, "unnamed bath", at=at_day(2))
    assert advise(studio.database, AdviceRequest(frame="Old", at=at_day(3))).conditions.bath == BATH_OF_TODAY
