// Paper out. First, in dim light, everything is made ready; then this page is black and only sounds.

import { clock, device, flush, isReached, listen, now, page, send, setClock, studio } from "./studio.js";
import { audio, awake, beep, loadPrompts, playBuffer, render, sayNow, setTones, wake } from "./sound.js";
import { hush, speak, voice } from "./voice.js";
import { isSwitch } from "./switch.js";
import { blacken, unblacken } from "./black.js";

const data = JSON.parse(document.getElementById("script").textContent);
const LEAD = 3.05, HOLD = 3000, TOO_SOON = 250, ASK = 12000;

export const dark = {
  beat: data.beat, out: false, playing: null, asking: 0, left: false, log: [], tracks: new Map(), pressed: null,
  cameBack: data.out, waking: false,
};
setTones(data.sounds.tones);

// In a drill whose clock runs fast, light is as much shorter and nothing is counted aloud.
const atPace = (cues) => (clock.pace === 1 ? cues : cues.filter((cue) => cue.tone).map((cue) => ({ ...cue, at: cue.at / clock.pace, say: [] })));

// ---- making ready: every cue is a finished sound before the light goes out

export async function prepare() {
  await setClock().catch(() => {});
  await loadPrompts(data.sounds.prompts);
  for (const [number, beat] of data.beats.entries()) {
    if (beat.track.length) dark.tracks.set(number, await render(atPace(beat.track), LEAD / clock.pace));
  }
  dark.ready = true;
}

// ---- nothing on this page may shine or ask for light

async function letGoOfScreen() {
  try { await dark.lock?.release(); } catch { /* none */ }
  dark.lock = null;
}

export async function goDark() {
  blacken();
  dark.out = true;
  await letGoOfScreen();
  if (awake()) { await speak({ asked: true }); sayBeat(); }
}

// ---- beats

const current = () => data.beats[dark.beat];
function note(what) { dark.log.push({ what, beat: dark.beat, at: now() }); }

function stopSounds() {
  for (const source of dark.playing?.sources ?? []) { source.onended = null; try { source.stop(); } catch { /* ended */ } }
  dark.playing = null;
}

function sayBeat() {
  stopSounds();
  const beat = current();
  if (!beat) return;
  if (beat.track.length) return runTrack();
  dark.playing = { sources: sayNow(beat.say).sources, track: false };
  note("said");
}

function runTrack() {
  const number = dark.beat;
  const { source, when } = playBuffer(dark.tracks.get(number));
  dark.playing = { sources: [source], track: true, begun: when + LEAD / clock.pace };
  note("light");
  source.onended = () => { if (dark.beat === number && dark.playing?.track) { dark.playing = null; advance(number + 1); } };
}

function advance(to) {
  dark.beat = Math.max(0, Math.min(to, data.beats.length - 1));
  send("beat_done", { load: data.load, beat: dark.beat });
  sayBeat();
}

function press() {
  if (dark.playing?.track) return;                         // light is on the paper: only "stop" is heard
  if (current().leaves) { sayBeat(); return; }
  advance(dark.beat + 1);
}

function stopLight() {
  if (!dark.playing?.track) return;
  const lit = Math.max(0, audio().currentTime - dark.playing.begun);
  stopSounds();
  const words = `exposure stopped after ${lit.toFixed(1).replace(".", data.mark)} s`;
  send("went_wrong", { load: data.load, note: `${words} (${current().words}, piece ${current().piece + 1})` });
  dark.beat -= 1;
  send("beat_done", { load: data.load, beat: dark.beat });
  dark.playing = { sources: sayNow(["stopped"]).sources, track: false };
}

// ---- leaving takes a long hold, or two keys and a spoken question

async function leave() {
  if (dark.left) return;
  dark.left = true;
  stopSounds();
  const answer = await Promise.race([
    send("moved", { to: "wet", confirmed: ["box", "lid"] }),
    new Promise((resolve) => setTimeout(() => resolve(null), 4000)),
  ]);
  if (answer === null) sayNow(["not_reached"]);
  const done = answer ?? (await new Promise((resolve) => {
    const heard = (event) => { if (event.detail.entry.kind === "moved") { studio.removeEventListener("written", heard); resolve(event.detail); } };
    studio.addEventListener("written", heard);
  }));
  if (!done.ok) { dark.left = false; beep("wrong"); sayNow(["still_dark"]); return; }
  const { ends } = sayNow(["left_dark"]);
  hush();
  unblacken();
  setTimeout(() => location.replace("/evening/wet"), Math.max(0.1, ends - audio().currentTime) * 1000);
}

function ask() {
  stopSounds();
  dark.asking = performance.now();
  dark.playing = { sources: sayNow(["leave_confirm"]).sources, track: false };
}

// ---- keys and foot switch

