"""Studio: heads and lenses, names, costs, tolerances, how well prints repeat, how numbers are written, backup."""

from dataclasses import replace
from pathlib import Path

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from printlore.core.memory.priors import Priors
from printlore.core.quantities import parse_f_number, parse_pack, parse_time
from printlore.errors import ValueOutOfRange
from printlore.faces import typed, words
from printlore.faces.studio_typed import ALIKE_WORDS, COST_WORDS, TOLERANCE_WORDS, alike_entered, entered
from printlore.faces.web.page import Db, Page, Typed, go, render
from printlore.records.light import HEAD_KINDS, Head, Lens
from printlore.records.studio import Costs, Preferences, Repeatability, Tolerances
from printlore.services.backup import back_up
from printlore.services.entry import add_head, add_lens, change_settings, list_records, read_settings
from printlore.services.export import export_bytes
from printlore.services.names import names_given, rename

PAGE = Page(title="Studio", path="/studio", order=70)
router = APIRouter(prefix="/studio")

KIND_WORDS = {
    "subtractive": "filters are dialled, or laid in",
    "additive_times": "red, green and blue one after the other",
    "additive_levels": "red, green and blue at once, dimmed",
}


@router.get("")
def show(request: Request, db: Db) -> HTMLResponse:
    """What the studio is set up with."""
    names = [(f"{word} {name}", f"{word}: {name}") for word, name in names_given(db)]
    return render(
        request,
        "studio.html",
        folder=db.folder,
        heads=list_records(db, Head),
        lenses=list_records(db, Lens),
        kinds=[(kind, KIND_WORDS[kind]) for kind in HEAD_KINDS],
        costs=read_settings(db, Costs),
        tolerances=read_settings(db, Tolerances),
        repeatability=read_settings(db, Repeatability),
        preferences=read_settings(db, Preferences),
        cost_words=COST_WORDS,
        tolerance_words=TOLERANCE_WORDS,
        alike_words=ALIKE_WORDS,
        usual_alike=100 * Priors().alike,
        names=names,
        unnamed=next((value for value, _ in names if "unnamed" in value), ""),
    )


def _seen(version: str) -> int:
    return int(typed.number(version, "Version"))


@router.post("/head")
def post_head(
    request: Request,
    db: Db,
    head_name: Typed,
    kind: Typed = "subtractive",
    usual: Typed = "",
    usual_time: Typed = "",
    dial_step: Typed = "",
    timer_step: Typed = "",
    f_numbers: Typed = "",
) -> Response:
    """Add an enlarger head; what is left empty has its usual value."""
    plain = Head(name=head_name)
    start = replace(
        plain.usual,
        pack=parse_pack(usual) if usual.strip() else plain.usual.pack,
        time=typed.number_or(usual_time, "Usual time", plain.usual.time, parse=parse_time),
    )
    head = add_head(
        db,
        head_name,
        kind=kind,
        usual=start,
        dial_step=typed.number_or(dial_step, "Dial step", plain.dial_step),
        timer_step=typed.number_or(timer_step, "Timer step", plain.timer_step, parse=parse_time),
        f_numbers=typed.numbers(f_numbers, "f-numbers", parse=parse_f_number) or plain.f_numbers,
    )
    return go(request, "/studio", said=f"{head.name} is added.", done="head-new")


@router.post("/lens")
def post_lens(
    request: Request, db: Db, lens_name: Typed, focal_length: Typed = "", pupil_factor: Typed = ""
) -> Response:
    """Add a lens."""
    lens = add_lens(
        db,
        lens_name,
        focal_length=typed.number(focal_length, "Focal length") if focal_length.strip() else None,
        pupil_factor=typed.number_or(pupil_factor, "Pupil factor", 1.0),
    )
    return go(request, "/studio", said=f"{lens.name} is added.", done="lens-new")


@router.post("/name")
def post_name(request: Request, db: Db, named: Typed, called: Typed) -> Response:
    """Call a head, lens, paper, lot, process, bath or film by another name."""
    word, _, name = named.partition(" ")
    record = rename(db, word, name, called)
    said = f"{name} is called {record.name} from now on; everything made with it stays with it."
    return go(request, "/studio", said=said, done="name")


@router.post("/costs")
def post_costs(
    request: Request,
    db: Db,
    minute: Typed,
    sheet: Typed,
    strip: Typed,
    millilitre: Typed,
    cycle_minutes: Typed,
    version: Typed,
) -> Response:
    """Set what things cost; it decides between a strip and a sheet."""
    texts = {
        "minute": minute,
        "sheet": sheet,
        "strip": strip,
        "millilitre": millilitre,
        "cycle_minutes": cycle_minutes,
    }
    change_settings(db, Costs, version=_seen(version), **entered(COST_WORDS, texts))
    return go(request, "/studio", said="The costs are set.", done="costs")


@router.post("/tolerances")
def post_tolerances(
    request: Request, db: Db, edition_delta_e: Typed, good_alone_cc: Typed, good_alone_time: Typed, version: Typed
) -> Response:
    """Set how near is near enough."""
    texts = {
        "edition_delta_e": edition_delta_e,
        "good_alone_cc": good_alone_cc,
        "good_alone_time": good_alone_time,
    }
    change_settings(db, Tolerances, version=_seen(version), **entered(TOLERANCE_WORDS, texts))
    return go(request, "/studio", said="The tolerances are set.", done="tolerances")


@router.post("/repeats")
def post_repeats(request: Request, db: Db, version: Typed, alike_cc: Typed = "") -> Response:
    """Set what is expected of prints made alike; nothing takes it back."""
    there = change_settings(db, Repeatability, version=_seen(version), alike_cc=alike_entered(alike_cc))
    said = "Nothing is said of it any more." if there.alike_cc is None else "That is what is expected."
    return go(request, "/studio", said=f"{said} Your prints go on teaching it.", done="repeats")


@router.post("/preferences")
def post_preferences(
    request: Request, db: Db, length_unit: Typed, decimal_mark: Typed, currency: Typed, version: Typed
) -> Response:
    """Set how the studio writes lengths, numbers and money."""
    changes = {"length_unit": length_unit, "decimal_mark": decimal_mark, "currency": currency}
    change_settings(db, Preferences, version=_seen(version), **changes)
    return go(request, "/studio", said="That is how numbers are written from now on.", done="preferences")


@router.post("/backup")
def post_backup(request: Request, db: Db, to: Typed) -> Response:
    """Copy the studio into a folder on this machine; the copy is tried."""
    if not to.strip():
        raise ValueOutOfRange("No folder was named. Name one, best on another disk.")
    done = back_up(db, Path(to.strip()).expanduser())
    said = f"A sound copy is in {done.folder}, with {words.counted(done.scans_copied, 'scan')} copied now."
    return go(request, "/studio", said=said, done="backup")


@router.get("/export.zip")
def get_export(db: Db) -> Response:
    """The whole studio as plain files."""
    return Response(
        export_bytes(db),
        media_type="application/zip",
        headers={"Content-Disposition": 'attachment; filename="printlore-studio.zip"'},
    )
