"""Read a scan of a strip or print with a grey wedge beside it."""

from pathlib import Path
from typing import Any

import click

from printlore.faces import typed
from printlore.faces.cli.desk import Desk, with_desk
from printlore.faces.cli.making import how_read, how_read_options
from printlore.faces.cli.saying import reading_lines
from printlore.services.pairs import known_dyes
from printlore.services.strips import read_strip


@click.command()
@click.argument("scan", type=click.Path(path_type=Path, exists=True, dir_okay=False))
@click.option("--wedge", required=True, help='Densities of its steps, for example "0,05 0,20 0,35".')
@how_read_options
@click.option("--paper", help="Correct by what the studio knows of this paper in its scanner.")
@with_desk
def command(
    desk: Desk,
    scan: Path,
    wedge: str,
    paper: str | None,
    **how: Any,
) -> None:
    """Densities of the steps in SCAN, with their errors. Nothing is recorded; without --paper no studio is needed."""
    asked = how_read(**how)
    known = known_dyes(desk.db, paper=paper) if paper else None
    reading = read_strip(
        scan,
        typed.numbers(wedge, "wedge"),
        **asked,
        profile=known.profile if known else None,
        dyes=known.shift if known else None,
    )
    desk.say(reading, *reading_lines(reading), *([known.words] if known else []))
