"""Fog and leaks: an unexposed, processed sheet is scanned; where the fog is, which light made it, what to do."""

import math
from html import escape
from typing import Annotated, Any

import numpy as np
from fastapi import APIRouter, File, Form, Request, UploadFile
from fastapi.responses import HTMLResponse, Response

from printlore.core.measure.fog import COIN_TEST, VISIBLE, CoinTest, FogReading
from printlore.core.quantities import parse_size
from printlore.errors import UnknownRecord, ValueOutOfRange
from printlore.faces import typed
from printlore.faces.plain import plain
from printlore.faces.web.page import Db, go, render
from printlore.records.papers import Lot
from printlore.records.stock import BoxRecord, RollRecord
from printlore.services.entry import list_records
from printlore.services.fog import (
    FogReport,
    base_over_months,
    blame_container,
    coin_test_showed,
    fog_reports,
    log_blank,
)

router = APIRouter(prefix="/paper/fog")
api = APIRouter(prefix="/paper/fog", tags=["paper"])
Typed = Annotated[str, Form()]

_MAPS: dict[int, str] = {}
"""Drawings of sheets read since the program began; they can be made again from the scan."""
_MOST_MAPS = 50
_ROLL, _BOX = "roll ", "box "


@router.get("")
def show(request: Request, db: Db) -> HTMLResponse:
    """Sheets read so far, newest first, and a form for the next."""
    reports = fog_reports(db)[::-1]
    lots = list_records(db, Lot)
    return render(
        request,
        "paper/fog.html",
        reports=reports,
        maps=_MAPS,
        lots=lots,
        rolls=list_records(db, RollRecord),
        boxes=list_records(db, BoxRecord),
        bases=[(lot, base_over_months(db, lot.name)) for lot in lots],
        coin_test=COIN_TEST,
        coin_tests=[(test.value, test.value) for test in CoinTest],
        visible=VISIBLE,
    )


@router.post("")
def post_blank(
    request: Request,
    db: Db,
    lot: Typed,
    scan: Annotated[UploadFile, File()],
    size: Typed = "25x20 cm",
    wedge: Typed = "",
    source: Typed = "",
) -> Response:
    """Read a scanned sheet. ``source`` is "roll NAME" or "box NAME", ``size`` width x height as it lies in the scan."""
    content = scan.file.read()
    if not content:
        raise ValueOutOfRange("No scan was chosen. Choose the file of the scanned sheet.")
    densities = typed.numbers(wedge, "Wedge") if wedge.strip() else None
    kind = source.partition(" ")[0]
    report = log_blank(
        db,
        lot,
        content,
        size=parse_size(size),
        wedge=densities,
        from_roll=source.removeprefix(_ROLL) if kind == "roll" else None,
        from_box=source.removeprefix(_BOX) if kind == "box" else None,
    )
    if report.reading is not None:
        _MAPS[report.record.id] = fog_map(report.reading)
        for old in sorted(_MAPS)[:-_MOST_MAPS]:
            del _MAPS[old]
    return go(request, "/paper/fog", said=report.record.words, done="fog")


@router.post("/{number}/coins")
def post_coins(request: Request, db: Db, number: int, showed: Typed) -> Response:
    """What the coin test showed."""
    try:
        test = CoinTest(showed)
    except ValueError:
        raise ValueOutOfRange(f'"{showed}" is not what a coin test shows; choose one of the two.') from None
    report = coin_test_showed(db, number, test)
    return go(request, "/paper/fog", said=f"Most likely now: {report.causes[0][0].value}.")


@router.post("/{number}/blame")
def post_blame(request: Request, db: Db, number: int) -> Response:
    """Remember the sheet's bag or box as unsafe."""
    container = blame_container(db, number)
    return go(request, "/paper/fog", said=f"{container.name} is remembered as unsafe.")


@api.get("", summary="Unexposed sheets read for fog, with causes")
def get_fog(db: Db) -> Any:
    return [plain_report(report) for report in fog_reports(db)]


@api.get("/{number}", summary="One sheet read for fog")
def get_one(db: Db, number: int) -> Any:
    for report in fog_reports(db):
        if report.record.id == number:
            return plain_report(report)
    raise UnknownRecord(f"No fog reading has the number {number}; list them first.")


def plain_report(report: FogReport) -> dict[str, Any]:
    """A report as plain values, its map left out."""
    return {
        "record": plain(report.record),
        "causes": [{"cause": cause.value, "probability": probability} for cause, probability in report.causes],
        "seen_before": [record.id for record in report.seen_before],
    }


def fog_map(reading: FogReading, *, width: float = 360.0) -> str:
    """Density over base as three small maps, one a layer: the larger the dot, the more fog. Drawn without hue."""
    rows, columns = reading.over_base.shape[:2]
    step = max(1, math.ceil(columns / 22))
    coarse = [
        reading.over_base[y : y + step, x : x + step].mean(axis=(0, 1))
        for y in range(0, rows, step)
        for x in range(0, columns, step)
    ]
    across = math.ceil(columns / step)
    down = math.ceil(rows / step)
    most = max(float(np.max(coarse)), 0.06)
    cell = width / across
    panel = down * cell
    parts = []
    for layer, name in enumerate(("red-sensitive layer", "green-sensitive layer", "blue-sensitive layer")):
        top = layer * (panel + 26)
        parts.append(f'<text x="0" y="{top + 14:.0f}">{escape(name)}</text>')
        parts.append(f'<rect class="sheet" x="0" y="{top + 20:.0f}" width="{width:.0f}" height="{panel:.1f}"/>')
        for at, values in enumerate(coarse):
            radius = 0.5 * cell * math.sqrt(max(float(values[layer]), 0.0) / most)
            if radius > 0.05 * cell:
                x, y = (at % across + 0.5) * cell, top + 20 + (at // across + 0.5) * cell
                parts.append(f'<circle class="fill" cx="{x:.1f}" cy="{y:.1f}" r="{radius:.2f}"/>')
    height = 3 * (panel + 26) + 20
    parts.append(f'<text x="0" y="{height - 6:.0f}">largest dot: {most:.2f} over base</text>')
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {height:.0f}" role="img">'
        f"<title>Fog over the sheet, by layer</title>{''.join(parts)}</svg>"
    )
