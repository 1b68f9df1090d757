"""The Paper pages and their commands over a small studio: from a roll to boxes, fog, lots."""

import errno
import json
import os
import re
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
import tifffile

from printlore.core.cutting.blind import Event
from printlore.core.cutting.spoken import CUT_PROMPTS
from printlore.devices.sound import read_mu_law
from printlore.errors import ValueOutOfRange
from printlore.faces.cli.main import main
from printlore.faces.paper_typed import wanted_size
from printlore.faces.web.page import FOLDER
from printlore.records.database import Database
from printlore.records.stock import Happened, Place, RollRecord
from printlore.services.cutting import cutting_in_the_dark, keep_plan, plan_paper, press, start_sitting
from printlore.services.entry import add_lot, add_paper
from printlore.services.stock import ledger, receive_roll

NOW = datetime(2026, 3, 1, 18, 0, tzinfo=UTC)


@pytest.fixture
def rolled(db, client):
    """A client of a studio with a roll and a kept plan of one sitting."""
    receive_roll(
        db,
        RollRecord(
            name="r", lot="lot 1", width=305, core_diameter=76, stated_length=30_000, price=90.0, received_at=NOW,
            container="bag 1",
        ),
        place=Place.ROOM,
    )  # fmt: skip
    keep_plan(db, plan_paper(db, [wanted_size("20.3x25.4 cm 6")]), name="march")
    return client


def post(client, path, data, **more):
    answer = client.post(path, data=data, follow_redirects=False, **more)
    assert answer.status_code == 303, answer.text
    return answer.headers["location"]


def test_a_roll_and_a_box_are_taken_in_and_booked(client):
    roll = {"name": "A", "lot": "lot 1", "width": "30,5", "core": "7.6", "stated": "3000", "container": "bag 1"}
    post(client, "/paper/rolls", roll)
    post(client, "/paper/boxes", {"name": "b", "lot": "lot 1", "size": "20x25 cm", "sheets": "50"})
    post(client, "/paper/book", {"box": "b", "happened": "exposed", "sheets": "3"})
    post(client, "/paper/rolls/measure", {"roll": "A", "diameter": "12.2", "thickness": "0.23"})
    post(client, "/paper/move", {"what": "box b", "place": "room"})
    post(client, "/paper/containers", {"name": "bag 1", "unsafe": "yes"})
    text = client.get("/paper").text
    assert "<em>47 sheets</em>" in text
    assert "bag or box that let light in" in text
    assert "still warming up" in text
    assert client.get("/api/paper/stock").json()["boxes"][0]["sheets"] == 47


def test_a_size_without_a_unit_is_in_the_studios(client, run):
    """8x10 in a studio that writes inches was a box of 80 by 100 mm, unsaid."""
    for arguments in (("add", "paper", "matt"), ("add", "lot", "lot 1", "--paper", "matt")):
        assert run(*arguments)[0] == 0
    by_hand = {"cm": (80, 100), "inch": (203.2, 254)}
    for unit, size in by_hand.items():
        assert run("studio", "writing", "--length-unit", unit)[0] == 0
        taken = run("paper", "take-box", unit, "8x10", "50", "--lot", "lot 1", "--json")[1]
        assert (taken["box"]["across"], taken["box"]["along"]) == size
        preferences = re.search(
            r'action="/studio/preferences".*?name="version" value="(.*?)"', client.get("/studio").text, re.S
        )
        writing = {"length_unit": unit, "decimal_mark": ".", "currency": "crown", "version": preferences[1]}
        post(client, "/studio/preferences", writing)
        post(client, "/paper/boxes", {"lot": "lot 1", "name": unit, "size": "8x10", "sheets": "50"})
    post(client, "/paper/boxes", {"lot": "lot 1", "name": "said", "size": "20x25 cm", "sheets": "50"})
    boxes = [one["box"] for one in client.get("/api/paper/stock").json()["boxes"]]
    assert {one["name"]: (one["across"], one["along"]) for one in boxes} == {**by_hand, "said": (200, 250)}


