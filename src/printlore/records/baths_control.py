"""Control patches, the limits typed in, and how faults were found."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any, ClassVar, Self

import sqlalchemy as sa

from printlore.core.control.limits import Wedge
from printlore.records.rows import Record
from printlore.records.tables import Moment, record_table, refers

_controls = record_table(
    "control_readings",
    refers("bath_id", "baths"),
    refers("run_id", "runs", required=False),
    sa.Column("at", Moment, nullable=False),
    sa.Column("exposed_by", sa.Text, nullable=False),
    sa.Column("source", sa.Text, nullable=False),
    sa.Column("densities", sa.JSON, nullable=False),
    sa.Column("good", sa.Boolean, nullable=False, server_default=sa.text("0")),
    sa.Column("note", sa.Text, nullable=False, server_default=""),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ControlRecord(Record):
    """One control patch, as read.

    Attributes
    ----------
    bath, run : str
        Which developer and which drum load, if known.
    exposed_by : str
        "frozen strip", "empty carrier" or "trim": what exposed it decides what it can tell.
    source : str
        What read it: a scanner's name or "typed".
    wedge : Wedge
    good : bool
        Known to be good: one of those that make the aim.
    """

    table: ClassVar = _controls
    word: ClassVar = "control reading"

    bath: str
    run: str | None = None
    at: datetime
    exposed_by: str = "frozen strip"
    source: str = "typed"
    wedge: Wedge
    good: bool = False
    note: str = ""

    def columns(self) -> dict[str, Any]:
        wedge = self.wedge
        return {
            "bath": self.bath,
            "run": self.run,
            "at": self.at,
            "exposed_by": self.exposed_by,
            "source": self.source,
            "densities": [list(step) for step in (wedge.white, wedge.light, wedge.dark, wedge.black)],
            "good": self.good,
            "note": self.note,
        }

    @classmethod
    def from_columns(cls, values: dict[str, Any]) -> Self:
        white, light, dark, black = (tuple(step) for step in values.pop("densities"))
        return cls(**values, wedge=Wedge(white=white, light=light, dark=dark, black=black))


_limits = record_table(
    "control_limits",
    sa.Column("look", sa.JSON, nullable=False),
    sa.Column("stop", sa.JSON, nullable=False),
    sa.Column("source", sa.Text, nullable=False),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitsRecord(Record):
    """Limits typed in, by quantity [density], and where they came from; the newest counts."""

    table: ClassVar = _limits
    word: ClassVar = "control limits"

    look: dict[str, float]
    stop: dict[str, float]
    source: str


_outcomes = record_table(
    "fault_outcomes",
    sa.Column("at", Moment, nullable=False),
    sa.Column("cause", sa.Text, nullable=False),
    sa.Column("seen", sa.JSON, nullable=False),
    sa.Column("results", sa.JSON, nullable=False),
    sa.Column("note", sa.Text, nullable=False, server_default=""),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultOutcome(Record):
    """What a fault turned out to be: cause, symptoms seen, test results."""

    table: ClassVar = _outcomes
    word: ClassVar = "fault outcome"

    at: datetime
    cause: str
    seen: tuple[str, ...]
    results: dict[str, bool]
    note: str = ""
