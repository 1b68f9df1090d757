"""Tonight: the negatives in work, each in one line, and the way to begin another."""

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from printlore.faces.tonight import SHOWN, in_work
from printlore.faces.web.page import Db, Page, render

PAGE = Page(title="Tonight", path="/", order=10)
router = APIRouter()


@router.get("/")
def show(request: Request, db: Db) -> HTMLResponse:
    """The negatives printed or added last, with how they stand."""
    rows = in_work(db)
    return render(
        request,
        "tonight.html",
        rows=rows,
        open_rows=[row for row in rows if not row.kept],
        kept_rows=[row for row in rows if row.kept],
        more=len(rows) == SHOWN,
    )
