"""Baths as a printer works with them: kits, mixing, ledger, forecast, control, faults, warmth, waste."""

import subprocess
from datetime import UTC, datetime, timedelta

import cv2
import numpy as np
import pytest

from printlore.core.bath.kit import Nature, Part, Use
from printlore.core.bath.pours import SHEET_20X25
from printlore.core.control.limits import QUANTITIES, Verdict, Wedge
from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Setting
from printlore.core.memory.evidence import BathState
from printlore.demo.baths import add_bath_history
from printlore.errors import Refused, UnknownRecord, ValueOutOfRange
from printlore.records.baths import BathEvent, DeclaredBathState, Run, bath_state, ledger_of
from printlore.records.database import Database
from printlore.records.rows import every
from printlore.services import bath_labels, bath_report, baths, control, warmth, waste
from printlore.services.bath_book import take_back
from printlore.services.entry import add_process, add_record
from printlore.services.export import record_doubts
from printlore.services.trials import PatchEntry, TrialEntry, log_trial

START = datetime(2026, 3, 3, 19, 0, tzinfo=UTC)
NOON = datetime(2026, 5, 30, 12, 0, tzinfo=UTC)


def later(days=0.0, minutes=0.0):
    return START + timedelta(days=days, minutes=minutes)


@pytest.fixture
def kit(db):
    add_process(db, "45 s", developer_temperature=35.0, developer_time=45.0)
    baths.define_kit(
        db,
        "two parts",
        Use.DEVELOPER,
        [
            Part(name="A", per_litre=100, nature=Nature.ALKALI),
            Part(name="B", per_litre=100, nature=Nature.SENSITISER),
        ],
        life_days=42,
        safety_sheet_read=True,
    )
    for part in "AB":
        baths.open_concentrate(db, f"bottle {part}", "two parts", part, 200, price=8.0)
    return "two parts"


@pytest.fixture
def bath(db, kit):
    return baths.mix_bath(db, "March 3", "45 s", kit, 500, bottle=520, at=START).name


@pytest.fixture(scope="module")
def history():
    """A studio with two invented months; only read."""
    with Database.in_memory() as db:
        yield db, add_bath_history(db, seed=4, now=NOON)


def wedge(light=0.7):
    return Wedge(white=(0.1,) * 3, light=(light,) * 3, dark=(light + 0.75,) * 3, black=(2.2,) * 3)


def test_mixing_takes_the_parts_off_the_opened_bottles(db, kit, bath):
    assert [round(one.left) for one in baths.concentrates_left(db)] == [150, 150]
    plan = baths.plan_mixing(db, kit, 500)
    assert plan.largest == pytest.approx(1500)
    assert plan.cost == pytest.approx(8.0)  # 0.1 L of each part a litre, at 40 a litre
    assert plan.one_too_much["A"].harmless
    assert plan.doubts == ()


def test_a_bottle_that_holds_too_little_refuses_the_mix_and_nothing_is_taken(db, kit):
    with pytest.raises(Refused, match=r'250 mL of part "A" are needed, but the opened bottles hold 200 mL'):
        baths.mix_bath(db, "too much", "45 s", kit, 2500, at=START)
    assert [one.left for one in baths.concentrates_left(db)] == [200, 200]
    assert "the opened bottles make 2000 mL only" in baths.plan_mixing(db, kit, 2500).doubts


