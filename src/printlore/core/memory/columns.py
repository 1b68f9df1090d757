"""Evidence as arrays: one row for each observation, sorted so that what belongs together lies together."""

import math
from collections import ChainMap
from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from printlore.core.light.exposure import LOG10_PER_STOP
from printlore.core.memory.evidence import BathState, Cast, Evidence, FrameFacts, Judgement, Trial
from printlore.core.memory.priors import Priors
from printlore.core.paper.facts import Vector
from printlore.core.paper.layers import LayerCurves
from printlore.errors import UnknownRecord

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

_CAST_IN_DENSITY: dict[Cast, Vector] = {
    Cast.NONE: (0.0, 0.0, 0.0),
    Cast.CYAN: (2 / 3, -1 / 3, -1 / 3),
    Cast.MAGENTA: (-1 / 3, 2 / 3, -1 / 3),
    Cast.YELLOW: (-1 / 3, -1 / 3, 2 / 3),
    Cast.RED: (-2 / 3, 1 / 3, 1 / 3),
    Cast.GREEN: (1 / 3, -2 / 3, 1 / 3),
    Cast.BLUE: (1 / 3, 1 / 3, -2 / 3),
}

_Name = TypeVar("_Name")

LARGEST_KNOT = 24
"""Frames and shared runs solved together as one dense block; larger knots of drums are cut."""

_MOST_VIEWS = 300
"""Negatives on another paper than their first that are learned there for themselves: those printed last."""


def cast_in_density(judgement: Judgement) -> Floats:
    """Density error (red, green, blue) that the named cast means: mean zero over the channels [1]."""
    return judgement.strength / 100 * np.array(_CAST_IN_DENSITY[judgement.cast])


def darkness_in_density(curves: LayerCurves, aim: Floats, stops: Floats) -> Floats:
    """(n,) mean density by which prints look too dark that are so many stops (n,) from the aim (n, 3).

    Along the paper's curve: a stop too light is less of a difference than a stop too dark, and no print is lighter than
    its base.
    """
    h, _ = curves.log_exposure_at(aim)
    result: Floats = (curves.density_at(h + LOG10_PER_STOP * stops[:, None]) - aim).mean(axis=1)
    return result


@dataclass(frozen=True)
class Names:
    """Everything that has an effect of its own, in the order of its parameters; and where each is found."""

    heads: tuple[str, ...]
    papers: tuple[str, ...]
    processes: tuple[str, ...]
    sources: tuple[str, ...]
    persons: tuple[str, ...]
    stops: tuple[tuple[str, float], ...]
    blocks: tuple[tuple[str, ...], ...]
    frames: tuple[str, ...]

    @cached_property
    def place_of_block(self) -> dict[tuple[str, ...], int]:
        """Place of each block by its key."""
        return _ordered(self.blocks)

    @cached_property
    def place_of_frame(self) -> dict[str, int]:
        """Place of each frame by its name."""
        return _ordered(self.frames)

    @cached_property
    def place_of_stop(self) -> dict[tuple[str, float], int]:
        """Place of each marked stop by head and f-number."""
        return _ordered(self.stops)

    @cached_property
    def dates_of_head(self) -> dict[str, tuple[Floats, Ints]]:
        """Days (dates,) on which each head was used, in order, and the places (dates,) of their blocks."""
        found: dict[str, list[tuple[float, int]]] = {}
        for place, (kind, *rest) in enumerate(self.blocks):
            if kind == "date":
                found.setdefault(rest[0], []).append((float(rest[1]), place))
        return {
            head: (np.array([day for day, _ in days]), np.array([place for _, place in days], dtype=np.int64))
            for head, days in ((head, sorted(days)) for head, days in found.items())
        }


