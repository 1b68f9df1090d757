"""What the prints taught of lots, baths and films: each as the move that answers it, with the error of that move.

The layers of an effect are learned together and err together (most of what is not known of a lot is its speed, which
moves all three), so the error of a move in colour comes from their covariance, not from the error of each.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import scipy.linalg

from printlore.core.estimate import Estimate
from printlore.core.memory.columns import Floats
from printlore.core.memory.model import by_general, noise_of, predict, spread_covariance, ties
from printlore.core.memory.solve import Memory
from printlore.core.paper.facts import Vector, vector
from printlore.errors import UnknownRecord

Negatives = Literal["", "read", "unread"]
NEGATIVES: tuple[Negatives, ...] = ("", "read", "unread")
KINDS = ("lot", "bath", "film")
_UNREAD = "unread"
"""Last part of the name of a block (``columns.film_block``)."""
MOST_BEARINGS = 60
"""Pieces of paper that are weighed for an effect: the newest."""
_MOVES = np.array([[-1.0, 1.0, 0.0], [-1.0, 0.0, 1.0]])
"""Magenta and yellow that answer an effect (red, green, blue)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Taught:
    """A learned effect.

    Attributes
    ----------
    kind, name : str
        "lot", "bath" or "film", and which.
    negatives : "", "read" or "unread"
        Of a film some of whose negatives were read and some not: which of them. What they have in common is another
        thing: what readings leave open, or the level of the film.
    log_exposure, standard_error : (3,) (red, green, blue) [log10]
    covariance : (3, 3) of the log exposure [log10^2]
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
    negatives: Negatives
    log_exposure: Vector
    standard_error: Vector
    covariance: tuple[Vector, Vector, Vector]
    magenta: float
    yellow: float
    magenta_error: float
    yellow_error: float
    prior: float
    light: float
    trials: tuple[str, ...]

    @property
    def words(self) -> str:
        """What it is of."""
        return taught_words(self.name, self.negatives)


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeats:
    """How far prints made alike in separate drum loads scatter: standard deviation of a layer [CC].

    What the patches of one load differ by comes on top.

    Attributes
    ----------
    expected : float
        Before any print: as the printer said, or from memory.
    learned : Estimate
    """

    expected: float
    learned: Estimate


def repeats(memory: Memory) -> Repeats:
    """What was expected of prints made alike, and what the prints say."""
    expected = memory.priors.repeating(memory.evidence.alike)
    across, along = memory.learned.run.colour**2, memory.learned.run.colour**2 + 3 * memory.learned.run.common**2
    counts = memory.runs_seen + memory.priors.pseudo_observations
    # of a variance from n squares the relative variance is 2 / n; across there are two directions
    error = math.sqrt((4 * across**2 / counts[0] + 2 * along**2 / counts[1]) / 9)
    spread = math.sqrt((2 * across + along) / 3)
    return Repeats(
        expected=100 * expected.alike,
        learned=Estimate(value=100 * spread, standard_error=100 * error / (2 * spread)),
    )


def taught(memory: Memory, kinds: Sequence[str] = KINDS) -> tuple[Taught, ...]:
    """Every learned effect of these kinds, in the order of the memory."""
    names = memory.columns.names.blocks
    places = [place for place, key in enumerate(names) if key[0] in kinds]
    if not places:
        return ()
    half = memory.elimination.half_of_blocks(np.array(places))
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
                name=names[place][1],
                negatives=_negatives(names[place], memory),
                log_exposure=vector(effect),
                standard_error=vector(_root(covariance[index])),
                covariance=(
                    vector(covariance[index][0]),
                    vector(covariance[index][1]),
                    vector(covariance[index][2]),
                ),
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Bearing:
    """What one piece of paper says of a learned effect.

    Attributes
    ----------
    trials : tuple of str
        Made of one frame in one drum load: mostly one.
    error, without : float
        Larger of the standard errors of the effect's magenta and yellow [CC]: now, and if this piece were not known.
    trust : float
        How far it counts [1].
    """

    trials: tuple[str, ...]
    error: float
    without: float
    trust: float


def bearings(memory: Memory, kind: str, name: str, *, unread: bool = False) -> tuple[Bearing, ...]:
    """How much each of the newest pieces of paper that touch an effect weighs for it, the weightiest first.

    Spreads and linearisation as they are. Drums that several frames shared count as if each frame had been alone.

    Parameters
    ----------
    unread : bool
        Of a film: of its negatives that were not read, where others were.

    Raises
    ------
    UnknownRecord
        If there is no such effect.
    """
    columns, elimination, size = memory.columns, memory.elimination, memory.layout.size
    place = columns.names.place_of_block.get((kind, name, _UNREAD) if unread else (kind, name), -1)
    if place < 0 or kind not in KINDS:
        of = " by negatives that were not read where others were" if unread else ""
        raise UnknownRecord(
            f'Nothing is learned of a {kind} "{name}"{of}. See "What the prints taught" (printlore taught): '
            "a paper's first lot is what its others are counted from."
        )
    half_effect = elimination.half_of_blocks(np.array([place]))[:, 0]
    error = _larger(half_effect.T @ half_effect)
    cells = np.flatnonzero((columns.cell_blocks == place).any(axis=1))
    cells = cells[np.argsort(columns.cell_trial[cells], kind="stable")[-MOST_BEARINGS:]]
    state = memory.state
    prediction = predict(
        memory.layout, columns, state.general, state.additive(columns), state.negatives(columns), memory.priors
    )
    found = []
    for cell in cells.tolist():
        rows = np.flatnonzero(columns.cell == cell)
        seen = columns.between(int(rows[0]), int(rows[-1]) + 1)
        here = prediction.at(rows)
        slope = here.by_layer
        shared = np.zeros((len(rows), 3, elimination.shared))
        shared[:, :, :size] = by_general(memory.layout, seen, memory.state.general, here, memory.priors)
        for block, share in zip(columns.cell_blocks[cell].tolist(), columns.cell_shares[cell].tolist(), strict=True):
            if block >= 0:
                shared[:, :, size + 3 * block : size + 3 * block + 3] += share * slope
        frame = columns.cell_frame[cell : cell + 1]
        shared -= slope @ elimination.follow(frame)
        half = elimination.half(shared.reshape(-1, elimination.shared))
        stacked = slope.reshape(-1, 3)
        known = half.T @ half + stacked @ elimination.local_covariance[frame[0]] @ stacked.T
        noise = scipy.linalg.block_diag(*(noise_of(seen, memory.learned, here) / memory.patch_trust[rows, None, None]))
        noise = (noise + stacked @ spread_covariance(memory.learned.run) @ stacked.T) / memory.trust[cell]
        across = half_effect.T @ half
        more = across @ np.linalg.solve(noise - known, across.T)
        names = tuple(memory.evidence.trials[number].name for number in np.unique(columns.trial[rows]).tolist())
        without = _larger(half_effect.T @ half_effect + more)
        found.append(Bearing(trials=names, error=error, without=without, trust=float(memory.trust[cell])))
    return tuple(sorted(found, key=lambda one: -one.without))


def taught_words(name: str, negatives: Negatives) -> str:
    """A lot, bath or film as it is said, and which of its negatives are meant."""
    of = {"": "", "read": ", of its negatives that were read", "unread": ", of its negatives that were not read"}
    return name + of[negatives]


def _negatives(block: tuple[str, ...], memory: Memory) -> Negatives:
    """A film's negatives that were not read are told apart from those that were, where there are both."""
    if block[2:]:
        return "unread"
    return "read" if (*block, _UNREAD) in memory.columns.names.place_of_block else ""


def _larger(covariance: Floats) -> float:
    """Larger error of magenta and yellow [CC] of an effect with this covariance (3, 3)."""
    return float((100 * _root(_MOVES @ covariance @ _MOVES.T)).max())


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
