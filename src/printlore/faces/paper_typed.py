"""Sizes wanted and paper as people type them: forms and options share these."""

from collections.abc import Iterable

from printlore.core.cutting.wanted import Wanted
from printlore.core.quantities import parse_size
from printlore.errors import ValueOutOfRange

SHAPE = "20x25 cm 12 (across x along the roll, then how many; after it: turn, strip, first, second, lot NAME)"
"""How a wanted size is typed."""
MOST_DIGITS = 6
"""Of a count of pieces."""
_PLACES = {"first": 1, "second": 2, "third": 3}


def wanted_size(text: str) -> Wanted:
    """A wanted size from ``20x25 cm 12 turn second lot 47``: across x along, pieces, then words in any order.

    ``turn``: the curl may run the other way. ``strip``: trims of at least this size will do. ``first``, ``second``,
    ``third``: whom to serve first if paper is short. ``lot NAME``: only from that lot (to the end of the line).

    Raises
    ------
    ValueOutOfRange
        If it cannot be read; shows how to write it.
    """
    said, _, lot = text.strip().partition(" lot ")
    words = said.split()
    tail: list[str] = []
    while words and words[-1].lower() in ("turn", "strip", *_PLACES):
        tail.append(words.pop().lower())
    if len(words) < 2 or not (words[-1].isdecimal() and len(words[-1]) <= MOST_DIGITS):
        raise ValueOutOfRange(f'The wanted size "{text.strip()}" cannot be read. Write {SHAPE}.')
    size = " ".join(words[:-1])
    across, along = (round(side, 1) for side in parse_size(size))
    return Wanted(
        name=" ".join([size, *sorted(set(tail) - set(_PLACES)), *([f"lot {lot.strip()}"] if lot.strip() else [])]),
        along=along,
        across=across,
        count=int(words[-1]),
        may_turn="turn" in tail,
        strip="strip" in tail,
        priority=next((_PLACES[word] for word in tail if word in _PLACES), 1),
        lots=frozenset([lot.strip()]) if lot.strip() else None,
    )


def wanted_sizes(lines: Iterable[str]) -> list[Wanted]:
    """Wanted sizes, one a line; empty lines are passed over."""
    return [wanted_size(line) for line in lines if line.strip()]
