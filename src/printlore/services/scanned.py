"""Log what a kept scan of a strip or print says: each step that tells of the reference patch, with its time."""

import dataclasses
from collections.abc import Sequence
from typing import Any

from printlore.core.flags import Flag
from printlore.core.light.setting import Setting
from printlore.core.measure.patches import PatchReading as PatchSeen
from printlore.core.measure.strip import StripReading, step_times
from printlore.errors import ValueOutOfRange
from printlore.records.database import Database
from printlore.records.trials import PatchReading, TrialRecord
from printlore.services.trials import PatchEntry, TrialEntry, add_reading, find_trial, log_trial, mark_kept

BY_SCAN = "scan, wedge "
"""A reading off a scan is by this device, followed by the wedge as it was typed."""


def times_of(reading: StripReading, times: Sequence[float]) -> tuple[float, ...]:
    """Seconds each step has had, from the times in the order they were given.

    Raises
    ------
    ValueOutOfRange
        If there are not as many times as steps.
    """
    if len(reading.steps) == 1 and len(times) != 1:
        raise ValueOutOfRange(
            f"One patch was read, but {len(times)} times are given. Leave the one that this patch had."
        )
    if len(times) != len(reading.steps):
        raise ValueOutOfRange(
            f"{len(reading.steps)} steps were read, but {len(times)} times are given. "
            "Give the time of each step in order, or the number of steps if they were counted wrongly."
        )
    return step_times(times, reading.exposures)


def log_scan(
    db: Database,
    scan: str,
    reading: StripReading,
    made: Setting,
    times: Sequence[float],
    *,
    wedge: str,
    wet: bool = False,
    advised: Setting | None = None,
    kept: bool = False,
    **trial: Any,
) -> TrialRecord:
    """Record a trial from what was read off its scan.

    Parameters
    ----------
    scan : str
        Hash of the kept scan (``entry.keep_scan``).
    made : Setting
        As made; its time is replaced by that of each step.
    times : sequence of float
        As given one after the other [s].
    wedge : str
        Densities of the wedge as typed.
    wet : bool
        Scanned wet.
    advised : Setting or None
        Kept beside a single patch.
    kept : bool
        It is accepted as right; a single patch only.
    **trial
        Fields of ``TrialEntry`` but its patches: ``frame``, ``kind``, ``lot``, ``key`` ...

    Raises
    ------
    ValueOutOfRange
        If there are not as many times as steps, or no step tells of the reference patch.
    """
    each = times_of(reading, times)
    if not reading.informative:
        raise ValueOutOfRange(
            "On a strip across the picture only one step shows the reference patch. Say which, counted from 1."
        )
    patches = []
    for index in reading.informative:
        one = len(reading.informative) == 1
        patches.append(
            PatchEntry(
                setting=dataclasses.replace(made, time=each[index]),
                advised=advised if one else None,
                reading=_read_off(reading.steps[index], scan, wedge, wet),
                kept=kept and one,
            )
        )
    if kept and len(patches) > 1:
        raise ValueOutOfRange(_ONE_IS_KEPT)
    return log_trial(db, TrialEntry(patches=tuple(patches), **trial))


_ONE_IS_KEPT = "A strip of several steps is not kept: log it, then keep the print that is made from it."


def read_again(
    db: Database, trial: str, scan: str, reading: StripReading, *, wedge: str, wet: bool = False, kept: bool = False
) -> TrialRecord:
    """Add what a kept scan says to a print that was logged before, by eye or by another reading; the newest counts.

    Parameters
    ----------
    kept : bool
        Accept the print as right, too.

    Raises
    ------
    ValueOutOfRange
        If it is no single exposure, on the scan or in the record.
    """
    record = find_trial(db, trial)
    if len(reading.informative) != 1 or len(record.patches) != 1:
        raise ValueOutOfRange(
            f"{record.name} was logged with {len(record.patches)} exposures, and {len(reading.informative)} were read. "
            "Only one patch is added to a print that was logged before: tap the reference patch."
        )
    step = reading.steps[reading.informative[0]]
    with db.transaction():
        record = add_reading(db, trial, _read_off(step, scan, wedge, wet))
        return mark_kept(db, trial) if kept else record


def _read_off(step: PatchSeen, scan: str, wedge: str, wet: bool) -> PatchReading:
    box = step.box
    return PatchReading(
        density=step.density,
        standard_error=max(step.standard_error),
        beyond=step.clipped_channels,
        flags=(*step.flags, *((Flag.WET,) if wet else ())),
        scan=scan,
        box=(box.left, box.top, box.right, box.bottom),
        wet=wet,
        device=BY_SCAN + " ".join(wedge.split()),
    )
