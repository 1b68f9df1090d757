"""Published filter factors and time rules, kept as data, beside what our physics gives for the generic paper.

Published figures are never used to advise; they are shown beside the advice, and :mod:`.handbook` uses them.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np

from printlore.core.colour.tables import Floats, read_rows, read_table
from printlore.core.figure import Figure
from printlore.core.light.filters import LARGEST_FILTER_CC
from printlore.core.paper.dyes import HERE as PAPER
from printlore.core.paper.dyes import generic_paper
from printlore.core.paper.gradient import generic_curves, lightness_shares
from printlore.errors import ValueOutOfRange

HERE = "printlore.core.light"

LAMP_TEMPERATURE = 3000.0
"""[K] Tungsten-halogen enlarger lamps are near 2900 to 3200 K, close to a black body (from memory)."""

CLEAR_FILTER = 0.915
"""Transmittance of a filter with no dye in it: what its two surfaces leave (peed-filters)."""

LARGEST_SHEET = 50.0
"""[CC] Filters are made up to this; more is several of them, each with its surfaces."""

_SECOND_RADIATION_CONSTANT = 1.438776877e-2
"""[m K] (codata2018)"""


@cache
def _factors() -> dict[str, dict[float, float]]:
    table: dict[str, dict[float, float]] = {letter: {0.0: 1.0} for letter in "CMYRGB"}
    for row in read_rows(HERE, "cc_filter_factors.csv"):
        table[row["filter"][-1]][float(row["filter"][2:4])] = float(row["printing_factor"])
    return table


def printing_factor(letter: str, strength: float) -> float:
    """Published factor on the exposure time for a CC filter: multiply when it is added, divide when removed.

    Parameters
    ----------
    letter : str
        C, M, Y, R, G or B.
    strength : float
        [CC], 0 to 400. Between printed strengths the factor is read off a straight line in its logarithm; beyond
        50 it is that of several filters.

    Raises
    ------
    ValueOutOfRange
        If there is no such filter.

    References
    ----------
    e142
    """
    table = _factors()
    if letter not in table or not 0 <= strength <= LARGEST_FILTER_CC:
        raise ValueOutOfRange(
            f'No factor is published for "{Figure(strength):g} {letter}"; give C, M, Y, R, G or B '
            f"from 0 to {Figure(LARGEST_FILTER_CC):g} CC."
        )
    printed = table[letter]
    whole, rest = divmod(strength, LARGEST_SHEET)
    if rest in printed:
        remainder = printed[rest]
    else:
        at = sorted(printed)
        remainder = float(np.exp(np.interp(rest, at, np.log([printed[x] for x in at]))))
    return float(printed[LARGEST_SHEET] ** whole * remainder)


@dataclass(frozen=True, slots=True, kw_only=True)
class FactorComparison:
    """One filter: the published time factor and ours.

    Attributes
    ----------
    filter : str
        Trade name, for example CC20M; or the dial rule.
    published : float
        Factor on the time (e142).
    same_lightness : float
        Factor that keeps L* of the mid grey, generic paper A.
    same_green : float
        Factor that keeps the exposure of the green layer, which makes most of what is seen as darkness.
    why : str
        The difference, in words.
    """

    filter: str
    published: float
    same_lightness: float
    same_green: float
    why: str

    @property
    def difference_stops(self) -> float:
        """Ours for the same lightness over the published factor [stop]; above 0: ours is longer."""
        return float(np.log2(self.same_lightness / self.published))


@cache
def _paper_light() -> tuple[Floats, Floats]:
    """Wavelengths [nm] and what each layer (3, n) takes of the lamp, in sum 1."""
    nm = np.arange(400.0, 721.0, 2.0)
    metres = nm * 1e-9
    lamp = metres**-5 / np.expm1(_SECOND_RADIATION_CONSTANT / (metres * LAMP_TEMPERATURE))
    table = read_table(PAPER, "paper_a_sensitivity.csv")
    layers = []
    for name in ("cyan_layer", "magenta_layer", "yellow_layer"):
        known = ~np.isnan(table[name])
        # Off the chart a layer's sensitivity is too low to be drawn: counted as none.
        drawn = np.interp(nm, table["wavelength_nm"][known], table[name][known], left=-np.inf, right=-np.inf)
        layers.append(10.0**drawn * lamp)
    light = np.stack(layers)
    return nm, light / light.sum(axis=1, keepdims=True)


def filter_transmittance(name: str, wavelength: Floats) -> Floats:
    """Transmittance (n,) of a CC filter, for example "CC20M", at wavelengths (n,) [nm], surfaces included.

    Yellow and green are printed to 530 nm only in the copy read. Beyond, yellow stays as at 530 nm (near 90 percent)
    and green is the cyan of its strength times that yellow, one pair of surfaces taken off.

    Raises
    ------
    ValueOutOfRange
        If there is no such filter.

    References
    ----------
    peed-filters
    """
    whole = read_table(HERE, "cc_filter_transmittance_mcrb.csv")
    part = read_table(HERE, "cc_filter_transmittance_yg.csv")
    if name in whole and name != "wavelength_nm":
        return np.asarray(np.interp(wavelength, whole["wavelength_nm"], whole[name]) / 100)
    if name not in part or name == "wavelength_nm":
        raise ValueOutOfRange(f'There is no table for a filter "{name}"; there are CC05 to CC50 in C, M, Y, R, G, B.')
    blue = np.interp(wavelength, part["wavelength_nm"], part[name]) / 100
    if name.endswith("Y"):
        return np.asarray(blue)
    cyan = np.interp(wavelength, whole["wavelength_nm"], whole[name[:-1] + "C"]) / 100
    return np.asarray(np.where(wavelength <= 530, blue, cyan * part[name[:-1] + "Y"][-1] / 100 / CLEAR_FILTER))


def layer_cc_of_filter(name: str) -> Floats:
    """What a CC filter takes from the red, green and blue layer (3,) of generic paper A [CC], surfaces included."""
    nm, light = _paper_light()
    return np.asarray(-100.0 * np.log10(light @ filter_transmittance(name, nm)))


_WHY = {
    "Y": "The published factor is that of the surfaces alone; ours counts that less yellow is also lighter.",
    "M": "Published factors lie between keeping lightness and keeping the green layer; steps are rounded to 0.1.",
    "C": "The published table counts less of the red layer in darkness than lightness does.",
    "R": "As magenta and yellow together; the two lacks nearly cancel.",
    "G": "As cyan and yellow together; both are counted for less in the published table.",
    "B": "As magenta and cyan together; the two lacks nearly cancel.",
}


def compare_published_factors() -> tuple[FactorComparison, ...]:
    """Every published CC factor beside ours: a usual lamp, filter tables, generic paper A at mid grey.

    References
    ----------
    e142, peed-filters, filmscan-paper-a
    """
    shares = lightness_shares(generic_paper("a"), generic_curves())
    rows = []
    for row in read_rows(HERE, "cc_filter_factors.csv"):
        red, green, blue = layer_cc_of_filter(row["filter"]).tolist()
        rows.append(
            FactorComparison(
                filter=row["filter"],
                published=float(row["printing_factor"]),
                same_lightness=float(10.0 ** (shares @ (red, green, blue) / 100)),
                same_green=float(10.0 ** (green / 100)),
                why=_WHY[row["filter"][-1]],
            )
        )
    return tuple(rows)


def dichroic_time_factor(*, cyan: float = 0.0, magenta: float = 0.0, yellow: float = 0.0) -> float:
    """Published rule for dials: time factor of a change [dial units] of each colour; below 0 when removed.

    One percent longer for each unit of magenta, nothing for yellow, the CC filter factors for cyan.

    References
    ----------
    e142
    """
    by_magenta = 1 + abs(magenta) / 100
    by_cyan = printing_factor("C", abs(cyan))
    return float((by_magenta if magenta >= 0 else 1 / by_magenta) * (by_cyan if cyan >= 0 else 1 / by_cyan))


def compare_dichroic_rule() -> tuple[FactorComparison, ...]:
    """The dial rule beside an ideal head (1 CC to the unit, no surfaces) on generic paper A, for 20 units of each.

    References
    ----------
    e142, filmscan-paper-a
    """
    shares, units = lightness_shares(generic_paper("a"), generic_curves()), 20.0
    why = {
        "cyan": "The rule borrows the factors of sheets, whose surfaces and green absorption an ideal dial lacks.",
        "magenta": "An ideal unit moves lightness by the green layer's share of it, which is more than 1 percent.",
        "yellow": "The rule leaves yellow out; the blue layer has a tenth of lightness.",
    }
    rows = []
    for dial, name in enumerate(("cyan", "magenta", "yellow")):
        rows.append(
            FactorComparison(
                filter=f"+{Figure(units):g} {name} on a dial",
                published=dichroic_time_factor(**{name: units}),
                same_lightness=float(10.0 ** (shares[dial] * units / 100)),
                same_green=float(10.0 ** (units / 100)) if name == "magenta" else 1.0,
                why=why[name],
            )
        )
    return tuple(rows)
