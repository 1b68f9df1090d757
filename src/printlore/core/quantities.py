"""Numbers as people write them: decimal comma or point, fractions, inches and centimetres, filter letters."""

import re
import unicodedata

from printlore.core.figure import LENGTH_UNIT, Figure
from printlore.core.light.filters import FilterPack
from printlore.core.light.three_lights import pack_of
from printlore.errors import ValueOutOfRange

MM_PER_UNIT = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "inch": 25.4, "foot": 304.8}
"""The international inch is 25.4 mm exactly, the foot 12 of it; a roll is bought by the metre or the foot."""

_UNITS = {
    "mm": "mm",
    "cm": "cm",
    "m": "m",
    "ft": "foot",
    "in": "inch",
    "inch": "inch",
    "inches": "inch",
    '"': "inch",
    "''": "inch",
    "\u2033": "inch",
    "\u201d": "inch",
}
_PLAIN = r"[+-]?(?:\d+(?:[.,]\d+)*|[.,]\d+)"
NUMBER = rf"(?:[+-]?\d+\s+\d+/\d+|[+-]?\d+/\d+|{_PLAIN})"
"""Pattern of a number: 9, 9.5, 9,5, 1/3, 8 1/2."""
LONGEST_NUMBER = 60
"""Signs of a number; nobody types more, and no such number is beyond what a computer reckons with."""
LONGEST_ENTRY = 500
"""Signs of a size, time or pack; to look through a page that was pasted there would take for ever."""

_SIZE = re.compile(
    rf"^({NUMBER})\s*([a-z\"'\u2033\u201d]*)\s*[x\u00d7*]\s*({NUMBER})\s*([a-z\"'\u2033\u201d]*)$", re.IGNORECASE
)


def tidy(text: str) -> str:
    """Fractions such as one half spelled out, typographic minus and spaces made plain.

    Raises
    ------
    ValueOutOfRange
        If it is longer than any entry.
    """
    if len(text) > LONGEST_ENTRY:
        raise ValueOutOfRange(f'The entry "{text[:12]}..." has {len(text)} signs; {LONGEST_ENTRY} are the most.')
    out = []
    for sign in text.strip():
        if unicodedata.category(sign) == "No" and "FRACTION" in unicodedata.name(sign, ""):
            out.append(" " + unicodedata.normalize("NFKC", sign).replace("\u2044", "/"))
        else:
            out.append({"\u2212": "-", "\u2013": "-", "\u2044": "/"}.get(sign, sign))
    return " ".join("".join(out).split())


def parse_number(text: str) -> float:
    """A number with a decimal comma or point, or a fraction: ``9,5``, ``9.5``, ``1/3``, ``8 1/2``.

    With both marks the last is the decimal one and the other must set off groups of three
    digits (``1.234,5``). One mark alone is always decimal: ``1,234`` is a little more than one.

    Raises
    ------
    ValueOutOfRange
        If it is no such number.
    """
    plain = tidy(text)
    if len(plain) > LONGEST_NUMBER:
        raise ValueOutOfRange(f'The number "{plain[:12]}..." has {len(plain)} signs; {LONGEST_NUMBER} are the most.')
    whole = re.fullmatch(r"(?:([+-]?)(\d+) (?=\d))?([+-]?)(\d+)/(\d+)", plain)
    if whole and int(whole[5]):
        value = int(whole[4]) / int(whole[5]) + int(whole[2] or 0)
        return -value if "-" in (whole[1], whole[3]) else value
    if re.fullmatch(_PLAIN, plain):
        marks = [sign for sign in plain if sign in ".,"]
        if len(marks) > 1:
            decimal = marks[-1] if marks[-1] != marks[0] else ""
            groups = (
                r"[+-]?[1-9]\d{0,2}(?:"
                + re.escape(marks[0])
                + r"\d{3})+"
                + (rf"{re.escape(decimal)}\d+" if decimal else "")
            )
            if not re.fullmatch(groups, plain):
                raise _unreadable(text)
            plain = plain.replace(marks[0], "")
        return float(plain.replace(",", "."))
    raise _unreadable(text)


def _unreadable(text: str) -> ValueOutOfRange:
    unit = re.fullmatch(rf"{NUMBER}\s*([^\W\d_][^\d,;.]{{0,9}})", tidy(text))
    if unit:
        return ValueOutOfRange(
            f'The number "{text.strip()}" cannot be read. Write it without "{unit[1].strip()}", in the unit asked for.'
        )
    return ValueOutOfRange(
        f'The number "{text.strip()}" cannot be read. Write digits with one decimal comma or point, '
        "or a fraction such as 1/3."
    )


def parse_length(text: str, *, unit: str = "cm") -> float:
    """A length [mm] from a number with ``mm``, ``cm``, ``in`` or an inch mark; ``unit`` if none is written.

    Raises
    ------
    ValueOutOfRange
        If it cannot be read or is not above 0.
    """
    plain = tidy(text)
    found = re.fullmatch(rf"({NUMBER})\s*([a-z\"'\u2033\u201d]*)\.?", plain, re.IGNORECASE)
    if not found:
        raise ValueOutOfRange(f'The length "{text.strip()}" cannot be read. Write for example 20 cm, 8 in or 203 mm.')
    return _above_zero(parse_number(found[1]) * _millimetres(found[2] or unit, text), text)


def parse_margin(text: str, *, unit: str = "cm") -> float:
    """As ``parse_length``, but it may be 0."""
    return 0.0 if re.fullmatch(r"0+(?:[.,]0*)?\s*[a-z\"']*\.?", tidy(text)) else parse_length(text, unit=unit)