@dataclass(frozen=True, slots=True)
class Columns:
    """One row per observation (N), grouped into cells: one frame in one run on one lot and bath.

    Attributes
    ----------
    dial : (N, 3) pack less the head's usual pack, over 100 [dial units / 100]
    time, usual_time : (N,) [s]
    light : (N,) log exposure of f-number and magnification against the usual setting [log10]
    size : (N,) the part of ``light`` that is magnification [log10]
    reading : (N, 3) reading of the negative less the source's mean [1]
    bath_state : (N, 3) area per litre, age, strength - 1
    density, seen : (N, 3) observed density, or the aim with the error an eye saw beside it
    noise : (N, 3, 3) covariance of the observation in density, run noise apart; of an eye as first guessed
    cell_blocks, cell_shares : (cells, 6) film, lot, bath, date, pace and view of each cell (-1: none), and how much of
        each: 1, or for the pace how far the bath has aged
    cell_trial : (cells,) number of its latest trial
    cell_load : (cells,) number of its drum load among ``loads``; its run is that load, or a part of it where a very
        long chain of frames that shared drums was cut
    block_last : (blocks,) day on which each block was last used [d]
    frame_paper : (frames,) paper that each frame was first printed on, as logged
    frame_home : (frames,) the same by date: other papers see the frame otherwise than this one; -1 if unprinted
    frame_head, frame_dial : (frames,), (frames, 3) of frames that were not read, and whose first print was kept: its
        head and dials; -1 of all others
    """

    names: Names
    trial: Ints
    cell: Ints
    head: Ints
    paper: Ints
    process: Ints
    source: Ints
    person: Ints
    stop: Ints
    dial: Floats
    time: Floats
    usual_time: Floats
    light: Floats
    size: Floats
    reading: Floats
    bath_state: Floats
    density: Floats
    seen: Floats
    noise: Floats
    beyond: Ints
    # cells
    cell_blocks: Ints
    cell_shares: Floats
    cell_frame: Ints
    cell_run: Ints
    cell_nested: npt.NDArray[np.bool_]
    cell_trial: Ints
    cell_load: Ints
    block_last: Floats
    # frames
    frame_has_reading: npt.NDArray[np.bool_]
    frame_paper: Ints
    frame_home: Ints
    frame_source: Ints
    frame_reading_variance: Floats
    frame_head: Ints
    frame_dial: Floats
    reading_mean: dict[str, Floats]
    run_count: int
    loads: ChainMap[str, int]
    load_count: int

    @property
    def rows(self) -> int:
        return len(self.cell)

    def between(self, begin: int, end: int) -> "Columns":
        """Only these rows, for the forward model; cells are numbered as before."""
        return self.at(slice(begin, end))

    def at(self, rows: Ints | slice) -> "Columns":
        """The same of any rows."""
        return replace(self, **{name: getattr(self, name)[rows] for name in _PER_ROW})


_PER_ROW = (
    *("trial", "cell", "head", "paper", "process", "source", "person", "stop", "dial", "time", "usual_time"),
    *("light", "size", "reading", "bath_state", "density", "seen", "noise", "beyond"),
)


def means_of_readings(evidence: Evidence) -> dict[str, Floats]:
    """Mean reading of each source over the frames that have one."""
    by_source: dict[str, list[Vector]] = {}
    for frame in evidence.frames.values():
        if frame.reading is not None:
            by_source.setdefault(frame.reading.source, []).append(frame.reading.density)
    return {source: np.mean(values, axis=0) for source, values in by_source.items()}


def films_read(evidence: Evidence) -> frozenset[str]:
    """Films of which a frame was read."""
    return frozenset(frame.film for frame in evidence.frames.values() if frame.reading is not None)


def film_block(frame: FrameFacts, read: Set[str]) -> tuple[str, ...]:
    """Name of the block that a frame has in common with its film, of the films that were ``read``.

    Of a frame that was read it is what the readings of its film leave open, of one that was not its usual level: two
    things, and a few readings say little of the level.
    """
    return ("film", frame.film, "unread") if frame.reading is None and frame.film in read else ("film", frame.film)


