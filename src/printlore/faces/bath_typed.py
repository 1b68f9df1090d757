"""Parts of a kit, and the order in which they are poured, as people type them: forms and options share these."""

from collections.abc import Iterable

from printlore.core.bath.kit import Nature, Part
from printlore.core.control.faults import TESTS
from printlore.errors import ValueOutOfRange
from printlore.faces import typed


def kit_parts(lines: Iterable[str]) -> tuple[Part, ...]:
    """Parts in the order of the kit's sheet, each as ``A 100 alkali``: name, mL per litre, nature (plain if left out).

    Raises
    ------
    ValueOutOfRange
        If a line cannot be read, or names no nature; empty lines are passed over.
    """
    read = []
    for line in lines:
        pieces = line.split()
        if not pieces:
            continue
        if len(pieces) not in (2, 3):
            raise ValueOutOfRange(
                f'The part "{line}" cannot be read. Write name, mL per litre and nature: "A 100 acid".'
            )
        nature = pieces[2] if len(pieces) == 3 else Nature.PLAIN.value
        if nature not in list(Nature):
            raise ValueOutOfRange(f'"{nature}" is no nature of a part; use one of {", ".join(Nature)}.')
        per_litre = typed.number(pieces[1], f"Part {pieces[0]}")
        read.append(Part(name=pieces[0], per_litre=per_litre, nature=Nature(nature)))
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
