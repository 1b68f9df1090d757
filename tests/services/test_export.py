"""The whole studio out to plain files and back without loss."""

import csv
import errno
import io
import json
import math
import os
import re
import subprocess
import sys
import zipfile
from datetime import UTC, datetime

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from printlore.core.bath.kit import Part, Use
from printlore.core.control.limits import Wedge
from printlore.core.edition.state import PrintEvent
from printlore.core.evening.events import FrameListed
from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Burn, Setting
from printlore.core.memory.evidence import Cast, Judgement, NegativeReading
from printlore.errors import Refused, StudioUnavailable, UnreadableFile
from printlore.records import database
from printlore.records.database import Database
from printlore.records.negatives import Film, Frame
from printlore.records.stock import BoxRecord, Happened, RollRecord
from printlore.records.transfer import rows_of, table_names
from printlore.records.trials import PatchReading
from printlore.services.aims import state_density
from printlore.services.baths import bleed, define_kit, log_run, mix_bath
from printlore.services.control import log_control
from printlore.services.editions import (
    add_edition,
    change_edition,
    edition_view,
    number_print,
    take_print_back,
)
from printlore.services.entry import (
    add_bath,
    add_film,
    add_frame,
    add_lot,
    correct_record,
    find_record,
    keep_scan,
    read_negative,
    remove_record,
)
from printlore.services.evening import open_evening, write
from printlore.services.evidence import load_evidence
from printlore.services.export import export_studio, import_studio
from printlore.services.print_lines import add_line, take_print_line_back, write_certificate
from printlore.services.stock import book_roll, book_sheets, receive_box, receive_roll
from printlore.services.trials import PatchEntry, TrialEntry, correct_trial, list_trials, log_trial, remove_trial
from printlore.services.waste import add_container, pour_waste


def everything(db):
    with db.reading() as conn:
        rows = {table: list(rows_of(conn, table)) for table in table_names()}
    return rows, {name: db.scans.get(name) for name in db.scans.names()}


def furnish(db, notes=("a",)):
    """A studio with a history: scans, corrections, removals, all kinds of text."""
    film = add_film(db, "Caf\u00e9 \u2013 d\u00e9j\u00e0 vu")
    scan = keep_scan(db, b"\x00\xffpixels", media_type="image/tiff", original_name="tira \u4e09.tif")
    add_frame(db, "Harbour", film=film.name, reference=(0.1, 0.9), thumbnail=scan.sha256)
    read_negative(db, "Harbour", NegativeReading(density=(0.1, 1 / 3, 0.3)), as_entered="0,10 / 1/3")
    for note in notes:
        setting = Setting(pack=FilterPack(magenta=10 / 3, yellow=40), time=9.1, burns=(Burn(name=note or "x", time=2),))
        reading = PatchReading(density=(0.7, 0.1 + 0.2, 0.72), scan=scan.sha256, box=(1.5, 2, 3, 4))
        patches = (
            PatchEntry(setting=setting, reading=reading, kept=True),
            PatchEntry(setting=setting, judgement=Judgement(cast=Cast.RED, strength=1 / 3), light=note),
        )
        log_trial(db, TrialEntry(patches=patches, note=note, frame="Harbour", key=note))
    first, *rest = list_trials(db)
    _sell(db, first.name)
    correct_trial(db, first.name, version=1, note="corrected", settings={0: Setting(pack=FilterPack(), time=1)})
    if rest:
        remove_trial(db, rest[-1].name, version=1)
    correct_record(db, find_record(db, Film, film.name), name="Holiday, \"quoted\"; 'twice'\tand more")
    remove_record(db, add_film(db, "mistake"))


def _sell(db, sheet):
    """A numbered print with lines that count and lines that were taken back."""
    edition = add_edition(db, "Caf\u00e9, morning", frame="Harbour", prints=3, proofs=1)
    code = number_print(db, edition.name, trial=sheet).print.name
    write_certificate(db, code)
    take_print_line_back(db, add_line(db, code, PrintEvent.SOLD, price=1 / 3, person="x\ny"))
    take_print_back(db, number_print(db, edition.name, proof=True).print)
    change_edition(db, edition, prints=4, reason="one more", confirmed=True)


