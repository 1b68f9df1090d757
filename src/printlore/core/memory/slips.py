"""Which trial was not made as logged, and what was most likely done instead.

Each doubted frame is looked at by itself. What its own trials say is taken out of the memory again; then
"all as logged", "this trial was made with that slip" and "this trial is off in some other way" are weighed
by how well each foretells the densities that were read.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import scipy.linalg

from printlore.core.advice.cast import cast_of
from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import LONGEST_TIME, Setting
from printlore.core.memory.columns import Floats
from printlore.core.memory.evidence import HeadFacts, Trial
from printlore.core.memory.forecast import Conditions, forecast, look_up
from printlore.core.memory.model import spread_covariance
from printlore.core.memory.solve import BLUNDER_SHARE, BLUNDER_SPREAD, Memory

DOUBTED = 0.9
"""Frames are looked at if a trial of theirs is trusted less than this."""
NAMED_SHARE = 0.5
"""Share of blunders that are one of the slips below (from memory)."""
_ANOTHER = 0.2
"""A second reading of what happened is told too if it is at least this likely beside the first."""
_LETTERS = (("cyan", "C"), ("magenta", "M"), ("yellow", "Y"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """A trial that disagrees with everything else.

    Attributes
    ----------
    trial : str
    patch : int
        Which exposure of the trial, from 0.
    words : str
        For example "reads as if 50 M had been dialled, not 05 M".
    as_if : Setting or None
        What was probably set; ``None`` if no usual slip explains it.
    likelihood_ratio : float
        How many times better this foretells the densities than what was logged [1].
    probability : float
        That the trial was not made as logged [1].
    """

    trial: str
    patch: int
    words: str
    as_if: Setting | None
    likelihood_ratio: float
    probability: float


def likely_slips(made: Setting, head: HeadFacts, before: Setting | None = None) -> tuple[tuple[str, Setting], ...]:
    """Usual slips of hand or pen: words and the setting that was then really made.

    Parameters
    ----------
    made : Setting
        As logged.
    before : Setting, optional
        What stood on the head before, and may have been left standing.
    """
    found: dict[Setting, str] = {}
    for words, setting in _slips(made, head, before):
        if setting != made:
            found.setdefault(setting, words)
    return tuple((words, setting) for setting, words in found.items())


def _slips(made: Setting, head: HeadFacts, before: Setting | None) -> Iterator[tuple[str, Setting]]:
    pack = made.pack
    for name, letter in _LETTERS:
        value = getattr(pack, name)
        choices = [*_misread(value), *([getattr(before.pack, name)] if before else [])]
        for other in choices:
            if 0 <= other <= head.dial_max and other != value:
                words = f"reads as if {_dial(other)} {letter} had been dialled, not {_dial(value)} {letter}"
                yield words, replace(made, pack=replace(pack, **{name: other}))
    c, m, y = pack.as_tuple()
    for words, swapped in (
        ("magenta and yellow", FilterPack(cyan=c, magenta=y, yellow=m)),
        ("cyan and magenta", FilterPack(cyan=m, magenta=c, yellow=y)),
        ("cyan and yellow", FilterPack(cyan=y, magenta=m, yellow=c)),
    ):
        yield f"reads as if {words} had been swapped: {swapped}, not {pack}", replace(made, pack=swapped)
    if before is not None and before.pack != pack:
        yield f"reads as if the filters had been left at {before.pack}", replace(made, pack=before.pack)
    for seconds, why in (
        (made.time * 2, " (given twice)"),
        (made.time / 2, " (half of it)"),
        *((other, "") for other in _misread(made.time)),
        *(((before.time, " (as the time before)"),) if before else ()),
    ):
        if head.timer_step <= seconds <= LONGEST_TIME:
            words = f"reads as if {seconds:.3g} s had been given, not {made.time:.3g} s{why}"
            yield words, replace(made, time=round(seconds, 6))
    for f_number in _stops_beside(made.f_number, head, before):
        yield f"reads as if the lens stood at f/{f_number:g}, not f/{made.f_number:g}", replace(made, f_number=f_number)


def _dial(value: float) -> str:
    return f"{value:02.0f}" if value == round(value) else f"{value:.1f}"


def _misread(value: float) -> tuple[float, ...]:
    """Numbers that a slip of the pen or of the dial makes of this one: digits swapped or lost, a nought too many."""
    whole = round(value)
    digits = f"{whole:02d}"
    others = {0.0, value * 10, value / 10}
    for place in range(len(digits) - 1):
        swapped = digits[:place] + digits[place + 1] + digits[place] + digits[place + 2 :]
        others.add(float(swapped) + (value - whole))
    if len(digits) > 1:
        others.update(float(digits[:place] + digits[place + 1 :]) for place in range(len(digits)))
    return tuple(sorted(round(other, 6) for other in others if other != value))


def _stops_beside(f_number: float, head: HeadFacts, before: Setting | None) -> tuple[float, ...]:
    """The marked stops on either side, and the one that stood before."""
    marked = sorted({*head.f_numbers, f_number})
    place = marked.index(f_number)
    beside = [marked[i] for i in (place - 1, place + 1) if 0 <= i < len(marked)]
    # the scale of the lens may go on where the printer's own range ends
    if place == 0:
        beside.append(round(f_number / math.sqrt(2), 1))
    if place == len(marked) - 1:
        beside.append(round(f_number * math.sqrt(2), 1))
    return tuple({*beside, *([before.f_number] if before else [])} - {f_number})


@dataclass(slots=True)
class _Row:
    """One read exposure of the frame."""

    trial: Trial
    cell: int
    patch: int
    conditions: Conditions
    density: Floats
    noise: Floats


@dataclass(frozen=True, slots=True)
class _Guess:
    """A row read otherwise: as if made at another setting, or (no setting) off by anything."""

    row: int
    words: str
    setting: Setting | None
    point: int
    prior: float


def suspects(memory: Memory, frames: Sequence[str] | None = None) -> tuple[Suspect, ...]:
    """Trials that were probably not made as logged, with the likeliest slip; most probable first.

    Parameters
    ----------
    frames : sequence of str, optional
        Look only at these.
    """
    columns = memory.columns
    doubted = {columns.names.frames[f] for f in columns.cell_frame[memory.trust < DOUBTED].tolist()}
    wanted = doubted if frames is None else doubted & set(frames)
    if not wanted:
        return ()
    rows_of_trial: dict[int, list[int]] = {}
    for row, trial in enumerate(columns.trial.tolist()):
        rows_of_trial.setdefault(trial, []).append(row)
    found: list[Suspect] = []
    last: dict[str, Setting] = {}
    by_frame: dict[str, list[tuple[_Row, Setting | None]]] = {}
    for number, trial in enumerate(memory.evidence.trials):
        before = last.get(trial.head)
        last[trial.head] = trial.patches[-1].setting
        if trial.frame in wanted:
            for row in _read_rows(memory, number, trial, rows_of_trial[number]):
                by_frame.setdefault(trial.frame, []).append((row, before))
                before = trial.patches[row.patch].setting
    for frame in sorted(by_frame):
        found.extend(_of_frame(memory, by_frame[frame]))
    return tuple(sorted(found, key=lambda suspect: -suspect.probability))


def _read_rows(memory: Memory, number: int, trial: Trial, rows: Sequence[int]) -> Iterator[_Row]:
    """The trial's exposures that were read and not clipped."""
    columns = memory.columns
    conditions = Conditions(
        frame=trial.frame,
        head=trial.head,
        lot=trial.lot,
        bath=trial.bath,
        date=trial.date,
        bath_state=trial.bath_state,
    )
    place = iter(rows)
    for patch_number, patch in enumerate(trial.patches):
        if patch.density is not None:
            row = next(place)
            if not any(patch.beyond):
                yield _Row(
                    trial,
                    int(columns.cell[row]),
                    patch_number,
                    conditions,
                    columns.density[row],
                    columns.noise[row],
                )
        if patch.judgement is not None or (patch.kept and patch.density is None):
            next(place)


