"""The five kinds of light an evening is spent in, what each allows, and which may follow which."""

from dataclasses import dataclass
from enum import StrEnum

from printlore.errors import Refused


class Light(StrEnum):
    """Where the printer is. The value is its name in files."""

    DESK = "desk"
    EASEL = "easel"
    PAPER_OUT = "paper_out"
    WET = "wet"
    VIEWING = "viewing"

    @property
    def words(self) -> str:
        return RULES[self].words


@dataclass(frozen=True, slots=True, kw_only=True)
class LightRules:
    """What one kind of light allows.

    Attributes
    ----------
    words : str
        Its name in a sentence.
    room, hands, display : str
        What the room is lit by, how the hands are, and what the display may do.
    touch, keys : bool
        Whether a touch screen and whether a full keyboard may be asked for. A foot switch always may.
    next : tuple of Light
        Which may follow, the usual one first.
    """

    words: str
    room: str
    hands: str
    display: str
    touch: bool
    keys: bool
    next: tuple[Light, ...]


RULES: dict[Light, LightRules] = {
    Light.DESK: LightRules(
        words="desk",
        room="white light",
        hands="dry",
        display="on",
        touch=True,
        keys=True,
        next=(Light.EASEL, Light.WET, Light.VIEWING),
    ),
    Light.EASEL: LightRules(
        words="easel",
        room="dark, the negative projected, no paper out",
        hands="dry",
        display="dim and turned away from the easel",
        touch=True,
        keys=True,
        next=(Light.PAPER_OUT, Light.DESK),
    ),
    Light.PAPER_OUT: LightRules(
        words="paper out",
        room="total darkness",
        hands="bone dry",
        display="off at its own switch, or covered with something opaque",
        touch=False,
        keys=True,
        next=(Light.WET, Light.EASEL),
    ),
    Light.WET: LightRules(
        words="wet",
        room="white light, lids on",
        hands="wet gloves",
        display="on, behind a splash cover",
        touch=True,
        keys=False,
        next=(Light.VIEWING, Light.EASEL, Light.DESK),
    ),
    Light.VIEWING: LightRules(
        words="viewing",
        room="standard viewing light",
        hands="clean and dry",
        display="on, or not looked at while judging",
        touch=True,
        keys=True,
        next=(Light.DESK, Light.EASEL, Light.WET),
    ),
}
"""Colour paper is handled in total darkness (k4); the rest is common practice, no source."""


def check_move(now: Light, then: Light) -> None:
    """Refuse a move that the room does not allow.

    Raises
    ------
    Refused
        If ``then`` may not follow ``now``; says what may.
    """
    if then not in RULES[now].next:
        allowed = " or ".join(f'"{light.words}"' for light in RULES[now].next)
        raise Refused(f'"{then.words.capitalize()}" cannot follow "{now.words}"; from here go to {allowed}.')
