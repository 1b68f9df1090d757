// The bench and the wet page: buttons that become events, numbers that count, cues that are heard, all live.

import { clock, device, evening, flush, isReached, listen, moment, now, page, random, send, setClock, studio, unsent } from "./studio.js";
import { Live, awake, loadPrompts, sayNow, setTones, settle, wake } from "./sound.js";
import { hush, speak, speaks, voice } from "./voice.js";
import { isSwitch } from "./switch.js";

const sounds = JSON.parse(document.getElementById("sounds").textContent);
const live = new Live({ moment });
const part = document.getElementById("part");
const say = (name, text) => { for (const place of document.querySelectorAll(`[data-say="${name}"]`)) place.textContent = text; };
setTones(sounds.tones);

// ---- the part that changes

let known = null;
let asked = 0;
let shown = null;
// What is being entered stays, and so does the place of the keyboard.
const entered = (entry) => (entry.type === "checkbox" ? `${entry.dataset.field} ${entry.value}` : entry.id);
function swap(html) {
  shown = html;
  const focus = document.activeElement?.id;
  const before = new Map([...part.querySelectorAll("input:not([type=hidden]), select")].map((entry) => [entered(entry), entry]));
  part.innerHTML = html;
  for (const entry of part.querySelectorAll("input:not([type=hidden]), select")) {
    const old = before.get(entered(entry));
    if (!old) continue;
    if (entry.type === "checkbox") entry.checked ||= old.checked;
    else if (entry.tagName !== "SELECT" || [...entry.options].some((option) => option.value === old.value)) entry.value = old.value;
  }
  if (focus) document.getElementById(focus)?.focus();
}
async function refresh() {
  const mine = (asked += 1);
  const [state, html] = await Promise.all([
    evening(), fetch(part.dataset.part, { cache: "no-store" }).then((answer) => (answer.ok ? answer.text() : answer.status)),
  ]).catch(() => [null, null]);
  if (!state || mine !== asked) return;
  // the evening was closed, here or elsewhere: the bench says what comes next
  if (html === 404) { location.href = "/evening"; return; }
  if (typeof html !== "string" || !state.loads) return;
  known = state;
  if (!unsent() && state.number >= latest.number) latest.key = state.last;
  if (html !== shown) swap(html);
  count();
  if (speaks()) live.plan(state.cues);
}
// What is drawn follows a step that ended; what is heard was planned before, and is left alone.
async function redraw() {
  const mine = asked;
  const html = await fetch(part.dataset.part, { cache: "no-store" }).then((answer) => (answer.ok ? answer.text() : null)).catch(() => null);
  if (html && mine === asked && html !== shown) { swap(html); count(); }
}
studio.addEventListener("change", refresh);
function answer(words, refused = false) {
  say("answer", words);
  for (const place of document.querySelectorAll("[data-say=answer]")) place.classList.toggle("refused", refused);
}
studio.addEventListener("written", (event) => { answer(event.detail.said || "Noted."); refresh(); });
studio.addEventListener("refused", (event) => { answer(event.detail.detail, true); refresh(); });
for (const name of ["reached", "unreached", "written", "refused"]) studio.addEventListener(name, connection);
function connection() {
  const kept = unsent();
  say("connection", isReached() ? (kept ? `Sending ${kept}.` : "") : `The studio does not answer. The plan goes on here; ${kept ? `${kept} steps are kept and will be sent.` : "what you do is kept and will be sent."}`);
}

// ---- events

// What "undo" means is what was done last here, even if the page has not been told of it yet.
const STAYS = new Set(["moved", "undone", "closed"]);
const latest = { key: null, number: 0, refused: false };
const taken = new Set();
// Another page of this browser may have had something unsent when this one was told of the last step.
const toTakeBack = () => latest.key ?? (unsent() || taken.has(known?.last) ? null : known?.last);
studio.addEventListener("written", (event) => { latest.number = Math.max(latest.number, event.detail.number); });
// What was refused was not done: an undo pressed for it must not take back the step before, which may be the pour.
studio.addEventListener("refused", (event) => {
  if (event.detail.entry.kind === "undone") return;
  latest.refused = true;
  if (latest.key === event.detail.entry.key) latest.key = known?.last ?? null;
});

