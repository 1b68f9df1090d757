"""One trial more: what it and its frame tell, added to what is known, without solving for everything again."""

import operator
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from printlore.core.memory.arrow import Part, Reduced, Scales, State, follow_part, part_of, reduce_part
from printlore.core.memory.columns import (
    LARGEST_KNOT,
    Columns,
    Floats,
    Ints,
    Names,
    aged,
    columns_of,
    day_of,
    film_block,
    homes_of,
    views_of,
)
from printlore.core.memory.envelope import Updated
from printlore.core.memory.evidence import Evidence, FrameFacts, Trial
from printlore.core.memory.model import Prediction, by_general, spread_covariance, with_spreads
from printlore.core.memory.solve import Memory, look_at, scales_of, solve_from, trusts, weigh_eyes, whitener_of

_MOST_TRIALS = 12
"""More new trials than this are not a few."""
_FAR = 0.01
"""[log10, or the unit of the effect] Shared effects that have moved further since all was solved together are solved
for together again: a run counts at the slope of its print, which moves with the curve, and no straight line says so.
Up to a fifth of such a move has been seen to be missing in what a print is foretold (measured here, 300 to 3000
trials): 0.2 CC at most, a quarter of what two equal prints differ by."""
_NEGATIVES_DIFFER = 0.2
"""[log10] What a paper's sight is times: so much less it moves any print."""
_MOST_UPDATES = 100
"""Each leaves a factor of its own behind: then all is put together anew."""
_ROUNDS = 40
_DONE = 1e-6
"""[log10] Last step of frames, runs and general effects: the next would be a hundredth of it."""
_SAME = 1e-6
"""Change of a trust that no longer matters."""


def update(memory: Memory, evidence: Evidence) -> Memory:
    """Memory of evidence with a few trials more than it was solved with, or a few that say something else now.

    The frames that these trials show, and those that shared a drum with them, are solved anew at a linearisation and
    trust of their own; all other trials count as they were linearised. What the learned spreads are stays as it was
    until everything is solved together again. That is done here, too, from the last solution, if no trial differs, if
    anything but trials, aims of frames, new frames, new days or new baths does, or if shared effects moved too far.

    Raises
    ------
    UnknownRecord
        If a trial names something that is not declared.
    """
    change = _change_of(memory, evidence) if memory.added < _MOST_UPDATES else None
    found = None if change is None else _updated(memory, evidence, change)
    return solve_from(evidence, memory.as_start(), memory.priors) if found is None else found


@dataclass(frozen=True, slots=True)
class _Change:
    """Which frames are looked at again, with which trials; and what has a name now.

    Attributes
    ----------
    frames : (n,) numbers of the frames, in order
    before, trials : numbers of their trials before and now
    same : numbers of those that are what they were
    tied, spread : of the new blocks, as ``Updated``
    """

    names: Names
    frames: Ints
    before: Ints
    trials: Ints
    same: Ints
    tied: Ints
    spread: Floats


