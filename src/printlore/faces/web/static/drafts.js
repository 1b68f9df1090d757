// What is typed survives a reload: each form with data-draft keeps its entries on this device until the studio has them.
const PREFIX = "printlore-draft:";

// Only what a hand changed is kept: what the page itself filled in, such as advised dials, is the page's to say anew.
function entries(form) {
  const kept = {};
  for (const part of form.elements) {
    if (!part.name || part.type === "file" || part.type === "hidden" || part.type === "submit") continue;
    if (part.type === "radio") { if (part.checked && !part.defaultChecked) kept[part.name] = part.value; }
    else if (part.type === "checkbox") { if (part.checked !== part.defaultChecked) kept[part.name] = part.checked; }
    else if (part.value !== filledIn(part)) kept[part.name] = part.value;
  }
  return kept;
}

function filledIn(part) {
  if (part.tagName !== "SELECT") return part.defaultValue;
  return ([...part.options].find((option) => option.defaultSelected) ?? part.options[0])?.value;
}

function restore(form, kept) {
  for (const part of form.elements) {
    if (!(part.name in kept) || part.type === "file" || part.type === "hidden") continue;
    const value = kept[part.name];
    if (part.type === "radio") { if (part.value !== value) continue; part.checked = true; }
    else if (part.type === "checkbox") part.checked = value;
    // a choice that is no longer there is not made for anybody
    else if (part.tagName === "SELECT" && ![...part.options].some((option) => option.value === value)) continue;
    else part.value = value;
    open(part);
  }
  form.dispatchEvent(new CustomEvent("draft:restored", { bubbles: true }));
}

// What will be sent is to be seen: a fold over it opens.
function open(part) {
  for (let fold = part.closest("details"); fold; fold = fold.parentElement.closest("details")) fold.open = true;
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

// What was wrong is said at its entry, is brought into view, and the entry is marked; the next try clears it.
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
  const empty = [...problem.querySelectorAll("[data-entry]")];
  for (const word of empty) {
    const part = form?.elements.namedItem(word.dataset.entry);
    const label = part?.labels?.[0] ?? part?.[0]?.closest("fieldset")?.querySelector("legend");
    if (label) word.textContent = `“${label.firstChild.textContent.trim()}”`;
    part?.setAttribute?.("aria-invalid", "true");
  }
  const part = form && !empty.length && entryOf(form, problem.textContent);
  if (part) {
    part.setAttribute("aria-invalid", "true");
    open(part);
    (part.closest(".row") ?? part.closest(".field") ?? part).before(problem);
  }
  problem.scrollIntoView({ block: part ? "center" : "nearest" });
});

// The entry that a message is about: the only one that holds what it quotes, else the only one whose label it begins with.
function entryOf(form, message) {
  const typed = [...form.elements].filter((part) => part.matches("input:not([type]), input[type=text], textarea"));
  const only = (found) => (found.length === 1 ? found[0] : null);
  const quoted = [...message.matchAll(/"([^"]+)"/g)].map((match) => match[1]);
  const holding = only(typed.filter((part) => part.value.split("\n").some((line) => quoted.includes(line.trim()))));
  if (holding) return holding;
  const subject = message.trim().replace(/^.*?[.]\s+/s, "").split(/:| is | are | has | needs | cannot /)[0].toLowerCase();
  return only(typed.filter((part) => {
    const label = part.labels?.[0]?.firstChild.textContent.trim().toLowerCase();
    return label && ` ${subject} `.includes(` ${label} `);
  }));
}

// A lost connection is said in words, and what was typed stays.
document.addEventListener("htmx:error", (event) => {
  const slot = event.target.closest?.("form")?.querySelector(".slot");
  if (!slot) return;
  const problem = document.createElement("p");
  problem.className = "problem";
  problem.textContent = "The studio does not answer. What you typed is kept here; try again when it is back.";
  slot.replaceChildren(problem);
  problem.scrollIntoView({ block: "nearest" });
});
