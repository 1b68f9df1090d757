"""Estimate: the one form in which an answer carries its doubt."""

import math
from dataclasses import dataclass
from statistics import NormalDist

from printlore.core.figure import Figure
from printlore.core.flags import Flag
from printlore.errors import ValueOutOfRange


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """A number, how far it may be off, and any doubt about it in words.

    Attributes
    ----------
    value : float
        The number, in the unit that the field holding it names. Finite.
    standard_error : float or None
        One standard deviation, same unit, not below 0. ``None``: not known; a flag says why.
    flags : tuple of Flag
        Doubts, none twice.

    Raises
    ------
    ValueOutOfRange
        If the value is not finite, the error is negative, or no error and no flag is given.
    """

    value: float
    standard_error: float | None
    flags: tuple[Flag, ...] = ()

    def __post_init__(self) -> None:
        if not math.isfinite(self.value):
            raise ValueOutOfRange(f"An estimate is {self.value}; it must be a finite number. Enter it again.")
        if self.standard_error is None:
            if not self.flags:
                raise ValueOutOfRange("An estimate has neither an error nor a flag that says why. Give one of them.")
        elif not 0 <= self.standard_error < math.inf:
            raise ValueOutOfRange(
                f"The standard error of an estimate is {Figure(self.standard_error):g}; it must be finite and not "
                "below 0."
            )

    def interval(self, probability: float = 0.9) -> tuple[float, float]:
        """Central interval that holds the truth with this probability, if errors are normal.

        Raises
        ------
        ValueOutOfRange
            If the probability is not between 0 and 1, or no standard error is known.
        """
        if not 0 < probability < 1:
            raise ValueOutOfRange(
                f"An interval of probability {Figure(probability):g} cannot be; give one between 0 and 1."
            )
        if self.standard_error is None:
            doubts = "; ".join(flag.words for flag in self.flags)
            raise ValueOutOfRange(f"No standard error is known, so no interval: {doubts}.")
        half = NormalDist().inv_cdf(0.5 + probability / 2) * self.standard_error
        return self.value - half, self.value + half
