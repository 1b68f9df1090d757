"""Records are only added to; names lead to numbers; a stale correction is refused."""

import dataclasses
from datetime import UTC, datetime

import pytest
import sqlalchemy as sa
from hypothesis import given
from hypothesis import strategies as st

from printlore.core.flags import Flag
from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Burn, Setting
from printlore.core.memory.evidence import BathState, Cast, Judgement, NegativeReading
from printlore.errors import ChangedMeanwhile, Refused, UnknownRecord, ValueOutOfRange
from printlore.records.baths import Bath, DeclaredBathState, Process, Run, bath_state
from printlore.records.database import Database
from printlore.records.light import Head, Lens
from printlore.records.negatives import Film, Frame, NegativeReadingRecord
from printlore.records.papers import FrameAim, Lot, PaperFamily
from printlore.records.rows import (
    add,
    bring_back,
    clean_name,
    correct,
    every,
    every_ever,
    find,
    history,
    latest,
    remove,
)
from printlore.records.scans import Scan, path_of
from printlore.records.studio import Costs, Preferences, Repeatability, Tolerances, settle, settled
from printlore.records.tables import metadata, moment_to_text
from printlore.records.trials import ExposureRow, JudgementRecord, KeptMark, PatchReading, TrialRow, next_name

NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)
SHA = "ab" * 32


def one_of_each():
    """A value of every kind with nothing left at its default, in an order in which each can be added."""
    setting = Setting(
        pack=FilterPack(cyan=1.5, magenta=60.25, yellow=45),
        time=9.3,
        f_number=5.6,
        magnification=6.9,
        burns=(Burn(name="sky", time=4), Burn(name="face", time=-1.5, pack=FilterPack(magenta=70, yellow=10))),
    )
    return [
        Scan(sha256=SHA, path=path_of(SHA), size=12, media_type="image/tiff", original_name="tira número 3.tif"),
        Head(
            name="Head",
            kind="additive_times",
            usual=Setting(pack=FilterPack(magenta=33, yellow=12), time=11, f_number=5.6, magnification=4),
            dial_step=0.5,
            dial_max=170,
            timer_step=0.2,
            shortest=3,
            longest=50,
            f_numbers=(2.8, 5.6),
            note="new lamp",
        ),
        Lens(name="Lens", focal_length=80, pupil_factor=1.1, note="clean"),
        Film(name="Film", stock="colour negative", process="usual", note="from the attic"),
        Frame(
            name="Frame",
            film="Film",
            number="12A",
            reference=(0.25, 0.75),
            aim=(60.0, 10.0, 14.0),
            thumbnail=SHA,
            note="skin",
        ),
        NegativeReadingRecord(
            frame="Frame",
            reading=NegativeReading(density=(0.4, 0.7, 0.9), source="flatbed", standard_error=0.02),
            at=NOON,
            device="flatbed",
            scan=SHA,
            as_entered="0,40/0,70/0,90",
        ),
        PaperFamily(
            name="Paper",
            surface="matt",
            base="RC",
            dye_model="own",
            aim_density=(0.7, 0.71, 0.72),
            base_density=(0.11, 0.12, 0.13),
            black_density=(2.2, 2.3, 2.1),
            gradient=(2.5, 2.6, 2.4),
            note="roll",
        ),
        FrameAim(frame="Frame", family="Paper", density=(0.5, 0.55, 0.6)),
        Lot(name="Lot", family="Paper", emulsion_number="0421-7", received_at=NOON, note="cold"),
        Process(name="Process", developer_temperature=35, developer_time=45, note="drum"),
        Bath(name="Bath", process="Process", mixed_at=NOON, volume=500, note="brown bottle"),
        DeclaredBathState(bath="Bath", at=NOON, state=BathState(area_per_litre=0.4, age_days=3, strength=0.9)),
        Run(
            name="Run",
            bath="Bath",
            at=NOON,
            drum="small",
            area=0.05,
            water_in=6,
            solution_out=5,
            temperature=34.5,
            note="slow pour",
        ),
        TrialRow(
            name="Trial",
            entry_key="key",
            kind="strip",
            source="notebook",
            at=NOON,
            frame="Frame",
            head="Head",
            lot="Lot",
            bath="Bath",
            run="Run",
            lens="Lens",
            bath_state=BathState(area_per_litre=0.1, age_days=2, strength=0.95),
            carrier_glass=True,
            mixing_box="6x6",
            print_size=(203.2, 254.0),
            column_mark="41.5",
            note="Nº 3 – ein Streifen",
        ),
        ExposureRow(trial_id=1, position=0, role="made", setting=setting),
        PatchReading(
            exposure_id=1,
            density=(0.71, 0.72, 0.73),
            standard_error=0.004,
            beyond=(False, True, False),
            flags=(Flag.DUSTY, Flag.WET),
            scan=SHA,
            box=(10.0, 20.0, 30.5, 40.0),
            wet=True,
            device="flatbed",
            as_entered="0,71",
        ),
        JudgementRecord(
            exposure_id=1,
            judgement=Judgement(cast=Cast.CYAN, strength=7.5, stops_too_dark=-0.25, person="Ana", wet=True),
            at=NOON,
            light="window",
            filter_at_eye=True,
            as_entered="a trace cyan",
        ),
        KeptMark(exposure_id=1, at=NOON),
        Costs(minute=1, sheet=2, strip=0.3, millilitre=0.02, cycle_minutes=15),
        Tolerances(good_alone_cc=3, good_alone_time=0.2, edition_delta_e=2),
        Repeatability(alike_cc=1.6),
        Preferences(length_unit="inch", decimal_mark=",", currency="crown"),
    ]


