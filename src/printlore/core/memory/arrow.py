"""One linear step of the memory: runs and frames eliminated, shared effects solved densely.

The normal matrix has the shape of an arrow: runs meet one frame each (mostly), frames meet only shared
effects. Eliminating them leaves a dense system in the general vector and the blocks, so the cost is
linear in the trials.
"""

from dataclasses import dataclass

import numpy as np
import scipy.linalg
import scipy.sparse

from printlore.core.memory.columns import Columns, Floats, Ints
from printlore.core.memory.model import Layout, Prediction, inverse


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


@dataclass(frozen=True, slots=True)
class Scales:
    """Precisions that the elimination needs.

    Attributes
    ----------
    observation : (N, 3, 3) inverse noise covariance of each row, in density
    frame : (frames, 3, 3) prior precision
    run : (3, 3) prior precision
    """

    observation: Floats
    frame: Floats
    run: Floats


@dataclass(frozen=True, slots=True)
class Links:
    """Which local unknowns meet which blocks: fixed by the evidence, made once.

    Local unknowns are the frames, then the runs that several frames share (three each).
    """

    starts: Ints
    shared_runs: Ints
    knots: tuple[tuple[Ints, Ints], ...]
    alone: Ints
    pair_local: Ints
    pair_block: Ints
    to_pair: scipy.sparse.csr_matrix
    to_block: scipy.sparse.csr_matrix
    to_block_pair: scipy.sparse.csr_matrix
    to_local: scipy.sparse.csr_matrix


def link(columns: Columns) -> Links:
    """Incidence of cells, frames, shared runs and blocks."""
    cells, frames = len(columns.cell_frame), len(columns.names.frames)
    starts = np.searchsorted(columns.cell, np.arange(cells))
    shared_runs, place = np.unique(columns.cell_run[~columns.cell_nested], return_inverse=True)
    local_of_cell = [(np.arange(cells), columns.cell_frame)]
    if len(shared_runs):
        local_of_cell.append((np.flatnonzero(~columns.cell_nested), frames + place))
    cell_index = np.concatenate([c for c, _ in local_of_cell])
    local_index = np.concatenate([i for _, i in local_of_cell])
    locals_count = frames + len(shared_runs)
    to_local = _incidence(local_index, cell_index, np.ones(len(cell_index)), (locals_count, cells))

    columns_count = columns.cell_blocks.shape[1]
    block_cell = np.repeat(np.arange(cells), columns_count)
    block_index = columns.cell_blocks.ravel()
    real = block_index >= 0
    blocks = len(columns.names.blocks)
    to_block = _incidence(block_index[real], block_cell[real], columns.cell_shares.ravel()[real], (blocks, cells))

    one, two = columns.cell_blocks[:, :, None], columns.cell_blocks[:, None, :]
    met = (one >= 0) & (two >= 0)
    cell, _, _ = np.nonzero(met)
    both = (one * blocks + two)[met]
    product = (columns.cell_shares[:, :, None] * columns.cell_shares[:, None, :])[met]
    to_block_pair = _incidence(both, cell, product, (blocks * blocks, cells))

    keys, key_cell, key_share = [], [], []
    for cell, local in local_of_cell:
        for column in range(columns_count):
            block = columns.cell_blocks[cell, column]
            there = block >= 0
            keys.append(local[there] * max(blocks, 1) + block[there])
            key_cell.append(cell[there])
            key_share.append(columns.cell_shares[cell[there], column])
    unique, pair = np.unique(np.concatenate(keys), return_inverse=True)
    to_pair = _incidence(pair, np.concatenate(key_cell), np.concatenate(key_share), (len(unique), cells))
    knots = _knots(columns, shared_runs)
    tied = np.concatenate([members for members, _ in knots]) if knots else np.zeros(0, dtype=np.int64)
    alone = np.setdiff1d(np.arange(locals_count), tied)
    return Links(
        starts=starts,
        shared_runs=shared_runs,
        knots=knots,
        alone=alone,
        pair_local=unique // max(blocks, 1),
        pair_block=unique % max(blocks, 1),
        to_pair=to_pair,
        to_block=to_block,
        to_block_pair=to_block_pair,
        to_local=to_local,
    )


