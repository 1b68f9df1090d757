"""Editions on the page, on the command line, over HTTP and from Python: the same service behind all of them."""

import json
import re
import time
from datetime import UTC, datetime

import pytest

from printlore import Exposed, Setting, Studio
from printlore.core.light.filters import FilterPack
from printlore.demo.editions import TITLE, add_edition_history
from printlore.errors import Refused, ValueOutOfRange
from printlore.faces.typed import day_if, moment_if
from printlore.records.database import Database
from printlore.records.editions import Edition
from printlore.records.studio import Preferences
from printlore.services import editions as ledger
from printlore.services import entry, print_lines
from printlore.services.entry import change_settings, find_record
from printlore.services.trials import mark_kept


def post(client, path, **fields):
    return client.post(path, data=fields, follow_redirects=False, headers={"origin": "http://localhost"})


@pytest.fixture
def promised(client, db):
    """An edition of five of the harbour, whose one sheet (T1) is kept."""
    mark_kept(db, "T1")
    done = post(client, "/editions", title="Harbour", frame="harbour", prints="5", proofs="1", artist="A. Printer")
    assert done.status_code == 303
    return find_record(db, Edition, "Harbour").id


def number(client, db, promised, **fields):
    """Record number of a print that was numbered on the page."""
    done = post(client, f"/editions/{promised}/number", **fields)
    assert done.status_code == 303, done.text
    return int(done.headers["location"].rsplit("/", 1)[1])


@pytest.mark.parametrize("path", ["/editions", "/editions/check", "/editions?of=harbour"])
def test_pages_stand_in_a_studio_without_an_edition(client, path):
    text = client.get(path).text
    assert text.count('class="sentence"') == 1


def test_the_whole_way_of_a_print_on_the_page(client, db, promised):
    page = client.get(f"/editions/{promised}").text
    assert "still promised" in page
    assert '<option value="T1" selected>' in page
    one = number(client, db, promised, trial="T1")
    code = ledger.numbered_view(db, one).print.name
    assert post(client, f"/editions/prints/{one}/line", happened="signed").status_code == 303
    assert post(client, f"/editions/prints/{one}/certificate").status_code == 303
    sold = post(client, f"/editions/prints/{one}/line", happened="sold", price="180,50", person="")
    assert sold.status_code == 303
    assert 'value="delivered" checked' in client.get(f"/editions/prints/{one}").text
    assert post(client, f"/editions/prints/{one}/line").status_code == 422
    page = client.get(f"/editions/prints/{one}").text
    assert code in page
    assert "sold and still here" in page
    assert "Names of buyers are personal data" in page
    digest = ledger.numbered_view(db, one).certificate.digest
    assert digest[:8] in page
    for paper in ("certificate", "label", "care"):
        pdf = client.get(f"/editions/prints/{one}/{paper}.pdf")
        assert pdf.headers["content-type"] == "application/pdf"
        assert pdf.content.startswith(b"%PDF")
    assert client.get(f"/editions/{promised}/labels.pdf").content.startswith(b"%PDF")
    assert "Matches the ledger." in client.get(f"/editions/check?code={code}&digest={digest}").text
    edition = client.get(f"/editions/{promised}").text
    assert 'aria-label="1/5: sold"' in edition
    assert "sold, still here: 1" in edition


def test_the_negative_leads_to_its_edition_and_to_the_first(client, harbour, db):
    assert "/editions?of=harbour" in client.get(f"/negatives/{harbour}").text
    made = ledger.add_edition(db, "Harbour", frame="harbour", prints=3)
    assert f'href="/editions/{made.id}"' in client.get(f"/negatives/{harbour}").text
    assert f'href="/print/{harbour}"' in client.get(f"/editions/{made.id}").text


