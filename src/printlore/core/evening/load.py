"""A load: the pieces of paper that go into one drum together, and how each is exposed. Prepared at the desk."""

from dataclasses import dataclass

from printlore.core.evening.exposure import Exposure
from printlore.core.evening.process import Sequence
from printlore.core.evening.touch import TouchCode
from printlore.core.figure import Figure
from printlore.errors import ValueOutOfRange

PIECE_KINDS = ("sheet", "strip", "control")


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One piece of paper.

    Attributes
    ----------
    name : str
        What the printer calls it, for example the frame and "strip 2".
    kind : str
        "sheet", "strip" or "control".
    frame : str or None
        Name of the frame it is of.
    setting : str
        Pack, time, f-number and magnification in words, for the page and the run card.
    exposures : tuple of Exposure
        In order; none for a control that came exposed.
    area : float
        [m2], above 0.
    size : str
        Width and height in words.
    code : TouchCode
        Which corners are clipped before it goes into the drum.

    Raises
    ------
    ValueOutOfRange
        If it has no name, an unknown kind, no area, or no exposure where one is needed.
    """

    name: str
    kind: str = "sheet"
    frame: str | None = None
    setting: str = ""
    exposures: tuple[Exposure, ...]
    area: float
    size: str = ""
    code: TouchCode = TouchCode.NONE

    def __post_init__(self) -> None:
        if not self.name.strip():
            raise ValueOutOfRange("A piece of paper has no name; say which frame it is of, and which try.")
        if self.kind not in PIECE_KINDS:
            raise ValueOutOfRange(f'"{self.name}" is a "{self.kind}"; it must be {", ".join(PIECE_KINDS)}.')
        if not 0 < self.area <= 4:
            raise ValueOutOfRange(f'"{self.name}" has {Figure(self.area):g} m2; give its area, above 0 and at most 4.')
        if not self.exposures and self.kind != "control":
            raise ValueOutOfRange(f'"{self.name}" is not exposed at all; give at least one exposure.')


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """Pieces for one drum.

    Attributes
    ----------
    name : str
        Names the load within the evening.
    drum : int
        Number on the drum, 1 or more; spoken.
    pieces : tuple of Piece
        In the order of exposing; their touch codes all differ.
    sequence : Sequence
        What the drum goes through.
    baths : tuple of (step kind, bath name)
        Which mixed bath each chemical step draws on; a step not named leaves no line in a ledger.
    head : str
        Under which it is exposed; empty: not known.

    Raises
    ------
    ValueOutOfRange
        If it has no pieces, two share a touch code, or the drum has no number.
    """

    name: str
    drum: int
    pieces: tuple[Piece, ...]
    sequence: Sequence
    baths: tuple[tuple[str, str], ...] = ()
    head: str = ""

    def __post_init__(self) -> None:
        if not self.name.strip():
            raise ValueOutOfRange("A load has no name; number the loads of the evening.")
        if not 1 <= self.drum <= 20:
            raise ValueOutOfRange(f"Drum {self.drum} cannot be; write a number from 1 to 20 on each drum.")
        if not self.pieces:
            raise ValueOutOfRange(f'Load "{self.name}" has no paper; give at least one piece.')
        seen: dict[TouchCode, str] = {}
        for piece in self.pieces:
            if piece.code in seen:
                raise ValueOutOfRange(
                    f'"{seen[piece.code]}" and "{piece.name}" both have {piece.code.words}; nobody could tell '
                    "them apart after the wash. Give each its own corners."
                )
            seen[piece.code] = piece.name

    @property
    def area(self) -> float:
        """All pieces [m2]."""
        return sum(piece.area for piece in self.pieces)
