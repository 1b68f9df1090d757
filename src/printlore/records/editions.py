"""Editions: what was promised of a negative, the numbered prints, and what became of each."""

import math
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, ClassVar, Self

import sqlalchemy as sa

from printlore.core.edition.code import read_code
from printlore.core.edition.state import PrintEvent
from printlore.core.figure import Figure
from printlore.errors import ValueOutOfRange
from printlore.records.rows import Record
from printlore.records.tables import Moment, record_table, refers

MOST_PRINTS = 10_000
"""Of an edition; nobody prints more by hand."""

_editions = record_table(
    "editions",
    sa.Column("name", sa.Text, nullable=False),
    refers("frame_id", "frames"),
    sa.Column("artist", sa.Text, nullable=False, server_default=""),
    sa.Column("prints", sa.Integer, nullable=False),
    sa.Column("proofs", sa.Integer, nullable=False),
    sa.Column("sizes", sa.Text, nullable=False, server_default=""),
    sa.Column("reason", sa.Text, nullable=False, server_default=""),
    sa.Column("confirmed", sa.Boolean, nullable=False, server_default=sa.text("0")),
    sa.Column("note", sa.Text, nullable=False, server_default=""),
    sa.CheckConstraint("prints > 0 AND proofs >= 0", name="promise"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Edition(Record):
    """What is promised of a negative; a promise that is changed is a correction, and all of them stay.

    Attributes
    ----------
    name : str
        Title of the work.
    frame, artist : str
    prints : int
        Numbered prints in all, over all sizes and papers.
    proofs : int
        Artist's proofs beside.
    sizes : str
        In which it is offered, in words.
    reason : str
        Why the promise was changed, with this version.
    confirmed : bool
        With this version the promise was raised though somebody might rely on the one before, and the printer said so.
    """

    table: ClassVar = _editions
    word: ClassVar = "edition"

    name: str
    frame: str
    artist: str = ""
    prints: int
    proofs: int = 0
    sizes: str = ""
    reason: str = ""
    confirmed: bool = False
    note: str = ""

    def __post_init__(self) -> None:
        for what, count, least in (("prints", self.prints, 1), ("artist's proofs", self.proofs, 0)):
            if not (isinstance(count, int) and least <= count <= MOST_PRINTS):
                raise ValueOutOfRange(
                    f'Edition "{self.name}": {count} {what} cannot be promised; give {least} to {MOST_PRINTS}.'
                )

    @classmethod
    def from_columns(cls, values: dict[str, Any]) -> Self:
        return cls(**(values | {"confirmed": bool(values["confirmed"])}))


_numbered = record_table(
    "numbered_prints",
    sa.Column("name", sa.Text, nullable=False),
    refers("edition_id", "editions"),
    sa.Column("proof", sa.Boolean, nullable=False),
    sa.Column("number", sa.Integer, nullable=False),
    refers("trial_id", "trials", required=False),
    sa.Column("width", sa.REAL),
    sa.Column("height", sa.REAL),
    sa.Column("printed_on", sa.Text),
    sa.Column("paper", sa.Text, nullable=False, server_default=""),
    sa.Column("note", sa.Text, nullable=False, server_default=""),
    sa.CheckConstraint("number > 0", name="number"),
    sa.CheckConstraint("(width IS NULL) = (height IS NULL) AND min(width, height) > 0", name="size"),
    # a number is given once for ever, whoever gives it and whatever becomes of the print
    sa.Index(
        "uq_numbered_prints_number",
        "edition_id",
        "proof",
        "number",
        unique=True,
        sqlite_where=sa.text("corrects_id IS NULL"),
    ),
)
KEEPS = {
    "one_sheet": (
        "NEW.trial_id IS NOT NULL AND NEW.removed = 0 AND EXISTS (SELECT 1 FROM numbered_prints_now AS other "
        "WHERE other.trial_id = NEW.trial_id AND other.record_id != coalesce(NEW.corrects_id, 0))",
        "a sheet is one numbered print",
    ),
    "keeps_its_number": (
        "EXISTS (SELECT 1 FROM numbered_prints AS first WHERE first.id = NEW.corrects_id AND (first.number, "
        "first.proof, first.edition_id, first.name) != (NEW.number, NEW.proof, NEW.edition_id, NEW.name))",
        "a print keeps its number and code",
    ),
}
"""What the database itself refuses of a numbered print: when, and in which words."""
for _name, (_when, _words) in KEEPS.items():
    _trigger = f"CREATE TRIGGER numbered_prints_{_name} BEFORE INSERT ON numbered_prints WHEN {_when} "
    _ddl = sa.DDL(f"{_trigger}BEGIN SELECT RAISE(ABORT, '{_words}'); END")  # type: ignore[no-untyped-call]
    sa.event.listen(_numbered, "after_create", _ddl)


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberedPrint(Record):
    """A print that has a number of an edition.

    Attributes
    ----------
    name : str
        Its print code, never given to another.
    edition : str
    proof : bool
        It is an artist's proof, outside the count.
    number : int
        From 1; of the proof, if it is one.
    trial : str or None
        The sheet it is, if that was logged.
    size : (width, height) or None
        [mm]
    printed_on : str or None
        Day, ISO 8601.
    paper : str
        In words, where no logged lot says it.
    """

    table: ClassVar = _numbered
    word: ClassVar = "numbered print"

    name: str
    edition: str
    proof: bool = False
    number: int
    trial: str | None = None
    size: tuple[float, float] | None = None
    printed_on: str | None = None
    paper: str = ""
    note: str = ""

    def __post_init__(self) -> None:
        if read_code(self.name) != self.name:
            raise ValueOutOfRange(f'The print code "{self.name}" is not written as codes are; write it with its dash.')
        if not (isinstance(self.number, int) and self.number >= 1):
            raise ValueOutOfRange(f"{self.number} is no number of a print; give a whole number, 1 or more.")
        if self.size and not all(math.isfinite(side) and 0 < side <= 10_000 for side in self.size):
            raise ValueOutOfRange(
                f"A print of {Figure(self.size[0]):g} x {Figure(self.size[1]):g} mm cannot be; "
                "give sides above 0, up to 10 m."
            )
        if self.printed_on is not None:
            try:
                sound = date.fromisoformat(self.printed_on).isoformat() == self.printed_on
            except ValueError:
                sound = False
            if not sound:  # a week or a day without dashes would stand on the certificate so
                raise ValueOutOfRange(
                    f'"{self.printed_on}" is no day; write year, month and day, for example 2026-03-14.'
                )

    def columns(self) -> dict[str, Any]:
        width, height = self.size or (None, None)
        return {
            "name": self.name,
            "edition": self.edition,
            "proof": self.proof,
            "number": self.number,
            "trial": self.trial,
            "width": width,
            "height": height,
            "printed_on": self.printed_on,
            "paper": self.paper,
            "note": self.note,
        }

    @classmethod
    def from_columns(cls, values: dict[str, Any]) -> Self:
        width, height = values.pop("width"), values.pop("height")
        size = None if width is None else (width, height)
        return cls(**(values | {"proof": bool(values["proof"])}), size=size)


_lines = record_table(
    "print_lines",
    refers("print_id", "numbered_prints"),
    sa.Column("at", Moment, nullable=False),
    sa.Column("happened", sa.Text, nullable=False),
    sa.Column("price", sa.REAL),
    sa.Column("person", sa.Text, nullable=False, server_default=""),
    sa.Column("packed", sa.Text, nullable=False, server_default=""),
    sa.Column("note", sa.Text, nullable=False, server_default=""),
    sa.Column("record", sa.Text, nullable=False, server_default=""),
    sa.Column("digest", sa.Text, nullable=False, server_default=""),
    sa.CheckConstraint(
        "happened IN ('signed', 'certificate written', 'on consignment', 'sold', 'delivered', 'returned', 'destroyed')",
        name="happened",
    ),
    sa.CheckConstraint("price >= 0", name="price"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintLine(Record):
    """One line of what became of a numbered print.

    Attributes
    ----------
    print : str
        Its print code.
    at : datetime
    happened : PrintEvent
    price : float or None
        Asked or paid [studio's unit of money].
    person : str
        To whom or with whom; may be left empty: names of buyers are personal data.
    packed : str
        How, if it was delivered.
    note : str
        The reason, if it was destroyed.
    record, digest : str
        Text that a certificate vouches for, and its SHA-256; of a certificate alone.
    """

    table: ClassVar = _lines
    word: ClassVar = "line of a print"

    print: str
    at: datetime
    happened: PrintEvent
    price: float | None = None
    person: str = ""
    packed: str = ""
    note: str = ""
    record: str = ""
    digest: str = ""

    def __post_init__(self) -> None:
        if self.price is not None and not (math.isfinite(self.price) and self.price >= 0):
            raise ValueOutOfRange(f"A price of {Figure(self.price):g} cannot be; give 0 or more, or leave it empty.")

    @classmethod
    def from_columns(cls, values: dict[str, Any]) -> Self:
        return cls(**(values | {"happened": PrintEvent(values["happened"])}))
