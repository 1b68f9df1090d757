"""Advice: the next setting, how it will come out, print or strip, and why."""

import math
from collections.abc import Sequence, Set
from dataclasses import dataclass

import numpy as np

from printlore.core.advice.cast import Cast, cast_of
from printlore.core.advice.decision import Costs, Decision, after_one_more, decide, strip_settings
from printlore.core.advice.dialling import Dialled, dial
from printlore.core.advice.tolerance import Tolerance, passing
from printlore.core.estimate import Estimate
from printlore.core.flags import Flag
from printlore.core.light.setting import Setting
from printlore.core.memory.explain import Part, difference
from printlore.core.memory.forecast import Conditions, forecast, learned_curves, look_up
from printlore.core.memory.slips import Suspect, suspects
from printlore.core.memory.solve import Memory
from printlore.core.paper.dyes import DyeModel
from printlore.core.paper.facts import Vector, vector

_FAR_OFF = 0.201
"""[dial units / 100] Beyond all that was ever dialled by more, a pack is said to be guessed."""
_ENOUGH_RUNS = 8.0
"""As many drum loads wholly seen (the mean of colour and light) tell how well prints repeat to about a quarter: as well
as a printer who was asked."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """What to do next with a frame, and why.

    Attributes
    ----------
    setting : Setting
        On the steps of head and timer.
    aim_density : (3,) [1]
    predicted_density : three Estimates (red, green, blue) [1]
    delta_e : Estimate
        CIEDE2000 of the reference patch from its aim.
    probability_good : float
        That a sheet at this setting is within the tolerance.
    tolerance : Tolerance
    next : str
        "print", or "strip" if a strip first is expected to be cheaper.
    decision : Decision
        The expected costs behind it.
    strip_settings : tuple of Setting
        Exposures for a strip, whether advised or not.
    compared_with : str
        Name of the earlier trial that ``reasons`` start from, or "" for the head's usual start.
    old_setting : Setting
    reasons : tuple of Part
        What changed since, and what was dialled for it; adds up exactly.
    old_miss, new_miss : (3,) log exposure from the aim, before and after [log10]
    spread : (3, 3) covariance of a print's log exposure [log10^2]
    suspects : tuple of Suspect
        Trials of this frame that were probably not made as logged, and the likeliest slip: ask, do not mend.
    flags : tuple of Flag
    """

    setting: Setting
    aim_density: Vector
    predicted_density: tuple[Estimate, Estimate, Estimate]
    delta_e: Estimate
    probability_good: float
    tolerance: Tolerance
    next: str
    decision: Decision
    strip_settings: tuple[Setting, ...]
    compared_with: str
    old_setting: Setting
    reasons: tuple[Part, ...]
    old_miss: Vector
    new_miss: Vector
    spread: tuple[Vector, Vector, Vector]
    suspects: tuple[Suspect, ...]
    flags: tuple[Flag, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """A past patch of the frame against the aim.

    Attributes
    ----------
    trial : str
    patch : int
        Its place in the trial, from 0.
    setting : Setting
    cast : Cast
    density : (3,) [1]
    """

    trial: str
    patch: int
    setting: Setting
    cast: Cast
    density: Vector


def advise(
    memory: Memory,
    conditions: Conditions,
    *,
    dyes: DyeModel,
    tolerance: Tolerance,
    costs: Costs | None = None,
    magnification: float,
    f_number: float | None = None,
    compare_with: str | None = None,
) -> Advice:
    """Best next setting for a frame under these conditions.

    Parameters
    ----------
    compare_with : str, optional
        Trial from which the reasons start, at its kept patch or the one nearest the aim; by default the frame's
        latest that does not look like a slip, else the head's usual start.

    Raises
    ------
    UnknownRecord
        If a name is not in the memory.
    """
    standpoint = look_up(memory, conditions)
    evidence = memory.evidence
    paper = evidence.lots[conditions.lot]
    aim = np.array(evidence.aim_density(conditions.frame, paper))
    dialled = dial(standpoint, aim=aim, dyes=dyes, tolerance=tolerance, magnification=magnification, f_number=f_number)
    curves = learned_curves(standpoint)
    good = float(dialled.outlook.good[0])
    head = evidence.heads[conditions.head]
    strip = strip_settings(head, dialled, memory.learned)
    after = after_one_more(dialled, len(strip), aim, dyes, curves, tolerance, memory)
    decision = decide(good, after, costs or Costs())
    doubted = suspects(memory, (conditions.frame,))
    slips = {suspect.trial for suspect in doubted}
    compared, old_conditions, old_setting = _earlier(memory, conditions, compare_with, slips)
    reasons = difference(memory, (old_conditions, old_setting), (conditions, dialled.setting))
    wanted = curves.log_exposure_at(aim)[0]
    old_h = forecast(look_up(memory, old_conditions), [old_setting]).log_exposure[0]
    slope = dialled.forecast.by_layer[0]
    covariance = dialled.forecast.covariance[0]
    spread = np.linalg.solve(slope, np.linalg.solve(slope, covariance).T)
    flags = _flags(memory, conditions, dialled) + ((Flag.OUTLIER,) if doubted else ())
    density = dialled.forecast.density[0]
    error = np.sqrt(np.diag(covariance))
    estimates = tuple(
        Estimate(value=float(d), standard_error=float(e), flags=flags) for d, e in zip(density, error, strict=True)
    )
    return Advice(
        setting=dialled.setting,
        aim_density=vector(aim),
        predicted_density=(estimates[0], estimates[1], estimates[2]),
        delta_e=Estimate(
            value=float(dialled.outlook.delta_e[0]),
            standard_error=float(dialled.outlook.delta_e_sd[0]),
            flags=flags,
        ),
        probability_good=good,
        tolerance=tolerance,
        next=decision.next,
        decision=decision,
        strip_settings=strip,
        compared_with=compared,
        old_setting=old_setting,
        reasons=reasons,
        old_miss=vector(old_h - wanted),
        new_miss=vector(dialled.forecast.log_exposure[0] - wanted),
        spread=(vector(spread[0]), vector(spread[1]), vector(spread[2])),
        suspects=doubted,
        flags=flags,
    )


def _earlier(
    memory: Memory, conditions: Conditions, name: str | None, slips: Set[str]
) -> tuple[str, Conditions, Setting]:
    """The trial to compare with, and what it was made with; of the frame's own, one that was made as logged."""
    if name is None:
        mine = [trial for trial in memory.trials_of(conditions.frame) if trial.name not in slips]
        # of one moment, such as a day of old notes, the one logged last
        chosen = max(reversed(mine), key=lambda trial: trial.date, default=None)
    else:
        chosen = next((trial for trial in memory.evidence.trials if trial.name == name), None)
    if chosen is None:
        return "", conditions, memory.evidence.heads[conditions.head].usual
    aim = memory.evidence.aim_density(chosen.frame, memory.evidence.lots[chosen.lot])
    patch = next((p for p in chosen.patches if p.kept), None) or min(
        chosen.patches, key=lambda p: math.inf if p.density is None else math.dist(p.density, aim)
    )
    made_under = Conditions(
        frame=chosen.frame,
        head=chosen.head,
        lot=chosen.lot,
        bath=chosen.bath,
        date=chosen.date,
        bath_state=chosen.bath_state,
    )
    return chosen.name, made_under, patch.setting


