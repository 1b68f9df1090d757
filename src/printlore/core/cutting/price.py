"""What a pack of cut paper costs: the roll, its waste, and the minutes in the dark."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from printlore.core.cutting.plan import Plan, Sitting
from printlore.core.cutting.sections import Kind, Section, Size
from printlore.core.estimate import Estimate
from printlore.core.figure import Figure
from printlore.core.flags import Flag
from printlore.errors import ValueOutOfRange


@dataclass(frozen=True, slots=True, kw_only=True)
class CuttingCosts:
    """What cutting costs, in the studio's own unit of money.

    Attributes
    ----------
    per_area : mapping of source name to money per m2
        Price of the paper on each roll or pile.
    hourly : float
        Worth of an hour of work.
    minutes_per_sitting, minutes_per_setting, seconds_per_stroke : float
        Dark room ready and cleared again; a stop set; a stroke of the blade with the moves around it. Defaults are
        assumed, from memory: measure your own.
    spread : float
        One standard deviation of the minutes, as a share.
    """

    per_area: Mapping[str, float]
    hourly: float
    minutes_per_sitting: float = 20.0
    minutes_per_setting: float = 3.0
    seconds_per_stroke: float = 15.0
    spread: float = 0.25

    def __post_init__(self) -> None:
        for name in ("hourly", "minutes_per_sitting", "minutes_per_setting", "seconds_per_stroke", "spread"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value >= 0):
                raise ValueOutOfRange(f"{name.replace('_', ' ')} is {Figure(value):g}; it must be 0 or more.")

    def minutes(self, sitting: Sitting) -> float:
        """Minutes that a sitting takes."""
        return (
            self.minutes_per_sitting
            + self.minutes_per_setting * len(sitting.settings)
            + self.seconds_per_stroke / 60 * sitting.strokes
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetCost:
    """What one sheet of a size costs and why.

    Attributes
    ----------
    along, across : float
        [mm]
    sheets : int
        Of this size in the plan.
    paper, waste, work : float
        Share of the roll, of what was wasted of it, and of the minutes [money].
    cost : Estimate
        Their sum [money].
    """

    along: float
    across: float
    sheets: int
    paper: float
    waste: float
    work: float
    cost: Estimate

    def pack(self, sheets: int, box: float = 0.0) -> Estimate:
        """What a pack of so many costs [money]: sold below that, it is sold at a loss.

        Parameters
        ----------
        box : float
            Box, bag and label of the pack [money].

        Raises
        ------
        ValueOutOfRange
            If the pack is empty, or its box costs less than nothing.
        """
        if sheets < 1:
            raise ValueOutOfRange(f"A pack of {sheets} sheets cannot be; give 1 or more.")
        if not (math.isfinite(box) and box >= 0):
            raise ValueOutOfRange(f"The box of a pack costs {Figure(box):g}; it must be 0 or more.")
        error = None if self.cost.standard_error is None else sheets * self.cost.standard_error
        return Estimate(value=sheets * self.cost.value + box, standard_error=error, flags=self.cost.flags)


@dataclass(frozen=True, slots=True, kw_only=True)
class Used:
    """What a sitting used up and made, where that is not what was planned.

    Attributes
    ----------
    length : float
        Of roll [mm], outer turns and spoiled sections included.
    pieces : mapping of Size to count, or None
        Good ones; ``None``: as planned.
    """

    length: float
    pieces: Mapping[Size, int] | None = None


def sheet_costs(plan: Plan, costs: CuttingCosts, used: Mapping[int, Used] | None = None) -> list[SheetCost]:
    """Cost of a sheet of each size of a plan, largest first.

    Paper, waste and work of a section are shared among its sheets by area, the work of a sitting among its sections by
    strokes. What a sitting used up beyond its plan is shared among its good sheets by area. Test strips carry no cost
    where they are what is left over beside sheets.

    Parameters
    ----------
    used : mapping of sitting, from 1, to Used, optional
        Of sittings that were cut, or that begin a roll; the others are taken as planned.

    Raises
    ------
    ValueOutOfRange
        If a roll of the plan has no price.
    """
    totals: dict[tuple[float, float], list[float]] = {}
    for number, sitting in enumerate(plan.sittings, 1):
        if sitting.source not in costs.per_area:
            raise ValueOutOfRange(f'There is no price for "{sitting.source}"; give what its paper costs per m2.')
        price = costs.per_area[sitting.source] / 1e6
        work = costs.minutes(sitting) / 60 * costs.hourly
        shares = _shares(sitting)
        really = (used or {}).get(number)
        if really is not None and really.pieces is not None:
            shares = [replace(one, sheets=really.pieces.get(one.size, 0)) for one in shares]
        shares = [one for one in shares if one.sheets]
        if not shares:
            continue
        wide = sitting.sections[0][0].width
        area = sum(section.area * count for section, count in sitting.sections) if not really else really.length * wide
        good = sum(one.area for one in shares)
        over = area - good - sum(one.waste for one in shares)
        hands = sum(one.work for one in shares)
        for one in shares:
            row = totals.setdefault(one.size[:2], [0.0, 0.0, 0.0, 0.0])
            row[0] += one.sheets
            row[1] += one.area * price
            row[2] += (one.waste + over * one.area / good) * price
            row[3] += work * one.work / hands
    found = []
    for (along, across), (sheets, paper, waste, work) in totals.items():
        error = costs.spread * work / sheets
        found.append(
            SheetCost(
                along=along,
                across=across,
                sheets=round(sheets),
                paper=paper / sheets,
                waste=waste / sheets,
                work=work / sheets,
                cost=Estimate(
                    value=(paper + waste + work) / sheets, standard_error=error, flags=(Flag.NO_ERROR_KNOWN,)
                ),
            )
        )
    return sorted(found, key=lambda s: -s.along * s.across)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Share:
    """What a size has of a sitting: so many sheets, their waste as planned [mm2], and their share of the work [1]."""

    size: Size
    sheets: int
    waste: float
    work: float

    @property
    def area(self) -> float:
        """Of all its sheets [mm2]."""
        return self.sheets * self.size[0] * self.size[1]


def _shares(sitting: Sitting) -> list[_Share]:
    found: dict[Size, _Share] = {}
    for section, count in sitting.sections:
        pieces = section.pieces()
        sheets = {size: n for size, n in pieces.items() if size[2] is Kind.SHEET} or pieces
        area = sum(n * size[0] * size[1] for size, n in sheets.items())
        strokes = _strokes(section) * count / max(sitting.strokes, 1)
        for size, n in sheets.items():
            of_area = n * size[0] * size[1] / area
            before = found.get(size, _Share(size=size, sheets=0, waste=0.0, work=0.0))
            found[size] = _Share(
                size=size,
                sheets=before.sheets + n * count,
                waste=before.waste + count * (section.area - area) * of_area,
                work=before.work + strokes * of_area,
            )
    return list(found.values())


def _strokes(section: Section) -> int:
    return sum(times for _, times in section.cuts)
