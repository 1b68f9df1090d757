"""Processes, working baths, their declared state, and drum loads."""

import math
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, ClassVar, Self

import sqlalchemy as sa

from printlore.core.memory.evidence import BathState
from printlore.errors import ValueOutOfRange
from printlore.records.rows import Record, every, find
from printlore.records.tables import Moment, record_table, refers

_SECONDS_PER_DAY = 86400.0


def _not_below_zero(what: str, field: str, value: float | None, unit: str) -> None:
    if value is not None and not (math.isfinite(value) and value >= 0):
        raise ValueOutOfRange(f"{what}: {field.replace('_', ' ')} is {value:g} {unit}; it must be 0 or more.")


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
            raise ValueOutOfRange(f'Bath "{self.name}": volume is {self.volume:g} mL; it must be above 0.')


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


def bath_state(conn: sa.Connection, bath: str, at: datetime) -> BathState:
    """State of a bath at a moment: what was last declared before it, grown older since.

    With nothing declared, a fresh bath as old as its mixing.
    """
    at = at.astimezone(UTC)
    declared = [row for row in every(conn, DeclaredBathState, bath=bath) if row.at <= at]
    if not declared:
        age = (at - find(conn, Bath, bath).mixed_at).total_seconds() / _SECONDS_PER_DAY
        return BathState(age_days=max(age, 0.0))
    last = max(declared, key=lambda row: (row.at, row.id))
    days = (at - last.at).total_seconds() / _SECONDS_PER_DAY
    return BathState(
        area_per_litre=last.state.area_per_litre, age_days=last.state.age_days + days, strength=last.state.strength
    )


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
