"""Patches read twice: keep them, and correct later readings by what they say."""

import dataclasses
from dataclasses import dataclass

import numpy as np
import sqlalchemy as sa

from printlore.core.figure import Figure
from printlore.core.flags import Flag
from printlore.core.measure.characterise import ScannerProfile
from printlore.core.measure.pairs import LearnedShift, Pair, PairKind
from printlore.core.measure.scanner import Material
from printlore.core.paper.facts import Vector, vector
from printlore.errors import Refused, UnknownRecord
from printlore.records.database import Database
from printlore.records.measuring import PairRecord, ProfileRecord
from printlore.records.papers import Lot, PaperFamily
from printlore.records.rows import add, every, every_ever, find, latest
from printlore.records.trials import PatchReading
from printlore.services.lines import bring_line_back, find_line, take_line_back

LISTED = "the pairs read twice (measure pairs)"
_MID_GREY: Vector = (0.75, 0.75, 0.75)


def add_pair(
    db: Database, kind: PairKind, pair: Pair, *, paper: str = "", scanner: str = "", note: str = ""
) -> PairRecord:
    """Keep a patch that was read twice.

    Parameters
    ----------
    paper : str
        Its family; empty: that of the newest lot.
    scanner : str
        Of a pair of dyes; empty if the studio has one only.

    Raises
    ------
    UnknownRecord
        If there is no such paper, or none at all.
    """
    with db.transaction() as conn:
        record = PairRecord(
            kind=kind,
            paper=find(conn, PaperFamily, paper).name if paper else _newest_paper(conn),
            scanner=" ".join(scanner.split()) if kind is PairKind.DYES else "",
            pair=pair,
            note=note,
        )
        return add(conn, record)


def _newest_paper(conn: sa.Connection) -> str:
    lot = latest(conn, Lot)
    paper = latest(conn, PaperFamily) if lot is None else None
    if lot is None and paper is None:
        raise UnknownRecord("The studio has no paper yet, so the pair belongs to none. Add the paper first.")
    return lot.family if lot is not None else str(paper and paper.name)


def pairs(db: Database) -> tuple[PairRecord, ...]:
    """Pairs kept, oldest first; one that was taken back has ``removed`` set."""
    with db.reading() as conn:
        return tuple(every_ever(conn, PairRecord))


def remove_pair(db: Database, number: int) -> PairRecord:
    """Take a pair back; its row stays.

    Raises
    ------
    UnknownRecord
        If there is none of that number.
    Refused
        If it was taken back before.
    """
    return take_line_back(db, find_line(db, PairRecord, number, listed=LISTED), f"Pair {number}")


def bring_pair_back(db: Database, number: int) -> PairRecord:
    """Let a pair that was taken back count again, as it was read. Raises as ``remove_pair``."""
    return bring_line_back(db, find_line(db, PairRecord, number, listed=LISTED), f"Pair {number}")


def learned(
    db: Database, kind: PairKind, *, paper: str = "", lot: str | None = None, scanner: str = ""
) -> LearnedShift:
    """What the pairs of a paper say; with none, what is usual.

    Parameters
    ----------
    paper, lot : str
        The paper's family, or a lot of it; neither: that of the newest lot.
    scanner : str
        Empty: the one of the newest pair.
    """
    with db.reading() as conn:
        if not paper:
            known = find(conn, Lot, lot) if lot else latest(conn, Lot)
            newest = latest(conn, PaperFamily) if known is None else None
            paper = known.family if known else newest.name if newest else ""
        return _learned(conn, kind, paper, scanner)


def _learned(conn: sa.Connection, kind: PairKind, paper: str, scanner: str = "") -> LearnedShift:
    of_paper = [record for record in every(conn, PairRecord) if record.kind is kind and record.paper == paper]
    scanner = scanner or (of_paper[-1].scanner if of_paper else "")
    return LearnedShift(kind=kind, pairs=tuple(r.pair for r in of_paper if r.scanner == scanner))


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownDyes:
    """What the studio knows of how its scanner sees a paper's dyes.

    Attributes
    ----------
    profile : ScannerProfile or None
        By a chart on photographic paper, if there is one and no second scanner.
    shift : LearnedShift
        By known patches.
    words : str
    """

    profile: ScannerProfile | None
    shift: LearnedShift
    words: str


def known_dyes(db: Database, *, lot: str | None = None, paper: str = "") -> KnownDyes:
    """The best that is known: a chart, else known patches, else what is usual. Parameters as of ``learned``."""
    shift = learned(db, PairKind.DYES, lot=lot, paper=paper)
    with db.reading() as conn:
        records = every(conn, ProfileRecord)
    profile = records[-1].profile() if records and len({r.scanner for r in records}) == 1 else None
    if profile is None or profile.to_status_a is None or profile.material is not Material.PHOTOGRAPHIC_PAPER:
        return KnownDyes(profile=None, shift=shift, words=shift_words(shift))
    said = f"Through the chart of {profile.made}, within {Figure(max(profile.to_status_a.error)):.3f} of status A."
    return KnownDyes(profile=profile, shift=shift, words=said)


def dried(conn: sa.Connection, reading: PatchReading, lot: str) -> PatchReading:
    """A wet reading as the print will read dry, by the measured dry-down of the lot's paper; a dry one as it is.

    Raises
    ------
    Refused
        If it was read wet and no dry-down of this paper was measured.
    """
    if not reading.wet:
        return reading
    paper = find(conn, Lot, lot).family
    shift = _learned(conn, PairKind.DRY_DOWN, paper)
    if not shift.pairs:
        raise Refused(
            f'A wet print reads otherwise than dry, and how "{paper}" dries down was never measured. Dry it and read '
            "it again; or read one patch wet and dry and keep the pair under Readings: then wet readings are corrected."
        )
    density, error = shift.corrected(reading.density)
    return dataclasses.replace(
        reading,
        density=vector(density),
        standard_error=float(np.hypot(reading.standard_error, error.max())),
        wet=False,
        flags=tuple(dict.fromkeys((*(f for f in reading.flags if f is not Flag.WET), Flag.DRIED))),
        as_entered=reading.as_entered or "read wet: " + " ".join(f"{Figure(value):.3f}" for value in reading.density),
    )


def shift_words(shift: LearnedShift) -> str:
    """What a number of pairs comes to at a grey, as a sentence."""
    after, error = shift.corrected(_MID_GREY)
    spread = f"± {Figure(error.max()):.3f}"
    if not shift.pairs:
        if shift.kind is PairKind.DRY_DOWN:
            return "No dry-down of this paper was measured, so wet readings are refused."
        return (
            f"Between two prints of this paper such readings tell the difference; against an instrument all of them "
            f"are off alike, {spread} at mid-grey, until one patch is known."
        )
    moved = " ".join(f"{Figure(value):+.3f}" for value in after - np.array(_MID_GREY))
    count = f"{len(shift.pairs)} known patch{'es' if len(shift.pairs) > 1 else ''}"
    what = "dries by" if shift.kind is PairKind.DRY_DOWN else "is moved by"
    return f"By {count}, a mid-grey {what} {moved} (red, green, blue), {spread}."
