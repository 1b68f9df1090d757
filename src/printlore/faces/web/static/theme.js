// Which desk, light or dark, before the first paint; the choice is kept on this device only.
(() => {
  const root = document.documentElement;
  const kept = (() => { try { return localStorage.getItem("printlore-desk"); } catch { return null; } })();
  if (kept === "light" || kept === "dark") root.dataset.desk = kept;
  const dark = () => (root.dataset.desk ?? (matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "light")) === "dark";
  addEventListener("DOMContentLoaded", () => {
    const button = document.querySelector("[data-theme-switch]");
    if (!button) return;
    const say = () => { button.textContent = dark() ? "Light desk" : "Dark desk"; };
    say();
    button.hidden = false;
    button.addEventListener("click", () => {
      root.dataset.desk = dark() ? "light" : "dark";
      try { localStorage.setItem("printlore-desk", root.dataset.desk); } catch { /* private window: for this page only */ }
      say();
    });
  });
})();
