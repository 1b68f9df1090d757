"""Where a solution begins: an earlier one by names, so that the record may have changed meanwhile."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from printlore.core.memory.arrow import State
from printlore.core.memory.columns import Columns, Floats
from printlore.core.memory.evidence import Trial
from printlore.core.memory.model import Layout, Piece, pieces
from printlore.core.memory.priors import Spread


@dataclass(frozen=True, slots=True)
class Start:
    """An earlier solution: where to look first.

    What is found from there is the same, but where two prints of an unread negative contradict each other and nothing
    says which one is wrong: there the blame may stay where it was.

    Attributes
    ----------
    general : general effects by what they are of
    blocks : (3,) of each block
    frames : (3,) of each frame that was printed
    trials : (rows, 5) by name: of each row of a trial the run of its cell (three), the trust in its cell, and in itself
    learned : spreads by name
    """

    general: Mapping[Piece, Floats]
    blocks: Mapping[tuple[str, ...], Floats]
    frames: Mapping[str, Floats]
    trials: Mapping[str, Floats]
    learned: Mapping[str, Spread]


@dataclass(slots=True)
class Begun:
    """A start as it carries over to a record.

    Attributes
    ----------
    frames : (frames,) which of them are known already
    trust, patch_trust : (cells,), (rows,); 1 where nothing is known
    rows : (rows,) of which of them something is
    """

    state: State
    frames: npt.NDArray[np.bool_]
    trust: Floats
    patch_trust: Floats
    rows: npt.NDArray[np.bool_]


def begin(layout: Layout, columns: Columns, trials: Sequence[Trial], start: Start | None) -> Begun:
    """The prior mean, or as much of an earlier solution as carries over to columns of these trials."""
    state = State.zero(layout, columns)
    begun = Begun(
        state,
        np.zeros(len(state.frames), dtype=bool),
        np.ones(len(columns.cell_frame)),
        np.ones(columns.rows),
        np.zeros(columns.rows, dtype=bool),
    )
    if start is None:
        return begun
    for piece, where in pieces(layout):
        if (known := start.general.get(piece)) is not None and len(known) == where.stop - where.start:
            state.general[where] = known
    _fill(state.blocks, columns.names.blocks, start.blocks)
    begun.frames = _fill(state.frames, columns.names.frames, start.frames)
    _carry_trials(columns, trials, start, begun)
    return begun


_Name = TypeVar("_Name", str, tuple[str, ...])


def _fill(into: Floats, names: Sequence[_Name], known: Mapping[_Name, Floats]) -> npt.NDArray[np.bool_]:
    """Write what is known (3,) of names into rows (n, 3); which rows (n,) that were."""
    there = np.array([name in known for name in names], dtype=bool)
    if there.any():
        into[there] = [known[name] for name in names if name in known]
    return there


def _carry_trials(columns: Columns, trials: Sequence[Trial], start: Start, begun: Begun) -> None:
    """Runs and trust of the trials that the start knows with as many rows."""
    order = np.argsort(columns.trial, kind="stable")
    numbers, count = np.unique(columns.trial, return_counts=True)
    known = [start.trials.get(trials[number].name) for number in numbers.tolist()]
    fits = [one is not None and len(one) == rows for one, rows in zip(known, count.tolist(), strict=True)]
    if not any(fits):
        return
    rows = order[np.repeat(fits, count)]
    values = np.concatenate([one for one, fit in zip(known, fits, strict=True) if fit and one is not None])
    cell = columns.cell[rows]
    begun.state.runs[columns.cell_run[cell]] = values[:, :3]
    begun.trust[cell] = values[:, 3]
    begun.patch_trust[rows] = values[:, 4]
    begun.rows[rows] = True
