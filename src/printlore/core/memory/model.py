"""Which effects exist, what is believed of them beforehand, and the density they predict.

Log exposure of a layer at the paper, above the one that gives the aim:

    h = base + paper + reciprocity * log10((t - rise) / t0) + stop + size - loss(dials)
        + film + frame - P (r - mean r) + lot + bath + date + process + ageing + run

Effects that every observation has (dials, curve, reading ...) are *general*: one dense vector.
Film, lot, bath and date are *blocks* of three. Frames and runs are *local*: three each, met by few trials.
"""

from collections.abc import Iterator, Mapping, Set
from dataclasses import dataclass, replace

import numpy as np

from printlore.core.memory.columns import Columns, Floats, Ints, Names
from printlore.core.memory.evidence import Evidence
from printlore.core.memory.priors import Priors, Spread
from printlore.core.paper.layers import SIDE_COLUMN, SIDE_ROW, LayerCurves, curve, unpack

HEAD_SIZE = 3 + 6 + 3 + 3 + 1 + 1
"""Dial scales (ln), leaks, own curvature, magenta-yellow interaction, rise, size."""
PAPER_SIZE = 3 + 18
"""Reciprocity less 1, then the parameters of the curves less their prior mean."""
PROCESS_SIZE = 9
"""Ageing by area, by age, by strength."""
SOURCE_SIZE = 9
"""P less the identity, row by row."""

_LN10 = np.log(10.0)
_LEAK_ROW, _LEAK_COLUMN = SIDE_ROW, SIDE_COLUMN


def spread_covariance(spread: Spread) -> Floats:
    """(3, 3) covariance of a layer vector."""
    result: Floats = np.full((3, 3), spread.common**2) + spread.colour**2 * np.eye(3)
    return result


def inverse(matrix: Floats) -> Floats:
    """Inverse of (..., n, n) matrices."""
    return np.asarray(np.linalg.inv(matrix), dtype=np.float64)


def spread_precision(spread: Spread) -> Floats:
    """(3, 3) inverse covariance of a layer vector."""
    return inverse(spread_covariance(spread))


@dataclass(frozen=True, slots=True)
class Layout:
    """Where each general effect lies in the dense vector, and the prior.

    Attributes
    ----------
    size : int
        Length of the general vector; blocks of three follow it.
    precision : (size + 3 blocks, same) prior inverse covariance; the prior mean is zero throughout.
    """

    names: Names
    base: slice
    head: tuple[slice, ...]
    paper: tuple[slice, ...]
    paper_offset: tuple[slice | None, ...]
    process: tuple[slice, ...]
    process_offset: tuple[slice | None, ...]
    source: tuple[slice, ...]
    source_offset: tuple[slice | None, ...]
    stop: slice
    person: slice
    size: int
    precision: Floats
    curves: tuple[LayerCurves, ...]
    gauge: Mapping[str, str]
    films_read: Set[str]


def lay_out(evidence: Evidence, names: Names, priors: Priors) -> Layout:
    """Places and priors of all shared effects."""
    at = 0
    pieces: list[tuple[slice, Floats]] = []

    def place(covariance: Floats) -> slice:
        nonlocal at
        here = slice(at, at + len(covariance))
        pieces.append((here, inverse(covariance)))
        at = here.stop
        return here

    base = place(spread_covariance(priors.base))
    head = tuple(place(_head_covariance(evidence.heads[name].additive, priors)) for name in names.heads)
    paper = tuple(place(_paper_covariance(priors)) for _ in names.papers)
    paper_offset = tuple(None if i == 0 else place(spread_covariance(priors.paper)) for i in range(len(names.papers)))
    process = tuple(place(_process_covariance(priors)) for _ in names.processes)
    process_offset = tuple(
        None if i == 0 else place(spread_covariance(priors.process)) for i in range(len(names.processes))
    )
    gain = np.full((3, 3), priors.reading_leak) + (priors.reading_gain - priors.reading_leak) * np.eye(3)
    source = tuple(place(np.diag(gain.ravel() ** 2)) for _ in names.sources)
    source_offset = tuple(None if i == 0 else place(spread_covariance(priors.film)) for i in range(len(names.sources)))
    stop = place(np.diag(np.full(len(names.stops), priors.stop**2)))
    person = place(np.diag(np.full(2 * len(names.persons), priors.eye_scale**2)))
    size = at
    precision = np.zeros((size + 3 * len(names.blocks),) * 2)
    for where, piece in pieces:
        precision[where, where] = piece
    layout = Layout(
        names=names,
        base=base,
        head=head,
        paper=paper,
        paper_offset=paper_offset,
        process=process,
        process_offset=process_offset,
        source=source,
        source_offset=source_offset,
        stop=stop,
        person=person,
        size=size,
        precision=precision,
        curves=tuple(LayerCurves.from_facts(evidence.papers[name], priors.side_absorption) for name in names.papers),
        gauge={"head": names.heads[0] if names.heads else ""},
        films_read={frame.film for frame in evidence.frames.values() if frame.reading is not None},
    )
    _spread_blocks(layout, priors)
    return layout


