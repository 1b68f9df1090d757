"""What density a frame would get at a setting, under stated conditions, and how sure that is."""

from collections import ChainMap
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from printlore.core.light.setting import Setting
from printlore.core.memory.columns import Columns, Floats, aged, day_of, film_block
from printlore.core.memory.evidence import BathState, FrameFacts
from printlore.core.memory.model import Prediction, by_general, curves_of, predict, reading_gain, spread_covariance
from printlore.core.memory.solve import Memory
from printlore.core.paper.layers import LayerCurves
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


@dataclass(frozen=True)
class Standpoint:
    """Conditions looked up in the memory once: everything that does not depend on the setting.

    Attributes
    ----------
    additive, negative : (3,) blocks and frame at their mode; film and frame among them [log10]
    apart : (3, shared) how the log exposure moves with the shared effects, the general ones apart, with the frame
        following them
    spread : (3, 3) covariance of the log exposure beside the shared effects
    common : (3, 3) what of it all prints under these conditions share: a head never used, days since the lamp was seen
    """

    memory: Memory
    conditions: Conditions
    row: dict[str, int]
    reading: Floats
    additive: Floats
    negative: Floats
    apart: Floats
    spread: Floats
    common: Floats

    @cached_property
    def half(self) -> Floats:
        """(shared, 3) of ``apart``: solved for once, whatever settings are asked for."""
        return self.memory.elimination.half(self.apart)

    @cached_property
    def covariances(self) -> tuple[Floats, Floats, Floats]:
        """Of the general effects among themselves, with what is apart, and of that."""
        return self.memory.elimination.covariances(self.half)


@dataclass(frozen=True)
class Forecast:
    """Predicted densities of n settings; their errors are worked out when they are first asked for.

    Attributes
    ----------
    columns : Columns
        The settings as rows of the forward model.
    beside : (n, 3, 3) covariance of the log exposure beside the shared effects
    """

    standpoint: Standpoint
    columns: Columns
    prediction: Prediction
    beside: Floats

    @property
    def log_exposure(self) -> Floats:
        """(n, 3) above the paper's aim [log10]."""
        return self.prediction.log_exposure

    @property
    def density(self) -> Floats:
        """(n, 3) mean."""
        return self.prediction.density

    @property
    def by_layer(self) -> Floats:
        """(n, 3, 3) d density / d log exposure."""
        return self.prediction.by_layer

    @cached_property
    def by_general(self) -> Floats:
        """(n, 3, size) d density / d general effects, all else apart."""
        memory = self.standpoint.memory
        return by_general(memory.layout, self.columns, memory.state.general, self.prediction, memory.priors)

    @cached_property
    def knowledge(self) -> Floats:
        """(n, 3, 3) covariance from what is not known of frame, paper, dials ..."""
        own, mixed, apart = self.standpoint.covariances
        move, slope = self.by_general, self.by_layer
        across = move @ mixed @ np.swapaxes(slope, 1, 2)
        known = move @ own @ np.swapaxes(move, 1, 2) + across + np.swapaxes(across, 1, 2)
        result: Floats = known + slope @ (apart + self.beside) @ np.swapaxes(slope, 1, 2)
        return result

    @cached_property
    def scatter(self) -> Floats:
        """(n, 3, 3) covariance that a print has even if all is known."""
        learned = self.standpoint.memory.learned
        log_exposure = spread_covariance(learned.run) + spread_covariance(learned.patch)
        result: Floats = self.by_layer @ log_exposure @ np.swapaxes(self.by_layer, 1, 2)
        return result

    @property
    def covariance(self) -> Floats:
        """(n, 3, 3) of a print to be made."""
        return self.knowledge + self.scatter

    def only(self, number: int) -> "Forecast":
        """Of one setting."""
        one = slice(number, number + 1)
        columns = self.columns.between(number, number + 1)
        return Forecast(self.standpoint, columns, self.prediction.at(one), self.beside[one])

    def half(self, left: Floats, without: slice = slice(0)) -> Floats:
        """(shared, 3 n) of what moves left (n, 3, 3) times the densities: its products are their covariances.

        Parameters
        ----------
        without : slice of general effects to hold, whatever was learned of the frame by them
        """
        slope, apart = left @ self.by_layer, self.standpoint.apart
        general = left @ self.by_general
        general[:, :, without] = -(slope @ apart[:, without])
        found: Floats = self.standpoint.half @ np.concatenate(np.swapaxes(slope, 1, 2), axis=1)
        return found + self.standpoint.memory.elimination.half_general(np.concatenate(general))


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
    common = np.zeros((3, 3))
    additive = np.zeros(3)
    apart = np.zeros((3, memory.elimination.shared))
    layers = np.arange(3)
    index = names.place_of_block

    def block(key: tuple[str, ...], covariance: Floats, share: float = 1.0) -> Floats:
        """Count the effect in; what is open of it beside the shared effects, if the memory has none of this name."""
        nonlocal additive
        if key not in index:
            return share**2 * covariance
        apart[layers, size + 3 * index[key] + layers] += share
        additive = additive + share * memory.state.blocks[index[key]]
        return np.zeros((3, 3))

    film_spread = learned.film if frame.reading is None else learned.film_read
    own = block(film_block(frame, memory.layout.films_read), spread_covariance(film_spread))
    negative = additive
    first_lot = next(lot for lot, of in evidence.lots.items() if of == paper)
    if conditions.lot != first_lot:
        common += block(("lot", conditions.lot), spread_covariance(learned.lot))
    common += block(("bath", conditions.bath), spread_covariance(learned.bath))
    age = aged(conditions.bath_state, memory.priors)
    common += block(("pace", conditions.bath), spread_covariance(learned.pace), age)
    day = day_of(conditions.date)
    if conditions.head in names.dates_of_head:
        dates, places = names.dates_of_head[conditions.head]
        nearest = int(np.argmin(np.abs(dates - day)))
        place = int(places[nearest])
        apart[layers, size + 3 * place + layers] += 1.0
        additive = additive + memory.state.blocks[place]
        common += spread_covariance(learned.drift_per_root_day) * abs(dates[nearest] - day)
    elif names.heads and conditions.head != names.heads[0]:
        common += spread_covariance(learned.other_head)

    row, reading = _source_row(memory, conditions)
    local = names.place_of_frame.get(conditions.frame, -1)
    if (memory.columns.cell_frame == local).any():
        additive, negative = additive + memory.state.frames[local], negative + memory.state.frames[local]
        apart -= memory.elimination.follow(np.array([local]))[0]
        own = own + memory.elimination.local_covariance[local]
        if names.papers[memory.columns.frame_home[local]] != paper:
            own = own + block(("view", conditions.frame, paper), spread_covariance(learned.view))
    else:
        own = own + frame_covariance(memory, frame, row["source"])
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
        negative=negative,
        apart=apart,
        spread=common + own,
        common=common,
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
    return {"source": -1}, np.zeros(3)


