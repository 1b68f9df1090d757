"""The studio's database: one SQLite file in one folder with its scans, or one in memory."""

import os
import shutil
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Self
from urllib.parse import quote

import sqlalchemy as sa
from sqlalchemy.pool import NullPool, QueuePool, StaticPool

from printlore.errors import Refused, StudioUnavailable, ValueOutOfRange
from printlore.files import beside
from printlore.records.scans import ScanStore
from printlore.records.schema import metadata

FILE_NAME = "studio.sqlite"
PATIENCE = 5.0
"""[s] How long to wait for another writer."""

_VERSIONS = Path(__file__).parent / "migrations" / "versions"


def schema_version() -> str:
    """Newest revision that this version knows; revisions are the numbers of the migration files."""
    return max(path.name.split("_")[0] for path in _VERSIONS.glob("[0-9]*.py"))


class Database:
    """Gives transactions; everything else about SQL is in the modules by subject.

    Attributes
    ----------
    folder : Path or None
        The studio's folder; ``None`` in memory.
    read_only : bool
        It was asked for so, or disk, folder or file cannot be written.
    scans : ScanStore
    """

    def __init__(self, engine: sa.Engine, folder: Path | None, *, read_only: bool = False) -> None:
        self.folder = folder
        self.read_only = read_only
        self.scans = ScanStore(None if folder is None else folder / "scans")
        self._engine = engine
        self._file: os.stat_result | None = None
        self._open = threading.local()
        self._one_at_a_time = threading.RLock() if folder is None else None

    @classmethod
    def open(cls, folder: Path | str, *, create: bool = True, read_only: bool = False) -> Self:
        """Open the studio in a folder; make it, or bring it up to this version after a backup, if need be.

        One that cannot be written (a disk that can only be read, say) is opened for reading.

        Raises
        ------
        StudioUnavailable
            If there is none and ``create`` is False, it was made by a newer version, or it cannot be read or written.
        """
        folder = Path(folder)
        path = folder / FILE_NAME
        if not path.exists():
            if read_only or not create:
                raise StudioUnavailable(f"There is no studio in {folder}. Check the folder, or make a studio there.")
            try:
                (folder / "scans").mkdir(parents=True, exist_ok=True)
            except OSError as error:
                raise StudioUnavailable(
                    f"No studio can be made in {folder}: {error.strerror}. Choose a folder that can be written."
                ) from error
        read_only = read_only or (path.exists() and not all(map(_may_write, (path, folder))))
        database = cls(_engine(path, read_only=read_only), folder, read_only=read_only)
        try:
            with _in_words(path):
                database._bring_up_to_date(path)
                database._file = os.stat(path)
        except BaseException:
            database.close()
            raise
        return database

    @classmethod
    @contextmanager
    def made(cls, folder: Path | str) -> Iterator[Self]:
        """The studio in a folder, to be filled; if that fails, nothing is there that was not there before.

        One that was there already, or that somebody else has filled meanwhile, stays.
        """
        folder = Path(folder)
        before = [path for path in (folder, *folder.parents) if path.exists()]
        there, scans_there = (folder / FILE_NAME).exists(), (folder / "scans").exists()
        database = None
        try:
            database = cls.open(folder)
            yield database
        except BaseException:
            if database is not None:
                database.close()
            if not there and _is_unused(folder / FILE_NAME):
                for end in ("", "-wal", "-shm"):
                    (folder / f"{FILE_NAME}{end}").unlink(missing_ok=True)
                if not scans_there:
                    shutil.rmtree(folder / "scans", ignore_errors=True)
                with suppress(OSError):
                    for path in (folder, *folder.parents):
                        if path in before:
                            break
                        path.rmdir()
            raise
        database.close()

    @classmethod
    def in_memory(cls) -> Self:
        """A studio that is gone when it is closed; quick, for trying things out."""
        engine = sa.create_engine(
            "sqlite://", poolclass=StaticPool, connect_args={"check_same_thread": False, "isolation_level": None}
        )
        sa.event.listen(engine, "connect", _prepare_memory)
        sa.event.listen(engine, "begin", _begin)
        database = cls(engine, None)
        with database.transaction() as conn:
            _make_tables(conn)
        return database

    @property
    def only_read(self) -> str:
        """Why nothing can be entered, and what to do; empty if it can be written."""
        return f"The studio {self._path}: {_WORDS['SQLITE_READONLY']}." if self.read_only else ""

    @contextmanager
    def transaction(self) -> Iterator[sa.Connection]:
        """Write all of a block or none of it; on disk when the block is left.

        Inside another transaction of the same thread, a part of that one which can fail by itself.

        Raises
        ------
        StudioUnavailable
            If the studio is read-only, full, damaged, moved away or held by another writer.
        Refused
            If a row breaks a rule of the record.
        """
        if self.read_only:
            raise StudioUnavailable(f"{self.only_read} What was entered before is safe.")
        outer: sa.Connection | None = getattr(self._open, "writing", None)
        if outer is not None:
            with _in_words(self._path), outer.begin_nested():
                yield outer
            return
        self._refuse_if_moved()
        with _in_words(self._path), self._alone(), self._engine.connect() as conn:
            conn = conn.execution_options(printlore_begin="BEGIN IMMEDIATE")
            with conn.begin():
                self._open.writing = conn
                try:
                    yield conn
                finally:
                    self._open.writing = None

    @contextmanager
    def reading(self) -> Iterator[sa.Connection]:
        """Read one consistent state; inside a transaction of the same thread, what that one has written so far."""
        outer: sa.Connection | None = getattr(self._open, "writing", None) or getattr(self._open, "reading", None)
        if outer is not None:
            yield outer
            return
        self._refuse_if_moved()
        with _in_words(self._path), self._alone(), self._engine.connect() as conn:
            if self.folder is None:
                # One connection for all: a write may come inside, and must find no transaction open.
                conn = conn.execution_options(printlore_begin="")
            with conn.begin():
                self._open.reading = conn
                try:
                    yield conn
                finally:
                    self._open.reading = None

    def copy_to(self, path: Path) -> None:
        """Copy the database as it stands into a new file, also while somebody writes (SQLite's backup API)."""
        self._refuse_if_moved()
        with _in_words(path), self._alone(), self._engine.connect() as conn:
            source = conn.connection.driver_connection
            assert isinstance(source, sqlite3.Connection)
            target = sqlite3.connect(path)
            try:
                source.backup(target)
            finally:
                target.close()

    def _refuse_if_moved(self) -> None:
        """A file that is open follows its folder; scans and the next connection would go where it was."""
        if self._file is None or self._path is None:
            return
        try:
            same = os.path.samestat(os.stat(self._path), self._file)
        except OSError:
            same = False
        if not same:
            raise StudioUnavailable(
                f"The studio {self._path} was moved away, or another put in its place, while it was open. Stop this "
                "program and start it again with the folder where the studio is now. What was entered before is safe."
            )

    def close(self) -> None:
        """Let go of the file."""
        self._engine.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @property
    def _path(self) -> Path | None:
        return None if self.folder is None else self.folder / FILE_NAME

    @contextmanager
    def _alone(self) -> Iterator[None]:
        """In memory there is one connection, so one thread at a time."""
        if self._one_at_a_time is None:
            yield
        else:
            with self._one_at_a_time:
                yield

    def _bring_up_to_date(self, path: Path) -> None:
        newest = schema_version()
        with self._engine.connect() as conn, conn.begin():
            tables = set(conn.exec_driver_sql("SELECT name FROM sqlite_master WHERE type = 'table'").scalars())
            found = None
            if "alembic_version" in tables:
                found = conn.exec_driver_sql("SELECT version_num FROM alembic_version").scalar()
        if found == newest:
            return
        if found is None and tables:
            raise StudioUnavailable(f"{path} is a database, but not one of a studio. Choose another folder.")
        if found is not None and found > newest:
            raise StudioUnavailable(
                f"The studio {path} was written by a newer version (its tables are of revision {found}; this version "
                f"knows {newest}). Bring this program up to date; nothing was changed."
            )
        if self.read_only:
            raise StudioUnavailable(
                f"The studio {path} is of an older version (revision {found}) and is open for reading only. "
                "Open it once for writing, or a copy of its folder where it can be written, so that it can be brought "
                "up to date."
            )
        if found is None:
            with self.transaction() as conn:
                _make_tables(conn)
            return
        stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%S")
        backup = path.parent / "backups" / f"before-{newest}-{stamp}.sqlite"
        try:
            backup.parent.mkdir(exist_ok=True)
        except OSError as error:
            raise StudioUnavailable(
                f"No backup can be made beside {path} before it is brought up to date: {error.strerror}. "
                "Allow writing there, or open a copy; nothing was changed."
            ) from error
        # a copy that was cut short must not pass for one
        with beside(backup) as place:
            self.copy_to(place)
        # Loading the migrations takes a third of a second that every command would pay.
        from printlore.records.migrations.upgrade import upgrade

        try:
            with self._engine.connect() as conn:
                upgrade(conn)
        except sa.exc.OperationalError as error:
            raise StudioUnavailable(
                f"The studio {path} could not be brought up to date ({error.orig}). Nothing was changed; "
                f"a copy is in {backup}."
            ) from error


