"""Logging, correcting and removing trials; nothing but a setting is required."""

import dataclasses
from datetime import UTC, datetime

import pytest

from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Burn, Setting
from printlore.core.memory.evidence import BathState, Cast, Judgement, NegativeReading
from printlore.errors import ChangedMeanwhile, Refused, UnknownRecord, ValueOutOfRange
from printlore.records.baths import Run
from printlore.records.light import Head
from printlore.records.negatives import Film, Frame
from printlore.records.papers import Lot
from printlore.records.studio import Costs, Preferences
from printlore.records.trials import PatchReading
from printlore.services.aims import state_density
from printlore.services.entry import (
    add_bath,
    add_film,
    add_frame,
    add_head,
    add_lens,
    add_lot,
    add_paper,
    add_process,
    correct_record,
    declare_bath_state,
    find_record,
    keep_scan,
    list_records,
    read_negative,
    read_settings,
    remove_record,
    write_settings,
)
from printlore.services.evidence import hold_evidence, load_evidence
from printlore.services.trials import (
    PatchEntry,
    TrialEntry,
    add_judgement,
    add_reading,
    bring_trial_back,
    correct_trial,
    find_trial,
    find_trial_ever,
    frame_history,
    frame_history_ever,
    list_trials,
    log_trial,
    mark_kept,
    next_negative,
    remove_trial,
    times_corrected,
    trial_versions,
)

NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)
SETTING = Setting(pack=FilterPack(magenta=50, yellow=40), time=9)
GREY = PatchReading(density=(0.7, 0.71, 0.72))


@pytest.fixture
def furnished(db):
    """A studio with one of everything."""
    add_head(db, "left")
    add_film(db, "Holiday")
    add_frame(db, "Harbour", film="Holiday")
    add_frame(db, "Pier", film="Holiday")
    add_paper(db, "matt")
    add_lot(db, "A12", paper="matt")
    add_process(db, "drum")
    add_bath(db, "March", process="drum", mixed_at=NOON)
    return db


def entry(*patches, **fields):
    known = {"frame": "Harbour", "head": "left", "lot": "A12", "bath": "March", "at": NOON}
    return TrialEntry(patches=patches or (PatchEntry(setting=SETTING, reading=GREY),), **(known | fields))


def test_the_first_trial_needs_nothing_but_a_setting_and_says_what_was_made(db):
    record = log_trial(db, TrialEntry(patches=(PatchEntry(setting=SETTING),)))
    assert record.row.frame == "unnamed frame 1"
    assert len(record.remarks) == 4
    assert record.remarks[0] == (
        'No head was named and none is in the studio: "unnamed head" was added. Rename it when you can.'
    )
    assert any(remark.startswith("No bath was named and no developer is in use:") for remark in record.remarks)
    assert [head.name for head in list_records(db, Head)] == ["unnamed head"]
    assert find_trial(db, record.name).patches[0].made == SETTING


def test_what_is_not_named_is_taken_from_the_trial_before(furnished):
    log_trial(furnished, entry())
    record = log_trial(furnished, TrialEntry(patches=(PatchEntry(setting=SETTING),)))
    assert (record.row.head, record.row.lot, record.row.bath) == ("left", "A12", "March")
    assert record.row.frame == "unnamed frame 1", "a named frame is never assumed"
    assert 'No lot was named: taken to be "A12", as in the trial before.' in record.remarks


def test_unnamed_trials_are_of_one_negative_until_the_next_is_put_in(db):
    log = lambda: log_trial(db, TrialEntry(patches=(PatchEntry(setting=SETTING),))).row.frame  # noqa: E731
    assert [log(), log()] == ["unnamed frame 1", "unnamed frame 1"]
    assert next_negative(db).name == "unnamed frame 2"
    assert [log(), log()] == ["unnamed frame 2", "unnamed frame 2"]


