// Tap a patch on a scan: a magnifier follows the pointer, a cross marks the place, the server reads it.
const MAGNIFIED = 4;

for (const picture of document.querySelectorAll("[data-pick]")) {
  const image = picture.querySelector("img");
  const cross = picture.querySelector("[data-cross]");
  const magnifier = picture.querySelector("[data-magnifier]");
  const form = document.querySelector("form[data-draft]");
  const columns = Number(picture.dataset.columns), rows = Number(picture.dataset.rows);
  let at = null;

  const share = (event) => {
    const box = image.getBoundingClientRect();
    return [Math.min(Math.max((event.clientX - box.left) / box.width, 0), 0.9999),
            Math.min(Math.max((event.clientY - box.top) / box.height, 0), 0.9999)];
  };
  const look = ([x, y]) => {
    const box = image.getBoundingClientRect();
    const side = magnifier.offsetWidth || 160;
    magnifier.hidden = false;
    magnifier.style.backgroundImage = `url("${image.currentSrc}")`;
    magnifier.style.backgroundSize = `${box.width * MAGNIFIED}px ${box.height * MAGNIFIED}px`;
    magnifier.style.backgroundPosition = `${side / 2 - x * box.width * MAGNIFIED}px ${side / 2 - y * box.height * MAGNIFIED}px`;
    // Beside the finger, never under it.
    magnifier.style.left = `${x * box.width + (x > 0.5 ? -side - 24 : 24)}px`;
    magnifier.style.top = `${Math.max(0, Math.min(y * box.height - side / 2, box.height - side))}px`;
  };
  const mark = ([x, y]) => {
    at = [x, y];
    cross.hidden = false;
    cross.style.left = `${x * 100}%`;
    cross.style.top = `${y * 100}%`;
    form.elements.x.value = String(Math.round(x * columns));
    form.elements.y.value = String(Math.round(y * rows));
  };
  const read = () => {
    const chosen = form.querySelector("[name=what][value=patch]");
    if (!chosen.checked) { chosen.checked = true; chosen.dispatchEvent(new Event("input", { bubbles: true })); }
    form.querySelector("[data-read]").click();
  };

  picture.addEventListener("pointermove", (event) => look(share(event)));
  picture.addEventListener("pointerleave", () => { magnifier.hidden = true; });
  picture.addEventListener("click", (event) => { mark(share(event)); read(); });
  picture.addEventListener("keydown", (event) => {
    const step = (event.shiftKey ? 20 : 2) / image.getBoundingClientRect().width;
    const moves = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] };
    const move = moves[event.key];
    if (move) {
      event.preventDefault();
      const [x, y] = at ?? [0.5, 0.5];
      const next = [Math.min(Math.max(x + move[0], 0), 0.9999), Math.min(Math.max(y + move[1], 0), 0.9999)];
      mark(next); look(next);
    } else if (event.key === "Enter" && at) { event.preventDefault(); read(); }
  });
}
