// A page that turns black in the dark: nothing on it may shine, ask for light, or lead to a page that shines.

const DARK = "dark";

export function blacken() {
  document.documentElement.classList.add("black");
  document.body.replaceChildren();
  document.title = "";
  for (const name of ["contextmenu", "selectstart", "dragstart", "pointerdown", "mousedown", "touchstart", "mouseup", "auxclick", "wheel", "dblclick", "click"]) {
    addEventListener(name, (event) => event.preventDefault(), { passive: false, capture: true });
  }
  stay();
  addEventListener("popstate", stay);
}

// The browser's way back (a swipe, a button of the mouse): one entry more takes it, and this page stays.
function stay() { if (history.state !== DARK) history.pushState(DARK, ""); }

// Light again: the entry that was one more goes.
export function unblacken() {
  removeEventListener("popstate", stay);
  if (history.state === DARK) history.back();
}
