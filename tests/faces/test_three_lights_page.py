"""A head with three lights is set, typed and read back in its own terms; the memory has the pack of them."""

import re
import subprocess

import pytest
from fastapi.testclient import TestClient

from printlore import Exposed, FilterPack, Setting, Studio
from printlore.faces.cli.main import main
from printlore.faces.web.app import create_app
from printlore.records.database import Database
from printlore.services.trials import frame_history

HALF = FilterPack(magenta=30.1, yellow=60.2)
"""Half of the red light's green, a quarter of its blue (a stop is log10 2 = 0.301)."""


@pytest.fixture(params=["additive_times", "additive_levels"])
def at_it(request, tmp_path):
    with Database.open(tmp_path / "studio") as db:
        studio = Studio(db)
        usual = Setting(pack=HALF, time=20)
        studio.add_head("lamphouse", kind=request.param, usual=usual)
        studio.add_film("film 1")
        studio.add_frame("harbour", film="film 1")
        studio.log("harbour", Exposed(setting=usual, density=(0.75, 0.75, 0.75)), head="lamphouse")
        with TestClient(create_app(db), base_url="http://localhost", raise_server_exceptions=False) as client:
            yield client, db, request.param == "additive_times", tmp_path / "studio"


def page_of(client, path):
    """The page once it has been worked out."""
    for _ in range(20):
        answer = client.get(path, headers={"x-still-working": "1"})
        if answer.status_code == 200:
            return answer.text
    raise AssertionError("it was not worked out")


def test_the_advice_says_what_each_light_is_set_to(at_it, capsys):
    client, db, in_turn, folder = at_it
    (lights,) = Studio(db).advise("harbour").lights
    assert lights.green / lights.red == pytest.approx(
        10 ** (-Studio(db).advise("harbour").advice.setting.pack.magenta / 100), rel=0.02
    )
    assert (lights.red, lights.green) == pytest.approx((20, 10) if in_turn else (100, 50), rel=0.15)
    main(["advise", "harbour", "--studio", str(folder)])
    unit = "s" if in_turn else "%"
    assert (
        f"That is red {lights.red:.1f} {unit}, green {lights.green:.1f} {unit}, blue {lights.blue:.1f} {unit}."
        in capsys.readouterr().out
    )
    page = page_of(client, "/print/1")
    assert f'<dt>green</dt><dd>{lights.green:.1f}<span class="unit">{unit}</span></dd>' in page
    assert ">magenta</dt>" not in page


def test_what_was_set_otherwise_is_typed_as_lights(at_it):
    client, db, in_turn, _ = at_it
    sent = {
        "seen": "slight cyan",
        "magenta": "30",
        "yellow": "60",
        "time": "18",
        "lights": "16 8 8",
        "head": "lamphouse",
    }
    answer = client.post("/print/1/eye", data=sent | ({"in_turn": "yes"} if in_turn else {}), follow_redirects=False)
    assert answer.status_code == 303
    made = frame_history(db, "harbour")[-1].patches[0].made
    assert made.pack.as_tuple() == pytest.approx((0, 30.1, 30.1), abs=0.01)
    assert made.time == (16 if in_turn else 18)
    refused = client.post("/print/1/eye", data=sent | {"lights": "16 8"})
    assert refused.status_code == 422
    assert "for example 12 10 9" in refused.text


def test_a_strip_in_turn_has_three_times_for_each_step(at_it, capsys):
    client, db, in_turn, folder = at_it
    Studio(db).add_frame("low tide", film="film 1")
    main(["advise", "low tide", "--studio", str(folder)])
    said = capsys.readouterr().out
    assert ("Step 1: red" in said) == in_turn
    assert ("Its steps, one beside the other" in said) != in_turn
    page = page_of(client, "/print/2")
    assert ("red, 5 steps" in page) == in_turn
    assert "30 of them are half of it" in page
    lights = Studio(db).advise("low tide").lights
    assert len(lights) == (5 if in_turn else 1)
    middle = lights[len(lights) // 2]
    assert f"Made at red {middle.red:.1f} {middle.unit}, green {middle.green:.1f} {middle.unit}" in page
    # before the advice is there, too
    assert 'name="lights"' in client.get("/print/1/log").text


def test_a_load_is_led_light_by_light_where_they_are_given_in_turn(at_it, capsys):
    client, db, in_turn, folder = at_it
    client.post("/evening", data={"name": ""})
    page = page_of(client, "/evening/plan?frame=1")
    assert "as advised" in page
    typed = re.search(r'name="pack-0"[^>]*value="([^"]*)"', page)[1]
    lights = max((one.as_tuple() for one in Studio(db).advise("harbour").lights), key=sum)
    assert [float(part[:-1]) for part in typed.split()] == pytest.approx(lights)
    assert [part[-1] for part in typed.split()] == ["R", "G", "B"]
    form = {
        "drum": "1",
        "kind-0": "sheet",
        "frame-0": "harbour",
        "pack-0": "12R 6G 3B",
        "seconds-0": "12",
        "size-0": "20x25 cm",
        "burns-0": "sky +4, face -3",
    }
    said = client.post("/evening/plan", data=form).text
    words = "gives red, green and blue light in turn: the dark page leads each exposure as three."
    assert (words in said) == in_turn
    (exposures,) = (piece.exposures for piece in Studio(db).evening.show().load("1").load.pieces)
    assert [one.time for one in exposures] == pytest.approx([12, 6, 3, 4, 2, 1] if in_turn else [12, 4])
    row = page_of(client, "/evening/plan?load=1")
    assert 'value="12"' in row
    assert ('value="12R 6G 3B"' in row) == in_turn
    assert 'value="face -3, sky +4"' in row
    piece = "harbour; strip; 12R 6G 3B; 4 1 1; 6x25 cm"
    assert main(["evening", "plan", "--drum", "2", "--piece", piece, "--studio", str(folder)]) == 0
    assert (words in capsys.readouterr().out) == in_turn
    main(["evening", "cues", "2", "--piece", "1", "--studio", str(folder)])
    assert ("Green exposure." in capsys.readouterr().out) == in_turn
    main(["evening", "card", str(folder / "card.pdf"), "--studio", str(folder)])
    card = subprocess.run(["pdftotext", "-layout", str(folder / "card.pdf"), "-"], capture_output=True, text=True)
    assert ("base green" in card.stdout) == in_turn


def test_under_another_head_a_load_is_planned_with_all_light_at_once(at_it, capsys):
    client, db, _, folder = at_it
    Studio(db).add_head("column head", usual=Setting(pack=HALF, time=20))
    client.post("/evening", data={"name": ""})
    assert '<option value="column head">' in page_of(client, "/evening/plan")
    piece = "harbour; sheet; 30M 60Y; 12; 20x25 cm"
    asked = ["evening", "plan", "--drum", "1", "--piece", piece, "--head", "column head", "--studio", str(folder)]
    assert main(asked) == 0
    (planned,) = Studio(db).evening.show().load("1").load.pieces
    assert [one.time for one in planned.exposures] == [12]
    assert '<option value="column head" selected>' in page_of(client, "/evening/plan?load=1")