def _change_of(memory: Memory, evidence: Evidence) -> _Change | None:
    """What is new or otherwise; None if it is not a few trials only."""
    old, columns = memory.evidence, memory.columns
    count = len(old.trials)
    same = evidence.heads == old.heads and evidence.papers == old.papers and evidence.lots == old.lots
    same = same and evidence.alike == old.alike
    if not same or not 0 < count <= len(evidence.trials):
        return None
    other: list[int] = []
    if old.trials != evidence.trials[:count]:
        differing = np.fromiter(map(operator.is_not, old.trials, evidence.trials), dtype=bool, count=count)
        other = [n for n in np.flatnonzero(differing).tolist() if old.trials[n] != evidence.trials[n]]
    # a trial that was removed moves all later ones: then they have other names
    if len(other) > _MOST_TRIALS or any(old.trials[n].name != evidence.trials[n].name for n in other):
        return None
    numbers = [*other, *range(count, len(evidence.trials))]
    new = tuple(evidence.trials[number] for number in numbers)
    frames = _frames_between(old, evidence)
    if frames is None or not 0 < len(new) <= _MOST_TRIALS:
        return None
    added, renewed = frames
    names = _names_with(memory, evidence, new, tuple(old.trials[n] for n in other), added)
    if names is None or any(key not in names[0].place_of_frame for key in (t.frame for t in new)):
        return None
    found, tied, spread = names
    earlier = [old.trials[number] for number in other]
    touched = {found.place_of_frame[trial.frame] for trial in (*new, *earlier)}
    loads = [columns.loads[trial.run] for trial in (*new, *earlier) if trial.run in columns.loads]
    touched |= set(columns.cell_frame[_among(columns.cell_load, loads)].tolist())
    printed = memory.elimination.links.part_of_frame
    touched |= {place for place in (found.place_of_frame[name] for name in renewed) if printed[place] >= 0}
    cells = np.zeros(0, dtype=np.int64)
    while True:
        grown = np.flatnonzero(_among(columns.cell_frame, sorted(touched)))
        tied_runs = columns.cell_run[grown[~columns.cell_nested[grown]]]
        grown = np.union1d(grown, np.flatnonzero(_among(columns.cell_run, tied_runs) & ~columns.cell_nested))
        touched |= set(columns.cell_frame[grown].tolist())
        if len(grown) == len(cells):
            break
        cells = grown
    if len(touched) > LARGEST_KNOT // 2:
        return None
    before = np.unique(columns.trial[_among(columns.cell, cells)])
    return _Change(
        names=found,
        frames=np.array(sorted(touched), dtype=np.int64),
        before=before,
        trials=np.union1d(before, np.array(numbers, dtype=np.int64)),
        same=np.setdiff1d(before, np.array(other, dtype=np.int64)),
        tied=tied,
        spread=spread,
    )


def _frames_between(old: Evidence, evidence: Evidence) -> tuple[tuple[str, ...], tuple[str, ...]] | None:
    """Frames that are new, and those that have another aim; None if one that was there differs in anything else."""
    if evidence.frames is old.frames:
        return (), ()
    names, facts = tuple(evidence.frames), tuple(evidence.frames.values())
    count = len(old.frames)
    if names[:count] != tuple(old.frames):
        return None
    pairs = zip(old.frames.values(), facts, strict=False)
    other = [(one, two) for one, two in pairs if one is not two and one != two]
    if any((one.film, one.reading) != (two.film, two.reading) for one, two in other):
        return None
    return names[count:], tuple(two.name for _, two in other)