def _of_frame(memory: Memory, looked_at: list[tuple[_Row, Setting | None]]) -> list[Suspect]:
    rows = [row for row, _ in looked_at]
    count = len(rows)
    guesses: list[_Guess] = []
    settings = [row.trial.patches[row.patch].setting for row in rows]
    points: list[tuple[int, Setting]] = list(enumerate(settings))
    for index, (row, before) in enumerate(looked_at):
        head = memory.evidence.heads[row.trial.head]
        slips = likely_slips(settings[index], head, before)
        share = BLUNDER_SHARE / (1 - BLUNDER_SHARE)
        for words, setting in slips:
            guesses.append(_Guess(index, words, setting, len(points), share * NAMED_SHARE / len(slips)))
            points.append((index, setting))
        guesses.append(_Guess(index, "", None, index, share * (1 - NAMED_SHARE)))
    mean, covariance, slope, noise = _apart_from_frame(memory, rows, points)
    observed = np.concatenate([row.density for row in rows])

    def log_likelihood(chosen: Sequence[int], loose: Sequence[int]) -> float:
        places = (3 * np.array(chosen)[:, None] + np.arange(3)).ravel()
        total = covariance[np.ix_(places, places)] + noise(chosen)
        for index in loose:
            here = slice(3 * index, 3 * index + 3)
            total[here, here] += BLUNDER_SPREAD**2 * slope[chosen[index]] @ slope[chosen[index]].T
        factor = scipy.linalg.cho_factor(total, lower=True)
        miss = observed - mean[places]
        return float(-0.5 * miss @ scipy.linalg.cho_solve(factor, miss) - np.log(np.diag(factor[0])).sum())

    found: list[Suspect] = []
    chosen, loose = list(range(count)), list[int]()
    named: set[int] = set()
    while len(named) < count:
        none = log_likelihood(chosen, loose)
        weights: list[tuple[float, float, _Guess]] = []
        for guess in guesses:
            if guess.row in named:
                continue
            changed = list(chosen)
            changed[guess.row] = guess.point
            value = log_likelihood(changed, [*loose, guess.row] if guess.setting is None else loose)
            weights.append((value + math.log(guess.prior), value, guess))
        top = max(none, *(weight for weight, _, _ in weights))
        total = math.exp(none - top) + sum(math.exp(weight - top) for weight, _, _ in weights)
        by_row = [
            sum(math.exp(weight - top) for weight, _, guess in weights if guess.row == row) / total
            for row in range(count)
        ]
        guilty = int(np.argmax(by_row))
        if by_row[guilty] < 0.5:
            return found
        mine = sorted((w for w in weights if w[2].row == guilty), key=lambda w: -w[0])
        weight, value, best = mine[0]
        row = rows[guilty]
        if best.setting is None:
            words = _unexplained(row.density - mean[3 * guilty : 3 * guilty + 3], slope[guilty])
        else:
            words = best.words
            other = next((w for w in mine[1:] if w[2].setting is not None), None)
            if other is not None and other[0] > weight + math.log(_ANOTHER):
                words += f"; or {other[2].words.removeprefix('reads ')}"
        found.append(
            Suspect(
                trial=row.trial.name,
                patch=row.patch,
                words=words,
                as_if=best.setting,
                likelihood_ratio=math.exp(min(value - none, 690.0)),
                probability=by_row[guilty],
            )
        )
        named.add(guilty)
        chosen[guilty] = best.point
        if best.setting is None:
            loose.append(guilty)
    return found