@pytest.mark.parametrize("target", ["out", "out.zip"])
def test_everything_comes_back(tmp_path, studio, target):
    furnish(studio, ("a", "b", "line\nbreak"))
    done = export_studio(studio, tmp_path / target)
    with Database.open(tmp_path / "again") as again:
        back = import_studio(again, tmp_path / target)
        assert everything(again) == everything(studio)
        assert (back.rows, back.scans) == (done.rows, done.scans)
        assert load_evidence(again) == load_evidence(studio)
        assert find_record(again, Frame, "Harbour") == find_record(studio, Frame, "Harbour")
        add_film(again, "next")
        assert (
            find_record(again, Film, "next").id > find_record(studio, Film, "Holiday, \"quoted\"; 'twice' and more").id
        )


@settings(max_examples=6, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.text(max_size=40), min_size=1, max_size=4, unique=True))
def test_any_text_comes_back(tmp_path_factory, notes):
    with Database.in_memory() as one, Database.in_memory() as two:
        furnish(one, notes)
        path = tmp_path_factory.mktemp("export") / "studio.zip"
        export_studio(one, path)
        import_studio(two, path)
        assert everything(two) == everything(one)


def test_the_tables_can_be_read_by_any_program(tmp_path, db):
    furnish(db, ('line\nbreak, and "quotes"',))
    export_studio(db, tmp_path / "out.zip")
    with zipfile.ZipFile(tmp_path / "out.zip") as archive:
        rows = list(csv.DictReader(io.StringIO(archive.read("csv/trials.csv").decode("utf-8-sig"), newline="")))
        exposures = list(csv.DictReader(io.StringIO(archive.read("csv/exposures.csv").decode("utf-8-sig"), newline="")))
        about = json.loads(archive.read("studio.json"))
    assert rows[0]["note"] == 'line\nbreak, and "quotes"'
    assert [row["version"] for row in rows] == ["1", "2"]
    assert float(exposures[0]["magenta"]) == 10 / 3
    assert about["rows"]["trials"] == 2


def test_an_export_never_writes_over_anything(tmp_path, db):
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "precious.txt").write_text("x")
    (tmp_path / "out.zip").write_text("x")
    for name in ("out", "out.zip"):
        with pytest.raises(Refused, match=r"There is something at .* already\. Choose a new name"):
            export_studio(db, tmp_path / name)


def test_an_import_never_mixes_with_what_is_there(tmp_path, db):
    export_studio(db, tmp_path / "out")
    add_film(db, "Holiday")
    with pytest.raises(Refused, match=r"This studio already has records \(in films\)\. Bring an export into a new"):
        import_studio(db, tmp_path / "out")


def spoiled(tmp_path, spoil):
    with Database.in_memory() as db:
        furnish(db)
        export_studio(db, tmp_path / "out")
    spoil(tmp_path / "out")
    return tmp_path / "out"


def rewrite(path, old, new):
    path.write_text(path.read_text().replace(old, new))


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda out: (out / "studio.json").unlink(), "is not a whole export of a studio"),
        (lambda out: (out / "studio.json").write_text("{}"), "is not an export of a studio"),
        (lambda out: (out / "studio.json").write_text("{"), "studio.json of the export cannot be read"),
        (lambda out: rewrite(out / "studio.json", '"revision": "', '"revision": "9'), "at revision 9"),
        (lambda out: (out / "json" / "films.json").unlink(), "is not a whole export of a studio"),
        (lambda out: (out / "json" / "lenses.json").write_text("["), "lenses of the export cannot be read"),
        (lambda out: (out / "json" / "kept_marks.json").write_text("[]"), "Table kept_marks has 0 rows, but 1 were"),
        (lambda out: rewrite(out / "json" / "films.json", '"stock"', '"sock"'), "the columns sock, stock"),
        (lambda out: next((out / "scans").glob("*/*")).write_bytes(b"x"), "is damaged. Export again"),
        (lambda out: next((out / "scans").glob("*/*")).unlink(), "is not a whole export of a studio"),
    ],
)
def test_a_spoiled_export_is_refused_in_words_and_nothing_is_brought_in(tmp_path, db, spoil, words):
    path = spoiled(tmp_path, spoil)
    with pytest.raises(UnreadableFile) as caught:
        import_studio(db, path)
    assert words in str(caught.value)
    assert not any(everything(db)[0].values())


