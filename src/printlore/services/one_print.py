"""Which one print, made and read under other conditions, would let all earlier settings follow."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime

import numpy as np

from printlore.core.advice.dialling import exact_setting
from printlore.core.advice.narrowing import Narrowing, narrowing
from printlore.core.figure import Figure
from printlore.core.light.enlarging import Sheet, enlargement
from printlore.core.light.setting import Setting
from printlore.core.memory.evidence import Trial
from printlore.core.memory.forecast import Conditions, learned_curves, look_up
from printlore.core.memory.solve import Memory
from printlore.records.baths import bath_state
from printlore.records.baths_kept import developer_after
from printlore.records.bulk import EPOCH
from printlore.records.database import Database
from printlore.records.trials import last_printed, lot_after
from printlore.services.advice import Laid, laid_on, refuse_two_sizes
from printlore.services.memory import current_memory
from printlore.services.one_thread import one_thread

MOST_SETTINGS = 300
"""Negatives that are reckoned with: those printed last."""
_MOST_NAMED = 5
"""Negatives that one sentence names."""
_LITTLE = 0.9
"""Share of the error that a print must leave at most to be worth making for the others' sake."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OnePrint:
    """The print that would tell most, and what each other negative would tell.

    Attributes
    ----------
    words : str
        What to do, and what it would give.
    worth_it : bool
        Whether any single print would tell much.
    head, lot, bath : str
        Under which all are to be printed; empty if nothing has been printed yet.
    found : tuple of Narrowing
        Negatives that were printed last, the one that would tell most first.
    laid : str
        How they are to lie on the sheet that was asked for; empty if none was.
    """

    words: str
    worth_it: bool = False
    laid: str = ""
    head: str = ""
    lot: str = ""
    bath: str = ""
    found: tuple[Narrowing, ...] = ()


@one_thread
def one_print(
    db: Database,
    *,
    head: str | None = None,
    lot: str | None = None,
    bath: str | None = None,
    magnification: float | None = None,
    sheet: Sheet | None = None,
    at: datetime | None = None,
) -> OnePrint:
    """The negative that, printed once under these conditions and read, would make all settings surest there.

    Parameters
    ----------
    head, lot, bath : str, optional
        As in the studio's latest trial.
    magnification : float, optional
        Of all; by default of each as it was printed last.
    sheet : Sheet, optional
        For all, in place of a magnification; a negative whose print was logged with its size lies on it as on that.
    at : datetime, optional
        Now.

    Raises
    ------
    UnknownRecord
        If a name is not in the studio.
    Refused
        If a magnification and a sheet are asked for.
    """
    refuse_two_sizes(magnification, sheet)
    memory = current_memory(db)
    trials = sorted(memory.evidence.trials, key=lambda one: one.date)
    if not trials:
        return OnePrint(words="Nothing has been printed yet: no setting can follow.")
    at, last = at or datetime.now(UTC), trials[-1]
    with db.reading() as conn:
        printed = last_printed(conn)
        today = printed or last
        bath = bath or developer_after(conn, today.bath) or last.bath
        state = bath_state(conn, bath, at)
        lot = lot or lot_after(conn, printed) or today.lot
    under = Conditions(
        frame=last.frame,
        head=head or today.head,
        lot=lot,
        bath=bath,
        date=(at.timestamp() - EPOCH) / 86400,
        bath_state=state,
    )
    latest: dict[str, Trial] = {}
    for one in trials:
        latest.pop(one.frame, None)
        latest[one.frame] = one
    asked = list(latest.items())[-MOST_SETTINGS:]
    enlarged, laid = dict.fromkeys(latest, magnification), ""
    if sheet is not None:
        with db.reading() as conn:
            each = {frame: laid_on(conn, sheet, frame) for frame, _ in asked}
        enlarged, laid = {frame: one.magnification for frame, one in each.items()}, _laid_said(sheet, each)
    settings = [_setting(memory, replace(under, frame=frame), one, enlarged[frame]) for frame, one in asked]
    found = narrowing(memory, settings)
    if not found:
        return OnePrint(
            words=f"No setting prints any negative right on {under.lot}, in {under.bath}: is the bath that old?",
            head=under.head,
            lot=under.lot,
            bath=under.bath,
            laid=laid,
        )
    worth_it = found[0].after <= _LITTLE * found[0].before
    return OnePrint(
        words=_said(found, under, worth_it),
        worth_it=worth_it,
        head=under.head,
        lot=under.lot,
        bath=under.bath,
        found=found,
        laid=laid,
    )


def _laid_said(sheet: Sheet, each: Mapping[str, Laid]) -> str:
    """How a sheet was reckoned with, and for which negatives otherwise."""
    wide, high = sheet.negative
    parts = [f"{enlargement(sheet).words} Reckoned for negatives of {Figure(wide):g} x {Figure(high):g} mm."]
    if before := sum(one.as_before for one in each.values()):
        parts.append(f"As on the sheet of their earlier print: {before} of {len(each)}.")
    if aside := [f"{frame} ({one.aside})" for frame, one in each.items() if one.aside]:
        parts.append(
            f"Of another size, by what their prints were enlarged: {', '.join(aside[:_MOST_NAMED])}"
            f"{f' and {len(aside) - _MOST_NAMED} more' if len(aside) > _MOST_NAMED else ''}; ask for them by theirs."
        )
    return " ".join(parts)


def _said(found: tuple[Narrowing, ...], under: Conditions, worth_it: bool) -> str:
    best, on = found[0], f"on {under.lot}, in {under.bath}"
    if not worth_it:
        return (
            f"No single print would tell much: settings {on} are known to {Figure(best.before):.1f} CC, and would be "
            f"to {Figure(best.after):.1f}."
        )
    follow, whose = (f"all {len(found)} settings follow", "Their") if len(found) > 1 else ("its setting follows", "Its")
    return (
        f"Print {best.frame} once {on}, and read it: {follow}. {whose} error falls from {Figure(best.before):.1f} to "
        f"{Figure(best.after):.1f} CC."
    )


def _setting(
    memory: Memory, conditions: Conditions, trial: Trial, magnification: float | None
) -> tuple[Conditions, Setting]:
    """About the setting that the frame needs under these conditions."""
    standpoint = look_up(memory, conditions)
    evidence = memory.evidence
    aim = evidence.aim_density(conditions.frame, evidence.lots[conditions.lot])
    wanted = learned_curves(standpoint).log_exposure_at(np.array(aim))[0]
    made = next((patch for patch in trial.patches if patch.kept), trial.patches[-1]).setting
    start = replace(made, burns=(), magnification=magnification or made.magnification)
    return conditions, exact_setting(standpoint, start, wanted)
