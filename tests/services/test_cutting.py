"""From what is on hand to boxes in the ledger: planned, spoken, pressed, killed, taken up again, labelled."""

import os
import signal
import time
from datetime import UTC, datetime, timedelta

import pytest

from printlore.core.cutting.blind import Event
from printlore.core.cutting.wanted import Trimmer, Wanted
from printlore.errors import ChangedMeanwhile, Refused, UnknownRecord, ValueOutOfRange
from printlore.records.cutting import PlanRecord
from printlore.records.database import Database
from printlore.records.rows import add
from printlore.records.stock import BoxRecord, FogRecord, Happened, Place, RollRecord
from printlore.services.cut_sheets import labels_pdf, plan_pdf
from printlore.services.cutting import (
    get_trimmer,
    keep_plan,
    list_sittings,
    pack_prices,
    plan_paper,
    plan_trade_off,
    planning,
    press,
    set_trimmer,
    sitting_state,
    sources_on_hand,
    start_planning,
    start_sitting,
)
from printlore.services.entry import add_lot, add_paper, find_record, list_records
from printlore.services.paper_slip import slip_pdf, sold
from printlore.services.stock import (
    book_sheets,
    ledger,
    move_paper,
    receive_box,
    receive_roll,
    roll_status,
    set_paper_make,
    stock,
    take_booking_back,
)

NOW = datetime(2026, 3, 1, 18, 0, tzinfo=UTC)
SMALL = Wanted(name="8x10", along=254, across=203, count=6)


def with_roll(db):
    add_paper(db, "gloss")
    add_lot(db, "lot 1", paper="gloss", emulsion_number="0417")
    set_paper_make(db, "gloss", thickness=0.23, grammage=250)
    receive_roll(
        db,
        RollRecord(
            name="r", lot="lot 1", width=305, core_diameter=76, stated_length=30_000, received_at=NOW, price=90.0
        ),
        place=Place.ROOM,
    )
    return db


@pytest.fixture
def roll(db):
    return with_roll(db)


def begun(db):
    plan = keep_plan(db, plan_paper(db, [SMALL]), name="march")
    return start_sitting(db, plan.name, 1, at=NOW)


def press_until(db, name, key):
    state = sitting_state(db, name)
    while state.position.step is not None and not state.position.step.key.startswith(key):
        state = press(db, name, Event.PRESS, at=NOW)
    return state


def test_a_sitting_pressed_to_its_end_fills_the_ledger(roll):
    before = roll_status(roll, "r", at=NOW)
    name = begun(roll).sitting.name
    state = press_until(roll, name, "labels")
    assert state.sitting.booked
    after = stock(roll, at=NOW)
    counts = {(b.box.across, b.box.along, b.box.strips): b.sheets for b in after.boxes}
    assert counts == {(203, 254, False): 6, (102, 254, True): 6}
    cut = [line for line in ledger(roll, roll="r") if line.happened is Happened.CUT]
    assert cut[0].length == pytest.approx(-(before.discard + 6 * 254))
    assert after.rolls[0].length.value == pytest.approx(before.length.value - before.discard - 6 * 254)


def test_the_ledger_is_filled_once(roll):
    name = begun(roll).sitting.name
    press_until(roll, name, "labels")
    press(roll, name, Event.PRESS)
    assert sum(b.sheets for b in stock(roll).boxes) == 12
    with pytest.raises(Refused, match="in the ledger"):
        press(roll, name, Event.UNDO)


def test_a_press_sent_twice_is_counted_once(roll):
    name = begun(roll).sitting.name
    first = press(roll, name, Event.PRESS, number=1)
    again = press(roll, name, Event.PRESS, number=1)
    assert (first.events, again.events) == (1, 1)
    with pytest.raises(ChangedMeanwhile, match="This sitting has 1 presses, and yours would be number 3"):
        press(roll, name, Event.PRESS, number=3)


def test_beginning_again_goes_on_where_it_was(roll):
    name = begun(roll).sitting.name
    press_until(roll, name, "cut 1 cross")
    press(roll, name, Event.PRESS)
    state = start_sitting(roll, "march", 1)
    assert state.sitting.name == name
    assert state.position.counted == 1
    assert state.say[-1] == "number_1"
    assert len(list_sittings(roll)) == 1


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork and kill -9")
@pytest.mark.parametrize("presses", [3, 12, 17])
def test_killed_in_the_middle_of_a_spoken_cut_it_resumes_with_the_right_count(tmp_path, presses):
    folder = tmp_path / "studio"
    with Database.open(folder) as db:
        name = begun(with_roll(db)).sitting.name
    out, into = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            with Database.open(folder) as mine:
                for number in range(1, presses + 1):
                    press(mine, name, Event.PRESS, number=number)
                    os.write(into, b".")
                time.sleep(30)
        finally:
            os._exit(1)
    os.close(into)
    said = b""
    while len(said) < presses:
        said += os.read(out, 100)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    os.close(out)
    with Database.open(folder) as db:
        state = sitting_state(db, name)
        assert state.events == presses
        assert sum(state.position.counts.values()) == presses
        assert press(db, name, Event.PRESS, number=presses + 1).events == presses + 1


