"""Stock is right to the sheet; a roll's length follows what was measured and cut; reorder, cover, warm-up."""

import dataclasses
from datetime import UTC, datetime, timedelta

import pytest

from printlore.core.cutting.supply import cover, reorder
from printlore.core.flags import Flag
from printlore.errors import PrintloreError, Refused, UnknownRecord, ValueOutOfRange
from printlore.faces import telling
from printlore.records.stock import BoxRecord, Happened, PaperMake, Place, RollMeasure, RollRecord, StockLine
from printlore.services.entry import add_lot, add_paper, list_records
from printlore.services.stock import (
    book_roll,
    book_sheets,
    bring_booking_back,
    ledger,
    lot_cover,
    mark_container,
    measure_roll,
    move_paper,
    receive_box,
    receive_roll,
    roll_status,
    set_paper_make,
    stock,
    take_booking_back,
    when_to_reorder,
)

NOW = datetime(2026, 3, 1, 18, 0, tzinfo=UTC)


@pytest.fixture
def papers(db):
    add_paper(db, "gloss")
    add_lot(db, "lot 1", paper="gloss")
    set_paper_make(db, "gloss", thickness=0.23, grammage=250)
    return db


def box(name="b", **fields):
    return BoxRecord(name=name, lot="lot 1", along=254, across=203, **fields)


def roll(name="r", **fields):
    values = {"width": 305, "core_diameter": 76, "core_weight": 200, "stated_length": 84_000, "received_at": NOW}
    return RollRecord(name=name, lot="lot 1", **values | fields)


def test_every_sheet_that_leaves_a_box_is_a_line_and_the_count_follows(papers):
    receive_box(papers, box(), 50, at=NOW)
    book_sheets(papers, "b", Happened.EXPOSED, 3, trial="T1", at=NOW)
    book_sheets(papers, "b", Happened.SPOILED, at=NOW)
    book_sheets(papers, "b", Happened.SOLD, 10, at=NOW)
    assert book_sheets(papers, "b", Happened.LOST, at=NOW).sheets == 35
    assert [line.sheets for line in ledger(papers, box="b")] == [50, -3, -1, -10, -1]
    assert ledger(papers, box="b")[1].trial == "T1"


def test_a_count_is_what_is_there_from_then_on(papers):
    receive_box(papers, box(), 50, at=NOW)
    book_sheets(papers, "b", Happened.COUNTED, 47, at=NOW + timedelta(days=1))
    assert book_sheets(papers, "b", Happened.EXPOSED, 2, at=NOW + timedelta(days=2)).sheets == 45
    assert book_sheets(papers, "b", Happened.COUNTED, 0, at=NOW + timedelta(days=3)).sheets == 0


def test_what_is_booked_by_its_day_takes_its_place_among_the_lines_of_that_day(papers):
    """By hand: 50 came on the 1st; 20 sold on the 2nd, told on the 5th, leave the count of the 3rd as it is."""
    receive_box(papers, box(), 50, at=NOW)
    book_sheets(papers, "b", Happened.COUNTED, 25, at=NOW + timedelta(days=2))
    late = book_sheets(papers, "b", Happened.SOLD, 20, at=NOW + timedelta(days=1))
    assert (late.sheets, late.booked.at) == (25, NOW + timedelta(days=1))
    with pytest.raises(Refused, match=r'On 2 Mar 2026 the ledger had 30 sheets in box "b", so 31 cannot be sold'):
        book_sheets(papers, "b", Happened.SOLD, 31, at=NOW + timedelta(days=1))
    with pytest.raises(Refused, match=r"On 28 Feb 2026 the ledger had 0 sheets"):
        book_sheets(papers, "b", Happened.SOLD, 1, at=NOW - timedelta(days=1))


def test_what_later_lines_need_cannot_have_gone_before_them(papers):
    receive_box(papers, box(), 10, at=NOW)
    book_sheets(papers, "b", Happened.SOLD, 8, at=NOW + timedelta(days=2))
    with pytest.raises(
        Refused, match=r"With 3 lost on 2 Mar 2026, later lines could not be\. 8 were sold on 3 Mar 2026"
    ):
        book_sheets(papers, "b", Happened.LOST, 3, at=NOW + timedelta(days=1))
    assert book_sheets(papers, "b", Happened.LOST, 2, at=NOW + timedelta(days=1)).sheets == 0


