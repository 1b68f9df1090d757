"""Which effects exist, what is believed of them beforehand, and the density they predict.

Log exposure of a layer at the paper, above the one that gives the aim:

    h = base + paper + reciprocity * log10((t - rise) / t0) + stop + size - loss(dials)
        + g + S g + T (g - loss) + lot + bath + date + process + ageing + view + run

with g = film + frame - P (r - mean r) and where that mean lies: the negative.
Effects that every observation has (dials, curve, reading ...) are *general*: one dense vector. S and T say how
otherwise than the usual paper another one sees negatives, and the colour of the light behind negative and filters.
Film, lot, bath with its pace, date, and the view of a frame on another paper than its first are *blocks* of three.
Frames and runs are *local*: three each, met by few trials.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, replace

import numpy as np
import scipy.linalg
import scipy.sparse

from printlore.core.memory.columns import Columns, Floats, Ints, Names, films_read
from printlore.core.memory.evidence import Evidence
from printlore.core.memory.priors import Priors, Spread
from printlore.core.paper.layers import SIDE_COLUMN, SIDE_ROW, LayerCurves, curve, unpack

HEAD_SIZE = 3 + 6 + 3 + 3 + 1 + 1
"""Dial scales (ln), leaks, own curvature, magenta-yellow interaction, rise, size."""
PROCESS_SIZE = 9
"""Ageing by area, by age, by strength."""

_LN10 = np.log(10.0)
_PLANES = np.array([[1.0, 1.0, 1.0], [0.0, 3 / 2**0.5, -3 / 2**0.5], [6**0.5, -(1.5**0.5), -(1.5**0.5)]]) / 3
"""What of a negative the first three parts of a paper's sight are times: its level, and its colour in two directions.
The other two are times the colour of what comes through the filters, too."""
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
    precision : (size, size) prior inverse covariance of the general vector; the prior mean is zero throughout.
    between : (3 blocks, 3 blocks) sparse: prior inverse covariance of the blocks.
    sight : tuple
        Of each paper but the usual one.
    usual_paper : int
        That most trials are on: its gradient is what the blocks' prior counts them times, and other papers' sight is
        counted from its own.
    """

    names: Names
    base: slice
    head: tuple[slice, ...]
    paper: tuple[slice, ...]
    paper_offset: tuple[slice | None, ...]
    sight: tuple[slice | None, ...]
    process: tuple[slice, ...]
    process_offset: tuple[slice | None, ...]
    source: tuple[slice, ...]
    source_offset: tuple[slice | None, ...]
    stop: slice
    person: slice
    size: int
    precision: Floats
    between: scipy.sparse.csr_array
    usual_paper: int
    curves: tuple[LayerCurves, ...]
    gauge: Mapping[str, str]
    films_read: Set[str]


Piece = tuple[str, ...]
"""What general effects are of: kind and name."""


