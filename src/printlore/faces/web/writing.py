"""How the studio writes numbers and lengths, set for each request before any handler speaks."""

from contextlib import suppress

from starlette.types import ASGIApp, Receive, Scope, Send

from printlore.core.figure import DECIMAL_MARK, LENGTH_UNIT
from printlore.errors import PrintloreError
from printlore.records.database import Database
from printlore.records.studio import Preferences
from printlore.services.entry import read_settings


class Writing:
    """ASGI middleware: ``request.state.writing`` holds the preferences, ``words`` follows them."""

    def __init__(self, app: ASGIApp, database: Database) -> None:
        self.app = app
        self.database = database

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http":
            preferences = Preferences()
            # A studio that cannot be read must still be able to say so.
            with suppress(PrintloreError):
                if not scope["path"].startswith("/static/"):
                    preferences = read_settings(self.database, Preferences)
            DECIMAL_MARK.set(preferences.decimal_mark)
            LENGTH_UNIT.set(preferences.length_unit)
            scope.setdefault("state", {})["writing"] = preferences
        await self.app(scope, receive, send)