def test_every_kind_comes_back_as_it_was_recorded(db):
    with db.transaction() as conn:
        for value in one_of_each():
            recorded = add(conn, value)
            (back,) = every(conn, type(value), id=recorded.id)
            assert dataclasses.replace(back, created_at=None) == recorded
            assert dataclasses.replace(back, id=0, version=0, created_at=None) == value
            assert back.created_at.tzinfo is not None


def test_no_field_of_the_round_trip_is_at_its_default():
    kept = {"id", "version", "created_at", "removed", "trial_id", "exposure_id"}
    for value in one_of_each():
        for field in dataclasses.fields(value):
            if field.name not in kept and field.default is not dataclasses.MISSING and field.name not in ("role",):
                assert getattr(value, field.name) != field.default, (type(value), field.name)


def test_a_correction_is_a_new_row_and_the_old_one_stays(db):
    with db.transaction() as conn:
        film = add(conn, Film(name="Film"))
        add(conn, Frame(name="Frame", film="Film"))
        corrected = correct(conn, dataclasses.replace(film, name="Holiday"))
        assert corrected.version == 2
        assert [row["name"] for row in history(conn, film)] == ["Film", "Holiday"]
        assert find(conn, Frame, "Frame").film == "Holiday"
        with pytest.raises(UnknownRecord):
            find(conn, Film, "Film")


def test_a_stale_correction_is_refused_in_words(db):
    with db.transaction() as conn:
        film = add(conn, Film(name="Film"))
        correct(conn, dataclasses.replace(film, note="first"))
        with pytest.raises(ChangedMeanwhile, match=r"changed meanwhile: you read version 1, now it is 2. Look at it"):
            correct(conn, dataclasses.replace(film, note="second"))
        assert find(conn, Film, "Film").note == "first"


def test_two_corrections_of_one_version_break_a_rule_of_the_database_itself(db):
    with db.transaction() as conn:
        film = add(conn, Film(name="Film"))
        correct(conn, dataclasses.replace(film, note="first"))
    with pytest.raises(Refused, match=r"does not allow this"), db.transaction() as conn:
        conn.execute(sa.insert(Film.table).values(name="Film", corrects_id=film.id, version=2))


def test_a_removed_record_is_out_of_sight_but_what_names_it_keeps_it(db):
    with db.transaction() as conn:
        film = add(conn, Film(name="Film"))
        add(conn, Frame(name="Frame", film="Film"))
        remove(conn, film)
        assert every(conn, Film) == []
        assert find(conn, Frame, "Frame").film == "Film"
        with pytest.raises(ChangedMeanwhile, match=r"was removed meanwhile"):
            correct(conn, film)
        assert [row["removed"] for row in history(conn, film)] == [False, True]


def test_what_was_removed_is_brought_back_as_it_stood_and_every_step_stays(db):
    with db.transaction() as conn:
        film = add(conn, Film(name="Film"))
        frame = correct(conn, dataclasses.replace(add(conn, Frame(name="Frame", film="Film")), note="fog"))
        with pytest.raises(ChangedMeanwhile, match=r"counts already"):
            bring_back(conn, frame)
        remove(conn, film)
        # what it names was removed: that is no reason why it could not be
        remove(conn, frame)
        (gone,) = every_ever(conn, Frame, name="Frame")
        assert (gone.removed, gone.note, gone.film) == (True, "fog", "Film")
        with pytest.raises(UnknownRecord, match=r'The frame "Frame" was taken back .* Bring it back first'):
            find(conn, Frame, "Frame")
        with pytest.raises(ChangedMeanwhile, match=r"you read version 2, now it is 3"):
            bring_back(conn, frame)
        back = bring_back(conn, gone)
        assert dataclasses.replace(find(conn, Frame, "Frame"), created_at=None) == back
        assert [row["removed"] for row in history(conn, frame)] == [False, False, True, False]


