"""Plots as SVG, by hand: lines and points on plain axes."""

from collections.abc import Mapping, Sequence

import numpy as np

INKS = ("#1b4965", "#c1440e", "#3a7d44", "#7a4f9a", "#8a6d00", "#555555", "#a8325e")
WIDTH, HEIGHT = 640, 400
LEFT, TOP, RIGHT, BOTTOM = 60, 20, 190, 50


class Plot:
    """Axes with linear or decade scales; ``add_*`` put things on them, ``text`` is the drawing.

    Parameters
    ----------
    across, up : (low, high) of the axes
    titles : of the axes, across and up
    """

    def __init__(
        self,
        across: tuple[float, float],
        up: tuple[float, float],
        titles: tuple[str, str],
        *,
        log: bool = False,
        ticks: tuple[Sequence[float], Sequence[float]],
    ) -> None:
        self.across, self.up, self.log = across, up, log
        self.parts: list[str] = []
        self.labels = 0
        for value in ticks[0]:
            x = self._x(value)
            self.parts.append(
                f'<line x1="{x:.1f}" x2="{x:.1f}" y1="{TOP}" y2="{HEIGHT - BOTTOM}" stroke="#ddd"/>'
                f'<text x="{x:.1f}" y="{HEIGHT - BOTTOM + 16}" text-anchor="middle">{value:g}</text>'
            )
        for value in ticks[1]:
            y = self._y(value)
            self.parts.append(
                f'<line x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{y:.1f}" y2="{y:.1f}" stroke="#ddd"/>'
                f'<text x="{LEFT - 6}" y="{y + 4:.1f}" text-anchor="end">{value:g}</text>'
            )
        middle = (HEIGHT - BOTTOM + TOP) / 2
        self.parts.append(
            f'<text x="{(LEFT + WIDTH - RIGHT) / 2}" y="{HEIGHT - 12}" text-anchor="middle">{titles[0]}</text>'
            f'<text x="16" y="{middle}" text-anchor="middle" transform="rotate(-90 16 {middle})">{titles[1]}</text>'
        )

    def _place(self, value: float, ends: tuple[float, float]) -> float:
        if self.log:
            value, ends = np.log10(value), (np.log10(ends[0]), np.log10(ends[1]))
        return float((min(max(value, ends[0]), ends[1]) - ends[0]) / (ends[1] - ends[0]))

    def _x(self, value: float) -> float:
        return LEFT + self._place(value, self.across) * (WIDTH - LEFT - RIGHT)

    def _y(self, value: float) -> float:
        return HEIGHT - BOTTOM - self._place(value, self.up) * (HEIGHT - TOP - BOTTOM)

    def add_line(
        self, points: Sequence[tuple[float, float]], ink: str, label: str = "", *, dashed: bool = False
    ) -> None:
        """A line through points, named in the margin."""
        dash = ' stroke-dasharray="5 4"' if dashed else ""
        path = " ".join(f"{self._x(x):.1f},{self._y(y):.1f}" for x, y in points)
        self.parts.append(f'<polyline points="{path}" fill="none" stroke="{ink}" stroke-width="1.8"{dash}/>')
        if label:
            y = TOP + 12 + 18 * self.labels
            x = WIDTH - RIGHT + 12
            self.parts.append(
                f'<line x1="{x}" x2="{x + 22}" y1="{y - 4}" y2="{y - 4}" stroke="{ink}" stroke-width="1.8"{dash}/>'
                f'<text x="{x + 28}" y="{y}">{label}</text>'
            )
            self.labels += 1

    def add_points(self, points: Sequence[tuple[float, float, float]], ink: str) -> None:
        """Points (x, y, error of y) with bars of one standard error."""
        for x, y, error in points:
            low, high = y - error, y + error
            self.parts.append(f'<circle cx="{self._x(x):.1f}" cy="{self._y(y):.1f}" r="3.2" fill="{ink}"/>')
            if np.isfinite(error):
                self.parts.append(
                    f'<line x1="{self._x(x):.1f}" x2="{self._x(x):.1f}" y1="{self._y(low):.1f}" '
                    f'y2="{self._y(high):.1f}" stroke="{ink}"/>'
                )

    @property
    def text(self) -> str:
        """The whole drawing."""
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" font-family="sans-serif" '
            f'font-size="12" fill="#222"><rect width="{WIDTH}" height="{HEIGHT}" fill="#fff"/>\n'
            + "\n".join(self.parts)
            + "\n</svg>\n"
        )


