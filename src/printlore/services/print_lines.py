"""What becomes of numbered prints, line by line; certificates written, and compared with the ledger.

Lines are only added; one that was taken back is still listed.
"""

import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import partial

import sqlalchemy as sa

from printlore.core.calendar import day
from printlore.core.edition.code import read_code
from printlore.core.edition.record import NOT_RECORDED, differences, digest
from printlore.core.edition.state import Place, PrintEvent, trouble
from printlore.core.quantities import parse_size
from printlore.errors import Refused, ValueOutOfRange
from printlore.records.database import Database
from printlore.records.editions import Edition, NumberedPrint, PrintLine
from printlore.records.rows import add, every, find
from printlore.services.editions import CHANGED_OUTSIDE, PrintView, facts_of, find_print, in_order
from printlore.services.lines import bring_line_back, find_line, take_line_back

FEWEST_DIGITS = 8
"""Of a digest that is compared; fewer could fit by chance."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CertificateCheck:
    """What became of a comparison of a certificate with the ledger.

    Attributes
    ----------
    matches : bool
        What was read off it is so in the ledger, and its digest, if that was read, is of a certificate that counts.
    words : str
    differs : tuple of (what, on the certificate, in the ledger)
    view : PrintView
    """

    matches: bool
    words: str
    differs: tuple[tuple[str, str, str], ...]
    view: PrintView


def add_line(
    db: Database,
    code: str,
    happened: PrintEvent,
    *,
    at: datetime | None = None,
    price: float | None = None,
    person: str = "",
    packed: str = "",
    note: str = "",
) -> PrintLine:
    """Write down what happened to a numbered print.

    With a certificate, what it vouches for and the digest of that stay in the ledger.

    Raises
    ------
    Refused
        If that cannot have happened after what did, or a destroyed print has no reason.
    """
    if happened is PrintEvent.DESTROYED and not note.strip():
        raise Refused("Say why it was destroyed; the number stays in the ledger with it.")
    with db.transaction() as conn:
        there = find(conn, NumberedPrint, read_code(code))
        record = ""
        if happened is PrintEvent.CERTIFIED:
            record = facts_of(conn, find(conn, Edition, there.edition), there).text()
        line = PrintLine(
            print=there.name,
            at=at or datetime.now(UTC),
            happened=happened,
            price=price,
            person=person.strip(),
            packed=packed.strip(),
            note=note.strip(),
            record=record,
            digest=digest(record) if record else "",
        )
        made = add(conn, line)
        why = _trouble(conn, there.name)
        if why:
            raise Refused(f"{there.name}: {why}")
        return made


def write_certificate(db: Database, code: str) -> PrintLine:
    """Write a print's certificate (see ``add_line``)."""
    return add_line(db, code, PrintEvent.CERTIFIED)


def _trouble(conn: sa.Connection, code: str) -> str:
    return trouble([line.happened for line in in_order(every(conn, PrintLine, print=code))])


def find_print_line(db: Database, number: int) -> PrintLine:
    """The line of a record number, also if it was taken back. Raises UnknownRecord."""
    return find_line(db, PrintLine, number, listed="its edition")


def take_print_line_back(db: Database, line: PrintLine) -> PrintLine:
    """Take a line back, as it was read; it stays listed.

    Raises
    ------
    Refused
        If it was taken back before, or what came after rests on it.
    """
    return take_line_back(db, line, _line_said(line), partial(_trouble, code=line.print))


def bring_print_line_back(db: Database, line: PrintLine) -> PrintLine:
    """Let a line that was taken back count again.

    Raises
    ------
    Refused
        If it was not taken back, or cannot be as things stand.
    """
    return bring_line_back(db, line, _line_said(line), partial(_trouble, code=line.print))


def _line_said(line: PrintLine) -> str:
    return f"Line {line.id} of {line.print} ({line.happened.value})"


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
    written = [line for line in view.lines if line.happened is PrintEvent.CERTIFIED]
    now = view.facts.text()
    found = next((line for line in reversed(written) if typed and line.digest.startswith(typed)), None)
    sound = found is not None and digest(found.record) == found.digest
    against = found.record if found and sound else now
    misread = _misread(against, read or {})
    differs, parts = list(misread), []
    if found:
        parts.append(f"The digest is that of the certificate written on {day(found.at)}.")
        if found.removed:
            parts.append("That certificate was taken back since.")
        if not sound:
            parts.append(f"{CHANGED_OUTSIDE} Compare a backup.")
        changed = differences(against, now)
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
    known = bool(found and sound and not found.removed) or not typed
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
        # a certificate says mm; typed without a unit it is either
        sizes = [zip(parse_size(read, unit=unit), parse_size(kept), strict=True) for unit in ("mm", "cm")]
        return any(all(abs(one - other) <= 0.6 for one, other in pairs) for pairs in sizes)
    if what == "Printed on" and kept != NOT_RECORDED:
        on = date.fromisoformat(kept)
        said = day(datetime.combine(on, datetime.min.time()))
        return read.strip() in (kept, said, f"{on.day}.{on.month}.{on.year}", f"{on:%d.%m.%Y}")
    return _folded(read) == _folded(kept)


def _folded(text: str) -> str:
    return unicodedata.normalize("NFC", "".join(text.split())).casefold()
