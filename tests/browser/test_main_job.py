"""The main job in a real browser: three touches, tap a patch, nothing lost on reload, usable by keyboard and by all."""

import re
import socket
import threading
import time

import pytest
import tifffile
import uvicorn

from page_rules import AXE, SMALL
from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Setting
from printlore.core.memory.evidence import Cast, Judgement
from printlore.faces.web.app import create_app
from printlore.records.database import Database
from printlore.services import entry
from printlore.services.trials import PatchEntry, TrialEntry, frame_history, log_trial
from printroom.room import Room
from printroom.scans import WEDGE_DENSITIES, Faults, Scanner

pytestmark = pytest.mark.browser

WIDTHS = [1440, 390]
IN_VIEW = "(part) => { const box = part.getBoundingClientRect(); return box.top >= 0 && box.bottom <= innerHeight; }"


@pytest.fixture(scope="module")
def studio(tmp_path_factory):
    """(database, address, scan file, the scan's truth): a server on a free port of this machine."""
    folder = tmp_path_factory.mktemp("studio")
    database = Database.open(folder / "studio")
    entry.add_film(database, "film 1")
    room = Room(seed=5)
    room.add_film("film")
    room.add_lot("lot")
    room.add_bath("bath")
    frame = room.add_frame("film")
    right = room.right_setting(frame)
    outcome = room.expose(
        frame, cyan=right.cyan, magenta=right.magenta, yellow=right.yellow, time=right.time, f_number=right.f_number
    )
    scan = Scanner(room).strip([outcome], faults=Faults(rotation=0.0, dust=0, scratches=0), wedge=WEDGE_DENSITIES)
    tifffile.imwrite(folder / "print.tif", scan.pixels, photometric="rgb")
    listening = socket.socket()
    listening.bind(("127.0.0.1", 0))
    server = uvicorn.Server(uvicorn.Config(create_app(database), log_level="error"))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    deadline = time.monotonic() + 20
    while not server.started:
        assert time.monotonic() < deadline
        time.sleep(0.02)
    yield database, f"http://127.0.0.1:{listening.getsockname()[1]}", folder / "print.tif", scan
    server.should_exit = True
    thread.join(10)
    database.close()


@pytest.fixture(params=WIDTHS, ids=lambda width: f"{width} px")
def width(request):
    return request.param


@pytest.fixture
def desk(browser, width, studio):
    """A page of this width that notes every request, and fails on any script error."""
    context = browser.new_context(viewport={"width": width, "height": 900}, has_touch=width < 500)
    page = context.new_page()
    page.asked, page.wrong = [], []
    page.on("request", lambda request: page.asked.append(request.url))
    page.on("pageerror", lambda error: page.wrong.append(str(error)))
    yield page
    assert page.wrong == []
    assert all(url.startswith((studio[1], "data:", "blob:")) for url in page.asked), "a request left the machine"
    context.close()


def begin(page, address, name):
    page.goto(address)
    page.get_by_label("What do you call the negative?").fill(name)
    page.get_by_role("button", name="Start printing it").click()
    page.wait_for_url("**/print/*")


def touch(page, label):
    """What a finger does: the words on the board, not the small circle behind them."""
    page.get_by_label(label, exact=True).check(force=True)


def test_a_print_is_logged_in_three_touches_and_undone_in_one(desk, studio, width):
    name = f"three touches {width}"
    begin(desk, studio[1], name)
    touch(desk, "slight magenta")
    touch(desk, "a little light")
    desk.get_by_role("button", name="Log it").click()
    desk.get_by_role("status").filter(has_text="slightly magenta, a little light").wait_for()
    assert len(frame_history(studio[0], name)) == 1
    desk.get_by_role("button", name="Undo").click()
    desk.get_by_text("it no longer counts").wait_for()
    assert frame_history(studio[0], name) == []


