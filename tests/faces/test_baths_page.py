"""The Baths pages and command: text to values, one service, show what came back."""

import json
import re
from datetime import UTC, datetime
from itertools import pairwise

import pytest
from fastapi.testclient import TestClient

from printlore.core.bath.kit import Use
from printlore.core.control.limits import QUANTITIES
from printlore.demo.baths import add_bath_history
from printlore.errors import ValueOutOfRange
from printlore.faces import typed
from printlore.faces.bath_typed import kit_parts
from printlore.faces.cli.main import main
from printlore.faces.web.app import create_app
from printlore.records.baths import Bath, BathEvent, Run
from printlore.records.baths_control import ControlRecord
from printlore.records.database import Database
from printlore.services.baths import BEFORE_OPENING, CARE, TAKEN_OUT
from printlore.services.entry import add_process, find_record, list_records

NOON = datetime(2026, 5, 30, 12, 0, tzinfo=UTC)
PAGES = ("", "/mix", "/control", "/fault", "/warmth", "/waste")


@pytest.fixture(scope="module")
def months():
    with Database.in_memory() as db:
        bath = add_bath_history(db, seed=4, now=NOON)
        with TestClient(create_app(db), base_url="http://localhost", raise_server_exceptions=False) as client:
            yield client, find_record(db, Bath, bath)


@pytest.fixture
def empty():
    with (
        Database.in_memory() as db,
        TestClient(create_app(db), base_url="http://localhost", raise_server_exceptions=False) as client,
    ):
        yield client, db


@pytest.mark.parametrize("place", PAGES)
def test_every_page_stands_in_an_empty_studio_and_says_what_to_do_first(empty, place):
    client, _ = empty
    answer = client.get("/baths" + place)
    assert answer.status_code == 200
    assert 'class="sentence"' in answer.text


@pytest.mark.parametrize("place", PAGES)
def test_every_page_stands_after_two_months_with_one_main_sentence_and_labelled_entries(months, place):
    client, _ = months
    text = client.get("/baths" + place).text
    assert text.count('class="sentence"') == 1
    labels = set(re.findall(r'<label for="([^"]+)"', text))
    entries = re.findall(r'<(?:input|select|textarea)(?![^>]*type="(?:hidden|radio)")[^>]* id="([^"]+)"', text)
    assert set(entries) <= labels
    assert len(set(entries)) == len(entries)


def test_the_first_line_is_the_forecast_and_the_second_what_to_do(months):
    client, bath = months
    text = client.get("/baths").text
    sentence = re.search(r'<p class="sentence">(.*?)</p>', text, re.S)[1]
    assert bath.name in sentence
    assert re.search(r"20x25 \(90 %: \d+ to \d+\)|no more 20x25", sentence)
    assert re.search(r'<p class="lead"><em>(Keep|Top up|Retire)', text)
    assert "<svg" in text


def test_a_bath_shows_ledger_choices_wear_and_doubts(months):
    client, bath = months
    text = client.get(f"/baths/of/{bath.id}").text
    for words in ("Keep, top up or retire", "A steady bath", "Ledger", "How it wears", "not weighed", "from memory"):
        assert words in text, words
    assert "Keep it as it is" in text
    assert "Retire it and mix" in text


def test_a_bleach_fix_takes_loads_and_promises_nothing(months):
    client, _ = months
    (fix,) = (one for one in client.get("/api/baths").json() if "bleach-fix" in one["bath"]["name"])
    text = client.get(f"/baths/of/{fix['bath']['id']}").text
    assert "How much it takes, its kit&#39;s sheet says." in text
    assert "It went through" in text
    assert "booked to their developer alone" in text
    for words in ("What ends it", "A steady bath", "How it wears", "mL, strength", "Line: strength"):
        assert words not in text, words
    told = client.get(f"/api/baths/{fix['bath']['name']}").json()
    assert (told["capacities"], told["options"]) == ([], [])


def test_a_drum_load_is_booked_before_the_forecasts_are_scrolled_past(months):
    client, bath = months
    text = client.get(f"/baths/of/{bath.id}").text
    assert text.index("It went through") < text.index("What ends it") < text.index("Ledger")


