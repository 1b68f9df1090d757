"""Print or test: what the next drum cycle should hold, by expected cost."""

import math
from dataclasses import dataclass, replace

import numpy as np
import scipy.special

from printlore.core.advice.dialling import Dialled
from printlore.core.advice.tolerance import Tolerance, outlook
from printlore.core.figure import Figure
from printlore.core.light.setting import LONGEST_TIME, Setting
from printlore.core.memory.columns import Floats
from printlore.core.memory.evidence import HeadFacts
from printlore.core.memory.model import inverse, seen_by_eye, spread_covariance
from printlore.core.memory.priors import Priors
from printlore.core.memory.solve import Memory
from printlore.core.paper.dyes import DyeModel
from printlore.core.paper.layers import LayerCurves
from printlore.errors import ValueOutOfRange

READING_SD = 0.006
"""[density] error of a reading of the next patch (from memory)."""
_NEWEST = 100
"""Pieces among which the latest strip, or sheet, is looked for."""
_LATER = 6
"""Sheets that are looked ahead to: from the last on the chance stays."""
_PLACES, _WEIGHTS = math.sqrt(3) * np.array([-1.0, 0.0, 1.0]), np.array([1, 4, 1]) / 6
"""Of three points that stand for a normal distribution (Gauss and Hermite's rule)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Costs:
    """What things cost this printer, in any one unit; minutes count as money.

    Attributes
    ----------
    minute, sheet, strip, millilitre : float
    cycle_minutes : float
        One drum cycle with its drying and judging [min] (12 to 15 from memory).
    millilitres : float
        Solution used up by a cycle [mL].
    """

    minute: float = 0.5
    sheet: float = 1.0
    strip: float = 0.1
    millilitre: float = 0.0
    cycle_minutes: float = 13.0
    millilitres: float = 0.0

    def __post_init__(self) -> None:
        for name in ("minute", "sheet", "strip", "millilitre", "cycle_minutes", "millilitres"):
            value = getattr(self, name)
            if not 0 <= value < math.inf:
                raise ValueOutOfRange(f"Cost: {name} is {Figure(value):g}; it must be 0 or more.")

    @property
    def cycle(self) -> float:
        """One drum cycle without its paper."""
        return self.minute * self.cycle_minutes + self.millilitre * self.millilitres


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """Print a sheet now, or a strip first.

    Attributes
    ----------
    next : str
        "print" or "strip".
    print_cost, strip_cost : float
        Expected cost until a good print, if the next cycle holds a sheet, or a strip.
    good_after : float
        Probability that a sheet is good once the strip has been read or judged.
    """

    next: str
    print_cost: float
    strip_cost: float
    good_after: float


def by_eye(memory: Memory, *, strip: bool) -> Floats | None:
    """(3, 3) what an eye says of an error of density, by that error, if the latest strip, or sheet, was judged.

    None if it was read. A studio that has made none lately is taken to do with it as with its latest piece.
    """
    columns, trials = memory.columns, memory.evidence.trials
    last = int(columns.trial.max(initial=-1))
    alike = (number for number in range(last, max(last - _NEWEST, -1), -1) if trials[number].strip == strip)
    latest = columns.trial == next((number for number in alike if (columns.trial == number).any()), last)
    judged = np.flatnonzero(latest & (columns.person >= 0))
    if not len(judged) or bool((latest & (columns.person < 0)).any()):
        return None
    result: Floats = seen_by_eye(memory.layout, columns, memory.state.general, judged[-1:])[0]
    return result


def after_one_more(
    dialled: Dialled,
    patches: int,
    aim: Floats,
    dyes: DyeModel,
    curves: LayerCurves,
    tolerance: Tolerance,
    memory: Memory,
) -> Floats:
    """(n, 2) probability of a good sheet after a sheet at this setting, or a strip, and then 0, 1, 2 ... sheets more.

    What is known of the light is common to the layers for the most part. A sheet far from right lies on toe or
    shoulder, where density says little, and an eye errs more where there is more to see; of a strip one patch lies
    near. Both are taken at three places where they may come out. Later sheets will be foretold as far off as this one:
    the steps of head and timer leave as much, however much is known by then.

    Parameters
    ----------
    patches : of the strip
    """
    priors = memory.learned
    knowledge, scatter = dialled.forecast.knowledge[0], dialled.forecast.scatter[0]
    slope, here = dialled.forecast.by_layer[0], dialled.forecast.log_exposure[0]
    back = inverse(slope)
    known, alike = back @ knowledge @ back.T, back @ scatter @ back.T
    common = math.sqrt(float(known.sum()) / 9)
    colour = max(float(np.trace(known)) / 3 - common**2, 0.0)
    off = np.concatenate([common * _PLACES, common / patches * _PLACES])
    density = curves.density_at(here + off[:, None])
    slopes = curves.log_exposure_at(density)[1]
    errs = alike + np.array([priors.curve_error**2 * min(o**2 + colour, 0.09) for o in off])[:, None, None] * np.eye(3)
    seen = slopes @ errs @ np.swapaxes(slopes, 1, 2)
    for pieces, strip in ((slice(0, 3), False), (slice(3, 6), True)):
        eye = by_eye(memory, strip=strip)
        if eye is None:
            seen[pieces] += READING_SD**2 * np.eye(3)
            continue
        dark = (density[pieces] - curves.density_at(here)).mean(axis=1)
        shown = dark[:, None, None] ** 2 + colour * float(np.trace(slope @ slope.T)) / 3 * np.eye(3)
        scale = inverse(eye)
        seen[pieces] += scale @ spread_covariance(priors.eye) @ scale + priors.eye_share**2 * shown
    told = np.swapaxes(slopes, 1, 2) @ inverse(seen) @ slopes
    # later sheets come out near
    later = np.arange(_LATER)[:, None, None, None] * told[1]
    left = inverse(inverse(known) + told + later)
    after = (slope @ left @ slope.T + scatter).reshape(-1, 3, 3)
    foretold = np.tile(dialled.forecast.density[0], (len(after), 1))
    good = outlook(foretold, after, aim, dyes, curves, tolerance).good.reshape(_LATER, 2, 3)
    return good @ _WEIGHTS


def decide(good: float, after: Floats, costs: Costs) -> Decision:
    """The cheaper next cycle: each failure costs a sheet and a cycle more.

    Parameters
    ----------
    after : (n, 2) as of ``after_one_more``
    """
    price = costs.cycle + costs.sheet
    failed = np.cumprod(1 - after[:-1], axis=0)
    to_come = price * (1 + failed[:-1].sum(axis=0) + failed[-1] / np.maximum(after[-1], 0.02))
    print_cost = price + (1 - good) * float(to_come[0])
    strip_cost = costs.cycle + costs.strip + float(to_come[1])
    return Decision(
        next="print" if print_cost <= strip_cost else "strip",
        print_cost=print_cost,
        strip_cost=strip_cost,
        good_after=float(after[0, 1]),
    )


def strip_settings(head: HeadFacts, dialled: Dialled, priors: Priors, patches: int = 5) -> tuple[Setting, ...]:
    """Exposures of a strip that tells most: times spread over where the right one may lie.

    All patches share the run's noise, so a second patch near the right time buys nothing; spread patches
    make sure that one lands where the paper responds. Quantile steps of the uncertainty common to the layers,
    at least a tenth apart in log exposure; fewer patches when it is small.
    """
    slope = dialled.forecast.by_layer[0]
    log_covariance = np.linalg.solve(slope, np.linalg.solve(slope, dialled.forecast.knowledge[0]).T)
    common = math.sqrt(max(float(np.ones(3) @ log_covariance @ np.ones(3)) / 9, 0.0))
    known = math.sqrt(float(np.trace(spread_covariance(priors.run))) / 3)
    if common < 2 * known:
        return (dialled.setting,)
    count = max(2, min(patches, 1 + round(2.6 * common / 0.1)))
    quantiles = (np.arange(count) + 0.5) / count
    offsets = common * scipy.special.ndtri(quantiles)
    times = []
    for offset in offsets:
        seconds = round(dialled.exact.time * 10.0 ** float(offset) / head.timer_step) * head.timer_step
        times.append(round(min(max(seconds, head.timer_step), LONGEST_TIME), 6))
    return tuple(replace(dialled.setting, time=time) for time in dict.fromkeys(times))
