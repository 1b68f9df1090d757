"""Folders of scans: read every strip in one, and offer what the scanner saves into the one that is watched."""

import dataclasses
import hashlib
import itertools
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import sqlalchemy as sa

from printlore.core.measure.characterise import ScannerProfile
from printlore.core.measure.measurements import MeasurementTable
from printlore.devices.exchange import CsvMapping, read_csv, write_csv
from printlore.devices.scans import read_scan
from printlore.errors import PrintloreError, UnreadableFile
from printlore.files import append_to_file, why_not
from printlore.records.database import Database
from printlore.records.measuring import ComparisonRecord, WatchedFolder
from printlore.records.negatives import Frame, NegativeReadingRecord
from printlore.records.rows import add, correct, every
from printlore.records.scans import Scan as ScanRecord
from printlore.records.stock import FogRecord
from printlore.records.trials import PatchReading
from printlore.services.strips import Densities, read_strip

_OFFERED = 5
"""New scans of the watched folder that are offered at once."""

_PICTURES = (".tif", ".tiff", ".png", ".jpg", ".jpeg")


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchLine:
    """One file of a batch: densities of its steps, or what was wrong."""

    file: str
    sha256: str
    step: int
    density: tuple[float, float, float] | None
    standard_error: tuple[float, float, float] | None
    doubts: str
    problem: str = ""


_BATCH_FIELDS = (
    "file",
    "sha256",
    "step",
    "D_RED",
    "D_GREEN",
    "D_BLUE",
    "SE_RED",
    "SE_GREEN",
    "SE_BLUE",
    "doubts",
    "problem",
)


def pictures_in(folder: Path) -> list[Path]:
    """Image files in a folder and below it, by name.

    Raises
    ------
    UnreadableFile
        If there is no such folder.
    """
    if not folder.is_dir():
        raise UnreadableFile(f'There is no folder "{folder}". Check its name.')
    return sorted(path for path in folder.rglob("*") if path.suffix.lower() in _PICTURES and path.is_file())


def read_folder(
    folder: Path,
    wedge: Densities,
    out: Path,
    *,
    count: int | None = None,
    profile: ScannerProfile | None = None,
    progress: Callable[[Path], None] = lambda path: None,
) -> Iterator[BatchLine]:
    """Read every strip in a folder into a CSV file, line by line; files already in it are passed over.

    A run that was stopped goes on where it was: a file is known by its content. A file that cannot be
    read gets a line that says why, and the rest goes on.

    Raises
    ------
    UnreadableFile
        If there is no such folder, or ``out`` is there and is no such file.
    """
    done: set[str] = set()
    if out.exists() and out.stat().st_size:
        table = read_csv(out.read_bytes(), CsvMapping(columns=tuple((f, f) for f in _BATCH_FIELDS)), name=out.name)
        at = table.fields.index("sha256")
        done = {row[at] for row in table.rows}
    for path in pictures_in(folder):
        try:
            content = path.read_bytes()
        except OSError as problem:
            # without its content it has no hash, so that the next run tries it again
            yield _unread(path, "", f'"{path.name}" cannot be opened: {why_not(problem)}')
        else:
            sha256 = hashlib.sha256(content).hexdigest()
            if sha256 not in done:
                done.add(sha256)
                lines = _batch_lines(path, sha256, content, wedge, count, profile)
                _append(out, lines)
                yield from lines
        progress(path)


def _batch_lines(
    path: Path, sha256: str, content: bytes, wedge: Densities, count: int | None, profile: ScannerProfile | None
) -> list[BatchLine]:
    try:
        reading = read_strip(read_scan(content, name=path.name), wedge, count=count, profile=profile)
    except PrintloreError as problem:
        return [_unread(path, sha256, str(problem))]
    return [
        BatchLine(
            file=path.name,
            sha256=sha256,
            step=number,
            density=step.density,
            standard_error=step.standard_error,
            doubts=" ".join(dict.fromkeys(flag.value for flag in (*reading.flags, *step.flags))),
        )
        for number, step in enumerate(reading.steps, 1)
    ]


def _unread(path: Path, sha256: str, problem: str) -> BatchLine:
    return BatchLine(
        file=path.name, sha256=sha256, step=0, density=None, standard_error=None, doubts="", problem=problem
    )


def _append(out: Path, lines: Sequence[BatchLine]) -> None:
    rows = tuple(
        (
            line.file,
            line.sha256,
            str(line.step),
            *(f"{v:.4f}" for v in line.density or ()),
            *(f"{v:.4f}" for v in line.standard_error or ()),
            *([""] * 6 if line.density is None else []),
            line.doubts,
            line.problem,
        )
        for line in lines
    )
    data = write_csv(MeasurementTable(fields=_BATCH_FIELDS, rows=rows))
    new = not out.exists() or not out.stat().st_size
    # All lines of a picture in one write: a run cut short leaves whole pictures only.
    append_to_file(out, data if new else data.partition(b"\r\n")[2])


def watched_folder(db: Database) -> Path | None:
    """Where the scanner saves, if the studio was told."""
    with db.reading() as conn:
        known = [record.path for record in every(conn, WatchedFolder)]
    return Path(known[-1]) if known and known[-1] else None


def watch_folder(db: Database, folder: str) -> None:
    """Say where the scanner saves; empty: nowhere.

    Raises
    ------
    UnreadableFile
        If there is no such folder.
    """
    if folder and not Path(folder).is_dir():
        raise UnreadableFile(f'There is no folder "{folder}". Check its name.')
    # the next program may be started elsewhere
    folder = str(Path(folder).absolute()) if folder else ""
    with db.transaction() as conn:
        known = list(every(conn, WatchedFolder))
        if known:
            correct(conn, dataclasses.replace(known[-1], path=folder))
        else:
            add(conn, WatchedFolder(path=folder))


def new_scans(db: Database) -> tuple[Path, ...]:
    """Newest image files in the watched folder that stand for nothing in the studio yet, newest first.

    One that is kept, but from which nothing was logged, is still offered.
    """
    folder = watched_folder(db)
    files = [] if folder is None else _newest_first(folder)
    with db.reading() as conn:
        held: dict[tuple[str, int], list[str]] = {}
        for record in every(conn, ScanRecord):
            held.setdefault((record.original_name, record.size), []).append(record.sha256)
        known = ((path, held.get((path.name, size), ())) for path, size in files[: 4 * _OFFERED])
        new = (path for path, scans in known if not any(_stands_for_something(conn, scan) for scan in scans))
        return tuple(itertools.islice(new, _OFFERED))


def _newest_first(folder: Path) -> list[tuple[Path, int]]:
    """Image files in a folder and their sizes [bytes]; none if it cannot be looked into (a disk pulled out)."""
    found: list[tuple[float, Path, int]] = []
    with suppress(OSError):
        for path in folder.iterdir():
            # the scanner may rename or delete one meanwhile
            with suppress(OSError):
                if path.suffix.lower() in _PICTURES and path.is_file():
                    found.append((path.stat().st_mtime, path, path.stat().st_size))
    return [(path, size) for _, path, size in sorted(found, key=lambda one: -one[0])]


def _stands_for_something(conn: sa.Connection, scan: str) -> bool:
    """Whether a print, a negative or a fogged sheet was read from a scan, or it was compared, or chosen to be shown."""
    read = any(every(conn, kind, scan=scan) for kind in (PatchReading, NegativeReadingRecord, FogRecord))
    compared = any(scan in one.document.get("scans", ()) for one in every(conn, ComparisonRecord))
    return read or compared or bool(every(conn, Frame, thumbnail=scan))