def test_undo_takes_back_and_what_was_taken_back_is_listed_with_its_mark(client, db, promised):
    one = number(client, db, promised, trial="T1")
    line = post(client, f"/editions/prints/{one}/line", happened="signed")
    assert line.status_code == 303
    made = ledger.numbered_view(db, one).lines[0]
    assert post(client, f"/editions/lines/{made.id}/undo").status_code == 303
    page = client.get(f"/editions/prints/{one}").text
    assert "signed · taken back" in page
    assert post(client, f"/editions/lines/{made.id}/bring-back").status_code == 303
    assert post(client, f"/editions/lines/{made.id}/undo").status_code == 303
    assert post(client, f"/editions/prints/{one}/undo").headers["location"] == f"/editions/{promised}"
    assert "numbering taken back: 1" in client.get(f"/editions/{promised}").text
    refused = post(client, f"/editions/{promised}/number", trial="T1", which="1")
    assert refused.status_code == 409
    assert "A number is never given twice" in refused.text
    assert post(client, f"/editions/prints/{one}/bring-back").status_code == 303
    assert post(client, f"/editions/{promised}/undo").status_code == 409


def test_a_form_that_is_sent_twice_gives_one_number(client, db, promised):
    shown = re.search(r'name="shown" value="([^"]+)"', client.get(f"/editions/{promised}").text)[1]
    assert shown == "1 1"
    number(client, db, promised, trial="", shown=shown)
    again = post(client, f"/editions/{promised}/number", trial="", shown=shown)
    assert (again.status_code, "Number 1 was given already" in again.text) == (409, True)
    number(client, db, promised, trial="", shown=shown, proof="proof")
    assert [one.facts.number_words for one in ledger.edition_view(db, "Harbour").prints] == ["1/5", "AP 1/1"]


def test_what_a_form_carries_and_is_no_number_is_left_out(client, db, promised):
    number(client, db, promised, shown="\u00b2 1")
    assert ledger.edition_view(db, "Harbour").next_number == 2


def test_an_edition_without_numbers_is_taken_back_and_comes_back(client, db, promised):
    assert post(client, f"/editions/{promised}/undo").status_code == 303
    assert f"/editions/{promised}/bring-back" in client.get("/editions").text
    assert client.get(f"/editions/{promised}").status_code == 404
    assert post(client, f"/editions/{promised}/bring-back").status_code == 303
    assert client.get(f"/editions/{promised}").status_code == 200
    assert post(client, "/editions/99/bring-back").status_code == 404


def test_what_cannot_be_is_told_where_it_was_entered(client, db, promised):
    for fields, words in (
        ({"trial": "?"}, "is not chosen"),
        ({"trial": "T1", "which": "two"}, "Number: The number"),
        ({"trial": "T1", "which": "1,5"}, "Number is 1.5; give a whole number"),
        ({"trial": "", "printed_on": "last week"}, "is no day. Write 2026-03-14 or 14.3.2026"),
        ({"trial": "", "size": "large"}, "The size"),
    ):
        answer = post(client, f"/editions/{promised}/number", **fields)
        assert answer.status_code == 422, fields
        assert words in answer.text
    one = number(client, db, promised, trial="T1")
    assert "What happened:" in post(client, f"/editions/prints/{one}/line", happened="eaten").text
    assert "Say why it was destroyed" in post(client, f"/editions/prints/{one}/line", happened="destroyed").text
    assert client.get("/editions/prints/99").status_code == 404
    assert "its check character does not fit" in client.get("/editions/check?code=MN4F-TRX&digest=00000000").text


def test_a_promise_is_changed_on_the_page_and_stays_readable(client, db, promised):
    number(client, db, promised, trial="T1")
    version = find_record(db, Edition, "Harbour").version
    fields = {"version": str(version), "title": "Harbour", "prints": "6", "proofs": "1", "artist": "A. Printer"}
    assert "Say why the promise" in post(client, f"/editions/{promised}/change", **fields).text
    assert post(client, f"/editions/{promised}/change", **fields, reason="one more").status_code == 303
    page = client.get(f"/editions/{promised}").text
    assert "5 prints and 1 artist" in page
    assert "one more" in page
    assert post(client, f"/editions/{promised}/change", **fields, reason="late tab").status_code == 409


