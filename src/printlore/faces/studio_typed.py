"""What a studio is set up with, in words and as typed: forms and options share these."""

from collections.abc import Mapping
from typing import Any

from printlore.faces import typed

Words = tuple[tuple[str, str, str], ...]

COST_WORDS: Words = (
    ("minute", "A minute of your time", ""),
    ("sheet", "A sheet of paper", ""),
    ("strip", "A strip", ""),
    ("millilitre", "A millilitre of working solution", ""),
    ("cycle_minutes", "One cycle: expose, process, judge", "min"),
)
"""Field of ``Costs``, what it is called, and its unit; with none it is money."""

TOLERANCE_WORDS: Words = (
    ("edition_delta_e", "A print that must match others: dE00 of the reference patch at most", ""),
    ("good_alone_cc", "A print that hangs alone: within", "CC"),
    ("good_alone_time", "and within this share of the exposure time", "1 = all of it"),
)
"""Field of ``Tolerances``, what it is called, and its unit."""

ALIKE_WORDS = "Prints made alike in separate drum loads scatter by"
"""What the field of ``Repeatability`` is called [CC]."""


def alike_entered(text: str) -> float | None:
    """CC as typed; None if nothing is said."""
    return typed.number_if(text, ALIKE_WORDS)


def entered(words: Words, texts: Mapping[str, str | None]) -> dict[str, Any]:
    """Numbers by field, of the entries that were given at all; one that cannot be read is named."""
    given = ((name, what, texts.get(name)) for name, what, _ in words)
    return {name: typed.number(text, what) for name, what, text in given if text is not None}