def test_what_cannot_be_is_refused_in_words_and_nothing_is_lost(db, kit, bath):
    with pytest.raises(ValueOutOfRange, match="900 mL do not go into a bottle of 500 mL"):
        baths.mix_bath(db, "big", "45 s", None, 900, bottle=500, at=START)
    with pytest.raises(ValueOutOfRange, match="-5 mL cannot be mixed"):
        baths.mix_bath(db, "none", "45 s", None, -5, at=START)
    with pytest.raises(Refused, match='"B" was poured where kit "two parts" has "A"'):
        baths.mix_bath(db, "wrong", "45 s", kit, 500, at=START, poured=["water", "B", "A", "water"])
    with pytest.raises(Refused, match="water goes in first"):
        baths.mix_bath(db, "wrong", "45 s", kit, 500, at=START, poured=["A", "water", "B"])
    with pytest.raises(ValueOutOfRange, match=r"area is -0\.05"):
        baths.log_run(db, bath, -0.05, at=later(1))
    with pytest.raises(Refused, match="was mixed on 3 Mar 2026, 19:00; 2 Mar 2026, 19:00 lies before that"):
        baths.log_run(db, bath, 0.05, at=later(-1))
    baths.log_run(db, bath, 0.05, at=later(2))
    with pytest.raises(Refused, match="dated before what happened on day 2"):
        baths.top_up(db, bath, 20, at=later(1))
    with pytest.raises(Refused, match="in a bottle of 520 mL"):
        baths.top_up(db, bath, 120, at=later(3))
    with pytest.raises(Refused, match="are in the bottle"):
        baths.bleed(db, bath, 600, at=later(3))
    with pytest.raises(UnknownRecord, match='No bath is called "March 4"'):
        baths.log_run(db, "March 4", 0.05)
    with pytest.raises(ValueOutOfRange, match='has no part "C"'):
        baths.open_concentrate(db, "bottle C", kit, "C", 100)
    with db.reading() as conn:
        assert len(every(conn, Run)) == 1
        assert every(conn, BathEvent) == []


def test_nothing_follows_retirement_until_it_is_taken_back(db, bath):
    baths.retire(db, bath, at=later(5))
    with pytest.raises(Refused, match="The bath was retired; a drum load on day 6 cannot follow"):
        baths.log_run(db, bath, 0.05, at=later(6))
    assert bath_report.baths_in_use(db) == []
    assert "retired after 0 drum loads" in bath_report.bath_report(db, bath, at=later(6)).said
    assert take_back(db, bath).kind == "retired"
    baths.log_run(db, bath, 0.05, at=later(6))


def test_a_run_written_after_retirement_is_kept_counted_and_told(db, bath):
    """An evening writes what really went through; nothing of it is lost."""
    baths.retire(db, bath, at=later(1))
    add_record(db, Run(name="late", bath=bath, at=later(2), area=0.05))
    report = bath_report.bath_report(db, bath, at=later(3))
    assert report.content.retired
    assert report.content.area == pytest.approx(0.05)
    assert any("1 entries are dated after it was retired" in doubt for doubt in report.kept.doubts)
    with db.reading() as conn:
        assert bath_state(conn, bath, later(3)).area_per_litre > 0


def test_a_run_without_area_means_nothing_and_is_told(db, bath):
    add_record(db, Run(name="bare", bath=bath, at=later(2)))
    report = bath_report.bath_report(db, bath, at=later(3))
    assert any("1 of 1 drum loads have no area" in doubt for doubt in report.kept.doubts)


def test_a_state_stated_by_hand_is_where_the_ledger_goes_on(db, bath):
    baths.log_run(db, bath, 0.2, at=later(1))
    state = BathState(area_per_litre=1.0, age_days=9.0, strength=0.8)
    add_record(db, DeclaredBathState(bath=bath, at=later(2), state=state))
    baths.log_run(db, bath, 0.05, at=later(3), water_in=5, solution_out=5)
    with db.reading() as conn:
        assert bath_state(conn, bath, later(2)).strength == pytest.approx(0.8)
        after = bath_state(conn, bath, later(3))
    assert after.strength < 0.8
    assert after.area_per_litre > 1.0


def test_the_ledger_is_the_one_home_of_the_state(db, bath):
    for i in range(5):
        baths.log_run(db, bath, SHEET_20X25, at=later(1, 15 * i), water_in=5, solution_out=6)
    with db.reading() as conn:
        kept = ledger_of(conn, bath)
        state = bath_state(conn, bath, later(1, 120))
    strength = 1.0
    volume = 500.0
    agent = 500.0
    area = 0.0
    for _ in range(5):  # reckoned by hand
        agent -= 75 * SHEET_20X25
        volume += 5
        area += SHEET_20X25
        agent, area = agent * (1 - 6 / volume), area * (1 - 6 / volume)
        volume -= 6
        strength = agent / volume
    assert state.strength == pytest.approx(strength)
    assert state.area_per_litre == pytest.approx(1000 * area / volume)
    assert kept.doubts == ()
    assert isinstance(state, BathState)


