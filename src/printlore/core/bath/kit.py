"""A kit of concentrates as its user defines it: which parts, how much of each, in which order."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from printlore.core.figure import Figure
from printlore.core.plain import says_what_fits
from printlore.errors import Refused, ValueOutOfRange

WATER = "water"
"""Name of what goes in first."""


class Use(StrEnum):
    """What a working solution does."""

    DEVELOPER = "developer"
    STOP = "stop bath"
    BLEACH_FIX = "bleach-fix"
    STABILISER = "stabiliser"


class Nature(StrEnum):
    """What matters when a part is poured."""

    PLAIN = "plain"
    ALKALI = "alkali"
    ACID = "acid"
    SENSITISER = "sensitiser"


@says_what_fits
@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One concentrate of a kit.

    Attributes
    ----------
    name : str
        As on its bottle: "A", "starter" ...
    per_litre : float
        Millilitres in one litre of working solution [mL/L]; above 0, below 1000.
    nature : Nature
    """

    name: str
    per_litre: float
    nature: Nature = Nature.PLAIN

    def __post_init__(self) -> None:
        if not self.name.strip() or self.name.strip().casefold() == WATER:
            raise ValueOutOfRange(f'"{self.name}" cannot be the name of a part; use what its bottle says, as "A".')
        if not (math.isfinite(self.per_litre) and 0 < self.per_litre < 1000):
            raise ValueOutOfRange(
                f'Part "{self.name}": {Figure(self.per_litre):g} mL per litre; it must be above 0 and below 1000. '
                "Read it off the kit's own sheet."
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Kit:
    """Concentrates that make one working solution.

    Attributes
    ----------
    name : str
    use : Use
    parts : tuple of Part
        In the order of the kit's sheet; at least one, no name twice, at most a litre of them in a litre.
    life_days : float or None
        How long the working solution keeps in a full closed bottle by the kit's sheet [d]; ``None``: not known.
    """

    name: str
    use: Use
    parts: tuple[Part, ...]
    life_days: float | None = None

    def __post_init__(self) -> None:
        names = [part.name.casefold() for part in self.parts]
        if not names:
            raise ValueOutOfRange(f'Kit "{self.name}" has no parts; add what is in the box, in the order of its sheet.')
        for part in self.parts:
            if names.count(part.name.casefold()) > 1:
                raise ValueOutOfRange(f'Kit "{self.name}" has part "{part.name}" twice; give each its own name.')
        total = sum(part.per_litre for part in self.parts)
        if total > 1000 + 1e-6:
            raise ValueOutOfRange(
                f'Kit "{self.name}": the parts come to {Figure(total):g} mL in 1000 mL. Check the mL per litre of each.'
            )
        if self.life_days is not None and not (math.isfinite(self.life_days) and self.life_days > 0):
            raise ValueOutOfRange(
                f'Kit "{self.name}": a life of {Figure(self.life_days):g} days cannot be; give more than 0.'
            )

    @property
    def water_per_litre(self) -> float:
        """Water in one litre, if volumes add [mL/L]."""
        return max(round(1000.0 - sum(part.per_litre for part in self.parts), 6), 0.0)

    def order(self) -> tuple[str, ...]:
        """Water, if there is any in it, then the parts in the order of the kit's sheet, then water to the mark."""
        first = (WATER,) if self.water_per_litre else ()
        return (*first, *(part.name for part in self.parts), WATER)


def check_order(kit: Kit, poured: Sequence[str]) -> None:
    """Refuse a pouring order that is not water first (if the kit takes any), then the parts as its sheet has them.

    Parameters
    ----------
    poured : sequence of str
        What has gone into the jug so far, first to last; "water" for water.

    Raises
    ------
    Refused
        Says what should have gone in, why, and what to do.

    Notes
    -----
    Water first and acid into water: common practice, no source beyond general laboratory safety.
    """
    if not poured:
        return
    natures = {part.name.casefold(): part.nature for part in kit.parts}
    first = poured[0].casefold()
    if first != WATER and kit.water_per_litre:
        why = (
            "acid goes into water, never water into acid: it can boil and spit"
            if natures.get(first) is Nature.ACID
            else "undiluted parts can react or throw down a sediment that does not dissolve again"
        )
        raise Refused(
            f'"{poured[0]}" was poured first, but water goes in first; {why}. '
            "Do not add water to it now: set the jug aside as waste and start with water."
        )
    parts = [name for name in poured if name.casefold() != WATER]
    for got, due in zip(parts, kit.parts, strict=False):
        if got.casefold() != due.name.casefold():
            known = got.casefold() in natures
            raise Refused(
                f'"{got}" was poured where kit "{kit.name}" has "{due.name}"'
                + (". " if known else f"; it is no part of this kit ({', '.join(p.name for p in kit.parts)}). ")
                + "The order of the sheet keeps the parts from reacting undiluted. "
                "If it went in wrongly, set the jug aside as waste and mix again."
            )
    if len(parts) > len(kit.parts):
        raise Refused(f'"{parts[len(kit.parts)]}" was poured after the last part of kit "{kit.name}". Mix again.')
