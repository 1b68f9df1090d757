"""Paper: stock and its ledger, cut plans, cutting by voice, fog, lots."""

import signal
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from types import FrameType
from typing import Any

import click

from printlore.core.calendar import day, moment
from printlore.core.cutting.blind import Event
from printlore.core.cutting.drawing import plan_svg, size_words
from printlore.core.cutting.plan import Found, Plan
from printlore.core.cutting.sections import Kind
from printlore.core.figure import Figure
from printlore.core.measure.fog import CoinTest
from printlore.core.quantities import parse_length, parse_margin, parse_size
from printlore.errors import PrintloreError, Refused, ValueOutOfRange
from printlore.faces import typed, words
from printlore.faces.cli.desk import Desk, OutFile, Steps, table, with_desk
from printlore.faces.paper_plain import cover_answer, kept_plan_answer, plan_answer
from printlore.faces.paper_typed import SHAPE, wanted_sizes
from printlore.faces.telling import (
    TAKEN_BACK,
    booking_words,
    box_words,
    brought_back,
    container_words,
    fog_words,
    moved_words,
    taken_back,
)
from printlore.files import write_file
from printlore.records.cutting import PlanRecord
from printlore.records.papers import Lot
from printlore.records.stock import GONE, BoxRecord, FogRecord, Happened, Place, RollRecord, StockLine
from printlore.services.cut_sheets import labels_pdf, plan_pdf
from printlore.services.cutting import (
    SittingState,
    get_trimmer,
    keep_plan,
    kept_plan,
    plan_paper,
    plan_trade_off,
    press,
    set_trimmer,
    start_sitting,
)
from printlore.services.entry import list_records
from printlore.services.fog import (
    FogReport,
    blame_container,
    bring_reading_back,
    coin_test_showed,
    fog_reports,
    log_blank,
    readings_taken_back,
    take_reading_back,
)
from printlore.services.lots import NewLot, lots_compared, new_lot, state_same_emulsion
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

_ON = click.option("--on", default="", help="Day on which it happened; now if not said.")


@click.group(cls=Steps)
def command() -> None:
    """Paper: stock, cutting, fog, lots."""


@command.command("stock")
@with_desk
def show_stock(desk: Desk) -> None:
    """What is on hand, and what to see to."""
    found = stock(desk.db)
    rolls = table(
        ("roll", "paper", "lot", "width", "left", "usable"),
        [
            (r.roll.name, r.family, r.roll.lot, words.length(r.roll.width), _metres(r.length.value), _metres(r.usable))
            for r in found.rolls
        ],
    )
    boxes = table(
        ("box", "paper", "lot", "size, mm", "sheets"),
        [
            (b.box.name, b.family, b.box.lot, size_words(b.box.along, b.box.across), str(b.sheets))
            for b in found.boxes
            if b.sheets
        ],
    )
    unsafe = [f"{one.name} let light in: {one.note or 'no note'}." for one in found.containers if one.unsafe]
    lines = [*(rolls if found.rolls else []), "", *(boxes if found.boxes else []), "", *found.reminders, *unsafe]
    desk.say(found, *(lines if found.rolls or found.boxes else ["No paper is on hand."]))


def _metres(millimetres: float) -> str:
    return f"{words.number(millimetres / 1000, 1)} m"


@command.command("take-roll")
@click.argument("name")
@click.option("--lot", required=True)
@click.option("--width", required=True, help="For example 30.5 cm.")
@click.option("--core", default="", help="Its core's outside diameter.")
@click.option("--label", default="", help="Length on the label, for example 8400 cm.")
@click.option("--price", default="")
@click.option("--bag", default=None, help="The bag it lies in.")
@click.option("--warm", is_flag=True, help="It stays in the room; otherwise it goes into the cold.")
@_ON
@with_desk
def take_roll(
    desk: Desk, name: str, lot: str, width: str, core: str, label: str, price: str, bag: str | None, warm: bool, on: str
) -> None:
    """Take a roll in."""
    roll = receive_roll(
        desk.db,
        RollRecord(
            name=name,
            lot=lot,
            width=parse_length(width),
            core_diameter=parse_length(core) if core else None,
            stated_length=parse_length(label) if label else None,
            price=typed.number_if(price, "Price"),
            received_at=typed.happened_if(on, "On") or datetime.now(UTC),
            container=bag,
        ),
        place=Place.ROOM if warm else Place.COLD,
    )
    desk.say(roll, f"Roll {name} is on hand.")