def _incidence(row: Ints, column: Ints, share: Floats, shape: tuple[int, int]) -> scipy.sparse.csr_matrix:
    return scipy.sparse.csr_matrix((share, (row, column)), shape=shape)


def _knots(columns: Columns, shared_runs: Ints) -> tuple[tuple[Ints, Ints], ...]:
    """(local unknowns, cells) of each knot of frames that share runs."""
    if not len(shared_runs):
        return ()
    frames = len(columns.names.frames)
    cells = np.flatnonzero(~columns.cell_nested)
    run = frames + np.searchsorted(shared_runs, columns.cell_run[cells])
    size = frames + len(shared_runs)
    graph = scipy.sparse.csr_matrix((np.ones(len(cells)), (columns.cell_frame[cells], run)), shape=(size, size))
    _, label = scipy.sparse.csgraph.connected_components(graph, directed=False)
    cell_label = label[columns.cell_frame]
    return tuple(
        (np.flatnonzero(label == one), np.flatnonzero(cell_label == one)) for one in np.unique(label[run]).tolist()
    )


@dataclass(slots=True)
class Elimination:
    """The step, and what is needed to say how sure it is.

    Attributes
    ----------
    factor : lower Cholesky factor of the shared system (general vector, then blocks)
    local_covariance : (locals, 3, 3) of each frame and shared run, shared effects given
    regression : (3 locals, shared) sparse: minus how a local unknown follows the shared ones
    """

    step: State
    factor: Floats
    local_covariance: Floats
    regression: scipy.sparse.csr_matrix
    run_covariance: Floats
    cell_weight: Floats
    cell_general: Floats


