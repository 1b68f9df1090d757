"""What wet hands and small screens do: a press that bounces, an entry forgotten, a table wider than the telephone."""

import asyncio
import threading
from datetime import UTC, datetime

import pytest
import uvicorn
from fastapi import Request
from fastapi.responses import HTMLResponse

from evening_bench import Bench
from page_rules import AXE
from printlore.demo.baths import add_bath_history
from printlore.faces.web.app import create_app
from printlore.records.baths import Bath, Run
from printlore.records.database import Database
from printlore.services.entry import add_lot, find_record, list_records

pytestmark = pytest.mark.browser

TELEPHONE = {"width": 390, "height": 844}


@pytest.fixture(scope="module")
def served(tmp_path_factory):
    """(address, database, bath in use) of two invented months."""
    with Database.open(tmp_path_factory.mktemp("hands") / "studio") as db:
        name = add_bath_history(db, seed=4, now=datetime.now(UTC))
        add_lot(db, "lot 1", paper="paper", new_paper=True)
        server = uvicorn.Server(uvicorn.Config(create_app(db), port=0, log_level="warning"))
        thread = threading.Thread(target=server.run, daemon=True)
        thread.start()
        while not server.started:
            thread.join(0.02)
        yield f"http://127.0.0.1:{server.servers[0].sockets[0].getsockname()[1]}", db, find_record(db, Bath, name)
        server.should_exit = True
        thread.join(10)


@pytest.fixture
def telephone(browser):
    context = browser.new_context(viewport=TELEPHONE, has_touch=True, color_scheme="dark", bypass_csp=True)
    yield context.new_page()
    context.close()


def in_view(page, part):
    """A page that draws itself anew at this moment has no box of the part for it: then it is asked again."""
    for _ in range(50):
        if box := part.bounding_box():
            return box["y"] >= 0 and box["y"] + box["height"] <= TELEPHONE["height"]
        page.wait_for_timeout(100)
    return False


def test_a_press_that_bounces_books_one_load(telephone, served):
    address, db, bath = served
    telephone.goto(f"{address}/baths/of/{bath.id}")
    before = len(list_records(db, Run, bath=bath.name))
    telephone.get_by_role("button", name="It went through").dblclick()
    telephone.get_by_text("is in the ledger").wait_for()
    telephone.wait_for_timeout(500)
    assert len(list_records(db, Run, bath=bath.name)) == before + 1
    # and the next one, meant, is taken
    telephone.get_by_role("button", name="It went through").click()
    telephone.get_by_text("load").first.wait_for()
    telephone.wait_for_load_state("networkidle")
    assert len(list_records(db, Run, bath=bath.name)) == before + 2


def test_a_form_that_was_refused_can_be_sent_again(telephone, served):
    address, _, bath = served
    telephone.goto(f"{address}/baths/of/{bath.id}")
    telephone.get_by_label("Added mL").fill("lots")
    telephone.get_by_role("button", name="Topped up").click()
    telephone.get_by_role("alert").filter(has_text="cannot be read").wait_for()
    added = telephone.get_by_label("Added mL")
    assert added.get_attribute("aria-invalid") == "true"
    assert in_view(telephone, added)
    assert in_view(telephone, telephone.get_by_role("alert"))
    telephone.get_by_label("Added mL").fill("900")
    telephone.get_by_role("button", name="Topped up").click()
    telephone.get_by_role("alert").filter(has_text="Take some out first").wait_for()
    assert telephone.locator("main .problem").count() == 1


def test_a_choice_that_is_gone_is_not_brought_back(telephone, served):
    address, *_ = served
    telephone.goto(f"{address}/baths/mix")
    telephone.get_by_text("Open a bottle").click()
    telephone.get_by_label("Part", exact=True).fill("A")
    draft = telephone.locator("form[action='/baths/concentrate']").get_attribute("data-draft")
    telephone.evaluate(
        "(draft) => localStorage.setItem(`printlore-draft:${draft}`, JSON.stringify({ kit: 'gone', part: 'A' }))", draft
    )
    telephone.reload()
    assert telephone.get_by_label("Part", exact=True).input_value() == "A"
    assert telephone.locator("form[action='/baths/concentrate'] [name=kit]").input_value() != ""


