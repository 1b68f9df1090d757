"""Negatives, studio, what the prints taught, and the HTTP interface."""

import re
import zipfile
from html import unescape
from io import BytesIO

import pytest

from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Setting
from printlore.core.memory.evidence import NegativeReading
from printlore.records.light import Head
from printlore.records.negatives import Film, Frame
from printlore.records.studio import Costs, Preferences, Tolerances
from printlore.services import entry
from printlore.services.trials import PatchEntry, TrialEntry, frame_history, log_trial


def said(answer):
    return unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.text)))


# --- negatives


def test_negatives_are_listed_by_film_and_found_by_any_of_their_words(client):
    assert "2 negatives on 1 film" in said(client.get("/negatives"))
    found = client.get("/negatives", params={"q": "FOG quay"}, headers={"HX-Request": "true"})
    assert "<html" not in found.text
    assert "1 found" in said(found)
    assert "harbour" in found.text
    assert "market" not in found.text


def test_a_frames_page_tells_its_whole_history(client, harbour):
    text = said(client.get(f"/negatives/{harbour}"))
    assert "harbour has 1 trial and no print kept yet." in text
    assert "60 M 50 Y, 8.0 s, f/8" in text
    assert "reads 0.80 0.62 0.71" in text.lower()
    assert "column head · lot 1 · bath 1" in text


def test_what_a_frame_should_come_out_as_is_stated_on_its_page(client, harbour):
    page = client.get(f"/negatives/{harbour}")
    assert "L* 52, a* 0, b* 0, the usual grey" in said(page)
    version = re.search(r'name="version" value="(\d+)"', page.text)[1]
    page = client.post(f"/negatives/{harbour}/tone", data={"lab": "65 12 10", "version": version})
    assert "Its reference patch: L* 65, a* 12, b* 10." in said(page)
    assert 'value="65 12 10"' in page.text
    late = client.post(f"/negatives/{harbour}/tone", data={"lab": "50 0 0", "version": version})
    assert late.status_code == 409
    assert client.get("/api/frames/harbour/aims").json()["tone"] == [65.0, 12.0, 10.0]


def density_form(page):
    """Where the form of the first paper's density is sent, and the version that it carries."""
    found = re.search(r'action="(/negatives/\d+/density/\d+)".*?name="version" value="(\d+)"', page.text, re.DOTALL)
    return found[1], found[2]


def test_a_density_is_stated_taken_back_and_brought_back_on_the_page(client, harbour):
    path, version = density_form(client.get(f"/negatives/{harbour}"))
    assert version == "0"
    refused = client.post(path, data={"density": "0,7 0,7", "version": version})
    assert "needs three densities" in said(refused)
    for white in ("0 0 0", "0,1 0,5 0,5", "0,7 0,7 2,35"):
        refused = client.post(path, data={"density": white, "version": version})
        assert (refused.status_code, "cannot be an aim" in said(refused)) == (422, True), white
    page = client.post(path, data={"density": "0,71 0,70 0,72", "version": version})
    assert "On matt: density 0.71 0.70 0.72 Take it back" in said(page)
    page = client.post(f"{path}/drop", data={"version": "1"})
    assert "On matt: density 0.71 0.70 0.72 · taken back Bring it back" in said(page)
    assert f'action="{path}/bring-back"><button class="quiet">Undo' in page.text
    page = client.post(f"{path}/bring-back")
    assert "On matt: density 0.71 0.70 0.72 Take it back" in said(page)
    assert client.post(f"{path}/bring-back").status_code == 409
    assert client.post(f"/negatives/{harbour}/density/99/drop", data={"version": "1"}).status_code == 404


def test_of_two_tabs_the_one_that_states_a_density_last_is_told(client, harbour):
    one = density_form(client.get(f"/negatives/{harbour}"))
    two = density_form(client.get(f"/negatives/{harbour}"))
    assert client.post(one[0], data={"density": "0,71 0,70 0,72", "version": one[1]}).status_code == 200
    late = client.post(two[0], data={"density": "0,5 0,5 0,5", "version": two[1]})
    assert late.status_code == 409
    assert "you read version 0, now it is 1. Look at it again" in said(late)
    # one takes it back: the other's page is out of date, too
    two = density_form(client.get(f"/negatives/{harbour}"))
    client.post(f"{one[0]}/drop", data={"version": "1"})
    assert client.post(two[0], data={"density": "0,5 0,5 0,5", "version": two[1]}).status_code == 409
    assert client.post(f"{two[0]}/drop", data={"version": two[1]}).status_code == 404
    stated = client.get("/api/frames/harbour/aims").json()
    assert (stated["densities"], stated["taken_back"][0]["density"]) == ([], [0.71, 0.70, 0.72])


