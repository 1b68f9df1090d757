"""Enter old notebook pages, many prints at a time (typed lines or CSV)."""

from pathlib import Path

import click

from printlore.faces import typed
from printlore.faces.cli.desk import Desk, with_desk
from printlore.services.notebook import PageDefaults, enter_notebook


@click.command()
@click.argument("page", type=click.Path(path_type=Path, exists=True, dir_okay=False))
@click.option("--film", help="Of every line that names none.")
@click.option("--head")
@click.option("--paper")
@click.option("--lot")
@click.option("--bath")
@click.option("--person", help="Whose eye.")
@click.option("--order", default="CMY", show_default=True, help="Colours of three bare numbers.")
@click.option("--negative", default="36x24", show_default=True, help="Picture on the film [mm], to reckon sizes by.")
@click.option("--whole", is_flag=True, help="The prints show the whole picture, with a border, not filling the sheet.")
@click.option("--check", is_flag=True, help="Read and check everything, record nothing.")
@with_desk
def command(
    desk: Desk,
    page: Path,
    film: str | None,
    head: str | None,
    paper: str | None,
    lot: str | None,
    bath: str | None,
    person: str | None,
    order: str,
    negative: str,
    whole: bool,
    check: bool,
) -> None:
    """Enter PAGE. A line: "Harbour 12: 60M 45Y, 9,5 s, f/8, 20x25 cm, 1998-03-04, a trace cyan".

    A line that cannot be read is reported and stops nothing else; mend it and enter the page again.
    """
    defaults = PageDefaults(
        film=film,
        head=head,
        paper=paper,
        lot=lot,
        bath=bath,
        person=person,
        pack_order=order,
        negative=typed.negative_size(negative),
        whole=whole,
    )
    entered = enter_notebook(desk.db, page.read_bytes(), defaults, dry_run=check, original_name=page.name)
    lines = []
    for line in entered.lines:
        if line.problem is not None:
            lines.append(f"line {line.number}: not entered. {line.problem}")
        elif line.doubts:
            lines.append(f"line {line.number}: {'; '.join(line.doubts)}")
    verb = "would be entered" if check else "entered"
    lines.append(f"{entered.entered} of {len(entered.lines)} lines {verb}.")
    desk.say(entered, *lines)
