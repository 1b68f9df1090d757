"""Points of the cast map: the prints made, and where the next will fall. Page and terminal say them alike."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class PastPrint:
    """A print on the cast map.

    Attributes
    ----------
    yellow, magenta : float
        The move that would bring its reference patch to the aim [CC of exposure].
    number : str
        In the order made.
    lightness : str
        In words, written beside it.
    kept : bool
        It was accepted.
    by_eye : bool
        Judged, not read: drawn as a square.
    """

    yellow: float
    magenta: float
    number: str
    lightness: str = ""
    kept: bool = False
    by_eye: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """Where the next print will fall: mean [CC] and covariance [CC2], in the axes of the map."""

    yellow: float
    magenta: float
    variance_yellow: float
    variance_magenta: float
    covariance: float = 0.0