def day_of(date: float) -> float:
    """Day [d] whose lamp level a date shares: the head drifts from day to day, not within one."""
    return float(np.floor(date))


def aged(state: BathState, priors: Priors) -> float:
    """How far a bath has aged, days counted as the use that usually ages as much [m2/L]."""
    return state.area_per_litre + state.age_days * priors.age.common / priors.area.common


def _ordered(names: Iterable[_Name]) -> dict[_Name, int]:
    return {name: index for index, name in enumerate(dict.fromkeys(names))}


def _check(evidence: Evidence, trials: Sequence[Trial]) -> None:
    """Refuse trials that name what is not there."""
    for trial in trials:
        for what, name, known in (
            ("head", trial.head, evidence.heads),
            ("lot", trial.lot, evidence.lots),
            ("bath", trial.bath, evidence.baths),
            ("frame", trial.frame, evidence.frames),
        ):
            if name not in known:
                raise UnknownRecord(
                    f'Trial "{trial.name}" names the {what} "{name}", which the studio does not have. Add it.'
                )


def homes_of(evidence: Evidence, trials: Iterable[Trial]) -> dict[str, str]:
    """Paper that each frame was first printed on, by date; of two on one day the first by name."""
    first: dict[str, tuple[float, str]] = {}
    for trial in trials:
        here = day_of(trial.date), evidence.lots[trial.lot]
        first[trial.frame] = min(here, first.get(trial.frame, here))
    return {frame: paper for frame, (_, paper) in first.items()}


def views_of(evidence: Evidence, trials: Iterable[Trial], homes: Mapping[str, str]) -> tuple[tuple[str, str, str], ...]:
    """Names of the blocks of frames that trials show on another paper than their first, by last use: the newest few.

    Each is three shared unknowns more. Of the older ones nothing is taken to be left but what papers see of all.
    """
    last: dict[tuple[str, str], float] = {}
    for trial in trials:
        paper = evidence.lots[trial.lot]
        if homes[trial.frame] != paper:
            last[trial.frame, paper] = max(day_of(trial.date), last.get((trial.frame, paper), -math.inf))
    newest = sorted(last, key=lambda pair: (last[pair], pair))[-_MOST_VIEWS:]
    return tuple(("view", frame, paper) for frame, paper in newest)


def compile_columns(evidence: Evidence, priors: Priors) -> Columns:
    """Arrays for the solver.

    Raises
    ------
    UnknownRecord
        If a trial names a head, lot, bath or frame that is not declared.
    """
    trials = evidence.trials
    _check(evidence, trials)
    mean_reading = means_of_readings(evidence)
    stops = {
        (name, f_number): None
        for name, facts in evidence.heads.items()
        for f_number in facts.f_numbers
        if f_number != facts.usual.f_number
    }
    persons: dict[str, None] = {}
    for trial in trials:
        usual = evidence.heads[trial.head].usual.f_number
        for patch in trial.patches:
            if patch.setting.f_number != usual:
                stops[trial.head, patch.setting.f_number] = None
            if patch.judgement is not None:
                persons[patch.judgement.person] = None
    names = Names(
        heads=tuple(evidence.heads),
        papers=tuple(evidence.papers),
        processes=tuple(dict.fromkeys(evidence.baths.values())),
        sources=tuple(mean_reading),
        persons=tuple(persons),
        stops=tuple(stops),
        blocks=_block_names(evidence, priors),
        frames=tuple(evidence.frames),
    )
    return columns_of(evidence, priors, names, mean_reading, trials)


