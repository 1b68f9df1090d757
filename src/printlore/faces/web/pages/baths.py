"""Baths: what is mixed, what it can still do, and how warm it is poured."""

from dataclasses import replace
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from printlore.core.bath.kit import Nature, Use
from printlore.core.bath.temperature import WALL_SHARES, hot_volume, poured
from printlore.errors import ValueOutOfRange
from printlore.faces import telling, typed, words
from printlore.faces.bath_typed import kit_parts
from printlore.faces.bath_typed import poured_order as order_typed
from printlore.faces.plain import plain
from printlore.faces.web.bath_drawings import life_line
from printlore.faces.web.numbered import numbered
from printlore.faces.web.page import Ask, Db, Kept, Page, Ticked, Typed, go, render
from printlore.records.baths import Bath, BathEvent, Process, Run
from printlore.records.baths_kept import CoolingCurve, KitRecord
from printlore.records.database import Database
from printlore.services.bath_book import (
    Entry,
    bath_book,
    bring_entry_back,
    correct_load,
    find_entry,
    kind_of,
    take_entry_back,
    twin_of,
)
from printlore.services.bath_labels import labels
from printlore.services.bath_report import bath_report, baths_in_use, is_developer, steady_plan
from printlore.services.baths import (
    BEFORE_OPENING,
    GIVEN_UP,
    TAKEN_OUT,
    care_at_hand,
    care_for,
    concentrates_left,
    define_kit,
    gauge,
    log_run,
    mark_safety_sheet_read,
    mix_bath,
    open_concentrate,
    plan_mixing,
    retire,
    top_up,
)
from printlore.services.control import (
    control_report,
)
from printlore.services.entry import find_record, list_records
from printlore.services.warmth import advise_pour, advise_time, log_cooling_curve, log_own_time
from printlore.services.waste import (
    waste_report,
)

PAGE = Page(title="Baths", path="/baths", order=40)
router = APIRouter(prefix="/baths")
api = APIRouter(prefix="/baths", tags=["baths"])


def _bath(db: Database, number: int) -> Bath:
    return numbered(db, Bath, number, "bath", "one under Baths")


@router.get("")
def show(request: Request, db: Db, ask: Ask) -> HTMLResponse:
    """The developer in use and what it can still do; all baths in use; the state of the process."""
    used = baths_in_use(db)
    developers = [bath for bath, _, kit in used if is_developer(kit)]
    report = ask(bath_report, developers[0].name) if developers else None
    control = control_report(db)
    return render(
        request,
        "baths/baths.html",
        used=used,
        is_developer=is_developer,
        report=report,
        line=life_line(report.history, report.capacities[0] if report.capacities else None) if report else None,
        control=control,
        kits=list_records(db, KitRecord),
        waste=waste_report(db),
    )


@router.get("/of/{number}")
def show_bath(request: Request, db: Db, ask: Ask, number: int) -> HTMLResponse:
    """One bath: its ledger, wear and choices."""
    report = ask(bath_report, _bath(db, number).name)
    best, tried = steady_plan(db, report.bath.name) if report.capacities else (None, ())
    soonest = report.capacities[0] if report.capacities else None
    return render(
        request,
        "baths/bath.html",
        report=report,
        line=life_line(report.history, soonest) if report.develops else None,
        choices=[*report.options[:4], *(one for one in report.options[4:] if one.what != "top up")],
        steady=best,
        tried=tried,
        care=care_at_hand(report.kit),
        events=list(zip(report.kept.ledger.events, report.history[1:], strict=True)),
        book=bath_book(db, report.bath.name),
        path_of=_path_of,
        telling=telling,
    )


@router.post("/of/{number}/run")
def post_run(
    request: Request,
    db: Db,
    number: int,
    size: Typed,
    water_in: Typed = "",
    solution_out: Typed = "",
    temperature: Typed = "",
) -> Response:
    """Record a drum load."""
    bath = _bath(db, number)
    run = log_run(
        db,
        bath.name,
        typed.area(size),
        water_in=typed.number_if(water_in, "Carried in"),
        solution_out=typed.number_if(solution_out, "Carried out"),
        temperature=typed.number_if(temperature, "Temperature"),
    )
    said, undo = f"{run.name} is in the ledger.{_twin(db, run, 'load')}", f"{_path_of(run)}/undo"
    return go(request, f"/baths/of/{number}", said=said, undo=undo, done="bath-run")


