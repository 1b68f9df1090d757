"""The edition ledger: promise an edition, number its prints, and write down what becomes of each.

Nothing is ever given twice or lost: a number belongs to its print for ever, a promise that is changed stays readable,
a line that was taken back is still listed.
"""

import dataclasses
import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any

import sqlalchemy as sa

from printlore.core.calendar import day
from printlore.core.cutting.supply import Cover
from printlore.core.edition.code import new_code, read_code
from printlore.core.edition.record import NOT_RECORDED, PrintFacts, differences, digest
from printlore.core.edition.state import NUMBERED, TOLD, Happened, Place, is_sold, place_of, trouble
from printlore.core.quantities import parse_size
from printlore.errors import Refused, UnknownRecord, ValueOutOfRange
from printlore.records.baths import Bath
from printlore.records.database import Database
from printlore.records.editions import Edition, NumberedPrint, PrintLine
from printlore.records.papers import Lot
from printlore.records.rows import (
    add,
    bring_back,
    clean_name,
    correct,
    every,
    every_ever,
    every_of,
    find,
    history,
    latest,
    remove,
)
from printlore.records.trials import TrialRecord, TrialRow, with_patches
from printlore.services.stock import lot_cover

MOST_COPIES = 30
"""Of a photograph, all sizes and mounts together, for it to count as a work of art (vat-directive)."""
OVER_COPIES = (
    f"As far as known, a photograph counts as a work of art for a lower VAT in the European Union only with at most "
    f"{MOST_COPIES} signed and numbered copies, all sizes and mounts together (Directive 2006/112/EC, Annex IX, A 7). "
    "Whether artist's proofs count is not said there; here they are counted. Ask a tax adviser; local rules hold."
)
CERTIFICATE_DUTY = (
    "As far as known, some places ask for a written certificate with stated particulars when prints in several copies "
    "are sold. Look up the law of the place the print goes to; local rules hold."
)
"""For one such law see civil-code-1742."""
PERSONAL = (
    "Names of buyers are personal data: leave them out if you do not need them. They stay in this studio and leave it "
    "only in an export or a backup."
)
USUAL_SIZE = (203.0, 254.0)
"""[mm] Taken where no print says its size."""
FEWEST_DIGITS = 8
"""Of a digest that is compared; fewer could fit by chance."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Promise:
    """What was promised from a moment on, and why it was changed then.

    ``confirmed``: raised though somebody might rely on the promise before, and the printer said so knowingly.
    """

    at: datetime | None
    prints: int
    proofs: int
    reason: str
    confirmed: bool

    @property
    def words(self) -> str:
        """As one says it."""
        proofs = f" and {self.proofs} artist's proof{'' if self.proofs == 1 else 's'}" if self.proofs else ""
        return f"{self.prints} print{'' if self.prints == 1 else 's'}{proofs}"


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintView:
    """A numbered print with all that is known of it.

    Attributes
    ----------
    print : NumberedPrint
        ``removed`` is set if its numbering was taken back; its number stays its own.
    facts : PrintFacts
        What a certificate written now would say.
    lines : tuple of PrintLine
        All that ever became of it, oldest first; what was taken back has ``removed`` set.
    doubts : tuple of str
        About the sheet it is.
    """

    print: NumberedPrint
    facts: PrintFacts
    lines: tuple[PrintLine, ...]
    doubts: tuple[str, ...]

    @property
    def life(self) -> tuple[Happened, ...]:
        """What counts of its lines."""
        return tuple(line.happened for line in self.lines if not line.removed)

    @property
    def place(self) -> Place:
        return place_of(self.life)

    @property
    def sold(self) -> bool:
        return is_sold(self.life)

    @property
    def state(self) -> str:
        """The last thing that happened to it."""
        return self.life[-1].value if self.life else NUMBERED

    @property
    def certificate(self) -> PrintLine | None:
        """The newest certificate that counts."""
        written = [one for one in self.lines if one.happened is Happened.CERTIFIED and not one.removed]
        return written[-1] if written else None


@dataclass(frozen=True, slots=True, kw_only=True)
class EditionView:
    """An edition with its prints.

    Attributes
    ----------
    promises : tuple of Promise
        The first, and one for each change; the last one holds.
    prints : tuple of PrintView
        By number, artist's proofs last; those whose numbering was taken back among them.
    next_number, next_proof : int or None
        To be given next; None: all that were promised are given.
    copies : int
        Numbered prints and artist's proofs of the same negative, over all its editions.
    promised_copies : int
        The same as promised.
    warnings : tuple of str
    reference : TrialRecord or None
        The earlier print to match: the first that was kept and measured, or the last that was kept.
    """

    edition: Edition
    promises: tuple[Promise, ...]
    prints: tuple[PrintView, ...]
    next_number: int | None
    next_proof: int | None
    copies: int
    promised_copies: int
    warnings: tuple[str, ...]
    reference: TrialRecord | None

    @property
    def counted(self) -> tuple[PrintView, ...]:
        """Numbered prints that count, artist's proofs left out."""
        return tuple(one for one in self.prints if not one.print.removed and not one.print.proof)

    @property
    def left(self) -> int:
        """Numbered prints still to make: promised, less those that have a number, destroyed ones too."""
        return self.edition.prints - len({one.print.number for one in self.prints if not one.print.proof})

    def at(self, place: Place) -> int:
        """How many numbered prints are there."""
        return sum(one.place is place for one in self.counted)


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperLeft:
    """Whether paper of the lot in hand covers what is still to be made: of which lot and size [mm], and the answer."""

    lot: str
    size: tuple[float, float]
    cover: Cover


