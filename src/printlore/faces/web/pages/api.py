"""The HTTP interface, listed for people; the machine's form is ``/api/openapi.json``."""

from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from printlore.faces.web.page import render

router = APIRouter()


@dataclass(frozen=True, slots=True)
class _Operation:
    method: str
    path: str
    summary: str


@router.get("/api")
def show(request: Request) -> HTMLResponse:
    """Every operation, from the same description that programs read."""
    schema = request.app.openapi()
    operations = [
        _Operation(method.upper(), path, operation.get("summary", ""))
        for path, methods in schema["paths"].items()
        for method, operation in methods.items()
    ]
    return render(request, "api.html", operations=operations)
