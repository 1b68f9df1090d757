"""Our own drawings, as SVG made here: the cast map and the evening line.

Nothing here has a hue: position, shape and words carry the meaning.
"""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from markupsafe import Markup, escape

from printlore.core.advice.pictures import Line, Picture
from printlore.core.measure.characterise import ResidualReport
from printlore.faces import words
from printlore.faces.points import Forecast, PastPrint

_RANGES = (6, 10, 15, 20, 30, 40, 60, 80, 120, 160, 240, 400)
_SIDE = 480.0
_EDGE = 40.0
_WORDS_AT = 2
"""Newest prints that the cast map says the lightness of."""
_CLOUD = 72


def cast_map(
    *,
    past: Sequence[PastPrint] = (),
    forecast: Forecast | None = None,
    passes: Callable[[float, float], bool] | None = None,
    step_yellow: float = 1.0,
    step_magenta: float = 1.0,
) -> Markup:
    """How far the reference patch is from right, as the move that would bring it there.

    Parameters
    ----------
    past : sequence of PastPrint
    forecast : Forecast or None
        Drawn as a cloud of possible prints.
    passes : callable(yellow, magenta) -> bool
        Whether a print that far off [CC] would be within tolerance; asked for every dial setting near the middle.
    step_yellow, step_magenta : float
        One step of this head's own dials [CC of exposure]: the grid.
    """
    reach = _reach(past, forecast)
    scale = (_SIDE / 2 - _EDGE) / reach
    middle = _SIDE / 2

    def x(yellow: float) -> float:
        return middle + scale * yellow

    def y(magenta: float) -> float:
        return middle - scale * magenta

    parts = [_grid(reach, x, y, step_yellow, step_magenta)]
    if passes is not None:
        parts.append(_passing(passes, reach, x, y, max(step_yellow, reach / 60), max(step_magenta, reach / 60)))
    parts.append(
        f'<path class="ink" d="M{middle - 9:g} {middle:g}h18M{middle:g} {middle - 9:g}v18" stroke-width="1.5"/>'
    )
    if all(max(abs(x(print_.yellow) - middle), abs(y(print_.magenta) - middle)) > 45 for print_ in past):
        parts.append(lettering(middle + 7, middle + 17, "right", 13, css="halo"))
    parts.append(_casts(middle))
    if forecast is not None:
        parts.append(_cloud(forecast, x, y))
    parts.append(_past(past, x, y))
    return svg(_SIDE, _SIDE, cast_words(past, forecast), parts)


def residuals(report: ResidualReport) -> Markup:
    """How far each patch of a chart came out from its reference, with the mean, 19 of 20 and the worst marked."""
    off = sorted((value, name) for name, value in report.by_patch)
    most = max(off[-1][0], 1.0)
    left, width, floor, dot = 20.0, 620.0, 120.0, 7.0

    def x(value: float) -> float:
        return left + width * value / most

    heights: dict[int, int] = {}
    parts = [f'<path class="axis" d="M{left:g} {floor:g}H{left + width:g}"/>']
    for value, name in off:
        column = int((x(value) - left) / (dot + 1))
        heights[column] = heights.get(column, 0) + 1
        y = floor - min(heights[column] * (dot + 1), 110.0)
        place = left + (column + 0.5) * (dot + 1)
        title = f"{escape(name)}: {words.number(value, 2)}"
        parts.append(
            f'<circle class="fill" cx="{place:.1f}" cy="{y:.1f}" r="{dot / 2:g}"><title>{title}</title></circle>'
        )
    marks = ((report.held_out_mean, "mean"), (report.held_out_95, "19 of 20"), (off[-1][0], f"worst, {off[-1][1]}"))
    for row, (value, what) in enumerate(marks):
        end = value > 0.6 * most
        y = floor + 24 + 20 * row
        parts.append(f'<path class="ink" stroke-width="1.5" d="M{x(value):.1f} {floor:g}V{y - 4:g}"/>')
        at = x(value) - 6 if end else x(value) + 6
        parts.append(lettering(at, y, f"{what}: {words.number(value, 1)}", 15, anchor="end" if end else "start"))
    said = (
        f"Errors of {len(off)} patches: mean {words.number(report.held_out_mean, 1)}, 19 of 20 within "
        f"{words.number(report.held_out_95, 1)}, worst {words.number(off[-1][0], 1)} dE00."
    )
    return svg(660, 190, said, parts)


