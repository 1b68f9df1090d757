"""How long paper lasts: pace of use, date to reorder, prints a lot covers, and how long paper warms up."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from printlore.core.estimate import Estimate
from printlore.core.figure import Figure
from printlore.core.flags import Flag
from printlore.errors import ValueOutOfRange

BOX_WARM_UP = 4.0
"""[h] Sheets in a closed box, from the cold to the room (common practice, no source: 2 to 4 h)."""
ROLL_WARM_UP = 24.0
"""[h] A full roll in its sealed bag (common practice, no source: 8 to 24 h)."""
LONGEST_LEAD = 3650.0
"""[d] From order to paper; what takes longer is not on order."""
SHEETS_PER_PRINT = 1.3
"""Sheets of the size of the print that one good print takes, tests apart (from memory)."""
FIRST_TESTS = 2.0
"""Sheets that go before the first good print (from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reorder:
    """When to order.

    Attributes
    ----------
    per_month : Estimate
        Paper used in 30 days [m2].
    lasts : float or None
        Days from now until nothing is left; ``None``: nothing is being used.
    in_days, earliest, latest : float or None
        Days from now on which to order so that paper comes in time, and its 90 % range; below 0: it is late.
    """

    per_month: Estimate
    lasts: float | None
    in_days: float | None
    earliest: float | None
    latest: float | None


def reorder(uses: Sequence[tuple[float, float]], *, days: float, on_hand: float, lead_days: float = 14.0) -> Reorder:
    """Reorder day from what was used.

    Parameters
    ----------
    uses : sequence of (days ago, m2)
        Each time paper was used up within ``days``.
    days : float
        Length of the record looked at [d], above 0.
    on_hand : float
        [m2]
    lead_days : float
        From order to paper in the cold [d].

    Raises
    ------
    ValueOutOfRange
        If the time looked at is not above 0, paper on hand or lead time is below 0, or the lead time beyond ten years.
    """
    if not days > 0:
        raise ValueOutOfRange(f"Use over {Figure(days):g} days says nothing; look at a time above 0.")
    if on_hand < 0 or lead_days < 0:
        raise ValueOutOfRange(
            f"{Figure(on_hand):g} m2 on hand and {Figure(lead_days):g} days to deliver: both must be 0 or more."
        )
    if not lead_days <= LONGEST_LEAD:
        raise ValueOutOfRange(
            f"{Figure(lead_days):g} days to deliver cannot be; give {Figure(LONGEST_LEAD):g} at most."
        )
    used = sum(area for _, area in uses)
    # Uses come by evening, not by sheet: the spread of the total is that of a sum of independent evenings.
    by_day: dict[int, float] = {}
    for ago, area in uses:
        by_day[math.floor(ago)] = by_day.get(math.floor(ago), 0.0) + area
    spread = math.sqrt(sum(area**2 for area in by_day.values()))
    flags = (Flag.PRIOR_ONLY,) if not uses else ()
    per_month = Estimate(value=used / days * 30, standard_error=spread / days * 30 if uses else None, flags=flags)
    if used <= 0:
        return Reorder(per_month=per_month, lasts=None, in_days=None, earliest=None, latest=None)
    pace, error = used / days, spread / days
    fast, slow = pace + 1.645 * error, max(pace - 1.645 * error, pace / 20)
    return Reorder(
        per_month=per_month,
        lasts=on_hand / pace,
        in_days=on_hand / pace - lead_days,
        earliest=on_hand / fast - lead_days,
        latest=on_hand / slow - lead_days,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Cover:
    """How many prints of an edition one lot covers.

    Attributes
    ----------
    prints, wanted : int
    sheets : float
        Of the size at hand, those that can still be cut included.
    needed : float
        Sheets that the wanted prints will take.
    """

    prints: int
    wanted: int
    sheets: float
    needed: float

    @property
    def words(self) -> str:
        """As one says it."""
        if self.prints >= self.wanted:
            left = math.floor(self.sheets - self.needed)
            over = f"{left} {'sheet stays' if left == 1 else 'sheets stay'} over"
            return f"This lot covers all {self.wanted} prints; about {over}."
        if self.prints <= 0:
            return "Too little of this lot is left for one print and its tests: choose another lot for the edition."
        return (
            f"This lot covers {self.prints} of {self.wanted} prints of the edition: hold it back for them, "
            "and print the rest on a lot that is matched to it."
        )


def cover(sheets: float, wanted: int, *, sheets_per_print: float = SHEETS_PER_PRINT) -> Cover:
    """Prints that sheets of one lot suffice for, ``FIRST_TESTS`` taken off.

    Parameters
    ----------
    sheets_per_print : float
        Expected, 1 or more (default from memory).

    Raises
    ------
    ValueOutOfRange
        If a number cannot be.
    """
    if sheets < 0 or wanted < 1 or sheets_per_print < 1:
        raise ValueOutOfRange(
            f"{Figure(sheets):g} sheets, {wanted} prints, {Figure(sheets_per_print):g} sheets a print cannot be; "
            "sheets 0 or more, at least 1 print, at least 1 sheet a print."
        )
    prints = max(0, math.floor((sheets - FIRST_TESTS) / sheets_per_print + 1e-9))
    needed = FIRST_TESTS + wanted * sheets_per_print
    return Cover(prints=min(prints, wanted), wanted=wanted, sheets=sheets, needed=needed)
