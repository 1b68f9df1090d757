"""Mixing a working solution: how much of what, in which order, with which vessel, and what an error does."""

import math
from dataclasses import dataclass

from printlore.core.bath.kit import WATER, Kit, Nature, Use
from printlore.core.bath.measure import USUAL_MEASURES, Measure, best_measure
from printlore.core.bath.pours import SHEET_20X25, Carry
from printlore.core.figure import Figure
from printlore.core.memory.priors import Priors
from printlore.errors import ValueOutOfRange

HARMLESS_ERROR = 0.05
"""[1] An error of one part below this is not worth a new mix: a hydrometer, the usual check of a mix, finds errors of
5 % and more (cis61). How little a print shows of it is from memory; the control patch decides."""

LARGEST_BATH = 100_000.0
"""[mL] More than 100 L is a slip of the pen."""

FIRST_WATER = 0.7
"""[1] Share of all the water that goes in first; the rest brings the solution to the mark."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One pour into the jug.

    Attributes
    ----------
    what : str
        "water" or the name of a part.
    volume : float
        How much [mL]; for the last water about how much.
    to_mark : float or None
        Fill up to this volume instead of measuring [mL].
    measure : Measure or None
        With what; ``None`` for water that is not measured.
    relative_error : float
        Standard error of this part's share in the solution, the volume of the whole included [1].
    caution : str
        What to mind at this step.
    """

    what: str
    volume: float
    to_mark: float | None = None
    measure: Measure | None = None
    relative_error: float = 0.0
    caution: str = ""

    @property
    def vessel(self) -> str:
        """What it is measured with, and how often it is filled."""
        if self.measure is None:
            return ""
        times = 1 if self.to_mark else math.ceil(self.volume / self.measure.capacity - 1e-9)
        return f"{self.measure}, {times} times" if times > 1 else str(self.measure)


def _check_volume(volume: float, bottle: float | None) -> None:
    if not (math.isfinite(volume) and 0 < volume <= LARGEST_BATH):
        raise ValueOutOfRange(
            f"A bath of {Figure(volume):g} mL cannot be mixed; give more than 0 and at most 100 litres."
        )
    if bottle is not None and volume > bottle:
        raise ValueOutOfRange(
            f"{Figure(volume):g} mL do not go into a bottle of {Figure(bottle):g} mL. Mix less, or choose a larger "
            "bottle."
        )


def parts_for(kit: Kit, volume: float) -> dict[str, float]:
    """How much of each part goes into a volume of working solution [mL]."""
    _check_volume(volume, None)
    return {part.name: part.per_litre * volume / 1000 for part in kit.parts}


CAUTIONS: dict[Nature, str] = {
    Nature.PLAIN: "",
    Nature.ALKALI: "Alkaline: goggles and nitrile gloves on. Splash in an eye: rinse for 15 minutes and call for help "
    "(time from memory; the safety sheet decides).",
    Nature.ACID: "Acid into water, never water into acid. Goggles and gloves on, fan on.",
    Nature.SENSITISER: "Holds the colour developing agent, which can make skin allergic for life: nitrile gloves, "
    "goggles, no bare wrists; a drop on the skin is washed off at once with cool water and soap.",
}


def mixing_steps(kit: Kit, volume: float, *, bottle: float | None = None) -> tuple[Step, ...]:
    """Steps that make a volume of working solution: water first, parts in order, water to the mark.

    Parameters
    ----------
    volume : float
        Of working solution [mL].
    bottle : float or None
        What the bottle holds [mL].

    Raises
    ------
    ValueOutOfRange
        If the volume cannot be, does not fit the bottle, or no vessel measures a part.
    """
    _check_volume(volume, bottle)
    water = kit.water_per_litre * volume / 1000
    # a mark is on one vessel: one that holds all, if there is one
    whole = best_measure(volume, [one for one in USUAL_MEASURES if one.fills(volume) == 1] or USUAL_MEASURES)
    whole_error = whole.standard_error(volume) / volume
    warm = "" if kit.use is not Use.DEVELOPER else "Hard water: use deionised or distilled, at least for the developer."
    steps = []
    if water > 0:
        steps.append(Step(what=WATER, volume=FIRST_WATER * water, caution=warm))
    for part in kit.parts:
        amount = part.per_litre * volume / 1000
        measure = best_measure(amount)
        error = math.hypot(measure.standard_error(amount) / amount, whole_error)
        steps.append(
            Step(
                what=part.name,
                volume=amount,
                measure=measure,
                relative_error=error,
                caution=CAUTIONS[part.nature],
            )
        )
    fills = whole.fills(volume)
    mark = f"No vessel here holds it all: mark a larger one first, by {fills} fills of water."
    steps.append(
        Step(
            what=WATER,
            volume=(1 - FIRST_WATER) * water,
            to_mark=volume,
            measure=whole,
            relative_error=whole_error,
            caution="" if fills == 1 else mark,
        )
    )
    return tuple(steps)


