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
from printlore.core.figure import Figure
from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import LONGEST_TIME, Setting
from printlore.core.memory.columns import Floats
from printlore.core.memory.evidence import HeadFacts, Trial
from printlore.core.memory.forecast import Conditions, Standpoint, forecast, learned_curves, look_up
from printlore.core.memory.model import inverse, spread_covariance
from printlore.core.memory.solve import Memory
from printlore.core.memory.trust import BLUNDER_SHARE, BLUNDER_SPREAD
from printlore.core.paper.layers import LayerCurves

DOUBTED = 0.9
"""Only what is trusted less than this may be named: the solution of everything knows best whether all agrees."""
NAMED_SHARE = 0.5
"""Share of blunders that are one of the slips below (from memory)."""
_ANOTHER = 0.2
"""A second reading of what happened is told too if it is at least this likely beside the first."""
_RARE = 0.2
"""Digits lost, or a nought too many, beside the other slips (from memory)."""
_CURVE_SHARE = 0.10
"""[1] Error of the curve far from the aim, as a share of the density away from it (from memory)."""
_LEAST_SLOPE = 0.05
"""[density / log10] Of a curve that is nearly flat."""
_LOOK_BACK = 20
"""Trials back in which the one before on the same head is looked for."""
_FLAT = 1e-9
"""[(density / log10)^3] Product of three slopes of which one is as good as none."""
_SHORT = 1e-3
"""[log10] Shorter chords than this are tangents."""
_MOST_SHARE = 1 - 1e-5
"""Most of what is known of a row that the row itself can have told; else nothing is known without it."""
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Slip:
    """One usual slip: words, the setting that was then really made, and how usual it is beside the others."""

    words: str
    setting: Setting
    weight: float


def likely_slips(made: Setting, head: HeadFacts, before: Setting | None = None) -> tuple[Slip, ...]:
    """Usual slips of hand or pen.

    Parameters
    ----------
    made : Setting
        As logged.
    before : Setting, optional
        What stood on the head before, and may have been left standing.
    """
    found: dict[Setting, Slip] = {}
    for words, setting, weight in _slips(made, head, before):
        if setting != made:
            found.setdefault(setting, Slip(words=words, setting=setting, weight=weight))
    return tuple(found.values())


def _slips(made: Setting, head: HeadFacts, before: Setting | None) -> Iterator[tuple[str, Setting, float]]:
    pack = made.pack
    for name, letter in _LETTERS:
        value = getattr(pack, name)
        choices = [*_misread(value), *([(getattr(before.pack, name), 1.0)] if before else [])]
        for other, weight in choices:
            on_a_mark = abs(other / head.dial_step - round(other / head.dial_step)) < 1e-6
            if 0 <= other <= head.dial_max and other != value and on_a_mark:
                words = f"reads as if {_dial(other)} {letter} had been dialled, not {_dial(value)} {letter}"
                yield words, replace(made, pack=replace(pack, **{name: other})), weight
    c, m, y = pack.as_tuple()
    for words, swapped in (
        ("magenta and yellow", FilterPack(cyan=c, magenta=y, yellow=m)),
        ("cyan and magenta", FilterPack(cyan=m, magenta=c, yellow=y)),
        ("cyan and yellow", FilterPack(cyan=y, magenta=m, yellow=c)),
    ):
        yield f"reads as if {words} had been swapped: {swapped}, not {pack}", replace(made, pack=swapped), 1.0
    if before is not None and before.pack != pack:
        yield f"reads as if the filters had been left at {before.pack}", replace(made, pack=before.pack), 1.0
    for seconds, why, weight in (
        (made.time * 2, " (given twice)", 1.0),
        (made.time / 2, " (half of it)", 1.0),
        *((other, "", weight) for other, weight in _misread(made.time)),
        *(((before.time, " (as the time before)", 1.0),) if before else ()),
    ):
        if head.timer_step <= seconds <= LONGEST_TIME:
            words = f"reads as if {Figure(seconds):.3g} s had been given, not {Figure(made.time):.3g} s{why}"
            yield words, replace(made, time=round(seconds, 6)), weight
    for f_number in _stops_beside(made.f_number, head, before):
        words = f"reads as if the lens stood at f/{Figure(f_number):g}, not f/{Figure(made.f_number):g}"
        yield words, replace(made, f_number=f_number), 1.0


def _dial(value: float) -> str:
    return f"{value:02.0f}" if value == round(value) else f"{Figure(value):.1f}"


