"""Paper: what is on hand, when to order, how to cut it, whether it is fogged, and what a new lot changes."""

from datetime import UTC, datetime
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse, Response
from pydantic import BaseModel, ConfigDict, Field

from printlore.core.cutting.blind import Event
from printlore.core.cutting.drawing import plan_svg, size_words
from printlore.core.cutting.sections import Kind
from printlore.core.cutting.spoken import CUT_PROMPTS
from printlore.core.cutting.supply import SHEETS_PER_PRINT
from printlore.core.cutting.wanted import Trimmer
from printlore.core.figure import Figure
from printlore.core.quantities import parse_length, parse_margin, parse_size
from printlore.errors import Refused, ValueOutOfRange
from printlore.faces import telling, typed, words
from printlore.faces.paper_plain import cover_answer, kept_plan_answer, plan_answer
from printlore.faces.paper_typed import SHAPE, wanted_sizes
from printlore.faces.plain import plain
from printlore.faces.web.numbered import numbered
from printlore.faces.web.page import MOST_LINES, Db, Page, Several, Typed, go, render
from printlore.records.cutting import PlanRecord, SittingRecord
from printlore.records.database import Database
from printlore.records.papers import Lot, PaperFamily
from printlore.records.stock import GONE, BoxRecord, Happened, Place, RollMeasure, RollRecord, StockLine
from printlore.services.cut_sheets import labels_pdf, plan_pdf
from printlore.services.cutting import (
    SittingState,
    get_trimmer,
    keep_plan,
    kept_plan,
    list_sittings,
    pack_prices,
    plan_paper,
    planning,
    press,
    set_trimmer,
    sitting_state,
    start_planning,
    start_sitting,
)
from printlore.services.entry import find_record, list_records
from printlore.services.paper_slip import slip_pdf, sold
from printlore.services.stock import (
    book_roll,
    book_sheets,
    bring_booking_back,
    ledger,
    lot_cover,
    mark_container,
    measure_roll,
    move_paper,
    receive_box,
    receive_roll,
    stock,
    take_booking_back,
    when_to_reorder,
)

PAGE = Page(title="Paper", path="/paper", order=30)
router = APIRouter(prefix="/paper")
api = APIRouter(prefix="/paper", tags=["paper"])

MOST_SECONDS = 60.0


def _plan(db: Database, number: int) -> PlanRecord:
    return numbered(db, PlanRecord, number, "cut plan", "one under Paper")


def _sitting(db: Database, number: int) -> SittingRecord:
    return numbered(db, SittingRecord, number, "sitting", "a plan under Paper")


# what is on hand


@router.get("")
def show(request: Request, db: Db) -> HTMLResponse:
    """What is on hand, what to see to, and when to order."""
    on_hand = stock(db)
    papers = list_records(db, PaperFamily)
    return render(
        request,
        "paper/stock.html",
        stock=on_hand,
        area=sum(roll.area for roll in on_hand.rolls),
        sheets=sum(box.sheets for box in on_hand.boxes if not box.box.strips),
        boxes=[box for box in on_hand.boxes if box.sheets],
        empty=[box for box in on_hand.boxes if not box.sheets],
        orders=[(paper, when_to_reorder(db, paper.name)) for paper in papers],
        papers=papers,
        lots=list_records(db, Lot),
        plans=list_records(db, PlanRecord)[::-1],
        gone_of_rolls=[(one.value, one.value) for one in GONE],
        size_words=size_words,
        book=ledger(db)[: -MOST_LINES - 1 : -1],
        telling=telling,
        booking_path=_booking_path,
        slip_path=_slip_path,
        now=datetime.now(UTC),
    )


@router.post("/rolls")
def post_roll(
    request: Request,
    db: Db,
    name: Typed,
    lot: Typed = "",
    width: Typed = "",
    core: Typed = "",
    stated: Typed = "",
    diameter: Typed = "",
    price: Typed = "",
    container: Typed = "",
    place: Typed = "cold",
    on: Typed = "",
) -> Response:
    """Take a roll in."""
    came = typed.happened_if(on, "On") or datetime.now(UTC)
    roll = RollRecord(
        name=name,
        lot=lot,
        width=typed.number(width, "Width", parse=parse_length),
        core_diameter=typed.number_if(core, "Core", parse=parse_length),
        stated_length=typed.number_if(stated, "Length on the label", parse=parse_length),
        price=typed.number_if(price, "Price"),
        received_at=came,
        container=container.strip() or None,
    )
    outer = typed.number_if(diameter, "Diameter", parse=parse_length)
    measure = RollMeasure(roll=name, at=came, outer_diameter=outer) if outer else None
    receive_roll(db, roll, place=typed.one_of(Place, place, "Place"), measure=measure)
    return go(request, "/paper", said=f"Roll {name} is on hand.", done="roll-new")