def test_a_negative_put_on_the_easel_by_name_takes_the_prints_that_name_none(furnished):
    def log(**said):
        return log_trial(furnished, TrialEntry(patches=(PatchEntry(setting=SETTING),), **said))

    log(frame="Harbour")
    assert next_negative(furnished, "Market").name == "Market"
    with pytest.raises(ValueOutOfRange, match='"Market" is here already'):
        next_negative(furnished, "market")
    record = log()
    assert record.row.frame == "Market"
    assert 'the negative that is on the easel ("Market")' in " ".join(record.remarks)
    correct_record(furnished, find_record(furnished, Frame, "Market"), name="Market square")
    assert log().row.frame == "Market square", "a new name takes nothing off the easel"
    log(frame="Harbour")
    assert log().row.frame.startswith("unnamed frame"), "another was printed since"


def test_an_empty_key_is_none(furnished):
    assert log_trial(furnished, entry(key="")).name != log_trial(furnished, entry(key=" ")).name


def test_a_key_given_again_says_so_and_refuses_another_print(furnished):
    first = log_trial(furnished, entry(key="phone 7"))
    again = log_trial(furnished, entry(key="phone 7"))
    assert (first.again, again.again) == (False, True)
    assert "is logged already" in again.remarks[0]
    longer = PatchEntry(setting=dataclasses.replace(SETTING, time=SETTING.time + 1))
    with pytest.raises(Refused, match=r"made with other settings\. Nothing was logged; give a new key"):
        log_trial(furnished, entry(longer, key="phone 7"))
    next_negative(furnished, "Market")
    with pytest.raises(Refused, match='a print of "Harbour", not of "Market"'):
        log_trial(furnished, entry(key="phone 7", frame="Market"))
    correct_trial(furnished, first.name, version=1, settings={0: longer.setting})
    assert log_trial(furnished, entry(key="phone 7")).name == first.name, "sent again, corrected meanwhile"


def test_a_print_that_says_what_another_said_a_moment_before_is_told_of_it(furnished):
    """The same form open on the desk and on a telephone logged one sheet twice, and the later of them heard nothing."""
    seen = PatchEntry(setting=SETTING, judgement=Judgement(cast=Cast.CYAN, strength=10))
    desk = log_trial(furnished, entry(seen, key="desk", at=None))
    assert "says the same" not in " ".join(desk.remarks)
    telephone = log_trial(furnished, entry(seen, key="telephone", at=None))
    assert telephone.remarks[0].startswith(f"{desk.name}, logged at ")
    assert telephone.remarks[0].endswith("says the same: if it is the same sheet, take this one back.")
    other = dataclasses.replace(seen, judgement=Judgement(cast=Cast.CYAN, strength=5))
    assert "says the same" not in " ".join(log_trial(furnished, entry(other, at=None)).remarks)
    silent = [log_trial(furnished, entry(PatchEntry(setting=SETTING), at=None)) for _ in range(2)]
    assert "says the same" not in " ".join(silent[1].remarks)


def test_unnamed_things_can_be_renamed_and_keep_their_trials(db):
    log_trial(db, TrialEntry(patches=(PatchEntry(setting=SETTING, kept=True),)))
    correct_record(db, find_record(db, Frame, "unnamed frame 1"), name="Harbour")
    correct_record(db, find_record(db, Lot, "unnamed lot"), name="A12")
    (trial,) = load_evidence(db).trials
    assert (trial.frame, trial.lot) == ("Harbour", "A12")


