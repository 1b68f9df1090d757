"""What was learned of paper, filters, baths and lamp, as lines with their bands, beside what was believed before."""

from dataclasses import dataclass

import numpy as np

from printlore.core.figure import Figure
from printlore.core.memory.columns import Floats
from printlore.core.memory.envelope import Factor, Updated
from printlore.core.memory.model import ageing, by_sight, curves_of, density_by_curve, loss_in_filters
from printlore.core.memory.solve import Memory

_FURTHEST = 0.6
"""[log10] How far from the aim a paper's curve is drawn."""
_MOST_TAKEN = 30.0
"""[CC] How far from the usual negative a paper's sight is drawn."""
_ANSWERS = {
    "magenta": np.array([-1.0, 1.0, 0.0]),
    "yellow": np.array([-1.0, 0.0, 1.0]),
    "light": np.array([-1.0, 0.0, 0.0]),
}
"""What of each answers an effect (red, green, blue)."""
_TAKEN = {
    "magenta": np.array([0.0, 1.0, 0.0]),
    "yellow": np.array([0.0, 0.0, 1.0]),
    "light": np.array([-1.0, -1.0, -1.0]),
}
"""By what log exposure of the layers a negative differs that takes more of each (red, green, blue)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line: n values, their standard errors, and what was believed before any print."""

    name: str
    values: tuple[float, ...]
    errors: tuple[float, ...]
    before: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """Lines over one axis.

    Attributes
    ----------
    kind, name : str
        "paper" (a family: density by log exposure above the aim), "sight" (a family: answer in CC by what a negative
        takes on the usual one), "filters" (a head: CC by dial), "ageing" (a process: answer in CC by m2 per litre) or
        "lamp" (a head: answer in CC by date), and whose.
    across, up : str
        What the axes show, with units.
    at : (n,) along the axis
    seen : (low, high) of the axis that prints have shown, or None
    """

    kind: str
    name: str
    across: str
    up: str
    at: tuple[float, ...]
    lines: tuple[Line, ...]
    seen: tuple[float, float] | None = None


def pictures(memory: Memory) -> tuple[Picture, ...]:
    """Everything general that the memory learned; none before the first trial."""
    if not memory.evidence.trials:
        return ()
    return (*_papers(memory), *_sights(memory), *_filters(memory), *_ageing(memory), *_lamps(memory))


def _line(name: str, values: Floats, errors: Floats, before: Floats | float) -> Line:
    known = np.broadcast_to(np.asarray(before, dtype=float), values.shape)
    return Line(name=name, values=_floats(values), errors=_floats(errors), before=_floats(known))


def _floats(values: Floats) -> tuple[float, ...]:
    return tuple(float(value) for value in values)


def _errors(rows: Floats, covariance: Floats) -> Floats:
    """(...,) standard errors of combinations (..., k) of effects with this covariance (k, k)."""
    result: Floats = np.sqrt(np.maximum(np.einsum("...k,kl,...l->...", rows, covariance, rows), 0.0))
    return result


def _general(memory: Memory, where: slice) -> tuple[Floats, Floats]:
    """Some general effects and their covariance."""
    factor: Factor | Updated = memory.elimination.factor
    return memory.state.general[where], factor.covariance_general[where, where]


def _papers(memory: Memory) -> list[Picture]:
    found = []
    layout, columns, general = memory.layout, memory.columns, memory.state.general
    at = np.linspace(-_FURTHEST, _FURTHEST, 49)
    h, each = np.broadcast_to(at[:, None], (len(at), 3)), np.broadcast_to(np.eye(3), (len(at), 3, 3))
    for place, name in enumerate(layout.names.papers):
        read = (columns.paper == place) & (columns.person < 0)
        if not read.any():
            continue
        _, covariance = _general(memory, slice(layout.paper[place].start + 3, layout.paper[place].stop))
        curves = curves_of(layout, general, place)
        after, before = curves.density_at(h), layout.curves[place].density_at(h)
        errors = _errors(density_by_curve(curves.theta, h, each), covariance)
        layers = enumerate(("red", "green", "blue"))
        found.append(
            Picture(
                kind="paper",
                name=name,
                across="log exposure above the aim [log10]",
                up="density",
                at=_floats(at),
                lines=tuple(_line(layer, after[:, k], errors[:, k], before[:, k]) for k, layer in layers),
                seen=_range(curves.log_exposure_at(columns.density[read])[0]),
            )
        )
    return found


def _range(values: Floats) -> tuple[float, float] | None:
    return (float(values.min()), float(values.max())) if values.size else None


