"""Make a new studio in a folder."""

import click

from printlore.faces.cli.desk import Desk, with_desk
from printlore.records.database import FILE_NAME, Database


@click.command()
@with_desk
def command(desk: Desk) -> None:
    """Make a new, empty studio: one folder with one database and its scans.

    A studio that is already there is left as it is.
    """
    there = (desk.folder / FILE_NAME).exists()
    Database.open(desk.folder).close()
    said = f"There is a studio in {desk.folder} already." if there else f"A new studio is in {desk.folder}."
    desk.say({"studio": desk.folder, "new": not there}, said)
