"""Touch codes: corner clips that tell apart pieces sharing a drum, whichever way up they come out.

A piece is turned and turned over in the drum, so a code counts only what no turn changes: how many
corners are clipped and which side of the sheet they share.
"""

from enum import StrEnum

from printlore.errors import Refused


class TouchCode(StrEnum):
    """Which corners are clipped. The value is its name in files and of its spoken prompt."""

    NONE = "clip_none"
    ONE = "clip_one"
    SHORT_SIDE = "clip_short_side"
    LONG_SIDE = "clip_long_side"
    OPPOSITE = "clip_opposite"
    THREE = "clip_three"
    FOUR = "clip_four"

    @property
    def words(self) -> str:
        return _WORDS[self]

    @property
    def corners(self) -> tuple[bool, bool, bool, bool]:
        """Clipped or not: top left, top right, bottom right, bottom left of an upright sheet."""
        return _CORNERS[self]


_WORDS: dict[TouchCode, str] = {
    TouchCode.NONE: "no corner clipped",
    TouchCode.ONE: "one corner clipped",
    TouchCode.SHORT_SIDE: "two corners clipped on a short side",
    TouchCode.LONG_SIDE: "two corners clipped on a long side",
    TouchCode.OPPOSITE: "two opposite corners clipped",
    TouchCode.THREE: "three corners clipped",
    TouchCode.FOUR: "four corners clipped",
}

_CORNERS: dict[TouchCode, tuple[bool, bool, bool, bool]] = {
    TouchCode.NONE: (False, False, False, False),
    TouchCode.ONE: (True, False, False, False),
    TouchCode.SHORT_SIDE: (True, True, False, False),
    TouchCode.LONG_SIDE: (True, False, False, True),
    TouchCode.OPPOSITE: (True, False, True, False),
    TouchCode.THREE: (True, True, True, False),
    TouchCode.FOUR: (True, True, True, True),
}


def touch_codes(pieces: int, *, square: bool = False) -> tuple[TouchCode, ...]:
    """Codes for so many pieces in one drum, easiest to feel first.

    Parameters
    ----------
    pieces : int
        How many share the drum.
    square : bool
        Whether any of them is square: short and long side then feel alike.

    Raises
    ------
    Refused
        If there are more pieces than corners can tell apart.
    """
    codes = tuple(code for code in TouchCode if not (square and code is TouchCode.LONG_SIDE))
    if pieces > len(codes):
        raise Refused(
            f"{pieces} pieces share a drum, but clipped corners tell only {len(codes)} apart. "
            "Put fewer in, or use a second drum."
        )
    return codes[: max(pieces, 0)]
