"""Readings: what a scanner says and how far to trust it, prints side by side, new scans in the watched folder."""

from functools import lru_cache
from typing import Any

from fastapi import APIRouter, Request, UploadFile
from fastapi.responses import HTMLResponse, Response
from pydantic import BaseModel, ConfigDict

from printlore.core.measure.characterise import DRIFT_LIMIT
from printlore.core.measure.compare import Comparison
from printlore.core.measure.pairs import Pair, PairKind
from printlore.core.measure.scanner import Material
from printlore.errors import UnknownRecord, ValueOutOfRange
from printlore.faces import telling, typed, words
from printlore.faces.plain import plain
from printlore.faces.web.page import Db, Page, Typed, go, render
from printlore.faces.web.scans import Upload, content_of, keep_upload
from printlore.records.database import Database
from printlore.records.measuring import ComparisonRecord, ProfileRecord
from printlore.records.papers import Lot, PaperFamily
from printlore.services.comparing import compare_and_keep, comparison_again, comparisons, paper_words
from printlore.services.entry import frames_at_hand, list_records
from printlore.services.measuring import (
    characterise_by_chart,
    characterise_by_wedge,
    check_drift,
    profile_words,
    profiles,
)
from printlore.services.pairs import add_pair, bring_pair_back, known_dyes, learned, pairs, remove_pair, shift_words
from printlore.services.scan_folders import new_scans, watch_folder, watched_folder
from printlore.services.scanned import keep_file
from printlore.services.side_by_side import difference_svg, report

PAGE = Page(title="Readings", path="/readings", order=50)
router = APIRouter(prefix="/readings")
api = APIRouter(prefix="/readings", tags=["readings"])


@router.get("")
def show(request: Request, db: Db) -> HTMLResponse:
    """Profiles, new scans and past comparisons, with the forms for more."""
    known = profiles(db)
    dyes, papers = known_dyes(db), [paper.name for paper in list_records(db, PaperFamily)]
    lots = list_records(db, Lot)
    return render(
        request,
        "readings/readings.html",
        profiles=[(record, profile_words(record.profile()), record.profile()) for record in known[::-1]],
        comparisons=comparisons(db)[::-1][:20],
        watched=watched_folder(db),
        offered=new_scans(db),
        frames=_frames(db),
        dyes=dyes,
        dry_down=shift_words(learned(db, PairKind.DRY_DOWN)),
        pairs=pairs(db)[::-1],
        telling=telling,
        papers=[(paper, paper) for paper in papers],
        paper=lots[-1].family if lots else "",
        scanner=known[-1].scanner if known else "",
        teaching=not known,
        limit=DRIFT_LIMIT,
        materials=[(material.value, material.value.replace("_", " ")) for material in Material],
    )


def _frames(db: Database) -> list[tuple[int, str]]:
    """Number and name of the frames printed or added last, that of the newest trial first."""
    return [(frame.id, frame.name) for frame in frames_at_hand(db, 60)]


@router.post("/scan")
def post_scan(request: Request, db: Db, frame: Typed, scan: Upload) -> Response:
    """Keep a scan of a print of a frame; it is read where it is shown."""
    kept = keep_upload(db, scan)
    return go(request, f"/print/{typed.carried(frame)}/scan/{kept.sha256}", done="readings-scan")


@router.post("/pairs")
def post_pair(request: Request, db: Db, kind: Typed, read: Typed, known: Typed, paper: Typed = "") -> Response:
    """A patch read twice: by scanner and instrument, or wet and dry."""
    pair = Pair(read=typed.three(read, "the first reading"), known=typed.three(known, "the second reading"))
    record = add_pair(db, typed.one_of(PairKind, kind, "Kind"), pair, paper=paper)
    said = shift_words(learned(db, record.kind, paper=record.paper, scanner=record.scanner))
    draft = "readings-dry" if record.kind is PairKind.DRY_DOWN else "readings-dyes"
    return go(request, "/readings", said=said, undo=f"/readings/pairs/{record.id}/undo", done=draft)


@router.post("/pairs/{number}/undo")
def undo_pair(request: Request, db: Db, number: int) -> Response:
    """Take a pair back."""
    remove_pair(db, number)
    back = f"/readings/pairs/{number}/bring-back"
    return go(request, "/readings", said="The pair is taken back; it no longer corrects.", undo=back)


