"""One linear step of the memory: runs and frames eliminated, shared effects solved in the order of time.

The normal matrix has the shape of an arrow: runs meet one frame each (mostly), frames meet only shared
effects. Eliminating them leaves a system in the general vector and the blocks. Frames are taken a few hundred at a
time, so that what is worked on stays in the processor's cache: cost is linear in the trials.
"""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt
import scipy.linalg
import scipy.sparse
import scipy.sparse.csgraph

from printlore.core.memory.columns import Columns, Floats, Ints
from printlore.core.memory.envelope import Factor, Updated
from printlore.core.memory.model import Layout, Prediction, block_matrix
from printlore.core.memory.threes import half_inverse, inverses

DIAL_EFFECTS = 15
"""Of a head: scales, leaks, curvature and interaction come first."""
_CELLS_TOGETHER = 1500
"""Cells that are worked on together, at least."""


@dataclass(slots=True)
class State:
    """Current value of every unknown.

    Attributes
    ----------
    general : (size,)
    blocks : (blocks, 3)
    frames : (frames, 3) below the film: -(printing density less the film's)
    runs : (runs, 3)
    """

    general: Floats
    blocks: Floats
    frames: Floats
    runs: Floats

    @classmethod
    def zero(cls, layout: Layout, columns: Columns) -> "State":
        """Everything at its prior mean."""
        return cls(
            np.zeros(layout.size),
            np.zeros((len(columns.names.blocks), 3)),
            np.zeros((len(columns.names.frames), 3)),
            np.zeros((columns.run_count, 3)),
        )

    def stepped(self, other: "State", length: float) -> "State":
        """This state plus a length of a step."""
        return State(
            self.general + length * other.general,
            self.blocks + length * other.blocks,
            self.frames + length * other.frames,
            self.runs + length * other.runs,
        )

    def additive(self, columns: Columns) -> Floats:
        """(N, 3) sum of blocks, frame and run of each row [log10]."""
        per_cell = self.frames[columns.cell_frame] + self.runs[columns.cell_run]
        for column in range(columns.cell_blocks.shape[1]):
            index, share = columns.cell_blocks[:, column, None], columns.cell_shares[:, column, None]
            per_cell += np.where(index >= 0, share * self.blocks[index[:, 0]], 0.0)
        return per_cell[columns.cell]

    def negatives(self, columns: Columns) -> Floats:
        """(N, 3) film and frame of each row [log10]."""
        per_cell = self.frames[columns.cell_frame] + self.blocks[columns.cell_blocks[:, 0]]
        return per_cell[columns.cell]


@dataclass(frozen=True, slots=True)
class Scales:
    """Precisions that the elimination needs.

    Attributes
    ----------
    whitener : (N, 3, 3) K of each row: K'K is the inverse noise covariance in density
    frame : (frames, 3, 3) prior precision
    run : (3, 3) prior covariance
    gradient : (frames,) place in the general vector of the three ln gradients that the prior counts a frame's
        deviation times; -1 if as it is
    gradient_of_blocks : the same of all blocks
    unsure : (2 persons,) of each scale of an eye: what was shown to it, as far as that is not known, over what it errs,
        squared and summed, for a scale of 1; none by default
    at_once : of frames whose first print was kept; None if there are none
    """

    whitener: Floats
    frame: Floats
    run: Floats
    gradient: Ints
    gradient_of_blocks: int = -1
    unsure: Floats | None = None
    at_once: "AtOnce | None" = None


@dataclass(frozen=True, slots=True)
class AtOnce:
    """Frames whose first print was kept: what they ask of the dials that it was made with.

    Attributes
    ----------
    place : (frames,) where what those dials do begins in the general vector; -1 for all other frames
    by_dials : (frames, 3, 15) how the print's log exposure moves with that
    """

    place: Ints
    by_dials: Floats


@dataclass(frozen=True, slots=True)
class Knots:
    """Frames that hang together by runs they share: knots of as many unknowns each.

    Attributes
    ----------
    members : (knots, n) local unknowns of each
    cells : (m,) cells that tie a frame to a shared run
    knot, frame, run : (m,) in which knot each of these is, and which of its members they tie
    """

    members: Ints
    cells: Ints
    knot: Ints
    frame: Ints
    run: Ints