@router.post("/rolls/measure")
def post_measure(
    request: Request,
    db: Db,
    roll: Typed,
    diameter: Typed = "",
    turns: Typed = "",
    weight: Typed = "",
    thickness: Typed = "",
    grammage: Typed = "",
    on: Typed = "",
) -> Response:
    """Measure a roll; paper thickness and weight are kept with its paper."""
    status = measure_roll(
        db,
        roll,
        outer_diameter=typed.number_if(diameter, "Diameter", parse=parse_length),
        turns=typed.number_if(turns, "Turns"),
        weight=typed.number_if(weight, "Weight"),
        thickness=typed.number_if(thickness, "Thickness"),
        grammage=typed.number_if(grammage, "Paper weight"),
        at=typed.happened_if(on, "On"),
    )
    metres, error = status.length.value / 1000, (status.length.standard_error or 0.0) / 1000
    said = f"Roll {roll} holds {words.number(metres, 1)} m, give or take {words.number(error, 1)} m."
    return go(request, "/paper", said=said, done="roll-measure")


@router.post("/boxes")
def post_box(
    request: Request,
    db: Db,
    name: Typed,
    lot: Typed = "",
    size: Typed = "",
    sheets: Typed = "",
    container: Typed = "",
    place: Typed = "cold",
    on: Typed = "",
) -> Response:
    """Take a box of cut sheets in."""
    across, along = parse_size(size)
    box = BoxRecord(name=name, lot=lot, along=along, across=across, container=container.strip() or None)
    count = typed.number(sheets, "Sheets")
    if count != int(count):
        raise ValueOutOfRange(f"{Figure(count):g} sheets cannot be; give a whole number.")
    receive_box(db, box, int(count), at=typed.happened_if(on, "On"), place=typed.one_of(Place, place, "Place"))
    return go(request, "/paper", said=f"Box {name} is on hand.", done="box-new")


@router.post("/book")
def post_book(
    request: Request, db: Db, box: Typed, happened: Typed, sheets: Typed = "1", note: Typed = "", on: Typed = ""
) -> Response:
    """Book sheets that went, or a count."""
    count = typed.number_or(sheets, "Sheets", 1)
    if count != int(count):
        raise ValueOutOfRange(f"{Figure(count):g} sheets cannot be booked; give a whole number.")
    what, at = typed.one_of(Happened, happened, "What happened"), typed.happened_if(on, "On")
    status = book_sheets(db, box, what, int(count), at=at, note=note)
    said = f"{telling.box_words(status)}{_of_sale(db, status.booked)}"
    return go(request, "/paper", said=said, undo=_undo(status.booked), done="book")


@router.post("/book-roll")
def post_book_roll(request: Request, db: Db, roll: Typed, happened: Typed, length: Typed, on: Typed = "") -> Response:
    """Book a length of roll that went otherwise than by a cut."""
    gone = typed.number(length, "Length", parse=parse_length)
    what, at = typed.one_of(Happened, happened, "What happened"), typed.happened_if(on, "On")
    status = book_roll(db, roll, what, gone, at=at)
    said = f"Roll {roll} holds {words.number(status.length.value / 1000, 1)} m by the ledger."
    said += _of_sale(db, status.booked)
    return go(request, "/paper", said=said, undo=_undo(status.booked), done="book-roll")


def _of_sale(db: Database, booked: StockLine | None) -> str:
    return f" {telling.sale_words(sold(db, booked.id))}" if booked and booked.happened is Happened.SOLD else ""


def _slip_path(line: StockLine) -> str:
    """Of its packing slip, if it is of a sale that counts."""
    return "" if line.removed or line.happened is not Happened.SOLD else f"{_booking_path(line)}/slip.pdf"


@router.get("/ledger/{number}/slip.pdf")
def get_slip(db: Db, number: int) -> Response:
    """The packing slip of paper that was sold."""
    return Response(slip_pdf(db, number), media_type="application/pdf")


def _booking_path(line: StockLine) -> str:
    return f"/paper/ledger/{line.id}"


def _undo(booked: StockLine | None) -> str:
    return f"{_booking_path(booked)}/undo" if booked is not None else ""


