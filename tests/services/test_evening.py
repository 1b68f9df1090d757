"""The evening as a service: on disk, once, in the right order, and into the ledger by itself."""

import dataclasses
import io
import subprocess
import sys
import time
import wave
from datetime import UTC, datetime
from pathlib import Path

import pytest

from printlore.core.evening.care import CAUTIONS
from printlore.core.evening.events import (
    BeatDone,
    CareConfirmed,
    Closed,
    FrameListed,
    Held,
    LoadPlanned,
    Moved,
    MovedOn,
    Poured,
    Rehearsed,
    Resumed,
    Undone,
    WentWrong,
)
from printlore.core.evening.light import Light
from printlore.core.evening.process import Sequence, Step, StepKind, usual_sequence
from printlore.core.evening.rehearsal import QUESTIONS, Rehearsal
from printlore.core.evening.state import ENTER_DARK, LEAVE_DARK
from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Burn, Setting
from printlore.errors import ChangedMeanwhile, Refused, UnknownRecord, ValueOutOfRange
from printlore.records.baths import Bath, Process
from printlore.records.baths import Run as LedgerRun
from printlore.records.database import Database
from printlore.records.evening import events_of
from printlore.records.negatives import Film, Frame
from printlore.records.rows import add, every
from printlore.services import evening as evening_service
from printlore.services.advice import AdviceRequest, advise
from printlore.services.baths import retire, top_up
from printlore.services.evening import (
    Clock,
    begin_run,
    best_start,
    claim_voice,
    compare_pour,
    evening_now,
    evenings,
    find_evening,
    newest,
    open_evening,
    release_voice,
    this_evening,
    who_speaks,
    write,
)
from printlore.services.evening_plan import PieceOrder, find_sequence, plan_load, save_sequence, sequences
from printlore.services.evidence import load_evidence
from printlore.services.run_card import cue_lines, cue_sheet, cue_sheet_cues, run_card
from printlore.services.trials import PatchEntry, TrialEntry, log_trial

T0 = datetime(2031, 3, 3, 19, 0, tzinfo=UTC).timestamp()
AUDIO = Path(__file__).parents[2] / "src/printlore/faces/web/static/audio"
PACK = FilterPack(magenta=60.0, yellow=70.0)
SHEET = PieceOrder(frame="harbour 14", setting=Setting(pack=PACK, time=8), width=203, height=254)


def furnish(db):
    with db.transaction() as conn:
        add(conn, Film(name="roll 3"))
        add(conn, Frame(name="harbour 14", film="roll 3"))
        add(conn, Process(name="own"))
        add(conn, Bath(name="3 March", process="own", mixed_at=datetime(2031, 3, 3, tzinfo=UTC), volume=500))


@pytest.fixture
def db():
    with Database.in_memory() as database:
        furnish(database)
        yield database


class Bench:
    """Sends events one after another, a second apart unless told otherwise."""

    def __init__(self, db, now=T0):
        self.db, self.now, self.sent = db, now, 0
        self.record = open_evening(db, now=now)

    def tell(self, what, **more):
        self.sent += 1
        self.now += more.pop("after", 1.0)
        return write(
            self.db, self.record, what, key=more.pop("key", f"k{self.sent}"), device="desk", now=self.now, **more
        )

    def plan(self, *pieces, **more):
        self.sent += 1
        self.now += 1
        more.setdefault("key", f"k{self.sent}")
        more.setdefault("drum", 1)
        return plan_load(self.db, self.record, pieces or (SHEET,), device="desk", now=self.now, **more)

    def ready(self, load="1"):
        self.tell(CareConfirmed(items=tuple(caution.name for caution in CAUTIONS)))
        confirmed = frozenset(question.name for question in QUESTIONS)
        self.tell(Rehearsed(rehearsal=Rehearsal(device="desk", seconds=700, confirmed=confirmed)))
        self.expose(load)

    def expose(self, load):
        self.tell(Moved(to=Light.EASEL))
        self.tell(Moved(to=Light.PAPER_OUT, confirmed=tuple(ENTER_DARK), load=load))
        self.tell(BeatDone(load=load, beat=3))
        self.tell(Moved(to=Light.WET, confirmed=tuple(LEAVE_DARK)))

    def begin(self, load="1", **more):
        self.sent += 1
        return begin_run(self.db, self.record, load, key=f"k{self.sent}", device="desk", now=self.now, **more)

    def at(self, now):
        self.now = now
        return evening_now(self.db, self.record, now=now)


