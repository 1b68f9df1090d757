"""What the printer set for the whole studio: costs, tolerances, how well prints repeat, ways of writing numbers."""

import dataclasses
import math
from dataclasses import dataclass
from typing import ClassVar, TypeVar

import sqlalchemy as sa

from printlore.core.figure import Figure
from printlore.core.memory.evidence import checked_alike
from printlore.errors import ValueOutOfRange
from printlore.records.rows import Record, add, correct, every
from printlore.records.tables import record_table


def _above_zero(record: Record, *fields: str) -> None:
    for field in fields:
        value = getattr(record, field)
        if not (math.isfinite(value) and value >= 0):
            raise ValueOutOfRange(
                f"{record.word.capitalize()}: {field.replace('_', ' ')} is {Figure(value):g}; give 0 or more."
            )


_costs = record_table(
    "costs",
    sa.Column("minute", sa.REAL, nullable=False),
    sa.Column("sheet", sa.REAL, nullable=False),
    sa.Column("strip", sa.REAL, nullable=False),
    sa.Column("millilitre", sa.REAL, nullable=False),
    sa.Column("cycle_minutes", sa.REAL, nullable=False),
    sa.CheckConstraint("min(minute, sheet, strip, millilitre, cycle_minutes) >= 0", name="not_below_zero"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Costs(Record):
    """What things cost, in units of one sheet unless the printer says otherwise; all defaults are from memory.

    Attributes
    ----------
    minute, sheet, strip, millilitre : float
        Of the printer's time, a sheet, a strip, working solution [studio's unit].
    cycle_minutes : float
        One cycle: expose, process, judge [min].
    """

    table: ClassVar = _costs
    word: ClassVar = "costs"

    minute: float = 0.5
    sheet: float = 1.0
    strip: float = 0.1
    millilitre: float = 0.005
    cycle_minutes: float = 13.0

    def __post_init__(self) -> None:
        _above_zero(self, "minute", "sheet", "strip", "millilitre", "cycle_minutes")


_tolerances = record_table(
    "tolerances",
    sa.Column("good_alone_cc", sa.REAL, nullable=False),
    sa.Column("good_alone_time", sa.REAL, nullable=False),
    sa.Column("edition_delta_e", sa.REAL, nullable=False),
    sa.CheckConstraint("min(good_alone_cc, good_alone_time, edition_delta_e) >= 0", name="not_below_zero"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerances(Record):
    """How near is near enough; defaults from memory.

    Attributes
    ----------
    good_alone_cc : float
        A print that hangs alone [CC] (common practice, no source).
    good_alone_time : float
        The same, as a share of the exposure time [1].
    edition_delta_e : float
        A print that must match others, CIEDE2000 of the reference patch [1]: at arm's length nobody sees a difference
        beside another; about 1 CC of magenta.
    """

    table: ClassVar = _tolerances
    word: ClassVar = "tolerances"

    good_alone_cc: float = 2.5
    good_alone_time: float = 0.10
    edition_delta_e: float = 3.0

    def __post_init__(self) -> None:
        _above_zero(self, "good_alone_cc", "good_alone_time", "edition_delta_e")


_repeatability = record_table(
    "repeatability",
    sa.Column("alike_cc", sa.REAL),
    sa.CheckConstraint("alike_cc > 0", name="alike_cc"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeatability(Record):
    """How well prints repeat, as the printer expects it; prints made alike then teach it.

    Attributes
    ----------
    alike_cc : float or None
        Standard deviation of a layer among prints made alike in separate drum loads [CC]; None: nothing is said.

    Raises
    ------
    ValueOutOfRange
        If no prints scatter so little, or so much.
    """

    table: ClassVar = _repeatability
    word: ClassVar = "repeatability"

    alike_cc: float | None = None

    def __post_init__(self) -> None:
        self.alike()

    def alike(self) -> float | None:
        """The same as the memory takes it [log10]."""
        return None if self.alike_cc is None else checked_alike(self.alike_cc / 100)


_preferences = record_table(
    "preferences",
    sa.Column("length_unit", sa.Text, nullable=False),
    sa.Column("decimal_mark", sa.Text, nullable=False),
    sa.Column("currency", sa.Text, nullable=False),
    sa.CheckConstraint("length_unit IN ('cm', 'inch')", name="length_unit"),
    sa.CheckConstraint("decimal_mark IN ('.', ',')", name="decimal_mark"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Preferences(Record):
    """How the studio writes: lengths in ``cm`` or ``inch``, decimal mark ``.`` or ``,``, name of the money unit."""

    table: ClassVar = _preferences
    word: ClassVar = "preferences"

    length_unit: str = "cm"
    decimal_mark: str = "."
    currency: str = "unit"

    def __post_init__(self) -> None:
        for field, choices in (("length_unit", ("cm", "inch")), ("decimal_mark", (".", ","))):
            if getattr(self, field) not in choices:
                raise ValueOutOfRange(
                    f'The {field.replace("_", " ")} "{getattr(self, field)}" cannot be; use one of {" ".join(choices)}.'
                )


S = TypeVar("S", Costs, Tolerances, Repeatability, Preferences)


def settled(conn: sa.Connection, kind: type[S]) -> S:
    """What the printer set last, or the defaults."""
    rows = every(conn, kind)
    return rows[0] if rows else kind()


def settle(conn: sa.Connection, value: S) -> S:
    """Set costs, tolerances, repeatability or preferences; a value that was read before must still be the newest."""
    rows = every(conn, type(value))
    if not rows:
        return add(conn, value)
    if value.id == 0:
        value = dataclasses.replace(value, id=rows[0].id, version=rows[0].version)
    return correct(conn, value)
