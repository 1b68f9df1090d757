"""Counts and happenings of an edition as people type them: forms and options share these."""

from collections.abc import Iterable

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