def spoil_zip(path, name, *, flags=0, method=8, content=b""):
    """Change a part of a zip where it lies: its flags, how it says it is packed, its first bytes."""
    with zipfile.ZipFile(path) as archive:
        part = archive.getinfo(name)
    whole = bytearray(path.read_bytes())
    inside = part.header_offset + 30 + len(name)
    whole[inside : inside + len(content)] = content
    central = whole.rindex(name.encode()) - 46
    for at in (part.header_offset + 6, central + 8):
        whole[at : at + 4] = bytes([flags, 0, method, 0])
    path.write_bytes(whole)


@pytest.mark.parametrize(
    ("how", "words"),
    [
        ({"content": b"\xff" * 20}, "json/films.json: Error -3 while decompressing data"),
        ({"flags": 1}, "'json/films.json' is encrypted"),
        ({"method": 99}, "json/films.json: That compression method is not supported"),
    ],
)
def test_a_zip_that_is_damaged_or_locked_is_refused_in_words(tmp_path, studio, db, how, words):
    furnish(studio)
    export_studio(studio, tmp_path / "out.zip")
    spoil_zip(tmp_path / "out.zip", "json/films.json", **how)
    with pytest.raises(UnreadableFile, match="is not a whole export of a studio: ") as caught:
        import_studio(db, tmp_path / "out.zip")
    assert words in str(caught.value)
    assert not any(everything(db)[0].values())


def test_what_is_no_export_is_refused(tmp_path, db):
    (tmp_path / "file.zip").write_bytes(b"PK nothing")
    for path in (tmp_path / "file.zip", tmp_path / "nowhere", tmp_path):
        with pytest.raises(UnreadableFile, match=r"is not a whole export of a studio: .* Export again from the source"):
            import_studio(db, path)


def test_an_old_export_time_is_said(tmp_path, db):
    export_studio(db, tmp_path / "out")
    about = json.loads((tmp_path / "out" / "studio.json").read_text())
    assert abs((datetime.now(UTC) - datetime.fromisoformat(about["exported_at"])).total_seconds()) < 60


@pytest.mark.parametrize("there", [True, False])
@pytest.mark.parametrize("name", ["out.zip", "out"])
def test_a_disk_that_fills_while_exporting_leaves_nothing(tmp_path, studio, monkeypatch, name, there):
    furnish(studio)
    if there and name == "out":
        (tmp_path / name).mkdir()
    before = sorted(tmp_path.rglob("out*"))

    def no_room(*_, **__):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    # the last part of all
    monkeypatch.setattr(os, "replace", no_room)
    with pytest.raises(UnreadableFile, match=r"No space left on device\. Make room on that disk"):
        export_studio(studio, tmp_path / name)
    assert sorted(tmp_path.rglob("out*")) == before
    monkeypatch.undo()
    assert export_studio(studio, tmp_path / name).scans == 1


def test_an_export_onto_what_is_no_folder_is_refused(tmp_path, db):
    with pytest.raises(Refused, match=r"There is something at /dev/null already"):
        export_studio(db, os.devnull)
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(UnreadableFile, match=r"cannot be written: (Not a directory|File exists)"):
        export_studio(db, tmp_path / "file" / "below" / "out.zip")