def test_what_happened_on_another_day_is_entered_by_it(client, run):
    """On the page and by command alike; a roll and a box that came, what went, a measure, a move."""
    came, later = "2026-02-27", "28.2.2026"
    box = {"name": "b", "lot": "lot 1", "size": "20x25 cm", "sheets": "50", "on": came}
    roll = {"name": "A", "lot": "lot 1", "width": "30,5", "core": "7.6", "stated": "3000", "on": came}
    post(client, "/paper/boxes", box)
    post(client, "/paper/rolls", roll)
    post(client, "/paper/book", {"box": "b", "happened": "sold", "sheets": "3", "on": later})
    post(client, "/paper/book-roll", {"roll": "A", "happened": "spoiled", "length": "100", "on": later})
    post(client, "/paper/move", {"what": "box b", "place": "room", "on": later})
    days = [line["at"][:10] for line in client.get("/api/paper/ledger").json()]
    assert days == ["2026-02-27", "2026-02-28", "2026-02-28"]
    page = client.get("/paper").text
    assert ("28 Feb 2026, 23:59" in page, "warming up" in page) == (True, False)
    for day, words in (("2100-01-01", "1 January 2100 is still to come"), ("tomorrow", "is no day. Write 2026-03-14")):
        answer = client.post("/paper/book", data={"box": "b", "happened": "sold", "on": day})
        assert (answer.status_code, words in answer.text) == (422, True)
    run("add", "paper", "matt")
    run("add", "lot", "lot 1", "--paper", "matt")
    run("paper", "take-box", "b", "20x25 cm", "50", "--lot", "lot 1", "--on", came)
    run("paper", "take-roll", "A", "--lot", "lot 1", "--width", "30.5 cm", "--label", "30 m", "--on", came)
    assert (
        run("paper", "book", "b", "sold", "3", "--on", later, "--json")[1]["booked"]["at"]
        == "2026-02-28T23:59:00+00:00"
    )
    assert run("paper", "book-roll", "A", "spoiled", "100 cm", "--on", later)[0] == 0
    assert run("paper", "measure", "A", "--turns", "40", "--on", later)[0] == 0
    assert run("paper", "move", "box", "b", "room", "--on", later)[1] == "b is warm.\n"
    assert [line["at"][:10] for line in run("paper", "ledger", "--json")[1]] == days
    status, _, error = run("paper", "book", "b", "sold", "--on", "2026-02-26")
    assert (status, 'On 26 Feb 2026 the ledger had 0 sheets in box "b"' in error) == (5, True)


def test_no_page_shines_while_paper_is_cut_in_the_dark(db, rolled):
    """Other devices in the room stayed bright; a sitting that was left off keeps none black."""
    dark = 'data-light="paper_out"'
    state = start_sitting(db, "march", 1)
    assert (state.position.dark, dark in rolled.get("/negatives").text) == (False, False)
    while not state.position.dark:
        state = press(db, state.sitting.name, Event.PRESS)
    for path in ("/", "/negatives", "/paper", "/studio"):
        assert dark in rolled.get(path).text, path
    assert cutting_in_the_dark(db, at=datetime.now(UTC) + timedelta(hours=1, minutes=59))
    assert not cutting_in_the_dark(db, at=datetime.now(UTC) + timedelta(hours=2))
    while state.position.dark:
        state = press(db, state.sitting.name, Event.PRESS)
    assert dark not in rolled.get("/negatives").text


def test_cover_and_kept_plans_are_told_over_http(rolled):
    covered = rolled.get("/api/paper/cover", params={"lot": "lot 1", "size": "20x25 cm", "prints": 500}).json()
    assert covered["prints"] < covered["wanted"] == 500
    assert f"covers {covered['prints']} of 500 prints" in covered["words"]
    assert rolled.get("/api/paper/cover", params={"lot": "none", "prints": 5}).status_code == 404
    assert [one["name"] for one in rolled.get("/api/paper/plans").json()] == ["march"]
    plan = rolled.get("/api/paper/plans/march", params={"hourly": 24, "sheets": 12, "pack": 2}).json()
    assert (plan["name"], plan["sittings"], plan["no_costs"]) == ("march", [], "")
    assert plan["plan"]["sittings"][0]["source"] == "r"
    twelve = 12 * plan["costs"][0]["cost"]["value"] + 2
    assert plan["packs"][0]["value"] == pytest.approx(twelve)
    assert rolled.get("/api/paper/plans/none").status_code == 404
    assert rolled.get("/api/paper/plans/march", params={"hourly": -1}).status_code == 422


