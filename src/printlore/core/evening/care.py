"""What is asked before the first pour, once an evening, where it matters."""

from dataclasses import dataclass

from printlore.core.evening.process import StepKind
from printlore.errors import Refused


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """One thing to have in place, and why."""

    name: str
    ask: str
    why: str


CAUTIONS: tuple[Caution, ...] = (
    Caution(
        name="gloves",
        ask="Gloves on, without holes?",
        why="Colour developer can make skin allergic for life, sometimes only after years.",
    ),
    Caution(name="goggles", ask="Goggles on?", why="Developer is alkaline and stop is acid; both harm eyes."),
    Caution(
        name="ventilation",
        ask="Fan on or window baffled open?",
        why="Bleach-fix and stop give off fumes, more so when warm or mixed with each other.",
    ),
    Caution(name="floor", ask="Floor clear and dry?", why="You will walk here in the dark and on wet ground."),
    Caution(
        name="switch",
        ask="Foot switch sealed and low-voltage, mains away from water?",
        why="Wet feet and mains do not go together; anything mains-powered near the sink needs a safety breaker.",
    ),
)
"""Usual cautions; the bottle's own sheet, local rules and licensed practice come first (common practice, no source)."""

WASTE = (
    "Used bleach-fix and first washes carry silver: keep them in a labelled container and hand them in as your local "
    "rules say."
)
HOLDS_SILVER = frozenset({StepKind.BLEACH_FIX, StepKind.WASH})
"""Steps at which that is said again."""


def check_cautions(confirmed: frozenset[str]) -> None:
    """Refuse the first pour while a caution is open.

    Raises
    ------
    Refused
        Names each thing not yet confirmed, and why it matters.
    """
    missing = [caution for caution in CAUTIONS if caution.name not in confirmed]
    if missing:
        raise Refused("Before the first pour: " + " ".join(f"{caution.ask} {caution.why}" for caution in missing))
