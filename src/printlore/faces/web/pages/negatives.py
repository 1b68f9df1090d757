"""Negatives: films, their frames, and the whole history of each frame."""

from dataclasses import replace
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from printlore.core.memory.evidence import NegativeReading
from printlore.errors import StillWorking, ValueOutOfRange
from printlore.faces import telling, typed, words
from printlore.faces.plain import plain
from printlore.faces.web.frames import frame_of
from printlore.faces.web.numbered import numbered
from printlore.faces.web.page import Ask, Db, Page, Typed, go, render
from printlore.records.database import Database
from printlore.records.editions import Edition
from printlore.records.negatives import NEUTRAL_GREY, Film, Frame, NegativeReadingRecord
from printlore.records.papers import PaperFamily
from printlore.services.aims import bring_density_back, drop_density, state_density, state_tone, stated_aims
from printlore.services.doubts import doubts_of
from printlore.services.entry import (
    add_film,
    add_frame,
    correct_record,
    find_frames,
    find_record,
    list_records,
    read_negative,
)
from printlore.services.tones import ToneEntry, crossover, read_tones
from printlore.services.trials import find_trial_ever, frame_history_ever, times_corrected, trial_versions

PAGE = Page(title="Negatives", path="/negatives", order=20)
router = APIRouter(prefix="/negatives")
api = APIRouter(tags=["negatives"])

SHOWN = 60


@router.get("")
def show(request: Request, db: Db, q: str = "") -> HTMLResponse:
    """Films with their frames; a search in names, numbers and notes."""
    found = find_frames(db, q, SHOWN)
    by_film: dict[str, list[Frame]] = {}
    for frame in found.frames:
        by_film.setdefault(frame.film, []).append(frame)
    template = "negatives_found.html" if request.headers.get("hx-request") == "true" else "negatives.html"
    return render(
        request,
        template,
        films=list_records(db, Film),
        by_film=by_film,
        count=found.count,
        total=found.total,
        shown=len(found.frames),
        q=q,
    )


@router.post("/film")
def post_film(request: Request, db: Db, film_name: Typed, stock: Typed = "", note: Typed = "") -> Response:
    """Add a film."""
    film = add_film(db, film_name, stock=stock, note=note)
    return go(request, "/negatives", said=f"Film {film.name} is added.", done="film-new")


@router.post("/frame")
def post_frame(
    request: Request, db: Db, frame_name: Typed, film: Typed, edge: Typed = "", frame_note: Typed = ""
) -> Response:
    """Add a frame of a film."""
    frame = add_frame(db, frame_name, film=film, number=edge, note=frame_note)
    return go(request, f"/negatives/{frame.id}", said=f"{frame.name} is added.", done="frame-new")


@router.get("/{number}")
def show_frame(request: Request, db: Db, number: int) -> HTMLResponse:
    """One frame: everything that was ever made of it, on one readable page."""
    frame = frame_of(db, number)
    made = frame_history_ever(db, frame.name)
    trials = [trial for trial in made if not trial.taken_back]
    readings = list_records(db, NegativeReadingRecord, frame=frame.name)
    aims = stated_aims(db, frame.name)
    return render(
        request,
        "negative.html",
        frame=frame,
        films=list_records(db, Film),
        made=made,
        trials=trials,
        corrected={
            trial.row.id: times_corrected(trial_versions(db, trial.name)) for trial in made if trial.version > 1
        },
        readings=readings,
        editions=list_records(db, Edition, frame=frame.name),
        kept=[trial for trial in trials if any(patch.kept for patch in trial.patches)],
        measured=any(patch.kept and patch.readings for trial in trials for patch in trial.patches),
        telling=telling,
        aims=aims,
        tone_typed="" if aims.usual else " ".join(words.shortest(value) for value in aims.tone),
        papers=list_records(db, PaperFamily),
        stated={one.family: one for one in (*aims.densities, *aims.taken_back)},
        tone_trials=[(trial.name, f"{trial.name}, {telling.when(trial.row.at)}") for trial in reversed(trials)],
    )


@router.post("/{number}")
def post_changes(
    request: Request, db: Db, number: int, version: Typed, name: Typed, film: Typed, edge: Typed = "", note: Typed = ""
) -> Response:
    """Correct what a frame is called and belongs to; what it was before stays in its rows."""
    frame = frame_of(db, number)
    seen = int(typed.number(version, "Version"))
    if not name.strip():
        raise ValueOutOfRange("A negative needs a name. Write one, for example what it shows.")
    # The version that stood on the page, so that a change in between is noticed.
    frame = correct_record(db, replace(frame, version=seen), name=name, film=film, number=edge, note=note)
    return go(request, f"/negatives/{frame.id}", said=f"{frame.name} is corrected.", done=f"frame-{number}")


@router.get("/{number}/weighed")
def show_weighed(request: Request, db: Db, ask: Ask, number: int) -> Response:
    """What the memory says of a frame, as a part of its history; nothing (204) while it is being worked out."""
    frame = frame_of(db, number)
    try:
        doubts, tones = ask(doubts_of, frame.name), ask(crossover, frame.name)
    except StillWorking:
        return Response(status_code=204)
    return render(request, "negative_weighed.html", doubts=doubts, crossover=tones, back=f"/negatives/{number}")