def test_the_chart_has_a_row_a_quantity_and_a_shape_a_channel(months):
    client, _ = months
    text = client.get("/baths/control").text
    svg = re.search(r"<svg.*?</svg>", text, re.S)[0]
    for quantity in QUANTITIES:
        assert f">{quantity}</text>" in svg
    patches = int(re.search(r"(\d+) patches", text)[1])
    assert svg.count("<circle") == 4 * patches
    assert svg.count("<rect") == 4 * patches
    assert 'fill="#' not in svg  # no hue: shape and words carry the meaning
    assert "newest red" in svg


def test_the_life_line_shows_past_and_what_is_to_come(months):
    client, bath = months
    text = client.get(f"/baths/of/{bath.id}").text
    bars = [float(h) for h in re.findall(r'<rect class="cloud"[^>]*height="([\d.]+)"', text)]
    assert len(bars) >= 6
    assert all(after <= before + 0.11 for before, after in pairwise(bars))


def test_mixing_says_cautions_where_the_step_is(months):
    client, _ = months
    text = client.get("/baths/mix", params={"kit": "two-part developer", "volume": "500", "bottle": "520"}).text
    assert 'class="care"' in text
    assert "nitrile gloves" in text
    assert "1 mL of 50 mL is 2 % of this part: harmless" in text
    order = [text.index(f'<td class="n">{i}</td>') for i in (1, 2, 3, 4)]
    assert order == sorted(order)
    stop = client.get("/baths/mix", params={"kit": "acid stop", "volume": "1000"}).text
    assert "Acid into water, never water into acid" in stop
    assert "safety sheet of this kit is not marked as read" in stop


def test_volumes_are_typed_with_comma_or_point_and_nonsense_is_told(months):
    client, _ = months
    assert "512.5 mL" in client.get("/baths/mix", params={"kit": "two-part developer", "volume": "512,5"}).text
    bad = client.get("/baths/mix", params={"kit": "two-part developer", "volume": "900", "bottle": "500"})
    assert bad.status_code == 422
    assert "900 mL do not go into a bottle of 500 mL" in bad.text


def test_a_fault_is_looked_for_in_the_trades_order(months):
    client, _ = months
    text = client.get("/baths/fault", params={"seen": ["all_shift", "light_weak_blacks"], "bath's ledger": "no"}).text
    places = [
        text.index(f"{i}. {name}") for i, name in enumerate(("light", "paper", "process", "viewing", "negative"), 1)
    ]
    assert places == sorted(places)
    assert "minutes" in text
    assert "something else" in text


