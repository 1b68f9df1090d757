"""Two habits of the trade, as baselines: measured strips with the handbook's arithmetic, and the eye in fixed steps."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from bench.rooms import MOST_CYCLES, STRIP_OF_SHEET, Desk, Tally, is_good
from printlore.core.light.filters import FilterPack
from printlore.core.light.handbook import CAST_MOVES
from printroom.room import Exposure, Outcome, Room

HALF_STOPS = (-1.0, -0.5, 0.0, 0.5, 1.0)
LOG10_PER_STOP = float(np.log10(2))
CC_STEPS = (5.0, 10.0, 20.0)
"""Steps of the by-eye rule [CC] (common practice, no source)."""
GRADIENT = 2.0
"""Density by log exposure where no strip tells: the printed "half of the viewing filter" (navedtra14209, ch. 12)."""
LONGEST = 240.0


def moved(exposure: Exposure, log_exposure: Sequence[float], timer_step: float) -> Exposure:
    """Setting that gives each layer so much more log exposure (3,), if 1 dial unit is 0.01 in its own layer only."""
    red, green, blue = (-100 * float(np.clip(value, -1.5, 1.5)) for value in log_exposure)
    pack, shift = FilterPack(cyan=exposure.cyan, magenta=exposure.magenta, yellow=exposure.yellow).moved(
        cyan=red, magenta=green, yellow=blue
    )
    time = float(np.clip(exposure.time * 10 ** (shift / 100), timer_step, LONGEST))
    dials = {name: min(value, 200.0) for name, value in pack.by_colour().items()}
    return replace(exposure, time=time, **dials)


def strip_of(exposure: Exposure, steps: Sequence[float] = HALF_STOPS) -> tuple[Exposure, ...]:
    """The exposure at times that differ by these stops."""
    return tuple(replace(exposure, time=exposure.time * 2**step) for step in steps)


def read_off(strip: Sequence[Outcome], aim: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Log time of each layer at which its density is the aim, off straight lines between the patches; and the slopes.

    Beyond the ends the middle of the paper's usual gradient is used, 2.5: the curve flattens there.
    """
    log_time = np.array([np.log10(o.logged.time) for o in strip])
    density = np.array([o.measured for o in strip])
    at, slope = np.empty(3), np.empty(3)
    for channel in range(3):
        values = np.maximum.accumulate(density[:, channel])
        place = int(np.clip(np.searchsorted(values, aim[channel]) - 1, 0, len(values) - 2))
        rise = (values[place + 1] - values[place]) / (log_time[place + 1] - log_time[place])
        inside = values[0] <= aim[channel] <= values[-1]
        slope[channel] = rise if inside and rise > 1.0 else 2.5
        nearest = int(np.argmin(np.abs(values - aim[channel])))
        start = place if inside else nearest
        at[channel] = log_time[start] + np.clip((aim[channel] - values[start]) / slope[channel], -0.5, 0.5)
    return at, slope


Reference = tuple[Exposure, np.ndarray | None]


def _first(room: Room, reference: Reference | None, reading: np.ndarray | None, timer_step: float) -> Exposure:
    """From the last good print; a reading of the negative moves pack and time one for one, as a meter's user does."""
    if reference is None:
        return room.usual
    setting, before = reference
    if reading is None or before is None:
        return setting
    return moved(setting, (reading - before).tolist(), timer_step)


def _handbook(desk: Desk, with_reading: bool, tolerance: str, negatives: int, with_strip: bool) -> list[Tally]:
    room = desk.room
    tick = room.kind.time_step
    latest: dict[str, Reference] = {}
    tallies = []
    for job in desk.jobs(negatives):
        reading = room.read_negative(job.frame) if with_reading else None
        reference = latest.get(job.film) or latest.get("any")
        setting = _first(room, reference, reading, tick)
        slope = np.full(3, GRADIENT)
        strips = sheets = 0
        good = False
        while strips + sheets < MOST_CYCLES and not good:
            run = f"{job.frame} run {strips + sheets}"
            if with_strip and strips == 0:
                outcomes = desk.expose_strip(job, strip_of(setting), run)
                at, slope = read_off(outcomes, room.aim_density)
                desk.used(job, STRIP_OF_SHEET)
                strips = 1
                setting = moved(setting, (at - np.log10(setting.time)).tolist(), tick)
                continue
            outcome = desk.expose(job, setting, run)
            desk.used(job, 1.0)
            sheets += 1
            good = is_good(room, outcome, tolerance)
            if good:
                latest[job.film] = latest["any"] = (outcome.logged, reading)
            else:
                setting = moved(setting, ((room.aim_density - outcome.measured) / slope).tolist(), tick)
        tallies.append(Tally(strips, sheets, good))
    return tallies


def handbook(desk: Desk, with_reading: bool, tolerance: str, negatives: int) -> list[Tally]:
    """A measured strip of five half-stops for each negative, then sheets; the arithmetic of packs and exposure ratios.

    Each layer's exposure is read off the strip where its density meets the aim, and the strip's own slope turns the
    densities of later sheets into CC. One dial unit is taken for 0.01 in its own layer.
    """
    return _handbook(desk, with_reading, tolerance, negatives, with_strip=True)


def handbook_without_strip(desk: Desk, with_reading: bool, tolerance: str, negatives: int) -> list[Tally]:
    """The same straight to sheets; half of the density difference goes into pack and time."""
    return _handbook(desk, with_reading, tolerance, negatives, with_strip=False)


def by_eye(desk: Desk, with_reading: bool, tolerance: str, negatives: int) -> list[Tally]:
    """A strip and sheets judged by eye; the pack moves by up to 20, then 10, then 5 CC, less once the cast turns over.

    The judged strip gives the time. Half of the viewing filter, to the nearest of the steps, goes into the pack, and
    the time keeps the green layer. Known good only when it is: the eye's own error of stopping is not counted.
    """
    del with_reading
    room = desk.room
    setting = room.usual
    tallies = []
    for job in desk.jobs(negatives):
        strips = sheets = 0
        good = False
        last: tuple[np.ndarray, float] | None = None
        while strips + sheets < MOST_CYCLES and not good:
            run = f"{job.frame} run {strips + sheets}"
            outcomes = desk.expose_strip(job, strip_of(setting) if strips == 0 else (setting,), run)
            seen = [(o, room.judge(o, "printer")) for o in outcomes]
            outcome, said = min(seen, key=lambda pair: abs(pair[1].stops_too_dark))
            if strips == 0:
                strips = 1
                desk.used(job, STRIP_OF_SHEET)
            else:
                sheets += 1
                desk.used(job, 1.0)
                good = is_good(room, outcome, tolerance)
            if good:
                setting = outcome.logged
                break
            move = np.array(CAST_MOVES[said.cast])
            step = min(CC_STEPS[: max(4 - strips - sheets, 1)], key=lambda size: abs(size - said.strength / 2))
            step = step if move.any() else 0.0
            if last is not None and move.any() and float(move @ last[0]) < 0:
                step = min(step, max(last[1] / 2, 1.0))
            if move.any():
                last = (move, step)
            change = -step / 100 * (move - move[1])
            setting = moved(outcome.logged, (change - said.stops_too_dark * LOG10_PER_STOP).tolist(), 0.1)
        tallies.append(Tally(strips, sheets, good))
    return tallies
