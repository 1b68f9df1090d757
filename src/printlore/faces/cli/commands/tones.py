"""Light and dark tones of a print that want different filters."""

import click

from printlore.errors import ValueOutOfRange
from printlore.faces import typed, words
from printlore.faces.cli.desk import Desk, Steps, table, with_desk
from printlore.faces.cli.saying import said
from printlore.services.tones import ToneEntry, crossover, read_tones


@click.group(cls=Steps)
def command() -> None:
    """Light, middle and dark tones: read them, and see what filters can do for all at once."""


@command.command()
@click.argument("trial")
@click.option(
    "--tone",
    "tones",
    multiple=True,
    required=True,
    help='"name: red green blue", and "-> red green blue" if it should not be neutral; several times.',
)
@with_desk
def read(desk: Desk, trial: str, tones: tuple[str, ...]) -> None:
    """Record tones of TRIAL, for example --tone "light: 0,31 0,33 0,30" --tone "dark: 1,40 1,38 1,41"."""
    found = read_tones(desk.db, trial, [_tone(text) for text in tones])
    desk.say(found, f"{len(found)} tones of {trial} are recorded.")


def _tone(text: str) -> ToneEntry:
    name, colon, rest = text.partition(":")
    if not colon:
        raise ValueOutOfRange(f'"{text}" names no tone. Write for example "light: 0,31 0,33 0,30".')
    density, arrow, aim = rest.partition("->")
    what = f"The {name.strip()} tone"
    return ToneEntry(
        name=name.strip(),
        density=typed.three(density, what),
        aim_density=typed.three(aim, f"{what}'s aim") if arrow else None,
    )


@command.command()
@click.argument("frame")
@with_desk
def show(desk: Desk, frame: str) -> None:
    """The best that filters and time can do for the tones of FRAME, and what is left of each; or what to read."""
    answer = crossover(desk.db, frame)
    lines = said(answer.words)
    if answer.compromise is not None:
        best = answer.compromise
        lines.append(
            f"Best for all: {words.number(best.magenta, 1, signed=True)} M "
            f"{words.number(best.yellow, 1, signed=True)} Y (CC), {words.number(best.stops, 2, signed=True)} stops."
        )
        rows = [(one.name, one.before.words, one.after.words, words.number(one.delta_e, 1)) for one in best.tones]
        lines += table(("tone", "now", "then", "dE00 left"), rows)
    desk.say(answer, *lines)
