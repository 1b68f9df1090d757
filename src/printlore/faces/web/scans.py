"""Scans as the page takes and shows them: kept, opened once, made small, and read where they are tapped."""

from functools import lru_cache
from io import BytesIO
from typing import Annotated

import numpy as np
from fastapi import File, UploadFile
from PIL import Image

from printlore.core.measure.scan import Scan
from printlore.devices.scans import read_scan
from printlore.errors import ValueOutOfRange
from printlore.faces import typed
from printlore.records.database import Database
from printlore.records.scans import Scan as ScanRecord
from printlore.services.entry import find_record, keep_scan

Upload = Annotated[UploadFile, File()]
"""Parameter type of a file that comes with a form."""

SIDES = (160, 320, 1600)
"""Longest sides in which scans are shown [px]."""


def content_of(upload: UploadFile, what: str = "scan") -> bytes:
    """The bytes that came. Raises ValueOutOfRange if there are none: no file was chosen."""
    content = upload.file.read()
    if not content:
        raise ValueOutOfRange(f"No {what} was chosen, or it is empty. Choose the file.")
    return content


def keep_upload(db: Database, scan: UploadFile) -> ScanRecord:
    """Keep a scan by its content, if it can be read.

    Raises
    ------
    UnreadableFile, ValueOutOfRange
    """
    content, name = content_of(scan), typed.file_name(scan.filename)
    read_scan(content, name=name)
    return keep_scan(db, content, media_type=scan.content_type or "application/octet-stream", original_name=name)


@lru_cache(maxsize=3)
def opened(db: Database, sha256: str) -> Scan:
    """A kept scan with its pixels; the last few stay open, since each tap reads one again.

    Raises
    ------
    UnreadableFile, UnknownRecord
    """
    record = find_record(db, ScanRecord, sha256)
    return read_scan(db.scans.get(sha256), name=record.original_name or sha256[:12])


@lru_cache(maxsize=256)
def preview(db: Database, sha256: str, side: int) -> bytes:
    """JPEG of a scan, its longer side at most this many pixels, for finding the patch (not for judging colour)."""
    light, _ = opened(db, sha256).reduced(side)
    light = np.clip(light, 0.0, 1.0)
    # IEC 61966-2-1, from linear light.
    code = np.where(light <= 0.0031308, 12.92 * light, 1.055 * np.maximum(light, 1e-6) ** (1 / 2.4) - 0.055)
    out = BytesIO()
    Image.fromarray(np.rint(code * 255).astype(np.uint8)).save(out, "JPEG", quality=86)
    return out.getvalue()