def test_what_was_left_empty_is_said_by_its_label_in_view_and_marked(telephone, served):
    address, _, _ = served
    telephone.goto(f"{address}/paper")
    telephone.get_by_text("A roll has come").click()
    telephone.get_by_role("button", name="Take the roll in").click()
    said = telephone.get_by_role("alert").filter(has_text="“Name” is empty.")
    said.wait_for()
    telephone.wait_for_timeout(100)
    assert in_view(telephone, said)
    assert telephone.locator("#name").get_attribute("aria-invalid") == "true"


@pytest.mark.parametrize(("path", "screens"), [("/baths/mix", 3), ("/baths/waste", 5)])
def test_what_is_done_once_a_season_is_folded_on_a_telephone(telephone, served, path, screens):
    """Kits and waste were four and five screens of forms, those of once a season among those of every evening."""
    address, _, _ = served
    telephone.goto(address + path)
    tall = telephone.evaluate("document.querySelector('main').getBoundingClientRect().height")
    assert tall < screens * telephone.viewport_size["height"]


@pytest.mark.parametrize("path", ["/baths", "/baths/mix", "/evening/sequences"])
def test_a_table_too_wide_for_a_telephone_turns_into_labelled_lines(telephone, served, path):
    address, _, _ = served
    telephone.goto(address + path)
    telephone.wait_for_timeout(1200)
    telephone.locator("table.labelled").first.wait_for()
    cut = telephone.evaluate(
        """() => [...document.querySelectorAll('main .scroll')].filter((one) => one.scrollWidth > one.clientWidth + 1)
          .map((one) => one.textContent.trim().slice(0, 60))"""
    )
    assert cut == []
    telephone.evaluate(AXE)
    tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
    found = telephone.evaluate("(tags) => axe.run({ runOnly: { type: 'tag', values: tags } })", tags)
    assert [(one["id"], one["nodes"][0]["html"][:120]) for one in found["violations"]] == []


def test_a_second_tap_at_the_wet_bench_is_not_a_second_pour(telephone, tmp_path):
    bench = Bench(tmp_path / "studio")
    bench.start()
    try:
        bench.plan()
        bench.care()
        bench.in_drum()
        sent = []
        telephone.on("request", lambda one: sent.append(one.post_data) if one.url.endswith("/evening/events") else None)
        telephone.goto(f"{bench.url}/evening/wet")
        telephone.get_by_role("button", name="Lid on").click()
        move = telephone.get_by_role("button", name="move on")
        move.wait_for()
        telephone.wait_for_timeout(800)
        move.dblclick()
        telephone.wait_for_timeout(800)
        assert sum("moved_on" in (one or "") for one in sent) == 1
    finally:
        bench.stop()


def test_what_the_bench_refuses_is_said_where_the_press_was(telephone, tmp_path):
    bench = Bench(tmp_path / "studio")
    bench.start()
    try:
        bench.plan()
        telephone.goto(f"{bench.url}/evening")
        telephone.get_by_role("button", name="Seen to").click()
        said = telephone.locator("[data-say=answer].refused")
        said.wait_for()
        assert in_view(telephone, said)
        assert in_view(telephone, telephone.get_by_role("button", name="Seen to"))
    finally:
        bench.stop()


def test_who_leaves_a_page_that_is_being_worked_out_is_not_called_back(telephone, tmp_path):
    """It is there at the very moment when the next page is on its way."""
    left = threading.Event()

    async def page(request: Request):
        if "x-still-working" in request.headers and left.is_set():
            return HTMLResponse("there")
        return HTMLResponse('<script type="module" src="/static/working.js"></script><a href="/slow">on</a>', 202)

    async def slow():
        left.set()
        await asyncio.sleep(1.5)
        return HTMLResponse("<p>the next page</p>")

    with Database.open(tmp_path / "studio") as db:
        app = create_app(db)
        app.add_api_route("/being-worked-out", page)
        app.add_api_route("/slow", slow)
        server = uvicorn.Server(uvicorn.Config(app, port=0, log_level="warning"))
        thread = threading.Thread(target=server.run, daemon=True)
        thread.start()
        while not server.started:
            thread.join(0.02)
        address = f"http://127.0.0.1:{server.servers[0].sockets[0].getsockname()[1]}"
        telephone.goto(f"{address}/being-worked-out")
        telephone.get_by_role("link", name="on").click(no_wait_after=True)
        telephone.get_by_text("the next page").wait_for(timeout=10_000)
        server.should_exit = True
        thread.join(10)