def test_everything_that_was_entered_comes_back(furnished):
    add_lens(furnished, "80 mm")
    advised = Setting(pack=FilterPack(magenta=55, yellow=40), time=8.8, burns=(Burn(name="sky", time=4),))
    reading = dataclasses.replace(GREY, scan=keep_scan(furnished, b"scan", media_type="image/tiff").sha256)
    judgement = Judgement(cast=Cast.CYAN, strength=5, stops_too_dark=-0.25, wet=True)
    logged = log_trial(
        furnished,
        entry(
            PatchEntry(setting=SETTING, advised=advised, reading=reading),
            PatchEntry(setting=SETTING, judgement=judgement, light="window", judged_with_filter=True),
            PatchEntry(setting=SETTING, kept=True),
            kind="strip",
            run="drum 1",
            lens="80 mm",
            bath_state=BathState(area_per_litre=0.2),
            carrier_glass=False,
            mixing_box="6x6",
            print_size=(203.0, 254.0),
            column_mark="41",
            note="first",
            name="my strip",
        ),
    )
    back = find_trial(furnished, "my strip")
    assert back.row.frame == "Harbour"
    assert back.row.bath_state == BathState(area_per_litre=0.2)
    assert back.patches[0].advised.setting == advised
    assert back.patches[0].readings[0].density == GREY.density
    assert back.patches[1].judgements[0].judgement == judgement
    assert back.patches[1].judgements[0].filter_at_eye is True
    assert [bool(patch.kept) for patch in back.patches] == [False, False, True]
    assert dataclasses.replace(back.row, created_at=None) == logged.row
    assert [p.made for p in back.patches] == [p.made for p in logged.patches]
    (run,) = list_records(furnished, Run)
    assert (run.name, run.bath, run.at) == ("drum 1", "March", NOON)


def test_a_filter_laid_on_the_print_counts_double(furnished):
    """Light passes it twice: common practice, no source."""
    judgement = Judgement(cast=Cast.MAGENTA, strength=10)
    record = log_trial(furnished, entry(PatchEntry(setting=SETTING, judgement=judgement, filter_on_print=True)))
    said = find_trial(furnished, record.name).patches[0].judgements[0]
    assert (said.judgement.strength, said.filter_at_eye) == (20, False)


def test_an_entry_sent_twice_is_recorded_once(furnished):
    first = log_trial(furnished, entry(key="phone 7"))
    again = log_trial(furnished, entry(key="phone 7"))
    assert (again.name, len(list_trials(furnished))) == (first.name, 1)
    log_trial(furnished, entry(key="phone 8"))
    assert len(list_trials(furnished)) == 2


def test_an_entry_with_an_unknown_name_records_nothing_and_lists_near_ones(furnished):
    with pytest.raises(UnknownRecord, match=r'No frame is called "Harbor"\. Near it: "Harbour"\.'):
        log_trial(furnished, entry(frame="Harbor"))
    with pytest.raises(UnknownRecord, match=r'No lens is called "80"\. There is no lens yet; add it first\.'):
        log_trial(furnished, entry(lens="80", run="drum 1"))
    assert list_trials(furnished) == []
    assert list_records(furnished, Run) == []


def test_a_run_goes_through_one_bath(furnished):
    add_bath(furnished, "April", process="drum", mixed_at=NOON)
    log_trial(furnished, entry(run="drum 1"))
    with pytest.raises(Refused, match=r'Run "drum 1" went through the bath "March", not "April"\. Name the right'):
        log_trial(furnished, entry(run="drum 1", bath="April"))


def test_a_trial_without_an_exposure_or_of_no_kind_is_refused(furnished):
    with pytest.raises(ValueOutOfRange, match=r"A trial has no exposure; log at least one setting"):
        TrialEntry(patches=())
    with pytest.raises(ValueOutOfRange, match=r'"poster" is not a kind of trial; use one of strip, sheet, control'):
        log_trial(furnished, entry(kind="poster"))
    with pytest.raises(ValueOutOfRange, match=r"A print of -1 x 5 mm cannot be"):
        log_trial(furnished, entry(print_size=(-1, 5)))


def test_the_state_of_the_bath_is_reckoned_when_none_is_given(furnished):
    declare_bath_state(furnished, "March", BathState(area_per_litre=0.3, age_days=1, strength=0.9), at=NOON)
    record = log_trial(furnished, entry(at=NOON.replace(day=3)))
    assert record.row.bath_state == BathState(area_per_litre=0.3, age_days=3, strength=0.9)