def test_a_film_and_a_frame_are_added_and_bad_names_are_said(client, db):
    client.post("/negatives/film", data={"film_name": "film 2"})
    page = client.post("/negatives/frame", data={"frame_name": "pier", "film": "film 2", "edge": "7"})
    assert "pier has not been printed yet" in said(page)
    again = client.post("/negatives/film", data={"film_name": "film 2"})
    assert again.status_code == 422
    assert 'A film called "film 2" is or was in the studio' in said(again)
    assert client.post("/negatives/frame", data={"frame_name": "x", "film": "no such"}).status_code == 404


def test_a_reading_of_the_negative_is_recorded_as_typed(client, db, harbour):
    client.post(f"/negatives/{harbour}/reading", data={"red": "0,41", "green": "0.77", "blue": "1,02", "source": ""})
    assert "0.41" in client.get(f"/negatives/{harbour}").text
    wrong = client.post(f"/negatives/{harbour}/reading", data={"red": "nan", "green": "1", "blue": "1"})
    assert wrong.status_code == 422
    assert "Red: The number" in said(wrong)


def test_two_tabs_correcting_one_frame_do_not_overwrite_each_other(client, db, harbour):
    sent = {"version": "1", "name": "harbour", "film": "film 1", "note": "first tab"}
    assert client.post(f"/negatives/{harbour}", data=sent).status_code == 200
    second = client.post(f"/negatives/{harbour}", data=sent | {"note": "second tab"})
    assert second.status_code == 409
    assert "was changed meanwhile" in said(second)
    assert entry.find_record(db, Frame, "harbour").note == "first tab"


# --- studio


def test_a_head_with_its_usual_start_is_added(client, db):
    sent = {"head_name": "loft head", "usual": "40M 55Y", "usual_time": "9,5", "f_numbers": "5,6 8"}
    client.post("/studio/head", data=sent)
    head = entry.find_record(db, Head, "loft head")
    assert head.usual.pack.as_tuple() == (0, 40, 55)
    assert head.usual.time == 9.5
    assert head.f_numbers == (5.6, 8.0)


def test_costs_and_tolerances_are_set_and_a_tolerance_of_nothing_is_refused(client, db):
    costs = {"minute": "0,4", "sheet": "2", "strip": "0.2", "millilitre": "0.01", "cycle_minutes": "15", "version": "0"}
    client.post("/studio/costs", data=costs)
    assert entry.read_settings(db, Costs).minute == 0.4
    near = {"edition_delta_e": "2,5", "good_alone_cc": "3", "good_alone_time": "0.1", "version": "0"}
    client.post("/studio/tolerances", data=near)
    assert entry.read_settings(db, Tolerances).edition_delta_e == 2.5
    answer = client.post("/studio/tolerances", data=near | {"edition_delta_e": "0", "version": "1"})
    assert answer.status_code == 422
    assert "A tolerance of 0 no print can meet" in said(answer)


@pytest.mark.parametrize(
    ("form", "sent"),
    [
        ("costs", {"minute": "1", "sheet": "2", "strip": "0.2", "millilitre": "0.01", "cycle_minutes": "15"}),
        ("tolerances", {"edition_delta_e": "2,5", "good_alone_cc": "3", "good_alone_time": "0.1"}),
        ("repeats", {"alike_cc": "2"}),
        ("preferences", {"length_unit": "cm", "decimal_mark": ",", "currency": "unit"}),
    ],
)
def test_of_two_tabs_the_one_that_sets_up_the_studio_last_is_told(client, form, sent):
    for version in ("0", "1"):
        text = client.get("/studio").text
        assert re.search(rf'action="/studio/{form}".*?name="version" value="(\d+)"', text, re.DOTALL)[1] == version
        for status in (200, 409):
            answer = client.post(f"/studio/{form}", data=sent | {"version": version})
            assert answer.status_code == status, answer.text
        assert "changed meanwhile" in said(answer)


