"""Log a print or strip from its scan: keep it, read it, record what it says."""

import mimetypes
from pathlib import Path

import click

from printlore.core.measure.scan import Box
from printlore.core.measure.strip import Exposures, StripKind
from printlore.core.quantities import parse_time
from printlore.faces import typed
from printlore.faces.cli.desk import Desk, with_desk
from printlore.faces.cli.making import advised, advised_options, made, steps_options
from printlore.faces.cli.saying import reading_lines
from printlore.services.entry import keep_scan
from printlore.services.pairs import known_dyes
from printlore.services.scanned import log_scan, times_of
from printlore.services.strips import read_strip


@click.command()
@click.argument("scan", type=click.Path(path_type=Path, exists=True, dir_okay=False))
@click.argument("frame", required=False)
@click.option("--wedge", required=True, help='Densities of its steps, for example "0,05 0,20 0,35".')
@steps_options
@click.option("--box", "boxes", type=int, nargs=4, multiple=True, help="left top right bottom [pixels]; repeat.")
@click.option("--sheet", is_flag=True, help="It is a whole sheet, not a strip.")
@click.option("--count", type=click.IntRange(min=1), help="Number of steps, if they should not be counted.")
@click.option("--across", is_flag=True, help="The steps cross the picture.")
@click.option("--holds", type=click.IntRange(min=1), help="Step that holds the reference, from 1 (with --across).")
@click.option("--cumulative", is_flag=True, help="Uncovered or covered in turn.")
@click.option("--wet", is_flag=True, help="Scanned wet: corrected by the paper's measured dry-down, refused without.")
@advised_options
@click.option("--run", help="Drum load it went through.")
@click.option("--note", default="")
@click.option("--key", help="Your own mark for this entry: given again, nothing is logged twice.")
@with_desk
def command(
    desk: Desk,
    scan: Path,
    frame: str | None,
    wedge: str,
    pack: str,
    time: str,
    f_number: str,
    magnification: str,
    head: str | None,
    lot: str | None,
    bath: str | None,
    boxes: tuple[tuple[int, int, int, int], ...],
    sheet: bool,
    count: int | None,
    across: bool,
    holds: int | None,
    cumulative: bool,
    wet: bool,
    advised_pack: str | None,
    advised_time: str | None,
    run: str | None,
    note: str,
    key: str | None,
) -> None:
    """Log what SCAN says of FRAME. The scan is kept even if it then cannot be read. `printlore strip` only reads."""
    content = scan.read_bytes()
    media = mimetypes.guess_type(scan.name)[0] or "application/octet-stream"
    kept = keep_scan(desk.db, content, media_type=media, original_name=scan.name)
    known = known_dyes(desk.db, lot=lot)
    reading = read_strip(
        content,
        typed.numbers(wedge, "wedge"),
        [Box(left=left, top=top, right=right, bottom=bottom) for left, top, right, bottom in boxes] or None,
        count=count,
        kind=StripKind.ACROSS_PICTURE if across else StripKind.SAME_TONE,
        exposures=Exposures.CUMULATIVE if cumulative else Exposures.SEPARATE,
        reference_step=None if holds is None else holds - 1,
        profile=known.profile,
        dyes=known.shift,
    )
    times = typed.numbers(time, "time", parse=parse_time)
    each = times_of(reading, times)
    setting = made(pack, repr(each[0]), f_number, magnification)
    trial = log_scan(
        desk.db,
        kept.sha256,
        reading,
        setting,
        times,
        wedge=wedge,
        wet=wet,
        advised=advised(setting, advised_pack, advised_time),
        kind="sheet" if sheet else "strip",
        frame=frame,
        head=head,
        lot=lot,
        bath=bath,
        run=run,
        note=note,
        key=key,
    )
    many = len(trial.patches)
    count_words = f"{many} steps" if many > 1 else "one patch"
    desk.say(
        trial,
        f"Logged {trial.name} of {trial.row.frame}: {count_words} read from the scan.",
        *reading_lines(reading, each),
        known.words,
        *trial.remarks,
    )
