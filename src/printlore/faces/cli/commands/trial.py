"""One trial: look at it, take it back or bring it back, add a reading, keep it as right."""

from pathlib import Path
from typing import Any

import click

from printlore.faces import typed
from printlore.faces.cli.desk import Desk, Steps, with_desk
from printlore.faces.cli.making import how_read, how_read_options, step_option, typed_reading
from printlore.faces.cli.saying import reading_lines
from printlore.faces.telling import made_words, patch_words, trial_taken_back, when
from printlore.services.scanned import read_again, read_file
from printlore.services.strips import wedge_from
from printlore.services.trials import (
    add_reading,
    bring_trial_back,
    find_trial,
    find_trial_ever,
    mark_kept,
    remove_trial,
    times_corrected,
    trial_versions,
)


@click.group(cls=Steps)
def command() -> None:
    """One trial that was logged. What an eye says of it is added by `printlore judge`; a slip by `printlore doubts`."""


@command.command()
@click.argument("trial")
@with_desk
def show(desk: Desk, trial: str) -> None:
    """How TRIAL was made, what was read and said of it, and how often it was corrected."""
    record = find_trial_ever(desk.db, trial)
    versions = trial_versions(desk.db, trial)
    row = record.row
    lines = [f"{record.name} of {row.frame}, {row.kind}, {when(row.at)}: {made_words(record)}."]
    lines += [f"{row.head}, {row.lot}, {row.bath}{f', {row.run}' if row.run else ''}."]
    lines += [f"{number}: {patch_words(patch)}." for number, patch in enumerate(record.patches, 1)]
    lines += ["Taken back: it does not count. `printlore trial bring-back` lets it count."] if record.taken_back else []
    corrected = times_corrected(versions)
    lines += [f"Corrected {corrected} times."] if corrected else []
    desk.say({"trial": record, "versions": versions}, *lines)


@command.command("take-back")
@click.argument("trial")
@click.option("--seen", type=click.IntRange(min=1), help="The version that was read: refused if it was changed since.")
@with_desk
def take_back(desk: Desk, trial: str, seen: int | None) -> None:
    """Take TRIAL out of the evidence, for example a spoiled sheet; its rows stay, and its name is given to no other."""
    record = find_trial(desk.db, trial)
    remove_trial(desk.db, trial, version=seen or record.version)
    desk.say({"trial": record.name, "taken_back": True}, trial_taken_back(record.name))


@command.command("bring-back")
@click.argument("trial")
@click.option("--seen", type=click.IntRange(min=1), help="The version that was read: refused if it was changed since.")
@with_desk
def bring_back(desk: Desk, trial: str, seen: int | None) -> None:
    """Let TRIAL, which was taken back, count again as it stood."""
    record = bring_trial_back(desk.db, trial, version=seen)
    desk.say(record, f"{record.name} is brought back; it counts again.")


@command.command()
@click.argument("trial")
@click.argument("density")
@step_option()
@click.option("--error", default="0.006", show_default=True, help="Of each density.")
@click.option("--wet", is_flag=True, help="Read wet: corrected by the paper's measured dry-down, refused without one.")
@with_desk
def read(desk: Desk, trial: str, density: str, step: int, error: str, wet: bool) -> None:
    """Add densities read off TRIAL: red green blue, for example "0,71 0,74 0,69". The newest counts."""
    record = add_reading(desk.db, trial, typed_reading(density, error, wet=wet), position=step - 1)
    desk.say(record, f"{record.name}: {patch_words(record.patches[step - 1])}.")


@command.command()
@click.argument("trial")
@click.argument("file", type=click.Path(path_type=Path, exists=True, dir_okay=False))
@click.option("--wedge", required=True, help='Densities of its steps, for example "0,05 0,20 0,35".')
@how_read_options
@click.option("--wet", is_flag=True, help="Scanned wet: corrected by the paper's measured dry-down, refused without.")
@click.option("--kept", is_flag=True, help="Accept the print as right, too.")
@with_desk
def scan(desk: Desk, trial: str, file: Path, wedge: str, wet: bool, kept: bool, **how: Any) -> None:
    """Add what the scan FILE says of TRIAL, a print that was logged before; say where its patch is with --box."""
    record = find_trial(desk.db, trial)
    densities = wedge_from(typed.numbers(wedge, "wedge"))
    read = read_file(desk.db, file, densities, lot=record.row.lot, **how_read(**how))
    record = read_again(desk.db, trial, read.scan, read.reading, wedge=wedge, wet=wet, kept=kept)
    desk.say(
        record, f"{record.name}: {patch_words(record.patches[0])}.", *reading_lines(read.reading), read.known.words
    )


@command.command()
@click.argument("trial")
@step_option()
@click.option("--not", "no_longer", is_flag=True, help="Take that back.")
@with_desk
def keep(desk: Desk, trial: str, step: int, no_longer: bool) -> None:
    """Accept the print of TRIAL as right."""
    record = mark_kept(desk.db, trial, position=step - 1, kept=not no_longer)
    desk.say(record, f"{record.name} is {'not kept any more' if no_longer else 'kept as right'}.")
