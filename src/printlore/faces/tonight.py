"""The negatives in work, each in one line: the page and the terminal say the same."""

from dataclasses import dataclass

from printlore.faces.telling import outcome_words, when
from printlore.records.database import Database
from printlore.records.negatives import Frame
from printlore.services.entry import frames_at_hand
from printlore.services.trials import frame_history

SHOWN = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class InWork:
    """A negative as it stands.

    Attributes
    ----------
    frame : Frame
    state : str
        Its last trial and what came of it.
    last : str
        When that was; "" if nothing is printed yet.
    kept : bool
        It has a print that was kept.
    order : float
        Seconds of its last trial, to sort by.
    """

    frame: Frame
    state: str
    last: str
    kept: bool
    order: float


def in_work(db: Database) -> list[InWork]:
    """The negatives printed or added last: first those with no print kept yet, in each half the newest trial first."""
    rows = []
    for frame in frames_at_hand(db, SHOWN)[:SHOWN]:
        trials = frame_history(db, frame.name)
        last = trials[-1] if trials else None
        rows.append(
            InWork(
                frame=frame,
                state="nothing printed yet" if last is None else f"{last.name}: {outcome_words(last)}",
                last="" if last is None else when(last.row.at),
                kept=any(patch.kept for trial in trials for patch in trial.patches),
                order=0.0 if last is None else last.row.at.timestamp(),
            )
        )
    return sorted(rows, key=lambda row: (not row.kept, row.order, row.frame.id), reverse=True)