@pytest.mark.parametrize(
    ("name", "change"),
    [
        ("json/trials.json", lambda rows: [rows[0] | {"name": []}, *rows[1:]]),
        ("json/trials.json", lambda rows: [rows[0] | {"note": "\ud800"}, *rows[1:]]),
        ("json/trials.json", lambda rows: [rows[0] | {"kind": "poster"}, *rows[1:]]),
        ("json/trials.json", lambda rows: [rows[0] | {"version": 10**30}, *rows[1:]]),
        ("json/trials.json", lambda rows: list(range(len(rows)))),
        ("studio.json", lambda about: about | {"rows": []}),
        ("studio.json", lambda about: {key: value for key, value in about.items() if key != "scans"}),
    ],
)
def test_an_export_that_was_changed_is_refused_in_words_and_nothing_comes_in(tmp_path, studio, db, name, change):
    furnish(studio)
    export_studio(studio, tmp_path / "out")
    path = tmp_path / "out" / name
    path.write_text(json.dumps(change(json.loads(path.read_text(encoding="utf-8")))), encoding="utf-8")
    with pytest.raises(UnreadableFile, match=r"[Ee]xport again"):
        import_studio(db, tmp_path / "out")
    assert list_trials(db) == []


EVENING = datetime(2026, 3, 14, 20, tzinfo=UTC).timestamp()


def forge(path, table, **changes):
    """Change the newest row of a table of an export; gives what stood there."""
    file = path / "json" / f"{table}.json"
    rows = json.loads(file.read_text(encoding="utf-8"))
    was = {column: rows[-1][column] for column in changes}
    rows[-1] |= changes
    file.write_text(json.dumps(rows), encoding="utf-8")
    return was


@pytest.mark.parametrize(
    ("table", "forged", "words"),
    [
        ("editions", {"prints": 10**9}, r"1000000000 prints cannot be promised; give 1 to 10000"),
        ("editions", {"proofs": "some"}, r"some artist's proofs cannot be promised"),
        ("editions", {"name": "Caf\u00e9,  morning "}, r"is not written as the name of an edition is kept"),
        ("editions", {"name": "\u0007"}, r"'\\x07' cannot be the name of an edition; give 1 to 200 letters"),
        ("editions", {"created_at": "2026-03-14T21:30:00"}, r"created_at of row 2 is .*, which is no moment in UTC"),
        ("numbered_prints", {"width": 20_000.0, "height": 2.0}, r"A print of 20000 x 2 mm cannot be; give sides above"),
        ("numbered_prints", {"printed_on": "2026-W11"}, r'"2026-W11" is no day; write year, month and day'),
        ("print_lines", {"price": math.inf}, r"A price of inf cannot be; give 0 or more, or leave it empty"),
        ("print_lines", {"at": "yesterday"}, r"at of row \d is 'yesterday', which is no moment in UTC"),
        ("print_lines", {"at": "0001-01-01T00:00:00.000000Z"}, r"The date 0001-01-01 cannot be that of a record"),
        ("exposures", {"time": 1e9}, r"Table exposures, exposure \d: .*1e\+09 s"),
        ("exposures", {"burns": [1]}, r"Table exposures, exposure \d: it cannot be read \(TypeError"),
        ("patch_readings", {"red": -math.inf}, r"Table patch_readings, "),
        ("negative_readings", {"source": None}, r"Table negative_readings "),
        (
            "evening_events",
            {"kind": "danced"},
            r"Table evening_events, of \".*\": it cannot be read \(KeyError\('danced'\)\)\.",
        ),
    ],
)
def test_an_import_refuses_in_words_what_no_page_could_show(tmp_path, studio, db, table, forged, words):
    furnish(studio)
    record = open_evening(studio, now=EVENING)
    write(studio, record, FrameListed(frame="Harbour"), key="one", device="bench", now=EVENING)
    path = tmp_path / "out"
    export_studio(studio, path)
    was = forge(path, table, **forged)
    with pytest.raises(UnreadableFile, match=words) as caught:
        import_studio(db, path)
    assert "Nothing was brought in" in str(caught.value)
    assert not any(everything(db)[0].values())
    forge(path, table, **was)
    import_studio(db, path)
    assert everything(db) == everything(studio)


EARLIER, LATER = "2001-03-01T12:00:00.000000Z", "2090-05-04T12:00:00.000000Z"


