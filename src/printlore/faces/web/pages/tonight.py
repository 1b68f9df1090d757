"""Tonight: the negatives in work, each in one line, and the way to begin another."""

from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from printlore.faces.telling import outcome_words, when
from printlore.faces.web.page import Db, Page, render
from printlore.records.negatives import Frame
from printlore.services.entry import frames_at_hand
from printlore.services.trials import frame_history

PAGE = Page(title="Tonight", path="/", order=10)
router = APIRouter()

SHOWN = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    frame: Frame
    state: str
    last: str
    kept: bool
    order: float


@router.get("/")
def show(request: Request, db: Db) -> HTMLResponse:
    """The negatives printed or added last, with how they stand."""
    frames = frames_at_hand(db, SHOWN)[:SHOWN]
    rows = []
    for frame in frames:
        trials = frame_history(db, frame.name)
        last = trials[-1] if trials else None
        kept = any(patch.kept for trial in trials for patch in trial.patches)
        state = "nothing printed yet" if last is None else f"{last.name}: {outcome_words(last)}"
        rows.append(
            _Row(
                frame=frame,
                state=state,
                last="" if last is None else when(last.row.at),
                kept=kept,
                order=0.0 if last is None else last.row.at.timestamp(),
            )
        )
    rows.sort(key=lambda row: (not row.kept, row.order, row.frame.id), reverse=True)
    return render(
        request,
        "tonight.html",
        rows=rows,
        open_rows=[row for row in rows if not row.kept],
        kept_rows=[row for row in rows if row.kept],
        more=len(frames) == SHOWN,
    )
