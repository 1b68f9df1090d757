"""Paper families and their emulsion lots."""

from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

import sqlalchemy as sa

from printlore.records.rows import Record
from printlore.records.tables import Moment, record_table, refers

_paper_families = record_table(
    "paper_families",
    sa.Column("name", sa.Text, nullable=False),
    sa.Column("surface", sa.Text, nullable=False, server_default=""),
    sa.Column("base", sa.Text, nullable=False, server_default=""),
    sa.Column("dye_model", sa.Text, nullable=False, server_default="generic"),
    sa.Column("note", sa.Text, nullable=False, server_default=""),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperFamily(Record):
    """Papers that share one set of layer curves and dyes; ``dye_model`` names the spectral model used for them."""

    table: ClassVar = _paper_families
    word: ClassVar = "paper"

    name: str
    surface: str = ""
    base: str = ""
    dye_model: str = "generic"
    note: str = ""


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
