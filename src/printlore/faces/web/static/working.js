// The page is being worked out (status 202). Ask again until it is there, then load it; nothing is entered here that could be lost.
const said = document.querySelector("[data-working]");
const words = said?.textContent;

// Whoever has gone on to another page is let go: to load this one now would cut that off.
const GOING = 15000;   // [ms] after which nobody went
let gone = -Infinity;
addEventListener("beforeunload", () => { gone = performance.now(); });

async function ask() {
  try {
    const answer = await fetch(location.href, { headers: { "X-Still-Working": "1" } });
    // an undo that was pressed meanwhile is on its way: to load the page now would cut it off
    if (document.querySelector("form[data-gone]") || performance.now() - gone < GOING) { setTimeout(ask, 1000); return; }
    if (answer.status !== 202) { location.reload(); return; }
    if (said && said.textContent !== words) said.textContent = words;
  } catch {
    if (said) said.textContent = "The studio does not answer. This page goes on asking; what was logged is kept.";
    await new Promise((resolve) => setTimeout(resolve, 2000));
  }
  setTimeout(ask, 200);
}

ask();
