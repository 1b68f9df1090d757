"""The evening in a real browser: cues on time, one voice, black in the dark, and nothing lost when the server dies."""

import io
import re
import time

import numpy as np
import pytest
from PIL import Image

from evening_bench import FIVE_MINUTES, PACK, Bench, burnt
from printlore.core.evening.cues import Cue
from printlore.core.evening.events import Moved, WentWrong
from printlore.core.evening.exposure import exposure_cues, exposures_of
from printlore.core.evening.light import Light
from printlore.core.evening.process import moments, process_cues
from printlore.core.evening.state import LEAVE_DARK
from printlore.core.light.setting import Burn, Setting

pytestmark = pytest.mark.browser

TOO_LATE = 0.020
"""[s] Most that a cue may be off the audio clock."""
STARVED = 0.1
"""[s] The same of one that was placed while the audio device had nothing to play."""


@pytest.fixture
def bench(tmp_path, request):
    made = Bench(tmp_path / "studio", pace=getattr(request, "param", 1.0))
    made.start()
    yield made
    made.stop()


def until(page, expression, seconds=10):
    """Until a script says yes. (The page's content policy forbids the waiting that the driver brings.)"""
    deadline = time.monotonic() + seconds
    while not page.evaluate(expression):
        assert time.monotonic() < deadline, expression
        page.wait_for_timeout(60)


def listening(page, bench, path="/evening/wet"):
    page.goto(bench.url + path)
    until(page, "document.querySelector('[data-speak]') !== null")
    page.evaluate("import('/static/evening/bench.js').then((bench) => bench.speakHere(true))")
    until(page, "document.querySelector('[data-say=voice]').textContent === 'This page speaks.'", seconds=15)


LOG = """async () => {
  const { live } = await import('/static/evening/bench.js');
  const { audio } = await import('/static/evening/sound.js');
  const { moment } = await import('/static/evening/studio.js');
  const samples = [];
  for (let n = 0; n < 40; n += 1) {
    samples.push(audio().currentTime - performance.now() / 1000);
    await new Promise((resolve) => setTimeout(resolve, 5));
  }
  const now = performance.now() / 1000, latency = Math.min(audio().outputLatency || audio().baseLatency || 0, 0.3);
  const seen = (window.leads ??= []);
  seen.push({ now, lead: Math.max(...samples) });
  const leads = seen.filter((one) => one.now > now - 2.5).map((one) => one.lead);
  return live.log.filter((one) => Math.abs(moment(one.at) - now) < 0.8).map((one) => {
    const lead = one.when + latency - moment(one.at);
    return { at: one.at, name: one.name, error: Math.min(...leads.map((seen) => Math.abs(lead - seen))) };
  });
}"""
"""For each sound about to be heard or just heard: how far its place on the audio clock is from its moment.

An audio device that is starved sets its clock back, once and for good; which of the clocks of the last 2.5 s a sound
was placed by is then not the page's to choose, so the nearest counts. Without a stall they are one and the same."""


def overhear(page, seconds):
    """What is put on the audio clock meanwhile, each sound as it stood last."""
    found = {}
    deadline = time.monotonic() + seconds
    while time.monotonic() < deadline:
        found |= {(one["name"], one["at"]): one for one in page.evaluate(LOG)}
        page.wait_for_timeout(300)
    return list(found.values())


def tones(cues):
    return [(cue.tone, cue.at) for cue in cues if cue.tone]


@pytest.mark.parametrize("bench", [20.0], indirect=True)
def test_cues_of_a_five_minute_sequence_are_on_the_audio_clock(page, bench):
    """Also after a reload half-way: the drift is then 0, since every page reckons from the same first pour."""
    bench.plan()
    bench.care()
    bench.in_drum()
    begin = bench.begin(begin=bench.clock.now() + 80).event.what.begin
    listening(page, bench)
    first = overhear(page, 7)
    page.reload()
    listening(page, bench)
    second = overhear(page, max(0.0, (begin + FIVE_MINUTES.time - bench.clock.now()) / 20) + 0.5)
    heard = {(one["name"], round(one["at"] - begin, 3)) for one in first + second}
    planned = [
        (tone, round(at, 3))
        for tone, at in tones(process_cues(moments(FIVE_MINUTES)))
        if tone in ("begin", "out", "end")
    ]
    silent = [cue for cue in planned if cue not in heard]
    assert len(silent) <= 2, f"never scheduled (the reload itself may swallow one or two): {silent}"
    errors = [abs(one["error"]) for one in first + second]
    # a device that is starved as a sound is placed leaves that one behind, not those after it
    assert np.quantile(errors, 0.9) <= TOO_LATE, sorted(errors)[-10:]
    assert max(errors) <= STARVED, max(errors)