def cast_words(past: Sequence[PastPrint], forecast: Forecast | None) -> str:
    """The map in words, for those who do not see it."""
    lines = [
        f"Print {print_.number}: {move_words(print_.yellow, print_.magenta)}"
        + (f", {print_.lightness}" if print_.lightness else "")
        + (", kept" if print_.kept else "")
        for print_ in past
    ]
    if forecast is not None:
        lines.append(
            f"The next print falls within {words.number(2 * math.sqrt(forecast.variance_magenta), 1)} CC magenta and "
            f"{words.number(2 * math.sqrt(forecast.variance_yellow), 1)} CC yellow of where it is aimed, 19 times in 20"
        )
    return "Cast map. " + (". ".join(lines) or "Nothing printed yet") + "."


def move_words(yellow: float, magenta: float) -> str:
    """A move as it is said at the head."""
    parts = [
        f"{words.number(value, 0, signed=True)} {letter}"
        for value, letter in ((magenta, "M"), (yellow, "Y"))
        if round(value) != 0
    ]
    return "needs " + " ".join(parts) if parts else "needs no move"


def svg(width: float, height: float, said: str, parts: Sequence[str]) -> Markup:
    """A drawing of parts that are escaped already, and what it says to those who do not see it."""
    return Markup(
        f'<svg viewBox="0 0 {width:g} {height:g}" role="img" aria-label="{escape(said)}">{"".join(parts)}</svg>'
    )


def lettering(
    x: float, y: float, said: str, size: int = 14, *, anchor: str = "start", css: str = "", bold: bool = False
) -> str:
    """One text of a drawing; what it says is escaped here."""
    weight = ' font-weight="600"' if bold else ""
    return (
        f'<text class="{css}" x="{x:.1f}" y="{y:.1f}" font-size="{size}"{weight} text-anchor="{anchor}">'
        f"{escape(said)}</text>"
    )


def _reach(past: Sequence[PastPrint], forecast: Forecast | None) -> float:
    far = [4.0]
    far += [max(abs(print_.yellow), abs(print_.magenta)) * 1.08 for print_ in past]
    if forecast is not None:
        far.append(abs(forecast.yellow) + 2.2 * math.sqrt(forecast.variance_yellow))
        far.append(abs(forecast.magenta) + 2.2 * math.sqrt(forecast.variance_magenta))
    return float(next((candidate for candidate in _RANGES if candidate >= max(far)), max(far)))


def _steps_to_a_square(step: float, reach: float) -> int:
    scale = (_SIDE / 2 - _EDGE) / reach
    return next(n for n in (1, 2, 5, 10, 20, 50, 100, 1000) if n * step * scale >= 11)


def square_words(past: Sequence[PastPrint], forecast: Forecast | None, step_yellow: float, step_magenta: float) -> str:
    """What one square of the grid is, in this head's dial steps."""
    reach = _reach(past, forecast)
    across, up = _steps_to_a_square(step_yellow, reach), _steps_to_a_square(step_magenta, reach)
    if across == up == 1:
        return "one square is one dial step"
    if across == up:
        return f"one square is {across} dial steps"
    return f"one square is {across} dial steps across and {up} up"


def _grid(
    reach: float,
    x: Callable[[float], float],
    y: Callable[[float], float],
    step_yellow: float,
    step_magenta: float,
) -> str:
    low, high = _EDGE, _SIDE - _EDGE
    lines = []
    for step, upright in ((step_yellow, True), (step_magenta, False)):
        every = _steps_to_a_square(step, reach)
        count = int(reach / (step * every) + 1e-9)
        for index in range(-count, count + 1):
            at = index * step * every
            lines.append(f"M{x(at):.1f} {low:g}V{high:g}" if upright else f"M{low:g} {y(at):.1f}H{high:g}")
    labels = []
    for share in (-1.0, -0.5, 0.5, 1.0):
        text = words.shortest(share * reach)
        text = "+" + text if share > 0 else text
        whole = abs(share) == 1
        anchor = "middle" if not whole else "end" if share > 0 else "start"
        px, py = x(share * reach), y(share * reach) + (4 if not whole else 14 if share > 0 else -6)
        px -= math.copysign(5, share) if whole else 0
        labels.append(lettering(px, _SIDE / 2 + 15, f"{text} Y", 12, anchor=anchor, css="soft halo"))
        labels.append(lettering(_SIDE / 2 - 6, py, f"{text} M", 12, anchor="end", css="soft halo"))
    return (
        f'<path class="line" d="{"".join(lines)}"/>'
        f'<rect class="axis" x="{low:g}" y="{low:g}" width="{high - low:g}" height="{high - low:g}"/>'
        f'<path class="axis" d="M{low:g} {_SIDE / 2:g}H{high:g}M{_SIDE / 2:g} {low:g}V{high:g}"/>' + "".join(labels)
    )