def test_entries_that_cannot_be_come_back_in_words(rolled):
    answer = rolled.post("/paper/rolls", data={"name": "x", "lot": "lot 1", "width": "wide"})
    assert answer.status_code == 422
    assert "Width" in answer.text
    answer = rolled.post("/paper/rolls", data={"name": "x", "lot": "lot 1", "width": "305"})
    assert (answer.status_code, "The width of 3050 mm cannot be that of a roll" in answer.text) == (422, True)
    sent = {"name": "x", "lot": "lot 1", "size": "203x254", "sheets": "50"}
    answer = rolled.post("/paper/boxes", data=sent)
    assert (answer.status_code, "If mm were meant, give 203 x 254 mm" in answer.text) == (422, True)
    answer = rolled.post("/paper/cut", data={"wanted": "20x25 cm"})
    assert answer.status_code == 422
    assert "20x25 cm 12" in answer.text
    assert rolled.get("/paper/plans/99").status_code == 404
    assert rolled.get("/paper/cut/search/99999").status_code == 404


def test_planning_from_the_page_ends_in_a_kept_plan_drawn_to_scale(rolled):
    where = post(rolled, "/paper/cut", {"wanted": "20.3x25.4 cm 6\n", "rolls": ["r"], "settings": "2", "seconds": "5"})
    until = time.monotonic() + 20
    while "Keep this plan" not in (text := rolled.get(where + "/part").text):
        assert time.monotonic() < until, text
        time.sleep(0.05)
    assert "No plan needs fewer than 2 stop settings" in text
    assert "<svg" in text
    kept = post(rolled, where + "/keep", {"which": "0"})
    page = rolled.get(kept).text
    assert "Cut it by voice" in page
    assert "Rotating blades cut" in page
    assert "What a sheet costs" in page
    assert priced(page)[-1] != priced(rolled.get(kept + "?pack=7").text)[-1]
    assert "a pack of 25" in rolled.get(kept + "?sheets=25").text
    assert "The box of a pack costs -7" in rolled.get(kept + "?pack=-7").text
    assert rolled.get(kept + "/plan.pdf").content.startswith(b"%PDF")


def priced(page):
    """Cells of the table of what a sheet costs."""
    return re.findall(r'<td class="n">([^<]*)</td>', page)


def press_until(client, number, key):
    state = client.get(f"/api/paper/sittings/{number}").json()
    while not state["done"] and not state["key"].startswith(key):
        state = client.post(f"/api/paper/sittings/{number}/presses", json={"event": "press"}).json()
    return state


def test_a_cut_by_voice_turns_black_counts_and_fills_the_ledger(rolled):
    where = post(rolled, "/paper/plans/1/sittings/1", {})
    number = int(where.rsplit("/", 1)[1])
    desk = rolled.get(where).text
    assert 'class="black"' not in desk
    assert "a black page is not darkness" in desk
    state = press_until(rolled, number, "cut 1 cross")
    assert state["dark"]
    dark = rolled.get(where).text
    assert 'class="black"' in dark
    assert "<main" not in dark
    again = {"event": "press", "number": state["events"] + 1}
    first = rolled.post(f"/api/paper/sittings/{number}/presses", json=again).json()
    second = rolled.post(f"/api/paper/sittings/{number}/presses", json=again).json()
    assert first["counted"] == second["counted"] == 1
    assert first["sounds"] == ["number_1"]
    undone = rolled.post(f"/api/paper/sittings/{number}/presses", json={"event": "undo"}).json()
    assert undone["counted"] == 0
    assert rolled.get(f"/paper/sittings/{number}/labels.pdf").status_code == 409
    press_until(rolled, number, "labels")
    assert rolled.get(f"/paper/sittings/{number}/labels.pdf").content.startswith(b"%PDF")
    assert {b["sheets"] for b in rolled.get("/api/paper/stock").json()["boxes"]} == {6}


def test_a_press_out_of_turn_is_refused(rolled):
    post(rolled, "/paper/plans/1/sittings/1", {})
    assert rolled.post("/api/paper/sittings/1/presses", json={"number": 5}).status_code == 409
    assert rolled.post("/api/paper/sittings/1/presses", json={"event": "undo"}).status_code == 409
    assert rolled.post("/api/paper/sittings/1/presses", json={"event": "jump"}).status_code == 422


