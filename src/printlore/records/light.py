"""Enlarger heads and lenses."""

import math
from dataclasses import dataclass
from typing import Any, ClassVar, Self

import sqlalchemy as sa

from printlore.core.figure import Figure
from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Setting
from printlore.core.memory.evidence import HeadFacts
from printlore.errors import ValueOutOfRange
from printlore.records.rows import Record
from printlore.records.tables import record_table

HEAD_KINDS = ("subtractive", "additive_times", "additive_levels")

_heads = record_table(
    "heads",
    sa.Column("name", sa.Text, nullable=False),
    sa.Column("kind", sa.Text, nullable=False),
    sa.Column("dial_step", sa.REAL, nullable=False),
    sa.Column("dial_max", sa.REAL, nullable=False),
    sa.Column("timer_step", sa.REAL, nullable=False),
    sa.Column("shortest_time", sa.REAL, nullable=False),
    sa.Column("longest_time", sa.REAL, nullable=False),
    sa.Column("f_numbers", sa.JSON, nullable=False),
    sa.Column("usual_cyan", sa.REAL, nullable=False),
    sa.Column("usual_magenta", sa.REAL, nullable=False),
    sa.Column("usual_yellow", sa.REAL, nullable=False),
    sa.Column("usual_time", sa.REAL, nullable=False),
    sa.Column("usual_f_number", sa.REAL, nullable=False),
    sa.Column("usual_magnification", sa.REAL, nullable=False),
    sa.Column("note", sa.Text, nullable=False, server_default=""),
    sa.CheckConstraint("kind IN ('subtractive', 'additive_times', 'additive_levels')", name="kind"),
    sa.CheckConstraint("dial_step > 0 AND dial_max > 0 AND timer_step > 0", name="steps"),
    sa.CheckConstraint("0 < shortest_time AND shortest_time < longest_time", name="times"),
    sa.CheckConstraint("usual_time > 0 AND usual_f_number > 0 AND usual_magnification > 0", name="usual"),
)

USUAL = HeadFacts(name="usual")


@dataclass(frozen=True, slots=True, kw_only=True)
class Head(Record):
    """An enlarger head with its lamp and timer; fields as in ``HeadFacts``.

    Attributes
    ----------
    kind : str
        ``subtractive`` (dials or loose filters), ``additive_times`` or ``additive_levels``.
    usual : Setting
        Where printing starts on this head; the default pack is from memory.
    """

    table: ClassVar = _heads
    word: ClassVar = "head"

    name: str
    kind: str = "subtractive"
    usual: Setting = USUAL.usual
    dial_step: float = USUAL.dial_step
    dial_max: float = USUAL.dial_max
    timer_step: float = USUAL.timer_step
    shortest: float = USUAL.shortest
    longest: float = USUAL.longest
    f_numbers: tuple[float, ...] = USUAL.f_numbers
    note: str = ""

    def __post_init__(self) -> None:
        if self.kind not in HEAD_KINDS:
            raise ValueOutOfRange(f'"{self.kind}" is not a kind of head; use one of {", ".join(HEAD_KINDS)}.')
        self.facts()

    def facts(self) -> HeadFacts:
        """What the memory is told of it."""
        return HeadFacts(
            name=self.name,
            usual=self.usual,
            additive=self.kind != "subtractive",
            dial_step=self.dial_step,
            dial_max=self.dial_max,
            timer_step=self.timer_step,
            shortest=self.shortest,
            longest=self.longest,
            f_numbers=self.f_numbers,
        )

    def columns(self) -> dict[str, Any]:
        usual = self.usual
        return {
            "name": self.name,
            "kind": self.kind,
            "dial_step": self.dial_step,
            "dial_max": self.dial_max,
            "timer_step": self.timer_step,
            "shortest_time": self.shortest,
            "longest_time": self.longest,
            "f_numbers": list(self.f_numbers),
            **{f"usual_{colour}": value for colour, value in usual.pack.by_colour().items()},
            "usual_time": usual.time,
            "usual_f_number": usual.f_number,
            "usual_magnification": usual.magnification,
            "note": self.note,
        }

    @classmethod
    def from_columns(cls, values: dict[str, Any]) -> Self:
        usual = Setting(
            pack=FilterPack(**{colour: values.pop(f"usual_{colour}") for colour in ("cyan", "magenta", "yellow")}),
            **{name: values.pop(f"usual_{name}") for name in ("time", "f_number", "magnification")},
        )
        times = {"shortest": values.pop("shortest_time"), "longest": values.pop("longest_time")}
        f_numbers = tuple(values.pop("f_numbers"))
        return cls(**values, **times, usual=usual, f_numbers=f_numbers)


_lenses = record_table(
    "lenses",
    sa.Column("name", sa.Text, nullable=False),
    sa.Column("focal_length", sa.REAL),
    sa.Column("pupil_factor", sa.REAL, nullable=False, server_default="1"),
    sa.Column("note", sa.Text, nullable=False, server_default=""),
    sa.CheckConstraint("pupil_factor > 0", name="pupil_factor"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lens(Record):
    """An enlarging lens: focal length [mm] if known, pupil factor [1] (exit over entrance pupil, 1 if not given)."""

    table: ClassVar = _lenses
    word: ClassVar = "lens"

    name: str
    focal_length: float | None = None
    pupil_factor: float = 1.0
    note: str = ""

    def __post_init__(self) -> None:
        for field in ("focal_length", "pupil_factor"):
            value = getattr(self, field)
            if value is not None and not (math.isfinite(value) and value > 0):
                raise ValueOutOfRange(
                    f'Lens "{self.name}": {field.replace("_", " ")} is {Figure(value):g}; it must be above 0.'
                )