def test_a_length_that_went_before_a_measure_is_measured_already(papers):
    receive_roll(
        papers, roll(stated_length=None), measure=RollMeasure(roll="r", at=NOW + timedelta(days=2), weight=500)
    )
    before = roll_status(papers, "r").length.value
    assert book_roll(papers, "r", Happened.SOLD, 30_000, at=NOW + timedelta(days=1)).length.value == before
    with pytest.raises(Refused, match="Measure the roll"):
        book_roll(papers, "r", Happened.SOLD, 30_000, at=NOW + timedelta(days=3))
    with pytest.raises(Refused, match=r'Roll "r" came on 1 Mar 2026, so nothing of it was sold on 27 Feb 2026'):
        book_roll(papers, "r", Happened.SOLD, 10, at=NOW - timedelta(days=2))


def test_more_than_there_is_cannot_leave(papers):
    receive_box(papers, box(), 2, at=NOW)
    with pytest.raises(Refused, match=r'The ledger has 2 sheets in box "b", so 3 cannot be exposed\. Count the box'):
        book_sheets(papers, "b", Happened.EXPOSED, 3, at=NOW)


def test_a_roll_by_its_label_its_diameter_and_its_weight(papers):
    receive_roll(papers, roll(), measure=RollMeasure(roll="r", at=NOW, weight=6605))
    status = roll_status(papers, "r", at=NOW)
    assert status.length.value == pytest.approx(84_000, rel=0.01)
    assert "label" in status.from_words
    assert "6605 g" in status.from_words
    outer = (76**2 + 4 * 84_000 * 0.23 / 3.14159265) ** 0.5
    assert measure_roll(papers, "r", outer_diameter=outer, at=NOW).length.value == pytest.approx(84_000, rel=0.001)


def test_the_first_turn_is_discarded_once(papers):
    receive_roll(papers, roll())
    before = roll_status(papers, "r", at=NOW)
    assert before.discard == pytest.approx(550, rel=0.05)
    with papers.transaction() as conn:
        from printlore.records.rows import add

        add(conn, StockLine(at=NOW, happened=Happened.CUT, roll="r", length=-2000))
    after = roll_status(papers, "r", at=NOW)
    assert after.discard == 0
    assert after.length.value == pytest.approx(82_000)


def test_a_measure_that_contradicts_the_label_is_flagged_and_reminded_of(papers):
    receive_roll(papers, roll())
    status = measure_roll(papers, "r", outer_diameter=100, at=NOW)
    assert Flag.MEASURES_DISAGREE in status.length.flags
    assert any("measure it again" in words for words in stock(papers, at=NOW).reminders)


def test_a_roll_of_which_nothing_is_known_says_so(papers):
    receive_roll(papers, roll(stated_length=None, core_diameter=None))
    status = roll_status(papers, "r", at=NOW)
    assert status.length.flags == (Flag.NOT_MEASURED,)
    assert status.usable == 0


def test_sold_roll_is_booked_by_length(papers):
    receive_roll(papers, roll())
    assert book_roll(papers, "r", Happened.SOLD, 10_000, at=NOW).length.value == pytest.approx(74_000)


def test_a_roll_gives_no_more_than_it_holds(papers):
    receive_roll(papers, roll())
    with pytest.raises(Refused, match=r'has 84\.00 m on roll "r", so 90\.00 m cannot be sold\. Measure the roll'):
        book_roll(papers, "r", Happened.SOLD, 90_000, at=NOW)
    assert book_roll(papers, "r", Happened.SOLD, 84_500, at=NOW).length.value == 0, "its label may be off"
    receive_roll(papers, dataclasses.replace(roll(stated_length=None, core_diameter=None), name="s"))
    book_roll(papers, "s", Happened.SOLD, 10_000, at=NOW)


