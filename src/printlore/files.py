"""Files that are written for others to read: whole, or not at all."""

import errno
import os
import re
import secrets
import shutil
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path

from printlore.errors import UnreadableFile

LEFT = 86400.0
"""[s] What is written grows all the time: what nobody has touched for a day was left by a write that was killed."""
_UNFINISHED = re.compile(r"\.partial-[0-9a-f]{16}(-wal|-shm|-journal)?")

_FULL = "Make room on that disk, or choose another place"
_CLOSED = "Allow writing to it and in its folder, or choose another place"
_WHAT_TO_DO: Mapping[int, str] = {
    errno.ENOSPC: _FULL,
    errno.EDQUOT: _FULL,
    errno.EFBIG: _FULL,
    errno.EACCES: _CLOSED,
    errno.EPERM: _CLOSED,
    errno.EROFS: "That disk can only be read: choose another place",
    errno.EISDIR: "Give the name of a file in that folder",
    errno.ENAMETOOLONG: "Choose a shorter name",
    errno.EIO: "Check the disk, or choose another place",
}


def why_not(problem: OSError) -> str:
    """What the system says of a file, and what to do about it: two sentences."""
    said = problem.strerror or str(problem) or "the system gives no reason"
    return f"{said}. {_WHAT_TO_DO.get(problem.errno or 0, 'Choose another name or folder')}."


def write_file(path: Path, content: bytes, *, recorded: str = "") -> None:
    """Write a whole file; one that was there stays as it was until the new one is safe on disk.

    Parameters
    ----------
    recorded : str
        What was recorded before and how to have the file without recording it again; told if it cannot be written.

    Raises
    ------
    UnreadableFile
        If it cannot be written: says why, and what to do.
    """
    try:
        with beside(path) as place:
            place.write_bytes(content)
    except UnreadableFile as problem:
        raise UnreadableFile(f"{problem} {recorded}".rstrip()) from problem


def make_folder(path: Path) -> None:
    """Make a folder and those above it, if need be. Raises UnreadableFile."""
    with in_words(path):
        path.mkdir(parents=True, exist_ok=True)


def append_to_file(path: Path, content: bytes) -> None:
    """Add to the end of a file, which is made if need be; if that fails, it is as it was.

    Raises
    ------
    UnreadableFile
        If it cannot be written: says why, and what to do.
    """
    with in_words(path), open(path, "ab") as file:
        before = os.fstat(file.fileno()).st_size
        try:
            file.write(content)
            file.flush()
        except OSError:
            with suppress(OSError):
                file.truncate(before)
            raise


def must_be_writable(path: Path) -> None:
    """Refuse, before anything is worked out, a file that ``write_file`` could not write. Nothing is left of the trial.

    Raises
    ------
    UnreadableFile
        If it cannot be written: says why, and what to do.
    """
    with in_words(path):
        real = _real(path)
        if _is_plain(real):
            free = free_name(real)
            free.touch(exist_ok=False)
            free.unlink()


@contextmanager
def beside(path: Path) -> Iterator[Path]:
    """A free name beside ``path`` to write a file to, which takes its place when the block is left without an error.

    Otherwise nothing is left of it. What is there and no plain file (a pipe, a device) is given as it is.

    Raises
    ------
    UnreadableFile
        If the system refuses anything in the block: says why, and what to do.
    """
    with in_words(path):
        real = _real(path)
        if not _is_plain(real):
            yield real
            return
        place = free_name(real)
        try:
            yield place
            with open(place, "rb") as written:
                os.fsync(written.fileno())
            if real.exists():
                shutil.copymode(real, place)
            os.replace(place, real)
        finally:
            with suppress(OSError):
                place.unlink(missing_ok=True)


def _real(path: Path) -> Path:
    """Links followed, so that what they lead to is replaced, not they."""
    try:
        return Path(os.path.realpath(path))
    except ValueError as problem:
        raise UnreadableFile(f'"{path}" cannot be written: it is no file name. Choose another name.') from problem


def _is_plain(real: Path) -> bool:
    """Whether it is a plain file, or none yet. Raises OSError if it is a folder or protected."""
    if real.is_dir():
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR))
    if real.is_file():
        # its folder might let us replace what is protected
        with open(real, "ab"):
            return True
    return not real.exists()


def free_name(real: Path) -> Path:
    """A name in the same folder that nobody else uses, for what is not finished; what was left there long ago goes."""
    _clear_left(real.parent)
    return real.with_name(f".partial-{secrets.token_hex(8)}")


def is_unfinished(path: Path) -> bool:
    """Whether a file bears the name of one that is not finished, or never was."""
    return _UNFINISHED.fullmatch(path.name) is not None


def _clear_left(folder: Path) -> None:
    """Delete unfinished files of writes that were killed; one that is under way may be another process's."""
    with suppress(OSError):
        for entry in os.scandir(folder):
            if _UNFINISHED.fullmatch(entry.name) and entry.is_file(follow_symlinks=False):
                with suppress(OSError):
                    if time.time() - entry.stat(follow_symlinks=False).st_mtime > LEFT:
                        os.unlink(entry.path)


@contextmanager
def in_words(path: Path) -> Iterator[None]:
    """Turn what the system refuses while a file or folder is written into ``UnreadableFile``, and what to do."""
    try:
        yield
    except OSError as problem:
        if isinstance(problem, FileNotFoundError) and not path.parent.is_dir():
            raise UnreadableFile(
                f'"{path}" cannot be written: there is no folder "{path.parent}". Make it, or choose another.'
            ) from problem
        raise UnreadableFile(f'"{path}" cannot be written: {why_not(problem)}') from problem
