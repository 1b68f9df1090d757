"""Baths: what is mixed, what it can still do, whether the process can be trusted, and where the waste goes."""

from dataclasses import replace
from typing import Annotated, Any

from fastapi import APIRouter, Form, Request
from fastapi.responses import HTMLResponse, Response

from printlore.core.bath.kit import Nature, Use
from printlore.core.bath.temperature import hot_volume, poured
from printlore.core.control.faults import CAUSES, SYMPTOMS, TESTS, Place
from printlore.core.control.limits import Wedge
from printlore.errors import UnknownRecord, ValueOutOfRange
from printlore.faces import telling, typed, words
from printlore.faces.bath_typed import kit_parts
from printlore.faces.plain import plain
from printlore.faces.web.bath_drawings import SHAPE_WORDS, control_chart, life_line
from printlore.faces.web.page import Ask, Db, Kept, Page, go, render
from printlore.records.baths import Bath, BathEvent, Process, Run
from printlore.records.baths_kept import CoolingCurve, KitRecord
from printlore.records.baths_waste import HOLDS, DiaryEntry, WasteEntry
from printlore.records.database import Database
from printlore.services.bath_book import (
    Entry,
    bath_book,
    bring_entry_back,
    correct_load,
    find_entry,
    kind_of,
    take_entry_back,
)
from printlore.services.bath_labels import labels
from printlore.services.bath_report import bath_report, baths_in_use, foreseen, is_developer, steady_plan
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
    EXPOSED_BY,
    bring_control_back,
    control_patches,
    control_report,
    find_fault,
    log_control,
    log_fault,
    take_control_back,
)
from printlore.services.entry import find_record, list_records
from printlore.services.warmth import advise_pour, advise_time, log_cooling_curve, log_own_time
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

PAGE = Page(title="Baths", path="/baths", order=40)
router = APIRouter(prefix="/baths")
api = APIRouter(prefix="/baths", tags=["baths"])
MOST_LINES = 60
"""Newest lines of a book that a page lists; the command has all."""
Typed = Annotated[str, Form()]
Ticked = Annotated[str, Form()]
Several = Annotated[list[str], Form()]


def _bath(db: Database, number: int) -> Bath:
    found = list_records(db, Bath, id=number)
    if not found:
        raise UnknownRecord(f"There is no bath number {number} in this studio. Choose one under Baths.")
    return found[0]


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
    said, undo = f"{run.name} is in the ledger.", f"{_path_of(run)}/undo"
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
    return go(request, f"/baths/of/{number}", said=said, undo=f"{_path_of(row)}/undo", done="bath-top")


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


def _went_on(request: Request, db: Database, entry: Entry, what: str, back: str) -> Response:
    home = find_record(db, Bath, entry.bath).id
    said = f"{what}: {telling.entry_words(entry)}."
    return go(request, f"/baths/of/{home}", said=said, undo=f"{_path_of(entry)}/{back}")


@router.post("/load/{number}/undo")
def post_load_undo(request: Request, db: Db, number: int) -> Response:
    """Take a drum load back."""
    return _went_on(request, db, take_entry_back(db, find_entry(db, Run, number)), "Taken back", "bring-back")


@router.post("/event/{number}/undo")
def post_event_undo(request: Request, db: Db, number: int) -> Response:
    """Take something done to a bath between drum loads back."""
    return _went_on(request, db, take_entry_back(db, find_entry(db, BathEvent, number)), "Taken back", "bring-back")


@router.post("/load/{number}/bring-back")
def post_load_back(request: Request, db: Db, number: int) -> Response:
    """Let a drum load that was taken back count again."""
    return _went_on(request, db, bring_entry_back(db, find_entry(db, Run, number)), "Brought back", "undo")