def test_a_top_up_counts_in_the_state_and_draws_on_the_bottles(db, bath):
    baths.log_run(db, bath, 0.3, at=later(1))
    with db.reading() as conn:
        before = bath_state(conn, bath, later(2))
    baths.top_up(db, bath, 100, bled=100, strength=1.2, at=later(2))
    with db.reading() as conn:
        after = bath_state(conn, bath, later(2, 1))
    assert after.strength > before.strength
    assert after.area_per_litre == pytest.approx(0.8 * before.area_per_litre, rel=0.02)
    assert after.age_days < before.age_days
    assert [round(one.left) for one in baths.concentrates_left(db)] == [138, 138]


def test_volume_read_off_the_bottle_puts_the_ledger_right(db, bath):
    baths.gauge(db, bath, 455, at=later(1))
    report = bath_report.bath_report(db, bath, at=later(1))
    assert report.content.volume == pytest.approx(455)


def test_usual_figures_are_marked_as_such(db, bath):
    baths.log_run(db, bath, SHEET_20X25, at=later(1))
    baths.log_run(db, bath, SHEET_20X25, at=later(1, 20), water_in=5, solution_out=7)
    report = bath_report.bath_report(db, bath, at=later(2))
    assert any("1 of 2 drum loads" in doubt and "from memory" in doubt for doubt in report.kept.doubts)
    assert "nothing has been printed yet" in report.belief.flags[0].words


def test_the_forecast_speaks_and_the_same_bath_gives_it_twice(history):
    db, bath = history
    one = bath_report.bath_report(db, bath, at=NOON)
    two = bath_report.bath_report(db, bath, at=NOON)
    assert one.said == two.said
    assert "20x25 (90 %:" in one.said
    assert {option.what for option in one.options} == {"keep", "retire", "top up"}
    assert one.belief.readings > 10
    with pytest.raises(ValueOutOfRange, match="at least one paper size"):
        bath_report.bath_report(db, bath, sizes=[])


def test_control_patches_of_earlier_baths_of_the_kit_teach_the_next(history):
    db, bath = history
    report = bath_report.bath_report(db, bath, at=NOON)
    assert 0 < len(report.readings) < report.belief.readings
    name, middle, low, high = report.belief.wear_table()[0]
    assert name == "consumption"
    assert low < middle < high


def test_a_faster_fading_bath_is_forecast_to_end_sooner(db, kit):
    ends = {}
    for name, slope in (("slow", 0.004), ("fast", 0.016)):
        for part in "AB":
            baths.open_concentrate(db, f"bottle {part} for {name}", kit, part, 200)
        baths.mix_bath(db, name, "45 s", None, 500, bottle=500, at=START)
        for i in range(6):
            baths.log_run(db, name, SHEET_20X25, at=later(i))
        for i in range(6):
            control.log_control(db, name, wedge(0.7 - slope * (i + 1)), at=later(i, 1), good=i == 0 and name == "slow")
        report = bath_report.bath_report(db, name, at=later(6))
        ends[name] = np.mean(report.capacities[0].members)
    assert ends["fast"] < ends["slow"]


def test_what_is_left_and_what_is_left_if_nothing_is_done_are_one_number(db, bath):
    report = bath_report.bath_report(db, bath, at=later(1))
    (keep,) = (option for option in report.options if option.what == "keep")
    assert report.capacities[0] is keep.capacity
    assert str(keep.capacity) in report.said


def test_a_bleach_fix_is_counted_and_not_reckoned_as_a_developer(db, bath):
    baths.define_kit(db, "fix", Use.BLEACH_FIX, [Part(name="A", per_litre=200)], life_days=60)
    fix = baths.mix_bath(db, "fix 1", "45 s", "fix", 500, at=START).name
    baths.log_run(db, fix, SHEET_20X25, at=later(1))
    report = bath_report.bath_report(db, fix, at=later(2))
    assert (report.develops, report.capacities, report.options) == (False, (), ())
    assert report.said == "1 drum load, 0.05 m² of paper so far. How much it takes, its kit's sheet says."
    with pytest.raises(Refused, match="is no developer: how it wears is not reckoned"):
        bath_report.steady_plan(db, fix)
    baths.retire(db, fix, at=later(3))
    assert "retired after 1 drum load and 0.05 m²" in bath_report.bath_report(db, fix, at=later(4)).said