@dataclass(frozen=True, slots=True, kw_only=True)
class CertificateCheck:
    """What became of a comparison of a certificate with the ledger.

    Attributes
    ----------
    matches : bool
        It was written by this studio, and everything that was read off it is so in the ledger.
    words : str
    differs : tuple of (what, on the certificate, in the ledger)
    view : PrintView
    """

    matches: bool
    words: str
    differs: tuple[tuple[str, str, str], ...]
    view: PrintView


# the promise


def add_edition(
    db: Database,
    title: str,
    *,
    frame: str,
    prints: int,
    proofs: int = 0,
    artist: str = "",
    sizes: str = "",
    note: str = "",
) -> Edition:
    """Promise an edition of a negative: so many numbered prints in all, and so many artist's proofs beside.

    Raises
    ------
    UnknownRecord
        If there is no such negative.
    ValueOutOfRange
        If its title is or was another's, or it cannot be that many.
    """
    edition = Edition(
        name=title, frame=frame, prints=prints, proofs=proofs, artist=artist.strip(), sizes=sizes.strip(), note=note
    )
    with db.transaction() as conn:
        return _edition(conn, add(conn, edition).id)


def change_edition(
    db: Database, edition: Edition, *, reason: str = "", confirmed: bool = False, **changes: Any
) -> Edition:
    """Correct an edition as it was read, or change its promise; every earlier promise stays readable.

    Parameters
    ----------
    reason : str
        Why the promise is changed; needed if it is.
    confirmed : bool
        Raise it although a print was certified, sold or delivered under the old promise.
    **changes
        ``prints``, ``proofs``, ``name`` (the title), ``artist``, ``sizes``, ``note``.

    Raises
    ------
    Refused
        If fewer would be promised than have a number, no reason is given, or a confirmation is needed.
    ChangedMeanwhile
        If it was changed since it was read.
    """
    with db.transaction() as conn:
        there = find(conn, Edition, edition.name) if edition.id == 0 else _edition(conn, edition.id)
        new = dataclasses.replace(edition, **changes)
        raised = [
            (what, before, after)
            for what, before, after in (
                ("prints", there.prints, new.prints),
                ("artist's proofs", there.proofs, new.proofs),
            )
            if before != after
        ]
        if raised:
            _refuse_broken_promise(conn, there, new, reason, confirmed)
        held = confirmed and any(after > before for _, before, after in raised) and bool(_relied_on(conn, there))
        new = dataclasses.replace(new, reason=reason.strip() if raised else "", confirmed=held)
        correct(conn, new)
        return _edition(conn, there.id)


