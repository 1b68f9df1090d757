"""Evenings as rows of events, the printer's own sequences, and which page has the voice."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any, ClassVar, Self

import sqlalchemy as sa

from printlore.core.evening.events import KINDS, Event, What
from printlore.core.evening.process import Sequence
from printlore.core.evening.voice import Voice
from printlore.core.plain import from_plain, to_plain
from printlore.records.rows import Record
from printlore.records.tables import Moment, metadata, record_table, refers

_evenings = record_table(
    "evenings",
    sa.Column("name", sa.Text, nullable=False),
    sa.Column("opened_at", Moment, nullable=False),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class EveningRecord(Record):
    """An evening's name and when it was opened; what happened in it are its events."""

    table: ClassVar = _evenings
    word: ClassVar = "evening"

    name: str
    opened_at: datetime


_events = record_table(
    "evening_events",
    refers("evening_id", "evenings"),
    sa.Column("entry_key", sa.Text, nullable=False),
    sa.Column("at", sa.REAL, nullable=False),
    sa.Column("device", sa.Text, nullable=False),
    sa.Column("kind", sa.Text, nullable=False),
    sa.Column("body", sa.JSON, nullable=False),
    sa.Index("uq_evening_events_entry_key", "evening_id", "entry_key", unique=True),
    sa.Index("ix_evening_events_kind", "kind"),
)

_sequences = record_table(
    "sequences",
    sa.Column("name", sa.Text, nullable=False),
    sa.Column("body", sa.JSON, nullable=False),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SequenceRecord(Record):
    """A processing sequence of the printer's own."""

    table: ClassVar = _sequences
    word: ClassVar = "sequence"

    name: str
    sequence: Sequence

    def columns(self) -> dict[str, Any]:
        return {"name": self.name, "body": to_plain(self.sequence)}

    @classmethod
    def from_columns(cls, values: dict[str, Any]) -> Self:
        body = values.pop("body")
        return cls(**values, sequence=from_plain(Sequence, body, where=f'sequence "{values["name"]}"'))


_voices = sa.Table(
    "evening_voices",
    metadata,
    sa.Column("evening_id", sa.Integer, sa.ForeignKey("evenings.id"), primary_key=True),
    sa.Column("page", sa.Text),
    sa.Column("renewed", sa.REAL, nullable=False),
    sa.Column("turn", sa.Integer, nullable=False),
)
"""Not of the record: a lease, renewed every few seconds, of which only the present state matters."""


def events_of(conn: sa.Connection, evening: EveningRecord) -> tuple[Event, ...]:
    """Everything that happened, in the order of writing."""
    rows = conn.execute(_events_query, {"evening": evening.id})
    return tuple(_event(row) for row in rows)


_events_query = (
    sa.select(_events.c.id, _events.c.entry_key, _events.c.at, _events.c.device, _events.c.kind, _events.c.body)
    .where(_events.c.evening_id == sa.bindparam("evening"))
    .order_by(_events.c.id)
)


def _event(row: Any) -> Event:
    what: What = from_plain(KINDS[row.kind], row.body, where=f"event {row.id}")
    return Event(number=row.id, key=row.entry_key, at=row.at, device=row.device, what=what)


def last_number(conn: sa.Connection, evening: EveningRecord) -> int:
    """Number of the newest event, 0 if there is none."""
    found = conn.execute(sa.select(sa.func.max(_events.c.id)).where(_events.c.evening_id == evening.id)).scalar()
    return int(found or 0)


def event_by_key(conn: sa.Connection, evening: EveningRecord, key: str) -> Event | None:
    """The event that a client wrote under this key, if it did."""
    query = _events_query.where(_events.c.entry_key == key)
    row = conn.execute(query, {"evening": evening.id}).first()
    return None if row is None else _event(row)


def append(conn: sa.Connection, evening: EveningRecord, *, key: str, at: float, device: str, what: What) -> Event:
    """Write one event; the caller has seen that the key is new."""
    kind = next(name for name, known in KINDS.items() if type(what) is known)
    values = {"evening_id": evening.id, "entry_key": key, "at": at, "device": device, "kind": kind}
    number = conn.execute(sa.insert(_events), values | {"body": to_plain(what)}).lastrowid
    return Event(number=number, key=key, at=at, device=device, what=what)


def pours_before(conn: sa.Connection, kind: str, limit: int) -> tuple[float, ...]:
    """Temperatures [degrees C] of the newest pours of this kind of step, newest first; undone ones are left out."""
    later = _events.alias()
    undone = sa.exists().where(
        later.c.evening_id == _events.c.evening_id,
        later.c.kind == "undone",
        later.c.body["key"].as_string() == _events.c.entry_key,
    )
    temperature = _events.c.body["temperature"].as_float()
    query = (
        sa.select(temperature)
        .where(
            _events.c.kind == "poured", _events.c.body["kind"].as_string() == kind, temperature.is_not(None), ~undone
        )
        .order_by(_events.c.id.desc())
        .limit(limit)
    )
    return tuple(conn.execute(query).scalars())


def voice_of(conn: sa.Connection, evening: EveningRecord) -> Voice:
    """Which page has the voice."""
    row = conn.execute(sa.select(_voices).where(_voices.c.evening_id == evening.id)).first()
    return Voice() if row is None else Voice(page=row.page, renewed=row.renewed, turn=row.turn)


def give_voice(conn: sa.Connection, evening: EveningRecord, voice: Voice) -> None:
    """Write which page has the voice."""
    values = {"page": voice.page, "renewed": voice.renewed, "turn": voice.turn}
    if conn.execute(sa.update(_voices).where(_voices.c.evening_id == evening.id).values(**values)).rowcount == 0:
        conn.execute(sa.insert(_voices).values(evening_id=evening.id, **values))
