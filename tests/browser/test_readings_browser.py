"""The Readings page in a real browser: a print's scan first, the scanner taught step by step, usable by all."""

import threading

import numpy as np
import pytest
import tifffile
import uvicorn

from measuring_scenes import WEDGE, density_picture, scanned, strip_densities
from page_rules import AXE, SMALL
from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Setting
from printlore.core.measure.characterise import characterise
from printlore.core.measure.pairs import Pair, PairKind
from printlore.core.measure.scanner import Material, calibrate, grey_wedge
from printlore.core.paper.dyes import generic_paper
from printlore.faces.web.app import create_app
from printlore.records.database import Database
from printlore.records.measuring import PairRecord
from printlore.services.entry import list_records
from printlore.services.measuring import _keep_profile
from printlore.services.pairs import add_pair
from printlore.services.trials import PatchEntry, TrialEntry, log_trial

pytestmark = pytest.mark.browser


def chart_profile():
    """A profile by an invented chart of 80 patches on a generic paper."""
    rng = np.random.default_rng(2)
    paper, steps = generic_paper(), np.linspace(0.05, 2.3, 16)
    dyes = rng.uniform(0, 1.8, (80, 3))
    density = paper.density_from_dyes(dyes)
    curves = calibrate(10.0 ** -np.tile(steps[:, None], 3), grey_wedge(list(steps)))
    read = density @ (np.eye(3) * 0.96 + 0.013) + rng.normal(0, 0.004, density.shape)
    return characterise(
        read, paper.lab_from_dyes(dyes), curves, names=[f"{'ABCDEFGH'[k // 10]}{k % 10 + 1}" for k in range(80)],
        scanner="flatbed, 600, reflective", made="2026-11-01", status_a=density, material=Material.PHOTOGRAPHIC_PAPER,
    )  # fmt: skip


@pytest.fixture(scope="module")
def served(tmp_path_factory):
    """(address, database, scan file) of a studio with one trial, one profile and one dry-down."""
    folder = tmp_path_factory.mktemp("studio")
    tifffile.imwrite(folder / "print.tif", scanned(density_picture(strip_densities(5))).pixels, photometric="rgb")
    with Database.open(folder / "studio") as db:
        log_trial(db, TrialEntry(patches=(PatchEntry(setting=Setting(pack=FilterPack(yellow=40), time=9)),)))
        _keep_profile(db, chart_profile())
        add_pair(db, PairKind.DRY_DOWN, Pair(read=(0.7, 0.8, 0.75), known=(0.72, 0.81, 0.78)))
        server = uvicorn.Server(uvicorn.Config(create_app(db), port=0, log_level="warning"))
        thread = threading.Thread(target=server.run, daemon=True)
        thread.start()
        while not server.started:
            thread.join(0.02)
        yield f"http://127.0.0.1:{server.servers[0].sockets[0].getsockname()[1]}", db, folder / "print.tif"
        server.should_exit = True
        thread.join(10)


def test_a_scan_of_tonights_print_is_the_first_thing(page, served):
    address, _, scan = served
    page.goto(address + "/readings")
    page.get_by_label("Scan of the print or strip").set_input_files(scan)
    page.get_by_role("button", name="Go to the scan").click()
    page.wait_for_url("**/scan/*")
    page.get_by_label("Densities of the wedge's steps").fill(" ".join(f"{d:g}" for d in WEDGE))
    page.get_by_role("radio", name="a strip of one tone").check()
    page.get_by_role("button", name="Read it").click()
    page.get_by_text("5 steps are read.").wait_for()
    page.get_by_text("Through the chart of 2026-11-01").wait_for()


def test_a_dry_down_is_kept_and_taken_back(page, served):
    address, db, _ = served
    before = len(list_records(db, PairRecord))
    page.goto(address + "/readings")
    page.get_by_text("Wet readings: how your paper dries down").click()
    page.get_by_label("Wet", exact=True).fill("0,70 0,80 0,75")
    page.get_by_label("Dry", exact=True).fill("0,72 0,81")
    page.get_by_role("button", name="Keep this dry-down").click()
    page.get_by_text("needs three densities").wait_for()
    page.get_by_label("Dry", exact=True).fill("0,72 0,81 0,78")
    page.get_by_role("button", name="Keep this dry-down").click()
    page.get_by_role("status").filter(has_text="a mid-grey dries by").wait_for()
    assert len(list_records(db, PairRecord)) == before + 1
    page.get_by_role("button", name="Undo").click()
    page.get_by_role("status").filter(has_text="taken back").wait_for()
    assert len(list_records(db, PairRecord)) == before


@pytest.mark.parametrize("width", [1440, 390])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_readings_pass_the_accessibility_rules_and_fit_the_window(browser, served, width, scheme):
    """WCAG 2.2 AA by axe-core, all parts unfolded; targets of 44 px where they do not stand in a sentence."""
    context = browser.new_context(viewport={"width": width, "height": 900}, color_scheme=scheme, bypass_csp=True)
    page = context.new_page()
    page.goto(served[0] + "/readings")
    for summary in page.locator("main summary").all():
        if not summary.evaluate("one => one.parentElement.open"):
            summary.click()
    page.evaluate(AXE)
    tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
    result = page.evaluate("(tags) => axe.run({ runOnly: { type: 'tag', values: tags } })", tags)
    found = [f"{v['id']} {node['html'][:120]}" for v in result["violations"] for node in v["nodes"]]
    found += page.evaluate(SMALL)
    wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    context.close()
    assert found == []
    assert wide <= 0
