"""The application around the pages: errors as pages and problems, who may speak, assets from here only."""

import errno
import os
import re
from pathlib import Path

import pytest
from fastapi import FastAPI, Request
from fastapi.testclient import TestClient
from jinja2 import UndefinedError

from printlore import errors
from printlore.faces.web.app import create_app
from printlore.faces.web.exchange import Exchange
from printlore.faces.web.page import go, render
from printlore.records.database import Database
from printlore.records.scans import Scan
from printlore.services.entry import list_records

WEB = Path(__file__).parents[2] / "src/printlore/faces/web"

STATUSES = {
    errors.ValueOutOfRange: 422,
    errors.UnreadableFile: 422,
    errors.UnknownRecord: 404,
    errors.Refused: 409,
    errors.ChangedMeanwhile: 409,
    errors.StudioUnavailable: 503,
    errors.PrintloreError: 500,
}


def app_that_fails() -> FastAPI:
    app = create_app(Database.in_memory())
    by_name = {kind.__name__: kind for kind in STATUSES}

    @app.get("/fail/{name}")
    @app.get("/api/fail/{name}")
    def fail(name: str):
        raise by_name[name]("The bath <b>A</b> is retired. Mix a new one.")

    @app.get("/full")
    @app.get("/api/full")
    def full():
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), "/tmp/upload")

    @app.post("/change")
    def change(request: Request):
        return go(request, "/api", said="It is <done>.", undo="/undo/1", done="bath-new")

    @app.get("/number")
    def number(count: int):
        return count

    return app


@pytest.fixture(scope="module")
def client():
    with TestClient(app_that_fails(), base_url="http://localhost", raise_server_exceptions=False) as client:
        yield client


@pytest.mark.parametrize(("kind", "status"), STATUSES.items(), ids=lambda value: getattr(value, "__name__", value))
def test_each_error_is_a_page_with_its_status_and_its_words(client, kind, status):
    answer = client.get(f"/fail/{kind.__name__}")
    assert answer.status_code == status
    assert "The bath &lt;b&gt;A&lt;/b&gt; is retired. Mix a new one." in answer.text
    assert "<html" in answer.text


@pytest.mark.parametrize(("kind", "status"), STATUSES.items(), ids=lambda value: getattr(value, "__name__", value))
def test_each_error_is_a_problem_to_a_program(client, kind, status):
    """RFC 9457: type, title, status and detail, as application/problem+json."""
    answer = client.get(f"/api/fail/{kind.__name__}")
    assert answer.status_code == status
    assert answer.headers["content-type"] == "application/problem+json"
    body = answer.json()
    assert body["status"] == status
    assert body["detail"] == "The bath <b>A</b> is retired. Mix a new one."
    assert {"type", "title", "name"} <= body.keys()


def test_an_error_inside_a_page_is_only_the_part_to_put_there(client):
    answer = client.get("/fail/Refused", headers={"HX-Request": "true"})
    assert answer.status_code == 409
    assert "<html" not in answer.text
    assert 'role="alert"' in answer.text


def test_a_request_that_is_not_well_formed_says_where_and_what_to_do(client):
    answer = client.get("/number", params={"count": "many"})
    assert answer.status_code == 422
    assert "count:" in answer.text
    assert "Correct it and send it again." in answer.text


def test_an_unknown_address_is_said_in_words(client):
    assert "There is no such page" in client.get("/nowhere").text
    assert client.get("/api/nowhere").json()["title"] == "There is no such page"


def test_another_name_for_this_machine_is_refused(client):
    """A name server of somebody else may point a name of theirs at this machine (DNS rebinding)."""
    answer = client.get("/", headers={"Host": "studio.example"})
    assert answer.status_code == 403
    assert 'does not answer to the name "studio.example"' in answer.text


def test_a_host_or_origin_that_is_no_address_is_refused(client):
    assert client.get("/api", headers={"Host": "[::1"}).status_code == 403
    assert client.post("/change", headers={"Origin": "http://[::1"}).status_code == 403


