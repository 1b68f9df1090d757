"""One invented edition with a few prints in different states. Nobody made, bought or broke any of them."""

from datetime import datetime, timedelta

from printlore.core.edition.state import PrintEvent
from printlore.records.database import Database
from printlore.services.editions import add_edition, edition_view, number_print
from printlore.services.print_lines import add_line
from printlore.services.trials import frame_history

TITLE = "Blue door, low sun"
SIZE = (203.0, 254.0)
BUYER = "a buyer (invented)"


def add_edition_history(db: Database, frame: str, paper: str, *, now: datetime) -> str:
    """Invent an edition of a negative; sheets of it that were kept get their numbers first. Returns its title."""
    title = add_edition(
        db,
        TITLE,
        frame=frame,
        prints=12,
        proofs=1,
        artist="the printer of this demo (invented)",
        sizes="20x25 cm",
        note="invented",
    ).name
    kept = [one.name for one in frame_history(db, frame) if one.row.kind == "sheet" and one.patches[0].kept]
    for at in range(7):
        on = (now - timedelta(days=30 - 2 * at)).date().isoformat()
        sheet = {"trial": kept[at]} if at < len(kept) else {"size": SIZE, "printed_on": on, "paper": paper}
        number_print(db, title, note="invented", **sheet)
    number_print(db, title, proof=True, size=SIZE, paper=paper, note="invented")
    first, second, third, fourth, fifth = (one.print.name for one in edition_view(db, title).prints[:5])
    lately = now - timedelta(hours=2)

    def later(minutes: int) -> datetime:
        return lately + timedelta(minutes=minutes)

    for code in (first, second, third, fifth):
        add_line(db, code, PrintEvent.SIGNED, at=lately)
    for code in (first, second):
        add_line(db, code, PrintEvent.CERTIFIED, at=later(10))
        add_line(db, code, PrintEvent.SOLD, at=later(20), price=180.0, person=BUYER)
    add_line(db, first, PrintEvent.DELIVERED, at=later(60), packed="flat between two boards", person=BUYER)
    add_line(db, third, PrintEvent.CONSIGNED, at=later(90), price=240.0, person="a shop (invented)")
    add_line(db, fourth, PrintEvent.DESTROYED, at=later(100), note="creased in the trimmer (invented)")
    return title
