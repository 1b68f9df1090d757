"""The evening's pages and HTTP interface, without a browser."""

import json
import re
import threading
import time
from datetime import UTC, datetime
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from printlore.core.evening.care import CAUTIONS, WASTE
from printlore.core.evening.cues import PROMPTS
from printlore.core.evening.rehearsal import QUESTIONS
from printlore.faces.web.app import create_app
from printlore.faces.web.evening import OpenPages
from printlore.records.baths import Bath, Process
from printlore.records.database import Database
from printlore.records.negatives import Film, Frame
from printlore.records.rows import add
from printlore.services.evening import Clock

WEB = Path(__file__).parents[2] / "src/printlore/faces/web"


@pytest.fixture
def client():
    db = Database.in_memory()
    with db.transaction() as conn:
        add(conn, Film(name="roll 3"))
        add(conn, Frame(name="harbour 14", film="roll 3"))
        add(conn, Process(name="own"))
        add(conn, Bath(name="3 March", process="own", mixed_at=datetime(2026, 3, 3, tzinfo=UTC), volume=500))
    app = create_app(db)
    app.state.evening_clock = Clock()
    with TestClient(app, base_url="http://localhost") as client:
        yield client
    db.close()


def tell(client, kind, status=200, **body):
    answer = client.post("/api/evening/events", json={"kind": kind, "body": body, "key": f"k{time.monotonic_ns()}"})
    assert answer.status_code == status, answer.text
    return answer.json()


def plan(client, **more):
    form = {
        "drum": "1",
        "kind-0": "sheet",
        "frame-0": "harbour 14",
        "pack-0": "60M 70Y",
        "seconds-0": "8",
        "size-0": "20x25 cm",
    }
    return client.post("/evening/plan", data=form | more)


def test_without_an_evening_the_page_offers_one_and_the_interface_says_so(client):
    assert "No evening is under way" in client.get("/evening").text
    answer = client.get("/api/evening")
    assert answer.status_code == 404
    assert "open one first" in answer.json()["detail"]


def opened(client):
    assert client.post("/evening", data={"name": ""}).status_code == 200


def test_every_page_shows_at_every_stage(client):
    opened(client)
    paths = [
        "/evening",
        "/evening/part",
        "/evening/wet",
        "/evening/wet/part",
        "/evening/plan",
        "/evening/sequences",
        "/evening/rehearsal",
    ]
    for stage in (lambda: None, lambda: plan(client), lambda: begun(client)):
        stage()
        for path in paths:
            assert client.get(path).status_code == 200, path
    assert "first pour" in client.get("/evening/wet").text


def begun(client):
    tell(client, "care_confirmed", items=[caution.name for caution in CAUTIONS])
    tell(client, "moved", to="wet")
    return tell(client, "run_begun", load="1")


@pytest.mark.parametrize("page", ["/evening", "/evening/wet"])
def test_where_silver_is_poured_off_the_page_says_where_it_goes(client, page):
    """Prewash, developer, stop and rinse before it say nothing; bleach-fix and wash do."""
    client.app.state.evening_clock = Clock(pace=40, origin=time.time())
    opened(client)
    plan(client)
    begun(client)
    time.sleep(0.3)  # the first pour is ten seconds after the lid
    seen = []
    for _ in range(6):
        seen.append(WASTE in client.get(page).text)
        tell(client, "moved_on", load="1")
    assert seen == sorted(seen)
    assert 0 < sum(seen) < 6


def test_a_load_is_planned_by_form_and_its_pieces_come_back_into_the_form(client):
    opened(client)
    answer = plan(
        client,
        **{
            "burns-0": "sky +4 60M 80Y, face -3",
            "kind-1": "strip",
            "pack-1": "60M 70Y",
            "seconds-1": "4 1 1,3",
            "size-1": "6x25 cm",
        },
    )
    assert "Load 1 is planned" in answer.text
    again = client.get("/evening/plan?load=1").text
    for value in ("face -3, sky +4 60 M 80 Y", "4 1 1.3", "200x250 mm", "60 M 70 Y"):
        assert f'value="{value}"' in again
    pieces = client.get("/api/evening").json()["loads"][0]["load"]["pieces"]
    assert [piece["code"] for piece in pieces] == ["clip_none", "clip_one"]


def test_what_is_advised_comes_with_the_size_last_planned_for_its_kind(client):
    opened(client)
    assert 'name="size-0" type="text" value=""' in client.get("/evening/plan?frame=1").text, "it is a strip"
    plan(client, **{"kind-0": "strip", "seconds-0": "4 1", "size-0": "6x25 cm"})
    assert 'name="size-0" type="text" value="60x250 mm"' in client.get("/evening/plan?frame=1").text
    for _ in range(4):  # right so often that a sheet is advised
        client.post("/print/1/eye", data={"seen": "none", "magenta": "60", "yellow": "70", "time": "8", "kept": "yes"})
    assert 'name="size-0" type="text" value="20x25 cm"' in client.get("/evening/plan?frame=1").text