def test_a_whole_life_by_the_forms(empty):
    client, db = empty
    add_process(db, "45 s", developer_temperature=35.0, developer_time=45.0)
    steps = [
        ("/baths/kit", {"kit_name": "two parts", "use": "developer", "parts": "A 100 alkali\nB 100 sensitiser"}),
        (
            "/baths/concentrate",
            {"bottle_name": "A1", "kit": "two parts", "part": "A", "bottle_volume": "500", "price": "9,5"},
        ),
        ("/baths/concentrate", {"bottle_name": "B1", "kit": "two parts", "part": "B", "bottle_volume": "500"}),
        ("/baths/kit/two parts/read", {}),
        (
            "/baths/mix",
            {"bath_name": "one", "kit": "two parts", "process": "45 s", "volume": "500", "bottle": "520"}
            | {"poured_order": "water, A, B, water"},
        ),
        ("/baths/of/1/run", {"size": "20x25 cm", "water_in": "5", "solution_out": "6,5"}),
        ("/baths/of/1/top-up", {"added": "20", "bled": "10"}),
        ("/baths/of/1/gauge", {"volume": "505"}),
        (
            "/baths/control",
            {"bath": "one", "white": "0,1 0,1 0,1", "light": "0.7 0.7 0.7", "dark": "1.4 1.4 1.4"}
            | {"black": "2.2 2.2 2.1", "good": "1"},
        ),
        ("/baths/fault", {"cause": "lamp or mains", "seen": ["all_shift"]}),
        ("/baths/warmth/time", {"process": "45 s", "own_degrees": "30", "own_seconds": "68"}),
        (
            "/baths/warmth/curve",
            {"drum_name": "small", "curve_volume": "70", "curve_wall": "22", "times": "0 10 20 40 60"}
            | {"degrees": "35 34 33,3 32.6 32.3"},
        ),
        ("/baths/waste/container", {"container_name": "grey", "kept_for": "silver", "capacity": "5"}),
        ("/baths/waste/pour", {"container": "grey", "litres": "0,5", "what": "bleach-fix", "holds": "silver"}),
        ("/baths/waste/answer", {"authority": "office", "about": "silver", "answer": "bring it"}),
        ("/baths/waste/hand-over", {"container": "grey", "to": "collection"}),
        ("/baths/waste/diary", {"person": "me", "minutes": "60", "substances": "developer", "gloves": "1"}),
        ("/baths/of/1/retire", {}),
    ]
    assert 'name="gloves" value="1"><' in client.get("/baths/waste").text, "no protection is ticked beforehand"
    for path, form in steps:
        answer = client.post(path, data=form, follow_redirects=False)
        assert answer.status_code == 303, (path, answer.text)
    assert list_records(db, Run)[0].area == pytest.approx(0.05)
    assert list_records(db, ControlRecord)[0].good
    refused = client.post("/baths/of/1/run", data={"size": "20x25 cm"})
    assert refused.status_code == 409
    assert "The bath was retired" in refused.text
    retired = list_records(db, BathEvent)[-1].id
    assert client.post(f"/baths/event/{retired}/undo", follow_redirects=False).status_code == 303
    assert client.post("/baths/of/1/run", data={"size": "20x25 cm"}, follow_redirects=False).status_code == 303
    pour = client.get("/baths/warmth", params={"drum": "small", "mean": "35", "step": "45", "pour": "70", "wall": "28"})
    assert re.search(r"Pour at <em>3[5-9]\.\d", pour.text)
    time = client.get("/baths/warmth", params={"process": "45 s", "today": "32"})
    assert "three layers do not follow temperature alike" in time.text


@pytest.mark.parametrize(
    ("path", "form", "words"),
    [
        ("/baths/of/99/run", {"size": "20x25"}, "no bath number 99"),
        ("/baths/kit", {"kit_name": "k", "use": "developer", "parts": "A"}, "cannot be read"),
        ("/baths/kit", {"kit_name": "k", "use": "soup", "parts": "A 100"}, "is no use of a kit"),
        ("/baths/kit", {"kit_name": "k", "use": "developer", "parts": "A 100 angry"}, "is no nature of a part"),
        ("/baths/kit", {"kit_name": "k", "use": "developer", "parts": "Part A"}, "cannot be read as a part"),
        ("/baths/waste/container", {"container_name": "c", "kept_for": "silver", "capacity": "many"}, "cannot be read"),
        ("/baths/waste/answer", {"authority": " ", "about": "silver", "answer": "x"}, "Name the authority"),
    ],
)
def test_wrong_entries_come_back_in_words(empty, path, form, words):
    client, _ = empty
    answer = client.post(path, data=form)
    assert answer.status_code in (404, 409, 422)
    assert words in answer.text


def test_labels_come_as_a_pdf(months):
    client, bath = months
    answer = client.get("/baths/labels", params={"bath": bath.name})
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF")
    assert client.get("/baths/labels").content.startswith(b"%PDF")


def test_the_same_is_told_over_http(months):
    client, bath = months
    assert bath.name in [one["bath"]["name"] for one in client.get("/api/baths").json()]
    told = client.get(f"/api/baths/{bath.name}").json()
    assert {"said", "state", "capacities", "options", "doubts"} <= set(told)
    assert told["state"]["strength"] < 1
    assert client.get("/api/baths/none such").status_code == 404


@pytest.fixture
def run(tmp_path, capsys):
    """Run a command in a studio of its own; gives (status, words or JSON, error words)."""
    folder = tmp_path / "studio"
    with Database.open(folder) as db:
        bath = add_bath_history(db, seed=4, now=NOON)

    def call(*arguments):
        status = main(["baths", *arguments, "--studio", str(folder)])
        shown = capsys.readouterr()
        return status, json.loads(shown.out) if "--json" in arguments and shown.out else shown.out, shown.err

    call.bath, call.folder = bath, folder
    return call