def _smooth(values: np.ndarray, half: int = 2) -> np.ndarray:
    return np.array([values[max(i - half, 0) : i + half + 1].mean() for i in range(len(values))])


def cycles_plot(curves: Mapping[tuple[str, bool], np.ndarray]) -> str:
    """Cycles per good print against the negative's number, a running mean of five; dashed: without readings."""
    longest = max(len(values) for values in curves.values())
    top = float(np.ceil(max(_smooth(values).max() for values in curves.values())))
    plot = Plot(
        (1, longest),
        (1, top),
        ("negative", "cycles per good print (mean of five)"),
        ticks=(range(5, longest + 1, 5), range(1, int(top) + 1)),
    )
    policies = list(dict.fromkeys(policy for policy, _ in curves))
    for (policy, reading), values in curves.items():
        points = [(i + 1.0, float(v)) for i, v in enumerate(_smooth(values))]
        label = f"{policy}, read" if reading else policy
        plot.add_line(points, INKS[policies.index(policy) % len(INKS)], label, dashed=not reading)
    return plot.text


def again_plot(curves: Mapping[tuple[str, str], np.ndarray]) -> str:
    """Cycles of the first print after a change, of the second, and so on, by change and way; dashed: the notebook."""
    longest = max(len(values) for values in curves.values())
    top = float(np.ceil(max(values.max() for values in curves.values())))
    plot = Plot(
        (1, longest),
        (1, top),
        ("print after the change", "cycles until it was good again"),
        ticks=(range(1, longest + 1), range(1, int(top) + 1)),
    )
    changes = list(dict.fromkeys(change for change, _ in curves))
    for (change, way), values in curves.items():
        points = [(number, float(value)) for number, value in enumerate(values, start=1)]
        plot.add_line(points, INKS[changes.index(change)], f"{change}, {way}", dashed=way == "notebook")
    return plot.text


def reliability_plot(found: Mapping[str, Sequence[tuple[float, float, float, int]]]) -> str:
    """Share of good sheets against the probability stated, with one standard error."""
    tenths = [0, 0.2, 0.4, 0.6, 0.8, 1.0]
    plot = Plot((0, 1), (0, 1), ("stated probability of a good print", "share that was"), ticks=(tenths, tenths))
    plot.add_line([(0, 0), (1, 1)], "#999999", "as stated", dashed=True)
    for index, (name, bins) in enumerate(found.items()):
        plot.add_line([(stated, true) for stated, true, _, _ in bins], INKS[index], name)
        plot.add_points([(stated, true, error) for stated, true, error, _ in bins], INKS[index])
    return plot.text


def growth_plot(rows: Sequence[Mapping[str, float]]) -> str:
    """Times against the number of trials, both in decades; a straight 1:1 line is linear growth."""
    decades = [0.001, 0.01, 0.1, 1, 10, 100]
    most = max(row["trials"] for row in rows)
    plot = Plot(
        (1000, max(most, 10_000)),
        (0.001, 100),
        ("trials in the record", "seconds"),
        log=True,
        ticks=([d for d in (1000, 10_000, 100_000) if d <= most], decades),
    )
    shown = {"cold": "cold solution", "one_more": "one trial more", "advice": "advice"}
    for index, (name, label) in enumerate(shown.items()):
        points = [(row["trials"], row[name]) for row in rows]
        plot.add_line(points, INKS[index], label)
        plot.add_points([(x, y, float("nan")) for x, y in points], INKS[index])
    first, last = rows[0], rows[-1]
    slope = [(first["trials"], last["cold"] * first["trials"] / last["trials"]), (last["trials"], last["cold"])]
    plot.add_line(slope, "#999999", "in proportion", dashed=True)
    return plot.text
