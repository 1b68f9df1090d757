"""Make a studio out of an export, without loss."""

from pathlib import Path

import click

from printlore.faces import words
from printlore.faces.cli.desk import Desk, with_desk
from printlore.records.database import Database
from printlore.services.export import import_studio


@click.command()
@click.argument("path", type=click.Path(path_type=Path, exists=True))
@with_desk
def command(desk: Desk, path: Path) -> None:
    """Make a new studio, in the folder named by --studio, out of the export at PATH.

    An export that cannot be brought in leaves nothing behind. Records that cannot all be as they stand come in, and
    are told.
    """
    with Database.made(desk.folder) as db:
        done = import_studio(db, path)
    said = f"{sum(done.rows.values())} rows and {words.counted(done.scans, 'scan')} are in {desk.folder}."
    desk.say(done, said, *(f"? {doubt}" for doubt in done.doubts))
