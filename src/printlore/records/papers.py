"""Paper families and their emulsion lots."""

import math
from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

import sqlalchemy as sa

from printlore.core.paper.facts import PaperFacts, Vector, sides_named
from printlore.errors import ValueOutOfRange
from printlore.records.rows import Record
from printlore.records.tables import Moment, record_table, refers

_paper_families = record_table(
    "paper_families",
    sa.Column("name", sa.Text, nullable=False),
    sa.Column("surface", sa.Text, nullable=False, server_default=""),
    sa.Column("base", sa.Text, nullable=False, server_default=""),
    sa.Column("dye_model", sa.Text, nullable=False, server_default="generic"),
    sa.Column("aim_density", sa.JSON, nullable=False),
    sa.Column("base_density", sa.JSON, nullable=False),
    sa.Column("black_density", sa.JSON, nullable=False),
    sa.Column("gradient", sa.JSON, nullable=False),
    sa.Column("note", sa.Text, nullable=False, server_default=""),
)

USUAL = PaperFacts(name="usual")


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperFamily(Record):
    """Papers that share one set of layer curves and dyes; ``dye_model`` names the spectral model used for them.

    Densities (red, green, blue) and gradient as in ``PaperFacts``.
    """

    table: ClassVar = _paper_families
    word: ClassVar = "paper"

    name: str
    surface: str = ""
    base: str = ""
    dye_model: str = "generic"
    aim_density: Vector = USUAL.aim_density
    base_density: Vector = USUAL.base_density
    black_density: Vector = USUAL.black_density
    gradient: Vector = USUAL.gradient
    note: str = ""

    def __post_init__(self) -> None:
        self.facts()

    def facts(self) -> PaperFacts:
        """What the memory is told of it."""
        return PaperFacts(
            name=self.name,
            aim_density=self.aim_density,
            base_density=self.base_density,
            black_density=self.black_density,
            gradient=self.gradient,
            side_absorptions=sides_named(self.dye_model),
        )


_lots = record_table(
    "lots",
    sa.Column("name", sa.Text, nullable=False),
    refers("family_id", "paper_families"),
    sa.Column("emulsion_number", sa.Text, nullable=False, server_default=""),
    sa.Column("received_at", Moment),
    sa.Column("note", sa.Text, nullable=False, server_default=""),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lot(Record):
    """Paper coated in one go: family, emulsion number on the label, and when it came."""

    table: ClassVar = _lots
    word: ClassVar = "lot"

    name: str
    family: str
    emulsion_number: str = ""
    received_at: datetime | None = None
    note: str = ""


_frame_aims = record_table(
    "frame_aims",
    refers("frame_id", "frames"),
    refers("family_id", "paper_families"),
    sa.Column("density", sa.JSON, nullable=False),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameAim(Record):
    """Density (red, green, blue) that a frame's reference patch should have on a paper, where not the usual one."""

    table: ClassVar = _frame_aims
    word: ClassVar = "aim"

    frame: str
    family: str
    density: Vector

    def __post_init__(self) -> None:
        if not all(math.isfinite(value) and 0 <= value <= 4 for value in self.density):
            raise ValueOutOfRange(f"An aim of {self.density} cannot be a print's density; give 0 to 4 in each channel.")
