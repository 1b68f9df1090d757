"""From an aim to dials: the setting whose expected colour difference is smallest."""

import itertools
import math
from dataclasses import dataclass, replace

import numpy as np

from printlore.core.advice.tolerance import Outlook, Tolerance, outlook
from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import LONGEST_TIME, Setting
from printlore.core.memory.columns import Floats
from printlore.core.memory.evidence import HeadFacts
from printlore.core.memory.forecast import Forecast, Standpoint, forecast, learned_curves
from printlore.core.paper.dyes import DyeModel

_ROUNDS = 25
_DIALS = ("cyan", "magenta", "yellow")
_END = np.array([400.0, 400.0, 400.0, math.log10(LONGEST_TIME)])
"""[dial units, log10 s] Furthest that dials and time are looked for."""
_NUDGE = np.array([2.0, 2.0, 2.0, 0.02])
"""[dial units, log10 s] Over which the answer of dials and time is taken."""


@dataclass(frozen=True, slots=True)
class Dialled:
    """A setting on the head's own steps, and how it would come out.

    Attributes
    ----------
    exact : Setting
        Before rounding.
    comfortable : bool
        The time is within the printer's range.
    """

    setting: Setting
    exact: Setting
    forecast: Forecast
    outlook: Outlook
    comfortable: bool


def exact_setting(standpoint: Standpoint, start: Setting, wanted: Floats) -> Setting:
    """Setting whose predicted log exposure is ``wanted`` (3,), with at least one dial at zero.

    The dials may come out beyond the end of the head's scale; the caller looks.
    """
    at = np.array([*start.pack.without_neutral().as_tuple(), math.log10(start.time)])
    zero = int(np.argmin(at[:3]))
    for _ in range(_ROUNDS):
        free = [dial for dial in range(3) if dial != zero]
        # from the end of a scale the only way is back
        nudge = np.where(at + _NUDGE > _END, -_NUDGE, _NUDGE)
        points = [at]
        for place in (*free, 3):
            step = at.copy()
            step[place] += nudge[place]
            points.append(step)
        h = forecast_log_exposure(standpoint, [_setting(start, p) for p in points])
        slope = ((h[1:] - h[0]) / nudge[[*free, 3]][:, None]).T
        move = np.linalg.solve(slope, wanted - h[0])
        move[:2] = np.clip(move[:2], -60, 60)
        move[2] = np.clip(move[2], -0.7, 0.7)
        at[free] += move[:2]
        at[3] = max(at[3] + move[2], -2.0)
        at = np.minimum(at, _END)
        low = int(np.argmin(at[:3]))
        if at[low] < -1e-9:
            at[:3] = np.minimum(at[:3] - at[low], _END[:3])
            at[low] = 0.0
            zero = low
            continue
        if np.max(np.abs(wanted - h[0])) < 1e-7:
            break
    at[:3] = np.clip(at[:3], 0.0, _END[:3])
    return _setting(start, at)


def _setting(start: Setting, at: Floats) -> Setting:
    pack = np.clip(at[:3], 0.0, _END[:3])
    return replace(
        start,
        pack=FilterPack(cyan=float(pack[0]), magenta=float(pack[1]), yellow=float(pack[2])),
        time=float(min(max(10.0 ** at[3], 1e-3), LONGEST_TIME)),
    )


def forecast_log_exposure(standpoint: Standpoint, settings: list[Setting]) -> Floats:
    """(n, 3) predicted log exposure above the aim."""
    return forecast(standpoint, settings).log_exposure


def dial(
    standpoint: Standpoint,
    *,
    aim: Floats,
    dyes: DyeModel,
    tolerance: Tolerance,
    magnification: float,
    f_number: float | None = None,
) -> Dialled:
    """Best setting on the head's own steps.

    Parameters
    ----------
    aim : (3,) density that the reference patch should have
    f_number : float, optional
        Insist on this one; otherwise the usual one, unless the time would be uncomfortable.
    """
    head = standpoint.memory.evidence.heads[standpoint.conditions.head]
    curves = learned_curves(standpoint)
    wanted = curves.log_exposure_at(aim)[0]
    start = replace(head.usual, magnification=magnification, f_number=f_number or head.usual.f_number, burns=())
    exact = exact_setting(standpoint, start, wanted)
    if f_number is None and not head.shortest <= exact.time <= head.longest:
        better = _comfortable_stop(head, exact)
        if better != exact.f_number:
            longer = exact.time * (better / exact.f_number) ** 2
            start = replace(exact, f_number=better, time=min(longer, LONGEST_TIME))
            exact = exact_setting(standpoint, start, wanted)
    candidates = _on_the_steps(head, exact, standpoint, wanted)
    seen = forecast(standpoint, candidates)
    looks = outlook(seen.density, seen.covariance, aim, dyes, curves, tolerance)
    best = int(np.argmin(looks.delta_e))
    chosen = slice(best, best + 1)
    return Dialled(
        setting=candidates[best],
        exact=exact,
        forecast=seen.only(best),
        outlook=Outlook(looks.delta_e[chosen], looks.delta_e_sd[chosen], looks.good[chosen]),
        comfortable=head.shortest <= candidates[best].time <= head.longest,
    )


def _comfortable_stop(head: HeadFacts, exact: Setting) -> float:
    """Marked stop that brings the time nearest to the usual one within the comfortable range."""

    def discomfort(f_number: float) -> tuple[float, float]:
        time = exact.time * (f_number / exact.f_number) ** 2
        outside = max(math.log(head.shortest / time), math.log(time / head.longest), 0.0)
        return outside, abs(math.log(f_number / exact.f_number))

    return min(head.f_numbers, key=discomfort)


def _on_the_steps(head: HeadFacts, exact: Setting, standpoint: Standpoint, wanted: Floats) -> list[Setting]:
    """Settings on the steps of head and timer around the exact one."""
    choices = []
    for name in _DIALS:
        value = min(getattr(exact.pack, name), head.dial_max)
        low = math.floor(value / head.dial_step + 1e-9) * head.dial_step
        high = min(low + head.dial_step, math.floor(head.dial_max / head.dial_step) * head.dial_step)
        choices.append((low,) if value < 1e-9 or high <= low else (low, high))
    packs = [FilterPack(cyan=c, magenta=m, yellow=y) for c, m, y in itertools.product(*choices)]
    at_exact_time = [replace(exact, pack=pack) for pack in packs]
    miss = wanted - forecast_log_exposure(standpoint, at_exact_time)
    settings = []
    for setting, error in zip(at_exact_time, miss, strict=True):
        time = exact.time * 10.0 ** float(error @ _LIGHTNESS_SHARE)
        low = max(math.floor(time / head.timer_step + 1e-9) * head.timer_step, head.timer_step)
        for seconds in (low, low + head.timer_step):
            settings.append(replace(setting, time=round(min(seconds, LONGEST_TIME), 6)))
    return settings


_LIGHTNESS_SHARE = np.array([0.30, 0.55, 0.15])
"""Which layer's error the time should mend first: about how much each dye darkens a mid-grey (from memory)."""
