"""Write the whole studio as plain files (CSV, JSON, scans)."""

from pathlib import Path

import click

from printlore.faces import words
from printlore.faces.cli.desk import Desk, with_desk
from printlore.services.export import export_studio


@click.command()
@click.argument("path", type=click.Path(path_type=Path))
@click.option("--no-scans", is_flag=True, help="Leave the scans out.")
@with_desk
def command(desk: Desk, path: Path, no_scans: bool) -> None:
    """Write everything into PATH, a new folder, or a zip if its name ends in .zip."""
    done = export_studio(desk.db, path, scans=not no_scans)
    desk.say(done, f"{sum(done.rows.values())} rows and {words.counted(done.scans, 'scan')} are in {done.path}.")
