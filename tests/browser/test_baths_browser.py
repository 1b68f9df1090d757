"""The Baths pages in a real browser: the whole path of an evening with a bath, and how the drawings look."""

import threading
from datetime import UTC, datetime

import pytest
import uvicorn

from printlore.demo.baths import add_bath_history
from printlore.faces.web.app import create_app
from printlore.records.baths import Bath, BathEvent, Run
from printlore.records.database import Database
from printlore.services.entry import find_record, list_records

pytestmark = pytest.mark.browser


@pytest.fixture
def served(tmp_path):
    """(address, database, bath in use) of two invented months."""
    with Database.open(tmp_path / "studio") as db:
        name = add_bath_history(db, seed=4, now=datetime.now(UTC))
        server = uvicorn.Server(uvicorn.Config(create_app(db), port=0, log_level="warning"))
        thread = threading.Thread(target=server.run, daemon=True)
        thread.start()
        while not server.started:
            thread.join(0.02)
        port = server.servers[0].sockets[0].getsockname()[1]
        yield f"http://127.0.0.1:{port}", db, find_record(db, Bath, name)
        server.should_exit = True
        thread.join(10)


def test_a_load_a_top_up_and_an_undo(page, served):
    url, db, bath = served
    page.goto(url + "/baths")
    page.get_by_role("link", name=bath.name).first.click()
    before = len(list_records(db, Run, bath=bath.name))
    load = page.locator("form", has=page.get_by_role("button", name="It went through"))
    load.get_by_label("Paper").fill("18x24 cm")
    load.get_by_label("Carried in mL").fill("4,5")
    load.get_by_role("button").click()
    page.get_by_text("is in the ledger").wait_for()
    assert len(list_records(db, Run, bath=bath.name)) == before + 1
    events = len(list_records(db, BathEvent, bath=bath.name))
    page.get_by_label("Taken out first mL").fill("60")
    page.get_by_label("Added mL").fill("60")
    page.get_by_role("button", name="Topped up").click()
    page.get_by_text("60 mL out, 60 mL in.").wait_for()
    assert len(list_records(db, BathEvent, bath=bath.name)) == events + 1
    page.get_by_role("button", name="Undo").click()
    page.get_by_text("Taken back: top up").wait_for()
    assert len(list_records(db, BathEvent, bath=bath.name)) == events
    # it stands in the list with its mark, and comes back from there
    page.get_by_text("Every entry").click()
    row = page.get_by_role("row", name="top up: 60 mL out, 60 mL in · taken back")
    row.get_by_role("button", name="Bring it back").click()
    page.get_by_text("Brought back: top up").wait_for()
    assert len(list_records(db, BathEvent, bath=bath.name)) == events + 1


def test_nonsense_stays_in_the_form_and_is_told_there(page, served):
    url, _, bath = served
    page.goto(f"{url}/baths/of/{bath.id}")
    page.get_by_label("Added mL").fill("900")
    page.get_by_role("button", name="Topped up").click()
    page.get_by_text("Take some out first").wait_for()
    assert page.get_by_label("Added mL").input_value() == "900"


@pytest.mark.parametrize("place", ["", "/control", "/mix", "/fault", "/warmth", "/waste"])
@pytest.mark.parametrize("width", [390, 1100])
def test_nothing_hangs_over_the_edge_or_asks_outside(page, served, place, width):
    url, _, _ = served
    asked = []
    page.on("request", lambda request: asked.append(request.url))
    page.set_viewport_size({"width": width, "height": 800})
    page.goto(url + "/baths" + place)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert all(one.startswith(url) for one in asked)


def test_drawings_have_no_hue_and_stand_inside_their_frame(page, served):
    url, _, _ = served
    page.goto(url + "/baths/control")
    hues = page.evaluate(
        """() => [...document.querySelectorAll('main svg *')].flatMap((one) => {
          const style = getComputedStyle(one);
          return [style.fill, style.stroke].map((c) => (c.match(/\\d+/g) || []).slice(0, 3).map(Number));
        }).filter((c) => c.length === 3).map((c) => Math.max(...c) - Math.min(...c))"""
    )
    assert hues
    assert max(hues) <= 16
    outside = page.evaluate(
        """() => [...document.querySelectorAll('main figure svg')].flatMap((svg) => {
          const frame = svg.getBoundingClientRect();
          return [...svg.querySelectorAll('text')].filter((one) => {
            const box = one.getBoundingClientRect();
            return box.left < frame.left - 2 || box.right > frame.right + 2 || box.bottom > frame.bottom + 2;
          }).map((one) => one.textContent);
        })"""
    )
    assert outside == []