def _casts(middle: float) -> str:
    """Up: magenta was too much, so magenta is added; both: red; and their opposites."""
    near, far = _EDGE - 12, _SIDE - _EDGE + 22
    places = (
        ("magenta", middle, near, "middle"),
        ("green", middle, far, "middle"),
        ("red", _SIDE - _EDGE, near, "end"),
        ("cyan", _EDGE, far, "start"),
    )
    names = [lettering(px, py, text, 15, anchor=anchor, bold=True) for text, px, py, anchor in places]
    for text, px, turn in (("blue", _EDGE - 14, -90), ("yellow", _SIDE - _EDGE + 14, 90)):
        names.append(
            f'<text font-size="15" font-weight="600" text-anchor="middle" dy="{5 if turn > 0 else 0}" '
            f'transform="translate({px:g} {middle:g}) rotate({turn})">{text}</text>'
        )
    return "".join(names)


def _passing(
    passes: Callable[[float, float], bool],
    reach: float,
    x: Callable[[float], float],
    y: Callable[[float], float],
    step_yellow: float,
    step_magenta: float,
) -> str:
    columns, rows = int(reach / step_yellow), int(reach / step_magenta)
    good = {
        (column, row)
        for column in range(-columns, columns + 1)
        for row in range(-rows, rows + 1)
        if passes(column * step_yellow, row * step_magenta)
    }
    cells, edges = [], []
    for column, row in sorted(good):
        left, right = x((column - 0.5) * step_yellow), x((column + 0.5) * step_yellow)
        top, bottom = y((row + 0.5) * step_magenta), y((row - 0.5) * step_magenta)
        cells.append(f"M{left:.1f} {top:.1f}H{right:.1f}V{bottom:.1f}H{left:.1f}z")
        for other, edge in (
            ((column - 1, row), f"M{left:.1f} {top:.1f}V{bottom:.1f}"),
            ((column + 1, row), f"M{right:.1f} {top:.1f}V{bottom:.1f}"),
            ((column, row + 1), f"M{left:.1f} {top:.1f}H{right:.1f}"),
            ((column, row - 1), f"M{left:.1f} {bottom:.1f}H{right:.1f}"),
        ):
            if other not in good:
                edges.append(edge)
    return f'<path class="pass" d="{"".join(cells)}"/><path class="axis" d="{"".join(edges)}" stroke-width="1.5"/>'


def _cloud(forecast: Forecast, x: Callable[[float], float], y: Callable[[float], float]) -> str:
    """Possible prints at even shares of probability, not random ones: the picture is the same each time."""
    sd_yellow = math.sqrt(max(forecast.variance_yellow, 0.0))
    slope = forecast.covariance / sd_yellow if sd_yellow > 0 else 0.0
    rest = math.sqrt(max(forecast.variance_magenta - slope**2, 0.0))
    golden = math.pi * (3 - math.sqrt(5))
    dots = []
    for index in range(_CLOUD):
        radius = math.sqrt(-2 * math.log(1 - (index + 0.5) / _CLOUD))
        first, second = radius * math.cos(index * golden), radius * math.sin(index * golden)
        px = x(forecast.yellow + sd_yellow * first)
        py = y(forecast.magenta + slope * first + rest * second)
        dots.append(f'<circle cx="{px:.1f}" cy="{py:.1f}" r="2.6"/>')
    return f'<g class="cloud">{"".join(dots)}</g>'


