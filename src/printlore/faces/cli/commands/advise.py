"""The next setting for a frame, how likely it is right, and why."""

import click

from printlore.faces import typed
from printlore.faces.cli.desk import Desk, with_desk
from printlore.faces.cli.saying import advice_lines
from printlore.faces.job import job_of
from printlore.records.negatives import Frame
from printlore.services.advice import TOLERANCES, AdviceRequest, advise
from printlore.services.entry import find_record


@click.command()
@click.argument("frame", required=False)
@click.option("--head")
@click.option("--lot")
@click.option("--bath")
@click.option("--magnification", help="Print length over negative length.")
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
    f_number: str | None,
    tolerance: str,
    compare_with: str | None,
) -> None:
    """Advise on FRAME (the latest, if none is named); head, lot and bath as in its latest trial."""
    request = AdviceRequest(
        frame=frame,
        head=head,
        lot=lot,
        bath=bath,
        magnification=None if magnification is None else typed.number(magnification, "magnification"),
        f_number=None if f_number is None else typed.number(f_number, "f-number"),
        tolerance=tolerance,
        compare_with=compare_with,
    )
    if frame is None or desk.json:
        report = advise(desk.db, request)
        if desk.json:
            desk.say(report)
            return
        request_frame = report.conditions.frame
    else:
        request_frame = frame
    job = job_of(desk.db, find_record(desk.db, Frame, request_frame), request)
    desk.say(job.report, *advice_lines(job))
