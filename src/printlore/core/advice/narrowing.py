"""Which single print would tell most about all the others under new conditions."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from printlore.core.advice.decision import READING_SD
from printlore.core.light.setting import Setting
from printlore.core.memory.columns import Floats
from printlore.core.memory.forecast import Conditions, forecast, look_up
from printlore.core.memory.model import spread_covariance
from printlore.core.memory.solve import Memory


@dataclass(frozen=True, slots=True, kw_only=True)
class Narrowing:
    """What one read print of a frame would do for all recipes.

    Attributes
    ----------
    frame : str
    before, after : float
        Root mean square error of a layer over all recipes, run noise apart, now and then [CC].
    """

    frame: str
    before: float
    after: float


def narrowing(
    memory: Memory, recipes: Sequence[tuple[Conditions, Setting]], candidates: Sequence[str] | None = None
) -> tuple[Narrowing, ...]:
    """Expected narrowing by one print of each candidate at its recipe; the best first.

    Exact for the linearised model: what a print will say need not be known, only how sure it will be.

    Parameters
    ----------
    recipes : sequence of (conditions, setting)
        Every frame that is wanted, under the new conditions, at about its setting there.
    candidates : sequence of str, optional
        Frames that could be printed; all of the recipes' by default.

    Raises
    ------
    UnknownRecord
        If a name is not in the memory.
    """
    if not recipes:
        return ()
    shared: list[Floats] = []
    beside: list[Floats] = []
    noise: list[Floats] = []
    common = _common_unknown(memory, recipes[0][0])
    for conditions, setting in recipes:
        standpoint = look_up(memory, conditions)
        made = forecast(standpoint, [setting])
        back = np.linalg.inv(made.by_layer[0])
        shared.append(made.half(back[None]))
        beside.append(standpoint.spread - common)
        noise.append(back @ (made.scatter[0] + READING_SD**2 * np.eye(3)) @ back.T)
    half = np.vstack(
        [np.concatenate(shared, axis=1), np.tile(np.linalg.cholesky(common + 1e-15 * np.eye(3)).T, len(recipes))]
    )
    own = [half[:, 3 * n : 3 * n + 3] for n in range(len(recipes))]
    total = sum(float(np.trace(mine.T @ mine + apart)) for mine, apart in zip(own, beside, strict=True))
    found = []
    for place, (conditions, _) in enumerate(recipes):
        if candidates is not None and conditions.frame not in candidates:
            continue
        known = own[place].T @ own[place] + beside[place]
        covered = half.T @ own[place]
        covered[3 * place : 3 * place + 3] += beside[place]
        gained = float(np.sum(covered * np.linalg.solve(known + noise[place], covered.T).T))
        found.append(
            Narrowing(
                frame=conditions.frame,
                before=_cc(total, len(recipes)),
                after=_cc(max(total - gained, 0.0), len(recipes)),
            )
        )
    return tuple(sorted(found, key=lambda one: one.after))


def _cc(total: float, recipes: int) -> float:
    return 100 * float(np.sqrt(total / (3 * recipes)))


def _common_unknown(memory: Memory, conditions: Conditions) -> Floats:
    """What all prints under these conditions share though the memory has no effect for it yet: a head never used."""
    heads = memory.columns.names.heads
    used = conditions.head in memory.columns.names.dates_of_head
    if used or conditions.head == heads[0]:
        return np.zeros((3, 3))
    return spread_covariance(memory.learned.other_head)
