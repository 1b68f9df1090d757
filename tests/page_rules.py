"""What every page is held to in a browser: the rules of axe-core, and targets large enough to touch."""

from pathlib import Path

AXE = (Path(__file__).parent / "browser" / "axe.min.js").read_text(encoding="utf-8")
"""axe-core 4.14.1, Mozilla Public License 2.0 (axe.LICENSE.txt): rules of WCAG 2.2 A and AA."""

SMALL = """() => [...document.querySelectorAll('a[href], button, input, select, textarea, summary')]
  .filter((part) => part.checkVisibility({ visibilityProperty: true }) && !part.closest('p, td, th, .skip, .foot'))
  .map((part) => [part, part.getBoundingClientRect()])
  .filter(([, box]) => box.width > 0 && box.left > -100 && (box.height < 43.5 || box.width < 40))
  .map(([part, box]) => `${part.outerHTML.slice(0, 90)}: ${Math.round(box.width)} x ${Math.round(box.height)}`)"""
