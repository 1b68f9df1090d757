"""Most probable state of the memory, given the evidence; and how sure it is of it.

Damped Gauss-Newton in density. Each cell (one frame in one run) is either sound or a blunder; the
probability that it is sound scales its information (a mixture of a narrow and a wide normal: a
redescending weight, so a blunder neither poisons the memory nor pulls at it for ever). Prior scales of
frames and runs are learned by expectation and maximisation with pseudo-observations at the default.
"""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import scipy.linalg

from printlore.core.memory.arrow import Elimination, Links, Scales, State, eliminate, link
from printlore.core.memory.columns import Columns, Floats, compile_columns
from printlore.core.memory.evidence import Evidence
from printlore.core.memory.model import (
    Layout,
    Prediction,
    Tie,
    inverse,
    lay_out,
    predict,
    reading_gain,
    spread_covariance,
    spread_precision,
    ties,
    with_spreads,
)
from printlore.core.memory.priors import Priors, Spread
from printlore.core.memory.trust import trust_within
from printlore.core.paper.layers import LayerCurves

_SETTLED = 0.02
"""Steps below this [log10, or the unit of the effect] mean the mode is near: only now are blunders looked for."""
_TRUST_SETTLED = 0.1
"""Spreads are learned only once trust changes by less: a blunder must not pass for noise."""
_PATIENCE = 15
"""Steps after which trust moves half as far, lest it go round in circles."""
_MODE_TOLERANCE = 2e-6
_SCALE_TOLERANCE = 2e-4
"""Relative change of a learned spread, and absolute change of a trust, that ends the search."""
_MOST_STEPS = 60
_PSEUDO = {"film": 2.0, "film_read": 1.0, "lot": 2.0, "bath": 4.0, "pace": 2.0, "drift_per_root_day": 20.0}
"""Pseudo-observations at the prior for the spreads of shared effects: few where there are few of them to learn from."""
_LEARNED = ("frame_read", "frame_blind", "run", *_PSEUDO)
_CURVE_SHARE, _DIAL_SHARE = 0.12, 0.20
"""[1] Errors of the curve and of the dials, as shares of the log exposure away from the aim and of what was dialled
between the patches of a strip (from memory)."""
_MOST_BLOCKS = 60
"""Newest blocks of a kind that its spread is learned from."""
_HASTE = 1.7


@dataclass(slots=True)
class Memory:
    """The solved memory.

    Attributes
    ----------
    trust : (cells,) probability that each cell was made as logged
    patch_trust : (N,) that each row of a cell with several was, if the cell was
    """

    evidence: Evidence
    priors: Priors
    columns: Columns
    layout: Layout
    links: Links
    state: State
    scales: Scales
    learned: Priors
    trust: Floats
    patch_trust: Floats
    elimination: Elimination
    prediction: Prediction
    steps: int


