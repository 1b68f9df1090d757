"""Carry an earlier print over to today's conditions, and which single print would narrow most there."""

from dataclasses import dataclass, replace
from datetime import UTC, datetime

import numpy as np

from printlore.core.advice.dialling import exact_setting, learned_curves
from printlore.core.advice.narrowing import Narrowing, narrowing
from printlore.core.light.setting import Setting
from printlore.core.memory.evidence import Trial
from printlore.core.memory.forecast import Conditions, look_up
from printlore.core.memory.solve import Memory
from printlore.errors import UnknownRecord
from printlore.records.baths import bath_state
from printlore.records.bulk import EPOCH
from printlore.records.database import Database
from printlore.services.advice import AdviceReport, AdviceRequest, advise
from printlore.services.memory import current_memory

MOST_RECIPES = 300
"""Recipes that are reckoned with: the latest ones."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Carried:
    """Where an earlier print is carried to; what is left out is as in the studio's latest trial.

    Attributes
    ----------
    head, lot, bath : str or None
    magnification, f_number : float or None
        By default as in the earlier print.
    at : datetime or None
        By default now.
    tolerance : str
    """

    head: str | None = None
    lot: str | None = None
    bath: str | None = None
    magnification: float | None = None
    f_number: float | None = None
    at: datetime | None = None
    tolerance: str = "edition match"


@dataclass(frozen=True, slots=True, kw_only=True)
class BestPrint:
    """The single print that would narrow most under new conditions.

    Attributes
    ----------
    words : str
    recipes : int
        How many frames follow.
    best : Narrowing or None
        ``None`` if nothing has been printed yet.
    others : tuple of Narrowing
        The other frames, in order.
    """

    words: str
    recipes: int
    best: Narrowing | None
    others: tuple[Narrowing, ...]


def carry_over(db: Database, trial: str, to: Carried | None = None) -> AdviceReport:
    """Setting for the frame of any earlier trial under today's conditions, with the reasons counted from that trial.

    Raises
    ------
    UnknownRecord
        If there is no such trial, or a name is not in the studio.
    """
    to = to or Carried()
    trials = current_memory(db).evidence.trials
    earlier = next((one for one in trials if one.name == trial), None)
    if earlier is None:
        raise UnknownRecord(f'There is no trial "{trial}" that says anything. Choose one of the frame\'s trials.')
    last = _latest(trials)
    made = _setting_of(earlier)
    return advise(
        db,
        AdviceRequest(
            frame=earlier.frame,
            head=to.head or last.head,
            lot=to.lot or last.lot,
            bath=to.bath or last.bath,
            magnification=to.magnification or made.magnification,
            f_number=to.f_number,
            tolerance=to.tolerance,
            compare_with=trial,
            at=to.at,
        ),
    )


def best_single_print(db: Database, to: Carried | None = None) -> BestPrint:
    """Which frame, printed once under these conditions and read, would narrow all recipes most.

    Raises
    ------
    UnknownRecord
        If a name is not in the studio.
    """
    to = to or Carried()
    memory = current_memory(db)
    trials = memory.evidence.trials
    if not trials:
        return BestPrint(words="Nothing has been printed yet: no recipe can follow.", recipes=0, best=None, others=())
    at = to.at or datetime.now(UTC)
    last = _latest(trials)
    bath = to.bath or last.bath
    with db.reading() as conn:
        state = bath_state(conn, bath, at)
    under = Conditions(
        frame=last.frame,
        head=to.head or last.head,
        lot=to.lot or last.lot,
        bath=bath,
        date=(at.timestamp() - EPOCH) / 86400,
        bath_state=state,
    )
    latest: dict[str, Trial] = {}
    for one in sorted(trials, key=lambda one: one.date):
        latest.pop(one.frame, None)
        latest[one.frame] = one
    recipes = [
        _recipe(memory, replace(under, frame=frame), _setting_of(one), to)
        for frame, one in list(latest.items())[-MOST_RECIPES:]
    ]
    best, *others = narrowing(memory, recipes)
    gain = f"the error over all of them falls from {best.before:.1f} to {best.after:.1f} CC"
    if best.after > 0.9 * best.before:
        words = f"No single print would narrow much: at best {gain}."
    elif len(recipes) == 1:
        words = f"Print {best.frame} once on {under.lot}, in {under.bath}: {gain}."
    else:
        words = f"Print {best.frame} once on {under.lot}, in {under.bath}: all {len(recipes)} recipes follow; {gain}."
    return BestPrint(words=words, recipes=len(recipes), best=best, others=tuple(others))


def _latest(trials: tuple[Trial, ...]) -> Trial:
    return max(trials, key=lambda one: one.date)


def _setting_of(trial: Trial) -> Setting:
    patch = next((p for p in trial.patches if p.kept), trial.patches[-1])
    return patch.setting


def _recipe(memory: Memory, conditions: Conditions, made: Setting, to: Carried) -> tuple[Conditions, Setting]:
    """About the setting that the frame needs under these conditions."""
    standpoint = look_up(memory, conditions)
    evidence = memory.evidence
    aim = evidence.aim_density(conditions.frame, evidence.lots[conditions.lot])
    wanted = learned_curves(standpoint).log_exposure_at(np.array(aim))[0]
    start = replace(
        made,
        burns=(),
        magnification=to.magnification or made.magnification,
        f_number=to.f_number or made.f_number,
    )
    return conditions, exact_setting(standpoint, start, wanted)