@command.command("take-box")
@click.argument("name")
@click.argument("size")
@click.argument("sheets", type=int)
@click.option("--lot", required=True)
@click.option("--container", default=None, help="What it lies in, to keep light out.")
@click.option("--warm", is_flag=True, help="It stays in the room; otherwise it goes into the cold.")
@_ON
@with_desk
def take_box(
    desk: Desk, name: str, size: str, sheets: int, lot: str, container: str | None, warm: bool, on: str
) -> None:
    """Take in a box of SHEETS sheets of SIZE (across x along)."""
    desk.write_as_studio()
    across, along = parse_size(size)
    status = receive_box(
        desk.db,
        BoxRecord(name=name, lot=lot, along=along, across=across, container=container),
        sheets,
        at=typed.happened_if(on, "On"),
        place=Place.ROOM if warm else Place.COLD,
    )
    desk.say(status, f"Box {name} holds {status.sheets} sheets.")


@command.command()
@click.argument("roll")
@click.option("--diameter", default="", help="Over the paper.")
@click.option("--turns", default="")
@click.option("--weight", default="", help="With its core [g].")
@click.option("--thickness", default="", help="Of its paper [mm]; kept with the paper.")
@click.option("--grammage", default="", help="Of its paper [g/m2]; kept with the paper.")
@_ON
@with_desk
def measure(
    desk: Desk,
    roll: str,
    diameter: str,
    turns: str,
    weight: str,
    thickness: str,
    grammage: str,
    on: str,
) -> None:
    """How much is left on a roll, from its diameter, turns or weight."""
    status = measure_roll(
        desk.db,
        roll,
        outer_diameter=parse_length(diameter) if diameter else None,
        turns=typed.number_if(turns, "Turns"),
        weight=typed.number_if(weight, "Weight"),
        thickness=typed.number_if(thickness, "Thickness"),
        grammage=typed.number_if(grammage, "Paper weight"),
        at=typed.happened_if(on, "On"),
    )
    error = status.length.standard_error
    desk.say(
        status,
        f"{_metres(status.length.value)}{'' if error is None else f' ± {_metres(error)}'}, from {status.from_words}; "
        f"a plan may use {_metres(status.usable)}.",
        *(flag.words for flag in status.length.flags),
    )


@command.command()
@click.argument("box")
@click.argument("happened", type=click.Choice([h.value for h in Happened if h is not Happened.CUT]))
@click.argument("sheets", type=int, default=1)
@click.option("--trial", default="")
@click.option("--note", default="")
@_ON
@with_desk
def book(desk: Desk, box: str, happened: str, sheets: int, trial: str, note: str, on: str) -> None:
    """Book sheets that were exposed, spoiled, sold, lost or received, or a count."""
    at = typed.happened_if(on, "On")
    status = book_sheets(desk.db, box, Happened(happened), sheets, at=at, trial=trial, note=note)
    desk.say(status, box_words(status), *_of_sale(desk, status.booked))


@command.command("book-roll")
@click.argument("roll")
@click.argument("happened", type=click.Choice([h.value for h in GONE]))
@click.argument("length")
@click.option("--note", default="")
@_ON
@with_desk
def book_roll_(desk: Desk, roll: str, happened: str, length: str, note: str, on: str) -> None:
    """Book a LENGTH of a roll (150 cm) that went otherwise than by a cut."""
    gone = typed.number(length, "Length", parse=parse_length)
    status = book_roll(desk.db, roll, Happened(happened), gone, at=typed.happened_if(on, "On"), note=note)
    desk.say(status, f"Roll {roll} holds {_metres(status.length.value)} by the ledger.", *_of_sale(desk, status.booked))


