"""A whole evening in the browser against the simulated room: three frames, strips, sheets, two drums, a slip undone."""

import time
from datetime import UTC, datetime, timedelta

import pytest
from playwright.sync_api import Error as PageError

from evening_bench import Bench
from printlore.core.evening.light import Light
from printlore.core.quantities import parse_number
from printlore.records.baths import Run
from printlore.records.database import Database
from printlore.records.light import Head
from printlore.records.papers import Lot, PaperFamily
from printlore.records.rows import add, every
from printlore.records.trials import TrialRow, with_patches
from printroom.room import Room

pytestmark = [pytest.mark.browser, pytest.mark.slow]

FRAMES = ("harbour 14", "harbour 15", "harbour 16")
PACE = 30.0
LIGHTNESS = ((-0.75, "1 stop light"), (-0.35, "1/2 stop light"), (-0.12, "a little light"), (0.12, "right"),
             (0.35, "a little dark"), (0.75, "1/2 stop dark"), (9, "1 stop dark"))  # fmt: skip
STRENGTH = ((7.5, "trace"), (15, "slight"), (25, "strong"), (999, "very strong"))


@pytest.fixture
def bench(tmp_path):
    made = Bench(tmp_path / "studio", pace=PACE)
    with made.db.transaction() as conn:
        add(conn, Head(name="enlarger"))
        add(conn, PaperFamily(name="a paper"))
        add(conn, Lot(name="lot 1", family="a paper"))
    made.start()
    yield made
    made.stop()


@pytest.fixture
def room():
    room = Room(seed=5)
    room.add_film("roll 3")
    room.add_lot("lot 1")
    room.add_bath("3 March")
    for frame in FRAMES:
        room.add_frame("roll 3", frame)
    return room


class Printer:
    """Somebody at the page, who knows nothing but what it shows and what comes out of the drum."""

    def __init__(self, page, bench, room):
        self.page, self.bench, self.room, self.loads = page, bench, room, 0
        self.made: dict[str, tuple[dict[str, float], float]] = {}

    def go(self, path):
        self.settled()
        self.page.goto(self.bench.url + path)
        self.settled()

    def settled(self):
        """The page no longer says that it is being worked out."""
        done = "document.readyState === 'complete' && !document.querySelector('[data-working]')"

        def there():
            try:
                return self.page.evaluate(done)
            except PageError:  # it loads itself just now
                return False

        self.until(there, seconds=60)

    def press(self, name, exact=True):
        self.page.get_by_role("button", name=name, exact=exact).first.click()

    def until(self, ask, seconds=20):
        deadline = time.monotonic() + seconds
        while not (found := ask()):
            assert time.monotonic() < deadline
            self.page.wait_for_timeout(60)
        return found

    def light(self, light):
        self.go("/evening")
        if self.bench.state().light is not light:
            self.press(f"Go to {light.words}")
            self.until(lambda: self.bench.state().light is light)

    def list_frames(self):
        for number, frame in enumerate(FRAMES, start=1):
            self.go("/evening")  # anew: the answer to the form before may still be on its way, and empties it
            self.page.fill("#frame", frame)
            self.press("List it")
            self.until(lambda number=number: len(self.bench.state().frames) == number)

    def rehearse(self):
        self.go("/evening/rehearsal")
        self.press("Begin the rehearsal")
        self.page.locator("#questions").wait_for(timeout=int(1000 * 700 / PACE) + 5000)
        for box in self.page.locator("#questions input[type=checkbox]").all():
            box.check()
        self.press("Keep the rehearsal")
        self.page.wait_for_url("**/evening")

    def plan(self, drum, *frames, kind=None):
        """Plan a load with the advised setting of each frame; a whole sheet if ``kind`` says so."""
        numbers = "&".join(f"frame={FRAMES.index(frame) + 1}" for frame in frames)
        self.go(f"/evening/plan?{numbers}")
        self.page.fill("#drum", str(drum))
        if self.page.locator("details").count() and len(frames) > 2:
            self.page.locator("summary").first.click()
        for row, _ in enumerate(frames):
            if kind == "sheet":
                self.page.select_option(f"#kind-{row}", "sheet")
                total = sum(float(part) for part in self.page.input_value(f"#seconds-{row}").split())
                self.page.fill(f"#seconds-{row}", f"{total:.4g}")
            self.page.fill(f"#size-{row}", "20x25 cm" if kind == "sheet" else "10x25 cm")
        self.press("Plan it")
        self.page.wait_for_url("**/evening")
        self.loads += 1
        return str(self.loads)

    def expose(self, load):
        self.light(Light.EASEL)
        self.go(f"/evening/dark/{load}")
        self.until(lambda: self.page.evaluate("!document.getElementById('sound-check').disabled"))
        for box in self.page.locator("input[type=checkbox]").all():
            box.check()
        self.press("Paper out")
        self.until(lambda: self.bench.state().light is Light.PAPER_OUT)
        script = self.bench.state().loads[load].script()
        now = "import('/static/evening/dark.js').then(({ dark }) => [dark.beat, !!dark.playing?.track])"
        deadline = time.monotonic() + 60
        while True:
            assert time.monotonic() < deadline
            beat, lit = self.page.evaluate(now)
            if script[beat].leaves:
                break
            if not lit:
                self.page.keyboard.press("Space")
            self.page.wait_for_timeout(270)
        self.page.keyboard.down("KeyL")
        self.page.wait_for_timeout(3300)
        self.page.keyboard.up("KeyL")
        self.page.wait_for_url("**/evening/wet", timeout=15000)

    def lid_on(self, load):
        self.go("/evening/wet")
        if self.bench.state().cautions == frozenset():
            self.press("Yes to all: seen to")
            self.until(lambda: self.bench.state().cautions)
        self.page.locator(f'[id="main-{load}"]').click()
        return self.until(lambda: self.bench.state().loads[load].begin)

    def slip_and_undo(self, load):
        """An elbow on the wrong target, taken back at once: the plan is as it was."""
        run = lambda: self.bench.state().loads[load].run(self.bench.clock.now())  # noqa: E731
        self.until(lambda: not run().waiting)
        # the page's clock may be a round trip behind, and the evening's runs 30 times as fast
        self.page.wait_for_timeout(200)
        end = run().end
        self.page.locator(f'[id="hold-{load}"]').click()
        self.page.locator(f'[id="undo-{load}"]').click()
        self.until(lambda: not self.bench.state().loads[load].turns)
        assert run().end == pytest.approx(end)

    def wash_over(self, load):
        self.until(lambda: self.bench.state().loads[load].ledger, seconds=30)
        self.go("/evening")
        state = self.bench.state().loads[load]
        several = enumerate(state.load.pieces) if len(state.load.pieces) > 1 else ()
        for number, piece in several:
            self.page.locator(f'[id="told-{load}-{number}"]').click()
            self.until(lambda number=number: number in self.bench.state().loads[load].found)
            assert piece.name
        self.page.locator(f'[id="dry-{state.load.drum}"]').click()
        self.until(lambda: state.load.drum not in self.bench.state().wet_drums)

    def log(self, frame, load, *, slip=False):
        """Look at the piece (the room makes it), say what is seen, on the frame's page."""
        piece = next(p for p in self.bench.state().loads[load].load.pieces if p.frame == frame)
        total = sum(exposure.time for exposure in piece.exposures)
        self.go(f"/print/{FRAMES.index(frame) + 1}")
        self.page.locator("summary").filter(has_text="Made at").click()
        self.page.fill("#time", f"{total:.4g}")
        dial = {
            name: parse_number(self.page.input_value(f"#{name}"))
            for name in ("magenta", "yellow", "f_number", "magnification")
        }
        outcome = self.room.expose(frame, time=total, **dial)
        seen = self.room.judge(outcome, "printer")
        word = (
            "none"
            if seen.cast == "none"
            else f"{next(w for limit, w in STRENGTH if seen.strength < limit)} {seen.cast}"
        )
        light = next(w for limit, w in LIGHTNESS if seen.stops_too_dark < limit)
        if slip:
            self.page.locator("input[name=seen][value='very strong blue']").check()
            self.press("Log it")
            self.page.locator("text=Logged as").wait_for()
            self.settled()
            self.page.get_by_role("button", name="Undo").click()
            self.page.locator("text=is taken back").wait_for()
            self.log(frame, load)
            return
        self.page.locator(f"input[name=seen][value='{word}']").check()
        self.page.locator(f"input[name=lightness][value='{light}']").check()
        self.press("Log it")
        self.page.locator("text=Logged as").wait_for()


