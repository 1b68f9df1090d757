"""A new lot: the one trial that brings every old setting onto it, the offset found, and what is stated of lots."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from printlore.core.advice.taught import Taught, taught
from printlore.core.flags import Flag
from printlore.core.light.setting import Setting
from printlore.core.memory.evidence import Trial
from printlore.core.memory.model import spread_covariance
from printlore.core.paper.lots import (
    EmulsionCheck,
    LotEffect,
    LotOffset,
    check_same_emulsion,
    lot_offset,
    offset_of_kept,
)
from printlore.errors import Refused, ValueOutOfRange
from printlore.records.database import Database
from printlore.records.papers import Lot
from printlore.records.rows import add, every, find
from printlore.records.stock import SameEmulsion
from printlore.services.memory import current_memory


@dataclass(frozen=True, slots=True, kw_only=True)
class Rebased:
    """A frame's setting on the old lot and on the new."""

    frame: str
    trial: str
    before: Setting
    after: Setting


@dataclass(frozen=True, slots=True, kw_only=True)
class NewLot:
    """What to do with a new lot, and what is known of it.

    Attributes
    ----------
    lot, old_lot : str
    offset : LotOffset
        New less old; before any trial it rests on usual figures and says so.
    trials : tuple of str
        On the new lot, so far, that tell the offset.
    frame : str or None
        To be printed once on each lot: that with most kept prints on the old one.
    setting : Setting or None
        Of it on the old lot.
    rebased : tuple of Rebased
        Last kept setting of each frame on the old lot, brought onto the new.
    """

    lot: str
    old_lot: str
    offset: LotOffset
    trials: tuple[str, ...]
    frame: str | None
    setting: Setting | None
    rebased: tuple[Rebased, ...]

    @property
    def words(self) -> str:
        """What to do next."""
        if self.trials:
            are = "is" if len(self.rebased) == 1 else "are"
            return (
                f"{_many(len(self.trials), 'trial')} on {self.lot} so far; {_many(len(self.rebased), 'setting')} of "
                f"{self.old_lot} {are} brought onto it."
            )
        if self.frame is None:
            return f"Print any negative you know well on {self.lot}: none was kept on {self.old_lot} to compare with."
        return (
            f"Print {self.frame} once on {self.lot} and once on {self.old_lot}, in one drum, at {self.setting}. Read "
            f"both: that one run brings {_many(len(self.rebased), 'setting')} onto the new lot."
        )


def _many(count: int, word: str) -> str:
    return f"{count} {word}{'' if count == 1 else 's'}"


def new_lot(db: Database, lot: str, *, old_lot: str | None = None) -> NewLot:
    """Propose the one trial for a new lot, or show the offset once there is one.

    Parameters
    ----------
    old_lot : str, optional
        To compare with; by default the lot of the same paper that came before.

    Raises
    ------
    Refused
        If there is no other lot to compare with.
    """
    with db.reading() as conn:
        record = find(conn, Lot, lot)
        if old_lot is None:
            related = [r.other if r.lot == lot else r.lot for r in every(conn, SameEmulsion) if lot in (r.lot, r.other)]
            earlier = [other.name for other in every(conn, Lot, family=record.family) if other.id < record.id]
            if not (earlier or related):
                raise Refused(
                    f"{lot} is the first lot of its paper, so there is none to compare it with. Print on it as usual."
                )
            old_lot = (earlier or related)[-1]
        one_paper = find(conn, Lot, old_lot).family == record.family
    if old_lot == lot:
        raise ValueOutOfRange(f"{lot} cannot be compared with itself; name another lot.")
    memory = current_memory(db)
    trials = memory.evidence.trials
    both = [] if one_paper else _kept_on_both(trials, old_lot, lot)
    if both:
        offset = offset_of_kept([(before, after) for before, (_, after) in both])
    elif one_paper and trials:
        effects = {effect.name: effect for effect in taught(memory, ("lot",))}
        offset = lot_offset(_known(effects.get(old_lot)), _known(effects.get(lot)))
    else:
        usual = LotEffect(
            log_exposure=np.zeros(3), covariance=spread_covariance(memory.learned.lot), flags=(Flag.PRIOR_ONLY,)
        )
        offset = lot_offset(_known(None), usual)
    kept: dict[str, tuple[str, Setting]] = {}
    times: dict[str, int] = {}
    for trial in trials:
        if trial.lot != old_lot:
            continue
        for patch in trial.patches:
            if patch.kept:
                kept[trial.frame] = (trial.name, patch.setting)
                times[trial.frame] = times.get(trial.frame, 0) + 1
    frame = max(times, key=lambda name: times[name]) if times else None
    on_new = [trial.name for trial in trials if trial.lot == lot] if one_paper else [name for _, (name, _) in both]
    return NewLot(
        lot=lot,
        old_lot=old_lot,
        offset=offset,
        trials=tuple(on_new),
        frame=frame,
        setting=kept[frame][1] if frame else None,
        rebased=tuple(
            Rebased(frame=name, trial=trial, before=setting, after=offset.rebased(setting))
            for name, (trial, setting) in kept.items()
        ),
    )


