"""Lines of a book: take one back, bring it back. All of them stay listed; what was taken back has a mark.

Each book says what its lines must add up to, so that nothing is taken back that a later line rests on.
"""

import dataclasses
from collections.abc import Callable
from typing import TypeVar

import sqlalchemy as sa

from printlore.errors import Refused, UnknownRecord
from printlore.records.database import Database
from printlore.records.rows import Record, bring_back, every_ever, remove

L = TypeVar("L", bound=Record)
Trouble = Callable[[sa.Connection], str]
"""Why the book cannot be what its lines say, if it cannot; empty if all is well."""


def alone(_: sa.Connection) -> str:
    """Nothing rests on such a line."""
    return ""


def find_line(db: Database, kind: type[L], number: int, *, listed: str) -> L:
    """The line of a record number, also if it was taken back.

    Parameters
    ----------
    listed : str
        Where lines are listed with their numbers, for the message.

    Raises
    ------
    UnknownRecord
        If there is none.
    """
    with db.reading() as conn:
        for line in every_ever(conn, kind, id=number):
            return line
    raise UnknownRecord(f"No {kind.word} has the number {number}. Look at {listed}.")


def take_line_back(db: Database, line: L, said: str, trouble: Trouble = alone) -> L:
    """Take a line back, as it was read; its row stays in the record.

    Parameters
    ----------
    said : str
        What the line is, as a sentence begins.
    trouble : callable
        A book that was in trouble before is no reason to refuse.

    Raises
    ------
    Refused
        If it was taken back before, or what came after could not be without it.
    ChangedMeanwhile
        If it was changed since it was read.
    """
    if line.removed:
        raise Refused(f"{said} was taken back before; nothing was changed.")
    with db.transaction() as conn:
        sound = trouble(conn) == ""
        remove(conn, line)
        why = trouble(conn) if sound else ""
        if why:
            raise Refused(f"{said} cannot be taken back: what came after rests on it. {why}")
    return dataclasses.replace(line, version=line.version + 1, removed=True)


def bring_line_back(db: Database, line: L, said: str, trouble: Trouble = alone) -> L:
    """Let a line that was taken back count again, as it stood; parameters as above.

    Raises
    ------
    Refused
        If it was not taken back, or the book as it stands cannot take it.
    ChangedMeanwhile
        If it was brought back meanwhile.
    """
    if not line.removed:
        raise Refused(f"{said} was not taken back: it counts. There is nothing to bring back.")
    with db.transaction() as conn:
        sound = trouble(conn) == ""
        back = bring_back(conn, line)
        why = trouble(conn) if sound else ""
        if why:
            raise Refused(f"{said} cannot be brought back as things stand. {why}")
        return back