def test_a_sequence_is_begun_where_it_can_be(client):
    opened(client)
    plan(client)
    assert "Lid on: begin" not in client.get("/evening").text
    tell(client, "moved", to="wet")
    assert "Lid on: begin" in client.get("/evening").text
    assert "is it in, and the lid on?" in client.get("/evening").text


@pytest.mark.parametrize("path", ["/evening", "/evening/wet"])
def test_a_drum_that_held_one_piece_does_not_ask_which_it_is(client, path):
    client.app.state.evening_clock = Clock(pace=40, origin=time.time())
    opened(client)
    plan(client)
    begun(client)
    time.sleep(0.3)  # the first pour is ten seconds after the lid
    while not client.get("/api/evening").json()["loads"][0]["finished"]:
        tell(client, "moved_on", load="1")
    page = client.get(path).text
    assert "rinse and dry drum 1" in page
    assert "no corner clipped" not in page
    assert "which is it?" not in page


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"size-0": ""}, "Piece 1 has no size"),
        ({"seconds-0": "4 5"}, "Piece 1 needs one time in seconds"),
        ({"drum": ""}, "Drum is empty"),
        ({"frame-0": "nowhere"}, "No frame is called"),
    ],
)
def test_a_plan_that_cannot_be_says_where(client, change, said):
    opened(client)
    answer = plan(client, **change)
    assert answer.status_code in (404, 422)
    assert said in answer.text


@pytest.mark.parametrize("seen", ["\u00b2", "9" * 5000])
def test_a_number_that_a_form_carries_and_that_is_none_does_no_harm(client, seen):
    opened(client)
    assert "Load 1 is planned" in plan(client, seen=seen).text


def test_a_load_may_have_a_stroke_in_its_name(client):
    opened(client)
    plan(client, load="1/2")
    page = client.get("/evening").text
    for link in ("/evening/dark/1/2", "/evening/cues/1/2.wav"):
        assert f'href="{link}"' in page
        assert client.get(link).status_code == 200


def test_the_advised_setting_fills_the_plan(client):
    opened(client)
    page = client.get("/evening/plan?frame=1").text
    assert "as advised" in page
    assert 'value="harbour 14"' in page


def test_an_event_is_written_once_and_says_what_comes_next(client):
    opened(client)
    entry = {"kind": "went_wrong", "body": {"note": "dropped"}, "key": "once"}
    first = client.post("/api/evening/events", json=entry).json()
    assert not first["again"]
    assert client.post("/api/evening/events", json=entry).json() == first | {"again": True}
    assert "dropped" in client.get("/evening").text


@pytest.mark.parametrize(
    ("entry", "status", "said"),
    [
        ({"kind": "danced", "key": "a"}, 404, 'no event "danced"'),
        ({"kind": "held", "key": "a"}, 422, 'held lacks "load"'),
        ({"kind": "held", "body": {"load": "9"}, "key": "a"}, 404, 'no load "9"'),
        ({"kind": "moved", "body": {"to": "paper_out"}, "key": "a"}, 409, "cannot follow"),
        ({"kind": "closed"}, 422, "key"),
    ],
)
def test_an_event_that_cannot_be_is_a_problem(client, entry, status, said):
    opened(client)
    answer = client.post("/api/evening/events", json=entry)
    assert answer.status_code == status
    assert said in answer.json()["detail"]


def test_the_page_in_the_dark_is_black_when_paper_is_out_and_asks_when_it_is_not(client):
    opened(client)
    plan(client)
    before = client.get("/evening/dark/1").text
    assert 'class="black"' not in before
    assert "a black page is not darkness" in before
    rehearsal = {
        "device": "program",
        "seconds": 700,
        "confirmed": [question.name for question in QUESTIONS],
        "light_seen": "",
    }
    tell(client, "rehearsed", rehearsal=rehearsal)
    tell(client, "moved", to="easel")
    tell(client, "moved", to="paper_out", load="1", confirmed=["display", "devices", "sleep", "sound"])
    page = client.get("/evening/dark/1").text
    assert '<html lang="en" class="black">' in page
    assert 'bgcolor="#000000"' in page
    body = page[page.index("<body") : page.index("<script")]
    assert re.sub(r"<[^>]*>", "", body).strip() == ""


def test_the_dark_page_brings_nothing_that_can_shine():
    """No layout, no htmx, no image; every colour of its black state is #000."""
    page = (WEB / "templates/evening/dark.html").read_text()
    assert "extends" not in page
    assert "htmx" not in page
    rules = re.findall(r"html\.black[^{]*\{([^}]*)\}", (WEB / "static/evening/dark.css").read_text())
    colours = [colour for rule in rules for colour in re.findall(r"#[0-9a-f]{3,6}", rule)]
    assert colours
    assert set(colours) == {"#000"}


def test_no_page_says_that_a_dark_theme_is_darkness():
    for path in (WEB / "templates/evening").glob("*.html"):
        assert "dark theme" not in path.read_text().lower(), path.name


