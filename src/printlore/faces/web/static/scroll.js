// On a telephone a table that is too wide, or squeezed to a word a line, turns into rows of labelled lines; its roles keep it a table
// for a reader. Any other that is wider than the window can be scrolled by keyboard too: it becomes a stop on the way, with a name.
const NARROW = matchMedia("(max-width: 40rem)");
const TALL = 130;   // [px] a row higher than this is squeezed

function stack(part) {
  const table = part.querySelector(":scope > table:not([role])");
  const heads = [...(table?.tHead?.rows[0]?.cells ?? [])];
  if (!heads.length || !part.clientWidth) return;
  const rows = [...table.tBodies].flatMap((body) => [...body.rows]);
  if (part.scrollWidth <= part.clientWidth && rows.every((row) => row.offsetHeight < TALL)) return;
  table.classList.add("labelled");
  table.setAttribute("role", "table");
  for (const group of [table.tHead, ...table.tBodies]) group.setAttribute("role", "rowgroup");
  for (const row of [table.tHead.rows[0], ...rows]) row.setAttribute("role", "row");
  for (const head of heads) head.setAttribute("role", "columnheader");
  for (const row of rows) for (const [place, cell] of [...row.cells].entries()) {
    cell.setAttribute("role", cell.tagName === "TH" ? "rowheader" : "cell");
    // a bare number is told what it counts: "step 3"
    if (cell.tagName === "TH" && !/^\d+$/.test(cell.textContent.trim())) continue;
    if (cell.colSpan > 1) continue;
    cell.dataset.label = heads[place]?.textContent.trim() ?? "";
    // what a cell holds stays together beside its label
    if (cell.tagName === "TD" && cell.childNodes.length > 1) { const held = document.createElement("div"); held.append(...cell.childNodes); cell.append(held); }
  }
}

function name(part) {
  const said = part.querySelector("caption")?.textContent ?? part.querySelector("svg")?.getAttribute("aria-label")?.split(".")[0] ?? part.previousElementSibling?.textContent ?? "Table";
  return said.trim().slice(0, 80) || "Table";
}

function look() {
  if (NARROW.matches) for (const part of document.querySelectorAll(".scroll")) stack(part);
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
