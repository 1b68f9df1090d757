"""What a pack of cut paper costs: the roll, its waste, and the minutes in the dark."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from printlore.core.cutting.plan import Plan, Sitting
from printlore.core.cutting.sections import Kind, Section
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
    pack : float
        Box, bag and label of one pack.
    spread : float
        One standard deviation of the minutes, as a share.
    """

    per_area: Mapping[str, float]
    hourly: float
    minutes_per_sitting: float = 20.0
    minutes_per_setting: float = 3.0
    seconds_per_stroke: float = 15.0
    pack: float = 0.0
    spread: float = 0.25

    def __post_init__(self) -> None:
        for name in ("hourly", "minutes_per_sitting", "minutes_per_setting", "seconds_per_stroke", "pack", "spread"):
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

    def pack(self, sheets: int, costs: CuttingCosts) -> Estimate:
        """What a pack of so many costs [money], with its box.

        Raises
        ------
        ValueOutOfRange
            If the pack is empty.
        """
        if sheets < 1:
            raise ValueOutOfRange(f"A pack of {sheets} sheets cannot be; give 1 or more.")
        error = None if self.cost.standard_error is None else sheets * self.cost.standard_error
        return Estimate(value=sheets * self.cost.value + costs.pack, standard_error=error, flags=self.cost.flags)


def sheet_costs(plan: Plan, costs: CuttingCosts) -> list[SheetCost]:
    """Cost of a sheet of each size of a plan, largest first.

    Paper, waste and work of a section are shared among its sheets by area, the work of a sitting among its sections by
    strokes. Test strips carry no cost where they are what is left over beside sheets.

    Raises
    ------
    ValueOutOfRange
        If a roll of the plan has no price.
    """
    totals: dict[tuple[float, float], list[float]] = {}
    for sitting in plan.sittings:
        if sitting.source not in costs.per_area:
            raise ValueOutOfRange(f'There is no price for "{sitting.source}"; give what its paper costs per m2.')
        price = costs.per_area[sitting.source] / 1e6
        work = costs.minutes(sitting) / 60 * costs.hourly
        for section, count in sitting.sections:
            sheets = [part for part in section.parts if part.kind is Kind.SHEET]
            sheets = sheets or [part for part in section.parts if part.kind is Kind.STRIP]
            area = sum(part.area for part in sheets)
            share = _strokes(section) * count / max(sitting.strokes, 1)
            for part in sheets:
                of_area = part.area / area
                row = totals.setdefault((round(part.along, 1), round(part.across, 1)), [0.0, 0.0, 0.0, 0.0])
                row[0] += count
                row[1] += count * part.area * price
                row[2] += count * (section.area - area) * of_area * price
                row[3] += work * share * of_area
    found = []
    for (along, across), (sheets_made, paper, waste, work) in totals.items():
        cost = (paper + waste + work) / sheets_made
        found.append(
            SheetCost(
                along=along,
                across=across,
                sheets=round(sheets_made),
                paper=paper / sheets_made,
                waste=waste / sheets_made,
                work=work / sheets_made,
                cost=Estimate(
                    value=cost, standard_error=costs.spread * work / sheets_made, flags=(Flag.NO_ERROR_KNOWN,)
                ),
            )
        )
    return sorted(found, key=lambda s: -s.along * s.across)


def _strokes(section: Section) -> int:
    return sum(times for _, times in section.cuts)
