"""The edition ledger: promise an edition, number its prints, look at both.

Nothing is ever given twice or lost: a number belongs to its print for ever, a promise that is changed stays readable.
"""

import dataclasses
import secrets
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from itertools import pairwise
from types import MappingProxyType
from typing import Any

import sqlalchemy as sa

from printlore.core.calendar import day, sensible
from printlore.core.cutting.supply import Cover
from printlore.core.edition.code import new_code, read_code
from printlore.core.edition.record import PrintFacts, differences, digest
from printlore.core.edition.state import NUMBERED, TOLD, Place, PrintEvent, is_sold, place_of
from printlore.errors import Refused, UnknownRecord, ValueOutOfRange
from printlore.records.baths import Bath
from printlore.records.database import Database
from printlore.records.editions import Edition, NumberedPrint, PrintLine
from printlore.records.negatives import Frame
from printlore.records.papers import Lot
from printlore.records.rows import (
    LONGEST_NAME,
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
CHANGED_OUTSIDE = "The record of a certificate does not fit its digest: it was changed outside this program."
NOTHING_ASKED: Mapping[str, str] = MappingProxyType({})
"""About no sheet it is asked whether it was a slip."""
USUAL_SIZE = (203.0, 254.0)
"""[mm] Taken where no print says its size."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Promise:
    """What was promised from a moment on, and why it was changed then.

    ``confirmed``: raised though somebody might rely on the promise before, and the printer said so knowingly.
    """

    at: datetime
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
        About the sheet it is, the days it was given and its certificate.
    numbered_at : datetime
        When it got its number, or was given it anew by bringing its numbering back.
    beside : str
        What is promised since then, where that is another total than its number has.
    """

    print: NumberedPrint
    facts: PrintFacts
    lines: tuple[PrintLine, ...]
    doubts: tuple[str, ...]
    numbered_at: datetime
    beside: str = ""

    @property
    def life(self) -> tuple[PrintEvent, ...]:
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
        written = [one for one in self.lines if one.happened is PrintEvent.CERTIFIED and not one.removed]
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
    given : int
        The same with those that were taken back, which may come back.
    promised_copies : int
        Copies as promised.
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
    given: int
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
        name=title,
        frame=frame,
        prints=prints,
        proofs=proofs,
        artist=_certified("Artist", artist),
        sizes=sizes.strip(),
        note=note,
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
        Why the promise is changed; needed if it is. It stands on certificates: no names in it.
    confirmed : bool
        Raise it although a print was certified, consigned, sold or delivered under the old promise.
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
        there = _edition(conn, edition.id)
        new = dataclasses.replace(edition, **changes, reason="", confirmed=False)
        new = dataclasses.replace(new, artist=_certified("Artist", new.artist))
        if (there.prints, there.proofs) != (new.prints, new.proofs):
            broken = _broken_promise(conn, there, new)
            if broken and not confirmed:
                raise Refused(f"{broken} Confirm it if you mean it; it stays readable.")
            if not reason.strip():
                raise Refused(f'Say why the promise of "{there.name}" is changed; it stands beside the change.')
            new = dataclasses.replace(new, reason=_certified("Reason", reason), confirmed=bool(broken))
        correct(conn, new)
        return _edition(conn, there.id)


def _broken_promise(conn: sa.Connection, there: Edition, new: Edition) -> str:
    """Which promise to buyers another number breaks, in words; empty if none. Raises Refused if it cannot be that."""
    given = every_ever(conn, NumberedPrint, edition=there.name)
    relying, broken = _relied_on(conn, there), ""
    for what, proof, before, after in (
        ("prints", False, there.prints, new.prints),
        ("artist's proofs", True, there.proofs, new.proofs),
    ):
        highest = max((one.number for one in given if one.proof is proof), default=0)
        if after < highest:
            raise Refused(f'"{there.name}" has {what} up to number {highest}, so {after} cannot be all there will be.')
        if after > before and relying and not broken:
            broken = (
                f'"{there.name}" was promised as {before} {what}, and under that promise {relying[0]}. Raising it to '
                f"{after} breaks a promise to buyers: tell them first."
            )
    return broken


def _relied_on(conn: sa.Connection, edition: Edition) -> list[str]:
    """Prints of an edition that somebody outside may have bought or seen a certificate of, in words."""
    numbers = [one.id for one in every(conn, NumberedPrint, edition=edition.name)]
    relied = (PrintEvent.CERTIFIED, PrintEvent.SOLD, PrintEvent.DELIVERED, PrintEvent.CONSIGNED)
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
    asked: Mapping[str, str] = NOTHING_ASKED,
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
        In words, where no logged lot says it.
    over_copies : bool
        Go beyond 30 copies of the negative knowingly.
    asked : mapping
        What is asked about sheets as slips (``doubts.slip_questions``): told among the doubts.

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
            printed_on = printed_on or _printed(sheet)
        given = {one.number: one for one in every_ever(conn, NumberedPrint, edition=promised.name, proof=proof)}
        number = _next(given, promised.proofs if proof else promised.prints) if number is None else number
        _refuse_number(promised, given, number, proof)
        # those taken back are counted in: they may come back
        if not over_copies and _copies(conn, promised.frame, every_ever) == MOST_COPIES:
            raise Refused(
                f"This would be copy {MOST_COPIES + 1} of the negative. {OVER_COPIES} Confirm it if you mean it."
            )
        numbered = NumberedPrint(
            name=_fresh_code(conn),
            edition=promised.name,
            proof=proof,
            number=number,
            trial=None if sheet is None else sheet.name,
            size=size,
            printed_on=printed_on,
            paper=_certified("Paper", paper),
            note=note,
        )
        made = add(conn, _with_a_sensible_day(numbered))
        return _with_asked(_view(conn, promised, _print(conn, made.id)), asked)


def _with_asked(view: PrintView, asked: Mapping[str, str]) -> PrintView:
    """A print that was numbered or put right now, with what is asked about its sheet."""
    question = asked.get(view.print.trial or "")
    return dataclasses.replace(view, doubts=(*view.doubts, question)) if question else view


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


def _certified(what: str, words: str) -> str:
    """Words that stand on a certificate, on one line: what does not print could make them read as others."""
    tidy = " ".join(words.split())
    if len(tidy) > LONGEST_NAME or not tidy.isprintable():
        raise ValueOutOfRange(
            f"{what} {tidy[:40]!r} cannot stand on a certificate; give up to {LONGEST_NAME} letters, digits or signs."
        )
    return tidy


def _with_a_sensible_day(numbered: NumberedPrint) -> NumberedPrint:
    if numbered.printed_on is not None:
        sensible(date.fromisoformat(numbered.printed_on))
    return numbered


def _printed(sheet: TrialRow) -> str:
    return sheet.at.astimezone().date().isoformat()


def _fresh_code(conn: sa.Connection) -> str:
    while True:
        code = new_code(secrets.choice)
        if not every_ever(conn, NumberedPrint, name=code):
            return code


def _copies(conn: sa.Connection, frame: str, those: Callable[..., list[NumberedPrint]] = every) -> int:
    editions = [one.name for one in every(conn, Edition, frame=frame)]
    return sum(len(those(conn, NumberedPrint, edition=title)) for title in editions)


def correct_print(
    db: Database, there: NumberedPrint, *, asked: Mapping[str, str] = NOTHING_ASKED, **changes: Any
) -> PrintView:
    """Put a numbered print right, as it was read; number and code stay.

    Parameters
    ----------
    asked : mapping
        What is asked about sheets as slips (``doubts.slip_questions``): told among the doubts.
    **changes
        ``trial`` (empty: it was never logged), ``size`` [mm], ``printed_on``, ``paper``, ``note``; what is not named
        stays. Another sheet brings its own size and day, unless others are given. The sheet that it was may stay,
        whatever became of it since.

    Raises
    ------
    Refused
        If the sheet cannot be it (see ``number_print``).
    ChangedMeanwhile
        If it was changed since it was read.
    ValueOutOfRange
        If nothing is named.
    """
    if not changes:
        raise ValueOutOfRange("Nothing was named to be put right. Name the sheet, size, day, paper or note.")
    with db.transaction() as conn:
        edition = find(conn, Edition, there.edition)
        trial = changes.get("trial")
        if "trial" in changes:
            changes["trial"] = trial or None
        if trial and trial != there.trial:
            sheet = _sheet(conn, edition, trial, own=there.id)
            own = {"size": sheet.print_size, "printed_on": _printed(sheet)}
            changes |= {what: new for what, new in own.items() if changes.get(what) in (None, getattr(there, what))}
            changes["trial"] = sheet.name
        if "paper" in changes:
            changes["paper"] = _certified("Paper", changes["paper"])
        correct(conn, _with_a_sensible_day(dataclasses.replace(there, **changes)))
        return _with_asked(_view(conn, edition, _print(conn, there.id)), asked)


def take_print_back(db: Database, there: NumberedPrint) -> NumberedPrint:
    """Take a numbering back, as it was read: it was a mistake. The number stays with it and is given to no other.

    Brought back, it reads with the total that is promised then.

    Raises
    ------
    Refused
        If something became of the print since; take that back first.
    """
    with db.transaction() as conn:
        lines = every(conn, PrintLine, print=there.name)
        if lines:
            raise Refused(
                f"{there.name} {TOLD[in_order(lines)[-1].happened]}, so it is a print. Take that line back first, or "
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


def sheets_to_number(
    db: Database, edition: Edition, asked: Mapping[str, str] = NOTHING_ASKED
) -> list[tuple[TrialRow, tuple[str, ...]]]:
    """Sheets of the edition's negative that have no number yet, newest first, each with what to beware of.

    ``asked``: what is asked about sheets as slips (``doubts.slip_questions``).
    """
    with db.reading() as conn:
        taken = {one.trial for one in every(conn, NumberedPrint) if one.trial}
        records = with_patches(conn, [row for row in every(conn, TrialRow, frame=edition.frame) if row.kind == "sheet"])
    free = [record for record in records if record.name not in taken]
    free.sort(key=lambda record: (record.row.at, record.row.id), reverse=True)
    return [(one.row, (*sheet_doubts(one), *filter(None, (asked.get(one.name),)))) for one in free]


def edition_troubles(conn: sa.Connection) -> list[str]:
    """What in the record of editions cannot be, and no page would have written: sentences that name the print."""
    said = [
        f"{line.print}: {CHANGED_OUTSIDE}"
        for line in every(conn, PrintLine)
        if line.happened is PrintEvent.CERTIFIED and digest(line.record) != line.digest
    ]
    promised = {edition.name: edition for edition in every(conn, Edition)}
    for there in every(conn, NumberedPrint):
        edition = promised.get(there.edition)
        most = 0 if edition is None else edition.proofs if there.proof else edition.prints
        if there.number > most:
            said.append(f'{there.name} has number {there.number}, and "{there.edition}" promises {most} of its kind.')
    for edition in promised.values():
        if not every(conn, Frame, name=edition.frame):
            said.append(f'"{edition.name}" is of "{edition.frame}", which was taken back and does not count.')
    return said


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
        given=_copies(conn, edition.frame, every_ever),
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
    lines = tuple(in_order(every_ever(conn, PrintLine, print_id=there.id)))
    facts = facts_of(conn, edition, there)
    view = PrintView(
        print=there,
        facts=facts,
        lines=lines,
        doubts=doubts,
        numbered_at=_numbered_at(conn, there),
        beside="" if facts.of == facts.promised else _beside(_promises(conn, edition), facts),
    )
    return dataclasses.replace(view, doubts=(*doubts, *_day_doubts(there, lines), *_certificate_doubts(view)))


def _numbered_at(conn: sa.Connection, there: NumberedPrint) -> datetime:
    rows = history(conn, there)
    anew = [row for before, row in pairwise(rows) if before["removed"] and not row["removed"]]
    at: datetime = (anew[-1] if anew else rows[0])["created_at"]
    return at


def _beside(promises: Sequence[Promise], facts: PrintFacts) -> str:
    since = promises[-1]
    for one in reversed(promises):
        if (one.proofs if facts.proof else one.prints) != facts.promised:
            break
        since = one
    what = "artist's proof" if facts.proof else "print"
    return f"{facts.promised} {what}{'' if facts.promised == 1 else 's'} promised since {day(since.at)}"


def _certificate_doubts(view: PrintView) -> list[str]:
    """That the newest certificate no longer says what the ledger does, and in what."""
    written = view.certificate
    if written is None:
        return []
    if digest(written.record) != written.digest:
        return [CHANGED_OUTSIDE.rstrip(".")]
    changed = [what.lower() for what, _, _ in differences(written.record, view.facts.text())]
    told = f"{view.print.name} has a certificate that says otherwise than the ledger today: {', '.join(changed)}"
    return [told] if changed else []


def _day_doubts(there: NumberedPrint, lines: Sequence[PrintLine]) -> list[str]:
    """Days that are still to come, or before the print was made."""
    today = datetime.now(UTC).astimezone().date()
    printed = date.fromisoformat(there.printed_on) if there.printed_on else date.min
    doubts = [f"{there.name} was printed on {there.printed_on}, which is still to come"] if printed > today else []
    for line in lines:
        on = line.at.astimezone().date()
        if not line.removed and on > today:
            doubts.append(f"{there.name} {TOLD[line.happened]} on {day(line.at)}, which is still to come")
        elif not line.removed and on < printed <= today:
            doubts.append(f"{there.name} {TOLD[line.happened]} on {day(line.at)}, before it was printed")
    return doubts


def in_order(lines: Sequence[PrintLine]) -> list[PrintLine]:
    """Lines by their moment."""
    return sorted(lines, key=lambda line: (line.at, line.id))


def facts_of(conn: sa.Connection, edition: Edition, there: NumberedPrint) -> PrintFacts:
    """What a certificate of a print written now says.

    Its number has the total that was promised when it was given: that is what stands on the print, whatever is promised
    since.
    """
    promises, at = _promises(conn, edition), _numbered_at(conn, there)
    under = next((one for one in reversed(promises) if one.at <= at), promises[0])
    process, paper, lot = "chromogenic print", there.paper, ""
    for row in every_ever(conn, TrialRow, name=there.trial) if there.trial else ():
        for bath in every_ever(conn, Bath, name=row.bath):
            process = ", ".join(filter(None, (process, _said(bath.process))))
        for one in every_ever(conn, Lot, name=row.lot):
            paper, lot = _said(one.family) or paper, _said(one.name)
    return PrintFacts(
        code=there.name,
        title=edition.name,
        artist=edition.artist,
        number=there.number,
        proof=there.proof,
        prints=edition.prints,
        proofs=edition.proofs,
        of=under.proofs if there.proof else under.prints,
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
