"""A frame from the number in an address: names may hold any sign, addresses may not."""

from printlore.faces.web.numbered import numbered
from printlore.records.database import Database
from printlore.records.negatives import Frame


def frame_of(db: Database, number: int) -> Frame:
    """The frame with this number.

    Raises
    ------
    UnknownRecord
    """
    return numbered(db, Frame, number, "negative", "one under Negatives")
