"""One invented edition with a few prints in different states. Nobody made, bought or broke any of them."""

import secrets
from datetime import datetime, timedelta

from printlore.core.edition.code import new_code
from printlore.core.edition.state import PrintEvent
from printlore.records.database import Database
from printlore.records.editions import Edition, NumberedPrint
from printlore.records.rows import add
from printlore.services.print_lines import add_line
from printlore.services.trials import frame_history

TITLE = "Blue door, low sun"
SIZE = (203.0, 254.0)
BUYER = "a buyer (invented)"
INVENTED = "invented"
PRINTED = (5, 4, 4, 4, 3, 3, 3)
"""Days ago on which each print was made, the first on the evening whose sheet was kept; the others match it."""


def add_edition_history(db: Database, frame: str, paper: str, *, now: datetime) -> str:
    """Invent an edition of a negative; sheets of it that were kept get their numbers first. Returns its title."""

    def ago(days: int, hour: int, minute: int = 0) -> datetime:
        return (now - timedelta(days=days)).replace(hour=hour, minute=minute, second=0, microsecond=0)

    kept = [one.row for one in frame_history(db, frame) if one.row.kind == "sheet" and one.patches[0].kept]
    codes = []
    # written into the ledger on their days, too, so below the services: those write when it happens
    with db.transaction() as conn:
        promised = Edition(
            name=TITLE,
            frame=frame,
            prints=12,
            proofs=1,
            artist="the printer of this demo (invented)",
            sizes="20x25 cm",
            note=INVENTED,
            created_at=ago(PRINTED[0], 18),
        )
        add(conn, promised)
        for at, days in enumerate((*PRINTED, PRINTED[-1])):
            proof = at == len(PRINTED)
            sheet = kept[at] if at < len(kept) and not proof else None
            print_ = NumberedPrint(
                name=new_code(secrets.choice),
                edition=TITLE,
                proof=proof,
                number=1 if proof else at + 1,
                trial=sheet.name if sheet else None,
                size=SIZE,
                printed_on=(sheet.at if sheet else ago(days, 20)).astimezone().date().isoformat(),
                paper="" if sheet else paper,
                note=INVENTED,
                created_at=ago(days - 1, 10),
            )
            codes.append(add(conn, print_).name)
    first, second, third, fourth, fifth = codes[:5]
    # dry, trimmed, numbered and signed the day after; what becomes of them takes its days
    add_line(db, first, PrintEvent.SIGNED, at=ago(4, 11), note=INVENTED)
    add_line(db, first, PrintEvent.CERTIFIED, at=ago(4, 11, 20), note=INVENTED)
    add_line(db, first, PrintEvent.SOLD, at=ago(3, 17), price=180.0, person=BUYER, note=INVENTED)
    packed = "flat between two boards"
    add_line(db, first, PrintEvent.DELIVERED, at=ago(1, 10), packed=packed, person=BUYER, note=INVENTED)
    for code in (second, third):
        add_line(db, code, PrintEvent.SIGNED, at=ago(3, 11), note=INVENTED)
    add_line(db, fourth, PrintEvent.DESTROYED, at=ago(3, 12), note="creased in the trimmer (invented)")
    add_line(db, third, PrintEvent.CONSIGNED, at=ago(2, 15), price=240.0, person="a shop (invented)", note=INVENTED)
    add_line(db, fifth, PrintEvent.SIGNED, at=ago(2, 11), note=INVENTED)
    add_line(db, second, PrintEvent.CERTIFIED, at=ago(1, 16), note=INVENTED)
    add_line(db, second, PrintEvent.SOLD, at=ago(1, 16, 30), price=180.0, person=BUYER, note=INVENTED)
    return TITLE
