// While the room is dark no page shines: one that was open before follows within a moment, and is as it was when there is light again.
const EVERY = 2000;   // [ms]
const words = document.querySelector("[data-dark-words]");
let asking = null;

async function look() {
  clearTimeout(asking);
  if (document.hidden) return;
  try {
    const { light } = await (await fetch("/api/evening/light", { cache: "no-store", signal: AbortSignal.timeout(10 * EVERY) })).json();
    if (typeof light === "string" && document.body.dataset.light !== light) {
      document.body.dataset.light = light;
      if (words) words.hidden = !light;
    }
  } catch { /* nobody answers: it stays as it is */ }
  clearTimeout(asking);
  asking = setTimeout(look, EVERY);
}

// the evening's own pages follow by themselves
if (document.body.dataset.light !== undefined) {
  document.addEventListener("visibilitychange", look);
  addEventListener("pageshow", look);
  look();
}
