"""What an eye says in words, as a judgement: "a trace cyan, a little light, wet".

How much a word is worth: common practice, no source; the memory learns each person's own scale.
"""

import re
from dataclasses import dataclass

from printlore.core.figure import Figure
from printlore.core.memory.evidence import Cast, Judgement
from printlore.core.quantities import NUMBER, parse_number, tidy
from printlore.errors import ValueOutOfRange

CAST_WORDS: tuple[tuple[str, float], ...] = (
    ("trace", 5.0),
    ("hint", 5.0),
    ("touch", 5.0),
    ("slightly", 10.0),
    ("slight", 10.0),
    ("little", 10.0),
    ("bit", 10.0),
    ("very", 30.0),
    ("far too", 30.0),
    ("strongly", 20.0),
    ("strong", 20.0),
    ("much", 20.0),
)
"""Word -> viewing filter held at the eye [CC]."""

DARK_WORDS: tuple[tuple[str, float], ...] = (
    ("two thirds", 2 / 3),
    ("three quarters", 3 / 4),
    ("half", 1 / 2),
    ("third", 1 / 3),
    ("quarter", 1 / 4),
    ("sixth", 1 / 6),
    ("tenth", 1 / 10),
    ("a stop", 1.0),
    ("one stop", 1.0),
    ("two stops", 2.0),
    ("trace", 1 / 8),
    ("hint", 1 / 8),
    ("touch", 1 / 8),
    ("slightly", 1 / 4),
    ("slight", 1 / 4),
    ("little", 1 / 4),
    ("bit", 1 / 4),
    ("very", 1.0),
    ("far too", 1.0),
    ("much", 1.0),
)
"""Word -> stops of exposure."""

USUAL_CAST = 15.0
"""[CC] A cast named with no word for how much."""
USUAL_STOPS = 1 / 2
"""[stop] Dark or light with no word for how much."""

_CASTS = {cast.value: cast for cast in Cast if cast is not Cast.NONE} | {
    "reddish": Cast.RED,
    "greenish": Cast.GREEN,
    "bluish": Cast.BLUE,
    "yellowish": Cast.YELLOW,
}
_TURNED = re.compile(
    r"\b(?:not|no|less|more|lack(?:s|ing)?|needs?|wants?|without|minus|too little)\b|(?<!\w)-\s*[\d.,]"
)
"""What may turn a cast or a darkness into its opposite, or mean a filter: "too little magenta", "needs less yellow"."""
_DARK = r"\b(dark|light|heavy|thin|dense)(?:er)?\b"
_FOREIGN = {"cast": r"%|stops?\b|s\b|sec", "darkness": r"%|cc\b|s\b|sec|x\b"}
"""Units behind a number that are not those of a cast (CC) or a darkness (stops)."""
_PLAIN_STOPS = 3.0
"""[stop] Of more darkness than this the unit is asked for: a bare number was meant for something else (from memory)."""
_NEUTRAL = r"neutral|no cast|colou?r (?:is )?(?:right|good|fine)|(?:just )?right|good|perfect|fine|ok|okay"


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """A judgement out of words, and what is doubtful about the reading of them."""

    judgement: Judgement
    doubts: tuple[str, ...] = ()


def parse_said(text: str, *, person: str = "printer") -> Said:
    """Judgement from words or figures: ``10 magenta, 1/3 stop dark``; ``a trace cyan, wet``; ``neutral``.

    Raises
    ------
    ValueOutOfRange
        If neither cast nor darkness nor a word for "right" is found, two casts or two darknesses are named, or a cast
        and a darkness with no comma between them, so that nobody knows whose a number is.
    """
    plain = " ".join(re.sub(r"[;&+]|\b(?:and|but)\b", ", ", tidy(text).lower()).split())
    cast, strength, stops, found, wet = Cast.NONE, 0.0, 0.0, False, False
    darkness = ""
    doubts: list[str] = []
    for part in (piece.strip(" .!") for piece in _pieces(plain)):
        if not part:
            continue
        colours = [_CASTS[word] for word in re.findall(rf"\b({'|'.join(_CASTS)})\b", part)]
        darks = re.findall(_DARK, part)
        what = "cast" if colours else "darkness"
        if part in ("wet", "judged wet", "still wet"):
            wet = True
        elif part in ("dry", "judged dry"):
            wet = False
        elif (colours or darks) and _TURNED.search(part):
            doubts.append(f'"{part}" was not understood; say what the print has too much of')
        elif colours and darks:
            raise ValueOutOfRange(
                f'"{part}" names a cast and a darkness. Part them by a comma: 10 magenta, 1/3 stop dark.'
            )
        elif len(colours) < 2 and (colours or darks) and _unclear(part, _FOREIGN[what]):
            doubts.append(f'"{part}" was not understood; say one number, a cast in CC, a darkness in stops')
        elif colours:
            for colour in colours:
                if cast is not Cast.NONE:
                    raise ValueOutOfRange(
                        f'"{text.strip()}" names two casts, {cast.value} and {colour.value}. Name the one that is too '
                        "much: magenta and yellow together are red, cyan and yellow green, cyan and magenta blue."
                    )
                cast, found = colour, True
            strength = _amount(part, CAST_WORDS, USUAL_CAST, f"how {cast.value}", doubts)
        elif darks:
            for dark in darks:
                if darkness:
                    raise ValueOutOfRange(
                        f'"{text.strip()}" says twice how dark it is, {darkness} and {dark}. Say it once.'
                    )
                darkness, found = dark, True
            amount = _amount(part, DARK_WORDS, USUAL_STOPS, f"how {darkness}", doubts)
            if amount > _PLAIN_STOPS and "stop" not in part:
                raise ValueOutOfRange(
                    f'"{part}" would be {Figure(amount):g} stops, {Figure(2.0**amount):.0f} times the light. Say how '
                    f'many, for example "1/3 stop {darkness}"; the number of a cast goes with its colour: 10 magenta.'
                )
            stops = amount if darkness in ("dark", "heavy", "dense") else -amount
        elif re.fullmatch(_NEUTRAL, part):
            found = True
        else:
            doubts.append(f'"{part}" was not understood')
    if not found:
        raise ValueOutOfRange(
            f'"{text.strip()}" does not say how the print looks. Say for example "10 magenta, 1/3 stop dark", '
            '"a trace cyan, a little light" or "neutral".'
        )
    said = Judgement(cast=cast, strength=strength, stops_too_dark=stops, person=person, wet=wet)
    return Said(judgement=said, doubts=tuple(doubts))


def _pieces(plain: str) -> list[str]:
    """Parts between commas; a comma before a digit is decimal, but after a word."""
    return re.split(r",(?!\d)|(?<=[a-z]),", plain)


def _unclear(part: str, foreign: str) -> bool:
    """Whether it has more than one number, or one of something else."""
    return len(re.findall(NUMBER, part)) > 1 or re.search(rf"{NUMBER}\s*(?:{foreign})", part) is not None


def _amount(part: str, words: tuple[tuple[str, float], ...], usual: float, what: str, doubts: list[str]) -> float:
    number = re.search(NUMBER, part)
    if number:
        return abs(parse_number(number[0]))
    for word, amount in words:
        if re.search(rf"\b{word}\b", part):
            return amount
    doubts.append(f"{what} was not said; {Figure(usual):g} is assumed")
    return usual