def test_what_was_spoiled_is_in_the_ledger(roll):
    name = begun(roll).sitting.name
    press_until(roll, name, "cut 1 slit")
    press(roll, name, Event.SPOILED)
    press_until(roll, name, "labels")
    spoiled = [line for line in ledger(roll, roll="r") if line.happened is Happened.SPOILED]
    assert "1 of 203 × 254 spoiled" in spoiled[0].note
    assert {b.sheets for b in stock(roll).boxes} == {5, 6}


def test_sheets_of_a_box_are_cut_smaller_and_booked(roll):
    receive_box(roll, BoxRecord(name="big", lot="lot 1", along=508, across=406), 5, at=NOW)
    keep_plan(roll, plan_paper(roll, [SMALL], rolls=[], boxes=["big"]), name="p")
    name = start_sitting(roll, "p", 1).sitting.name
    press_until(roll, name, "labels")
    held = {b.box.name: b.sheets for b in stock(roll).boxes}
    assert held["big"] == 3
    assert sum(n for box, n in held.items() if box != "big") == 8


def test_a_roll_that_is_warming_up_is_planned_at_the_desk_and_cut_when_it_is_warm(roll):
    move_paper(roll, Place.COLD, roll="r", at=NOW)
    move_paper(roll, Place.ROOM, roll="r", at=NOW + timedelta(hours=1))
    assert [source.name for source in sources_on_hand(roll, rolls=["r"], at=NOW + timedelta(hours=2))] == ["r"]
    keep_plan(roll, plan_paper(roll, [SMALL], rolls=["r"]), name="p")
    with pytest.raises(Refused, match="warming up until 2 Mar 2026, 19:00"):
        start_sitting(roll, "p", 1, at=NOW + timedelta(hours=2))
    assert start_sitting(roll, "p", 1, at=NOW + timedelta(hours=26)).sitting.number == 1


def test_the_trimmer_of_the_studio_is_kept_and_used(roll):
    assert get_trimmer(roll).version == 0
    set_trimmer(roll, Trimmer(blade_length=300))
    assert plan_paper(roll, [SMALL]).short == {"8x10": 6}
    set_trimmer(roll, Trimmer(blade_length=400))
    assert plan_paper(roll, [SMALL]).short == {}
    assert get_trimmer(roll).trimmer == Trimmer(blade_length=400)


def test_a_plan_is_kept_whole(roll):
    plan = plan_paper(roll, [SMALL])
    keep_plan(roll, plan, name="march")
    assert find_record(roll, PlanRecord, "march").plan == plan
    assert [p.name for p in list_records(roll, PlanRecord)] == ["march"]
    assert keep_plan(roll, plan, at=NOW).name == "cut 2, 1 Mar 2026"


def test_searching_in_the_background_ends_with_plans(roll):
    job = start_planning(roll, [SMALL], seconds=5)
    until = time.monotonic() + 20
    while not job.done and time.monotonic() < until:
        time.sleep(0.02)
    assert planning(job.number) is job
    assert job.plans[0].made == {"8x10": 6}
    assert job.news
    with pytest.raises(UnknownRecord, match="Plan again"):
        planning(999_999)


def test_trade_off_and_prices(roll):
    plans = plan_trade_off(roll, [SMALL])
    (cost,) = pack_prices(roll, plans[0], hourly=20)
    assert cost.paper == pytest.approx(90 / (30 * 0.305) * 0.254 * 0.203)


def test_good_sheets_pay_for_the_spoiled_and_for_the_outer_turns(roll):
    """By hand: a diameter of sqrt(76^2 + 4 x 30000 x 0.23 / pi) = 120.67 mm makes an outer turn of 379.1 mm; with seven
    sections of 254 mm that is 0.6579 m2 at 90 / (30 x 0.305), for six sheets. Their price was that of the plan."""
    state = begun(roll)
    plan = find_record(roll, PlanRecord, "march").plan
    per_area = 90 / (30 * 0.305)
    (before,) = pack_prices(roll, plan, hourly=20, kept="march")
    assert before.paper + before.waste == pytest.approx((6 * 0.254 + 0.3791) * 0.305 * per_area / 6, abs=0.001)
    while not state.position.step.key.startswith("cut 1 cross"):
        state = press(roll, state.sitting.name, Event.PRESS)
    press(roll, state.sitting.name, Event.SPOILED)
    press_until(roll, state.sitting.name, "labels")
    (after,) = pack_prices(roll, plan, hourly=20, kept="march")
    assert after.sheets == 6
    assert after.paper == pytest.approx(0.254 * 0.203 * per_area)
    assert after.paper + after.waste == pytest.approx((7 * 0.254 + 0.3791) * 0.305 * per_area / 6, abs=0.001)
    assert after.work == before.work
    assert after.pack(10, 2).value == pytest.approx(10 * after.cost.value + 2)
    with pytest.raises(ValueOutOfRange, match="The box of a pack costs -1"):
        after.pack(10, -1)


