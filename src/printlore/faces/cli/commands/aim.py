"""What a negative should come out as: see it, state a tone or a density, take it back."""

import click

from printlore.faces import typed, words
from printlore.faces.cli.desk import Desk, Steps, with_desk
from printlore.faces.telling import TAKEN_BACK
from printlore.services import aims


@click.group(cls=Steps)
def command() -> None:
    """The aim of a frame's reference patch. If nothing is said it is a neutral middle grey, L* 52.

    The first print that is kept and measured becomes the aim of the later ones, unless a density was stated.
    """


@command.command()
@click.argument("frame")
@with_desk
def show(desk: Desk, frame: str) -> None:
    """What was stated for FRAME."""
    found = aims.stated_aims(desk.db, frame)
    lines = [f"Tone: {words.tone(found.tone)}{' (the usual grey)' if found.usual else ''}."]
    lines += [f"On {one.family}: density {words.densities(one.density)}." for one in found.densities]
    lines += [f"On {one.family}: density {words.densities(one.density)}, {TAKEN_BACK}." for one in found.taken_back]
    desk.say(found, *lines)


@command.command()
@click.argument("frame")
@click.argument("lab")
@with_desk
def tone(desk: Desk, frame: str, lab: str) -> None:
    """State the tone of FRAME's reference patch as L* a* b*, for example "65 18 17". "52 0 0" is the usual grey."""
    record = aims.state_tone(desk.db, frame, typed.lab(lab, "The tone"))
    desk.say(record, f"{frame} is to come out as {words.tone(record.aim)}.")


@command.command()
@click.argument("frame")
@click.argument("density")
@click.option("--paper", required=True)
@click.option("--seen", type=click.IntRange(min=0), help="The version that was read: refused if it was changed since.")
@with_desk
def density(desk: Desk, frame: str, density: str, paper: str, seen: int | None) -> None:
    """State the density of FRAME's reference patch on a paper: red green blue, for example "0,71 0,70 0,72"."""
    record = aims.state_density(desk.db, frame, paper, typed.three(density, "The aim"), version=seen)
    desk.say(record, f"{frame} is to read {words.densities(record.density)} on {paper}.")


@command.command()
@click.argument("frame")
@click.option("--paper", required=True)
@with_desk
def drop(desk: Desk, frame: str, paper: str) -> None:
    """Take back the density that was stated for FRAME on a paper."""
    record = aims.drop_density(desk.db, frame, paper)
    desk.say(record, f"{frame} has no stated density on {paper} any more.")


@command.command("bring-back")
@click.argument("frame")
@click.option("--paper", required=True)
@with_desk
def bring_back(desk: Desk, frame: str, paper: str) -> None:
    """Let the density that was taken back for FRAME on a paper count again."""
    record = aims.bring_density_back(desk.db, frame, paper)
    desk.say(record, f"{frame} is to read {words.densities(record.density)} on {paper} again.")
