"""Most probable state of the memory, given the evidence; and how sure it is of it.

Damped Gauss-Newton in density. Each cell (one frame in one run) is either sound or a blunder; the
probability that it is sound scales its information (a mixture of a narrow and a wide normal: a
redescending weight, so a blunder neither poisons the memory nor pulls at it for ever). Prior scales of
frames and runs are learned by expectation and maximisation with pseudo-observations at the default.
"""

import contextlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from printlore.core.memory.arrow import (
    DIAL_EFFECTS,
    AtOnce,
    Elimination,
    Part,
    Scales,
    State,
    by_cell,
    eliminate,
    link,
    times,
)
from printlore.core.memory.columns import Columns, Floats, Ints, compile_columns
from printlore.core.memory.evidence import Evidence, Trial
from printlore.core.memory.mixing import Mixing
from printlore.core.memory.model import (
    Layout,
    Prediction,
    Tie,
    by_general,
    curves_of,
    gradient_places,
    inverse,
    lay_out,
    loss_in_filters,
    noise_of,
    pieces,
    predict,
    reading_gain,
    seen_by_eye,
    spread_covariance,
    spread_precision,
    ties,
    with_spreads,
)
from printlore.core.memory.priors import Priors, Spread
from printlore.core.memory.start import Start, begin
from printlore.core.memory.threes import half_inverse, inverses
from printlore.core.memory.trust import trust_within

_SETTLED = 0.005
"""Steps of frames, runs and blocks below this [log10] mean the mode is near: only now are blunders looked for."""
_FEW_SEE = 40.0
"""Times as much may general effects still move: prints see less of them."""
_TRUST_SETTLED = 0.1
"""Spreads are learned only once trust changes by less: a blunder must not pass for noise."""
_PATIENCE = 15
"""Steps after which blunders are looked for wherever the search stands (they may be what keeps it away), and trust
moves half as far, a quarter when spreads are held, lest it go round in circles."""
_MODE_TOLERANCE = 2e-6
"""[log10] Last step of frames, runs and blocks; general effects, which prints see less of, may still move tenfold."""
_SCALE_TOLERANCE = 1e-3
"""Relative change of a learned spread, and absolute change of a trust, that ends the search."""
_MOST_STEPS = 120
_MOST_FROM_START = 60
"""Steps from an earlier solution: it may have led astray, and nothing is held there."""
_MOST_LEARNING = 45
"""Steps after which spreads are held where they asked for the least change: some records hardly tell them apart (what
an eye errs by and what runs differ by, if all is judged), and the search for them goes round in circles."""
_SHORTEST = 1e-3
"""Share of a step that is worth trying."""
_FARTHEST = 3.0
"""[standard deviations beforehand, all else known] Most that a shared effect moves in one step of the search. Where all
prints but a few are white, a whole step could bend a curve into one that nothing leads back from."""
_MOST_CHANGE = 1.0
"""[1] Most that the logarithm of a spread changes by in one step."""
_LEAST_UNSURE = 0.01
"""[1] Of what eyes were shown that is not known: where its logarithm begins."""
_PSEUDO = {
    "film": 2.0,
    "film_read": 1.0,
    "lot": 2.0,
    "bath": 4.0,
    "pace": 2.0,
    "view": 4.0,
    "drift_per_root_day": 20.0,
}
"""Pseudo-observations at the prior for the spreads of shared effects: few where there are few of them to learn from."""
_LEARNED = ("frame_read", "frame_blind", "run", "eye", *_PSEUDO)
_CURVE_SHARE, _DIAL_SHARE = 0.12, 0.20
"""[1] Errors of the curve and of the dials, as shares of the log exposure away from the aim and of what was dialled
between the patches of a strip (from memory)."""
_MOST_BLOCKS = 60
"""Newest blocks of a kind that its spread is learned from."""
_MOST_CELLS = 400
"""Newest frames and cells that the spreads of frames and runs are learned from."""
_MOST_APART = 16.0
"""Squared standard deviations, of three layers together, that a run's square is cut at when their spread is learned: of
sound runs one in a thousand is further off."""
_MOST_HASTE = 20.0
"""How much longer a step of a learned spread is made at most than expectation and maximisation make it. These go only
the share of the way that is seen: where errors hide most of a spread they creep."""