@dataclass(frozen=True, slots=True)
class Part:
    """Frames with all that only they meet, and which blocks they touch: fixed by the evidence.

    Local unknowns are the frames, then the runs that several frames share (three each). All but ``rows``, ``cells``,
    ``frames``, ``runs`` and ``blocks`` is numbered within the part.

    Attributes
    ----------
    rows, cells : slice of the columns
    nested, single : (cells,) whether a cell has its run to itself; whether it has one row, too
    frames, runs, blocks : numbers in the memory of those of this part
    """

    columns: Columns
    rows: slice
    cells: slice
    frames: Ints
    runs: Ints
    blocks: Ints
    starts: Ints
    cell: Ints
    nested: npt.NDArray[np.bool_]
    single: npt.NDArray[np.bool_]
    frame: Ints
    run: Ints
    shared_runs: Ints
    knots: tuple[Knots, ...]
    pair_local: Ints
    pair_block: Ints
    to_pair: scipy.sparse.csr_matrix
    to_block: scipy.sparse.csr_matrix
    to_block_pair: scipy.sparse.csr_matrix
    to_local: scipy.sparse.csr_matrix


@dataclass(frozen=True, slots=True)
class Links:
    """The record in parts that meet only through shared effects, and the order of these.

    Attributes
    ----------
    unprinted : frames that no trial shows
    order : (3 blocks,) which unknown of the blocks comes when: by last use
    part_of_frame : (frames,) part in which each frame is; -1 if unprinted
    """

    parts: tuple[Part, ...]
    unprinted: Ints
    order: Ints
    part_of_frame: Ints


def link(columns: Columns) -> Links:
    """Incidence of cells, frames, shared runs and blocks."""
    cells = len(columns.cell_frame)
    ends = [0, *_ends(columns)] if cells else [0]
    edges = [0]
    for end in ends[1:]:
        if end - edges[-1] >= _CELLS_TOGETHER or end == cells:
            edges.append(end)
    parts = tuple(part_of(columns, begin, end) for begin, end in pairwise(edges))
    part_of_frame = np.full(len(columns.names.frames), -1, dtype=np.int64)
    for number, part in enumerate(parts):
        part_of_frame[part.frames] = number
    blocks = np.lexsort((-np.arange(len(columns.block_last)), columns.block_last))
    return Links(
        parts=parts,
        unprinted=np.flatnonzero(part_of_frame < 0),
        order=(3 * blocks[:, None] + np.arange(3)).ravel(),
        part_of_frame=part_of_frame,
    )


def _ends(columns: Columns) -> list[int]:
    """After which cells no frame and no run goes on."""
    cells = np.arange(len(columns.cell_frame))
    last = np.zeros(len(cells), dtype=np.int64)
    for of_cell in (columns.cell_frame, columns.cell_run):
        latest = np.zeros(int(of_cell.max()) + 1, dtype=np.int64)
        np.maximum.at(latest, of_cell, cells)
        last = np.maximum(last, latest[of_cell])
    return (np.flatnonzero(np.maximum.accumulate(last) == cells) + 1).tolist()


