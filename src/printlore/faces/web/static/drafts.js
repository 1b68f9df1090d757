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

// A lost connection is said in words, and what was typed stays.
document.addEventListener("htmx:error", (event) => {
  const slot = event.target.closest?.("form")?.querySelector(".slot");
  if (slot) slot.textContent = "The studio does not answer. What you typed is kept here; try again when it is back.";
});
