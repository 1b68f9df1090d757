"""The handbook's next setting: arithmetic with printed rules, shown beside the advice and used as a baseline."""

import math
from collections.abc import Mapping
from dataclasses import replace
from enum import StrEnum

from printlore.core.figure import Figure
from printlore.core.light.filters import FilterPack
from printlore.core.light.published import dichroic_time_factor, printing_factor
from printlore.core.light.setting import Setting
from printlore.errors import ValueOutOfRange

VIEWING_FILTER_SHARE = 0.5
"""Half of the viewing filter goes into the pack (navedtra14209, ch. 12)."""

CAST_MOVES: Mapping[str, tuple[float, float, float]] = {
    "none": (0.0, 0.0, 0.0),
    "magenta": (0.0, 1.0, 0.0),
    "yellow": (0.0, 0.0, 1.0),
    "red": (0.0, 1.0, 1.0),
    "green": (0.0, -1.0, 0.0),
    "blue": (0.0, 0.0, -1.0),
    "cyan": (0.0, -1.0, -1.0),
}
"""Cyan, magenta, yellow of the move: add the colour of the cast, or take its complement away (e142)."""


class TimeRule(StrEnum):
    """Which printed rule says how a change of pack changes the time: that for sheet filters, or that for dials."""

    SHEETS = "sheets"
    DIALS = "dials"


def pack_time_factor(before: FilterPack, after: FilterPack, rule: TimeRule) -> float:
    """Factor on the time from one pack to another, so that the print stays about as dark.

    Sheets: product of the published factors of the new filters over that of the old. Dials: one percent for each
    unit of magenta, none for yellow, sheet factors for cyan.

    References
    ----------
    e142
    """
    pairs = list(zip("CMY", before.as_tuple(), after.as_tuple(), strict=True))
    if rule is TimeRule.SHEETS:
        return math.prod(printing_factor(letter, new) / printing_factor(letter, old) for letter, old, new in pairs)
    cyan, magenta, yellow = (new - old for _, old, new in pairs)
    return dichroic_time_factor(cyan=cyan, magenta=magenta, yellow=yellow)


def handbook_move(
    setting: Setting,
    cast: str,
    viewing_filter: float,
    stops_too_dark: float = 0.0,
    *,
    rule: TimeRule = TimeRule.DIALS,
) -> Setting:
    """Next setting after a judgement, by the printed rules.

    Half of the viewing filter goes into the pack, the neutral comes out, the time follows the pack by ``rule``, then
    the print's darkness by stops of time. Burns and dodges keep their share of the time.

    Parameters
    ----------
    setting : Setting
        Of the print judged.
    cast : str
        What the print has too much of: red, green, blue, cyan, magenta, yellow, or none.
    viewing_filter : float
        Strength of the filter, held at the eye, that makes it look right [CC].
    stops_too_dark : float
        Above 0: the print had too much exposure [stop].
    rule : TimeRule

    Returns
    -------
    Setting
        Not rounded to dial or timer steps.

    Raises
    ------
    ValueOutOfRange
        If the cast is unknown, or a number cannot be.

    References
    ----------
    navedtra14209, e142
    """
    if cast not in CAST_MOVES:
        raise ValueOutOfRange(f'"{cast}" is not a cast; use one of {", ".join(CAST_MOVES)}.')
    if not (math.isfinite(viewing_filter) and viewing_filter >= 0):
        raise ValueOutOfRange(f"The viewing filter is {Figure(viewing_filter):g} CC; give 0 or more.")
    if not (math.isfinite(stops_too_dark) and abs(stops_too_dark) <= 10):
        raise ValueOutOfRange(f"{Figure(stops_too_dark):g} stops too dark cannot be; give between -10 and 10.")
    cyan, magenta, yellow = (VIEWING_FILTER_SHARE * viewing_filter * share for share in CAST_MOVES[cast])
    pack, _ = setting.pack.moved(cyan=cyan, magenta=magenta, yellow=yellow)
    factor = pack_time_factor(setting.pack, pack, rule) * 2.0**-stops_too_dark
    burns = tuple(replace(burn, time=burn.time * factor) for burn in setting.burns)
    return replace(setting, pack=pack, time=setting.time * factor, burns=burns)
