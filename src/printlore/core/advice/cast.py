"""A cast in words, in density and in CC: how far a patch is from its aim."""

import math
from dataclasses import dataclass

from printlore.core.figure import Figure
from printlore.core.light.exposure import LOG10_PER_STOP
from printlore.core.paper.facts import Vector

LEAST_WORTH_A_WORD_CC = 1.0
"""Below this nobody sees a cast even side by side (common practice, no source)."""
LEAST_WORTH_A_WORD_STOPS = 0.04
"""Below this nobody sees a darkness even side by side (common practice, no source)."""

_NAMES = ("too cyan", "too blue", "too magenta", "too red", "too yellow", "too green")


@dataclass(frozen=True, slots=True, kw_only=True)
class Cast:
    """Error of a patch against its aim.

    Attributes
    ----------
    magenta, yellow : float
        Filtration to add for the aim [CC of exposure]; above 0 means too magenta, too yellow.
    stops_too_dark : float
        Too much exposure, mean of the layers [stop].
    density : (3,) reflection density above the aim [1]
    words : str
        For example "too magenta, a third of a stop too light".
    """

    magenta: float
    yellow: float
    stops_too_dark: float
    density: Vector
    words: str


def cast_of(log_exposure_error: Vector, density_error: Vector) -> Cast:
    """Cast from the error in log exposure (red, green, blue) [log10] and in density [1].

    Too much exposure of one layer makes too much of its dye: cyan, magenta, yellow.
    """
    red, green, blue = log_exposure_error
    magenta, yellow = 100 * (green - red), 100 * (blue - red)
    stops = (red + green + blue) / 3 / LOG10_PER_STOP
    words = [part for part in (_colour_words(log_exposure_error), lightness_words(stops)) if part]
    return Cast(
        magenta=magenta,
        yellow=yellow,
        stops_too_dark=stops,
        density=density_error,
        words=", ".join(words) or "right",
    )


def _colour_words(error: Vector) -> str:
    mean = sum(error) / 3
    cyan, magenta, yellow = (100 * (value - mean) for value in error)
    across, up = (yellow - magenta) * math.sqrt(3) / 2, cyan - (magenta + yellow) / 2
    strength = math.hypot(across, up) * 2 / 3
    if strength < LEAST_WORTH_A_WORD_CC:
        return ""
    # round the circle from cyan (up) through blue, magenta, red, yellow to green
    turn = math.degrees(math.atan2(-across, up)) % 360
    name = _NAMES[round(turn / 60) % 6]
    degree = "a trace " if strength < 3 else "a little " if strength < 7 else "" if strength < 18 else "much "
    return f"{degree}{name}"


def viewing_filter_of(density_error: Vector) -> tuple[str, float]:
    """Cast and the viewing filter, held at the eye, that would mend it: (word, strength [CC of density]).

    The nearest of the six casts; its strength is how far the error reaches that way, a filter of strength v being
    v/100 of density in one or two channels.
    """
    mean = sum(density_error) / 3
    error = [value - mean for value in density_error]
    best, most = "none", 0.0
    for word, channels in _FILTERS.items():
        pattern = [1.0 if channel in channels else 0.0 for channel in range(3)]
        middle = sum(pattern) / 3
        strength = 150 * sum((p - middle) * e for p, e in zip(pattern, error, strict=True))
        if strength > most:
            best, most = word, strength
    return best, most


_FILTERS = {"cyan": (0,), "magenta": (1,), "yellow": (2,), "red": (1, 2), "green": (0, 2), "blue": (0, 1)}


def lightness_words(stops: float) -> str:
    """For example "a third of a stop too light"; empty if it is not worth a word."""
    size = abs(stops)
    if size < LEAST_WORTH_A_WORD_STOPS:
        return ""
    fractions = (
        (0.08, "a trace"),
        (0.14, "a tenth of a stop"),
        (0.21, "a sixth of a stop"),
        (0.29, "a quarter of a stop"),
    )
    more = (
        (0.42, "a third of a stop"),
        (0.58, "half a stop"),
        (0.71, "two thirds of a stop"),
        (0.88, "three quarters of a stop"),
    )
    amount = next((words for limit, words in (*fractions, *more) if size < limit), "")
    if not amount:
        rounded = round(size * 2) / 2
        amount = "a stop" if rounded == 1 else f"{Figure(rounded):g} stops"
    return f"{amount} too {'dark' if stops > 0 else 'light'}"