@pytest.mark.parametrize("bench", [10.0], indirect=True)
def test_two_tabs_never_both_speak_and_the_voice_moves_when_asked(page, context, bench):
    bench.plan()
    bench.care()
    bench.in_drum()
    bench.begin()
    listening(page, bench)
    other = context.new_page()
    other.goto(bench.url + "/evening/wet")
    other.locator("h1").click()  # a press that would let it speak, if nobody did
    other.wait_for_timeout(1500)
    speaks = "import('/static/evening/voice.js').then((voice) => voice.speaks())"
    assert (page.evaluate(speaks), other.evaluate(speaks)) == (True, False)
    # at ten times the pace a heartbeat may be half a minute old: then that is said too
    told = other.locator("[data-say=voice]").inner_text()
    assert told.startswith(("Another page speaks", "Another page has the voice but has not been heard")), told
    for _ in range(3):
        asks, rests = (other, page) if page.evaluate(speaks) else (page, other)
        asks.locator("[data-speak]").click()
        until(asks, f"{speaks}.then((yes) => yes)")
        until(rests, f"{speaks}.then((yes) => !yes)")
        assert rests.evaluate("import('/static/evening/bench.js').then((bench) => bench.live.going.size)") == 0


@pytest.mark.parametrize("bench", [5.0], indirect=True)
def test_a_killed_server_loses_no_step_and_the_run_is_at_the_right_second(page, bench):
    bench.plan()
    bench.care()
    bench.in_drum()
    begin = bench.begin().event.what.begin
    listening(page, bench)
    until(page, "document.querySelector('[data-doing]')?.textContent.startsWith('prewash')", seconds=10)
    bench.kill()
    page.get_by_role("button", name="Hold").click()
    until(page, "document.querySelector('[data-say=connection]').textContent.includes('does not answer')")
    pressed = bench.clock.now()
    assert page.evaluate("import('/static/evening/voice.js').then((voice) => voice.speaks())")
    page.wait_for_timeout(1500)
    bench.start()
    until(page, "document.querySelector('[data-doing]')?.textContent.includes('held')", seconds=15)
    run = bench.state().loads["1"].run(bench.clock.now())
    assert run.held_since == pytest.approx(pressed, abs=2.5)
    page.get_by_role("button", name="Go on").click()
    until(page, "!document.querySelector('[data-doing]').textContent.includes('held')")
    run = bench.state().loads["1"].run(bench.clock.now())
    shown = page.evaluate("Number(document.querySelector('[data-left]').textContent)")
    assert shown == pytest.approx(run.left, abs=1.5 * 5)
    assert run.begin == begin
    page.reload()
    until(page, "document.querySelector('[data-left]').textContent !== ''")


def test_a_kept_step_is_sent_once_even_if_it_is_sent_twice(page, bench):
    page.goto(bench.url + "/evening")
    page.evaluate(
        """async () => {
          const { send } = await import('/static/evening/studio.js');
          const twice = [1, 2].map(() => send('went_wrong', { note: 'once' }, { key: 'same' }));
          await Promise.race([Promise.all(twice), new Promise((resolve) => setTimeout(resolve, 1500))]);
        }"""
    )
    assert [note.note for note in bench.state().notes] == ["once"]


def test_two_tabs_that_plan_one_load_are_told(page, context, bench):
    bench.plan()
    for tab in (page, other := context.new_page()):
        tab.goto(bench.url + "/evening/plan?load=1")
    page.fill("[name=seconds-0]", "4")
    page.get_by_role("button", name="Plan it").click()
    page.wait_for_url("**/evening")
    other.fill("[name=seconds-0]", "5")
    other.get_by_role("button", name="Plan it").click()
    other.locator("text=nothing was overwritten").wait_for()
    assert bench.state().loads["1"].load.pieces[0].exposures[0].time == 4


