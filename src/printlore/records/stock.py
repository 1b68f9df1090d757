"""Paper on hand: makes, rolls and how they were measured, boxes, where they lie, and the ledger of every sheet."""

import math
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any, ClassVar, Self

import sqlalchemy as sa

from printlore.core.figure import Figure
from printlore.core.flags import DOUBTFUL
from printlore.errors import ValueOutOfRange
from printlore.records.rows import Record
from printlore.records.tables import Moment, record_table, refers


def _above_zero(what: str, value: float | None, unit: str) -> None:
    if value is not None and not (math.isfinite(value) and value > 0):
        raise ValueOutOfRange(f"{what} is {Figure(value):g} {unit}; it must be above 0.")


def _not_below_zero(what: str, value: float | None, unit: str) -> None:
    if value is not None and not (math.isfinite(value) and value >= 0):
        raise ValueOutOfRange(f"{what} is {Figure(value):g} {unit}; it must be 0 or more.")


class Place(StrEnum):
    """Where paper lies, for storage and warm-up."""

    COLD = "cold"
    ROOM = "room"


_makes = record_table(
    "paper_makes",
    refers("family_id", "paper_families"),
    sa.Column("thickness", sa.REAL),
    sa.Column("grammage", sa.REAL),
    sa.CheckConstraint("thickness > 0 AND grammage > 0", name="sizes"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperMake(Record):
    """Thickness as wound [mm] and weight [g/m2] of a paper family."""

    table: ClassVar = _makes
    word: ClassVar = "paper make"

    family: str
    thickness: float | None = None
    grammage: float | None = None

    def __post_init__(self) -> None:
        _above_zero("Paper thickness", self.thickness, "mm")
        _above_zero("Paper weight", self.grammage, "g/m2")


_containers = record_table(
    "containers",
    sa.Column("name", sa.Text, nullable=False),
    sa.Column("kind", sa.Text, nullable=False),
    sa.Column("unsafe", sa.Boolean, nullable=False, server_default=sa.text("0")),
    sa.Column("note", sa.Text, nullable=False, server_default=""),
    sa.CheckConstraint("kind IN ('bag', 'box', 'drum')", name="kind"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Container(Record):
    """A bag, box or drum that is to keep light out; ``unsafe`` is remembered once fog was traced to it."""

    table: ClassVar = _containers
    word: ClassVar = "container"

    name: str
    kind: str = "bag"
    unsafe: bool = False
    note: str = ""

    def __post_init__(self) -> None:
        if self.kind not in ("bag", "box", "drum"):
            raise ValueOutOfRange(f'Container "{self.name}" is a {self.kind}; it must be a bag, box or drum.')


_rolls = record_table(
    "rolls",
    sa.Column("name", sa.Text, nullable=False),
    refers("lot_id", "lots"),
    sa.Column("width", sa.REAL, nullable=False),
    sa.Column("core_diameter", sa.REAL),
    sa.Column("core_weight", sa.REAL),
    sa.Column("stated_length", sa.REAL),
    sa.Column("price", sa.REAL),
    sa.Column("first_turns", sa.REAL, nullable=False),
    sa.Column("last_turns", sa.REAL, nullable=False),
    sa.Column("received_at", Moment, nullable=False),
    refers("container_id", "containers", required=False),
    sa.Column("note", sa.Text, nullable=False, server_default=""),
    sa.CheckConstraint("width > 0 AND first_turns >= 0 AND last_turns >= 0", name="sizes"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class RollRecord(Record):
    """A roll of paper.

    Attributes
    ----------
    name, lot : str
    width : float
        [mm]
    core_diameter, core_weight : float or None
        [mm], [g]
    stated_length : float or None
        On the label [mm].
    price : float or None
        Of the whole roll [money].
    first_turns, last_turns : float
        Not to be used, outside and at the core [turns] (common practice, no source).
    received_at : datetime
    container : str or None
        The bag it lies in.
    """

    table: ClassVar = _rolls
    word: ClassVar = "roll"

    name: str
    lot: str
    width: float
    core_diameter: float | None = None
    core_weight: float | None = None
    stated_length: float | None = None
    price: float | None = None
    first_turns: float = 1.0
    last_turns: float = 2.0
    received_at: datetime
    container: str | None = None
    note: str = ""

    def __post_init__(self) -> None:
        what = f'Roll "{self.name}": '
        _above_zero(what + "width", self.width, "mm")
        _above_zero(what + "core diameter", self.core_diameter, "mm")
        _above_zero(what + "length on the label", self.stated_length, "mm")
        for name in ("core_weight", "price", "first_turns", "last_turns"):
            _not_below_zero(what + name.replace("_", " "), getattr(self, name), "")


_measures = record_table(
    "roll_measures",
    refers("roll_id", "rolls"),
    sa.Column("at", Moment, nullable=False),
    sa.Column("outer_diameter", sa.REAL),
    sa.Column("turns", sa.REAL),
    sa.Column("weight", sa.REAL),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class RollMeasure(Record):
    """What was measured on a roll: diameter over the paper [mm], turns, weight with its core [g]; at least one."""

    table: ClassVar = _measures
    word: ClassVar = "measure of a roll"

    roll: str
    at: datetime
    outer_diameter: float | None = None
    turns: float | None = None
    weight: float | None = None

    def __post_init__(self) -> None:
        if self.outer_diameter is None and self.turns is None and self.weight is None:
            raise ValueOutOfRange(f'No measure of roll "{self.roll}" is given; enter its diameter, turns or weight.')
        for name, unit in (("outer_diameter", "mm"), ("turns", "turns"), ("weight", "g")):
            _not_below_zero(f'Roll "{self.roll}": {name.replace("_", " ")}', getattr(self, name), unit)


_boxes = record_table(
    "paper_boxes",
    sa.Column("name", sa.Text, nullable=False),
    refers("lot_id", "lots"),
    sa.Column("along", sa.REAL, nullable=False),
    sa.Column("across", sa.REAL, nullable=False),
    sa.Column("strips", sa.Boolean, nullable=False, server_default=sa.text("0")),
    refers("container_id", "containers", required=False),
    sa.Column("note", sa.Text, nullable=False, server_default=""),
    sa.CheckConstraint("along > 0 AND across > 0", name="sizes"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxRecord(Record):
    """Sheets (or test strips) of one lot and size [mm] in one box; how many is in the ledger."""

    table: ClassVar = _boxes
    word: ClassVar = "box"

    name: str
    lot: str
    along: float
    across: float
    strips: bool = False
    container: str | None = None
    note: str = ""

    def __post_init__(self) -> None:
        _above_zero(f'Box "{self.name}": side', self.along, "mm")
        _above_zero(f'Box "{self.name}": side', self.across, "mm")


class Happened(StrEnum):
    """Why paper came or went."""

    RECEIVED = "received"
    CUT = "cut"
    EXPOSED = "exposed"
    SPOILED = "spoiled"
    SOLD = "sold"
    LOST = "lost"
    COUNTED = "counted"


GONE = (Happened.EXPOSED, Happened.SPOILED, Happened.SOLD, Happened.LOST)
"""Ways in which paper goes otherwise than by a cut."""


_lines = record_table(
    "stock_lines",
    sa.Column("at", Moment, nullable=False),
    sa.Column("happened", sa.Text, nullable=False),
    refers("box_id", "paper_boxes", required=False),
    refers("roll_id", "rolls", required=False),
    sa.Column("sheets", sa.Integer),
    sa.Column("length", sa.REAL),
    sa.Column("trial", sa.Text, nullable=False, server_default=""),
    sa.Column("note", sa.Text, nullable=False, server_default=""),
    sa.CheckConstraint(
        "happened IN ('received', 'cut', 'exposed', 'spoiled', 'sold', 'lost', 'counted')", name="happened"
    ),
    sa.CheckConstraint(
        "(box_id IS NOT NULL AND roll_id IS NULL AND sheets IS NOT NULL AND length IS NULL) OR "
        "(box_id IS NULL AND roll_id IS NOT NULL AND sheets IS NULL AND length IS NOT NULL)",
        name="of_what",
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class StockLine(Record):
    """One line of the ledger.

    Attributes
    ----------
    at : datetime
    happened : Happened
    box, roll : str or None
        One of them.
    sheets : int or None
        That came (above 0) or went (below 0); what was there, if counted.
    length : float or None
        Of roll that came or went [mm].
    trial : str
        That used the sheet, if one did.
    """

    table: ClassVar = _lines
    word: ClassVar = "ledger line"

    at: datetime
    happened: Happened
    box: str | None = None
    roll: str | None = None
    sheets: int | None = None
    length: float | None = None
    trial: str = ""
    note: str = ""

    def __post_init__(self) -> None:
        of_box = self.box is not None and self.sheets is not None and self.roll is None and self.length is None
        of_roll = self.roll is not None and self.length is not None and self.box is None and self.sheets is None
        if not (of_box or of_roll):
            raise ValueOutOfRange("A ledger line is of a box and sheets, or of a roll and a length; give one of them.")
        if self.happened is Happened.COUNTED and (self.sheets or 0) < 0:
            raise ValueOutOfRange(f"{self.sheets} sheets cannot be counted; give 0 or more.")

    @classmethod
    def from_columns(cls, values: dict[str, Any]) -> Self:
        return cls(**(values | {"happened": Happened(values["happened"])}))


_moves = record_table(
    "paper_moves",
    sa.Column("at", Moment, nullable=False),
    sa.Column("place", sa.Text, nullable=False),
    refers("box_id", "paper_boxes", required=False),
    refers("roll_id", "rolls", required=False),
    sa.CheckConstraint("place IN ('cold', 'room') AND (box_id IS NULL) != (roll_id IS NULL)", name="what"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperMove(Record):
    """When a box or a roll was put into the cold or brought into the room."""

    table: ClassVar = _moves
    word: ClassVar = "move"

    at: datetime
    place: Place
    box: str | None = None
    roll: str | None = None

    @classmethod
    def from_columns(cls, values: dict[str, Any]) -> Self:
        return cls(**(values | {"place": Place(values["place"])}))


_relations = record_table(
    "lot_relations",
    refers("lot_id", "lots"),
    refers("other_id", "lots"),
    sa.Column("note", sa.Text, nullable=False, server_default=""),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SameEmulsion(Record):
    """Statement that two lots are one emulsion on different surfaces; the data may contradict it."""

    table: ClassVar = _relations
    word: ClassVar = "relation of lots"

    lot: str
    other: str
    note: str = ""


_fog = record_table(
    "fog_readings",
    refers("lot_id", "lots"),
    sa.Column("at", Moment, nullable=False),
    refers("box_id", "paper_boxes", required=False),
    refers("roll_id", "rolls", required=False),
    refers("container_id", "containers", required=False),
    sa.Column("scan", sa.Text, nullable=False, server_default=""),
    sa.Column("base", sa.JSON, nullable=False),
    sa.Column("verdict", sa.Text, nullable=False),
    sa.Column("places", sa.JSON, nullable=False),
    sa.Column("over_base", sa.JSON, nullable=False),
    sa.Column("coin_test", sa.Text, nullable=False, server_default=""),
    sa.Column("words", sa.Text, nullable=False, server_default=""),
    sa.Column("wedge", sa.Text),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class FogRecord(Record):
    """What an unexposed sheet of a lot told.

    Attributes
    ----------
    scan : str
        SHA-256 of the scan it was read from; empty: entered by hand.
    base : (3,) floats
        D-min through red, green and blue [1].
    verdict : str
    places : tuple of dict
        Each fogged edge: where, peak (3,), light, depth [mm].
    over_base : tuple of rows of (3,) lists
        Coarse map of density over base [1]; empty: entered by hand.
    coin_test : str
    words : str
    wedge : str or None
        Densities of the wedge that lay beside it; empty: none did. ``None``: it was not noted, before version 11.
    """

    table: ClassVar = _fog
    word: ClassVar = "fog reading"

    lot: str
    at: datetime
    box: str | None = None
    roll: str | None = None
    container: str | None = None
    scan: str = ""
    base: tuple[float, float, float]
    verdict: str
    places: tuple[dict[str, Any], ...] = ()
    over_base: tuple[list[list[float]], ...] = ()
    coin_test: str = ""
    words: str = ""
    wedge: str | None = None

    def __post_init__(self) -> None:
        if len(self.base) != 3 or not all(math.isfinite(d) and -0.2 <= d <= 3 for d in self.base):
            base = " / ".join(f"{Figure(density):.2f}" for density in self.base)
            raise ValueOutOfRange(
                f"A D-min of {base} (red, green, blue) cannot be: paper has from {Figure(-0.2):g} to 3. If it was read "
                "off a scan, look at the size and at the densities of the wedge that were typed."
            )

    @property
    def told(self) -> tuple[str, str]:
        """The words without their doubt, and the doubt; empty if there is none."""
        said, _, doubt = self.words.partition(DOUBTFUL)
        return said, doubt
