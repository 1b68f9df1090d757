"""Trials: paper that was exposed and processed, its exposures, and what was read and said of it."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, ClassVar, Self, TypeVar

import sqlalchemy as sa

from printlore.core.figure import Figure
from printlore.core.flags import Flag
from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Burn, Setting
from printlore.core.memory.evidence import BathState, Cast, Judgement
from printlore.core.paper.facts import Vector
from printlore.errors import ValueOutOfRange
from printlore.records.papers import Lot
from printlore.records.rows import Record, every, every_of, latest
from printlore.records.tables import Moment, record_table, refers

TRIAL_KINDS = ("strip", "sheet", "control")

_trials = record_table(
    "trials",
    sa.Column("name", sa.Text, nullable=False),
    sa.Column("entry_key", sa.Text),
    sa.Column("kind", sa.Text, nullable=False),
    sa.Column("source", sa.Text, nullable=False, server_default="bench"),
    sa.Column("at", Moment, nullable=False),
    refers("frame_id", "frames"),
    refers("head_id", "heads"),
    refers("lot_id", "lots"),
    refers("bath_id", "baths"),
    refers("run_id", "runs", required=False),
    refers("lens_id", "lenses", required=False),
    sa.Column("bath_area_per_litre", sa.REAL, nullable=False),
    sa.Column("bath_age_days", sa.REAL, nullable=False),
    sa.Column("bath_strength", sa.REAL, nullable=False),
    sa.Column("carrier_glass", sa.Boolean),
    sa.Column("mixing_box", sa.Text, nullable=False, server_default=""),
    sa.Column("print_width", sa.REAL),
    sa.Column("print_height", sa.REAL),
    sa.Column("column_mark", sa.Text, nullable=False, server_default=""),
    sa.Column("note", sa.Text, nullable=False, server_default=""),
    sa.CheckConstraint("kind IN ('strip', 'sheet', 'control')", name="kind"),
    sa.CheckConstraint("source IN ('bench', 'notebook')", name="source"),
    sa.Index("uq_trials_entry_key", "entry_key", unique=True, sqlite_where=sa.text("corrects_id IS NULL")),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialRow(Record):
    """A piece of paper and the circumstances it was made in; its exposures are rows of their own.

    Attributes
    ----------
    name : str
        Short, to be written on the back.
    entry_key : str or None
        Given by the client, so that an entry sent twice is recorded once.
    kind : str
        ``strip``, ``sheet`` or ``control``.
    source : str
        ``bench`` if logged as it was made, ``notebook`` if entered from old notes.
    at : datetime
        When it was exposed.
    frame, head, lot, bath : str
    run, lens : str or None
    bath_state : BathState
        As reckoned when it was logged.
    carrier_glass : bool or None
    mixing_box : str
        Which light-mixing box was in the head.
    print_size : (width, height) or None
        Of the whole picture [mm].
    column_mark : str
        Where the head stood on the column's scale.
    """

    table: ClassVar = _trials
    word: ClassVar = "trial"

    name: str
    entry_key: str | None = None
    kind: str = "sheet"
    source: str = "bench"
    at: datetime
    frame: str
    head: str
    lot: str
    bath: str
    run: str | None = None
    lens: str | None = None
    bath_state: BathState
    carrier_glass: bool | None = None
    mixing_box: str = ""
    print_size: tuple[float, float] | None = None
    column_mark: str = ""
    note: str = ""

    def __post_init__(self) -> None:
        if self.kind not in TRIAL_KINDS:
            raise ValueOutOfRange(f'"{self.kind}" is not a kind of trial; use one of {", ".join(TRIAL_KINDS)}.')
        if self.source not in ("bench", "notebook"):
            raise ValueOutOfRange(f'"{self.source}" is not where a trial comes from; use bench or notebook.')
        if self.print_size and not all(math.isfinite(side) and 0 < side <= 10_000 for side in self.print_size):
            raise ValueOutOfRange(
                f"A print of {Figure(self.print_size[0]):g} x {Figure(self.print_size[1]):g} mm cannot be; give sides "
                "above 0, up to 10 m."
            )

    def columns(self) -> dict[str, Any]:
        width, height = self.print_size or (None, None)
        return {
            "name": self.name,
            "entry_key": self.entry_key,
            "kind": self.kind,
            "source": self.source,
            "at": self.at,
            "frame": self.frame,
            "head": self.head,
            "lot": self.lot,
            "bath": self.bath,
            "run": self.run,
            "lens": self.lens,
            "bath_area_per_litre": self.bath_state.area_per_litre,
            "bath_age_days": self.bath_state.age_days,
            "bath_strength": self.bath_state.strength,
            "carrier_glass": self.carrier_glass,
            "mixing_box": self.mixing_box,
            "print_width": width,
            "print_height": height,
            "column_mark": self.column_mark,
            "note": self.note,
        }

    @classmethod
    def from_columns(cls, values: dict[str, Any]) -> Self:
        width, height = values.pop("print_width"), values.pop("print_height")
        state = BathState(
            area_per_litre=values.pop("bath_area_per_litre"),
            age_days=values.pop("bath_age_days"),
            strength=values.pop("bath_strength"),
        )
        return cls(**values, bath_state=state, print_size=None if width is None else (width, height))


_exposures = record_table(
    "exposures",
    refers("trial_id", "trials"),
    sa.Column("position", sa.Integer, nullable=False),
    sa.Column("role", sa.Text, nullable=False),
    sa.Column("cyan", sa.REAL, nullable=False),
    sa.Column("magenta", sa.REAL, nullable=False),
    sa.Column("yellow", sa.REAL, nullable=False),
    sa.Column("time", sa.REAL, nullable=False),
    sa.Column("f_number", sa.REAL, nullable=False),
    sa.Column("magnification", sa.REAL, nullable=False),
    sa.Column("burns", sa.JSON, nullable=False),
    sa.CheckConstraint("role IN ('made', 'advised')", name="role"),
    sa.CheckConstraint("time > 0 AND f_number > 0 AND magnification > 0", name="above_zero"),
    sa.CheckConstraint("cyan >= 0 AND magenta >= 0 AND yellow >= 0", name="pack"),
    sa.Index(
        "uq_exposures_position",
        "trial_id",
        "role",
        "position",
        unique=True,
        sqlite_where=sa.text("corrects_id IS NULL"),
    ),
)


def burns_to_json(burns: tuple[Burn, ...]) -> list[dict[str, Any]]:
    return [{"name": b.name, "time": b.time, "pack": b.pack.as_tuple() if b.pack else None} for b in burns]


def burns_from_json(burns: list[dict[str, Any]]) -> tuple[Burn, ...]:
    return tuple(Burn(name=b["name"], time=b["time"], pack=_pack(b["pack"])) for b in burns)


def _pack(values: list[float] | None) -> FilterPack | None:
    return None if values is None else FilterPack(cyan=values[0], magenta=values[1], yellow=values[2])


@dataclass(frozen=True, slots=True, kw_only=True)
class ExposureRow(Record):
    """One exposure of a trial, by position from 0: as made, or as it was advised."""

    table: ClassVar = _exposures
    word: ClassVar = "exposure"

    trial_id: int
    position: int
    role: str = "made"
    setting: Setting

    def columns(self) -> dict[str, Any]:
        setting = self.setting
        return {
            "trial_id": self.trial_id,
            "position": self.position,
            "role": self.role,
            **setting.pack.by_colour(),
            "time": setting.time,
            "f_number": setting.f_number,
            "magnification": setting.magnification,
            "burns": burns_to_json(setting.burns),
        }

    @classmethod
    def from_columns(cls, values: dict[str, Any]) -> Self:
        setting = Setting(
            pack=FilterPack(**{colour: values.pop(colour) for colour in ("cyan", "magenta", "yellow")}),
            time=values.pop("time"),
            f_number=values.pop("f_number"),
            magnification=values.pop("magnification"),
            burns=burns_from_json(values.pop("burns")),
        )
        return cls(**values, setting=setting)


_patch_readings = record_table(
    "patch_readings",
    refers("exposure_id", "exposures"),
    sa.Column("red", sa.REAL, nullable=False),
    sa.Column("green", sa.REAL, nullable=False),
    sa.Column("blue", sa.REAL, nullable=False),
    sa.Column("standard_error", sa.REAL, nullable=False),
    sa.Column("beyond", sa.JSON, nullable=False),
    sa.Column("flags", sa.JSON, nullable=False),
    refers("scan_id", "scans", required=False),
    sa.Column("box", sa.JSON(none_as_null=True)),
    sa.Column("wet", sa.Boolean, nullable=False, server_default="0"),
    sa.Column("device", sa.Text, nullable=False, server_default=""),
    sa.Column("as_entered", sa.Text, nullable=False, server_default=""),
    sa.CheckConstraint("standard_error >= 0", name="standard_error"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PatchReading(Record):
    """Densities read off one exposure of a trial.

    Attributes
    ----------
    exposure_id : int
        Number of the exposure; 0 while it stands in an entry.
    density : (red, green, blue)
        Reflection density, status A, with the paper's base [1].
    standard_error : float
        Of each density [1].
    beyond : (red, green, blue) bools
        Channels that were clipped.
    flags : tuple of Flag
    scan : str or None
        Hash of the scan it was read from.
    box : (left, top, right, bottom) or None
        In that scan [pixels]; right and bottom outside.
    wet : bool
    device : str
    as_entered : str
        The text it was typed as.
    """

    table: ClassVar = _patch_readings
    word: ClassVar = "reading"

    exposure_id: int = 0
    density: Vector
    standard_error: float = 0.006
    beyond: tuple[bool, bool, bool] = (False, False, False)
    flags: tuple[Flag, ...] = ()
    scan: str | None = None
    box: tuple[float, float, float, float] | None = None
    wet: bool = False
    device: str = ""
    as_entered: str = ""

    def __post_init__(self) -> None:
        if not all(math.isfinite(value) and -0.5 <= value <= 4 for value in self.density):
            raise ValueOutOfRange(
                f"Densities {self.density} cannot be those of a print; they run from 0 to about 2.6. "
                "Check the order (red, green, blue) and the wedge."
            )
        if not (math.isfinite(self.standard_error) and self.standard_error >= 0):
            raise ValueOutOfRange(f"Error of the density is {Figure(self.standard_error):g}; it must be 0 or more.")

    def columns(self) -> dict[str, Any]:
        red, green, blue = self.density
        return {
            "exposure_id": self.exposure_id,
            "red": red,
            "green": green,
            "blue": blue,
            "standard_error": self.standard_error,
            "beyond": list(self.beyond),
            "flags": [flag.value for flag in self.flags],
            "scan": self.scan,
            "box": None if self.box is None else list(self.box),
            "wet": self.wet,
            "device": self.device,
            "as_entered": self.as_entered,
        }

    @classmethod
    def from_columns(cls, values: dict[str, Any]) -> Self:
        density = (values.pop("red"), values.pop("green"), values.pop("blue"))
        beyond = tuple(values.pop("beyond"))
        box = values.pop("box")
        flags = tuple(Flag(flag) for flag in values.pop("flags"))
        return cls(**values, density=density, beyond=beyond, flags=flags, box=None if box is None else tuple(box))


_judgements = record_table(
    "judgements",
    refers("exposure_id", "exposures"),
    sa.Column("at", Moment, nullable=False),
    sa.Column("colour_cast", sa.Text, nullable=False),
    sa.Column("strength", sa.REAL, nullable=False),
    sa.Column("stops_too_dark", sa.REAL, nullable=False),
    sa.Column("person", sa.Text, nullable=False),
    sa.Column("wet", sa.Boolean, nullable=False),
    sa.Column("light", sa.Text, nullable=False, server_default=""),
    sa.Column("filter_at_eye", sa.Boolean),
    sa.Column("as_entered", sa.Text, nullable=False, server_default=""),
    sa.CheckConstraint("colour_cast IN ('none', 'red', 'green', 'blue', 'cyan', 'magenta', 'yellow')", name="cast"),
    sa.CheckConstraint("strength >= 0", name="strength"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgementRecord(Record):
    """A judgement, when and under which light it was made.

    ``judgement.strength`` is always as with the filter at the eye. ``filter_at_eye`` is False if the filter lay on the
    print, where light passes it twice, so that its strength was doubled on entry; ``None`` with no filter.
    """

    table: ClassVar = _judgements
    word: ClassVar = "judgement"

    exposure_id: int = 0
    judgement: Judgement
    at: datetime
    light: str = ""
    filter_at_eye: bool | None = None
    as_entered: str = ""

    def columns(self) -> dict[str, Any]:
        said = self.judgement
        return {
            "exposure_id": self.exposure_id,
            "at": self.at,
            "colour_cast": said.cast.value,
            "strength": said.strength,
            "stops_too_dark": said.stops_too_dark,
            "person": said.person,
            "wet": said.wet,
            "light": self.light,
            "filter_at_eye": self.filter_at_eye,
            "as_entered": self.as_entered,
        }

    @classmethod
    def from_columns(cls, values: dict[str, Any]) -> Self:
        said = Judgement(
            cast=Cast(values.pop("colour_cast")),
            **{name: values.pop(name) for name in ("strength", "stops_too_dark", "person", "wet")},
        )
        return cls(**values, judgement=said)


_kept_marks = record_table("kept_marks", refers("exposure_id", "exposures"), sa.Column("at", Moment, nullable=False))


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptMark(Record):
    """The print of this exposure was accepted as right."""

    table: ClassVar = _kept_marks
    word: ClassVar = "kept mark"

    exposure_id: int
    at: datetime


_made_as_logged = record_table(
    "made_as_logged", refers("exposure_id", "exposures"), sa.Column("at", Moment, nullable=False)
)


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeAsLogged(Record):
    """The printer was asked whether this exposure was a slip, and says that it was made as logged."""

    table: ClassVar = _made_as_logged
    word: ClassVar = "answer"

    exposure_id: int
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class PatchRecord:
    """One exposure of a trial with all that is known of it; readings and judgements in the order recorded."""

    exposure: ExposureRow
    advised: ExposureRow | None = None
    readings: tuple[PatchReading, ...] = ()
    judgements: tuple[JudgementRecord, ...] = ()
    kept: tuple[KeptMark, ...] = ()

    @property
    def made(self) -> Setting:
        return self.exposure.setting


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialRecord:
    """A trial as it stands, its patches by position, and what was assumed when it was logged, in words.

    ``again``: it was asked to be logged, and was logged before.
    """

    row: TrialRow
    patches: tuple[PatchRecord, ...]
    remarks: tuple[str, ...] = ()
    again: bool = False

    @property
    def name(self) -> str:
        return self.row.name

    @property
    def version(self) -> int:
        return self.row.version

    @property
    def taken_back(self) -> bool:
        """It does not count."""
        return self.row.removed


def with_patches(conn: sa.Connection, rows: Sequence[TrialRow]) -> list[TrialRecord]:
    """Trials with their exposures, readings, judgements and marks."""
    numbers = [row.id for row in rows]
    exposures = every_of(conn, ExposureRow, "trial_id", numbers)
    of_exposure = [exposure.id for exposure in exposures if exposure.role == "made"]
    readings = _grouped(every_of(conn, PatchReading, "exposure_id", of_exposure))
    judgements = _grouped(every_of(conn, JudgementRecord, "exposure_id", of_exposure))
    kept = _grouped(every_of(conn, KeptMark, "exposure_id", of_exposure))
    patches: dict[int, list[PatchRecord]] = {number: [] for number in numbers}
    advised = {(e.trial_id, e.position): e for e in exposures if e.role == "advised"}
    for exposure in sorted(exposures, key=lambda e: e.position):
        if exposure.role == "made":
            patches[exposure.trial_id].append(
                PatchRecord(
                    exposure=exposure,
                    advised=advised.get((exposure.trial_id, exposure.position)),
                    readings=tuple(readings.get(exposure.id, ())),
                    judgements=tuple(judgements.get(exposure.id, ())),
                    kept=tuple(kept.get(exposure.id, ())),
                )
            )
    return [TrialRecord(row=row, patches=tuple(patches[row.id])) for row in rows]


Known = TypeVar("Known", PatchReading, JudgementRecord, KeptMark)


def _grouped(rows: list[Known]) -> dict[int, list[Known]]:
    found: dict[int, list[Known]] = {}
    for row in rows:
        found.setdefault(row.exposure_id, []).append(row)
    return found


def last_printed(conn: sa.Connection) -> TrialRow | None:
    """The trial that the next one follows: logged last at the bench; one of old notes only if there is no other."""
    return latest(conn, TrialRow, source="bench") or latest(conn, TrialRow)


def newest_lot(conn: sa.Connection) -> Lot | None:
    """The lot added last that is not known from old notes alone: the one that may be in the box now."""
    return next((lot for lot in reversed(every(conn, Lot)) if not _of_notes_alone(conn, lot)), None)


def _of_notes_alone(conn: sa.Connection, lot: Lot) -> bool:
    if lot.received_at is not None or latest(conn, TrialRow, lot_id=lot.id, source="bench") is not None:
        return False
    return latest(conn, TrialRow, lot_id=lot.id) is not None


def lot_after(conn: sa.Connection, last: TrialRow | None) -> str | None:
    """Lot for the print after this one: the same; after old notes the newest of our own."""
    if last is not None and last.source == "bench":
        return last.lot
    newest = newest_lot(conn)
    return None if newest is None else newest.name


_LAST_NUMBERED = (
    sa.select(_trials.c.name)
    .where(_trials.c.corrects_id.is_(None))
    .where(_trials.c.name.op("GLOB")("T[0-9]*"), _trials.c.name.op("NOT GLOB")("T*[^0-9]*"))
    .where(sa.func.length(_trials.c.name) <= 8)
    .order_by(_trials.c.id.desc())
    .limit(1)
)
_NAMED = sa.select(_trials.c.id).where(_trials.c.name == sa.bindparam("name")).limit(1)


def next_name(conn: sa.Connection) -> str:
    """A name for the next trial: T and the number after that given last, short enough for a pencil on wet paper.

    What was taken back or corrected since keeps its own name and uses up no other.
    """
    number = int(str(conn.execute(_LAST_NUMBERED).scalar() or "T0")[1:]) + 1
    while conn.execute(_NAMED, {"name": f"T{number}"}).first() is not None:
        number += 1
    return f"T{number}"
