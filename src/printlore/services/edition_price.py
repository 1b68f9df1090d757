"""The price floor of an edition's next print, from the studio's own costs and what its trials really took."""

from dataclasses import dataclass

from printlore.core.edition.price import (
    USUAL_FINISHING,
    USUAL_SOLUTION,
    USUAL_SPOILED,
    PriceTerms,
    tries_per_print,
)
from printlore.core.estimate import Estimate
from printlore.records.database import Database
from printlore.records.editions import Edition, NumberedPrint
from printlore.records.rows import every, find
from printlore.records.studio import Costs, Preferences, settled
from printlore.records.trials import TrialRecord, TrialRow, with_patches
from printlore.services.editions import USUAL_SIZE

_PRICED_SHEET = USUAL_SIZE[0] * USUAL_SIZE[1] / 1e6
"""[m2] Of the sheet that the studio's costs mean, 20 x 25 cm."""
_FIRST_COSTS = (
    "a sheet counts 1 and the rest is in proportion (from memory), no money yet: set what things cost in Studio"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceFloor:
    """The least a print must bring.

    Attributes
    ----------
    edition : str
    size : (width, height)
        [mm]
    terms : PriceTerms
    sheets, strips, good : int
        Tried, and sheets of them that are right, by the trials that were looked at.
    since : str
        The last numbered print, if they are those made since; empty: all of the negative.
    tries : Estimate
        Drum cycles that a good print takes.
    cycle_minutes, finishing : float
        [min]
    solution : float
        Working solution that a good print uses up [mL].
    floor : Estimate
        [money] Its error is that of the cycles alone; costs are taken as exact.
    assumed : tuple of str
        What the floor rests on that nobody said or measured.
    currency : str
    """

    edition: str
    size: tuple[float, float]
    terms: PriceTerms
    sheets: int
    strips: int
    good: int
    since: str
    tries: Estimate
    cycle_minutes: float
    finishing: float
    solution: float
    floor: Estimate
    assumed: tuple[str, ...]
    currency: str


def price_floor(
    db: Database,
    edition: str,
    *,
    size: tuple[float, float] | None = None,
    finishing: float | None = None,
    mount: float | None = None,
    solution: float | None = None,
    spoiled: float | None = None,
    commission: float | None = None,
) -> PriceFloor:
    """The price below which the next print of an edition is sold at a loss.

    Parameters
    ----------
    size : (width, height), optional
        [mm] As the last numbered print, if not said.
    finishing : float, optional
        Minutes of work once it is printed [min].
    mount : float, optional
        Mount, sleeve and packing [money].
    solution : float, optional
        Working solution used up by a square metre of paper [mL/m2].
    spoiled : float, optional
        Share of finished prints spoiled before they are sold [1].
    commission : float, optional
        Share of the price that whoever sells it keeps [1].
    """
    with db.reading() as conn:
        promised = find(conn, Edition, edition)
        prints = sorted(every(conn, NumberedPrint, edition=promised.name), key=lambda one: one.id)
        records = with_patches(conn, every(conn, TrialRow, frame=promised.frame))
        costs, currency = settled(conn, Costs), settled(conn, Preferences).currency
    size = size or next((one.size for one in reversed(prints) if one.size), None) or USUAL_SIZE
    numbered = {one.trial for one in prints if one.trial}
    tried, since = _tried(records, numbered)
    sheets = sum(one.row.kind == "sheet" for one in tried)
    good = sum(one.row.kind == "sheet" and (one.name in numbered or _kept(one)) for one in tried)
    tries = tries_per_print(len(tried), good)
    share = sheets / len(tried) if tried else 1.0
    area = size[0] * size[1] / 1e6
    work = USUAL_FINISHING if finishing is None else finishing
    poured = (USUAL_SOLUTION if solution is None else solution) * area

    def with_cycles(cycles: float) -> PriceTerms:
        return PriceTerms(
            minutes=cycles * costs.cycle_minutes + work,
            minute=costs.minute,
            sheets=cycles * share,
            sheet=costs.sheet * area / _PRICED_SHEET,
            strips=cycles * (1 - share),
            strip=costs.strip,
            chemistry=cycles * poured * costs.millilitre,
            mount=mount or 0.0,
            reject_share=USUAL_SPOILED if spoiled is None else spoiled,
            commission=commission or 0.0,
        )

    terms, error = with_cycles(tries.value), None
    if tries.standard_error is not None:
        error = with_cycles(tries.value + tries.standard_error).floor - terms.floor
    usual = (
        (finishing, f"{USUAL_FINISHING:.0f} min to spot, trim, sign, list, mount, pack and send (from memory)"),
        (mount, "nothing for mount and packing: none was said"),
        (solution, "half a litre of working solution for three quarters of a square metre of paper (from memory)"),
        (spoiled, "1 in 20 finished prints spoiled before it is sold (from memory)"),
        (commission, "no commission: none was said"),
    )
    return PriceFloor(
        edition=promised.name,
        size=size,
        terms=terms,
        sheets=sheets,
        strips=len(tried) - sheets,
        good=good,
        since=since,
        tries=tries,
        cycle_minutes=costs.cycle_minutes,
        finishing=work,
        solution=tries.value * poured,
        floor=Estimate(value=terms.floor, standard_error=error, flags=tries.flags),
        assumed=(
            *((_FIRST_COSTS,) if costs.version == 0 else ()),
            "every sheet and strip had a drum cycle of its own, and used up what a sheet does",
            "the studio's price of a sheet is that of 20 x 25 cm, and grows with the area",
            *(words for said, words in usual if said is None),
        ),
        currency=currency,
    )


def _tried(records: list[TrialRecord], numbered: set[str]) -> tuple[list[TrialRecord], str]:
    """Strips and sheets since the last numbered print and its name, or all of them and nothing."""
    paper = sorted((one for one in records if one.row.kind != "control"), key=lambda one: (one.row.at, one.row.id))
    last = max((at for at, one in enumerate(paper) if one.name in numbered), default=-1)
    if 0 <= last < len(paper) - 1:
        return paper[last + 1 :], paper[last].name
    return paper, ""


def _kept(record: TrialRecord) -> bool:
    return any(patch.kept for patch in record.patches)
