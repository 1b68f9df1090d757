"""Evidence as arrays: one row for each observation, sorted so that what belongs together lies together."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from printlore.core.memory.evidence import BathState, Cast, Evidence, Judgement, Patch, Trial
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

LARGEST_KNOT = 24
"""Frames and shared runs solved together as one dense block; larger knots of drums are cut."""


def cast_in_density(judgement: Judgement) -> Floats:
    """Density error (red, green, blue) that the named cast means: mean zero over the channels [1]."""
    return judgement.strength / 100 * np.array(_CAST_IN_DENSITY[judgement.cast])


@dataclass(frozen=True, slots=True)
class Names:
    """Everything that has an effect of its own, in the order of its parameters."""

    heads: tuple[str, ...]
    papers: tuple[str, ...]
    processes: tuple[str, ...]
    sources: tuple[str, ...]
    persons: tuple[str, ...]
    stops: tuple[tuple[str, float], ...]
    blocks: tuple[tuple[str, ...], ...]
    frames: tuple[str, ...]


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
    noise : (N, 3, 3) covariance of the observation in density, run noise apart
    cell_blocks, cell_shares : (cells, 5) film, lot, bath, date and pace of each cell (-1: none), and how much of each:
        1, or for the pace how far the bath has aged
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
    # frames
    frame_has_reading: npt.NDArray[np.bool_]
    frame_source: Ints
    frame_reading_variance: Floats
    reading_mean: dict[str, Floats]
    film_reading: dict[tuple[str, str], Floats]
    run_count: int

    @property
    def rows(self) -> int:
        return len(self.cell)


def means_of_readings(evidence: Evidence) -> tuple[dict[str, Floats], dict[tuple[str, str], Floats]]:
    """Mean reading of each source, and of each film in each source, over the frames that have one."""
    by_source: dict[str, list[Vector]] = {}
    by_film: dict[tuple[str, str], list[Vector]] = {}
    for frame in evidence.frames.values():
        if frame.reading is not None:
            by_source.setdefault(frame.reading.source, []).append(frame.reading.density)
            by_film.setdefault((frame.film, frame.reading.source), []).append(frame.reading.density)
    sources = {source: np.mean(values, axis=0) for source, values in by_source.items()}
    films = {key: np.mean(values, axis=0) - sources[key[1]] for key, values in by_film.items()}
    return sources, films


def reading_of(
    evidence: Evidence,
    frame_name: str,
    sources: dict[str, Floats],
    films: dict[tuple[str, str], Floats],
) -> tuple[str | None, Floats]:
    """Source and centred reading of a frame; of its film's usual frame if it was not read itself."""
    frame = evidence.frames[frame_name]
    if frame.reading is not None:
        return frame.reading.source, np.array(frame.reading.density) - sources[frame.reading.source]
    for source in sources:
        if (frame.film, source) in films:
            return source, films[frame.film, source]
    return None, np.zeros(3)


def day_of(date: float) -> float:
    """Day [d] whose lamp level a date shares: the head drifts from day to day, not within one."""
    return float(np.floor(date))


def aged(state: BathState, priors: Priors) -> float:
    """How far a bath has aged, days counted as the use that usually ages as much [m2/L]."""
    return state.area_per_litre + state.age_days * priors.age.common / priors.area.common


def _look_up(table: dict[str, int], name: str, what: str, trial: Trial) -> int:
    if name not in table:
        raise UnknownRecord(f'Trial "{trial.name}" names the {what} "{name}", which the studio does not have. Add it.')
    return table[name]


def _ordered(names: Iterable[str]) -> dict[str, int]:
    return {name: index for index, name in enumerate(dict.fromkeys(names))}