def test_the_newest_reading_and_judgement_count(furnished):
    name = log_trial(furnished, entry()).name
    add_reading(furnished, name, dataclasses.replace(GREY, density=(0.8, 0.8, 0.8)))
    add_judgement(furnished, name, Judgement(cast=Cast.RED, strength=5), light="desk lamp")
    record = add_judgement(furnished, name, Judgement())
    assert [r.density[0] for r in record.patches[0].readings] == [0.7, 0.8]
    (trial,) = load_evidence(furnished).trials
    assert trial.patches[0].density == (0.8, 0.8, 0.8)
    assert trial.patches[0].judgement == Judgement()
    with pytest.raises(UnknownRecord, match=rf'Trial "{name}" has 1 step, counted from 1; there is no step 4'):
        add_reading(furnished, name, GREY, position=3)


def test_a_print_can_be_accepted_and_that_taken_back(furnished):
    name = log_trial(furnished, entry()).name
    assert mark_kept(furnished, name).patches[0].kept
    assert len(mark_kept(furnished, name).patches[0].kept) == 1
    assert load_evidence(furnished).trials[0].patches[0].kept
    assert not mark_kept(furnished, name, kept=False).patches[0].kept
    assert not load_evidence(furnished).trials[0].patches[0].kept


def test_a_corrected_trial_counts_as_corrected_and_shows_what_it_was(furnished):
    record = log_trial(furnished, entry(note="as dialled"))
    right = Setting(pack=FilterPack(magenta=5, yellow=40), time=9)
    corrected = correct_trial(
        furnished,
        record.name,
        version=record.version,
        settings={0: right},
        frame="Pier",
        note="05, not 50",
    )
    assert corrected.version == 2
    (trial,) = load_evidence(furnished).trials
    assert (trial.frame, trial.patches[0].setting) == ("Pier", right)
    assert [row["note"] for row in trial_versions(furnished, record.name)] == ["as dialled", "05, not 50"]
    assert frame_history(furnished, "Harbour") == []


def test_two_people_correcting_one_trial_do_not_overwrite_each_other(furnished):
    record = log_trial(furnished, entry())
    correct_trial(furnished, record.name, version=1, note="first")
    for change in (
        lambda: correct_trial(furnished, record.name, version=1, note="second", settings={0: SETTING}),
        lambda: remove_trial(furnished, record.name, version=1),
    ):
        with pytest.raises(ChangedMeanwhile, match=r"you read version 1, now it is 2\. Look at it again"):
            change()
    assert find_trial(furnished, record.name).row.note == "first"


def test_a_removed_trial_leaves_the_evidence_but_not_the_record(furnished):
    record = log_trial(furnished, entry())
    remove_trial(furnished, record.name, version=1)
    assert load_evidence(furnished).trials == ()
    with pytest.raises(UnknownRecord):
        find_trial(furnished, record.name)
    with pytest.raises(ValueOutOfRange, match=r"is or was in the studio"):
        log_trial(furnished, entry(name=record.name))


def test_a_trial_brought_back_counts_again_as_it_stood(furnished):
    log_trial(furnished, entry(name="a"))
    record = log_trial(furnished, entry(PatchEntry(setting=SETTING, reading=GREY, kept=True), name="b"))
    log_trial(furnished, entry(name="c"))
    before, held = load_evidence(furnished), hold_evidence(furnished)
    with pytest.raises(Refused, match=r"b was not taken back: it counts"):
        bring_trial_back(furnished, "b")
    remove_trial(furnished, "b", version=1)
    held = hold_evidence(furnished, held)
    assert [trial.name for trial in frame_history(furnished, "Harbour")] == ["a", "c"]
    ever = frame_history_ever(furnished, "Harbour")
    assert [(trial.name, trial.taken_back) for trial in ever] == [("a", False), ("b", True), ("c", False)]
    assert find_trial_ever(furnished, "b").taken_back
    with pytest.raises(ChangedMeanwhile, match=r"you read version 1, now it is 2"):
        bring_trial_back(furnished, "b", version=1)
    back = bring_trial_back(furnished, "b", version=2)
    assert [patch.made for patch in back.patches] == [patch.made for patch in record.patches]
    assert (back.taken_back, back.patches[0].readings[-1].density) == (False, GREY.density)
    assert back.patches[0].kept
    assert load_evidence(furnished) == before
    assert hold_evidence(furnished, held).evidence == before
    assert [row["removed"] for row in trial_versions(furnished, "b")] == [False, True, False]
    assert times_corrected(trial_versions(furnished, "b")) == 0
    with pytest.raises(UnknownRecord, match=r'No trial is called "never"'):
        bring_trial_back(furnished, "never")