def test_a_steady_plan_is_offered_for_a_bath_in_use_only(db, bath):
    _, tried = bath_report.steady_plan(db, bath)
    assert tried[0].mean_age > tried[-1].mean_age
    baths.retire(db, bath, at=later(1))
    with pytest.raises(Refused, match="is retired; plan the top-up of a bath in use"):
        bath_report.steady_plan(db, bath)


def test_the_first_good_patches_make_the_aim_and_a_drift_is_told(db, bath):
    assert control.control_report(db) is None
    for i in range(5):
        control.log_control(db, bath, wedge(0.7), at=later(0.1 * i), good=True)
    assert control.control_report(db).judged.verdict is Verdict.GOOD
    row = control.log_control(db, bath, wedge(0.5), at=later(1))
    report = control.control_report(db)
    assert report.judged.verdict is Verdict.STOP
    assert "does not explain it" in bath_report.foreseen(db, report).said
    control.take_control_back(db, row.id)
    assert control.control_report(db).judged.verdict is Verdict.GOOD
    assert "No further from the aim" in bath_report.foreseen(db, control.control_report(db)).said


def test_typed_limits_take_the_place_of_ours(db, bath):
    for i in range(5):
        control.log_control(db, bath, wedge(0.7), at=later(0.1 * i), good=True)
    control.log_control(db, bath, wedge(0.66), at=later(1))
    sheet = dict.fromkeys(QUANTITIES, 0.01), dict.fromkeys(QUANTITIES, 0.02)
    control.set_limits(db, *sheet, source="the paper's own sheet")
    report = control.control_report(db)
    assert report.limits.source == "the paper's own sheet"
    assert report.judged.verdict is Verdict.STOP


def test_a_patch_of_the_wrong_date_or_unknown_exposure_is_refused(db, bath):
    with pytest.raises(Refused, match='lies before "March 3" was mixed'):
        control.log_control(db, bath, wedge(), at=later(-2))
    with pytest.raises(ValueOutOfRange, match='exposed by "the sun"'):
        control.log_control(db, bath, wedge(), exposed_by="the sun")
    with pytest.raises(UnknownRecord, match="No control reading has the number 77"):
        control.take_control_back(db, 77)


def test_a_patch_taken_back_is_listed_with_a_mark_and_can_be_brought_back(db, bath):
    rows = [control.log_control(db, bath, wedge(0.7), at=later(0.1 * i)) for i in range(2)]
    with pytest.raises(Refused, match="was not taken back"):
        control.bring_control_back(db, rows[1].id)
    control.take_control_back(db, rows[1].id)
    assert [(row.id, row.removed) for row in control.control_patches(db)] == [(rows[0].id, False), (rows[1].id, True)]
    assert len(control.control_report(db).rows) == 1
    with pytest.raises(Refused, match="was taken back before; nothing was changed"):
        control.take_control_back(db, rows[1].id)
    assert control.bring_control_back(db, rows[1].id).wedge == rows[1].wedge
    assert len(control.control_report(db).rows) == 2


def test_what_a_fault_was_counts_when_the_next_is_looked_for(db):
    seen = ["all_shift"]

    def chance():
        return next(s.probability for s in control.find_fault(db, seen).suspects if s.name == "lamp or mains")

    before = chance()
    for _ in range(10):
        control.log_fault(db, "lamp or mains", seen)
    assert chance() > before
    with pytest.raises(ValueOutOfRange, match='"gremlins" is no cause'):
        control.log_fault(db, "gremlins", seen)


def test_warmth_comes_from_own_curves_and_own_times(db, kit):
    with pytest.raises(Refused, match='No cooling curve of drum "small" is recorded'):
        warmth.advise_pour(db, "small", aim=35, duration=45, volume=70, wall=28)
    times = [0, 10, 20, 30, 45, 60, 90]
    curve = [30 + 5 * np.exp(-0.04 * t) for t in times]
    warmth.log_cooling_curve(db, "small", 70, 23, times, curve)
    advice = warmth.advise_pour(db, "small", aim=35, duration=45, volume=70, wall=28)
    assert advice.end < 35 < advice.start
    with pytest.raises(Refused, match=r"What to try first: 64 to 71 s .*not a promise"):
        warmth.advise_time(db, "45 s", 30)
    warmth.log_own_time(db, "45 s", 30, 70)
    assert 45 < warmth.advise_time(db, "45 s", 32).value < 70