def pieces(layout: Layout) -> Iterator[tuple[Piece, slice]]:
    """What general effects are of, and where they lie."""
    yield ("base",), layout.base
    for kind, names in (
        ("head", layout.names.heads),
        ("paper", layout.names.papers),
        ("process", layout.names.processes),
        ("source", layout.names.sources),
    ):
        for place, name in enumerate(names):
            yield (kind, name), getattr(layout, kind)[place]
            if kind != "head" and (offset := getattr(layout, f"{kind}_offset")[place]) is not None:
                yield (f"{kind} offset", name), offset
    for name, where in zip(layout.names.papers, layout.sight, strict=True):
        if where is not None:
            yield ("sight", name), where
    for place, (head, f_number) in enumerate(layout.names.stops):
        at = layout.stop.start + place
        yield ("stop", head, repr(f_number)), slice(at, at + 1)
    for place, name in enumerate(layout.names.persons):
        at = layout.person.start + 2 * place
        yield ("person", name), slice(at, at + 2)


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
    usual_paper = _usual_paper(evidence, names)
    sight = tuple(None if i == usual_paper else place(_sight_covariance(priors)) for i in range(len(names.papers)))
    process = tuple(place(_process_covariance(priors)) for _ in names.processes)
    process_offset = tuple(
        None if i == 0 else place(spread_covariance(priors.process)) for i in range(len(names.processes))
    )
    gain = np.full((3, 3), priors.reading_leak) + (priors.reading_gain - priors.reading_leak) * np.eye(3)
    source = tuple(place(np.diag(gain.ravel() ** 2)) for _ in names.sources)
    source_offset = tuple(
        None if of is None else place(of) for of in _levels_of_sources(evidence, names.sources, priors)
    )
    stop = place(np.diag(np.full(len(names.stops), priors.stop**2)))
    person = place(np.diag(np.full(2 * len(names.persons), priors.eye_scale**2)))
    size = at
    precision = np.zeros((size, size))
    for where, piece in pieces:
        precision[where, where] = piece
    layout = Layout(
        names=names,
        base=base,
        head=head,
        paper=paper,
        paper_offset=paper_offset,
        sight=sight,
        process=process,
        process_offset=process_offset,
        source=source,
        source_offset=source_offset,
        stop=stop,
        person=person,
        size=size,
        precision=precision,
        between=scipy.sparse.csr_array((3 * len(names.blocks),) * 2),
        usual_paper=usual_paper,
        curves=tuple(LayerCurves.from_facts(evidence.papers[name]) for name in names.papers),
        gauge={"head": names.heads[0] if names.heads else ""},
        films_read=films_read(evidence),
    )
    return with_spreads(layout, priors)


def _levels_of_sources(evidence: Evidence, sources: Sequence[str], priors: Priors) -> list[Floats | None]:
    """(3, 3) covariance of where the mean reading of each source lies among all negatives [log10^2].

    None where it is what all else is counted from: one source read every frame.
    """
    frames = evidence.frames.values()
    count = Counter(frame.reading.source for frame in frames if frame.reading is not None)
    if len(sources) == 1 and count.total() == len(frames):
        return [None]
    film, frame = spread_covariance(priors.film), spread_covariance(priors.frame_blind)
    return [film + frame / count[source] for source in sources]


def _usual_paper(evidence: Evidence, names: Names) -> int:
    count = Counter(evidence.lots[trial.lot] for trial in evidence.trials)
    return max(range(len(names.papers)), key=lambda place: count[names.papers[place]], default=0)


def with_spreads(layout: Layout, spreads: Priors) -> Layout:
    """The same places, the blocks' prior anew from these spreads."""
    known: dict[str, Floats] = {"": 1e8 * np.eye(3)}
    row, column, values = [], [], []
    for tie in ties(layout):
        if tie.spread not in known:
            known[tie.spread] = spread_precision(getattr(spreads, tie.spread))
        precision = known[tie.spread] / tie.span
        row.append(tie.block)
        column.append(tie.block)
        values.append(precision)
        if tie.before >= 0:
            row += [tie.before, tie.block, tie.before]
            column += [tie.before, tie.before, tie.block]
            values += [precision, -precision, -precision]
    count = 3 * len(layout.names.blocks)
    return replace(layout, between=block_matrix(row, column, values, (count, count)))


def block_matrix(
    row: Sequence[int] | Ints, column: Sequence[int] | Ints, values: Sequence[Floats] | Floats, shape: tuple[int, int]
) -> scipy.sparse.csr_array:
    """Sparse matrix of 3 by 3 blocks (n, 3, 3) at these places (n,); what falls together is added."""
    three = np.arange(3)
    rows = np.broadcast_to(3 * np.asarray(row, dtype=np.int64)[:, None, None] + three[:, None], (len(row), 3, 3))
    columns = np.broadcast_to(3 * np.asarray(column, dtype=np.int64)[:, None, None] + three, (len(row), 3, 3))
    data = np.asarray(values, dtype=float).reshape(-1)
    return scipy.sparse.csr_array((data, (rows.ravel(), columns.ravel())), shape=shape)


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