def ledger(db):
    with db.reading() as conn:
        return every(conn, LedgerRun)


def test_an_event_is_on_disk_when_it_was_acknowledged(tmp_path):
    db = Database.open(tmp_path)
    furnish(db)
    bench = Bench(db)
    done = bench.tell(FrameListed(frame="harbour 14"))
    other = Database.open(tmp_path)  # the first one never closes, as if it had been killed
    assert evening_now(other, this_evening(other, now=T0 + 5), now=T0 + 5).frames == ("harbour 14",)
    assert newest(other, bench.record) == done.event.number


def test_the_same_key_is_the_same_event(db):
    bench = Bench(db)
    first = bench.tell(WentWrong(note="dropped the tongs"), key="once")
    again = bench.tell(WentWrong(note="dropped the tongs"), key="once")
    assert again.again
    assert again.event == first.event
    with db.reading() as conn:
        assert len(events_of(conn, bench.record)) == 1


def test_an_event_from_the_future_is_refused_and_one_slightly_ahead_is_now(db):
    bench = Bench(db)
    with pytest.raises(Refused, match="30 s ahead of the studio's clock"):
        bench.tell(WentWrong(note="x"), at=bench.now + 31)
    assert bench.tell(WentWrong(note="x"), at=bench.now + 2).event.at == bench.now


def test_a_frame_that_is_not_there_is_not_listed(db):
    with pytest.raises(UnknownRecord, match=r'No frame is called "harbor 14"\. Near it: "harbour 14"'):
        Bench(db).tell(FrameListed(frame="harbor 14"))


def test_an_evening_has_a_date_for_a_name_and_is_found(db):
    assert this_evening(db, now=T0) is None
    with pytest.raises(UnknownRecord, match="open one first"):
        find_evening(db, None, now=T0)
    bench = Bench(db)
    with pytest.raises(Refused, match=rf'The evening "{bench.record.name}" is under way since .* or close it first'):
        open_evening(db, now=T0, name="another")
    assert bench.record.name == "Monday 3 March 2031"
    bench.tell(Closed())
    second = open_evening(db, now=T0)
    assert second.name == f"{bench.record.name} (2)"
    assert [e.name for e in evenings(db)] == [second.name, bench.record.name]
    assert find_evening(db, bench.record.name, now=T0).id == bench.record.id
    assert this_evening(db, now=T0 + 9).id == second.id


def test_of_several_that_open_an_evening_at_once_one_does_and_the_others_say_so(tmp_path):
    Database.open(tmp_path / "studio").close()
    call = [sys.executable, "-m", "printlore.faces.cli.main", "evening", "open", "--studio", str(tmp_path / "studio")]
    together = [subprocess.Popen(call, stderr=subprocess.PIPE, stdout=subprocess.PIPE, text=True) for _ in range(4)]
    ended = [(*one.communicate(), one.returncode) for one in together]
    assert sorted(status for *_, status in ended) == [0, 5, 5, 5]
    for out, error, status in ended:
        assert ("is open." in out, "is under way since" in error) == (status == 0, status == 5)
    with Database.open(tmp_path / "studio") as db:
        assert len(evenings(db)) == 1


# plans


