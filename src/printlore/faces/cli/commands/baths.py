"""Baths: mix, use, top up and retire them; control patches, faults, warmth, waste."""

from dataclasses import replace
from pathlib import Path

import click

from printlore.core.bath.kit import Use
from printlore.core.bath.learning import WEAR
from printlore.core.calendar import day, moment
from printlore.errors import ValueOutOfRange
from printlore.faces import typed, words
from printlore.faces.bath_typed import kit_parts, poured_order
from printlore.faces.cli import baths_control, baths_warmth, baths_waste
from printlore.faces.cli.desk import Desk, OutFile, Steps, table, with_desk
from printlore.faces.telling import TAKEN_BACK, brought_back, entry_words, taken_back, twin_words
from printlore.files import write_file
from printlore.records.baths import BathEvent
from printlore.records.baths_kept import KitRecord
from printlore.services.bath_book import (
    bath_book,
    bring_entry_back,
    correct_load,
    find_load,
    kind_of,
    named_entry,
    take_back,
    take_entry_back,
    twin_of,
)
from printlore.services.bath_labels import labels
from printlore.services.bath_report import USUAL_SIZES, bath_report, baths_in_use, steady_plan
from printlore.services.baths import (
    BEFORE_OPENING,
    GIVEN_UP,
    TAKEN_OUT,
    bleed,
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
from printlore.services.entry import list_records


@click.group(cls=Steps)
def command() -> None:
    """Mix, use, top up and retire baths; control patches, faults, warmth, waste."""


for step in (*baths_control.STEPS, *baths_warmth.STEPS, baths_waste.waste):
    command.add_command(step)


@command.command("list")
@with_desk
def list_(desk: Desk) -> None:
    """Baths that are in use."""
    found = baths_in_use(desk.db)
    rows = [
        (
            bath.name,
            day(bath.mixed_at),
            f"{content.volume:.0f} mL",
            words.number(content.strength, 2),
            f"{words.number(content.area_per_litre, 2)} m2/L",
            f"{content.loads}",
        )
        for bath, content, _ in found
    ]
    head = ("bath", "mixed", "volume", "strength", "area", "loads")
    desk.say([row[:2] for row in found], *table(head, rows, none="No bath is in use; mix one."))


@command.command()
@click.argument("name")
@click.argument("use", type=click.Choice([use.value for use in Use]))
@click.option("--part", "parts", multiple=True, required=True, help='"A 100 alkali": name, mL per litre, nature.')
@click.option("--life", default="", help="Days it keeps full and closed, by its sheet.")
@click.option("--hazards", default="", help="From its own safety sheet.")
@click.option("--safety-sheet-read", is_flag=True)
@with_desk
def kit(
    desk: Desk, name: str, use: str, parts: tuple[str, ...], life: str, hazards: str, safety_sheet_read: bool
) -> None:
    """Define a kit by its own sheet; parts in the order of the sheet."""
    made = define_kit(
        desk.db,
        name,
        Use(use),
        kit_parts(parts),
        life_days=typed.number_if(life, "Life"),
        hazards=hazards,
        safety_sheet_read=safety_sheet_read,
    )
    desk.say(made, f"Kit {made.name}: {' then '.join(made.kit.order())}.")


@command.command()
@with_desk
def kits(desk: Desk) -> None:
    """Kits that are defined, and whether the safety sheet of each was read."""
    found = list_records(desk.db, KitRecord)
    rows = [
        (
            one.name,
            one.kit.use.value,
            ", ".join(f"{part.name} {words.shortest(part.per_litre)} mL/L" for part in one.kit.parts),
            "safety sheet read" if one.safety_sheet_read else "read its safety sheet",
        )
        for one in found
    ]
    desk.say(found, *table(("kit", "for", "parts", ""), rows, none="No kit is defined yet: printlore baths kit."))


@command.command("sheet-read")
@click.argument("kit")
@with_desk
def sheet_read(desk: Desk, kit: str) -> None:
    """Note that you have read the safety sheet of KIT."""
    made = mark_safety_sheet_read(desk.db, kit)
    desk.say(made, f"Noted: the safety sheet of {made.name} is read. Keep it in the room.")


@command.command("open")
@click.argument("name")
@click.argument("kit")
@click.argument("part")
@click.argument("volume")
@click.option("--price", default="", help="Of the bottle.")
@with_desk
def open_(desk: Desk, name: str, kit: str, part: str, volume: str, price: str) -> None:
    """Record an opened bottle NAME of PART of KIT with VOLUME mL."""
    made = open_concentrate(
        desk.db,
        name,
        kit,
        part,
        typed.number(volume, "Volume"),
        price=typed.number_if(price, "Price"),
    )
    desk.say(made, f"{made.name} is open.", BEFORE_OPENING)


@command.command()
@with_desk
def concentrates(desk: Desk) -> None:
    """Opened concentrates and what is left."""
    found = concentrates_left(desk.db)
    rows = [(one.concentrate.name, f"{one.left:.0f} mL", day(one.concentrate.opened_at)) for one in found]
    desk.say(found, *table(("concentrate", "left", "opened"), rows))


@command.command()
@click.argument("kit")
@click.argument("volume")
@click.option("--bottle", default="", help="What the bottle holds, mL.")
@click.option("--hardness", default="", help="Of the water, mg/L as calcium carbonate.")
@with_desk
def plan(desk: Desk, kit: str, volume: str, bottle: str, hardness: str) -> None:
    """How to mix VOLUME mL from KIT: order, vessels, error, cautions."""
    made = plan_mixing(
        desk.db,
        kit,
        typed.number(volume, "Volume"),
        bottle=typed.number_if(bottle, "Bottle"),
        hardness=typed.number_if(hardness, "Hardness"),
    )
    lines = [*care_for(made.kit.kit.use), ""]
    for number, step in enumerate(made.steps, 1):
        mark, volume = step.to_mark, words.number(step.volume, 1)
        what = f"{step.what} to the {words.shortest(mark, 2)} mL mark" if mark else f"{volume} mL {step.what}"
        how = f", {step.vessel} (share good to {words.number(100 * step.relative_error, 1)} %)" if step.measure else ""
        lines.append(f"{number}. {what}{how}. {step.caution}".rstrip())
    lines += ["", *(effect.why for effect in made.one_too_much.values()), made.water]
    if made.cost is not None:
        lines.append(f"A litre costs {words.number(made.cost, 2)}.")
    lines += [f"? {doubt}" for doubt in made.doubts]
    desk.say(made, *lines)


@command.command()
@click.argument("name")
@click.argument("volume")
@click.option("--kit", help="Which kit.")
@click.option("--process", required=True)
@click.option("--bottle", default="", help="What its bottle holds, mL; full if not given.")
@click.option("--no-air", is_flag=True, help="Kept with no air over it.")
@click.option("--strength", default="1", show_default=True, help="Relative to the kit's sheet.")
@click.option("--poured", default="", help='Order in which it went in: "water, A, B, water"; it is checked.')
@with_desk
def mix(
    desk: Desk,
    name: str,
    volume: str,
    kit: str | None,
    process: str,
    bottle: str,
    no_air: bool,
    strength: str,
    poured: str,
) -> None:
    """Record a bath NAME of VOLUME mL, mixed now."""
    made = mix_bath(
        desk.db,
        name,
        process,
        kit,
        typed.number(volume, "Volume"),
        bottle=typed.number_if(bottle, "Bottle"),
        no_air=no_air,
        strength=typed.number(strength, "Strength"),
        poured=poured_order(poured),
    )
    desk.say(made, f"{made.name} is mixed.")


@command.command()
@click.argument("bath")
@click.argument("size")
@click.option("--water-in", default="", help="Carried in, mL, weighed.")
@click.option("--out", default="", help="Carried out, mL, weighed.")
@click.option("--temperature", default="", help="As poured, degrees C.")
@click.option("--drum", default="")
@with_desk
def run(desk: Desk, bath: str, size: str, water_in: str, out: str, temperature: str, drum: str) -> None:
    """Record a drum load of SIZE (20x25 cm; of several: "20x25 cm + 13x18 cm") through BATH."""
    made = log_run(
        desk.db,
        bath,
        typed.area(size),
        drum=drum,
        water_in=typed.number_if(water_in, "Carried in"),
        solution_out=typed.number_if(out, "Carried out"),
        temperature=typed.number_if(temperature, "Temperature"),
    )
    twin = twin_of(desk.db, made)
    told = [twin_words(twin, "load")] if twin is not None else []
    desk.say(made, f"{made.name}: {1e4 * (made.area or 0):.0f} cm2.", *told)


@command.command("top-up")
@click.argument("bath")
@click.argument("volume")
@click.option("--out", default="0", help="Taken out first, mL.")
@click.option("--strength", default="1", show_default=True)
@with_desk
def top_up_(desk: Desk, bath: str, volume: str, out: str, strength: str) -> None:
    """Add VOLUME mL to BATH, after taking some out."""
    made = top_up(
        desk.db,
        bath,
        typed.number(volume, "Volume"),
        bled=typed.number(out, "Out"),
        strength=typed.number(strength, "Strength"),
    )
    added, bled = made.volume or 0.0, made.bled or 0.0
    told = f"{bath}: {words.shortest(added, 2)} mL in, {words.shortest(bled, 2)} mL out."
    twin = twin_of(desk.db, made)
    again = [twin_words(twin, "top up")] if twin is not None else []
    desk.say(made, told, *([TAKEN_OUT] if bled else []), *again)


@command.command("bleed")
@click.argument("bath")
@click.argument("volume")
@with_desk
def bleed_(desk: Desk, bath: str, volume: str) -> None:
    """Take VOLUME mL out of BATH."""
    made = bleed(desk.db, bath, typed.number(volume, "Volume"))
    desk.say(made, f"{bath}: {words.shortest(made.volume or 0.0, 2)} mL out.", TAKEN_OUT)


@command.command("gauge")
@click.argument("bath")
@click.argument("volume")
@with_desk
def gauge_(desk: Desk, bath: str, volume: str) -> None:
    """Record the VOLUME mL read off the bottle of BATH."""
    made = gauge(desk.db, bath, typed.number(volume, "Volume"))
    desk.say(made, f"{bath}: {words.shortest(made.volume or 0.0, 2)} mL in the bottle.")


@command.command("retire")
@click.argument("bath")
@with_desk
def retire_(desk: Desk, bath: str) -> None:
    """Give BATH up."""
    desk.say(retire(desk.db, bath), f"{bath} is retired. {GIVEN_UP}")


_EVENT = click.option("--event", type=click.IntRange(min=1), help="The event of this number (see `baths book`).")
_LOAD = click.option("--load", help="The drum load of this name.")


@command.command()
@click.argument("bath")
@with_desk
def book(desk: Desk, bath: str) -> None:
    """Everything ever done to BATH, oldest first: drum loads by name, other events by number. Marked if taken back."""
    found = bath_book(desk.db, bath)
    rows = [
        (
            str(one.id) if isinstance(one, BathEvent) else "",
            moment(one.at),
            entry_words(one),
            TAKEN_BACK if one.removed else "",
        )
        for one in found
    ]
    lines = table(("event", "when", "what", ""), rows, none="Nothing has gone through it yet.")
    desk.say([{"kind": kind_of(one), "entry": one} for one in found], *lines)


@command.command("take-back")
@click.argument("bath")
@_EVENT
@_LOAD
@with_desk
def take_back_(desk: Desk, bath: str, event: int | None, load: str | None) -> None:
    """Take something done to BATH back: the last thing, or what is named. It stays in its book, with a mark."""
    named = event is not None or load is not None
    entry = (
        take_entry_back(desk.db, named_entry(desk.db, bath, event=event, load=load))
        if named
        else take_back(desk.db, bath)
    )
    answer = {"bath": bath, "taken_back": kind_of(entry), "entry": entry}
    desk.say(answer, taken_back(entry_words(entry)))


@command.command("bring-back")
@click.argument("bath")
@_EVENT
@_LOAD
@with_desk
def bring_back_(desk: Desk, bath: str, event: int | None, load: str | None) -> None:
    """Let something done to BATH that was taken back count again, as it stood."""
    entry = bring_entry_back(desk.db, named_entry(desk.db, bath, event=event, load=load))
    answer = {"bath": bath, "brought_back": kind_of(entry), "entry": entry}
    desk.say(answer, brought_back(entry_words(entry)))


@command.command("correct-load")
@click.argument("load")
@click.option("--size", help='What really was in it: "20x25 cm", or several with a plus between.')
@click.option("--water-in", help="Carried in, mL, weighed; an empty one: not weighed.")
@click.option("--out", help="Carried out, mL, weighed; an empty one: not weighed.")
@click.option("--temperature", help="As poured, degrees C; an empty one: not read.")
@click.option("--seen", type=click.IntRange(min=1), help="The version that was read: refused if it was changed since.")
@with_desk
def correct_load_(
    desk: Desk,
    load: str,
    size: str | None,
    water_in: str | None,
    out: str | None,
    temperature: str | None,
    seen: int | None,
) -> None:
    """Put the drum load LOAD right; what is not named stays as it is."""
    there = find_load(desk.db, load)
    given = {
        "water_in": (water_in, "Carried in"),
        "solution_out": (out, "Carried out"),
        "temperature": (temperature, "Temperature"),
    }
    changes = {
        field: typed.number(text, what) if text.strip() else None
        for field, (text, what) in given.items()
        if text is not None
    }
    if size is not None:
        changes["area"] = typed.area(size)
    if not changes:
        raise ValueOutOfRange("Nothing was named to be put right. Give --size, --water-in, --out or --temperature.")
    made = correct_load(desk.db, there if seen is None else replace(there, version=seen), **changes)
    desk.say(made, f"Put right: {entry_words(made)}. What was logged first stays in the record.")


@command.command()
@click.argument("bath")
@click.option("--size", "sizes", multiple=True, help="Paper to forecast for; 20x25 and 30x40 cm if not given.")
@click.option("--loads", default="6", show_default=True, help="Planned tonight.")
@with_desk
def show(desk: Desk, bath: str, sizes: tuple[str, ...], loads: str) -> None:
    """What BATH is, what it can still do, and whether to keep, top up or retire it."""
    desk.write_as_studio()
    asked = [(size, typed.area(size)) for size in sizes] or USUAL_SIZES
    report = bath_report(desk.db, bath, sizes=asked, loads=int(typed.number(loads, "Loads")))
    content = report.content
    lines = [report.said]
    if report.options:
        lines.append(str(report.options[0]))
    strength = f"strength {words.number(content.strength, 2)}, " if report.develops else ""
    lines += [
        "",
        f"{content.volume:.0f} mL, {strength}{words.number(content.area_per_litre, 2)} m2/L, "
        f"age {content.age_days:.0f} closed-bottle days, {words.counted(content.loads, 'drum load')}.",
    ]
    doubts = list(report.kept.doubts)
    if report.develops:
        units = dict(zip(WEAR, ("mL/m2", "a day", "times", "times"), strict=True))
        lines += table(
            ("wear", "likely", "90 %", ""),
            [
                (name, words.figures(middle, 3), f"{words.figures(low, 3)} to {words.figures(high, 3)}", units[name])
                for name, middle, low, high in report.belief.wear_table()
            ],
        )
        doubts += [flag.words for flag in report.belief.flags]
    lines += [f"? {doubt}" for doubt in doubts]
    desk.say(
        {
            "said": report.said,
            "state": report.state,
            "content": content,
            "options": [
                {"do": str(one), "cost": one.cost, "spoiled": one.spoiled, "then": str(one.capacity)}
                for one in report.options
            ],
            "doubts": report.kept.doubts,
        },
        *lines,
    )


@command.command()
@click.argument("bath")
@click.option("--size", default="20x25", show_default=True)
@click.option("--strength", default="1", show_default=True)
@with_desk
def steady(desk: Desk, bath: str, size: str, strength: str) -> None:
    """The least top-up for each load that holds BATH steady."""
    best, tried = steady_plan(desk.db, bath, size=(size, typed.area(size)), strength=typed.number(strength, "Strength"))
    first = (
        "Even a tenth of the bath for each load does not hold it: renew it instead."
        if best is None
        else f"Add {best.top_up:.0f} mL after each {size} and take {best.bled:.0f} mL out before it."
    )
    rows = [
        (
            f"{one.top_up:.0f} mL",
            words.number(one.strength, 2),
            f"{words.number(one.area_per_litre, 2)} m2/L",
            f"{one.mean_age:.0f} loads",
            words.out_of_ten(one.spoiled),
            f"{one.a_square_metre:.0f} mL/m2",
        )
        for one in tried
    ]
    desk.say(tried, first, "", *table(("each load", "strength", "area", "mean age", "spoiled", "spent"), rows))


@command.command("labels")
@click.argument("out", type=OutFile())
@click.option("--bath", "baths", multiple=True)
@click.option("--concentrate", "bottles", multiple=True)
@click.option("--container", "containers", multiple=True)
@with_desk
def labels_(
    desk: Desk, out: Path, baths: tuple[str, ...], bottles: tuple[str, ...], containers: tuple[str, ...]
) -> None:
    """Write labels with hazards and QR codes to OUT (PDF): of what is named, or of everything in use."""
    write_file(out, labels(desk.db, baths=baths, concentrates=bottles, containers=containers))
    desk.say({"written": str(out)}, f"Labels are in {out}.")
