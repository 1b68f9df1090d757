"""Trials that look like slips: ask the printer, and write the answer down."""

from dataclasses import dataclass, replace
from datetime import UTC, datetime

import sqlalchemy as sa

from printlore.core.light.setting import Setting
from printlore.core.memory.slips import Suspect, suspects
from printlore.errors import Refused
from printlore.records.database import Database
from printlore.records.rows import add, every, find
from printlore.records.trials import MadeAsLogged, TrialRecord, TrialRow, with_patches
from printlore.services.memory import current_memory
from printlore.services.trials import correct_trial, exposure_at, find_trial


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """A trial that was probably not made as logged, as it is asked about.

    Attributes
    ----------
    suspect : Suspect
    number, version : int
        Of the trial, to answer with.
    frame : str
    made : Setting
        As it is logged.
    step : int
        Which of its strip, from 1, as pages and commands count; ``suspect.patch`` is its place, from 0.
    """

    suspect: Suspect
    number: int
    version: int
    frame: str
    made: Setting
    step: int


def unanswered(conn: sa.Connection, found: tuple[Suspect, ...]) -> tuple[Doubt, ...]:
    """Suspects that the printer has not called right yet, as they are asked about; most probable first."""
    doubts = []
    for suspect in found:
        for record in with_patches(conn, every(conn, TrialRow, name=suspect.trial)):
            exposure = record.patches[suspect.patch].exposure
            if not every(conn, MadeAsLogged, exposure_id=exposure.id):
                doubts.append(
                    Doubt(
                        suspect=suspect,
                        number=record.row.id,
                        version=record.version,
                        frame=record.row.frame,
                        made=exposure.setting,
                        step=suspect.patch + 1,
                    )
                )
    return tuple(doubts)


def doubts_of(db: Database, frame: str | None = None) -> tuple[Doubt, ...]:
    """What to ask about: of one frame, or of the whole record."""
    found = suspects(current_memory(db), None if frame is None else (frame,))
    with db.reading() as conn:
        return unanswered(conn, found)


def slip_questions(db: Database, frame: str) -> dict[str, str]:
    """What is asked about the trials of a frame, by trial, as it stands among the doubts about a sheet."""
    doubts = doubts_of(db, frame)
    return {
        one.suspect.trial: f"{one.suspect.trial} was perhaps a slip, which is asked about: {one.suspect.words}"
        for one in reversed(doubts)  # of several of one trial the most probable stays
    }


def it_was_a_slip(
    db: Database, trial: str, as_if: Setting, *, patch: int = 0, version: int | None = None
) -> TrialRecord:
    """Yes, that was it: correct the exposure to what was really set. What was logged stays in its rows.

    Raises
    ------
    UnknownRecord
        If there is no such trial or patch.
    ChangedMeanwhile
        If the trial was changed since the question was asked.
    """
    with db.transaction():
        record = find_trial(db, trial)
        really = replace(as_if, burns=exposure_at(record, patch).setting.burns)
        seen = record.version if version is None else version
        return correct_trial(db, trial, version=seen, settings={patch: really})


def it_was_made_as_logged(db: Database, trial: str, *, patch: int = 0) -> TrialRecord:
    """No, it is right: it is not asked about again. The memory goes on weighing it by how well it agrees."""
    with db.transaction() as conn:
        record = find_trial(db, trial)
        exposure = exposure_at(record, patch)
        if not every(conn, MadeAsLogged, exposure_id=exposure.id):
            add(conn, MadeAsLogged(exposure_id=exposure.id, at=datetime.now(UTC)))
        return record


def answer_doubt(db: Database, trial: str, *, slip: bool, patch: int = 0) -> TrialRecord:
    """Answer by name, without having the question at hand: the likeliest slip is looked up.

    Raises
    ------
    Refused
        If nothing is asked about this trial, or no usual slip explains it.
    """
    if not slip:
        return it_was_made_as_logged(db, trial, patch=patch)
    with db.reading() as conn:
        frame = find(conn, TrialRow, trial).frame
    for doubt in doubts_of(db, frame):
        if (doubt.suspect.trial, doubt.suspect.patch) == (trial, patch):
            if doubt.suspect.as_if is None:
                raise Refused(f"No usual slip explains {trial}: {doubt.suspect.words}. Take it out if it was spoiled.")
            return it_was_a_slip(db, trial, doubt.suspect.as_if, patch=patch, version=doubt.version)
    raise Refused(f"{trial} is not doubted: it agrees with what else is known, or was answered for.")