def solve(
    evidence: Evidence,
    priors: Priors | None = None,
    *,
    learn_scales: bool = True,
    start: Memory | None = None,
) -> Memory:
    """Mode and curvature of the posterior.

    Parameters
    ----------
    evidence : Evidence
    priors : Priors, optional
        Default figures from memory.
    learn_scales : bool
        Learn the spreads of frames and runs (False: keep the prior figures).
    start : Memory, optional
        An earlier solution of nearly the same evidence to start from.

    Raises
    ------
    UnknownRecord
        If a trial names something that is not declared.
    """
    priors = priors or Priors()
    columns = compile_columns(evidence, priors)
    layout = lay_out(evidence, columns.names, priors)
    links = link(columns)
    state, learned = _starting_point(layout, columns, priors, start)
    whole = inverse(columns.noise)
    if start is not None:
        layout = with_spreads(layout, learned)
    scales = _scales(layout, columns, state, whole, learned)
    trust = np.ones(len(columns.cell_frame))
    prediction, residual, masked = _look(layout, columns, state, priors, whole)
    seen, slope, offset = _told(layout, columns, state.general, prediction, residual)
    patch_trust = _patch_trust(columns, np.swapaxes(slope, 1, 2) @ masked @ slope, seen, offset)
    observation, masked = (part * patch_trust[:, None, None] for part in (whole, masked))
    elimination: Elimination | None = None
    settled = blamed = False
    steps = 0
    for steps in range(1, _MOST_STEPS + 1):
        held = prediction.by_layer if blamed else None
        if blamed:
            prediction, residual, masked = _look(layout, columns, state, priors, observation, held)
        current = replace(scales, observation=masked)
        elimination = eliminate(layout, columns, links, state, prediction, residual, current, trust)
        state, prediction, residual, masked, length = _line_search(
            layout, columns, state, elimination.step, priors, current, observation, trust, residual, held
        )
        moved = length * max(float(np.max(np.abs(part), initial=0.0)) for part in _parts(elimination.step))
        settled = settled or moved < _SETTLED
        if not settled:
            continue
        before = trust, patch_trust
        trust, patch_trust = _trust(
            layout, columns, links, state, prediction, residual, masked, scales, held, patch_trust
        )
        if steps > _PATIENCE:
            trust, patch_trust = np.sqrt(trust * before[0]), np.sqrt(patch_trust * before[1])
        observation = whole * patch_trust[:, None, None]
        changed = max(
            float(np.max(np.abs(trust - before[0]), initial=0.0)),
            float(np.max(np.abs(patch_trust - before[1]), initial=0.0)),
        )
        blamed = blamed or changed < _TRUST_SETTLED
        if learn_scales and changed < _TRUST_SETTLED:
            newer = _learn(columns, links, layout, state, elimination, priors, learned, trust)
            changed = max(changed, _change(learned, newer))
            learned = newer
            layout = with_spreads(layout, learned)
            scales = _scales(layout, columns, state, observation, learned)
        if moved < _MODE_TOLERANCE and changed < _SCALE_TOLERANCE:
            break
    assert elimination is not None
    current = replace(scales, observation=masked)
    elimination = eliminate(layout, columns, links, state, prediction, residual, current, trust)
    return Memory(
        evidence=evidence,
        priors=priors,
        columns=columns,
        layout=layout,
        links=links,
        state=state,
        scales=scales,
        learned=learned,
        trust=trust,
        patch_trust=patch_trust,
        elimination=elimination,
        prediction=prediction,
        steps=steps,
    )


def _parts(state: State) -> tuple[Floats, ...]:
    return state.general, state.blocks, state.frames, state.runs


def _starting_point(layout: Layout, columns: Columns, priors: Priors, start: Memory | None) -> tuple[State, Priors]:
    """The prior mean, or as much of an earlier solution as carries over."""
    state = State.zero(layout, columns)
    if start is None:
        return state, priors
    old = start.columns.names
    if (
        old.heads == columns.names.heads
        and start.layout.size == layout.size
        and (
            old.papers,
            old.processes,
            old.sources,
            old.persons,
            old.stops,
        )
        == (
            columns.names.papers,
            columns.names.processes,
            columns.names.sources,
            columns.names.persons,
            columns.names.stops,
        )
    ):
        state.general[:] = start.state.general
    known_blocks = {name: index for index, name in enumerate(old.blocks)}
    for index, key in enumerate(columns.names.blocks):
        if key in known_blocks:
            state.blocks[index] = start.state.blocks[known_blocks[key]]
    known_frames = {name: index for index, name in enumerate(old.frames)}
    for index, name in enumerate(columns.names.frames):
        if name in known_frames:
            state.frames[index] = start.state.frames[known_frames[name]]
    return state, replace(priors, **{name: getattr(start.learned, name) for name in _LEARNED})


def _scales(layout: Layout, columns: Columns, state: State, observation: Floats, learned: Priors) -> Scales:
    frame = np.where(
        columns.frame_has_reading[:, None, None],
        spread_covariance(learned.frame_read) + _reading_covariance(layout, columns, state),
        spread_covariance(learned.frame_blind),
    )
    return Scales(observation=observation, frame=inverse(frame), run=spread_precision(learned.run))


def _reading_covariance(layout: Layout, columns: Columns, state: State) -> Floats:
    """(frames, 3, 3) covariance of printing density from the error of the reading alone [log10^2]."""
    covariance = np.zeros((len(columns.names.frames), 3, 3))
    for source in range(len(columns.names.sources)):
        mine = columns.frame_source == source
        gain = reading_gain(layout, state.general, source)
        covariance[mine] = columns.frame_reading_variance[mine, None, None] * (gain @ gain.T)
    return covariance