def compile_columns(evidence: Evidence, priors: Priors) -> Columns:
    """Arrays for the solver.

    Raises
    ------
    UnknownRecord
        If a trial names a head, lot, bath or frame that is not declared.
    """
    heads, papers = _ordered(evidence.heads), _ordered(evidence.papers)
    processes = _ordered(evidence.baths.values())
    mean_reading, film_reading = means_of_readings(evidence)
    sources = _ordered(mean_reading)
    persons: dict[str, int] = {}
    stops: dict[tuple[str, float], int] = {}
    for name, facts in evidence.heads.items():
        for f_number in facts.f_numbers:
            if f_number != facts.usual.f_number:
                stops[name, f_number] = len(stops)
    frames = _ordered(evidence.frames)
    first_lots: dict[str, str] = {}
    for lot, of_paper in evidence.lots.items():
        first_lots.setdefault(of_paper, lot)
    curves = {name: LayerCurves.from_facts(facts, priors.side_absorption) for name, facts in evidence.papers.items()}

    blocks: dict[tuple[str, ...], int] = {}
    for film in dict.fromkeys(frame.film for frame in evidence.frames.values()):
        blocks["film", film] = len(blocks)
    for lot, of_paper in evidence.lots.items():
        if first_lots[of_paper] != lot:
            blocks["lot", lot] = len(blocks)
    for bath in evidence.baths:
        blocks["bath", bath] = len(blocks)
    for bath in dict.fromkeys(trial.bath for trial in evidence.trials if aged(trial.bath_state, priors) > 0):
        blocks["pace", bath] = len(blocks)
    for on_head, date in sorted({(trial.head, day_of(trial.date)) for trial in evidence.trials}):
        blocks["date", on_head, repr(date)] = len(blocks)

    frame_reading = {name: reading_of(evidence, name, mean_reading, film_reading) for name in evidence.frames}
    cells: dict[tuple[str, str, str, str, str, float], int] = {}
    integers: list[tuple[int, ...]] = []
    numbers: list[tuple[float, ...]] = []
    cell_rows: list[tuple[int, int, int, int, int, int, int]] = []
    ageing: list[float] = []
    runs: dict[str, int] = {}
    for number, trial in enumerate(evidence.trials):
        head = _look_up(heads, trial.head, "head", trial)
        if trial.lot not in evidence.lots:
            raise UnknownRecord(f'Trial "{trial.name}" names the lot "{trial.lot}", which the studio does not have.')
        if trial.bath not in evidence.baths:
            raise UnknownRecord(f'Trial "{trial.name}" names the bath "{trial.bath}", which the studio does not have.')
        frame = _look_up(frames, trial.frame, "frame", trial)
        paper_name = evidence.lots[trial.lot]
        paper, process = papers[paper_name], processes[evidence.baths[trial.bath]]
        usual = evidence.heads[trial.head].usual
        run = runs.setdefault(trial.run or f"\0{trial.name}", len(runs))
        key = (trial.run or f"\0{trial.name}", trial.frame, trial.lot, trial.bath, trial.head, day_of(trial.date))
        if key not in cells:
            cells[key] = len(cells)
            cell_rows.append(
                (
                    blocks["film", evidence.frames[trial.frame].film],
                    blocks.get(("lot", trial.lot), -1),
                    blocks["bath", trial.bath],
                    blocks["date", trial.head, repr(day_of(trial.date))],
                    blocks.get(("pace", trial.bath), -1),
                    frame,
                    run,
                )
            )
            ageing.append(aged(trial.bath_state, priors))
        source_name, reading = frame_reading[trial.frame]
        state = trial.bath_state
        aim = evidence.aim_density(trial.frame, paper_name)
        for patch in trial.patches:
            made = patch.setting
            size = -2 * np.log10((made.magnification + 1) / (usual.magnification + 1))
            stop = stops.get((trial.head, made.f_number), -1)
            if stop < 0 and made.f_number != usual.f_number:
                stop = stops.setdefault((trial.head, made.f_number), len(stops))
            for observed, seen, person, code in _observations(patch, aim, evidence.papers[paper_name].gradient):
                person_index = -1 if person is None else persons.setdefault(person, len(persons))
                integers.append(
                    (
                        number,
                        cells[key],
                        head,
                        paper,
                        process,
                        -1 if source_name is None else sources[source_name],
                        person_index,
                        stop,
                        *(int(b) for b in (patch.beyond if code == 0 else (False,) * 3)),
                        code,
                    )
                )
                numbers.append(
                    (
                        *((d - u) / 100 for d, u in zip(made.pack.as_tuple(), usual.pack.as_tuple(), strict=True)),
                        made.time,
                        usual.time,
                        -2 * np.log10(made.f_number / usual.f_number) + size,
                        size,
                        *reading,
                        state.area_per_litre,
                        state.age_days,
                        state.strength - 1,
                        *observed,
                        *seen,
                        patch.standard_error,
                    )
                )
    whole = np.array(integers, dtype=np.int64).reshape(-1, 12)
    real = np.array(numbers, dtype=float).reshape(-1, 20)
    order = np.argsort(whole[:, 1], kind="stable")
    whole, real = whole[order], real[order]
    cell_array = np.array(cell_rows, dtype=np.int64).reshape(-1, 7)
    shares = np.ones((len(cell_array), 5))
    shares[:, 4] = ageing
    paper_names = tuple(papers)
    noise = _noise(whole, real, paper_names, curves, priors)
    nested, run_of_cell, run_count = _cut_knots(cell_array[:, 5], cell_array[:, 6], len(runs))
    names = Names(
        heads=tuple(heads),
        papers=paper_names,
        processes=tuple(processes),
        sources=tuple(sources),
        persons=tuple(persons),
        stops=tuple(stops),
        blocks=tuple(blocks),
        frames=tuple(frames),
    )
    return Columns(
        names=names,
        trial=whole[:, 0],
        cell=whole[:, 1],
        head=whole[:, 2],
        paper=whole[:, 3],
        process=whole[:, 4],
        source=whole[:, 5],
        person=whole[:, 6],
        stop=whole[:, 7],
        dial=real[:, 0:3],
        time=real[:, 3],
        usual_time=real[:, 4],
        light=real[:, 5],
        size=real[:, 6],
        reading=real[:, 7:10],
        bath_state=real[:, 10:13],
        density=real[:, 13:16],
        seen=real[:, 16:19],
        noise=noise,
        beyond=whole[:, 8:11],
        cell_blocks=cell_array[:, :5],
        cell_shares=shares,
        cell_frame=cell_array[:, 5],
        cell_run=run_of_cell,
        cell_nested=nested,
        frame_has_reading=np.array([f.reading is not None for f in evidence.frames.values()], dtype=bool),
        frame_source=np.array([sources.get(source or "", -1) for source, _ in frame_reading.values()], dtype=np.int64),
        frame_reading_variance=np.array(
            [f.reading.standard_error**2 if f.reading else 0.0 for f in evidence.frames.values()]
        ),
        reading_mean=mean_reading,
        film_reading=film_reading,
        run_count=run_count,
    )


