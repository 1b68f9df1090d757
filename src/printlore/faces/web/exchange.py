"""What every exchange keeps to, whoever answers: HEAD is GET without a body, and a request has an end.

RFC 9110, 9.1: a server answers both GET and HEAD; 15.5.14: content larger than is taken is refused with 413.
FastAPI can refuse it, too (``max_body_size``), but in words of its own that do not say what to do.
"""

import anyio
from starlette.datastructures import Headers
from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from printlore.devices.decoder import MOST_PIXELS

LARGEST_REQUEST = 2 * MOST_PIXELS * 8
"""[bytes] Two of the largest scans that are read, with four channels of 16 bits, as they are sent to be compared."""


class Exchange:
    """ASGI middleware.

    Parameters
    ----------
    app : ASGI application
    largest : int
        Most bytes of a request's content that are taken.
    """

    def __init__(self, app: ASGIApp, largest: int = LARGEST_REQUEST) -> None:
        self.app = app
        self.largest = largest

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
        elif scope["method"] == "HEAD":
            await self._without_body(scope, send)
        else:
            await self.app(scope, self._bounded(scope, receive), send)

    def _bounded(self, scope: Scope, receive: Receive) -> Receive:
        told = Headers(scope=scope).get("content-length", "")
        come = 0

        async def bounded() -> Message:
            nonlocal come
            message = await receive()
            come += len(message.get("body", b""))
            if max(come, int(told) if told.isdecimal() else 0) > self.largest:
                raise HTTPException(413)
            return message

        return bounded

    async def _without_body(self, scope: Scope, send: Send) -> None:
        asked = False
        begun = anyio.Event()

        async def empty() -> Message:
            nonlocal asked
            if asked:
                # whoever streams without end is told that nobody listens any more
                await begun.wait()
                return {"type": "http.disconnect"}
            asked = True
            return {"type": "http.request", "body": b"", "more_body": False}

        async def head(message: Message) -> None:
            if message["type"] == "http.response.start":
                await send(message)
                await send({"type": "http.response.body", "body": b"", "more_body": False})
                begun.set()

        await self.app({**scope, "method": "GET"}, empty, head)
