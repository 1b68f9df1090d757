"""Paper on hand: receive, measure, count, book, and say how long it lasts."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

import sqlalchemy as sa

from printlore.core.calendar import day, moment
from printlore.core.cutting.roll import (
    combined_length,
    length_from_diameter,
    length_from_turns,
    length_from_weight,
    turns_length,
    usable_length,
)
from printlore.core.cutting.supply import (
    BOX_WARM_UP,
    ROLL_WARM_UP,
    SHEETS_PER_PRINT,
    Cover,
    Reorder,
    cover,
    reorder,
)
from printlore.core.estimate import Estimate
from printlore.core.figure import Figure
from printlore.core.flags import Flag
from printlore.core.paper.sizes import refuse_no_roll, refuse_no_sheet
from printlore.errors import Refused, ValueOutOfRange
from printlore.records.cutting import SittingRecord
from printlore.records.database import Database
from printlore.records.papers import Lot
from printlore.records.rows import add, correct, every, every_ever, find
from printlore.records.stock import (
    BoxRecord,
    Container,
    Happened,
    PaperMake,
    PaperMove,
    Place,
    RollMeasure,
    RollRecord,
    StockLine,
)
from printlore.services.lines import bring_line_back, find_line, take_line_back

LABEL_ERROR = 0.01
"""Share by which the length on a roll's label may be off (from memory)."""
LEDGER_LISTED = "the ledger (paper ledger)"
"""Where its lines are listed with their numbers."""
NOMINAL = 6.0
"""[mm] By which a sheet may be larger than the size it is called by (from memory)."""
TWIN = timedelta(minutes=2)
"""Two lines that say the same so soon may be one thing booked twice (from memory)."""
USE_WINDOW = 90.0
"""[d] Over which the pace of use is taken."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RollStatus:
    """What is known of a roll now.

    Attributes
    ----------
    length : Estimate
        Left on it [mm].
    usable : float
        What a plan may rely on [mm].
    discard : float
        Outer turns to be cut off at the next sitting [mm]; 0 once it was begun.
    from_words : str
        What the length comes from.
    ready_at : datetime or None
        When it will be warm; ``None``: it is, or it is in the cold.
    place : Place or None
    unsafe : bool
        Its bag has let light in.
    booked : StockLine or None
        The line that was just written, if one was.
    """

    roll: RollRecord
    family: str
    length: Estimate
    usable: float
    discard: float
    from_words: str
    place: Place | None
    ready_at: datetime | None
    unsafe: bool
    booked: StockLine | None = None

    @property
    def area(self) -> float:
        """Usable paper [m2]."""
        return self.usable * self.roll.width / 1e6


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxStatus:
    """What a box holds now.

    Attributes
    ----------
    booked : StockLine or None
        The line that was just written, if one was.
    more : int
        If that was a count: sheets it found beyond those of the ledger; below 0, sheets that were missing.
    twin : StockLine or None
        A line of a moment before that says the same, as two devices with one form open write it.
    came_back : bool
        Sheets came into a box out of which some were sold.
    """

    box: BoxRecord
    family: str
    sheets: int
    place: Place | None
    ready_at: datetime | None
    unsafe: bool
    booked: StockLine | None = None
    more: int = 0
    twin: StockLine | None = None
    came_back: bool = False

    @property
    def area(self) -> float:
        """[m2]"""
        return self.sheets * self.box.along * self.box.across / 1e6


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """Everything on hand."""

    rolls: tuple[RollStatus, ...]
    boxes: tuple[BoxStatus, ...]
    containers: tuple[Container, ...]
    reminders: tuple[str, ...]


def set_paper_make(
    db: Database, paper: str, *, thickness: float | None = None, grammage: float | None = None
) -> PaperMake:
    """State thickness [mm] and weight [g/m2] of a paper; replaces what was stated before."""
    refuse_no_roll({"paper thickness": thickness})
    with db.transaction() as conn:
        return _set_paper_make(conn, paper, thickness, grammage)


def _set_paper_make(conn: sa.Connection, paper: str, thickness: float | None, grammage: float | None) -> PaperMake:
    for known in every(conn, PaperMake, family=paper):
        thickness = thickness if thickness is not None else known.thickness
        grammage = grammage if grammage is not None else known.grammage
        make = PaperMake(id=known.id, version=known.version, family=paper, thickness=thickness, grammage=grammage)
        return correct(conn, make)
    return add(conn, PaperMake(family=paper, thickness=thickness, grammage=grammage))


def receive_roll(
    db: Database, roll: RollRecord, *, place: Place = Place.COLD, measure: RollMeasure | None = None
) -> RollRecord:
    """Take a roll in, into the cold unless said otherwise. Raises ValueOutOfRange for a size that no roll has."""
    refuse_no_roll({"width": roll.width, "core": roll.core_diameter, "length on the label": roll.stated_length})
    if measure is not None:
        refuse_no_roll({"diameter over the paper": measure.outer_diameter})
    with db.transaction() as conn:
        if roll.container:
            _find_or_make_container(conn, roll.container, "bag")
        added = add(conn, roll)
        add(conn, PaperMove(at=roll.received_at, place=place, roll=roll.name))
        if measure is not None:
            add(conn, measure)
        return added


def measure_roll(
    db: Database,
    roll: str,
    *,
    outer_diameter: float | None = None,
    turns: float | None = None,
    weight: float | None = None,
    thickness: float | None = None,
    grammage: float | None = None,
    at: datetime | None = None,
) -> RollStatus:
    """Record what was measured on a roll [mm, turns, g]; returns what it holds by that.

    Thickness [mm] and weight [g/m2] of its paper are kept with the paper; if anything is refused, nothing is.
    """
    refuse_no_roll({"diameter over the paper": outer_diameter, "paper thickness": thickness})
    at = at or datetime.now(UTC)
    with db.transaction() as conn:
        if thickness is not None or grammage is not None:
            family = find(conn, Lot, find(conn, RollRecord, roll).lot).family
            _set_paper_make(conn, family, thickness, grammage)
        add(conn, RollMeasure(roll=roll, at=at, outer_diameter=outer_diameter, turns=turns, weight=weight))
        return _roll_status(conn, find(conn, RollRecord, roll), at)


def receive_box(
    db: Database,
    box: BoxRecord,
    sheets: int,
    *,
    at: datetime | None = None,
    place: Place = Place.COLD,
) -> BoxStatus:
    """Take in a box of sheets that were bought cut. Raises ValueOutOfRange for a size that no sheet has."""
    refuse_no_sheet(box.across, box.along)
    at = at or datetime.now(UTC)
    if sheets < 0:
        raise ValueOutOfRange(f"A box of {sheets} sheets cannot be; give 0 or more.")
    with db.transaction() as conn:
        if box.container:
            _find_or_make_container(conn, box.container, "box")
        add(conn, box)
        add(conn, PaperMove(at=at, place=place, box=box.name))
        add(conn, StockLine(at=at, happened=Happened.RECEIVED, box=box.name, sheets=sheets))
        return _box_status(conn, find(conn, BoxRecord, box.name), at)


def book_sheets(
    db: Database,
    box: str,
    happened: Happened,
    sheets: int = 1,
    *,
    at: datetime | None = None,
    trial: str = "",
    note: str = "",
) -> BoxStatus:
    """Book sheets out of a box (exposed, spoiled, sold, lost), into it (received, cut), or count what is there.

    Parameters
    ----------
    sheets : int
        How many, always 0 or more; the kind of line says which way.
    at : datetime, optional
        When it happened, if not now: it takes its place among the lines of that day.

    Raises
    ------
    Refused
        If more would go than the ledger had then, or than later lines leave.
    """
    now = datetime.now(UTC)
    at = at or now
    if sheets < 0:
        raise ValueOutOfRange(f"{sheets} sheets cannot be booked; give 0 or more.")
    with db.transaction() as conn:
        record = find(conn, BoxRecord, box)
        before = _in_order(conn, box)
        then = [one for one in before if one.at <= at]
        there = _sheets_after(then)
        goes = happened not in (Happened.RECEIVED, Happened.CUT, Happened.COUNTED)
        if goes and sheets > there:
            ledger_had = "The ledger has" if then == before else f"On {day(at)} the ledger had"
            raise Refused(
                f'{ledger_had} {there} sheets in box "{box}", so {sheets} cannot be {happened.value}. '
                "Count the box and enter the count first."
            )
        sound = _box_trouble(conn, box) == ""
        line = StockLine(at=at, happened=happened, box=box, sheets=-sheets if goes else sheets, trial=trial, note=note)
        booked = add(conn, line)
        why = _box_trouble(conn, box) if sound else ""
        if why:
            raise Refused(f"With {sheets} {happened.value} on {day(at)}, later lines could not be. {why}")
        more = sheets - there if happened is Happened.COUNTED else 0
        said = (happened, line.sheets, trial, note)
        # what is entered by its day has the same moment, whenever it was written down
        alike = [one for one in before if timedelta() <= at - one.at < TWIN and now - (one.created_at or now) < TWIN]
        twins = [one for one in alike if (one.happened, one.sheets, one.trial, one.note) == said]
        sold = any(one.happened is Happened.SOLD for one in before)
        return replace(
            _box_status(conn, record, at),
            booked=booked,
            more=more,
            twin=twins[-1] if twins and happened is not Happened.COUNTED else None,
            came_back=happened is Happened.RECEIVED and sold,
        )


def book_roll(
    db: Database, roll: str, happened: Happened, length: float, *, at: datetime | None = None, note: str = ""
) -> RollStatus:
    """Book a length [mm] of a roll as spoiled, sold or lost, outside of a cut.

    Parameters
    ----------
    at : datetime, optional
        When it happened, if not now: what was measured later was measured without it.

    Raises
    ------
    Refused
        If more would go than the roll can hold: its length and twice the error of that, if it is known; or if the roll
        was not there yet.
    """
    at = at or datetime.now(UTC)
    if not (math.isfinite(length) and length >= 0):
        raise ValueOutOfRange(f"{Figure(length):g} mm cannot be booked; give 0 or more.")
    with db.transaction() as conn:
        record = find(conn, RollRecord, roll)
        if at < record.received_at:
            raise Refused(
                f'Roll "{roll}" came on {day(record.received_at)}, so nothing of it was {happened.value} on {day(at)}. '
                "Correct the day, or choose another roll."
            )
        there = _roll_status(conn, record, at).length
        later = any(measure.at > at for measure in every(conn, RollMeasure, roll=roll))
        if (
            not later
            and Flag.NOT_MEASURED not in there.flags
            and length > there.value + 2 * (there.standard_error or 0.0)
        ):
            raise Refused(
                f'The ledger has {Figure(there.value / 1000):.2f} m on roll "{roll}", so '
                f"{Figure(length / 1000):.2f} m cannot be {happened.value}. Measure the roll and enter that first."
            )
        sound = _roll_trouble(conn, record) == ""
        booked = add(conn, StockLine(at=at, happened=happened, roll=roll, length=-length, note=note))
        why = _roll_trouble(conn, record) if sound else ""
        if why:
            raise Refused(why)
        return replace(_roll_status(conn, record, at), booked=booked)


def move_paper(
    db: Database, place: Place, *, roll: str | None = None, box: str | None = None, at: datetime | None = None
) -> datetime | None:
    """Put a roll or box into the cold or bring it into the room; returns when it will be warm enough to open."""
    at = at or datetime.now(UTC)
    with db.transaction() as conn:
        add(conn, PaperMove(at=at, place=place, roll=roll, box=box))
    if place is Place.COLD:
        return None
    return at + timedelta(hours=ROLL_WARM_UP if roll else BOX_WARM_UP)


def mark_container(db: Database, name: str, *, unsafe: bool, note: str = "") -> Container:
    """Remember that a bag or box lets light in (or that it was mended)."""
    with db.transaction() as conn:
        known = find(conn, Container, name)
        return correct(
            conn,
            Container(
                id=known.id, version=known.version, name=name, kind=known.kind, unsafe=unsafe, note=note or known.note
            ),
        )


def stock(db: Database, *, at: datetime | None = None) -> Stock:
    """Everything on hand, and what to see to."""
    at = at or datetime.now(UTC)
    with db.reading() as conn:
        rolls = tuple(_roll_status(conn, roll, at) for roll in every(conn, RollRecord))
        boxes = tuple(_box_status(conn, box, at) for box in every(conn, BoxRecord))
        containers = tuple(every(conn, Container))
    reminders = [
        f"{kind} {name} is in a bag or box that let light in. Test a sheet before using it, and move the rest."
        for kind, name, unsafe in [("Roll", r.roll.name, r.unsafe) for r in rolls if r.usable]
        + [("Box", b.box.name, b.unsafe) for b in boxes if b.sheets]
        if unsafe
    ]
    reminders += [
        f"{kind} {name} is still warming up: leave it sealed until {moment(ready)}."
        for kind, name, ready in [("Roll", r.roll.name, r.ready_at) for r in rolls]
        + [("Box", b.box.name, b.ready_at) for b in boxes]
        if ready
    ]
    reminders += [
        f"Roll {r.roll.name}: its measures disagree; measure it again." for r in rolls if _disagrees(r.length)
    ]
    return Stock(rolls=rolls, boxes=boxes, containers=containers, reminders=tuple(reminders))


def roll_status(db: Database, roll: str, *, at: datetime | None = None) -> RollStatus:
    """What is known of one roll."""
    with db.reading() as conn:
        return _roll_status(conn, find(conn, RollRecord, roll), at or datetime.now(UTC))


def ledger(db: Database, *, box: str | None = None, roll: str | None = None) -> list[StockLine]:
    """Lines in the order written, of one box or roll if named; what was taken back has ``removed`` set."""
    of = {kind: name for kind, name in (("box", box), ("roll", roll)) if name is not None}
    with db.reading() as conn:
        return every_ever(conn, StockLine, **of)


def take_booking_back(db: Database, number: int) -> StockLine:
    """Take a line of the ledger back; its row stays in the record.

    Raises
    ------
    Refused
        If it was taken back before; later lines could not be without it (sheets that went since); or a sitting wrote
        it, together with others: what was cut is cut.
    UnknownRecord
        If there is none of this number.
    """
    line = find_line(db, StockLine, number, listed=LEDGER_LISTED)
    with db.transaction() as conn:
        if not line.removed:
            _refuse_if_cut(conn, line)
        return take_line_back(db, line, _said(line), lambda conn: stock_trouble(conn, box=line.box, roll=line.roll))


def bring_booking_back(db: Database, number: int) -> StockLine:
    """Let a line of the ledger that was taken back count again. Raises as ``take_booking_back``."""
    line = find_line(db, StockLine, number, listed=LEDGER_LISTED)
    return bring_line_back(db, line, _said(line), lambda conn: stock_trouble(conn, box=line.box, roll=line.roll))


def _said(line: StockLine) -> str:
    paper = f'box "{line.box}"' if line.box is not None else f'roll "{line.roll}"'
    return f"Line {line.id} of the ledger ({line.happened.value}, {paper})"


def _refuse_if_cut(conn: sa.Connection, line: StockLine) -> None:
    """A sitting books its roll or box and what it made of it at once; one of these lines alone would not be true."""
    for sitting in every(conn, SittingRecord):
        if line.note == sitting.name or line.note.startswith(f"{sitting.name}: "):
            raise Refused(
                f'{_said(line)} was written by "{sitting.name}" together with what else was cut. What was cut is cut: '
                "count the box, or measure the roll."
            )


def stock_trouble(conn: sa.Connection, *, box: str | None = None, roll: str | None = None) -> str:
    """Why a box or roll cannot have given what its lines say it gave, if it cannot; empty if all is well."""
    return _box_trouble(conn, box) if box is not None else _roll_trouble(conn, find(conn, RollRecord, roll or ""))


def _roll_trouble(conn: sa.Connection, roll: RollRecord) -> str:
    lengths = [length for _, length in _lengths(conn, roll)]
    if lengths and all(length.value < -2 * (length.standard_error or 0.0) for length in lengths):
        return (
            f'More would have gone from roll "{roll.name}" than it held, by '
            f"{Figure(-max(length.value for length in lengths) / 1000):.2f} m. Measure the roll and enter that first."
        )
    return ""


def _box_trouble(conn: sa.Connection, box: str) -> str:
    there = 0
    for line in _in_order(conn, box):
        before, there = there, _after(there, line)
        if there < 0:
            return (
                f"{-(line.sheets or 0)} were {line.happened.value} on {day(line.at)} (line {line.id}), and only "
                f"{before} would have been there. Take that line back first, or count the box: from then on the count "
                "holds."
            )
    return ""


def when_to_reorder(db: Database, paper: str, *, at: datetime | None = None, lead_days: float = 14.0) -> Reorder:
    """When to order more of a paper, by the pace at which it went in the last 90 days."""
    at = at or datetime.now(UTC)
    with db.reading() as conn:
        lots = {lot.name for lot in every(conn, Lot, family=paper)}
        boxes = {box.name: box for box in every(conn, BoxRecord) if box.lot in lots}
        widths = {roll.name: roll for roll in every(conn, RollRecord) if roll.lot in lots}
        uses: list[tuple[float, float]] = []
        first = at
        for line in every(conn, StockLine):
            first = min(first, line.at) if line.box in boxes or line.roll in widths else first
            ago = (at - line.at).total_seconds() / 86400
            if line.happened in (Happened.CUT, Happened.RECEIVED, Happened.COUNTED) or not 0 <= ago <= USE_WINDOW:
                continue
            if line.box in boxes:
                box = boxes[line.box]
                uses.append((ago, -(line.sheets or 0) * box.along * box.across / 1e6))
            elif line.roll in widths:
                uses.append((ago, -(line.length or 0.0) * widths[line.roll].width / 1e6))
        on_hand = sum(_box_status(conn, box, at).area for box in boxes.values())
        on_hand += sum(_roll_status(conn, roll, at).area for roll in widths.values())
    days = min(USE_WINDOW, max((at - first).total_seconds() / 86400, 7.0))
    return reorder(uses, days=days, on_hand=on_hand, lead_days=lead_days)


def lot_cover(
    db: Database,
    lot: str,
    *,
    along: float,
    across: float,
    prints: int,
    sheets_per_print: float = SHEETS_PER_PRINT,
    at: datetime | None = None,
) -> Cover:
    """How many prints of an edition a lot covers: sheets of that size at hand and what its rolls still give.

    A sheet that is up to ``NOMINAL`` larger is of that size, too: 8x10 in is 203 x 254 mm and is called 20x25 cm.
    """
    refuse_no_sheet(across, along)
    at = at or datetime.now(UTC)
    with db.reading() as conn:
        find(conn, Lot, lot)
        sheets = float(
            sum(
                _sheets_in(conn, box.name)
                for box in every(conn, BoxRecord, lot=lot)
                if not box.strips and _are_of_size(box, along, across)
            )
        )
        for roll in every(conn, RollRecord, lot=lot):
            usable = _roll_status(conn, roll, at).usable
            sheets += max(
                int(roll.width // across) * int(usable // along), int(roll.width // along) * int(usable // across)
            )
    return cover(sheets, prints, sheets_per_print=sheets_per_print)


def _are_of_size(box: BoxRecord, along: float, across: float) -> bool:
    sides = zip(sorted((box.along, box.across)), sorted((along, across)), strict=True)
    return all(-0.5 <= there - asked <= NOMINAL for there, asked in sides)


def _disagrees(length: Estimate) -> bool:
    return Flag.MEASURES_DISAGREE in length.flags


def _find_or_make_container(conn: sa.Connection, name: str, kind: str) -> None:
    if not any(known.name == name for known in every(conn, Container)):
        add(conn, Container(name=name, kind=kind))


def _sheets_in(conn: sa.Connection, box: str) -> int:
    return _sheets_after(_in_order(conn, box))


def _sheets_after(lines: Iterable[StockLine]) -> int:
    there = 0
    for line in lines:
        there = _after(there, line)
    return there


def _in_order(conn: sa.Connection, box: str) -> list[StockLine]:
    return sorted(every(conn, StockLine, box=box), key=lambda line: (line.at, line.id))


def _after(there: int, line: StockLine) -> int:
    """Sheets in a box after a line of its ledger: a count says what is there, all else comes or goes."""
    return line.sheets or 0 if line.happened is Happened.COUNTED else there + (line.sheets or 0)


def _box_status(conn: sa.Connection, box: BoxRecord, at: datetime) -> BoxStatus:
    place, ready = _whereabouts(every(conn, PaperMove, box=box.name), BOX_WARM_UP, at)
    return BoxStatus(
        box=box,
        family=find(conn, Lot, box.lot).family,
        sheets=_sheets_in(conn, box.name),
        place=place,
        ready_at=ready,
        unsafe=_is_unsafe(conn, box.container),
    )


def _is_unsafe(conn: sa.Connection, container: str | None) -> bool:
    return container is not None and find(conn, Container, container).unsafe


def _whereabouts(moves: list[PaperMove], hours: float, at: datetime) -> tuple[Place | None, datetime | None]:
    moves = sorted((move for move in moves if move.at <= at), key=lambda move: (move.at, move.id))
    if not moves:
        return None, None
    last = moves[-1]
    came_from_cold = any(move.place is Place.COLD for move in moves[:-1])
    ready = last.at + timedelta(hours=hours)
    return last.place, ready if last.place is Place.ROOM and came_from_cold and ready > at else None


def _roll_status(conn: sa.Connection, roll: RollRecord, at: datetime) -> RollStatus:
    family = find(conn, Lot, roll.lot).family
    lines = every(conn, StockLine, roll=roll.name)
    estimates = _lengths(conn, roll)
    waiting = _waits(conn, roll)
    if estimates:
        length = combined_length([replace(estimate, value=max(estimate.value, 0.0)) for _, estimate in estimates])
        words = " and ".join(name for name, _ in estimates) + waiting
    else:
        length = Estimate(value=0.0, standard_error=None, flags=(Flag.NOT_MEASURED,))
        words = f"nothing yet{waiting or ': measure its diameter'}"
    begun = any(line.happened is Happened.CUT for line in lines)
    diameter = _outer_diameter(roll, _make_of(conn, roll), length.value)
    discard = 0.0 if begun else turns_length(roll.first_turns, diameter)
    core = turns_length(roll.last_turns, roll.core_diameter or 76.0)
    place, ready = _whereabouts(every(conn, PaperMove, roll=roll.name), ROLL_WARM_UP, at)
    return RollStatus(
        roll=roll,
        family=family,
        length=length,
        usable=usable_length(length, first_turns=discard, last_turns=core),
        discard=discard,
        from_words=words,
        place=place,
        ready_at=ready,
        unsafe=_is_unsafe(conn, roll.container),
    )


def _make_of(conn: sa.Connection, roll: RollRecord) -> PaperMake | None:
    return next(iter(every(conn, PaperMake, family=find(conn, Lot, roll.lot).family)), None)


def _lengths(conn: sa.Connection, roll: RollRecord) -> list[tuple[str, Estimate]]:
    """What is left on a roll by its label and by its last measure, less what went since; below 0: more than it held."""
    lines = every(conn, StockLine, roll=roll.name)
    found: list[tuple[str, Estimate]] = []
    if roll.stated_length is not None:
        left = roll.stated_length + sum(line.length or 0.0 for line in lines)
        found.append(("its label", Estimate(value=left, standard_error=LABEL_ERROR * roll.stated_length)))
    measures = sorted(every(conn, RollMeasure, roll=roll.name), key=lambda m: (m.at, m.id))
    if measures:
        last = measures[-1]
        since = sum(line.length or 0.0 for line in lines if line.at > last.at)
        for words, estimate in _measured(roll, _make_of(conn, roll), last):
            found.append((words, replace(estimate, value=estimate.value + since)))
    return found


def _waits(conn: sa.Connection, roll: RollRecord) -> str:
    """What the last measure of a roll needs before it says a length, to be said after what does; empty: nothing."""
    measures = sorted(every(conn, RollMeasure, roll=roll.name), key=lambda m: (m.at, m.id))
    if not measures:
        return ""
    last, make = measures[-1], _make_of(conn, roll)
    wound = {"core": roll.core_diameter, "thickness of the paper": make.thickness if make else None}
    weighed = {"weight of the core": roll.core_weight, "weight of the paper": make.grammage if make else None}
    waits = ""
    for what, given, needs in (
        ("diameter", last.outer_diameter, wound),
        ("turns", last.turns, wound),
        ("weight", last.weight, weighed),
    ):
        missing = [name for name, value in needs.items() if not value]
        if given is not None and missing:
            waits += (
                f"; the {what} {'say' if what == 'turns' else 'says'} nothing without the {' and the '.join(missing)}"
            )
    return waits


def _measured(roll: RollRecord, make: PaperMake | None, measure: RollMeasure) -> list[tuple[str, Estimate]]:
    thickness = make.thickness if make else None
    grammage = make.grammage if make else None
    found: list[tuple[str, Estimate]] = []
    if measure.outer_diameter is not None and roll.core_diameter and thickness:
        estimate = length_from_diameter(measure.outer_diameter, roll.core_diameter, thickness)
        found.append((f"its diameter of {Figure(measure.outer_diameter):g} mm", estimate))
    if measure.turns is not None and roll.core_diameter and thickness:
        found.append(
            (f"{Figure(measure.turns):g} turns", length_from_turns(measure.turns, roll.core_diameter, thickness))
        )
    if measure.weight is not None and roll.core_weight is not None and grammage:
        estimate = length_from_weight(measure.weight, roll.core_weight, roll.width, grammage)
        found.append((f"its weight of {Figure(measure.weight):g} g", estimate))
    return found


def _outer_diameter(roll: RollRecord, make: PaperMake | None, length: float) -> float:
    core = roll.core_diameter or 76.0
    thickness = make.thickness if make and make.thickness else 0.25
    return math.sqrt(core**2 + 4 * length * thickness / math.pi)