@dataclass(slots=True)
class Memory:
    """The solved memory.

    Attributes
    ----------
    priors : Priors
        Believed beforehand, but for what the evidence says of prints made alike.
    trust : (cells,) probability that each cell was made as logged
    patch_trust : (N,) that each row of a cell with several was, if the cell was
    runs_seen : (2,)
        As many runs wholly seen, across the grey direction and along it, would tell as much of their spread.
    steps : int
        Taken to find it.
    settled : bool
        Whether it had come to rest when the search ended.
    added : int
        How often something was added since all was solved together.
    drift : float
        How far shared effects have moved since then at most: the sum of their moves [log10, or the unit of the effect].
    """

    evidence: Evidence
    priors: Priors
    columns: Columns
    layout: Layout
    state: State
    learned: Priors
    trust: Floats
    patch_trust: Floats
    elimination: Elimination
    runs_seen: Floats
    steps: int
    settled: bool = True
    added: int = 0
    drift: float = 0.0

    def as_start(self) -> Start:
        """This solution as a place to begin another from."""
        columns, state = self.columns, self.state
        of_cell = np.column_stack([state.runs[columns.cell_run], self.trust])[columns.cell]
        order = np.argsort(columns.trial, kind="stable")
        rows = np.column_stack([of_cell, self.patch_trust])[order]
        numbers, first = np.unique(columns.trial[order], return_index=True)
        names = [self.evidence.trials[number].name for number in numbers.tolist()]
        printed = np.flatnonzero(self.elimination.links.part_of_frame >= 0)
        return Start(
            general={piece: state.general[where] for piece, where in pieces(self.layout)},
            blocks=dict(zip(columns.names.blocks, state.blocks, strict=True)),
            frames={columns.names.frames[place]: state.frames[place] for place in printed.tolist()},
            trials=dict(zip(names, np.split(rows, first[1:]) if names else (), strict=True)),
            learned={name: getattr(self.learned, name) for name in _LEARNED},
        )

    def trials_of(self, frame: str) -> tuple[Trial, ...]:
        """Trials of a frame that say anything, in the order logged."""
        place = self.columns.names.place_of_frame.get(frame, -1)
        mine = (self.columns.cell_frame == place)[self.columns.cell]
        return tuple(self.evidence.trials[number] for number in np.unique(self.columns.trial[mine]).tolist())


def solve(
    evidence: Evidence,
    priors: Priors | None = None,
    *,
    learn_scales: bool = True,
    start: Start | None = None,
) -> Memory:
    """Mode and curvature of the posterior.

    Parameters
    ----------
    evidence : Evidence
    priors : Priors, optional
        Default figures from memory.
    learn_scales : bool
        Learn the spreads of effects, and what eyes err by (False: keep the prior figures).
    start : Start, optional
        An earlier solution of nearly the same evidence to start from.

    Raises
    ------
    UnknownRecord
        If a trial names something that is not declared.
    """
    given = priors or Priors()
    priors = given.repeating(evidence.alike)
    columns = compile_columns(evidence, priors)
    layout = lay_out(evidence, columns.names, priors)
    links = link(columns)
    begun = begin(layout, columns, evidence.trials, start)
    state, trust, learned = begun.state, begun.trust, priors
    if start is not None:
        spreads: dict[str, Any] = {name: start.learned[name] for name in _LEARNED if name in start.learned}
        learned = replace(priors, **spreads)
        layout = with_spreads(layout, learned)
    whole = whitener_of(columns.noise)
    scales = scales_of(layout, columns, state, whole, learned)
    _place_frames(layout, columns, state, priors, whole, begun.frames)
    prediction, residual, masked = look_at(layout, columns, state, priors, whole)
    seen, slope, offset = _told(layout, columns, state.general, prediction, residual)
    patch_trust = _patch_trust(columns, _information(masked, slope), seen, offset)
    patch_trust = np.where(begun.rows, begun.patch_trust, patch_trust)
    masked = masked * np.sqrt(patch_trust)[:, None, None]
    weigh_eyes(columns, learned, (prediction, residual, masked), whole, patch_trust)
    elimination: Elimination | None = None
    near = blamed = at_rest = False
    learning, calmest = learn_scales, (np.inf, learned)
    mixing = Mixing()
    judged, unsure = bool((columns.person >= 0).any()), np.zeros(layout.person.stop - layout.person.start)
    nested = np.flatnonzero(columns.cell_nested)
    watched = np.sort(nested[np.argsort(columns.cell_trial[nested], kind="stable")[-_MOST_CELLS:]])
    steps = 0

    def slopes(part: Part, here: Prediction, left: Floats) -> Floats:
        return by_general(layout, part.columns, state.general, here, priors, left)

    def look() -> tuple[Prediction, Floats, Floats]:
        found = look_at(layout, columns, state, priors, whole * np.sqrt(patch_trust)[:, None, None])
        weigh_eyes(columns, learned, found, whole, patch_trust)
        return found

    if judged and start is not None:
        # where to go from depends on it: without it the first step would lead away
        found = eliminate(
            layout, links, state, prediction, residual, replace(scales, whitener=masked), trust, slopes, watched
        )
        weight = trust[columns.cell] * patch_trust
        _, unsure = _learn_eye(columns, layout, state, prediction, residual, found, priors, learned, weight)
    for steps in range(1, (_MOST_STEPS if start is None else _MOST_FROM_START) + 1):
        current = replace(scales, whitener=masked, unsure=unsure)
        elimination = eliminate(layout, links, state, prediction, residual, current, trust, slopes, watched)
        apart = max(float(np.max(np.abs(part), initial=0.0)) for part in _parts(elimination.step)[1:])
        general = float(np.max(np.abs(elimination.step.general), initial=0.0))
        moved = max(apart, general / 10)
        if blamed:
            newer = learned
            if learning:
                there = state.stepped(elimination.step, 1.0)
                newer = _learn(columns, layout, there, elimination, priors, learned, trust)
            shown = unsure
            if judged:
                weight = trust[columns.cell] * patch_trust
                eye, shown = _learn_eye(
                    columns, layout, state, prediction, residual, elimination, priors, learned, weight
                )
                newer = replace(newer, eye=eye) if learning else newer
                unsure = unsure if unsure.any() else shown
            changed = _change(learned, newer) if learning else 0.0
            calmest = min(calmest, (changed, learned), key=lambda one: one[0])
            if learning and start is None and steps >= _MOST_LEARNING:
                newer, learning = calmest[1], False
                mixing.forget()
            before_step = state
            state, learned, unsure = _mixed(mixing, layout, state, elimination.step, (learned, newer), (unsure, shown))
            if learn_scales:
                layout = with_spreads(layout, learned)
                if judged:
                    whole = whitener_of(columns.noise)
            scales = scales_of(layout, columns, state, whole, learned)
            prediction, residual, masked = look()
            length = 1.0
            while not np.all(np.isfinite(residual)) and length > 0:
                # the step ends where no curve is defined: go less far, by itself, or stay
                mixing.forget()
                length = length / 2 if length > 2 * _SHORTEST else 0.0
                state = before_step.stepped(elimination.step, length)
                prediction, residual, masked = look()
        else:
            state, length = _line_search(
                layout,
                columns,
                state,
                elimination.step,
                priors,
                current,
                whole * np.sqrt(patch_trust)[:, None, None],
                trust,
                prediction,
                residual,
            )
            prediction, residual, masked = look()
            # begun from elsewhere it may be general effects alone that have to move
            far = apart if start is None else max(apart, general / _FEW_SEE)
            near, changed = near or length * far < _SETTLED or steps >= _PATIENCE, np.inf
        if not near:
            continue
        before = trust, patch_trust
        trust, patch_trust = trusts(layout, columns, state, prediction, residual, masked, scales, patch_trust)
        if steps > _PATIENCE:
            share = 0.5 if steps <= _MOST_LEARNING else 0.25
            trust = before[0] ** (1 - share) * trust**share
            patch_trust = before[1] ** (1 - share) * patch_trust**share
        masked = masked * np.sqrt(patch_trust / before[1])[:, None, None]
        shaken = max(
            float(np.max(np.abs(trust - before[0]), initial=0.0)),
            float(np.max(np.abs(patch_trust - before[1]), initial=0.0)),
        )
        blamed = blamed or shaken < _TRUST_SETTLED
        at_rest = moved < _MODE_TOLERANCE and max(changed, shaken) < _SCALE_TOLERANCE
        if at_rest:
            break
    assert elimination is not None
    current = replace(scales, whitener=masked, unsure=unsure)
    elimination = eliminate(layout, links, state, prediction, residual, current, trust, slopes, watched)
    _, run_covariance = _runs(columns, layout, state, elimination)
    watched_trust = trust[watched]
    return Memory(
        evidence=evidence,
        priors=given,
        columns=columns,
        layout=layout,
        state=state,
        learned=learned,
        trust=trust,
        patch_trust=patch_trust,
        elimination=elimination,
        runs_seen=_as_many(_run_seen(watched_trust, run_covariance, learned), watched_trust),
        steps=steps,
        settled=at_rest,
    )


