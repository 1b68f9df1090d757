"""Days and times as a printer reads them: of the place where we are, never of another zone."""

from datetime import datetime


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
