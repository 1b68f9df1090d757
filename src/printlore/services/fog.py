"""Read an unexposed sheet for fog, remember unsafe bags and boxes, and follow D-min over the months."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from printlore.core.calendar import day
from printlore.core.figure import Figure
from printlore.core.flags import Flag
from printlore.core.measure.fog import (
    Cause,
    CoinTest,
    FogAt,
    FogReading,
    Verdict,
    laid_straight,
    rank_causes,
    read_fog,
    sheet_blocks,
)
from printlore.core.measure.scan import Box, Scan
from printlore.core.measure.scanner import ScannerCurves
from printlore.core.measure.strip import find_paper
from printlore.core.measure.wedge import read_wedge, wedge_boxes
from printlore.core.plain import from_plain, to_plain
from printlore.devices.scans import read_scan
from printlore.errors import UnknownRecord, ValueOutOfRange
from printlore.records.database import Database
from printlore.records.papers import Lot
from printlore.records.rows import add, correct, every, every_ever, find
from printlore.records.stock import BoxRecord, Container, FogRecord, RollRecord
from printlore.services.entry import keep_scan
from printlore.services.lines import bring_line_back, find_line, take_line_back
from printlore.services.strips import Densities, wedge_from

_MAP_COLUMNS = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class FogReport:
    """A sheet read for fog, and what probably did it.

    Attributes
    ----------
    record : FogRecord
    reading : FogReading or None
        With the map; ``None`` if it was read earlier.
    causes : tuple of (Cause, probability)
    seen_before : tuple of FogRecord
        Earlier readings with fog at the same place from the same bag or box.
    """

    record: FogRecord
    reading: FogReading | None
    causes: tuple[tuple[Cause, float], ...]
    seen_before: tuple[FogRecord, ...]


def read_blank(
    scan: Scan | Path | str | bytes,
    *,
    size: tuple[float, float],
    box: Box | None = None,
    wedge: Densities | None = None,
    wedge_ends: tuple[Box, Box] | None = None,
    known_base: Sequence[float] | None = None,
) -> FogReading:
    """Fog on a scanned, unexposed and processed sheet.

    Parameters
    ----------
    size : (width, height)
        Of the sheet as it lies in the scan [mm].
    box : Box, optional
        About the sheet; ``None``: it is looked for, and if nothing stands out the whole scan is taken.
    wedge, wedge_ends
        As of a strip; without a wedge the densities are only rough.

    Raises
    ------
    UnreadableFile
        If the file is no scan that can be used.
    ValueOutOfRange
        If the size is not above 0, is that of a sheet that lies the other way, or the sheet is too small in the scan.
    """
    if not isinstance(scan, Scan):
        scan = read_scan(scan)
    width, height = size
    if not (width > 0 and height > 0):
        raise ValueOutOfRange(f"A sheet of {Figure(width):g} by {Figure(height):g} mm cannot be; enter its size.")
    curves: ScannerCurves | None = None
    boxes: tuple[Box, ...] = ()
    flags = scan.flags
    if wedge is not None:
        known = wedge_from(wedge)
        report = read_wedge(scan, known, None if wedge_ends is None else wedge_boxes(*wedge_ends, len(known.densities)))
        curves, boxes, flags = report.curves, report.boxes, tuple(dict.fromkeys(flags + report.curves.flags))
    else:
        flags = tuple(dict.fromkeys((*flags, Flag.NO_PROFILE)))
    turned = 0.0
    if box is None:
        found = _sheet_box(scan, boxes, width / height)
        if found is None:
            flags, box = (*flags, Flag.SHEET_NOT_FOUND), _all_but_the_wedge(scan, boxes)
        else:
            box, turned = laid_straight(scan, found)
    scale = float(np.mean([width / box.width, height / box.height]))
    blocks = sheet_blocks(scan, box, curves, millimetres_per_pixel=scale, turned=turned)
    return read_fog(blocks, known_base=known_base, size=(width, height), flags=flags)


def _sheet_box(scan: Scan, wedge: Sequence[Box], shape: float) -> Box | None:
    """The sheet if it stands out from what lies round it.

    White paper seldom stands out from a white lid, and fog on a cropped scan does: what is found must have the
    sheet's shape (width over height).

    Raises
    ------
    ValueOutOfRange
        If it has the shape of a sheet that lies the other way.
    """
    columns, rows = scan.size
    try:
        found = find_paper(scan, wedge)
    except ValueOutOfRange:
        found = None
    if found is not None and found.width > 0.4 * columns and _is_of_shape(found.width / found.height, shape):
        return found
    seen = [found.width / found.height] if found is not None else []
    if not wedge:
        seen.append(columns / rows)
    if any(_is_of_shape(one, 1 / shape) and not _is_of_shape(one, shape) for one in seen):
        lies, typed = ("wider than high", "upright") if shape < 1 else ("higher than wide", "lying")
        raise ValueOutOfRange(
            f"In the scan the sheet is {lies}, but its size is that of a sheet {typed}. Give width x height as it lies "
            "in the scan."
        )
    return None


def _is_of_shape(seen: float, shape: float) -> bool:
    return abs(seen / shape - 1) < 0.06


def _all_but_the_wedge(scan: Scan, wedge: Sequence[Box]) -> Box:
    """All of the scan above (or below) the wedge."""
    columns, rows = scan.size
    top, bottom = 0, rows
    if wedge and wedge[0].top > rows / 2:
        bottom = min(box.top for box in wedge)
    elif wedge:
        top = max(box.bottom for box in wedge)
    return Box(left=0, top=top, right=columns, bottom=bottom)


def log_blank(
    db: Database,
    lot: str,
    scan: bytes | Path,
    *,
    size: tuple[float, float],
    box: Box | None = None,
    wedge: Densities | None = None,
    wedge_ends: tuple[Box, Box] | None = None,
    from_box: str | None = None,
    from_roll: str | None = None,
    at: datetime | None = None,
) -> FogReport:
    """Read a blank of a lot, keep its scan and what it told.

    The bag or box is that of the named roll or box of sheets. D-min is compared with the lightest
    this lot has shown on sheets that were read alike (``lightest_base``).
    """
    at = at or datetime.now(UTC)
    content = scan.read_bytes() if isinstance(scan, Path) else scan
    beside = "" if wedge is None else " ".join(map(str, wedge_from(wedge).as_array()[:, 1].tolist()))
    known = lightest_base(db, lot, wedge=beside)
    reading = read_blank(content, size=size, box=box, wedge=wedge, wedge_ends=wedge_ends, known_base=known)
    kept = keep_scan(db, content, media_type="image/tiff", original_name=scan.name if isinstance(scan, Path) else "")
    with db.transaction() as conn:
        find(conn, Lot, lot)
        container = find(conn, BoxRecord, from_box).container if from_box else None
        if container is None and from_roll:
            container = find(conn, RollRecord, from_roll).container
        record = add(
            conn,
            FogRecord(
                lot=lot,
                at=at,
                box=from_box,
                roll=from_roll,
                container=container,
                scan=kept.sha256,
                base=reading.base,
                verdict=reading.verdict.value,
                places=tuple(to_plain(fog) for fog in reading.fog),
                over_base=_coarse(reading),
                words=reading.words,
                wedge=beside,
            ),
        )
    return _report(db, record, reading)


def _coarse(reading: FogReading) -> tuple[list[list[float]], ...]:
    """The map in at most some twenty columns, to be kept and drawn."""
    step = max(1, math.ceil(reading.over_base.shape[1] / _MAP_COLUMNS))
    rows, columns = reading.over_base.shape[0] // step, reading.over_base.shape[1] // step
    cut = reading.over_base[: rows * step, : columns * step]
    means = cut.reshape(rows, step, columns, step, 3).mean(axis=(1, 3))
    return tuple(means.round(4).tolist())


def _report(db: Database, record: FogRecord, reading: FogReading | None = None) -> FogReport:
    with db.reading() as conn:
        others = every(conn, FogRecord)
    here = {place["where"] for place in record.places}
    before = tuple(
        other
        for other in others
        if other.id != record.id
        and record.container is not None
        and other.container == record.container
        and here & {place["where"] for place in other.places}
    )
    coin = CoinTest(record.coin_test) if record.coin_test else None
    causes = rank_causes(reading or _as_reading(record), coin_test=coin)
    if before:
        # Fog at one place of sheets from one bag, again and again: the bag is the common thing.
        again = 4.0 ** len(before)
        weights = [(cause, p * (again if cause is Cause.CONTAINER else 1.0)) for cause, p in causes]
        total = sum(p for _, p in weights)
        causes = sorted(((cause, p / total) for cause, p in weights), key=lambda pair: -pair[1])
    return FogReport(record=record, reading=reading, causes=tuple(causes), seen_before=before)


def _as_reading(record: FogRecord) -> FogReading:
    return FogReading(
        base=record.base,
        over_known=None,
        over_base=np.zeros((0, 0, 3)),
        fog=tuple(from_plain(FogAt, place, where="A place of fog") for place in record.places),
        verdict=Verdict(record.verdict),
        trim={},
    )


def fog_reports(db: Database, lot: str | None = None) -> list[FogReport]:
    """Readings of blanks, oldest first, of one lot if named."""
    with db.reading() as conn:
        records = every(conn, FogRecord, lot=lot) if lot else every(conn, FogRecord)
    return [_report(db, record) for record in sorted(records, key=lambda r: (r.at, r.id))]


def coin_test_showed(db: Database, reading: int, showed: CoinTest) -> FogReport:
    """Add to a reading (by its number) what the coin test showed; returns the causes ranked anew."""
    with db.transaction() as conn:
        for record in every(conn, FogRecord, id=reading):
            return _report(db, correct(conn, replace(record, coin_test=showed.value)))
    raise UnknownRecord(f"No fog reading has the number {reading}; list them first.")


def blame_container(db: Database, reading: int) -> Container:
    """Remember that the bag or box of a fogged sheet is unsafe.

    Raises
    ------
    ValueOutOfRange
        If the reading names no bag or box, or the sheet was sound.
    """
    with db.transaction() as conn:
        found = every(conn, FogRecord, id=reading)
        if not found:
            raise UnknownRecord(f"No fog reading has the number {reading}; list them first.")
        record = found[0]
        if record.container is None:
            raise ValueOutOfRange("The sheet's bag or box was not named. Name it with the reading, then blame it.")
        if record.verdict == Verdict.SOUND.value:
            raise ValueOutOfRange("That sheet was sound; there is nothing to blame its bag or box for.")
        known = find(conn, Container, record.container)
        return correct(conn, replace(known, unsafe=True, note=f"{day(record.at)}: {record.words}"))


def take_reading_back(db: Database, number: int) -> FogRecord:
    """Take a reading of fog back: a wrong size or wedge, a scan that was not of the sheet. It stays in the record.

    Raises
    ------
    Refused
        If it was taken back before.
    UnknownRecord
        If there is none of this number.
    """
    record = find_line(db, FogRecord, number, listed=_LISTED)
    return take_line_back(db, record, _said(record))


def bring_reading_back(db: Database, number: int) -> FogRecord:
    """Let a reading that was taken back count again. Raises as ``take_reading_back``."""
    record = find_line(db, FogRecord, number, listed=_LISTED)
    return bring_line_back(db, record, _said(record))


_LISTED = "the sheets read (paper fog)"
"""Where readings are listed with their numbers."""


def _said(record: FogRecord) -> str:
    return f"Reading {record.id} of fog ({record.lot}, {day(record.at)})"


def readings_taken_back(db: Database) -> list[FogRecord]:
    """Readings of fog that were taken back, oldest first."""
    with db.reading() as conn:
        return [record for record in every_ever(conn, FogRecord) if record.removed]


def base_over_months(db: Database, lot: str) -> list[FogRecord]:
    """Readings of a lot, each with its D-min (red, green, blue), oldest first."""
    with db.reading() as conn:
        return sorted(every(conn, FogRecord, lot=lot), key=lambda record: (record.at, record.id))


def lightest_base(db: Database, lot: str, *, wedge: str) -> tuple[float, float, float] | None:
    """The lightest D-min a lot has shown on a sheet read earlier and alike; ``None`` before the first.

    Without a wedge D-min is off by the scanner's tone curve: it says nothing beside one that was read by a wedge. What
    is doubtful may be the lid's.
    """
    alike = [
        record.base
        for record in base_over_months(db, lot)
        if not record.told[1] and (record.wedge is None or bool(record.wedge) == bool(wedge))
    ]
    return min(alike, key=sum) if alike else None