def _refuse_broken_promise(conn: sa.Connection, there: Edition, new: Edition, reason: str, confirmed: bool) -> None:
    given = every_ever(conn, NumberedPrint, edition=there.name)
    for what, proof, before, after in (
        ("prints", False, there.prints, new.prints),
        ("artist's proofs", True, there.proofs, new.proofs),
    ):
        highest = max((one.number for one in given if one.proof is proof), default=0)
        if after < highest:
            raise Refused(f'"{there.name}" has {what} up to number {highest}, so {after} cannot be all there will be.')
        relying = _relied_on(conn, there)
        if after > before and relying and not confirmed:
            raise Refused(
                f'"{there.name}" was promised as {before} {what}, and under that promise {relying[0]}. Raising it to '
                f"{after} breaks a promise to buyers: tell them first. Confirm it if you mean it; it stays readable."
            )
    if not reason.strip():
        raise Refused(f'Say why the promise of "{there.name}" is changed; it stands beside the change.')


def _relied_on(conn: sa.Connection, edition: Edition) -> list[str]:
    """Prints of an edition that somebody outside may have bought or seen a certificate of, in words."""
    numbers = [one.id for one in every(conn, NumberedPrint, edition=edition.name)]
    relied = (Happened.CERTIFIED, Happened.SOLD, Happened.DELIVERED, Happened.CONSIGNED)
    lines = [line for line in every_of(conn, PrintLine, "print_id", numbers) if line.happened in relied]
    return [f"{line.print} {TOLD[line.happened]}" for line in lines]


def take_edition_back(db: Database, edition: Edition) -> None:
    """Take an edition back, as it was read; its rows stay.

    Raises
    ------
    Refused
        If a number of it was ever given.
    """
    with db.transaction() as conn:
        if every_ever(conn, NumberedPrint, edition=edition.name):
            raise Refused(f'Numbers of "{edition.name}" were given, so it stays. Change its promise instead.')
        remove(conn, edition)


def bring_edition_back(db: Database, title: str) -> Edition:
    """Let an edition that was taken back count again."""
    with db.transaction() as conn:
        for one in every_ever(conn, Edition, name=clean_name(Edition.word, title)):
            if not one.removed:
                raise Refused(f'"{one.name}" was not taken back: it counts. There is nothing to bring back.')
            return bring_back(conn, one)
        return find(conn, Edition, title)


# numbers


def number_print(
    db: Database,
    edition: str,
    *,
    trial: str | None = None,
    number: int | None = None,
    proof: bool = False,
    size: tuple[float, float] | None = None,
    printed_on: str | None = None,
    paper: str = "",
    note: str = "",
    over_copies: bool = False,
) -> PrintView:
    """Give a print its number and its print code.

    Parameters
    ----------
    edition : str
    trial : str or None
        The sheet it is; size, day, paper and lot are taken from it. None: a print that was never logged.
    number : int or None
        The next that was not given, if not said.
    proof : bool
        An artist's proof, counted by itself.
    size : (width, height), optional
        [mm]
    printed_on : str, optional
        Day, ISO 8601.
    paper : str
        In words, for a print that was never logged.
    over_copies : bool
        Go beyond 30 copies of the negative knowingly.

    Raises
    ------
    Refused
        If the number was given or is not promised, the sheet is a strip, was taken back, is of another negative or has
        a number already, or the 31st copy is not confirmed.
    """
    with db.transaction() as conn:
        promised = find(conn, Edition, edition)
        sheet = None if trial is None else _sheet(conn, promised, trial)
        if sheet is not None:
            size = size or sheet.print_size
            printed_on = printed_on or sheet.at.astimezone().date().isoformat()
            paper = ""
        given = {one.number: one for one in every_ever(conn, NumberedPrint, edition=promised.name, proof=proof)}
        number = _next(given, promised.proofs if proof else promised.prints) if number is None else number
        _refuse_number(promised, given, number, proof)
        if not over_copies and _copies(conn, promised.frame) == MOST_COPIES:
            raise Refused(
                f"This would be copy {MOST_COPIES + 1} of the negative. {OVER_COPIES} Confirm it if you mean it."
            )
        made = add(
            conn,
            NumberedPrint(
                name=_fresh_code(conn),
                edition=promised.name,
                proof=proof,
                number=number,
                trial=None if sheet is None else sheet.name,
                size=size,
                printed_on=printed_on,
                paper=paper.strip(),
                note=note,
            ),
        )
        return _view(conn, promised, _print(conn, made.id))


