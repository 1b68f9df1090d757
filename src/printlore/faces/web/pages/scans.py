"""Kept scans as small pictures, by the hash of their content."""

from fastapi import APIRouter
from fastapi.responses import Response

from printlore.faces.web.page import Db
from printlore.faces.web.scans import SIDES, preview

router = APIRouter(prefix="/scans")


@router.get("/{sha256}.jpg")
def get_preview(db: Db, sha256: str, side: int = SIDES[-1]) -> Response:
    """At the next of the sides we show. The content never changes under its hash, so a browser may keep it."""
    return Response(
        preview(db, sha256, next((shown for shown in SIDES if shown >= side), SIDES[-1])),
        media_type="image/jpeg",
        headers={"Cache-Control": "private, max-age=31536000, immutable"},
    )