def _names_with(
    memory: Memory, evidence: Evidence, new: tuple[Trial, ...], were: tuple[Trial, ...], added: tuple[str, ...]
) -> tuple[Names, Ints, Floats] | None:
    """Names with those that are new; None if one is new of which more than a block or a frame would be."""
    names, learned = memory.columns.names, memory.learned
    read = memory.layout.films_read
    if any(
        film_block(frame, read) not in names.place_of_block
        or (frame.reading is not None and (frame.film not in read or frame.reading.source not in names.sources))
        for frame in (evidence.frames[name] for name in added)
    ) or any(process not in names.processes for process in evidence.baths.values()):
        return None
    blocks: dict[tuple[str, ...], tuple[int, Floats]] = {}
    for bath in evidence.baths:
        if ("bath", bath) not in names.place_of_block:
            blocks["bath", bath] = -1, spread_covariance(learned.bath)
    for trial in new:
        if trial.head not in evidence.heads or trial.bath not in evidence.baths or trial.lot not in evidence.lots:
            return None
        usual, day = evidence.heads[trial.head].usual, day_of(trial.date)
        for patch in trial.patches:
            stop = patch.setting.f_number
            if stop != usual.f_number and (trial.head, stop) not in names.place_of_stop:
                return None
            if patch.judgement is not None and patch.judgement.person not in names.persons:
                return None
        pace, date = ("pace", trial.bath), ("date", trial.head, repr(day))
        if aged(trial.bath_state, memory.priors) > 0 and pace not in names.place_of_block:
            blocks[pace] = -1, spread_covariance(learned.pace)
        if date not in names.place_of_block and date not in blocks:
            dates, places = names.dates_of_head.get(trial.head, (np.zeros(0), np.zeros(0, dtype=np.int64)))
            if not len(dates) or day < dates[-1] or any(key[0] == "date" for key in blocks):
                return None
            walk = spread_covariance(learned.drift_per_root_day) * (day - dates[-1])
            blocks[date] = memory.layout.size + 3 * int(places[-1]), walk
    if len(evidence.papers) > 1:
        for frame in dict.fromkeys(trial.frame for trial in (*new, *were)):
            now = [t for t in {t.name: t for t in (*memory.trials_of(frame), *new)}.values() if t.frame == frame]
            if not now:
                continue
            homes = homes_of(evidence, now)
            place = names.place_of_frame.get(frame, -1)
            home = -1 if place < 0 else int(memory.columns.frame_home[place])
            if home >= 0 and names.papers[home] != homes[frame]:
                return None
            views = views_of(evidence, now, homes)
            blocks |= {
                view: (-1, spread_covariance(learned.view)) for view in views if view not in names.place_of_block
            }
    if not blocks and not added:
        found = names
    else:
        found = replace(names, blocks=(*names.blocks, *blocks), frames=(*names.frames, *added))
    tied = np.array([place for place, _ in blocks.values()], dtype=np.int64)
    return found, tied, np.array([spread for _, spread in blocks.values()]).reshape(-1, 3, 3)


@dataclass(slots=True)
class _Some:
    """Some frames by themselves, at a state, with the shared effects as they stand.

    Attributes
    ----------
    state : State
        Frames and runs of these only.
    """

    memory: Memory
    columns: Columns
    part: Part
    state: State
    whole: Floats
    trust: Floats
    patch_trust: Floats

    def look(self) -> tuple[Prediction, Floats, Floats]:
        """Prediction, residual and whitener, as of ``look_at``."""
        memory, patches = self.memory, np.sqrt(self.patch_trust)[:, None, None]
        found = look_at(memory.layout, self.columns, self.state, memory.priors, self.whole * patches)
        weigh_eyes(self.columns, memory.learned, found, self.whole, self.patch_trust)
        return found

    def reduced(self, seen: tuple[Prediction, Floats, Floats]) -> Reduced:
        """Runs and frames eliminated."""
        memory, (prediction, residual, whitener) = self.memory, seen
        scales = replace(self.scales(), whitener=whitener)

        def slopes(part: Part, here: Prediction, left: Floats) -> Floats:
            return by_general(memory.layout, part.columns, self.state.general, here, memory.priors, left)

        return reduce_part(self.part, self.state, prediction, residual, scales, self.trust, slopes)

    def scales(self) -> Scales:
        """Precisions of these frames and their runs."""
        memory = self.memory
        return scales_of(memory.layout, self.columns, self.state, self.whole, memory.learned)

    def doubt(self, seen: tuple[Prediction, Floats, Floats]) -> float:
        """Weigh the trust anew; how far it has changed."""
        before = self.trust, self.patch_trust
        prediction, residual, whitener = seen
        self.trust, self.patch_trust = trusts(
            self.memory.layout,
            self.columns,
            self.state,
            prediction,
            residual,
            whitener,
            self.scales(),
            self.patch_trust,
        )
        return max(
            float(np.max(np.abs(self.trust - before[0]), initial=0.0)),
            float(np.max(np.abs(self.patch_trust - before[1]), initial=0.0)),
        )