def test_a_planned_load_has_exposures_codes_area_and_a_bath(db):
    bench = Bench(db)
    burnt = PieceOrder(
        frame="harbour 14", setting=Setting(pack=PACK, time=8, burns=(Burn(name="sky", time=4),)), width=203, height=254
    )
    strip = PieceOrder(
        frame="harbour 14", kind="strip", setting=Setting(pack=PACK, time=8), steps=(4.0, 1.0), width=60, height=254
    )
    load = bench.plan(burnt, strip).evening.loads["1"].load
    assert [piece.name for piece in load.pieces] == ["harbour 14", "harbour 14 strip"]
    assert [len(piece.exposures) for piece in load.pieces] == [2, 2]
    assert len({piece.code for piece in load.pieces}) == 2
    assert load.area == pytest.approx(0.203 * 0.254 + 0.06 * 0.254)
    assert load.baths == (("developer", "3 March"),)


def test_two_pages_that_plan_one_load_do_not_overwrite_each_other(db):
    bench = Bench(db)
    seen = bench.plan(name="1").event.number
    bench.plan(SHEET, SHEET, name="1", seen=seen)
    with pytest.raises(ChangedMeanwhile, match=r"planned anew by somebody else meanwhile.*nothing was overwritten"):
        bench.plan(name="1", seen=seen)
    with pytest.raises(ChangedMeanwhile, match="planned by somebody else"):
        bench.plan(name="1")
    assert len(evening_now(db, bench.record, now=bench.now).loads["1"].load.pieces) == 2


def test_impossible_plans_say_what_is_wrong(db):
    bench = Bench(db)
    with pytest.raises(ValueOutOfRange, match="width of a piece is 3 mm"):
        bench.plan(PieceOrder(setting=Setting(pack=PACK, time=8), width=3, height=254))
    with pytest.raises(Refused, match="8 pieces share a drum"):
        bench.plan(*[SHEET] * 8)
    with pytest.raises(UnknownRecord, match='No sequence is called "fast"; there are: "Small drum'):
        bench.plan(sequence="fast")
    with pytest.raises(UnknownRecord, match='No bath is called "1 May"'):
        bench.plan(bath="1 May")


def test_own_sequences_are_kept_and_two_who_change_one_are_told(db):
    assert sequences(db)[0].version == 0
    mine = Sequence(name="cool", steps=(Step(kind=StepKind.DEVELOPER, time=90, volume=100),))
    kept = save_sequence(db, mine)
    assert find_sequence(db, "cool").sequence == mine
    longer = Sequence(name="cool", steps=(Step(kind=StepKind.DEVELOPER, time=100, volume=100),))
    save_sequence(db, longer, number=kept.id, version=1)
    with pytest.raises(ChangedMeanwhile, match="was changed meanwhile"):
        save_sequence(db, mine, number=kept.id, version=1)
    assert find_sequence(db, None).sequence == longer


# dark


def test_every_other_connected_device_is_confirmed_out_before_paper_comes_out(db):
    bench = Bench(db)
    bench.plan()
    bench.ready()
    bench.plan(name="2", drum=2)
    bench.tell(Moved(to=Light.EASEL))
    dark = Moved(to=Light.PAPER_OUT, confirmed=tuple(ENTER_DARK), load="2")
    with pytest.raises(Refused, match="Still connected: telephone"):
        bench.tell(dark, connected=["telephone"])
    out = Moved(to=Light.PAPER_OUT, confirmed=(*ENTER_DARK, "out:telephone"), load="2")
    assert bench.tell(out, connected=["telephone"]).evening.light is Light.PAPER_OUT


# runs


def poured(db):
    bench = Bench(db)
    bench.plan()
    bench.ready()
    return bench, bench.begin().event.what.begin


def test_the_first_pour_is_announced_ten_seconds_before(db):
    bench, begin = poured(db)
    assert begin == bench.now + 10


def test_a_second_drum_waits_for_hands_and_says_how_long(db):
    bench, begin = poured(db)
    bench.plan(name="2", drum=2)
    bench.expose("2")
    bench.now = begin + 22  # its first pour in ten seconds would meet the drain of drum 1
    free = best_start(bench.at(bench.now), "2")
    done = bench.begin("2")
    assert done.event.what.begin == free > bench.now + 10
    assert "until then another drum needs you" in done.said
    assert done.evening.clashes() == ()


