"""How far each piece and each patch counts, by the probability that it was made as logged.

The cells of one frame are weighed together, with the frame's own level left open: if two prints of a negative
disagree, both being half wrong must not hide that one of them is wholly wrong. So are the patches of one strip, which
share its drum: one exposure given twice must not cost the whole strip.
"""

import numpy as np

from printlore.core.memory.columns import Floats, Ints
from printlore.core.memory.threes import inverses

BLUNDER_SHARE = 0.02
"""Prior probability that a trial was not made as logged (from memory)."""
BLUNDER_SPREAD = 0.30
"""Log exposure by which a blunder is off [log10] (from memory)."""

_LEAST = 1e-4
_SHARPNESS = 8
"""Power of the probability with which a cell counts. If two prints contradict each other and the blame cannot be
placed (a half each), the frame lies at one or at the other: halved weights would put it between them, and surely so."""
_STRAIN, _SURELY = 8.0, 12.0
"""Squared standard deviations from the expected below which nobody could be a blunder, and above which doubt counts in
full: between them it counts in part, for a trust that jumps would let the search go round in circles."""
_ROUNDS = 3
"""Most blunders looked for in one frame."""
_NOTHING = 1e-6
"""Information [1/log10^2] of a cell that says nothing: all its patches are clipped."""


def trust_within(
    group: Ints, level: Floats, information: Floats, gradient: Floats, scatter: Floats, prior: Floats
) -> Floats:
    """Trust (n,): 1 if a member was surely made as logged, near 0 already if the blame is even.

    Parameters
    ----------
    group : (n,) place of the group whose members are weighed together: the cells of a frame, the patches of a cell
    level : (n, 3) where each member lies at the present state [log10]
    information : (n, 3, 3) that its readings hold about that level
    gradient : (n, 3) information times what the readings still ask the level to move
    scatter : (3, 3) or (n, 3, 3) covariance of a member about its group's level, beside the error of its readings
    prior : (groups, 3, 3) precision of the groups' levels about nothing
    """
    if not len(level):
        return np.ones(0)
    error = inverses(information + _NOTHING * np.eye(3))
    seen = level + (error @ gradient[:, :, None])[:, :, 0]
    sound = error + scatter
    precise = inverses(sound)
    result = np.ones(len(level))
    strained = _strained(group, seen, precise, prior)[group]
    doubted = np.flatnonzero(strained)
    if not len(doubted):
        return result
    place, members = np.unique(group[doubted], return_inverse=True)
    guilt = strained[doubted] * _guilt(seen[doubted], sound[doubted], precise[doubted], members, prior[place])
    result[doubted] = np.clip(np.clip(1 - guilt, 0, 1) ** _SHARPNESS, _LEAST, 1.0)
    return result


def _strained(group: Ints, seen: Floats, precise: Floats, prior: Floats) -> Floats:
    """How far (groups,) the doubt counts where a member, or a level, is far from what is expected: 0 to 1."""
    count = len(prior)
    drawn = (precise @ seen[:, :, None])[:, :, 0]
    total, pull = (
        prior + _summed(precise.reshape(-1, 9), group, count).reshape(-1, 3, 3),
        _summed(drawn, group, count),
    )
    middle = (inverses(total) @ pull[:, :, None])[:, :, 0]
    apart = seen - middle[group]
    strain = np.zeros(count)
    np.maximum.at(strain, group, np.einsum("ck,ckl,cl->c", apart, precise, apart))
    strain += np.einsum("fk,fkl,fl->f", middle, prior, middle)
    return np.clip((strain - _STRAIN) / (_SURELY - _STRAIN), 0.0, 1.0)


def _summed(values: Floats, place: Ints, count: int) -> Floats:
    """Sums (count, n) of rows (cells, n) by place."""
    return np.stack([np.bincount(place, column, minlength=count) for column in values.T], axis=1)


def _guilt(seen: Floats, sound: Floats, precise: Floats, members: Ints, frame: Floats) -> Floats:
    """Probability (cells,) of not having been made as logged, from frames (frames, 3, 3) with these members."""
    wrong = sound + BLUNDER_SPREAD**2 * np.eye(3)
    loose = inverses(wrong)
    volume = np.linalg.slogdet(sound)[1] - np.linalg.slogdet(wrong)[1]
    prior = np.log(BLUNDER_SHARE / (1 - BLUNDER_SHARE)) + 0.5 * volume
    now, accepted = precise.copy(), np.zeros(len(seen), dtype=bool)
    guilt, path = np.zeros(len(seen)), np.ones(len(frame))
    for _ in range(_ROUNDS):
        odds = _odds(now, loose, seen, members, frame) + prior
        odds[accepted] = -np.inf
        top = np.maximum(np.maximum.reduceat(*_grouped(odds, members)), 0.0)
        weight = np.exp(odds - top[members])
        share = weight / (np.exp(-top) + np.bincount(members, weight))[members]
        guilt += path[members] * share
        best = np.maximum.reduceat(*_grouped(share, members))
        blamed = share == best[members]
        other = np.maximum.reduceat(*_grouped(np.where(blamed, 0.0, share), members))
        # the next is looked for as far as it is plain which one this is: else a hair would decide what comes next
        path *= np.where(np.bincount(members, blamed) > 1, 0.0, best - other)
        again = blamed & (path[members] > _LEAST) & ~accepted
        if not again.any():
            break
        accepted |= again
        now[again] = loose[again]
    return guilt


def _grouped(values: Floats, members: Ints) -> tuple[Floats, Ints]:
    order = np.argsort(members, kind="stable")
    return values[order], np.searchsorted(members[order], np.arange(members.max() + 1))


def _odds(now: Floats, loose: Floats, seen: Floats, members: Ints, frame: Floats) -> Floats:
    """Log of how much likelier the frame's cells are if this one is wrong, but for the volume of its error."""
    count = len(frame)
    total = frame + _summed(now.reshape(-1, 9), members, count).reshape(-1, 3, 3)
    pull = _summed((now @ seen[:, :, None])[:, :, 0], members, count)
    before = np.linalg.slogdet(total)[1] - np.einsum(
        "fk,fk->f", pull, np.linalg.solve(total, pull[:, :, None])[:, :, 0]
    )
    change = loose - now
    other_total = total[members] + change
    other_pull = pull[members] + (change @ seen[:, :, None])[:, :, 0]
    after = np.linalg.slogdet(other_total)[1] - np.einsum(
        "ck,ck->c", other_pull, np.linalg.solve(other_total, other_pull[:, :, None])[:, :, 0]
    )
    own = np.einsum("ck,ckl,cl->c", seen, change, seen)
    result: Floats = -0.5 * (own + after - before[members])
    return result
