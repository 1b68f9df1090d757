"""Enlarger heads and lenses."""

import math
from dataclasses import dataclass
from typing import ClassVar

import sqlalchemy as sa

from printlore.core.light.filters import FilterPack
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
    sa.Column("note", sa.Text, nullable=False, server_default=""),
    sa.CheckConstraint("kind IN ('subtractive', 'additive_times', 'additive_levels')", name="kind"),
    sa.CheckConstraint("dial_step >= 0 AND dial_max > 0 AND timer_step >= 0", name="steps"),
    sa.CheckConstraint("0 < shortest_time AND shortest_time <= longest_time", name="times"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Head(Record):
    """An enlarger head with its lamp and timer.

    Attributes
    ----------
    name : str
    kind : str
        ``subtractive`` (dials or loose filters), ``additive_times`` or ``additive_levels``.
    dial_step, dial_max : float
        What can be read on a dial, and its end [dial units]; a step of 0 is continuous.
    timer_step : float
        What the timer can be set to [s]; 0 is continuous.
    shortest_time, longest_time : float
        Comfortable exposures [s].
    f_numbers : tuple of float
        Marked on the lens, from wide to narrow.
    usual_cyan, usual_magenta, usual_yellow : float
        A pack to begin with [dial units]; the default is from memory.
    usual_time, usual_f_number : float
        A time [s] and an f-number to begin with.
    """

    table: ClassVar = _heads
    word: ClassVar = "head"

    name: str
    kind: str = "subtractive"
    dial_step: float = 1.0
    dial_max: float = 200.0
    timer_step: float = 0.1
    shortest_time: float = 4.0
    longest_time: float = 40.0
    f_numbers: tuple[float, ...] = (4.0, 5.6, 8.0, 11.0, 16.0)
    usual_cyan: float = 0.0
    usual_magenta: float = 60.0
    usual_yellow: float = 60.0
    usual_time: float = 8.0
    usual_f_number: float = 8.0
    note: str = ""

    def __post_init__(self) -> None:
        if self.kind not in HEAD_KINDS:
            raise ValueOutOfRange(f'"{self.kind}" is not a kind of head; use one of {", ".join(HEAD_KINDS)}.')
        for field, least in (("dial_step", 0.0), ("timer_step", 0.0)):
            if not (math.isfinite(getattr(self, field)) and getattr(self, field) >= least):
                raise ValueOutOfRange(
                    f'Head "{self.name}": {field.replace("_", " ")} is {getattr(self, field):g}; '
                    "give 0 (no steps) or more."
                )
        for field in ("dial_max", "shortest_time", "longest_time", "usual_time", "usual_f_number"):
            if not (math.isfinite(getattr(self, field)) and getattr(self, field) > 0):
                raise ValueOutOfRange(
                    f'Head "{self.name}": {field.replace("_", " ")} is {getattr(self, field):g}; give more than 0.'
                )
        if self.shortest_time > self.longest_time:
            raise ValueOutOfRange(
                f'Head "{self.name}": the shortest comfortable time ({self.shortest_time:g} s) is longer than the '
                f"longest ({self.longest_time:g} s). Swap them."
            )
        if not self.f_numbers or not all(math.isfinite(n) and n > 0 for n in self.f_numbers):
            raise ValueOutOfRange(f'Head "{self.name}": give at least one f-number off the lens, for example 8.')
        FilterPack(cyan=self.usual_cyan, magenta=self.usual_magenta, yellow=self.usual_yellow)

    @property
    def usual_pack(self) -> FilterPack:
        """A pack to begin with [dial units]."""
        return FilterPack(cyan=self.usual_cyan, magenta=self.usual_magenta, yellow=self.usual_yellow)


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
                    f'Lens "{self.name}": {field.replace("_", " ")} is {value:g}; it must be above 0.'
                )