def test_a_number_reads_alike_everywhere_after_the_promise_was_raised(client, db, promised):
    one = number(client, db, promised, trial="T1")
    code = ledger.numbered_view(db, one).print.name
    version = find_record(db, Edition, "Harbour").version
    fields = {"version": str(version), "title": "Harbour", "prints": "6", "proofs": "1", "reason": "one more"}
    assert post(client, f"/editions/{promised}/change", **fields).status_code == 303
    beside = ledger.numbered_view(db, one).beside
    assert f'1/5</a> <span class="hint">{beside}</span>' in client.get(f"/editions/{promised}").text
    page = client.get(f"/editions/prints/{one}").text
    assert "<em>1/5</em>" in page
    assert f"; {beside}. If 1/5 is written nowhere yet, take the numbering back" in page
    assert "then it reads 1/6." in page
    told = client.get(f"/api/editions/prints/{code}").json()
    assert (told["facts"]["of"], told["facts"]["prints"], told["beside"]) == (5, 6, beside)
    assert post(client, f"/editions/prints/{one}/line", happened="signed").status_code == 303
    page = client.get(f"/editions/prints/{one}").text
    assert beside in page
    assert "written nowhere" not in page


def test_a_print_is_put_right_and_its_size_as_shown_is_no_change(client, db, promised):
    one = number(client, db, promised, trial="", size="8x10 in", paper="glossy")
    size = ledger.numbered_view(db, one).print.size
    shown = re.search(r'id="size" name="size" type="text" value="([^"]+)"', client.get(f"/editions/prints/{one}").text)
    fields = {"version": "1", "size": shown[1], "printed_on": "14.3.2026", "paper": "glossy"}
    assert post(client, f"/editions/prints/{one}/correct", **fields).status_code == 303
    there = ledger.numbered_view(db, one).print
    assert (there.size, there.printed_on, there.paper) == (size, "2026-03-14", "glossy")
    assert post(client, f"/editions/prints/{one}/correct", **fields).status_code == 409


def test_the_price_page_explains_every_term_with_the_studios_decimal_mark(client, db, promised):
    change_settings(db, Preferences, decimal_mark=",", currency="florins")
    page = client.get(f"/editions/{promised}/price?commission=50&mount=4,5").text
    terms = ("Printing", "Finishing", "Paper", "Chemistry", "Mount and packing", "50 % commission")
    for part in (*terms, "Assumed", "4,50", "florins"):
        assert part in page
    assert client.get(f"/editions/{promised}/price?spoiled=100").status_code == 422


def test_more_than_thirty_copies_are_told_before_they_are_numbered(client, db):
    many = ledger.add_edition(db, "Many", frame="harbour", prints=40)
    assert "40 copies of this negative are promised" in client.get(f"/editions/{many.id}").text
    for _ in range(30):
        ledger.number_print(db, "Many")
    page = client.get(f"/editions/{many.id}").text
    assert 'name="over_copies"' in page
    refused = post(client, f"/editions/{many.id}/number", trial="")
    assert (refused.status_code, "Ask a tax adviser" in refused.text) == (409, True)
    assert post(client, f"/editions/{many.id}/number", trial="", over_copies="1").status_code == 303


def test_light_of_a_wall_is_reckoned_on_the_prints_page(client, db, promised):
    one = number(client, db, promised, trial="T1")
    assert "million lux hours" not in client.get(f"/editions/prints/{one}").text
    page = client.get(f"/editions/prints/{one}?lux=450&hours=12").text
    assert "receives 1.97 million lux hours a year" in page
    assert client.get(f"/editions/prints/{one}?lux=450&hours=25").status_code == 422


def test_what_was_typed_stays_beside_what_was_wrong_with_it(client, db, promised):
    one = number(client, db, promised, trial="T1")
    for path, typed in (
        ("/editions/check?code=MN4F-TRX&digest=0123", 'value="MN4F-TRX"'),
        ("/editions/check?digest=01234567", 'value="01234567"'),
        (f"/editions/{promised}/price?mount=much", 'value="much"'),
        (f"/editions/prints/{one}?lux=450&hours=25", 'value="25"'),
    ):
        page = client.get(path)
        assert page.status_code == 422, path
        assert typed in page.text
        assert 'role="alert"' in page.text


