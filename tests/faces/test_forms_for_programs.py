"""Everything the page does is open to programs: each of its forms, and setting up a studio in JSON."""

import io
import zipfile

import pytest

from printlore.records.rows import record_version


def test_every_form_that_changes_something_is_in_the_interface(client):
    paths = client.get("/api/openapi.json").json()["paths"]
    for form in ("/baths/mix", "/baths/of/{number}/top-up", "/studio/lens", "/paper/rolls", "/readings/watch",
                 "/evening/plan", "/negatives/{number}/tones", "/trials/{number}/undo"):  # fmt: skip
        assert "post" in paths[f"/api/forms{form}"], form


def test_a_form_sent_by_a_program_is_answered_in_json_and_can_be_taken_back(client, harbour):
    sent = {"seen": "slight magenta", "lightness": "right", "magenta": "60", "yellow": "50", "time": "8,5"}
    answer = client.post(f"/api/forms/print/{harbour}/eye", data=sent).json()
    assert answer["said"].startswith("Logged as T2: slightly magenta")
    assert answer["next"] == f"/print/{harbour}"
    assert "no longer counts" in client.post(answer["undo"]).json()["said"]
    wrong = client.post(f"/api/forms/print/{harbour}/eye", data=sent | {"time": "soon"})
    assert wrong.status_code == 422
    assert wrong.headers["content-type"] == "application/problem+json"


def test_a_studio_is_set_up_in_json(client):
    for path, body in (
        ("heads", {"name": "second", "dial_step": 2.0, "usual": {"magenta": 40, "yellow": 55, "time": 9}}),
        ("lenses", {"name": "50", "focal_length": 50}),
        ("papers", {"name": "gloss", "dye_model": "b"}),
        ("lots", {"name": "lot 9", "paper": "gloss"}),
        ("processes", {"name": "slow"}),
        ("baths", {"name": "bath 9", "process": "slow", "volume": 500}),
    ):
        answer = client.post(f"/api/{path}", json=body)
        assert answer.status_code == 201, answer.text
        assert answer.json()["name"] == body["name"]
    assert [head["name"] for head in client.get("/api/heads").json()] == ["column head", "second"]
    assert client.post("/api/lots", json={"name": "x", "paper": "none"}).status_code == 404


def test_settings_are_read_and_changed_and_what_is_not_there_is_refused(client):
    changed = client.put("/api/settings", json={"costs": {"sheet": 2.5}, "preferences": {"decimal_mark": ","}}).json()
    assert (changed["costs"]["sheet"], changed["preferences"]["decimal_mark"]) == (2.5, ",")
    assert client.put("/api/settings", json={"costs": {"gold": 1}}).status_code == 422
    refused = client.put("/api/settings", json={"costs": {"sheet": 9}, "tolerances": {"good_alone_time": 0}})
    assert refused.status_code == 422
    assert "A tolerance of 0 no print can meet" in refused.json()["detail"]
    assert client.get("/api/settings").json()["costs"]["sheet"] == 2.5


def test_export_comes_as_a_zip_and_a_backup_lands_in_its_folder(client, tmp_path):
    answer = client.get("/api/export.zip")
    assert answer.headers["content-type"] == "application/zip"
    assert "studio.json" in zipfile.ZipFile(io.BytesIO(answer.content)).namelist()
    refused = client.post("/api/backup", json={"to": ""})
    assert refused.status_code == 422


@pytest.mark.parametrize(
    ("form", "sent", "words"),
    [
        ("paper/book", {"box": "b", "happened": "eaten", "sheets": "1"}, "What happened"),
        ("paper/book-roll", {"roll": "r", "happened": "eaten", "length": "100 cm"}, "What happened"),
        ("paper/move", {"what": "box b", "place": "the moon"}, "Place"),
        ("readings/pairs", {"kind": "smell", "read": "0,7 0,8 0,9", "known": "0,7 0,8 0,9"}, "Kind"),
        ("evening/event", {"kind": "held", "body": "-1"}, "The event cannot be read as one"),
        ("evening/event", {"kind": "held", "body": "[" * 100_000}, "The event cannot be read as one"),
        ("trials/1/doubt", {"answer": "perhaps", "version": "1"}, "Answer"),
        ("trials/1/doubt", {"answer": "slip", "version": "1", "as_if": "1 2 3"}, "has not six numbers"),
        ("print/1/eye", {"seen": "none", "time": "8", "filter": "10", "filter_where": "wall"}, "Where the filter was"),
    ],
)
def test_a_choice_that_is_not_known_is_refused_in_words_and_never_guessed(client, db, form, sent, words):
    with db.reading() as conn:
        before = record_version(conn)
    answer = client.post(f"/api/forms/{form}", data=sent)
    assert answer.status_code == 422, answer.text
    assert words in answer.json()["detail"]
    with db.reading() as conn:
        assert record_version(conn) == before


def test_a_number_that_no_record_can_have_is_refused_in_words(client):
    for path in (f"/print/{10**30}/log", f"/negatives/{10**30}"):
        answer = client.get(path)
        assert answer.status_code == 422
        assert "more than 18 digits" in answer.text