def part_of(columns: Columns, begin: int, end: int) -> Part:
    """The cells from begin to end, which share no frame and no run with any other."""
    cells = end - begin
    first_row, last_row = np.searchsorted(columns.cell, [begin, end]).tolist()
    frames, frame = np.unique(columns.cell_frame[begin:end], return_inverse=True)
    runs, run = np.unique(columns.cell_run[begin:end], return_inverse=True)
    nested = columns.cell_nested[begin:end]
    block_of_cell, share = columns.cell_blocks[begin:end], columns.cell_shares[begin:end]
    there = block_of_cell >= 0
    blocks, met = np.unique(block_of_cell[there], return_inverse=True)
    block = np.full(block_of_cell.shape, -1, dtype=np.int64)
    block[there] = met
    shared_runs, place = np.unique(run[~nested], return_inverse=True)
    count = len(frames) + len(shared_runs)
    cell_index = np.concatenate([np.arange(cells), np.flatnonzero(~nested)])
    local_index = np.concatenate([frame, len(frames) + place])

    cell, _ = np.nonzero(there)
    to_block = _incidence(met, cell, share[there], (len(blocks), cells))
    one, two = block[:, :, None], block[:, None, :]
    both = (one >= 0) & (two >= 0)
    cell, _, _ = np.nonzero(both)
    product = (share[:, :, None] * share[:, None, :])[both]
    to_block_pair = _incidence((one * len(blocks) + two)[both], cell, product, (len(blocks) ** 2, cells))
    own, own_share = block[cell_index], share[cell_index]
    real = own >= 0
    key = (local_index[:, None] * len(blocks) + own)[real]
    unique, pair = np.unique(key, return_inverse=True)
    pair_cell = np.broadcast_to(cell_index[:, None], own.shape)[real]
    return Part(
        columns=columns.between(first_row, last_row),
        rows=slice(first_row, last_row),
        cells=slice(begin, end),
        frames=frames,
        runs=runs,
        blocks=blocks,
        starts=np.searchsorted(columns.cell[first_row:last_row], np.arange(begin, end)),
        cell=columns.cell[first_row:last_row] - begin,
        nested=nested,
        single=nested & (np.bincount(columns.cell[first_row:last_row] - begin, minlength=cells) == 1),
        frame=frame,
        run=run,
        shared_runs=shared_runs,
        knots=_knots(frame, run, nested, len(frames), shared_runs),
        pair_local=unique // max(len(blocks), 1),
        pair_block=unique % max(len(blocks), 1),
        to_pair=_incidence(pair, pair_cell, own_share[real], (len(unique), cells)),
        to_block=to_block,
        to_block_pair=to_block_pair,
        to_local=_incidence(local_index, cell_index, np.ones(len(cell_index)), (count, cells)),
    )


def _incidence(row: Ints, column: Ints, share: Floats, shape: tuple[int, int]) -> scipy.sparse.csr_matrix:
    return scipy.sparse.csr_matrix((share, (row, column)), shape=shape)


def _knots(frame: Ints, run: Ints, nested: npt.NDArray[np.bool_], frames: int, shared_runs: Ints) -> tuple[Knots, ...]:
    """Knots of frames that share runs, by how many unknowns they have."""
    if not len(shared_runs):
        return ()
    cells = np.flatnonzero(~nested)
    frame, local_run = frame[cells], frames + np.searchsorted(shared_runs, run[cells])
    size = frames + len(shared_runs)
    graph = scipy.sparse.csr_matrix((np.ones(len(cells)), (frame, local_run)), shape=(size, size))
    _, label = scipy.sparse.csgraph.connected_components(graph, directed=False)
    members = np.concatenate([np.unique(frame), np.unique(local_run)])
    members = members[np.argsort(label[members], kind="stable")]
    labels, begin, count = np.unique(label[members], return_index=True, return_counts=True)
    knot_of_cell = np.searchsorted(labels, label[frame])
    place = np.empty(size, dtype=np.int64)
    place[members] = np.arange(len(members)) - np.repeat(begin, count)
    found = []
    for n in np.unique(count).tolist():
        alike = np.flatnonzero(count == n)
        mine = np.flatnonzero(count[knot_of_cell] == n)
        found.append(
            Knots(
                members=members[begin[alike, None] + np.arange(n)],
                cells=cells[mine],
                knot=np.searchsorted(alike, knot_of_cell[mine]),
                frame=place[frame[mine]],
                run=place[local_run[mine]],
            )
        )
    return tuple(found)


@dataclass(slots=True)
class Reduced:
    """A part with its runs and frames eliminated: what they add to the shared system, and how they follow it.

    Attributes
    ----------
    general : (size, size), cross : (3 blocks, size), between : (3 blocks, 3 blocks) added information
    right_general, right_blocks : added to the right side
    half : (3 locals, 3 locals) sparse inverse factor of the local system
    covariance : (frames, 3, 3) of each frame, shared effects given
    own_general, own_right, own_blocks : local quantities times it
    run_spread, weight, gradient, cell_general : of each cell: prior covariance of its run; information about its log
        exposure, right side, and both with the general effects, its run eliminated if it has it to itself
    """

    general: Floats
    right_general: Floats
    cross: Floats
    right_blocks: Floats
    between: Floats
    half: scipy.sparse.csr_matrix
    covariance: Floats
    own_general: Floats
    own_right: Floats
    own_blocks: scipy.sparse.csr_matrix
    run_spread: Floats
    weight: Floats
    gradient: Floats
    cell_general: Floats | None