def _sight_covariance(priors: Priors) -> Floats:
    of_level, of_colour, of_light = (
        spread_covariance(spread) for spread in (priors.sight_level, priors.sight_colour, priors.sight_light)
    )
    result: Floats = scipy.linalg.block_diag(of_level, of_colour, of_colour, of_light, of_light)
    return result


def _process_covariance(priors: Priors) -> Floats:
    covariance = np.zeros((PROCESS_SIZE, PROCESS_SIZE))
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
    """Films (read or not), lots, baths, their paces and views each on their own; dates of a head as a random walk."""
    last: dict[str, tuple[int, float]] = {}
    for block, (kind, name, *more) in enumerate(layout.names.blocks):
        if kind == "film":
            yield Tie("film_read" if name in layout.films_read and not more else "film", block)
        elif kind != "date":
            yield Tie(kind, block)
        else:
            day = float(more[0])
            if name in last:
                before, earlier = last[name]
                yield Tie("drift_per_root_day", block, before, day - earlier)
            else:
                yield Tie("other_head" if name != layout.names.heads[0] else "", block)
            last[name] = (block, day)


def ageing(effect: Floats, priors: Priors) -> Floats:
    """(3, 3) log exposure of the layers per m2/L, per day and per unit of strength (rows) from a process's effect."""
    result: Floats = np.array(priors.usual_ageing)[:, None] + effect.reshape(3, 3)
    return result


@dataclass(frozen=True, slots=True)
class Prediction:
    """Densities predicted for rows, and how they move with log exposure.

    Attributes
    ----------
    log_exposure, density : (N, 3)
        Where an eye judged, ``density`` is the aim and by how much more an eye would see of an error than it saw.
    by_layer : (N, 3, 3) d density / d log exposure of each layer
    negative, filters : (N, 3) what the usual paper sees of the negative: film, frame, less the reading; and of filters
        more than the usual pack [log10]
    """

    log_exposure: Floats
    density: Floats
    by_layer: Floats
    negative: Floats
    filters: Floats

    def at(self, rows: Ints | slice) -> "Prediction":
        """Of these rows only."""
        return Prediction(
            self.log_exposure[rows],
            self.density[rows],
            self.by_layer[rows],
            self.negative[rows],
            self.filters[rows],
        )


def predict(
    layout: Layout, columns: Columns, general: Floats, additive: Floats, negative: Floats, priors: Priors
) -> Prediction:
    """Forward model.

    Parameters
    ----------
    general : (size,) general vector
    additive : (N, 3) sum of the blocks, frame and run of each row [log10]
    negative : (N, 3) film and frame among them
    """
    h = general[layout.base] + additive + columns.light[:, None]
    loss = np.zeros_like(h)
    for index, where in enumerate(layout.head):
        mine = _rows_of(columns.head, index)
        filters = _Filters.at(columns.dial[mine], general[where], priors)
        loss[mine] = filters.loss
        h[mine] -= filters.loss
        h[mine] += general[where.start + 16] * columns.size[mine, None]
    for index, where in enumerate(layout.paper):
        mine = _rows_of(columns.paper, index)
        span, _ = _span_of_time(columns, layout, mine, general)
        h[mine] += span[:, None] * (1 + general[where.start : where.start + 3])
        h[mine] += _offset(layout.paper_offset[index], general)
    for index, where in enumerate(layout.process):
        mine = _rows_of(columns.process, index)
        h[mine] += columns.bath_state[mine] @ ageing(general[where], priors)
        h[mine] += _offset(layout.process_offset[index], general)
    negative = negative.copy()
    for index in range(len(layout.source)):
        mine = _rows_of(columns.source, index)
        read = (
            _offset(layout.source_offset[index], general)
            - columns.reading[mine] @ reading_gain(layout, general, index).T
        )
        negative[mine] += read
        h[mine] += read
    for index, of_negative, of_colour in _sights(layout, general):
        mine = _rows_of(columns.paper, index)
        h[mine] += negative[mine] @ of_negative.T - loss[mine] @ of_colour.T
    stopped = np.flatnonzero(columns.stop >= 0)
    h[stopped] += general[layout.stop.start + columns.stop[stopped]][:, None]

    density = np.empty_like(h)
    by_layer = np.empty((columns.rows, 3, 3))
    for index in range(len(layout.paper)):
        mine = _rows_of(columns.paper, index)
        gradient, span_of_dye, asymmetry, amount, mix = unpack(curves_of(layout, general, index).theta)
        change, slope, _ = curve(h[mine], gradient, span_of_dye, asymmetry, amount)
        density[mine] = layout.curves[index].aim + change @ mix.T
        by_layer[mine] = mix * slope[:, None, :]
    judged = np.flatnonzero(columns.person >= 0)
    if len(judged):
        aim, eye = columns.density[judged], seen_by_eye(layout, columns, general, judged)
        density[judged] = aim + (eye @ (density[judged] - aim)[:, :, None])[:, :, 0] - columns.seen[judged]
        by_layer[judged] = eye @ by_layer[judged]
    return Prediction(h, density, by_layer, negative, loss)