def test_the_studios_decimal_mark_reaches_every_page(client, db, harbour):
    client.post(
        "/studio/preferences", data={"length_unit": "cm", "decimal_mark": ",", "currency": "unit", "version": "0"}
    )
    assert entry.read_settings(db, Preferences).decimal_mark == ","
    assert "60 M 50 Y, 8,0 s, f/8" in said(client.get(f"/print/{harbour}"))
    assert "reads 0,80 0,62 0,71" in said(client.get("/"))
    for path in ("/paper", "/paper/fog", "/paper/cut", "/baths/mix", "/baths/warmth", "/evening/sequences"):
        text = re.sub(r'(value|placeholder|href|src|d|viewBox)="[^"]*"', "", client.get(path).text)
        assert not re.search(r">[^<]*\d\.\d[^<]*<", text), path


def test_a_backup_needs_a_folder_and_is_made_there(client, db, tmp_path):
    empty = client.post("/studio/backup", data={"to": " "})
    assert empty.status_code == 422
    assert "No folder was named" in said(empty)
    assert "A sound copy is in" in said(client.post("/studio/backup", data={"to": str(tmp_path / "copy")}))
    assert (tmp_path / "copy" / "studio.sqlite").exists()


def test_what_is_expected_of_prints_made_alike_is_said_and_shown_beside_what_they_taught(client):
    assert client.get("/api/taught/repeats").json()["expected"] == pytest.approx(1.118, abs=1e-3)
    assert "If you say nothing, 1.1 is taken" in said(client.get("/studio"))
    assert "That is what is expected" in said(client.post("/studio/repeats", data={"alike_cc": "2,5", "version": "0"}))
    assert 'value="2.5"' in client.get("/studio").text
    repeats = client.get("/api/taught/repeats").json()
    assert repeats["expected"] == pytest.approx(2.5)
    assert 1.5 < repeats["learned"]["value"] < 3.5
    assert "2.5 was expected before any print" in said(client.get("/taught"))
    refused = client.post("/studio/repeats", data={"alike_cc": "0", "version": "1"})
    assert refused.status_code == 422
    assert "cannot scatter by 0 CC" in said(refused)
    changed = client.put("/api/settings", json={"repeatability": {"alike_cc": 0.5}}).json()
    assert changed["repeatability"]["alike_cc"] == 0.5
    assert client.get("/api/taught/repeats").json()["expected"] == pytest.approx(0.5)
    assert "Nothing is said of it any more" in said(
        client.post("/studio/repeats", data={"alike_cc": " ", "version": "2"})
    )
    assert client.get("/api/taught/repeats").json()["expected"] == pytest.approx(1.118, abs=1e-3)
    client.put("/api/settings", json={"repeatability": {"alike_cc": 2}})
    assert (
        client.put("/api/settings", json={"repeatability": {"alike_cc": None}}).json()["repeatability"]["alike_cc"]
        is None
    )


def test_everything_is_handed_out_as_plain_files(client):
    answer = client.get("/studio/export.zip")
    with zipfile.ZipFile(BytesIO(answer.content)) as archive:
        names = archive.namelist()
    assert "studio.json" in names
    assert "csv/trials.csv" in names


# --- what the prints taught


