"""The one print that would let all earlier settings follow on another lot, in another bath, on another head."""

import click

from printlore.faces import typed, words
from printlore.faces.cli.desk import Desk, table, with_desk
from printlore.services.one_print import one_print


@click.command()
@click.option("--head")
@click.option("--lot")
@click.option("--bath")
@click.option("--magnification", help="Of all; by default of each as it was printed last.")
@click.option("--size", help='Of the sheet, in place of --magnification: "20x25 cm".')
@click.option("--negative", help="Picture on the film [mm], with --size; 36x24 if not given.")
@click.option("--whole", is_flag=True, help="With --size: the whole picture, with a border, not filling the sheet.")
@with_desk
def command(
    desk: Desk,
    head: str | None,
    lot: str | None,
    bath: str | None,
    magnification: str | None,
    size: str | None,
    negative: str | None,
    whole: bool,
) -> None:
    """Which negative to print once and read; head, lot and bath as in the studio's latest trial."""
    found = one_print(
        desk.db,
        head=head,
        lot=lot,
        bath=bath,
        magnification=None if magnification is None else typed.number(magnification, "magnification"),
        sheet=typed.sheet_option(size, negative, whole=whole),
    )
    rows = [(one.frame, words.number(one.before, 1), words.number(one.after, 1)) for one in found.found]
    lines = table(("negative", "error now [CC]", "after it"), rows) if rows else []
    desk.say(found, found.words, *([found.laid] if found.laid else []), *lines)
