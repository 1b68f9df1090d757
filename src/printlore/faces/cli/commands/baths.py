"""Baths: mix, use, top up and retire them; control patches, faults, warmth, waste."""

from dataclasses import replace
from pathlib import Path

import click

from printlore.core.bath.kit import Use
from printlore.core.bath.learning import WEAR
from printlore.core.bath.temperature import hot_volume, poured
from printlore.core.calendar import day, moment
from printlore.core.control.faults import SYMPTOMS, TESTS
from printlore.core.control.limits import QUANTITIES, Wedge
from printlore.core.quantities import parse_size
from printlore.errors import Refused, UnknownRecord, ValueOutOfRange
from printlore.faces import typed, words
from printlore.faces.bath_typed import kit_parts
from printlore.faces.cli.desk import Desk, OutFile, Steps, table, with_desk
from printlore.faces.telling import TAKEN_BACK, diary_words, entry_words, waste_words
from printlore.files import write_file
from printlore.records.baths import BathEvent
from printlore.records.baths_kept import KitRecord
from printlore.records.baths_waste import HOLDS
from printlore.services.bath_book import (
    Entry,
    bath_book,
    bring_entry_back,
    correct_load,
    find_entry,
    find_load,
    kind_of,
    take_back,
    take_entry_back,
)
from printlore.services.bath_labels import labels
from printlore.services.bath_report import USUAL_SIZES, bath_report, baths_in_use, foreseen, steady_plan
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
from printlore.services.control import (
    EXPOSED_BY,
    bring_control_back,
    control_patches,
    control_report,
    find_fault,
    log_control,
    log_fault,
    set_limits,
    take_control_back,
)
from printlore.services.entry import list_records
from printlore.services.warmth import advise_pour, advise_time, log_cooling_curve, log_own_time
from printlore.services.waste import (
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


@click.group(cls=Steps)
def command() -> None:
    """Mix, use, top up and retire baths; control patches, faults, warmth, waste."""


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
    lines = table(("bath", "mixed", "volume", "strength", "area", "loads"), rows)
    desk.say([row[:2] for row in found], *(lines if rows else ("No bath is in use; mix one.",)))


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
    lines = table(("kit", "for", "parts", ""), rows) if rows else ["No kit is defined yet: printlore baths kit."]
    desk.say(found, *lines)


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
@click.option("--poured", help='Order in which it went in: "water, A, B, water"; it is checked.')
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
    poured: str | None,
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
        poured=[piece.strip() for piece in poured.split(",")] if poured else None,
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
    desk.say(made, f"{made.name}: {1e4 * (made.area or 0):.0f} cm2.")


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
    desk.say(made, told, *([TAKEN_OUT] if bled else []))


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
    lines = table(("event", "when", "what", ""), rows) if rows else ["Nothing has gone through it yet."]
    desk.say([{"kind": kind_of(one), "entry": one} for one in found], *lines)


def _entry(desk: Desk, bath: str, event: int | None, load: str | None) -> Entry:
    if (event is None) == (load is None):
        raise ValueOutOfRange("Name one of both: --event NUMBER or --load NAME; `printlore baths book` lists them.")
    entry = find_load(desk.db, load) if load is not None else find_entry(desk.db, BathEvent, event or 0)
    if entry.bath != bath:
        raise UnknownRecord(f'That is in the book of "{entry.bath}", not of "{bath}". Name the right bath.')
    return entry


@command.command("take-back")
@click.argument("bath")
@_EVENT
@_LOAD
@with_desk
def take_back_(desk: Desk, bath: str, event: int | None, load: str | None) -> None:
    """Take something done to BATH back: the last thing, or what is named. It stays in its book, with a mark."""
    named = event is not None or load is not None
    entry = take_entry_back(desk.db, _entry(desk, bath, event, load)) if named else take_back(desk.db, bath)
    answer = {"bath": bath, "taken_back": kind_of(entry), "entry": entry}
    desk.say(answer, f"Taken back: {entry_words(entry)}.")


@command.command("bring-back")
@click.argument("bath")
@_EVENT
@_LOAD
@with_desk
def bring_back_(desk: Desk, bath: str, event: int | None, load: str | None) -> None:
    """Let something done to BATH that was taken back count again, as it stood."""
    entry = bring_entry_back(desk.db, _entry(desk, bath, event, load))
    answer = {"bath": bath, "brought_back": kind_of(entry), "entry": entry}
    desk.say(answer, f"Brought back: {entry_words(entry)}; it counts again.")


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
    asked = [(size, wide * high / 1e6) for size in sizes for wide, high in (parse_size(size),)] or USUAL_SIZES
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
    wide, high = parse_size(size)
    best, tried = steady_plan(
        desk.db, bath, size=(size, wide * high / 1e6), strength=typed.number(strength, "Strength")
    )
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


@command.command()
@click.argument("bath")
@click.argument("densities")
@click.option("--exposed-by", type=click.Choice(list(EXPOSED_BY)), default="frozen strip", show_default=True)
@click.option("--source", default="typed", show_default=True)
@click.option("--good", is_flag=True, help="Known to be good: it makes the aim.")
@with_desk
def control(desk: Desk, bath: str, densities: str, exposed_by: str, source: str, good: bool) -> None:
    """Record a control patch of BATH: twelve DENSITIES, white, light, dark, black, each red green blue."""
    log_control(desk.db, bath, wedge_from(densities), exposed_by=exposed_by, source=source, good=good)
    _say_control(desk, exposed_by)


def wedge_from(text: str) -> Wedge:
    """Four steps of three densities, as typed."""
    values = typed.numbers(text, "Densities")
    if len(values) != 12:
        raise ValueOutOfRange(
            "A control patch has twelve densities (white, light, dark, black; red green blue); "
            f"{len(values)} were given."
        )
    steps = [(values[i], values[i + 1], values[i + 2]) for i in range(0, 12, 3)]
    return Wedge(white=steps[0], light=steps[1], dark=steps[2], black=steps[3])


@command.command()
@click.option("--exposed-by", type=click.Choice(list(EXPOSED_BY)))
@with_desk
def process(desk: Desk, exposed_by: str | None) -> None:
    """Whether the process is where it was."""
    _say_control(desk, exposed_by)


def _say_control(desk: Desk, exposed_by: str | None) -> None:
    report = control_report(desk.db, exposed_by)
    if report is None:
        raise Refused("No control patch has been read yet; read a good one first, it becomes the aim.")
    judged = report.judged
    expected = foreseen(desk.db, report)
    answer = {
        "verdict": judged.verdict,
        "findings": judged.findings,
        "advice": judged.advice,
        "foreseen": expected.said,
        "patches": len(report.rows),
        "newest": report.rows[-1].id,
    }
    desk.say(
        answer,
        f"{judged.verdict.value.capitalize()}. {judged.advice}",
        *(f"- {finding}" for finding in judged.findings),
        expected.said,
        f"{len(report.rows)} patches ({report.exposed_by}); limits {report.limits.source}.",
    )


@command.command()
@click.option("--remove", type=click.IntRange(min=1), help="Take the patch of this number out of the charts.")
@click.option("--bring-back", type=click.IntRange(min=1), help="Let the patch of this number count again.")
@with_desk
def patches(desk: Desk, remove: int | None, bring_back: int | None) -> None:
    """Control patches by number, oldest first. One that was taken back keeps its row, and has a mark."""
    done = []
    if remove is not None and remove == bring_back:
        raise ValueOutOfRange(
            f"Control patch {remove} cannot be taken back and brought back at once; give one of both."
        )
    if remove is not None:
        take_control_back(desk.db, remove)
        done.append(f"Control patch {remove} is taken back; its row stays in the record.")
    if bring_back is not None:
        bring_control_back(desk.db, bring_back)
        done.append(f"Control patch {bring_back} is brought back; it counts again.")
    found = control_patches(desk.db)
    rows = [
        (
            str(one.id),
            moment(one.at),
            one.bath,
            one.exposed_by,
            words.densities(one.wedge.light),
            ", ".join(filter(None, ("good" if one.good else "", TAKEN_BACK if one.removed else ""))),
        )
        for one in found
    ]
    lines = table(("", "read", "bath", "exposed by", "light step", ""), rows)
    desk.say(found, *done, *(lines if rows else ["No control patch has been read yet."]))


@command.command()
@click.argument("source")
@click.option("--look", required=True, help='"0.02 0.06 0.06 0.08": white, light step, contrast, black.')
@click.option("--stop", required=True)
@with_desk
def limits(desk: Desk, source: str, look: str, stop: str) -> None:
    """Use typed limits from SOURCE, for example a paper's own sheet."""
    sides = []
    for name, text in (("look", look), ("stop", stop)):
        values = typed.numbers(text, name)
        if len(values) != len(QUANTITIES):
            raise ValueOutOfRange(f"Four limits are needed ({', '.join(QUANTITIES)}); {len(values)} were given.")
        sides.append(dict(zip(QUANTITIES, values, strict=True)))
    desk.say(set_limits(desk.db, sides[0], sides[1], source), f"Limits from {source} are in use.")


@command.command()
@click.option("--seen", multiple=True, type=click.Choice(list(SYMPTOMS)), help="What is seen.")
@click.option("--not-seen", multiple=True, type=click.Choice(list(SYMPTOMS)), help="Looked for, and not there.")
@click.option("--test", "tests", multiple=True, help='"thermometer in the drum=no"')
@click.option("--was", help="What it turned out to be: recorded for the next time.")
@with_desk
def fault(
    desk: Desk, seen: tuple[str, ...], not_seen: tuple[str, ...], tests: tuple[str, ...], was: str | None
) -> None:
    """Find a fault: likely causes, and the cheapest test that splits them."""
    results = {}
    for text in tests:
        name, _, answer = text.partition("=")
        if answer.strip().casefold() not in ("yes", "no"):
            raise ValueOutOfRange(
                f'The test "{text}" cannot be read. Write "name=yes" or "name=no"; '
                f"tests are {', '.join(test.name for test in TESTS)}."
            )
        results[name.strip()] = answer.strip().casefold() == "yes"
    if was is not None:
        desk.say(log_fault(desk.db, was, seen, results=results), f"Recorded: it was {was}.")
        return
    report = find_fault(desk.db, seen, not_seen=not_seen, results=results)
    rows = [(f"{100 * one.probability:.0f} %", one.name, one.cure) for one in report.suspects[:5]]
    first = report.tests[0]
    desk.say(
        report,
        f"Likeliest: {report.suspects[0].name}.",
        f"Next: {first.test.do} {first.test.question} ({words.shortest(first.test.minutes, 2)} min)",
        "Look in this order: " + ", ".join(f"{place.value} {100 * p:.0f} %" for place, p in report.places) + ".",
        "",
        *table(("chance", "cause", "cure"), rows),
        "",
        *table(
            ("test", "min", "bits a minute"),
            [
                (one.test.name, words.shortest(one.test.minutes, 2), words.number(one.bits_a_minute, 3))
                for one in report.tests[:4]
            ],
        ),
    )


@command.command()
@click.option("--cold", required=True, help="Degrees C.")
@click.option("--hot", required=True, help="Degrees C.")
@click.option("--aim", required=True, help="Degrees C.")
@click.option("--total", required=True, help="mL")
@with_desk
def water(desk: Desk, cold: str, hot: str, aim: str, total: str) -> None:
    """How much hot and cold water make the total at the aimed temperature."""
    desk.write_as_studio()
    whole = typed.number(total, "Total")
    part = hot_volume(whole, typed.number(aim, "Aim"), typed.number(cold, "Cold"), typed.number(hot, "Hot"))
    desk.say({"hot": part, "cold": whole - part}, f"{part:.0f} mL hot and {whole - part:.0f} mL cold.")


@command.command()
@click.option("--volume", required=True, help="Poured, mL.")
@click.option("--at", "temperature", required=True, help="Degrees C.")
@click.option("--drum", required=True, help="Mass of its plastic, g.")
@click.option("--drum-at", required=True, help="Degrees C.")
@with_desk
def pour(desk: Desk, volume: str, temperature: str, drum: str, drum_at: str) -> None:
    """Where a small pour in a cold drum settles, for 15, 30 and all of the wall warming."""
    desk.write_as_studio()
    values = [
        poured(
            typed.number(volume, "Volume"),
            typed.number(temperature, "Temperature"),
            typed.number(drum, "Drum"),
            typed.number(drum_at, "Drum at"),
            share,
        )
        for share in (0.15, 0.30, 1.0)
    ]
    desk.say(
        values,
        f"{words.number(values[0], 1)} degrees C if 15 % of the wall warms, {words.number(values[1], 1)} if 30 %, "
        f"{words.number(values[2], 1)} if all. "
        "Prewarm the drum; measure a pour of plain water to know (shares from memory).",
    )


@command.command("curve")
@click.argument("drum")
@click.option("--volume", required=True, help="Poured, mL.")
@click.option("--drum-at", required=True, help="Drum before, degrees C.")
@click.option("--times", required=True, help='"0 10 20 40": s since the pour.')
@click.option("--degrees", required=True, help='"35 34.2 33.7 33.1"')
@with_desk
def curve(desk: Desk, drum: str, volume: str, drum_at: str, times: str, degrees: str) -> None:
    """Record how a pour cooled in DRUM."""
    fitted = log_cooling_curve(
        desk.db,
        drum,
        typed.number(volume, "Volume"),
        typed.number(drum_at, "Drum at"),
        typed.numbers(times, "Times"),
        typed.numbers(degrees, "Degrees"),
    )
    desk.say(
        fitted,
        f"{drum}: the wall takes {fitted.wall_heat:.0f} ± {fitted.wall_heat_error:.0f} J/K, "
        f"half of the way in {0.693 / fitted.rate:.0f} s.",
        *(f"? {flag.words}" for flag in fitted.flags),
    )


@command.command("start")
@click.argument("drum")
@click.option("--aim", required=True, help="Mean over the step, degrees C.")
@click.option("--seconds", required=True, help="Of the step.")
@click.option("--volume", required=True, help="Poured, mL.")
@click.option("--drum-at", required=True, help="Degrees C.")
@with_desk
def start(desk: Desk, drum: str, aim: str, seconds: str, volume: str, drum_at: str) -> None:
    """At which temperature to pour into DRUM for the right mean."""
    advice = advise_pour(
        desk.db,
        drum,
        aim=typed.number(aim, "Aim"),
        duration=typed.number(seconds, "Seconds"),
        volume=typed.number(volume, "Volume"),
        wall=typed.number(drum_at, "Drum at"),
    )
    desk.say(advice, f"Pour at {words.number(advice.start, 1)} degrees C; it ends at {words.number(advice.end, 1)}.")


@command.command("own-time")
@click.argument("process_name")
@click.argument("temperature")
@click.argument("seconds")
@with_desk
def own_time(desk: Desk, process_name: str, temperature: str, seconds: str) -> None:
    """Record a trial that came out right: developer at TEMPERATURE for SECONDS."""
    made = log_own_time(
        desk.db, process_name, typed.number(temperature, "Temperature"), typed.number(seconds, "Seconds")
    )
    desk.say(made, f"{words.shortest(made.time, 2)} s at {words.shortest(made.temperature, 2)} degrees C is recorded.")


@command.command("time")
@click.argument("process_name")
@click.argument("temperature")
@with_desk
def time_(desk: Desk, process_name: str, temperature: str) -> None:
    """Developer time for today's TEMPERATURE, from own trials of a process only."""
    today = typed.number(temperature, "Temperature")
    found = advise_time(desk.db, process_name, today)
    desk.say(
        found,
        f"{words.estimate(found, 0)} s at {words.shortest(today, 2)} degrees C.",
        *(f"? {flag.words}" for flag in found.flags),
    )


@command.group()
def waste() -> None:
    """Waste containers, what the authority said, the diary of exposure."""


@waste.command("list")
@with_desk
def waste_list(desk: Desk) -> None:
    """Containers and how full they are."""
    states = waste_report(desk.db)
    rows = [
        (
            one.container.name,
            one.holds_words,
            f"{words.number(one.litres, 2)} of {words.shortest(one.container.capacity, 2)} L",
            one.answer.answer if one.answer else "ask your local authority",
        )
        for one in states
    ]
    desk.say(states, *table(("container", "for", "holds", "the authority says"), rows))


@waste.command("container")
@click.argument("name")
@click.argument("holds", type=click.Choice(list(HOLDS)))
@click.argument("litres")
@with_desk
def waste_container(desk: Desk, name: str, holds: str, litres: str) -> None:
    """Set up a container of so many LITRES for one kind of waste."""
    made = add_container(desk.db, name, holds, typed.number(litres, "Litres"))
    desk.say(made, f"{made.name}: {HOLDS[made.holds]}.")


@waste.command("pour")
@click.argument("container")
@click.argument("litres")
@click.argument("what")
@click.option("--holds", type=click.Choice(list(HOLDS)), help="Which kind it is: checked.")
@with_desk
def waste_pour(desk: Desk, container: str, litres: str, what: str, holds: str | None) -> None:
    """Record LITRES of WHAT poured into CONTAINER."""
    made = pour_waste(desk.db, container, typed.number(litres, "Litres"), what, holds=holds)
    desk.say(made, f"{words.shortest(made.litres, 2)} L in {container}.")


@waste.command("answer")
@click.argument("authority")
@click.argument("holds", type=click.Choice(list(HOLDS)))
@click.argument("answer")
@with_desk
def waste_answer(desk: Desk, authority: str, holds: str, answer: str) -> None:
    """Record what the local AUTHORITY said about a kind of waste."""
    desk.say(record_answer(desk.db, authority, holds, answer), "Recorded.")


@waste.command("hand-over")
@click.argument("container")
@click.argument("to")
@with_desk
def waste_hand_over(desk: Desk, container: str, to: str) -> None:
    """Record that CONTAINER was handed in."""
    made = hand_over(desk.db, container, to)
    desk.say(made, f"{words.number(-made.litres, 2)} L handed to {made.handed_to}.")


@waste.command("book")
@with_desk
def waste_book_(desk: Desk) -> None:
    """Everything poured in and handed over, by number, oldest first. Marked if taken back."""
    found = waste_book(desk.db)
    rows = [(str(one.id), moment(one.at), waste_words(one), TAKEN_BACK if one.removed else "") for one in found]
    desk.say(found, *(table(("line", "when", "what", ""), rows) if rows else ["Nothing was poured in yet."]))


@waste.command("take-back")
@click.argument("line", type=click.IntRange(min=1))
@with_desk
def waste_take_back(desk: Desk, line: int) -> None:
    """Take LINE of `baths waste book` back. It stays there, with a mark."""
    entry = take_waste_back(desk.db, line)
    desk.say(entry, f"Taken back: {waste_words(entry)}.")


@waste.command("bring-back")
@click.argument("line", type=click.IntRange(min=1))
@with_desk
def waste_bring_back(desk: Desk, line: int) -> None:
    """Let LINE of `baths waste book` that was taken back count again."""
    entry = bring_waste_back(desk.db, line)
    desk.say(entry, f"Brought back: {waste_words(entry)}; it counts again.")


@waste.command("diary")
@click.argument("minutes", required=False)
@click.argument("substances", required=False)
@click.option("--person", default="printer", show_default=True)
@click.option("--no-gloves", is_flag=True)
@click.option("--no-goggles", is_flag=True)
@click.option("--no-ventilation", is_flag=True)
@click.option("--symptoms", default="")
@click.option("--take-back", type=click.IntRange(min=1), help="Take the entry of this number back.")
@click.option("--bring-back", type=click.IntRange(min=1), help="Let the entry of this number count again.")
@with_desk
def waste_diary(
    desk: Desk,
    minutes: str | None,
    substances: str | None,
    person: str,
    no_gloves: bool,
    no_goggles: bool,
    no_ventilation: bool,
    symptoms: str,
    take_back: int | None,
    bring_back: int | None,
) -> None:
    """The diary of exposure, newest first; with MINUTES and SUBSTANCES, a new entry. Marked if taken back."""
    done = []
    if take_back is not None:
        done.append(f"Taken back: {diary_words(take_diary_back(desk.db, take_back))}.")
    if bring_back is not None:
        done.append(f"Brought back: {diary_words(bring_diary_back(desk.db, bring_back))}; it counts again.")
    if minutes is not None:
        write_diary(
            desk.db,
            person,
            typed.number(minutes, "Minutes"),
            substances or "",
            gloves=not no_gloves,
            goggles=not no_goggles,
            ventilation=not no_ventilation,
            symptoms=symptoms,
        )
    entries = diary(desk.db)
    rows = [(str(one.id), day(one.at), diary_words(one), TAKEN_BACK if one.removed else "") for one in entries]
    warned = symptoms_said(entries)
    desk.say(entries, *done, *([warned] if warned else []), *table(("entry", "day", "what", ""), rows))


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