def test_what_one_device_does_is_seen_on_another(page, context, bench):
    page.goto(bench.url + "/evening")
    other = context.new_page()
    other.goto(bench.url + "/evening")
    page.wait_for_timeout(500)
    page.fill("#frame", "harbour 15")
    page.get_by_role("button", name="List it").click()
    other.locator(".list >> text=harbour 15").wait_for(timeout=4000)
    other.get_by_role("button", name="Undo the last step").click()
    page.locator(".list >> text=harbour 15").wait_for(state="detached", timeout=4000)


# paper out


def onsets(samples, rate):
    """Where sound begins after at least a twentieth of a second of silence [s]."""
    loud = np.abs(samples) > 0.004
    quiet = int(rate * 0.05)
    found, last = [], -quiet
    for at in np.flatnonzero(loud):
        if at - last >= quiet:
            found.append(at / rate)
        last = at
    return found


RENDER = """async ([cues, lead]) => {
  const sound = await import('/static/evening/sound.js');
  const data = JSON.parse(document.getElementById('script').textContent);
  sound.setTones(data.sounds.tones);
  await sound.loadPrompts(data.sounds.prompts);
  const buffer = await sound.render(cues, lead, 48000);
  return Array.from(buffer.getChannelData(0).filter((_, n) => n % 4 === 0));
}"""


def test_rendered_cues_begin_within_five_milliseconds_of_the_plan(page, bench):
    bench.plan(burnt())
    page.goto(bench.url + "/evening/dark/1")
    setting = Setting(pack=PACK, time=8.0, burns=(Burn(name="face", time=-2.5),))
    cues = [Cue(at=cue.at, tone=cue.tone) for cue in exposure_cues(exposures_of(setting)[0]) if cue.tone]
    plain = [{"at": cue.at, "tone": cue.tone, "say": []} for cue in cues]
    samples = np.array(page.evaluate(RENDER, [plain, 3.0]))
    found = onsets(samples, 12000)
    wanted = sorted({cue.at + 3.0 for cue in cues})
    assert len(found) >= len(wanted) - 2
    for at in found:
        assert min(abs(at - moment) for moment in wanted) <= 0.005, at


def black(page):
    """The brightest value of any pixel that the page paints."""
    return int(np.asarray(Image.open(io.BytesIO(page.screenshot())).convert("RGB")).max())


def go_out(page, bench, load="1"):
    page.goto(bench.url + f"/evening/dark/{load}")
    device = page.evaluate("localStorage.getItem('printlore-device')")
    bench.rehearsed(device)
    bench.tell(Moved(to=Light.EASEL))
    until(page, "!document.getElementById('sound-check').disabled", seconds=30)
    page.get_by_role("button", name="Sound check").click()
    for box in page.locator("input[type=checkbox]").all():
        box.check()
    return device


STATE = """import('/static/evening/dark.js').then(({ dark }) => (
  { beat: dark.beat, light: !!dark.playing?.track, log: dark.log }
))"""


def test_the_page_is_black_over_a_whole_scripted_exposure_and_every_event(page, context, bench):
    bench.plan(burnt())
    go_out(page, bench)
    page.get_by_role("button", name="Paper out", exact=True).click()
    until(page, "document.documentElement.classList.contains('black')")
    assert bench.state().light is Light.PAPER_OUT
    assert page.evaluate("import('/static/evening/dark.js').then(({ dark }) => dark.lock)") is None
    script = bench.state().loads["1"].script()
    lit, seen = [], [black(page)]
    page.mouse.move(200, 200)
    deadline = time.monotonic() + 60
    events = 0
    while time.monotonic() < deadline:
        state = page.evaluate(STATE)
        if state["light"]:
            if not events:  # whatever the server can push, while light is on the paper
                bench.tell(WentWrong(note="from another device"))
                page.request.post(bench.url + "/api/evening/push")
                events += 1
            seen.append(black(page))
            page.mouse.click(300, 300)
            page.keyboard.press("Tab")
            continue
        lit = [entry["beat"] for entry in state["log"] if entry["what"] == "light"]
        if script[state["beat"]].leaves:
            break
        seen.append(black(page))
        page.keyboard.press("Space")
        page.wait_for_timeout(300)
    assert [script[beat].name for beat in lit] == ["expose_base", "expose_burn"]
    seen.append(black(page))
    bench.kill()
    page.wait_for_timeout(1500)
    seen.append(black(page))
    bench.start()
    page.wait_for_timeout(2500)
    seen.append(black(page))
    page.keyboard.press("Space")  # a single press never leaves
    page.wait_for_timeout(400)
    assert bench.state().light is Light.PAPER_OUT
    seen.append(black(page))
    assert set(seen) == {0}
    assert len(seen) > 20
    page.keyboard.down("Space")
    page.wait_for_timeout(3400)
    page.keyboard.up("Space")
    page.wait_for_url("**/evening/wet", timeout=15000)
    assert bench.state().light is Light.WET
    assert bench.state().loads["1"].beat == len(script) - 1