def test_every_ever_is_every_with_what_was_removed(db):
    with db.transaction() as conn:
        kept, gone = add(conn, Film(name="One")), add(conn, Film(name="Two"))
        correct(conn, dataclasses.replace(kept, note="corrected"))
        remove(conn, gone)
        assert [(film.name, film.note, film.removed) for film in every_ever(conn, Film)] == [
            ("One", "corrected", False),
            ("Two", "", True),
        ]
        assert [film.removed for film in every(conn, Film)] == [False]


def test_a_name_belongs_to_one_record_for_good(db):
    with db.transaction() as conn:
        film = add(conn, Film(name="Film"))
        correct(conn, dataclasses.replace(film, name="Other"))
        for name in ("Film", "Other", "  Other "):
            with pytest.raises(ValueOutOfRange, match=r'"(Film|Other)" is or was in the studio; choose another name'):
                add(conn, Film(name=name))
        third = add(conn, Film(name="Third"))
        with pytest.raises(ValueOutOfRange, match=r"choose another name"):
            correct(conn, dataclasses.replace(third, name="Film"))


def test_an_unknown_name_lists_near_ones(db):
    with db.transaction() as conn:
        with pytest.raises(UnknownRecord, match=r'No film is called "Holiday". There is no film yet; add it first.'):
            find(conn, Film, "Holiday")
        for name in ("Holiday 1", "Holiday 2", "Garden"):
            add(conn, Film(name=name))
        with pytest.raises(UnknownRecord, match=r'called "holidy 1". Near it: "Holiday 1", "Holiday 2"'):
            add(conn, Frame(name="Frame", film="holidy 1"))
        with pytest.raises(UnknownRecord, match=r'There is "Garden", "Holiday 2", "Holiday 1"\.'):
            find(conn, Film, "zzz")


@pytest.mark.parametrize("name", ["", "   "])
def test_a_name_that_is_empty_is_asked_for(name):
    with pytest.raises(ValueOutOfRange, match=r"No film is named. Give its name: 1 to 200 letters"):
        clean_name("film", name)


@pytest.mark.parametrize("name", ["a\x00b", "x" * 201, "\u202e"])
def test_a_name_that_cannot_be_read_is_refused(name):
    with pytest.raises(ValueOutOfRange, match=r"cannot be the name of a film; give 1 to 200"):
        clean_name("film", name)


def test_names_are_equal_however_they_were_typed(db):
    with db.transaction() as conn:
        add(conn, Film(name=" Cafe\u0301  de  noche "))
        assert find(conn, Film, "Caf\u00e9 de noche").name == "Caf\u00e9 de noche"


@pytest.mark.parametrize("table", sorted(t.name for t in metadata.tables.values() if "corrects_id" in t.c))
def test_no_row_of_the_record_can_be_changed_or_deleted(table):
    names = set(metadata.tables[table].columns.keys())
    assert {"id", "created_at", "corrects_id", "version", "removed"} <= names
    with Database.in_memory() as database, database.reading() as conn:
        triggers = set(
            conn.exec_driver_sql(
                "SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = ?", (table,)
            ).scalars()
        )
    assert triggers >= {f"{table}_never_changed", f"{table}_never_deleted"}


@pytest.mark.parametrize("statement", ["UPDATE films SET note = 'x'", "DELETE FROM films"])
def test_changing_a_row_behind_the_back_is_refused(db, statement):
    with db.transaction() as conn:
        add(conn, Film(name="Film"))
    words = r"records are only added to: a (correction|removal) is a new row"
    with pytest.raises(Refused, match=words), db.transaction() as conn:
        conn.exec_driver_sql(statement)
    with db.reading() as conn:
        assert find(conn, Film, "Film").note == ""