@pytest.mark.parametrize("path", ["", "/check", "/{edition}", "/{edition}/price", "/prints/{print}"])
def test_every_entry_has_its_label_and_an_id_of_its_own(client, db, promised, path):
    one = number(client, db, promised, trial="T1")
    text = client.get("/editions" + path.format(edition=promised, print=one)).text
    assert text.count('class="sentence"') == 1
    labels = set(re.findall(r'<label for="([^"]+)"', text))
    entries = re.findall(r'<(?:input|select|textarea)(?![^>]*type="(?:hidden|radio)")[^>]* id="([^"]+)"', text)
    assert set(entries) <= labels
    assert len(set(entries)) == len(entries)


def test_programs_can_promise_number_certify_and_check(client, db):
    own = {"origin": "http://localhost"}
    made = client.post(
        "/api/editions", json={"title": "Harbour", "frame": "harbour", "prints": 3, "proofs": 1}, headers=own
    ).json()
    home = f"/api/editions/{made['id']}"
    one = client.post(f"{home}/prints", json={"trial": "T1", "size": [203, 254]}, headers=own).json()
    code = one["print"]["name"]
    assert one["doubts"] == ["T1 was not kept as right"]
    assert client.post(f"{home}/prints", json={"number": 1}, headers=own).status_code == 409
    line = client.post(f"/api/editions/prints/{code}/certificate", json={}, headers=own).json()
    sold = client.post(f"/api/editions/prints/{code}/lines", json={"happened": "sold", "price": 90}, headers=own).json()
    assert sold["happened"] == "sold"
    check = client.get(f"/api/editions/prints/{code}/check?digest={line['digest']}").json()
    assert check["matches"]
    assert client.get(f"/api/editions/prints/{code}/listing").json()["artEdition"] == 3
    raised = {"version": 1, "prints": 4, "reason": "asked for"}
    assert client.post(f"{home}/promise", json=raised, headers=own).status_code == 409
    assert client.post(f"{home}/promise", json=raised | {"confirmed": True}, headers=own).json()["prints"] == 4
    view = client.get(home).json()
    assert [promise["prints"] for promise in view["promises"]] == [3, 4]
    assert client.get(f"{home}/price?commission=0.5").json()["terms"]["commission"] == 0.5
    assert client.get(f"{home}/price?size=30x40 cm").json()["size"] == [300, 400]
    assert len(client.get("/api/editions?frame=harbour").json()) == 1
    assert client.get(f"/api/editions/prints/{code}").json()["print"]["number"] == 1


def test_programs_can_take_back_and_bring_back(client, db):
    own = {"origin": "http://localhost"}
    made = client.post("/api/editions", json={"title": "Harbour", "frame": "harbour", "prints": 3}, headers=own).json()
    one = client.post(f"/api/editions/{made['id']}/prints", json={"trial": "T1"}, headers=own).json()
    home = f"/api/editions/prints/{one['print']['name']}"
    on = "2031-03-14T12:00:00Z"
    line = client.post(f"{home}/lines", json={"happened": "signed", "at": on}, headers=own).json()
    assert line["at"].startswith("2031-03-14T12:00")
    assert client.delete(home, headers=own).status_code == 409, "something became of it"
    assert client.delete(f"/api/editions/lines/{line['id']}", headers=own).json()["removed"]
    assert client.delete(home, headers=own).json()["removed"]
    assert client.post(f"{home}/bring-back", headers=own).json()["removed"] is False
    assert client.post(f"/api/editions/lines/{line['id']}/bring-back", headers=own).json()["removed"] is False
    assert client.delete("/api/editions/lines/99", headers=own).status_code == 404