def test_every_prompt_of_cutting_lies_ready_as_sound():
    folder = FOLDER / "static" / "paper" / "audio"
    assert {path.stem for path in folder.glob("*.wav")} == set(CUT_PROMPTS)
    for name in CUT_PROMPTS:
        samples, rate = read_mu_law(folder / f"{name}.wav")
        assert len(samples) > 0.1 * rate


def test_a_plan_over_http_says_what_is_proven(rolled):
    body = {"wanted": ["20.3x25.4 cm 6", "5x20 cm 4 strip"], "seconds": 3}
    answer = rolled.post("/api/paper/plan", json=body).json()
    assert answer["settings"] == 2
    assert answer["short"] == {}
    assert "No plan needs fewer" in answer["proof"]


def fogged_scan(tmp_path):
    x = np.arange(508)[None, :, None] / 2
    light = 10.0 ** -(0.08 + np.array([0.01, 0.12, 0.1]) * 10.0 ** (-x / 25) + np.zeros((406, 1, 1)))
    light *= 10.0 ** np.random.default_rng(2).normal(0, 0.003, light.shape)
    path = tmp_path / "blank.tif"
    tifffile.imwrite(path, np.round(65535 * np.clip(light, 0, 1)).astype(np.uint16), photometric="rgb")
    return path


def test_a_blank_is_uploaded_read_and_its_bag_blamed(rolled, tmp_path):
    files = {"scan": ("blank.tif", fogged_scan(tmp_path).read_bytes(), "image/tiff")}
    post(rolled, "/paper/fog", {"lot": "lot 1", "size": "25.4x20.3 cm", "source": "roll r"}, files=files)
    text = rolled.get("/paper/fog").text
    assert "fog from the left" in text
    assert "the bag or box it was kept in" in text
    assert "<circle" in text
    post(rolled, "/paper/fog/1/coins", {"showed": "no outlines"})
    post(rolled, "/paper/fog/1/blame", {})
    assert "lets light in" in rolled.get("/paper").text
    assert rolled.get("/api/paper/fog/1").json()["record"]["container"] == "bag 1"
    assert rolled.get("/api/paper/fog/9").status_code == 404
    assert rolled.post("/paper/fog/1/coins", data={"showed": "nix"}).status_code == 422
    assert "rough: no wedge lay beside it" in rolled.get("/paper/fog").text
    post(rolled, "/paper/fog/1/undo", {})
    assert "fog from the left" not in rolled.get("/paper/fog").text
    assert "Bring it back" in rolled.get("/paper/fog").text
    post(rolled, "/paper/fog/1/bring-back", {})
    assert "fog from the left" in rolled.get("/paper/fog").text


def test_a_new_lot_is_declared_and_asks_for_its_trial(client):
    post(client, "/paper/lots", {"name": "lot 2", "paper": "matt", "emulsion": "0417"})
    text = client.get("/paper/lots").text
    assert "lot 2 against lot 1" in text
    assert "Print any negative you know well" in text
    post(client, "/paper/lots/relations", {"lot": "lot 2", "other": "lot 1"})
    assert "Stated: one emulsion" in client.get("/paper/lots").text
    assert client.get("/api/paper/lots/lot 2").json()["old_lot"] == "lot 1"
    assert (
        "choose another lot for the edition"
        in client.get("/paper/edition", params={"lot": "lot 1", "size": "20x25 cm"}).text
    )


@pytest.mark.parametrize("path", ["/paper", "/paper/cut", "/paper/plans/1", "/paper/fog", "/paper/lots"])
def test_no_page_carries_style_or_script_that_the_policy_forbids(rolled, path):
    text = rolled.get(path).text
    assert not re.search(r"\sstyle=", text)
    assert not re.search(r"<script(?![^>]*(src=|application/json))", text)


@pytest.fixture
def desk(tmp_path, monkeypatch, capsys):
    """Runs a command in a studio of its own; returns its JSON."""
    folder = tmp_path / "studio"
    with Database.open(folder) as db:
        add_paper(db, "gloss")
        add_lot(db, "lot 1", paper="gloss")
    monkeypatch.setenv("PRINTLORE_STUDIO", str(folder))

    def run(*words):
        status = main(["paper", *words, "--json"])
        assert status in (0, None), capsys.readouterr().err
        return json.loads(capsys.readouterr().out)

    return run