@router.post("/event/{number}/bring-back")
def post_event_back(request: Request, db: Db, number: int) -> Response:
    """Let something done to a bath that was taken back count again."""
    return _went_on(request, db, bring_entry_back(db, find_entry(db, BathEvent, number)), "Brought back", "undo")


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
    home = find_record(db, Bath, right.bath).id
    return go(request, f"/baths/of/{home}", said=f"Put right: {telling.entry_words(right)}.", done=f"load-{number}")


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
    order = [piece.strip() for piece in poured_order.split(",") if piece.strip()]
    bath = mix_bath(
        db,
        bath_name,
        new or process,
        kit,
        typed.number(volume, "Volume"),
        new_process=bool(new),
        bottle=typed.number_if(bottle, "Bottle"),
        no_air=bool(no_air),
        poured=order or None,
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


@router.get("/control")
def show_control(request: Request, db: Db) -> HTMLResponse:
    """The chart of control patches, and a form for the next."""
    control = control_report(db)
    chart = None
    if control is not None:
        values = [row.wedge.quantities() for row in control.rows]
        chart = control_chart(values, control.aim, control.limits, [row.bath for row in control.rows])
    return render(
        request,
        "baths/control.html",
        control=control,
        patches=control_patches(db),
        telling=telling,
        foreseen=None if control is None else foreseen(db, control),
        chart=chart,
        shapes=SHAPE_WORDS,
        baths=[bath.name for bath, _, kit in baths_in_use(db) if is_developer(kit)],
        exposed_by=list(EXPOSED_BY.items()),
    )


@router.post("/control")
def post_control(
    request: Request,
    db: Db,
    bath: Typed,
    white: Typed,
    light: Typed,
    dark: Typed,
    black: Typed,
    exposed_by: Typed = "frozen strip",
    good: Ticked = "",
) -> Response:
    """Record a control patch, typed."""
    steps = {}
    for name, text in (("white", white), ("light", light), ("dark", dark), ("black", black)):
        values = typed.numbers(text, f"The {name} step")
        if len(values) != 3:
            raise ValueOutOfRange(f"The {name} step needs three densities (red green blue); {len(values)} were given.")
        steps[name] = (values[0], values[1], values[2])
    row = log_control(db, bath, Wedge(**steps), exposed_by=exposed_by, good=bool(good))
    return go(
        request,
        "/baths/control",
        said="The patch is in the chart.",
        undo=f"/baths/control/{row.id}/undo",
        done="control",
    )


@router.post("/control/{number}/undo")
def post_control_undo(request: Request, db: Db, number: int) -> Response:
    """Take a control patch back."""
    take_control_back(db, number)
    back = f"/baths/control/{number}/bring-back"
    return go(request, "/baths/control", said="The patch is out of the chart.", undo=back)


@router.post("/control/{number}/bring-back")
def post_control_back(request: Request, db: Db, number: int) -> Response:
    """Let a control patch that was taken back count again."""
    bring_control_back(db, number)
    undo = f"/baths/control/{number}/undo"
    return go(request, "/baths/control", said="The patch is in the chart again.", undo=undo)


@router.get("/fault")
def show_fault(request: Request, db: Db) -> HTMLResponse:
    """What is seen and tested, the likely causes, and the cheapest test that splits them."""
    query = request.query_params
    seen = [name for name in query.getlist("seen") if name in SYMPTOMS]
    results = {test.name: query[test.name] == "yes" for test in TESTS if query.get(test.name) in ("yes", "no")}
    report = find_fault(db, seen, results=results) if seen or results else None
    return render(
        request,
        "baths/fault.html",
        symptoms=SYMPTOMS,
        seen=seen,
        results=results,
        report=report,
        tests=TESTS,
        causes=[*(cause.name for cause in CAUSES), Place.ELSE.value],
    )


@router.post("/fault")
def post_fault(request: Request, db: Db, cause: Typed, seen: Several = []) -> Response:  # noqa: B006
    """Record what a fault turned out to be."""
    log_fault(db, cause, seen)
    return go(request, "/baths/fault", said=f"Recorded: it was {cause}. It counts next time.")


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
            poured(value("volume"), value("at"), value("drum_mass"), value("drum_at"), share)
            for share in (0.15, 0.30, 1.0)
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


@router.get("/waste")
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


@router.post("/waste/container")
def post_container(request: Request, db: Db, container_name: Typed, kept_for: Typed, capacity: Typed) -> Response:
    """Set up a container."""
    one = add_container(db, container_name, kept_for, typed.number(capacity, "Takes"))
    return go(request, "/baths/waste", said=f"{one.name} is set up. Print its label.", done="container")


@router.post("/waste/pour")
def post_pour(request: Request, db: Db, container: Typed, litres: Typed, what: Typed, holds: Typed = "") -> Response:
    """Pour waste into a container."""
    row = pour_waste(db, container, typed.number(litres, "Litres"), what, holds=holds or None)
    said = f"{words.shortest(row.litres, 2)} L in {container}."
    return go(request, "/baths/waste", said=said, undo=f"{_waste_path(row)}/undo", done="pour")


@router.post("/waste/hand-over")
def post_hand_over(request: Request, db: Db, container: Typed, to: Typed) -> Response:
    """Hand a container over."""
    row = hand_over(db, container, to)
    said = f"{words.number(-row.litres, 2)} L handed to {row.handed_to}."
    return go(request, "/baths/waste", said=said, undo=f"{_waste_path(row)}/undo", done="hand-over")


@router.post("/waste/lines/{number}/undo")
def post_waste_undo(request: Request, db: Db, number: int) -> Response:
    """Take back what was poured in or handed over."""
    said = f"Taken back: {telling.waste_words(take_waste_back(db, number))}."
    return go(request, "/baths/waste", said=said, undo=f"/baths/waste/lines/{number}/bring-back")


@router.post("/waste/lines/{number}/bring-back")
def post_waste_back(request: Request, db: Db, number: int) -> Response:
    """Let what was poured in or handed over, and taken back, count again."""
    said = f"Brought back: {telling.waste_words(bring_waste_back(db, number))}."
    return go(request, "/baths/waste", said=said, undo=f"/baths/waste/lines/{number}/undo")


@router.post("/waste/answer")
def post_answer(request: Request, db: Db, authority: Typed, about: Typed, answer: Typed) -> Response:
    """Record what the authority said."""
    record_answer(db, authority, about, answer)
    return go(request, "/baths/waste", said="The answer is recorded.", done="answer")


@router.post("/waste/diary")
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


@router.post("/waste/diary/{number}/undo")
def post_diary_undo(request: Request, db: Db, number: int) -> Response:
    """Take an entry of the diary of exposure back."""
    said = f"Taken back: {telling.diary_words(take_diary_back(db, number))}."
    return go(request, "/baths/waste", said=said, undo=f"/baths/waste/diary/{number}/bring-back")


@router.post("/waste/diary/{number}/bring-back")
def post_diary_back(request: Request, db: Db, number: int) -> Response:
    """Let an entry of the diary that was taken back count again."""
    said = f"Brought back: {telling.diary_words(bring_diary_back(db, number))}."
    return go(request, "/baths/waste", said=said, undo=f"/baths/waste/diary/{number}/undo")


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