def _look(
    layout: Layout,
    columns: Columns,
    state: State,
    priors: Priors,
    observation: Floats,
    held: Floats | None = None,
) -> tuple[Prediction, Floats, Floats]:
    """Prediction, residual, and the information left where a clipped patch is already beyond its bound.

    A run's deviation goes through the curve, or, if slopes (N, 3, 3) are held, counts in density at those: at the
    mode of everything together a steeper curve would make every deviation smaller, at no charge, and the gradient
    would creep upwards.
    """
    additive = state.additive(columns)
    if held is None:
        prediction = predict(layout, columns, state.general, additive, priors)
        residual = columns.density - prediction.density
    else:
        run = state.runs[columns.cell_run][columns.cell]
        prediction = predict(layout, columns, state.general, additive - run, priors)
        residual = columns.density - prediction.density - (held @ run[:, :, None])[:, :, 0]
    if not columns.beyond.any():
        return prediction, residual, observation
    aim = np.array([curves.aim for curves in layout.curves])[columns.paper]
    dark = columns.density > aim
    satisfied = (columns.beyond > 0) & np.where(dark, residual < 0, residual > 0)
    left = (~satisfied).astype(float)
    return prediction, residual * left, observation * left[:, :, None] * left[:, None, :]


def _objective(
    layout: Layout, columns: Columns, state: State, scales: Scales, residual: Floats, trust: Floats
) -> float:
    """Twice the negative log posterior at fixed trust, but for a constant."""
    misfit = np.einsum("nk,nkl,nl->n", residual, scales.observation, residual)
    total = float(misfit @ trust[columns.cell])
    total += float(np.einsum("fk,fkl,fl->", state.frames, scales.frame, state.frames))
    run = np.einsum("rk,kl,rl->r", state.runs, scales.run, state.runs)
    run_trust = np.ones(len(run))
    run_trust[columns.cell_run[columns.cell_nested]] = trust[columns.cell_nested]
    total += float(run @ run_trust)
    shared = np.concatenate([state.general, state.blocks.ravel()])
    return total + float(shared @ layout.precision @ shared)


def _line_search(
    layout: Layout,
    columns: Columns,
    state: State,
    step: State,
    priors: Priors,
    scales: Scales,
    observation: Floats,
    trust: Floats,
    residual: Floats,
    held: Floats | None,
) -> tuple[State, Prediction, Floats, Floats, float]:
    """Longest of 1, 1/2, 1/4 ... of the step that does not make things worse."""
    here = _objective(layout, columns, state, scales, residual, trust)
    length = 1.0
    largest = float(np.max(np.abs(step.general[layout.base]), initial=0.0))
    if largest > 0.6:
        length = 0.6 / largest
    while True:
        trial = state.stepped(step, length)
        prediction, new_residual, masked = _look(layout, columns, trial, priors, observation, held)
        there = _objective(layout, columns, trial, replace(scales, observation=masked), new_residual, trust)
        if there <= here * (1 + 1e-9) + 1e-9 or (length < 1e-3 and np.isfinite(there)):
            return trial, prediction, new_residual, masked, length
        length /= 2


def _told(
    layout: Layout, columns: Columns, general: Floats, prediction: Prediction, residual: Floats
) -> tuple[Floats, Floats, Floats]:
    """Log exposure that each row was read at (N, 3), slope there (N, 3, 3), and how far that is from the predicted.

    At the reading, not at the prediction: a blunder must not judge itself.
    """
    seen, slope = np.empty_like(residual), np.empty_like(prediction.by_layer)
    for place, where in enumerate(layout.paper):
        mine = np.flatnonzero(columns.paper == place)
        prior = layout.curves[place]
        curves = LayerCurves(aim=prior.aim, theta=prior.theta + general[where.start + 3 : where.stop])
        here = prediction.log_exposure[mine]
        seen[mine], slope[mine] = curves.log_exposure_at(curves.density_at(here) + residual[mine])
    return seen, slope, seen - prediction.log_exposure