def test_a_refused_measure_leaves_the_paper_as_it_was(papers):
    receive_roll(papers, roll())
    (before,) = list_records(papers, PaperMake)
    with pytest.raises(PrintloreError):
        measure_roll(papers, "r", thickness=0.31, at=NOW)
    assert list_records(papers, PaperMake) == [before]
    measure_roll(papers, "r", outer_diameter=150, thickness=0.31, at=NOW)
    assert list_records(papers, PaperMake)[0].thickness == 0.31


def test_nobody_waits_longer_than_ten_years_for_paper(papers):
    with pytest.raises(ValueOutOfRange, match="3650 at most"):
        when_to_reorder(papers, "gloss", lead_days=1e9)


def test_paper_out_of_the_cold_is_to_stay_sealed_until_it_is_warm(papers):
    receive_roll(papers, roll())
    ready = move_paper(papers, Place.ROOM, roll="r", at=NOW)
    assert ready == NOW + timedelta(hours=24)
    assert roll_status(papers, "r", at=NOW + timedelta(hours=5)).ready_at == ready
    assert roll_status(papers, "r", at=NOW + timedelta(hours=25)).ready_at is None
    assert any("still warming up" in words for words in stock(papers, at=NOW + timedelta(hours=1)).reminders)
    receive_box(papers, box(), 5, at=NOW)
    assert move_paper(papers, Place.ROOM, box="b", at=NOW) == NOW + timedelta(hours=4)
    assert move_paper(papers, Place.COLD, box="b", at=NOW + timedelta(hours=9)) is None


def test_paper_in_an_unsafe_bag_is_reminded_of(papers):
    receive_roll(papers, roll(container="bag 3"))
    mark_container(papers, "bag 3", unsafe=True, note="pinhole")
    assert roll_status(papers, "r", at=NOW).unsafe
    assert any("let light in" in words for words in stock(papers, at=NOW).reminders)
    mark_container(papers, "bag 3", unsafe=False)
    assert not roll_status(papers, "r", at=NOW).unsafe


def test_reorder_day_is_stock_over_pace_less_delivery():
    """By hand: 9 m2 in 90 days is 0.1 m2 a day; 3 m2 last 30 days; 14 days to deliver: order in 16."""
    result = reorder([(day, 0.3) for day in range(0, 90, 3)], days=90, on_hand=3.0, lead_days=14)
    assert result.lasts == pytest.approx(30)
    assert result.in_days == pytest.approx(16)
    assert result.earliest < 16 < result.latest
    assert result.per_month.value == pytest.approx(3.0)


def test_reorder_from_the_ledger(papers):
    receive_box(papers, box(), 100, at=NOW - timedelta(days=90))
    for week in range(12):
        book_sheets(papers, "b", Happened.EXPOSED, 7, at=NOW - timedelta(days=7 * week))
    found = when_to_reorder(papers, "gloss", at=NOW)
    assert found.per_month.value == pytest.approx(84 * 0.254 * 0.203 / 90 * 30)
    assert found.lasts == pytest.approx(16 / (84 / 90))


def test_nothing_used_gives_no_date_and_says_why():
    result = reorder([], days=90, on_hand=3.0)
    assert result.in_days is None
    assert result.per_month.flags == (Flag.PRIOR_ONLY,)


def test_a_lot_that_covers_part_of_an_edition_is_to_be_held_back(papers):
    """By hand: 20 sheets and 2 tests leave 18; at 1.3 a print that is 13."""
    receive_box(papers, box(), 20, at=NOW)
    found = lot_cover(papers, "lot 1", along=254, across=203, prints=20, at=NOW)
    assert found.prints == 13
    assert found.words.startswith("This lot covers 13 of 20 prints of the edition: hold it back")
    assert "covers all 5 prints" in cover(20, 5).words
    assert "choose another lot" in cover(0, 5).words


