"""Steps of ``printlore baths``: whether the process is where it was, by control patches; what is at fault."""

import click

from printlore.core.calendar import moment
from printlore.core.control.faults import SYMPTOMS
from printlore.core.control.limits import QUANTITIES, Wedge
from printlore.errors import ValueOutOfRange
from printlore.faces import typed, words
from printlore.faces.bath_typed import results_of_tests
from printlore.faces.cli.desk import Desk, table, with_desk
from printlore.faces.telling import TAKEN_BACK
from printlore.services.bath_report import process_verdict
from printlore.services.control import (
    EXPOSED_BY,
    bring_control_back,
    control_patches,
    find_fault,
    log_control,
    log_fault,
    set_limits,
    take_control_back,
)


@click.command()
@click.argument("bath")
@click.argument("densities")
@click.option("--exposed-by", type=click.Choice(list(EXPOSED_BY)), default="frozen strip", show_default=True)
@click.option("--source", default="typed", show_default=True)
@click.option("--good", is_flag=True, help="Known to be good: it makes the aim.")
@with_desk
def control(desk: Desk, bath: str, densities: str, exposed_by: str, source: str, good: bool) -> None:
    """Record a control patch of BATH: twelve DENSITIES, white, light, dark, black, each red green blue."""
    log_control(desk.db, bath, _typed_wedge(densities), exposed_by=exposed_by, source=source, good=good)
    _say_control(desk, exposed_by)


def _typed_wedge(text: str) -> Wedge:
    """Four steps of three densities, as typed."""
    values = typed.numbers(text, "Densities")
    if len(values) != 12:
        raise ValueOutOfRange(
            "A control patch has twelve densities (white, light, dark, black; red green blue); "
            f"{len(values)} were given."
        )
    steps = [(values[i], values[i + 1], values[i + 2]) for i in range(0, 12, 3)]
    return Wedge(white=steps[0], light=steps[1], dark=steps[2], black=steps[3])


@click.command()
@click.option("--exposed-by", type=click.Choice(list(EXPOSED_BY)))
@with_desk
def process(desk: Desk, exposed_by: str | None) -> None:
    """Whether the process is where it was."""
    _say_control(desk, exposed_by)


def _say_control(desk: Desk, exposed_by: str | None) -> None:
    found = process_verdict(desk.db, exposed_by)
    desk.say(
        found,
        f"{found.verdict.value.capitalize()}. {found.advice}",
        *(f"- {finding}" for finding in found.findings),
        found.foreseen,
        f"{found.patches} patches ({found.exposed_by}); limits {found.limits}.",
    )


@click.command()
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
    head = ("", "read", "bath", "exposed by", "light step", "")
    desk.say(found, *done, *table(head, rows, none="No control patch has been read yet."))


@click.command()
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


@click.command()
@click.option("--seen", multiple=True, type=click.Choice(list(SYMPTOMS)), help="What is seen.")
@click.option("--not-seen", multiple=True, type=click.Choice(list(SYMPTOMS)), help="Looked for, and not there.")
@click.option("--test", "tests", multiple=True, help='"thermometer in the drum=no"')
@click.option("--was", help="What it turned out to be: recorded for the next time.")
@with_desk
def fault(
    desk: Desk, seen: tuple[str, ...], not_seen: tuple[str, ...], tests: tuple[str, ...], was: str | None
) -> None:
    """Find a fault: likely causes, and the cheapest test that splits them."""
    results = results_of_tests(tests)
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


STEPS = (control, process, patches, limits, fault)