def _next(given: Mapping[int, NumberedPrint], promised: int) -> int:
    return next((number for number in range(1, promised + 1) if number not in given), promised + 1)


def _refuse_number(edition: Edition, given: Mapping[int, NumberedPrint], number: int, proof: bool) -> None:
    what, promised = ("artist's proof", edition.proofs) if proof else ("print", edition.prints)
    if number > promised:
        raise Refused(
            f'"{edition.name}" promises {promised} {what}{"" if promised == 1 else "s"}, so there is no number '
            f"{number}. Change the promise first, if it may be changed."
        )
    taken = given.get(number)
    if taken is not None and taken.removed:
        raise Refused(
            f"Number {number} was given to {taken.name} and taken back. A number is never given twice: bring that "
            "print back and correct it, or give the next number."
        )
    if taken is not None:
        raise Refused(f"Number {number} was given already, to {taken.name}. A number is never given twice.")


def _sheet(conn: sa.Connection, edition: Edition, trial: str, *, own: int = 0) -> TrialRow:
    for row in every_ever(conn, TrialRow, name=clean_name(TrialRow.word, trial)):
        if row.removed:
            raise Refused(f"{row.name} was taken back, so it does not count; bring it back or choose another sheet.")
    row = find(conn, TrialRow, trial)
    if row.kind != "sheet":
        raise Refused(f"{row.name} is a {row.kind}, not a whole print; choose a sheet.")
    if row.frame != edition.frame:
        raise Refused(f'{row.name} is of "{row.frame}", but the edition is of "{edition.frame}". Choose another sheet.')
    for other in every(conn, NumberedPrint, trial=row.name):
        if other.id != own:
            raise Refused(f"{row.name} is {other.name} already, number {other.number}; one sheet is one print.")
    return row


def _fresh_code(conn: sa.Connection) -> str:
    while True:
        code = new_code(secrets.choice)
        if not every_ever(conn, NumberedPrint, name=code):
            return code


def _copies(conn: sa.Connection, frame: str) -> int:
    editions = [one.name for one in every(conn, Edition, frame=frame)]
    return sum(len(every(conn, NumberedPrint, edition=title)) for title in editions)


def correct_print(db: Database, there: NumberedPrint, **changes: Any) -> PrintView:
    """Put a numbered print right, as it was read; number and code stay.

    Parameters
    ----------
    **changes
        ``trial``, ``size`` [mm], ``printed_on``, ``paper``, ``note``.

    Raises
    ------
    Refused
        If the sheet cannot be it (see ``number_print``).
    ChangedMeanwhile
        If it was changed since it was read.
    """
    with db.transaction() as conn:
        edition = find(conn, Edition, there.edition)
        if changes.get("trial"):
            changes["trial"] = _sheet(conn, edition, changes["trial"], own=there.id).name
        correct(conn, dataclasses.replace(there, **changes))
        return _view(conn, edition, _print(conn, there.id))


def take_print_back(db: Database, there: NumberedPrint) -> NumberedPrint:
    """Take a numbering back, as it was read: it was a mistake. The number stays with it and is given to no other.

    Raises
    ------
    Refused
        If something became of the print since; take that back first.
    """
    with db.transaction() as conn:
        lines = every(conn, PrintLine, print=there.name)
        if lines:
            raise Refused(
                f"{there.name} {TOLD[_life(lines)[-1].happened]}, so it is a print. Take that line back first, or "
                "write down that it was destroyed."
            )
        remove(conn, there)
        return dataclasses.replace(there, version=there.version + 1, removed=True)