def test_cautions_stand_where_a_bottle_is_opened_a_bath_topped_up_and_solution_taken_out(months, run):
    client, bath = months
    assert BEFORE_OPENING in client.get("/baths/mix").text
    assert CARE[Use.DEVELOPER][0] in client.get(f"/baths/of/{bath.id}").text
    assert BEFORE_OPENING in run("open", "another A", "two-part developer", "A", "250")[1]
    assert TAKEN_OUT in run("top-up", run.bath, "20", "--out", "40")[1]
    assert TAKEN_OUT not in run("top-up", run.bath, "20")[1]
    assert TAKEN_OUT in run("bleed", run.bath, "10")[1]


def test_the_command_writes_numbers_as_the_studio_does(run, capsys):
    assert main(["studio", "writing", "--decimal-mark", ",", "--studio", str(run.folder)]) == 0
    capsys.readouterr()
    for step in (("list",), ("show", run.bath), ("steady", run.bath), ("waste", "list")):
        shown = run(*step)[1]
        assert re.search(r"\d,\d", shown), step
        assert not re.search(r"\d\.\d", shown), shown


def test_the_command_does_what_the_page_does(run):
    assert run.bath in run("list")[1]
    assert "20x25" in run("show", run.bath)[1]
    assert run("show", run.bath, "--size", "13x18", "--json")[1]["state"]["strength"] < 1
    assert run("run", run.bath, "20x25", "--water-in", "5", "--out", "6,5")[0] == 0
    assert "in, 40 mL out" in run("top-up", run.bath, "20", "--out", "40")[1]
    assert run("gauge", run.bath, "450")[0] == 0
    bleed = str(run("bleed", run.bath, "10", "--json")[1]["id"])
    assert "Taken back: bleed" in run("take-back", run.bath)[1]
    assert "Brought back: bleed" in run("bring-back", run.bath, "--event", bleed)[1]
    assert "mL" in run("steady", run.bath)[1]
    assert "patches" in run("process")[1]
    assert "Next:" in run("fault", "--seen", "streaks")[1]
    assert "Recorded" in run("fault", "--seen", "streaks", "--was", "uneven pour or drum")[1]
    assert "harmless" in run("plan", "two-part developer", "500")[1]
    assert (
        "375 mL hot and 625 mL cold" in run("water", "--cold", "20", "--hot", "60", "--aim", "35", "--total", "1000")[1]
    )
    assert "degrees C if 15 %" in run("pour", "--volume", "70", "--at", "35", "--drum", "400", "--drum-at", "22")[1]
    assert "grey drum" in run("waste", "list")[1]
    assert "the printer" in run("waste", "diary")[1]
    assert run("retire", run.bath)[0] == 0
    status, _, words = run("run", run.bath, "20x25")
    assert status == 5
    assert "The bath was retired" in words


def test_a_drum_load_is_taken_back_brought_back_and_put_right_by_command(run):
    first = run("run", run.bath, "20x25 cm + 20x25 cm", "--water-in", "5", "--json")[1]
    assert first["area"] == pytest.approx(0.1)
    assert "Taken back: drum load" in run("take-back", run.bath, "--load", first["name"])[1]
    (line,) = (line for line in run("book", run.bath)[1].splitlines() if first["name"] in line)
    assert line.endswith("taken back")
    assert run("take-back", run.bath, "--load", first["name"])[0] == 5
    answer = run("bring-back", run.bath, "--load", first["name"], "--json")[1]
    assert (answer["brought_back"], answer["entry"]["removed"]) == ("drum load", False)
    right = run("correct-load", first["name"], "--size", "20x25 cm", "--water-in", "", "--seen", "3", "--json")[1]
    assert (right["area"], right["water_in"], right["version"]) == (pytest.approx(0.05), None, 4)
    assert run("correct-load", first["name"], "--size", "13x18 cm", "--seen", "3")[0] == 6
    assert run("correct-load", first["name"])[0] == 2
    assert run("bring-back", run.bath)[0] == 2
    assert run("take-back", run.bath, "--load", "none such")[0] == 4
    last = run("book", run.bath, "--json")[1][-1]
    assert (last["kind"], last["entry"]["name"], last["entry"]["removed"]) == ("drum load", first["name"], False)