def _observations(
    patch: Patch, aim: Vector, gradient: Vector
) -> Iterable[tuple[Vector, tuple[float, ...], str | None, int]]:
    """(density, error seen by eye, person, kind) for each thing known of a patch; kinds: 0 read, 1 judged, 2 kept."""
    if patch.density is not None:
        yield patch.density, (0.0, 0.0, 0.0), None, 0
    if patch.judgement is not None:
        darkness = np.mean(gradient) * np.log10(2) * patch.judgement.stops_too_dark
        yield aim, tuple(cast_in_density(patch.judgement) + darkness), patch.judgement.person, 1
    elif patch.kept and patch.density is None:
        yield aim, (0.0, 0.0, 0.0), None, 2


def _noise(
    whole: Ints, real: Floats, papers: tuple[str, ...], curves: dict[str, LayerCurves], priors: Priors
) -> Floats:
    """Covariance of each observation, frozen at the measured density [density^2]."""
    rows = len(whole)
    noise = np.zeros((rows, 3, 3))
    diagonal = np.arange(3)
    patch = priors.patch.common**2 + priors.patch.colour**2 * np.eye(3)
    for index, name in enumerate(papers):
        mine = (whole[:, 3] == index) & (whole[:, 11] == 0)
        if not mine.any():
            continue
        h, slope = curves[name].log_exposure_at(real[mine, 13:16])
        away = (priors.curve_error * h) ** 2
        scatter = patch + away[:, :, None] * np.eye(3)
        noise[mine] = slope @ scatter @ np.swapaxes(slope, 1, 2)
    noise[:, diagonal, diagonal] += (real[:, 19] ** 2 + 0.002**2)[:, None]
    judged = whole[:, 11] == 1
    if judged.any():
        seen = real[judged, 16:19]
        dark = seen.mean(axis=1, keepdims=True)
        cast = np.abs(seen - dark).max(axis=1)
        common = priors.eye_darkness**2 + (priors.eye_share * dark[:, 0]) ** 2
        colour = priors.eye_cast**2 + (priors.eye_share * cast) ** 2
        noise[judged] = common[:, None, None] + colour[:, None, None] * np.eye(3)
    noise[whole[:, 11] == 2] = priors.kept_by_eye**2 * np.eye(3)
    return noise


def _cut_knots(cell_frame: Ints, cell_run: Ints, runs: int) -> tuple[npt.NDArray[np.bool_], Ints, int]:
    """Which cells have their run to themselves.

    Frames that share drums hang together; each knot is solved as one block. A run that would
    make a knot too large is cut: its frames then count as if each had been in a drum alone.
    """
    cells_in_run = np.bincount(cell_run, minlength=runs)
    nested = cells_in_run[cell_run] == 1
    run_of_cell = cell_run.copy()
    if nested.all():
        return nested, run_of_cell, runs
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
    return nested, run_of_cell, runs