def eliminate(
    layout: Layout,
    columns: Columns,
    links: Links,
    state: State,
    prediction: Prediction,
    residual: Floats,
    scales: Scales,
    trust: Floats,
) -> Elimination:
    """Gauss-Newton step.

    Parameters
    ----------
    residual : (N, 3) observed less predicted density
    trust : (cells,) probability that a cell is no blunder: scales all its information
    """
    size, blocks = layout.size, len(columns.names.blocks)
    locals_count = links.to_local.shape[0]
    precision = scales.observation * trust[columns.cell][:, None, None]
    a = prediction.by_general
    transposed = np.swapaxes(prediction.by_layer, 1, 2) @ precision
    weight = np.add.reduceat(transposed @ prediction.by_layer, links.starts)
    general = np.add.reduceat(transposed @ a, links.starts)
    gradient = np.add.reduceat((transposed @ residual[:, :, None])[:, :, 0], links.starts)
    weighted = precision @ a
    flat = a.reshape(-1, size)
    h_gg = flat.T @ weighted.reshape(-1, size)
    b_g = np.einsum("nkg,nk->g", weighted, residual)

    nested = columns.cell_nested
    run_prior = trust[:, None, None] * scales.run
    run_inverse = inverse(weight + run_prior)
    run_gradient = gradient - (run_prior @ state.runs[columns.cell_run][:, :, None])[:, :, 0]
    keep = np.where(nested[:, None, None], np.eye(3) - weight @ run_inverse, np.eye(3))
    used = np.where(nested[:, None, None], run_inverse, 0.0)
    through = used @ general
    h_gg -= general.reshape(-1, size).T @ through.reshape(-1, size)
    b_g -= np.einsum("ckg,ck->g", through, run_gradient)
    left_weight = keep @ weight
    left_general = keep @ general
    left_gradient = gradient - (weight @ used @ run_gradient[:, :, None])[:, :, 0]

    local_weight = (links.to_local @ left_weight.reshape(-1, 9)).reshape(-1, 3, 3)
    frames = len(columns.names.frames)
    local_prior = np.empty((locals_count, 3, 3))
    local_prior[:frames] = scales.frame
    local_prior[frames:] = scales.run
    local_state = np.concatenate([state.frames, state.runs[links.shared_runs]])
    local_weight += local_prior
    local_general = (links.to_local @ left_general.reshape(-1, 3 * size)).reshape(-1, 3, size)
    local_gradient = links.to_local @ left_gradient - (local_prior @ local_state[:, :, None])[:, :, 0]
    pair = (links.to_pair @ left_weight.reshape(-1, 9)).reshape(-1, 3, 3)

    whitened_general, whitened_gradient, pair, half = _whiten(
        columns, links, left_weight, local_weight, local_general, local_gradient, pair
    )
    y = scipy.sparse.bsr_matrix(
        (pair.data, pair.indices, pair.indptr), shape=(3 * locals_count, 3 * max(blocks, 1))
    ).tocsr()

    matrix = layout.precision.copy()
    rhs = -layout.precision @ np.concatenate([state.general, state.blocks.ravel()])
    flat_general = whitened_general.reshape(-1, size)
    matrix[:size, :size] += h_gg - flat_general.T @ flat_general
    rhs[:size] += b_g - flat_general.T @ whitened_gradient.ravel()
    if blocks:
        cross = (links.to_block @ left_general.reshape(-1, 3 * size)).reshape(3 * blocks, size) - y.T @ flat_general
        matrix[size:, :size] += cross
        matrix[:size, size:] += cross.T
        matrix[size:, size:] -= (y.T @ y).toarray()
        both = (links.to_block_pair @ left_weight.reshape(-1, 9)).reshape(blocks, blocks, 3, 3)
        matrix[size:, size:] += both.transpose(0, 2, 1, 3).reshape(3 * blocks, 3 * blocks)
        rhs[size:] += (links.to_block @ left_gradient).ravel() - y.T @ whitened_gradient.ravel()
    factor = scipy.linalg.cholesky(matrix, lower=True, overwrite_a=True, check_finite=False)
    shared = scipy.linalg.cho_solve((factor, True), rhs, check_finite=False)

    right = whitened_gradient.ravel() - flat_general @ shared[:size]
    if blocks:
        right = right - y @ shared[size:]
    local_step = (half.T @ right).reshape(-1, 3)
    block_step = shared[size:].reshape(-1, 3)
    run_step = np.zeros_like(state.runs)
    run_step[links.shared_runs] = local_step[frames:]
    per_cell = local_step[columns.cell_frame]
    if blocks:
        per_cell = per_cell + (links.to_block.T @ block_step)
    alone_step = (
        run_inverse @ (run_gradient - (weight @ per_cell[:, :, None])[:, :, 0] - general @ shared[:size])[:, :, None]
    )[:, :, 0]
    run_step[columns.cell_run[nested]] = alone_step[nested]
    regression = scipy.sparse.hstack([scipy.sparse.csr_matrix(flat_general), y[:, : 3 * blocks]], format="csr")
    return Elimination(
        step=State(shared[:size], block_step, local_step[:frames], run_step),
        factor=factor,
        local_covariance=_diagonal_blocks(half, locals_count),
        regression=half.T @ regression,
        run_covariance=run_inverse,
        cell_weight=weight,
        cell_general=general,
    )


@dataclass(frozen=True, slots=True)
class _Blocks:
    data: Floats
    indices: Ints
    indptr: Ints