def _misread(value: float) -> tuple[tuple[float, float], ...]:
    """What a slip of the pen or of the dial makes of a number, and how usual: digits swapped or lost, a nought more."""
    whole = round(value)
    digits = f"{whole:02d}"
    others = {}
    for place in range(len(digits) - 1):
        swapped = digits[:place] + digits[place + 1] + digits[place] + digits[place + 2 :]
        others[round(float(swapped) + (value - whole), 6)] = 1.0
    rare = [0.0, value * 10, value / 10, *(float(digits[:place] + digits[place + 1 :]) for place in range(len(digits)))]
    for other in rare:
        others.setdefault(round(other, 6), _RARE)
    others.pop(value, None)
    return tuple(sorted(others.items()))


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
    trust: float
    patch: int
    standpoint: Standpoint
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
    trust = memory.trust.copy()
    np.minimum.at(trust, columns.cell, memory.patch_trust)
    doubted = {columns.names.frames[f] for f in columns.cell_frame[trust < DOUBTED].tolist()}
    wanted = doubted if frames is None else doubted & set(frames)
    if not wanted:
        return ()
    trials = memory.evidence.trials
    places = [place for place, name in enumerate(columns.names.frames) if name in wanted]
    rows = np.flatnonzero(np.isin(columns.cell_frame, places)[columns.cell])
    found: list[Suspect] = []
    by_frame: dict[str, list[tuple[_Row, Setting | None]]] = {}
    for number in np.unique(columns.trial[rows]).tolist():
        trial = trials[number]
        earlier = (one for one in reversed(trials[max(number - _LOOK_BACK, 0) : number]) if one.head == trial.head)
        before = next((one.patches[-1].setting for one in earlier), None)
        for read in _read_rows(memory, trial, rows[columns.trial[rows] == number].tolist()):
            by_frame.setdefault(trial.frame, []).append((read, before))
            before = trial.patches[read.patch].setting
    for frame in sorted(by_frame):
        found.extend(_of_frame(memory, by_frame[frame]))
    return tuple(sorted(found, key=lambda suspect: -suspect.probability))


