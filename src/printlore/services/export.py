"""The whole studio as plain files (CSV, JSON, the scans), and back without loss.

An export is a folder or a zip: ``studio.json`` says what it is; ``json/<table>.json`` holds every row
of a table and is what comes back in; ``csv/<table>.csv`` holds the same for reading in any program;
``scans/`` holds the scans by hash.
"""

import csv
import io
import json
import shutil
import zipfile
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory, gettempdir
from typing import Any

import sqlalchemy as sa

from printlore.errors import Refused, UnreadableFile, ValueOutOfRange
from printlore.files import beside, in_words, make_folder, write_file
from printlore.records.baths import Bath
from printlore.records.baths_waste import WasteContainer
from printlore.records.database import Database, schema_version
from printlore.records.papers import Lot, PaperFamily
from printlore.records.rows import every
from printlore.records.scans import ScanStore, path_of
from printlore.records.stock import BoxRecord, RollRecord
from printlore.records.transfer import (
    column_names,
    is_json,
    put_rows,
    refuse_if_not_empty,
    refuse_what_cannot_be_read,
    rows_of,
    scan_hashes,
    table_names,
)
from printlore.services.aims import aim_troubles
from printlore.services.bath_book import bath_trouble
from printlore.services.baths import bottle_troubles
from printlore.services.editions import edition_troubles
from printlore.services.order_of_days import order_troubles
from printlore.services.stock import stock_trouble
from printlore.services.waste import waste_trouble

FORMAT = "printlore studio"


@dataclass(frozen=True, slots=True, kw_only=True)
class Export:
    """What was written or read.

    Attributes
    ----------
    path : Path
    rows : dict
        Number of rows by table.
    scans : int
    doubts : tuple of str
        Of what was read: records that cannot all be as they stand, and why. They came in as they are.
    """

    path: Path
    rows: dict[str, int]
    scans: int
    doubts: tuple[str, ...] = ()


def export_studio(db: Database, path: Path | str, *, scans: bool = True) -> Export:
    """Write everything into a new folder, or a zip if the name ends in ``.zip``.

    Raises
    ------
    Refused
        If there is something at that path already.
    UnreadableFile
        If it cannot be written; nothing is left of it.
    """
    path = Path(path)
    with in_words(path):
        if path.exists() and (not path.is_dir() or any(path.iterdir())):
            raise Refused(f"There is something at {path} already. Choose a new name for the export.")
    if path.suffix.lower() == ".zip" and not path.is_dir():
        make_folder(path.parent)
        with beside(path) as place, zipfile.ZipFile(place, "w", zipfile.ZIP_DEFLATED) as archive:
            return _write(db, path, archive.writestr, scans)
    made = not path.exists()
    make_folder(path)
    try:
        return _write(db, path, lambda name, content: _put_file(path / name, content), scans)
    except BaseException:
        # half an export is none; what says that it is one comes last
        for part in ("json", "csv", "scans"):
            shutil.rmtree(path / part, ignore_errors=True)
        if made:
            with suppress(OSError):
                path.rmdir()
        raise


def export_bytes(db: Database) -> bytes:
    """The export as one zip file in memory, to be sent."""
    with in_words(Path(gettempdir())), TemporaryDirectory(prefix="printlore-") as folder:
        path = Path(folder) / "studio.zip"
        export_studio(db, path)
        return path.read_bytes()


def _write(db: Database, path: Path, put: Callable[[str, bytes], None], scans: bool) -> Export:
    counts = {}
    with db.reading() as conn:
        for table in table_names():
            rows = list(rows_of(conn, table))
            counts[table] = len(rows)
            put(f"json/{table}.json", _json(rows))
            put(f"csv/{table}.csv", _csv(table, rows))
        kept = scan_hashes(conn)
    written = 0
    for sha256 in kept if scans else ():
        put(f"scans/{path_of(sha256)}", db.scans.get(sha256))
        written += 1
    about = {
        "format": FORMAT,
        "revision": schema_version(),
        "exported_at": datetime.now(UTC).isoformat(),
        "rows": counts,
        "scans": written,
    }
    put("studio.json", json.dumps(about, indent=1).encode())
    return Export(path=path, rows=counts, scans=written)


def _put_file(path: Path, content: bytes) -> None:
    make_folder(path.parent)
    write_file(path, content)


def _json(rows: list[dict[str, Any]]) -> bytes:
    """One row a line, so that two exports can be compared."""
    lines = ",\n".join(json.dumps(row, ensure_ascii=False) for row in rows)
    return f"[\n{lines}\n]\n".encode()


def _csv(table: str, rows: list[dict[str, Any]]) -> bytes:
    out = io.StringIO()
    columns = column_names(table)
    writer = csv.DictWriter(out, columns)
    writer.writeheader()
    for row in rows:
        writer.writerow(
            {c: json.dumps(row[c]) if is_json(table, c) and row[c] is not None else row[c] for c in columns}
        )
    return out.getvalue().encode("utf-8-sig")


