"""Days and times as a printer reads them: of the place where we are, never of another zone."""

from datetime import date, datetime
from typing import TypeVar

from printlore.errors import ValueOutOfRange

EARLIEST, LATEST = 1900, 2100
"""Years that a record can be of: colour prints are younger, and nobody plans that far ahead (from memory)."""

D = TypeVar("D", bound=date)


def sensible(at: D) -> D:
    """The same day or moment.

    Raises
    ------
    ValueOutOfRange
        If its year is none that a record can be of.
    """
    if not EARLIEST <= at.year <= LATEST:
        raise ValueOutOfRange(
            f"The date {at.isoformat()[:10]} cannot be that of a record. Correct the year; {EARLIEST} to {LATEST} can "
            "be."
        )
    return at


def day(at: datetime) -> str:
    """A day, as "3 Mar 2026"."""
    here = at.astimezone()
    return f"{here.day} {here:%b %Y}"


def full_day(at: datetime) -> str:
    """A day as one says it, "Tuesday 3 March 2026": what an evening is called."""
    here = at.astimezone()
    return f"{here:%A} {here.day} {here:%B %Y}"


def moment(at: datetime) -> str:
    """A day and the time, as "3 Mar 2026, 21:30"."""
    return f"{day(at)}, {at.astimezone():%H:%M}"