@router.post("/of/{number}/top-up")
def post_top_up(
    request: Request, db: Db, number: int, added: Typed, bled: Typed = "", strength: Typed = ""
) -> Response:
    """Take out, then add."""
    bath = _bath(db, number)
    row = top_up(
        db,
        bath.name,
        typed.number(added, "Added"),
        bled=typed.number_or(bled, "Taken out", 0.0),
        strength=typed.number_or(strength, "Strength", 1.0),
    )
    said = f"{words.shortest(row.bled or 0.0)} mL out, {words.shortest(row.volume or 0.0)} mL in."
    said += f" {TAKEN_OUT}" if row.bled else ""
    said += _twin(db, row, "top up")
    return go(request, f"/baths/of/{number}", said=said, undo=f"{_path_of(row)}/undo", done="bath-top")


def _twin(db: Database, entry: Entry, what: str) -> str:
    twin = twin_of(db, entry)
    return "" if twin is None else f" {telling.twin_words(twin, what)}"


@router.post("/of/{number}/gauge")
def post_gauge(request: Request, db: Db, number: int, volume: Typed) -> Response:
    """The volume as read off the bottle."""
    bath = _bath(db, number)
    row = gauge(db, bath.name, typed.number(volume, "Volume"))
    said = f"{words.shortest(row.volume or 0.0)} mL in the bottle."
    return go(request, f"/baths/of/{number}", said=said, undo=f"{_path_of(row)}/undo", done="bath-gauge")


@router.post("/of/{number}/retire")
def post_retire(request: Request, db: Db, number: int) -> Response:
    """Give the bath up."""
    bath = _bath(db, number)
    row = retire(db, bath.name)
    said = f"{bath.name} is retired. {GIVEN_UP}"
    return go(request, "/baths", said=said, undo=f"{_path_of(row)}/undo")


def _path_of(entry: Entry) -> str:
    """Where an entry of a bath's book is changed: an undo names what it takes back, whatever was done since."""
    return f"/baths/{'load' if isinstance(entry, Run) else 'event'}/{entry.id}"


def _home_of(db: Database, entry: Entry) -> str:
    return f"/baths/of/{find_record(db, Bath, entry.bath).id}"


def _took_back(request: Request, db: Database, entry: Entry) -> Response:
    said = telling.taken_back(telling.entry_words(entry))
    return go(request, _home_of(db, entry), said=said, undo=f"{_path_of(entry)}/bring-back")


def _brought_back(request: Request, db: Database, entry: Entry) -> Response:
    said = telling.brought_back(telling.entry_words(entry))
    return go(request, _home_of(db, entry), said=said, undo=f"{_path_of(entry)}/undo")


@router.post("/load/{number}/undo")
def post_load_undo(request: Request, db: Db, number: int) -> Response:
    """Take a drum load back."""
    return _took_back(request, db, take_entry_back(db, find_entry(db, Run, number)))


@router.post("/event/{number}/undo")
def post_event_undo(request: Request, db: Db, number: int) -> Response:
    """Take something done to a bath between drum loads back."""
    return _took_back(request, db, take_entry_back(db, find_entry(db, BathEvent, number)))


@router.post("/load/{number}/bring-back")
def post_load_back(request: Request, db: Db, number: int) -> Response:
    """Let a drum load that was taken back count again."""
    return _brought_back(request, db, bring_entry_back(db, find_entry(db, Run, number)))


@router.post("/event/{number}/bring-back")
def post_event_back(request: Request, db: Db, number: int) -> Response:
    """Let something done to a bath that was taken back count again."""
    return _brought_back(request, db, bring_entry_back(db, find_entry(db, BathEvent, number)))