def _of_sale(desk: Desk, booked: StockLine | None) -> list[str]:
    if booked is None or booked.happened is not Happened.SOLD:
        return []
    return [*sold(desk.db, booked.id).beware, f"Its packing slip: printlore paper slip {booked.id} --out slip.pdf"]


@command.command()
@click.argument("line", type=click.IntRange(min=1))
@click.option("--out", type=OutFile(), help="PDF to write.")
@with_desk
def slip(desk: Desk, line: int, out: Path | None) -> None:
    """What goes with paper that LINE of `paper ledger` sold: lot, age, how it was kept, fog."""
    found = sold(desk.db, line)
    if out:
        write_file(out, slip_pdf(desk.db, line))
    desk.say(
        {"what": found.what, "facts": dict(found.rows), "beware": found.beware},
        found.what,
        *(f"{name}: {words_}" for name, words_ in found.rows),
        *(f"Beware: {words_}" for words_ in found.beware),
    )


@command.command("ledger")
@click.option("--box", help="Of this box alone.")
@click.option("--roll", help="Of this roll alone.")
@with_desk
def ledger_(desk: Desk, box: str | None, roll: str | None) -> None:
    """Every line of the ledger by number, in the order written. Marked if taken back."""
    found = ledger(desk.db, box=box, roll=roll)
    rows = [(str(one.id), moment(one.at), booking_words(one), TAKEN_BACK if one.removed else "") for one in found]
    desk.say(found, *table(("line", "when", "what", ""), rows, none="Nothing is in the ledger yet."))


@command.command("take-back")
@click.argument("line", type=click.IntRange(min=1))
@with_desk
def take_back(desk: Desk, line: int) -> None:
    """Take LINE of `paper ledger` back: the stock is as it was without it. It stays there, with a mark."""
    booking = take_booking_back(desk.db, line)
    desk.say(booking, taken_back(booking_words(booking)))


@command.command("bring-back")
@click.argument("line", type=click.IntRange(min=1))
@with_desk
def bring_back(desk: Desk, line: int) -> None:
    """Let LINE of `paper ledger` that was taken back count again."""
    booking = bring_booking_back(desk.db, line)
    desk.say(booking, brought_back(booking_words(booking)))


@command.command("container")
@click.argument("name")
@click.argument("state", type=click.Choice(["unsafe", "mended"]))
@click.option("--note", default="", help="How you know.")
@with_desk
def container_(desk: Desk, name: str, state: str, note: str) -> None:
    """Remember that a bag or box lets light in, or that it was mended."""
    found = mark_container(desk.db, name, unsafe=state == "unsafe", note=note)
    desk.say(found, container_words(found))


@command.command()
@click.argument("kind", type=click.Choice(["roll", "box"]))
@click.argument("name")
@click.argument("place", type=click.Choice([place.value for place in Place]))
@_ON
@with_desk
def move(desk: Desk, kind: str, name: str, place: str, on: str) -> None:
    """Put paper into the cold, or bring it into the room to warm up."""
    ready = move_paper(
        desk.db,
        Place(place),
        roll=name if kind == "roll" else None,
        box=name if kind == "box" else None,
        at=typed.happened_if(on, "On"),
    )
    desk.say({"warm_at": ready}, moved_words(name, ready))


@command.command()
@click.argument("paper")
@click.option("--lead", default="14", show_default=True, help="Days from order to paper.")
@with_desk
def reorder(desk: Desk, paper: str, lead: str) -> None:
    """When to order more of a paper."""
    found = when_to_reorder(desk.db, paper, lead_days=typed.number(lead, "Days"))
    if found.in_days is None or found.earliest is None or found.latest is None:
        desk.say(found, f"No {paper} was used in the last 90 days, so there is no date to order by.")
        return
    when = "now" if found.in_days <= 0 else f"in {found.in_days:.0f} days"
    desk.say(
        found,
        f"{words.number(found.per_month.value, 2)} m2 a month. Order {when} "
        f"(between {max(found.earliest, 0):.0f} and {found.latest:.0f} days).",
    )