@pytest.mark.parametrize("sizes", ["8x10 in + 5x7", "8x10 + 5x7 in", '8x10" + 5x7', "200x250 mm + 13x18"])
def test_sizes_of_several_pieces_are_of_one_unit_or_each_of_its_own(sizes):
    with pytest.raises(ValueOutOfRange, match=r"the unit of .* is not sure\. Write it behind each size"):
        typed.area(sizes)
    assert typed.area("8x10 in + 13x18 cm") == pytest.approx(0.2032 * 0.254 + 0.13 * 0.18)
    assert typed.area("20x25 + 13x18") == typed.area("20x25 cm + 13x18") == pytest.approx(0.05 + 0.0234)


def test_each_entry_of_a_bath_is_taken_back_and_brought_back_on_its_page(empty):
    client, db = empty
    add_process(db, "45 s")
    client.post("/baths/kit", data={"kit_name": "k", "use": "developer", "parts": "A 100"})
    mixed = {"bath_name": "b", "kit": "k", "process": "45 s", "volume": "500", "bottle": "600"}
    client.post("/baths/mix", data=mixed)
    page = client.post("/baths/of/1/run", data={"size": "20x25 cm + 13x18 cm", "water_in": "5"})
    assert list_records(db, Run)[0].area == pytest.approx(0.05 + 0.0234)
    assert re.search(r'<form method="post" action="/baths/load/1/undo"><button class="quiet">Undo', page.text)
    client.post("/baths/of/1/top-up", data={"added": "20", "bled": "10"})
    # a page that was open before the top-up takes back what it says, not what came last
    page = client.post("/baths/load/1/undo")
    assert "Taken back: drum load" in page.text
    assert list_records(db, Run) == []
    (row,) = re.findall(r"<tr>(?:(?!</tr>).)*b, load 1(?:(?!</tr>).)*</tr>", page.text, re.DOTALL)
    assert "taken back" in row
    assert 'action="/baths/load/1/bring-back"' in row
    assert client.post("/baths/load/1/undo").status_code == 409
    client.post("/baths/load/1/bring-back")
    for version, status in (("3", 200), ("3", 409)):
        sent = {"version": version, "size": "20x25 cm", "water_in": "4,5"}
        assert client.post("/baths/load/1/correct", data=sent).status_code == status
    assert (list_records(db, Run)[0].area, list_records(db, Run)[0].water_in) == (pytest.approx(0.05), 4.5)
    assert "Taken back: top up" in client.post("/baths/event/1/undo").text
    assert list_records(db, BathEvent) == []
    assert "Brought back: top up" in client.post("/baths/event/1/bring-back").text
    assert client.post("/baths/event/99/undo").status_code == 404
    book = client.get("/api/baths/b/book").json()
    assert [(one["kind"], one["entry"]["removed"]) for one in book] == [("drum load", False), ("top up", False)]


def test_wrong_words_on_the_command_line_are_told(run):
    status, _, words = run("time", "45 s at 35 degrees", "20")
    assert status == 5
    assert "No time for another temperature is known" in words
    status, _, words = run("control", run.bath, "0.1 0.1")
    assert status == 2
    assert "twelve densities" in words
    status, _, words = run("fault", "--test", "control patch=maybe")
    assert status == 2
    assert '"name=yes" or "name=no"' in words


