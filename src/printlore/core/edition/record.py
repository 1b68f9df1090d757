"""The record of a numbered print as plain lines, and the digest that a certificate carries of it."""

import hashlib
import unicodedata
from dataclasses import dataclass

FORM = "Print record, form 1"
"""First line of the record; a change of the lines below needs another."""
NOT_RECORDED = "not recorded"


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintFacts:
    """What is certified of a numbered print; what is not known is empty or None.

    Attributes
    ----------
    code, title, artist, negative, process, paper, lot : str
    number : int
        Of the print, or of the artist's proof.
    proof : bool
        It is an artist's proof, outside the count.
    prints, proofs : int
        Promised in all, over all sizes and papers.
    of : int or None
        Total that its number was given with, which stays on the print; None: as is promised.
    size : (width, height) or None
        [mm]
    printed_on : str or None
        Day, ISO 8601.
    """

    code: str
    title: str
    artist: str = ""
    number: int
    proof: bool = False
    prints: int
    proofs: int = 0
    of: int | None = None
    size: tuple[float, float] | None = None
    printed_on: str | None = None
    negative: str = ""
    process: str = ""
    paper: str = ""
    lot: str = ""

    @property
    def number_words(self) -> str:
        """The number as it is written on a print: "3/15", "AP 1/2"."""
        return f"{'AP ' if self.proof else ''}{self.number}/{self.promised if self.of is None else self.of}"

    @property
    def promised(self) -> int:
        """Prints, or artist's proofs, of which it is one."""
        return self.proofs if self.proof else self.prints

    def lines(self) -> tuple[tuple[str, str], ...]:
        """(what, value) of each line, in the order of the record."""
        size = f"{self.size[0]:g} x {self.size[1]:g} mm" if self.size else ""
        values = (
            ("Print code", self.code),
            ("Title", self.title),
            ("Artist", self.artist),
            ("Number", self.number_words),
            ("Prints in all", str(self.prints)),
            ("Artist's proofs beside", str(self.proofs)),
            ("Size", size),
            ("Printed on", self.printed_on or ""),
            ("Negative", self.negative),
            ("Process", self.process),
            ("Paper", self.paper),
            ("Lot", self.lot),
        )
        return tuple((what, _tidy(value) or NOT_RECORDED) for what, value in values)

    def text(self) -> str:
        """The record: its form, then one line for each value as ``what: value``, each ended by a line feed."""
        return "".join(f"{line}\n" for line in (FORM, *(f"{what}: {value}" for what, value in self.lines())))


def digest(text: str) -> str:
    """SHA-256 of a record's text in UTF-8, as 64 hexadecimal digits.

    References
    ----------
    fips180-4
    """
    return hashlib.sha256(text.encode()).hexdigest()


def in_groups(sha256: str) -> str:
    """A digest in groups of eight, to be read and typed."""
    return " ".join(sha256[at : at + 8] for at in range(0, len(sha256), 8))


def differences(then: str, now: str) -> list[tuple[str, str, str]]:
    """(what, as it was, as it is) of each line in which two records differ; a line that one lacks is empty there."""
    before, after = _by_line(then), _by_line(now)
    return [
        (what, before.get(what, ""), after.get(what, ""))
        for what in dict.fromkeys((*before, *after))
        if before.get(what) != after.get(what)
    ]


def _by_line(text: str) -> dict[str, str]:
    form, *lines = text.splitlines()
    return {"Form": form} | dict(line.split(": ", 1) for line in lines)


def _tidy(value: str) -> str:
    return " ".join(unicodedata.normalize("NFC", value).split())
