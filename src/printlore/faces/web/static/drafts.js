// What is typed survives a reload: each form with data-draft keeps its entries on this device until the studio has them.
const PREFIX = "printlore-draft:";

function entries(form) {
  const kept = {};
  for (const part of form.elements) {
    if (!part.name || part.type === "file" || part.type === "hidden" || part.type === "submit") continue;
    if (part.type === "radio") { if (part.checked) kept[part.name] = part.value; }
    else if (part.type === "checkbox") kept[part.name] = part.checked;
    else kept[part.name] = part.value;
  }
  return kept;
}

function restore(form, kept) {
  for (const part of form.elements) {
    if (!(part.name in kept)) continue;
    if (part.type === "radio") part.checked = part.value === kept[part.name];
    else if (part.type === "checkbox") part.checked = kept[part.name];
    else if (part.type !== "file" && part.type !== "hidden") part.value = kept[part.name];
  }
  form.dispatchEvent(new CustomEvent("draft:restored", { bubbles: true }));
}

const done = document.body.dataset.done;
if (done) localStorage.removeItem(PREFIX + done);

for (const form of document.querySelectorAll("form[data-draft]")) {
  const key = PREFIX + form.dataset.draft;
  try {
    const kept = JSON.parse(localStorage.getItem(key) ?? "null");
    if (kept) restore(form, kept);
  } catch { localStorage.removeItem(key); }
  form.addEventListener("input", () => localStorage.setItem(key, JSON.stringify(entries(form))));
  form.addEventListener("reset", () => localStorage.removeItem(key));
}

// A form goes once: a second press before the answer (wet gloves, a bouncing finger) would book the load or the sheet twice.
// Free again when the answer stays on this page; an answer that leads on keeps it shut until the next page is there.
const SHUT = 10000;   // [ms] after that something was lost on the way, and the printer may press again
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.method !== "post" || form.dataset.event) return;
  if (Date.now() - Number(form.dataset.gone ?? -SHUT) < SHUT) { event.preventDefault(); event.stopImmediatePropagation(); return; }
  form.dataset.gone = Date.now();
}, true);
addEventListener("pageshow", () => { for (const form of document.querySelectorAll("form[data-gone]")) delete form.dataset.gone; });
document.addEventListener("htmx:finally:request", (event) => {
  const form = event.target.closest?.("form");
  if (form && !event.detail?.ctx?.response?.headers?.get?.("HX-Redirect")) delete form.dataset.gone;
});

// What was wrong is said by the label of its entry, is brought into view, and the entry is marked; the next try clears it.
document.addEventListener("htmx:before:request", (event) => {
  const form = event.target.closest?.("form");
  if (!form) return;
  for (const problem of form.querySelectorAll(".problem")) problem.remove();
  for (const part of form.querySelectorAll("[aria-invalid]")) part.removeAttribute("aria-invalid");
});
document.addEventListener("htmx:after:swap", (event) => {
  const problem = [...document.querySelectorAll(".problem[role=alert]")].find((one) => !one.dataset.seen);
  if (!problem) return;
  problem.dataset.seen = "yes";
  const form = problem.closest("form");
  for (const word of problem.querySelectorAll("[data-entry]")) {
    const part = form?.elements.namedItem(word.dataset.entry);
    const label = part?.labels?.[0] ?? part?.[0]?.closest("fieldset")?.querySelector("legend");
    if (label) word.textContent = `“${label.firstChild.textContent.trim()}”`;
    part?.setAttribute?.("aria-invalid", "true");
  }
  problem.scrollIntoView({ block: "nearest" });
});

// A lost connection is said in words, and what was typed stays.
document.addEventListener("htmx:error", (event) => {
  const slot = event.target.closest?.("form")?.querySelector(".slot");
  if (slot) slot.textContent = "The studio does not answer. What you typed is kept here; try again when it is back.";
});