def _block_names(evidence: Evidence, priors: Priors) -> tuple[tuple[str, ...], ...]:
    first_lots: dict[str, str] = {}
    for lot, of_paper in evidence.lots.items():
        first_lots.setdefault(of_paper, lot)
    read = films_read(evidence)
    old_baths = dict.fromkeys(trial.bath for trial in evidence.trials if aged(trial.bath_state, priors) > 0)
    return (
        *dict.fromkeys(film_block(frame, read) for frame in evidence.frames.values()),
        *(("lot", lot) for lot, of_paper in evidence.lots.items() if first_lots[of_paper] != lot),
        *(("bath", bath) for bath in evidence.baths),
        *(("pace", bath) for bath in old_baths),
        *(views_of(evidence, evidence.trials, homes_of(evidence, evidence.trials)) if len(evidence.papers) > 1 else ()),
        *(
            ("date", head, repr(day))
            for head, day in sorted({(trial.head, day_of(trial.date)) for trial in evidence.trials})
        ),
    )


def columns_of(
    evidence: Evidence,
    priors: Priors,
    names: Names,
    mean_reading: dict[str, Floats],
    trials: Sequence[Trial],
) -> Columns:
    """Arrays of these trials, everything numbered by the names given; readings are counted from the means given.

    Cells of one frame, and of frames that shared a drum, lie together.
    """
    heads, papers = _ordered(names.heads), _ordered(names.papers)
    processes, sources, persons = _ordered(names.processes), _ordered(names.sources), _ordered(names.persons)
    lots, baths = _ordered(evidence.lots), _ordered(evidence.baths)
    block, frames = names.place_of_block, names.place_of_frame
    runs: dict[str, int] = {}

    head = _whole([heads[t.head] for t in trials])
    lot = _whole([lots[t.lot] for t in trials])
    bath = _whole([baths[t.bath] for t in trials])
    frame = _whole([frames[t.frame] for t in trials])
    run = _whole([runs.setdefault(t.run or f"\0{t.name}", len(runs)) for t in trials])
    day = np.floor(_real([t.date for t in trials]))
    state = _real([(t.bath_state.area_per_litre, t.bath_state.age_days, t.bath_state.strength - 1) for t in trials], 3)
    numbers: dict[tuple[float, ...], int] = {}
    together = zip(*(column.tolist() for column in (run, frame, lot, bath, head, day)), strict=True)
    cell = _whole([numbers.setdefault(key, len(numbers)) for key in together])
    _, first = np.unique(cell, return_index=True)
    nested, cell_run, run_count, knot = _cut_knots(frame[first], run[first], len(runs))
    # cells of a knot together, in the order of its first trial; then of a frame
    begin = np.full(len(names.frames), len(first))
    np.minimum.at(begin, knot, np.arange(len(first)))
    order = np.lexsort((np.arange(len(first)), frame[first], begin[knot]))
    place = np.empty_like(order)
    place[order] = np.arange(len(order))
    cell, first, nested, cell_run = place[cell], first[order], nested[order], cell_run[order]
    cell_load = run[first]
    cell_trial = np.zeros(len(first), dtype=np.int64)
    np.maximum.at(cell_trial, cell, np.arange(len(trials)))

    read = {film for kind, film, *unread in names.blocks if kind == "film" and unread}
    films = _whole([block[film_block(facts, read)] for facts in evidence.frames.values()])
    lot_block = _whole([block.get(("lot", name), -1) for name in evidence.lots])
    bath_block = _whole([block["bath", name] for name in evidence.baths])
    pace_block = _whole([block.get(("pace", name), -1) for name in evidence.baths])
    first_day = list(zip(head[first].tolist(), day[first].tolist(), strict=True))
    date_block = _whole([block["date", names.heads[which], repr(date)] for which, date in first_day])
    view_block, frame_home = np.full(len(first), -1), np.full(len(names.frames), -1, dtype=np.int64)
    frame_home[frame] = 0
    if len(papers) > 1:
        homes = homes_of(evidence, trials)
        shown = ((trials[number].frame, evidence.lots[trials[number].lot]) for number in first.tolist())
        view_block = _whole([-1 if homes[name] == on else block.get(("view", name, on), -1) for name, on in shown])
        frame_home[[frames[name] for name in homes]] = [papers[paper] for paper in homes.values()]
    cell_blocks = np.column_stack(
        [
            films[frame[first]],
            lot_block[lot[first]],
            bath_block[bath[first]],
            date_block,
            pace_block[bath[first]],
            view_block,
        ]
    )
    shares = np.ones((len(first), 6))
    shares[:, 4] = [aged(trials[number].bath_state, priors) for number in first.tolist()]
    paper_of_lot = _whole([papers[paper] for paper in evidence.lots.values()])
    block_last = np.full(len(names.blocks), -np.inf)
    np.maximum.at(block_last, np.where(cell_blocks < 0, cell_blocks.max(initial=0), cell_blocks), day[first, None])

    frame_paper = np.zeros(len(names.frames), dtype=np.int64)
    frame_paper[frame[::-1]] = paper_of_lot[lot][::-1]
    frame_source, frame_reading = _readings(evidence, sources, mean_reading)
    has_reading = np.array([f.reading is not None for f in evidence.frames.values()], dtype=bool)
    curves = [LayerCurves.from_facts(evidence.papers[name]) for name in names.papers]
    row = _rows(evidence, names, trials, persons, paper_of_lot[lot], curves)
    frame_head, frame_dial = np.full(len(names.frames), -1, dtype=np.int64), np.zeros((len(names.frames), 3))
    at_once = _kept_at_once(trials, frame, day)[row.trial] & ~has_reading[frame[row.trial]]
    of_kept = row.trial[at_once]
    frame_head[frame[of_kept]], frame_dial[frame[of_kept]] = head[of_kept], row.dial[at_once]
    row = row.ordered(np.argsort(cell[row.trial], kind="stable"))
    of = row.trial
    process_of_bath = _whole([processes[process] for process in evidence.baths.values()])
    paper = paper_of_lot[lot[of]]
    return Columns(
        names=names,
        trial=of,
        cell=cell[of],
        head=head[of],
        paper=paper,
        process=process_of_bath[bath[of]],
        source=frame_source[frame[of]],
        person=row.person,
        stop=row.stop,
        dial=row.dial,
        time=row.time,
        usual_time=row.usual_time,
        light=row.light,
        size=row.size,
        reading=frame_reading[frame[of]],
        bath_state=state[of],
        density=row.density,
        seen=row.seen,
        noise=_noise(row, paper, curves, priors),
        beyond=row.beyond,
        cell_blocks=cell_blocks,
        cell_shares=shares,
        cell_frame=frame[first],
        cell_run=cell_run,
        cell_nested=nested,
        cell_trial=cell_trial,
        cell_load=cell_load,
        block_last=block_last,
        frame_has_reading=has_reading,
        frame_paper=frame_paper,
        frame_home=frame_home,
        frame_source=frame_source,
        frame_reading_variance=_real(
            [f.reading.standard_error**2 if f.reading else 0.0 for f in evidence.frames.values()]
        ),
        frame_head=frame_head,
        frame_dial=frame_dial,
        reading_mean=mean_reading,
        run_count=run_count,
        loads=ChainMap(runs),
        load_count=len(runs),
    )