@router.post("/load/{number}/correct")
def post_load_correct(
    request: Request,
    db: Db,
    number: int,
    version: Typed,
    size: Typed = "",
    water_in: Typed = "",
    solution_out: Typed = "",
    temperature: Typed = "",
) -> Response:
    """Put a drum load right that was logged with a wrong content; an empty size leaves its paper as it is."""
    there = find_entry(db, Run, number)
    right = correct_load(
        db,
        replace(there, version=int(typed.number(version, "Version"))),
        area=typed.area(size) if size.strip() else there.area,
        water_in=typed.number_if(water_in, "Carried in"),
        solution_out=typed.number_if(solution_out, "Carried out"),
        temperature=typed.number_if(temperature, "Temperature"),
    )
    said = f"Put right: {telling.entry_words(right)}."
    return go(request, _home_of(db, right), said=said, done=f"load-{number}")


@router.get("/mix")
def show_mix(
    request: Request, db: Db, kit: str = "", volume: str = "", bottle: str = "", hardness: str = ""
) -> HTMLResponse:
    """Kits, opened concentrates, and how to mix."""
    kits = list_records(db, KitRecord)
    plan = None
    if kit and volume:
        plan = plan_mixing(
            db,
            kit,
            typed.number(volume, "Volume"),
            bottle=typed.number_if(bottle, "Bottle"),
            hardness=typed.number_if(hardness, "Hardness"),
        )
    return render(
        request,
        "baths/mix.html",
        kits=kits,
        plan=plan,
        care=care_for(plan.kit.kit.use) if plan else (),
        before_opening=BEFORE_OPENING,
        left=concentrates_left(db),
        processes=list_records(db, Process),
        asked={"kit": kit, "volume": volume, "bottle": bottle, "hardness": hardness},
        uses=[(use.value, use.value) for use in Use],
        natures=", ".join(Nature),
    )


@router.post("/mix")
def post_mix(
    request: Request,
    db: Db,
    bath_name: Typed,
    kit: Typed,
    volume: Typed,
    process: Typed = "",
    new_process: Typed = "",
    bottle: Typed = "",
    poured_order: Typed = "",
    no_air: Ticked = "",
) -> Response:
    """Record a mixed bath, for a process that is known or a new one."""
    new = new_process.strip()
    if not (new or process):
        raise ValueOutOfRange('"Process" is empty. Say how you develop, for example: 45 s at 35 °C.')
    bath = mix_bath(
        db,
        bath_name,
        new or process,
        kit,
        typed.number(volume, "Volume"),
        new_process=bool(new),
        bottle=typed.number_if(bottle, "Bottle"),
        no_air=bool(no_air),
        poured=order_typed(poured_order),
    )
    return go(request, f"/baths/of/{bath.id}", said=f"{bath.name} is mixed. Print its label.", done="bath-mix")


@router.post("/kit")
def post_kit(
    request: Request, db: Db, kit_name: Typed, use: Typed, parts: Typed, life: Typed = "", hazards: Typed = ""
) -> Response:
    """Define a kit: one part a line, "A 100 alkali"."""
    if use not in list(Use):
        raise ValueOutOfRange(f'"{use}" is no use of a kit; use one of {", ".join(Use)}.')
    kit = define_kit(
        db, kit_name, Use(use), kit_parts(parts.splitlines()), life_days=typed.number_if(life, "Life"), hazards=hazards
    )
    return go(
        request, "/baths/mix", said=f"Kit {kit.name} is defined: {' then '.join(kit.kit.order())}.", done="kit-new"
    )


@router.post("/kit/{name}/read")
def post_sheet_read(request: Request, db: Db, name: str) -> Response:
    """The user has read the kit's safety sheet."""
    kit = mark_safety_sheet_read(db, name)
    return go(request, "/baths/mix", said=f"Noted: the safety sheet of {kit.name} is read. Keep it in the room.")


@router.post("/concentrate")
def post_concentrate(
    request: Request, db: Db, bottle_name: Typed, kit: Typed, part: Typed, bottle_volume: Typed, price: Typed = ""
) -> Response:
    """Record an opened bottle."""
    one = open_concentrate(
        db, bottle_name, kit, part, typed.number(bottle_volume, "Holds"), price=typed.number_if(price, "Price")
    )
    return go(request, "/baths/mix", said=f"{one.name} is open.", done="bottle-new")


@router.get("/labels")
def get_labels(db: Db, bath: str = "", concentrate: str = "", container: str = "") -> Response:
    """Labels as a PDF: of what is named, or of everything in use."""
    named = [(name,) if name else () for name in (bath, concentrate, container)]
    pdf = labels(db, baths=named[0], concentrates=named[1], containers=named[2])
    return Response(pdf, media_type="application/pdf", headers={"Content-Disposition": 'inline; filename="labels.pdf"'})