def solve_from(evidence: Evidence, start: Start, priors: Priors | None = None) -> Memory:
    """Solution found from an earlier one; from nothing if it does not come to rest from there."""
    with contextlib.suppress(np.linalg.LinAlgError):
        found = solve(evidence, priors, start=start)
        if found.settled:
            return found
    return solve(evidence, priors)


def whitener_of(noise: Floats) -> Floats:
    """K (N, 3, 3) with K'K the inverse of each covariance."""
    return half_inverse(noise)


def _parts(state: State) -> tuple[Floats, ...]:
    return state.general, state.blocks, state.frames, state.runs


def _place_frames(
    layout: Layout,
    columns: Columns,
    state: State,
    priors: Priors,
    whitener: Floats,
    known: npt.NDArray[np.bool_],
) -> None:
    """Start frames that are not known yet where their prints lie on the curve.

    From the prior mean a frame far off would be looked for on toe or shoulder, where nothing shows which way to go.
    """
    if known.all() or not columns.rows:
        return
    prediction = predict(layout, columns, state.general, state.additive(columns), state.negatives(columns), priors)
    _, slope, offset = _told(layout, columns, state.general, prediction, columns.density - prediction.density)
    weight = _information(whitener, slope)
    pull = (weight @ offset[:, :, None])[:, :, 0]
    count = len(state.frames)
    frame = columns.cell_frame[columns.cell]
    total, drawn = np.zeros((count, 3, 3)), np.zeros((count, 3))
    np.add.at(total, frame, weight)
    np.add.at(drawn, frame, pull)
    total += inverse(spread_covariance(priors.base) + spread_covariance(priors.frame_blind))
    state.frames[~known] = np.linalg.solve(total, drawn[:, :, None])[~known, :, 0]