def _past(past: Sequence[PastPrint], x: Callable[[float], float], y: Callable[[float], float]) -> str:
    places = [(x(print_.yellow), y(print_.magenta)) for print_ in past]
    trail = "".join(f"{'M' if index == 0 else 'L'}{px:.1f} {py:.1f}" for index, (px, py) in enumerate(places))
    parts = [f'<path class="axis" d="{trail}" stroke-dasharray="2 4"/>'] if len(places) > 1 else []
    taken = [(_SIDE / 2 + 7, _SIDE / 2 + 40, _SIDE / 2 + 17)]  # "right" stands in the middle
    for index, (print_, (px, py)) in enumerate(zip(past, places, strict=True)):
        for half, css in ((11.0, "sheet"), *(((15.0, "ink"),) if print_.kept else ())):
            side, corner = 2 * half, half * 0.15 if print_.by_eye else half
            parts.append(
                f'<rect class="{css}" x="{px - half:.1f}" y="{py - half:.1f}" width="{side:g}" height="{side:g}" '
                f'rx="{corner:g}" stroke-width="1.5"/>'
            )
        parts.append(lettering(px, py + 4.5, print_.number, 13, anchor="middle", bold=True))
        # words at each of many prints would lie over each other; all are in the table below and in what is read aloud
        if print_.lightness and index >= len(past) - _WORDS_AT:
            left = px > _SIDE * 0.62
            wide = 7.0 * len(print_.lightness)
            begin = px - 19 - wide if left else px + 19
            ty = py + 4.5
            while any(abs(ty - at) < 14 and begin < right and first < begin + wide for first, right, at in taken):
                ty += 15
            taken.append((begin, begin + wide, ty))
            parts.append(
                lettering(
                    px - 19 if left else px + 19,
                    ty,
                    print_.lightness,
                    13,
                    anchor="end" if left else "start",
                    css="halo",
                )
            )
    return "".join(parts)


def band(value: float, error: float, reach: float) -> Markup:
    """A number with two standard errors each way, about a zero line.

    Parameters
    ----------
    value, error : float
        In any one unit.
    reach : float
        How far the drawing goes either way, same unit.
    """
    width, height = 150.0, 22.0
    scale = (width / 2 - 4) / max(abs(reach), 1e-9)

    def x(at: float) -> float:
        return min(max(width / 2 + scale * at, 2.0), width - 2)

    low, high, middle = x(value - 2 * error), x(value + 2 * error), height / 2
    return Markup(
        f'<svg viewBox="0 0 {width:g} {height:g}" width="{width:g}" height="{height:g}" aria-hidden="true">'
        f'<path class="line" d="M{width / 2:g} 0V{height:g}"/>'
        f'<path class="axis" d="M{low:.1f} {middle:g}H{high:.1f}" stroke-width="6"/>'
        f'<path class="ink" d="M{x(value):.1f} 3V{height - 3:g}" stroke-width="3"/></svg>'
    )


def panels(picture: Picture, said: Sequence[str]) -> list[Markup]:
    """A picture of something learned, a panel for each of its lines, all on one scale.

    The line with two standard errors each way; dashed, what was believed before; below, heavy, what prints have shown.

    Parameters
    ----------
    said : each line in words
    """
    values, errors, before = (
        np.array([getattr(line, name) for line in picture.lines]) for name in ("values", "errors", "before")
    )
    low, high = (
        float(np.minimum(values - 2 * errors, before).min()),
        float(np.maximum(values + 2 * errors, before).max()),
    )
    if high - low < 1e-6:
        low, high = low - 1, high + 1
    return [_panel(picture, line, low, high, words_) for line, words_ in zip(picture.lines, said, strict=True)]


_PANEL = (300.0, 210.0, 46.0, 10.0, 26.0, 34.0)
"""Width, height; left, right, top and bottom edge of a panel."""