@router.get("/warmth")
def show_warmth(request: Request, db: Db) -> HTMLResponse:
    """Mixing water, a small pour in a cold drum, and the printer's own curves and times."""
    asked = {key: request.query_params.get(key, "") for key in _WARMTH}

    def value(key: str) -> float:
        return typed.number(asked[key], _WARMTH[key])

    mixed = settles = pour = time = None
    if asked["total"]:
        mixed = (hot_volume(value("total"), value("aim"), value("cold"), value("hot")), value("total"))
    if asked["volume"]:
        settles = [
            poured(value("volume"), value("at"), value("drum_mass"), value("drum_at"), share) for share in WALL_SHARES
        ]
    if asked["drum"]:
        pour = advise_pour(
            db,
            asked["drum"],
            aim=value("mean"),
            duration=value("step"),
            volume=value("pour"),
            wall=value("wall"),
        )
    if asked["today"]:
        time = advise_time(db, asked["process"], value("today"))
    return render(
        request,
        "baths/warmth.html",
        mixed=mixed,
        settles=settles,
        pour=pour,
        time=time,
        asked=asked,
        drums=sorted({curve.drum for curve in list_records(db, CoolingCurve)}),
        processes=[process.name for process in list_records(db, Process)],
    )


_WARMTH = {
    "total": "Total",
    "aim": "Wanted",
    "cold": "Cold",
    "hot": "Hot",
    "volume": "Poured",
    "at": "At",
    "drum_mass": "Drum weighs",
    "drum_at": "Drum is at",
    "drum": "Drum",
    "mean": "Mean wanted",
    "step": "Step",
    "pour": "Poured",
    "wall": "Drum is at",
    "process": "Process",
    "today": "Today",
}


@router.post("/warmth/curve")
def post_curve(
    request: Request, db: Db, drum_name: Typed, curve_volume: Typed, curve_wall: Typed, times: Typed, degrees: Typed
) -> Response:
    """Record how a pour cooled in a drum."""
    log_cooling_curve(
        db,
        drum_name,
        typed.number(curve_volume, "Poured"),
        typed.number(curve_wall, "Drum before"),
        typed.numbers(times, "Times"),
        typed.numbers(degrees, "Degrees"),
    )
    return go(request, "/baths/warmth", said=f"The curve of {drum_name} is recorded.", done="curve")


@router.post("/warmth/time")
def post_own_time(request: Request, db: Db, process: Typed, own_degrees: Typed, own_seconds: Typed) -> Response:
    """Record a trial that came out right."""
    row = log_own_time(db, process, typed.number(own_degrees, "Degrees"), typed.number(own_seconds, "Seconds"))
    return go(
        request,
        "/baths/warmth",
        said=f"{words.shortest(row.time)} s at {words.shortest(row.temperature)} °C is recorded.",
        done="own-time",
    )


@api.get("", summary="Baths in use and what is in them")
def get_baths(db: Db) -> list[dict[str, Any]]:
    """Baths in use, newest first."""
    return [{"bath": plain(bath), "content": plain(content)} for bath, content, _ in baths_in_use(db)]


@api.get("/{name}/book", summary="Everything ever done to a bath, oldest first; see entry.removed")
def get_book(db: Db, name: str) -> list[dict[str, Any]]:
    """Drum loads and other events."""
    return [{"kind": kind_of(entry), "entry": plain(entry)} for entry in bath_book(db, name)]


@api.get("/{name}", summary="One bath: state, forecast, choices")
def get_bath(kept: Kept, name: str) -> dict[str, Any]:
    """State, forecast and what to do before the next six loads."""
    report = kept.ask(bath_report, name).result()
    return {
        "said": report.said,
        "state": plain(report.state),
        "content": plain(report.content),
        "capacities": [
            {"work": one.work.name, "count": plain(one.together), "limit": one.limit} for one in report.capacities
        ],
        "options": [
            {"do": str(one), "cost": one.cost, "spoiled": one.spoiled, "then": str(one.capacity)}
            for one in report.options
        ],
        "doubts": list(report.kept.doubts),
    }
