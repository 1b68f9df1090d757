"""Kits, opened concentrates, own times and cooling curves: what a studio knows of its baths beside their ledgers."""

import math
from dataclasses import dataclass
from datetime import datetime
from typing import Any, ClassVar, Self

import sqlalchemy as sa

from printlore.core.bath.kit import Kit, Part, Use
from printlore.core.figure import Figure
from printlore.core.plain import from_plain, to_plain
from printlore.errors import ValueOutOfRange
from printlore.records.baths import Bath, Mix, baths_kept_up
from printlore.records.rows import Record, every
from printlore.records.tables import Moment, record_table, refers


def _at_least(what: str, field: str, value: float | None, least: float, unit: str) -> None:
    if value is not None and not (math.isfinite(value) and value >= least):
        raise ValueOutOfRange(f"{what}: {field} is {Figure(value):g} {unit}; it must be {Figure(least):g} or more.")


_kits = record_table(
    "kits",
    sa.Column("name", sa.Text, nullable=False),
    sa.Column("use", sa.Text, nullable=False),
    sa.Column("parts", sa.JSON, nullable=False),
    sa.Column("life_days", sa.REAL),
    sa.Column("hazards", sa.Text, nullable=False, server_default=""),
    sa.Column("safety_sheet_read", sa.Boolean, nullable=False, server_default=sa.text("0")),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class KitRecord(Record):
    """A kit as its user defined it.

    Attributes
    ----------
    kit : Kit
    hazards : str
        From its own safety sheet, in the user's words.
    safety_sheet_read : bool
        The user says so.
    """

    table: ClassVar = _kits
    word: ClassVar = "kit"

    name: str
    kit: Kit
    hazards: str = ""
    safety_sheet_read: bool = False

    def columns(self) -> dict[str, Any]:
        return {
            "name": self.name,
            "use": self.kit.use,
            "parts": to_plain(self.kit.parts),
            "life_days": self.kit.life_days,
            "hazards": self.hazards,
            "safety_sheet_read": self.safety_sheet_read,
        }

    @classmethod
    def from_columns(cls, values: dict[str, Any]) -> Self:
        parts = tuple(from_plain(Part, part, where="A part of the kit") for part in values.pop("parts"))
        kit = Kit(name=values["name"], use=Use(values.pop("use")), parts=parts, life_days=values.pop("life_days"))
        return cls(**values, kit=kit)


_concentrates = record_table(
    "concentrates",
    sa.Column("name", sa.Text, nullable=False),
    refers("kit_id", "kits"),
    sa.Column("part", sa.Text, nullable=False),
    sa.Column("volume", sa.REAL, nullable=False),
    sa.Column("opened_at", Moment, nullable=False),
    sa.Column("price", sa.REAL),
    sa.Column("note", sa.Text, nullable=False, server_default=""),
    sa.CheckConstraint("volume > 0 AND (price IS NULL OR price >= 0)", name="amounts"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Concentrate(Record):
    """An opened bottle: which part of which kit, how much was in it [mL], its price [studio's unit]."""

    table: ClassVar = _concentrates
    word: ClassVar = "concentrate"

    name: str
    kit: str
    part: str
    volume: float
    opened_at: datetime
    price: float | None = None
    note: str = ""

    def __post_init__(self) -> None:
        _at_least(f'Concentrate "{self.name}"', "volume", self.volume, 0.1, "mL")
        _at_least(f'Concentrate "{self.name}"', "price", self.price, 0.0, "")


_own_times = record_table(
    "own_times",
    refers("process_id", "processes"),
    sa.Column("at", Moment, nullable=False),
    sa.Column("temperature", sa.REAL, nullable=False),
    sa.Column("time", sa.REAL, nullable=False),
    sa.Column("note", sa.Text, nullable=False, server_default=""),
    sa.CheckConstraint("time > 0", name="time"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnTimeRecord(Record):
    """A trial of the printer's that came out right: developer temperature [degrees C] and time [s]."""

    table: ClassVar = _own_times
    word: ClassVar = "own time"

    process: str
    at: datetime
    temperature: float
    time: float
    note: str = ""


_cooling_curves = record_table(
    "cooling_curves",
    sa.Column("drum", sa.Text, nullable=False),
    sa.Column("at", Moment, nullable=False),
    sa.Column("volume", sa.REAL, nullable=False),
    sa.Column("wall", sa.REAL, nullable=False),
    sa.Column("times", sa.JSON, nullable=False),
    sa.Column("temperatures", sa.JSON, nullable=False),
    sa.CheckConstraint("volume > 0", name="volume"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class CoolingCurve(Record):
    """A thermometer in one pour: times [s], temperatures [degrees C], volume [mL], drum before [degrees C]."""

    table: ClassVar = _cooling_curves
    word: ClassVar = "cooling curve"

    drum: str
    at: datetime
    volume: float
    wall: float
    times: tuple[float, ...]
    temperatures: tuple[float, ...]


def other_baths(conn: sa.Connection) -> frozenset[str]:
    """Baths that are no developers by the kit they were last mixed from; one without a kit is taken for a developer."""
    used = {kit.name: kit.kit.use for kit in every(conn, KitRecord)}
    kits = {mix.bath: mix.kit for mix in every(conn, Mix)}
    return frozenset(bath for bath, kit in kits.items() if kit and used.get(kit, Use.DEVELOPER) is not Use.DEVELOPER)


def developers(conn: sa.Connection) -> list[Bath]:
    """Developers in use, in the order recorded: what a print can be developed in."""
    others = other_baths(conn)
    return [bath for bath in baths_kept_up(conn) if bath.name not in others]


def developer_after(conn: sa.Connection, last: str | None) -> str | None:
    """Developer for the next print: that of the last one while it is in use, else the one added last that is."""
    there = [bath.name for bath in developers(conn)]
    return last if last in there else next(reversed(there), None)