def test_every_prompt_has_its_sound_and_no_sound_is_without_a_prompt():
    there = {path.stem for path in (WEB / "static/audio").glob("*.wav")}
    assert there == set(PROMPTS)
    index = json.loads((WEB / "static/audio/index.json").read_text())
    assert {name: one["words"] for name, one in index.items()} == PROMPTS


def test_run_card_and_cue_sheet_come_as_files(client):
    opened(client)
    plan(client)
    assert client.get("/evening/card.pdf").content.startswith(b"%PDF")
    assert client.get("/evening/cues/1.wav").content[:4] == b"RIFF"
    assert client.get("/evening/cues/1.wav?piece=0").headers["content-type"] == "audio/wav"
    assert client.get("/evening/cues/1.wav?piece=5").status_code == 404


def test_a_sequence_is_changed_by_form_and_a_stale_form_is_told(client):
    form = {
        "name": "mine",
        "kind-0": "developer",
        "time-0": "60",
        "drain-0": "10",
        "volume-0": "70",
        "temperature-0": "33,5",
    }
    assert "is kept" in client.post("/evening/sequences", data=form).text
    page = client.get("/evening/sequences?edit=mine").text
    number = re.search(r'name="number" value="(\d+)"', page)[1]
    change = form | {"was": "mine", "number": number, "version": "1", "time-0": "70"}
    assert client.post("/evening/sequences", data=change).status_code == 200
    assert client.post("/evening/sequences", data=change).status_code == 409
    assert "no bleach-fix" in client.get("/evening/sequences?edit=mine").text
    bad = client.post("/evening/sequences", data=form | {"name": "other", "drain-0": "90"})
    assert "the drain belongs to the step" in bad.text


def test_undo_takes_back_the_last_step(client):
    opened(client)
    assert client.post("/api/evening/undo").status_code == 404
    tell(client, "frame_listed", frame="harbour 14")
    assert client.post("/api/evening/undo").json()["said"] == "Taken back."
    assert client.get("/api/evening").json()["frames"] == []


def test_without_scripts_a_button_still_works(client):
    opened(client)
    answer = client.post("/evening/event", data={"kind": "moved", "body": '{"to": "easel"}', "back": "//elsewhere"})
    assert answer.url.path == "/evening"
    assert client.get("/api/evening").json()["light"] == "easel"
    assert client.post("/evening/event", data={"kind": "moved", "body": "{"}).status_code == 422


def test_one_page_has_the_voice(client):
    opened(client)
    assert client.post("/api/evening/voice", json={"page": "a"}).json()["turn"] == 1
    refused = client.post("/api/evening/voice", json={"page": "b"})
    assert refused.status_code == 409
    client.post("/api/evening/voice/release", json={"page": "a"})
    assert client.post("/api/evening/voice", json={"page": "b"}).json()["turn"] == 3


def test_a_pour_is_compared_over_http(client):
    opened(client)
    plan(client)
    answer = client.get("/api/evening/pour", params={"load": "1", "step": 1, "temperature": 30}).json()
    assert answer["warn"]
    assert "5.0 degrees below the aim of 35.0" in answer["words"]


def test_a_page_that_closed_its_stream_counts_as_near_for_a_moment(monkeypatch):
    pages = OpenPages()
    ticket = pages.enter(1, "telephone")
    assert pages.devices(1) == {"telephone"}
    assert pages.devices(2) == frozenset()
    pages.leave(ticket)
    assert pages.devices(1) == {"telephone"}
    later = time.monotonic() + 60
    monkeypatch.setattr(time, "monotonic", lambda: later)
    assert pages.devices(1) == frozenset()


def test_open_pages_hold_when_many_come_and_go():
    pages = OpenPages()

    def visit():
        for _ in range(200):
            pages.leave(pages.enter(1, "page"))

    threads = [threading.Thread(target=visit) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert pages.devices(1) == {"page"}


def test_the_interface_says_that_the_stream_is_server_sent_events(client):
    answer = client.get("/api/openapi.json").json()["paths"]["/api/evening/stream"]["get"]["responses"]["200"]
    assert set(answer["content"]) == {"text/event-stream"}


def test_the_advice_leads_to_planning_a_load_while_an_evening_is_open(client):
    link = "/evening/plan?frame=1"
    assert link not in client.get("/print/1").text
    client.post("/evening", data={"name": ""})
    assert link in client.get("/print/1").text
    assert link not in client.get("/print/1?size=30x40+cm").text, "a load is planned for the usual conditions"
    assert 'value="harbour 14"' in client.get(link).text


def test_each_entry_of_a_sequence_is_called_by_its_step(client):
    opened(client)
    page = client.get("/evening/sequences").text
    called = re.findall(r'name="(?:time|drain)-(\d+)" aria-label="Step (\d+), ', page)
    assert len(called) > 4
    assert all(int(step) == int(row) + 1 for row, step in called)


def test_the_white_run_card_is_not_offered_at_the_easel(client):
    opened(client)
    plan(client)
    assert "/evening/card.pdf" in client.get("/evening").text
    tell(client, "moved", to="easel")
    assert "/evening/card.pdf" not in client.get("/evening").text