def test_a_patch_is_tapped_read_and_logged(desk, studio, width):
    database, address, scan, truth = studio
    name = f"tapped {width}"
    begin(desk, address, name)
    desk.get_by_label("Scan of the strip or print").set_input_files(scan)
    desk.get_by_role("button", name="Read the scan").click()
    desk.wait_for_url("**/scan/*")
    wedge = " ".join(f"{density:g}" for density in WEDGE_DENSITIES)
    desk.get_by_label("Densities of the wedge's steps").fill(wedge)
    picture = desk.locator("[data-pick] img")
    desk.wait_for_load_state()
    box = picture.bounding_box()
    rows, columns = truth.pixels.shape[:2]
    left, top, right, bottom = truth.patches[0].box
    x, y = (left + right) / 2 / columns * box["width"], (top + bottom) / 2 / rows * box["height"]
    picture.click(position={"x": x, "y": y})
    desk.get_by_text(re.compile("^It reads")).wait_for()
    numbers = re.search(r"It reads ([\d.]+) ([\d.]+) ([\d.]+)", desk.locator("#read").inner_text()).groups()
    assert [float(number) for number in numbers] == pytest.approx(truth.patches[0].density.tolist(), abs=0.05)
    desk.locator("#overlay .step-box").wait_for()  # exactly one, or the driver refuses
    desk.get_by_label("Exposure, or that of each step").fill("9,5")
    desk.get_by_role("button", name="Log this reading").click()
    desk.get_by_text("one patch read from the scan").wait_for()
    assert len(frame_history(database, name)[0].patches[0].readings) == 1


def test_the_cross_is_moved_and_read_by_keyboard(desk, studio, width):
    begin(desk, studio[1], f"keys {width}")
    desk.get_by_label("Scan of the strip or print").set_input_files(studio[2])
    desk.get_by_role("button", name="Read the scan").click()
    desk.wait_for_url("**/scan/*")
    desk.get_by_label("Densities of the wedge's steps").fill(" ".join(f"{density:g}" for density in WEDGE_DENSITIES))
    desk.locator("[data-pick]").focus()
    desk.keyboard.press("ArrowUp")
    desk.keyboard.press("Shift+ArrowUp")
    desk.keyboard.press("Enter")
    desk.get_by_text(re.compile("^It reads")).wait_for()


def test_a_wrong_entry_is_said_in_place_and_what_was_typed_stays(desk, studio, width):
    begin(desk, studio[1], f"wrong {width}")
    touch(desk, "strong cyan")
    desk.get_by_text("as advised").click()
    desk.get_by_label("Time", exact=False).first.fill("0")
    desk.get_by_role("button", name="Log it").click()
    desk.get_by_role("alert").filter(has_text="it must be above 0").wait_for()
    time_entry = desk.get_by_label("Time", exact=False).first
    assert time_entry.get_attribute("aria-invalid") == "true"
    assert desk.locator(".problem + .row [name=time]").count() == 1
    assert desk.evaluate(IN_VIEW, time_entry.element_handle())
    assert desk.get_by_label("strong cyan", exact=True).is_checked()
    desk.reload()
    assert desk.get_by_label("strong cyan", exact=True).is_checked()
    assert desk.get_by_label("Time", exact=False).first.input_value() == "0"
    time_entry.wait_for()  # what will be logged is not hidden in a fold that says otherwise


def test_what_was_typed_before_another_print_was_logged_does_not_bring_its_dials_back(desk, studio, width):
    database, address, *_ = studio
    name = f"elsewhere {width}"
    begin(desk, address, name)
    touch(desk, "trace green")
    before = desk.locator("[name=magenta]").input_value()
    made = Setting(pack=FilterPack(magenta=80, yellow=90), time=9)
    said = Judgement(cast=Cast.GREEN, strength=20)
    log_trial(database, TrialEntry(frame=name, patches=(PatchEntry(setting=made, judgement=said),)))
    desk.reload()
    desk.locator("[data-working]").wait_for(state="detached")
    desk.locator("form.board").wait_for()
    now = desk.locator("[name=magenta]").input_value()
    assert now != before
    assert f"{now} M" in desk.get_by_text("as advised").inner_text()
    assert desk.get_by_label("trace green", exact=True).is_checked()


def test_what_was_logged_is_not_offered_again_as_a_draft(desk, studio, width):
    begin(desk, studio[1], f"draft {width}")
    touch(desk, "trace green")
    desk.get_by_role("button", name="Log it").click()
    desk.get_by_role("status").filter(has_text="Logged as").wait_for()
    assert not desk.get_by_label("trace green", exact=True).is_checked()