def test_the_same_from_the_command_line(desk, tmp_path, monkeypatch):
    desk("take-roll", "r", "--lot", "lot 1", "--width", "30.5 cm", "--core", "7.6 cm", "--label", "3000 cm", "--warm")
    assert desk("measure", "r", "--diameter", "12.2 cm", "--thickness", "0.23")["usable"] > 20_000
    desk("trimmer", "--blade", "66 cm", "--longest", "52 cm")
    svg, pdf = tmp_path / "plan.svg", tmp_path / "plan.pdf"
    kept = desk("plan", "20.3x25.4 cm 6", "--keep", "--drawing", str(svg), "--pdf", str(pdf), "--seconds", "3")
    assert kept["plans"][0]["settings"] == 2
    assert svg.read_text().startswith("<svg")
    assert pdf.read_bytes().startswith(b"%PDF")
    monkeypatch.setattr("click.prompt", lambda *_, **__: "")
    done = desk("cut", kept["kept"], "1")
    assert done["booked"]
    assert done["made"] == {"203 × 254": 6, "102 × 254 strips": 6}
    box = desk("stock")["boxes"][0]["box"]["name"]
    assert desk("book", box, "exposed", "2")["sheets"] == 4
    assert desk("cover", "lot 1", "20.3x25.4 cm", "5")["prints"] == 5
    assert desk("reorder", "gloss")["in_days"] > 0
    assert desk("fog", str(fogged_scan(tmp_path)), "--lot", "lot 1", "--size", "25.4x20.3 cm")[0]["places"]
    assert len(desk("fog")) == 1
    desk("fog", "--take-back", "--number", "1")
    assert desk("fog") == []
    desk("fog", "--bring-back", "--number", "1")
    assert len(desk("fog")) == 1


def test_stock_is_booked_and_bags_are_remembered_from_the_command_line(desk, capsys):
    desk(
        "take-roll",
        "r",
        "--lot",
        "lot 1",
        "--width",
        "30.5 cm",
        "--label",
        "3000 cm",
        "--bag",
        "bag 1",
        "--price",
        "9,5",
    )
    desk("take-box", "b", "20x25 cm", "50", "--lot", "lot 1", "--container", "drawer")
    booked = desk("book-roll", "r", "spoiled", "150,0 cm", "--note", "creased")
    assert booked["length"]["value"] == pytest.approx(28_500)
    assert desk("container", "bag 1", "unsafe", "--note", "a pinhole")["unsafe"]
    assert {one["name"]: one["unsafe"] for one in desk("stock")["containers"]} == {"bag 1": True, "drawer": False}
    main(["paper", "stock"])
    assert "bag 1 let light in: a pinhole." in capsys.readouterr().out
    mended = desk("container", "bag 1", "mended")
    assert (mended["unsafe"], mended["note"]) == (False, "a pinhole")
    assert main(["paper", "container", "bag 9", "unsafe"]) == 4
    assert desk("cover", "lot 1", "20x25 cm", "5", "--per-print", "1,5")["prints"] == 5


def test_the_trimmer_is_stated_bit_by_bit_and_never_taken_from_thin_air(desk, capsys):
    assert main(["paper", "trimmer", "--edge", "3 mm"]) == 5
    assert "Give --blade and --longest with it" in capsys.readouterr().err
    desk("trimmer", "--blade", "66 cm", "--longest", "52 cm")
    found = desk("trimmer", "--edge", "3 mm", "--trim", "12x6 cm")
    assert (found["blade_length"], found["edge"], found["smallest_trim"]) == (660, 3, [60, 120])
    assert desk("trimmer") == found
    assert [desk("trimmer", "--edge", none)["edge"] for none in ("0", "0,0 cm", "0 mm")] == [0, 0, 0]


