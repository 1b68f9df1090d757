"""What the prints taught of lots, baths and films."""

import click

from printlore.core.memory.explain import shared_effects
from printlore.faces import words
from printlore.faces.cli.desk import Desk, table, with_desk
from printlore.services.memory import current_memory


@click.command()
@with_desk
def command(desk: Desk) -> None:
    """Every shared effect with its error, in CC of the red, green and blue layers, and how many trials bear on it."""
    effects = shared_effects(current_memory(desk.db))
    rows = [
        (
            effect.kind,
            effect.name,
            *(
                f"{words.number(100 * value, 1, signed=True)} ± {words.number(100 * error, 1)}"
                for value, error in zip(effect.log_exposure, effect.standard_error, strict=True)
            ),
            str(len(effect.trials)),
        )
        for effect in effects
    ]
    lines = table(("effect", "of", "red", "green", "blue", "trials"), rows) if rows else ["Nothing is learned yet."]
    desk.say(effects, *lines)