def _panel(picture: Picture, line: Line, low: float, high: float, said: str) -> Markup:
    width, height, left, right, top, bottom = _PANEL
    first, last = picture.at[0], picture.at[-1]

    def x(at: float) -> float:
        return left + (width - left - right) * (at - first) / ((last - first) or 1.0)

    def y(value: float) -> float:
        return height - bottom - (height - top - bottom) * (value - low) / (high - low)

    def path(values: Iterable[tuple[float, float]]) -> str:
        return "M" + "L".join(f"{x(at):.1f} {y(value):.1f}" for at, value in values)

    upper = [(at, v + 2 * e) for at, v, e in zip(picture.at, line.values, line.errors, strict=True)]
    lower = [(at, v - 2 * e) for at, v, e in zip(picture.at, line.values, line.errors, strict=True)]
    floor = height - bottom
    decimals = 1 if high - low < 10 else 0
    parts = [
        lettering(left, 16, line.name, 15, bold=True),
        f'<path class="cloud" d="{path([*upper, *reversed(lower)])}Z"/>',
        f'<path class="axis" stroke-dasharray="4 3" d="{path(zip(picture.at, line.before, strict=True))}"/>',
        f'<path class="ink" fill="none" stroke-width="2" d="{path(zip(picture.at, line.values, strict=True))}"/>',
        f'<path class="axis" d="M{left:g} {top:g}V{floor:g}H{width - right:g}"/>',
        lettering(left - 6, y(high) + 5, words.number(high, decimals), 13, anchor="end", css="soft"),
        lettering(left - 6, y(low) + 4, words.number(low, decimals), 13, anchor="end", css="soft"),
    ]
    if low < 0 < high:
        parts.append(f'<path class="line" d="M{left:g} {y(0):.1f}H{width - right:g}"/>')
    whole = all(float(at).is_integer() for at in (first, last))
    for at, anchor in ((first, "start"), (last, "end")):
        parts.append(lettering(x(at), height - 8, words.number(at, 0 if whole else 1), 13, anchor=anchor, css="soft"))
    if picture.seen is not None:
        begin, end = (min(max(at, first), last) for at in picture.seen)
        parts.append(
            f'<path class="ink" stroke-width="4" d="M{x(begin):.1f} {floor + 6:g}H{max(x(end), x(begin) + 2):.1f}"/>'
        )
    return svg(width, height, said, parts)


@dataclass(frozen=True, slots=True, kw_only=True)
class LineStep:
    """One step on the evening line: from, to [min from the line's start], and how it stands: done, now or due."""

    name: str
    start: float
    end: float
    state: str = "due"


@dataclass(frozen=True, slots=True, kw_only=True)
class LineLane:
    """One drum (or other thing that is busy), with its steps."""

    name: str
    steps: tuple[LineStep, ...]


def evening_line(lanes: Sequence[LineLane], *, now: float, clock: Callable[[float], str]) -> Markup:
    """The evening as rows of cycles: done steps are filled, the present one heavy, what is due is open and dashed.

    Parameters
    ----------
    lanes : sequence of LineLane
    now : float
        Where we are [min from the line's start].
    clock : callable(minute) -> str
        What is written under the line.
    """
    end = max((step.end for lane in lanes for step in lane.steps), default=30.0)
    end = max(end, now + 1, 10.0)
    width, left, row, top = 960.0, 110.0, 58.0, 26.0
    scale = (width - left - 12) / end
    height = top + row * max(len(lanes), 1) + 28
    every = next((n for n in (1, 2, 5, 10, 15, 30, 60, 120) if n * scale >= 74), 240)
    parts = []
    for index in range(int(end / every) + 1):
        at = left + index * every * scale
        parts.append(
            f'<path class="line" d="M{at:.1f} {top:g}V{height - 22:g}"/>'
            + lettering(at, height - 6, clock(index * every), 13, anchor="middle", css="soft")
        )
    spoken = []
    for index, lane in enumerate(lanes):
        y = top + index * row + 8
        parts.append(lettering(0, y + 25, lane.name, 15, bold=True))
        for step in lane.steps:
            x, wide = left + step.start * scale, max((step.end - step.start) * scale, 2.0)
            style = {
                "done": 'class="fill"',
                "now": 'class="sheet" stroke-width="4"',
            }.get(step.state, 'class="axis" stroke-dasharray="4 3"')
            parts.append(f'<rect {style} x="{x:.1f}" y="{y:g}" width="{wide:.1f}" height="40"/>')
            if wide > 8 * len(step.name) + 8:
                parts.append(lettering(x + 7, y + 25, step.name, 14, css="on-ink" if step.state == "done" else ""))
            spoken.append(f"{lane.name}: {step.name} {step.state}, {clock(step.start)} to {clock(step.end)}")
    at = left + now * scale
    parts.append(
        f'<path class="ink" d="M{at:.1f} {top - 6:g}V{height - 22:g}" stroke-width="2.5"/>'
        + lettering(at, top - 10, "now", 14, anchor="middle", bold=True)
    )
    return svg(width, height, "Evening line. " + ". ".join(spoken) + ".", parts)
