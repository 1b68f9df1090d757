"""Notebook pages as text: typed lines or a table, taken apart into named parts; nothing is interpreted yet.

A typed line is the frame, a colon, and what was dialled in any order::

    film = Holiday
    Harbour 12: 60M 45Y, 9,5 s, f/8, 20x25 cm, 1998-03-04, a trace cyan

``word = value`` holds for the lines below it. A table has a header row.
"""

import csv
import io
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from printlore.core.quantities import NUMBER
from printlore.errors import UnreadableFile

COLUMNS: dict[str, tuple[str, ...]] = {
    "frame": ("frame", "negative", "neg", "picture", "title", "print"),
    "film": ("film", "roll"),
    "pack": ("pack", "filters", "filtration", "filter"),
    "cyan": ("cyan", "c"),
    "magenta": ("magenta", "m"),
    "yellow": ("yellow", "y"),
    "time": ("time", "seconds", "exposure", "s", "sec", "exposure time"),
    "f": ("f", "f-number", "f number", "stop", "aperture"),
    "size": ("size", "print size", "format"),
    "magnification": ("magnification", "enlargement"),
    "date": ("date", "day", "when"),
    "said": ("judgement", "said", "looks", "verdict", "cast"),
    "kept": ("kept", "good", "accepted", "final"),
    "density": ("density", "densities"),
    "red": ("red", "density red", "dr"),
    "green": ("green", "density green", "dg"),
    "blue": ("blue", "density blue", "db"),
    "head": ("head", "enlarger"),
    "paper": ("paper",),
    "lot": ("lot", "batch", "emulsion"),
    "bath": ("bath", "developer"),
    "person": ("person", "judged by", "who"),
    "kind": ("kind",),
    "note": ("note", "notes", "remarks", "comment"),
}
"""What a column or a ``word = value`` line may be called."""

CARRIED = ("film", "head", "paper", "lot", "bath", "date", "size", "f", "person", "magnification", "kind")
"""What a ``word = value`` line can set for the lines below it."""