def _kept_at_once(trials: Sequence[Trial], frame: Ints, day: Floats) -> npt.NDArray[np.bool_]:
    """Which trials (trials,) are the first of their frame, and a print that was kept."""
    order = np.argsort(day, kind="stable")
    first = order[np.unique(frame[order], return_index=True)[1]]
    found = np.zeros(len(trials), dtype=bool)
    pieces = [trials[number].patches for number in first.tolist()]
    found[first] = [len(patches) == 1 and patches[0].kept for patches in pieces]
    return found


def _whole(values: Sequence[int]) -> Ints:
    return np.array(values, dtype=np.int64)


def _real(values: Sequence[object], width: int = 0) -> Floats:
    array = np.array(values, dtype=float)
    return array.reshape(-1, width) if width else array


def _readings(evidence: Evidence, sources: Mapping[str, int], mean_reading: dict[str, Floats]) -> tuple[Ints, Floats]:
    """Source (frames,) of each frame's reading (-1: none) and the reading less the source's mean (frames, 3)."""
    source = np.full(len(evidence.frames), -1, dtype=np.int64)
    density = np.zeros((len(evidence.frames), 3))
    mine, read = [], []
    for place, frame in enumerate(evidence.frames.values()):
        if frame.reading is not None:
            source[place] = sources[frame.reading.source]
            mine.append(place)
            read.append(frame.reading.density)
    if mine:
        means = np.array(list(mean_reading.values()))
        density[mine] = np.array(read) - means[source[mine]]
    return source, density