def bring_print_back(db: Database, there: NumberedPrint) -> NumberedPrint:
    """Let a numbering that was taken back count again.

    Raises
    ------
    Refused
        If it was not taken back, or its sheet became another print meanwhile.
    """
    if not there.removed:
        raise Refused(f"{there.name} was not taken back: it counts. There is nothing to bring back.")
    with db.transaction() as conn:
        for other in every(conn, NumberedPrint, trial=there.trial) if there.trial else ():
            raise Refused(f"Its sheet {there.trial} is {other.name} meanwhile. Take that back first.")
        return bring_back(conn, there)


# what becomes of a print


def add_line(
    db: Database,
    code: str,
    happened: Happened,
    *,
    at: datetime | None = None,
    price: float | None = None,
    person: str = "",
    packed: str = "",
    note: str = "",
) -> PrintLine:
    """Write down what happened to a numbered print; a certificate writes its own line (``write_certificate``).

    Raises
    ------
    Refused
        If that cannot have happened after what did, or a destroyed print has no reason.
    """
    if happened is Happened.CERTIFIED:
        return write_certificate(db, code, at=at)
    if happened is Happened.DESTROYED and not note.strip():
        raise Refused("Say why it was destroyed; the number stays in the ledger with it.")
    line = PrintLine(
        print=read_code(code),
        at=at or datetime.now(UTC),
        happened=happened,
        price=price,
        person=person.strip(),
        packed=packed.strip(),
        note=note.strip(),
    )
    return _add_line(db, line)


def write_certificate(db: Database, code: str, *, at: datetime | None = None) -> PrintLine:
    """Write a print's certificate: what it vouches for and the digest of that stay in the ledger.

    Raises
    ------
    Refused
        If the print was destroyed.
    """
    with db.transaction() as conn:
        there = find(conn, NumberedPrint, read_code(code))
        text = _facts(conn, find(conn, Edition, there.edition), there).text()
        moment = at or datetime.now(UTC)
        line = PrintLine(print=there.name, at=moment, happened=Happened.CERTIFIED, record=text, digest=digest(text))
        return _add_line(db, line)


def _add_line(db: Database, line: PrintLine) -> PrintLine:
    with db.transaction() as conn:
        there = find(conn, NumberedPrint, line.print)
        made = add(conn, line)
        _refuse_trouble(conn, there)
        return made


def _refuse_trouble(conn: sa.Connection, there: NumberedPrint) -> None:
    why = trouble([line.happened for line in _life(every(conn, PrintLine, print=there.name))])
    if why:
        raise Refused(f"{there.name}: {why}")


def find_line(db: Database, number: int) -> PrintLine:
    """The line of a record number, also if it was taken back. Raises UnknownRecord."""
    with db.reading() as conn:
        for line in every_ever(conn, PrintLine, id=number):
            return line
    raise UnknownRecord(f"No line of a print has the number {number}. Look at its edition.")


def take_line_back(db: Database, line: PrintLine) -> PrintLine:
    """Take a line back, as it was read; it stays listed.

    Raises
    ------
    Refused
        If it was taken back before, or what came after rests on it.
    """
    if line.removed:
        raise Refused(f"That line of {line.print} was taken back before; nothing was changed.")
    with db.transaction() as conn:
        remove(conn, line)
        _refuse_trouble(conn, find(conn, NumberedPrint, line.print))
    return dataclasses.replace(line, version=line.version + 1, removed=True)


def bring_line_back(db: Database, line: PrintLine) -> PrintLine:
    """Let a line that was taken back count again.

    Raises
    ------
    Refused
        If it was not taken back, or cannot be as things stand.
    """
    if not line.removed:
        raise Refused(f"That line of {line.print} was not taken back: it counts. There is nothing to bring back.")
    with db.transaction() as conn:
        back = bring_back(conn, line)
        _refuse_trouble(conn, find(conn, NumberedPrint, line.print))
        return back