def test_waste_is_kept_apart_counted_and_handed_over_by_the_authoritys_word(db, bath):
    waste.add_container(db, "grey drum", "silver", 5)
    with pytest.raises(Refused, match="used colour developer does not go in"):
        waste.pour_waste(db, "grey drum", 0.5, "developer", holds="developer")
    waste.pour_waste(db, "grey drum", 3, "bleach-fix", holds="silver", bath=bath)
    with pytest.raises(Refused, match="3 L more do not fit"):
        waste.pour_waste(db, "grey drum", 3, "bleach-fix")
    with pytest.raises(Refused, match="No answer of your local authority"):
        waste.hand_over(db, "grey drum", "collection")
    waste.record_answer(db, "district office", "silver", "bring it closed")
    assert waste.hand_over(db, "grey drum", "collection").litres == pytest.approx(-3)
    [state] = waste.waste_report(db)
    assert state.litres == pytest.approx(0)
    assert state.answer.answer == "bring it closed"
    with pytest.raises(Refused, match="is empty"):
        waste.hand_over(db, "grey drum", "collection")
    with pytest.raises(ValueOutOfRange, match="-1 L of waste"):
        waste.pour_waste(db, "grey drum", -1, "x")
    with pytest.raises(ValueOutOfRange, match="each in its own container"):
        waste.add_container(db, "jar", "everything", 5)


def test_a_symptom_in_the_diary_is_said_plainly(db):
    protected = {"gloves": True, "goggles": True, "ventilation": True}
    waste.write_diary(db, "me", 90, "developer", **protected, at=later(0))
    assert waste.symptoms_said(waste.diary(db)) == ""
    waste.write_diary(db, "me", 90, "developer", **protected, symptoms="rash on wrist", at=later(1))
    said = waste.symptoms_said(waste.diary(db))
    assert said.startswith("One entry tells of symptoms, the last on")
    assert "rash on wrist" in said
    assert "see a doctor" in said
    with pytest.raises(ValueOutOfRange, match="5000 minutes"):
        waste.write_diary(db, "me", 5000, "developer", **protected)


def test_waste_that_was_poured_by_mistake_is_taken_back_and_stays_listed(db):
    waste.add_container(db, "grey drum", "silver", 5)
    waste.record_answer(db, "district office", "silver", "bring it closed")
    first = waste.pour_waste(db, "grey drum", 3, "spent", at=later(1))
    second = waste.pour_waste(db, "grey drum", 1.5, "spent", at=later(2))
    assert waste.take_waste_back(db, second.id).removed
    assert waste.waste_report(db)[0].litres == pytest.approx(3)
    assert [line.removed for line in waste.waste_book(db)] == [False, True]
    waste.bring_waste_back(db, second.id)
    gone = waste.hand_over(db, "grey drum", "collection", at=later(3))
    with pytest.raises(Refused, match=rf"4\.5 L were handed over .*line {gone.id}\), and only 1\.5 L would have"):
        waste.take_waste_back(db, first.id)
    third = waste.pour_waste(db, "grey drum", 2, "spent", at=later(4))
    with pytest.raises(Refused, match=rf'"grey drum" takes 5 L and would have held 6\.5 L .*line {third.id}'):
        waste.take_waste_back(db, gone.id)
    waste.take_waste_back(db, third.id)
    waste.take_waste_back(db, gone.id)
    assert waste.waste_report(db)[0].litres == pytest.approx(4.5)
    with pytest.raises(UnknownRecord, match=r"No waste entry has the number 99\. Look at the waste book"):
        waste.bring_waste_back(db, 99)


def test_an_entry_of_the_diary_that_is_taken_back_tells_no_symptom(db):
    protected = {"gloves": True, "goggles": True, "ventilation": True}
    entry = waste.write_diary(db, "me", 90, "developer", **protected, symptoms="rash on wrist", at=later(1))
    waste.take_diary_back(db, entry.id)
    assert [one.removed for one in waste.diary(db)] == [True]
    assert waste.symptoms_said(waste.diary(db)) == ""
    with pytest.raises(Refused, match=f"Entry {entry.id} of the diary was taken back before"):
        waste.take_diary_back(db, entry.id)
    waste.bring_diary_back(db, entry.id)
    assert "rash on wrist" in waste.symptoms_said(waste.diary(db))


