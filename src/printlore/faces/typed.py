"""Text as typed into values, with the entry named if it cannot be read: forms and options share these."""

import re
from collections.abc import Callable, Iterable
from datetime import UTC, date, datetime, time
from typing import TypeVar

from printlore.core.calendar import full_day, sensible
from printlore.core.figure import LENGTH_UNIT, Figure
from printlore.core.light.enlarging import SMALL_FORMAT, Sheet
from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Setting
from printlore.core.light.three_lights import pack_of
from printlore.core.quantities import parse_f_number, parse_number, parse_pack, parse_size, parse_time
from printlore.errors import ValueOutOfRange

T = TypeVar("T", bound=str)
LONGEST_CARRIED = 9
"""Digits; nothing here is counted further."""
FITS = ("filled", "whole")
"""How a negative lies on a sheet: filling it, or whole inside it."""
FIT_NAMES = tuple(zip(FITS, ("fills the sheet, cropped", "is whole, with a border"), strict=True))
"""The same as it is said."""


def number(text: str, what: str, *, parse: Callable[[str], float] = parse_number) -> float:
    """A number as people write it.

    Raises
    ------
    ValueOutOfRange
        Names what was being entered.
    """
    if not text.strip():
        raise ValueOutOfRange(f"{what} is empty. Enter it, for example {Figure(7.5)}.")
    try:
        return parse(text)
    except ValueOutOfRange as error:
        raise ValueOutOfRange(f"{what}: {error}") from None


def carried(text: str) -> int:
    """A whole number that a form carries unseen, such as a version; 0 if it is none, since nobody typed it."""
    return int(text) if text.isdecimal() and len(text) <= LONGEST_CARRIED else 0


def step(text: str, what: str) -> int:
    """Number of a step of a strip, from 1. Raises ValueOutOfRange in words if it is none."""
    value = number(text, what)
    if not (value >= 1 and value == int(value)):
        raise ValueOutOfRange(f"{what} {Figure(value):g} is none. The steps of a strip are counted from 1.")
    return int(value)


def number_or(text: str, what: str, fallback: float, *, parse: Callable[[str], float] = parse_number) -> float:
    """As ``number``; an empty entry gives the fallback."""
    return number(text, what, parse=parse) if text.strip() else fallback


def number_if(text: str, what: str, *, parse: Callable[[str], float] = parse_number) -> float | None:
    """As ``number``; None if nothing was typed."""
    return number(text, what, parse=parse) if text.strip() else None


def one_of(options: Iterable[T], text: str, what: str) -> T:
    """The option that was chosen. Raises ValueOutOfRange with all of them: what is not known is not guessed."""
    known = tuple(options)
    for option in known:
        if option == text:
            return option
    raise ValueOutOfRange(f'{what}: "{text}" is not known here; choose one of {", ".join(filter(None, known))}.')


def numbers(text: str, what: str, *, parse: Callable[[str], float] = parse_number) -> tuple[float, ...]:
    """Several numbers, apart by spaces or semicolons; a comma with a space after it also parts them."""
    parts = (part.rstrip(",") for part in text.replace(";", " ").split())
    return tuple(number(part, what, parse=parse) for part in parts if part)


def three(text: str, what: str) -> tuple[float, float, float]:
    """Densities red, green, blue, as typed. Raises ValueOutOfRange if there are not three."""
    return _three(
        text, what, f"three densities, red green blue, for example {Figure(0.71)} {Figure(0.7):.2f} {Figure(0.72)}"
    )


def lab(text: str, what: str) -> tuple[float, float, float]:
    """CIELAB, as typed. Raises ValueOutOfRange if there are not three numbers."""
    return _three(text, what, "three numbers, L* a* b*, for example 65 18 17")


def _three(text: str, what: str, needs: str) -> tuple[float, float, float]:
    values = numbers(text, what)
    if len(values) != 3:
        raise ValueOutOfRange(f"{what} needs {needs}; {len(values)} were given.")
    return values[0], values[1], values[2]


def setting(
    *,
    cyan: str = "",
    magenta: str = "",
    yellow: str = "",
    lights: str = "",
    time: str,
    f_number: str = "",
    magnification: str = "",
) -> Setting:
    """A setting as typed; empty dials are 0, lens and size as usual (f/8, 8 times); lights say the pack if typed."""
    if lights.strip():
        pack = pack_of(*_three(lights, "Red, green, blue", "what each of the three was set to, for example 12 10 9"))
    else:
        pack = FilterPack(
            cyan=number_or(cyan, "Cyan", 0.0),
            magenta=number_or(magenta, "Magenta", 0.0),
            yellow=number_or(yellow, "Yellow", 0.0),
        )
    return Setting(
        pack=pack,
        time=number(time, "Time", parse=parse_time),
        f_number=number_or(f_number, "f-number", 8.0, parse=parse_f_number),
        magnification=number_or(magnification, "Enlarged", 8.0),
    )


