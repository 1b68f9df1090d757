"""The aim of a control patch, an inner look limit and an outer stop limit, and what a series of readings says."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from printlore.core.control.rules import FOUR_WELL_BEYOND, rule_hits
from printlore.core.figure import Figure
from printlore.core.plain import says_what_fits
from printlore.errors import ValueOutOfRange

Array = NDArray[np.float64]

QUANTITIES = ("white", "light step", "contrast", "black")
CHANNELS = ("red", "green", "blue")
GOOD_READINGS = 5
"""How many first good readings make the aim."""

USUAL_SIGMA = {"white": 0.007, "light step": 0.024, "contrast": 0.018, "black": 0.014}
"""[density] Spread of control patches with nothing wrong; from memory, gives way to the studio's own readings."""
_USUAL_WEIGHT = 8.0
"""How many readings the usual spread counts for (from memory)."""


@says_what_fits
@dataclass(frozen=True, slots=True, kw_only=True)
class Wedge:
    """Densities read from one control patch: four steps, three channels.

    Attributes
    ----------
    white, light, dark, black : (3,) floats
        Red, green, blue density of the unexposed, light, dark and black steps [1].
    """

    white: tuple[float, float, float]
    light: tuple[float, float, float]
    dark: tuple[float, float, float]
    black: tuple[float, float, float]

    def __post_init__(self) -> None:
        for name in ("white", "light", "dark", "black"):
            for channel, value in zip(CHANNELS, getattr(self, name), strict=True):
                if not (math.isfinite(value) and -0.1 <= value <= 4):
                    raise ValueOutOfRange(
                        f"Control patch, {name} step, {channel}: {Figure(value):g} is no density of a print; read it "
                        "again."
                    )
        means = [sum(step) for step in (self.white, self.light, self.dark, self.black)]
        if means != sorted(means):
            raise ValueOutOfRange(
                "The steps of the control patch do not grow darker from white to black; check their order."
            )

    def quantities(self) -> Array:
        """(4, 3): white, light step, contrast (dark less light), black; red, green, blue."""
        white, light, dark, black = (np.array(step) for step in (self.white, self.light, self.dark, self.black))
        return np.stack([white, light, dark - light, black])


@dataclass(frozen=True, slots=True, kw_only=True)
class Aim:
    """What a control patch should read.

    Attributes
    ----------
    values : (4, 3) array
        In the order of ``QUANTITIES`` and ``CHANNELS`` [density].
    sigma : (4,) array
        Spread of one reading with nothing wrong [density].
    readings : int
        How many good ones it rests on.
    """

    values: Array
    sigma: Array
    readings: int


def aim_from(first_good: Sequence[Wedge]) -> Aim:
    """Aim from the first good control patches.

    The spread starts at the usual one and gives way to the studio's own.

    Raises
    ------
    ValueOutOfRange
        If there is no reading.
    """
    if not first_good:
        raise ValueOutOfRange("An aim needs control patches that are known to be good; read at least one, better five.")
    stack = np.array([wedge.quantities() for wedge in first_good])
    usual = np.array([USUAL_SIGMA[name] for name in QUANTITIES])
    within = ((stack - stack.mean(axis=0)) ** 2).sum(axis=0).mean(axis=1)
    free = len(first_good) - 1
    sigma = np.sqrt((_USUAL_WEIGHT * usual**2 + within) / (_USUAL_WEIGHT + free))
    return Aim(values=stack.mean(axis=0), sigma=sigma, readings=len(first_good))