def test_what_was_learned_is_shown_with_how_sure_it_is(client, db):
    entry.add_lot(db, "lot 2", paper="matt")
    for _ in range(3):
        sent = {
            "patches": [{"setting": {"magenta": 60, "yellow": 50, "time": 8}, "density": [0.80, 0.80, 0.71]}],
            "frame": "harbour",
            "lot": "lot 2",
        }
        assert client.post("/api/trials", json=sent).status_code == 201
    text = said(client.get("/taught"))
    assert "4 trials of 1 negative taught this" in text
    assert re.search(r"lot 2 [+−]?\d+\.\d", text)
    effects = client.get("/api/taught").json()
    assert any(effect["kind"] == "lot" and len(effect["trials"]) == 3 for effect in effects)
    drawn = client.get("/taught").text
    assert "How matt answers light" in drawn
    assert 'aria-label="green ' in drawn
    assert {"paper", "filters"} <= {one["kind"] for one in client.get("/api/taught/pictures").json()}
    assert 'href="/taught/lot?name=lot%202"' in drawn
    by = client.get("/taught/lot", params={"name": "lot 2"})
    assert re.search(r"lot 2 is known to \d+\.\d\d CC, by these prints", said(by))
    weighed = client.get("/api/taught/evidence", params={"kind": "lot", "name": "lot 2"}).json()
    assert len(weighed) == 3
    assert all(one["without"] >= one["error"] for one in weighed)
    assert client.get("/taught/lot", params={"name": "none"}).status_code == 404


def test_negatives_that_were_not_read_stand_apart_and_are_no_film_of_that_name(client, db, capsys):
    """Another film really has the name that the line had before."""
    entry.read_negative(db, "market", NegativeReading(density=(0.5, 0.7, 0.9), source="probe"))
    entry.add_frame(db, "quay", film=entry.add_film(db, "film 1 unread").name)
    for frame in ("market", "quay"):
        patch = PatchEntry(setting=Setting(pack=FilterPack(magenta=60, yellow=50), time=8), kept=True)
        log_trial(db, TrialEntry(patches=(patch,), frame=frame))
    effects = [one for one in client.get("/api/taught").json() if one["kind"] == "film"]
    assert {(one["name"], one["negatives"]): one["trials"] for one in effects} == {
        ("film 1", "read"): ["T2"],
        ("film 1", "unread"): ["T1"],
        ("film 1 unread", ""): ["T3"],
    }
    page = client.get("/taught").text
    for href, words in (
        ("film%201&amp;negatives=read", "film 1, of its negatives that were read"),
        ("film%201&amp;negatives=unread", "film 1, of its negatives that were not read"),
        ("film%201%20unread", "film 1 unread"),
    ):
        assert f'<a href="/taught/film?name={href}">{words}</a>' in page
    weighed = {
        (name, unread): client.get(
            "/api/taught/evidence", params={"kind": "film", "name": name, "unread": unread}
        ).json()
        for name, unread in (("film 1", False), ("film 1", True), ("film 1 unread", False))
    }
    assert [one[0]["trials"] for one in weighed.values()] == [["T2"], ["T1"], ["T3"]]
    shown = said(client.get("/taught/film", params={"name": "film 1", "negatives": "unread"}))
    assert "film 1, of its negatives that were not read is known to" in shown
    assert client.get("/taught/film", params={"name": "film 1", "negatives": "some"}).status_code == 422


# --- the HTTP interface


PRINT = {"setting": {"magenta": 60, "yellow": 50, "time": 8.0}, "said": "10 magenta, 1/3 stop dark"}


def test_a_program_logs_judges_reads_back_and_takes_back(client, db):
    sent = {"patches": [PRINT], "frame": "market", "key": "mine 1"}
    first = client.post("/api/trials", json=sent)
    assert first.status_code == 201
    name = first.json()["row"]["name"]
    assert client.post("/api/trials", json=sent).json()["row"]["name"] == name
    judged = client.post(f"/api/trials/{name}/judgements", json={"said": "neutral"})
    assert judged.status_code == 201
    assert client.get("/api/frames/market/trials").json()[0]["row"]["name"] == name
    assert client.get(f"/api/trials/{name}").json()["patches"][0]["judgements"][0]["judgement"]["strength"] == 10
    assert client.delete(f"/api/trials/{name}", params={"version": 1}).status_code == 200
    assert frame_history(db, "market") == []


def test_advice_over_http_is_the_advice(client):
    body = client.get("/api/advice", params={"frame": "harbour"}).json()
    assert body["advice"]["setting"]["pack"]["magenta"] >= 0
    assert 0 <= body["advice"]["probability_good"] <= 1
    assert len(body["advice"]["predicted_density"]) == 3


