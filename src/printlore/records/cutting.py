"""Trimmers, cut plans, sittings and their presses."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any, ClassVar, Self

import sqlalchemy as sa

from printlore.core.cutting.blind import Event
from printlore.core.cutting.plan import Plan, Sitting
from printlore.core.cutting.procedure import Procedure
from printlore.core.cutting.sections import Kind
from printlore.core.cutting.wanted import Trimmer
from printlore.core.plain import from_plain, to_plain
from printlore.records.rows import Record, every
from printlore.records.tables import Moment, record_table, refers

_trimmers = record_table(
    "trimmers",
    sa.Column("name", sa.Text, nullable=False),
    sa.Column("body", sa.JSON, nullable=False),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class TrimmerRecord(Record):
    """A trimmer of the studio."""

    table: ClassVar = _trimmers
    word: ClassVar = "trimmer"

    name: str
    trimmer: Trimmer

    def columns(self) -> dict[str, Any]:
        return {"name": self.name, "body": to_plain(self.trimmer)}

    @classmethod
    def from_columns(cls, values: dict[str, Any]) -> Self:
        body = {key: value for key, value in values.pop("body").items() if value is not None}
        return cls(**values, trimmer=from_plain(Trimmer, body, where="trimmer"))


_plans = record_table(
    "cut_plans",
    sa.Column("name", sa.Text, nullable=False),
    sa.Column("at", Moment, nullable=False),
    sa.Column("body", sa.JSON, nullable=False),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanRecord(Record):
    """A cut plan as it was chosen."""

    table: ClassVar = _plans
    word: ClassVar = "cut plan"

    name: str
    at: datetime
    plan: Plan

    def columns(self) -> dict[str, Any]:
        plan = self.plan
        body = {
            "sittings": to_plain(plan.sittings),
            "made": dict(plan.made),
            "short": dict(plan.short),
            "spare": [[*key[:3], key[3].value, count] for key, count in plan.spare.items()],
            "settings_bound": plan.settings_bound,
            "paper_bound": plan.paper_bound,
            "seconds": plan.seconds,
        }
        return {"name": self.name, "at": self.at, "body": body}

    @classmethod
    def from_columns(cls, values: dict[str, Any]) -> Self:
        body = values.pop("body")
        plan = Plan(
            sittings=tuple(from_plain(Sitting, one, where="sitting") for one in body["sittings"]),
            made=body["made"],
            short=body["short"],
            spare={(lot, along, across, Kind(kind)): n for lot, along, across, kind, n in body["spare"]},
            settings_bound=body["settings_bound"],
            paper_bound=body["paper_bound"],
            seconds=body["seconds"],
        )
        return cls(**values, plan=plan)


_sittings = record_table(
    "cut_sittings",
    sa.Column("name", sa.Text, nullable=False),
    refers("plan_id", "cut_plans"),
    sa.Column("number", sa.Integer, nullable=False),
    sa.Column("at", Moment, nullable=False),
    sa.Column("body", sa.JSON, nullable=False),
    sa.Column("booked", sa.Boolean, nullable=False, server_default=sa.text("0")),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SittingRecord(Record):
    """One sitting of a plan (number from 1) as it is spoken; ``booked`` once its sheets are in the ledger."""

    table: ClassVar = _sittings
    word: ClassVar = "sitting"

    name: str
    plan: str
    number: int
    at: datetime
    procedure: Procedure
    booked: bool = False

    def columns(self) -> dict[str, Any]:
        return {
            "name": self.name,
            "plan": self.plan,
            "number": self.number,
            "at": self.at,
            "body": to_plain(self.procedure),
            "booked": self.booked,
        }

    @classmethod
    def from_columns(cls, values: dict[str, Any]) -> Self:
        body = values.pop("body")
        return cls(**values, procedure=from_plain(Procedure, body, where="procedure"))


_events = record_table(
    "cut_events",
    refers("sitting_id", "cut_sittings"),
    sa.Column("number", sa.Integer, nullable=False),
    sa.Column("event", sa.Text, nullable=False),
    sa.Index("uq_cut_events_number", "sitting_id", "number", unique=True),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class CutEvent(Record):
    """One press (or undo, spoiled, end) in a sitting, numbered from 1 so that none is counted twice."""

    table: ClassVar = _events
    word: ClassVar = "press"

    sitting: str
    number: int
    event: Event

    @classmethod
    def from_columns(cls, values: dict[str, Any]) -> Self:
        return cls(**(values | {"event": Event(values["event"])}))


def events_of(conn: sa.Connection, sitting: SittingRecord) -> list[Event]:
    """Presses of a sitting in order."""
    rows = sorted(every(conn, CutEvent, sitting=sitting.name), key=lambda row: row.number)
    return [row.event for row in rows]