def test_a_reload_in_the_dark_stays_black_and_goes_on_at_the_same_beat(page, bench):
    bench.plan()
    go_out(page, bench)
    page.get_by_role("button", name="Paper out", exact=True).click()
    until(page, "document.documentElement.classList.contains('black')")
    for _ in range(3):
        page.wait_for_timeout(350)
        page.keyboard.press("Enter")
    page.wait_for_timeout(400)
    page.reload()
    assert black(page) == 0
    page.wait_for_timeout(600)
    assert page.evaluate(STATE)["beat"] == 3
    page.keyboard.press("KeyL")  # asks; any other key stays
    page.wait_for_timeout(400)
    page.keyboard.press("KeyR")
    page.wait_for_timeout(400)
    assert bench.state().light is Light.PAPER_OUT
    page.keyboard.press("KeyL")
    page.wait_for_timeout(400)
    page.keyboard.press("Enter")
    page.wait_for_url("**/evening/wet", timeout=15000)


def test_a_reload_under_the_light_says_so_whether_or_not_sound_starts_by_itself(page, bench):
    """The browser of these tests lets sound start by itself, as one does that knows the page well."""
    bench.plan(burnt())
    go_out(page, bench)
    page.get_by_role("button", name="Paper out", exact=True).click()
    until(page, "document.documentElement.classList.contains('black')")
    while not page.evaluate(STATE)["light"]:
        page.keyboard.press("Space")
        page.wait_for_timeout(300)
    lit = page.evaluate(STATE)["beat"]
    page.wait_for_timeout(3500)
    page.reload()
    page.wait_for_timeout(800)
    assert black(page) == 0
    page.keyboard.press("Space")
    page.wait_for_timeout(800)
    assert page.evaluate(STATE) | {"log": []} == {"beat": lit - 1, "light": False, "log": []}
    assert [note.note for note in bench.state().notes] == ["the page was reloaded during the exposure, piece 1"]
    page.keyboard.press("KeyW")
    page.wait_for_timeout(500)
    assert bench.state().notes[-1].note == 'something went wrong at "Emulsion up on the easel. Press to begin."'
    assert black(page) == 0


OTHERS = ("/", "/print/1", "/negatives", "/baths", "/evening/plan", "/evening/rehearsal", "/studio", "/nowhere")
"""Pages a hand may land on in the dark: the list at the top, a way back, an address that is not there."""


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_no_other_page_shines_while_paper_is_out(page, context, bench, theme):
    bench.plan()
    go_out(page, bench)
    other = context.new_page()
    other.emulate_media(color_scheme=theme)
    other.goto(bench.url + "/evening")
    assert black(other) <= 176, "dim at the easel"
    for path in OTHERS:
        other.goto(bench.url + path)
        other.locator("[data-working]").wait_for(state="detached")
        other.wait_for_load_state()
        assert black(other) <= 176, path
        assert "The room is dark at the bench" in other.locator("main").inner_text()
    other.goto(bench.url + "/evening")
    page.bring_to_front()
    page.get_by_role("button", name="Paper out", exact=True).click()
    until(page, "document.documentElement.classList.contains('black')")
    other.locator("text=Paper is out: listen.").wait_for()
    for path in (*OTHERS, "/evening/wet", "/evening"):
        other.goto(bench.url + path)
        other.wait_for_timeout(500)
        assert black(other) <= 140, path  # the edge of a tick box is the browser's own
        assert np.asarray(Image.open(io.BytesIO(other.screenshot())).convert("L")).mean() < 5, path
    other.goto(bench.url + "/evening/wet")
    assert other.locator("[data-main] button").count() == 0