# looking


def edition_view(db: Database, title: str) -> EditionView:
    """An edition with its prints, what is still to make, and what to beware of."""
    with db.reading() as conn:
        return _edition_view(conn, find(conn, Edition, title))


def editions_ever(db: Database) -> list[Edition]:
    """Every edition, those that were taken back too, with ``removed`` set."""
    with db.reading() as conn:
        return every_ever(conn, Edition)


def editions_of(db: Database, frame: str | None = None) -> list[EditionView]:
    """Every edition, or those of a negative, as promised first."""
    with db.reading() as conn:
        found = every(conn, Edition) if frame is None else every(conn, Edition, frame=frame)
        return [_edition_view(conn, one) for one in found]


def find_print(db: Database, code: str) -> PrintView:
    """A numbered print by the code on its back, also if its numbering was taken back.

    Raises
    ------
    ValueOutOfRange
        If it is no print code.
    UnknownRecord
        If no print of this studio has it.
    """
    wanted = read_code(code)
    with db.reading() as conn:
        for there in every_ever(conn, NumberedPrint, name=wanted):
            return _view(conn, find(conn, Edition, there.edition), there)
    raise UnknownRecord(f"No print of this studio has the code {wanted}. It is a sound code, but not one given here.")


def numbered_view(db: Database, number: int) -> PrintView:
    """The numbered print of a record number, also if its numbering was taken back. Raises UnknownRecord."""
    with db.reading() as conn:
        for there in every_ever(conn, NumberedPrint, id=number):
            return _view(conn, find(conn, Edition, there.edition), there)
    raise UnknownRecord(f"There is no numbered print with the record number {number}. Choose one of an edition.")


def sheets_to_number(db: Database, edition: Edition) -> list[tuple[TrialRow, tuple[str, ...]]]:
    """Sheets of the edition's negative that have no number yet, newest first, each with what to beware of."""
    with db.reading() as conn:
        taken = {one.trial for one in every(conn, NumberedPrint) if one.trial}
        records = with_patches(conn, [row for row in every(conn, TrialRow, frame=edition.frame) if row.kind == "sheet"])
    free = [record for record in records if record.name not in taken]
    free.sort(key=lambda record: (record.row.at, record.row.id), reverse=True)
    return [(record.row, sheet_doubts(record)) for record in free]


def sheet_doubts(record: TrialRecord) -> tuple[str, ...]:
    """What to beware of before a sheet becomes a numbered print."""
    doubts = []
    if record.taken_back:
        doubts.append(f"{record.name} was taken back since: its sheet does not count")
    if not any(patch.kept for patch in record.patches):
        doubts.append(f"{record.name} was not kept as right")
    if len(record.patches) > 1:
        doubts.append(f"{record.name} holds {len(record.patches)} exposures")
    if any(patch.exposure.version > 1 for patch in record.patches):
        doubts.append(f"the setting of {record.name} was corrected after it was logged (a slip)")
    return tuple(doubts)


def paper_left(db: Database, view: EditionView) -> PaperLeft | None:
    """Whether paper of the lot that was printed on last covers the prints still to make; None with none or no lot."""
    if view.left <= 0:
        return None
    with db.reading() as conn:
        printed = [one for one in view.counted if one.print.trial]
        rows = sorted(every(conn, TrialRow, frame=view.edition.frame), key=lambda row: (row.at, row.id))
        newest = latest(conn, Lot)
    lot = printed[-1].facts.lot if printed else rows[-1].lot if rows else newest.name if newest else ""
    if not lot:
        return None
    size = next((one.print.size for one in reversed(view.counted) if one.print.size), None) or USUAL_SIZE
    return PaperLeft(lot=lot, size=size, cover=lot_cover(db, lot, along=size[1], across=size[0], prints=view.left))


def _edition(conn: sa.Connection, number: int) -> Edition:
    return every(conn, Edition, id=number)[0]


