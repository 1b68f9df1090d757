"""The next setting for a frame, how likely it is right, and why."""

import click

from printlore.core.quantities import parse_f_number
from printlore.errors import UnknownRecord
from printlore.faces import typed
from printlore.faces.cli.desk import Desk, with_desk
from printlore.faces.cli.saying import advice_lines
from printlore.faces.job import job_of
from printlore.records.negatives import Frame
from printlore.services.advice import TOLERANCES, AdviceRequest
from printlore.services.entry import find_record, list_records


@click.command()
@click.argument("frame", required=False)
@click.option("--head")
@click.option("--lot")
@click.option("--bath")
@click.option("--magnification", help="Image length over negative length.")
@click.option("--size", help='Of the sheet, in place of --magnification: "20x25 cm".')
@click.option("--negative", help="Picture on the film [mm], with --size; 36x24 if not given.")
@click.option("--whole", is_flag=True, help="With --size: the whole picture, with a border, not filling the sheet.")
@click.option("--f-number")
@click.option("--tolerance", type=click.Choice(TOLERANCES), default=TOLERANCES[0], show_default=True)
@click.option("--compare-with", help="Trial that the reasons start from.")
@with_desk
def command(
    desk: Desk,
    frame: str | None,
    head: str | None,
    lot: str | None,
    bath: str | None,
    magnification: str | None,
    size: str | None,
    negative: str | None,
    whole: bool,
    f_number: str | None,
    tolerance: str,
    compare_with: str | None,
) -> None:
    """Advise on FRAME (the newest, if none is named); head, lot and bath as in the studio's latest trial."""
    frames = list_records(desk.db, Frame)
    if frame is None and not frames:
        raise UnknownRecord("There is no negative in the studio yet. Add one: printlore add frame.")
    enlarged = None if magnification is None else typed.number(magnification, "magnification")
    sheet = typed.sheet_option(size, negative, whole=whole)
    chosen = AdviceRequest(
        head=head,
        lot=lot,
        bath=bath,
        magnification=enlarged,
        sheet=sheet,
        f_number=None if f_number is None else typed.number(f_number, "f-number", parse=parse_f_number),
        tolerance=tolerance,
        compare_with=compare_with,
    )
    job = job_of(desk.db, frames[-1] if frame is None else find_record(desk.db, Frame, frame), chosen)
    desk.say(job.report, *advice_lines(job))
