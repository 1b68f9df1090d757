"""Lots: declare one, the one trial that brings every setting onto it, its offset, and what is stated of two."""

from datetime import UTC, datetime
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from printlore.errors import ValueOutOfRange
from printlore.faces.plain import plain
from printlore.faces.web.page import Ask, Db, Kept, Typed, go, render
from printlore.records.papers import Lot, PaperFamily
from printlore.services.entry import add_lot, list_records
from printlore.services.lots import lots_compared, new_lot, note_same_emulsion

router = APIRouter(prefix="/paper/lots")
api = APIRouter(prefix="/paper/lots", tags=["paper"])


@router.get("")
def show(request: Request, db: Db, ask: Ask) -> HTMLResponse:
    """Every lot that has one before it, with its offset; and what is stated of lots."""
    lots = list_records(db, Lot)
    found, related = ask(lots_compared)
    return render(
        request,
        "paper/lots.html",
        lots=lots,
        found=found,
        relations=related,
        papers=list_records(db, PaperFamily),
    )


@router.post("")
def post_lot(
    request: Request, db: Db, name: Typed, paper: Typed = "", new_paper: Typed = "", emulsion: Typed = ""
) -> Response:
    """Declare a lot that has come, of a paper that is known or of a new one."""
    new = new_paper.strip()
    if not (new or paper):
        raise ValueOutOfRange('"Paper" is empty. Name the paper as its label does; other lots of it can follow.')
    lot = add_lot(
        db, name, paper=new or paper, new_paper=bool(new), emulsion_number=emulsion, received_at=datetime.now(UTC)
    )
    said = f'"{lot.name}" is declared, a lot of {"a new paper, " if new else ""}"{lot.family}".'
    if len(list_records(db, Lot, family=lot.family)) > 1:
        return go(request, "/paper/lots", said=said, done="lot-new")
    # no lot before it to be compared with: what comes next is its paper
    return go(request, "/paper", said=f"{said} Take in a roll or a box of it.", done="lot-new")


@router.post("/relations")
def post_relation(request: Request, db: Db, lot: Typed, other: Typed, note: Typed = "") -> Response:
    """State that two lots are one emulsion."""
    note_same_emulsion(db, lot, other, note=note)
    return go(
        request, "/paper/lots", said=f"Stated: {lot} and {other}. What the prints say of it is below.", done="relation"
    )


@api.get("/{lot}", summary="Offset of a lot from the one before, and the settings it changes")
def get_lot(kept: Kept, lot: str, old: str | None = None) -> Any:
    return plain(kept.ask(new_lot, lot, old_lot=old).result())