def test_sheets_still_on_the_roll_count_for_an_edition(papers):
    receive_roll(papers, roll(stated_length=6000, last_turns=0, first_turns=0))
    usable = roll_status(papers, "r", at=NOW).usable
    found = lot_cover(papers, "lot 1", along=254, across=203, prints=99, at=NOW)
    assert found.sheets == max(usable // 254, usable // 203)


@pytest.mark.parametrize(
    ("call", "error", "words"),
    [
        (lambda db: receive_box(db, box(), -1), ValueOutOfRange, "give 0 or more"),
        (lambda db: book_sheets(db, "nobox", Happened.SOLD), UnknownRecord, 'No box is called "nobox"'),
        (lambda db: book_sheets(db, "b", Happened.SOLD, -1), ValueOutOfRange, "cannot be booked"),
        (lambda db: RollMeasure(roll="r", at=NOW), ValueOutOfRange, "enter its diameter, turns or weight"),
        (lambda db: roll(width=0), ValueOutOfRange, "must be above 0"),
        (lambda db: StockLine(at=NOW, happened=Happened.SOLD), ValueOutOfRange, "give one of them"),
        (lambda db: StockLine(at=NOW, happened=Happened.COUNTED, box="b", sheets=-1), ValueOutOfRange, "be counted"),
        (lambda db: reorder([], days=0, on_hand=1), ValueOutOfRange, "look at a time above 0"),
        (lambda db: reorder([], days=1, on_hand=-1), ValueOutOfRange, "both must be 0 or more"),
        (lambda db: cover(5, 0), ValueOutOfRange, "at least 1 print"),
    ],
)
def test_entries_that_cannot_be_are_refused_in_words(papers, call, error, words):
    with pytest.raises(error, match=words):
        call(papers)


def sheets_of(db, name="b"):
    [found] = [one.sheets for one in stock(db, at=NOW + timedelta(days=30)).boxes if one.box.name == name]
    return found


def test_a_line_that_is_taken_back_stays_listed_and_the_stock_is_right_to_the_sheet(papers):
    receive_box(papers, box(), 50, at=NOW)
    gone = book_sheets(papers, "b", Happened.EXPOSED, 3, at=NOW).booked
    book_sheets(papers, "b", Happened.SOLD, 10, at=NOW)
    assert take_booking_back(papers, gone.id).removed
    assert sheets_of(papers) == 40
    assert [(line.sheets, line.removed) for line in ledger(papers, box="b")] == [
        (50, False),
        (-3, True),
        (-10, False),
    ]
    with pytest.raises(Refused, match=rf'Line {gone.id} of the ledger \(exposed, box "b"\) was taken back before'):
        take_booking_back(papers, gone.id)
    bring_booking_back(papers, gone.id)
    assert sheets_of(papers) == 37
    with pytest.raises(Refused, match="was not taken back: it counts"):
        bring_booking_back(papers, gone.id)
    with pytest.raises(UnknownRecord, match=r"No ledger line has the number 99\. Look at the ledger"):
        take_booking_back(papers, 99)


def test_what_later_lines_rest_on_is_not_taken_back(papers):
    receive_box(papers, box(), 5, at=NOW)
    book_sheets(papers, "b", Happened.EXPOSED, 4, at=NOW + timedelta(days=1))
    [came, gone] = ledger(papers, box="b")
    with pytest.raises(Refused, match=r"rests on it\. 4 were exposed on 2 Mar 2026 .* only 0 would have been there"):
        take_booking_back(papers, came.id)
    assert sheets_of(papers) == 1
    take_booking_back(papers, gone.id)
    take_booking_back(papers, came.id)
    assert sheets_of(papers) == 0
    with pytest.raises(Refused, match=r"cannot be brought back as things stand\. 4 were exposed"):
        bring_booking_back(papers, gone.id)
    # a count says what is there, whatever came before it
    counted = book_sheets(papers, "b", Happened.COUNTED, 9, at=NOW + timedelta(days=2)).booked
    book_sheets(papers, "b", Happened.SPOILED, 8, at=NOW + timedelta(days=3))
    with pytest.raises(Refused, match="8 were spoiled"):
        take_booking_back(papers, counted.id)
    assert sheets_of(papers) == 1


def test_a_length_of_roll_that_is_taken_back_is_on_it_again(papers):
    receive_roll(papers, roll(stated_length=10_000))
    first = book_roll(papers, "r", Happened.SPOILED, 9_000, at=NOW).booked
    assert roll_status(papers, "r").length.value == pytest.approx(1_000)
    take_booking_back(papers, first.id)
    assert roll_status(papers, "r").length.value == pytest.approx(10_000)
    book_roll(papers, "r", Happened.SOLD, 8_000, at=NOW)
    with pytest.raises(Refused, match=r'More would have gone from roll "r" than it held, by 7\.00 m'):
        bring_booking_back(papers, first.id)
    assert roll_status(papers, "r").length.value == pytest.approx(2_000)


def test_a_box_called_by_its_nominal_size_counts_for_an_edition_of_that_size(papers):
    receive_box(papers, box(), 20, at=NOW)
    receive_box(papers, BoxRecord(name="large", lot="lot 1", along=406, across=305), 9, at=NOW)
    found = lot_cover(papers, "lot 1", along=250, across=200, prints=10)
    assert found.sheets == 20
    assert lot_cover(papers, "lot 1", along=254, across=203.2, prints=10).sheets == 20
    assert lot_cover(papers, "lot 1", along=260, across=210, prints=10).sheets == 0


def test_a_count_that_disagrees_with_the_ledger_says_by_how_much(papers):
    """It was taken in without a word, and sheets were gone."""
    receive_box(papers, box(), 10, at=NOW)
    missing = book_sheets(papers, "b", Happened.COUNTED, 9, at=NOW + timedelta(hours=1))
    assert missing.more == -1
    assert "holds 9 sheets by your count, 1 fewer than the ledger had" in telling.box_words(missing)
    found = book_sheets(papers, "b", Happened.COUNTED, 12, at=NOW + timedelta(hours=2))
    assert "3 more than the ledger had: was the right box counted?" in telling.box_words(found)
    assert "as the ledger had it" in telling.box_words(book_sheets(papers, "b", Happened.COUNTED, 12))
    assert telling.box_words(book_sheets(papers, "b", Happened.SOLD, 11)) == "Box b holds 1 sheet by the ledger."


def test_a_measure_says_what_it_waits_for(papers):
    """A diameter without the thickness of the paper was taken in and never used, without a word."""
    add_paper(papers, "new paper")
    add_lot(papers, "lot 5", paper="new paper")
    measure = RollMeasure(roll="n", at=NOW, outer_diameter=180.0)
    receive_roll(papers, dataclasses.replace(roll("n"), lot="lot 5"), measure=measure)
    waiting = "; the diameter says nothing without the thickness of the paper"
    assert roll_status(papers, "n").from_words == f"its label{waiting}"
    bare = dataclasses.replace(roll("m", core_diameter=None, stated_length=None), lot="lot 5")
    receive_roll(papers, bare, measure=RollMeasure(roll="m", at=NOW, turns=100.0))
    words = "nothing yet; the turns say nothing without the core and the thickness of the paper"
    assert roll_status(papers, "m").from_words == words
    # by hand: pi (180^2 - 76^2) / (4 x 0.25) mm, an annulus unrolled
    measured = measure_roll(papers, "n", outer_diameter=180.0, thickness=0.25)
    assert measured.from_words == "its label and its diameter of 180 mm"
    assert measured.length.value == pytest.approx(83.64e3, rel=0.01)


def test_the_same_line_twice_and_sheets_that_come_back_are_told(papers):
    receive_box(papers, box(), 20, at=NOW)
    first = book_sheets(papers, "b", Happened.SOLD, 5, at=NOW + timedelta(hours=1))
    assert first.twin is None
    again = book_sheets(papers, "b", Happened.SOLD, 5, at=NOW + timedelta(hours=1, seconds=40))
    assert again.twin.id == first.booked.id
    assert "if it is the same paper, take this back" in telling.box_words(again)
    assert book_sheets(papers, "b", Happened.SOLD, 5, at=NOW + timedelta(hours=2)).twin is None
    back = book_sheets(papers, "b", Happened.RECEIVED, 5, at=NOW + timedelta(days=3))
    assert back.sheets == 10
    assert "What was away may have seen light or heat: keep it apart" in telling.box_words(back)
