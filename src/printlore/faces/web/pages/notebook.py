"""Old notebook pages, typed or as a table, many prints at a time."""

from typing import Annotated

from fastapi import APIRouter, File, Form, Request, UploadFile
from fastapi.responses import HTMLResponse, Response

from printlore.faces import typed
from printlore.faces.web.page import Db, Typed, go, render
from printlore.services.notebook import PageDefaults, enter_notebook

router = APIRouter(prefix="/notebook")


@router.get("")
def show(request: Request) -> HTMLResponse:
    """The form for a page of notes."""
    return render(request, "notebook.html")


@router.post("")
def post_page(
    request: Request,
    db: Db,
    text: Typed = "",
    table: Annotated[UploadFile | None, File()] = None,
    film: Typed = "",
    order: Typed = "CMY",
    negative: Typed = "",
    fit: Typed = typed.FITS[0],
    only_check: Annotated[str, Form(alias="check")] = "",
) -> Response:
    """Check a page and show what was understood; enter it if asked to."""
    uploaded = table.file.read() if table is not None else b""
    defaults = PageDefaults(
        film=film or None,
        pack_order=order,
        negative=typed.negative_size(negative),
        whole=typed.one_of(typed.FITS, fit, "How they lie on the sheets") == typed.FITS[1],
    )
    name = (typed.file_name(table.filename) if table is not None else "") or "notebook.txt"
    page = enter_notebook(db, uploaded or text, defaults, dry_run=only_check == "yes", original_name=name)
    if page.dry_run or page.not_entered:
        return render(request, "notebook_read.html", page=page)
    said = f"{page.entered} prints are entered, as evidence with its doubt."
    return go(request, "/negatives", said=said, done="notebook")