def _mixed(
    mixing: Mixing,
    layout: Layout,
    state: State,
    step: State,
    spreads: tuple[Priors, Priors],
    unsure: tuple[Floats, Floats],
) -> tuple[State, Priors, Floats]:
    """Next state, spreads, and what eyes were shown that is not known: the step, mixed with those before it.

    Parameters
    ----------
    spreads, unsure : as they were, and as they would be next
    """
    old, new = (_logarithms(one) for one in spreads)
    was, will = (np.log(one + _LEAST_UNSURE) for one in unsure)
    point = np.concatenate([*(part.ravel() for part in _parts(state)), old, was])
    change = np.concatenate([*(part.ravel() for part in _parts(step)), new - old, will - was])
    scale = np.sqrt(np.concatenate([np.diag(layout.precision), layout.between.diagonal()]))
    weighed = np.concatenate([scale * change[: len(scale)], new - old, will - was])
    found = mixing.after(point, change, weighed)
    ends = np.cumsum([*(part.size for part in _parts(state)), len(old)])
    general, blocks, frames, runs, logarithms, told = np.split(found, ends)
    logarithms = old + np.clip(logarithms - old, -_MOST_CHANGE, _MOST_CHANGE)
    told = was + np.clip(told - was, -_MOST_CHANGE, _MOST_CHANGE)
    mixed: dict[str, Any] = dict(zip(_LEARNED, _spreads(logarithms), strict=True))
    mixed_state = State(general, blocks.reshape(-1, 3), frames.reshape(-1, 3), runs.reshape(-1, 3))
    return mixed_state, replace(spreads[0], **mixed), np.exp(told) - _LEAST_UNSURE


def _logarithms(learned: Priors) -> Floats:
    """(2 spreads,) ln standard deviations of each spread across the grey direction and along it.

    Either stays well away from nothing, even where the part common to the layers does not.
    """
    return _logarithms_of([getattr(learned, name) for name in _LEARNED])


def _logarithms_of(spreads: Sequence[Spread]) -> Floats:
    """(2 spreads,)"""
    pairs = np.array([(spread.colour, spread.common) for spread in spreads])
    across = np.square(pairs[:, 0])
    result: Floats = np.log(np.column_stack([across, across + 3 * np.square(pairs[:, 1])]).ravel()) / 2
    return result


def _spreads(logarithms: Floats) -> list[Spread]:
    """Back from ``_logarithms``."""
    across, along = np.exp(2 * logarithms.reshape(-1, 2)).T
    common = np.sqrt(np.maximum(along - across, 1e-10) / 3)
    pairs = zip(common.tolist(), np.sqrt(across).tolist(), strict=True)
    return [Spread(common=common, colour=colour) for common, colour in pairs]


def scales_of(layout: Layout, columns: Columns, state: State, whitener: Floats, learned: Priors) -> Scales:
    """Precisions at a state."""
    gradients = gradient_places(layout)
    frame = np.where(
        columns.frame_has_reading[:, None, None],
        spread_covariance(learned.frame_read) + _reading_covariance(layout, columns, state),
        spread_covariance(learned.frame_blind),
    )
    return Scales(
        whitener=whitener,
        frame=inverses(frame),
        run=spread_covariance(learned.run),
        gradient=np.where(columns.frame_has_reading | (columns.frame_head >= 0), -1, gradients[columns.frame_paper]),
        gradient_of_blocks=int(gradients[layout.usual_paper]),
        at_once=_at_once(layout, columns, state, learned) if (columns.frame_head >= 0).any() else None,
    )


def _at_once(layout: Layout, columns: Columns, state: State, priors: Priors) -> AtOnce:
    """What frames whose first print was kept ask of the dials, at a state."""
    found = np.zeros((len(columns.frame_head), 3, DIAL_EFFECTS))
    for place, where in enumerate(layout.head):
        mine = np.flatnonzero(columns.frame_head == place)
        _, by_effect = loss_in_filters(columns.frame_dial[mine], state.general[where], priors)
        found[mine] = -by_effect[:, :, :DIAL_EFFECTS]
    begins = np.array([*(where.start for where in layout.head), -1], dtype=np.int64)
    return AtOnce(begins[columns.frame_head], found)


def _reading_covariance(layout: Layout, columns: Columns, state: State) -> Floats:
    """(frames, 3, 3) covariance of printing density from the error of the reading alone [log10^2]."""
    covariance = np.zeros((len(columns.names.frames), 3, 3))
    for source in range(len(columns.names.sources)):
        mine = columns.frame_source == source
        gain = reading_gain(layout, state.general, source)
        covariance[mine] = columns.frame_reading_variance[mine, None, None] * (gain @ gain.T)
    return covariance