def test_programs_put_a_print_right_as_page_and_command_do(client, db, promised):
    own = {"origin": "http://localhost"}
    code = ledger.number_print(db, "Harbour", trial="T1", size=(203.0, 254.0), note="first").print.name
    home = f"/api/editions/prints/{code}/correct"
    day = client.get(f"/api/editions/prints/{code}").json()["print"]["printed_on"]
    done = client.post(home, json={"version": 1, "size": [200, 250]}, headers=own).json()
    there = {"trial": "T1", "size": [200, 250], "printed_on": day, "note": "first", "version": 2}
    assert {what: done["print"][what] for what in there} == there, "what is left out stays"
    assert client.post(home, json={"version": 1, "size": [1, 1]}, headers=own).status_code == 409
    done = client.post(home, json={"version": 2, "trial": None, "printed_on": None, "paper": " matt "}, headers=own)
    kept = done.json()["print"]
    assert (kept["trial"], kept["printed_on"], kept["paper"], kept["size"]) == (None, None, "matt", [200, 250])
    done = client.post(home, json={"version": 3, "trial": "T1"}, headers=own).json()["print"]
    assert (done["trial"], done["printed_on"]) == ("T1", day)
    for wrong, words in (
        ({}, "Nothing was named to be put right"),
        ({"size": [0, 250]}, "give sides above 0, up to 10 m"),
        ({"printed_on": "last week"}, "is no day; write year, month and day"),
        ({"paper": None}, "paper"),
        ({"number": 2}, "number"),
    ):
        answer = client.post(home, json={"version": 4} | wrong, headers=own)
        assert answer.status_code == 422, wrong
        assert words in answer.json()["detail"]
    print_lines.write_certificate(db, code)
    told = client.post(home, json={"version": 4, "size": [210, 260]}, headers=own).json()["doubts"]
    assert told == [f"{code} has a certificate that says otherwise than the ledger today: size"]


def test_labels_certificates_and_care_have_addresses_of_their_own(client, db, promised):
    code = ledger.number_print(db, "Harbour", trial="T1").print.name
    prints = f"/api/editions/prints/{code}"
    assert client.get(f"{prints}/certificate.pdf").status_code == 409, "none is written"
    print_lines.write_certificate(db, code)
    wall = {"lux": 450, "hours": 12, "dose": 40}
    for path in (f"/api/editions/{promised}/labels.pdf", f"{prints}/label.pdf", f"{prints}/certificate.pdf"):
        answer = client.get(path)
        assert (answer.headers["content-type"], answer.content[:4]) == ("application/pdf", b"%PDF")
    page = client.get(f"/editions/prints/{ledger.find_print(db, code).print.id}/care.pdf", params=wall)
    assert client.get(f"{prints}/care.pdf", params=wall).content == page.content
    (light, *_) = client.get(f"{prints}/care", params=wall).json()
    assert "receives 1.97 million lux hours a year" in light["rules"][0]["words"]
    assert "stated dose of 40 million lux hours" in light["rules"][1]["words"]
    for wrong in ({"lux": 450}, {"lux": 450, "hours": 25}, {"lux": "nan", "hours": 2}):
        for form in ("care", "care.pdf"):
            assert client.get(f"{prints}/{form}", params=wrong).status_code == 422, wrong
    digest = ledger.find_print(db, code).certificate.digest
    checked = client.get(f"{prints}/check", params={"digest": digest, "says": ["Number: 2/5", "Title: Harbour"]}).json()
    assert (checked["matches"], checked["differs"]) == (False, [["Number", "2/5", "1/5"]])
    assert "Write what and value" in client.get(f"{prints}/check", params={"says": "2/5"}).json()["detail"]


def test_what_looks_like_a_slip_is_told_alike_on_page_by_command_and_over_http(
    client, slipped, log_a_slip, tmp_path, run
):
    own = {"origin": "http://localhost"}
    made = ledger.add_edition(slipped, "Market", frame="market", prints=3)
    home = f"/api/editions/{made.id}"
    waiting = {one["sheet"]["name"]: one["doubts"] for one in client.get(f"{home}/sheets").json()}
    assert waiting["M1"] == ["M1 was not kept as right"]
    told = waiting["slip"]
    assert told[1].startswith("slip was perhaps a slip, which is asked about: reads as if ")
    page = client.get(f"/editions/{made.id}").text
    assert f"not kept as right, {told[1].removeprefix('slip was ')}</option>" in page
    one = client.post(f"{home}/prints", json={"trial": "slip"}, headers=own).json()
    assert one["doubts"] == told
    code = one["print"]["name"]
    other = client.post(f"/api/editions/prints/{code}/correct", json={"version": 1, "trial": "M1"}, headers=own).json()
    assert other["doubts"] == ["M1 was not kept as right"]
    back = post(client, f"/editions/prints/{one['print']['id']}/correct", version="2", trial="slip")
    said = client.get(back.headers["location"]).text
    assert f"The print is put right. {told[0]}. {told[1]}." in said

    with Database.open(tmp_path / "studio") as db:
        entry.add_frame(db, "market", film=entry.add_film(db, "film 1").name)
        log_a_slip(db)
        ledger.add_edition(db, "Market", frame="market", prints=3)
    shown = run("edition", "show", "Market", "--json")[1]
    assert {one["sheet"]["name"]: one["doubts"] for one in shown["sheets"]}["slip"][1].startswith(told[1][:60])
    assert "Without a number: slip, M4" in run("edition", "show", "Market")[1]
    by_command = run("edition", "number", "Market", "--trial", "slip", "--json")[1]
    assert by_command["doubts"][1].startswith(told[1][:60])
    code = by_command["print"]["name"]
    assert run("edition", "correct", code, "--trial", "", "--on", "", "--json")[1]["print"]["trial"] is None
    lines = run("edition", "correct", code, "--trial", "slip", "--seen", "2")[1].splitlines()
    assert lines[0].endswith("is put right.")
    assert lines[2].startswith(f"? {told[1][:60]}")
    assert "changed meanwhile" in run("edition", "correct", code, "--note", "late", "--seen", "2")[2]