def _whiten(
    columns: Columns,
    links: Links,
    left_weight: Floats,
    local_weight: Floats,
    local_general: Floats,
    local_gradient: Floats,
    pair: Floats,
) -> tuple[Floats, Floats, _Blocks, scipy.sparse.csr_matrix]:
    """Local quantities multiplied by the inverse Cholesky factor of the local system; and that factor."""
    count = len(local_weight)
    half_inverse = inverse(np.asarray(np.linalg.cholesky(local_weight), dtype=np.float64))
    whitened_general = half_inverse @ local_general
    whitened_gradient = (half_inverse @ local_gradient[:, :, None])[:, :, 0]
    whitened_pair = half_inverse[links.pair_local] @ pair
    order = np.lexsort((links.pair_block, links.pair_local))
    if not links.knots:
        half = scipy.sparse.bsr_matrix(
            (half_inverse, np.arange(count), np.arange(count + 1)), shape=(3 * count, 3 * count)
        ).tocsr()
        indptr = np.searchsorted(links.pair_local[order], np.arange(count + 1))
        return whitened_general, whitened_gradient, _Blocks(whitened_pair[order], links.pair_block[order], indptr), half

    half_row, half_column, half_data = [links.alone], [links.alone], [half_inverse[links.alone]]
    tied = np.ones(count, dtype=bool)
    tied[links.alone] = False
    free = ~tied[links.pair_local]
    pair_row, pair_column, pair_data = [links.pair_local[free]], [links.pair_block[free]], [whitened_pair[free]]
    frames = len(columns.names.frames)
    for members, cells in links.knots:
        place = {int(local): index for index, local in enumerate(members)}
        system = scipy.linalg.block_diag(*local_weight[members])
        for cell in cells[~columns.cell_nested[cells]].tolist():
            one = 3 * place[int(columns.cell_frame[cell])]
            two = 3 * place[frames + int(np.searchsorted(links.shared_runs, columns.cell_run[cell]))]
            system[one : one + 3, two : two + 3] += left_weight[cell]
            system[two : two + 3, one : one + 3] += left_weight[cell]
        n = len(members)
        lower = scipy.linalg.solve_triangular(scipy.linalg.cholesky(system, lower=True), np.eye(3 * n), lower=True)
        whitened_general[members] = (lower @ local_general[members].reshape(3 * n, -1)).reshape(n, 3, -1)
        whitened_gradient[members] = (lower @ local_gradient[members].ravel()).reshape(n, 3)
        mine = np.flatnonzero(np.isin(links.pair_local, members))
        touched, column = np.unique(links.pair_block[mine], return_inverse=True)
        dense = np.zeros((n, 3, len(touched), 3))
        dense[[place[int(local)] for local in links.pair_local[mine]], :, column, :] = pair[mine]
        dense = (lower @ dense.reshape(3 * n, -1)).reshape(n, 3, len(touched), 3)
        rows, cols = np.meshgrid(members, touched, indexing="ij")
        pair_row.append(rows.ravel())
        pair_column.append(cols.ravel())
        pair_data.append(dense.transpose(0, 2, 1, 3).reshape(-1, 3, 3))
        rows, cols = np.meshgrid(members, members, indexing="ij")
        half_row.append(rows.ravel())
        half_column.append(cols.ravel())
        half_data.append(lower.reshape(n, 3, n, 3).transpose(0, 2, 1, 3).reshape(-1, 3, 3))
    pairs = _blocks(pair_row, pair_column, pair_data, count)
    halves = _blocks(half_row, half_column, half_data, count)
    half = scipy.sparse.bsr_matrix((halves.data, halves.indices, halves.indptr), shape=(3 * count, 3 * count)).tocsr()
    return whitened_general, whitened_gradient, pairs, half


def _blocks(rows: list[Ints], columns: list[Ints], data: list[Floats], count: int) -> _Blocks:
    row, column, value = np.concatenate(rows), np.concatenate(columns), np.concatenate(data)
    order = np.lexsort((column, row))
    return _Blocks(value[order], column[order], np.searchsorted(row[order], np.arange(count + 1)))


def _diagonal_blocks(half: scipy.sparse.csr_matrix, count: int) -> Floats:
    """(locals, 3, 3) diagonal blocks of half' half."""
    whole = (half.T @ half).tobsr(blocksize=(3, 3))
    result = np.zeros((count, 3, 3))
    row = np.repeat(np.arange(count), np.diff(whole.indptr))
    on = row == whole.indices
    result[row[on]] = whole.data[on]
    return result


def posterior_inverse(factor: Floats, rows: Floats) -> Floats:
    """Covariance (n, n) of linear combinations (n, shared) of the shared effects."""
    half = scipy.linalg.solve_triangular(factor, rows.T, lower=True, check_finite=False)
    result: Floats = half.T @ half
    return result