@pytest.mark.parametrize("host", ["localhost", "localhost:8321", "127.0.0.1:8321", "[::1]:8321", "192.168.1.7"])
def test_plain_addresses_and_localhost_are_answered(client, host):
    assert client.get("/api", headers={"Host": host}).status_code == 200


def test_a_name_given_at_the_start_is_answered():
    client = TestClient(create_app(Database.in_memory(), names=["darkroom.local"]), base_url="http://darkroom.local")
    assert client.get("/api").status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://elsewhere.example"},
        {"Origin": "http://localhost:9"},
        {"Origin": "null"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
    ],
)
def test_a_change_from_another_page_is_refused(client, headers):
    answer = client.post("/change", headers=headers)
    assert answer.status_code == 403
    assert "came from another page" in answer.text


@pytest.mark.parametrize(
    "headers", [{}, {"Origin": "http://localhost"}, {"Sec-Fetch-Site": "same-origin"}, {"Sec-Fetch-Site": "none"}]
)
def test_a_change_from_our_own_page_or_a_program_is_taken(client, headers):
    assert client.post("/change", headers=headers, follow_redirects=False).status_code == 303


def test_what_was_done_is_said_once_on_the_next_page_with_undo(client):
    first = client.post("/change")
    assert "It is &lt;done&gt;." in first.text
    assert 'action="/undo/1"' in first.text
    assert 'data-done="bath-new"' in first.text
    assert "It is" not in client.get("/api").text


@pytest.mark.parametrize("said", ["[" * 3000, "%7B", "5", "%FF"])
def test_a_spoiled_cookie_says_nothing(client, said):
    assert client.get("/nowhere", headers={"Cookie": f"printlore_said={said}"}).status_code == 404


def test_a_change_made_inside_a_page_leads_on_to_the_next(client):
    answer = client.post("/change", headers={"HX-Request": "true"})
    assert answer.status_code == 204
    assert answer.headers["HX-Redirect"] == "/api"
    client.cookies.clear()


def test_every_answer_forbids_outside_content_and_framing(client):
    for path in ("/api", "/nowhere", "/static/desk.css"):
        policy = client.get(path).headers["Content-Security-Policy"]
        assert "default-src 'self'" in policy
        assert "unsafe" not in policy
        assert "frame-ancestors 'none'" in policy


def test_no_template_or_asset_asks_for_anything_from_outside():
    """Links that a person may follow are allowed; anything that loads by itself is not."""
    loading = re.compile(r"""(?:src|href|action|hx-\w+|url)\s*[=(]\s*["']?(https?:)?//""", re.IGNORECASE)
    checked = 0
    for path in WEB.rglob("*"):
        if path.suffix in {".html", ".css", ".js"} and "min" not in path.suffixes and path.name != "htmx.min.js":
            checked += 1
            assert not loading.search(path.read_text(encoding="utf-8")), path
    assert checked > 5


def test_no_template_carries_inline_script_or_style():
    """The content policy would block it in the browser, in silence (plain data is let through)."""
    for path in (WEB / "templates").rglob("*.html"):
        text = path.read_text(encoding="utf-8")
        assert not re.search(r"<script(?![^>]*(?:\bsrc=|application/json))", text), path
        assert not re.search(r"\s(style|on\w+)=\"", text), path


def test_the_machine_readable_description_is_served(client):
    schema = client.get("/api/openapi.json").json()
    assert schema["openapi"].startswith("3.")
    assert "Everything this page does" in client.get("/api").text


def test_a_folder_is_opened_and_closed_with_the_application(tmp_path):
    with TestClient(create_app(tmp_path), base_url="http://localhost") as client:
        assert client.get("/api").status_code == 200
    assert (tmp_path / "studio.sqlite").exists()


def test_templates_fail_on_a_name_that_is_not_there(client):
    scope = {"type": "http", "app": client.app, "headers": [], "path": "/", "method": "GET"}
    request = Request(scope | {"state": {"writing": None}})
    with pytest.raises(UndefinedError):
        render(request, "problem.html")


