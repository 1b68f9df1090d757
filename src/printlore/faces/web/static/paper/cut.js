// Cutting in the dark: every press goes to the studio first; what comes back is spoken. The count is the studio's, never this page's.

import { audio, awake, beep, loadPrompts, sayNow, setTones, wake } from "../evening/sound.js";
import { isSwitch } from "../evening/switch.js";
import { blacken, unblacken } from "../evening/black.js";

const data = JSON.parse(document.getElementById("script").textContent);
const TOO_SOON = 700;       // [ms] no cut and no look for open bags is done sooner: a switch that bounces, a foot that hits twice
const PATIENCE = 2500;      // [ms] between tries while the studio does not answer

setTones({
  count: { frequency: 1320, duration: 0.06, level: 0.5 },
  wrong: { frequency: 220, duration: 0.5, level: 0.7 },
});

export const cut = { state: data.state, ready: false, waiting: [], sending: false, log: [], pressed: 0 };
let playing = [];

function say(sounds) {
  for (const source of playing) { try { source.stop(); } catch { /* it has ended */ } }
  playing = [];
  cut.log.push(sounds);
  if (awake() && cut.ready) playing = sayNow(sounds).sources;
}

function show(state) {
  const before = cut.state;
  cut.state = state;
  if (state.dark && !before.dark) blacken();
  if (!state.dark && before.dark) { unblacken(); setTimeout(() => location.reload(), 100); return; }
  if ((state.done || state.booked) && !(before.done || before.booked)) { location.reload(); return; }
  const words = document.getElementById("words");
  if (words) words.textContent = state.words;
}

async function again() {
  const answer = await fetch(`/api/paper/sittings/${cut.state.sitting}`);
  if (!answer.ok) return;
  const state = await answer.json();
  show(state);
  say(state.sounds);
}

// One at a time and in order. A press keeps its number, so one sent twice is counted once.
async function send() {
  if (cut.sending) return;
  cut.sending = true;
  while (cut.waiting.length) {
    const event = cut.waiting[0];
    const number = cut.state.events + 1;
    let answer;
    try {
      answer = await fetch(`/api/paper/sittings/${cut.state.sitting}/presses`, {
        method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify({ event, number }),
      });
    } catch {
      beep("wrong");
      await new Promise((resolve) => setTimeout(resolve, PATIENCE));
      continue;
    }
    cut.waiting.shift();
    if (answer.ok) {
      const state = await answer.json();
      show(state);
      say(state.sounds);
    } else {
      beep("wrong");
      const problem = await answer.json().catch(() => ({}));
      const told = document.getElementById("answer");
      if (told) told.textContent = problem.detail ?? "";
      if (answer.status === 409) { cut.waiting.length = 0; await again(); }
    }
  }
  cut.sending = false;
}

export function press(event) {
  cut.waiting.push(event);
  send();
}

addEventListener("keydown", (event) => {
  if (event.metaKey || event.ctrlKey || event.altKey) {
    if (cut.state.dark) event.preventDefault();            // Alt and an arrow is the browser's way back, to a page that shines
    return;
  }
  const onControl = !cut.state.dark && event.target instanceof Element && event.target.closest("a, button");
  const known = isSwitch(event.code) || ["Backspace", "KeyX", "KeyE", "KeyR"].includes(event.code);
  if (!known || (onControl && (event.code === "Enter" || event.code === "Space"))) return;
  event.preventDefault();
  if (event.repeat) return;
  if (cut.state.dark && !awake()) {                        // taken up in the dark: first hear where it stands, then go on
    wake().then(again);
    return;
  }
  begin();
  if (isSwitch(event.code)) {
    const now = performance.now();
    if (now - cut.pressed < TOO_SOON) return;
    cut.pressed = now;
    if (awake()) beep("count");
    press("press");
  } else if (event.code === "Backspace") press("undo");
  else if (event.code === "KeyX") press("spoiled");
  else if (event.code === "KeyE") press("end");
  else again();
}, { capture: true });

document.getElementById("press")?.addEventListener("click", () => { begin(); press("press"); });
document.getElementById("again")?.addEventListener("click", () => { begin(); again(); });

// Sound may only start once somebody did something; after a reload in the dark the first key brings it back.
async function begin() { await wake(); }

if (data.state.dark) blacken();
audio();
loadPrompts(data.prompts).then(() => { cut.ready = true; if (awake()) say(cut.state.sounds); })
  .catch((problem) => {
    const told = document.getElementById("answer");
    if (told) told.textContent = `${problem.message} Without sound do not open the bag.`;
  });
globalThis.cutting = cut;