def test_sold_paper_goes_with_what_is_known_of_it(roll, tmp_path):
    name = begun(roll).sitting.name
    press_until(roll, name, "labels")
    (box,) = [status.box.name for status in stock(roll).boxes if not status.box.strips]
    line = book_sheets(roll, box, Happened.SOLD, 4, note="to a name that is nobody's business").booked
    assert sold(roll, line.id).beware == (
        "It is not known whether it is fogged: no unexposed sheet of this lot was processed and read here.",
    )
    words = " ".join(text_of(slip_pdf(roll, line.id), tmp_path).split())
    for said in ("4 sheets, 203 × 254 mm", "lot 1, emulsion 0417", "1 Mar 2026", "from roll r", "Total darkness only"):
        assert said in words
    assert "in the room since 1 Mar 2026 as a roll; from the cut on it was not noted" in words
    assert "nobody" not in words
    fogged = FogRecord(
        lot="lot 1", at=NOW, roll="r", base=(0.1, 0.1, 0.1), verdict="reject", words="Grey fog from the top: reject it."
    )
    with roll.transaction() as conn:
        add(conn, fogged)
    (beware,) = sold(roll, line.id).beware
    assert beware == "Not sound: an unexposed sheet of its roll, 1 Mar 2026: Grey fog from the top: reject it."
    assert text_of(slip_pdf(roll, line.id), tmp_path).count("Grey fog") == 1
    take_booking_back(roll, line.id)
    with pytest.raises(Refused, match="the sale does not count"):
        sold(roll, line.id)
    with pytest.raises(Refused, match="of paper that was cut, not sold"):
        sold(roll, next(one.id for one in ledger(roll) if one.happened is Happened.CUT))


def text_of(pdf, tmp_path):
    import subprocess

    path = tmp_path / "it.pdf"
    path.write_bytes(pdf)
    return subprocess.run(["pdftotext", "-layout", str(path), "-"], capture_output=True, check=True).stdout.decode()


def test_labels_are_for_after_lights_on(roll, tmp_path):
    name = begun(roll).sitting.name
    with pytest.raises(Refused, match="Print labels after light"):
        labels_pdf(roll, name)
    press_until(roll, name, "labels")
    pdf = labels_pdf(roll, name)
    assert pdf.startswith(b"%PDF")
    words = text_of(pdf, tmp_path)
    for word in ("203 × 254 mm", "6 sheets", "6 test strips", "lot 1", "0417", "Total darkness"):
        assert word in words


def test_a_plan_prints_with_its_steps(roll, tmp_path):
    begun(roll)
    words = " ".join(text_of(plan_pdf(roll, "march"), tmp_path).split())
    assert "Sitting 1: r, lot 1" in words
    assert "Roll back in its bag" in words
    assert "Set the stop to 203 mm." in words
    assert "Into box 1. Box closed" in words


def test_a_printed_plan_begins_a_new_roll_with_its_outer_turns(roll, tmp_path):
    """Who cuts by the sheet of paper put the outer turns, which hands and light have touched, into the first box."""
    keep_plan(roll, plan_paper(roll, [SMALL, Wanted(name="l", along=355, across=280, count=2)]), name="march")
    assert len(find_record(roll, PlanRecord, "march").plan.sittings) == 2
    steps = "Cut off the outer turns and drop them."
    before = text_of(plan_pdf(roll, "march"), tmp_path)
    assert before.count(steps) == 1
    assert before.index("Sitting 1: r, lot 1") < before.index(steps) < before.index("Sitting 2: r, lot 1")
    press_until(roll, start_sitting(roll, "march", 1, at=NOW).sitting.name, "labels")
    assert text_of(plan_pdf(roll, "march"), tmp_path).count(steps) == 1


@pytest.mark.parametrize(
    ("call", "error", "words"),
    [
        (lambda db: start_sitting(db, "march", 7), ValueOutOfRange, "there is no 7"),
        (lambda db: sources_on_hand(db, rolls=["nope"]), UnknownRecord, 'No roll is called "nope"'),
        (lambda db: sources_on_hand(db, boxes=["nope"]), UnknownRecord, 'No box is called "nope"'),
        (
            lambda db: keep_plan(db, plan_paper(db, [Wanted(name="w", along=900, across=900, count=1)])),
            ValueOutOfRange,
            "cuts nothing",
        ),
    ],
)
def test_what_cannot_be_is_refused_in_words(roll, call, error, words):
    begun(roll)
    with pytest.raises(error, match=words):
        call(roll)


def test_a_roll_without_price_is_asked_for_it(db):
    add_paper(db, "gloss")
    add_lot(db, "lot 1", paper="gloss")
    receive_roll(
        db, RollRecord(name="r", lot="lot 1", width=305, stated_length=9000, received_at=NOW), place=Place.ROOM
    )
    plan = plan_paper(db, [SMALL])
    with pytest.raises(Refused, match="enter what the roll cost"):
        pack_prices(db, plan, hourly=20)
    with pytest.raises(ValueOutOfRange, match="hourly is -20"):
        pack_prices(db, plan, hourly=-20)
