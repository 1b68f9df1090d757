"""Negatives whose reading contradicts their own prints: another patch was read, or another negative.

A print that is far from what the reading foretold was not made as logged, or the reading is wrong: of one print nobody
can tell. Of two that agree with each other the reading is the likelier one. It counts no more from then on, as if the
negative had never been read, and the printer is told.
"""

from collections.abc import Iterable, Mapping
from dataclasses import replace

import numpy as np

from printlore.core.light.setting import LONGEST_TIME
from printlore.core.memory.columns import Floats
from printlore.core.memory.evidence import Evidence, FrameFacts, NegativeReading, Trial
from printlore.core.memory.forecast import Conditions, forecast, learned_curves, look_up
from printlore.core.memory.model import inverse, spread_covariance
from printlore.core.memory.solve import Memory
from printlore.core.memory.trust import BLUNDER_SHARE, BLUNDER_SPREAD

MISREAD_SHARE = BLUNDER_SHARE
"""Prior probability that a negative was misread (from memory): as often as a print is not made as logged."""
_DOUBTED = 0.5
_CURVE_ERROR = 0.12
"""[1] As a share of the log exposure away from the aim (from memory)."""

_SHORTEST_TIME = 0.01
"""[s]"""

Contradicted = Mapping[str, tuple[NegativeReading, tuple[Trial, ...]]]
"""Frames, their readings that do not count, and the trials that say so."""


def misread(memory: Memory) -> Contradicted:
    """Frames with two prints or more that are doubted, but whose prints agree that the reading is what is wrong."""
    columns = memory.columns
    doubted = np.bincount(columns.cell_frame[memory.trust < _DOUBTED], minlength=len(columns.names.frames))
    found = {}
    for place in np.flatnonzero((doubted > 1) & columns.frame_has_reading).tolist():
        name = columns.names.frames[place]
        trials, reading = memory.trials_of(name), memory.evidence.frames[name].reading
        if reading is not None and _reading_is_wrong(memory, memory.evidence.frames[name], trials):
            found[name] = (reading, trials)
    return found


def still_so(found: Contradicted, evidence: Evidence) -> Contradicted:
    """Those of them that nothing has changed for: a reading mended, or a trial taken back, is looked at anew."""
    there = {trial.name: trial for trial in evidence.trials} if found else {}
    return {
        name: (reading, trials)
        for name, (reading, trials) in found.items()
        if name in evidence.frames
        and evidence.frames[name].reading == reading
        and all(there.get(trial.name) == trial for trial in trials)
    }


def without(evidence: Evidence, names: Iterable[str]) -> Evidence:
    """The same evidence, the readings of these frames left out."""
    changed: dict[str, FrameFacts] = {
        name: replace(evidence.frames[name], reading=None, misread=True) for name in names
    }
    return replace(evidence, frames={**evidence.frames, **changed}) if changed else evidence


def _reading_is_wrong(memory: Memory, frame: FrameFacts, trials: tuple[Trial, ...]) -> bool:
    """Whether that is likelier than that the prints which are off were all made otherwise than logged."""
    off, errors, known = _against_reading(memory, frame, trials)
    count = len(off)
    if count < 2:
        return False  # of prints that only an eye saw it is not asked
    wide = BLUNDER_SPREAD**2 * np.eye(3)
    share = np.log(BLUNDER_SHARE / (1 - BLUNDER_SHARE))
    strained = np.einsum("nk,nkl,nl->n", off, inverse(known + errors), off) > 12.0

    def evidence(level: Floats, wrong: np.ndarray) -> float:
        total = np.kron(np.ones((count, count)), level)
        for place in range(count):
            here = slice(3 * place, 3 * place + 3)
            total[here, here] += errors[place] + wrong[place] * wide
        values = off.ravel()
        return float(
            -0.5 * (values @ np.linalg.solve(total, values) + np.linalg.slogdet(total)[1]) + share * wrong.sum()
        )

    none, every = np.zeros(count, dtype=bool), np.ones(count, dtype=bool)
    right = max(evidence(known, wrong) for wrong in (none, strained, every))
    odds = np.log(MISREAD_SHARE / (1 - MISREAD_SHARE))
    one_slipped = (np.arange(count) == place for place in range(count)) if count > 2 else ()
    return bool(odds + max(evidence(known + wide, wrong) for wrong in (none, *one_slipped)) > right)


def _against_reading(memory: Memory, frame: FrameFacts, trials: tuple[Trial, ...]) -> tuple[Floats, Floats, Floats]:
    """Log exposure (n, 3) by which prints are off what is foretold of a negative with this reading that was never
    printed; covariances (n, 3, 3) of each; and (3, 3) of what all have in common [log10^2]."""
    unprinted = replace(frame, name=f"{frame.name} unprinted")
    frames = {**memory.evidence.frames, unprinted.name: unprinted}
    beside = replace(memory, evidence=replace(memory.evidence, frames=frames))
    off, errors, common = [], [], []
    for trial in trials:
        read = [patch for patch in trial.patches if patch.density is not None and not any(patch.beyond)]
        if not read:
            continue
        conditions = Conditions(
            frame=unprinted.name,
            head=trial.head,
            lot=trial.lot,
            bath=trial.bath,
            date=trial.date,
            bath_state=trial.bath_state,
        )
        standpoint = look_up(beside, conditions)
        curves = learned_curves(standpoint)
        densities = np.array([patch.density for patch in read])
        nearest = int(np.argmin(np.abs(densities - curves.aim).sum(axis=1)))
        seen, slope = curves.log_exposure_at(densities[nearest])
        setting = read[nearest].setting
        made = forecast(standpoint, [setting])
        # what is known of it counts where it would be right: a wrong reading may put it where the curve is flat
        time = setting.time * 10.0 ** -float(made.log_exposure[0].mean())
        right = forecast(standpoint, [replace(setting, time=min(max(time, _SHORTEST_TIME), LONGEST_TIME))])
        back, here = inverse(slope), inverse(right.by_layer[0])
        noise = (read[nearest].standard_error ** 2 + 0.002**2) * np.eye(3)
        alike = spread_covariance(memory.learned.run) + spread_covariance(memory.learned.patch)
        off.append(seen - made.log_exposure[0])
        errors.append(back @ noise @ back.T + alike + np.diag((_CURVE_ERROR * seen) ** 2))
        common.append(here @ right.knowledge[0] @ here.T)
    return np.array(off).reshape(-1, 3), np.array(errors).reshape(-1, 3, 3), np.mean(common or [np.eye(3)], axis=0)
