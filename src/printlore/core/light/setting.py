"""Setting: everything the printer dials for one exposure."""

import math
from dataclasses import dataclass, field

from printlore.core.figure import Figure
from printlore.core.light.filters import FilterPack
from printlore.core.plain import says_what_fits
from printlore.errors import ValueOutOfRange

LONGEST_TIME = 3600.0
"""[s] An exposure beyond an hour is a slip of the pen."""


@says_what_fits
@dataclass(frozen=True, slots=True, kw_only=True)
class Burn:
    """Extra (or, dodged, less) light on one part of the picture.

    Attributes
    ----------
    name : str
        Which part, in the printer's words.
    time : float
        Seconds added there; below 0 for a dodge, which shortens the base exposure.
    pack : FilterPack or None
        Dialled for a burn; ``None``: as the base exposure.
    """

    name: str
    time: float
    pack: FilterPack | None = None

    def __post_init__(self) -> None:
        if not math.isfinite(self.time) or self.time == 0:
            raise ValueOutOfRange(
                f'Burn or dodge "{self.name}" is {Figure(self.time):g} s; give seconds more or less than 0.'
            )


@says_what_fits
@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """Pack, time, f-number and magnification of one exposure.

    Attributes
    ----------
    pack : FilterPack
        As dialled, on this head's own scale [dial units]. For a head that gives red, green and
        blue light apart, the CC by which each is below the strongest.
    time : float
        Seconds of the base exposure; above 0, at most an hour.
    f_number : float
        As marked on the lens; above 0.
    magnification : float
        Image length over negative length; above 0.
    burns : tuple of Burn
        In the order given.

    Raises
    ------
    ValueOutOfRange
        If a number is outside these ranges, or a dodge is longer than the base exposure.
    """

    pack: FilterPack
    time: float
    f_number: float = 8.0
    magnification: float = 8.0
    burns: tuple[Burn, ...] = field(default=())

    def __post_init__(self) -> None:
        if not (math.isfinite(self.time) and 0 < self.time <= LONGEST_TIME):
            raise ValueOutOfRange(
                f"Exposure time is {Figure(self.time):g} s; it must be above 0 and at most {Figure(LONGEST_TIME):g}. "
                "Enter the seconds the lamp was on."
            )
        for name, value, cure in (
            ("f-number", self.f_number, "Read it off the lens ring, for example 8."),
            ("magnification", self.magnification, "Divide image length by negative length."),
        ):
            if not (math.isfinite(value) and 0 < value <= 1000):
                raise ValueOutOfRange(f"The {name} is {Figure(value):g}; it must be above 0 and at most 1000. {cure}")
        for burn in self.burns:
            if burn.time <= -self.time:
                raise ValueOutOfRange(
                    f'Dodge "{burn.name}" takes {Figure(-burn.time):g} s from an exposure of '
                    f"{Figure(self.time):g} s; nothing is left."
                )

    def __str__(self) -> str:
        return f"{self.pack}, {Figure(self.time):.3g} s, f/{Figure(self.f_number):g}, {Figure(self.magnification):.3g}x"