def furnish_books(db):
    """A bath, a box, a waste container and an edition, each with a line that later ones rest on."""
    define_kit(db, "kit", Use.DEVELOPER, [Part(name="A", per_litre=100)])
    mix_bath(db, "bath", "45 s", "kit", 500, new_process=True)
    bleed(db, "bath", 50)
    add_lot(db, "lot", paper="matt", new_paper=True)
    receive_box(db, BoxRecord(name="box", lot="lot", along=254, across=203), 50)
    receive_roll(db, RollRecord(name="roll", lot="lot", width=305, stated_length=84_000, received_at=datetime.now(UTC)))
    book_roll(db, "roll", Happened.SPOILED, 100)
    book_sheets(db, "box", Happened.SPOILED, 2)
    add_container(db, "can", "developer", 10)
    pour_waste(db, "can", 2, "spent")
    add_frame(db, "Quay", film=add_film(db, "film").name)
    add_bath(db, "other", process="45 s")
    log_run(db, "bath", 0.05, name="load")
    log_control(db, "bath", Wedge(white=(0.1,) * 3, light=(0.7,) * 3, dark=(1.4,) * 3, black=(2.3,) * 3))
    patch = PatchEntry(setting=Setting(pack=FilterPack(), time=8), kept=True)
    log_trial(db, TrialEntry(patches=(patch,), frame="Quay", lot="lot", bath="bath", run="load"))
    state_density(db, "Quay", "matt", (0.6, 0.6, 0.6))
    add_edition(db, "Quay", frame="Quay", prints=3)
    write_certificate(db, number_print(db, "Quay").print.name)


@pytest.mark.parametrize(
    ("table", "forged", "words"),
    [
        ("bath_events", {"volume": 10_000.0}, r'The bath "bath": A bleed on day 0: .* mL taken out, but only 500'),
        ("stock_lines", {"sheets": -500}, r'The box "box": 500 were spoiled on .*, and only 50 would have been there'),
        ("waste_entries", {"litres": 100.0}, r'The waste "can": "can" takes 10 L and would have held 100 L'),
        ("numbered_prints", {"number": 9}, r'has number 9, and "Quay" promises 3 of its kind'),
        ("print_lines", {"digest": "00"}, r"The record of a certificate does not fit its digest"),
        ("frames", {"removed": 1}, r'"Quay" is of "Quay", which was taken back and does not count'),
        (
            "frame_aims",
            {"density": [0, 0, 0]},
            r'The density stated for "Quay": No print on the paper "matt" comes out at',
        ),
        (
            "runs",
            {"at": EARLIER},
            r'Of the bath "bath", mixed on .*, the load "load" on 1 Mar 2001 is dated',
        ),
        ("runs", {"bath_id": 2}, r'T1 was in the load "load" of the bath "other", and is said to be of "bath"'),
        (
            "control_readings",
            {"at": EARLIER},
            r'Of the bath "bath", mixed on .*, control patch 1 on 1 Mar 2001 is',
        ),
        ("lots", {"received_at": LATER}, r'Of the lot "lot", which came on 4 May 2090, T1 on '),
        (
            "rolls",
            {"received_at": LATER},
            r'Of the roll "roll", which came on 4 May 2090, line 2 of',
        ),
        ("paper_families", {"removed": 1}, r'The lot "lot" is of the paper "matt", which was taken back'),
    ],
)
def test_records_that_cannot_all_be_as_they_stand_come_in_and_are_told(tmp_path, studio, db, table, forged, words):
    furnish_books(studio)
    path = tmp_path / "out"
    export_studio(studio, path)
    forge(path, table, **forged)
    (doubt,) = import_studio(db, path).doubts
    assert re.search(words, doubt)


def test_a_studio_whose_records_go_together_comes_in_without_a_doubt(tmp_path, studio, db):
    furnish_books(studio)
    export_studio(studio, tmp_path / "out")
    assert import_studio(db, tmp_path / "out").doubts == ()


def test_what_is_no_volume_that_was_drawn_from_a_bottle_does_not_come_in(tmp_path, studio, db):
    furnish_books(studio)
    export_studio(studio, tmp_path / "out")
    forge(tmp_path / "out", "bath_events", drawn={"bottle": "much"})
    with pytest.raises(UnreadableFile, match=r"what was drawn from its bottles is .* give each its mL, 0 or more"):
        import_studio(db, tmp_path / "out")