def test_a_page_that_was_open_before_follows_the_light(page, context, bench):
    """Opened on another device in the light, and forgotten."""
    bench.plan()
    forgotten = [context.new_page() for _ in range(2)]
    for other, path in zip(forgotten, ("/negatives", "/evening/plan"), strict=True):
        other.emulate_media(color_scheme="light")
        other.goto(bench.url + path)
        assert black(other) > 240, "bright"
        assert "The room is dark" not in other.locator("main").inner_text()
    go_out(page, bench)
    for other in forgotten:
        other.bring_to_front()
        other.get_by_text("The room is dark at the bench").wait_for()
        assert black(other) <= 176, "dim at the easel"
    page.bring_to_front()
    page.get_by_role("button", name="Paper out", exact=True).click()
    until(page, "document.documentElement.classList.contains('black')")
    for other in forgotten:
        other.bring_to_front()
        until(other, "document.body.dataset.light === 'paper_out'")
        other.wait_for_timeout(300)
        assert black(other) <= 140
    bench.tell(Moved(to=Light.WET, confirmed=tuple(LEAVE_DARK)))
    for other in forgotten:
        other.bring_to_front()
        until(other, "document.body.dataset.light === ''")
        assert black(other) > 240


def test_the_way_back_of_the_browser_does_not_leave_the_dark(page, bench):
    bench.plan()
    page.goto(bench.url + "/studio")
    go_out(page, bench)
    page.get_by_role("button", name="Paper out", exact=True).click()
    until(page, "document.documentElement.classList.contains('black')")
    for _ in range(3):
        page.evaluate("history.back()")
        page.wait_for_timeout(400)
        assert page.url.endswith("/evening/dark/1")
        assert black(page) == 0
    page.keyboard.press("KeyL")
    page.wait_for_timeout(400)
    page.keyboard.press("Enter")
    page.wait_for_url("**/evening/wet", timeout=15000)
    page.go_back()
    assert page.url.endswith("/studio")


def test_nothing_ticked_or_written_is_said_and_sends_nothing(page, bench):
    page.goto(bench.url + "/evening")
    told = page.locator("[data-say=answer]")
    for button, said in (
        ("Seen to", "Nothing is ticked yet: tick what you have seen to."),
        ("List it", "“Put a negative on the list” is empty: nothing was noted."),
        ("Note it", "“Note it in words” is empty: nothing was noted."),
    ):
        page.get_by_role("button", name=button).click()
        assert told.inner_text() == said
    assert bench.state().last is None
    page.locator("label", has_text="Goggles on?").click()
    page.get_by_role("button", name="Seen to").click()
    until(page, "document.querySelector('[data-say=answer]').textContent === 'Noted.'")
    assert bench.state().cautions == {"goggles"}


def test_a_closed_evening_leaves_the_bench_on_every_device(page, context, bench):
    """The page that says that there is none was drawn into the bench, head and all."""
    other = context.new_page()
    other.goto(bench.url + "/evening/wet")
    page.goto(bench.url + "/evening")
    page.get_by_role("button", name="Close the evening").click()
    for shown in (page, other):
        shown.get_by_role("heading", name="No evening is under way.").wait_for()
        assert shown.locator("header").count() == 1
    page.get_by_role("button", name="Begin the evening").wait_for()


def test_the_rehearsal_is_asked_for_before_the_way_to_the_easel(page, bench):
    """It was told at the last press only, with the negative in the carrier and the room dark."""
    bench.plan()
    page.goto(bench.url + "/evening")
    sentence = page.locator("#part .sentence")
    first = "do the dark rehearsal first (ten minutes, without paper), then "
    assert sentence.inner_text() == f"Load 1 is planned for drum 1: {first}go to the easel."
    bench.rehearsed("this machine")
    page.reload()
    assert sentence.inner_text() == "Load 1 is planned for drum 1: go to the easel."


