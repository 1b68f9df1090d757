"""The negatives in work, each with how it stands."""

import click

from printlore.faces.cli.desk import Desk, table, with_desk
from printlore.faces.tonight import in_work


@click.command()
@with_desk
def command(desk: Desk) -> None:
    """The negatives printed or added last: what came of the last trial of each, and when."""
    rows = in_work(desk.db)
    lines = table(("negative", "stands", "when"), [(row.frame.name, row.state, row.last) for row in rows])
    desk.say(rows, *(lines if rows else ["Nothing is printed here yet. Begin with: printlore frame next."]))