def _make_tables(conn: sa.Connection) -> None:
    """What the migrations would make, quicker; a test holds that they agree. Nothing if another process was faster."""
    if sa.inspect(conn).has_table("alembic_version"):
        return
    metadata.create_all(conn)
    conn.exec_driver_sql("CREATE TABLE alembic_version (version_num VARCHAR(32) NOT NULL PRIMARY KEY)")
    conn.exec_driver_sql("INSERT INTO alembic_version VALUES (?)", (schema_version(),))


def _is_unused(path: Path) -> bool:
    """No row was ever written, and nobody has it open."""
    try:
        conn = sqlite3.connect(path, timeout=0.0)
        try:
            # alone: what is shared with others needs room, and the disk may be full
            conn.execute("PRAGMA locking_mode = EXCLUSIVE")
            numbers = conn.execute("SELECT 1 FROM sqlite_master WHERE name = 'sqlite_sequence'").fetchone()
            return not numbers or not conn.execute("SELECT 1 FROM sqlite_sequence WHERE seq > 0 LIMIT 1").fetchone()
        finally:
            conn.close()
    except sqlite3.Error:
        return False


def _may_write(path: Path) -> bool:
    return os.access(path, os.W_OK, effective_ids=os.access in os.supports_effective_ids)


def check_sound(path: Path) -> None:
    """Look through a whole database file.

    Raises
    ------
    StudioUnavailable
        If SQLite finds damage or a reference into nothing; says what.
    """
    try:
        conn = sqlite3.connect(path)
        try:
            found = [str(row[0]) for row in conn.execute("PRAGMA integrity_check")]
            loose = conn.execute("PRAGMA foreign_key_check").fetchall()
        finally:
            conn.close()
    except sqlite3.DatabaseError as error:
        raise StudioUnavailable(f"{path} is not a sound database: {error}.") from error
    if found != ["ok"] or loose:
        what = found[0] if found != ["ok"] else f"{len(loose)} references lead nowhere"
        raise StudioUnavailable(f"{path} is not a sound database: {what}.")