def look_at(
    layout: Layout,
    columns: Columns,
    state: State,
    priors: Priors,
    whitener: Floats,
    slope: Floats | None = None,
) -> tuple[Prediction, Floats, Floats]:
    """Prediction, residual, and the information left where a clipped patch is already beyond its bound.

    The small deviations (of runs, and of frames beside their reading) do not go through the curve but count in density
    at the slope of the print without them, or at a slope (N, 3, 3) given: at the mode of everything together a steeper
    curve would make every such deviation smaller, at no charge, and the gradient would creep upwards.
    """
    small = _small(columns, state)[columns.cell]
    additive = state.additive(columns) - small
    prediction = predict(layout, columns, state.general, additive, state.negatives(columns), priors)
    slope = prediction.by_layer if slope is None else slope
    residual = columns.density - prediction.density - (slope @ small[:, :, None])[:, :, 0]
    if not columns.beyond.any():
        return prediction, residual, whitener
    aim = np.array([curves.aim for curves in layout.curves])[columns.paper]
    dark = columns.density > aim
    satisfied = (columns.beyond > 0) & np.where(dark, residual < 0, residual > 0)
    left = (~satisfied).astype(float)
    return prediction, residual * left, whitener * left[:, None, :]


def weigh_eyes(
    columns: Columns, learned: Priors, seen: tuple[Prediction, Floats, Floats], whole: Floats, patch_trust: Floats
) -> None:
    """Write what eyes err by at this prediction into the whiteners seen with and those of whole trust (N, 3, 3)."""
    prediction, residual, masked = seen
    judged = np.flatnonzero(columns.person >= 0)
    if len(judged) and np.all(np.isfinite(residual)):
        whole[judged] = whitener_of(noise_of(columns.at(judged), learned, prediction.at(judged)))
        masked[judged] = whole[judged] * np.sqrt(patch_trust[judged])[:, None, None]


def _small(columns: Columns, state: State) -> Floats:
    """(cells, 3) deviation of the run, and of the frame if its negative was read [log10]."""
    read = columns.frame_has_reading[columns.cell_frame]
    result: Floats = state.runs[columns.cell_run] + np.where(read[:, None], state.frames[columns.cell_frame], 0.0)
    return result


def _objective(
    layout: Layout, columns: Columns, state: State, before: Floats, scales: Scales, residual: Floats, trust: Floats
) -> float:
    """Twice the negative log posterior at fixed trust, but for a constant.

    Deviations count times the gradient over that of the general effects ``before``, and beside what dials do more.
    """
    misfit = np.square(np.einsum("nkl,nl->nk", scales.whitener, residual)).sum(axis=1)
    total = float(misfit @ trust[columns.cell])
    places = gradient_places(layout)[:, None] + np.arange(3)
    steeper = np.exp(state.general - before)[places]
    frames = state.frames * np.where(scales.gradient[:, None] < 0, 1.0, steeper[columns.frame_paper])
    if (kept := scales.at_once) is not None:
        dials = np.maximum(kept.place, 0)[:, None] + np.arange(DIAL_EFFECTS)
        frames += times(kept.by_dials, (state.general - before)[dials])
    total += float(np.einsum("fk,fkl,fl->", frames, scales.frame, frames))
    run = np.einsum("rk,kl,rl->r", state.runs, inverse(scales.run), state.runs)
    run_trust = np.ones(len(run))
    run_trust[columns.cell_run[columns.cell_nested]] = trust[columns.cell_nested]
    total += float(run @ run_trust)
    blocks = (state.blocks * steeper[layout.usual_paper]).ravel()
    total += float(state.general @ layout.precision @ state.general)
    return total + float(blocks @ (layout.between @ blocks))


def _line_search(
    layout: Layout,
    columns: Columns,
    state: State,
    step: State,
    priors: Priors,
    scales: Scales,
    whitener: Floats,
    trust: Floats,
    prediction: Prediction,
    residual: Floats,
) -> tuple[State, float]:
    """Longest of 1, 1/2, 1/4 ... of the step that makes nothing worse, slopes of small deviations as they were.

    A step that goes too far to be believed in counts as one that is cut there.
    """
    here = _objective(layout, columns, state, state.general, scales, residual, trust)
    largest = float(np.max(np.abs(step.general) * np.sqrt(np.diag(layout.precision)), initial=0.0))
    whole = length = _FARTHEST / max(largest, _FARTHEST)
    while True:
        trial = state.stepped(step, length)
        _, new_residual, masked = look_at(layout, columns, trial, priors, whitener, prediction.by_layer)
        now = replace(scales, whitener=masked)
        there = _objective(layout, columns, trial, state.general, now, new_residual, trust)
        if there <= here * (1 + 1e-9) + 1e-9 or (length < _SHORTEST and np.isfinite(there)):
            return trial, length / whole
        length /= 2


def _told(
    layout: Layout, columns: Columns, general: Floats, prediction: Prediction, residual: Floats
) -> tuple[Floats, Floats, Floats]:
    """Log exposure that each row was read at (N, 3), slope there (N, 3, 3), and how far that is from the predicted.

    At the reading, not at the prediction: a blunder must not judge itself.
    """
    seen, slope, off = np.empty_like(residual), np.empty_like(prediction.by_layer), residual
    judged = np.flatnonzero(columns.person >= 0)
    if len(judged):
        eye, off = seen_by_eye(layout, columns, general, judged), residual.copy()
        off[judged] = np.linalg.solve(eye, residual[judged][:, :, None])[:, :, 0]
    for place in range(len(layout.paper)):
        mine = np.flatnonzero(columns.paper == place)
        curves = curves_of(layout, general, place)
        here = prediction.log_exposure[mine]
        seen[mine], slope[mine] = curves.log_exposure_at(curves.density_at(here) + off[mine])
    if len(judged):
        slope[judged] = eye @ slope[judged]
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


