"""A studio that starts from nothing is set up with the page alone, and what was not named at first is named later."""

import time

import pytest
from fastapi.testclient import TestClient

from printlore import Studio
from printlore.errors import Refused
from printlore.faces.cli.main import main
from printlore.faces.web.app import create_app
from printlore.records.baths import Bath, Process
from printlore.records.database import Database
from printlore.records.negatives import Frame
from printlore.records.papers import Lot, PaperFamily
from printlore.services import entry
from printlore.services.evening import open_evening
from printlore.services.evening_plan import PieceOrder, plan_load
from printlore.services.names import rename
from printlore.services.trials import frame_history


@pytest.fixture
def nothing():
    with (
        Database.in_memory() as db,
        TestClient(create_app(db), base_url="http://localhost", raise_server_exceptions=False) as client,
    ):
        yield client, db


def post(client, path, data):
    answer = client.post(path, data=data, follow_redirects=False)
    assert answer.status_code == 303, answer.text
    return answer


def test_paper_lot_and_roll_of_a_new_studio_are_entered_on_the_page(nothing):
    client, db = nothing
    assert 'name="new_paper"' in client.get("/paper/lots").text
    assert "No lot of paper is declared yet." in client.get("/paper/lots").text
    refused = client.post("/paper/lots", data={"name": "lot 1"})
    assert refused.status_code == 422
    assert "Name the paper as its label does" in refused.text
    assert entry.list_records(db, Lot) == []
    assert "/paper/rolls" not in client.get("/paper").text, "a roll cannot be taken in before its lot is known"
    first = post(client, "/paper/lots", {"name": "lot 1", "new_paper": "semi-matt"})
    assert first.headers["location"] == "/paper"
    assert "Take in a roll or a box of it." in (page := client.get("/paper").text)
    assert "/paper/rolls" in page
    second = post(client, "/paper/lots", {"name": "lot 2", "paper": "semi-matt", "new_paper": ""})
    assert second.headers["location"] == "/paper/lots"
    assert [lot.family for lot in entry.list_records(db, Lot)] == ["semi-matt", "semi-matt"]
    assert ">Price of the roll</label>" in client.get("/paper").text
    post(client, "/studio/preferences", {"length_unit": "cm", "decimal_mark": ",", "currency": "crown", "version": "0"})
    assert 'Price of the roll <span class="unit">crown</span>' in client.get("/paper").text
    post(client, "/paper/rolls", {"name": "roll 1", "lot": "lot 2", "width": "30,5", "stated": "50 m", "place": "room"})
    assert "roll 1" in client.get("/paper").text


def test_a_paper_is_not_left_behind_by_a_lot_that_was_refused(nothing):
    client, db = nothing
    post(client, "/paper/lots", {"name": "lot 1", "new_paper": "semi-matt"})
    assert client.post("/paper/lots", data={"name": "lot 1", "new_paper": "glossy"}).status_code == 422
    assert [paper.name for paper in entry.list_records(db, PaperFamily)] == ["semi-matt"]


def test_a_bath_of_a_new_studio_is_mixed_on_the_page(nothing):
    client, db = nothing
    post(client, "/baths/kit", {"kit_name": "kit", "use": "developer", "parts": "A 100 alkali\nB 50 acid"})
    asked = {"bath_name": "bath 1", "kit": "kit", "volume": "500"}
    assert 'name="new_process"' in client.get("/baths/mix", params={"kit": "kit", "volume": "500"}).text
    refused = client.post("/baths/mix", data=asked)
    assert refused.status_code == 422
    assert "Say how you develop" in refused.text
    post(client, "/baths/mix", {**asked, "new_process": "45 s at 35 °C"})
    assert [process.name for process in entry.list_records(db, Process)] == ["45 s at 35 °C"]
    assert [bath.process for bath in entry.list_records(db, Bath)] == ["45 s at 35 °C"]