def test_labels_are_the_same_bytes_for_the_same_record(db, bath):
    waste.add_container(db, "grey drum", "silver", 5)
    pdf = bath_labels.labels(db, baths=[bath], concentrates=["bottle A"], containers=["grey drum"])
    assert pdf.startswith(b"%PDF")
    assert pdf == bath_labels.labels(db, baths=[bath], concentrates=["bottle A"], containers=["grey drum"])


def test_with_nothing_named_everything_in_use_gets_a_label(db, bath):
    assert bath_labels.labels(db) == bath_labels.labels(
        db, baths=[bath], concentrates=[one.concentrate.name for one in baths.concentrates_left(db)]
    )
    with Database.in_memory() as empty, pytest.raises(ValueOutOfRange, match="Nothing is in use to label"):
        bath_labels.labels(empty)


def test_a_label_says_hazard_and_its_code_reads_back(db, bath, tmp_path):
    """Drawn by an outside program, read by another library."""
    path = tmp_path / "labels.pdf"
    path.write_bytes(bath_labels.labels(db, baths=[bath]))
    text = subprocess.run(["pdftotext", "-layout", str(path), "-"], capture_output=True, text=True, check=True).stdout
    assert "Skin sensitiser" in text
    assert "mixed 3 Mar 2026" in text
    subprocess.run(["pdftoppm", "-r", "200", "-png", "-singlefile", str(path), str(tmp_path / "page")], check=True)
    picture = cv2.imread(str(tmp_path / "page.png"))
    assert cv2.QRCodeDetector().detectAndDecode(picture)[0] == "bath: March 3"


def test_cautions_stand_with_each_kind_of_solution():
    fix = " ".join(baths.care_for(Use.BLEACH_FIX))
    assert "acid" in fix
    assert "bleach or cleaners" in fix
    developer = " ".join(baths.care_for(Use.DEVELOPER))
    for word in ("gloves", "goggles", "allergic", "children", "food", "mains", "safety sheet"):
        assert word in developer, word
    assert "Acid into water" in baths.care_for(Use.STOP)[0]


def test_an_unread_safety_sheet_is_a_doubt_until_it_is_read(db):
    baths.define_kit(db, "fix", Use.BLEACH_FIX, [Part(name="A", per_litre=200)])
    assert any("safety sheet" in doubt for doubt in baths.plan_mixing(db, "fix", 500).doubts)
    baths.mark_safety_sheet_read(db, "fix")
    assert baths.plan_mixing(db, "fix", 500).doubts == ()


def test_invented_months_are_the_same_twice_and_say_so(history):
    db, bath = history
    with Database.in_memory() as other:
        assert add_bath_history(other, seed=4, now=NOON) == bath
        with other.reading() as conn, db.reading() as conn2:
            runs, again = every(conn, Run), every(conn2, Run)
    assert [(run.name, run.area) for run in runs] == [(run.name, run.area) for run in again]
    assert all("invented" in run.note for run in runs)
    assert len(runs) > 30


def test_a_bottle_that_more_came_out_of_than_was_in_it_is_told(db, kit, bath):
    """As an import may bring it: the pages draw no more than there is."""
    del kit
    baths.open_concentrate(db, "bottle 9", "two parts", "A", 500, opened_at=START)
    before = record_doubts(db)
    add_record(db, BathEvent(bath=bath, at=later(1), kind="top up", volume=6, strength=1.0, drawn={"bottle 9": 600.0}))
    assert set(record_doubts(db)) - set(before) == {
        'Of the bottle "bottle 9" 600 mL were drawn, and 500 mL were in it.'
    }


def test_prints_that_no_drum_load_holds_are_told_beside_what_the_bath_can_still_do(db, bath):
    def doubts():
        return [
            doubt for doubt in bath_report.bath_report(db, bath, at=later(3)).kept.doubts if "logged in it" in doubt
        ]

    made = Setting(pack=FilterPack(magenta=45, yellow=55), time=9)
    assert doubts() == []
    for number in range(2):
        log_trial(db, TrialEntry(patches=(PatchEntry(setting=made),), bath=bath, at=later(1 + number)))
    baths.log_run(db, bath, 0.05, at=later(2))
    (said,) = doubts()
    assert said.startswith(
        "2 prints and strips were logged in it without a drum load, and its ledger has 1 load beside"
    )
    baths.log_run(db, bath, 0.05, at=later(2.5))
    assert doubts() == []
