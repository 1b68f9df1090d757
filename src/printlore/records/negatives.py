"""Films, frames and readings of the negative."""

import math
from dataclasses import dataclass
from datetime import datetime
from typing import Any, ClassVar, Self

import sqlalchemy as sa

from printlore.core.memory.evidence import NegativeReading
from printlore.errors import ValueOutOfRange
from printlore.records.rows import Record, every_of, newest, newest_records
from printlore.records.tables import Moment, now, record_table, refers

Lab = tuple[float, float, float]

NEUTRAL_GREY: Lab = (52.0, 0.0, 0.0)
"""Usual aim of a grey reference patch, CIELAB D50 (from memory)."""

_films = record_table(
    "films",
    sa.Column("name", sa.Text, nullable=False),
    sa.Column("stock", sa.Text, nullable=False, server_default=""),
    sa.Column("process", sa.Text, nullable=False, server_default=""),
    sa.Column("note", sa.Text, nullable=False, server_default=""),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Film(Record):
    """A film (one kind from one processing, if they differ): what frames of it share in their negatives."""

    table: ClassVar = _films
    word: ClassVar = "film"

    name: str
    stock: str = ""
    process: str = ""
    note: str = ""


_frames = record_table(
    "frames",
    sa.Column("name", sa.Text, nullable=False),
    refers("film_id", "films"),
    sa.Column("number", sa.Text, nullable=False, server_default=""),
    sa.Column("reference_x", sa.REAL),
    sa.Column("reference_y", sa.REAL),
    sa.Column("aim_lightness", sa.REAL, nullable=False),
    sa.Column("aim_a", sa.REAL, nullable=False),
    sa.Column("aim_b", sa.REAL, nullable=False),
    refers("thumbnail_id", "scans", required=False),
    sa.Column("note", sa.Text, nullable=False, server_default=""),
    sa.CheckConstraint("aim_lightness BETWEEN 0 AND 100", name="aim"),
    sa.CheckConstraint("(reference_x IS NULL) = (reference_y IS NULL)", name="reference"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame(Record):
    """One negative.

    Attributes
    ----------
    name : str
        Unique in the studio.
    film : str
    number : str
        As on the film's edge.
    reference : (x, y) or None
        Where the reference patch is: shares of the picture's width (to the right) and height (down) [1].
    aim : (L*, a*, b*)
        Of the reference patch on a good print (CIELAB, D50, 2 degrees).
    thumbnail : str or None
        Hash of a small scan.
    """

    table: ClassVar = _frames
    word: ClassVar = "frame"

    name: str
    film: str
    number: str = ""
    reference: tuple[float, float] | None = None
    aim: Lab = NEUTRAL_GREY
    thumbnail: str | None = None
    note: str = ""

    def __post_init__(self) -> None:
        if self.reference is not None and not all(0 <= share <= 1 for share in self.reference):
            raise ValueOutOfRange(
                f'Frame "{self.name}": the reference patch lies at {self.reference}, outside the picture; '
                "give shares of its width and height between 0 and 1."
            )
        lightness, a, b = self.aim
        if not (0 <= lightness <= 100 and math.isfinite(a) and math.isfinite(b) and max(abs(a), abs(b)) <= 150):
            raise ValueOutOfRange(
                f'Frame "{self.name}": the aim {self.aim} cannot be a colour; give L* 0 to 100, a* and b* within 150.'
            )

    def columns(self) -> dict[str, Any]:
        x, y = self.reference or (None, None)
        return {
            "name": self.name,
            "film": self.film,
            "number": self.number,
            "reference_x": x,
            "reference_y": y,
            "aim_lightness": self.aim[0],
            "aim_a": self.aim[1],
            "aim_b": self.aim[2],
            "thumbnail": self.thumbnail,
            "note": self.note,
        }

    @classmethod
    def from_columns(cls, values: dict[str, Any]) -> Self:
        x, y = values.pop("reference_x"), values.pop("reference_y")
        aim = (values.pop("aim_lightness"), values.pop("aim_a"), values.pop("aim_b"))
        return cls(**values, reference=None if x is None else (x, y), aim=aim)


_negative_readings = record_table(
    "negative_readings",
    refers("frame_id", "frames"),
    sa.Column("red", sa.REAL, nullable=False),
    sa.Column("green", sa.REAL, nullable=False),
    sa.Column("blue", sa.REAL, nullable=False),
    sa.Column("source", sa.Text, nullable=False),
    sa.Column("standard_error", sa.REAL, nullable=False),
    sa.Column("device", sa.Text, nullable=False, server_default=""),
    sa.Column("at", Moment, nullable=False),
    refers("scan_id", "scans", required=False),
    sa.Column("as_entered", sa.Text, nullable=False, server_default=""),
    sa.CheckConstraint("standard_error >= 0", name="standard_error"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class NegativeReadingRecord(Record):
    """A reading of a frame's reference patch, with device and time, and the text it was typed as."""

    table: ClassVar = _negative_readings
    word: ClassVar = "reading of the negative"

    frame: str
    reading: NegativeReading
    at: datetime
    device: str = ""
    scan: str | None = None
    as_entered: str = ""

    def columns(self) -> dict[str, Any]:
        red, green, blue = self.reading.density
        return {
            "frame": self.frame,
            "red": red,
            "green": green,
            "blue": blue,
            "source": self.reading.source,
            "standard_error": self.reading.standard_error,
            "device": self.device,
            "at": self.at,
            "scan": self.scan,
            "as_entered": self.as_entered,
        }

    @classmethod
    def from_columns(cls, values: dict[str, Any]) -> Self:
        reading = NegativeReading(
            density=(values.pop("red"), values.pop("green"), values.pop("blue")),
            source=values.pop("source"),
            standard_error=values.pop("standard_error"),
        )
        return cls(**values, reading=reading)


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundFrames:
    """Frames found, newest first and at most as many as asked for; how many were found, and how many there are."""

    frames: tuple[Frame, ...]
    count: int
    total: int


def search_frames(conn: sa.Connection, text: str, most: int, *, film: str | None = None) -> FoundFrames:
    """Frames in whose name, edge number, film or note every word of the text occurs, whatever the case; of one film."""
    words = text.casefold().split()
    total = int(conn.execute(_FRAME_COUNT).scalar_one())
    if not words and film is None:
        return FoundFrames(frames=tuple(newest_records(conn, Frame, most)), count=total, total=total)
    # casefold knows every script, SQLite's LIKE only ASCII; four short columns of each frame are soon read
    read = conn.connection.cursor().execute
    films = dict(read(newest("films", "name")))
    rows = read(newest("frames", "film_id", "name || ' ' || number || ' ' || note") + " AND removed = 0")
    searched = ((number, f"{said} {films[of]}".casefold()) for number, of, said in rows if film in (None, films[of]))
    found = sorted(number for number, said in searched if all(word in said for word in words))
    shown = every_of(conn, Frame, "record_id", found[-most:])
    return FoundFrames(frames=tuple(reversed(shown)), count=len(found), total=total)


_FRAMES_NOW = now(_frames)
_FRAME_COUNT = sa.select(sa.func.count()).select_from(_FRAMES_NOW)


def frames_in_work(conn: sa.Connection, most: int) -> list[Frame]:
    """Frames that were printed or added last, newest first."""
    printed = [int(number) for number in conn.execute(_PRINTED, {"count": 20 * most}).scalars()]
    added = newest_records(conn, Frame, most)
    wanted = list(dict.fromkeys(printed))[:most]
    known = {frame.id: frame for frame in (*every_of(conn, Frame, "record_id", wanted), *added)}
    return [known[number] for number in dict.fromkeys([*wanted, *(frame.id for frame in added)]) if number in known]


_PRINTED = sa.text("SELECT frame_id FROM trials_now ORDER BY record_id DESC LIMIT :count")