@router.post("/{number}/tones")
def post_tones(
    request: Request,
    db: Db,
    number: int,
    trial: Typed,
    light: Typed = "",
    light_aim: Typed = "",
    mid: Typed = "",
    mid_aim: Typed = "",
    dark: Typed = "",
    dark_aim: Typed = "",
) -> Response:
    """Record what light, middle and dark places of a print read, and what they should read."""
    frame = frame_of(db, number)
    typed_in = (("light", light, light_aim), ("mid", mid, mid_aim), ("dark", dark, dark_aim))
    tones = [
        ToneEntry(
            name=name,
            density=typed.three(read, f"The {name} tone"),
            aim_density=typed.three(aim, f"What the {name} tone should read") if aim.strip() else None,
        )
        for name, read, aim in typed_in
        if read.strip()
    ]
    read_tones(db, trial, tones)
    return go(request, f"/negatives/{frame.id}", said=f"The tones of {trial} are recorded.", done=f"tones-{number}")


@router.post("/{number}/tone")
def post_tone(request: Request, db: Db, number: int, version: Typed, lab: Typed = "") -> Response:
    """State the tone of the reference patch; empty is the usual grey."""
    frame = frame_of(db, number)
    tone = typed.lab(lab, "The tone") if lab.strip() else NEUTRAL_GREY
    state_tone(db, frame.name, tone, version=int(typed.number(version, "Version")))
    return go(request, f"/negatives/{number}", said="The tone is recorded.", done=f"tone-{number}")


@router.post("/{number}/density/{paper}")
def post_density(request: Request, db: Db, number: int, paper: int, version: Typed, density: Typed = "") -> Response:
    """State the density of the reference patch on a paper; version 0 if none ever was."""
    frame, name = frame_of(db, number), _paper(db, paper)
    seen = int(typed.number(version, "Version"))
    state_density(db, frame.name, name, typed.three(density, "The aim"), version=seen)
    done = f"density-{number}-{paper}"
    return go(request, f"/negatives/{number}", said=f"The aim on {name} is recorded.", done=done)


@router.post("/{number}/density/{paper}/drop")
def post_drop(request: Request, db: Db, number: int, paper: int, version: Typed) -> Response:
    """Take a stated density back."""
    frame, name = frame_of(db, number), _paper(db, paper)
    drop_density(db, frame.name, name, version=int(typed.number(version, "Version")))
    back = f"/negatives/{number}/density/{paper}/bring-back"
    return go(request, f"/negatives/{number}", said=f"No density is stated on {name} any more.", undo=back)


@router.post("/{number}/density/{paper}/bring-back")
def post_density_back(request: Request, db: Db, number: int, paper: int) -> Response:
    """Let a density that was taken back count again."""
    frame, name = frame_of(db, number), _paper(db, paper)
    bring_density_back(db, frame.name, name)
    return go(request, f"/negatives/{number}", said=f"The density on {name} counts again.")


def _paper(db: Database, number: int) -> str:
    return numbered(db, PaperFamily, number, "paper", "one under Paper").name


@router.post("/{number}/picture")
def post_picture(request: Request, db: Db, number: int, scan: Typed, version: Typed) -> Response:
    """Choose the scan that stands for the frame in lists."""
    frame = frame_of(db, number)
    correct_record(db, replace(frame, version=int(typed.number(version, "Version"))), thumbnail=scan)
    return go(request, f"/negatives/{number}", said=f"{frame.name} is shown with this picture.")


@router.post("/{number}/reading")
def post_reading(
    request: Request, db: Db, number: int, red: Typed, green: Typed, blue: Typed, source: Typed = "probe"
) -> Response:
    """Record a reading of the negative's reference patch."""
    frame = frame_of(db, number)
    density = (typed.number(red, "Red"), typed.number(green, "Green"), typed.number(blue, "Blue"))
    read_negative(
        db, frame.name, NegativeReading(density=density, source=source or "probe"), as_entered=f"{red} {green} {blue}"
    )
    return go(request, f"/negatives/{frame.id}", said="The reading is recorded.", done=f"reading-{number}")


@api.get("/films", summary="Every film")
def get_films(db: Db) -> Any:
    return plain(list_records(db, Film))


@api.get("/frames", summary="Every frame, those of a film, or those found by words, newest first")
def get_frames(db: Db, film: str | None = None, find: str | None = None) -> Any:
    if find is not None:
        return plain(find_frames(db, find, film=film).frames)
    return plain(list_records(db, Frame, **({} if film is None else {"film": film})))


@api.get("/frames/{frame}", summary="One frame")
def get_frame(db: Db, frame: str) -> Any:
    return plain(find_record(db, Frame, frame))


@api.get("/frames/{frame}/aims", summary="What a frame's reference patch should come out as, as stated")
def get_aims(db: Db, frame: str) -> Any:
    return plain(stated_aims(db, frame))


@api.get("/frames/{frame}/trials", summary="Everything that was printed of a frame, oldest first; see row.removed")
def get_history(db: Db, frame: str) -> Any:
    find_record(db, Frame, frame)
    return plain(frame_history_ever(db, frame))


@api.get("/trials/{trial}", summary="One trial with its settings, readings and judgements, also if it was taken back")
def get_trial(db: Db, trial: str) -> Any:
    return plain(find_trial_ever(db, trial))
