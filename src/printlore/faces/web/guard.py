"""Who may speak to the page: the right Host, the same origin, and headers that keep outside things outside.

A page on another site could ask this browser to post here, or give our address a name of its own.
Both are refused: a request names an address or a known name, and a change comes from our own pages
(or from a program, which sends neither Origin nor Sec-Fetch-Site).
"""

import ipaddress
from collections.abc import Iterable
from urllib.parse import SplitResult, urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import JSONResponse, PlainTextResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})

HEADERS = {
    "Content-Security-Policy": (
        "default-src 'self'; img-src 'self' data: blob:; media-src 'self' blob:; object-src 'none'; "
        "base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}


class Guard:
    """ASGI middleware.

    Parameters
    ----------
    app : ASGI application
    names : iterable of str
        Host names to answer to, beside ``localhost`` and plain addresses (which no outside name server can forge).
    """

    def __init__(self, app: ASGIApp, names: Iterable[str] = ()) -> None:
        self.app = app
        self.names = {"localhost", *(name.lower() for name in names)}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] not in ("http", "websocket"):
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        refusal = self._refusal(scope, headers)
        if refusal is not None:
            await refusal(scope, receive, send)
            return

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                outgoing = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    outgoing.setdefault(name, value)
                if not scope["path"].startswith("/static/"):
                    outgoing.setdefault("Cache-Control", "no-store")
            await send(message)

        await self.app(scope, receive, send_with_headers)

    def _refusal(self, scope: Scope, headers: Headers) -> Response | None:
        host = headers.get("host", "")
        if not self._known(host):
            return _refuse(
                scope,
                f'This studio does not answer to the name "{host}". Use the address that printlore serve printed, '
                "or start it with --name and that name.",
            )
        if scope["type"] == "http" and scope["method"] in SAFE_METHODS:
            return None
        origin = headers.get("origin")
        site = headers.get("sec-fetch-site")
        foreign = site not in (None, "same-origin", "none") or (
            origin is not None and _parts(origin).netloc.lower() != host.lower()
        )
        if foreign:
            return _refuse(scope, "The request came from another page. Open the studio itself and enter it there.")
        return None

    def _known(self, host: str) -> bool:
        name = _parts(f"//{host}").hostname or ""
        if name in self.names:
            return True
        try:
            ipaddress.ip_address(name)
        except ValueError:
            return False
        return True


def _parts(address: str) -> SplitResult:
    """Of what is no address, none."""
    try:
        return urlsplit(address)
    except ValueError:
        return urlsplit("")


def _refuse(scope: Scope, detail: str) -> Response:
    if scope.get("path", "").startswith("/api"):
        return JSONResponse(
            {"type": "about:blank", "title": "Not from here", "status": 403, "name": "not_from_here", "detail": detail},
            status_code=403,
            media_type="application/problem+json",
        )
    return PlainTextResponse(detail, status_code=403)
