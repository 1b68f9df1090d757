"""Waste by container, what the local authority said, and the diary of exposure."""

import math
from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

import sqlalchemy as sa

from printlore.core.figure import Figure
from printlore.errors import ValueOutOfRange
from printlore.records.rows import Record
from printlore.records.tables import Moment, record_table, refers

_containers = record_table(
    "waste_containers",
    sa.Column("name", sa.Text, nullable=False),
    sa.Column("holds", sa.Text, nullable=False),
    sa.Column("capacity", sa.REAL, nullable=False),
    sa.CheckConstraint("capacity > 0", name="capacity"),
    sa.CheckConstraint("holds IN ('silver', 'developer', 'stop')", name="holds"),
)
HOLDS = {
    "silver": "used bleach-fix and first washes, silver",
    "developer": "used colour developer",
    "stop": "used stop bath, acid",
}
"""What a container may hold; each kind by itself: acid or developer in bleach-fix gives off gas."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WasteContainer(Record):
    """A labelled container: what it holds ("silver", "developer" or "stop") and how much it takes [L]."""

    table: ClassVar = _containers
    word: ClassVar = "waste container"

    name: str
    holds: str
    capacity: float

    def __post_init__(self) -> None:
        if self.holds not in HOLDS:
            raise ValueOutOfRange(
                f'A container for "{self.holds}" is not kept; use one of {", ".join(HOLDS)}, each in its own container.'
            )
        if not (math.isfinite(self.capacity) and 0 < self.capacity <= 1000):
            raise ValueOutOfRange(
                f'Container "{self.name}": {Figure(self.capacity):g} L cannot be; give what it holds in litres.'
            )


_entries = record_table(
    "waste_entries",
    refers("container_id", "waste_containers"),
    refers("bath_id", "baths", required=False),
    sa.Column("at", Moment, nullable=False),
    sa.Column("litres", sa.REAL, nullable=False),
    sa.Column("what", sa.Text, nullable=False),
    sa.Column("handed_to", sa.Text, nullable=False, server_default=""),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class WasteEntry(Record):
    """Poured in (above 0) or handed over (below 0) [L]; to whom, if handed over."""

    table: ClassVar = _entries
    word: ClassVar = "waste entry"

    container: str
    bath: str | None = None
    at: datetime
    litres: float
    what: str
    handed_to: str = ""

    def __post_init__(self) -> None:
        if not (math.isfinite(self.litres) and self.litres != 0):
            raise ValueOutOfRange(f"Waste of {Figure(self.litres):g} L cannot be entered; give litres.")


_answers = record_table(
    "disposal_answers",
    sa.Column("at", Moment, nullable=False),
    sa.Column("authority", sa.Text, nullable=False),
    sa.Column("holds", sa.Text, nullable=False),
    sa.Column("answer", sa.Text, nullable=False),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class DisposalAnswer(Record):
    """What the local authority said about a kind of waste, in its words."""

    table: ClassVar = _answers
    word: ClassVar = "disposal answer"

    at: datetime
    authority: str
    holds: str
    answer: str


_diary = record_table(
    "exposure_diary",
    sa.Column("at", Moment, nullable=False),
    sa.Column("person", sa.Text, nullable=False),
    sa.Column("minutes", sa.REAL, nullable=False),
    sa.Column("substances", sa.Text, nullable=False),
    sa.Column("gloves", sa.Boolean, nullable=False),
    sa.Column("goggles", sa.Boolean, nullable=False),
    sa.Column("ventilation", sa.Boolean, nullable=False),
    sa.Column("symptoms", sa.Text, nullable=False, server_default=""),
    sa.CheckConstraint("minutes >= 0", name="minutes"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class DiaryEntry(Record):
    """Who worked with what for how long, with which protection, and any rash, wheeze or headache."""

    table: ClassVar = _diary
    word: ClassVar = "diary entry"

    at: datetime
    person: str
    minutes: float
    substances: str
    gloves: bool
    goggles: bool
    ventilation: bool
    symptoms: str = ""

    def __post_init__(self) -> None:
        if not (math.isfinite(self.minutes) and 0 <= self.minutes <= 1440):
            raise ValueOutOfRange(f"{Figure(self.minutes):g} minutes of exposure in a day cannot be; give 0 to 1440.")
