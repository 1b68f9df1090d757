"""A frame from the number in an address: names may hold any sign, addresses may not."""

from printlore.errors import UnknownRecord
from printlore.records.database import Database
from printlore.records.negatives import Frame
from printlore.services.entry import list_records


def frame_of(db: Database, number: int) -> Frame:
    """The frame with this number.

    Raises
    ------
    UnknownRecord
    """
    found = list_records(db, Frame, id=number)
    if not found:
        raise UnknownRecord(f"There is no negative number {number} in this studio. Choose one under Negatives.")
    return found[0]