def _patch_trust(columns: Columns, information: Floats, seen: Floats, offset: Floats) -> Floats:
    """How far each patch of a strip counts (N,), weighed among the others of its cell whatever the cell's level."""
    trust = np.ones(columns.rows)
    several = np.flatnonzero(np.bincount(columns.cell)[columns.cell] > 1)
    if not len(several):
        return trust
    group = np.unique(columns.cell[several], return_inverse=True)[1]
    count = np.bincount(group)
    pack = np.stack([np.bincount(group, dial) / count for dial in columns.dial[several].T], axis=1)
    doubt = _CURVE_SHARE**2 * np.square(seen[several]) + _DIAL_SHARE**2 * np.square(columns.dial[several] - pack[group])
    trust[several] = trust_within(
        group,
        np.zeros((len(several), 3)),
        information[several],
        (information[several] @ offset[several, :, None])[:, :, 0],
        doubt[:, :, None] * np.eye(3),
        np.broadcast_to(np.eye(3), (len(count), 3, 3)),
    )
    return trust


def _trust(
    layout: Layout,
    columns: Columns,
    links: Links,
    state: State,
    prediction: Prediction,
    residual: Floats,
    observation: Floats,
    scales: Scales,
    held: Floats | None,
    patch_trust: Floats,
) -> tuple[Floats, Floats]:
    """How far each cell counts, and each patch of a cell that has several."""
    run = state.runs[columns.cell_run]
    if held is not None:
        residual = residual + (held @ run[columns.cell][:, :, None])[:, :, 0]
    seen, slope, offset = _told(layout, columns, state.general, prediction, residual)
    weighted = np.swapaxes(slope, 1, 2) @ observation @ slope
    # a patch is weighed as if nothing had been held against it yet
    patches = _patch_trust(columns, weighted / patch_trust[:, None, None], seen, offset)
    weighted = weighted * (patches / patch_trust)[:, None, None]
    information = np.add.reduceat(weighted, links.starts)
    gradient = np.add.reduceat((weighted @ offset[:, :, None])[:, :, 0], links.starts)
    level = state.frames[columns.cell_frame] + (run if held is None else 0.0)
    cells = trust_within(columns.cell_frame, level, information, gradient, inverse(scales.run), scales.frame)
    return cells, patches


def _learn(
    columns: Columns,
    links: Links,
    layout: Layout,
    state: State,
    elimination: Elimination,
    priors: Priors,
    learned: Priors,
    trust: Floats,
) -> Priors:
    """One step of expectation and maximisation for the spreads of frames and runs."""
    printed = np.unique(columns.cell_frame)
    if not len(printed):
        return learned
    newest = printed[-400:]
    rows = elimination.regression.tocsr()
    wanted = (3 * newest[:, None] + np.arange(3)).ravel()
    covariance = _covariances(elimination, rows[wanted].toarray()) + elimination.local_covariance[newest]
    square = state.frames[newest][:, :, None] * state.frames[newest][:, None, :] + covariance
    read = columns.frame_has_reading[newest]
    left = spread_covariance(learned.frame_read)
    share = left @ inverse(left + _reading_covariance(layout, columns, state)[newest[read]])
    beside = share @ square[read] @ np.swapaxes(share, 1, 2) + left - share @ left
    frame_read = _updated(priors.frame_read, beside, np.ones(int(read.sum())), priors.pseudo_observations)
    frame_blind = _updated(priors.frame_blind, square[~read], np.ones(int((~read).sum())), priors.pseudo_observations)

    cells = np.flatnonzero(columns.cell_nested)[-400:]
    given = elimination.run_covariance[cells]
    weight = elimination.cell_weight[cells]
    general = elimination.cell_general[cells]
    size = layout.size
    shared = np.zeros((len(cells), 3, size + 3 * len(columns.names.blocks)))
    shared[:, :, :size] = general
    for column in range(columns.cell_blocks.shape[1]):
        block, share = columns.cell_blocks[cells, column], columns.cell_shares[cells, column]
        for layer in range(3):
            there = np.flatnonzero(block >= 0)
            shared[there, :, size + 3 * block[there] + layer] += share[there, None] * weight[there, :, layer]
    frame = columns.cell_frame[cells]
    follow = rows[(3 * frame[:, None] + np.arange(3)).ravel()].toarray().reshape(len(cells), 3, -1)
    shared -= weight @ follow
    through = given @ shared
    run_covariance = (
        given
        + given @ weight @ elimination.local_covariance[frame] @ weight @ given
        + _covariances(elimination, through.reshape(3 * len(cells), -1))
    )
    run = state.runs[columns.cell_run[cells]]
    run_square = run[:, :, None] * run[:, None, :] + run_covariance
    run_spread = _updated(priors.run, run_square, trust[cells], priors.pseudo_observations)
    found = {"frame_read": frame_read, "frame_blind": frame_blind, "run": run_spread}
    found |= _learn_blocks(layout, state, elimination, priors)
    moved: dict[str, Any] = {name: _hastened(getattr(learned, name), new) for name, new in found.items()}
    return replace(learned, **moved)