@pytest.mark.parametrize(
    "statement",
    [
        "INSERT INTO frames (name, film_id, aim_lightness, aim_a, aim_b) VALUES ('f', 99, 52, 0, 0)",
        "INSERT INTO films (name, version) VALUES ('f', 2)",
        "INSERT INTO films (name) VALUES (NULL)",
        "INSERT INTO scans (sha256, path, size, media_type, original_name) VALUES ('short', 'p', 1, 't', '')",
        "INSERT INTO preferences (length_unit, decimal_mark, currency) VALUES ('cubit', '.', 'c')",
        "INSERT INTO costs (minute, sheet, strip, millilitre, cycle_minutes) VALUES (1, 1, -1, 1, 1)",
    ],
)
def test_rows_that_cannot_be_are_refused_by_the_database(db, statement):
    words = r"The record does not allow this: .* Nothing was written"
    with pytest.raises(Refused, match=words), db.transaction() as conn:
        conn.exec_driver_sql(statement)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Head(name="h", kind="magic"), '"magic" is not a kind of head; use one of subtractive'),
        (lambda: Head(name="h", dial_step=0), 'Head "h": dial_step is 0; it must be above 0'),
        (lambda: Lens(name="l", pupil_factor=0), 'Lens "l": pupil factor is 0; it must be above 0'),
        (lambda: Frame(name="f", film="x", reference=(1.5, 0)), "outside the picture; give shares"),
        (lambda: Frame(name="f", film="x", aim=(120, 0, 0)), "cannot be a colour; give L"),
        (lambda: Bath(name="b", process="p", mixed_at=NOON, volume=0), "volume is 0 mL; it must be above 0"),
        (lambda: Run(name="r", bath="b", at=NOON, area=-1), 'Run "r": area is -1 m2; it must be 0 or more'),
        (lambda: Process(name="p", developer_time=float("nan")), "developer time is nan s"),
        (lambda: FrameAim(frame="f", family="p", density=(9, 0, 0)), "cannot be a print's density"),
        (lambda: PatchReading(density=(float("nan"), 0, 0)), "cannot be those of a print; they run from 0"),
        (lambda: PatchReading(density=(0.7, 0.7, 0.7), standard_error=-1), "Error of the density is -1"),
        (lambda: Costs(strip=-1), "Costs: strip is -1; give 0 or more"),
        (lambda: Tolerances(edition_delta_e=float("inf")), "Tolerances: edition delta e is inf"),
        (lambda: Repeatability(alike_cc=0), "cannot scatter by 0 CC. Give 0.3 to 5"),
        (lambda: Repeatability(alike_cc=float("nan")), "cannot scatter by nan CC"),
        (lambda: Preferences(length_unit="cubit"), 'The length unit "cubit" cannot be; use one of cm inch'),
    ],
)
def test_a_value_that_cannot_be_says_what_where_and_what_to_do(make, words):
    with pytest.raises(ValueOutOfRange) as caught:
        make()
    assert words in str(caught.value)


def test_settings_of_the_studio_have_defaults_and_the_newest_counts(db):
    with db.transaction() as conn:
        assert settled(conn, Costs) == Costs()
        first = settle(conn, Costs(sheet=2))
        settle(conn, Costs(sheet=3))
        assert settled(conn, Costs).sheet == 3
        with pytest.raises(ChangedMeanwhile):
            settle(conn, dataclasses.replace(first, sheet=4))


def test_a_bath_grows_older_from_its_mixing_or_from_what_was_declared(db):
    with db.transaction() as conn:
        add(conn, Process(name="p"))
        add(conn, Bath(name="b", process="p", mixed_at=NOON))
        assert bath_state(conn, "b", NOON.replace(day=4)) == BathState(age_days=3)
        assert bath_state(conn, "b", NOON.replace(month=1)) == BathState()
        declared = BathState(area_per_litre=0.5, age_days=10, strength=0.8)
        add(conn, DeclaredBathState(bath="b", at=NOON.replace(day=3), state=declared))
        assert bath_state(conn, "b", NOON.replace(day=2)) == BathState(age_days=1)
        assert bath_state(conn, "b", NOON.replace(day=5)) == BathState(area_per_litre=0.5, age_days=12, strength=0.8)
        with pytest.raises(UnknownRecord, match=r'No bath is called "c". There is "b"'):
            bath_state(conn, "c", NOON)


def test_the_next_trial_name_is_never_taken(db):
    with db.transaction() as conn:
        values = {type(value): value for value in one_of_each()}
        for kind in (Scan, Head, Lens, Film, Frame, PaperFamily, Lot, Process, Bath, Run):
            add(conn, values[kind])
        assert next_name(conn) == "T1"
        add(conn, dataclasses.replace(values[TrialRow], name="T2", entry_key=None))
        assert next_name(conn) == "T3"
        assert latest(conn, TrialRow).name == "T2"


@given(st.datetimes(datetime(1900, 1, 1), datetime(2100, 12, 31), timezones=st.just(UTC)))
def test_moments_are_kept_to_the_microsecond_and_sort_as_text(moment):
    text = moment_to_text(moment)
    assert datetime.fromisoformat(text) == moment
    assert len(text) == 27


def test_a_record_was_written_now_unless_it_is_invented_and_says_when(db):
    with db.transaction() as conn:
        add(conn, Film(name="now"))
        add(conn, Film(name="then", created_at=NOON))
        correct(conn, dataclasses.replace(find(conn, Film, "then"), note="corrected"))
    with db.reading() as conn:
        then = find(conn, Film, "then")
        assert history(conn, then)[0]["created_at"] == NOON
        for written in (find(conn, Film, "now").created_at, then.created_at):
            assert abs((datetime.now(UTC) - written).total_seconds()) < 60
