"""Where the waste goes: containers, what the authority said, and the diary of exposure."""

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from printlore.faces import telling, typed, words
from printlore.faces.web.page import MOST_LINES, Db, Ticked, Typed, go, render
from printlore.records.baths_waste import HOLDS, DiaryEntry, WasteEntry
from printlore.services.waste import (
    ASK_FIRST,
    NEVER_TOGETHER,
    add_container,
    bring_diary_back,
    bring_waste_back,
    diary,
    hand_over,
    pour_waste,
    record_answer,
    symptoms_said,
    take_diary_back,
    take_waste_back,
    waste_book,
    waste_report,
    write_diary,
)

router = APIRouter(prefix="/baths/waste")


@router.get("")
def show_waste(request: Request, db: Db) -> HTMLResponse:
    """Containers, answers of the authority, and the diary of exposure."""
    entries = diary(db)
    return render(
        request,
        "baths/waste.html",
        states=waste_report(db),
        ask_first=ASK_FIRST,
        never_together=NEVER_TOGETHER,
        holds=list(HOLDS.items()),
        diary=entries[:MOST_LINES],
        book=waste_book(db)[: -MOST_LINES - 1 : -1],
        telling=telling,
        waste_path=_waste_path,
        diary_path=_diary_path,
        warned=symptoms_said(entries),
    )


def _waste_path(entry: WasteEntry) -> str:
    return f"/baths/waste/lines/{entry.id}"


def _diary_path(entry: DiaryEntry) -> str:
    return f"/baths/waste/diary/{entry.id}"


@router.post("/container")
def post_container(request: Request, db: Db, container_name: Typed, kept_for: Typed, capacity: Typed) -> Response:
    """Set up a container."""
    one = add_container(db, container_name, kept_for, typed.number(capacity, "Takes"))
    return go(request, "/baths/waste", said=f"{one.name} is set up. Print its label.", done="container")


@router.post("/pour")
def post_pour(request: Request, db: Db, container: Typed, litres: Typed, what: Typed, holds: Typed = "") -> Response:
    """Pour waste into a container."""
    row = pour_waste(db, container, typed.number(litres, "Litres"), what, holds=holds or None)
    said = f"{words.shortest(row.litres, 2)} L in {container}."
    return go(request, "/baths/waste", said=said, undo=f"{_waste_path(row)}/undo", done="pour")


@router.post("/hand-over")
def post_hand_over(request: Request, db: Db, container: Typed, to: Typed) -> Response:
    """Hand a container over."""
    row = hand_over(db, container, to)
    said = f"{words.number(-row.litres, 2)} L handed to {row.handed_to}."
    return go(request, "/baths/waste", said=said, undo=f"{_waste_path(row)}/undo", done="hand-over")


@router.post("/lines/{number}/undo")
def post_waste_undo(request: Request, db: Db, number: int) -> Response:
    """Take back what was poured in or handed over."""
    said = telling.taken_back(telling.waste_words(take_waste_back(db, number)))
    return go(request, "/baths/waste", said=said, undo=f"/baths/waste/lines/{number}/bring-back")


@router.post("/lines/{number}/bring-back")
def post_waste_back(request: Request, db: Db, number: int) -> Response:
    """Let what was poured in or handed over, and taken back, count again."""
    said = telling.brought_back(telling.waste_words(bring_waste_back(db, number)))
    return go(request, "/baths/waste", said=said, undo=f"/baths/waste/lines/{number}/undo")


@router.post("/answer")
def post_answer(request: Request, db: Db, authority: Typed, about: Typed, answer: Typed) -> Response:
    """Record what the authority said."""
    record_answer(db, authority, about, answer)
    return go(request, "/baths/waste", said="The answer is recorded.", done="answer")


@router.post("/diary")
def post_diary(
    request: Request,
    db: Db,
    person: Typed,
    minutes: Typed,
    substances: Typed,
    gloves: Ticked = "",
    goggles: Ticked = "",
    ventilation: Ticked = "",
    symptoms: Typed = "",
) -> Response:
    """Write in the diary of exposure."""
    row = write_diary(
        db,
        person,
        typed.number(minutes, "Minutes"),
        substances,
        gloves=bool(gloves),
        goggles=bool(goggles),
        ventilation=bool(ventilation),
        symptoms=symptoms,
    )
    return go(request, "/baths/waste", said="It is in the diary.", undo=f"{_diary_path(row)}/undo", done="diary")


@router.post("/diary/{number}/undo")
def post_diary_undo(request: Request, db: Db, number: int) -> Response:
    """Take an entry of the diary of exposure back."""
    said = telling.taken_back(telling.diary_words(take_diary_back(db, number)))
    return go(request, "/baths/waste", said=said, undo=f"/baths/waste/diary/{number}/bring-back")


@router.post("/diary/{number}/bring-back")
def post_diary_back(request: Request, db: Db, number: int) -> Response:
    """Let an entry of the diary that was taken back count again."""
    said = telling.brought_back(telling.diary_words(bring_diary_back(db, number)))
    return go(request, "/baths/waste", said=said, undo=f"/baths/waste/diary/{number}/undo")
