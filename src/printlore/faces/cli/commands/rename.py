"""Call a head, lens, paper, lot, process, bath or film by another name."""

import click

from printlore.faces.cli.desk import Desk, with_desk
from printlore.services.names import NAMED
from printlore.services.names import rename as give_name


@click.command()
@click.argument("what", type=click.Choice(list(NAMED)))
@click.argument("name")
@click.argument("new")
@with_desk
def command(desk: Desk, what: str, name: str, new: str) -> None:
    """Call the head, lot, bath ... NAME by the name NEW; everything made with it stays with it."""
    record = give_name(desk.db, what, name, new)
    desk.say(record, f"{name} is called {record.name} from now on.")
