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
from printlore.records.rows import add, correct, every, find
from printlore.records.stock import BoxRecord, Container, FogRecord, RollRecord
from printlore.services.entry import keep_scan
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
        If the size is not above 0 or the sheet is too small in the scan.
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
    if box is None:
        found = _sheet_box(scan, boxes, width / height)
        if found is None:
            flags = (*flags, Flag.SHEET_NOT_FOUND)
        box = found or _all_but_the_wedge(scan, boxes)
    scale = float(np.mean([width / box.width, height / box.height]))
    blocks = sheet_blocks(scan, box, curves, millimetres_per_pixel=scale)
    return read_fog(blocks, known_base=known_base, size=(width, height), flags=flags)


def _sheet_box(scan: Scan, wedge: Sequence[Box], shape: float) -> Box | None:
    """The sheet if it stands out from what lies round it.

    White paper seldom stands out from a white lid, and fog on a cropped scan does: what is found must have the
    sheet's shape (width over height).
    """
    columns, _ = scan.size
    try:
        found = find_paper(scan, wedge)
    except ValueOutOfRange:
        found = None
    if found is not None and abs(found.width / found.height / shape - 1) < 0.06 and found.width > 0.4 * columns:
        return found
    return None


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
    this lot has shown.
    """
    at = at or datetime.now(UTC)
    content = scan.read_bytes() if isinstance(scan, Path) else scan
    known = lightest_base(db, lot)
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


def base_over_months(db: Database, lot: str) -> list[tuple[datetime, tuple[float, float, float]]]:
    """D-min (red, green, blue) of a lot at each reading, oldest first."""
    with db.reading() as conn:
        records = every(conn, FogRecord, lot=lot)
    return [(record.at, record.base) for record in sorted(records, key=lambda r: (r.at, r.id))]


def lightest_base(db: Database, lot: str) -> tuple[float, float, float] | None:
    """The lightest D-min a lot has shown on a sheet read earlier; ``None`` before the first."""
    bases = [base for _, base in base_over_months(db, lot)]
    return min(bases, key=sum) if bases else None