def test_kits_bottles_controls_limits_and_labels_by_command(run, tmp_path):
    assert "water then A then water" in run("kit", "third", "stop bath", "--part", "A 20 acid", "--life", "30")[1]
    assert run("open", "A3", "third", "A", "500", "--price", "4")[0] == 0
    assert "A3" in run("concentrates")[1]
    process = "45 s at 35 degrees"
    assert run("mix", "stop 1", "1000", "--kit", "third", "--process", process, "--poured", "A, water")[0] == 5
    assert run("mix", "stop 1", "1000", "--kit", "third", "--process", process, "--poured", "water, A, water")[0] == 0
    assert run("limits", "own sheet", "--look", "0.01 0.03 0.03 0.05", "--stop", "0.02 0.06 0.06 0.1")[0] == 0
    patch = "0.09 0.10 0.11 0.71 0.74 0.69 1.46 1.49 1.42 2.31 2.28 2.19"
    assert "own sheet" in run("control", run.bath, patch)[1]
    out = tmp_path / "labels.pdf"
    assert run("labels", str(out), "--bath", "stop 1")[0] == 0
    assert out.read_bytes().startswith(b"%PDF")
    assert (
        run(
            "curve",
            "d",
            "--volume",
            "70",
            "--drum-at",
            "22",
            "--times",
            "0 10 20 40 60",
            "--degrees",
            "35 34 33.3 32.6 32.3",
        )[0]
        == 0
    )
    assert "Pour at" in run("start", "d", "--aim", "35", "--seconds", "45", "--volume", "70", "--drum-at", "28")[1]
    assert run("own-time", process, "30", "68")[0] == 0
    assert "68" in run("time", process, "30")[1]
    assert run("waste", "container", "jar", "stop", "2")[0] == 0
    assert run("waste", "pour", "jar", "0.5", "stop", "--holds", "silver")[0] == 5
    assert run("waste", "answer", "office", "stop", "bring it")[0] == 0
    assert run("waste", "pour", "jar", "0.5", "stop")[0] == 0
    assert "0.50 L handed" in run("waste", "hand-over", "jar", "office")[1]
    assert "rash" in run("waste", "diary", "60", "developer", "--symptoms", "rash")[1]
    said = run("waste", "diary", "60", "developer", "--gloves", "--ventilation")[1]
    assert "printer, 60 min, developer, with gloves, no goggles, with fan" in said


def test_a_control_patch_is_taken_back_by_its_number(run):
    before = run("patches", "--json")[1]
    assert run("process", "--json")[1]["newest"] == before[-1]["id"]
    assert run("process", "--json")[1]["foreseen"] in run("process")[1]
    after = run("patches", "--remove", str(before[-1]["id"]), "--json")[1]
    assert after[:-1] == before[:-1]
    last = str(before[-1]["id"])
    assert [one["removed"] for one in after] == [False] * (len(before) - 1) + [True]
    (line,) = (line for line in run("patches")[1].splitlines() if line.split()[:1] == [last])
    assert line.endswith("taken back")
    status, _, words = run("patches", "--remove", last)
    assert status == 5
    assert f"Control patch {last} was taken back before" in words
    assert run("patches", "--remove", "977")[0] == 4
    assert run("patches", "--remove", "1", "--bring-back", "1")[0] == 2
    words = run("patches", "--bring-back", last)[1]
    assert f"Control patch {last} is brought back; it counts again." in words
    assert "taken back" not in words
    assert run("process", "--json")[1]["newest"] == before[-1]["id"]


def test_the_page_lists_every_control_patch_and_marks_those_taken_back(months):
    client, _ = months
    rows = client.get("/baths/control").text.split("Every patch")[1]
    number = re.search(r'/baths/control/(\d+)/undo"', rows)[1]
    client.post(f"/baths/control/{number}/undo")
    (row,) = re.findall(rf'<tr><th scope="row">{number}</th>.*?</tr>', client.get("/baths/control").text, re.DOTALL)
    assert "taken back" in row
    assert f"/baths/control/{number}/bring-back" in row
    client.post(f"/baths/control/{number}/bring-back")
    (row,) = re.findall(rf'<tr><th scope="row">{number}</th>.*?</tr>', client.get("/baths/control").text, re.DOTALL)
    assert "taken back" not in row


def test_a_safety_sheet_is_noted_as_read_and_everything_in_use_gets_its_label(run, tmp_path):
    assert run("kit", "third", "stop bath", "--part", "A 20 acid")[0] == 0
    assert "read its safety sheet" in run("kits")[1].splitlines()[-1]
    assert run("sheet-read", "third", "--json")[1]["safety_sheet_read"]
    assert [one["safety_sheet_read"] for one in run("kits", "--json")[1] if one["name"] == "third"] == [True]
    out = tmp_path / "labels.pdf"
    assert run("labels", str(out))[0] == 0
    assert out.read_bytes().startswith(b"%PDF")