@dataclass(frozen=True, slots=True)
class _Rows:
    """What is known of the patches, one row (N,) for each thing; named as the columns."""

    trial: Ints
    kind: Ints
    person: Ints
    stop: Ints
    dial: Floats
    time: Floats
    usual_time: Floats
    light: Floats
    size: Floats
    density: Floats
    seen: Floats
    error: Floats
    beyond: Ints

    def ordered(self, order: Ints) -> "_Rows":
        """The same in another order."""
        return _Rows(**{one.name: getattr(self, one.name)[order] for one in fields(self)})


def _rows(
    evidence: Evidence,
    names: Names,
    trials: Sequence[Trial],
    persons: Mapping[str, int],
    paper: Ints,
    curves: Sequence[LayerCurves],
) -> "_Rows":
    """One row for each thing known of a patch, in the order logged: read (kind 0), judged (1) or kept (2).

    Parameters
    ----------
    paper : (trials,) place of its paper among the curves
    """
    patches = [patch for trial in trials for patch in trial.patches]
    trial = np.repeat(np.arange(len(trials)), [len(t.patches) for t in trials])
    which, kind, density, seen, stops, person = [], [], [], [], [], []
    no_error = (0.0, 0.0, 0.0)
    for number, patch in enumerate(patches):
        if patch.density is not None:
            which.append(number)
            kind.append(0)
            density.append(patch.density)
            seen.append(no_error)
            person.append(-1)
        if patch.judgement is not None or (patch.kept and patch.density is None):
            which.append(number)
            density.append(evidence.aim_judged_by(trials[trial[number]]))
            if patch.judgement is None:
                kind.append(2)
                seen.append(no_error)
                person.append(-1)
            else:
                kind.append(1)
                seen.append(tuple(cast_in_density(patch.judgement).tolist()))
                stops.append(patch.judgement.stops_too_dark)
                person.append(persons[patch.judgement.person])
    patch_of_row, kinds = _whole(which), _whole(kind)
    aims, errors = _real(density, 3), _real(seen, 3)
    of_row = trial[patch_of_row]
    judged, said = np.flatnonzero(kinds == 1), _real(stops)
    for place, of_paper in enumerate(curves):
        mine = np.flatnonzero(paper[of_row[judged]] == place)
        errors[judged[mine]] += darkness_in_density(of_paper, aims[judged[mine]], said[mine])[:, None]
    made = _real(
        [
            (s.pack.cyan, s.pack.magenta, s.pack.yellow, s.time, s.f_number, s.magnification)
            for s in (patch.setting for patch in patches)
        ],
        6,
    )[patch_of_row]
    heads = _ordered(names.heads)
    head = _whole([heads[t.head] for t in trials])[of_row]
    usual = _real(
        [(*u.pack.as_tuple(), u.time, u.f_number, u.magnification) for u in (h.usual for h in evidence.heads.values())],
        6,
    )[head]
    size = -2 * np.log10((made[:, 5] + 1) / (usual[:, 5] + 1))
    stop = np.full(len(of_row), -1, dtype=np.int64)
    other = np.flatnonzero(made[:, 4] != usual[:, 4])
    at = zip(head[other].tolist(), made[other, 4].tolist(), strict=True)
    stop[other] = [names.place_of_stop[names.heads[number], f_number] for number, f_number in at]
    return _Rows(
        trial=of_row,
        kind=kinds,
        person=_whole(person),
        stop=stop,
        dial=(made[:, :3] - usual[:, :3]) / 100,
        time=made[:, 3],
        usual_time=usual[:, 3],
        light=-2 * np.log10(made[:, 4] / usual[:, 4]) + size,
        size=size,
        density=aims,
        seen=errors,
        error=_real([patch.standard_error for patch in patches])[patch_of_row],
        beyond=np.where(
            kinds[:, None] == 0, np.array([p.beyond for p in patches], dtype=np.int64).reshape(-1, 3)[patch_of_row], 0
        ),
    )