def _some(
    memory: Memory, evidence: Evidence, names: Names, blocks: Floats, frames: Ints, trials: Ints, same: Ints
) -> _Some:
    """These trials of these frames, at the memory's state; at its trust where they are the same."""
    columns = memory.columns
    own = tuple(names.frames[place] for place in frames.tolist())
    facts: Mapping[str, FrameFacts] = {name: evidence.frames[name] for name in own}
    mine = columns_of(
        replace(evidence, frames=facts),
        memory.priors,
        replace(names, frames=own),
        columns.reading_mean,
        [evidence.trials[number] for number in trials.tolist()],
    )
    old = frames[frames < len(memory.state.frames)]
    state = State(memory.state.general, blocks, np.zeros((len(frames), 3)), np.zeros((mine.run_count, 3)))
    state.frames[: len(old)] = memory.state.frames[old]
    trust, patch_trust = np.ones(len(mine.cell_frame)), np.ones(mine.rows)
    # rows of a trial stand in the same order in both
    number = trials[mine.trial]
    there, here = np.flatnonzero(_among(columns.trial, same)), np.flatnonzero(_among(number, same))
    there = there[np.argsort(columns.trial[there], kind="stable")]
    here = here[np.argsort(number[here], kind="stable")]
    trust[mine.cell[here]] = memory.trust[columns.cell[there]]
    patch_trust[here] = memory.patch_trust[there]
    state.runs[mine.cell_run[mine.cell[here]]] = memory.state.runs[columns.cell_run[columns.cell[there]]]
    return _Some(
        memory=memory,
        columns=mine,
        part=part_of(mine, 0, len(mine.cell_frame)),
        state=state,
        whole=whitener_of(mine.noise),
        trust=trust,
        patch_trust=patch_trust,
    )


def _updated(memory: Memory, evidence: Evidence, change: _Change) -> Memory | None:
    """The memory with the change; None if it moves shared effects too far."""
    size, elimination = memory.layout.size, memory.elimination
    factor = Updated(elimination.factor, change.tied, change.spread)
    count = len(elimination.factor)
    blocks = memory.state.blocks
    if len(change.tied):
        from_there = np.concatenate([memory.state.general, blocks.ravel()])
        new = [from_there[place : place + 3] if place >= 0 else np.zeros(3) for place in change.tied.tolist()]
        blocks = np.concatenate([blocks, np.array(new)])
        memory = replace(memory, layout=with_spreads(replace(memory.layout, names=change.names), memory.learned))
    now = _some(memory, evidence, change.names, blocks, change.frames, change.trials, change.same)
    met = now.part.blocks
    before = None
    if len(change.before):
        was = replace(evidence, trials=memory.evidence.trials, frames={**evidence.frames, **memory.evidence.frames})
        before = _some(memory, was, change.names, blocks, change.frames, change.before, change.before)
        met = np.union1d(met, before.part.blocks)
    gone = _widened(None, met, met, size)
    if before is not None:
        gone = _widened(before.reduced(before.look()), before.part.blocks, met, size)
    places = np.concatenate([np.arange(size), (size + 3 * met[:, None] + np.arange(3)).ravel()])
    units = np.zeros((len(places) - size, len(factor)))
    units[np.arange(len(units)), places[size:]] = 1.0
    half = np.concatenate([factor.half_general, factor.half(units)], axis=1)
    covariance = half.T @ half
    # what was left of the step to the last mode
    left = np.zeros(len(factor))
    left[:count] = np.concatenate([elimination.step.general, elimination.step.blocks.ravel()])
    for number, place in enumerate(change.tied.tolist()):
        if place >= 0:
            left[count + 3 * number : count + 3 * number + 3] = left[place : place + 3]
    moved = np.zeros(len(places))
    seen = now.look()
    for _ in range(_ROUNDS):
        reduced = now.reduced(seen)
        information, right = _widened(reduced, now.part.blocks, met, size)
        added = information - gone[0]
        pull = right - gone[1] + information @ moved
        following = np.linalg.solve(np.eye(len(places)) + covariance @ added, covariance @ pull + left[places])
        step = State(
            following[:size] - moved[:size],
            np.zeros_like(now.state.blocks),
            np.zeros_like(now.state.frames),
            np.zeros_like(now.state.runs),
        )
        step.blocks[met] = (following[size:] - moved[size:]).reshape(-1, 3)
        follow_part(now.part, reduced, now.state, step)
        now.state = now.state.stepped(step, 1.0)
        moved = following
        largest = max(float(np.max(np.abs(part), initial=0.0)) for part in (step.general, step.frames, step.runs))
        seen = now.look()
        if not np.all(np.isfinite(seen[1])):
            # a young memory thrown where no curve is defined: a solution of all finds its way by shorter steps
            return None
        shaken = now.doubt(seen)
        if shaken > 0:
            seen = now.look()
        if shaken < _SAME and largest < _DONE:
            break
    else:
        return None
    reduced = now.reduced(seen)
    information, _ = _widened(reduced, now.part.blocks, met, size)
    shift = left + factor.back(half @ (pull - added @ following)[:, None])[:, 0]
    moved = np.abs(shift)
    for sight in memory.layout.sight:
        if sight is not None:
            moved[sight] *= _NEGATIVES_DIFFER
    drift = memory.drift + float(np.max(moved))
    if drift > _FAR:
        return None
    factor.change(half, information - gone[0])
    return _put_together(memory, evidence, change, now, reduced, factor, blocks, shift, drift)


