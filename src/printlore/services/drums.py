"""Which drum load a print of tonight came out of, so that what shared a drum is known to have shared it."""

from dataclasses import dataclass
from datetime import datetime

import sqlalchemy as sa

from printlore.core.evening.state import evening_at
from printlore.records.baths import Run
from printlore.records.database import Database
from printlore.records.evening import EveningRecord, events_of
from printlore.records.negatives import Frame
from printlore.records.rows import every, latest
from printlore.records.trials import TrialRow

LONG_AGO = 3 * 86400.0
"""[s] After the last event of an evening its prints are dry, judged and logged (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DrumRun:
    """A finished drum load of the newest evening that held a piece of a frame which is not logged yet.

    Attributes
    ----------
    run, bath : str
        Its names in the bath ledger.
    words : str
        For example "drum 1, load 3".
    """

    run: str
    bath: str
    words: str


def waiting_drum(conn: sa.Connection, frame: str, at: datetime) -> DrumRun | None:
    """The load that a print of this frame, logged now, most likely came out of; the oldest that still waits."""
    record = latest(conn, EveningRecord)
    events = () if record is None else events_of(conn, record)
    if not events or at.timestamp() - events[-1].at > LONG_AGO:
        return None
    # a drill's clock runs ahead of the wall
    evening = evening_at(events, max(at.timestamp(), events[-1].at))
    for state in evening.loads.values():
        pieces = sum(piece.frame == frame for piece in state.load.pieces)
        if not state.ledger or not pieces:
            continue
        for run in every(conn, Run, name=state.ledger):
            if len(every(conn, TrialRow, run=run.name, frame=frame)) < pieces:
                return DrumRun(run=run.name, bath=run.bath, words=f"drum {state.load.drum}, load {state.load.name}")
    return None


def drum_of(db: Database, frame: Frame, at: datetime) -> DrumRun | None:
    """As ``waiting_drum``, for a page that is about to log a print."""
    with db.reading() as conn:
        return waiting_drum(conn, frame.name, at)
