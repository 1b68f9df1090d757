"""Processes, working baths, their declared state, and drum loads."""

import math
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Any, ClassVar, Self

import sqlalchemy as sa

from printlore.core.bath.balance import Wear, content_at
from printlore.core.bath.pours import Bled, Bottle, DrumLoad, Event, Gauged, Ledger, Retired, TopUp, weighed
from printlore.core.figure import Figure
from printlore.core.flags import Flag
from printlore.core.memory.evidence import BathState
from printlore.errors import ValueOutOfRange
from printlore.records.rows import Record, every, find, newest
from printlore.records.tables import Moment, record_table, refers

_SECONDS_PER_DAY = 86400.0


def _not_below_zero(what: str, field: str, value: float | None, unit: str) -> None:
    if value is not None and not (math.isfinite(value) and value >= 0):
        raise ValueOutOfRange(f"{what}: {field.replace('_', ' ')} is {Figure(value):g} {unit}; it must be 0 or more.")


def _volumes_drawn(what: str, drawn: Any) -> None:
    """Refuse what cannot have been taken from opened bottles."""
    volumes = list(drawn.values()) if isinstance(drawn, dict) else [None]
    if not all(isinstance(volume, int | float) and 0 <= volume < math.inf for volume in volumes):
        raise ValueOutOfRange(f"{what}: what was drawn from its bottles is {drawn!r:.80}; give each its mL, 0 or more.")