def forecast(standpoint: Standpoint, settings: Sequence[Setting]) -> Forecast:
    """Densities at these settings."""
    memory, conditions = standpoint.memory, standpoint.conditions
    columns = _rows(standpoint, settings)
    additive, negative = (np.tile(part, (len(settings), 1)) for part in (standpoint.additive, standpoint.negative))
    prediction = predict(memory.layout, columns, memory.state.general, additive, negative, memory.priors)
    beside = standpoint.spread + _unknown_stop(memory, conditions, settings)[:, None, None]
    return Forecast(standpoint=standpoint, columns=columns, prediction=prediction, beside=beside)


def _unknown_stop(memory: Memory, conditions: Conditions, settings: Sequence[Setting]) -> Floats:
    """Variance of marked stops that the memory has no effect for [log10^2]."""
    usual = memory.evidence.heads[conditions.head].usual.f_number
    known = memory.columns.names.place_of_stop
    unknown = [s.f_number != usual and (conditions.head, s.f_number) not in known for s in settings]
    return np.where(unknown, memory.priors.stop**2, 0.0)


def _rows(standpoint: Standpoint, settings: Sequence[Setting]) -> Columns:
    """Hypothetical observations at these settings, for the forward model."""
    memory, conditions, row = standpoint.memory, standpoint.conditions, standpoint.row
    usual = memory.evidence.heads[conditions.head].usual
    stops = memory.columns.names.place_of_stop
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
        cell_blocks=np.zeros((0, 6), dtype=np.int64),
        cell_shares=np.zeros((0, 6)),
        cell_frame=whole[:0],
        cell_run=whole[:0],
        cell_nested=np.zeros(0, dtype=bool),
        cell_trial=whole[:0],
        cell_load=whole[:0],
        block_last=np.zeros(0),
        frame_has_reading=np.zeros(0, dtype=bool),
        frame_paper=whole[:0],
        frame_home=whole[:0],
        frame_source=whole[:0],
        frame_reading_variance=np.zeros(0),
        frame_head=whole[:0],
        frame_dial=np.zeros((0, 3)),
        reading_mean={},
        run_count=0,
        loads=ChainMap(),
        load_count=0,
    )


def learned_curves(standpoint: Standpoint) -> LayerCurves:
    """Curves of the paper in use as the memory now sees them."""
    memory = standpoint.memory
    return curves_of(memory.layout, memory.state.general, standpoint.row["paper"])