@dataclass(slots=True)
class Elimination:
    """The step, and what is needed to say how sure it is.

    Attributes
    ----------
    factor : of the shared system (general vector, then blocks)
    local_covariance : (frames, 3, 3) of each frame, shared effects given
    watched : cells of which is known how their run follows
    run_covariance : (watched, 3, 3) of their run, all else given
    run_by_exposure, run_by_general : (watched, 3, 3), (watched, 3, size) minus how their run follows
    """

    step: State
    factor: Factor | Updated
    local_covariance: Floats
    links: Links
    reduced: tuple[Reduced, ...]
    watched: Ints
    run_covariance: Floats
    run_by_exposure: Floats
    run_by_general: Floats

    @property
    def shared(self) -> int:
        """How many shared unknowns there are."""
        return len(self.factor)

    def half(self, rows: Floats) -> Floats:
        """(shared, k) of combinations (k, shared) of the shared effects: its products are their covariances."""
        return self.factor.half(rows)

    def half_of_blocks(self, places: Ints) -> Floats:
        """(shared, n, 3) of these blocks (n,) themselves."""
        rows = np.zeros((3 * len(places), self.shared))
        rows[np.arange(len(rows)), (self.factor.general + 3 * places[:, None] + np.arange(3)).ravel()] = 1.0
        return self.half(rows).reshape(self.shared, len(places), 3)

    def half_general(self, rows: Floats) -> Floats:
        """The same of combinations (k, size) of the general effects."""
        result: Floats = self.factor.half_general @ rows.T
        return result

    def covariances(self, half: Floats) -> tuple[Floats, Floats, Floats]:
        """Of the general effects (size, size), with what has this half (shared, k), and of that (k, k)."""
        return self.factor.covariance_general, self.factor.half_general.T @ half, half.T @ half

    def follow(self, frames: Ints) -> Floats:
        """(n, 3, shared) minus how these frames follow the shared effects."""
        size = self.factor.general
        found = np.zeros((len(frames), 3, self.shared))
        part_of = self.links.part_of_frame[frames]
        for number in np.unique(part_of[part_of >= 0]).tolist():
            mine = np.flatnonzero(part_of == number)
            part, reduced = self.links.parts[number], self.reduced[number]
            local = np.searchsorted(part.frames, frames[mine])
            rows = reduced.half.T.tocsr()[(3 * local[:, None] + np.arange(3)).ravel()]
            found[mine, :, :size] = (rows @ reduced.own_general.reshape(-1, size)).reshape(-1, 3, size)
            if len(part.blocks):
                columns = size + (3 * part.blocks[:, None] + np.arange(3)).ravel()
                dense = (rows @ reduced.own_blocks).toarray().reshape(-1, 3, len(columns))
                found[mine[:, None, None], np.arange(3)[:, None], columns] = dense
        return found


Slopes = Callable[[Part, Prediction, Floats], Floats]
"""d density / d general vector (rows, 3, size) of a part at a prediction, multiplied by (rows, 3, 3) on the left."""