def with_spreads(layout: Layout, learned: Priors) -> Layout:
    """The same places, the blocks' prior anew from these spreads."""
    layout = replace(layout, precision=layout.precision.copy())
    layout.precision[layout.size :, layout.size :] = 0.0
    _spread_blocks(layout, learned)
    return layout


def _head_covariance(additive: bool, priors: Priors) -> Floats:
    covariance = np.zeros((HEAD_SIZE, HEAD_SIZE))
    if additive:
        covariance[:3, :3] = priors.dial_scale_additive**2 * np.eye(3)
    else:
        covariance[:3, :3] = priors.dial_scale_common**2 + priors.dial_scale**2 * np.eye(3)
    spread = np.concatenate(
        [
            np.full(6, priors.dial_leak_sd),
            np.full(3, priors.dial_curvature),
            np.full(3, priors.dial_interaction),
            [priors.rise, priors.size],
        ]
    )
    covariance[3:, 3:] = np.diag(spread**2)
    return covariance


def _paper_covariance(priors: Priors) -> Floats:
    spread = np.concatenate(
        [
            np.full(3, priors.reciprocity),
            np.full(3, priors.gradient),
            np.full(3, priors.density_range),
            np.full(3, priors.asymmetry),
            np.full(3, priors.aim_amount),
            np.full(6, priors.side_absorption_sd),
        ]
    )
    covariance = np.diag(spread**2)
    covariance[3:6, 3:6] += priors.gradient_common**2
    return covariance


def _process_covariance(priors: Priors) -> Floats:
    covariance = np.zeros((9, 9))
    for index, spread in enumerate((priors.area, priors.age, priors.strength)):
        here = slice(3 * index, 3 * index + 3)
        covariance[here, here] = spread_covariance(spread)
    return covariance


@dataclass(frozen=True, slots=True)
class Tie:
    """What is believed of one block: how far it may lie from nothing, or from the block of an earlier date.

    Attributes
    ----------
    spread : str
        Name of its spread among the priors; "" for the first date of the first head, which is zero.
    block, before : int
        Places of the block and of the one it is counted from, or -1.
    span : float
        Variance in units of the spread's: days between two dates, else 1.
    """

    spread: str
    block: int
    before: int = -1
    span: float = 1.0


def ties(layout: Layout) -> Iterator[Tie]:
    """Films (read or not), lots, baths and their paces each on their own; dates of a head as a random walk."""
    last: dict[str, tuple[int, float]] = {}
    for block, (kind, name, *date) in enumerate(layout.names.blocks):
        if kind == "film":
            yield Tie("film_read" if name in layout.films_read else "film", block)
        elif kind != "date":
            yield Tie(kind, block)
        else:
            day = float(date[0])
            if name in last:
                before, earlier = last[name]
                yield Tie("drift_per_root_day", block, before, day - earlier)
            else:
                yield Tie("other_head" if name != layout.names.heads[0] else "", block)
            last[name] = (block, day)


