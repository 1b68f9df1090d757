"""What the prints taught: every lot, developer and film with what was learned of it, how sure, and from what."""

from collections.abc import Sequence
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse

from printlore.core.advice.taught import MOST_BEARINGS, NEGATIVES, Taught, taught_words
from printlore.faces import telling, typed
from printlore.faces.job import choices
from printlore.faces.plain import plain
from printlore.faces.web.page import Ask, Db, Kept, Page, render
from printlore.records.negatives import Frame
from printlore.services.entry import list_records
from printlore.services.one_print import one_print
from printlore.services.taught import evidence_of, lessons

PAGE = Page(title="What the prints taught", path="/taught", order=60)
router = APIRouter(prefix="/taught")
api = APIRouter(prefix="/taught", tags=["main job"])

KINDS = {
    "lot": ("Paper lots", "against the first lot of the same paper"),
    "bath": ("Developers", "against a fresh bath"),
    "film": ("Films", "against the usual film"),
}
SHOWN = 60
"""Rows of a kind; the interface and the command line have all."""


def known(effect: Taught) -> str:
    """How sure, in words."""
    error = max(effect.magenta_error, effect.yellow_error)
    if not effect.trials:
        return "nothing printed yet"
    if error > 0.8 * effect.prior:
        return "hardly known yet"
    return "known to a step" if error > 1.5 else "well known"


def reach_of(effects: Sequence[Taught]) -> float:
    """How far the bars have to reach either way [CC]: the best guesses with two standard errors."""
    ends = [
        abs(value) + 2 * error
        for one in effects
        for value, error in ((one.magenta, one.magenta_error), (one.yellow, one.yellow_error))
    ]
    return max([1.0, *ends])


@router.get("")
def show(request: Request, ask: Ask) -> HTMLResponse:
    """Lots, developers and films with what was learned of each."""
    learned = ask(lessons)
    groups = []
    for kind, (title, against) in KINDS.items():
        rows = [effect for effect in learned.effects if effect.kind == kind]
        if rows:
            groups.append((title, against, [(row, known(row)) for row in rows[-SHOWN:]], len(rows)))
    return render(
        request,
        "taught.html",
        trials=learned.trials,
        frames=learned.frames,
        groups=groups,
        repeats=learned.repeats,
        pictures=learned.pictures,
        telling=telling,
        reach=reach_of([row for _, _, rows, _ in groups for row, _ in rows]),
    )


@router.get("/one-print")
def show_one_print(
    request: Request,
    db: Db,
    ask: Ask,
    head: str = "",
    lot: str = "",
    bath: str = "",
    size: str = "",
    negative: str = "",
    fit: str = typed.FITS[0],
) -> HTMLResponse:
    """Which one print would let all earlier settings follow on another lot, in another bath, on another head."""
    found = ask(
        one_print,
        head=head or None,
        lot=lot or None,
        bath=bath or None,
        sheet=typed.sheet(size, negative, fit) if size.strip() else None,
    )
    return render(
        request,
        "one_print.html",
        one=found,
        choices=choices(db),
        number_of={one.name: one.id for one in list_records(db, Frame)},
        size=size,
        negative=negative or "36x24",
        fit=fit,
        fits=typed.FIT_NAMES,
        shown=SHOWN,
    )


@router.get("/{kind}")
def show_evidence(request: Request, ask: Ask, kind: str, name: str, negatives: str = "") -> HTMLResponse:
    """Which prints say what is known of a lot, developer or film, and how much each weighs."""
    which = typed.one_of(NEGATIVES, negatives, "Which of its negatives")
    return render(
        request,
        "taught_by.html",
        name=taught_words(name, which),
        found=ask(evidence_of, kind, name, which == "unread"),
        most=MOST_BEARINGS,
    )


@api.get("/pictures", summary="Curves, filters, ageing and lamp as learned, with errors and what was believed before")
def get_pictures(kept: Kept) -> Any:
    return plain(kept.ask(lessons).result().pictures)


@api.get("/repeats", summary="How far prints made alike scatter: expected before any print, and learned")
def get_repeats(kept: Kept) -> Any:
    return plain(kept.ask(lessons).result().repeats)


@api.get("/one-print", summary="Which one print would let all earlier settings follow under other conditions")
def get_one_print(
    kept: Kept,
    head: str | None = None,
    lot: str | None = None,
    bath: str | None = None,
    magnification: float | None = None,
    size: Annotated[str, Query(description='Of the sheet, in place of a magnification: "20x25 cm".')] = "",
    negative: Annotated[str, Query(description="Picture on the film [mm]; 36x24 if empty.")] = "",
    fit: Literal["filled", "whole"] = "filled",
) -> Any:
    sheet = typed.sheet(size, negative, fit) if size.strip() else None
    asked = kept.ask(one_print, head=head, lot=lot, bath=bath, magnification=magnification, sheet=sheet)
    return plain(asked.result())


@api.get("/evidence", summary="Which prints say what is known of a lot, developer or film, and how much each weighs")
def get_evidence(
    kept: Kept,
    kind: str,
    name: str,
    unread: Annotated[bool, Query(description="Of a film: of its negatives that were not read.")] = False,
) -> Any:
    return plain(kept.ask(evidence_of, kind, name, unread).result())


@api.get("", summary="Every lot, developer and film with what was learned of it, its error and its trials")
def get_taught(kept: Kept) -> Any:
    return plain(kept.ask(lessons).result().effects)
