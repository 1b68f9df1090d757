"""Days, counts and happenings of an edition as people type them: forms and options share these."""

import re
from collections.abc import Iterable
from datetime import UTC, date, datetime, time

from printlore.core.edition.state import PrintEvent
from printlore.core.figure import Figure
from printlore.errors import ValueOutOfRange
from printlore.faces import typed

HAPPENINGS = tuple(one for one in PrintEvent if one is not PrintEvent.CERTIFIED)
"""What is written down by itself; a certificate has a step of its own."""


def count(text: str, what: str) -> int:
    """A whole number. Raises ValueOutOfRange with its name."""
    value = typed.number(text, what)
    if value != int(value):
        raise ValueOutOfRange(f"{what} is {Figure(value):g}; give a whole number.")
    return int(value)


def day_if(text: str, what: str) -> date | None:
    """A day as year-month-day or day.month.year; None if nothing was typed.

    Raises
    ------
    ValueOutOfRange
        If it is neither.
    """
    plain = text.strip()
    if not plain:
        return None
    found = re.fullmatch(r"(\d{1,2})\.(\d{1,2})\.(\d{4})", plain)
    try:
        return date(int(found[3]), int(found[2]), int(found[1])) if found else date.fromisoformat(plain)
    except ValueError:
        raise ValueOutOfRange(f'{what}: "{plain}" is no day. Write 2026-03-14 or 14.3.2026.') from None


def moment_if(text: str, what: str) -> datetime | None:
    """The moment of something that happened on a day: now if it is today, else the end of that day."""
    said = day_if(text, what)
    if said is None or said == datetime.now(UTC).astimezone().date():
        return None
    try:
        return datetime.combine(said, time(23, 59)).astimezone()
    except (OverflowError, ValueError):
        raise ValueOutOfRange(f"{what}: nothing can have happened on {said.isoformat()}. Correct the year.") from None


def happened(text: str) -> PrintEvent:
    """What happened, of those that are written down by themselves."""
    return typed.one_of(HAPPENINGS, text, "What happened")


def read_off(says: Iterable[str]) -> dict[str, str]:
    """What a certificate says, from lines as they stand on it: "Number: 3/15".

    Raises
    ------
    ValueOutOfRange
        If a line has no colon.
    """
    read = {}
    for one in says:
        what, colon, value = one.partition(":")
        if not colon:
            raise ValueOutOfRange(f'"{one}" cannot be read. Write what and value as on it: "Number: 3/15".')
        read[what.strip()] = value
    return read


def share(text: str, what: str) -> float | None:
    """Percent as a share [1]; None if nothing was typed."""
    value = typed.number_if(text.replace("%", ""), what)
    return None if value is None else value / 100
