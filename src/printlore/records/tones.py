"""Tones of a print: what its light, middle and dark places read, and what they should read."""

import math
from dataclasses import dataclass
from datetime import datetime
from typing import Any, ClassVar, Self

import sqlalchemy as sa

from printlore.core.paper.facts import Vector
from printlore.errors import ValueOutOfRange
from printlore.records.rows import Record
from printlore.records.tables import Moment, record_table, refers

_tones = record_table(
    "tone_readings",
    refers("exposure_id", "exposures"),
    sa.Column("at", Moment, nullable=False),
    sa.Column("tone", sa.Text, nullable=False),
    sa.Column("density", sa.JSON, nullable=False),
    sa.Column("aim_density", sa.JSON(none_as_null=True)),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ToneReading(Record):
    """Densities of one tone of a print.

    Attributes
    ----------
    exposure_id : int
        Number of the exposure that made it.
    at : datetime
    tone : str
        For example "light", "mid", "dark", or "sky"; the newest of a name counts.
    density : (red, green, blue)
        As read, status A [1].
    aim_density : (red, green, blue) or None
        What it should be; ``None``: a neutral grey as light as it is.
    """

    table: ClassVar = _tones
    word: ClassVar = "tone"

    exposure_id: int
    at: datetime
    tone: str
    density: Vector
    aim_density: Vector | None = None

    def __post_init__(self) -> None:
        if not self.tone.strip():
            raise ValueOutOfRange("A tone has no name; call it light, mid or dark, or by what it is of.")
        for density in filter(None, (self.density, self.aim_density)):
            if not all(math.isfinite(value) and -0.5 <= value <= 4 for value in density):
                raise ValueOutOfRange(
                    f'Densities {density} of tone "{self.tone}" cannot be those of a print; they run from 0 to about '
                    "2.6. Check the order (red, green, blue)."
                )

    @classmethod
    def from_columns(cls, values: dict[str, Any]) -> Self:
        aim = values.pop("aim_density")
        density = tuple(values.pop("density"))
        return cls(**values, density=density, aim_density=None if aim is None else tuple(aim))

    def columns(self) -> dict[str, Any]:
        return {
            "exposure_id": self.exposure_id,
            "at": self.at,
            "tone": self.tone.strip(),
            "density": list(self.density),
            "aim_density": None if self.aim_density is None else list(self.aim_density),
        }