def _noise(row: _Rows, paper: Ints, curves: Sequence[LayerCurves], priors: Priors) -> Floats:
    """Covariance (N, 3, 3) of each observation, frozen at the measured density [density^2]."""
    kind = row.kind
    noise = np.zeros((len(kind), 3, 3))
    diagonal = np.arange(3)
    patch = priors.patch.common**2 + priors.patch.colour**2 * np.eye(3)
    for index, of_paper in enumerate(curves):
        mine = (paper == index) & (kind == 0)
        if not mine.any():
            continue
        h, slope = of_paper.log_exposure_at(row.density[mine])
        away = (priors.curve_error * h) ** 2
        scatter = patch + away[:, :, None] * np.eye(3)
        noise[mine] = slope @ scatter @ np.swapaxes(slope, 1, 2)
    noise[:, diagonal, diagonal] += (row.error**2 + 0.002**2)[:, None]
    judged = kind == 1
    if judged.any():
        seen = row.seen[judged]
        dark = seen.mean(axis=1, keepdims=True)
        cast = np.abs(seen - dark).max(axis=1)
        common = priors.eye.common**2 + np.square(priors.eye_share * dark[:, 0])
        colour = priors.eye.colour**2 + np.square(priors.eye_share * cast)
        noise[judged] = common[:, None, None] + colour[:, None, None] * np.eye(3)
    error = np.maximum(row.error[kind == 2], priors.kept_by_eye)
    noise[kind == 2] = np.square(error)[:, None, None] * np.eye(3)
    return noise


def _cut_knots(cell_frame: Ints, cell_run: Ints, runs: int) -> tuple[npt.NDArray[np.bool_], Ints, int, Ints]:
    """Which cells have their run to themselves; runs as cut; how many; and the knot (a frame's number) of each cell.

    Frames that share drums hang together; each knot is solved as one block. A run that would
    make a knot too large is cut: its frames then count as if each had been in a drum alone.
    """
    cells_in_run = np.bincount(cell_run, minlength=runs)
    nested = cells_in_run[cell_run] == 1
    run_of_cell = cell_run.copy()
    knot = cell_frame.copy()
    if nested.all():
        return nested, run_of_cell, runs, knot
    parent: dict[int, int] = {}
    size: dict[int, int] = {}

    def root(frame: int) -> int:
        while parent.setdefault(frame, frame) != frame:
            parent[frame] = parent[parent[frame]]
            frame = parent[frame]
        return frame

    shared = np.flatnonzero(~nested)
    by_run: dict[int, list[int]] = {}
    for cell in shared.tolist():
        by_run.setdefault(int(cell_run[cell]), []).append(cell)
    for cells in by_run.values():
        roots = {root(int(cell_frame[cell])) for cell in cells}
        total = sum(size.get(r, 1) for r in roots) + 1
        if total > LARGEST_KNOT:
            for cell in cells:
                nested[cell] = True
                run_of_cell[cell] = runs
                runs += 1
            continue
        first, *others = roots
        for other in others:
            parent[other] = first
        size[first] = total
    for cell in np.flatnonzero(np.isin(cell_frame, list(parent))).tolist():
        knot[cell] = root(int(cell_frame[cell]))
    return nested, run_of_cell, runs, knot