_processes = record_table(
    "processes",
    sa.Column("name", sa.Text, nullable=False),
    sa.Column("developer_temperature", sa.REAL),
    sa.Column("developer_time", sa.REAL),
    sa.Column("note", sa.Text, nullable=False, server_default=""),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Process(Record):
    """A way of processing: developer temperature [degrees C] and time [s], if known."""

    table: ClassVar = _processes
    word: ClassVar = "process"

    name: str
    developer_temperature: float | None = None
    developer_time: float | None = None
    note: str = ""

    def __post_init__(self) -> None:
        _not_below_zero(f'Process "{self.name}"', "developer_time", self.developer_time, "s")
        _not_below_zero(f'Process "{self.name}"', "developer_temperature", self.developer_temperature, "degrees C")


_baths = record_table(
    "baths",
    sa.Column("name", sa.Text, nullable=False),
    refers("process_id", "processes"),
    sa.Column("mixed_at", Moment, nullable=False),
    sa.Column("volume", sa.REAL),
    sa.Column("note", sa.Text, nullable=False, server_default=""),
    sa.CheckConstraint("volume IS NULL OR volume > 0", name="volume"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bath(Record):
    """A mixed working developer (and what goes with it): process, when it was mixed, volume [mL] if known."""

    table: ClassVar = _baths
    word: ClassVar = "bath"

    name: str
    process: str
    mixed_at: datetime
    volume: float | None = None
    note: str = ""

    def __post_init__(self) -> None:
        if self.volume is not None and not (math.isfinite(self.volume) and self.volume > 0):
            raise ValueOutOfRange(f'Bath "{self.name}": volume is {Figure(self.volume):g} mL; it must be above 0.')


_bath_states = record_table(
    "bath_states",
    refers("bath_id", "baths"),
    sa.Column("at", Moment, nullable=False),
    sa.Column("area_per_litre", sa.REAL, nullable=False),
    sa.Column("age_days", sa.REAL, nullable=False),
    sa.Column("strength", sa.REAL, nullable=False),
    sa.CheckConstraint("area_per_litre >= 0 AND age_days >= 0 AND strength >= 0", name="state"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class DeclaredBathState(Record):
    """State of a bath as the printer states it, from a moment on."""

    table: ClassVar = _bath_states
    word: ClassVar = "bath state"

    bath: str
    at: datetime
    state: BathState

    def columns(self) -> dict[str, Any]:
        return {
            "bath": self.bath,
            "at": self.at,
            "area_per_litre": self.state.area_per_litre,
            "age_days": self.state.age_days,
            "strength": self.state.strength,
        }

    @classmethod
    def from_columns(cls, values: dict[str, Any]) -> Self:
        state = BathState(**{name: values.pop(name) for name in ("area_per_litre", "age_days", "strength")})
        return cls(**values, state=state)


_runs = record_table(
    "runs",
    sa.Column("name", sa.Text, nullable=False),
    refers("bath_id", "baths"),
    sa.Column("at", Moment, nullable=False),
    sa.Column("drum", sa.Text, nullable=False, server_default=""),
    sa.Column("area", sa.REAL),
    sa.Column("water_in", sa.REAL),
    sa.Column("solution_out", sa.REAL),
    sa.Column("temperature", sa.REAL),
    sa.Column("note", sa.Text, nullable=False, server_default=""),
    sa.CheckConstraint("area >= 0 AND water_in >= 0 AND solution_out >= 0", name="amounts"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Run(Record):
    """One drum load through the baths.

    Attributes
    ----------
    name, bath, drum : str
    at : datetime
    area : float or None
        Paper in the drum [m2].
    water_in, solution_out : float or None
        Carried into and out of the developer [mL].
    temperature : float or None
        Of the developer as poured [degrees C].
    """

    table: ClassVar = _runs
    word: ClassVar = "run"

    name: str
    bath: str
    at: datetime
    drum: str = ""
    area: float | None = None
    water_in: float | None = None
    solution_out: float | None = None
    temperature: float | None = None
    note: str = ""

    def __post_init__(self) -> None:
        for field, unit in (("area", "m2"), ("water_in", "mL"), ("solution_out", "mL")):
            _not_below_zero(f'Run "{self.name}"', field, getattr(self, field), unit)


_mixes = record_table(
    "mixes",
    refers("bath_id", "baths"),
    refers("kit_id", "kits", required=False),
    sa.Column("at", Moment, nullable=False),
    sa.Column("volume", sa.REAL, nullable=False),
    sa.Column("bottle", sa.REAL, nullable=False),
    sa.Column("no_air", sa.Boolean, nullable=False, server_default=sa.text("0")),
    sa.Column("strength", sa.REAL, nullable=False, server_default=sa.text("1")),
    sa.Column("drawn", sa.JSON, nullable=False),
    sa.CheckConstraint("volume > 0 AND bottle >= volume AND strength > 0", name="amounts"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Mix(Record):
    """How a bath was mixed.

    Attributes
    ----------
    bath, kit : str
    at : datetime
    volume, bottle : float
        Mixed, and what its bottle holds [mL].
    no_air : bool
        Kept with no air over it.
    strength : float
        Relative to the kit's sheet [1].
    drawn : dict of concentrate name to mL
        What was taken from which opened bottle.
    """

    table: ClassVar = _mixes
    word: ClassVar = "mix"

    bath: str
    kit: str | None = None
    at: datetime
    volume: float
    bottle: float
    no_air: bool = False
    strength: float = 1.0
    drawn: dict[str, float]

    def __post_init__(self) -> None:
        _volumes_drawn(f'Mixing of "{self.bath}"', self.drawn)


_bath_events = record_table(
    "bath_events",
    refers("bath_id", "baths"),
    sa.Column("at", Moment, nullable=False),
    sa.Column("kind", sa.Text, nullable=False),
    sa.Column("volume", sa.REAL),
    sa.Column("bled", sa.REAL),
    sa.Column("strength", sa.REAL),
    sa.Column("drawn", sa.JSON, nullable=False),
    sa.Column("note", sa.Text, nullable=False, server_default=""),
    sa.CheckConstraint("kind IN ('top up', 'bleed', 'gauged', 'retired')", name="kind"),
    sa.CheckConstraint("(kind = 'retired') = (volume IS NULL)", name="volume"),
    sa.CheckConstraint("volume >= 0 AND bled >= 0 AND strength >= 0", name="amounts"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class BathEvent(Record):
    """Something done to a bath between drum loads.

    Attributes
    ----------
    kind : str
        "top up", "bleed", "gauged" (the volume was read off the bottle) or "retired".
    volume, bled : float or None
        Added, taken out or read; taken out before a top-up [mL].
    strength : float or None
        Of what was added [1].
    """

    table: ClassVar = _bath_events
    word: ClassVar = "bath event"

    bath: str
    at: datetime
    kind: str
    volume: float | None = None
    bled: float | None = None
    strength: float | None = None
    drawn: dict[str, float]
    note: str = ""

    def __post_init__(self) -> None:
        _volumes_drawn(f'{self.kind.capitalize()} of "{self.bath}"', self.drawn)


USUAL_VOLUME = 500.0
"""[mL] Taken where no volume was recorded; said in the doubts."""
OPEN_MINUTES = 3.0
"""[min] How long the bath stands open for one drum load (from memory)."""
_NO_AIR_LOSS = Wear(oxidation=0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """The ledger of a bath as its records give it; days count from its mixing.

    Attributes
    ----------
    ledger : Ledger
    mixed_at : datetime
    runs : tuple of str
        Names of the drum loads, in the order of the ledger.
    doubts : tuple of str
        What had to be assumed, in words.
    """

    ledger: Ledger
    mixed_at: datetime
    runs: tuple[str, ...]
    doubts: tuple[str, ...]

    def day(self, at: datetime) -> float:
        """Days from mixing to a moment [d]."""
        return (at.astimezone(UTC) - self.mixed_at).total_seconds() / _SECONDS_PER_DAY

    def moment(self, day: float) -> datetime:
        """The moment that lies so many days [d] after mixing."""
        return self.mixed_at + timedelta(days=day)


def _event(row: BathEvent, day: float) -> Event:
    if row.kind == "top up":
        strength = 1.0 if row.strength is None else row.strength
        return TopUp(day=day, volume=row.volume or 0.0, bled=row.bled or 0.0, strength=strength)
    if row.kind == "bleed":
        return Bled(day=day, volume=row.volume or 0.0)
    if row.kind == "gauged":
        return Gauged(day=day, volume=row.volume or 0.0)
    return Retired(day=day)


def ledger_of(conn: sa.Connection, bath: str, until: datetime | None = None) -> Kept:
    """Everything recorded of a bath, up to a moment, as one ledger.

    Raises
    ------
    UnknownRecord
        If there is no such bath.
    """
    record = find(conn, Bath, bath)
    mixes = every(conn, Mix, bath=bath)
    mix = mixes[-1] if mixes else None
    end = datetime.max.replace(tzinfo=UTC) if until is None else until.astimezone(UTC)
    doubts = []
    volume = mix.volume if mix else record.volume
    if volume is None:
        volume = USUAL_VOLUME
        doubts.append(f"its volume was not recorded; {Figure(USUAL_VOLUME):g} mL is taken")
    bottle = Bottle(capacity=mix.bottle, no_air=mix.no_air) if mix else Bottle(capacity=1.2 * volume, no_air=True)
    runs = [run for run in every(conn, Run, bath=bath) if run.at <= end]
    early = [run.name for run in runs if run.at < record.mixed_at]
    if early:
        doubts.append(f"dated before mixing, counted as at mixing: {', '.join(early)}")
    bare = sum(run.area is None for run in runs)
    if bare:
        doubts.append(f"{bare} of {len(runs)} drum loads have no area and count as none")

    def day(at: datetime) -> float:
        return max((at - record.mixed_at).total_seconds() / _SECONDS_PER_DAY, 0.0)

    dated: list[tuple[float, Event, str]] = [
        (
            day(run.at),
            DrumLoad(
                day=day(run.at),
                area=run.area or 0.0,
                water_in=run.water_in,
                solution_out=run.solution_out,
                open_minutes=OPEN_MINUTES,
            ),
            run.name,
        )
        for run in runs
    ]
    dated += [(day(row.at), _event(row, day(row.at)), "") for row in every(conn, BathEvent, bath=bath) if row.at <= end]
    dated.sort(key=lambda item: (item[0], isinstance(item[1], Retired)))
    given_up = [item for item in dated if isinstance(item[1], Retired)]
    if given_up and not isinstance(dated[-1][1], Retired):
        # what went through it all the same is kept and counted: the paper did
        after = sum(item[0] >= given_up[0][0] and not isinstance(item[1], Retired) for item in dated)
        doubts.append(f"{after} entries are dated after it was retired; they count, and it is retired after them")
        end_day = dated[-1][0]
        dated = [item for item in dated if not isinstance(item[1], Retired)]
        dated.append((end_day, Retired(day=end_day), ""))
    elif len(given_up) > 1:
        dated = [item for item in dated if not isinstance(item[1], Retired)] + given_up[-1:]
    ledger = Ledger(
        day=0.0,
        volume=volume,
        events=tuple(event for _, event, _ in dated),
        bottle=bottle,
        strength=mix.strength if mix else 1.0,
    )
    declared = [row for row in every(conn, DeclaredBathState, bath=bath) if row.at <= end]
    if declared:
        last = max(declared, key=lambda row: (row.at, row.id))
        since = day(last.at)
        before = content_at(ledger, since, _NO_AIR_LOSS, strict=False)
        ledger = replace(
            ledger,
            day=since,
            volume=min(max(before.volume, 1.0), bottle.capacity),
            events=tuple(event for event in ledger.events if event.day > since),
            strength=max(last.state.strength, 1e-6),
            area_per_litre=last.state.area_per_litre,
            age_days=last.state.age_days,
        )
        doubts.append("its state was stated by hand, and the ledger goes on from there")
    weighed_loads, loads = weighed(ledger.events)
    if weighed_loads < loads:
        doubts.append(f"{Flag.USUAL_CARRY.words} ({loads - weighed_loads} of {loads} drum loads)")
    return Kept(
        ledger=ledger,
        mixed_at=record.mixed_at,
        runs=tuple(name for _, event, name in dated if isinstance(event, DrumLoad)),
        doubts=tuple(doubts),
    )


def is_retired(conn: sa.Connection, bath: str) -> bool:
    """Whether a bath was given up."""
    return any(row.kind == "retired" for row in every(conn, BathEvent, bath=bath))


UNKNOWN_DAY = datetime(2000, 1, 1, tzinfo=UTC)
"""When a bath that only old notes know was mixed and given up: nothing is known of either day, and its age stays 0."""


def baths_kept_up(conn: sa.Connection) -> list[Bath]:
    """Baths that were not given up, in the order recorded; without those that only old notes know.

    Such a bath is given up as it is entered. One that was entered before that was done has no day, nothing was ever
    done to it, and nothing but old notes was printed in it; with the first drum load or print of today it counts, and
    so does one whose giving up was taken back.
    """
    gone = {row.bath for row in every(conn, BathEvent) if row.kind == "retired"}
    there = [bath for bath in every(conn, Bath) if bath.name not in gone]
    noted = _only_noted(conn) if any(bath.mixed_at == UNKNOWN_DAY for bath in there) else set()
    return [bath for bath in there if bath.mixed_at != UNKNOWN_DAY or bath.id not in noted]


def _only_noted(conn: sa.Connection) -> set[int]:
    """Numbers of the baths in which old notes were printed, and nothing else was done."""
    trials = newest("trials", "bath_id", "source") + " AND this.removed = 0"
    printed = [(bath, source) for _, bath, source in conn.exec_driver_sql(trials)]
    used = {bath for bath, source in printed if source != "notebook"}
    for table in ("bath_states", "runs", "mixes", "bath_events"):
        used |= {bath for _, bath in conn.exec_driver_sql(newest(table, "bath_id"))}
    return {bath for bath, _ in printed} - used


def bath_state(conn: sa.Connection, bath: str, at: datetime) -> BathState:
    """State of a bath at a moment, from its ledger: the one home of what a bath is.

    Strength is by carried-in water and use alone; what air does is for the age to tell. The usual figures
    of wear are taken, so that the state of a day stays what it was when more is learned.
    """
    kept = ledger_of(conn, bath, until=at)
    return content_at(kept.ledger, max(kept.day(at), kept.ledger.day), _NO_AIR_LOSS, strict=False).state()
