// The evening's clock, who this page is, and what was done here, kept until the studio has it.

const QUEUE = "printlore-evening-queue";
const RETRY = 1500;

export const random = () => Array.from(crypto.getRandomValues(new Uint8Array(9)), (n) => n.toString(36).padStart(2, "0")).join("");

function kept(store, name, make) {
  try {
    const found = store.getItem(name);
    if (found) return found;
    const made = make();
    store.setItem(name, made);
    return made;
  } catch { return make(); }
}

const small = () => matchMedia("(pointer: coarse)").matches && Math.min(screen.width, screen.height) < 800;
export const device = kept(localStorage, "printlore-device", () => `${small() ? "telephone" : "computer"} ${random().slice(0, 4)}`);
export const page = `${kept(sessionStorage, "printlore-page", random)}.${random().slice(0, 6)}`;

// ---- the studio's clock: of several questions the one answered soonest is the most exact (half its round trip)

export const clock = { offset: null, pace: 1, error: Infinity };

export async function setClock(questions = 6) {
  let best = null;
  for (let n = 0; n < questions; n += 1) {
    const asked = performance.now();
    const answer = await (await fetch("/api/evening/clock", { cache: "no-store" })).json();
    const heard = performance.now();
    const trip = heard - asked;
    if (!best || trip < best.trip) best = { trip, now: answer.now, pace: answer.pace, middle: (asked + heard) / 2 };
  }
  clock.pace = best.pace;
  clock.offset = best.now - (best.middle / 1000) * best.pace;
  clock.error = (best.trip / 2000) * best.pace;
}

export const now = () => clock.offset + (performance.now() / 1000) * clock.pace;
export const moment = (at) => (at - clock.offset) / clock.pace;   // seconds on performance.now()

// ---- events

const read = () => { try { return JSON.parse(localStorage.getItem(QUEUE) ?? "[]"); } catch { return []; } };
const write = (events) => { try { localStorage.setItem(QUEUE, JSON.stringify(events)); } catch { memory = events; } };
let memory = null;
const waiting = () => memory ?? read();

export const studio = new EventTarget();   // "change", "push", "refused", "reached", "unreached", "written"
const tell = (name, detail) => studio.dispatchEvent(new CustomEvent(name, { detail }));
let reached = true;
function reach(yes) {
  if (yes === reached) return;
  reached = yes;
  tell(yes ? "reached" : "unreached", {});
}
export const isReached = () => reached;
export const unsent = () => waiting().length;

export function send(kind, body = {}, { seen = null, key = random(), timed = true } = {}) {
  const entry = { kind, body, key, device, at: timed && clock.offset !== null ? now() : null, seen };
  write([...waiting(), entry]);
  const done = new Promise((resolve) => answers.set(key, resolve));
  flush();
  return done;
}
const answers = new Map();

let flushing = false;
export async function flush() {
  if (flushing) return;
  flushing = true;
  try {
    while (waiting().length) {
      const entry = waiting()[0];
      let answer;
      try {
        answer = await fetch("/api/evening/events", {
          method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(entry),
        });
      } catch { reach(false); setTimeout(flush, RETRY); return; }
      if (answer.status >= 500) { reach(false); setTimeout(flush, RETRY); return; }
      reach(true);
      const plain = await answer.json();
      write(waiting().filter((other) => other.key !== entry.key));
      const result = { ok: answer.ok, entry, ...plain };
      tell(answer.ok ? "written" : "refused", result);
      answers.get(entry.key)?.(result);
      answers.delete(entry.key);
    }
  } finally { flushing = false; }
}

// ---- what others do

let stream = null;
export function listen() {
  stream?.close();
  stream = new EventSource(`/api/evening/stream?device=${encodeURIComponent(device)}`);
  stream.addEventListener("open", () => { reach(true); flush(); });
  stream.addEventListener("error", () => reach(false));
  stream.addEventListener("change", (event) => { reach(true); tell("change", JSON.parse(event.data)); });
  stream.addEventListener("push", (event) => tell("push", JSON.parse(event.data)));
  stream.addEventListener("beat", (event) => {
    reach(true);
    if (clock.offset !== null && Math.abs(JSON.parse(event.data).now - now()) > 0.5 * clock.pace) setClock().catch(() => reach(false));
  });
}
setInterval(() => { if (stream && clock.offset !== null) setClock().catch(() => reach(false)); }, 60000);
addEventListener("pagehide", () => stream?.close());
addEventListener("pageshow", (event) => { if (event.persisted && stream) { listen(); setClock().catch(() => reach(false)); } });
document.addEventListener("visibilitychange", () => { if (!document.hidden && clock.offset !== null) setClock().catch(() => reach(false)); });

export const evening = async () => (await fetch("/api/evening", { cache: "no-store" })).json();