def test_a_start_of_ones_own_is_taken_and_its_clash_told(db):
    bench, begin = poured(db)
    bench.plan(name="2", drum=2)
    bench.expose("2")
    done = bench.begin("2", begin=begin + 40)
    assert "need hands at once" in done.said


def test_a_finished_run_is_in_the_ledger_by_itself_and_once(db):
    bench, begin = poured(db)
    bench.tell(Poured(load="1", step=1, temperature=34.0))
    over = begin + usual_sequence().time + 1
    assert bench.at(over).loads["1"].ledger is not None
    bench.at(over + 5)
    (run,) = ledger(db)
    assert (run.bath, run.drum, run.temperature) == ("3 March", "1", 34.0)
    assert run.area == pytest.approx(0.203 * 0.254)
    assert run.at.timestamp() == pytest.approx(begin + usual_sequence().time)
    assert run.note == ""


def test_who_read_the_clock_first_and_writes_last_finds_the_run_in_the_ledger(db):
    bench, begin = poured(db)
    over = begin + usual_sequence().time + 1
    bench.at(over + 5)
    bench.at(over)
    assert len(ledger(db)) == 1


def test_the_ledger_says_what_was_not_as_planned(db):
    bench, begin = poured(db)
    bench.now = begin + 50
    bench.tell(Held(load="1"), after=0)
    bench.tell(Resumed(load="1"), after=12)
    bench.tell(MovedOn(load="1"), after=50)  # the stop ends early
    bench.tell(WentWrong(note="splash", load="1"))
    bench.at(begin + 2000)
    (run,) = ledger(db)
    assert run.note == "developer 57 s instead of 45, held 12 s; stop 10 s instead of 30; splash"


def test_a_run_that_no_ledger_takes_leaves_a_note_and_holds_nothing_up(db):
    bench, begin = poured(db)
    retire(db, "3 March", at=datetime.fromtimestamp(begin + 5, UTC))
    evening = bench.at(begin + 2000)
    assert evening.loads["1"].ledger == ""
    assert "not in the bath ledger" in evening.notes[-1].note
    assert ledger(db) == []


def test_a_top_up_meanwhile_does_not_keep_a_run_out_of_the_ledger(db):
    bench, begin = poured(db)
    top_up(db, "3 March", 20, bled=20, at=datetime.fromtimestamp(begin + 900, UTC))
    bench.at(begin + 2000)
    (run,) = ledger(db)
    assert run.at.timestamp() == pytest.approx(begin + 2000)


def test_an_undone_move_on_never_was(db):
    bench, begin = poured(db)
    bench.now = begin + 50
    bench.tell(MovedOn(load="1"), after=0, key="slip")
    bench.tell(Undone(key="slip"), after=3)
    assert bench.at(begin + 60).loads["1"].run(begin + 60).words == "developer, 30 s left"


def test_a_load_without_a_bath_leaves_no_line_and_does_not_wait_for_one():
    with Database.in_memory() as bare:
        with bare.transaction() as conn:
            add(conn, Film(name="roll 3"))
            add(conn, Frame(name="harbour 14", film="roll 3"))
        bench, begin = poured(bare)
        assert bench.at(begin + 2000).loads["1"].ledger == ""
        assert ledger(bare) == []


def test_a_pour_unlike_the_usual_is_told_before_and_after(db):
    bench, begin = poured(db)
    bench.now = begin + 46
    for temperature in (33.0, 33.2, 32.9):
        bench.tell(Poured(load="1", step=1, temperature=temperature))
    assert "below your usual 33.0" in bench.tell(Poured(load="1", step=1, temperature=30.0)).said
    bench.tell(Undone(key=f"k{bench.sent}"))
    answer = compare_pour(db, bench.record, "1", 1, 35.5, now=bench.now)
    assert answer.warn
    assert "(3 pours" in answer.words
    with pytest.raises(Refused, match="there is no step 99"):
        compare_pour(db, bench.record, "1", 98, 35.5, now=bench.now)


# voice


