"""Trials that look like slips: list them, and answer."""

import click

from printlore.faces import words
from printlore.faces.cli.desk import Desk, Steps, with_desk
from printlore.faces.cli.making import step_option
from printlore.faces.cli.saying import said
from printlore.faces.telling import made_words
from printlore.services.doubts import answer_doubt, doubts_of


@click.group(cls=Steps)
def command() -> None:
    """Trials that were probably not made as logged: ask, and answer."""


@command.command("list")
@click.argument("frame", required=False)
@with_desk
def list_(desk: Desk, frame: str | None) -> None:
    """What is doubted, of FRAME or of every frame, most probable first."""
    found = doubts_of(desk.db, frame)
    lines = [
        line
        for doubt in found
        for line in said(
            f"{doubt.suspect.trial} of {doubt.frame}{f', step {doubt.step}' if doubt.step > 1 else ''}: "
            f"{doubt.suspect.words} "
            f"({words.out_of_ten(doubt.suspect.probability)})."
        )
    ]
    desk.say(found, *(lines or ["Every trial agrees with the others, or was answered for."]))


@command.command()
@click.argument("trial")
@step_option("--patch")
@with_desk
def slip(desk: Desk, trial: str, step: int) -> None:
    """Yes: TRIAL was the slip that is suspected. Its setting is corrected; what was logged stays in its rows."""
    record = answer_doubt(desk.db, trial, slip=True, patch=step - 1)
    desk.say(record, f"{record.name} is corrected to {made_words(record)}.")


@command.command()
@click.argument("trial")
@step_option("--patch")
@with_desk
def right(desk: Desk, trial: str, step: int) -> None:
    """No: TRIAL was made as logged. It is not asked about again."""
    record = answer_doubt(desk.db, trial, slip=False, patch=step - 1)
    desk.say(record, f"{record.name} was made as logged; it is not asked about again.")