@command.command()
@click.argument("lot")
@click.argument("size")
@click.argument("prints", type=int)
@click.option("--per-print", default="1.3", show_default=True, help="Sheets that one good print takes.")
@with_desk
def cover(desk: Desk, lot: str, size: str, prints: int, per_print: str) -> None:
    """How many prints of an edition a lot covers."""
    desk.write_as_studio()
    across, along = parse_size(size)
    found = lot_cover(
        desk.db,
        lot,
        along=along,
        across=across,
        prints=prints,
        sheets_per_print=typed.number(per_print, "Sheets a print"),
    )
    desk.say(cover_answer(found), found.words)


@command.command()
@click.option("--blade", help="Longest cut.")
@click.option("--longest", help="Farthest stop.")
@click.option("--shortest", help="Nearest stop.")
@click.option("--edge", help="Of a roll's long edges, not to be used; 0 for none.")
@click.option("--trim", help="Smallest trim worth keeping as a test strip, for example 5x10 cm.")
@with_desk
def trimmer(
    desk: Desk, blade: str | None, longest: str | None, shortest: str | None, edge: str | None, trim: str | None
) -> None:
    """State what the trimmer can do; what is not named stays. With nothing named: what is known of it."""
    known = get_trimmer(desk.db)
    there, stated = known.trimmer, known.version > 0
    lengths = (
        ("blade_length", blade, "Blade"),
        ("longest_stop", longest, "Farthest stop"),
        ("shortest_stop", shortest, "Nearest stop"),
    )
    changes: dict[str, Any] = {
        field: typed.number(text, what, parse=parse_length) for field, text, what in lengths if text is not None
    }
    if edge is not None:
        changes["edge"] = typed.number(edge, "Edge", parse=parse_margin)
    if trim is not None:
        one, other = parse_size(trim)
        changes["smallest_trim"] = (min(one, other), max(one, other))
    if changes and not (stated or {"blade_length", "longest_stop"} <= set(changes)):
        raise Refused("No trimmer was stated yet. Give --blade and --longest with it; measure them on yours.")
    if changes:
        # what is not named stays as it was read, so a change in between is told
        there = set_trimmer(desk.db, replace(there, **changes), seen=known.version).trimmer
    said = "The trimmer is noted" if changes else "The trimmer" if stated else "None was stated; usual figures"
    desk.say(
        there,
        f"{said}: it cuts {words.length(there.blade_length)} cm, stops from {words.length(there.shortest_stop)} to "
        f"{words.length(there.longest_stop)} cm; edges of {words.length(there.edge)} cm are left out; trims from "
        f"{size_words(*there.smallest_trim)} mm are strips.",
    )