def _read_rows(memory: Memory, trial: Trial, rows: Sequence[int]) -> Iterator[_Row]:
    """The trial's exposures that were read and not clipped."""
    columns = memory.columns
    standpoint = look_up(
        memory,
        Conditions(
            frame=trial.frame,
            head=trial.head,
            lot=trial.lot,
            bath=trial.bath,
            date=trial.date,
            bath_state=trial.bath_state,
        ),
    )
    place = iter(rows)
    for patch_number, patch in enumerate(trial.patches):
        if patch.density is not None:
            row = next(place)
            if not any(patch.beyond):
                yield _Row(
                    trial,
                    int(columns.cell[row]),
                    float(memory.trust[columns.cell[row]] * memory.patch_trust[row]),
                    patch_number,
                    standpoint,
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
        if row.trust >= DOUBTED:
            continue
        slips = likely_slips(settings[index], memory.evidence.heads[row.trial.head], before)
        share = BLUNDER_SHARE / (1 - BLUNDER_SHARE)
        usual = sum(slip.weight for slip in slips)
        for slip in slips:
            prior = share * NAMED_SHARE * slip.weight / usual
            guesses.append(_Guess(index, slip.words, slip.setting, len(points), prior))
            points.append((index, slip.setting))
        guesses.append(_Guess(index, "", None, index, share * (1 - NAMED_SHARE)))
    seen = _seen(memory, rows)
    mean, covariance = _apart_from_frame(memory, seen, points)
    observed = np.concatenate([row.log_exposure for row in seen])
    own = [one.error(one.log_exposure) for one in seen]
    run = _shared_run(memory, rows)
    told = covariance[: 3 * count, : 3 * count] + scipy.linalg.block_diag(*own) + run
    errors, expected = [], []
    for place, (index, _) in enumerate(points):
        here = np.arange(3 * place, 3 * place + 3)
        others = np.delete(np.arange(3 * count), np.arange(3 * index, 3 * index + 3))
        # where the point lies by what the frame's other rows say of the frame: a lone guess may be far off
        pull = np.linalg.solve(told[np.ix_(others, others)], observed[others] - mean[others])
        expected.append(mean[here] + covariance[np.ix_(here, others)] @ pull)
        errors.append(seen[index].error(expected[-1]))

    def log_likelihood(chosen: Sequence[int], loose: Sequence[int]) -> float:
        places = (3 * np.array(chosen)[:, None] + np.arange(3)).ravel()
        error = [own[index] if index in loose else errors[place] for index, place in enumerate(chosen)]
        total = covariance[np.ix_(places, places)] + scipy.linalg.block_diag(*error) + run
        for index in loose:
            here = np.arange(3 * index, 3 * index + 3)
            total[here, here] += BLUNDER_SPREAD**2
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
        top = max([none, *(weight for weight, _, _ in weights)])
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
            words = _unexplained(seen[guilty], expected[guilty])
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


def _unexplained(seen: "_Seen", expected: Floats) -> str:
    error = seen.log_exposure - expected
    density = seen.slope @ error
    cast = cast_of(
        (float(error[0]), float(error[1]), float(error[2])), (float(density[0]), float(density[1]), float(density[2]))
    )
    return f"disagrees with everything else: {cast.words} beside what was logged, and no usual slip explains it"


@dataclass(frozen=True, slots=True)
class _Seen:
    """A reading as the log exposure that it stands for on the paper as the memory knows it."""

    row: _Row
    log_exposure: Floats
    slope: Floats
    curves: LayerCurves
    noise: Floats

    def error(self, supposed: Floats) -> Floats:
        """(3, 3) covariance of the log exposure seen, if it was really near ``supposed`` (3,).

        By the slope of the chord between the two: near white and black the curve is so flat that a log exposure
        could be anything beyond, yet such a patch tells clearly enough that it was not one near the aim.
        """
        span = self.log_exposure - supposed
        mix = self.slope / np.diag(self.slope)
        rise = np.linalg.solve(mix, self.row.density - self.curves.density_at(supposed))
        local = np.diag(self.slope)
        chord = np.where(np.abs(span) > _SHORT, rise / np.where(np.abs(span) > _SHORT, span, 1.0), local)
        back = np.linalg.inv(mix * np.maximum(chord, _LEAST_SLOPE))
        result: Floats = back @ self.noise @ back.T
        return result


def _seen(memory: Memory, rows: Sequence[_Row]) -> list[_Seen]:
    result = []
    evidence = memory.evidence
    for row in rows:
        curves = learned_curves(row.standpoint)
        far = row.density - np.array(evidence.aim_density(row.trial.frame, evidence.lots[row.trial.lot]))
        level, slope = curves.log_exposure_at(row.density)
        result.append(_Seen(row, level, slope, curves, row.noise + np.diag((_CURVE_SHARE * far) ** 2)))
    return result


def _shared_run(memory: Memory, rows: Sequence[_Row]) -> Floats:
    """Covariance (3 rows, 3 rows) of run noise: one for each drum load [log10^2]."""
    same = np.array([[one.cell == two.cell for two in rows] for one in rows], dtype=float)
    result: Floats = np.kron(same, spread_covariance(memory.learned.run))
    return result


def _apart_from_frame(
    memory: Memory, seen: Sequence[_Seen], points: Sequence[tuple[int, Setting]]
) -> tuple[Floats, Floats]:
    """Log exposure (3 points,) that the memory would foretell had it not seen the rows, and its covariance.

    The first points are the rows as logged. Doubt about the paper's curve is left to the error of what was seen.
    """
    rows = [one.row for one in seen]
    mean = np.empty((len(points), 3))
    halves = np.empty((memory.elimination.shared, len(points), 3))
    logged_error = []
    offset = []
    for index, row in enumerate(rows):
        places = [place for place, (of, _) in enumerate(points) if of == index]
        made = forecast(row.standpoint, [points[place][1] for place in places])
        of_curve = memory.layout.paper[row.standpoint.row["paper"]]
        # where a slip would leave a layer wholly white or black, what is shared moves it as it moves the row as logged
        flat = np.abs(np.linalg.det(made.by_layer)) < _FLAT
        back = inverse(np.where(flat[:, None, None], made.by_layer[0], made.by_layer))
        mean[places] = made.log_exposure
        moved = made.half(back, slice(of_curve.start + 3, of_curve.stop)).reshape(len(halves), len(places), 3)
        moved[:, flat] = moved[:, :1]
        halves[:, places] = moved
        logged_error.append(back[0] @ row.noise @ back[0].T)
        offset.append(back[0] @ (made.density[0] - row.density))
    half = halves.reshape(len(halves), -1)
    # all of one frame: its own level, given the shared effects, moves them alike
    covariance = half.T @ half + np.tile(rows[0].standpoint.spread, (len(points), len(points)))

    count = 3 * len(rows)
    weight = 1 / np.sqrt(np.repeat([row.trust for row in rows], 3))
    noise = (scipy.linalg.block_diag(*logged_error) + _shared_run(memory, rows)) * weight[:, None] * weight
    lower = np.linalg.inv(np.linalg.cholesky(noise))
    share, axes = np.linalg.eigh(lower @ covariance[:count, :count] @ lower.T)
    axes = lower.T @ axes
    gain = covariance[:, :count] @ (axes / (1 - np.minimum(share, _MOST_SHARE))) @ axes.T
    return mean.ravel() + gain @ np.concatenate(offset), covariance + gain @ covariance[:count]
