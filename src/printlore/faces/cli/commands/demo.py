"""Build the demo studio, show the main job, and serve the page."""

from pathlib import Path

import click

from printlore.demo.build import STEPS, TONIGHT, build_demo_studio, has_studio, was_cut_short
from printlore.demo.invented import INVENTED_WORDS, is_demo
from printlore.errors import Refused
from printlore.faces.cli.commands.serve import serve
from printlore.faces.cli.desk import Desk, with_desk
from printlore.faces.cli.saying import advice_lines, reading_lines, said
from printlore.faces.job import job_of
from printlore.records.negatives import Frame
from printlore.services.entry import find_record

FOLDER = "demo-studio"


@click.command()
@click.option("--no-serve", is_flag=True, help="Do all but serve the page.")
@click.option("--port", type=click.IntRange(0, 65535), default=8321, show_default=True, help="0 takes any free one.")
@with_desk(default=FOLDER)
def command(desk: Desk, no_serve: bool, port: int) -> None:
    """Build the demo studio in a folder, show what was read off a strip and what comes next, and serve the page.

    A demo studio that is there already is used as it is; delete its folder for a new one.
    """
    lines = said(INVENTED_WORDS)
    if has_studio(desk.folder):
        if not is_demo(desk.folder):
            raise Refused(
                f"The studio in {desk.folder} is not a demo; nothing was changed. Name another folder with --studio."
            )
        if was_cut_short(desk.db):
            raise Refused(
                f"The demo studio in {desk.folder} was not finished: building it was cut short. "
                "Delete that folder and call this again, or name another with --studio."
            )
        lines.append(f"The demo studio is in {desk.folder} already.")
    else:
        lines += _build(desk)
    job = job_of(desk.db, find_record(desk.db, Frame, TONIGHT))
    desk.say(job.report, *lines, "", *advice_lines(job), "")
    if not no_serve:
        serve(desk, port=port, host="127.0.0.1")


def _build(desk: Desk) -> list[str]:
    with desk.progress(STEPS, "Building the demo studio") as bar:
        done = build_demo_studio(desk.folder, lambda _: bar.update(1))
    times = [patch.made.time for patch in done.trial.patches]
    return [
        f"The demo studio is in {Path(desk.folder)}.",
        "",
        f'Read off "{done.scan_name}" through the grey wedge beside it:',
        *reading_lines(done.reading, times),
    ]