@command.command(help=f"Plan a cut. Each WANTED is typed as {SHAPE}. Interrupt (Ctrl-C) for the best plan so far.")
@click.argument("wanted", nargs=-1, required=True)
@click.option("--roll", "rolls", multiple=True, help="Only from this roll; may be given again.")
@click.option("--box", "boxes", multiple=True, help="Also cut up sheets of this box.")
@click.option("--settings", type=int, default=2, show_default=True, help="Stop settings at a sitting, at most.")
@click.option("--seconds", default="15", show_default=True, help="To search, at most.")
@click.option("--trade-off", "more", is_flag=True, help="Show what more settings would save.")
@click.option("--keep", is_flag=True, help="Keep the plan, so that it can be cut.")
@click.option("--which", type=click.IntRange(min=1), default=1, show_default=True, help="To keep, of --trade-off.")
@click.option("--drawing", type=OutFile(), help="Write it to scale as SVG.")
@click.option("--pdf", type=OutFile(), help="Write the kept plan with its steps.")
@with_desk
def plan(
    desk: Desk,
    wanted: tuple[str, ...],
    rolls: tuple[str, ...],
    boxes: tuple[str, ...],
    settings: int,
    seconds: str,
    more: bool,
    keep: bool,
    which: int,
    drawing: Path | None,
    pdf: Path | None,
) -> None:
    desk.write_as_studio()
    sizes, longest = wanted_sizes(wanted), typed.number(seconds, "Seconds")
    chosen = list(rolls) or ([] if boxes else None)
    stopped = False

    def interrupt(_: int, __: FrameType | None) -> None:
        nonlocal stopped
        stopped = True

    def tell(news: Found) -> None:
        if not desk.json:
            what = f"{words.number(news.paper / 1e6, 2)} m2" if news.paper else f"{news.settings or 0:.0f} settings"
            click.echo(f"{Figure(news.seconds):5.1f} s  {what}", err=True)

    before = signal.signal(signal.SIGINT, interrupt)
    try:
        if more:
            plans = plan_trade_off(
                desk.db,
                sizes,
                rolls=chosen,
                boxes=boxes,
                settings_per_sitting=settings,
                seconds=longest,
                stop=lambda: stopped,
            )
        else:
            best = plan_paper(
                desk.db,
                sizes,
                rolls=chosen,
                boxes=boxes,
                settings_per_sitting=settings,
                seconds=longest,
                report=tell,
                stop=lambda: stopped,
            )
            plans = [best]
    finally:
        signal.signal(signal.SIGINT, before)
    if which > len(plans):
        raise ValueOutOfRange(f"There are {len(plans)} plans, so there is no plan {which} to keep. Choose one of them.")
    chosen_plan = plans[which - 1]
    kept = keep_plan(desk.db, chosen_plan) if keep or pdf else None
    recorded = f'The plan is kept; write it with: printlore paper plans "{kept.name}".' if kept else ""
    if drawing:
        write_file(drawing, plan_svg(chosen_plan).encode(), recorded=recorded)
    if pdf and kept:
        write_file(pdf, plan_pdf(desk.db, kept.name), recorded=recorded)
    lines = [line for one in plans for line in _plan_lines(one)]
    if kept:
        lines.append(f'Kept as "{kept.name}".')
    desk.say({"plans": [plan_answer(one) for one in plans], "kept": kept.name if kept else None}, *lines)


def _plan_lines(plan: Plan) -> list[str]:
    lines = [
        f"{plan.settings} stop settings, {words.number(plan.paper / 1e6, 2)} m2 of paper, "
        f"{words.number(100 * plan.waste_share, 1)} % waste. "
        f"{plan.proof}"
    ]
    for number, sitting in enumerate(plan.sittings, 1):
        stops = ", ".join(f"{words.shortest(setting.distance, 2)} mm" for setting in sitting.settings)
        lines.append(f"  Sitting {number}, {sitting.source} ({sitting.lot}): stop at {stops}")
        for section, count in sitting.sections:
            pieces = ", ".join(
                f"{n} x {size_words(along, across)}{' strip' if kind is Kind.STRIP else ''}"
                for (along, across, kind), n in section.pieces().items()
            )
            lines.append(f"    {count} sections, each {pieces}")
    lines += [f"  {n} of {name} cannot be cut." for name, n in plan.short.items()]
    return lines


@command.command()
@click.argument("name", required=False)
@click.option("--hourly", default="20", show_default=True, help="Worth of an hour.")
@click.option("--sheets", type=click.IntRange(min=1), default=10, show_default=True, help="In a pack.")
@click.option("--pack", default="0", show_default=True, help="Box and label of a pack.")
@click.option("--drawing", type=OutFile(), help="Write it to scale as SVG.")
@click.option("--pdf", type=OutFile(), help="Write it with its steps.")
@with_desk
def plans(
    desk: Desk, name: str | None, hourly: str, sheets: int, pack: str, drawing: Path | None, pdf: Path | None
) -> None:
    """Plans kept; or the plan NAME with its sittings, how far each is cut, and what a sheet of it costs."""
    if name is None:
        known = list_records(desk.db, PlanRecord)
        desk.say(known, *([record.name for record in known] or ["No plan is kept yet: printlore paper plan --keep."]))
        return
    box = typed.number(pack, "A pack")
    kept = kept_plan(desk.db, name, hourly=typed.number(hourly, "Worth of an hour"))
    record, costs = kept.record, kept.costs
    if drawing:
        write_file(drawing, plan_svg(record.plan).encode())
    if pdf:
        write_file(pdf, plan_pdf(desk.db, record.name))
    rows = [
        (
            size_words(one.along, one.across),
            str(one.sheets),
            *(words.number(share, 2) for share in (one.paper, one.waste, one.work)),
            words.estimate(one.cost),
            words.estimate(one.pack(sheets, box)),
        )
        for one in costs
    ]
    desk.say(
        kept_plan_answer(kept, sheets=sheets, pack=box),
        *_plan_lines(record.plan),
        *(_sitting_words(state) for state in kept.sittings),
        *(
            table(("size, mm", "sheets", "paper", "waste", "work", "a sheet", f"a pack of {sheets}"), rows)
            if rows
            else [kept.why_not]
        ),
    )