def _flags(memory: Memory, conditions: Conditions, dialled: Dialled) -> tuple[Flag, ...]:
    flags = []
    if not memory.evidence.trials:
        flags.append(Flag.PRIOR_ONLY)
    if memory.evidence.alike is None and memory.runs_seen.mean() < _ENOUGH_RUNS:
        flags.append(Flag.USUAL_REPEATS)
    if memory.evidence.frames[conditions.frame].misread:
        flags.append(Flag.MISREAD)
    if not dialled.comfortable:
        flags.append(Flag.OUTSIDE_COMFORT)
    head = memory.evidence.heads[conditions.head]
    if max(dialled.exact.pack.as_tuple()) > head.dial_max + head.dial_step / 2:
        flags.append(Flag.DIALS_END)
    columns, heads = memory.columns, memory.columns.names.heads
    mine = columns.head == heads.index(conditions.head) if conditions.head in heads else np.zeros(columns.rows, bool)
    if mine.any():
        made = columns.dial if mine.all() else columns.dial[mine]
        usual = head.usual.pack.as_tuple()
        dial = (np.array(dialled.setting.pack.as_tuple()) - usual) / 100
        if (dial < made.min(axis=0) - _FAR_OFF).any() or (dial > made.max(axis=0) + _FAR_OFF).any():
            flags.append(Flag.EXTRAPOLATED)
    return tuple(flags)


def history(memory: Memory, conditions: Conditions) -> tuple[Seen, ...]:
    """Every read patch of the frame against its aim, in the order made: the points of the cast map."""
    standpoint = look_up(memory, conditions)
    curves = learned_curves(standpoint)
    paper = memory.evidence.lots[conditions.lot]
    aim = np.array(memory.evidence.aim_density(conditions.frame, paper))
    wanted = curves.log_exposure_at(aim)[0]
    seen = []
    for trial in memory.trials_of(conditions.frame):
        if memory.evidence.lots[trial.lot] != paper:
            continue
        for place, patch in enumerate(trial.patches):
            if patch.density is None:
                continue
            h = curves.log_exposure_at(np.array(patch.density))[0]
            seen.append(
                Seen(
                    trial=trial.name,
                    patch=place,
                    setting=patch.setting,
                    cast=cast_of(vector(h - wanted), vector(np.array(patch.density) - aim)),
                    density=patch.density,
                )
            )
    return tuple(seen)


def tolerance_outline(
    memory: Memory,
    conditions: Conditions,
    *,
    dyes: DyeModel,
    tolerance: Tolerance,
) -> Sequence[tuple[float, float]]:
    """Edge of the errors (yellow, magenta) [CC] with which a print still passes, its lightness being right."""
    standpoint = look_up(memory, conditions)
    curves = learned_curves(standpoint)
    paper = memory.evidence.lots[conditions.lot]
    aim = np.array(memory.evidence.aim_density(conditions.frame, paper))
    wanted = curves.log_exposure_at(aim)[0]
    radii = np.linspace(0.25, 12.0, 48)
    turns = np.linspace(0, 2 * np.pi, 48, endpoint=False)
    across, up = np.cos(turns), np.sin(turns)
    # mean layer held: a move of magenta and yellow with the time mended
    mean = (across + up) / 3
    error = np.stack([-mean, up - mean, across - mean], axis=-1)
    density = curves.density_at((wanted + radii[None, :, None] / 100 * error[:, None, :]).reshape(-1, 3))
    good = passing(density, aim, dyes, curves, tolerance).reshape(len(turns), len(radii))
    edge = []
    for turn in range(len(turns)):
        fails = np.flatnonzero(~good[turn])
        last = radii[-1] if not len(fails) else radii[fails[0] - 1] if fails[0] else 0.0
        edge.append((float(last * across[turn]), float(last * up[turn])))
    return edge
