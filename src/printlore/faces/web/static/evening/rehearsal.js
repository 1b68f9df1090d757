// The dark rehearsal: ten minutes without paper on this machine, with a switch pressed and an event pushed.

import { clock, device, listen, now, send, setClock, studio } from "./studio.js";
import { LEARNED } from "./switch.js";
import { awake, beep, loadPrompts, sayNow, setTones, wake } from "./sound.js";

const root = document.getElementById("rehearsal");
const sounds = JSON.parse(document.getElementById("sounds").textContent);
const WAIT = Number(root.dataset.wait);
const HOLD = 3000;
setTones(sounds.tones);
export const rehearsal = { begun: null, seconds: 0, pushed: 0, pressed: 0, over: false };
const say = (text) => { document.getElementById("answer").textContent = text; };

// Which key is the switch: whatever is pressed in the box.
const learn = document.getElementById("switch-key");
const shown = () => { document.getElementById("switch-now").textContent = localStorage.getItem(LEARNED) ?? "space, enter or page down"; };
shown();
learn.addEventListener("keydown", (event) => {
  if (["Tab", "Escape", "ShiftLeft", "ShiftRight"].includes(event.code)) return;
  event.preventDefault();
  localStorage.setItem(LEARNED, event.code);
  shown();
});

let timer = null, minutes = 0, light = null;
document.getElementById("begin").addEventListener("click", async () => {
  await wake();
  await setClock();
  await loadPrompts(sounds.prompts);
  rehearsal.begun = now();
  light = document.createElement("div");
  light.className = "dark-cover";
  light.tabIndex = -1;
  document.documentElement.classList.add("black");
  document.body.append(light);
  light.focus();
  await document.documentElement.requestFullscreen?.({ navigationUI: "hide" }).catch(() => {});
  sayNow(["rehearsal_begins"]);
  timer = setInterval(tick, 250);
});

function tick() {
  rehearsal.seconds = now() - rehearsal.begun;
  if (rehearsal.seconds > WAIT / 2 && rehearsal.pushed === 0) {
    rehearsal.pushed = 1;
    fetch("/api/evening/push", { method: "POST" }).catch(() => {});
  }
  const passed = Math.floor(rehearsal.seconds / 60);
  const to_go = Math.round(WAIT / 60) - passed;
  if (passed > minutes && to_go > 0) { minutes = passed; if (clock.pace === 1) sayNow([`number_${to_go}`, "rehearsal_minute"]); }
  if (rehearsal.seconds >= WAIT) end();
}
studio.addEventListener("push", () => { if (rehearsal.begun !== null && !rehearsal.over && awake()) sayNow(["rehearsal_event"]); });

function end() {
  if (rehearsal.over) return;
  rehearsal.over = true;
  clearInterval(timer);
  const { ends } = sayNow(["rehearsal_ends"]);
  void ends;
  document.exitFullscreen?.().catch(() => {});
  document.documentElement.classList.remove("black");
  light.remove();
  document.getElementById("waited").textContent = `${Math.floor(rehearsal.seconds / 60)} min ${Math.round(rehearsal.seconds % 60)} s`;
  document.getElementById("questions").hidden = false;
  document.getElementById("intro").hidden = true;
  document.getElementById("questions").scrollIntoView();
}

let held = null;
addEventListener("keydown", (event) => {
  if (rehearsal.begun === null || rehearsal.over) return;
  event.preventDefault();
  if (event.repeat) return;
  rehearsal.pressed += 1;
  beep("ready");
  if (event.code === "KeyL") held = setTimeout(() => { rehearsal.seconds = now() - rehearsal.begun; end(); }, HOLD);
}, { capture: true });
addEventListener("keyup", () => { clearTimeout(held); });

document.getElementById("questions").addEventListener("submit", async (event) => {
  event.preventDefault();
  const form = event.target;
  const confirmed = [...form.querySelectorAll("input[type=checkbox]:checked")].map((box) => box.value);
  const body = { rehearsal: { device, seconds: rehearsal.seconds, confirmed, light_seen: form.light_seen.value } };
  const answer = await send("rehearsed", body);
  if (!answer.ok) { say(answer.detail); return; }
  location.href = "/evening";
});
listen();
setClock().catch(() => say("The studio does not answer."));
