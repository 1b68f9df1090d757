// A table wider than the window can be scrolled by keyboard too: it becomes a stop on the way, with a name.
function name(part) {
  const said = part.querySelector("caption")?.textContent ?? part.previousElementSibling?.textContent ?? "Table";
  return said.trim().slice(0, 80) || "Table";
}

function look() {
  for (const part of document.querySelectorAll(".scroll")) {
    if (part.scrollWidth > part.clientWidth) {
      part.tabIndex = 0;
      part.setAttribute("role", "region");
      part.setAttribute("aria-label", name(part));
    } else {
      for (const given of ["tabindex", "role", "aria-label"]) part.removeAttribute(given);
    }
  }
}

look();
addEventListener("resize", look);
document.addEventListener("toggle", look, true);
document.addEventListener("htmx:after:swap", look);