let last = -Infinity;
let making = null;
addEventListener("keydown", async (event) => {
  if (!dark.out) return;
  event.preventDefault();
  if (event.repeat || dark.left) return;
  if (dark.waking) return;
  if (!awake() || dark.cameBack) {                          // after a reload the first press only tells where we are
    dark.waking = true;
    try {
      await wake();
      await (making ??= prepare());
      await speak({ asked: true });
      dark.cameBack = false;
      resume();
    } catch { making = null; beep("wrong"); } finally { dark.waking = false; }
    return;
  }
  const at = performance.now();
  if (dark.asking && at - dark.asking < ASK) {
    dark.asking = 0;
    if (event.code === "Enter" || event.code === "NumpadEnter") leave();
    else { stopSounds(); dark.playing = { sources: sayNow(["still_dark"]).sources, track: false }; }
    return;
  }
  dark.asking = 0;
  const holds = event.code === "KeyL" || (isSwitch(event.code) && current().leaves);
  if (holds && !dark.playing?.track) {
    const timer = setTimeout(() => { dark.pressed = null; if (current().leaves) leave(); else ask(); }, HOLD);
    dark.pressed = { code: event.code, timer };
    return;
  }
  if (at - last < TOO_SOON) return;
  last = at;
  if (isSwitch(event.code)) press();
  else if (event.code === "KeyS" || event.code === "Escape") stopLight();
  else if (dark.playing?.track) return;
  else if (event.code === "KeyR") sayBeat();
  else if (event.code === "Backspace" || event.code === "PageUp" || event.code === "ArrowLeft") back();
  else if (event.code === "KeyW") wrong();
}, { capture: true });
addEventListener("keyup", (event) => {
  if (!dark.out) return;
  event.preventDefault();
  if (dark.pressed?.code !== event.code) return;
  clearTimeout(dark.pressed.timer);
  dark.pressed = null;
  if (event.code === "KeyL" && !current().leaves) ask();
  else sayBeat();
}, { capture: true });

function back() {
  let to = dark.beat - 1;
  while (to > 0 && data.beats[to].track.length) to -= 1;    // going back never lights the lamp
  dark.beat = Math.max(0, to);
  send("beat_done", { load: data.load, beat: dark.beat });
  stopSounds();
  const { ends, sources } = sayNow(["back"]);
  dark.playing = { sources: [...sources, ...sayNow(current().say, ends).sources], track: false };
}

function wrong() {
  send("went_wrong", { load: data.load, note: `something went wrong at "${current().words}"` });
  stopSounds();
  dark.playing = { sources: sayNow(["noted"]).sources, track: false };
}

function resume() {
  if (current().track.length) {                             // the page went away while light was on the paper
    send("went_wrong", { load: data.load, note: `the page was reloaded during ${current().words}, piece ${current().piece + 1}` });
    dark.beat -= 1;
    send("beat_done", { load: data.load, beat: dark.beat });
    const { ends, sources } = sayNow(["stopped"]);
    dark.playing = { sources: [...sources, ...sayNow(current().say, ends).sources], track: false };
    return;
  }
  sayBeat();
}

// ---- what others do is heard, never seen

for (const name of ["change", "push"]) {
  studio.addEventListener(name, (event) => { note(name); if (dark.out && awake() && !dark.playing?.track && (name === "push" || event.detail.page !== page)) beep("event"); });
}
studio.addEventListener("refused", () => { if (dark.out && awake()) beep("wrong"); });
studio.addEventListener("unreached", () => { if (dark.out && awake() && !dark.playing) sayNow(["not_reached"]); });
studio.addEventListener("reached", () => { if (dark.out && awake() && !dark.playing) sayNow(["reached"]); });
voice.addEventListener("other", () => { if (dark.out && awake()) beep("wrong"); });

// ---- the way in

const form = document.getElementById("ready");
if (data.out) {
  goDark();
  making = prepare();
  making.catch(() => { making = null; });
} else if (form) {
  const say = (text) => { document.getElementById("answer").textContent = text; };
  const button = document.getElementById("out");
  const check = document.getElementById("sound-check");
  if ("wakeLock" in navigator) navigator.wakeLock.request("screen").then((lock) => { dark.lock = lock; }).catch(() => {});
  prepare().then(() => { say("Every cue is ready."); check.disabled = false; }, (error) => say(`The cues are not ready: ${error.message} Load the page again.`));
  check.addEventListener("click", async () => { await wake(); sayNow(["sound_check"]); });
  studio.addEventListener("change", (event) => {
    for (const other of event.detail.devices) {
      if (other === device || form.querySelector(`input[value="${CSS.escape(`out:${other}`)}"]`)) continue;
      const label = document.createElement("label");
      label.className = "check";
      const box = Object.assign(document.createElement("input"), { type: "checkbox", name: "confirmed", value: `out:${other}` });
      label.append(box, `${other} is out of the room`);
      document.getElementById("devices").append(label);
    }
  });
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    if (!dark.ready) return;
    button.disabled = true;
    await wake();
    const confirmed = [...form.querySelectorAll("input[name=confirmed]:checked")].map((box) => box.value);
    const answer = await send("moved", { to: "paper_out", load: data.load, confirmed });
    button.disabled = false;
    if (!answer.ok) { say(answer.detail); return; }
    await document.documentElement.requestFullscreen?.({ navigationUI: "hide" }).catch(() => {});
    // Escape stops an exposure; it must not bring the browser's bright frame back
    await navigator.keyboard?.lock?.(["Escape"]).catch(() => {});
    goDark();
  });
}
listen();
flush();
export { clock, data, isReached, sayBeat };
