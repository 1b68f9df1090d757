"""What becomes of a numbered print: what can happen to it, in which order, and where it then is."""

from collections.abc import Sequence
from enum import StrEnum


class Happened(StrEnum):
    """A line of a print's life after it was numbered; the value is what the printer reads."""

    SIGNED = "signed"
    CERTIFIED = "certificate written"
    CONSIGNED = "on consignment"
    SOLD = "sold"
    DELIVERED = "delivered"
    RETURNED = "returned"
    DESTROYED = "destroyed"


TOLD = {
    Happened.SIGNED: "was signed",
    Happened.CERTIFIED: "had its certificate written",
    Happened.CONSIGNED: "went on consignment",
    Happened.SOLD: "was sold",
    Happened.DELIVERED: "was delivered",
    Happened.RETURNED: "was returned",
    Happened.DESTROYED: "was destroyed",
}
"""The same in a sentence about a print."""


class Place(StrEnum):
    """Where a print is."""

    HERE = "here"
    AWAY = "away"
    DESTROYED = "destroyed"


_GOES_TO = {
    Happened.CONSIGNED: Place.AWAY,
    Happened.DELIVERED: Place.AWAY,
    Happened.RETURNED: Place.HERE,
    Happened.DESTROYED: Place.DESTROYED,
}
NUMBERED = "numbered"
"""State of a print to which nothing has happened yet."""


def place_of(life: Sequence[Happened]) -> Place:
    """Where a print is after all that happened to it, oldest first."""
    moved = [_GOES_TO[one] for one in life if one in _GOES_TO]
    return moved[-1] if moved else Place.HERE


def is_sold(life: Sequence[Happened]) -> bool:
    """Whether it belongs to somebody else: sold, and not returned since."""
    decided = [one for one in life if one in (Happened.SOLD, Happened.RETURNED)]
    return bool(decided) and decided[-1] is Happened.SOLD


def trouble(life: Sequence[Happened]) -> str:
    """The first thing that cannot have happened when it is said to have, in words; empty if all of it can."""
    for at, what in enumerate(life):
        before = life[:at]
        place = place_of(before)
        if place is Place.DESTROYED:
            return f"It was destroyed before it {TOLD[what]}; take that line back if it was not."
        if what is Happened.SIGNED and Happened.SIGNED in before:
            return "It was signed already; one signature is enough."
        if what is Happened.RETURNED and place is Place.HERE and not is_sold(before):
            return "It was here and not sold, so it cannot have been returned; say first that it went."
        if what is Happened.SOLD and is_sold(before):
            return "It was sold already; say first that it was returned."
        if what is Happened.CONSIGNED and (is_sold(before) or place is Place.AWAY):
            return "It was sold or away already, so it cannot have gone on consignment; say first that it was returned."
        if what is Happened.DELIVERED and Happened.DELIVERED in before[_last_return(before) :]:
            return "It was delivered already; say first that it was returned."
    return ""


def _last_return(life: Sequence[Happened]) -> int:
    return max((at for at, one in enumerate(life) if one is Happened.RETURNED), default=0)
