"""The least that a print must bring: what it cost to make, what is spoiled, and what the seller keeps."""

import math
from dataclasses import dataclass

from printlore.core.estimate import Estimate
from printlore.core.figure import Figure
from printlore.core.flags import Flag
from printlore.errors import ValueOutOfRange

USUAL_FINISHING = 40.0
"""[min] To spot, flatten, trim, sign and list a print (10), and to mount, pack and send an order (30) (from memory)."""
USUAL_SPOILED = 0.05
"""Share of finished prints that are spoiled before they are sold (from memory)."""
USUAL_SOLUTION = 500.0 / 0.75
"""Working solution used up by paper [mL/m2]: half a litre for 0.5 to 1 m2, not replenished (from memory)."""
USUAL_PER_PRINT = 1.3
"""Sheets and drum cycles that a good print takes, where no trial says it (from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceTerms:
    """What one numbered print costs.

    Attributes
    ----------
    minutes : float
        Of work, printing and finishing [min].
    minute : float
        Worth of a minute [money].
    sheets : float
        Of paper, those that did not become right with it [sheet].
    sheet : float
        Price of a sheet [money].
    strips, strip : float
        Test strips used for it, and the price of one [money].
    chemistry, mount : float
        Share of the baths; mount, sleeve, packing [money].
    reject_share : float
        Of finished prints, spoiled in spotting, trimming, mounting, packing [1]; 0 to below 1.
    commission : float
        Share of the price that whoever sells it keeps [1]; 0 to below 1.

    Raises
    ------
    ValueOutOfRange
        If one of them cannot be.
    """

    minutes: float
    minute: float
    sheets: float
    sheet: float
    strips: float = 0.0
    strip: float = 0.0
    chemistry: float = 0.0
    mount: float = 0.0
    reject_share: float = 0.0
    commission: float = 0.0

    def __post_init__(self) -> None:
        for name in ("minutes", "minute", "sheets", "sheet", "strips", "strip", "chemistry", "mount"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value >= 0):
                raise ValueOutOfRange(f"Price floor: {name} is {Figure(value):g}; it must be 0 or more.")
        for name in ("reject_share", "commission"):
            value = getattr(self, name)
            if not 0 <= value < 1:
                raise ValueOutOfRange(
                    f"Price floor: a {name.replace('_', ' ')} of {Figure(100 * value):g} % cannot be; "
                    "give 0 to below 100 %."
                )

    @property
    def made(self) -> float:
        """Cost of one print as it lies on the table [money]."""
        paper = self.sheets * self.sheet + self.strips * self.strip
        return self.minutes * self.minute + paper + self.chemistry + self.mount

    @property
    def good(self) -> float:
        """The same with its part of those that are spoiled [money]."""
        return self.made / (1 - self.reject_share)

    @property
    def floor(self) -> float:
        """Price at which the maker loses nothing [money]; taxes and profit are not in it."""
        return self.good / (1 - self.commission)


def tries_per_print(tries: int, good: int) -> Estimate:
    """Pieces of paper, or drum cycles, that one good print took.

    Parameters
    ----------
    tries : int
        Logged.
    good : int
        Of them accepted as right, at most ``tries``.

    Returns
    -------
    Estimate
        Its error is that of a mean of waiting times, each try as likely to be good as the next; if all were good, as
        if the next one failed, since a first print that is right at once proves little. Flagged and a usual figure
        (from memory) if nothing was logged, flagged and a lower bound if nothing was good yet.
    """
    if tries <= 0:
        return Estimate(value=USUAL_PER_PRINT, standard_error=None, flags=(Flag.PRIOR_ONLY,))
    if good <= 0:
        return Estimate(value=float(tries + 1), standard_error=None, flags=(Flag.AT_LEAST,))
    share = good / max(tries, good + 1)
    return Estimate(value=tries / good, standard_error=math.sqrt((1 - share) / good) / share)