def test_the_whole_way_on_the_command_line(run, tmp_path):
    assert run("add", "film", "summer")[0] == 0
    assert run("add", "frame", "low tide", "--film", "summer")[0] == 0
    assert run("edition", "list")[1].startswith("No edition is promised yet")
    promise = ("--prints", "3", "--proofs", "1")
    status, made, _ = run("edition", "add", "Low tide", "--frame", "low tide", *promise, "--json")
    assert (status, made["prints"]) == (0, 3)
    status, one, _ = run("edition", "number", "Low tide", "--size", "20x25 cm", "--on", "14.3.2026", "--json")
    code = one["print"]["name"]
    assert one["print"]["printed_on"] == "2026-03-14"
    assert "was given already" in run("edition", "number", "Low tide", "--number", "1")[2]
    assert run("edition", "line", code, "signed", "--on", "15.3.2026")[0] == 0
    out = tmp_path / "c.pdf"
    status, line, _ = run("edition", "certificate", code, "--out", str(out), "--json")
    assert (status, out.read_bytes()[:4]) == (0, b"%PDF")
    assert run("edition", "certificate", code, "--json")[1]["id"] == line["id"]
    assert run("edition", "check", code, line["digest"], "--json")[1]["matches"]
    wrong = run("edition", "check", code, line["digest"], "--says", "Number: 2/3")[1]
    assert "Differs from the ledger." in wrong
    assert "2/3" in wrong
    assert "cannot be read. Write what and value" in run("edition", "check", code, "--says", "Number")[2]
    assert run("edition", "line", code, "sold", "--price", "120", "--to", "somebody")[1].count("personal data") == 1
    assert run("edition", "label", code, "--edition", "Low tide", "--out", str(tmp_path / "l.pdf"))[0] == 0
    assert "No print was named" in run("edition", "label", "--out", str(tmp_path / "l.pdf"))[2]
    assert "1.97 million lux hours" in run("edition", "care", code, "--lux", "450", "--hours", "12")[1]
    assert "Below" in run("edition", "price", "Low tide", "--commission", "40 %")[1]
    assert run("edition", "listing", code, "--json")[1]["identifier"] == code
    assert json.loads(run("edition", "listing", code)[1])["identifier"] == code  # what is read can be pasted
    shown = run("edition", "show", "Low tide")[1]
    assert "1/3" in shown
    assert "sold, still here 1" in shown
    lines = run("edition", "print", code, "--json")[1]["lines"]
    assert [one["happened"] for one in lines] == ["signed", "certificate written", "sold"]
    assert run("edition", "take-back", "--line", str(lines[-1]["id"]))[0] == 0
    assert run("edition", "bring-back", "--line", str(lines[-1]["id"]))[0] == 0
    assert "Name one of three" in run("edition", "take-back")[2]
    second = run("edition", "number", "Low tide", "--json")[1]["print"]["name"]
    assert run("edition", "take-back", "--print", second)[0] == 0
    assert run("edition", "bring-back", "--print", second)[0] == 0
    assert run("edition", "correct", second, "--paper", "glossy", "--size", "8x10 in")[0] == 0
    assert "Nothing was named" in run("edition", "correct", second)[2]
    assert "breaks a promise" in run("edition", "change", "Low tide", "--prints", "4", "--reason", "asked for")[2]
    changed = run("edition", "change", "Low tide", "--prints", "4", "--reason", "asked for", "--confirm", "--json")[1]
    assert (changed["prints"], changed["confirmed"]) == (4, True)
    assert "Nothing was named" in run("edition", "change", "Low tide")[2]
    assert "1/3 (4 prints promised since " in run("edition", "show", "Low tide")[1]
    told = run("edition", "print", code)[1]
    assert "Number: 1/3\nPrints in all: 4\n" in told
    assert re.search(r"Numbered 1/3 on .*; 4 prints promised since .* \d{4}\.\n", told)
    assert run("edition", "add", "Other", "--frame", "low tide", "--prints", "2")[0] == 0
    assert run("edition", "take-back", "--edition", "Other")[0] == 0
    assert run("edition", "bring-back", "--edition", "Other")[0] == 0


