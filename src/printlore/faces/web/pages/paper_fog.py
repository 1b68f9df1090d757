"""Fog and leaks: an unexposed, processed sheet is scanned; where the fog is, which light made it, what to do."""

import math
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from printlore.core.measure.fog import COIN_TEST, VISIBLE, CoinTest
from printlore.core.quantities import parse_size
from printlore.errors import UnknownRecord
from printlore.faces import telling, typed, words
from printlore.faces.plain import plain
from printlore.faces.web.page import Db, Typed, go, render
from printlore.faces.web.scans import Upload, content_of
from printlore.records.papers import Lot
from printlore.records.stock import BoxRecord, FogRecord, RollRecord
from printlore.services.entry import list_records
from printlore.services.fog import (
    FogReport,
    base_over_months,
    blame_container,
    bring_reading_back,
    coin_test_showed,
    fog_reports,
    log_blank,
    readings_taken_back,
    take_reading_back,
)

router = APIRouter(prefix="/paper/fog")
api = APIRouter(prefix="/paper/fog", tags=["paper"])

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
        maps={r.record.id: fog_map(r.record) for r in reports if r.record.over_base and r.record.places},
        lots=lots,
        rolls=list_records(db, RollRecord),
        boxes=list_records(db, BoxRecord),
        bases=[(lot, base_over_months(db, lot.name)) for lot in lots],
        coin_test=COIN_TEST,
        coin_tests=[(test.value, test.value) for test in CoinTest],
        visible=VISIBLE,
        telling=telling,
        back=readings_taken_back(db)[::-1],
    )


@router.post("")
def post_blank(
    request: Request,
    db: Db,
    lot: Typed,
    scan: Upload,
    size: Typed = "25x20 cm",
    wedge: Typed = "",
    source: Typed = "",
) -> Response:
    """Read a scanned sheet. ``source`` is "roll NAME" or "box NAME", ``size`` width x height as it lies in the scan."""
    densities = typed.numbers(wedge, "Wedge") if wedge.strip() else None
    kind = source.partition(" ")[0]
    report = log_blank(
        db,
        lot,
        content_of(scan),
        size=parse_size(size),
        wedge=densities,
        from_roll=source.removeprefix(_ROLL) if kind == "roll" else None,
        from_box=source.removeprefix(_BOX) if kind == "box" else None,
    )
    return go(request, "/paper/fog", said=report.record.words, done="fog")


@router.post("/{number}/coins")
def post_coins(request: Request, db: Db, number: int, showed: Typed) -> Response:
    """What the coin test showed."""
    report = coin_test_showed(db, number, typed.one_of(CoinTest, showed, "What the coins show"))
    return go(request, "/paper/fog", said=f"Most likely now: {report.causes[0][0].value}.")


@router.post("/{number}/blame")
def post_blame(request: Request, db: Db, number: int) -> Response:
    """Remember the sheet's bag or box as unsafe."""
    return go(request, "/paper/fog", said=telling.container_words(blame_container(db, number)))


@router.post("/{number}/undo")
def post_undo(request: Request, db: Db, number: int) -> Response:
    """Take a reading back: nothing is compared with it any more."""
    record = take_reading_back(db, number)
    said = telling.taken_back(telling.fog_words(record))
    return go(request, "/paper/fog", said=said, undo=f"/paper/fog/{number}/bring-back")


@router.post("/{number}/bring-back")
def post_bring_back(request: Request, db: Db, number: int) -> Response:
    """Let a reading that was taken back count again."""
    record = bring_reading_back(db, number)
    said = telling.brought_back(telling.fog_words(record))
    return go(request, "/paper/fog", said=said, undo=f"/paper/fog/{number}/undo")


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


def fog_map(record: FogRecord) -> str:
    """Density over base as three small maps, one a layer: the larger the dot, the more fog. Drawn without hue."""
    width = 360.0
    down, across = len(record.over_base), len(record.over_base[0])
    most = max(0.06, *(layer for row in record.over_base for values in row for layer in values))
    cell = width / across
    panel = down * cell
    parts = []
    for layer, name in enumerate(("red-sensitive layer", "green-sensitive layer", "blue-sensitive layer")):
        top = layer * (panel + 26) + 20
        parts.append(f'<text x="0" y="{top - 6:.0f}">{name}</text>')
        parts.append(f'<rect class="sheet" x="0" y="{top:.0f}" width="{width:.0f}" height="{panel:.1f}"/>')
        for y, row in enumerate(record.over_base):
            for x, values in enumerate(row):
                radius = 0.5 * cell * math.sqrt(max(values[layer], 0.0) / most)
                if radius > 0.06 * cell:
                    at = f'cx="{(x + 0.5) * cell:.1f}" cy="{top + (y + 0.5) * cell:.1f}"'
                    parts.append(f'<circle class="fill" {at} r="{radius:.2f}"/>')
    height = 3 * (panel + 26) + 20
    parts.append(f'<text x="0" y="{height - 6:.0f}">largest dot: {words.density(most)} over base</text>')
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {height:.0f}" role="img">'
        f"<title>Fog over the sheet, by layer</title>{''.join(parts)}</svg>"
    )
