"""A cut plan drawn to scale, as SVG without colour: solid is sheet, dotted is strip, hatched is waste."""

from collections.abc import Iterable
from dataclasses import dataclass
from html import escape

from printlore.core.cutting.plan import Plan, Sitting
from printlore.core.cutting.sections import Kind, Part, Section
from printlore.core.figure import Figure

_WIDTH = 720.0
"""Of the drawing in pixels."""
_MARGIN = 14.0
_LETTER = 11.0
_SCALE = "100 mm, along the roll"
_LEAST_ROOM = 900.0
"""[mm] The drawing is at least so wide, so that a small section is not drawn large."""
_FILL = {Kind.SHEET: "none", Kind.STRIP: "url(#strip)", Kind.WASTE: "url(#waste)"}


@dataclass(frozen=True, slots=True)
class _Panel:
    title: str
    along: float
    across: float
    parts: tuple[tuple[Part, str], ...]


def size_words(along: float, across: float) -> str:
    """A size [mm] as one writes it, the side along the roll last."""
    return f"{Figure(across):.4g} × {Figure(along):.4g}"


def plan_svg(plan: Plan, *, close: bool = False) -> str:
    """Every kind of section of a plan, one below the other, all to one scale.

    Parameters
    ----------
    close : bool
        No wider than what is drawn: on a telephone it then fills the screen.
    """
    panels = [panel for number, sitting in enumerate(plan.sittings, 1) for panel in _panels(number, sitting)]
    largest = max((max(panel.along, panel.across) for panel in panels), default=0.0)
    scale = (_WIDTH - 2 * _MARGIN) / max(largest * 1.2, _LEAST_ROOM)
    width = _WIDTH
    if close:
        # lettering half as large again has room
        wide = [max(panel.along * scale, 0.85 * _LETTER * len(panel.title)) for panel in panels]
        width = min(width, max(*wide, 100 * scale + 6 + 0.85 * _LETTER * len(_SCALE), 0.0) + 2 * _MARGIN)
    y = _MARGIN
    lines: list[str] = []
    for panel in panels:
        lines.append(_text(_MARGIN, y + _LETTER, panel.title))
        y += _LETTER * 1.8
        lines.append(_box(_MARGIN, y, panel.along * scale, panel.across * scale, "none", 1.6))
        for part, label in panel.parts:
            x, top = _MARGIN + part.at_along * scale, y + part.at_across * scale
            lines.append(_box(x, top, part.along * scale, part.across * scale, _FILL[part.kind], 0.8))
            room = part.along * scale, part.across * scale
            if label and room[0] > len(label) * _LETTER * 0.6 and room[1] > _LETTER * 1.3:
                lines.append(_text(x + room[0] / 2, top + room[1] / 2 + _LETTER / 3, label, middle=True))
        y += panel.across * scale + _LETTER * 1.4
    lines.append(f'<path d="M{_MARGIN} {y:.1f}h{100 * scale:.1f}" stroke="currentColor" stroke-width="2"/>')
    lines.append(_text(_MARGIN + 100 * scale + 6, y + 4, _SCALE))
    y += _LETTER * 1.6
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {y:.0f}" width="{width:.0f}" '
        f'height="{y:.0f}" role="img" font-family="sans-serif" font-size="{_LETTER:g}" fill="currentColor">'
        "<title>Cut plan to scale</title><defs>"
        '<pattern id="waste" width="6" height="6" patternUnits="userSpaceOnUse">'
        '<path d="M0 6 6 0" stroke="currentColor" stroke-width="0.7"/></pattern>'
        '<pattern id="strip" width="6" height="6" patternUnits="userSpaceOnUse">'
        '<circle cx="3" cy="3" r="0.8"/></pattern></defs>'
    )
    return head + "".join(lines) + "</svg>"


def _panels(number: int, sitting: Sitting) -> Iterable[_Panel]:
    for section, count in sitting.sections:
        title = f"Sitting {number}, {sitting.source}: {count} × {size_words(section.length, section.width)} mm"
        labelled = tuple((part, _label(part)) for part in section.parts)
        yield _Panel(title, _extent(section), section.width, labelled)


def _extent(section: Section) -> float:
    return max(section.length, *(part.at_along + part.along for part in section.parts))


def _label(part: Part) -> str:
    return size_words(part.along, part.across) if part.kind is not Kind.WASTE else ""


def _box(x: float, y: float, width: float, height: float, fill: str, stroke: float) -> str:
    return (
        f'<rect x="{x:.2f}" y="{y:.2f}" width="{width:.2f}" height="{height:.2f}" fill="{fill}" '
        f'stroke="currentColor" stroke-width="{stroke:g}"/>'
    )


def _text(x: float, y: float, words: str, *, middle: bool = False) -> str:
    anchor = ' text-anchor="middle"' if middle else ""
    return f'<text x="{x:.2f}" y="{y:.2f}"{anchor}>{escape(words)}</text>'
