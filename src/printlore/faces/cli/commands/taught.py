"""What the prints taught of lots, developers and films, and how well prints repeat."""

import click

from printlore.core.advice.taught import taught_words
from printlore.errors import ValueOutOfRange
from printlore.faces import words
from printlore.faces.cli.desk import Desk, table, with_desk
from printlore.faces.telling import picture_words, repeats_words
from printlore.services.taught import evidence_of, lessons


@click.command()
@click.option("--of", "of", nargs=2, metavar="KIND NAME", help="Which prints say so: lot, bath or film, and its name.")
@click.option("--unread", is_flag=True, help="With --of film NAME: of its negatives that were not read.")
@click.option(
    "--pictures", "drawn", is_flag=True, help="Curves, filters, ageing and lamp, with errors; whole with --json."
)
@click.option("--repeats", "alike", is_flag=True, help="How far prints made alike scatter.")
@with_desk
def command(desk: Desk, of: tuple[str, str] | None, unread: bool, drawn: bool, alike: bool) -> None:
    """Every lot, developer and film: magenta and yellow [CC] and time that answer it, and from how many trials."""
    if (of is not None) + drawn + alike > 1:
        raise ValueOutOfRange("--of, --pictures and --repeats each show something else. Give one of them at a time.")
    if unread and of is None:
        raise ValueOutOfRange("--unread goes with --of film NAME. Give both, or neither.")
    if of is not None:
        _say_evidence(desk, *of, unread)
        return
    learned = lessons(desk.db)
    if drawn:
        desk.say(learned.pictures, *(line for picture in learned.pictures for line in picture_words(picture)))
        return
    if alike:
        desk.say(learned.repeats, repeats_words(learned.repeats))
        return
    effects = learned.effects
    rows = [
        (
            effect.kind,
            effect.words,
            f"{words.number(effect.magenta, 1, signed=True)} ± {words.number(effect.magenta_error, 1)}",
            f"{words.number(effect.yellow, 1, signed=True)} ± {words.number(effect.yellow_error, 1)}",
            words.factor(effect.light),
            str(len(effect.trials)),
        )
        for effect in effects
    ]
    desk.say(effects, *table(("effect", "of", "M", "Y", "time", "trials"), rows, none="Nothing is learned yet."))


def _say_evidence(desk: Desk, kind: str, name: str, unread: bool) -> None:
    found = evidence_of(desk.db, kind, name, unread)
    said = taught_words(name, "unread" if unread else "")
    rows = [
        (", ".join(one.trials), words.number(one.without, 2), words.number(100 * one.trust) + " %") for one in found
    ]
    lines = table(("print", "error without it [CC]", "counts"), rows, none=f"No print shows {said} yet.")
    now = [f"{said} is known to {words.number(found[0].error, 2)} CC."] if found else []
    desk.say(found, *now, *lines)
