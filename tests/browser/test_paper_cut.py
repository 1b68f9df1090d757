"""A cut by voice in a real browser: keys count, the page is black while paper is out, a killed server loses nothing."""

import io
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from datetime import UTC, datetime

import numpy as np
import pytest
from PIL import Image

from printlore.core.cutting.wanted import Wanted
from printlore.records.database import Database
from printlore.records.stock import Place, RollRecord
from printlore.services.cutting import keep_plan, list_sittings, plan_paper, start_sitting
from printlore.services.entry import add_lot, add_paper
from printlore.services.stock import receive_roll, stock

pytestmark = pytest.mark.browser

SERVE = """
import sys, uvicorn
from printlore.faces.web.app import create_app
uvicorn.run(create_app(sys.argv[1]), host="127.0.0.1", port=int(sys.argv[2]), log_level="error")
"""


class Server:
    """The studio's page in a process of its own, which can be killed and started again."""

    def __init__(self, folder):
        self.folder = folder
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.url = f"http://127.0.0.1:{self.port}"

    def start(self):
        self.process = subprocess.Popen([sys.executable, "-c", SERVE, str(self.folder), str(self.port)])
        until = time.monotonic() + 30
        while True:
            try:
                urllib.request.urlopen(self.url + "/api/paper/stock", timeout=1).read()
                return
            except OSError:
                assert time.monotonic() < until, "the server does not start"
                time.sleep(0.1)

    def kill(self):
        os.kill(self.process.pid, signal.SIGKILL)
        self.process.wait()


@pytest.fixture
def server(tmp_path):
    folder = tmp_path / "studio"
    with Database.open(folder) as db:
        add_paper(db, "gloss")
        add_lot(db, "lot 1", paper="gloss")
        receive_roll(
            db,
            RollRecord(
                name="r", lot="lot 1", width=305, core_diameter=76, stated_length=30_000,
                received_at=datetime(2026, 3, 1, tzinfo=UTC),
            ),
            place=Place.ROOM,
        )  # fmt: skip
        plan = keep_plan(db, plan_paper(db, [Wanted(name="w", along=254, across=203, count=6)]), name="march")
        start_sitting(db, plan.name, 1)
    made = Server(folder)
    made.start()
    yield made
    made.kill()


def until(page, expression, seconds=15):
    deadline = time.monotonic() + seconds
    while not page.evaluate(expression):
        assert time.monotonic() < deadline, expression
        page.wait_for_timeout(60)


def state(page):
    return page.evaluate("globalThis.cutting.state")


def press(page, key="PageDown"):
    """One press, as a foot switch makes it, and its answer."""
    before = state(page)["events"]
    page.wait_for_timeout(720)
    page.keyboard.press(key)
    until(page, f"globalThis.cutting?.state.events > {before}")


def press_until(page, key):
    while not state(page)["key"].startswith(key):
        press(page)


def test_a_roll_is_cut_by_foot_switch_and_a_killed_server_resumes_with_the_right_count(page, server):
    page.goto(server.url + "/paper")
    page.goto(server.url + "/paper/sittings/1")
    until(page, "globalThis.cutting?.ready")
    press_until(page, "dark")
    page.get_by_text("a black page is not darkness").wait_for()
    press(page)
    until(page, "document.documentElement.classList.contains('black')")
    shot = np.asarray(Image.open(io.BytesIO(page.screenshot())))[..., :3]
    assert shot.max() == 0, "the page shines while paper is out"
    for way_back in (lambda: page.evaluate("history.back()"), lambda: page.keyboard.press("Alt+ArrowLeft")) * 2:
        way_back()
        page.wait_for_timeout(400)
        assert page.url.endswith("/paper/sittings/1"), "the way back leads to a page that shines"
        assert np.asarray(Image.open(io.BytesIO(page.screenshot())))[..., :3].max() == 0
    press_until(page, "cut 1 cross")
    for _ in range(3):
        press(page)
    page.wait_for_timeout(300)
    page.keyboard.press("PageDown")  # the foot hit twice: it would count a cut, or pass a look for open bags unheard
    page.wait_for_timeout(500)
    assert state(page)["counted"] == 3
    assert page.evaluate("globalThis.cutting.log.at(-1)") == ["number_3"]
    press(page, "Backspace")
    assert state(page)["counted"] == 2

    server.kill()
    page.keyboard.press("PageDown")
    page.wait_for_timeout(500)
    server.start()
    until(page, "globalThis.cutting.state.counted === 3", seconds=20)

    page.reload()
    until(page, "globalThis.cutting?.ready")
    assert state(page)["counted"] == 3
    shot = np.asarray(Image.open(io.BytesIO(page.screenshot())))[..., :3]
    assert shot.max() == 0
    press_until(page, "light")
    page.wait_for_timeout(720)
    page.keyboard.press("PageDown")  # the answer is another page
    page.get_by_text("What was cut is in the ledger").wait_for()
    page.get_by_role("link", name="Labels (PDF)").wait_for()
    with Database.open(server.folder) as db:
        assert {box.sheets for box in stock(db).boxes} == {6}
        assert list_sittings(db)[0].sitting.booked