def eliminate(
    layout: Layout,
    links: Links,
    state: State,
    prediction: Prediction,
    residual: Floats,
    scales: Scales,
    trust: Floats,
    slopes: Slopes,
    watched: Ints | None = None,
) -> Elimination:
    """Gauss-Newton step.

    Parameters
    ----------
    residual : (N, 3) observed less predicted density
    trust : (cells,) probability that a cell is no blunder: scales all its information
    watched : cells of which to keep how their run follows; none by default
    """
    size, blocks = layout.size, len(state.blocks)
    reduced = tuple(reduce_part(part, state, prediction, residual, scales, trust, slopes) for part in links.parts)
    general, right = layout.precision.copy(), np.zeros(size + 3 * blocks)
    right[:size] = -layout.precision @ state.general
    right[size:] = -(layout.between @ state.blocks.ravel())
    cross = np.zeros((3 * blocks, size))
    row, column, values = [], [], []
    three = np.arange(3)
    for part, one in zip(links.parts, reduced, strict=True):
        general += one.general
        right[:size] += one.right_general
        where = (3 * part.blocks[:, None] + three).ravel()
        cross[where] += one.cross
        right[size + where] += one.right_blocks
        count = len(part.blocks)
        filled = one.between.reshape(count, 3, count, 3).transpose(0, 2, 1, 3)
        met, other = np.nonzero(filled.any(axis=(2, 3)))
        row.append(part.blocks[met])
        column.append(part.blocks[other])
        values.append(filled[met, other])
    between = layout.between
    if row:
        between = between + block_matrix(
            np.concatenate(row), np.concatenate(column), np.concatenate(values), (3 * blocks, 3 * blocks)
        )
    if scales.gradient_of_blocks >= 0:
        at, layer = scales.gradient_of_blocks, np.tile(three, blocks)
        deviation = scipy.sparse.csr_array(
            (state.blocks.ravel(), (np.arange(3 * blocks), layer)), shape=(3 * blocks, 3)
        )
        times = layout.between @ deviation
        cross[:, at : at + 3] += times.toarray()
        general[at : at + 3, at : at + 3] += (deviation.T @ times).toarray()
        right[at : at + 3] -= times.T @ state.blocks.ravel()
    if scales.unsure is not None:
        # the errors that an eye was shown are known from what it said of them: were they taken as sure, a larger scale
        # would make all of them smaller, at no charge, and would creep upwards
        told = scales.unsure * np.exp(2 * state.general[layout.person])
        place = np.arange(size)[layout.person]
        general[place, place] += 2 * told
        right[place] -= told
    factor = Factor(general, cross, between, links.order)
    shared = factor.solve(right)
    step = State(shared[:size], shared[size:].reshape(-1, 3), -state.frames, np.zeros_like(state.runs))
    covariance = inverses(scales.frame)
    watched = np.zeros(0, dtype=np.int64) if watched is None else watched
    kept = [np.zeros((len(watched), 3, 3)), np.zeros((len(watched), 3, 3)), np.zeros((len(watched), 3, size))]
    for part, one in zip(links.parts, reduced, strict=True):
        follow_part(part, one, state, step)
        covariance[part.frames] = one.covariance
        mine = np.flatnonzero((watched >= part.cells.start) & (watched < part.cells.stop))
        local = watched[mine] - part.cells.start
        assert one.cell_general is not None
        spread = one.run_spread[local]
        kept[1][mine] = spread @ one.weight[local]
        kept[0][mine] = spread - kept[1][mine] @ spread
        kept[2][mine] = spread @ one.cell_general[local]
        one.cell_general = None
    return Elimination(
        step=step,
        factor=factor,
        local_covariance=covariance,
        links=links,
        reduced=reduced,
        watched=watched,
        run_covariance=kept[0],
        run_by_exposure=kept[1],
        run_by_general=kept[2],
    )


