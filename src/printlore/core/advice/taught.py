"""What the prints taught of lots, baths and films: each as the move that answers it, with the error of that move.

The layers of an effect are learned together and err together (most of what is not known of a lot is its speed, which
moves all three), so the error of a move in colour comes from their covariance, not from the error of each.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from printlore.core.memory.columns import Floats
from printlore.core.memory.model import spread_covariance, ties
from printlore.core.memory.solve import Memory
from printlore.core.paper.facts import Vector

KINDS = ("lot", "bath", "film")
_MOVES = np.array([[-1.0, 1.0, 0.0], [-1.0, 0.0, 1.0]])
"""Magenta and yellow that answer an effect (red, green, blue)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Taught:
    """A learned effect.

    Attributes
    ----------
    kind, name : str
        "lot", "bath" or "film", and which.
    log_exposure, standard_error : (3,) (red, green, blue) [log10]
    magenta, yellow : float
        To add in answer [CC].
    magenta_error, yellow_error : float
        Standard errors of those [CC].
    prior : float
        The larger of the two errors before any print [CC].
    light : float
        Exposure to give in answer: what the red layer had too much [log10].
    trials : tuple of str
        That bear on it.
    """

    kind: str
    name: str
    log_exposure: Vector
    standard_error: Vector
    magenta: float
    yellow: float
    magenta_error: float
    yellow_error: float
    prior: float
    light: float
    trials: tuple[str, ...]


def taught(memory: Memory, kinds: Sequence[str] = KINDS) -> tuple[Taught, ...]:
    """Every learned effect of these kinds, in the order of the memory."""
    names = memory.columns.names.blocks
    places = [place for place, key in enumerate(names) if key[0] in kinds]
    if not places:
        return ()
    elimination = memory.elimination
    wanted = (memory.layout.size + 3 * np.array(places)[:, None] + np.arange(3)).ravel()
    unit = np.zeros((len(wanted), elimination.shared))
    unit[np.arange(len(wanted)), wanted] = 1.0
    half = elimination.half(unit).reshape(elimination.shared, len(places), 3)
    covariance = np.einsum("spk,spl->pkl", half, half)
    bearing = _trials_of_blocks(memory, places)
    spreads = {tie.block: tie.spread for tie in ties(memory.layout) if tie.spread}
    found = []
    for index, place in enumerate(places):
        kind = names[place][0]
        effect = memory.state.blocks[place]
        moves = 100 * (_MOVES @ effect)
        error = 100 * _root(_MOVES @ covariance[index] @ _MOVES.T)
        prior = 100 * _root(_MOVES @ spread_covariance(getattr(memory.learned, spreads[place])) @ _MOVES.T)
        found.append(
            Taught(
                kind=kind,
                name=" ".join(names[place][1:]),
                log_exposure=_vector(effect),
                standard_error=_vector(_root(covariance[index])),
                magenta=float(moves[0]),
                yellow=float(moves[1]),
                magenta_error=float(error[0]),
                yellow_error=float(error[1]),
                prior=float(prior.max()),
                light=-float(effect[0]),
                trials=bearing[index],
            )
        )
    return tuple(found)


def _trials_of_blocks(memory: Memory, places: Sequence[int]) -> list[tuple[str, ...]]:
    """Names of the trials that touch each block, in the order logged."""
    columns = memory.columns
    touched = columns.cell_blocks[columns.cell]
    pairs = np.stack([touched, np.broadcast_to(columns.trial[:, None], touched.shape)], axis=-1).reshape(-1, 2)
    pairs = np.unique(pairs[pairs[:, 0] >= 0], axis=0)
    starts = np.searchsorted(pairs[:, 0], np.arange(len(columns.names.blocks) + 1))
    trials = memory.evidence.trials
    return [tuple(trials[trial].name for trial in pairs[starts[p] : starts[p + 1], 1].tolist()) for p in places]


def _root(covariance: Floats) -> Floats:
    result: Floats = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    return result


def _vector(values: Floats) -> Vector:
    return float(values[0]), float(values[1]), float(values[2])