@router.post("/ledger/{number}/undo")
def post_booking_undo(request: Request, db: Db, number: int) -> Response:
    """Take a line of the ledger back: the stock is as it was without it."""
    said = telling.taken_back(telling.booking_words(take_booking_back(db, number)))
    return go(request, "/paper", said=said, undo=f"/paper/ledger/{number}/bring-back")


@router.post("/ledger/{number}/bring-back")
def post_booking_back(request: Request, db: Db, number: int) -> Response:
    """Let a line of the ledger that was taken back count again."""
    said = telling.brought_back(telling.booking_words(bring_booking_back(db, number)))
    return go(request, "/paper", said=said, undo=f"/paper/ledger/{number}/undo")


@router.post("/move")
def post_move(request: Request, db: Db, what: Typed, place: Typed, on: Typed = "") -> Response:
    """Put a roll or box into the cold, or bring it into the room. ``what`` is "roll NAME" or "box NAME"."""
    kind, _, name = what.partition(" ")
    if kind not in ("roll", "box"):
        raise ValueOutOfRange(f'"{what}" is neither a roll nor a box; choose one of the list.')
    ready = move_paper(
        db,
        typed.one_of(Place, place, "Place"),
        roll=name if kind == "roll" else None,
        box=name if kind == "box" else None,
        at=typed.happened_if(on, "On"),
    )
    return go(request, "/paper", said=telling.moved_words(name, ready))


@router.post("/containers")
def post_container(request: Request, db: Db, name: Typed, unsafe: Typed = "") -> Response:
    """Remember that a bag or box lets light in, or that it was mended."""
    found = mark_container(db, name, unsafe=bool(unsafe))
    return go(request, "/paper", said=telling.container_words(found))


# cutting


@router.get("/cut")
def show_cut(request: Request, db: Db) -> HTMLResponse:
    """What is wanted, what to cut it from, and what the trimmer can do."""
    trimmer = get_trimmer(db)
    on_hand = stock(db)
    return render(
        request,
        "paper/cut.html",
        trimmer=trimmer.trimmer,
        version=trimmer.version,
        rolls=[roll for roll in on_hand.rolls if roll.usable > 0],
        boxes=[box for box in on_hand.boxes if box.sheets and not box.box.strips],
        shape=SHAPE,
        size_words=size_words,
        plans=list_records(db, PlanRecord)[::-1],
    )


@router.post("/trimmer")
def post_trimmer(
    request: Request,
    db: Db,
    blade: Typed,
    longest: Typed,
    shortest: Typed = "2.5",
    edge: Typed = "",
    trim: Typed = "5x10",
    version: Typed = "",
) -> Response:
    """State what the trimmer can do."""
    one, other = parse_size(trim, unit="cm")
    set_trimmer(
        db,
        Trimmer(
            blade_length=typed.number(blade, "Blade", parse=parse_length),
            longest_stop=typed.number(longest, "Farthest stop", parse=parse_length),
            shortest_stop=typed.number(shortest, "Nearest stop", parse=parse_length),
            edge=typed.number_or(edge, "Edge", 0.0, parse=parse_margin),
            smallest_trim=(min(one, other), max(one, other)),
        ),
        seen=int(typed.number(version, "Version")) if version else None,
    )
    return go(request, "/paper/cut", said="The trimmer is noted.", done="trimmer")


@router.post("/cut")
def post_cut(
    request: Request,
    db: Db,
    wanted: Typed,
    rolls: Several = [],  # noqa: B006  (FastAPI makes a new list for each request)
    boxes: Several = [],  # noqa: B006
    settings: Typed = "2",
    seconds: Typed = "15",
) -> Response:
    """Begin to search for a plan."""
    job = start_planning(
        db,
        wanted_sizes(wanted.splitlines()),
        rolls=rolls or ([] if boxes else None),
        boxes=boxes,
        settings_per_sitting=int(typed.number(settings, "Stop settings")),
        seconds=min(typed.number_or(seconds, "Seconds", 15.0), MOST_SECONDS),
    )
    return go(request, f"/paper/cut/search/{job.number}")


@router.get("/cut/search/{number}")
def show_search(request: Request, number: int) -> HTMLResponse:
    """A search under way, or its plans."""
    return render(request, "paper/search.html", **_searched(number))


@router.get("/cut/search/{number}/part")
def search_part(request: Request, number: int) -> HTMLResponse:
    """What changes while it searches."""
    return render(request, "paper/search_part.html", **_searched(number))


