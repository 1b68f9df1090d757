"""What the prints taught of lots, developers and films."""

import click

from printlore.faces import words
from printlore.faces.cli.desk import Desk, table, with_desk
from printlore.services.taught import lessons


@click.command()
@with_desk
def command(desk: Desk) -> None:
    """Every lot, developer and film: magenta and yellow [CC] and time that answer it, and from how many trials."""
    effects = lessons(desk.db).effects
    rows = [
        (
            effect.kind,
            effect.name,
            f"{words.number(effect.magenta, 1, signed=True)} ± {words.number(effect.magenta_error, 1)}",
            f"{words.number(effect.yellow, 1, signed=True)} ± {words.number(effect.yellow_error, 1)}",
            words.factor(effect.light),
            str(len(effect.trials)),
        )
        for effect in effects
    ]
    lines = table(("effect", "of", "M", "Y", "time", "trials"), rows) if rows else ["Nothing is learned yet."]
    desk.say(effects, *lines)