@pytest.mark.parametrize("width", [1440, 390])
def test_three_frames_two_drums_strips_sheets_and_a_slip_end_with_the_right_ledger(page, bench, room, width):
    page.set_viewport_size({"width": width, "height": 900})
    printer = Printer(page, bench, room)
    printer.list_frames()
    if width == 1440:
        printer.rehearse()
    else:
        printer.go("/evening")
        bench.rehearsed(page.evaluate("localStorage.getItem('printlore-device')"))
    first = printer.plan(1, "harbour 14", "harbour 15")
    second = printer.plan(2, "harbour 16")
    printer.expose(first)
    started = printer.lid_on(first)
    printer.slip_and_undo(first)
    printer.wash_over(first)
    printer.expose(second)
    printer.lid_on(second)
    printer.wash_over(second)
    printer.log("harbour 14", first, slip=True)
    printer.log("harbour 15", first)
    printer.log("harbour 16", second)
    third = printer.plan(1, "harbour 14", kind="sheet")
    fourth = printer.plan(2, "harbour 15", "harbour 16", kind="sheet")
    printer.expose(third)
    printer.expose(fourth)
    printer.lid_on(third)
    begun = printer.lid_on(fourth)
    assert bench.state().clashes() == ()
    assert begun > bench.state().loads[third].begin
    printer.wash_over(third)
    printer.wash_over(fourth)
    for frame, load in (("harbour 14", third), ("harbour 15", fourth), ("harbour 16", fourth)):
        printer.log(frame, load)
    printer.go("/evening")
    printer.press("Close the evening")
    page.locator("text=The evening is closed").or_(page.locator("text=No evening is under way")).first.wait_for()

    with Database.open(bench.folder) as db, db.reading() as conn:
        runs = every(conn, Run)
        trials = with_patches(conn, every(conn, TrialRow))
    strip, sheet = 0.10 * 0.25, 0.20 * 0.25
    assert [run.area for run in runs] == pytest.approx([2 * strip, strip, sheet, 2 * sheet])
    assert [run.drum for run in runs] == ["1", "2", "1", "2"]
    assert {run.bath for run in runs} == {"3 March"}
    assert all(run.note == "" for run in runs)
    assert runs[0].at - datetime.fromtimestamp(started, UTC) < timedelta(minutes=10)
    assert sorted(trial.row.frame for trial in trials) == sorted([*FRAMES, *FRAMES])
    # what shared a drum is logged with its run: the memory knows their common noise
    of_load = {frame: [t.row.run for t in trials if t.row.frame == frame] for frame in FRAMES}
    assert of_load["harbour 14"] == [runs[0].name, runs[2].name]
    assert of_load["harbour 15"] == [runs[0].name, runs[3].name]
    assert of_load["harbour 16"] == [runs[1].name, runs[3].name]