def test_what_the_system_refuses_is_words_on_the_page_and_for_programs():
    client = TestClient(app_that_fails(), base_url="http://localhost")
    for path in ("/full", "/api/full"):
        answer = client.get(path)
        assert answer.status_code == 422
        assert "/tmp/upload" in answer.text
        assert "Make room on that disk" in answer.text


def test_what_was_left_empty_is_named_and_not_in_the_words_of_a_library(client):
    answer = client.post("/paper/rolls", data={"lot": "lot 1"}, headers={"HX-Request": "true"})
    assert answer.status_code == 422
    assert '<span data-entry="name">“name”</span> is empty.' in answer.text
    assert "Field required" not in answer.text
    assert "Field required" not in client.post("/api/forms/paper/rolls", data={}).json()["detail"]


def test_no_page_is_a_dead_end(client):
    assert 'class="button" href="/evening"' in client.get("/evening/wet").text
    assert 'class="button" href="/"' in client.get("/nowhere").text
    assert "What you had typed" not in client.get("/nowhere").text
    assert "What you had typed is kept" in client.post("/baths/of/1/top-up", data={"added": "lots"}).text


def test_a_fault_of_ours_is_said_on_the_desk_and_not_on_a_white_page(client, monkeypatch):
    def stumble(*_, **__):
        raise RuntimeError

    monkeypatch.setattr("printlore.faces.web.pages.negatives.render", stumble)
    answer = client.get("/negatives")
    assert answer.status_code == 500
    assert "it is our fault" in answer.text
    assert "desk.css" in answer.text


def test_a_missing_asset_is_a_page_in_words_and_no_fault(client):
    answer = client.get("/static/nowhere.css")
    assert answer.status_code == 404
    assert "There is no such page" in answer.text


@pytest.mark.parametrize("path", ["/", "/api/heads", "/static/desk.css", "/static/evening/dark.js"])
def test_head_is_answered_as_get_without_a_body(client, path):
    """RFC 9110, 9.3.2: the header fields of GET, and no content."""
    asked, read = client.head(path), client.get(path)
    assert (asked.status_code, asked.content) == (200, b"")
    assert asked.headers["content-type"] == read.headers["content-type"]
    assert asked.headers["content-length"] == read.headers["content-length"]


def test_head_does_not_go_into_the_forms(client):
    assert client.head("/change").status_code == 405


def test_a_stream_without_end_is_asked_for_its_head_and_let_go():
    with TestClient(create_app(Database.in_memory()), base_url="http://localhost") as client:
        client.post("/evening", data={"name": ""})
        answer = client.head("/api/evening/stream")
    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith("text/event-stream")


@pytest.mark.parametrize("told", [True, False], ids=["its length told", "in pieces"])
def test_more_than_the_studio_takes_is_refused_while_it_comes(told):
    database = Database.in_memory()
    with TestClient(Exchange(create_app(database), largest=4000), base_url="http://localhost") as client:
        body = (
            b'--x\r\nContent-Disposition: form-data; name="scan"; filename="a.tif"\r\n\r\n'
            + bytes(6000)
            + b"\r\n--x--\r\n"
        )
        content = body if told else (body[at : at + 500] for at in range(0, len(body), 500))
        answer = client.post("/api/scans", content=content, headers={"content-type": "multipart/form-data; boundary=x"})
    assert answer.status_code == 413
    assert answer.json()["title"] == "Too much at once"
    assert list_records(database, Scan) == []


def test_what_is_no_scan_is_refused_and_not_kept(tmp_path):
    with Database.open(tmp_path / "studio") as database:
        with TestClient(create_app(database), base_url="http://localhost") as client:
            answer = client.post("/api/scans", files={"scan": ("film.mp4", b"\0\0\0\x18ftypmp42" + bytes(900))})
        assert answer.status_code == 422
        assert '"film.mp4" cannot be used as a scan' in answer.json()["detail"]
        assert list_records(database, Scan) == []
    assert not [path for path in (tmp_path / "studio" / "scans").rglob("*") if path.is_file()]