def _searched(number: int) -> dict[str, Any]:
    job = planning(number)
    if job.problem is not None:
        raise job.problem
    done = job.done  # it may end while the page is made
    return {
        "job": job,
        "done": done,
        "plans": job.plans if done else [],
        "drawings_of": [plan_svg(plan, close=True) for plan in job.plans] if done else [],
        "news": job.news[-1] if job.news else None,
        "Kind": Kind,
        "size_words": size_words,
    }


@router.post("/cut/search/{number}/stop")
def post_stop(request: Request, number: int) -> Response:
    """End the search with the best plan so far."""
    planning(number).stop()
    return go(request, f"/paper/cut/search/{number}")


@router.post("/cut/search/{number}/keep")
def post_keep(request: Request, db: Db, number: int, which: Typed = "0") -> Response:
    """Keep one of the plans."""
    plans = planning(number).plans
    chosen = int(typed.number(which, "Plan"))
    if not 0 <= chosen < len(plans):
        raise ValueOutOfRange("The search has no such plan (yet). Wait for it, or stop it.")
    record = keep_plan(db, plans[chosen])
    return go(request, f"/paper/plans/{record.id}", said=f"Plan {record.name} is kept.", done="cut")


@router.get("/plans/{number}")
def show_plan(
    request: Request, db: Db, number: int, hourly: str = "", pack: str = "", sheets: str = ""
) -> HTMLResponse:
    """A kept plan: drawn to scale, its sittings, and what packs of it cost."""
    record = _plan(db, number)
    begun = {state.sitting.number: state for state in list_sittings(db, record.name)}
    prices, packs, why_not = None, [], ""
    try:
        prices = pack_prices(db, record.plan, hourly=typed.number_or(hourly, "Hour", 20.0), kept=record.name)
        count, box = typed.number_or(sheets, "Sheets", 10), typed.number_or(pack, "Box", 0.0)
        packs = [price.pack(int(count), box) for price in prices]
    except (Refused, ValueOutOfRange) as problem:
        why_not = str(problem)
    return render(
        request,
        "paper/plan.html",
        record=record,
        plan=record.plan,
        drawing=plan_svg(record.plan, close=True),
        begun=begun,
        prices=list(zip(prices, packs, strict=True)) if prices and packs else None,
        priced=prices is not None,
        why_not=why_not,
        hourly=hourly or "20",
        pack=pack or "0",
        sheets=sheets or "10",
        Kind=Kind,
        size_words=size_words,
    )


@router.get("/plans/{number}/plan.pdf")
def get_plan_pdf(db: Db, number: int) -> Response:
    """The plan with its steps, to print."""
    return Response(plan_pdf(db, _plan(db, number).name), media_type="application/pdf")


@router.post("/plans/{number}/sittings/{which}")
def post_sitting(request: Request, db: Db, number: int, which: int) -> Response:
    """Begin a sitting, or take it up again."""
    state = start_sitting(db, _plan(db, number).name, which)
    return go(request, f"/paper/sittings/{state.sitting.id}")


@router.get("/sittings/{number}")
def show_sitting(request: Request, db: Db, number: int) -> HTMLResponse:
    """The page that guides a cut by sound. It is black while paper is out."""
    state = sitting_state(db, _sitting(db, number).name)
    procedure = state.procedure
    return render(
        request,
        "paper/sitting.html",
        state=state,
        seen=plain_state(state),
        plan=_plan_of(db, state),
        boxes=[f"{i}: {size_words(size[0], size[1])} mm" for i, size in enumerate(procedure.boxes, 1)],
        prompts=sorted({name for step in procedure.steps for name in sound_files(step.say)} | set(sound_files(EXTRA))),
    )


def _plan_of(db: Database, state: SittingState) -> PlanRecord:
    return find_record(db, PlanRecord, state.sitting.plan)


@router.get("/sittings/{number}/labels.pdf")
def get_labels(db: Db, number: int) -> Response:
    """Labels for the boxes of a sitting."""
    return Response(labels_pdf(db, _sitting(db, number).name), media_type="application/pdf")


EXTRA = (
    "undone",
    "spoiled",
    "ended",
    "resumed_at",
    "done",
    "point",
    "comma",
    "times",
    "once",
    *(f"number_{n}" for n in range(61)),
)
"""Prompts that any sitting may need, beside those of its steps."""


def sound_files(say: tuple[str, ...]) -> list[str]:
    """Prompts by the names of their sound files, as the page's sound module asks for them."""
    return [f"../paper/audio/{name}" if name in CUT_PROMPTS else name for name in say]