def test_the_voice_survives_and_what_nobody_said_is_named(db):
    bench, begin = poured(db)
    assert claim_voice(db, bench.record, "a", now=begin + 20).missed == ()
    with pytest.raises(Refused, match="Another page speaks"):
        claim_voice(db, bench.record, "b", now=begin + 21)
    back = claim_voice(db, bench.record, "a", now=begin + 50)
    assert [cue.at - begin for cue in back.missed] == [35, 45]
    assert claim_voice(db, bench.record, "a", now=begin + 90, heard=begin + 89).missed == ()
    release_voice(db, bench.record, "a", now=begin + 91)
    assert who_speaks(db, bench.record).page is None


def test_a_clock_that_is_set_back_brings_no_light_back(db):
    """Paper is out, and the wall clock is put right by an hour: a screen that thinks it is at the desk ruins it."""
    bench = Bench(db)
    bench.plan()
    bench.ready()
    begin = bench.begin().event.what.begin
    bench.at(bench.now - 3600)
    assert evening_now(db, bench.record, now=bench.now).light is Light.WET
    assert evening_now(db, bench.record, now=bench.now).loads["1"].begin == begin
    bench.tell(Moved(to=Light.EASEL))
    assert evening_now(db, bench.record, now=bench.now).light is Light.EASEL
    assert evening_now(db, bench.record, now=bench.now + 3600 + 60).light is Light.EASEL


def test_the_clock_of_an_evening_under_way_is_not_set_back(monkeypatch):
    shown, passed = [1e9], [50.0]
    monkeypatch.setattr(time, "time", lambda: shown[0])
    monkeypatch.setattr(time, "monotonic", lambda: passed[0])
    monkeypatch.setattr(evening_service, "_WALL", evening_service._Wall())
    clock = Clock()
    assert clock.now() == 1e9
    for moved, stood in ((10.0, 10.0), (-3600.0, 5.0), (7.0, 7.0), (7200.0, 1.0), (-300.0, 2.0)):
        shown[0], passed[0] = shown[0] + moved, passed[0] + stood
        clock.now()
    assert clock.now() == pytest.approx(1e9 + 10 + 5 + 7 + 7200 + 2)


def test_a_clock_may_run_a_drill():
    clock = Clock(pace=10.0, origin=0.0)
    first = clock.now()
    assert clock.now() >= first
    assert first / Clock().now() == pytest.approx(10, rel=1e-6)


# on paper and as sound


def test_the_run_card_is_a_pdf_and_the_same_twice(db):
    bench = Bench(db)
    with pytest.raises(Refused, match="Nothing is planned tonight"):
        run_card(db, bench.record, now=bench.now)
    bench.plan()
    card = run_card(db, bench.record, now=bench.now)
    assert card.startswith(b"%PDF")
    assert card == run_card(db, bench.record, now=bench.now)


def test_the_cue_sheet_lasts_as_long_as_its_exposures(db):
    bench = Bench(db)
    bench.plan(PieceOrder(setting=Setting(pack=PACK, time=8, burns=(Burn(name="sky", time=4),)), width=203, height=254))
    sound = cue_sheet(db, bench.record, "1", 0, audio=AUDIO, now=bench.now)
    with wave.open(io.BytesIO(sound)) as file:
        seconds = file.getnframes() / file.getframerate()
    assert 3 + 8 + 8 + 3 + 4 <= seconds <= 3 + 8 + 8 + 3 + 4 + 3
    with pytest.raises(UnknownRecord, match="there is no piece 2"):
        cue_sheet(db, bench.record, "1", 1, audio=AUDIO, now=bench.now)


def test_cues_read_as_lines(db):
    bench = Bench(db)
    load = bench.plan().evening.loads["1"].load
    cues, lead = cue_sheet_cues(load)
    assert lead == 10
    assert cue_lines(cues)[0] == "   -10.0 s          Next: prewash"


def test_a_control_has_no_cue_sheet(db):
    bench = Bench(db)
    load = bench.plan(PieceOrder(kind="control", width=35, height=305)).evening.loads["1"].load
    with pytest.raises(Refused, match='"control" is not exposed here'):
        cue_sheet_cues(load, 0)