def test_waste_and_diary_are_taken_back_by_command_and_on_the_page(run):
    run("waste", "container", "grey drum 2", "silver", "5")
    status, made, _ = run("waste", "pour", "grey drum 2", "1,5", "spent", "--json")
    number = str(made["id"])
    assert status == 0
    assert "Taken back: 1.5 L into grey drum 2: spent." in run("waste", "take-back", number)[1]
    status, lines, _ = run("waste", "book", "--json")
    assert [line["removed"] for line in lines if line["id"] == made["id"]] == [True]
    assert "taken back" in run("waste", "book")[1]
    assert run("waste", "take-back", number)[0] != 0
    assert "it counts again" in run("waste", "bring-back", number)[1]
    status, entries, _ = run("waste", "diary", "30", "developer", "--symptoms", "itch", "--json")
    entry = str(entries[0]["id"])
    said = "printer, 30 min, developer, no gloves, no goggles, no fan; itch"
    assert f"Taken back: {said}." in run("waste", "diary", "--take-back", entry)[1]
    assert run("waste", "diary", "--json")[1][0]["removed"]
    with Database.open(run.folder) as db, TestClient(create_app(db), base_url="http://localhost") as client:
        page = client.get("/baths/waste").text
        assert f"{said} · taken back" in page
        assert f'action="/baths/waste/diary/{entry}/bring-back"' in page
        assert f'action="/baths/waste/lines/{number}/undo"' in page
        done = client.post(f"/api/forms/baths/waste/lines/{number}/undo").json()
        assert done["undo"] == f"/api/forms/baths/waste/lines/{number}/bring-back"
        assert client.get("/api/waste").json()[-1]["removed"]
        client.post(f"/baths/waste/diary/{entry}/bring-back")
        assert not client.get("/api/diary").json()[0]["removed"]


def test_verdict_fault_mixing_and_water_are_told_over_http_as_by_command(run):
    kit = run("kits", "--json")[1][0]["name"]
    asked = {
        "/api/process": ({}, ("process",)),
        "/api/fault": (
            {"seen": ["all_shift"], "not_seen": ["one_negative"], "test": ["control patch=no"]},
            ("fault", "--seen", "all_shift", "--not-seen", "one_negative", "--test", "control patch=no"),
        ),
        "/api/mixing": (
            {"kit": kit, "volume": 500, "bottle": 600, "hardness": 120},
            ("plan", kit, "500", "--bottle", "600", "--hardness", "120"),
        ),
        "/api/water": (
            {"total": 1000, "aim": 35, "cold": 15, "hot": 55},
            ("water", "--total", "1000", "--aim", "35", "--cold", "15", "--hot", "55"),
        ),
    }
    told = {path: run(*words, "--json")[1] for path, (_, words) in asked.items()}
    wrong = {
        "/api/process": ({"exposed_by": "trim"}, 409, "No control patch has been read yet"),
        "/api/fault": ({"test": "control patch=maybe"}, 422, "name=yes"),
        "/api/mixing": ({"kit": "none", "volume": 500}, 404, "none"),
        "/api/water": ({"total": 1000, "aim": 60, "cold": 15, "hot": 55}, 422, "the aim must lie between them"),
    }
    with (
        Database.open(run.folder) as db,
        TestClient(create_app(db), base_url="http://localhost", raise_server_exceptions=False) as client,
    ):
        for path, (params, _) in asked.items():
            assert client.get(path, params=params).json() == told[path], path
        for path, (params, status, words) in wrong.items():
            answer = client.get(path, params=params)
            assert (answer.status_code, words in answer.json()["detail"]) == (status, True), answer.text
    assert told["/api/water"] == {"hot": 500.0, "cold": 500.0}  # by hand: half way between the two
    assert {"verdict", "findings", "advice", "foreseen", "patches", "newest"} <= set(told["/api/process"])


@pytest.mark.parametrize(
    ("line", "part"),
    [
        ("A 100", ("A", 100.0, "plain")),
        ("Part A 200", ("Part A", 200.0, "plain")),
        ("Part 1, 50,5 mL, Sensitiser", ("Part 1", 50.5, "sensitiser")),
        ("working strength B: 100mL acid", ("working strength B", 100.0, "acid")),
    ],
)
def test_a_part_is_named_as_its_bottle_is(line, part):
    """ "Part A 200" was refused for "200", which is no nature."""
    (read,) = kit_parts([line, " "])
    assert (read.name, read.per_litre, read.nature.value) == part