def _sights(memory: Memory) -> list[Picture]:
    """What a negative takes on top on another paper, the more of the same it takes on the usual one."""
    found = []
    layout, columns = memory.layout, memory.columns
    usual = layout.names.papers[layout.usual_paper]
    at = np.linspace(-_MOST_TAKEN, _MOST_TAKEN, 25)
    for place, name in enumerate(layout.names.papers):
        where = layout.sight[place]
        if where is None or not (columns.paper == place).any():
            continue
        effect, covariance = _general(memory, where)
        lines = []
        for what, taken in _TAKEN.items():
            negative = at[:, None] / 100 * taken
            # each is behind the filters that it takes
            rows = 100 * np.einsum("k,nke->ne", _ANSWERS[what], by_sight(negative, negative))
            lines.append(_line(what, rows @ effect, _errors(rows, covariance), 0.0))
        found.append(
            Picture(
                kind="sight",
                name=name,
                across=f"what a negative takes more than others on {usual} [CC]",
                up="to add on top in answer [CC]",
                at=_floats(at),
                lines=tuple(lines),
            )
        )
    return found


def _filters(memory: Memory) -> list[Picture]:
    found = []
    layout, columns, evidence = memory.layout, memory.columns, memory.evidence
    for place, name in enumerate(layout.names.heads):
        facts, mine = evidence.heads[name], columns.head == place
        if facts.additive or not mine.any():
            continue
        effect, covariance = _general(memory, layout.head[place])
        usual = np.array(facts.usual.pack.as_tuple())
        dialled = 100 * columns.dial[mine] + usual
        at = np.linspace(0.0, max(100.0, float(dialled.max())), 41)
        lines = []
        for k, dial in enumerate(("cyan", "magenta", "yellow")):
            if dial == "cyan" and not dialled[:, 0].any():
                continue
            dials = np.tile(usual, (len(at), 1))
            dials[:, k] = at
            moved = (dials - usual) / 100
            loss, by_effect = loss_in_filters(moved, effect, memory.priors)
            before, _ = loss_in_filters(moved, np.zeros_like(effect), memory.priors)
            own, slope, prior = loss[:, k], by_effect[:, k], before[:, k]
            lines.append(
                _line(dial, 100 * (own - own[0]), 100 * _errors(slope - slope[0], covariance), 100 * (prior - prior[0]))
            )
        found.append(
            Picture(
                kind="filters",
                name=name,
                across="dialled",
                up="taken from its layer [CC]",
                at=_floats(at),
                lines=tuple(lines),
                seen=_range(dialled[:, 1:]),
            )
        )
    return found


def _ageing(memory: Memory) -> list[Picture]:
    found = []
    layout, columns = memory.layout, memory.columns
    for place, name in enumerate(layout.names.processes):
        state = columns.bath_state[columns.process == place]
        if not len(state) or state[:, 0].max() <= 0:
            continue
        effect, covariance = _general(memory, layout.process[place])
        # days go with the use as they did here
        days = float(state[:, 1].mean() / state[:, 0].mean())
        at = np.linspace(0.0, float(state[:, 0].max()), 25)
        lines = []
        for what, answer in _ANSWERS.items():
            rows = 100 * at[:, None] * np.concatenate([answer, days * answer, np.zeros(3)])
            after, before = (rows @ ageing(found, memory.priors).ravel() for found in (effect, np.zeros_like(effect)))
            lines.append(_line(what, after, _errors(rows, covariance), before))
        found.append(
            Picture(
                kind="ageing",
                name=name,
                across=f"developed [m²/L], {Figure(days):.1f} days for each",
                up="to add in answer [CC]",
                at=_floats(at),
                lines=tuple(lines),
                seen=(0.0, float(at[-1])),
            )
        )
    return found


def _lamps(memory: Memory) -> list[Picture]:
    found = []
    for name, (dates, places) in memory.columns.names.dates_of_head.items():
        if len(dates) < 2:
            continue
        half, effect = memory.elimination.half_of_blocks(places), memory.state.blocks[places]
        lines = []
        for what, answer in _ANSWERS.items():
            lines.append(_line(what, 100 * effect @ answer, 100 * np.linalg.norm(half @ answer, axis=0), 0.0))
        found.append(
            Picture(
                kind="lamp",
                name=name,
                across="days since the first print",
                up="to add in answer [CC]",
                at=_floats(dates - dates[0]),
                lines=tuple(lines),
                seen=(0.0, float(dates[-1] - dates[0])),
            )
        )
    return found