def trusts(
    layout: Layout,
    columns: Columns,
    state: State,
    prediction: Prediction,
    residual: Floats,
    whitener: Floats,
    scales: Scales,
    patch_trust: Floats,
) -> tuple[Floats, Floats]:
    """How far each cell counts, and each patch of a cell that has several."""
    small = _small(columns, state)
    residual = residual + (prediction.by_layer @ small[columns.cell][:, :, None])[:, :, 0]
    seen, slope, offset = _told(layout, columns, state.general, prediction, residual)
    weighted = _information(whitener, slope)
    # a patch is weighed as if nothing had been held against it yet
    patches = _patch_trust(columns, weighted / patch_trust[:, None, None], seen, offset)
    weighted = weighted * (patches / patch_trust)[:, None, None]
    starts = np.searchsorted(columns.cell, np.arange(len(columns.cell_frame)))
    information = by_cell(weighted, starts)
    gradient = by_cell((weighted @ offset[:, :, None])[:, :, 0], starts)
    level = state.frames[columns.cell_frame] + state.runs[columns.cell_run] - small
    cells = trust_within(columns.cell_frame, level, information, gradient, scales.run, scales.frame)
    return cells, patches


def _information(whitener: Floats, slope: Floats) -> Floats:
    """(N, 3, 3) inverse covariance of the log exposure that rows were read at."""
    half: Floats = whitener @ slope
    result: Floats = np.swapaxes(half, 1, 2) @ half
    return result


