"""Editions in a real browser: a print numbered, certified, sold and looked up, on a telephone and on a desk."""

import threading

import pytest
import uvicorn

from page_rules import AXE, SMALL
from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Setting
from printlore.faces.web.app import create_app
from printlore.records.database import Database
from printlore.records.trials import PatchReading
from printlore.services import editions as ledger
from printlore.services import entry
from printlore.services.trials import PatchEntry, TrialEntry, log_trial

pytestmark = pytest.mark.browser


@pytest.fixture
def served(tmp_path):
    """(address, database) of a studio with two sheets of one negative, both right."""
    with Database.open(tmp_path / "studio") as db:
        entry.add_film(db, "summer")
        entry.add_frame(db, "low tide", film="summer")
        setting = Setting(pack=FilterPack(magenta=60, yellow=50), time=8.0)
        for _ in range(2):
            patch = PatchEntry(setting=setting, reading=PatchReading(density=(0.7, 0.7, 0.7)), kept=True)
            log_trial(db, TrialEntry(patches=(patch,), frame="low tide", print_size=(203.0, 254.0)))
        server = uvicorn.Server(uvicorn.Config(create_app(db), port=0, log_level="warning"))
        thread = threading.Thread(target=server.run, daemon=True)
        thread.start()
        while not server.started:
            thread.join(0.02)
        yield f"http://127.0.0.1:{server.servers[0].sockets[0].getsockname()[1]}", db
        server.should_exit = True
        thread.join(10)


@pytest.mark.parametrize("width", [390, 1440])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_print_from_its_number_to_its_buyer(page, served, width, scheme):
    url, db = served
    page.emulate_media(color_scheme=scheme)
    page.set_viewport_size({"width": width, "height": 900})

    def look():
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        assert page.evaluate(SMALL) == []
        page.evaluate(AXE)
        rules = {"runOnly": ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa"]}
        wrong = page.evaluate("(rules) => axe.run(document, rules)", rules)["violations"]
        assert [(one["id"], one["nodes"][0]["html"]) for one in wrong] == []

    page.goto(url + "/editions")
    look()
    form = page.locator("form", has=page.get_by_role("button", name="Promise it"))
    form.get_by_label("Title").fill("Low tide")
    form.get_by_label("Negative").fill("low tide")
    form.get_by_label("Numbered prints in all").fill("8")
    form.get_by_label("Artist's proofs beside").fill("1")
    form.get_by_role("button").click()
    page.get_by_text("Low tide is promised as 8 prints.").wait_for()
    look()
    page.get_by_role("button", name="Give it its number").click()
    page.get_by_text("write it on the back").wait_for()
    code = ledger.edition_view(db, "Low tide").prints[0].print.name
    page.get_by_text(code, exact=True).wait_for()
    page.get_by_role("button", name="Write it down").click()
    page.get_by_text("1/8: signed.").wait_for()
    page.get_by_role("button", name="Write the certificate").click()
    page.get_by_text("The certificate is written down").wait_for()
    page.get_by_label("Price").fill("180")
    page.get_by_role("button", name="Write it down").click()
    page.get_by_text("1/8: sold.").wait_for()
    # an entry that cannot be stays in the form and is told there
    page.get_by_role("radio", name="destroyed").check()
    page.get_by_role("button", name="Write it down").click()
    page.get_by_text("Say why it was destroyed").wait_for()
    look()
    page.get_by_role("link", name="Compare it with the ledger").click()
    page.get_by_text("Matches the ledger.").wait_for()
    look()
    page.goto(url + "/editions")
    page.get_by_role("link", name="Low tide").click()
    page.get_by_role("link", name="1/8: sold").wait_for()
    page.get_by_text("sold, still here: 1").wait_for()
    page.get_by_role("link", name="What it must bring").click()
    page.get_by_text("is sold at a loss").wait_for()
    look()


def test_a_title_of_one_long_word_stays_on_a_telephone(page, served):
    url, db = served
    made = ledger.add_edition(db, "W" * 200, frame="low tide", prints=2)
    one = ledger.number_print(db, made.name).print.id
    page.set_viewport_size({"width": 390, "height": 844})
    for path in ("/editions", f"/editions/{made.id}", f"/editions/{made.id}/price", f"/editions/prints/{one}"):
        page.goto(url + path)
        assert page.evaluate("document.documentElement.scrollWidth") == 390