def test_the_board_is_worked_by_keyboard_alone(desk, studio, width):
    name = f"keyboard {width}"
    begin(desk, studio[1], name)
    desk.get_by_label("trace yellow", exact=True).focus()
    desk.keyboard.press("ArrowRight")
    desk.keyboard.press("Tab")
    desk.keyboard.press("ArrowRight")
    for _ in range(12):
        desk.keyboard.press("Tab")
        if desk.evaluate("document.activeElement.textContent.trim()") == "Log it":
            break
    desk.keyboard.press("Enter")
    desk.get_by_role("status").filter(has_text="a trace of red, a little dark").wait_for()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_page_passes_the_accessibility_rules_and_has_large_targets(browser, studio, width, scheme):
    """WCAG 2.2 AA by axe-core; targets of 44 px (its level AAA, 2.5.5) where they do not stand in a sentence."""
    _database, address, scan, _ = studio
    context = browser.new_context(viewport={"width": width, "height": 900}, color_scheme=scheme, bypass_csp=True)
    page = context.new_page()
    begin(page, address, f"rules {width} {scheme}")
    touch(page, "slight red")
    page.get_by_role("button", name="Log it").click()
    page.get_by_role("status").filter(has_text="Logged as").wait_for()
    job = page.url
    page.get_by_label("Scan of the strip or print").set_input_files(scan)
    page.get_by_role("button", name="Read the scan").click()
    page.wait_for_url("**/scan/*")
    paths = [
        job,
        page.url,
        *(address + path for path in ("/", "/negatives", "/taught", "/studio", "/notebook", "/api")),
    ]
    paths.append(job.replace("/print/", "/negatives/"))
    found = []
    for path in paths:
        page.goto(path)
        # a page that is being worked out loads itself when it is there; that is not the page to be looked at
        page.locator("[data-working]").wait_for(state="detached")
        page.wait_for_load_state()
        for summary in page.locator("main summary").all():
            summary.click()
        page.evaluate(AXE)
        tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
        result = page.evaluate("(tags) => axe.run({ runOnly: { type: 'tag', values: tags } })", tags)
        found += [
            f"{path}: {violation['id']} {node['html'][:120]}"
            for violation in result["violations"]
            for node in violation["nodes"]
        ]
        found += [f"{path}: small {part}" for part in page.evaluate(SMALL)]
        wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        if wide > 0:
            found.append(f"{path}: {wide} px wider than the window")
    context.close()
    assert found == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_surround_of_a_picture_is_exactly_neutral_mid_grey(browser, studio, scheme):
    _database, address, scan, _ = studio
    context = browser.new_context(viewport={"width": 1440, "height": 900}, color_scheme=scheme)
    page = context.new_page()
    begin(page, address, f"grey {scheme}")
    page.get_by_label("Scan of the strip or print").set_input_files(scan)
    page.get_by_role("button", name="Read the scan").click()
    page.wait_for_url("**/scan/*")
    style = page.evaluate(
        "(() => { const s = getComputedStyle(document.querySelector('.neutral'));"
        " return [s.backgroundColor, s.boxShadow, s.backgroundImage]; })()"
    )
    assert style == ["rgb(118, 118, 118)", "none", "none"]
    context.close()


def test_the_desk_chosen_is_kept(browser, studio):
    context = browser.new_context(color_scheme="light")
    page = context.new_page()
    page.goto(studio[1])
    before = page.evaluate("getComputedStyle(document.body).backgroundColor")
    page.get_by_role("button", name="Dark desk").click()
    after = page.evaluate("getComputedStyle(document.body).backgroundColor")
    assert after != before
    page.reload()
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == after
    context.close()


def test_figures_stand_in_columns(browser, studio):
    """The typeface is ours, and its figures are of one width."""
    context = browser.new_context()
    page = context.new_page()
    page.goto(studio[1])
    widths = page.evaluate(
        """async () => {
          await document.fonts.ready;
          const loaded = [...document.fonts].some((face) => face.family.includes('Desk') && face.status === 'loaded');
          const text = document.querySelector('main').appendChild(document.createElement('span'));
          const wide = [...'0123456789'].map((digit) => {
            text.textContent = digit.repeat(20);
            return Math.round(text.getBoundingClientRect().width * 10);
          });
          return [loaded, new Set(wide).size];
        }"""
    )
    assert widths == [True, 1]
    context.close()


def test_a_studio_that_stops_answering_is_said_and_what_was_typed_stays(desk, studio, width):
    begin(desk, studio[1], f"gone {width}")
    touch(desk, "slight blue")
    desk.context.set_offline(True)
    desk.get_by_role("button", name="Log it").click()
    said = desk.locator(".problem", has_text="The studio does not answer. What you typed is kept here")
    said.wait_for()
    assert desk.evaluate(IN_VIEW, said.element_handle())
    desk.context.set_offline(False)
    desk.reload()
    assert desk.get_by_label("slight blue", exact=True).is_checked()
