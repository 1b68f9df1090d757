"""Scans, kept by the hash of their content: the same file is kept once, and a changed one is noticed."""

import hashlib
import os
from dataclasses import dataclass, field
from pathlib import Path
from typing import ClassVar

import sqlalchemy as sa

from printlore.errors import StudioUnavailable, UnknownRecord, UnreadableFile
from printlore.files import free_name
from printlore.records.rows import Record
from printlore.records.tables import record_table

_scans = record_table(
    "scans",
    sa.Column("sha256", sa.Text, nullable=False),
    sa.Column("path", sa.Text, nullable=False),
    sa.Column("size", sa.Integer, nullable=False),
    sa.Column("media_type", sa.Text, nullable=False),
    sa.Column("original_name", sa.Text, nullable=False),
    sa.CheckConstraint("length(sha256) = 64 AND size >= 0", name="sha256"),
    sa.Index("uq_scans_sha256", "sha256", unique=True, sqlite_where=sa.text("corrects_id IS NULL")),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Scan(Record):
    """An image file as it came in: hash [hex], path below the studio's ``scans``, size [bytes], type, first name."""

    table: ClassVar = _scans
    word: ClassVar = "scan"
    naming: ClassVar = "sha256"

    sha256: str
    path: str
    size: int
    media_type: str = "application/octet-stream"
    original_name: str = ""


def path_of(sha256: str) -> str:
    """Where a scan lies below the studio's ``scans``."""
    return f"{sha256[:2]}/{sha256}"


@dataclass(frozen=True, slots=True)
class ScanStore:
    """Files by content hash in a folder; in memory if there is none."""

    folder: Path | None
    _held: dict[str, bytes] = field(default_factory=dict)

    def put(self, content: bytes) -> str:
        """Keep the bytes of a file; safe on disk on return. Returns the SHA-256 [hex].

        Raises
        ------
        StudioUnavailable
            If the folder cannot be written.
        """
        sha256 = hashlib.sha256(content).hexdigest()
        if self.folder is None:
            self._held[sha256] = content
            return sha256
        path = self.folder / path_of(sha256)
        if path.exists() and path.stat().st_size == len(content):
            return sha256
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            # beside all of them, so that what a kill leaves is found by the next
            partial = free_name(self.folder / sha256)
            try:
                with open(partial, "xb") as file:
                    file.write(content)
                    file.flush()
                    os.fsync(file.fileno())
                os.replace(partial, path)
            except BaseException:
                partial.unlink(missing_ok=True)
                raise
            for folder in (path.parent, self.folder):
                sync_folder(folder)
        except OSError as error:
            raise StudioUnavailable(
                f"The scan could not be kept in {self.folder}: {error.strerror}. Make room or allow writing there, "
                "and add the scan again; nothing else was changed."
            ) from error
        return sha256

    def discard(self, sha256: str) -> None:
        """Let go of a scan that no record will name."""
        if self.folder is None:
            self._held.pop(sha256, None)
        else:
            (self.folder / path_of(sha256)).unlink(missing_ok=True)

    def names(self) -> list[str]:
        """Hash of every scan, sorted."""
        if self.folder is None:
            return sorted(self._held)
        return sorted(path.name for path in self.folder.glob("??/*") if len(path.name) == 64)

    def has(self, sha256: str) -> bool:
        """Whether a scan of this hash is kept."""
        return sha256 in self._held if self.folder is None else (self.folder / path_of(sha256)).exists()

    def get(self, sha256: str) -> bytes:
        """The bytes of a scan, checked against their hash.

        Raises
        ------
        UnknownRecord
            If there is no such file.
        UnreadableFile
            If the file has changed since it was kept.
        """
        try:
            content = self._held[sha256] if self.folder is None else (self.folder / path_of(sha256)).read_bytes()
        except (KeyError, FileNotFoundError) as error:
            raise UnknownRecord(
                f"The scan {sha256[:12]} is not among the studio's scans; bring it back from a backup, or scan again."
            ) from error
        if hashlib.sha256(content).hexdigest() != sha256:
            raise UnreadableFile(
                f"The scan {sha256[:12]} has changed on disk since it was kept. Bring it back from a backup."
            )
        return content


def sync_folder(folder: Path) -> None:
    """Make new names in a folder safe on disk, where the system can."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