def _print(conn: sa.Connection, number: int) -> NumberedPrint:
    return every_ever(conn, NumberedPrint, id=number)[0]


def _edition_view(conn: sa.Connection, edition: Edition) -> EditionView:
    prints = sorted(
        every_ever(conn, NumberedPrint, edition=edition.name), key=lambda one: (one.proof, one.number, one.id)
    )
    given = {proof: {one.number: one for one in prints if one.proof is proof} for proof in (False, True)}
    after = _next(given[False], edition.prints)
    after_proof = _next(given[True], edition.proofs)
    copies = _copies(conn, edition.frame)
    promised = sum(one.prints + one.proofs for one in every(conn, Edition, frame=edition.frame))
    warnings = []
    if promised > MOST_COPIES:
        warnings.append(
            f"{promised} copies of this negative are promised over all editions, sizes and mounts; {copies} are "
            f"numbered. {OVER_COPIES}"
        )
    return EditionView(
        edition=edition,
        promises=_promises(conn, edition),
        prints=tuple(_view(conn, edition, one) for one in prints),
        next_number=after if after <= edition.prints else None,
        next_proof=after_proof if after_proof <= edition.proofs else None,
        copies=copies,
        promised_copies=promised,
        warnings=tuple(warnings),
        reference=_reference(conn, edition.frame),
    )


def _promises(conn: sa.Connection, edition: Edition) -> tuple[Promise, ...]:
    found: list[Promise] = []
    for row in history(conn, edition):
        promise = Promise(
            at=row["created_at"],
            prints=row["prints"],
            proofs=row["proofs"],
            reason=row["reason"],
            confirmed=bool(row["confirmed"]),
        )
        if not found or (promise.prints, promise.proofs) != (found[-1].prints, found[-1].proofs):
            found.append(promise)
    return tuple(found)


def _view(conn: sa.Connection, edition: Edition, there: NumberedPrint) -> PrintView:
    doubts: tuple[str, ...] = ()
    if there.trial:
        doubts = sheet_doubts(with_patches(conn, every_ever(conn, TrialRow, name=there.trial))[0])
    return PrintView(
        print=there,
        facts=_facts(conn, edition, there),
        lines=tuple(_life(every_ever(conn, PrintLine, print_id=there.id))),
        doubts=doubts,
    )


def _life(lines: Sequence[PrintLine]) -> list[PrintLine]:
    return sorted(lines, key=lambda line: (line.at, line.id))


def _facts(conn: sa.Connection, edition: Edition, there: NumberedPrint) -> PrintFacts:
    process, paper, lot = "chromogenic print", there.paper, ""
    for row in every_ever(conn, TrialRow, name=there.trial) if there.trial else ():
        for bath in every_ever(conn, Bath, name=row.bath):
            process = ", ".join(filter(None, (process, _said(bath.process))))
        for one in every_ever(conn, Lot, name=row.lot):
            paper, lot = _said(one.family), _said(one.name)
    return PrintFacts(
        code=there.name,
        title=edition.name,
        artist=edition.artist,
        number=there.number,
        proof=there.proof,
        prints=edition.prints,
        proofs=edition.proofs,
        size=there.size,
        printed_on=there.printed_on,
        negative=_said(edition.frame),
        process=process,
        paper=paper,
        lot=lot,
    )


def _said(name: str) -> str:
    """A name that somebody gave; one that was made up at logging says nothing."""
    return "" if name.startswith("unnamed ") else name


def _reference(conn: sa.Connection, frame: str) -> TrialRecord | None:
    records = with_patches(conn, every(conn, TrialRow, frame=frame))
    kept = [one for one in records if one.row.kind == "sheet" and any(patch.kept for patch in one.patches)]
    kept.sort(key=lambda one: (one.row.at, one.row.id))
    measured = [one for one in kept if any(patch.kept and patch.readings for patch in one.patches)]
    return measured[0] if measured else kept[-1] if kept else None


# certificates


