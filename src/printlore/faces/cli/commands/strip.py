"""Read a scan of a strip or print with a grey wedge beside it."""

from pathlib import Path

import click

from printlore.core.measure.scan import Box
from printlore.core.measure.strip import Exposures, StripKind
from printlore.faces import typed
from printlore.faces.cli.desk import Desk, with_desk
from printlore.faces.cli.saying import reading_lines
from printlore.services.pairs import known_dyes
from printlore.services.strips import read_strip


@click.command()
@click.argument("scan", type=click.Path(path_type=Path, exists=True, dir_okay=False))
@click.option("--wedge", required=True, help='Densities of its steps, for example "0,05 0,20 0,35".')
@click.option("--box", "boxes", type=int, nargs=4, multiple=True, help="left top right bottom [pixels]; repeat.")
@click.option("--count", type=click.IntRange(min=1), help="Number of steps, if they should not be counted.")
@click.option("--across", is_flag=True, help="The steps cross the picture.")
@click.option("--holds", type=click.IntRange(min=1), help="Step that holds the reference, from 1 (with --across).")
@click.option("--cumulative", is_flag=True, help="Uncovered or covered in turn.")
@click.option("--paper", help="Correct by what the studio knows of this paper in its scanner.")
@with_desk
def command(
    desk: Desk,
    scan: Path,
    wedge: str,
    boxes: tuple[tuple[int, int, int, int], ...],
    count: int | None,
    across: bool,
    holds: int | None,
    cumulative: bool,
    paper: str | None,
) -> None:
    """Densities of the steps in SCAN, with their errors. Nothing is recorded; without --paper no studio is needed."""
    known = known_dyes(desk.db, paper=paper) if paper else None
    reading = read_strip(
        scan,
        typed.numbers(wedge, "wedge"),
        [Box(left=left, top=top, right=right, bottom=bottom) for left, top, right, bottom in boxes] or None,
        count=count,
        kind=StripKind.ACROSS_PICTURE if across else StripKind.SAME_TONE,
        exposures=Exposures.CUMULATIVE if cumulative else Exposures.SEPARATE,
        reference_step=None if holds is None else holds - 1,
        profile=known.profile if known else None,
        dyes=known.shift if known else None,
    )
    desk.say(reading, *reading_lines(reading), *([known.words] if known else []))
