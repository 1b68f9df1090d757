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
        Probability that a sheet is good once one more patch has been read.
    """

    next: str
    print_cost: float
    strip_cost: float
    good_after: float


def read_or_judged(memory: Memory, knowledge: Floats) -> Floats:
    """(3, 3) covariance of what the next patch will be known by [density^2]: as the latest was, read or judged by eye.

    Parameters
    ----------
    knowledge : (3, 3) covariance of what is known of its density now: an eye errs more where there is more to see
    """
    columns = memory.columns
    latest = columns.trial == columns.trial.max(initial=-1)
    judged = np.flatnonzero(latest & (columns.person >= 0))
    if not len(judged) or bool((latest & (columns.person < 0)).any()):
        return READING_SD**2 * np.eye(3)
    scale = inverse(seen_by_eye(memory.layout, columns, memory.state.general, judged[-1:])[0])
    errs = scale @ spread_covariance(memory.learned.eye) @ scale
    result: Floats = errs + memory.learned.eye_share**2 * float(np.trace(knowledge)) / 3 * np.eye(3)
    return result


def after_one_more(
    dialled: Dialled, aim: Floats, dyes: DyeModel, curves: LayerCurves, tolerance: Tolerance, memory: Memory
) -> float:
    """Probability of a good sheet after one more patch near this setting has been read, or judged."""
    priors = memory.learned
    knowledge, scatter = dialled.forecast.knowledge[0], dialled.forecast.scatter[0]
    slope = dialled.forecast.by_layer[0]
    reach = math.sqrt(float(np.trace(np.linalg.solve(slope, np.linalg.solve(slope, knowledge).T))) / 3)
    curve_error = (priors.curve_error * min(reach, 0.3)) ** 2 * slope @ slope.T
    seen = scatter + curve_error + read_or_judged(memory, knowledge)
    left = knowledge - knowledge @ np.linalg.solve(knowledge + seen, knowledge)
    later = outlook(aim[None, :], (left + scatter)[None], aim, dyes, curves, tolerance)
    return float(later.good[0])


def decide(good: float, good_after: float, costs: Costs) -> Decision:
    """The cheaper next cycle.

    After any cycle the chance of a good sheet is taken as ``good_after``, and each failure costs a sheet and
    a cycle more: what is left to pay is then the price of one sheet over that chance.
    """
    left = (costs.cycle + costs.sheet) / max(good_after, 0.02)
    print_cost = costs.cycle + costs.sheet + (1 - good) * left
    strip_cost = costs.cycle + costs.strip + left
    return Decision(
        next="print" if print_cost <= strip_cost else "strip",
        print_cost=print_cost,
        strip_cost=strip_cost,
        good_after=good_after,
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