def check_certificate(
    db: Database, code: str, sha256: str = "", *, read: Mapping[str, str] | None = None
) -> CertificateCheck:
    """Compare a certificate with the ledger.

    Parameters
    ----------
    code : str
        The print code on it.
    sha256 : str
        The digest on it, or its first digits, at least 8; spaces do not matter.
    read : mapping of what it says
        Lines as the certificate names them ("Title", "Number", "Size", ...), so that what differs can be named.

    Raises
    ------
    ValueOutOfRange
        If the code is none, or the digest is no digest.
    UnknownRecord
        If no print of this studio has the code.
    """
    view = find_print(db, code)
    typed = "".join(sha256.split()).lower()
    if typed and not (FEWEST_DIGITS <= len(typed) <= 64 and all(sign in "0123456789abcdef" for sign in typed)):
        raise ValueOutOfRange(
            f'"{sha256.strip()[:40]}" is no digest: it has 64 digits 0 to 9 and letters a to f, of which at least the '
            f"first {FEWEST_DIGITS} are needed. Read it off the certificate again."
        )
    if not typed and not any(value.strip() for value in (read or {}).values()):
        raise ValueOutOfRange("Give the digest of the certificate, or something else that stands on it.")
    written = [line for line in view.lines if line.happened is Happened.CERTIFIED]
    now = view.facts.text()
    found = next((line for line in reversed(written) if typed and line.digest.startswith(typed)), None)
    against = found.record if found else now
    misread = _misread(against, read or {})
    differs, parts = list(misread), []
    if found:
        parts.append(f"The digest is that of the certificate written on {day(found.at)}.")
        if found.removed:
            parts.append("That certificate was taken back since.")
        changed = differences(found.record, now)
        if changed:
            parts.append("Since then the ledger was changed: " + _told(changed) + ".")
        differs += [one for one in changed if one not in differs]
    elif typed and digest(now).startswith(typed):
        parts.append("The digest is that of the record as it stands, but no certificate was written down.")
    elif typed:
        parts.append("The digest is of no certificate written for this print: something on it is not as in the ledger.")
        if not differs:
            parts.append("Type in what the certificate says, and what differs is named.")
    if misread:
        parts.append("It says otherwise than the ledger: " + _told(misread) + ".")
    known = bool(found and not found.removed) or not typed
    matches = known and not differs
    if view.print.removed:
        matches = False
        parts.append("The numbering of this print was taken back.")
    if view.place is Place.DESTROYED:
        parts.append("The print was destroyed, by the ledger: if you hold it, it should not be there.")
        matches = False
    head = "Matches the ledger." if matches else "Differs from the ledger."
    if matches and not typed:
        head = "What was read off it matches the ledger; the digest was not compared."
    return CertificateCheck(matches=matches, words=" ".join([head, *parts]), differs=tuple(differs), view=view)


def _told(changes: Sequence[tuple[str, str, str]]) -> str:
    return "; ".join(f'{what.lower()} "{then}", in the ledger "{now}"' for what, then, now in changes)


def _misread(record: str, read: Mapping[str, str]) -> list[tuple[str, str, str]]:
    lines = dict(line.split(": ", 1) for line in record.splitlines()[1:])
    unknown = [what for what in read if what not in lines]
    if unknown:
        raise ValueOutOfRange(f'A certificate has no line "{unknown[0]}"; it has {", ".join(lines)}.')
    return [
        (what, value.strip(), lines[what])
        for what, value in read.items()
        if value.strip() and not _same(what, value, lines[what])
    ]


def _same(what: str, read: str, kept: str) -> bool:
    if what == "Size" and kept != NOT_RECORDED:
        pairs = zip(parse_size(read), parse_size(kept), strict=True)
        return all(abs(one - other) <= 0.6 for one, other in pairs)
    if what == "Printed on" and kept != NOT_RECORDED:
        return read.strip() in (kept, day(datetime.combine(date.fromisoformat(kept), datetime.min.time())))
    return "".join(read.split()).casefold() == "".join(kept.split()).casefold()
