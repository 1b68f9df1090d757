"""Profiles of scanners, patches read twice, comparisons of prints, mappings of CSV files, and the watched folder."""

from dataclasses import dataclass
from typing import Any, ClassVar, Self

import sqlalchemy as sa

from printlore.core.measure.characterise import ScannerProfile
from printlore.core.measure.pairs import Pair, PairKind
from printlore.core.plain import from_plain
from printlore.records.rows import Record
from printlore.records.tables import record_table, refers

_profiles = record_table(
    "scanner_profiles",
    sa.Column("scanner", sa.Text, nullable=False, index=True),
    sa.Column("made", sa.Text, nullable=False),
    sa.Column("number", sa.Integer, nullable=False),
    sa.Column("document", sa.JSON, nullable=False),
    sa.CheckConstraint("number >= 1", name="number"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ProfileRecord(Record):
    """One profile of a scanner or camera: its name and setting, date, count of its profiles, and the numbers."""

    table: ClassVar = _profiles
    word: ClassVar = "scanner profile"

    scanner: str
    made: str
    number: int = 1
    document: dict[str, Any]

    def profile(self) -> ScannerProfile:
        """The profile as the reading of patches takes it."""
        return from_plain(ScannerProfile, self.document, where="The scanner profile")


_pairs = record_table(
    "reading_pairs",
    sa.Column("kind", sa.Text, nullable=False),
    refers("paper_id", "paper_families"),
    sa.Column("scanner", sa.Text, nullable=False, server_default=""),
    sa.Column("read", sa.JSON, nullable=False),
    sa.Column("known", sa.JSON, nullable=False),
    sa.Column("standard_error", sa.REAL, nullable=False),
    sa.Column("note", sa.Text, nullable=False, server_default=""),
    sa.CheckConstraint("kind IN ('dyes', 'dry_down')", name="kind"),
    sa.CheckConstraint("standard_error > 0", name="standard_error"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PairRecord(Record):
    """One patch read twice, and what it was on.

    Attributes
    ----------
    kind : PairKind
    paper : str
        Its family.
    scanner : str
        Empty: the studio's only one.
    pair : Pair
    note : str
    """

    table: ClassVar = _pairs
    word: ClassVar = "pair of readings"

    kind: PairKind
    paper: str
    scanner: str = ""
    pair: Pair
    note: str = ""

    def columns(self) -> dict[str, Any]:
        return {
            "kind": self.kind.value,
            "paper": self.paper,
            "scanner": self.scanner,
            "read": list(self.pair.read),
            "known": list(self.pair.known),
            "standard_error": self.pair.standard_error,
            "note": self.note,
        }

    @classmethod
    def from_columns(cls, values: dict[str, Any]) -> Self:
        read, known = tuple(values.pop("read")), tuple(values.pop("known"))
        pair = Pair(read=read, known=known, standard_error=values.pop("standard_error"))
        return cls(**{**values, "kind": PairKind(values["kind"])}, pair=pair)


_comparisons = record_table(
    "comparisons",
    sa.Column("first", sa.Text, nullable=False),
    sa.Column("second", sa.Text, nullable=False),
    sa.Column("likeness", sa.Text, nullable=False),
    sa.Column("words", sa.Text, nullable=False),
    sa.Column("document", sa.JSON, nullable=False),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ComparisonRecord(Record):
    """Two prints side by side: names of their scans, verdict, and the shifts."""

    table: ClassVar = _comparisons
    word: ClassVar = "comparison"

    first: str
    second: str
    likeness: str
    words: str
    document: dict[str, Any]


_mappings = record_table(
    "csv_mappings",
    sa.Column("name", sa.Text, nullable=False),
    sa.Column("document", sa.JSON, nullable=False),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class MappingRecord(Record):
    """How one kind of CSV file is read; ``name`` is its headings, so that the next such file is known."""

    table: ClassVar = _mappings
    word: ClassVar = "CSV mapping"

    name: str
    document: dict[str, Any]


_folders = record_table("watched_folders", sa.Column("path", sa.Text, nullable=False))


@dataclass(frozen=True, slots=True, kw_only=True)
class WatchedFolder(Record):
    """Where the scanner saves; a new scan there offers itself."""

    table: ClassVar = _folders
    word: ClassVar = "watched folder"

    path: str
