"""What every page module uses: its place in the list of pages, rendering, and going on after a change."""

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Concatenate, ParamSpec, TypeVar, cast
from urllib.parse import quote, unquote

from fastapi import Depends, Form, Request
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse, Response
from jinja2 import Environment, FileSystemLoader, StrictUndefined

from printlore.core.evening.light import Light
from printlore.errors import PrintloreError
from printlore.faces import words
from printlore.faces.web import drawings
from printlore.faces.web.evening import bench_clock
from printlore.records.database import Database
from printlore.services.cutting import cutting_in_the_dark
from printlore.services.evening import light_at_bench
from printlore.services.keeper import Keeper

P = ParamSpec("P")
R = TypeVar("R")
API = "/api"
FORMS = f"{API}/forms"
"""Every form of the page, for programs: ``/baths/mix`` of the page is ``/api/forms/baths/mix``."""
FOLDER = Path(__file__).parent
_SAID = "printlore_said"
MOST_LINES = 60
"""Newest lines of a book that a page lists; the command has all."""

Typed = Annotated[str, Form()]
"""Parameter type of an entry of a form, as typed or chosen."""
Ticked = Annotated[str, Form()]
"""Of a box to tick: empty if it is not."""
Several = Annotated[list[str], Form()]
"""Of boxes to tick that share a name."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """A page in the list at the top.

    Attributes
    ----------
    title : str
        Its name in plain trade words.
    path : str
    order : int
        Place in the list, left to right.
    """

    title: str
    path: str
    order: int


def _environment() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(FOLDER / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals["words"] = words
    environment.globals["drawings"] = drawings
    return environment


ENVIRONMENT = _environment()


def _database(request: Request) -> Database:
    return cast(Database, request.app.state.database)


Db = Annotated[Database, Depends(_database)]
"""Parameter type of a handler that needs the studio: ``def show(request: Request, db: Db)``."""


def _keeper(request: Request) -> Keeper:
    return cast(Keeper, request.app.state.keeper)


Kept = Annotated[Keeper, Depends(_keeper)]
"""Parameter type of an API handler that waits for the memory: ``kept.ask(function, ...).result()``."""

AT_ONCE = 0.1
"""[s] A page waits so long for what needs the memory; then it says that it is being worked out."""
PATIENT = 5.0
"""[s] The page that waits, when it asks again (it sends the header below)."""
WAITING = "x-still-working"
WORKING = 202
"""Status of a page that says that it is being worked out."""


class Asking:
    """Ask the keeper on behalf of a page; raises StillWorking if the answer does not come soon."""

    def __init__(self, request: Request) -> None:
        self._keeper = _keeper(request)
        self._patience = PATIENT if WAITING in request.headers else AT_ONCE

    def __call__(self, function: Callable[Concatenate[Database, P], R], *args: P.args, **kwargs: P.kwargs) -> R:
        return self._keeper.soon(self._patience, function, *args, **kwargs)

    def patiently(self, function: Callable[Concatenate[Database, P], R], *args: P.args, **kwargs: P.kwargs) -> R:
        """The same, where a page without the answer would be another page: worth a few seconds."""
        return self._keeper.soon(PATIENT, function, *args, **kwargs)


Ask = Annotated[Asking, Depends(Asking)]
"""Parameter type of a page's handler that shows what the memory says: ``report = ask(service, argument)``."""


def render(request: Request, template: str, *, status: int = 200, **values: Any) -> HTMLResponse:
    """A whole page (or, for a template that does not extend ``layout.html``, a fragment)."""
    said = _read_said(request)
    text = ENVIRONMENT.get_template(template).render(
        request=request,
        pages=request.app.state.pages,
        said=said,
        writing=request.state.writing,
        bench_light=lambda: dark_light(request),
        **values,
    )
    response = HTMLResponse(text, status_code=status)
    # the page that waits says it too, and so does the one that comes after it
    waiting = status == WORKING or WAITING in request.headers
    if said is not None and not is_fragment(request) and not waiting:
        response.delete_cookie(_SAID)
    return response


def dark_light(request: Request) -> str:
    """Light at the bench, or where paper is cut, while the room is dark, so that no page is bright in it; else ""."""
    try:
        light = light_at_bench(_database(request), now=bench_clock(request).now())
        if light not in (Light.EASEL, Light.PAPER_OUT) and cutting_in_the_dark(_database(request)):
            light = Light.PAPER_OUT
    except PrintloreError:
        return ""  # the page that says what is wrong with the studio
    return light.value if light in (Light.EASEL, Light.PAPER_OUT) else ""


def for_programs(request: Request) -> bool:
    """Whether a program asks, not a page: answers and problems are JSON."""
    return request.url.path == API or request.url.path.startswith(f"{API}/")


def is_fragment(request: Request) -> bool:
    """Whether the page itself asked, and will put the answer into a part of what is shown."""
    return request.headers.get("hx-request") == "true"


def go(request: Request, path: str, *, said: str = "", undo: str = "", done: str = "") -> Response:
    """Answer to a change that worked: show ``path`` next, and say there what was done.

    Parameters
    ----------
    path : str
    said : str
        One sentence, shown once.
    undo : str
        Path that takes the change back when posted to; shown as a button beside the sentence.
    done : str
        ``data-draft`` of the form whose entries are now safe in the studio: its draft is dropped.
    """
    response: Response
    if for_programs(request):
        # the same form, sent by a program: what would be said on the page, and where it would go on
        return JSONResponse({"said": said, "next": path, "undo": f"{FORMS}{undo}" if undo else ""})
    if is_fragment(request):
        response = Response(status_code=204, headers={"HX-Redirect": path})
    else:
        response = RedirectResponse(path, status_code=303)
    if said or done:
        value = quote(json.dumps({"said": said, "undo": undo, "done": done}))
        response.set_cookie(_SAID, value, max_age=60, httponly=True, samesite="strict")
    return response


def _read_said(request: Request) -> dict[str, str] | None:
    raw = request.cookies.get(_SAID)
    if not raw:
        return None
    try:
        value = json.loads(unquote(raw))
    except (ValueError, RecursionError):
        return None
    if not isinstance(value, dict):
        return None
    undo = str(value.get("undo", ""))
    own = undo.startswith("/") and not undo.startswith("//")
    return {"said": str(value.get("said", "")), "undo": undo if own else "", "done": str(value.get("done", ""))}
