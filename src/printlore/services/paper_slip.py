"""What goes with paper that is sold: lot, age, how it was kept, what is known of fog, and what speaks against it."""

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import sqlalchemy as sa

from printlore.core.calendar import day
from printlore.core.cutting.drawing import size_words
from printlore.core.cutting.supply import BOX_WARM_UP, ROLL_WARM_UP
from printlore.core.figure import Figure
from printlore.core.measure.fog import Verdict
from printlore.devices.paper_pages import typeset
from printlore.errors import Refused
from printlore.records.cutting import SittingRecord
from printlore.records.database import Database
from printlore.records.papers import Lot
from printlore.records.rows import every, find
from printlore.records.stock import BoxRecord, Container, FogRecord, Happened, PaperMove, Place, RollRecord, StockLine
from printlore.services.lines import find_line
from printlore.services.stock import LEDGER_LISTED

_SLIP = Path(__file__).with_name("paper_slip.typ")
_PRACTICE = "common practice, no source"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sold:
    """Paper that was sold, and all that is known of it.

    Attributes
    ----------
    what : str
        How much of which size.
    rows : tuple of (str, str)
        What is said of it, by name.
    beware : tuple of str
        What the buyer should not have to find out; empty: nothing is known against it.
    care : tuple of (str, str)
        How to keep and open it, each rule with what it rests on.
    """

    line: StockLine
    what: str
    rows: tuple[tuple[str, str], ...]
    beware: tuple[str, ...]
    care: tuple[tuple[str, str], ...]


def sold(db: Database, number: int) -> Sold:
    """What is known of the paper of a line of the ledger.

    Raises
    ------
    UnknownRecord
        If there is no such line.
    Refused
        If nothing was sold with it, or it was taken back.

    References
    ----------
    navedtra14209
    """
    line = find_line(db, StockLine, number, listed=LEDGER_LISTED)
    if line.happened is not Happened.SOLD:
        raise Refused(f"Line {number} of the ledger is of paper that was {line.happened.value}, not sold.")
    if line.removed:
        raise Refused(f"Line {number} of the ledger was taken back: the sale does not count. Bring it back first.")
    with db.reading() as conn:
        box = find(conn, BoxRecord, line.box) if line.box is not None else None
        cut, roll = _cut_from(conn, box) if box is not None else (None, find(conn, RollRecord, line.roll or ""))
        of = box or roll
        assert of is not None
        lot = find(conn, Lot, of.lot)
        fog, beware = _fog(conn, lot, box, roll)
        names = {name for name in (box and box.container, roll and roll.container) if name}
        beware += tuple(
            f"{one.name}, in which it was kept, let light in."
            for one in every(conn, Container)
            if one.name in names and one.unsafe
        )
        kept = _kept(conn, box, roll, cut)
    came = (roll.received_at if roll is not None else None) or lot.received_at
    rows = [
        ("Paper", lot.family),
        ("Lot", lot.name + (f", emulsion {lot.emulsion_number}" if lot.emulsion_number else "")),
        ("Came here", day(came) if came is not None else "not noted"),
        ("Cut", f"{day(cut)}{f', from roll {roll.name}' if roll is not None else ''}" if cut else "as it came"),
        ("Kept", kept),
        ("Fog", fog),
    ]
    if box is not None:
        many = -(line.sheets or 0)
        kind = "test strip" if box.strips else "sheet"
        what = f"{many} {kind}{'' if many == 1 else 's'}, {size_words(box.along, box.across)} mm"
    else:
        assert roll is not None
        what = f"{Figure(-(line.length or 0.0) / 1000):.2f} m of roll, {Figure(roll.width):g} mm wide"
    care = [
        ("Total darkness only: open it, cut it and expose it without any light, a safelight included.", _PRACTICE),
        ("Process one sheet unexposed before you rely on it: the way here is part of how it was kept.", _PRACTICE),
        ("Keep it sealed, below 10 °C and under half humidity.", "handbook NAVEDTRA 14209"),
        (
            f"Out of the cold leave it sealed for {Figure(BOX_WARM_UP if box is not None else ROLL_WARM_UP):g} hours.",
            _PRACTICE,
        ),
    ]
    if cut:
        care.insert(1, ("The emulsion is towards you with the clipped corner top right.", "cut here"))
    return Sold(line=line, what=what, rows=tuple(rows), beware=beware, care=tuple(care))


def slip_pdf(db: Database, number: int) -> bytes:
    """The packing slip of paper that was sold, as a PDF. No name is on it: its line is open. Raises as ``sold``."""
    found = sold(db, number)
    # what speaks against it is said once, where it is warned of
    rows = [row for row in found.rows if not any(row[1] in words for words in found.beware)]
    rows += [("Beware", words) for words in found.beware]
    data = {
        "what": found.what,
        "rows": [{"name": name, "words": words} for name, words in rows],
        "on": day(found.line.at),
        "care": [{"words": words, "source": source} for words, source in found.care],
    }
    return typeset(_SLIP, data, at=found.line.at.timestamp())


def _cut_from(conn: sa.Connection, box: BoxRecord) -> tuple[datetime | None, RollRecord | None]:
    """When the sheets of a box were cut here, and from which roll; ``None``: they came cut, or from other sheets."""
    for line in every(conn, StockLine, box=box.name, happened=Happened.CUT.value):
        sitting = next(iter(every(conn, SittingRecord, name=line.note)), None)
        if sitting is not None and (line.sheets or 0) > 0:
            return line.at, next(iter(every(conn, RollRecord, name=sitting.procedure.source)), None)
    return None, None


def _kept(conn: sa.Connection, box: BoxRecord | None, roll: RollRecord | None, cut: datetime | None) -> str:
    """Where it lies since when: the box, or before that was noted, the roll until the box was cut from it."""
    moves = every(conn, PaperMove, box=box.name) if box is not None else []
    as_its_roll = not moves and box is not None
    if not moves and roll is not None:
        moves = [move for move in every(conn, PaperMove, roll=roll.name) if cut is None or move.at <= cut]
    if not moves:
        return "not noted"
    last = max(moves, key=lambda move: (move.at, move.id))
    where = f"in the {'cold' if last.place is Place.COLD else 'room'} since {day(last.at)}"
    return f"{where} as a roll; from the cut on it was not noted" if as_its_roll else where


def _fog(conn: sa.Connection, lot: Lot, box: BoxRecord | None, roll: RollRecord | None) -> tuple[str, tuple[str, ...]]:
    """What the last unexposed sheet said, of the box or else its roll or else its lot; and what speaks against it."""
    readings = sorted(every(conn, FogRecord, lot=lot.name), key=lambda one: (one.at, one.id))
    for whose, mine in (
        ("this box", [one for one in readings if box is not None and one.box == box.name]),
        ("its roll", [one for one in readings if roll is not None and one.roll == roll.name]),
        ("its lot", readings),
    ):
        if mine:
            last = mine[-1]
            said = f"an unexposed sheet of {whose}, {day(last.at)}: {last.words}"
            return said, () if last.verdict == Verdict.SOUND.value else (f"Not sound: {said}",)
    words = "no unexposed sheet of this lot was processed and read here"
    return words, (f"It is not known whether it is fogged: {words}.",)
