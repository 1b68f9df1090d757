"""Days and times as a printer reads them: of the place where we are, never of another zone."""

from datetime import date, datetime, timedelta
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
    """A day as one says it, "Tuesday 3 March 2026"."""
    here = at.astimezone()
    return f"{here:%A} {here.day} {here:%B %Y}"


MORNING = 4
"""Hour until which one still works in the night of the day before (common practice, no source)."""


def evening_of(at: datetime) -> str:
    """What an evening that begins then is called: its day, or "Night of Tuesday 3 to Wednesday 4 March 2026"."""
    here = at.astimezone()
    if here.hour >= MORNING:
        return full_day(at)
    before = here - timedelta(days=1)
    month = "" if before.month == here.month else f" {before:%B}"
    year = "" if before.year == here.year else f" {before:%Y}"
    return f"Night of {before:%A} {before.day}{month}{year} to {full_day(at)}"


def moment(at: datetime) -> str:
    """A day and the time, as "3 Mar 2026, 21:30"."""
    return f"{day(at)}, {at.astimezone():%H:%M}"