def _sitting_words(state: SittingState) -> str:
    if state.sitting.booked:
        return f"Sitting {state.sitting.number} is done; its boxes are in the ledger."
    return f"Sitting {state.sitting.number} is begun: step {state.position.number} of {state.position.steps}."


_KEYS = {"": Event.PRESS, "u": Event.UNDO, "x": Event.SPOILED, "e": Event.END}


@command.command()
@click.argument("plan_name", metavar="PLAN")
@click.argument("number", type=int, default=1)
@click.option("--labels", type=OutFile(), help="Write the labels at the end (PDF).")
@with_desk
def cut(desk: Desk, plan_name: str, number: int, labels: Path | None) -> None:
    """Go through sitting NUMBER of PLAN step by step: enter is a press, u undo, x spoiled, e no more, q leaves.

    For practice and for a terminal that is read aloud; in the dark, use the page. It may be left and taken up again.
    """
    state = start_sitting(desk.db, plan_name, number)
    while state.position.step is not None:
        if not desk.json:
            place = state.position
            click.echo(f"{place.number}/{place.steps} {place.words or place.step.words if place.step else ''}")
        key = click.prompt("", default="", show_default=False, prompt_suffix="> ", err=True).strip().lower()
        if key == "q":
            break
        try:
            state = press(desk.db, state.sitting.name, _KEYS.get(key, Event.PRESS))
        except PrintloreError as problem:
            click.echo(str(problem), err=True)
    if labels and state.sitting.booked:
        recorded = "The sitting is booked; call this again for its labels."
        write_file(labels, labels_pdf(desk.db, state.sitting.name), recorded=recorded)
    made = {
        f"{size_words(a, b)}{' strips' if k is Kind.STRIP else ''}": n for (a, b, k), n in state.outcome.pieces.items()
    }
    desk.say(
        {"sitting": state.sitting.name, "made": made, "booked": state.sitting.booked},
        *(f"{n} x {name}" for name, n in made.items()),
        "In the ledger." if state.sitting.booked else "Not at its end; take it up again with the same command.",
    )


@command.command()
@click.argument("scan", type=click.Path(path_type=Path, exists=True, dir_okay=False), required=False)
@click.option("--lot", default=None)
@click.option("--size", default="25x20 cm", show_default=True, help="Width x height as it lies in the scan.")
@click.option("--wedge", default="", help='Of a grey wedge beside it, light to dark: "0,05 0,20 0,35".')
@click.option("--roll", default=None, help="The roll it came from.")
@click.option("--box", default=None, help="The box it came from.")
@click.option("--coins", type=click.Choice(["outlines", "none"]), help="What the coin test of reading --number showed.")
@click.option("--blame", is_flag=True, help="Remember the bag or box of reading --number as unsafe.")
@click.option("--take-back", is_flag=True, help="Take reading --number back: nothing is compared with it any more.")
@click.option("--bring-back", is_flag=True, help="Let reading --number count again.")
@click.option("--number", type=int, default=0, help="Number of an earlier reading.")
@with_desk
def fog(
    desk: Desk,
    scan: Path | None,
    lot: str | None,
    size: str,
    wedge: str,
    roll: str | None,
    box: str | None,
    coins: str | None,
    blame: bool,
    take_back: bool,
    bring_back: bool,
    number: int,
) -> None:
    """Read a scanned, unexposed and processed sheet for fog; without a scan, list the readings."""
    if take_back or bring_back:
        record = take_reading_back(desk.db, number) if take_back else bring_reading_back(desk.db, number)
        desk.say(record, (taken_back if take_back else brought_back)(fog_words(record)))
        return
    if blame:
        container = blame_container(desk.db, number)
        desk.say(container, container_words(container))
        return
    back: list[FogRecord] = []
    if coins:
        showed = CoinTest.OUTLINES if coins == "outlines" else CoinTest.EVEN
        reports = [coin_test_showed(desk.db, number, showed)]
    elif scan is not None:
        if lot is None:
            raise click.UsageError("Say which lot the sheet is of: --lot NAME.")
        densities = typed.numbers(wedge, "Wedge") or None
        reports = [log_blank(desk.db, lot, scan, size=parse_size(size), wedge=densities, from_roll=roll, from_box=box)]
    else:
        reports = fog_reports(desk.db, lot)
        back = [one for one in readings_taken_back(desk.db) if lot in (None, one.lot)]
    lines = [line for report in reports for line in _fog_lines(report)]
    lines += [f"{one.id}  {fog_words(one)}; {TAKEN_BACK}" for one in back]
    desk.say([_fog_plain(report) for report in reports], *(lines or ["No blank sheet was read yet: give its scan."]))