def test_a_kept_plan_is_shown_again_with_its_sittings_and_costs(desk, tmp_path, capsys):
    roll = ("--lot", "lot 1", "--width", "30.5 cm", "--core", "7.6 cm", "--label", "3000 cm", "--warm")
    desk("take-roll", "r", *roll, "--price", "90")
    kept = desk("plan", "20.3x25.4 cm 6", "--keep", "--seconds", "1,5")["kept"]
    assert main(["paper", "plan", "20.3x25.4 cm 6", "--keep", "--which", "9", "--seconds", "1"]) == 2
    assert "no plan 9 to keep" in capsys.readouterr().err
    assert [one["name"] for one in desk("plans")] == [kept]
    svg, pdf = tmp_path / "plan.svg", tmp_path / "plan.pdf"
    shown = desk("plans", kept, "--hourly", "24", "--drawing", str(svg), "--pdf", str(pdf))
    assert shown["sittings"] == []
    assert shown["costs"][0]["sheets"] == 6
    dear = desk("plans", kept, "--hourly", "48")["costs"][0]
    assert dear["work"] == pytest.approx(2 * shown["costs"][0]["work"])
    assert svg.read_text().startswith("<svg")
    assert pdf.read_bytes().startswith(b"%PDF")
    late = tmp_path / "late.svg"
    for entry in ("x", "-1", "9" * 400 + "/1"):
        assert main(["paper", "plans", kept, "--hourly", entry, "--drawing", str(late)]) == 2
    assert not late.exists()


def test_a_file_that_cannot_be_written_is_refused_before_anything_is_kept(desk, tmp_path, capsys):
    desk("take-roll", "r", "--lot", "lot 1", "--width", "30.5 cm", "--label", "3000 cm", "--warm")
    nowhere = tmp_path / "nowhere" / "plan.pdf"
    for option in ("--pdf", "--drawing"):
        call = ["paper", "plan", "20.3x25.4 cm 6", "--keep", "--seconds", "1", option]
        assert main([*call, str(nowhere), "--json"]) == 3
        error = json.loads(capsys.readouterr().err)
        assert f'there is no folder "{nowhere.parent}"' in error["detail"]
        assert main([*call, str(tmp_path)]) == 3
        assert "cannot be written: Is a directory" in capsys.readouterr().err
        assert main([*call, str(tmp_path / ("x" * 300))]) == 3
        assert "Choose a shorter name" in capsys.readouterr().err
    assert desk("plans") == []
    for call in (["baths", "labels"], ["measure", "compared", "1", "--report"], ["evening", "card"]):
        assert main([*call, str(nowhere)]) == 3
    assert main(["measure", "compared", "--report", str(tmp_path / "page.pdf")]) == 2
    assert "Give its number" in capsys.readouterr().err
    assert not (tmp_path / "page.pdf").exists()


def test_a_disk_that_fills_after_the_plan_was_kept_says_that_it_is_kept(desk, tmp_path, capsys, monkeypatch):
    def no_room(*_, **__):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    desk("take-roll", "r", "--lot", "lot 1", "--width", "30.5 cm", "--label", "3000 cm", "--warm")
    monkeypatch.setattr(os, "replace", no_room)
    call = ["paper", "plan", "20.3x25.4 cm 6", "--keep", "--seconds", "1", "--pdf", str(tmp_path / "plan.pdf")]
    assert main(call) == 3
    said = capsys.readouterr().err
    assert "No space left on device. Make room on that disk" in said
    (kept,) = desk("plans")
    assert f'The plan is kept; write it with: printlore paper plans "{kept["name"]}"' in said
    assert not list(tmp_path.glob("*.pdf")) + list(tmp_path.glob(".partial*"))