function bodyOf(form) {
  const body = JSON.parse(form.dataset.body ?? "{}");
  for (const input of form.querySelectorAll("[data-field]")) {
    if (input.type === "checkbox") { if (input.checked) (body[input.dataset.field] ??= []).push(input.value); continue; }
    if (input.value === "") continue;
    body[input.dataset.field] = input.dataset.number === undefined ? input.value : Number(input.value.replace(",", "."));
  }
  return body;
}
// What is to be entered first, if nothing is; "" if there is something to send.
function lacking(form) {
  const entries = [...form.querySelectorAll("[data-field]")];
  if (!entries.length || entries.some((input) => (input.type === "checkbox" ? input.checked : input.value.trim()))) return "";
  if (entries[0].type === "checkbox") return "Nothing is ticked yet: tick what you have seen to.";
  return `“${entries[0].labels?.[0]?.textContent.trim() || entries[0].ariaLabel}” is empty: nothing was noted.`;
}
// A wet glove bounces, a foot switch chatters: the same press again within a moment is not a second pour.
const BOUNCE = 700;   // [ms]
const pressed = new Map();
document.addEventListener("submit", (event) => {
  const form = event.target.closest("form[data-event]");
  if (!form) return;
  event.preventDefault();
  const lacks = lacking(form);
  if (lacks) { answer(lacks, true); return; }
  const kind = form.dataset.event;
  const same = `${kind} ${JSON.stringify(bodyOf(form))}`, last = pressed.get(same) ?? -BOUNCE;
  pressed.set(same, performance.now());
  if (kind !== "undone" && performance.now() - last < BOUNCE) return;
  if (kind === "undone" && latest.refused) {
    latest.refused = false;
    answer("The last step was refused, so nothing came of it. Press again to take back the one before it.", true);
    return;
  }
  latest.refused = false;
  const body = kind === "undone" ? { key: toTakeBack() } : bodyOf(form);
  if (kind === "undone" && !body.key) { answer("There is nothing to take back, or it is being taken back.", true); return; }
  const key = random();
  if (kind === "undone") taken.add(body.key);
  latest.key = kind === "undone" ? null : STAYS.has(kind) ? latest.key : key;
  send(kind, body, { key, timed: kind !== "run_begun" });
  // a name that was sent is not offered again
  for (const input of form.querySelectorAll("input[list]")) input.value = "";
  connection();
  if (form.dataset.then) studio.addEventListener("written", () => { location.href = form.dataset.then; }, { once: true });
});
document.addEventListener("click", (event) => {
  const step = event.target.closest("[data-step]");
  if (!step) return;
  const input = document.getElementById(step.dataset.for);
  const stepped = (Number(input.value.replace(",", ".")) + Number(step.dataset.step)).toFixed(1);
  input.value = input.value.includes(",") ? stepped.replace(".", ",") : stepped;
});
// A foot switch is a keyboard: on the wet page any of its usual keys presses the large target.
if (document.body.classList.contains("wet-page") || part.dataset.wet !== undefined) {
  const main = () => document.querySelector("[data-main] button");
  // What was tapped keeps the keyboard, and the switch's next press would tap it again: an undo would undo the pour.
  document.addEventListener("click", (event) => {
    if (event.detail > 0 && event.target.closest("#part button")) main()?.focus({ preventScroll: true });
  });
  document.addEventListener("keydown", (event) => {
    if (event.repeat || !isSwitch(event.code) || event.target.closest("input, select, textarea")) return;
    const presses = ["Space", "Enter", "NumpadEnter"].includes(event.code);
    if (presses && event.target.closest("button, a, summary")) return;   // by itself
    if (main()) { event.preventDefault(); main().click(); }
  });
}