def by_general(
    layout: Layout,
    columns: Columns,
    general: Floats,
    prediction: Prediction,
    priors: Priors,
    left: Floats | None = None,
) -> Floats:
    """(N, 3, size) d density / d general vector at a prediction, each row multiplied by its left (N, 3, 3) if given."""
    layers = np.arange(3)
    left = np.broadcast_to(np.eye(3), (columns.rows, 3, 3)) if left is None else left
    layer = left @ prediction.by_layer
    judged = np.flatnonzero(columns.person >= 0)
    if len(judged):
        shown = shown_to_eye(columns, prediction, judged)
        by_scale = left[judged]
        left = left.copy()
        left[judged] = left[judged] @ seen_by_eye(layout, columns, general, judged)
    found = np.zeros((columns.rows, 3, layout.size))
    found[:, :, layout.base] = layer
    by_rise = np.zeros((columns.rows, 3))
    for index, where in enumerate(layout.paper):
        mine = _rows_of(columns.paper, index)
        span, change_with_rise = _span_of_time(columns, layout, mine, general)
        found[mine, :, where.start : where.start + 3] = layer[mine] * span[:, None, None]
        by_rise[mine] = (1 + general[where.start : where.start + 3]) * change_with_rise[:, None]
        _put(found, mine, layout.paper_offset[index], layer)
        found[mine, :, where.start + 3 : where.stop] = density_by_curve(
            curves_of(layout, general, index).theta, prediction.log_exposure[mine], left[mine]
        )
    by_negative = by_filters = layer
    for index, of_negative, of_colour in _sights(layout, general):
        mine, sight = _rows_of(columns.paper, index), layout.sight[index]
        assert sight is not None
        by_negative, by_filters = by_negative.copy(), by_filters.copy()
        by_negative[mine] += layer[mine] @ of_negative
        by_filters[mine] += layer[mine] @ of_colour
        found[mine, :, sight] = layer[mine] @ by_sight(prediction.negative[mine], prediction.filters[mine])
    for index, where in enumerate(layout.head):
        mine = _rows_of(columns.head, index)
        here, at = layer[mine], where.start
        _, by_effect = loss_in_filters(columns.dial[mine], general[where], priors)
        found[mine, :, at : at + 15] = -by_filters[mine] @ by_effect[:, :, :15]
        found[mine, :, at + 15] = np.einsum("nkl,nl->nk", here, by_rise[mine])
        found[mine, :, at + 16] = here.sum(axis=2) * columns.size[mine, None]
    for index, where in enumerate(layout.process):
        mine = _rows_of(columns.process, index)
        for term in range(3):
            at = where.start + 3 * term
            found[mine, :, at : at + 3] = layer[mine] * columns.bath_state[mine, term, None, None]
        _put(found, mine, layout.process_offset[index], layer)
    for index, where in enumerate(layout.source):
        mine = _rows_of(columns.source, index)
        here, reading = by_negative[mine], columns.reading[mine]
        for read in layers:
            found[mine, :, where.start + read : where.stop : 3] = -here * reading[:, read, None, None]
        _put(found, mine, layout.source_offset[index], by_negative)
    stopped = np.flatnonzero(columns.stop >= 0)
    found[stopped, :, layout.stop.start + columns.stop[stopped]] = layer[stopped].sum(axis=2)
    if len(judged):
        place = layout.person.start + 2 * columns.person[judged]
        dark = np.broadcast_to(shown.mean(axis=1, keepdims=True), shown.shape)
        found[judged, :, place] = np.einsum("nkl,nl->nk", by_scale, shown - dark)
        found[judged, :, place + 1] = np.einsum("nkl,nl->nk", by_scale, dark)
    return found