def test_python_does_the_same():
    studio = Studio.in_memory()
    studio.add_film("film")
    studio.add_frame("low tide", film="film")
    setting = Setting(pack=FilterPack(magenta=45, yellow=60), time=10)
    trial = studio.log("low tide", Exposed(setting=setting, density=(0.7, 0.7, 0.7), kept=True))
    title = studio.add_edition("Low tide", frame="low tide", prints=3, proofs=1)
    code = studio.number(title, trial=trial)
    studio.happened(code, "certificate written")
    studio.happened(code, "sold", price=100.0)
    view = studio.edition(title)
    assert [one.state for one in view.prints] == ["sold"]
    assert studio.check_certificate(code, view.prints[0].certificate.digest).matches
    with pytest.raises(ValueOutOfRange, match=r'What happened: "eaten" is not known here; choose one of signed'):
        studio.happened(code, "eaten")
    with pytest.raises(Refused, match=r"one sheet is one print"):
        studio.number(title, trial=trial)


def test_days_are_read_as_people_write_them():
    assert day_if("2026-03-14", "On") == day_if(" 14.3.2026 ", "On")
    assert (day_if("", "On"), moment_if("", "On")) == (None, None)
    assert moment_if("14.3.2026", "On").replace(tzinfo=None) == datetime(2026, 3, 14, 23, 59)
    with pytest.raises(ValueOutOfRange, match=r'On: "31\.2\.2026" is no day'):
        day_if("31.2.2026", "On")


def test_a_day_before_all_days_is_told(monkeypatch):
    monkeypatch.setenv("TZ", "Etc/GMT-3")  # three hours ahead: the first day would begin in the year 0
    time.tzset()
    try:
        for day in ("0001-01-01", "9999-12-31", "31.12.1899"):
            with pytest.raises(ValueOutOfRange, match=r"On: The date .* cannot be that of a record. Correct the year"):
                moment_if(day, "On")
    finally:
        monkeypatch.undo()
        time.tzset()


def test_half_of_a_sign_is_told_and_nothing_is_written(client, db):
    body = '{"title": "Harbour", "frame": "harbour", "prints": 3, "sizes": "a\\ud800"}'
    done = client.post("/api/editions", content=body, headers={"content-type": "application/json"})
    assert done.status_code == 422
    assert "half of a sign" in done.text
    assert ledger.editions_ever(db) == []


def test_the_demos_edition_has_prints_in_every_state(db):
    mark_kept(db, "T1")
    add_edition_history(db, "harbour", "semi-matt", now=datetime(2026, 5, 1, 20, tzinfo=UTC))
    view = ledger.edition_view(db, TITLE)
    states = [one.state for one in view.prints]
    assert states == ["delivered", "sold", "on consignment", "destroyed", "signed", "numbered", "numbered", "numbered"]
    assert view.prints[0].print.trial == "T1"
    assert all(one.print.note == "invented" for one in view.prints)
    assert all("invented" in line.note for one in view.prints for line in one.lines)
