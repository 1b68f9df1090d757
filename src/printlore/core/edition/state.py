"""What becomes of a numbered print: what can happen to it, in which order, and where it then is."""

from collections.abc import Sequence
from enum import StrEnum


class PrintEvent(StrEnum):
    """A line of a print's life after it was numbered; the value is what the printer reads."""

    SIGNED = "signed"
    CERTIFIED = "certificate written"
    CONSIGNED = "on consignment"
    SOLD = "sold"
    DELIVERED = "delivered"
    RETURNED = "returned"
    DESTROYED = "destroyed"


TOLD = {
    PrintEvent.SIGNED: "was signed",
    PrintEvent.CERTIFIED: "had its certificate written",
    PrintEvent.CONSIGNED: "went on consignment",
    PrintEvent.SOLD: "was sold",
    PrintEvent.DELIVERED: "was delivered",
    PrintEvent.RETURNED: "was returned",
    PrintEvent.DESTROYED: "was destroyed",
}
"""The same in a sentence about a print."""


class Place(StrEnum):
    """Where a print is."""

    HERE = "here"
    AWAY = "away"
    DESTROYED = "destroyed"


_GOES_TO = {
    PrintEvent.CONSIGNED: Place.AWAY,
    PrintEvent.DELIVERED: Place.AWAY,
    PrintEvent.RETURNED: Place.HERE,
    PrintEvent.DESTROYED: Place.DESTROYED,
}
NUMBERED = "numbered"
"""State of a print to which nothing has happened yet."""


def place_of(life: Sequence[PrintEvent]) -> Place:
    """Where a print is after all that happened to it, oldest first."""
    moved = [_GOES_TO[one] for one in life if one in _GOES_TO]
    return moved[-1] if moved else Place.HERE


def is_sold(life: Sequence[PrintEvent]) -> bool:
    """Whether it belongs to somebody else: sold, and not returned since."""
    decided = [one for one in life if one in (PrintEvent.SOLD, PrintEvent.RETURNED)]
    return bool(decided) and decided[-1] is PrintEvent.SOLD


def trouble(life: Sequence[PrintEvent]) -> str:
    """The first thing that cannot have happened when it is said to have, in words; empty if all of it can."""
    for at, what in enumerate(life):
        before = life[:at]
        place = place_of(before)
        if place is Place.DESTROYED:
            return f"It was destroyed before it {TOLD[what]}; take that line back if it was not."
        if what is PrintEvent.SIGNED and PrintEvent.SIGNED in before:
            return "It was signed already; one signature is enough."
        if what is PrintEvent.RETURNED and place is Place.HERE and not is_sold(before):
            return "It was here and not sold, so it cannot have been returned; say first that it went."
        if what is PrintEvent.SOLD and is_sold(before):
            return "It was sold already; say first that it was returned."
        if what is PrintEvent.CONSIGNED and (is_sold(before) or place is Place.AWAY):
            return "It was sold or away already, so it cannot have gone on consignment; say first that it was returned."
        if what is PrintEvent.DELIVERED and PrintEvent.DELIVERED in before[_last_return(before) :]:
            return "It was delivered already; say first that it was returned."
    return ""


def _last_return(life: Sequence[PrintEvent]) -> int:
    return max((at for at, one in enumerate(life) if one is PrintEvent.RETURNED), default=0)