def _spread_blocks(layout: Layout, spreads: Priors) -> None:
    """Write the prior precision of the blocks into the layout."""
    into = layout.precision[layout.size :, layout.size :]
    known: dict[str, Floats] = {"": 1e8 * np.eye(3)}
    for tie in ties(layout):
        if tie.spread not in known:
            known[tie.spread] = spread_precision(getattr(spreads, tie.spread))
        precision = known[tie.spread] / tie.span
        here = slice(3 * tie.block, 3 * tie.block + 3)
        into[here, here] += precision
        if tie.before >= 0:
            there = slice(3 * tie.before, 3 * tie.before + 3)
            into[there, there] += precision
            into[here, there] -= precision
            into[there, here] -= precision


@dataclass(frozen=True, slots=True)
class Prediction:
    """Densities predicted for rows, and how they move.

    Attributes
    ----------
    log_exposure, density : (N, 3)
    by_layer : (N, 3, 3) d density / d log exposure of each layer
    by_general : (N, 3, size) d density / d general vector
    """

    log_exposure: Floats
    density: Floats
    by_layer: Floats
    by_general: Floats


def predict(layout: Layout, columns: Columns, general: Floats, additive: Floats, priors: Priors) -> Prediction:
    """Forward model and its derivative.

    Parameters
    ----------
    general : (size,) general vector
    additive : (N, 3) sum of the blocks, frame and run of each row [log10]
    """
    rows = columns.rows
    h = np.repeat(general[layout.base][None, :], rows, axis=0) + additive + columns.light[:, None]
    by = np.zeros((rows, 3, layout.size))
    diagonal = np.arange(3)
    by[:, diagonal, layout.base.start + diagonal] = 1.0
    for index, where in enumerate(layout.head):
        _head_terms(columns, _rows_of(columns.head, index), general[where], where.start, h, by, priors)
    for index, where in enumerate(layout.paper):
        mine = _rows_of(columns.paper, index)
        _reciprocity_terms(columns, layout, mine, general, where, h, by)
        _offset_terms(mine, layout.paper_offset[index], general, h, by)
    for index, where in enumerate(layout.process):
        mine = _rows_of(columns.process, index)
        for term in range(3):
            state = columns.bath_state[mine, term]
            effect = slice(where.start + 3 * term, where.start + 3 * term + 3)
            h[mine] += state[:, None] * general[effect]
            by[mine[:, None], diagonal, effect.start + diagonal] = state[:, None]
        _offset_terms(mine, layout.process_offset[index], general, h, by)
    for index, where in enumerate(layout.source):
        mine = _rows_of(columns.source, index)
        reading = columns.reading[mine]
        h[mine] -= reading + reading @ general[where].reshape(3, 3).T
        for layer in range(3):
            by[mine, layer, where.start + 3 * layer : where.start + 3 * layer + 3] = -reading
        _offset_terms(mine, layout.source_offset[index], general, h, by)
    stopped = np.flatnonzero(columns.stop >= 0)
    if len(stopped):
        place = layout.stop.start + columns.stop[stopped]
        h[stopped] += general[place][:, None]
        by[stopped[:, None], diagonal, place[:, None]] = 1.0

    density = np.empty((rows, 3))
    by_layer = np.empty((rows, 3, 3))
    by_general = np.empty_like(by)
    for index, where in enumerate(layout.paper):
        mine = _rows_of(columns.paper, index)
        theta = layout.curves[index].theta + general[where.start + 3 : where.stop]
        gradient, span, asymmetry, amount, mix = unpack(theta)
        change, slope, (by_gradient, by_span, by_asymmetry, by_amount) = curve(
            h[mine], gradient, span, asymmetry, amount
        )
        density[mine] = layout.curves[index].aim + change @ mix.T
        by_layer[mine] = mix * slope[:, None, :]
        by_general[mine] = by_layer[mine] @ by[mine]
        at = where.start + 3
        by_curve = (by_gradient, by_span, by_asymmetry * (1 - asymmetry**2), by_amount)
        for kind, derivative in enumerate(by_curve):
            by_general[mine, :, at + 3 * kind : at + 3 * kind + 3] = mix * derivative[:, None, :]
        for place, (row, column) in enumerate(zip(SIDE_ROW, SIDE_COLUMN, strict=True)):
            by_general[mine, row, at + 12 + place] = change[:, column]
    _eye_terms(columns, layout, general, density, by_general)
    return Prediction(h, density, by_layer, by_general)