@router.post("/pairs/{number}/bring-back")
def bring_back_pair(request: Request, db: Db, number: int) -> Response:
    """Let a pair that was taken back correct again."""
    bring_pair_back(db, number)
    undo = f"/readings/pairs/{number}/undo"
    return go(request, "/readings", said="The pair is brought back; it corrects again.", undo=undo)


@router.post("/wedge")
def post_wedge(request: Request, db: Db, scanner: Typed, wedge: Typed, scan: Upload) -> Response:
    """A scanner's curves from a scanned wedge."""
    record = characterise_by_wedge(db, scanner, content_of(scan), typed.numbers(wedge, "Wedge"))
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
        content_of(scan),
        content_of(reference, "reference file"),
        (points[0], points[1], points[2], points[3]),
        wedge=typed.numbers(wedge, "Wedge") if wedge.strip() else None,
        material=typed.one_of(Material, material, "Material") if material else Material.UNKNOWN,
    )
    return go(request, "/readings", said=profile_words(record.profile()), done="readings-chart")


@router.post("/drift")
def post_drift(request: Request, db: Db, wedge: Typed, scan: Upload) -> Response:
    """Whether the scanner still reads as it did."""
    check = check_drift(db, content_of(scan), typed.numbers(wedge, "Wedge"))
    moved = max(abs(value) for value in check.shift)
    said = "The scanner has changed: make its profile again." if check.flags else "The scanner reads as it did."
    return go(
        request, "/readings", said=f"{said} It is {words.number(moved, 3)} density off at most.", done="readings-drift"
    )


@router.post("/compare")
def post_compare(request: Request, db: Db, wedge: Typed, first: Upload, second: Upload, paper: Typed = "") -> Response:
    """Two prints side by side; scans and verdict are kept."""
    record = _compared(db, wedge, first, second, paper)
    return go(request, f"/readings/compared/{record.id}", done="readings-compare")


def _compared(db: Database, wedge: str, first: UploadFile, second: UploadFile, paper: str) -> ComparisonRecord:
    names = (typed.file_name(first.filename) or "first", typed.file_name(second.filename) or "second")
    contents = content_of(first, "first scan"), content_of(second, "second scan")
    record, _ = compare_and_keep(db, *contents, typed.numbers(wedge, "Wedge"), names=names, paper=paper.strip())
    return record


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
        reckoned=paper_words(result),
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
    sha256, _ = keep_file(db, path)
    return go(request, f"/print/{typed.carried(frame)}/scan/{sha256}")


@api.get("/profiles", summary="Profiles of scanners and cameras")
def get_profiles(db: Db) -> Any:
    return [plain_profile(record) for record in profiles(db)]


class PairIn(BaseModel):
    """A patch read twice, red, green, blue: by the scanner and an instrument, or wet and dry."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)

    kind: PairKind
    read: tuple[float, float, float]
    known: tuple[float, float, float]
    standard_error: float = 0.007
    paper: str = ""
    scanner: str = ""
    note: str = ""


@api.get("/pairs", summary="Patches read twice: by scanner and instrument, or wet and dry; see removed")
def get_pairs(db: Db) -> Any:
    return plain(pairs(db))


@api.post("/pairs", status_code=201, summary="Keep a patch read twice; later readings of its paper are corrected")
def post_pair_in(db: Db, pair: PairIn) -> Any:
    value = Pair(read=pair.read, known=pair.known, standard_error=pair.standard_error)
    return plain(add_pair(db, pair.kind, value, paper=pair.paper, scanner=pair.scanner, note=pair.note))


@api.delete("/pairs/{number}", summary="Take a pair back; its row stays")
def delete_pair(db: Db, number: int) -> Any:
    return plain(remove_pair(db, number))


@api.post("/pairs/{number}/bring-back", summary="Let a pair that was taken back correct again")
def post_pair_back(db: Db, number: int) -> Any:
    return plain(bring_pair_back(db, number))


@api.get("/comparisons", summary="Prints compared side by side")
def get_comparisons(db: Db) -> Any:
    return [plain(record) for record in comparisons(db)]


@api.post("/compare", summary="Compare two prints; a wedge lies in the first scan at least")
def compare_two(db: Db, wedge: Typed, first: Upload, second: Upload, paper: Typed = "") -> Any:
    return plain(_compared(db, wedge, first, second, paper))


def plain_profile(record: ProfileRecord) -> dict[str, Any]:
    """A profile as plain values, with how good it is in words."""
    return {
        "scanner": record.scanner,
        "made": record.made,
        "number": record.number,
        "words": profile_words(record.profile()),
        "document": plain(record.document),
    }