def _fog_plain(report: FogReport) -> dict[str, object]:
    record = report.record
    return {
        "number": record.id,
        "lot": record.lot,
        "base": record.base,
        "verdict": record.verdict,
        "places": record.places,
        "causes": [(cause.value, probability) for cause, probability in report.causes],
    }


def _fog_lines(report: FogReport) -> list[str]:
    record = report.record
    lines = [f"{record.id}  {day(record.at)}  {record.lot}: {record.words}"]
    for place in record.places:
        other = f" or, less likely, {place['or_light']}" if place["or_light"] else ""
        lines.append(f"     from the {place['where']}: {place['light']} light{other}")
    return lines + [f"     {words.out_of_ten(p)}  {cause.value}" for cause, p in report.causes[:3]]


@command.command()
@click.argument("name")
@click.option("--old", default=None, help="Lot to compare with; by default the one before.")
@click.option("--same-as", default=None, help="State that both are one emulsion on different surfaces.")
@click.option("--note", default="", help="How you know (with --same-as).")
@with_desk
def lot(desk: Desk, name: str, old: str | None, same_as: str | None, note: str) -> None:
    """What a new lot changes: the one trial to print, its offset, and every setting brought onto it."""
    if same_as:
        _, check = state_same_emulsion(desk.db, name, same_as, note=note)
        desk.say({"chance": check.chance, "contradicted": check.contradicted}, check.words)
        return
    found = new_lot(desk.db, name, old_lot=old)
    desk.say(found, *_lot_lines(found))


@command.command()
@with_desk
def lots(desk: Desk) -> None:
    """Every lot that has one before it, newest first, and what is stated of lots."""
    found, related = lots_compared(desk.db)
    lines = [line for one in found for line in (f"{one.lot}:", *_lot_lines(one))]
    lines += [f"Stated: {stated.lot} and {stated.other} are one emulsion. {check.words}" for stated, check in related]
    answer = {
        "lots": found,
        "stated": [
            {"stated": stated, "chance": check.chance, "contradicted": check.contradicted, "words": check.words}
            for stated, check in related
        ],
    }
    if not lines:
        declared = list_records(desk.db, Lot)
        lines = [
            "With a second lot of a paper, one trial will bring every setting onto it."
            if declared
            else "No lot of paper is declared yet. Declare the one you print on: later ones are compared with it."
        ]
    desk.say(answer, *lines)


def _lot_lines(found: NewLot) -> list[str]:
    offset = found.offset
    return [
        found.words,
        f"Against {found.old_lot}: {words.estimate(offset.magenta, 1, signed=True)} M, "
        f"{words.estimate(offset.yellow, 1, signed=True)} Y, {words.estimate(offset.stops, 2, signed=True)} stops.",
        *(flag.words for flag in offset.magenta.flags),
        *(f"  {r.frame}: {words.setting(r.before)}  ->  {words.setting(r.after)}" for r in found.rebased),
    ]