def reading_gain(layout: Layout, general: Floats, source: int) -> Floats:
    """(3, 3) printing density per density read, of one source."""
    return np.eye(3) + general[layout.source[source]].reshape(3, 3)


def _rows_of(column: Ints, index: int) -> Ints:
    return np.flatnonzero(column == index)


def _offset_terms(mine: Ints, where: slice | None, general: Floats, h: Floats, by: Floats) -> None:
    if where is not None:
        h[mine] += general[where]
        layers = np.arange(3)
        by[mine[:, None], layers, where.start + layers] = 1.0


def _head_terms(columns: Columns, mine: Ints, effect: Floats, at: int, h: Floats, by: Floats, priors: Priors) -> None:
    """Light lost in the filters: scale, leak into other layers, curvature, interaction; and the size factor."""
    layers = np.arange(3)
    x = columns.dial[mine] * np.exp(effect[0:3])
    leak = np.zeros((3, 3))
    leak[_LEAK_ROW, _LEAK_COLUMN] = priors.dial_leak + effect[3:9]
    own, mixed = effect[9:12], effect[12:15]
    product = x[:, 1] * x[:, 2]
    h[mine] -= x + x @ leak.T - own * x**2 - mixed * product[:, None]
    for dial in range(3):
        change = leak[None, :, dial] * x[:, dial, None]
        change[:, dial] += x[:, dial] - 2 * own[dial] * x[:, dial] ** 2
        if dial > 0:
            change = change - mixed * product[:, None]
        by[mine, :, at + dial] = -change
    by[mine[:, None], _LEAK_ROW, at + 3 + np.arange(6)] = -x[:, _LEAK_COLUMN]
    by[mine[:, None], layers, at + 9 + layers] = x**2
    by[mine[:, None], layers, at + 12 + layers] = product[:, None]
    h[mine] += effect[16] * columns.size[mine, None]
    by[mine, :, at + 16] = columns.size[mine, None]


def _reciprocity_terms(
    columns: Columns, layout: Layout, mine: Ints, general: Floats, where: slice, h: Floats, by: Floats
) -> None:
    layers = np.arange(3)
    rise_at = np.array([s.start + 15 for s in layout.head], dtype=np.int64)[columns.head[mine]]
    time = columns.time[mine]
    short = np.minimum(general[rise_at], 0.8 * time)
    usual = columns.usual_time[mine]
    usual_short = np.minimum(general[rise_at], 0.8 * usual)
    span = np.log10((time - short) / (usual - usual_short))
    rho = 1 + general[where.start : where.start + 3]
    h[mine] += span[:, None] * rho
    by[mine[:, None], layers, where.start + layers] = span[:, None]
    by[mine[:, None], layers, rise_at[:, None]] = (
        rho * (1 / (usual - usual_short) - 1 / (time - short))[:, None] / _LN10
    )


def _eye_terms(columns: Columns, layout: Layout, general: Floats, density: Floats, by_general: Floats) -> None:
    """What the eye saw, on its own scale: the aim plus the error seen should equal the density."""
    judged = np.flatnonzero(columns.person >= 0)
    if not len(judged):
        return
    place = layout.person.start + 2 * columns.person[judged]
    dark = columns.seen[judged].mean(axis=1, keepdims=True)
    cast = columns.seen[judged] - dark
    cast_scale, dark_scale = np.exp(general[place])[:, None], np.exp(general[place + 1])[:, None]
    density[judged] -= cast * cast_scale + dark * dark_scale
    by_general[judged, :, place] = -cast * cast_scale
    by_general[judged, :, place + 1] = -dark * dark_scale