def _our_source() -> str:
    return (
        f"ours: {Figure(LOOK_WIDTH):g} and {Figure(STOP_WIDTH):g} times the spread of the studio's own readings; "
        f"white at least the published {Figure(PUBLISHED_WHITE):g}"
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """How far a quantity may depart from the aim before one looks, and before one stops [density].

    Attributes
    ----------
    look, stop : dict of quantity to density
    upper_only : tuple of str
        Quantities of which only a rise counts.
    source : str
        "ours" or where typed in from.
    """

    look: dict[str, float]
    stop: dict[str, float]
    upper_only: tuple[str, ...] = ("white",)
    source: str = field(default_factory=_our_source)

    def __post_init__(self) -> None:
        for name in QUANTITIES:
            look, stop = self.look.get(name, math.nan), self.stop.get(name, math.nan)
            if not (0 < look <= stop < math.inf):
                raise ValueOutOfRange(
                    f"Limits for {name}: look {Figure(look):g}, stop {Figure(stop):g}. Both must be above 0 and look "
                    "not beyond stop."
                )


PUBLISHED_WHITE = 0.02
"""[density] Control limit for the whites of the open paper process, upward only (process-monitoring)."""


LOOK_WIDTH, STOP_WIDTH = 2.5, 3.5
"""[1] Twelve lines are judged at once; with these a good process asks for a look about once in a dozen patches."""
DRIFT_WEIGHT, DRIFT_WIDTH = 0.25, 3.0
"""Weight of the newest reading in the moving average that tells a drift, and its limit in standard deviations."""


def limits_of(aim: Aim) -> Limits:
    """Our limits: 2.5 and 3.5 times the spread of one reading about an aim that is itself read.

    For whites the stop limit is at least the published 0.02.
    """
    wide = aim.sigma * math.sqrt(1 + 1 / aim.readings)
    look = {name: LOOK_WIDTH * float(s) for name, s in zip(QUANTITIES, wide, strict=True)}
    stop = {name: STOP_WIDTH * float(s) for name, s in zip(QUANTITIES, wide, strict=True)}
    stop["white"] = max(stop["white"], PUBLISHED_WHITE)
    return Limits(look=look, stop=stop)


def drift(line: Array, sigma: float, readings: int, *, upper_only: bool = False) -> bool:
    """Whether the weighted average of departures has left its limits, or the upper one only.

    The aim's own error is allowed for.
    """
    level = 0.0
    for value in line:
        level = DRIFT_WEIGHT * float(value) + (1 - DRIFT_WEIGHT) * level
    settled = sigma**2 * (DRIFT_WEIGHT / (2 - DRIFT_WEIGHT) + 1 / readings)
    return (level if upper_only else abs(level)) > DRIFT_WIDTH * math.sqrt(settled)


class Verdict(StrEnum):
    """What a series of control patches says."""

    GOOD = "good"
    LOOK = "look"
    STOP = "stop"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One quantity in one channel that is not as it should be."""

    quantity: str
    channel: str
    departure: float
    verdict: Verdict
    why: str

    def __str__(self) -> str:
        side = "above" if self.departure > 0 else "below"
        return f"{self.quantity}, {self.channel}: {Figure(abs(self.departure)):.3f} {side} the aim; {self.why}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """Verdict on the newest of a series, and what it rests on."""

    verdict: Verdict
    findings: tuple[Finding, ...]
    advice: str


_ADVICE = {
    Verdict.GOOD: "The process is where it was: if a print is off, look at the light, the paper and the negative.",
    Verdict.LOOK: "Early warning: work may go on while the cause is looked for. Do not filter it away.",
    Verdict.STOP: "Read a second control patch. If it says the same, stop and find the cause; do not filter it away.",
}


def judge(series: Sequence[Wedge], aim: Aim, limits: Limits) -> Judged:
    """Judge the newest of a series of control patches, oldest first.

    Beyond the stop limit: stop. Beyond the look limit, four of the last five well beyond on one side, or
    the weighted average beyond its limits: look.

    Raises
    ------
    ValueOutOfRange
        If there is no reading.
    """
    if not series:
        raise ValueOutOfRange("No control patch has been read; read one before the process is judged.")
    values = np.array([wedge.quantities() for wedge in series]) - aim.values
    findings = []
    for q, quantity in enumerate(QUANTITIES):
        sigma = float(aim.sigma[q])
        wide = sigma * math.sqrt(1 + 1 / aim.readings)
        for c, channel in enumerate(CHANNELS):
            line = values[:, q, c]
            newest = float(line[-1])
            upper_only = quantity in limits.upper_only
            size = newest if upper_only else abs(newest)
            if size > limits.stop[quantity]:
                verdict, why = Verdict.STOP, f"beyond the stop limit of {Figure(limits.stop[quantity]):.3f}"
            elif size > limits.look[quantity]:
                verdict, why = Verdict.LOOK, f"beyond the look limit of {Figure(limits.look[quantity]):.3f}"
            elif upper_only and newest <= 0:
                continue
            elif rule_hits(line / wide, FOUR_WELL_BEYOND)[-1]:
                beyond = f"beyond {Figure(1.5):g} sigma on one side"
                verdict, why = Verdict.LOOK, f"four of the last five {beyond}: the level has moved"
            elif drift(line, sigma, aim.readings, upper_only=upper_only):
                verdict, why = Verdict.LOOK, "the weighted average has left its limits: a slow drift"
            else:
                continue
            findings.append(Finding(quantity=quantity, channel=channel, departure=newest, verdict=verdict, why=why))
    if any(finding.verdict is Verdict.STOP for finding in findings):
        verdict = Verdict.STOP
    else:
        verdict = Verdict.LOOK if findings else Verdict.GOOD
    return Judged(verdict=verdict, findings=tuple(findings), advice=_ADVICE[verdict])