def density_by_curve(theta: Floats, h: Floats, left: Floats) -> Floats:
    """(N, 3, 18) left (N, 3, 3) times d density / d parameters of the curves at log exposures (N, 3)."""
    gradient, span, asymmetry, amount, mix = unpack(theta)
    change, _, (by_gradient, by_span, by_asymmetry, by_amount) = curve(h, gradient, span, asymmetry, amount)
    mixed = left @ mix
    found = np.empty((len(h), 3, 18))
    for at, derivative in enumerate((by_gradient, by_span, by_asymmetry * (1 - asymmetry**2), by_amount)):
        found[:, :, 3 * at : 3 * at + 3] = mixed * derivative[:, None, :]
    found[:, :, 12:] = left[:, :, SIDE_ROW] * change[:, None, SIDE_COLUMN]
    return found


def loss_in_filters(dial: Floats, effect: Floats, priors: Priors) -> tuple[Floats, Floats]:
    """Log exposure (n, 3) that filters take at dials (n, 3), and d of it / d effects of the head (n, 3, 17).

    Parameters
    ----------
    dial : from the head's usual pack, hundreds of dial units
    effect : (17,) of the head
    """
    filters, own = _Filters.at(dial, effect, priors), np.arange(3)
    by_effect = np.zeros((len(dial), 3, HEAD_SIZE))
    by_effect[:, :, :3] = filters.by_scale
    by_effect[:, _LEAK_ROW, 3 + np.arange(6)] = filters.dial[:, _LEAK_COLUMN]
    by_effect[:, own, 9 + own] = -(filters.dial**2)
    by_effect[:, own, 12 + own] = -filters.product[:, None]
    return filters.loss, by_effect


def reading_gain(layout: Layout, general: Floats, source: int) -> Floats:
    """(3, 3) printing density per density read, of one source."""
    return np.eye(3) + general[layout.source[source]].reshape(3, 3)


def _sights(layout: Layout, general: Floats) -> Iterator[tuple[int, Floats, Floats]]:
    """Papers that see otherwise than the usual one: what (3, 3) to add for a negative, S + T, and for its light, T."""
    for index, where in enumerate(layout.sight):
        if where is not None:
            parts = general[where].reshape(5, 3).T
            of_colour = parts[:, 3:] @ _PLANES[1:]
            yield index, parts[:, :3] @ _PLANES + of_colour, of_colour


def by_sight(negative: Floats, filters: Floats) -> Floats:
    """(n, 3, 15) what a paper adds for negatives and what filters take (n, 3) [log10], by its sight."""
    seen = np.hstack([negative @ _PLANES.T, (negative - filters) @ _PLANES[1:].T])
    return np.asarray(np.kron(seen[:, None, :], np.eye(3)), dtype=np.float64)


def gradient_places(layout: Layout) -> Ints:
    """(papers,) where the three ln gradients of each paper begin in the general vector; [-1] without a paper."""
    return np.array([where.start + 3 for where in layout.paper] or [-1], dtype=np.int64)


def curves_of(layout: Layout, general: Floats, paper: int) -> LayerCurves:
    """Curves of a paper as learned."""
    prior, where = layout.curves[paper], layout.paper[paper]
    return LayerCurves(aim=prior.aim, theta=prior.theta + general[where.start + 3 : where.stop])


