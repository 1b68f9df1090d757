"""The edition ledger: numbers are given once, promises stay readable, and a certificate can be compared later."""

import json
import re
import subprocess
import threading
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
import sqlalchemy as sa

from printlore.core.edition.code import read_code
from printlore.core.edition.record import digest
from printlore.core.edition.state import Place, PrintEvent
from printlore.core.figure import DECIMAL_MARK
from printlore.core.flags import Flag
from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Setting
from printlore.errors import ChangedMeanwhile, Refused, UnknownRecord, ValueOutOfRange
from printlore.records.database import Database
from printlore.records.editions import NumberedPrint
from printlore.records.papers import PaperFamily
from printlore.records.rows import add, every
from printlore.records.stock import BoxRecord
from printlore.records.studio import Costs
from printlore.records.transfer import rows_of, table_names
from printlore.records.trials import PatchReading
from printlore.services import edition_sheets, entry, print_lines
from printlore.services import editions as ledger
from printlore.services.edition_price import price_floor
from printlore.services.edition_sheets import care_pdf, care_words, certificate_pdf, labels_pdf, listing
from printlore.services.export import export_studio, import_studio
from printlore.services.stock import receive_box
from printlore.services.trials import PatchEntry, TrialEntry, correct_trial, find_trial, log_trial, remove_trial

START = datetime(2026, 3, 3, 19, 0, tzinfo=UTC)
SIZE = (203.0, 254.0)


def sheet(db, frame="low tide", kind="sheet", *, kept=True, hour=0, exposures=1):
    """The name of a logged sheet."""
    setting = Setting(pack=FilterPack(magenta=60, yellow=50), time=8.0)
    patch = PatchEntry(setting=setting, reading=PatchReading(density=(0.7, 0.7, 0.7)), kept=kept)
    at = START + timedelta(hours=hour)
    asked = TrialEntry(patches=(patch,) * exposures, kind=kind, frame=frame, at=at, print_size=SIZE)
    return log_trial(db, asked).name


def furnish(db):
    entry.add_head(db, "head")
    entry.add_paper(db, "semi-matt")
    entry.add_lot(db, "lot 7", paper="semi-matt")
    entry.add_process(db, "45 s")
    entry.add_bath(db, "bath", process="45 s", mixed_at=START - timedelta(days=1))
    entry.add_film(db, "film")
    entry.add_frame(db, "low tide", film="film")
    entry.add_frame(db, "market", film="film")
    ledger.add_edition(db, "Low tide", frame="low tide", prints=5, proofs=1, artist="A. Printer (invented)")


@pytest.fixture
def made(db):
    furnish(db)
    return db


def view(db, title="Low tide"):
    return ledger.edition_view(db, title)


def numbers(db, title="Low tide"):
    return [(one.facts.number_words, one.print.removed) for one in view(db, title).prints]


def test_a_print_takes_size_day_paper_and_lot_from_its_sheet(made):
    one = ledger.number_print(made, "Low tide", trial=sheet(made))
    assert one.facts.number_words == "1/5"
    assert (one.facts.size, one.facts.printed_on) == (SIZE, "2026-03-03")
    assert (one.facts.paper, one.facts.lot, one.facts.process) == ("semi-matt", "lot 7", "chromogenic print, 45 s")
    assert read_code(one.print.name) == one.print.name
    assert one.doubts == ()
    assert ledger.find_print(made, one.print.name.lower().replace("-", "")) == one


def test_a_print_that_was_never_logged_can_be_numbered_too(made):
    one = ledger.number_print(made, "Low tide", size=(300, 400), paper="glossy, from an old box")
    assert (one.facts.paper, one.facts.printed_on, one.facts.lot) == ("glossy, from an old box", None, "")
    with pytest.raises(ValueOutOfRange, match=r'"last spring" is no day; write year, month and day'):
        ledger.number_print(made, "Low tide", printed_on="last spring")


def test_numbers_go_on_and_proofs_are_counted_by_themselves(made):
    for _ in range(2):
        ledger.number_print(made, "Low tide", trial=sheet(made))
    ledger.number_print(made, "Low tide", proof=True)
    assert [words for words, _ in numbers(made)] == ["1/5", "2/5", "AP 1/1"]
    found = view(made)
    assert (found.next_number, found.next_proof, found.left, found.copies) == (3, None, 3, 3)
    with pytest.raises(Refused, match=r"promises 1 artist's proof, so there is no number 2\. Change the promise"):
        ledger.number_print(made, "Low tide", proof=True)
    with pytest.raises(Refused, match=r"promises 5 prints, so there is no number 6"):
        ledger.number_print(made, "Low tide", number=6)