def test_a_trial_of_a_frame_that_is_gone_is_taken_back_and_brought_back(furnished):
    log_trial(furnished, entry(name="a"))
    remove_record(furnished, find_record(furnished, Frame, "Harbour"))
    remove_trial(furnished, "a", version=1)
    assert bring_trial_back(furnished, "a").row.frame == "Harbour"


def test_the_key_of_a_trial_that_was_taken_back_is_refused_in_words(furnished):
    record = log_trial(furnished, entry(key="k"))
    remove_trial(furnished, record.name, version=1)
    with pytest.raises(Refused, match=r"was logged with this key and was taken back since: nothing was logged"):
        log_trial(furnished, entry(key="k"))
    assert log_trial(furnished, entry(key="another")).name != record.name


def test_a_frame_s_history_is_in_the_order_exposed(furnished):
    names = [log_trial(furnished, entry(at=NOON.replace(day=day))).name for day in (3, 1, 2)]
    assert [record.name for record in frame_history(furnished, "Harbour")] == [names[1], names[2], names[0]]


def test_the_same_scan_is_kept_once(furnished):
    first = keep_scan(furnished, b"pixels", media_type="image/tiff", original_name="a.tif")
    assert keep_scan(furnished, b"pixels", media_type="image/tiff", original_name="b.tif") == find_record(
        furnished, type(first), first.sha256
    )
    assert furnished.scans.get(first.sha256) == b"pixels"


def test_settings_of_the_studio_are_kept(db):
    assert read_settings(db, Preferences).decimal_mark == "."
    write_settings(db, Preferences(decimal_mark=",", length_unit="inch"))
    assert read_settings(db, Preferences).decimal_mark == ","
    assert read_settings(db, Costs) == Costs()


def test_a_removed_film_is_no_longer_listed(furnished):
    remove_record(furnished, find_record(furnished, Film, "Holiday"))
    assert list_records(furnished, Film) == []
    assert find_record(furnished, Frame, "Harbour").film == "Holiday"


# ---- evidence


def test_evidence_is_what_was_recorded(furnished):
    read_negative(furnished, "Harbour", NegativeReading(density=(0.1, 0.2, 0.3)))
    read_negative(furnished, "Harbour", NegativeReading(density=(0.4, 0.5, 0.6), source="flatbed"))
    state_density(furnished, "Harbour", "matt", (0.5, 0.5, 0.5))
    state_density(furnished, "Harbour", "matt", (0.6, 0.6, 0.6))
    log_trial(furnished, entry(kind="strip", run="drum 1", name="a", at=datetime(2000, 1, 3, 12, tzinfo=UTC)))
    log_trial(furnished, entry(PatchEntry(setting=SETTING), name="says nothing"))
    evidence = load_evidence(furnished)
    assert evidence.heads["left"] == find_record(furnished, Head, "left").facts()
    assert evidence.lots == {"A12": "matt"}
    assert evidence.baths == {"March": "drum"}
    harbour = evidence.frames["Harbour"]
    assert (harbour.film, harbour.reading.density, harbour.reading.source) == ("Holiday", (0.4, 0.5, 0.6), "flatbed")
    assert evidence.aim_density("Harbour", "matt") == (0.6, 0.6, 0.6)
    assert evidence.aim_density("Pier", "matt") == evidence.papers["matt"].aim_density
    (trial,) = evidence.trials
    assert (trial.name, trial.strip, trial.run, trial.date) == ("a", True, "drum 1", 2.5)
    assert trial.patches[0].density == GREY.density