def reduce_part(
    part: Part,
    state: State,
    prediction: Prediction,
    residual: Floats,
    scales: Scales,
    trust: Floats,
    slopes: Slopes,
) -> Reduced:
    """Eliminate the runs and frames of a part."""
    rows = part.rows
    trust = trust[part.cells]
    here = prediction.at(rows)
    runs = state.runs[part.runs]
    whitener, missed = scales.whitener[rows], residual[rows]
    # the run of a single row is noise of that row: it counts in the row's covariance
    single = np.flatnonzero(part.single)
    at = part.starts[single]
    slope = whitener[at] @ here.by_layer[at]
    whitener, missed = whitener.copy(), missed.copy()
    whitener[at] = half_inverse(np.eye(3) + slope @ scales.run @ np.swapaxes(slope, 1, 2)) @ whitener[at]
    missed[at] += times(here.by_layer[at], runs[part.run[single]])
    whitener *= np.sqrt(trust[part.cell])[:, None, None]
    a = slopes(part, here, whitener)
    layer = np.swapaxes(whitener @ here.by_layer, 1, 2)
    miss = times(whitener, missed)
    size = a.shape[2]
    flat = a.reshape(-1, size)
    h_gg = flat.T @ flat
    b_g = flat.T @ miss.ravel()
    weight = by_cell(layer @ np.swapaxes(layer, 1, 2), part.starts)
    general = by_cell(layer @ a, part.starts)
    gradient = by_cell(times(layer, miss), part.starts)

    # a run that several frames share is eliminated with them, not here
    several = np.flatnonzero(part.nested & ~part.single)
    run_spread = scales.run / trust[:, None, None]
    if len(several):
        prior = inverses(run_spread[several])
        run_half = half_inverse(weight[several] + prior)
        through = run_half @ general[several]
        pulled = times(run_half, gradient[several] - times(prior, runs[part.run[several]]))
        flat = through.reshape(-1, size)
        h_gg -= flat.T @ flat
        b_g -= pulled.ravel() @ flat
        back = weight[several] @ np.swapaxes(run_half, 1, 2)
        weight[several] -= back @ np.swapaxes(back, 1, 2)
        general[several] -= back @ through
        gradient[several] -= times(back, pulled)

    frames, count = len(part.frames), part.to_local.shape[0]
    local_prior = np.empty((count, 3, 3))
    local_prior[:frames] = scales.frame[part.frames]
    local_prior[frames:] = inverses(scales.run[None])
    local_state = np.concatenate([state.frames[part.frames], runs[part.shared_runs]])
    local_weight = (part.to_local @ weight.reshape(-1, 9)).reshape(-1, 3, 3) + local_prior
    local_general = (part.to_local @ general.reshape(-1, 3 * size)).reshape(-1, 3, size)
    local_gradient = part.to_local @ gradient - times(local_prior, local_state)
    _count_times_gradient(scales.gradient[part.frames], local_prior, local_state, local_general, h_gg, b_g)
    if (kept := scales.at_once) is not None:
        beside = kept.place[part.frames], kept.by_dials[part.frames]
        _count_beside_dials(*beside, local_prior, local_state, local_general, h_gg, b_g)
    pair = (part.to_pair @ weight.reshape(-1, 9)).reshape(-1, 3, 3)
    half, covariance = _half(part, weight, local_weight)
    own_general = (half @ local_general.reshape(-1, size)).reshape(-1, 3, size)
    own_right = half @ local_gradient.ravel()
    blocks = len(part.blocks)
    own_blocks = half @ block_matrix(part.pair_local, part.pair_block, pair, (3 * count, 3 * blocks))
    flat = own_general.reshape(-1, size)
    h_gg -= flat.T @ flat
    b_g -= flat.T @ own_right
    cross = (part.to_block @ general.reshape(-1, 3 * size)).reshape(3 * blocks, size) - own_blocks.T @ flat
    both = (part.to_block_pair @ weight.reshape(-1, 9)).reshape(blocks, blocks, 3, 3)
    between = both.transpose(0, 2, 1, 3).reshape(3 * blocks, 3 * blocks) - (own_blocks.T @ own_blocks).toarray()
    return Reduced(
        general=h_gg,
        right_general=b_g,
        cross=cross,
        right_blocks=(part.to_block @ gradient).ravel() - own_blocks.T @ own_right,
        between=between,
        half=half,
        covariance=covariance[:frames],
        own_general=own_general,
        own_right=own_right,
        own_blocks=own_blocks,
        run_spread=run_spread,
        weight=weight,
        gradient=gradient,
        cell_general=general,
    )


def _count_times_gradient(
    place: Ints, prior: Floats, deviation: Floats, general: Floats, h_gg: Floats, b_g: Floats
) -> None:
    """Add what the prior of frames whose deviation u counts times the gradient g, found at a place, says about that.

    The prior is on g u / g0, where g0 is the gradient at the present state: d (g u / g0) / d ln g = u. With the prior
    on u alone a steeper curve, with dials and times that do less, would make every deviation smaller at no charge
    (how large they are is learned, too), and with hundreds of them the gradient would creep upwards.
    """
    for at in np.unique(place[place >= 0]).tolist():
        mine = np.flatnonzero(place == at)
        u = deviation[mine]
        cross = prior[mine] * u[:, None, :]
        general[mine, :, at : at + 3] += cross
        h_gg[at : at + 3, at : at + 3] += (u[:, :, None] * cross).sum(axis=0)
        b_g[at : at + 3] -= np.einsum("nk,nkl->l", u, cross)