def test_a_number_is_never_given_twice(made):
    first = ledger.number_print(made, "Low tide", number=3)
    with pytest.raises(Refused, match=rf"Number 3 was given already, to {first.print.name}\. A number is never given"):
        ledger.number_print(made, "Low tide", number=3)
    ledger.take_print_back(made, first.print)
    with pytest.raises(Refused, match=r"and taken back\. A number is never given twice: bring that print back"):
        ledger.number_print(made, "Low tide", number=3)
    assert ledger.number_print(made, "Low tide").print.number == 1
    assert numbers(made) == [("1/5", False), ("3/5", True)]
    back = ledger.bring_print_back(made, ledger.find_print(made, first.print.name).print)
    assert (back.number, back.removed) == (3, False)


def test_two_tabs_that_give_the_same_number_at_once_get_it_once(tmp_path):
    with Database.open(tmp_path / "studio") as one, Database.open(tmp_path / "studio") as other:
        furnish(one)
        ready, said = threading.Barrier(2), []

        def give(db):
            ready.wait()
            try:
                said.append(ledger.number_print(db, "Low tide", number=2).print.number)
            except Refused as why:
                said.append(str(why))

        threads = [threading.Thread(target=give, args=(db,)) for db in (one, other)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join(30)
        assert sorted(map(str, said))[0] == "2"
        assert "Number 2 was given already" in sorted(map(str, said))[1]
        assert numbers(one) == [("2/5", False)]


def test_the_database_itself_refuses_a_number_twice_and_a_sheet_twice(made):
    trial = sheet(made)
    first = ledger.number_print(made, "Low tide", trial=trial).print

    def write(**fields):
        with made.transaction() as conn:
            add(conn, replace(first, id=0, version=0, **fields))

    with pytest.raises(Refused, match=r"UNIQUE constraint failed: .*number"):
        write(name="34AC-E9H", trial=None)
    with pytest.raises(Refused, match="a sheet is one numbered print"):
        write(name="34AC-E9H", number=2)
    with pytest.raises(Refused, match="a print keeps its number and code"), made.transaction() as conn:
        conn.execute(
            sa.insert(NumberedPrint.table).values(
                corrects_id=first.id, version=2, name=first.name, edition_id=1, proof=False, number=4
            )
        )


def test_light_that_cannot_be_reckoned_is_told(made):
    for dose in (0.0, -1.0, float("nan")):
        with pytest.raises(ValueOutOfRange, match="both must be above 0"):
            care_words(lux=100, hours=8, stated_dose=dose)
    for half in ({"lux": 100.0}, {"hours": 8.0}, {"stated_dose": 8e7}):
        with pytest.raises(ValueOutOfRange, match="give both, and a dose only with them"):
            care_words(**half)


def test_numbers_are_whole(made):
    with pytest.raises(ValueOutOfRange, match=r"1\.5 is no number of a print; give a whole number, 1 or more"):
        ledger.number_print(made, "Low tide", number=1.5)
    with pytest.raises(ValueOutOfRange, match=r"2\.5 prints cannot be promised; give 1 to 10000"):
        ledger.add_edition(made, "Half", frame="low tide", prints=2.5)


def test_one_sheet_is_one_print(made):
    trial, other = sheet(made), sheet(made)
    first = ledger.number_print(made, "Low tide", trial=trial)
    with pytest.raises(Refused, match=rf"{trial} is {first.print.name} already, number 1; one sheet is one print"):
        ledger.number_print(made, "Low tide", trial=trial)
    second = ledger.number_print(made, "Low tide", trial=other)
    with pytest.raises(Refused, match="one sheet is one print"):
        ledger.correct_print(made, second.print, trial=trial)
    ledger.take_print_back(made, first.print)
    assert ledger.correct_print(made, second.print, trial=trial).print.trial == trial
    with pytest.raises(Refused, match=rf"Its sheet {trial} is {second.print.name} meanwhile"):
        ledger.bring_print_back(made, ledger.find_print(made, first.print.name).print)


def test_what_is_no_whole_right_print_of_this_negative_is_refused_or_told(made):
    with pytest.raises(Refused, match=r"is a strip, not a whole print; choose a sheet"):
        ledger.number_print(made, "Low tide", trial=sheet(made, kind="strip", exposures=3))
    with pytest.raises(Refused, match=r'is of "market", but the edition is of "low tide"'):
        ledger.number_print(made, "Low tide", trial=sheet(made, "market"))
    back = sheet(made)
    remove_trial(made, back, version=1)
    with pytest.raises(Refused, match=rf"{back} was taken back, so it does not count"):
        ledger.number_print(made, "Low tide", trial=back)
    with pytest.raises(UnknownRecord, match=r"No trial is called"):
        ledger.number_print(made, "Low tide", trial="T99")
    poor = sheet(made, kept=False)
    assert ledger.number_print(made, "Low tide", trial=poor).doubts == (f"{poor} was not kept as right",)
    slip = sheet(made)
    setting = Setting(pack=FilterPack(magenta=6, yellow=50), time=8.0)
    correct_trial(made, slip, version=1, settings={0: setting})
    assert "was corrected after it was logged (a slip)" in ledger.number_print(made, "Low tide", trial=slip).doubts[0]
    later = sheet(made)
    numbered = ledger.number_print(made, "Low tide", trial=later)
    remove_trial(made, later, version=find_trial(made, later).version)
    assert "was taken back since" in ledger.find_print(made, numbered.print.name).doubts[0]


def test_a_print_is_put_right_though_its_sheet_was_taken_back(made):
    trial = sheet(made)
    one = ledger.number_print(made, "Low tide", trial=trial).print
    remove_trial(made, trial, version=1)
    right = ledger.correct_print(made, one, trial=trial, note="spotted").print
    assert (right.trial, right.note) == (trial, "spotted")
    other = sheet(made)
    remove_trial(made, other, version=1)
    with pytest.raises(Refused, match=rf"{other} was taken back, so it does not count"):
        ledger.correct_print(made, right, trial=other)


def test_another_sheet_brings_its_own_day_and_size(made):
    first, later = sheet(made), sheet(made, hour=72)
    one = ledger.number_print(made, "Low tide", trial=first).print
    shown = {"size": one.size, "printed_on": one.printed_on}  # as the page sends them
    assert ledger.correct_print(made, one, trial=later, **shown).facts.printed_on == "2026-03-06"
    right = ledger.correct_print(made, ledger.find_print(made, one.name).print, trial=first, printed_on="2026-03-01")
    assert (right.facts.printed_on, right.facts.size) == ("2026-03-01", SIZE)


@pytest.mark.parametrize("day", ["2026-W11-6", "20260314"])
def test_a_day_stands_on_a_certificate_as_year_month_and_day(made, day):
    with pytest.raises(ValueOutOfRange, match="is no day; write year, month and day"):
        ledger.number_print(made, "Low tide", printed_on=day)


def test_sheets_to_number_are_those_of_the_negative_that_have_none(made):
    first, second = sheet(made, hour=1), sheet(made, hour=2)
    sheet(made, kind="strip")
    sheet(made, "market")
    ledger.number_print(made, "Low tide", trial=first)
    assert [row.name for row, _ in ledger.sheets_to_number(made, view(made).edition)] == [second]


# the promise


def test_a_promise_that_is_changed_stays_readable(made):
    edition = view(made).edition
    with pytest.raises(Refused, match=r"Say why the promise of \"Low tide\" is changed"):
        ledger.change_edition(made, edition, prints=4)
    ledger.change_edition(made, edition, prints=4, reason="the small size is dropped")
    found = view(made)
    assert [(one.prints, one.reason, one.confirmed) for one in found.promises] == [
        (5, "", False),
        (4, "the small size is dropped", False),
    ]
    named = ledger.change_edition(made, found.edition, name="Low tide, spring", sizes="20x25 cm")
    assert (named.name, named.reason, len(view(made, named.name).promises)) == ("Low tide, spring", "", 2)
    with pytest.raises(ChangedMeanwhile):
        ledger.change_edition(made, edition, prints=3, reason="late tab")


def test_a_promise_never_falls_below_what_has_a_number(made):
    ledger.number_print(made, "Low tide", number=4)
    gone = ledger.number_print(made, "Low tide", proof=True)
    print_lines.add_line(made, gone.print.name, PrintEvent.DESTROYED, note="creased")
    with pytest.raises(Refused, match=r"has prints up to number 4, so 3 cannot be all there will be"):
        ledger.change_edition(made, view(made).edition, prints=3, reason="fewer")
    with pytest.raises(Refused, match=r"has artist's proofs up to number 1, so 0 cannot"):
        ledger.change_edition(made, view(made).edition, proofs=0, reason="fewer")


@pytest.mark.parametrize("happened", [PrintEvent.DELIVERED, PrintEvent.SOLD, PrintEvent.CERTIFIED])
def test_raising_a_promise_that_somebody_relies_on_is_confirmed_and_stays_visible(made, happened):
    one = ledger.number_print(made, "Low tide")
    ledger.change_edition(made, view(made).edition, prints=6, reason="nobody has one yet")
    print_lines.add_line(made, one.print.name, happened)
    with pytest.raises(Refused, match=rf"under that promise {one.print.name} .*breaks a promise to buyers: tell them"):
        ledger.change_edition(made, view(made).edition, prints=7, reason="a second size")
    ledger.change_edition(made, view(made).edition, prints=7, reason="a second size", confirmed=True)
    assert [one.confirmed for one in view(made).promises] == [False, False, True]
    ledger.change_edition(made, view(made).edition, prints=6, reason="no second size")
    assert [one.words for one in view(made).promises][-1] == "6 prints and 1 artist's proof"


def pdf_words(pdf):
    text = subprocess.run(["pdftotext", "-layout", "-", "-"], input=pdf, capture_output=True, check=True).stdout
    return " ".join(text.decode().replace("\u2019", "'").split())


def test_a_number_keeps_the_total_it_was_given_with_and_the_new_promise_stands_beside_it(made):
    one = ledger.number_print(made, "Low tide", trial=sheet(made)).print.name
    line = print_lines.write_certificate(made, one)
    print_lines.add_line(made, one, PrintEvent.SOLD, price=90.0)
    assert (ledger.find_print(made, one).facts.of, ledger.find_print(made, one).beside) == (5, "")
    ledger.change_edition(made, view(made).edition, prints=7, reason="a second size", confirmed=True)
    two = ledger.number_print(made, "Low tide").print.name
    assert numbers(made) == [("1/5", False), ("2/7", False)]
    sold, new = view(made).prints
    assert sold.beside.startswith("7 prints promised since ")
    assert new.beside == ""
    assert sold.doubts == (f"{one} has a certificate that says otherwise than the ledger today: prints in all",)
    assert print_lines.check_certificate(made, one, read={"Number": "1/5"}).matches
    assert not print_lines.check_certificate(made, one, read={"Number": "1/7"}).matches
    assert dict(print_lines.check_certificate(made, one, line.digest).view.facts.lines())["Number"] == "1/5"
    again = print_lines.write_certificate(made, one).record
    assert "Number: 1/5\nPrints in all: 7\n" in again
    for pdf in (labels_pdf(made, [one]), care_pdf(made, one)):
        assert "1/5" in pdf_words(pdf)
        assert sold.beside in pdf_words(pdf)
    assert "promised since" not in pdf_words(labels_pdf(made, [two])) + pdf_words(care_pdf(made, two))
    said = pdf_words(certificate_pdf(made, one))
    assert "promised as 5 prints and 1 artist's proof; changed on" in said
    listed = listing(made, one)
    assert (listed["position"], listed["artEdition"]) == ("1/5", 7)


def test_correcting_a_print_does_not_number_it_anew_but_bringing_it_back_does(made):
    """A promise that was mistyped would else stand for ever in numbers that are written nowhere yet."""
    one = ledger.number_print(made, "Low tide").print
    proof = ledger.number_print(made, "Low tide", proof=True).print
    ledger.change_edition(made, view(made).edition, prints=15, proofs=2, reason="mistyped")
    ledger.change_edition(made, view(made).edition, proofs=1, reason="one is enough")
    assert numbers(made) == [("1/5", False), ("AP 1/1", False)]
    assert view(made).prints[1].beside == "", "as promised again"
    found = ledger.correct_print(made, one, note="first")
    assert found.facts.number_words == "1/5"
    assert (found.print.created_at > found.numbered_at, found.numbered_at) == (True, view(made).prints[0].numbered_at)
    gone = ledger.take_print_back(made, found.print)
    assert numbers(made)[0] == ("1/5", True)
    ledger.bring_print_back(made, gone)
    assert numbers(made) == [("1/15", False), ("AP 1/1", False)]
    assert view(made).prints[0].beside == ""
    ledger.change_edition(made, view(made).edition, proofs=3, reason="more")
    assert ledger.find_print(made, proof.name).beside.startswith("3 artist's proofs promised since ")


def test_an_edition_is_taken_back_only_while_it_has_no_number(made):
    other = ledger.add_edition(made, "Market", frame="market", prints=3)
    ledger.take_edition_back(made, other)
    assert [one.edition.name for one in ledger.editions_of(made)] == ["Low tide"]
    assert ledger.bring_edition_back(made, "Market").prints == 3
    ledger.number_print(made, "Market")
    with pytest.raises(Refused, match=r'Numbers of "Market" were given, so it stays'):
        ledger.take_edition_back(made, view(made, "Market").edition)
    with pytest.raises(Refused, match=r'"Market" was not taken back: it counts'):
        ledger.bring_edition_back(made, "Market")
    with pytest.raises(ValueOutOfRange, match=r"0 prints cannot be promised; give 1 to 10000"):
        ledger.add_edition(made, "None", frame="market", prints=0)


def test_beyond_thirty_copies_of_a_negative_one_is_told_first(made):
    ledger.add_edition(made, "Low tide, small", frame="low tide", prints=40)
    assert "46 copies of this negative are promised over all editions" in view(made).warnings[0]
    assert "Ask a tax adviser; local rules hold." in view(made).warnings[0]
    for _ in range(28):
        ledger.number_print(made, "Low tide, small")
    ledger.number_print(made, "Low tide")
    ledger.number_print(made, "Low tide", proof=True)
    with pytest.raises(Refused, match=r"copy 31 of the negative\. As far as known.*2006/112/EC, Annex IX"):
        ledger.number_print(made, "Low tide")
    assert ledger.number_print(made, "Low tide", over_copies=True).print.number == 2
    assert ledger.number_print(made, "Low tide").print.number == 3  # what was confirmed is not asked again
    assert view(made).copies == 32


def test_the_thirty_first_copy_is_asked_about_though_an_earlier_one_was_taken_back(made):
    ledger.add_edition(made, "Large", frame="low tide", prints=40)
    first = ledger.number_print(made, "Large").print
    for _ in range(29):
        ledger.number_print(made, "Large")
    ledger.take_print_back(made, first)
    assert (view(made, "Large").copies, view(made, "Large").given) == (29, 30)
    with pytest.raises(Refused, match="This would be copy 31"):
        ledger.number_print(made, "Large")


# what becomes of a print


def life(db, code):
    return [(line.happened.value, line.removed) for line in ledger.find_print(db, code).lines]


def test_what_becomes_of_a_print_is_told_by_its_lines(made):
    code = ledger.number_print(made, "Low tide", trial=sheet(made)).print.name
    print_lines.add_line(made, code, PrintEvent.SIGNED)
    print_lines.write_certificate(made, code)
    print_lines.add_line(made, code, PrintEvent.SOLD, price=240.0, person="")
    assert ledger.find_print(made, code).place is Place.HERE
    print_lines.add_line(made, code, PrintEvent.DELIVERED, packed="flat, between boards")
    found = ledger.find_print(made, code)
    assert (found.state, found.place, found.sold) == ("delivered", Place.AWAY, True)
    assert view(made).at(Place.AWAY) == 1
    with pytest.raises(Refused, match=rf"{code}: It was sold already; say first that it was returned"):
        print_lines.add_line(made, code, PrintEvent.SOLD)
    with pytest.raises(ValueOutOfRange, match=r"A price of -1 cannot be"):
        print_lines.add_line(made, code, PrintEvent.RETURNED, price=-1)


def test_a_line_that_was_taken_back_is_still_listed_and_can_come_back(made):
    code = ledger.number_print(made, "Low tide").print.name
    sold = print_lines.add_line(made, code, PrintEvent.SOLD, price=100)
    gone = print_lines.take_print_line_back(made, sold)
    assert life(made, code) == [("sold", True)]
    with pytest.raises(Refused, match="was taken back before; nothing was changed"):
        print_lines.take_print_line_back(made, gone)
    again = print_lines.add_line(made, code, PrintEvent.SOLD, price=120)
    with pytest.raises(Refused, match="It was sold already"):
        print_lines.bring_print_line_back(made, print_lines.find_print_line(made, sold.id))
    print_lines.take_print_line_back(made, again)
    assert not print_lines.bring_print_line_back(made, print_lines.find_print_line(made, sold.id)).removed
    assert life(made, code) == [("sold", False), ("sold", True)]
    with pytest.raises(UnknownRecord, match="No line of a print has the number 99"):
        print_lines.find_print_line(made, 99)


def test_a_destroyed_print_keeps_its_number_and_says_why(made):
    code = ledger.number_print(made, "Low tide", number=1).print.name
    with pytest.raises(Refused, match=r"Say why it was destroyed"):
        print_lines.add_line(made, code, PrintEvent.DESTROYED)
    print_lines.add_line(made, code, PrintEvent.DESTROYED, note="scratched in the mount")
    with pytest.raises(Refused, match=r"It was destroyed before it was sold"):
        print_lines.add_line(made, code, PrintEvent.SOLD)
    with pytest.raises(Refused, match=r"Number 1 was given already"):
        ledger.number_print(made, "Low tide", number=1)
    with pytest.raises(Refused, match=r"was destroyed, so it is a print\. Take that line back first"):
        ledger.take_print_back(made, ledger.find_print(made, code).print)
    assert (view(made).left, view(made).at(Place.DESTROYED), view(made).next_number) == (4, 1, 2)


# certificates


def test_a_certificate_is_compared_with_the_ledger(made):
    trial = sheet(made)
    code = ledger.number_print(made, "Low tide", trial=trial).print.name
    line = print_lines.write_certificate(made, code)
    assert line.digest == digest(line.record)
    assert print_lines.check_certificate(made, code, line.digest).matches
    grouped = print_lines.check_certificate(made, code.lower(), line.digest[:16].upper(), read={"Number": "1 / 5"})
    assert (grouped.matches, grouped.differs) == (True, ())
    wrong = print_lines.check_certificate(made, code, line.digest, read={"Number": "2/5", "Size": "20.3x25.4 cm"})
    assert (wrong.matches, wrong.differs) == (False, (("Number", "2/5", "1/5"),))
    forged = print_lines.check_certificate(made, code, "0" * 64)
    assert not forged.matches
    assert "The digest is of no certificate written for this print" in forged.words
    correct_trial(made, trial, version=1, note="nothing that is certified")
    assert print_lines.check_certificate(made, code, line.digest).matches
    ledger.change_edition(made, view(made).edition, prints=6, reason="one more", confirmed=True)
    since = print_lines.check_certificate(made, code, line.digest)
    assert not since.matches
    assert since.differs == (("Prints in all", "5", "6"),)
    assert "The digest is that of the certificate written on" in since.words


def test_what_cannot_be_compared_is_told(made):
    code = ledger.number_print(made, "Low tide").print.name
    assert (
        "no certificate was written down"
        in print_lines.check_certificate(made, code, digest(ledger.find_print(made, code).facts.text())).words
    )
    with pytest.raises(ValueOutOfRange, match=r"is no digest: it has 64 digits 0 to 9 and letters a to f"):
        print_lines.check_certificate(made, code, "xyz")
    with pytest.raises(ValueOutOfRange, match=r"Give the digest of the certificate, or something else"):
        print_lines.check_certificate(made, code)
    with pytest.raises(ValueOutOfRange, match=r'A certificate has no line "Colour"'):
        print_lines.check_certificate(made, code, read={"Colour": "green"})
    with pytest.raises(UnknownRecord, match=r"No print of this studio has the code .*a sound code, but not one given"):
        print_lines.check_certificate(made, "MN4F-TRJ", "0" * 64)
    line = print_lines.write_certificate(made, code)
    print_lines.take_print_line_back(made, line)
    taken = print_lines.check_certificate(made, code, line.digest)
    assert (taken.matches, "That certificate was taken back since." in taken.words) == (False, True)
    print_lines.add_line(made, code, PrintEvent.DESTROYED, note="torn")
    assert "The print was destroyed, by the ledger" in print_lines.check_certificate(made, code, line.digest).words
    with pytest.raises(Refused, match="It was destroyed before it had its certificate written"):
        print_lines.write_certificate(made, code)


# on paper


def test_sheets_are_the_same_bytes_each_time_and_gaps_are_lines(made):
    logged = ledger.number_print(made, "Low tide", trial=sheet(made)).print.name
    bare = ledger.number_print(made, "Low tide").print.name
    with pytest.raises(Refused, match=r"No certificate of .* is written, or it was taken back\. Write it first"):
        certificate_pdf(made, logged)
    for code in (logged, bare):
        print_lines.write_certificate(made, code)
        assert certificate_pdf(made, code).startswith(b"%PDF")
        assert certificate_pdf(made, code) == certificate_pdf(made, code)
        assert b"<pdfaid:part>2</pdfaid:part>" in certificate_pdf(made, code)
    assert labels_pdf(made, [logged, bare]).startswith(b"%PDF")
    with pytest.raises(Refused, match=r"No print is named to label\. Number a print first"):
        labels_pdf(made, [])
    assert care_pdf(made, logged, lux=100, hours=8).startswith(b"%PDF")


def test_a_certificate_says_every_change_of_the_promise_before_it_whatever_day_it_bears(made):
    code = ledger.number_print(made, "Low tide", trial=sheet(made)).print.name
    for prints in (6, 7):
        ledger.change_edition(made, view(made).edition, prints=prints, reason=f"{prints} are asked for")
    line = print_lines.add_line(made, code, PrintEvent.CERTIFIED, at=START, note="for the second owner")
    assert (line.record, line.note) == (ledger.find_print(made, code).facts.text(), "for the second owner")
    ledger.change_edition(made, view(made).edition, prints=8, reason="later", confirmed=True)
    pdf = subprocess.run(["pdftotext", "-", "-"], input=certificate_pdf(made, code), capture_output=True, check=True)
    said = " ".join(pdf.stdout.decode().replace("\u2019", "'").split())
    assert "promised as 5 prints and 1 artist's proof; changed on" in said
    assert "promised as 6 prints and 1 artist's proof; changed on" in said
    assert "8 prints" not in said


def test_no_years_are_said_without_the_light():
    said = " ".join(words for _, rules in care_words() for words, _ in rules)
    assert not re.search(r"\d+(\.\d+)? years", said)
    assert "measure the lux where it hangs" in said
    bright = dict(care_words(lux=450, hours=12))["Light"][0][0]
    assert "At 450 lx for 12 hours a day this print receives 1.97 million lux hours a year: 1 times that" in bright
    assert not re.search(r"\d years", bright)
    before = DECIMAL_MARK.set(",")
    assert "0,438 million" in dict(care_words(lux=150, hours=8))["Light"][0][0]
    DECIMAL_MARK.reset(before)
    stated = dict(care_words(lux=120, hours=12, stated_dose=40e6))["Light"][1][0]
    assert "is reached in 76 years of this light" in stated
    assert all(source for _, rules in care_words(lux=120, hours=12) for _, source in rules)


def test_a_listing_has_what_is_recorded_and_nothing_else(made):
    code = ledger.number_print(made, "Low tide", trial=sheet(made)).print.name
    found = listing(made, code)
    assert (found["@type"], found["artEdition"], found["position"]) == ("VisualArtwork", 5, "1/5")
    assert found["width"] == {"@type": "QuantitativeValue", "value": 203.0, "unitCode": "MMT"}
    assert "offers" not in found
    print_lines.add_line(made, code, PrintEvent.SOLD, price=90.0, person="somebody")
    assert listing(made, code)["offers"]["availability"].endswith("SoldOut")
    assert "somebody" not in str(listing(made, code))


# money and paper


def test_the_price_floor_is_reckoned_from_what_the_trials_took(made):
    entry.change_settings(made, Costs, minute=0.5, sheet=2.0, strip=0.5, millilitre=0.01, cycle_minutes=10)
    sheet(made, kind="strip", kept=False, exposures=3)
    sheet(made, kept=False, hour=1)
    sheet(made, kept=True, hour=2)
    found = price_floor(made, "Low tide", finishing=20, mount=5, solution=0, spoiled=0.2, commission=0.5)
    assert (found.sheets, found.strips, found.good, found.tries.value) == (2, 1, 1, 3)
    # (3 cycles x 10 min + 20 min) x 0.5 + 2 sheets x 2 + 1 strip x 0.5 + 5 = 34.5, / 0.8 / 0.5
    assert found.floor.value == pytest.approx(34.5 / 0.8 / 0.5)
    # each cycle more costs 10 x 0.5 + (2 x 2 + 0.5) / 3 = 6.5; error of a wait for chance 1/3, once: sqrt(6)
    assert found.floor.standard_error == pytest.approx(6**0.5 * 6.5 / 0.8 / 0.5)
    assert found.size == SIZE
    large = price_floor(
        made, "Low tide", size=(406, 508), finishing=20, mount=5, solution=0, spoiled=0.2, commission=0.5
    )
    assert large.terms.sheet == pytest.approx(8.0, rel=1e-3)


def test_the_price_floor_looks_at_what_was_tried_since_the_last_numbered_print(made):
    empty = price_floor(made, "Low tide")
    assert empty.floor.flags == (Flag.PRIOR_ONLY,)
    assert empty.assumed[0].startswith("a sheet counts 1 and the rest is in proportion")
    entry.change_settings(made, Costs, minute=0.6)
    assert price_floor(made, "Low tide").assumed[0].startswith("every sheet and strip")
    first = sheet(made, hour=1)
    ledger.number_print(made, "Low tide", trial=first)
    assert (price_floor(made, "Low tide").since, price_floor(made, "Low tide").good) == ("", 1)
    sheet(made, kept=False, hour=2)
    since = price_floor(made, "Low tide")
    assert (since.since, since.sheets, since.good, since.floor.flags) == (first, 1, 0, (Flag.AT_LEAST,))


def test_paper_of_the_lot_printed_last_covers_what_is_left_or_not(made):
    ledger.number_print(made, "Low tide", trial=sheet(made))
    assert ledger.paper_left(made, view(made)).cover.prints == 0
    receive_box(made, BoxRecord(name="box", lot="lot 7", along=254, across=203), 40)
    found = ledger.paper_left(made, view(made))
    assert (found.lot, found.size, found.cover.wanted, found.cover.prints) == ("lot 7", SIZE, 4, 4)
    for _ in range(4):
        ledger.number_print(made, "Low tide")
    assert ledger.paper_left(made, view(made)) is None


def test_the_print_to_match_is_the_first_that_was_kept_and_measured(made):
    assert view(made).reference is None
    sheet(made, kept=False, hour=1)
    first = sheet(made, hour=2)
    sheet(made, hour=3)
    assert view(made).reference.name == first


@pytest.mark.parametrize("words", ["A\u202eretnirP", "A\x00", "A\x07"])
def test_what_does_not_print_does_not_come_onto_a_certificate(made, words):
    with pytest.raises(ValueOutOfRange, match=r"Artist .* cannot stand on a certificate"):
        ledger.add_edition(made, "Other", frame="low tide", prints=2, artist=words)
    with pytest.raises(ValueOutOfRange, match=r"Artist .* cannot stand on a certificate"):
        ledger.change_edition(made, view(made).edition, artist=words)
    with pytest.raises(ValueOutOfRange, match=r"Paper .* cannot stand on a certificate"):
        ledger.number_print(made, "Low tide", paper=words)
    with pytest.raises(ValueOutOfRange, match=r"Reason .* cannot stand on a certificate"):
        ledger.change_edition(made, view(made).edition, prints=6, reason=words)
    one = ledger.number_print(made, "Low tide", paper="glossy\nNumber: 1/1").print
    assert (one.paper, view(made).edition.artist) == ("glossy Number: 1/1", "A. Printer (invented)")
    with pytest.raises(ValueOutOfRange, match=r"Paper .* cannot stand on a certificate"):
        ledger.correct_print(made, one, paper=words)


def test_no_paper_goes_with_a_numbering_that_was_taken_back(made):
    one = ledger.number_print(made, "Low tide").print
    ledger.take_print_back(made, one)
    for paper in (
        lambda: labels_pdf(made, [one.name]),
        lambda: care_pdf(made, one.name),
        lambda: listing(made, one.name),
    ):
        with pytest.raises(Refused, match=rf"The numbering of {one.name} was taken back: no paper goes with it"):
            paper()


@pytest.mark.parametrize(
    "read",
    [
        {"Size": "203 x 254"},
        {"Size": "20,3x25,4"},
        {"Size": "8x10 in"},
        {"Title": "mare\u0301e  BASSE"},
        {"Printed on": "4.3.2026"},
    ],
)
def test_what_stands_on_a_certificate_is_not_told_as_a_difference_however_it_is_typed(made, read):
    ledger.change_edition(made, view(made).edition, name="Mar\u00e9e basse")
    code = ledger.number_print(made, "Mar\u00e9e basse", size=SIZE, printed_on="2026-03-04").print.name
    assert print_lines.check_certificate(made, code, read=read).differs == ()
    assert print_lines.check_certificate(made, code, read={"Size": "20 x 25 cm"}).differs != ()


def test_a_record_that_was_changed_outside_is_told_and_not_printed(made, tmp_path):
    code = ledger.number_print(made, "Low tide").print.name
    line = print_lines.write_certificate(made, code)
    export_studio(made, tmp_path / "out")
    rows = tmp_path / "out" / "json" / "print_lines.json"
    for forged in (line.record.replace("1/5", "1/1"), "no record"):
        rows.write_text(rows.read_text().replace(json.dumps(line.record)[1:-1], json.dumps(forged)[1:-1]))
        with Database.in_memory() as again:
            import_studio(again, tmp_path / "out")
            found = print_lines.check_certificate(again, code, line.digest)
            assert not found.matches
            assert "does not fit its digest: it was changed outside this program" in found.words
            with pytest.raises(Refused, match="does not fit its digest"):
                certificate_pdf(again, code)
        rows.write_text(rows.read_text().replace(json.dumps(forged)[1:-1], json.dumps(line.record)[1:-1]))


def test_days_that_cannot_be_are_told(made):
    code = ledger.number_print(made, "Low tide", trial=sheet(made)).print.name
    print_lines.add_line(made, code, PrintEvent.SIGNED, at=START - timedelta(days=40))
    print_lines.add_line(made, code, PrintEvent.SOLD, at=datetime(2099, 1, 1, tzinfo=UTC))
    assert ledger.find_print(made, code).doubts == (
        f"{code} was signed on 22 Jan 2026, before it was printed",
        f"{code} was sold on 1 Jan 2099, which is still to come",
    )
    late = ledger.number_print(made, "Low tide", printed_on="2099-01-01")
    assert late.doubts == (f"{late.print.name} was printed on 2099-01-01, which is still to come",)


def test_a_certificate_that_says_otherwise_than_the_ledger_is_told_without_being_asked(made):
    one = ledger.number_print(made, "Low tide", size=SIZE).print
    print_lines.write_certificate(made, one.name)
    assert ledger.find_print(made, one.name).doubts == ()
    found = ledger.correct_print(made, ledger.find_print(made, one.name).print, size=(200.0, 250.0))
    assert found.doubts == (f"{one.name} has a certificate that says otherwise than the ledger today: size",)
    print_lines.write_certificate(made, one.name)
    assert ledger.find_print(made, one.name).doubts == ()


def test_a_certificate_of_an_earlier_day_still_says_that_the_promise_was_changed(made, monkeypatch):
    told = []
    monkeypatch.setattr(edition_sheets, "typeset", lambda _, data, **__: told.extend(data["notes"]) or b"")
    code = ledger.number_print(made, "Low tide").print.name
    ledger.change_edition(made, view(made).edition, prints=6, reason="a second size")
    print_lines.add_line(made, code, PrintEvent.CERTIFIED, at=START)
    certificate_pdf(made, code)
    assert "promised as 5 prints and 1 artist's proof; changed on" in told[0]


def test_an_edition_comes_back_from_an_export_as_it_was(made, tmp_path):
    trial = sheet(made)
    one = ledger.number_print(made, "Low tide", trial=trial)
    ledger.take_print_back(made, one.print)
    two = ledger.number_print(made, "Low tide", trial=trial)
    line = print_lines.write_certificate(made, two.print.name)
    sold = print_lines.add_line(made, two.print.name, PrintEvent.SOLD, price=1 / 3, person="somebody\n")
    print_lines.take_print_line_back(made, sold)
    ledger.change_edition(made, view(made).edition, prints=9, reason="caf\u00e9", confirmed=True)
    export_studio(made, tmp_path / "out.zip")
    with Database.in_memory() as again:
        import_studio(again, tmp_path / "out.zip")
        for db in (again, made):
            with db.reading() as conn:
                db.all_rows = {table: list(rows_of(conn, table)) for table in table_names()}
        assert again.all_rows == made.all_rows
        assert ledger.edition_view(again, "Low tide") == view(made)
        assert "certificate written on" in print_lines.check_certificate(again, two.print.name, line.digest).words
        with pytest.raises(Refused, match="Number 1 was given"):
            ledger.number_print(again, "Low tide", number=1)


def test_names_that_were_made_up_at_logging_are_not_certified(db):
    log_trial(db, TrialEntry(patches=(PatchEntry(setting=Setting(pack=FilterPack(), time=8.0), kept=True),)))
    with db.reading() as conn:
        assert every(conn, PaperFamily)[0].name == "unnamed paper"
    ledger.add_edition(db, "First", frame="unnamed frame 1", prints=2)
    one = ledger.number_print(db, "First", trial="T1")
    facts = one.facts
    assert (facts.paper, facts.lot, facts.negative, facts.process) == ("", "", "", "chromogenic print")
    ledger.take_print_back(db, one.print)
    assert ledger.number_print(db, "First", trial="T1", paper="glossy").facts.paper == "glossy"