def _unexplained(miss: Floats, slope: Floats) -> str:
    error = np.linalg.solve(slope, miss)
    cast = cast_of(
        (float(error[0]), float(error[1]), float(error[2])), (float(miss[0]), float(miss[1]), float(miss[2]))
    )
    return f"disagrees with everything else: {cast.words} beside what was logged, and no usual slip explains it"


def _apart_from_frame(memory: Memory, rows: list[_Row], points: list[tuple[int, Setting]]):  # type: ignore[no-untyped-def]
    """What the memory foretells for these points if it had not seen the rows.

    Returns
    -------
    mean (3 points,), covariance (3 points, 3 points) of knowledge, slope (points, 3, 3), and a function that gives
    the noise (3 rows, 3 rows) of rows made at chosen points.
    """
    density: list[Floats] = []
    slope: list[Floats] = []
    shared: list[Floats] = []
    spread = np.zeros((3, 3))
    order: list[int] = []
    by_row: dict[int, list[int]] = {}
    for place, (index, _) in enumerate(points):
        by_row.setdefault(index, []).append(place)
    for index, places in by_row.items():
        standpoint = look_up(memory, rows[index].conditions)
        seen = forecast(standpoint, [points[place][1] for place in places])
        density.extend(seen.density)
        slope.extend(seen.by_layer)
        shared.extend(seen.by_shared)
        spread = standpoint.spread
        order.extend(places)
    back = np.argsort(order)
    mean = np.array(density)[back].ravel()
    slopes = np.array(slope)[back]
    rows_shared = np.array(shared)[back].reshape(3 * len(points), -1)
    half = scipy.linalg.solve_triangular(memory.elimination.factor, rows_shared.T, lower=True, check_finite=False)
    tall = slopes.reshape(-1, 3)
    covariance = half.T @ half + tall @ spread @ tall.T

    run = spread_covariance(memory.learned.run)

    def noise(chosen: Sequence[int], trust: bool = False) -> Floats:
        total = np.zeros((3 * len(rows),) * 2)
        for one, row in enumerate(rows):
            here = slice(3 * one, 3 * one + 3)
            total[here, here] += row.noise
            for two, other in enumerate(rows):
                if row.cell == other.cell:
                    there = slice(3 * two, 3 * two + 3)
                    total[here, there] += slopes[chosen[one]] @ run @ slopes[chosen[two]].T
        if trust:
            weight = np.sqrt(np.repeat([memory.trust[row.cell] for row in rows], 3))
            total /= weight[:, None] * weight
        return total

    count = 3 * len(rows)
    logged = list(range(len(rows)))
    gain = covariance[:, :count] @ np.linalg.inv(noise(logged, True) - covariance[:count, :count])
    seen_density = np.concatenate([row.density for row in rows])
    mean = mean + gain @ (mean[:count] - seen_density)
    covariance = covariance + gain @ covariance[:count]
    return mean, covariance, slopes, noise
