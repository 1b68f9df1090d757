"""The words on the board for saying what a print is like; ``core.said`` knows what they are worth."""

from printlore.core.memory.evidence import Cast, Judgement
from printlore.faces.words import shortest

CASTS = (Cast.YELLOW, Cast.RED, Cast.MAGENTA, Cast.BLUE, Cast.CYAN, Cast.GREEN)

STRENGTHS = ("trace", "slight", "strong", "very strong")

LIGHTNESS = (
    ("1 stop light", "much too light"),
    ("1/2 stop light", "too light"),
    ("a little light", "a little light"),
    ("right", "right"),
    ("a little dark", "a little dark"),
    ("1/2 stop dark", "too dark"),
    ("1 stop dark", "much too dark"),
)
"""As it is understood, and as it stands on the board."""

LIGHTS = ("viewing light, D50", "daylight", "room lamp", "other")

_STRENGTHS = {5.0: "a trace of", 10.0: "slightly", 20.0: "strongly", 30.0: "very strongly"}
_LIGHTNESS = {-1.0: "much too light", -0.5: "too light", -0.25: "a little light", -0.125: "a trace light"} | {
    1.0: "much too dark",
    0.5: "too dark",
    0.25: "a little dark",
    0.125: "a trace dark",
    0.0: "lightness right",
}


def words_of(judgement: Judgement) -> str:
    """A judgement as it would be said: "slightly magenta, a little light"."""
    if judgement.cast is Cast.NONE:
        colour = "no cast"
    elif judgement.strength in _STRENGTHS:
        colour = f"{_STRENGTHS[judgement.strength]} {judgement.cast.value}"
    else:
        colour = f"{judgement.cast.value} of {shortest(judgement.strength)} CC"
    stops = judgement.stops_too_dark
    lightness = _LIGHTNESS.get(stops)
    if lightness is None:
        lightness = f"{shortest(abs(stops), 2)} stops too {'dark' if stops > 0 else 'light'}"
    return f"{colour}, {lightness}" + (", judged wet" if judgement.wet else "")
