// One page speaks. The studio keeps who; pages of one browser also hear each other, so it holds when the studio is away.

import { now, page, studio } from "./studio.js";

const RENEW = 3000;
const HEARD = "printlore-heard";

export const voice = new EventTarget();    // "mine", "other", "missed"
const state = { mine: false, turn: 0, timer: null };
export const speaks = () => state.mine;

const channel = "BroadcastChannel" in globalThis ? new BroadcastChannel("printlore-voice") : null;
channel?.addEventListener("message", (event) => {
  if (event.data.page !== page && event.data.speaks && state.mine && event.data.turn >= state.turn) lose("Another page of this browser speaks.");
});

function gain(turn) {
  state.turn = turn;
  channel?.postMessage({ page, speaks: true, turn });
  if (state.mine) return;
  state.mine = true;
  voice.dispatchEvent(new CustomEvent("mine"));
}
function lose(why) {
  const had = state.mine;
  state.mine = false;
  voice.dispatchEvent(new CustomEvent("other", { detail: { why, had } }));
}

async function ask(asked) {
  let answer;
  const heard = state.mine ? now() : Number(localStorage.getItem(HEARD) || 0) || null;
  try {
    answer = await fetch("/api/evening/voice", {
      method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify({ page, asked, heard }),
    });
  } catch { return; }                        // the studio is away: who spoke goes on speaking
  if (answer.status >= 500) return;
  const plain = await answer.json();
  if (answer.ok) {
    gain(plain.turn);
    if (plain.missed.length) voice.dispatchEvent(new CustomEvent("missed", { detail: plain.missed }));
  } else lose(plain.detail);
}

export async function speak({ asked = false } = {}) {
  await ask(asked);
  state.timer ??= setInterval(() => {
    if (state.mine) { try { localStorage.setItem(HEARD, String(now())); } catch { /* private window */ } }
    ask(false);
  }, RENEW);
}
export function hush() { clearInterval(state.timer); state.timer = null; release(); }
function release() {
  if (!state.mine) return;
  state.mine = false;
  navigator.sendBeacon("/api/evening/voice/release", new Blob([JSON.stringify({ page })], { type: "application/json" }));
}
addEventListener("pagehide", release);
studio.addEventListener("change", (event) => {
  if (state.mine && event.detail.page && event.detail.page !== page) lose("The voice was moved to another page.");
});