def _engine(path: Path, *, read_only: bool) -> sa.Engine:
    mode = "rw" if read_only is False else "ro"
    if not path.exists():
        mode = "rwc"
    log = path.with_name(f"{path.name}-wal")
    still = read_only and not _may_write(path.parent)

    def connect() -> sqlite3.Connection:
        # What others share with SQLite cannot be made in a folder that cannot be written. If nobody writes, there is
        # nothing to share; should somebody begin who may, the next connection sees the log.
        alone = "&immutable=1" if still and not (log.exists() and log.stat().st_size) else ""
        return sqlite3.connect(
            f"file:{quote(str(path))}?mode={mode}{alone}",
            uri=True,
            timeout=PATIENCE,
            isolation_level=None,
            check_same_thread=False,
        )

    if still:
        engine = sa.create_engine("sqlite://", creator=connect, poolclass=NullPool)
    else:
        engine = sa.create_engine("sqlite://", creator=connect, poolclass=QueuePool, pool_size=4, max_overflow=16)
    sa.event.listen(engine, "connect", _prepare_reading if read_only else _prepare_writing)
    sa.event.listen(engine, "begin", _begin)
    return engine


def _prepare_memory(dbapi: sqlite3.Connection, _: Any) -> None:
    dbapi.execute("PRAGMA foreign_keys = ON")


def _prepare_reading(dbapi: sqlite3.Connection, _: Any) -> None:
    dbapi.execute("PRAGMA query_only = ON")


def _prepare_writing(dbapi: sqlite3.Connection, _: Any) -> None:
    dbapi.execute("PRAGMA journal_mode = WAL")
    dbapi.execute("PRAGMA synchronous = FULL")
    dbapi.execute("PRAGMA foreign_keys = ON")


def _begin(conn: sa.Connection) -> None:
    if statement := conn.get_execution_options().get("printlore_begin", "BEGIN"):
        conn.exec_driver_sql(statement)


_WORDS = {
    "SQLITE_READONLY": "it can be read but not written. Allow writing to the file and its folder, or work on a copy",
    "SQLITE_FULL": "the disk (or the database's limit) is full. Make room and enter the last step again",
    "SQLITE_BUSY": "another program has been writing to it for too long. Close that one, or try again",
    "SQLITE_LOCKED": "another program has been writing to it for too long. Close that one, or try again",
    "SQLITE_CORRUPT": "the file is damaged. Do not write to it; restore the newest backup",
    "SQLITE_NOTADB": "the file is not a database. Restore the newest backup, or choose another folder",
    "SQLITE_CANTOPEN": "the file cannot be opened. Check the folder and the rights to it; "
    "from a disk that can only be read, copy the studio to one that can be written",
    "SQLITE_IOERR_SHMSIZE": "the disk is full. Make room and enter the last step again",
    "SQLITE_IOERR": "the disk does not answer as it should. Check the disk, then restore the newest backup",
}


@contextmanager
def _in_words(path: Path | None) -> Iterator[None]:
    """Turn what SQLite says into what was wrong, where, and what to do."""
    try:
        yield
    except OverflowError as error:
        if "SQLite" not in str(error):
            raise
        raise ValueOutOfRange(
            "A number has more than 18 digits; the record holds none so large. Correct it."
        ) from error
    except UnicodeEncodeError as error:
        raise ValueOutOfRange(
            f"The text {error.object[:40]!r} holds half of a sign, which cannot be kept. Type it again."
        ) from error
    except (sa.exc.DBAPIError, sqlite3.Error) as error:
        cause = error.orig if isinstance(error, sa.exc.DBAPIError) else error
        code = getattr(cause, "sqlite_errorname", "") or ""
        if isinstance(cause, sqlite3.IntegrityError):
            raise Refused(f"The record does not allow this: {cause}. Nothing was written.") from error
        for name, words in _WORDS.items():
            if code.startswith(name):
                where = "in memory" if path is None else str(path)
                raise StudioUnavailable(f"The studio {where}: {words}. What was entered before is safe.") from error
        raise