def _learn(
    columns: Columns,
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
        return priors
    newest = printed[-_MOST_CELLS:]
    read = columns.frame_has_reading[newest]
    covariance = _covariances(elimination, np.concatenate(elimination.follow(newest)))
    covariance += elimination.local_covariance[newest]
    square = state.frames[newest][:, :, None] * state.frames[newest][:, None, :] + covariance
    left = spread_covariance(learned.frame_read)
    share_read = left @ inverse(left + _reading_covariance(layout, columns, state)[newest[read]])
    beside = share_read @ square[read] @ np.swapaxes(share_read, 1, 2) + left - share_read @ left
    blind = square[~read]
    seen_blind = _share_seen(covariance[~read], learned.frame_blind)

    cells = elimination.watched
    run_square, run_covariance = _runs(columns, layout, state, elimination)
    # a slip that is not doubted yet must not widen the spread until nothing would be doubted any more
    apart = np.einsum("kl,ckl->c", spread_precision(learned.run), run_square)
    run_square *= np.minimum(1.0, _MOST_APART / np.maximum(apart, 1e-12))[:, None, None]
    found = _learn_blocks(layout, state, elimination, priors, learned)
    pseudo = priors.pseudo_observations
    found["frame_read"] = _hastened(priors.frame_read, learned.frame_read, beside, share_read, None, pseudo)
    found["frame_blind"] = _hastened(priors.frame_blind, learned.frame_blind, blind, seen_blind, None, pseudo)
    seen_run = _run_seen(trust[cells], run_covariance, learned)
    found["run"] = _hastened(priors.run, learned.run, run_square, seen_run, trust[cells], pseudo)
    moved: dict[str, Any] = dict(found)
    return replace(learned, **moved)


def _runs(columns: Columns, layout: Layout, state: State, elimination: Elimination) -> tuple[Floats, Floats]:
    """(watched, 3, 3) expected square of the run of each watched cell, and the covariance that is left of it."""
    cells = elimination.watched
    given, by_exposure = elimination.run_covariance, elimination.run_by_exposure
    through = _run_following(columns, layout, elimination)
    frame = columns.cell_frame[cells]
    run_covariance = (
        given
        + by_exposure @ elimination.local_covariance[frame] @ np.swapaxes(by_exposure, 1, 2)
        + _covariances(elimination, through.reshape(3 * len(cells), elimination.shared))
    )
    run = state.runs[columns.cell_run[cells]]
    return run[:, :, None] * run[:, None, :] + run_covariance, run_covariance


def _run_following(columns: Columns, layout: Layout, elimination: Elimination) -> Floats:
    """(watched, 3, shared) minus how the run of each watched cell follows the shared effects, frames following, too."""
    cells, by_exposure = elimination.watched, elimination.run_by_exposure
    through = np.zeros((len(cells), 3, elimination.shared))
    through[:, :, : layout.size] = elimination.run_by_general
    _add_blocks(through, layout, columns, cells, by_exposure)
    through -= by_exposure @ elimination.follow(columns.cell_frame[cells])
    return through


def _add_blocks(shared: Floats, layout: Layout, columns: Columns, cells: Ints, by_exposure: Floats) -> None:
    """Add to (n, 3, shared) what the blocks of cells (n,) do by their log exposure (n, 3, 3)."""
    for block, share in zip(columns.cell_blocks[cells].T, columns.cell_shares[cells].T, strict=True):
        met = np.flatnonzero(block >= 0)
        for layer in range(3):
            shared[met, :, layout.size + 3 * block[met] + layer] += share[met, None] * by_exposure[met, :, layer]


def _learn_eye(
    columns: Columns,
    layout: Layout,
    state: State,
    prediction: Prediction,
    residual: Floats,
    elimination: Elimination,
    priors: Priors,
    learned: Priors,
    weight: Floats,
) -> tuple[Spread, Floats]:
    """The same step for how far what an eye says is off [density]; and how much it said of what is not sure itself.

    Parameters
    ----------
    weight : (N,) how far each row counts

    Returns
    -------
    spread : Spread
    unsure : (2 persons,) for casts and darkness: squares of the errors that were shown, as far as frames and blocks
        leave them unknown, over those of the eye, summed, for an eye of scale 1
    """
    every = np.flatnonzero(columns.person >= 0)
    judged_cells = np.unique(columns.cell[every])
    newest = judged_cells[np.argsort(columns.cell_trial[judged_cells], kind="stable")[-_MOST_CELLS:]]
    rows = every[np.isin(columns.cell[every], newest)]
    here, cell = prediction.at(rows), columns.cell[rows]
    slope, frame = here.by_layer, columns.cell_frame[cell]
    # how a run follows is kept of watched cells; of others, as in a drum that frames shared, it is as believed
    known = np.isin(cell, elimination.watched)
    place = np.searchsorted(elimination.watched, cell[known])
    by_run, run_left = np.zeros((len(rows), 3, 3)), np.tile(spread_covariance(learned.run), (len(rows), 1, 1))
    by_run[known], run_left[known] = elimination.run_by_exposure[place], elimination.run_covariance[place]
    shared = np.zeros((len(rows), 3, elimination.shared))
    shared[:, :, : layout.size] = by_general(layout, columns.at(rows), state.general, here, priors)
    shared[:, :, layout.person] = 0.0
    _add_blocks(shared, layout, columns, cell, slope)
    shared -= slope @ elimination.follow(frame)
    shared[known] -= slope[known] @ _run_following(columns, layout, elimination)[place]
    by_frame = slope @ (np.eye(3) - by_run)
    shown = _covariances(elimination, shared.reshape(3 * len(rows), elimination.shared), layout.person)
    shown += by_frame @ elimination.local_covariance[frame] @ np.swapaxes(by_frame, 1, 2)
    shown += slope @ run_left @ np.swapaxes(slope, 1, 2)
    eye, noise = spread_covariance(learned.eye), noise_of(columns.at(rows), learned, here)
    share = eye @ inverse(noise)
    left = eye - share @ eye + share @ shown @ np.swapaxes(share, 1, 2)
    mean = (share @ residual[rows][:, :, None])[:, :, 0]
    square = mean[:, :, None] * mean[:, None, :] + left
    found = _hastened(
        priors.eye, learned.eye, square, _share_seen(left, learned.eye), weight[rows], priors.pseudo_observations
    )
    # the scale is sought without what runs show (``look_at``): they hide a part of the rest, that is all
    by_run[~known] = _run_beside(learned, slope[~known], noise[~known])
    large = slope @ (np.eye(3) - by_run) @ _large_unknown(columns, layout, elimination, cell) @ np.swapaxes(slope, 1, 2)
    unsure = np.zeros(layout.person.stop - layout.person.start)
    person, scale = columns.person[rows], np.exp(2 * state.general[layout.person])
    for which, part in enumerate((np.eye(3) - 1 / 3, np.full((3, 3), 1 / 3))):
        ratio = np.trace(part @ large @ part @ inverse(noise), axis1=1, axis2=2)
        np.add.at(unsure, 2 * person + which, weight[rows] * ratio)
    # all that an eye said teaches its scale, not the newest only
    people = len(unsure) // 2
    count = np.bincount(columns.person[every], weight[every], people)
    counted = np.bincount(person, weight[rows], people)
    unsure *= np.repeat(count / np.maximum(counted, 1e-12), 2)
    return found, unsure / scale


def _run_beside(learned: Priors, slope: Floats, noise: Floats) -> Floats:
    """(n, 3, 3) what of an exposure the run of a row takes upon itself, if the row has it to itself."""
    weight = np.swapaxes(slope, 1, 2) @ inverse(noise) @ slope
    result: Floats = inverse(spread_precision(learned.run) + weight) @ weight
    return result


def _large_unknown(columns: Columns, layout: Layout, elimination: Elimination, cells: Ints) -> Floats:
    """(n, 3, 3) covariance of the exposure of cells, runs apart, with its large deviations; general effects given.

    Large are those of blocks, and of frames that were not read: they go through the curve, and so by an eye's scale.
    General effects are as probable as can be together with that scale: they are not spread about it.
    """
    frame, general = columns.cell_frame[cells], slice(0, layout.size)
    blocks = np.zeros((len(cells), 3, elimination.shared))
    _add_blocks(blocks, layout, columns, cells, np.broadcast_to(np.eye(3), (len(cells), 3, 3)))
    read, follow = columns.frame_has_reading[frame], elimination.follow(frame)
    shape = 3 * len(cells), elimination.shared
    half = large = _halves(elimination, (blocks - follow).reshape(shape), general)
    if read.any():
        large = half + _halves(elimination, (read[:, None, None] * follow).reshape(shape), general)
    found: Floats = np.einsum("snk,snl->nkl", half, large, optimize=True)
    found[~read] += elimination.local_covariance[frame[~read]]
    return found


def _run_seen(trust: Floats, covariance: Floats, learned: Priors) -> Floats:
    """(watched, 3, 3) share of each run that is seen [1].

    A cell that is doubted counts less, and so does its run's prior: that is no deviation unseen.
    """
    return _share_seen(trust[:, None, None] * covariance, learned.run)


def _learn_blocks(
    layout: Layout, state: State, elimination: Elimination, priors: Priors, learned: Priors
) -> dict[str, Spread]:
    """The same step for the spreads of films, lots, baths, their paces, views and the lamp's walk."""
    by_spread: dict[str, list[Tie]] = {}
    for tie in ties(layout):
        if tie.spread in _PSEUDO:
            by_spread.setdefault(tie.spread, []).append(tie)
    # of what is not there any more nothing was learned
    found: dict[str, Spread] = {name: getattr(priors, name) for name in _PSEUDO}
    for spread, members in by_spread.items():
        newest = members[-_MOST_BLOCKS:]
        block, before = np.array([tie.block for tie in newest]), np.array([tie.before for tie in newest])
        moves = state.blocks[block] - np.where(before[:, None] >= 0, state.blocks[before], 0.0)
        rows = np.zeros((len(newest), 3, elimination.shared))
        one, layers = np.arange(len(newest))[:, None], np.arange(3)
        rows[one, layers, layout.size + 3 * block[:, None] + layers] = 1.0
        tied = before >= 0
        rows[one[tied], layers, layout.size + 3 * before[tied, None] + layers] = -1.0
        span = np.array([tie.span for tie in newest])[:, None, None]
        covariance = _covariances(elimination, rows.reshape(3 * len(newest), elimination.shared)) / span
        square = moves[:, :, None] * moves[:, None, :] / span + covariance
        current = getattr(learned, spread)
        seen = _share_seen(covariance, current)
        found[spread] = _hastened(getattr(priors, spread), current, square, seen, None, _PSEUDO[spread])
    return found


def _share_seen(covariance: Floats, spread: Spread) -> Floats:
    """(n, 3, 3) share of deviations of this spread that is seen, when this covariance (n, 3, 3) of them is left [1]."""
    result: Floats = np.eye(3) - covariance @ spread_precision(spread)
    return result


def _hastened(
    prior: Spread, current: Spread, square: Floats, seen: Floats, weight: Floats | None, pseudo: float
) -> Spread:
    """Next spread from expected squares (n, 3, 3): the step of expectation and maximisation, lengthened.

    Parameters
    ----------
    seen : (n, 3, 3) share of each deviation that is seen [1]
    weight : (n,) how far each counts; 1 by default
    pseudo : observations at the prior
    """
    weight = np.ones(len(square)) if weight is None else weight
    shares = _as_many(seen, weight)
    haste = np.minimum((pseudo + weight.sum()) / (pseudo + shares), _MOST_HASTE)
    old = _logarithms_of([current])
    new = _logarithms_of([_updated(prior, square, weight, pseudo)])
    return _spreads(old + np.clip(haste * (new - old), -_MOST_CHANGE, _MOST_CHANGE))[0]


def _as_many(seen: Floats, weight: Floats) -> Floats:
    """(2,) As many deviations wholly seen, across the grey direction and along it, tell as much of their spread."""
    along = seen.sum(axis=(1, 2)) / 3
    across = np.clip((np.trace(seen, axis1=1, axis2=2) - along) / 2, 0.0, 1.0)
    along = np.clip(along, 0.0, 1.0)
    return np.array([weight @ np.square(across), weight @ np.square(along)])


def _covariances(elimination: Elimination, rows: Floats, held: slice = slice(0)) -> Floats:
    """(n, 3, 3) covariance of vectors given as (3 n, shared) combinations of the shared effects, those held known."""
    half = _halves(elimination, rows, held)
    result: Floats = np.einsum("snk,snl->nkl", half, half, optimize=True)
    return result


def _halves(elimination: Elimination, rows: Floats, held: slice) -> Floats:
    """(shared, n, 3) whose products are the covariances of such vectors, those held known."""
    half = elimination.half(rows)
    if held.stop:
        known = elimination.factor.half_general[:, held]
        half = half - known @ np.linalg.solve(known.T @ known, known.T @ half)
    return half.reshape(len(half), len(rows) // 3, 3)


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
    return float(np.max(np.abs(np.expm1(_logarithms(new) - _logarithms(old)))))
