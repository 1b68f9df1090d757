"""A record from the number in an address: names may hold any sign, addresses may not."""

from typing import TypeVar

from printlore.errors import UnknownRecord
from printlore.records.database import Database
from printlore.records.rows import Record
from printlore.services.entry import list_records

R = TypeVar("R", bound=Record)


def numbered(db: Database, kind: type[R], number: int, what: str, choose: str) -> R:
    """The record with this number. Raises UnknownRecord with what it would be and where to ``choose`` one."""
    found = list_records(db, kind, id=number)
    if not found:
        raise UnknownRecord(f"There is no {what} number {number} in this studio. Choose {choose}.")
    return found[0]