def test_what_was_not_named_at_first_is_named_later_and_keeps_its_prints(nothing):
    client, db = nothing
    post(client, "/print", {"name": "harbour"})
    post(client, "/print/1/eye", {"seen": "none", "magenta": "45", "yellow": "55", "time": "9", "f_number": "8",
                                  "magnification": "8"})  # fmt: skip
    assert "unnamed lot" in client.get("/studio").text
    post(client, "/studio/name", {"named": "lot unnamed lot", "called": "lot 1"})
    post(client, "/studio/name", {"named": "paper unnamed paper", "called": "semi-matt"})
    assert frame_history(db, "harbour")[0].row.lot == "lot 1"
    assert entry.find_record(db, Lot, "lot 1").family == "semi-matt"
    assert client.post("/studio/name", data={"named": "frame harbour", "called": "x"}).status_code == 422


def test_the_command_renames_as_the_page_does(tmp_path, capsys):
    studio = ("--studio", str(tmp_path / "studio"))
    main(["init", *studio])
    main(["add", "head", "column", *studio])
    assert main(["rename", "head", "column", "bench", *studio]) == 0
    assert "column is called bench from now on." in capsys.readouterr().out
    assert main(["rename", "head", "column", "bench", *studio]) == 4
    python = Studio.in_memory()
    python.add_film("film 1")
    assert python.rename("film", "film 1", "film 2") == "film 2"


def test_a_bath_that_a_load_of_tonight_goes_through_keeps_its_name_until_then(nothing):
    _, db = nothing
    entry.add_process(db, "45 s")
    entry.add_bath(db, "bath 1", process="45 s")
    now = time.time()
    evening = open_evening(db, now=now)
    piece = PieceOrder(frame=None, kind="control", width=100.0, height=125.0)
    plan_load(db, evening, (piece,), drum=1, bath="bath 1", key="k", device="page", now=now)
    with pytest.raises(Refused, match="goes through"):
        rename(db, "bath", "bath 1", "bath 2")


def test_a_negative_that_was_entered_before_is_printed_by_its_name(nothing):
    client, db = nothing
    entry.add_film(db, "film 1")
    entry.add_frame(db, "harbour", film="film 1")
    assert post(client, "/print", {"name": " harbour "}).headers["location"] == "/print/1"
    # a telephone writes the first letter large
    assert post(client, "/print", {"name": "Harbour"}).headers["location"] == "/print/1"
    assert len(entry.list_records(db, Frame)) == 1


def test_of_a_strip_the_step_is_judged_that_is_nearest_to_right(nothing):
    client, db = nothing
    page = post_and_follow(client, "/print", {"name": "harbour"})
    assert "Which step do you judge?" in page.text
    made = {"magenta": "45", "yellow": "55", "time": "9,1", "f_number": "8", "magnification": "8", "step": "5,1"}
    post(client, "/print/1/eye", {**made, "kind": "strip", "seen": "slight cyan"})
    post(client, "/print/1/eye", {**made, "kind": "sheet", "seen": "slight cyan"})
    sent = {**made, "kind": "strip", "seen": "slight cyan", "advised": "0 45 55 9.1 8 8"}
    post(client, "/print/1/eye", sent)
    post(client, "/print/1/eye", {**sent, "time": "7"})
    times = [trial.patches[0].made.time for trial in frame_history(db, "harbour")]
    assert times == [5.1, 9.1, 5.1, 7.0]


def post_and_follow(client, path, data):
    return client.get(post(client, path, data).headers["location"])


def test_a_scan_of_the_strip_that_was_advised_is_read_as_that_strip(tmp_path, strip):
    """Also where the memory has its own process and the answer has to be waited for."""
    with (
        Database.open(tmp_path / "studio") as db,
        TestClient(create_app(db), base_url="http://localhost", raise_server_exceptions=False) as client,
    ):
        post(client, "/print", {"name": "harbour"})
        answer = client.post(
            "/print/1/scan", files={"scan": ("strip.tif", strip[0], "image/tiff")}, follow_redirects=False
        )
        for _ in range(12):  # on a machine that is busy the page is given without the advice after some seconds
            page = client.get(answer.headers["location"]).text
            if ", as advised</summary>" in page:
                break
    assert ", as advised</summary>" in page
    assert 'value="strip" checked' in page