def _widened(reduced: Reduced | None, blocks: Ints, met: Ints, size: int) -> tuple[Floats, Floats]:
    """Information and right side of a part about the general effects and then the blocks that are met."""
    total = size + 3 * len(met)
    information, right = np.zeros((total, total)), np.zeros(total)
    if reduced is None:
        return information, right
    where = size + (3 * np.searchsorted(met, blocks)[:, None] + np.arange(3)).ravel()
    information[:size, :size], right[:size] = reduced.general, reduced.right_general
    information[where, :size], information[:size, where] = reduced.cross, reduced.cross.T
    information[np.ix_(where, where)] = reduced.between
    right[where] = reduced.right_blocks
    return information, right


def _put_together(
    memory: Memory,
    evidence: Evidence,
    change: _Change,
    now: _Some,
    reduced: Reduced,
    factor: Updated,
    blocks: Floats,
    shift: Floats,
    drift: float,
) -> Memory:
    size, elimination, columns = memory.layout.size, memory.elimination, memory.columns
    frames = len(change.names.frames)
    gone = np.flatnonzero(_among(columns.cell_frame, change.frames))
    rows = np.flatnonzero(_among(columns.cell, gone))
    merged = _merged(columns, now.columns, change, rows, gone)
    part = replace(
        now.part,
        frames=change.frames[now.part.frames],
        runs=columns.run_count + now.part.runs,
        rows=slice(merged.rows - now.columns.rows, merged.rows),
        cells=slice(len(merged.cell_frame) - len(now.trust), len(merged.cell_frame)),
    )
    reduced.cell_general = None
    part_of_frame = np.full(frames, -1, dtype=np.int64)
    part_of_frame[: len(memory.state.frames)] = elimination.links.part_of_frame
    # a frame whose trials have all gone to another is as if it had never been printed
    emptied = np.setdiff1d(change.frames, part.frames)
    part_of_frame[part.frames], part_of_frame[emptied] = len(elimination.links.parts), -1
    covariance = np.zeros((frames, 3, 3))
    covariance[: len(memory.state.frames)] = elimination.local_covariance
    covariance[part.frames] = reduced.covariance
    state = State(
        memory.state.general + shift[:size],
        blocks + shift[size:].reshape(-1, 3),
        np.zeros((frames, 3)),
        np.concatenate([memory.state.runs, now.state.runs]),
    )
    state.frames[: len(memory.state.frames)] = memory.state.frames
    state.frames[change.frames] = now.state.frames
    state.frames[emptied] = 0.0
    return replace(
        memory,
        evidence=evidence,
        columns=merged,
        state=state,
        trust=_replaced(memory.trust, gone, now.trust),
        patch_trust=_replaced(memory.patch_trust, rows, now.patch_trust),
        elimination=replace(
            elimination,
            step=State(np.zeros(size), np.zeros_like(blocks), np.zeros((frames, 3)), np.zeros_like(state.runs)),
            factor=factor,
            local_covariance=covariance,
            links=replace(elimination.links, parts=(*elimination.links.parts, part), part_of_frame=part_of_frame),
            reduced=(*elimination.reduced, reduced),
        ),
        steps=0,
        added=memory.added + 1,
        drift=drift,
    )


