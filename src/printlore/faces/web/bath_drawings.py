"""Drawings of baths and of the process: a bath's life, and the chart of control patches. No hue, only shape."""

from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np
from markupsafe import Markup
from numpy.typing import NDArray

from printlore.core.bath.balance import Content
from printlore.core.bath.capacity import HORIZON, Capacity
from printlore.core.control.limits import CHANNELS, QUANTITIES, Aim, Limits
from printlore.faces.web.drawings import lettering, svg
from printlore.faces.words import number, shortest

_WIDTH = 960.0


def life_line(history: Sequence[Content], capacity: Capacity | None) -> Markup:
    """A bath's life by drum loads: strength so far as a line, then the chance that a load is still good, as bars.

    Parameters
    ----------
    history : sequence of Content
        After mixing and each event.
    capacity : Capacity or None
        From now on; ``None``: the bath is retired.
    """
    left, right, top, bottom = 64.0, 24.0, 34.0, 250.0
    done = history[-1].loads
    ahead = 0 if capacity is None else min(max(int(np.searchsorted(capacity.spoiled, 0.97)) + 1, 6), HORIZON)
    span = max(done + ahead, 8)
    step = (_WIDTH - left - right) / span

    def x(load: float) -> float:
        return left + step * load

    def y(share: float) -> float:
        return bottom - (bottom - top) * min(max(share, 0.0), 1.0)

    parts = []
    for share, words in ((1.0, "1"), (0.5, shortest(0.5)), (0.0, "0")):
        parts.append(f'<path class="line" d="M{left:g} {y(share):.1f}H{_WIDTH - right:g}"/>')
        parts.append(lettering(left - 10, y(share) + 5, words, anchor="end", css="soft"))
    every = next(n for n in (1, 2, 5, 10, 20) if n * step >= 34 or n == 20)
    for load in range(0, span + 1, every):
        parts.append(lettering(x(load), bottom + 20, str(load), anchor="middle", css="soft"))
    parts.append(lettering(_WIDTH - right, bottom + 40, "drum loads", anchor="end", css="soft"))
    path = " ".join(
        f"{'M' if i == 0 else 'L'}{x(one.loads):.1f} {y(one.strength):.1f}" for i, one in enumerate(history)
    )
    parts.append(f'<path class="ink" d="{path}" stroke-width="2.5"/>')
    for before, after in pairwise(history):
        if after.loads == before.loads and after.strength > before.strength + 0.005:
            parts.append(f'<path class="fill" d="M{x(after.loads):.1f} {y(after.strength) - 14:.1f}l6 9h-12z"/>')
    if step * done > 160:  # else there is no line to speak of, and "now" stands there
        parts.append(lettering(x(0) + 8, y(history[0].strength) - 10, "strength so far", bold=True))
    label = f"Life of the bath. Drum loads so far: {done}, strength {number(history[-1].strength, 2)}."
    if capacity is not None:
        for index, spoiled in enumerate(capacity.spoiled[:ahead]):
            good = 1 - float(spoiled)
            parts.append(
                f'<rect class="cloud" x="{x(done + index) + 1:.1f}" y="{y(good):.1f}" width="{max(step - 2, 1):.1f}" '
                f'height="{bottom - y(good):.1f}"/>'
            )
        now = x(done)
        parts.append(f'<path class="ink" d="M{now:.1f} {top - 10:g}V{bottom:g}" stroke-width="2.5"/>')
        near_end = now > _WIDTH - 330
        parts.append(
            lettering(now + (-8 if near_end else 8), top - 12, "now", bold=True, anchor="end" if near_end else "start")
        )
        count = capacity.together
        low, high = x(done + count.low), x(done + min(count.high, ahead))
        parts.append(f'<path class="ink" d="M{low:.1f} {top + 12:g}H{high:.1f}" stroke-width="2"/>')
        parts.append(f'<circle class="fill" cx="{x(done + min(count.middle, ahead)):.1f}" cy="{top + 12:g}" r="6"/>')
        label += f" From here {capacity}."
    return svg(_WIDTH, bottom + 48, label, parts)


_SHAPES: tuple[Callable[[float, float], str], ...] = (
    lambda x, y: f'<circle class="sheet" cx="{x:.1f}" cy="{y:.1f}" r="4"/>',
    lambda x, y: f'<path class="fill" d="M{x:.1f} {y - 5:.1f}l5 9h-10z"/>',
    lambda x, y: f'<rect class="sheet" x="{x - 4:.1f}" y="{y - 4:.1f}" width="8" height="8"/>',
)
SHAPE_WORDS = ("open circle: red", "filled triangle: green", "open square: blue")


def control_chart(values: Sequence[NDArray[np.float64]], aim: Aim, limits: Limits, marks: Sequence[str] = ()) -> Markup:
    """Control patches in order: a strip for each quantity, a shape for each channel, look limit dashed, stop solid.

    Parameters
    ----------
    values : sequence of (4, 3) array
        Quantities of each patch, oldest first [density].
    marks : sequence of str
        One for each patch; where it changes (another bath), a line is drawn.
    """
    left, right, strip, gap = 132.0, 24.0, 128.0, 26.0
    count = max(len(values), 2)
    step = (_WIDTH - left - right - 20) / (count - 1)
    parts, said = [], []
    for q, quantity in enumerate(QUANTITIES):
        top = 20 + q * (strip + gap)
        middle = top + strip / 2
        away = np.array([value[q] - aim.values[q] for value in values])
        reach = max(float(np.abs(away).max(initial=0.0)), limits.stop[quantity]) * 1.15
        scale = strip / 2 / reach
        parts.append(lettering(0, middle - 4, quantity, 15, bold=True))
        parts.append(
            lettering(
                0,
                middle + 14,
                f"aim {'+' if quantity in limits.upper_only else '±'} {number(limits.stop[quantity], 3)}",
                13,
                css="soft",
            )
        )
        sides = (1,) if quantity in limits.upper_only else (1, -1)
        parts.append(f'<path class="axis" d="M{left:g} {middle:.1f}H{_WIDTH - right:g}"/>')
        for side in sides:
            for limit, style in ((limits.look[quantity], ' stroke-dasharray="5 4"'), (limits.stop[quantity], "")):
                at = middle - side * limit * scale
                parts.append(f'<path class="axis" d="M{left:g} {at:.1f}H{_WIDTH - right:g}"{style}/>')
        for index in range(len(values)):
            at = left + 10 + index * step
            if index and marks and marks[index] != marks[index - 1]:
                edge = at - step / 2
                parts.append(f'<path class="line" d="M{edge:.1f} {top:g}V{top + strip:g}"/>')
                if q == 0:
                    parts.append(lettering(edge + 4, top + 2, marks[index], 12, css="soft"))
            for channel, shape in enumerate(_SHAPES):
                parts.append(shape(at + 3 * (channel - 1), middle - float(away[index, channel]) * scale))
        newest = ", ".join(
            f"{channel} {number(value, 3, signed=True)}" for channel, value in zip(CHANNELS, away[-1], strict=True)
        )
        said.append(f"{quantity}: newest {newest}")
    height = 20 + len(QUANTITIES) * (strip + gap) + 6
    parts.append(lettering(_WIDTH - right, height - 8, "control patches, oldest first", anchor="end", css="soft"))
    return svg(_WIDTH, height, "Control chart. " + "; ".join(said) + ".", parts)