def test_a_plan_written_raw_is_checked_too(db):
    bench = Bench(db)
    load = bench.plan().evening.loads["1"].load
    with pytest.raises(ChangedMeanwhile):
        bench.tell(LoadPlanned(load=load))


# prints out of a drum


def finished(db, *pieces):
    """An evening whose first load is through."""
    with db.transaction() as conn:
        add(conn, Bath(name="1 March", process="own", mixed_at=datetime(2020, 3, 1, tzinfo=UTC), volume=500))
    bench = Bench(db, now=time.time() - 7200)
    bench.plan(*pieces, bath="1 March")
    bench.ready()
    bench.begin()
    bench.at(bench.now + 3600)
    return bench


def logged(db, frame, **more):
    setting = Setting(pack=PACK, time=8)
    return log_trial(db, TrialEntry(patches=(PatchEntry(setting=setting, kept=True),), frame=frame, **more))


def second_frame(db):
    with db.transaction() as conn:
        add(conn, Frame(name="harbour 15", film="roll 3"))


def test_prints_that_shared_a_drum_are_logged_with_its_run(db):
    second_frame(db)
    bench = finished(db, SHEET, dataclasses.replace(SHEET, frame="harbour 15"))
    one, two = logged(db, "harbour 14"), logged(db, "harbour 15")
    run = f"{bench.record.name}, load 1"
    assert (one.row.run, two.row.run) == (run, run)
    assert one.row.bath == "1 March"
    assert one.remarks[-1].startswith("No drum load was named: taken to be drum 1, load 1 of tonight")
    trials = load_evidence(db).trials
    assert [trial.run for trial in trials] == [run, run]
    assert len(ledger(db)) == 1


def test_a_studio_whose_only_drum_was_shared_is_advised(db):
    """Nothing tells the noise of drums apart yet; the usual figure stands."""
    second_frame(db)
    finished(db, SHEET, dataclasses.replace(SHEET, frame="harbour 15"))
    logged(db, "harbour 14")
    logged(db, "harbour 15")
    assert 0 <= advise(db, AdviceRequest(frame="harbour 14")).advice.probability_good <= 1


def test_a_print_beyond_the_pieces_of_a_drum_or_of_another_bath_is_not_taken_to_be_of_it(db):
    finished(db, SHEET)
    assert logged(db, "harbour 14", bath="3 March").row.run is None
    assert logged(db, "harbour 14", bath="1 March").row.run is not None
    assert logged(db, "harbour 14").row.run is None
    assert logged(db, "harbour 14", at=datetime(2030, 1, 1, tzinfo=UTC)).row.run is None


def test_a_load_still_in_its_drum_is_not_what_a_print_came_out_of(db):
    bench = Bench(db, now=time.time() - 60)
    bench.plan()
    assert logged(db, "harbour 14").row.run is None


# a bath that was given up


def test_a_retired_bath_is_refused_when_a_load_is_planned_with_it(db):
    retire(db, "3 March", at=datetime.fromtimestamp(T0, UTC))
    with pytest.raises(Refused, match=r'"3 March" is retired, so nothing more goes through it. Plan load "1" with a'):
        Bench(db).plan(bath="3 March")


def test_without_a_name_the_newest_bath_in_use_is_taken(db):
    with db.transaction() as conn:
        add(conn, Bath(name="4 March", process="own", mixed_at=datetime(2031, 3, 3, tzinfo=UTC)))
    retire(db, "4 March", at=datetime.fromtimestamp(T0, UTC))
    assert Bench(db).plan().evening.loads["1"].load.baths == (("developer", "3 March"),)


def test_a_bath_retired_after_the_plan_is_told_when_the_drum_begins(db):
    bench = Bench(db)
    bench.plan()
    bench.ready()
    retire(db, "3 March", at=datetime.fromtimestamp(bench.now, UTC))
    assert "Retired since this load was planned: 3 March." in bench.begin().said
