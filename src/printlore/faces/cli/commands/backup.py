"""Copy the studio, also while somebody works in it."""

from pathlib import Path

import click

from printlore.faces import words
from printlore.faces.cli.desk import Desk, with_desk
from printlore.services.backup import back_up


@click.command()
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False))
@with_desk
def command(desk: Desk, folder: Path) -> None:
    """Copy the database and every scan into FOLDER, best on another disk; the copy is tried."""
    done = back_up(desk.db, folder)
    desk.say(done, f"A sound copy is in {done.folder}, with {words.counted(done.scans_copied, 'scan')} copied now.")
