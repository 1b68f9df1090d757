"""What density a frame would get at a setting, under stated conditions, and how sure that is."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import scipy.linalg

from printlore.core.light.setting import Setting
from printlore.core.memory.columns import Columns, Floats, Ints, aged, day_of
from printlore.core.memory.evidence import BathState, FrameFacts
from printlore.core.memory.model import predict, reading_gain, spread_covariance
from printlore.core.memory.solve import Memory
from printlore.errors import UnknownRecord


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """What a print would be made with.

    Attributes
    ----------
    frame, head, lot, bath : str
        Names; the frame, lot and bath may be newer than the memory.
    date : float
        [d], as in the trials
    bath_state : BathState
    """

    frame: str
    head: str
    lot: str
    bath: str
    date: float = 0.0
    bath_state: BathState = field(default_factory=BathState)


@dataclass(frozen=True, slots=True)
class Forecast:
    """Predicted densities of n settings.

    Attributes
    ----------
    log_exposure : (n, 3) above the paper's aim [log10]
    density : (n, 3) mean
    knowledge : (n, 3, 3) covariance from what is not known of frame, paper, dials ...
    scatter : (n, 3, 3) covariance that a print has even if all is known
    by_layer : (n, 3, 3) d density / d log exposure
    by_shared : (n, 3, shared) d density / d shared effects, with the frame following them
    """

    log_exposure: Floats
    density: Floats
    knowledge: Floats
    scatter: Floats
    by_layer: Floats
    by_shared: Floats

    @property
    def covariance(self) -> Floats:
        """(n, 3, 3) of a print to be made."""
        return self.knowledge + self.scatter


@dataclass(frozen=True, slots=True)
class Standpoint:
    """Conditions looked up in the memory once: everything that does not depend on the setting.

    Attributes
    ----------
    additive : (3,) blocks and frame at their mode [log10]
    blocks, shares : indices of the blocks that apply, and how much of each
    follow : (3, shared) how the frame's mode follows the shared effects
    spread : (3, 3) covariance of the log exposure beside the shared effects
    """

    memory: Memory
    conditions: Conditions
    row: dict[str, int]
    reading: Floats
    additive: Floats
    blocks: Ints
    shares: Floats
    follow: Floats
    spread: Floats
    frame_trials: int


def look_up(memory: Memory, conditions: Conditions) -> Standpoint:
    """Find the effects that apply under these conditions.

    Raises
    ------
    UnknownRecord
        If the head, paper or process is not in the memory.
    """
    names, evidence, learned = memory.columns.names, memory.evidence, memory.learned
    for what, name, known in (
        ("head", conditions.head, evidence.heads),
        ("lot", conditions.lot, evidence.lots),
        ("bath", conditions.bath, evidence.baths),
        ("frame", conditions.frame, evidence.frames),
    ):
        if name not in known:
            raise UnknownRecord(f'There is no {what} "{name}" in the studio. Add it, or name another.')
    frame = evidence.frames[conditions.frame]
    paper = evidence.lots[conditions.lot]
    size = memory.layout.size
    spread = np.zeros((3, 3))
    additive = np.zeros(3)
    blocks: list[int] = []
    shares: list[float] = []
    index = {key: place for place, key in enumerate(names.blocks)}

    def block(key: tuple[str, ...], covariance: Floats, share: float = 1.0) -> None:
        nonlocal spread, additive
        if key in index:
            blocks.append(index[key])
            shares.append(share)
            additive = additive + share * memory.state.blocks[index[key]]
        else:
            spread = spread + share**2 * covariance

    film_spread = learned.film if frame.reading is None else learned.film_read
    block(("film", frame.film), spread_covariance(film_spread))
    first_lot = next(lot for lot, of in evidence.lots.items() if of == paper)
    if conditions.lot != first_lot:
        block(("lot", conditions.lot), spread_covariance(learned.lot))
    block(("bath", conditions.bath), spread_covariance(learned.bath))
    block(("pace", conditions.bath), spread_covariance(learned.pace), aged(conditions.bath_state, memory.priors))
    dates = [(float(key[2]), place) for place, key in enumerate(names.blocks) if key[:2] == ("date", conditions.head)]
    day = day_of(conditions.date)
    if dates:
        nearest, place = min(dates, key=lambda d: abs(d[0] - day))
        blocks.append(place)
        shares.append(1.0)
        additive = additive + memory.state.blocks[place]
        spread = spread + spread_covariance(learned.drift_per_root_day) * abs(nearest - day)
    elif names.heads and conditions.head != names.heads[0]:
        spread = spread + spread_covariance(learned.other_head)

    row, reading = _source_row(memory, conditions)
    follow = np.zeros((3, size + 3 * len(names.blocks)))
    trials = 0
    place_of_frame = {name: place for place, name in enumerate(names.frames)}
    local = place_of_frame.get(conditions.frame)
    printed = local is not None and bool(np.any(memory.columns.cell_frame == local))
    if local is not None and printed:
        trials = int(np.sum(memory.columns.cell_frame == local))
        additive = additive + memory.state.frames[local]
        follow = memory.elimination.regression[3 * local : 3 * local + 3].toarray()
        spread = spread + memory.elimination.local_covariance[local]
    else:
        spread = spread + frame_covariance(memory, frame, row["source"])
    row |= {
        "head": names.heads.index(conditions.head),
        "paper": names.papers.index(paper),
        "process": names.processes.index(evidence.baths[conditions.bath]),
    }
    return Standpoint(
        memory=memory,
        conditions=conditions,
        row=row,
        reading=reading,
        additive=additive,
        blocks=np.array(blocks, dtype=np.int64),
        shares=np.array(shares),
        follow=follow,
        spread=spread,
        frame_trials=trials,
    )


def frame_covariance(memory: Memory, frame: FrameFacts, source: int) -> Floats:
    """(3, 3) covariance of a frame that was not printed yet, beside its film and its reading [log10^2]."""
    if frame.reading is None:
        return spread_covariance(memory.learned.frame_blind)
    gain = reading_gain(memory.layout, memory.state.general, source) if source >= 0 else np.eye(3)
    return spread_covariance(memory.learned.frame_read) + frame.reading.standard_error**2 * gain @ gain.T


def _source_row(memory: Memory, conditions: Conditions) -> tuple[dict[str, int], Floats]:
    """Source index and centred reading of the frame, by the means that the memory was solved with."""
    frame = memory.evidence.frames[conditions.frame]
    columns = memory.columns
    if frame.reading is not None and frame.reading.source in columns.reading_mean:
        source = frame.reading.source
        reading = np.array(frame.reading.density) - columns.reading_mean[source]
        return {"source": columns.names.sources.index(source)}, reading
    for place, source in enumerate(columns.names.sources):
        if (frame.film, source) in columns.film_reading:
            return {"source": place}, columns.film_reading[frame.film, source]
    return {"source": -1}, np.zeros(3)


def forecast(standpoint: Standpoint, settings: Sequence[Setting]) -> Forecast:
    """Densities at these settings."""
    memory, conditions = standpoint.memory, standpoint.conditions
    columns = _rows(standpoint, settings)
    additive = np.broadcast_to(standpoint.additive, (len(settings), 3))
    prediction = predict(memory.layout, columns, memory.state.general, additive, memory.priors)
    size = memory.layout.size
    slope = prediction.by_layer
    shared = np.zeros((len(settings), 3, size + 3 * len(memory.columns.names.blocks)))
    shared[:, :, :size] = prediction.by_general
    for block, share in zip(standpoint.blocks.tolist(), standpoint.shares.tolist(), strict=True):
        shared[:, :, size + 3 * block : size + 3 * block + 3] += share * slope
    shared -= slope @ standpoint.follow
    half = scipy.linalg.solve_triangular(
        memory.elimination.factor, shared.reshape(-1, shared.shape[2]).T, lower=True, check_finite=False
    )
    half = half.reshape(half.shape[0], len(settings), 3)
    knowledge = np.einsum("snk,snl->nkl", half, half, optimize=True)
    beside = standpoint.spread + _unknown_stop(memory, conditions, settings)[:, None, None]
    knowledge += slope @ beside @ np.swapaxes(slope, 1, 2)
    learned = memory.learned
    scatter_log = spread_covariance(learned.run) + spread_covariance(learned.patch)
    scatter = slope @ scatter_log @ np.swapaxes(slope, 1, 2)
    return Forecast(
        log_exposure=prediction.log_exposure,
        density=prediction.density,
        knowledge=knowledge,
        scatter=scatter,
        by_layer=slope,
        by_shared=shared,
    )


def _unknown_stop(memory: Memory, conditions: Conditions, settings: Sequence[Setting]) -> Floats:
    """Variance of marked stops that the memory has no effect for [log10^2]."""
    usual = memory.evidence.heads[conditions.head].usual.f_number
    known = memory.columns.names.stops
    unknown = [s.f_number != usual and (conditions.head, s.f_number) not in known for s in settings]
    return np.where(unknown, memory.priors.stop**2, 0.0)


def _rows(standpoint: Standpoint, settings: Sequence[Setting]) -> Columns:
    """Hypothetical observations at these settings, for the forward model."""
    memory, conditions, row = standpoint.memory, standpoint.conditions, standpoint.row
    usual = memory.evidence.heads[conditions.head].usual
    stops = {key: place for place, key in enumerate(memory.columns.names.stops)}
    n = len(settings)
    size = np.array([-2 * np.log10((s.magnification + 1) / (usual.magnification + 1)) for s in settings])
    state = conditions.bath_state
    whole = np.zeros(n, dtype=np.int64)
    usual_pack = np.array(usual.pack.as_tuple())
    empty = np.zeros((n, 3))
    return Columns(
        names=memory.columns.names,
        trial=whole,
        cell=whole,
        head=whole + row["head"],
        paper=whole + row["paper"],
        process=whole + row["process"],
        source=whole + row["source"],
        person=whole - 1,
        stop=np.array([stops.get((conditions.head, s.f_number), -1) for s in settings], dtype=np.int64),
        dial=(np.array([s.pack.as_tuple() for s in settings]) - usual_pack) / 100,
        time=np.array([s.time for s in settings]),
        usual_time=np.full(n, usual.time),
        light=np.array([-2 * np.log10(s.f_number / usual.f_number) for s in settings]) + size,
        size=size,
        reading=np.broadcast_to(standpoint.reading, (n, 3)),
        bath_state=np.broadcast_to(np.array([state.area_per_litre, state.age_days, state.strength - 1]), (n, 3)),
        density=empty,
        seen=empty,
        noise=np.zeros((n, 3, 3)),
        beyond=np.zeros((n, 3), dtype=np.int64),
        cell_blocks=np.zeros((0, 5), dtype=np.int64),
        cell_shares=np.zeros((0, 5)),
        cell_frame=whole[:0],
        cell_run=whole[:0],
        cell_nested=np.zeros(0, dtype=bool),
        frame_has_reading=np.zeros(0, dtype=bool),
        frame_source=whole[:0],
        frame_reading_variance=np.zeros(0),
        reading_mean={},
        film_reading={},
        run_count=0,
    )