LONGEST_PAGE = 5_000_000
"""[letters] A text longer than this is not a notebook page."""
LONGEST_LINE = 1000
"""[letters] Of one typed print with its remarks; longer ones take long to look through, and are none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteLine:
    """One print of a page, still as text.

    Attributes
    ----------
    number : int
        Line of the page, from 1.
    text : str
        As it came.
    parts : mapping of one of ``COLUMNS``, or ``free`` for what was not recognised, to text
    doubts : tuple of str
    problem : str or None
        Why the line is not a print.
    """

    number: int
    text: str
    parts: Mapping[str, str]
    doubts: tuple[str, ...] = ()
    problem: str | None = None


def decode_page(content: str | bytes) -> str:
    """Text of a page: UTF-8, or Windows-1252 if it is not.

    Raises
    ------
    UnreadableFile
        If it is empty, far too long or not text.
    """
    if isinstance(content, str):
        text = content
    else:
        try:
            text = content.decode("utf-8-sig")
        except UnicodeDecodeError:
            text = content.decode("cp1252", errors="replace")
    if "\0" in text or len(text) > LONGEST_PAGE:
        raise UnreadableFile("This is not a page of notes: it must be plain text, or a table saved as CSV.")
    if not text.strip():
        raise UnreadableFile("The page is empty. Type a line such as: Harbour 12: 60M 45Y, 9.5 s, f/8.")
    return text.lstrip("\ufeff")


def _meaning(heading: str, columns: Mapping[str, str]) -> str | None:
    plain = " ".join(heading.lower().replace("_", " ").split()).strip(" .:#")
    plain = re.sub(r"\s*[(\[].*[)\]]$", "", plain)
    given = {key.lower().strip(): value for key, value in columns.items()}
    if plain in given or heading.lower().strip() in given:
        return given.get(plain) or given[heading.lower().strip()]
    return next((name for name, known in COLUMNS.items() if plain in known), None)


def read_page(text: str, columns: Mapping[str, str] | None = None) -> list[NoteLine]:
    """Prints of a page, in order.

    Parameters
    ----------
    text : str
    columns : mapping of heading to one of ``COLUMNS``
        For headings that are not among the usual ones.

    Raises
    ------
    UnreadableFile
        If it is a table without a column for the time or the pack, or with one of them twice.
    """
    columns = columns or {}
    lines = text.splitlines()
    first = next(line for line in lines if line.strip())
    for delimiter in "\t;,":
        meanings = [_meaning(cell, columns) for _, cells, _ in _rows(first, delimiter) for cell in cells]
        if len(meanings) > 1 and sum(meaning is not None for meaning in meanings) >= 2:
            return list(_table(text, delimiter, columns))
    if re.search(r"[\t;]", first) and not re.search(r"[:=]", first):
        raise UnreadableFile(
            "The first row of the table names no columns that are known. Name them for example "
            "frame, pack, time, f, size, date, judgement, note."
        )
    return list(_typed(lines))


_END = "the end of the page"


def _rows(text: str, delimiter: str) -> Iterator[tuple[int, list[str], bool]]:
    """Rows of a table that are not empty: number of the first line, cells, and whether a quotation mark stayed open.

    Raises
    ------
    UnreadableFile
        If a cell is longer than any note.
    """
    # a quotation mark that is never closed takes in all that follows, and with it this last line
    reader = csv.reader(io.StringIO(f"{text}\n{_END}", newline=None), delimiter=delimiter)
    line = 0
    try:
        for cells in reader:
            number, line = line + 1, reader.line_num
            if cells == [_END]:
                return
            if any(cell.strip() for cell in cells):
                yield number, cells, cells[-1].endswith(f"\n{_END}")
    except csv.Error as error:
        raise UnreadableFile(
            f"The table cannot be entered: from line {line + 1} on it is no table ({error}). "
            "A quotation mark may have been left open there; close it, or take it out."
        ) from error


def _table(text: str, delimiter: str, columns: Mapping[str, str]) -> Iterator[NoteLine]:
    rows = _rows(text, delimiter)
    _, header, _ = next(rows)
    meanings = [_meaning(cell, columns) for cell in header]
    named = {meaning for meaning in meanings if meaning}
    twice = sorted(meaning for meaning in named if meanings.count(meaning) > 1 and meaning != "note")
    if twice or "time" not in named or not named & {"pack", "cyan", "magenta", "yellow"}:
        reason = (
            f"two columns are both taken for {twice[0]}" if twice else "it needs a column for time and one for the pack"
        )
        raise UnreadableFile(f"The table cannot be entered: {reason}. Headings read: {', '.join(header)}.")
    for number, cells, left_open in rows:
        if left_open:
            swallowed = delimiter.join(cells).removesuffix(f"\n{_END}")
            problem = (
                f"A quotation mark opens in this line and none closes it: {swallowed.count(chr(10)) + 1} lines "
                "were taken for one. Close it, or take it out, and enter the page again."
            )
            yield NoteLine(number=number, text=swallowed, parts={}, problem=problem)
            continue
        fields: dict[str, str] = {}
        loose = []
        for heading, meaning, cell in zip(header, meanings, cells, strict=False):
            if cell.strip() and meaning not in (None, "note"):
                fields[str(meaning)] = cell.strip()
            elif cell.strip():
                loose.append(cell.strip() if meaning == "note" else f"{heading.strip()}: {cell.strip()}")
        doubts: list[str] = []
        joined = sum(cell.count("\n") for cell in cells if delimiter in cell)
        if joined:
            doubts.append(f"{joined + 1} lines are one cell; quotation marks may have joined prints")
        more = len(cells) - len(header)
        if more > 0:
            doubts.append(f"{more} more cells than headings; a decimal comma may have split a number")
            loose.extend(cell.strip() for cell in cells[len(header) :] if cell.strip())
        if loose:
            fields["note"] = "; ".join(loose)
        yield NoteLine(number=number, text=delimiter.join(cells), parts=fields, doubts=tuple(doubts))


_FEW = r"\d+(?:[.,]\d+)?"
_UNIT = r"(?:mm\b|cm\b|in(?:ch(?:es)?)?\b|[\"\u2033])?"
_DIAL = rf"(?:{_FEW}\s*[CMY]|[CMY]\s*{_FEW})"
_DASH = r"\u2212\u2013-"
_WHOLE = rf"(?<![\d.,/:{_DASH}]){NUMBER}"
"""A number from its first sign on: the 2 of 1/2 s, or the 8 of 5-8 s, is no time."""
_SECONDS = rf"{_WHOLE}\s*s(?:ec(?:onds?)?)?\b"
_CLOCK = rf"(?<![\d.,/:{_DASH}])\d+:[0-5]\d(?:[.,]\d+)?(?![\d:])"


def _pattern(text: str) -> re.Pattern[str]:
    return re.compile(text, re.IGNORECASE)


_PARTS = (
    ("density", re.compile(rf"\bD\s*=?\s*{NUMBER}(?:\s*[/ ]\s*{NUMBER}){{2}}")),
    ("date", _pattern(r"\b(?:\d{4}-\d{1,2}-\d{1,2}|\d{1,2}\.\d{1,2}\.\d{4})\b")),
    ("pack", _pattern(rf"(?<![\w.,])(?<!\d/)[{_DASH}]?{_DIAL}(?:[\s,+/{_DASH}]*{_DIAL})*(?![a-z\d])")),
    # after the letters: with a pack in letters, 3/4/98 is a day
    ("pack", _pattern(rf"(?<![\w.,/{_DASH}]){_FEW}\s*/\s*{_FEW}\s*/\s*{_FEW}\b")),
    ("size", _pattern(rf"{NUMBER}\s*{_UNIT}\s*[x\u00d7]\s*{NUMBER}(?![\d/])\s*{_UNIT}")),
    ("magnification", _pattern(rf"{_WHOLE}\s*(?:x|times)(?=[\s,;]|$)")),
    ("f", _pattern(rf"\bf\s*/?\s*{_FEW}")),
    ("time", _pattern(rf"{_CLOCK}|{_WHOLE}\s*min(?:\s*{_SECONDS})?|{_SECONDS}")),
    ("kept", _pattern(r"\b(?:kept|keeper|final|accepted)\b")),
)
"""What is looked for in a typed line, in this order; what was found is taken out before the next."""


def _typed(lines: list[str]) -> Iterator[NoteLine]:
    carried: dict[str, str] = {}
    for number, line in enumerate(lines, start=1):
        plain = line.strip()
        if not plain or plain.startswith("#"):
            continue
        if len(plain) > LONGEST_LINE:
            problem = f"The line has {len(plain)} letters; {LONGEST_LINE} are the most. Shorten its remarks."
            yield NoteLine(number=number, text=line, parts={}, problem=problem)
            continue
        heading = re.fullmatch(r"([\w -]+?)\s*=\s*(.*)", plain)
        if heading:
            meaning = _meaning(heading[1], {})
            if meaning in CARRIED:
                carried[meaning] = heading[2].strip()
            else:
                problem = f'"{heading[1]}" cannot be set for the lines below. Use one of {", ".join(CARRIED)}.'
                yield NoteLine(number=number, text=line, parts={}, problem=problem)
            continue
        frame, colon, rest = plain.partition(": ")
        if not colon:
            frame, rest = "", plain
        fields = dict(carried)
        if frame:
            fields["frame"] = frame.strip()
        own: set[str] = set()
        for name, pattern in _PARTS:
            found = pattern.search(rest)
            if found and name not in own:
                own.add(name)
                fields[name] = found[0].strip()
                rest = rest[: found.start()] + " , " + rest[found.end() :]
        said = ", ".join(piece.strip() for piece in re.split(r"[;]|,(?!\d)", rest) if piece.strip(" .,"))
        if said:
            fields["free"] = said
        yield NoteLine(number=number, text=line, parts=fields)
