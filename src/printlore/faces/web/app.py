"""The page: one application over one studio. Page modules are found in ``faces/web/pages``."""

import importlib
import pkgutil
import threading
from collections.abc import AsyncIterator, Callable, Iterable, Sequence
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

from fastapi import APIRouter, FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, Response
from fastapi.routing import APIRoute
from fastapi.staticfiles import StaticFiles
from pydantic import BaseModel
from starlette.exceptions import HTTPException

from printlore.demo.invented import INVENTED_WORDS, is_demo
from printlore.errors import PrintloreError, StillWorking
from printlore.faces.problems import Problem, problem_of, refused_by_system
from printlore.faces.web import pages
from printlore.faces.web.exchange import Exchange
from printlore.faces.web.guard import Guard
from printlore.faces.web.page import API, FOLDER, FORMS, WORKING, Page, for_programs, is_fragment, render
from printlore.faces.web.writing import Writing
from printlore.records.database import Database
from printlore.records.studio import Preferences
from printlore.services.keeper import Keeper

_PROBLEM = {
    "description": "What was wrong, where, and what to do.",
    "content": {
        "application/problem+json": {
            "schema": {
                "type": "object",
                "required": ["type", "title", "status", "name", "detail"],
                "properties": {
                    "type": {"type": "string"},
                    "title": {"type": "string"},
                    "status": {"type": "integer"},
                    "name": {"type": "string"},
                    "detail": {"type": "string"},
                },
            }
        }
    },
}
PROBLEMS: dict[int | str, dict[str, Any]] = dict.fromkeys((400, 403, 404, 409, 422, 503), _PROBLEM)
"""What any operation may answer instead (RFC 9457)."""


def create_app(studio: Database | Path | str, *, names: Iterable[str] = ()) -> FastAPI:
    """The page and the HTTP API of one studio.

    Parameters
    ----------
    studio : Database or folder
        A folder is opened here and closed with the application.
    names : iterable of str
        Host names to answer to, beside ``localhost`` and plain addresses.
    """
    owned = not isinstance(studio, Database)
    database = studio if isinstance(studio, Database) else Database.open(Path(studio))

    keeper = Keeper(database)

    @asynccontextmanager
    async def lifespan(_: FastAPI) -> AsyncIterator[None]:
        # the first page goes before the first solution
        begin = threading.Timer(1.0, keeper.start)
        begin.start()
        yield
        begin.cancel()
        keeper.close()
        if owned:
            database.close()

    app = FastAPI(
        title="Printlore",
        summary="The studio over HTTP: every step that the page and the command line can do.",
        openapi_url=f"{API}/openapi.json",
        docs_url=None,
        redoc_url=None,
        lifespan=lifespan,
    )
    app.state.database = database
    app.state.keeper = keeper
    app.state.pages = []
    app.state.invented = INVENTED_WORDS if is_demo(database.folder) else ""
    app.add_middleware(Writing, database=database)
    app.add_middleware(Exchange)
    app.add_middleware(Guard, names=tuple(names))
    app.add_exception_handler(PrintloreError, _printlore_error)
    app.add_exception_handler(OSError, _system_error)
    app.add_exception_handler(RequestValidationError, _validation_error)
    app.add_exception_handler(HTTPException, _http_error)
    app.add_exception_handler(Exception, _fault)
    app.mount("/static", StaticFiles(directory=FOLDER / "static"), name="static")
    for module in _page_modules():
        if isinstance(found := getattr(module, "PAGE", None), Page):
            app.state.pages.append(found)
        if (router := getattr(module, "router", None)) is not None:
            app.include_router(router, include_in_schema=False)
            app.include_router(_forms_of(router), prefix=FORMS, responses=PROBLEMS)
        if (api := getattr(module, "api", None)) is not None:
            app.include_router(api, prefix=API, responses=PROBLEMS)
    app.state.pages.sort(key=lambda page: page.order)
    return app


class FormAnswer(BaseModel):
    """What came of a form: what the page would say, where it would go on, and the form that takes it back."""

    said: str
    next: str
    undo: str