def _rows_of(column: Ints, index: int) -> Ints | slice:
    mine = column == index
    return slice(None) if mine.all() else np.flatnonzero(mine)


def _offset(where: slice | None, general: Floats) -> Floats | float:
    return 0.0 if where is None else general[where]


def _put(found: Floats, mine: Ints | slice, where: slice | None, layer: Floats) -> None:
    if where is not None:
        found[mine, :, where] = layer[mine]


@dataclass(frozen=True, slots=True)
class _Filters:
    """Light lost in the filters: scale, leak into other layers, curvature, interaction.

    Attributes
    ----------
    dial : (n, 3) dials on the learned scale
    product : (n,) magenta times yellow
    loss : (n, 3) [log10]
    by_scale : (n, 3, 3) d loss / d ln scale of each dial
    """

    dial: Floats
    product: Floats
    loss: Floats
    by_scale: Floats

    @classmethod
    def at(cls, dial: Floats, effect: Floats, priors: Priors) -> "_Filters":
        x = dial * np.exp(effect[0:3])
        leak = np.eye(3)
        leak[_LEAK_ROW, _LEAK_COLUMN] = priors.dial_leak + effect[3:9]
        own, mixed = effect[9:12], effect[12:15]
        product = x[:, 1] * x[:, 2]
        loss = x @ leak.T - own * x**2 - mixed * product[:, None]
        by_scale = leak * x[:, None, :]
        by_scale[:, np.arange(3), np.arange(3)] -= 2 * own * x**2
        by_scale[:, :, 1:] -= (mixed * product[:, None])[:, :, None]
        return cls(x, product, loss, by_scale)


def _span_of_time(columns: Columns, layout: Layout, mine: Ints | slice, general: Floats) -> tuple[Floats, Floats]:
    """(n,) log10 of the time the lamp was really on over the usual one, and its change with the lamp's rise."""
    rise = general[np.array([s.start + 15 for s in layout.head], dtype=np.int64)[columns.head[mine]]]
    time, usual = columns.time[mine], columns.usual_time[mine]
    left = time - np.minimum(rise, 0.8 * time)
    usual_left = usual - np.minimum(rise, 0.8 * usual)
    return np.log10(left / usual_left), (1 / usual_left - 1 / left) / _LN10


def noise_of(columns: Columns, learned: Priors, prediction: Prediction) -> Floats:
    """(N, 3, 3) covariance of each observation in density, run noise apart; what an eye errs by is as learned.

    An eye errs more where there is more to see, and that is what the print shows, not what the eye says: the large
    ones of its errors would count for less than the small ones.
    """
    judged = np.flatnonzero(columns.person >= 0)
    if not len(judged):
        return columns.noise
    shown = shown_to_eye(columns, prediction, judged)
    dark = shown.mean(axis=1, keepdims=True)
    share = learned.eye_share**2
    common, colour = share * np.square(dark[:, 0]), share * np.square(np.abs(shown - dark).max(axis=1))
    noise = columns.noise.copy()
    noise[judged] = spread_covariance(learned.eye) + common[:, None, None] + colour[:, None, None] * np.eye(3)
    return noise


def shown_to_eye(columns: Columns, prediction: Prediction, judged: Ints) -> Floats:
    """(n, 3) what an eye would say of the predicted error of density, did it not err."""
    result: Floats = prediction.density[judged] - columns.density[judged] + columns.seen[judged]
    return result


def seen_by_eye(layout: Layout, columns: Columns, general: Floats, judged: Ints) -> Floats:
    """(n, 3, 3) what the eyes of these rows say of an error of density, by that error: each has scales of its own.

    The print shows the error and the eye errs in what it says of it. The other way round, as if the print lay where the
    eye says but for an error, small casts that are mostly the eye's own error would teach that nothing it says counts.
    """
    place = layout.person.start + 2 * columns.person[judged]
    cast, dark = (np.exp(general[place + which])[:, None, None] for which in (0, 1))
    result: Floats = cast * (np.eye(3) - 1 / 3) + dark / 3
    return result
