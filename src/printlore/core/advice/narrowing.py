"""Which single print would tell most about all the others under new conditions."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from printlore.core.advice.decision import READING_SD
from printlore.core.light.setting import Setting
from printlore.core.memory.columns import Floats
from printlore.core.memory.forecast import Conditions, forecast, look_up
from printlore.core.memory.solve import Memory

_FLAT = 1e4
"""Condition of the slopes of a curve above which a print tells nothing of a layer: it is black or white there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Narrowing:
    """What one read print of a frame would do for all settings.

    Attributes
    ----------
    frame : str
    before, after : float
        Root mean square error of a layer over all settings, run noise apart, now and then [CC].
    """

    frame: str
    before: float
    after: float


def narrowing(memory: Memory, settings: Sequence[tuple[Conditions, Setting]]) -> tuple[Narrowing, ...]:
    """Expected narrowing by one print of each frame at its setting; the best first.

    Exact for the linearised model: what a print will say need not be known, only how sure it will be.

    Parameters
    ----------
    settings : sequence of (conditions, setting)
        Every frame that is wanted, under the same new conditions, at about its setting there. One that no setting
        brings onto the slope of the curve is left out: it would tell nothing, nor follow.

    Raises
    ------
    UnknownRecord
        If a name is not in the memory.
    """
    frames: list[str] = []
    shared: list[Floats] = []
    beside: list[Floats] = []
    noise: list[Floats] = []
    for conditions, setting in settings:
        standpoint = look_up(memory, conditions)
        made = forecast(standpoint, [setting])
        if np.linalg.cond(made.by_layer[0]) > _FLAT:
            continue
        back, common = np.linalg.inv(made.by_layer[0]), standpoint.common
        frames.append(conditions.frame)
        shared.append(made.half(back[None]))
        beside.append(standpoint.spread - common)
        noise.append(back @ (made.scatter[0] + READING_SD**2 * np.eye(3)) @ back.T)
    if not frames:
        return ()
    half = np.vstack(
        [np.concatenate(shared, axis=1), np.tile(np.linalg.cholesky(common + 1e-15 * np.eye(3)).T, len(frames))]
    )
    own = [half[:, 3 * n : 3 * n + 3] for n in range(len(frames))]
    total = sum(float(np.trace(mine.T @ mine + apart)) for mine, apart in zip(own, beside, strict=True))
    found = []
    for place, frame in enumerate(frames):
        known = own[place].T @ own[place] + beside[place]
        covered = half.T @ own[place]
        covered[3 * place : 3 * place + 3] += beside[place]
        gained = float(np.sum(covered * np.linalg.solve(known + noise[place], covered.T).T))
        found.append(
            Narrowing(
                frame=frame,
                before=_cc(total, len(frames)),
                after=_cc(max(total - gained, 0.0), len(frames)),
            )
        )
    return tuple(sorted(found, key=lambda one: one.after))


def _cc(total: float, frames: int) -> float:
    return 100 * float(np.sqrt(total / (3 * frames)))