def import_studio(db: Database, path: Path | str) -> Export:
    """Bring an export into an empty studio: all of it or nothing. See ``Database.made`` for a new folder.

    A value that cannot be is refused. Records that can be one by one, but not all together (more poured out of a bath
    than was in it), come in and are told: a page may refuse to reckon with them until one is taken back.

    Raises
    ------
    Refused
        If the studio has records already.
    UnreadableFile
        If it is not an export, is of another revision, a part is missing or damaged, or a value in it cannot be.
    """
    path = Path(path)
    try:
        if path.is_dir():
            return _read(db, path, lambda name: (path / name).read_bytes())
        with zipfile.ZipFile(path) as archive:
            return _read(db, path, lambda name: _unpacked(archive, name))
    except (OSError, KeyError, zipfile.BadZipFile) as error:
        raise UnreadableFile(
            f"{path} is not a whole export of a studio: {error}. Export again from the source."
        ) from error


def _unpacked(archive: zipfile.ZipFile, name: str) -> bytes:
    try:
        return archive.read(name)
    except (EOFError, RuntimeError, zlib.error) as error:
        # cut short; locked with a word, or packed in a way that is not known; damaged
        raise zipfile.BadZipFile(f"{name}: {error}") from error


def _read(db: Database, path: Path, get: Callable[[str], bytes]) -> Export:
    about = _parsed(get("studio.json"), "studio.json")
    if not isinstance(about, dict) or about.get("format") != FORMAT:
        raise UnreadableFile(f"{path} is not an export of a studio. Choose the folder or zip that was exported.")
    if not isinstance(about.get("rows"), dict) or "scans" not in about:
        raise UnreadableFile(f"studio.json of {path} does not say what was exported. Export again from the source.")
    if about.get("revision") != schema_version():
        raise UnreadableFile(
            f"{path} was exported at revision {about.get('revision')}, this version knows {schema_version()}. "
            "Open the studio itself with this version and export it again."
        )
    counts, scans = {}, 0
    with _scans_or_none(db.scans) as keep, db.transaction() as conn:
        refuse_if_not_empty(conn)
        for table in table_names():
            counts[table] = _put_table(conn, table, _parsed(get(f"json/{table}.json"), table))
            if counts[table] != about["rows"].get(table):
                raise UnreadableFile(
                    f"Table {table} has {counts[table]} rows, but {about['rows'].get(table)} were exported. "
                    "The export was changed or cut short; export again."
                )
        _refuse_what_cannot_be(conn)
        if about["scans"]:
            for sha256 in scan_hashes(conn):
                content = get(f"scans/{path_of(sha256)}")
                if keep(content) != sha256:
                    raise UnreadableFile(f"The scan {sha256[:12]} in {path} is damaged. Export again from the source.")
                scans += 1
        doubts = record_doubts(db)
    return Export(path=path, rows=counts, scans=scans, doubts=doubts)


def record_doubts(db: Database) -> tuple[str, ...]:
    """Records that cannot all be as they stand, though each can: what no page would have written down."""
    with db.reading() as conn:
        return _doubts(conn)


def _doubts(conn: sa.Connection) -> tuple[str, ...]:
    books = [
        *((f'bath "{bath.name}"', bath_trouble(conn, bath.name)) for bath in every(conn, Bath)),
        *((f'box "{box.name}"', stock_trouble(conn, box=box.name)) for box in every(conn, BoxRecord)),
        *((f'roll "{roll.name}"', stock_trouble(conn, roll=roll.name)) for roll in every(conn, RollRecord)),
        *((f'waste "{one.name}"', waste_trouble(conn, one.name)) for one in every(conn, WasteContainer)),
    ]
    papers = {paper.name for paper in every(conn, PaperFamily)}
    lost = [
        f'The lot "{lot.name}" is of the paper "{lot.family}", which was taken back and does not count.'
        for lot in every(conn, Lot)
        if lot.family not in papers
    ]
    rest = (*bottle_troubles(conn), *order_troubles(conn), *aim_troubles(conn), *edition_troubles(conn))
    return (*(f"The {what}: {why}" for what, why in books if why), *lost, *rest)


@contextmanager
def _scans_or_none(store: ScanStore) -> Iterator[Callable[[bytes], str]]:
    """A way to keep scans; if the block fails, those that it kept are let go of again."""
    there, new = set(store.names()), []

    def keep(content: bytes) -> str:
        new.append(store.put(content))
        return new[-1]

    try:
        yield keep
    except BaseException:
        for sha256 in set(new) - there:
            with suppress(OSError):
                store.discard(sha256)
        raise


def _put_table(conn: sa.Connection, table: str, rows: Any) -> int:
    try:
        return put_rows(conn, table, rows)
    except (
        sa.exc.IntegrityError,
        sa.exc.InterfaceError,
        sa.exc.ProgrammingError,
        AttributeError,
        OverflowError,
        TypeError,
        ValueError,
    ) as error:
        why = error.orig if isinstance(error, sa.exc.DBAPIError) else error
        raise UnreadableFile(
            f"Table {table} of the export was changed: a row cannot be as it stands ({why}). "
            "Nothing was brought in; export again from the source."
        ) from error


def _refuse_what_cannot_be(conn: sa.Connection) -> None:
    """What comes in keeps the limits of what is typed: the database's own are coarser, and no page could show it."""
    try:
        refuse_what_cannot_be_read(conn)
    except ValueOutOfRange as error:
        raise UnreadableFile(
            f"{error} Nothing was brought in. If the export was changed, export again from the source; else correct it "
            "there first."
        ) from error


def _parsed(content: bytes, what: str) -> Any:
    try:
        return json.loads(content)
    except (ValueError, RecursionError) as error:
        raise UnreadableFile(f"{what} of the export cannot be read: {error}. Export again from the source.") from error
