"""Readings: what a scanner says and how far to trust it, prints side by side, new scans in the watched folder."""

from functools import lru_cache
from typing import Annotated, Any

from fastapi import APIRouter, File, Form, Request, UploadFile
from fastapi.responses import HTMLResponse, Response

from printlore.core.measure.compare import Comparison
from printlore.core.measure.scanner import Material
from printlore.errors import UnknownRecord, ValueOutOfRange
from printlore.faces import typed
from printlore.faces.plain import plain
from printlore.faces.web.page import Db, Page, go, render
from printlore.records.database import Database
from printlore.records.measuring import ComparisonRecord, ProfileRecord
from printlore.records.negatives import Frame
from printlore.records.trials import TrialRow
from printlore.services.entry import keep_scan, list_records
from printlore.services.measuring import (
    characterise_by_chart,
    characterise_by_wedge,
    check_drift,
    compare_and_keep,
    comparison_again,
    comparisons,
    new_scans,
    profile_words,
    profiles,
    watch_folder,
    watched_folder,
)
from printlore.services.side_by_side import difference_svg, report

PAGE = Page(title="Readings", path="/readings", order=50)
router = APIRouter(prefix="/readings")
api = APIRouter(prefix="/readings", tags=["readings"])
Typed = Annotated[str, Form()]
Upload = Annotated[UploadFile, File()]


def _content(file: UploadFile, what: str) -> bytes:
    content = file.file.read()
    if not content:
        raise ValueOutOfRange(f"No {what} was chosen, or it is empty. Choose the file.")
    return content


@router.get("")
def show(request: Request, db: Db) -> HTMLResponse:
    """Profiles, new scans and past comparisons, with the forms for more."""
    known = profiles(db)
    return render(
        request,
        "readings/readings.html",
        profiles=[(record, profile_words(record.profile()), record.profile()) for record in known[::-1]],
        comparisons=comparisons(db)[::-1][:20],
        watched=watched_folder(db),
        offered=new_scans(db),
        last=_last_trial(db),
        materials=[(material.value, material.value.replace("_", " ")) for material in Material],
    )


def _last_trial(db: Database) -> tuple[str, int] | None:
    """Name of the frame of the newest trial, and its number."""
    trials = list_records(db, TrialRow)
    frames = {frame.name: frame.id for frame in list_records(db, Frame)}
    for trial in reversed(trials):
        if trial.frame is not None and trial.frame in frames:
            return trial.frame, frames[trial.frame]
    return None


@router.post("/wedge")
def post_wedge(request: Request, db: Db, scanner: Typed, wedge: Typed, scan: Upload) -> Response:
    """A scanner's curves from a scanned wedge."""
    record = characterise_by_wedge(db, scanner, _content(scan, "scan"), typed.numbers(wedge, "Wedge"))
    return go(request, "/readings", said=profile_words(record.profile()), done="readings-wedge")


@router.post("/chart")
def post_chart(
    request: Request,
    db: Db,
    scanner: Typed,
    corners: Typed,
    scan: Upload,
    reference: Upload,
    wedge: Typed = "",
    material: Typed = Material.UNKNOWN.value,
) -> Response:
    """A scanner's colour from a scanned chart; corners as eight numbers x y, clockwise from the top left."""
    numbers = typed.numbers(corners, "Corners")
    if len(numbers) != 8:
        raise ValueOutOfRange(f"Corners: {len(numbers)} numbers; give eight, x and y of four corners clockwise.")
    points = list(zip(numbers[::2], numbers[1::2], strict=True))
    record = characterise_by_chart(
        db,
        scanner,
        _content(scan, "scan"),
        _content(reference, "reference file"),
        (points[0], points[1], points[2], points[3]),
        wedge=typed.numbers(wedge, "Wedge") if wedge.strip() else None,
        material=Material(material) if material in set(Material) else Material.UNKNOWN,
    )
    return go(request, "/readings", said=profile_words(record.profile()), done="readings-chart")


@router.post("/drift")
def post_drift(request: Request, db: Db, wedge: Typed, scan: Upload) -> Response:
    """Whether the scanner still reads as it did."""
    check = check_drift(db, _content(scan, "scan"), typed.numbers(wedge, "Wedge"))
    moved = max(abs(value) for value in check.shift)
    said = "The scanner has changed: make its profile again." if check.flags else "The scanner reads as it did."
    return go(request, "/readings", said=f"{said} It is {moved:.3f} density off at most.", done="readings-drift")


@router.post("/compare")
def post_compare(request: Request, db: Db, wedge: Typed, first: Upload, second: Upload) -> Response:
    """Two prints side by side; scans and verdict are kept."""
    record = _compared(db, wedge, first, second)
    return go(request, f"/readings/compared/{record.id}", done="readings-compare")


def _compared(db: Database, wedge: str, first: UploadFile, second: UploadFile) -> ComparisonRecord:
    names = (typed.file_name(first.filename) or "first", typed.file_name(second.filename) or "second")
    contents = _content(first, "first scan"), _content(second, "second scan")
    return compare_and_keep(db, *contents, typed.numbers(wedge, "Wedge"), names=names)


@lru_cache(maxsize=4)
def _again(db: Database, number: int) -> tuple[ComparisonRecord, Comparison]:
    return comparison_again(db, number)


@router.get("/compared/{number}")
def show_compared(request: Request, db: Db, number: int) -> HTMLResponse:
    """A kept comparison, with its picture."""
    record, result = _again(db, number)
    return render(
        request,
        "readings/compared.html",
        record=record,
        result=result,
        names=(record.first, record.second),
        picture=difference_svg(result),
    )


@router.get("/compared/{number}/report.pdf")
def get_report(db: Db, number: int) -> Response:
    """The comparison as a page to print."""
    record, result = _again(db, number)
    return Response(report(result, (record.first, record.second)), media_type="application/pdf")


@router.post("/watch")
def post_watch(request: Request, db: Db, folder: Typed = "") -> Response:
    """Where the scanner saves."""
    watch_folder(db, folder.strip())
    return go(request, "/readings", said=f"{folder} is watched." if folder.strip() else "No folder is watched.")


@router.post("/offered")
def post_offered(request: Request, db: Db, name: Typed, frame: Typed) -> Response:
    """Take a new scan of the watched folder to the last trial's frame; it is read there."""
    path = next((path for path in new_scans(db) if path.name == name), None)
    if path is None:
        raise UnknownRecord(f'"{name}" is no longer new in the watched folder. Look at the page again.')
    kept = keep_scan(db, path.read_bytes(), media_type="image/tiff", original_name=path.name)
    number = int(frame) if frame.isdecimal() else 0
    return go(request, f"/print/{number}/scan/{kept.sha256}")


@api.get("/profiles", summary="Profiles of scanners and cameras")
def get_profiles(db: Db) -> Any:
    return [plain_profile(record) for record in profiles(db)]


@api.get("/comparisons", summary="Prints compared side by side")
def get_comparisons(db: Db) -> Any:
    return [plain(record) for record in comparisons(db)]


@api.post("/compare", summary="Compare two prints; a wedge lies in the first scan at least")
def compare_two(db: Db, wedge: Typed, first: Upload, second: Upload) -> Any:
    return plain(_compared(db, wedge, first, second))


def plain_profile(record: ProfileRecord) -> dict[str, Any]:
    """A profile as plain values, with how good it is in words."""
    return {
        "scanner": record.scanner,
        "made": record.made,
        "number": record.number,
        "words": profile_words(record.profile()),
        "document": plain(record.document),
    }
