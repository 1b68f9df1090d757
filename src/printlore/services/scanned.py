"""Log what a kept scan of a strip or print says: each step that tells of the reference patch, with its time."""

import dataclasses
import mimetypes
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from printlore.core.flags import Flag
from printlore.core.light.setting import Setting
from printlore.core.measure.patches import PatchReading as PatchSeen
from printlore.core.measure.scan import Scan
from printlore.core.measure.strip import StripReading, step_times
from printlore.devices.scans import read_scan
from printlore.errors import Refused, UnreadableFile, ValueOutOfRange
from printlore.records.database import Database
from printlore.records.negatives import Frame
from printlore.records.trials import PatchReading, TrialRecord
from printlore.services.entry import correct_record, find_record, keep_scan
from printlore.services.pairs import KnownDyes, known_dyes
from printlore.services.strips import Densities, read_strip
from printlore.services.trials import PatchEntry, TrialEntry, add_reading, find_trial, log_trial, mark_kept

BY_SCAN = "scan, wedge "
"""A reading off a scan is by this device, followed by the wedge as it was typed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FileRead:
    """A scan's file that was kept (``scan``: its hash), what it says, and by what it was corrected."""

    scan: str
    reading: StripReading
    known: KnownDyes


def keep_file(db: Database, file: Path) -> tuple[str, Scan]:
    """Keep a scan's file, if it can be read as one: its hash and its pixels. Raises UnreadableFile."""
    if not file.is_file():
        raise UnreadableFile(f'There is no file "{file}". Check the name and the folder.')
    content = file.read_bytes()
    scan = read_scan(content, name=file.name)
    media = mimetypes.guess_type(file.name)[0] or "application/octet-stream"
    return keep_scan(db, content, media_type=media, original_name=file.name).sha256, scan


def read_file(db: Database, file: Path, wedge: Densities, *, lot: str | None = None, **how: Any) -> FileRead:
    """Keep a scan's file and read it, corrected by what the studio knows of the lot's paper in its scanner.

    It is kept even if no step is then found in it. ``how`` is as ``strips.read_strip`` takes it: ``boxes``,
    ``count``, ``kind``, ``exposures``, ``reference_step``.
    """
    known = known_dyes(db, lot=lot)
    scan, picture = keep_file(db, file)
    reading = read_strip(picture, wedge, **how, profile=known.profile, dyes=known.shift)
    return FileRead(scan=scan, reading=reading, known=known)


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


def choose_picture(db: Database, frame: str, *, trial: str | None = None, file: Path | None = None) -> Frame:
    """Let a scan stand for a frame in lists: the one that a trial was read from, or a file, which is kept.

    Raises
    ------
    Refused
        If not one of both is named, or the trial was not read from a scan.
    """
    if (trial is None) == (file is None):
        raise Refused("Name one of both: a trial that was read from a scan, or a file.")
    record = find_record(db, Frame, frame)
    chosen = _scan_of(db, trial) if trial is not None else None
    if file is not None:
        chosen, _ = keep_file(db, file)
    return correct_record(db, record, thumbnail=chosen)


def _scan_of(db: Database, trial: str) -> str:
    for patch in find_trial(db, trial).patches:
        if patch.readings and patch.readings[-1].scan:
            return patch.readings[-1].scan
    raise Refused(f"{trial} was not read from a scan. Name another trial, or a file.")