def plain_state(state: SittingState) -> dict[str, Any]:
    """A sitting's state for a page that guides by sound."""
    place = state.position
    return {
        "sitting": state.sitting.id,
        "events": state.events,
        "dark": place.dark,
        "done": place.step is None,
        "step": place.number,
        "steps": place.steps,
        "key": place.step.key if place.step else "",
        "counted": place.counted,
        "needed": place.needed,
        "words": _words(state),
        "sounds": sound_files(state.say),
        "booked": state.sitting.booked,
    }


def _words(state: SittingState) -> str:
    step = state.position.step
    if step is None:
        return "All done."
    return f"{step.written} ({state.position.counted} of {state.position.needed})" if step.counted else step.written


# lots


@router.get("/edition")
def show_cover(
    request: Request,
    db: Db,
    lot: str,
    size: str = "20x25 cm",
    prints: str = "20",
    per_print: Annotated[str, Query()] = "",
) -> HTMLResponse:
    """How many prints of an edition a lot covers."""
    across, along = parse_size(size)
    found = lot_cover(
        db,
        lot,
        along=along,
        across=across,
        prints=int(typed.number(prints, "Prints")),
        sheets_per_print=typed.number_or(per_print, "Sheets a print", 1.3),
    )
    return render(request, "paper/edition.html", found=found, lot=lot, size=size)


# for programs


class Pressed(BaseModel):
    """One press of the foot switch or a key."""

    model_config = ConfigDict(extra="forbid")
    event: Event = Event.PRESS
    number: int | None = Field(
        default=None, ge=1, description="Which event this is, from 1; sent again it counts once."
    )


class WantedSizes(BaseModel):
    """What to cut, as typed."""

    model_config = ConfigDict(extra="forbid")
    wanted: list[str] = Field(description=f"Each: {SHAPE}.", max_length=200)
    rolls: list[str] | None = None
    boxes: list[str] = []
    settings_per_sitting: int = Field(default=2, ge=1, le=4)
    seconds: float = Field(default=10.0, gt=0, le=MOST_SECONDS)


@api.get("/ledger", summary="Every line of the ledger, in the order written; see removed")
def get_ledger(db: Db, box: str | None = None, roll: str | None = None) -> Any:
    return plain(ledger(db, box=box, roll=roll))


@api.get("/stock", summary="Rolls, boxes and what to see to")
def get_stock(db: Db) -> Any:
    return plain(stock(db))


@api.post("/plan", summary="The best cut plan for what is wanted, with its proof; not kept")
def post_plan_api(db: Db, body: WantedSizes) -> Any:
    plan = plan_paper(
        db,
        wanted_sizes(body.wanted),
        rolls=body.rolls,
        boxes=body.boxes,
        settings_per_sitting=body.settings_per_sitting,
        seconds=body.seconds,
    )
    return plan_answer(plan)


@api.get("/plans", summary="Every plan that was kept")
def get_plans(db: Db) -> Any:
    kept = list_records(db, PlanRecord)
    return [{"name": one.name, "at": plain(one.at), "plan": plan_answer(one.plan)} for one in kept]


@api.get("/plans/{name}", summary="A kept plan with its sittings, how far each is cut, and what sheets and packs cost")
def get_plan(
    db: Db,
    name: str,
    hourly: Annotated[float, Query(description="Worth of an hour.")] = 20.0,
    sheets: Annotated[int, Query(ge=1, description="In a pack.")] = 10,
    pack: Annotated[float, Query(description="Box and label of a pack.")] = 0.0,
) -> Any:
    return kept_plan_answer(kept_plan(db, name, hourly=hourly), sheets=sheets, pack=pack)


@api.get("/cover", summary="How many prints of an edition a lot covers")
def get_cover(
    db: Db,
    lot: str,
    prints: Annotated[int, Query(ge=1)],
    size: Annotated[str, Query(description='Across x along the roll: "20x25 cm".')] = "20x25 cm",
    per_print: Annotated[float, Query(description="Sheets that one good print takes.")] = SHEETS_PER_PRINT,
) -> Any:
    across, along = parse_size(size)
    return cover_answer(lot_cover(db, lot, along=along, across=across, prints=prints, sheets_per_print=per_print))


@api.get("/sittings/{number}", summary="Where a sitting stands, and what to say when it is taken up again")
def get_sitting(db: Db, number: int) -> Any:
    return plain_state(sitting_state(db, _sitting(db, number).name))


@api.post("/sittings/{number}/presses", summary="Record one press; it is on disk before the answer comes")
def post_press(db: Db, number: int, body: Pressed) -> Any:
    return plain_state(press(db, _sitting(db, number).name, body.event, number=body.number))