def _forms_of(router: APIRouter) -> APIRouter:
    """The forms of a page that change the record, for programs: same fields, same handler, JSON for an answer."""
    forms = APIRouter(tags=["forms"])
    for route in router.routes:
        # a handler that shows what it worked out, and changes nothing, has an interface of its own
        if isinstance(route, APIRoute) and "POST" in (route.methods or ()) and _goes_on(route.endpoint):
            words = (route.endpoint.__doc__ or "").splitlines()[0].rstrip(".")
            forms.add_api_route(
                route.path,
                route.endpoint,
                methods=["POST"],
                summary=words,
                response_model=None,
                responses={200: {"model": FormAnswer}},
                name=f"form_{route.name}",
            )
    return forms


def _goes_on(endpoint: Callable[..., Any]) -> bool:
    return endpoint.__annotations__.get("return") is Response


def _page_modules() -> list[object]:
    return [
        importlib.import_module(f"{pages.__name__}.{found.name}")
        for found in sorted(pkgutil.iter_modules(pages.__path__), key=lambda found: found.name)
    ]


async def _printlore_error(request: Request, error: Exception) -> Response:
    assert isinstance(error, PrintloreError)
    if isinstance(error, StillWorking) and not for_programs(request):
        return render(request, "working.html", status=WORKING, took=request.app.state.keeper.took)
    return _answer(request, problem_of(error))


async def _system_error(request: Request, error: Exception) -> Response:
    assert isinstance(error, OSError)
    return _answer(request, problem_of(refused_by_system(error)))


async def _validation_error(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    lines, missing = [], []
    for found in error.errors():
        where = " ".join(str(part) for part in found["loc"] if part not in ("body", "query", "path"))
        if found["type"] == "missing" and where:
            missing.append(where)
        else:
            lines.append(f"{where or 'The request'}: {found['msg']}.")
    if lines:
        lines.append("Correct it and send it again.")
    empty = [f'"{name.replace("_", " ")}" is empty.' for name in missing]
    if empty:
        empty.append(FILL_IN)
    title = "Something is missing" if missing and not lines else "That entry cannot be"
    detail = " ".join([*empty, *lines])
    problem = Problem(name="value_out_of_range", title=title, detail=detail, http_status=422, exit_status=2)
    # the page knows what each entry is called where it is filled in
    return _answer(request, problem, missing=missing, lines=lines)


FILL_IN = "Fill it in, or choose it, and send it again."


_HTTP_WORDS = {
    404: ("There is no such page", "Nothing lives at this address. Choose a page above."),
    405: ("Not that way", "This address does not take that kind of request."),
    413: (
        "Too much at once",
        "What was sent is larger than two of the largest scans that can be read. Send one file, or scan at a lower "
        "resolution.",
    ),
}


async def _http_error(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    title, detail = _HTTP_WORDS.get(error.status_code, ("That did not work", str(error.detail)))
    problem = Problem(
        name=f"http_{error.status_code}", title=title, detail=detail, http_status=error.status_code, exit_status=1
    )
    return _answer(request, problem)


async def _fault(request: Request, error: Exception) -> Response:
    """A fault of ours: said in words on the desk as it is, never a white page; the trace goes to the terminal."""
    detail = (
        "Printlore stumbled over something it should know how to do; what was recorded before is safe. "
        "Go back and look whether the last step was taken; the terminal shows what went wrong."
    )
    problem = Problem(
        name="fault", title="That did not work, and it is our fault", detail=detail, http_status=500, exit_status=1
    )
    if not hasattr(request.state, "writing"):
        request.state.writing = Preferences()
    return _answer(request, problem)


def _answer(request: Request, problem: Problem, **values: Sequence[str]) -> Response:
    if for_programs(request):
        body = {
            "type": "about:blank",
            "title": problem.title,
            "status": problem.http_status,
            "name": problem.name,
            "detail": problem.detail,
        }
        return JSONResponse(body, status_code=problem.http_status, media_type="application/problem+json")
    template = "problem_part.html" if is_fragment(request) else "problem.html"
    # the page of the list under which this address lies; nothing is a dead end
    path = request.url.path
    listed = request.app.state.pages
    home = next((page for page in listed if page.path != "/" and path.startswith(f"{page.path}/")), None)
    return render(request, template, status=problem.http_status, problem=problem, home=home, fill_in=FILL_IN, **values)