def _learn_blocks(layout: Layout, state: State, elimination: Elimination, priors: Priors) -> dict[str, Spread]:
    """The same step for the spreads of films, lots, baths, their paces and the lamp's walk."""
    by_spread: dict[str, list[Tie]] = {}
    for tie in ties(layout):
        if tie.spread in _PSEUDO:
            by_spread.setdefault(tie.spread, []).append(tie)
    found = {}
    for spread, members in by_spread.items():
        newest = members[-_MOST_BLOCKS:]
        block, before = np.array([tie.block for tie in newest]), np.array([tie.before for tie in newest])
        moves = state.blocks[block] - np.where(before[:, None] >= 0, state.blocks[before], 0.0)
        rows = np.zeros((len(newest), 3, len(elimination.factor)))
        one, layers = np.arange(len(newest))[:, None], np.arange(3)
        rows[one, layers, layout.size + 3 * block[:, None] + layers] = 1.0
        tied = before >= 0
        rows[one[tied], layers, layout.size + 3 * before[tied, None] + layers] = -1.0
        covariance = _covariances(elimination, rows.reshape(3 * len(newest), -1))
        span = np.array([tie.span for tie in newest])
        square = (moves[:, :, None] * moves[:, None, :] + covariance) / span[:, None, None]
        found[spread] = _updated(getattr(priors, spread), square, np.ones(len(newest)), _PSEUDO[spread])
    return found


def _covariances(elimination: Elimination, rows: Floats) -> Floats:
    """(n, 3, 3) covariance of vectors given as (3 n, shared) combinations of the shared effects."""
    half = scipy.linalg.solve_triangular(elimination.factor, rows.T, lower=True, check_finite=False)
    stacked = half.reshape(half.shape[0], -1, 3)
    result: Floats = np.einsum("snk,snl->nkl", stacked, stacked, optimize=True)
    return result


def _updated(prior: Spread, square: Floats, weight: Floats, pseudo: float) -> Spread:
    """Spread from expected squares (n, 3, 3), with pseudo-observations at the prior."""
    along = square.sum(axis=(1, 2)) / 3
    across = (np.trace(square, axis1=1, axis2=2) - along) / 2
    total = pseudo + float(weight.sum())
    colour = (pseudo * prior.colour**2 + float(weight @ across)) / total
    common = (pseudo * (3 * prior.common**2 + prior.colour**2) + float(weight @ along)) / total
    return Spread(common=float(np.sqrt(max(common - colour, 1e-10) / 3)), colour=float(np.sqrt(colour)))


def _change(old: Priors, new: Priors) -> float:
    """Largest relative change of a learned spread."""
    pairs = [(getattr(old, name), getattr(new, name)) for name in _LEARNED]
    return float(max(max(abs(a.common / b.common - 1), abs(a.colour / b.colour - 1)) for a, b in pairs))


def _hastened(old: Spread, new: Spread) -> Spread:
    """A longer step the same way: expectation and maximisation creeps near its end."""
    return Spread(
        common=max(old.common * (new.common / old.common) ** _HASTE, 1e-5),
        colour=max(old.colour * (new.colour / old.colour) ** _HASTE, 1e-5),
    )