// ---- numbers that count

const whole = (seconds) => (seconds >= 100 ? `${Math.floor(seconds / 60)}:${String(Math.floor(seconds % 60)).padStart(2, "0")}` : `${Math.ceil(seconds)}`);
function count() {
  if (!known || clock.offset === null) return;
  const at = now();
  for (const load of known.loads) {
    const name = load.load.name;
    const places = document.querySelectorAll(`[data-load="${CSS.escape(name)}"]`);
    if (!places.length || !load.moments.length) continue;
    let left = null, words = "finished";
    if (load.held_since !== null) { left = at - load.held_since; words = `${load.moments[load.step].kind}, held`; }
    else if (at < load.moments[0].begin) { left = load.moments[0].begin - at; words = `first pour: ${load.moments[0].kind}`; }
    else {
      const moment = load.moments.find((one) => at < one.end);
      if (moment) { left = moment.end - at; words = at >= moment.drain ? `${moment.kind}: drain` : moment.kind; }
    }
    // the sentence at the head of the page and the line follow when a step ends
    if (load.said !== undefined && load.said !== words) redraw();
    load.said = words;
    for (const place of places) {
      const number = place.querySelector("[data-left]"), text = place.querySelector("[data-doing]");
      if (number) number.textContent = left === null ? "" : whole(Math.max(0, left));
      if (text) text.textContent = words;
    }
    const finishes = load.moments.at(-1).end;
    if (!load.finished && load.held_since === null && at > finishes + 0.2 * clock.pace && !load.asked) { load.asked = true; refresh(); }
  }
}
setInterval(count, 200);

// ---- the voice

voice.addEventListener("mine", () => { live.begin(); say("voice", "This page speaks."); });
voice.addEventListener("other", (event) => { live.silence(); say("voice", event.detail.why); });
voice.addEventListener("missed", (event) => {
  const lines = event.detail.map((cue) => `${new Date(cue.at * 1000).toLocaleTimeString()}: ${{ begin: "pour", out: "drain", end: "end" }[cue.tone]}`);
  say("missed", `Nobody could say: ${lines.join("; ")}.`);
  if (awake()) sayNow(["missed"]);
});
async function speakHere(wanted) {
  await wake();
  await settle();
  await loadPrompts(sounds.prompts);
  live.plan(known?.cues ?? []);
  await speak({ asked: wanted });
  keepAwake();
}
document.querySelector("[data-speak]")?.addEventListener("click", () => {
  if (speaks()) { hush(); live.silence(); say("voice", "This page is silent."); }
  else speakHere(true);
});
// Without being asked, once a press has allowed sound: takes the voice only if nobody has it.
document.addEventListener("pointerdown", () => { if (!speaks()) speakHere(false); }, { once: true });
document.addEventListener("keydown", () => { if (!speaks()) speakHere(false); }, { once: true });

// ---- the screen stays on while drums are under way, where the browser can

let lock = null;
async function keepAwake() {
  if (!("wakeLock" in navigator)) { say("missing", missing()); return; }
  try { lock = await navigator.wakeLock.request("screen"); lock.addEventListener("release", () => { lock = null; }); } catch { /* not visible */ }
}
document.addEventListener("visibilitychange", () => { if (!document.hidden && !lock && speaks()) keepAwake(); });
function missing() {
  if (isSecureContext) return "wakeLock" in navigator ? "" : "This browser cannot keep the screen on: set it so in the system.";
  return "Over plain HTTP the browser cannot keep the screen on. For a telephone, serve with an own certificate: printlore certificate, then printlore serve with it.";
}
say("missing", missing());

// Paper out and rehearsal leave the voice to their own page.
await setClock().catch(() => {});
listen();
flush();
await refresh();
export { device, live, now, page, refresh, speakHere };