def test_a_print_code_that_was_misread_does_not_come_in(tmp_path, studio, db):
    furnish(studio)
    export_studio(studio, tmp_path / "out")
    rows = json.loads((tmp_path / "out" / "json" / "numbered_prints.json").read_text())
    for code, words in (
        ("MN4F-TRX", "its check character does not fit"),
        (rows[0]["name"].lower(), "is not written as codes are"),
    ):
        forged = [row | {"name": code} if row["name"] == rows[0]["name"] else row for row in rows]
        (tmp_path / "out" / "json" / "numbered_prints.json").write_text(json.dumps(forged))
        with pytest.raises(UnreadableFile, match=words):
            import_studio(db, tmp_path / "out")


def test_what_was_put_right_since_may_come_in_as_it_was(tmp_path, studio, db):
    """No page reads an older version as a value: what was once written under other limits is no obstacle."""
    furnish(studio)
    export_studio(studio, tmp_path / "out")
    file = tmp_path / "out" / "json" / "editions.json"
    first, *later = json.loads(file.read_text())
    file.write_text(json.dumps([first | {"prints": 10**9}, *later]))
    import_studio(db, tmp_path / "out")
    assert [one.prints for one in edition_view(db, first["name"]).promises] == [10**9, 4]


def names_in(folder):
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*"))


@pytest.mark.parametrize("place", ["new/folder/studio", "there", "begun"])
def test_an_export_that_cannot_come_in_leaves_nothing_that_was_not_there_before(tmp_path, place):
    """From the command line, into no folder yet, into one with other things, and into an empty studio."""
    path = spoiled(tmp_path, lambda out: rewrite(out / "json" / "films.json", '"stock"', '"sock"'))
    (tmp_path / "there").mkdir()
    (tmp_path / "there" / "precious.txt").write_text("x")
    Database.open(tmp_path / "begun").close()
    before = names_in(tmp_path)
    call = [sys.executable, "-m", "printlore.faces.cli.main", "import", str(path), "--studio", str(tmp_path / place)]
    done = subprocess.run(call, capture_output=True, text=True, check=False)
    assert (done.returncode, "the columns sock, stock" in done.stderr) == (3, True), done.stderr
    assert names_in(tmp_path) == before
    rewrite(path / "json" / "films.json", '"sock"', '"stock"')
    assert subprocess.run(call, capture_output=True, check=False).returncode == 0
    with Database.open(tmp_path / place, create=False) as db:
        assert [trial.row.note for trial in list_trials(db)] == ["corrected"]


def test_where_no_studio_can_be_made_none_is_begun(tmp_path, monkeypatch):
    def full(_):
        raise StudioUnavailable("the disk is full")

    monkeypatch.setattr(database, "_make_tables", full)
    with pytest.raises(StudioUnavailable, match="the disk is full"), Database.made(tmp_path / "new" / "studio"):
        pass
    assert names_in(tmp_path) == []


def test_scans_of_an_export_that_cannot_come_in_are_let_go_of_again(tmp_path, studio):
    """The last of its scans is damaged: those before it were kept already."""
    with Database.in_memory() as db:
        for content in (b"one", b"two", b"three"):
            keep_scan(db, content, media_type="image/tiff")
        export_studio(db, tmp_path / "out")
    last = sorted((tmp_path / "out" / "scans").glob("*/*"))[-1]
    content = last.read_bytes()
    last.write_bytes(b"x")
    mine = studio.scans.put(b"mine")
    with pytest.raises(UnreadableFile, match=r"is damaged\. Export again"):
        import_studio(studio, tmp_path / "out")
    assert studio.scans.names() == [mine]
    last.write_bytes(content)
    assert import_studio(studio, tmp_path / "out").scans == 3


def test_a_studio_that_somebody_else_fills_meanwhile_is_not_thrown_away(tmp_path):
    def fail():
        with Database.made(tmp_path / "studio"):
            with Database.open(tmp_path / "studio") as other:
                add_film(other, "theirs")
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail()
    with Database.open(tmp_path / "studio", create=False) as db:
        assert find_record(db, Film, "theirs").name == "theirs"
