"""Back up a studio into a folder while it is in use, and bring it back."""

import shutil
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from printlore.errors import Refused, StudioUnavailable, UnreadableFile
from printlore.files import beside, free_name, is_unfinished, make_folder, why_not
from printlore.records.database import FILE_NAME, Database, check_sound
from printlore.records.scans import ScanStore, sync_folder


@dataclass(frozen=True, slots=True, kw_only=True)
class Backup:
    """A backup: its folder, and how many scans were copied now (those of an earlier backup there are not again)."""

    folder: Path
    scans_copied: int


def back_up(db: Database, folder: Path | str) -> Backup:
    """Copy the database as it stands and every scan into a folder; others may go on writing.

    A folder that holds an earlier backup is brought up to date: the earlier database gets its
    date in the name and stays.

    Raises
    ------
    StudioUnavailable
        If the folder cannot be written or the copy is not sound.
    Refused
        If the folder is the studio's own.
    """
    folder = Path(folder)
    if db.folder is not None and folder.resolve() == db.folder.resolve():
        raise Refused(f"{folder} is the studio itself. Choose another folder, best on another disk.")
    target = folder / FILE_NAME
    partial = free_name(target)
    try:
        (folder / "scans").mkdir(parents=True, exist_ok=True)
        db.copy_to(partial)
        check_sound(partial)
        copied = _copy_scans(db.scans, ScanStore(folder / "scans"))
        if target.exists():
            made = datetime.fromtimestamp(target.stat().st_mtime, UTC).strftime("%Y%m%dT%H%M%S.%f")
            target.replace(folder / f"studio-{made}.sqlite")
        partial.replace(target)
        sync_folder(folder)
    except OSError as error:
        raise StudioUnavailable(
            f"The backup in {folder} was not finished: {why_not(error)} "
            "Then back up again; the studio itself is as it was."
        ) from error
    except StudioUnavailable as error:
        raise StudioUnavailable(f"The backup in {folder} was not finished. {error}") from error
    finally:
        with suppress(OSError):
            partial.unlink(missing_ok=True)
    return Backup(folder=folder, scans_copied=copied)


def restore(backup: Path | str, folder: Path | str) -> Path:
    """Make a studio in a new or empty folder out of a backup.

    Raises
    ------
    UnreadableFile
        If there is no sound backup, or the new folder cannot be written; then nothing is left in it.
    Refused
        If the folder already holds something: a restored studio never replaces another. What an earlier restore of
        this backup left when it was killed (scans, the database comes last) is gone on with.
    """
    backup, folder = Path(backup), Path(folder)
    source = backup / FILE_NAME
    if not source.exists():
        raise UnreadableFile(f"There is no {FILE_NAME} in {backup}. Choose the folder that a backup was made in.")
    if folder.exists() and not _is_free(folder, ScanStore(backup / "scans")):
        raise Refused(f"{folder} is not empty. Restore into a new folder, look at it, then move it where you want it.")
    try:
        check_sound(source)
    except StudioUnavailable as error:
        raise UnreadableFile(f"{error} Choose an older backup.") from error
    make_folder(folder / "scans")
    try:
        # the database comes last: what was cut short is no studio
        _copy_scans(ScanStore(backup / "scans"), ScanStore(folder / "scans"))
        with beside(folder / FILE_NAME) as place:
            shutil.copyfile(source, place)
    except BaseException:
        if not (folder / FILE_NAME).exists():
            shutil.rmtree(folder / "scans", ignore_errors=True)
        raise
    return folder


def _is_free(folder: Path, of_backup: ScanStore) -> bool:
    """Whether a folder holds nothing, or nothing but what a restore of this backup left that was killed."""
    if not folder.is_dir():
        return False
    inside = [path for path in folder.iterdir() if not is_unfinished(path)]
    if not inside:
        return True
    scans = ScanStore(folder / "scans")
    files = [path for path in folder.rglob("*") if path.is_file() and not is_unfinished(path)]
    return inside == [folder / "scans"] and len(files) == len(scans.names()) and all(map(of_backup.has, scans.names()))


def _copy_scans(source: ScanStore, target: ScanStore) -> int:
    copied = 0
    for sha256 in source.names():
        if not target.has(sha256):
            target.put(source.get(sha256))
            copied += 1
    return copied
