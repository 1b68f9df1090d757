"""Log a print or strip from its scan: keep it, read it, record what it says."""

from dataclasses import replace
from pathlib import Path
from typing import Any

import click

from printlore.core.quantities import parse_time
from printlore.errors import ValueOutOfRange
from printlore.faces import typed
from printlore.faces.cli.desk import Desk, with_desk
from printlore.faces.cli.making import advised, advised_options, how_read, how_read_options, steps_options
from printlore.faces.cli.saying import reading_lines
from printlore.faces.telling import patch_words
from printlore.records.negatives import Frame
from printlore.services.entry import find_record
from printlore.services.scanned import log_scan, read_file, times_of
from printlore.services.strips import wedge_from


@click.command()
@click.argument("scan", type=click.Path(path_type=Path, exists=True, dir_okay=False))
@click.argument("frame", required=False)
@click.option("--wedge", required=True, help='Densities of its steps, for example "0,05 0,20 0,35".')
@steps_options
@how_read_options
@click.option("--sheet", is_flag=True, help="It is a whole sheet, not a strip.")
@click.option("--kept", is_flag=True, help="The print is right.")
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
    sheet: bool,
    kept: bool,
    wet: bool,
    advised_pack: str | None,
    advised_time: str | None,
    run: str | None,
    note: str,
    key: str | None,
    **how: Any,
) -> None:
    """Log what SCAN says of FRAME. A scan is kept even if no step is then found in it. `printlore strip` only reads."""
    densities = wedge_from(typed.numbers(wedge, "wedge"))
    times = typed.numbers(time, "time", parse=parse_time)
    setting = typed.made(pack, repr(times[0]) if times else "", f_number, magnification)
    asked = how_read(**how)
    advised(setting, advised_pack, advised_time)
    if frame is not None:
        find_record(desk.db, Frame, frame)
    read = read_file(desk.db, scan, densities, lot=lot, **asked)
    reading = read.reading
    each = times_of(reading, times)
    if sheet and len(each) > 1:
        raise ValueOutOfRange(f"{len(each)} steps were read, so it is a strip. Leave --sheet out, or give one --box.")
    told = reading.informative
    if len(told) > 1 and (advised_pack, advised_time) != (None, None):
        raise ValueOutOfRange(
            f"{len(told)} steps were read, and what was advised is kept beside one only. "
            "Leave --advised-pack and --advised-time out."
        )
    if told:
        setting = replace(setting, time=each[told[0]])
    trial = log_scan(
        desk.db,
        read.scan,
        reading,
        setting,
        times,
        wedge=wedge,
        wet=wet,
        kept=kept,
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
    if trial.again:
        rows = [f"{number}: {patch_words(patch)}." for number, patch in enumerate(trial.patches, 1)]
        desk.say(trial, *trial.remarks, *rows)
        return
    many = len(trial.patches)
    count_words = f"{many} steps" if many > 1 else "one patch"
    desk.say(
        trial,
        f"Logged {trial.name} of {trial.row.frame}: {count_words} read from the scan.",
        *reading_lines(reading, each),
        read.known.words,
        *trial.remarks,
    )