def test_a_reference_tone_becomes_an_aim_on_every_paper(furnished):
    """A lighter tone has less density in every layer, and a reddish one least in red (signs: docs/conventions.md)."""
    add_frame(furnished, "Face", film="Holiday", aim=(65.0, 18.0, 18.0))
    evidence = load_evidence(furnished)
    grey, face = evidence.papers["matt"].aim_density, evidence.aim_density("Face", "matt")
    assert all(light < dark for light, dark in zip(face, grey, strict=True))
    assert face[0] < face[1] < face[2]
    add_paper(furnished, "gloss")
    held = hold_evidence(furnished, hold_evidence(furnished))
    assert "gloss" in held.evidence.frames["Face"].aims


def test_a_tone_that_paper_cannot_show_is_refused_with_the_nearest(furnished):
    with pytest.raises(ValueOutOfRange, match=r"cannot show Lab .* near it, it can show"):
        add_frame(furnished, "Neon", film="Holiday", aim=(50.0, 120.0, 120.0))


def test_noted_evidence_counts_with_a_wider_error(furnished):
    log_trial(furnished, entry(PatchEntry(setting=SETTING, kept=True), source="notebook"))
    (noted,) = load_evidence(furnished).trials
    assert noted.patches[0].standard_error > 0.07


def test_evidence_brought_up_to_date_equals_evidence_read_anew(furnished):
    held = hold_evidence(furnished)
    names = []

    def brought_up():
        nonlocal held
        before = held
        held = hold_evidence(furnished, held)
        anew = hold_evidence(furnished)
        assert held.evidence == anew.evidence
        assert held.numbers == anew.numbers
        assert hold_evidence(furnished, held).evidence is held.evidence
        return before, held

    for step in range(4):
        names.append(log_trial(furnished, entry(frame=("Harbour", "Pier")[step % 2])).name)
    _, now = brought_up()
    assert now.changed == tuple(names)
    assert not now.whole
    correct_trial(furnished, names[1], version=1, settings={0: Setting(pack=FilterPack(yellow=1), time=5)})
    remove_trial(furnished, names[2], version=1)
    read_negative(furnished, "Pier", NegativeReading(density=(0.4, 0.5, 0.6)))
    _, now = brought_up()
    assert (now.changed, now.gone, now.whole) == ((names[1],), (names[2],), False)
    mark_kept(furnished, names[0])
    add_judgement(furnished, names[0], Judgement())
    add_frame(furnished, "Garden", film="Holiday")
    add_lot(furnished, "B", paper="matt")
    add_bath(furnished, "May", process="drum")
    add_head(furnished, "right")
    state_density(furnished, "Garden", "matt", (0.4, 0.4, 0.4))
    _, now = brought_up()
    assert (now.changed, now.whole) == ((names[0],), False)
    correct_record(furnished, find_record(furnished, Film, "Holiday"), name="Summer")
    _, now = brought_up()
    assert now.whole
    assert now.evidence.frames["Garden"].film == "Summer"
    remove_record(furnished, find_record(furnished, Frame, "Garden"))
    remove_record(furnished, find_record(furnished, Frame, "Pier"))
    _, now = brought_up()
    assert "Garden" not in now.evidence.frames
    assert "Pier" in now.evidence.frames, "a trial still names it"


def test_lots_are_in_the_order_received(furnished):
    add_lot(furnished, "older", paper="matt", received_at=datetime(2020, 1, 1, tzinfo=UTC))
    assert list(load_evidence(furnished).lots) == ["older", "A12"]
