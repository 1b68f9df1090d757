"""Scans as the page shows them: opened once, made small, and read where they are tapped."""

from functools import lru_cache
from io import BytesIO

import numpy as np
from PIL import Image

from printlore.core.measure.scan import Scan
from printlore.devices.scans import read_scan
from printlore.records.database import Database
from printlore.records.scans import Scan as ScanRecord
from printlore.services.entry import find_record

SIDES = (160, 320, 1600)
"""Longest sides in which scans are shown [px]."""


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
