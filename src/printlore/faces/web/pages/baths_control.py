"""Whether the process can be trusted: control patches and their chart, and the way to a fault."""

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse, Response

from printlore.core.control.faults import CAUSES, SYMPTOMS, TESTS, Place
from printlore.core.control.limits import Wedge
from printlore.faces import telling, typed
from printlore.faces.bath_typed import results_of_tests
from printlore.faces.plain import plain
from printlore.faces.web.bath_drawings import SHAPE_WORDS, control_chart
from printlore.faces.web.page import Db, Several, Ticked, Typed, go, render
from printlore.services.bath_report import baths_in_use, foreseen, is_developer, process_verdict
from printlore.services.control import (
    EXPOSED_BY,
    bring_control_back,
    control_patches,
    control_report,
    find_fault,
    log_control,
    log_fault,
    take_control_back,
)

router = APIRouter(prefix="/baths")
api = APIRouter(tags=["baths"])


@router.get("/control")
def show_control(request: Request, db: Db) -> HTMLResponse:
    """The chart of control patches, and a form for the next."""
    control = control_report(db)
    chart = None
    if control is not None:
        values = [row.wedge.quantities() for row in control.rows]
        chart = control_chart(values, control.aim, control.limits, [row.bath for row in control.rows])
    return render(
        request,
        "baths/control.html",
        control=control,
        patches=control_patches(db),
        telling=telling,
        foreseen=None if control is None else foreseen(db, control),
        chart=chart,
        shapes=SHAPE_WORDS,
        baths=[bath.name for bath, _, kit in baths_in_use(db) if is_developer(kit)],
        exposed_by=list(EXPOSED_BY.items()),
    )


@router.post("/control")
def post_control(
    request: Request,
    db: Db,
    bath: Typed,
    white: Typed,
    light: Typed,
    dark: Typed,
    black: Typed,
    exposed_by: Typed = "frozen strip",
    good: Ticked = "",
) -> Response:
    """Record a control patch, typed."""
    typed_in = {"white": white, "light": light, "dark": dark, "black": black}
    steps = {name: typed.three(text, f"The {name} step") for name, text in typed_in.items()}
    row = log_control(db, bath, Wedge(**steps), exposed_by=exposed_by, good=bool(good))
    return go(
        request,
        "/baths/control",
        said="The patch is in the chart.",
        undo=f"/baths/control/{row.id}/undo",
        done="control",
    )


@router.post("/control/{number}/undo")
def post_control_undo(request: Request, db: Db, number: int) -> Response:
    """Take a control patch back."""
    take_control_back(db, number)
    back = f"/baths/control/{number}/bring-back"
    return go(request, "/baths/control", said="The patch is out of the chart.", undo=back)


@router.post("/control/{number}/bring-back")
def post_control_back(request: Request, db: Db, number: int) -> Response:
    """Let a control patch that was taken back count again."""
    bring_control_back(db, number)
    undo = f"/baths/control/{number}/undo"
    return go(request, "/baths/control", said="The patch is in the chart again.", undo=undo)


@router.get("/fault")
def show_fault(request: Request, db: Db) -> HTMLResponse:
    """What is seen and tested, the likely causes, and the cheapest test that splits them."""
    query = request.query_params
    seen = [name for name in query.getlist("seen") if name in SYMPTOMS]
    results = {test.name: query[test.name] == "yes" for test in TESTS if query.get(test.name) in ("yes", "no")}
    report = find_fault(db, seen, results=results) if seen or results else None
    return render(
        request,
        "baths/fault.html",
        symptoms=SYMPTOMS,
        seen=seen,
        results=results,
        report=report,
        tests=TESTS,
        causes=[*(cause.name for cause in CAUSES), Place.ELSE.value],
    )


@router.post("/fault")
def post_fault(request: Request, db: Db, cause: Typed, seen: Several = []) -> Response:  # noqa: B006
    """Record what a fault turned out to be."""
    log_fault(db, cause, seen)
    return go(request, "/baths/fault", said=f"Recorded: it was {cause}. It counts next time.")


@api.get("/process", summary="Whether the process is where it was, by its control patches")
def get_process(db: Db, exposed_by: str | None = None) -> Any:
    return plain(process_verdict(db, exposed_by))


@api.get("/fault", summary="Likely causes of a fault, where to look first, and the test that splits them cheapest")
def get_fault(
    db: Db,
    seen: Annotated[list[str] | None, Query(description="Symptoms that are seen.")] = None,
    not_seen: Annotated[list[str] | None, Query(description="Looked for, and not there.")] = None,
    test: Annotated[list[str] | None, Query(description='"thermometer in the drum=no"')] = None,
) -> Any:
    return plain(find_fault(db, seen or [], not_seen=not_seen or [], results=results_of_tests(test or [])))
