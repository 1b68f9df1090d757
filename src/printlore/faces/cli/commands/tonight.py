"""The negatives in work, each with how it stands."""

import click

from printlore.faces.cli.desk import Desk, table, with_desk
from printlore.faces.tonight import in_work


@click.command()
@with_desk
def command(desk: Desk) -> None:
    """The negatives printed or added last: what came of the last trial of each, and when."""
    rows = in_work(desk.db)
    shown = [(row.frame.name, row.state, row.last) for row in rows]
    none = "Nothing is printed here yet. Begin with: printlore frame next."
    desk.say(rows, *table(("negative", "stands", "when"), shown, none=none))
