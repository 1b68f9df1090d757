"""Light and dark tones of a print that want different filters: what to read, and the best compromise."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import sqlalchemy as sa

from printlore.core.advice.crossover import Compromise, Tone, best_compromise
from printlore.core.figure import Figure
from printlore.core.memory.forecast import Conditions, learned_curves, look_up
from printlore.core.paper.dyes import DyeModel, paper_named
from printlore.core.paper.facts import Vector, vector
from printlore.errors import ValueOutOfRange
from printlore.records.bulk import day_number
from printlore.records.database import Database
from printlore.records.papers import Lot, PaperFamily
from printlore.records.rows import add, every, find
from printlore.records.tones import ToneReading
from printlore.records.trials import TrialRecord, TrialRow, with_patches
from printlore.services.memory import current_memory

WORTH_READING = (0.3, 0.7, 1.4)
"""Densities from memory: far enough from white and black that the paper's curve still has a slope."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ToneEntry:
    """One tone as it is entered: its name, what it reads, and what it should read (``None``: neutral, as light)."""

    name: str
    density: Vector
    aim_density: Vector | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossover:
    """What filtration can do for all tones of a print at once.

    Attributes
    ----------
    trial : str
        The print whose tones were read; "" if none was.
    compromise : Compromise or None
        ``None`` if fewer than two tones were read.
    words : str
        What to do, or what to read.
    """

    trial: str
    compromise: Compromise | None
    words: str


def read_tones(db: Database, trial: str, tones: Sequence[ToneEntry]) -> tuple[ToneReading, ...]:
    """Record tones of a print; the newest of each name counts, the others stay.

    Raises
    ------
    UnknownRecord
        If there is no such trial.
    ValueOutOfRange
        If no tone is given, a density cannot be, or the paper cannot come out as a tone should.
    """
    if not tones:
        raise ValueOutOfRange("No tone was read; give at least a light, a middle and a dark one.")
    with db.transaction() as conn:
        record = with_patches(conn, [find(conn, TrialRow, trial)])[0]
        number, at = record.patches[0].exposure.id, datetime.now(UTC)
        paper = find(conn, PaperFamily, find(conn, Lot, record.row.lot).family).facts()
        for tone in tones:
            if tone.aim_density is not None:
                paper.refuse_beyond_reach(tone.aim_density)
        return tuple(
            add(
                conn,
                ToneReading(
                    exposure_id=number, at=at, tone=tone.name, density=tone.density, aim_density=tone.aim_density
                ),
            )
            for tone in tones
        )


def crossover(db: Database, frame: str) -> Crossover:
    """Best compromise over the tones of the frame's newest print that has any, or what to read.

    Raises
    ------
    UnknownRecord
        If there is no such frame.
    """
    with db.reading() as conn:
        found = _newest(conn, frame)
        if found is None:
            return Crossover(trial="", compromise=None, words=_what_to_read())
        record, readings = found
        row = record.row
        paper = find(conn, PaperFamily, find(conn, Lot, row.lot).family)
    if len(readings) < 2:
        words = f"Only the {readings[0].tone} tone of {record.name} was read. Read a light, a middle and a dark one."
        return Crossover(trial=record.name, compromise=None, words=words)
    dyes = paper_named(paper.dye_model)
    under = Conditions(
        frame=row.frame,
        head=row.head,
        lot=row.lot,
        bath=row.bath,
        date=day_number(row.at),
        bath_state=row.bath_state,
    )
    curves = learned_curves(look_up(current_memory(db), under))
    tones = [
        Tone(name=one.tone, density=one.density, aim_density=one.aim_density or neutral(one.density, dyes))
        for one in readings
    ]
    best = best_compromise(tones, curves, dyes)
    return Crossover(trial=record.name, compromise=best, words=best.words)


def _what_to_read() -> str:
    light, middle, dark = (Figure(density) for density in WORTH_READING)
    return (
        "Nothing is known of its light and dark tones. Read three places of one print that should be neutral, or "
        f"whose aim you know: a light one (density about {light}), a middle one ({middle}) and a dark one ({dark})."
    )


def neutral(density: Vector, dyes: DyeModel) -> Vector:
    """Densities of the neutral grey that is as light as this tone."""
    lightness = float(dyes.lab_from_density(density)[0])
    return vector(dyes.density_from_lab((lightness, 0.0, 0.0)))


def _newest(conn: sa.Connection, frame: str) -> tuple[TrialRecord, tuple[ToneReading, ...]] | None:
    trials = with_patches(conn, every(conn, TrialRow, frame=frame))
    for record in sorted(trials, key=lambda one: (one.row.at, one.row.id), reverse=True):
        for patch in record.patches:
            read = {one.tone: one for one in every(conn, ToneReading, exposure_id=patch.exposure.id)}
            if read:
                return record, tuple(read.values())
    return None