def test_lots_and_what_is_stated_of_them_from_the_command_line(desk, capsys):
    assert desk("lots") == {"lots": [], "stated": []}
    assert main(["add", "lot", "lot 2", "--paper", "gloss", "--received", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["received_at"]
    desk("lot", "lot 2", "--same-as", "lot 1", "--note", "one number on both labels")
    found = desk("lots")
    assert ("lot 2", "lot 1") in [(one["lot"], one["old_lot"]) for one in found["lots"]]
    assert found["stated"][0]["stated"]["note"] == "one number on both labels"
    main(["paper", "lots"])
    assert "Stated: lot 2 and lot 1 are one emulsion." in capsys.readouterr().out


def test_the_wedge_beside_a_blank_is_typed_with_a_comma_too(desk, tmp_path, capsys):
    call = ["paper", "fog", str(fogged_scan(tmp_path)), "--lot", "lot 1", "--size", "25.4x20.3 cm", "--wedge"]
    assert main([*call, "0,05 much"]) == 2
    assert "Wedge: " in capsys.readouterr().err


def test_the_leaking_light_is_named_in_plain_words_on_the_command_line(desk, tmp_path, capsys):
    desk("fog", str(fogged_scan(tmp_path)), "--lot", "lot 1", "--size", "25.4x20.3 cm")
    main(["paper", "fog"])
    assert "from the left: white light" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("text", "along", "across", "count", "turn", "strip", "priority", "lots"),
    [
        ("20x25 cm 12", 250, 200, 12, False, False, 1, None),
        ("8x10 in 3 turn second", 254, 203.2, 3, True, False, 2, None),
        ("5x20 6 strip lot lot 47", 200, 50, 6, False, True, 1, frozenset(["lot 47"])),
    ],
)
def test_wanted_sizes_are_read_as_typed(text, along, across, count, turn, strip, priority, lots):
    found = wanted_size(text)
    assert (found.along, found.across, found.count) == (pytest.approx(along), pytest.approx(across), count)
    assert (found.may_turn, found.strip, found.priority, found.lots) == (turn, strip, priority, lots)


def test_no_colour_in_the_drawings_of_paper():
    for path in (Path(FOLDER) / "templates" / "paper").glob("*.html"):
        assert not re.search(r"#[0-9a-fA-F]{6}\b(?<!#000000)", path.read_text()), path


def test_a_line_of_the_ledger_is_taken_back_and_brought_back_on_the_page(client):
    post(client, "/paper/boxes", {"name": "b", "lot": "lot 1", "size": "20x25 cm", "sheets": "50"})
    post(client, "/paper/book", {"box": "b", "happened": "exposed", "sheets": "3"})
    [_, line] = client.get("/api/paper/ledger?box=b").json()
    page = client.get("/paper").text
    assert f'action="/paper/ledger/{line["id"]}/undo"' in page
    assert "3 sheets out of box b, exposed" in page
    post(client, f"/paper/ledger/{line['id']}/undo", {})
    page = client.get("/paper").text
    assert "Taken back: 3 sheets out of box b, exposed." in page
    assert "3 sheets out of box b, exposed · taken back" in page
    assert "<em>50 sheets</em>" in page
    post(client, f"/paper/ledger/{line['id']}/bring-back", {})
    assert "<em>47 sheets</em>" in client.get("/paper").text
    [came, _] = client.get("/api/paper/ledger").json()
    refused = client.post(f"/api/forms/paper/ledger/{came['id']}/undo")
    assert refused.status_code == 409
    assert "3 were exposed on" in refused.json()["detail"]


def test_what_a_sitting_cut_is_not_taken_back_line_by_line(rolled, db):
    sitting = start_sitting(db, "march", 1)
    while (step := sitting.position.step) is not None:
        sitting = press(db, sitting.sitting.name, Event.PRESS)
        if step.key == "labels":
            break
    written = [line for line in ledger(db) if line.happened is Happened.CUT]
    assert written
    for line in written:
        answer = rolled.post(f"/paper/ledger/{line.id}/undo")
        assert answer.status_code == 409
        assert "What was cut is cut" in answer.text


def test_of_two_tabs_the_one_that_states_the_trimmer_later_is_told(client):
    sent = {"blade": "66", "longest": "52", "edge": "0,3", "trim": "6x12"}
    for version in ("0", "1"):
        page = client.get("/paper/cut").text
        assert re.search(r'action="/paper/trimmer".*?name="version" value="(\d+)"', page, re.DOTALL)[1] == version
        assert client.post("/paper/trimmer", data=sent | {"version": version}).status_code == 200
        late = client.post("/paper/trimmer", data=sent | {"version": version, "blade": "30"})
        assert late.status_code == 409
        assert "changed meanwhile" in late.text
    page = client.get("/paper/cut").text
    assert re.search(r'name="blade"[^>]*value="66"', page)
    assert re.search(r'name="edge"[^>]*value="0\.3"', page)
    assert re.search(r'name="trim"[^>]*value="6x12"', page)


@pytest.mark.parametrize("count", ["\u00b2", "9" * 5000])
def test_a_count_that_is_no_number_is_told(count):
    with pytest.raises(ValueOutOfRange, match="cannot be read"):
        wanted_size(f"20x25 cm {count}")