def _known(effect: Taught | None) -> LotEffect:
    """What the memory has of a lot. The first lot of a paper is its zero and has no effect of its own."""
    if effect is None:
        return LotEffect(log_exposure=np.zeros(3), covariance=np.zeros((3, 3)))
    return LotEffect(
        log_exposure=np.array(effect.log_exposure),
        covariance=np.array(effect.covariance),
        flags=() if effect.trials else (Flag.PRIOR_ONLY,),
    )


def state_same_emulsion(db: Database, lot: str, other: str, *, note: str = "") -> tuple[SameEmulsion, EmulsionCheck]:
    """State that two lots are one emulsion on different surfaces; returns whether the prints so far bear that out."""
    return note_same_emulsion(db, lot, other, note=note), check_relation(db, lot, other)


def note_same_emulsion(db: Database, lot: str, other: str, *, note: str = "") -> SameEmulsion:
    """State it without waiting for what the prints say."""
    if lot == other:
        raise ValueOutOfRange(f"{lot} is the same emulsion as itself; name another lot.")
    with db.transaction() as conn:
        return add(conn, SameEmulsion(lot=lot, other=other, note=note))


def check_relation(db: Database, lot: str, other: str) -> EmulsionCheck:
    """Whether the prints so far bear out that two lots are one emulsion.

    Lots of one paper are compared through the memory. Lots on different surfaces have no common zero there; they are
    compared by the settings of frames that were kept on both.
    """
    with db.reading() as conn:
        one_paper = find(conn, Lot, lot).family == find(conn, Lot, other).family
    if one_paper:
        return check_same_emulsion(new_lot(db, lot, old_lot=other).offset)
    pairs = [(before, after) for before, (_, after) in _kept_on_both(current_memory(db).evidence.trials, other, lot)]
    return check_same_emulsion(offset_of_kept(pairs)) if pairs else EmulsionCheck(chance=1.0, compared=False)


def _kept_on_both(trials: Sequence[Trial], old_lot: str, lot: str) -> list[tuple[Setting, tuple[str, Setting]]]:
    """Of each frame and head with a print kept on both lots: its last setting on the old; trial and setting on the new.

    Lots on different surfaces have no common zero in the memory: only such prints tell how they differ.
    """
    kept: dict[str, dict[tuple[str, str], tuple[str, Setting]]] = {lot: {}, old_lot: {}}
    for trial in trials:
        for patch in trial.patches:
            if patch.kept and trial.lot in kept:
                kept[trial.lot][trial.frame, trial.head] = trial.name, patch.setting
    return [(kept[old_lot][key][1], found) for key, found in kept[lot].items() if key in kept[old_lot]]


def lots_compared(db: Database) -> tuple[tuple[NewLot, ...], tuple[tuple[SameEmulsion, EmulsionCheck], ...]]:
    """Every lot that has one before it, newest first, and everything stated of lots."""
    with db.reading() as conn:
        names = [lot.name for lot in every(conn, Lot)][::-1]
    found = []
    for name in names:
        try:
            found.append(new_lot(db, name))
        except Refused:
            continue  # the first lot of its paper
    return tuple(found), tuple(relations(db))


def relations(db: Database) -> list[tuple[SameEmulsion, EmulsionCheck]]:
    """Everything stated of lots, each with what the prints say."""
    with db.reading() as conn:
        stated = every(conn, SameEmulsion)
    return [(relation, check_relation(db, relation.lot, relation.other)) for relation in stated]