@dataclass(frozen=True, slots=True, kw_only=True)
class ErrorEffect:
    """What a mixing error does.

    Attributes
    ----------
    relative : float
        Error of that part in the solution [1].
    shift : float
        About what it does to a print, common to the layers [log10 of exposure]; above 0: darker. By what is usually
        believed of a developer's strength (from memory).
    harmless : bool
    why : str
        In words.
    """

    relative: float
    shift: float
    harmless: bool
    why: str


def effect_of_error(kit: Kit, part: str, error: float, volume: float) -> ErrorEffect:
    """What so many millilitres too much (or, below 0, too little) of a part do.

    Parameters
    ----------
    error : float
        [mL]; less than all of the part may be missing.
    volume : float
        Of working solution, brought to the mark [mL].

    Raises
    ------
    ValueOutOfRange
        If the kit has no such part, or more is missing than belongs in.
    """
    amounts = {name.casefold(): amount for name, amount in parts_for(kit, volume).items()}
    if part.casefold() not in amounts:
        raise ValueOutOfRange(f'Kit "{kit.name}" has no part "{part}"; it has {", ".join(p.name for p in kit.parts)}.')
    amount = amounts[part.casefold()]
    if not (math.isfinite(error) and error > -amount):
        raise ValueOutOfRange(
            f"{Figure(error):g} mL of {Figure(amount):g} mL cannot be missing; leave the part out of the question."
        )
    relative = error / amount
    shift = Priors().usual_ageing[2] * relative
    harmless = abs(relative) <= HARMLESS_ERROR
    size = f"{Figure(abs(error)):g} mL of {Figure(amount):g} mL is {Figure(abs(relative) * 100):.2g} % of this part"
    if harmless:
        drum = Carry().water_in(SHEET_20X25)
        why = (
            f"{size}: harmless. The usual check of a mix, a hydrometer, finds errors of 5 % and more; for a developer "
            f"it would move a print by about {Figure(abs(shift) * 100):.1f} CC (from memory), as much as the water of "
            f"{Figure(abs(relative) * volume / drum):.1f} wet 20x25 drums ({drum:.0f} mL each)."
        )
    else:
        why = (
            f"{size}: more than the 5 % that the usual check of a mix, a hydrometer, finds. For a developer expect a "
            f"print off by about {abs(shift) * 100:.0f} CC (from memory) and another contrast. "
            "Read a control patch before work, or mix again."
        )
    return ErrorEffect(relative=relative, shift=shift, harmless=harmless, why=why)


def water_advice(hardness_mg_per_litre: float | None) -> str:
    """Which water to mix with, from its hardness as calcium carbonate [mg/L], if known. Common practice, no source."""
    if hardness_mg_per_litre is None:
        return "Water hardness is not known: deionised or distilled water takes the question away (common practice)."
    if not (math.isfinite(hardness_mg_per_litre) and 0 <= hardness_mg_per_litre <= 5000):
        raise ValueOutOfRange(
            f"A hardness of {Figure(hardness_mg_per_litre):g} mg/L cannot be; the water works give it as calcium "
            "carbonate, from 0 to about 500."
        )
    if hardness_mg_per_litre > 200:
        return (
            f"At {Figure(hardness_mg_per_litre):g} mg/L the water is hard: mix with deionised or distilled water, so "
            "that no lime settles in the bath or on the prints (common practice, limit from memory)."
        )
    return (
        f"At {Figure(hardness_mg_per_litre):g} mg/L tap water will do for mixing (common practice, limit from memory)."
    )


def cost_per_litre(kit: Kit, price_per_litre: dict[str, float]) -> float:
    """Cost of one litre of working solution from the price of a litre of each concentrate [studio's unit].

    Raises
    ------
    ValueOutOfRange
        If the price of a part is missing or below 0.
    """
    total = 0.0
    for part in kit.parts:
        price = price_per_litre.get(part.name)
        if price is None or not (math.isfinite(price) and price >= 0):
            raise ValueOutOfRange(f'Price of part "{part.name}" of kit "{kit.name}" is missing; give it per litre.')
        total += price * part.per_litre / 1000
    return total


def largest_mix(kit: Kit, left: dict[str, float]) -> float:
    """Most working solution that the concentrates left can make [mL]; parts by name, volumes in mL."""
    return min(1000 * left.get(part.name, 0.0) / part.per_litre for part in kit.parts)