def area(sizes: str) -> float:
    """Area of paper [m2], from one size ("20x25 cm") or several with a plus between ("20x25 cm + 13x18 cm").

    Raises
    ------
    ValueOutOfRange
        If one cannot be read, or it is not sure in which unit.
    """
    pieces = [piece.strip() for piece in sizes.split("+")]
    bare = [piece for piece in pieces if piece[-1:].isdigit()]
    usual = ("cm",) if LENGTH_UNIT.get() == "cm" else ("in", "inch", "inches", '"')
    if bare and not all(piece.lower().endswith(usual) for piece in pieces if piece not in bare):
        raise ValueOutOfRange(f'In "{sizes.strip()}" the unit of {bare[0]} is not sure. Write it behind each size.')
    return sum(wide * high for wide, high in map(parse_size, pieces)) / 1e6


def day_if(text: str, what: str) -> date | None:
    """A day as year-month-day or day.month.year; None if nothing was typed.

    Raises
    ------
    ValueOutOfRange
        If it is neither, or of a year that no record can be of.
    """
    plain = text.strip()
    if not plain:
        return None
    found = re.fullmatch(r"(\d{1,2})\.(\d{1,2})\.(\d{4})", plain)
    try:
        day = date(int(found[3]), int(found[2]), int(found[1])) if found else date.fromisoformat(plain)
    except ValueError:
        raise ValueOutOfRange(f'{what}: "{plain}" is no day. Write 2026-03-14 or 14.3.2026.') from None
    try:
        return sensible(day)
    except ValueOutOfRange as error:
        raise ValueOutOfRange(f"{what}: {error}") from None


def moment_if(text: str, what: str) -> datetime | None:
    """The moment of something that happened on a day: now if it is today, else the end of that day."""
    said = day_if(text, what)
    if said is None or said == datetime.now(UTC).astimezone().date():
        return None
    return datetime.combine(said, time(23, 59)).astimezone()


def happened_if(text: str, what: str) -> datetime | None:
    """As ``moment_if``, of what has happened. Raises ValueOutOfRange for a day that is still to come, too."""
    at = moment_if(text, what)
    if at is not None and at > datetime.now(UTC):
        raise ValueOutOfRange(f"{what}: {full_day(at)} is still to come. Write the day on which it happened.")
    return at


def negative_size(text: str) -> tuple[float, float]:
    """Both sides of the picture on the film [mm]; small format if nothing is said.

    Raises
    ------
    ValueOutOfRange
        If it cannot be read: one side alone does not say what a sheet crops.
    """
    if not text.strip():
        return SMALL_FORMAT
    try:
        return parse_size(text, unit="mm")
    except ValueOutOfRange as error:
        raise ValueOutOfRange(
            f'The negative "{text.strip()}" cannot be read. Write both sides in mm, for example 36x24 or 56x56.'
        ) from error


def sheet(size: str, negative: str = "", fit: str = FITS[0]) -> Sheet:
    """A sheet ("20x25 cm"), and how a negative ("36x24", in mm) is to lie on it: one of ``FITS``."""
    return Sheet(
        size=parse_size(size),
        negative=negative_size(negative),
        whole=one_of(FITS, fit, "How it lies on the sheet") == FITS[1],
    )


def sheet_option(size: str | None, negative: str | None, *, whole: bool) -> Sheet | None:
    """The sheet that a command's ``--size``, ``--negative`` and ``--whole`` ask for; None if no size was given.

    Raises
    ------
    ValueOutOfRange
        If it cannot be read, or the other two are given without a size.
    """
    if size is None:
        if negative is not None or whole:
            raise ValueOutOfRange(
                "--negative and --whole go with the size of the sheet. Give --size too, or leave both."
            )
        return None
    return sheet(size, negative or "", FITS[whole])


def file_name(given: str | None) -> str:
    """The last part of a file's name as it came with an upload, short enough to keep."""
    return (given or "").replace("\\", "/").rsplit("/", 1)[-1][-120:]


def made(pack: str, time: str, f_number: str, magnification: str) -> Setting:
    """A setting with its pack on one line, such as "60M 45Y"; nothing may be empty."""
    return Setting(
        pack=parse_pack(pack),
        time=number(time, "time", parse=parse_time),
        f_number=number(f_number, "f-number", parse=parse_f_number),
        magnification=number(magnification, "magnification"),
    )