def _among(values: Ints, few: Ints | list[int]) -> npt.NDArray[np.bool_]:
    """Which of many whole numbers are among a few: by a table, for there are hundreds of thousands."""
    table = np.zeros(max(int(values.max(initial=0)), int(max(few, default=0))) + 1, dtype=bool)
    table[few] = True
    result: npt.NDArray[np.bool_] = table[values]
    return result


def _replaced(values: Floats, gone: Ints, added: Floats) -> Floats:
    """Rows with new ones at the end instead of those that are gone; quick where these lie together, as of a frame."""
    if not len(gone):
        return np.concatenate([values, added])
    if gone[-1] - gone[0] + 1 == len(gone):
        return np.concatenate([values[: gone[0]], values[gone[-1] + 1 :], added])
    return np.concatenate([np.delete(values, gone, axis=0), added])


_PER_CELL = ("cell_blocks", "cell_shares", "cell_frame", "cell_run", "cell_nested", "cell_trial", "cell_load")
_PER_FRAME = (
    *("frame_has_reading", "frame_paper", "frame_home", "frame_source", "frame_reading_variance"),
    *("frame_head", "frame_dial"),
)

_UNSAID = {"frame_home": -1, "frame_head": -1, "frame_source": -1}


def _merged(columns: Columns, mine: Columns, change: _Change, rows: Ints, cells: Ints) -> Columns:
    """The columns with the rows of these frames replaced by new ones, at the end."""
    new = {
        "trial": change.trials[mine.trial],
        "cell": mine.cell + len(columns.cell_frame) - len(cells),
        "cell_frame": change.frames[mine.cell_frame],
        "cell_run": mine.cell_run + columns.run_count,
        "cell_load": mine.cell_load + columns.load_count,
        "cell_trial": change.trials[mine.cell_trial],
    }
    place = np.cumsum(~_among(np.arange(len(columns.cell_frame)), cells)) - 1
    found: dict[str, Any] = {}
    for field in fields(columns):
        old = getattr(columns, field.name)
        if isinstance(old, np.ndarray) and field.name not in (*_PER_FRAME, "block_last"):
            if field.name == "cell":
                old = place[old]
            added = new.get(field.name, getattr(mine, field.name))
            found[field.name] = _replaced(old, cells if field.name in _PER_CELL else rows, added)
    more = len(change.names.frames) - len(columns.names.frames)
    for name in _PER_FRAME:
        old = getattr(columns, name)
        # of what is new and was not printed nothing is said yet: no paper, no head, no source
        extended = np.concatenate([old, np.full((more, *old.shape[1:]), _UNSAID.get(name, 0), dtype=old.dtype)])
        extended[change.frames] = getattr(mine, name)
        found[name] = extended
    last = mine.block_last.copy()
    last[: len(columns.block_last)] = np.maximum(last[: len(columns.block_last)], columns.block_last)
    return replace(
        columns,
        **found,
        names=change.names,
        block_last=last,
        run_count=columns.run_count + mine.run_count,
        loads=columns.loads.new_child({name: number + columns.load_count for name, number in mine.loads.items()}),
        load_count=columns.load_count + mine.load_count,
    )
