"""Parts of a kit, and the order in which they are poured, as people type them: forms and options share these."""

import re
from collections.abc import Iterable

from printlore.core.bath.kit import Nature, Part
from printlore.core.control.faults import TESTS
from printlore.errors import ValueOutOfRange
from printlore.faces import typed

_PART = re.compile(
    r"(?P<name>\S.*?)[,:;]?\s+(?P<per_litre>\d\S*?)\s*(?:mL)?(?:[,;]?\s+(?P<nature>[^\W\d]+))?", re.IGNORECASE
)
"""The name may have spaces, as labels have it ("Part A"); the last number is the amount."""


def kit_parts(lines: Iterable[str]) -> tuple[Part, ...]:
    """Parts in the order of the kit's sheet, each ``Part A 100 alkali``: name, mL per litre, nature (or plain).

    Raises
    ------
    ValueOutOfRange
        If a line cannot be read, or names no nature; empty lines are passed over.
    """
    read = []
    for line in filter(None, map(str.strip, lines)):
        found = _PART.fullmatch(line)
        if found is None:
            raise ValueOutOfRange(
                f'"{line}" cannot be read as a part. Write name, mL per litre and nature: "A 100 acid".'
            )
        name, per_litre, nature = found["name"], found["per_litre"], found["nature"] or Nature.PLAIN.value
        if nature.lower() not in list(Nature):
            raise ValueOutOfRange(
                f'"{line}": "{nature}" is no nature of a part; use one of {", ".join(Nature)}, or none.'
            )
        amount = typed.number(per_litre, f"Part {name}")
        read.append(Part(name=name, per_litre=amount, nature=Nature(nature.lower())))
    return tuple(read)


def poured_order(text: str) -> list[str] | None:
    """What went in one after the other, from ``water, A, B, water``; None if nothing is said of it."""
    return [piece.strip() for piece in text.split(",") if piece.strip()] or None


def results_of_tests(tests: Iterable[str]) -> dict[str, bool]:
    """What tests for a fault said, each as ``name=yes`` or ``name=no``. Raises ValueOutOfRange if one says neither."""
    results = {}
    for text in tests:
        name, _, answer = text.partition("=")
        if answer.strip().casefold() not in ("yes", "no"):
            raise ValueOutOfRange(
                f'The test "{text}" cannot be read. Write "name=yes" or "name=no"; '
                f"tests are {', '.join(test.name for test in TESTS)}."
            )
        results[name.strip()] = answer.strip().casefold() == "yes"
    return results