def _count_beside_dials(
    place: Ints, by_dials: Floats, prior: Floats, deviation: Floats, general: Floats, h_gg: Floats, b_g: Floats
) -> None:
    """Add what the prior of frames whose first print was kept says about what dials do, found at a place.

    Such a setting was chosen by one who knew the negative, by what is in no record: here the setting follows from the
    frame, where else the density does. So the deviation counts as it is, not times the gradient, and beside what the
    dials do at that setting. With the prior on the whole, dials that do less would make all negatives more alike, at no
    charge: fifteen notes of good settings, and nothing else, had them do half of what they do.
    """
    for at in np.unique(place[place >= 0]).tolist():
        mine = np.flatnonzero(place == at)
        u, moves = deviation[mine], by_dials[mine]
        cross = prior[mine] @ moves
        where = slice(at, at + DIAL_EFFECTS)
        general[mine, :, where] += cross
        h_gg[where, where] += np.einsum("nkl,nkm->lm", moves, cross)
        b_g[where] -= np.einsum("nk,nkl->l", u, cross)


def follow_part(part: Part, reduced: Reduced, state: State, step: State) -> None:
    """Write into a step from a state how the frames and runs of a part follow its shared effects."""
    size = len(step.general)
    assert reduced.cell_general is not None
    blocks = step.blocks[part.blocks]
    right = reduced.own_right - reduced.own_general.reshape(-1, size) @ step.general
    right = right - reduced.own_blocks @ blocks.ravel()
    local = (reduced.half.T @ right).reshape(-1, 3)
    frames = len(part.frames)
    step.frames[part.frames] = local[:frames]
    step.runs[part.runs[part.shared_runs]] = local[frames:]
    per_cell = local[part.frame] + part.to_block.T @ blocks
    left = reduced.gradient - times(reduced.weight, per_cell) - reduced.cell_general @ step.general
    of_nested = part.runs[part.run[part.nested]]
    step.runs[of_nested] = times(reduced.run_spread, left)[part.nested] - state.runs[of_nested]


def times(matrix: Floats, vector: Floats) -> Floats:
    """(n, k) of matrices (n, k, l) and vectors (n, l)."""
    result: Floats = np.einsum("nkl,nl->nk", matrix, vector)
    return result


def by_cell(values: Floats, starts: Ints) -> Floats:
    """Sums of rows (n, ...) over the cells that begin at starts."""
    if len(starts) == len(values):
        return values
    found = values[starts]
    count = np.diff(starts, append=len(values))
    for more in range(1, int(count.max())):
        longer = np.flatnonzero(count > more)
        found[longer] += values[starts[longer] + more]
    return found


def _half(part: Part, left_weight: Floats, local_weight: Floats) -> tuple[scipy.sparse.csr_matrix, Floats]:
    """Inverse Cholesky factor (3 locals, 3 locals) of the local system, and covariance (locals, 3, 3) of each."""
    count = len(local_weight)
    tied = np.zeros(count, dtype=bool)
    for knots in part.knots:
        tied[knots.members] = True
    alone = np.flatnonzero(~tied)
    own = half_inverse(local_weight[alone])
    covariance = np.empty((count, 3, 3))
    covariance[alone] = np.swapaxes(own, 1, 2) @ own
    row, column, data = [alone], [alone], [own]
    for knots in part.knots:
        many, n = knots.members.shape
        system = np.zeros((many, n, n, 3, 3))
        system[:, np.arange(n), np.arange(n)] = local_weight[knots.members]
        weight = left_weight[knots.cells]
        np.add.at(system, (knots.knot, knots.frame, knots.run), weight)
        np.add.at(system, (knots.knot, knots.run, knots.frame), weight)
        lower = np.linalg.cholesky(system.transpose(0, 1, 3, 2, 4).reshape(many, 3 * n, 3 * n))
        half = np.linalg.solve(lower, np.eye(3 * n)).reshape(many, n, 3, n, 3).transpose(0, 1, 3, 2, 4)
        row.append(np.repeat(knots.members, n, axis=1).ravel())
        column.append(np.tile(knots.members, n).ravel())
        data.append(half.reshape(-1, 3, 3))
        columns = half.transpose(0, 2, 4, 1, 3).reshape(many, n, 3, 3 * n)
        covariance[knots.members] = columns @ np.swapaxes(columns, 2, 3)
    whole = block_matrix(np.concatenate(row), np.concatenate(column), np.concatenate(data), (3 * count, 3 * count))
    return whole, covariance