def test_the_switch_learned_at_the_rehearsal_pours_and_never_repeats_what_was_tapped(page, bench):
    bench.plan()
    bench.care()
    bench.in_drum()
    page.goto(bench.url + "/evening/wet")
    page.evaluate("localStorage.setItem('printlore-switch', 'F9')")
    page.wait_for_timeout(600)
    page.keyboard.press("F9")
    until(page, "document.querySelector('[data-doing]') !== null")
    begin = bench.state().loads["1"].begin
    assert begin
    until(page, "document.querySelector('[data-doing]').textContent.startsWith('prewash')", seconds=15)
    page.locator("#hold-1").click()
    until(page, "document.querySelector('[data-doing]').textContent.includes('held')")
    page.locator("#undo-1").click()
    until(page, "!document.querySelector('[data-doing]').textContent.includes('held')")
    page.keyboard.press("Space")
    page.wait_for_timeout(900)
    state = bench.state().loads["1"]
    assert state.begin == begin
    assert state.run(bench.clock.now()).step_number == 1, "the switch pours the next; it takes nothing back"
    page.keyboard.press("F9")
    page.wait_for_timeout(900)
    assert bench.state().loads["1"].run(bench.clock.now()).step_number == 2


def test_paper_stays_in_the_box_while_another_device_is_connected(page, browser, bench):
    bench.plan()
    go_out(page, bench)
    elsewhere = browser.new_context()
    telephone = elsewhere.new_page()
    telephone.goto(bench.url + "/evening")
    telephone.wait_for_timeout(600)
    name = telephone.evaluate("localStorage.getItem('printlore-device')")
    page.get_by_role("button", name="Paper out", exact=True).click()
    page.locator("text=Still connected").wait_for()
    page.locator(f"input[value='out:{name}']").check()
    page.get_by_role("button", name="Paper out", exact=True).click()
    until(page, "document.documentElement.classList.contains('black')")
    elsewhere.close()


@pytest.mark.parametrize("bench", [60.0], indirect=True)
def test_the_dark_rehearsal_is_black_pushes_an_event_and_asks(page, bench):
    page.goto(bench.url + "/evening/rehearsal")
    page.locator("#switch-key").press("F9")
    assert "F9" in page.locator("#switch-now").inner_text()
    page.get_by_role("button", name="Begin the rehearsal").click()
    page.locator(".dark-cover").wait_for()
    page.wait_for_timeout(500)
    assert black(page) == 0
    page.keyboard.press("F9")
    assert black(page) == 0
    page.locator("#questions").wait_for(timeout=20000)
    assert page.evaluate("import('/static/evening/rehearsal.js').then(({ rehearsal }) => rehearsal.pushed)") == 1
    for box in page.locator("#questions input[type=checkbox]").all():
        box.check()
    page.get_by_role("button", name="Keep the rehearsal").click()
    page.wait_for_url("**/evening")
    (kept,) = bench.state().rehearsals.values()
    assert kept.seconds >= 600


def test_what_is_missing_over_plain_http_is_said(page, bench):
    page.add_init_script(
        "Object.defineProperty(globalThis, 'isSecureContext', { value: false }); delete Navigator.prototype.wakeLock;"
    )
    page.goto(bench.url + "/evening")
    page.locator("text=printlore certificate").wait_for()


@pytest.mark.parametrize("width", [1440, 390])
def test_nothing_is_wider_than_the_screen_and_the_wet_target_is_a_third_of_it(page, bench, width):
    bench.plan()
    bench.care()
    bench.in_drum()
    page.set_viewport_size({"width": width, "height": 844})
    for path in (
        "/evening",
        "/evening/wet",
        "/evening/plan",
        "/evening/sequences",
        "/evening/rehearsal",
        "/evening/dark/1",
    ):
        page.goto(bench.url + path)
        assert page.evaluate("document.documentElement.scrollWidth") <= width, path
    page.goto(bench.url + "/evening/wet")
    page.wait_for_timeout(800)
    page.locator("[data-main] button").wait_for()
    box = page.locator("[data-main] button").bounding_box()
    assert box["height"] >= 844 / 3
    assert box["width"] >= width * 0.7
    assert re.match("Lid on", page.locator("[data-main] button").inner_text())