def parse_size(text: str, *, unit: str = "") -> tuple[float, float]:
    """A size [mm, mm] such as ``20x25 cm``, ``8 x 10 in``; in ``unit``, or else in the studio's, if none is written.

    Raises
    ------
    ValueOutOfRange
        If it cannot be read or a side is not above 0.
    """
    found = _SIZE.match(tidy(text))
    if not found:
        raise ValueOutOfRange(f'The size "{text.strip()}" cannot be read. Write for example 20x25 cm or 8x10 in.')
    second = found[4] or found[2] or unit or LENGTH_UNIT.get()
    sides = (
        parse_number(found[1]) * _millimetres(found[2] or second, text),
        parse_number(found[3]) * _millimetres(second, text),
    )
    return _above_zero(sides[0], text), _above_zero(sides[1], text)


def _millimetres(unit: str, text: str) -> float:
    name = _UNITS.get(unit.lower().rstrip("."))
    if name is None:
        raise ValueOutOfRange(f'The unit "{unit}" in "{text.strip()}" is not known. Use mm, cm, m, in or ft.')
    return MM_PER_UNIT[name]


def _above_zero(value: float, text: str) -> float:
    if value <= 0:
        raise ValueOutOfRange(f'The length in "{text.strip()}" is not above 0. Measure it again.')
    return value


def parse_time(text: str) -> float:
    """Seconds from ``9,5``, ``9.5 s``, ``1:20`` (minutes and seconds), ``1 min 20 s``.

    Raises
    ------
    ValueOutOfRange
        If it cannot be read. What a time may be is for ``Setting`` to say.
    """
    plain = tidy(text).lower()
    clock = re.fullmatch(r"(\d+):([0-5]\d(?:[.,]\d+)?)", plain)
    if clock:
        return parse_number(clock[1]) * 60 + parse_number(clock[2])
    minutes = re.fullmatch(rf"({NUMBER})\s*(?:min|m)\.?(?:\s*({NUMBER})\s*(?:s|sec|seconds?)?\.?)?", plain)
    if minutes:
        return parse_number(minutes[1]) * 60 + (parse_number(minutes[2]) if minutes[2] else 0)
    seconds = re.fullmatch(rf"({NUMBER})\s*(?:s|sec|seconds?)?\.?", plain)
    if not seconds:
        raise ValueOutOfRange(
            f'The time "{text.strip()}" cannot be read. Write seconds, for example {Figure(9.5)}, or 1:20.'
        )
    return parse_number(seconds[1])


def parse_f_number(text: str) -> float:
    """f-number from ``8``, ``f8``, ``f/5,6``, ``1:8``.

    Raises
    ------
    ValueOutOfRange
        If it cannot be read.
    """
    found = re.fullmatch(rf"(?:f\s*/?\s*|1:)?({_PLAIN})", tidy(text), re.IGNORECASE)
    if not found:
        raise ValueOutOfRange(f'The f-number "{text.strip()}" cannot be read. Write it as on the lens, for example 8.')
    return parse_number(found[1])


_STRENGTH = r"\d+(?:[.,]\d+)?"
_LETTERED = re.compile(rf"(?:({_STRENGTH})\s*([CMY])|([CMY])\s*({_STRENGTH}))(?![a-z])", re.IGNORECASE)
_LIGHTS = re.compile(rf"(?:({_STRENGTH})\s*([RGB])|([RGB])\s*({_STRENGTH}))(?![a-z])", re.IGNORECASE)
_BELOW_ZERO = re.compile(r"(?:^|[+,/&-])\s*-|\s-(?=\S)")
"""A minus that means less than none: before everything, or hard before its strength. Elsewhere it parts two filters."""


def parse_pack(text: str, *, order: str = "CMY") -> FilterPack:
    """A pack from letters (``60M 45Y``, ``M60+Y45``) or three numbers in a stated order (``0/60/45``).

    Of a head with three lights also from what each was set to, seconds or levels (``12R 10G 9B``): the pack is what
    each is below the strongest.

    Raises
    ------
    ValueOutOfRange
        If it cannot be read, a colour is named twice, or a strength cannot be.
    """
    plain = tidy(text)
    if plain.lower() in ("none", "no filters", "white", "-"):
        return FilterPack()
    if _BELOW_ZERO.search(plain):
        raise ValueOutOfRange(
            f'The pack "{text.strip()}" has a filter below 0. For the same balance with less than none of one colour, '
            "add as much to the other two."
        )
    lights = {(after or before).upper(): first or last for first, after, before, last in _LIGHTS.findall(plain)}
    if lights.keys() == set("RGB") and not _LIGHTS.sub(" ", plain).strip(" +,/-&"):
        red, green, blue = (parse_number(lights[name]) for name in "RGB")
        return pack_of(red, green, blue)
    strengths: dict[str, float] = {}
    rest = _LETTERED.sub(" ", plain)
    if _LETTERED.search(plain) and not rest.strip(" +,/-&"):
        for before, letter_after, letter_before, after in _LETTERED.findall(plain):
            letter = (letter_after or letter_before).upper()
            if letter in strengths:
                raise ValueOutOfRange(f'The pack "{text.strip()}" names {letter} twice. Give each colour once.')
            strengths[letter] = parse_number(before or after)
    else:
        parts = re.fullmatch(rf"({_PLAIN})\s*[/ -]\s*({_PLAIN})\s*[/ -]\s*({_PLAIN})", plain)
        if not parts:
            raise ValueOutOfRange(
                f'The pack "{text.strip()}" cannot be read. Write 60M 45Y, or 0/60/45 for {"/".join(order)}. '
                "Of three lights: 12R 10G 9B."
            )
        strengths = dict(zip(order.upper(), map(parse_number, parts.groups()), strict=True))
    return FilterPack(cyan=strengths.get("C", 0.0), magenta=strengths.get("M", 0.0), yellow=strengths.get("Y", 0.0))
