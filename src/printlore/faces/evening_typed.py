"""An evening's entries as typed: a piece of paper on one line; and where its spoken words lie."""

import re
from dataclasses import replace
from pathlib import Path

from printlore.core.light.setting import Burn
from printlore.core.quantities import parse_number, parse_pack, parse_size, parse_time
from printlore.errors import ValueOutOfRange
from printlore.faces import typed
from printlore.services.evening_plan import PieceOrder

_SIGNED = re.compile(r"[+\-\u2212\u2013]\s*[\d.,]")
_BURN = re.compile(r"(?P<name>.+?)\s*(?P<sign>[+\-\u2212])\s*(?P<time>[\d.,/]+)\s*s?(?:\s+(?P<pack>.+))?")

AUDIO = Path(__file__).parent / "web" / "static" / "audio"

SHAPE = "frame; sheet; 60M 70Y; 8; 20x25 cm; sky +4, face -3, edge +2 60M 80Y; f/8; 8"


def piece(text: str) -> PieceOrder:
    """A piece of paper from one line, its parts set apart by semicolons.

    ``frame; kind; pack; seconds; size``, then if needed burns and dodges, f-number and magnification. A strip has
    the seconds of each step apart by spaces. A part may be empty.

    Raises
    ------
    ValueOutOfRange
        If a part cannot be read; shows the shape.
    """
    parts = [part.strip() for part in text.split(";")]
    if len(parts) < 5:
        raise ValueOutOfRange(f'"{text}" has {len(parts)} parts; write at least five, for example: {SHAPE}.')
    frame, kind, pack, seconds, size, burns, f_number, magnification = [*parts, "", "", ""][:8]
    width, height = parse_size(size)
    kind = kind or "sheet"
    if kind == "control" and not seconds:
        return PieceOrder(frame=frame or None, kind=kind, width=width, height=height)
    times = typed.numbers(seconds, "Seconds", parse=parse_time)
    if not times:
        raise ValueOutOfRange(f'"{text}" has no seconds. Write them, for example: {SHAPE}.')
    if len(times) > 1 and kind != "strip":
        raise ValueOutOfRange(f'"{text}" is a {kind} with {len(times)} times; only a strip has several.')
    return order(
        frame=frame,
        kind=kind,
        pack=pack,
        times=times,
        width=width,
        height=height,
        burns=burns,
        f_number=f_number,
        magnification=magnification,
    )


def order(
    *,
    frame: str,
    kind: str,
    pack: str,
    times: tuple[float, ...],
    width: float,
    height: float,
    burns: str = "",
    f_number: str = "",
    magnification: str = "",
) -> PieceOrder:
    """A piece from parts that are typed apart; empty lens and size as usual (f/8, 8 times)."""
    setting = typed.made(pack, repr(times[0]), f_number or "8", magnification or "8")
    if burns.strip():
        setting = replace(setting, burns=burns_of(burns))
    return PieceOrder(
        frame=frame or None,
        kind=kind,
        setting=setting,
        steps=times if kind == "strip" else (),
        width=width,
        height=height,
    )


def burns_of(text: str) -> tuple[Burn, ...]:
    """Burns and dodges such as ``sky +4, face -3, edge +2 60M 80Y``.

    Raises
    ------
    ValueOutOfRange
        If one has no name, sign or seconds, or another stands in its name.
    """
    found = []
    for part in re.split(r",(?!\d)", text):
        match = _BURN.fullmatch(part.strip())
        if match is not None and _SIGNED.search(match["name"]):
            raise ValueOutOfRange(
                f'"{part.strip()}" reads as more than one burn or dodge. '
                "Part them by a comma and a space: sky +4, face -3."
            )
        if match is None:
            raise ValueOutOfRange(f'"{part.strip()}" is no burn or dodge. Write for example: sky +4, face -3.')
        seconds = parse_number(match["time"])
        pack = match["pack"]
        found.append(
            Burn(
                name=match["name"],
                time=seconds if match["sign"] == "+" else -seconds,
                pack=None if not pack else parse_pack(pack),
            )
        )
    return tuple(found)
