"""``printlore baths waste``: containers, what the authority said, the diary of exposure."""

import click

from printlore.core.calendar import day, moment
from printlore.faces import typed, words
from printlore.faces.cli.desk import Desk, table, with_desk
from printlore.faces.telling import TAKEN_BACK, brought_back, diary_words, taken_back, waste_words
from printlore.records.baths_waste import HOLDS
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


@click.group()
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
    desk.say(found, *table(("line", "when", "what", ""), rows, none="Nothing was poured in yet."))


@waste.command("take-back")
@click.argument("line", type=click.IntRange(min=1))
@with_desk
def waste_take_back(desk: Desk, line: int) -> None:
    """Take LINE of `baths waste book` back. It stays there, with a mark."""
    entry = take_waste_back(desk.db, line)
    desk.say(entry, taken_back(waste_words(entry)))


@waste.command("bring-back")
@click.argument("line", type=click.IntRange(min=1))
@with_desk
def waste_bring_back(desk: Desk, line: int) -> None:
    """Let LINE of `baths waste book` that was taken back count again."""
    entry = bring_waste_back(desk.db, line)
    desk.say(entry, brought_back(waste_words(entry)))


@waste.command("diary")
@click.argument("minutes", required=False)
@click.argument("substances", required=False)
@click.option("--person", default="printer", show_default=True)
@click.option("--gloves", is_flag=True, help="They were worn.")
@click.option("--goggles", is_flag=True, help="They were worn.")
@click.option("--ventilation", is_flag=True, help="The fan was on or a window open.")
@click.option("--symptoms", default="")
@click.option("--take-back", type=click.IntRange(min=1), help="Take the entry of this number back.")
@click.option("--bring-back", type=click.IntRange(min=1), help="Let the entry of this number count again.")
@with_desk
def waste_diary(
    desk: Desk,
    minutes: str | None,
    substances: str | None,
    person: str,
    gloves: bool,
    goggles: bool,
    ventilation: bool,
    symptoms: str,
    take_back: int | None,
    bring_back: int | None,
) -> None:
    """The diary of exposure, newest first; with MINUTES and SUBSTANCES, a new entry. Marked if taken back."""
    done = []
    if take_back is not None:
        done.append(taken_back(diary_words(take_diary_back(desk.db, take_back))))
    if bring_back is not None:
        done.append(brought_back(diary_words(bring_diary_back(desk.db, bring_back))))
    if minutes is not None:
        write_diary(
            desk.db,
            person,
            typed.number(minutes, "Minutes"),
            substances or "",
            gloves=gloves,
            goggles=goggles,
            ventilation=ventilation,
            symptoms=symptoms,
        )
    entries = diary(desk.db)
    rows = [(str(one.id), day(one.at), diary_words(one), TAKEN_BACK if one.removed else "") for one in entries]
    warned = symptoms_said(entries)
    desk.say(entries, *done, *([warned] if warned else []), *table(("entry", "day", "what", ""), rows))
