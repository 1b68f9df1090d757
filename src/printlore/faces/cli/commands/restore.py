"""Make a studio out of a backup."""

from pathlib import Path

import click

from printlore.faces.cli.desk import Desk, with_desk
from printlore.services.backup import restore


@click.command()
@click.argument("backup", type=click.Path(path_type=Path, exists=True, file_okay=False))
@with_desk
def command(desk: Desk, backup: Path) -> None:
    """Make a studio, in the new folder named by --studio, out of the BACKUP folder."""
    folder = restore(backup, desk.folder)
    desk.say({"studio": folder}, f"The studio is back in {folder}.")