def test_a_scan_is_kept_and_read_over_http(client, strip):
    content, wedge, truth = strip
    kept = client.post("/api/scans", files={"scan": ("strip.tif", content, "image/tiff")})
    assert kept.status_code == 201
    box = list(truth.patches[1].box)
    asked = {"wedge": [float(step) for step in wedge.split()], "boxes": [box]}
    read = client.post(f"/api/scans/{kept.json()['scan']['sha256']}/reading", json=asked)
    assert read.json()["steps"][0]["density"] == pytest.approx(truth.patches[1].density.tolist(), abs=0.05)


@pytest.mark.parametrize(
    ("method", "path", "body", "status"),
    [
        ("POST", "/api/trials", {"patches": []}, 422),
        ("POST", "/api/trials", {"patches": [PRINT], "unknown": 1}, 422),
        ("POST", "/api/trials", {"patches": [PRINT | {"said": "lovely"}]}, 422),
        ("POST", "/api/trials", {"patches": [{"setting": {"time": 0}, "kept": True}]}, 422),
        ("POST", "/api/trials", {"patches": [PRINT | {"density": [0.1, 0.2, 9]}]}, 422),
        ("POST", "/api/trials", {"patches": [PRINT], "frame": "no such"}, 404),
        ("POST", "/api/frames", {"name": "x", "film": "no such"}, 404),
        ("GET", "/api/advice?frame=no+such", None, 404),
        ("GET", "/api/advice?head=no+such", None, 404),
        ("GET", "/api/advice?magnification=0", None, 422),
        ("GET", "/api/trials/T99", None, 404),
        ("DELETE", "/api/trials/T1?version=7", None, 409),
    ],
)
def test_what_cannot_be_is_a_problem_with_its_status(client, method, path, body, status):
    answer = client.request(method, path, json=body)
    assert answer.status_code == status
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.json()["detail"].endswith((".", "?"))


def test_the_frame_of_a_failed_entry_is_not_added(client, db):
    body = '{"name": "half", "film": "film 1", "reading": [0.1, 0.2, 1e400]}'
    answer = client.post("/api/frames", content=body, headers={"Content-Type": "application/json"})
    assert answer.status_code == 422
    assert "half" not in [frame.name for frame in entry.list_records(db, Frame)]


# --- old notes

NOTES = "film = Holiday\nHarbour 12: 60M 45Y, 9,5 s, f/8, 1998-03-04, a trace cyan\nHarbour 13: nonsense\n"


def test_a_page_of_notes_is_checked_before_it_is_entered(client, db):
    text = said(client.post("/notebook", data={"text": NOTES, "check": "yes"}, headers={"HX-Request": "true"}))
    assert "1 of 2 lines would be entered" in text
    assert "Not entered." in text
    assert "Holiday" not in [film.name for film in entry.list_records(db, Film)]


def test_notes_are_entered_line_by_line_and_the_bad_one_is_shown(client, db):
    text = said(client.post("/notebook", data={"text": NOTES}, headers={"HX-Request": "true"}))
    assert "1 of 2 lines are entered" in text
    assert len(frame_history(db, "Harbour 12")) == 1
    whole = client.post("/notebook", data={"text": NOTES.replace("nonsense", "50M 40Y, 8 s")})
    assert "2 prints are entered" in said(whole)
    assert len(frame_history(db, "Harbour 12")) == 1


def test_a_table_of_notes_is_entered(client, db):
    table = b"negative;filters;time;looks\nPier;60M 45Y;9,5;neutral\n"
    client.post("/notebook", files={"table": ("old.csv", table, "text/csv")})
    assert frame_history(db, "Pier")[0].patches[0].made.time == 9.5


def test_an_empty_page_of_notes_is_said(client):
    answer = client.post("/notebook", data={"text": " "})
    assert answer.status_code == 422
    assert "The page is empty" in said(answer)


@pytest.mark.parametrize(
    "path", ["/", "/negatives", "/paper", "/paper/lots", "/paper/cut", "/paper/fog", "/baths", "/baths/mix", "/studio"]
)
def test_a_label_belongs_to_one_entry(client, path):
    text = client.get(path, headers={"x-still-working": "1"}).text
    ids = re.findall(r'\sid="([^"]+)"', text)
    assert sorted(set(ids)) == sorted(ids)
    assert set(re.findall(r'<label for="([^"]+)"', text)) <= set(ids)
