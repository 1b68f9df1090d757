"""Log what a kept scan of a strip or print says: each step that tells of the reference patch, with its time."""

import dataclasses
from collections.abc import Sequence
from typing import Any

from printlore.core.flags import Flag
from printlore.core.light.setting import Setting
from printlore.core.measure.strip import StripReading, step_times
from printlore.errors import ValueOutOfRange
from printlore.records.database import Database
from printlore.records.trials import PatchReading, TrialRecord
from printlore.services.trials import PatchEntry, TrialEntry, log_trial

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
        step, box = reading.steps[index], reading.steps[index].box
        read = PatchReading(
            density=step.density,
            standard_error=max(step.standard_error),
            beyond=step.clipped_channels,
            flags=(*step.flags, *((Flag.WET,) if wet else ())),
            scan=scan,
            box=(box.left, box.top, box.right, box.bottom),
            wet=wet,
            device=BY_SCAN + " ".join(wedge.split()),
        )
        setting = dataclasses.replace(made, time=each[index])
        patches.append(
            PatchEntry(setting=setting, advised=advised if len(reading.informative) == 1 else None, reading=read)
        )
    return log_trial(db, TrialEntry(patches=tuple(patches), **trial))
