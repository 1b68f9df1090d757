"""A backup is made while others write, and a studio comes back from it."""

import errno
import os
import shutil
import subprocess
import sys
import threading

import pytest

from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Setting
from printlore.errors import Refused, StudioUnavailable, UnreadableFile
from printlore.records.database import FILE_NAME, Database, check_sound
from printlore.records.scans import ScanStore
from printlore.services import backup
from printlore.services.backup import back_up, restore
from printlore.services.entry import keep_scan
from printlore.services.evidence import load_evidence
from printlore.services.trials import PatchEntry, TrialEntry, list_trials, log_trial

ENTRY = TrialEntry(patches=(PatchEntry(setting=Setting(pack=FilterPack(), time=8), kept=True),))


def test_a_studio_comes_back_from_its_backup(tmp_path, studio):
    log_trial(studio, ENTRY)
    scan = keep_scan(studio, b"pixels", media_type="image/tiff")
    done = back_up(studio, tmp_path / "safe")
    assert done.scans_copied == 1
    with Database.open(restore(tmp_path / "safe", tmp_path / "again")) as again:
        assert load_evidence(again) == load_evidence(studio)
        assert again.scans.get(scan.sha256) == b"pixels"
        log_trial(again, ENTRY)


def test_a_backup_under_a_running_writer_is_sound_and_holds_all_that_was_there(tmp_path, studio):
    stop, written = threading.Event(), []

    def write():
        while not stop.is_set():
            written.append(log_trial(studio, ENTRY).name)

    writer = threading.Thread(target=write)
    writer.start()
    try:
        for number in range(5):
            before = list(written)
            back_up(studio, tmp_path / "safe")
            copy = restore(tmp_path / "safe", tmp_path / f"again {number}")
            check_sound(copy / FILE_NAME)
            with Database.open(copy) as again:
                there = [record.name for record in list_trials(again)]
            assert there[: len(before)] == before
    finally:
        stop.set()
        writer.join()
    assert len(written) > 5
    assert [record.name for record in list_trials(studio)] == written


def test_earlier_backups_in_the_folder_stay(tmp_path, studio):
    for _ in range(3):
        log_trial(studio, ENTRY)
        keep_scan(studio, b"pixels", media_type="image/tiff")
        last = back_up(studio, tmp_path / "safe")
    assert last.scans_copied == 0
    assert len(list((tmp_path / "safe").glob("studio-*.sqlite"))) == 2


def test_a_studio_in_memory_can_be_backed_up(tmp_path, db):
    log_trial(db, ENTRY)
    back_up(db, tmp_path / "safe")
    with Database.open(restore(tmp_path / "safe", tmp_path / "again")) as again:
        assert len(list_trials(again)) == 1


def test_a_backup_into_the_studio_itself_is_refused(studio):
    with pytest.raises(Refused, match=r"is the studio itself\. Choose another folder, best on another disk"):
        back_up(studio, studio.folder)


def test_a_backup_where_nothing_can_be_written_says_so(tmp_path, studio):
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(StudioUnavailable, match=r"The backup in .* was not finished: .* the studio itself is"):
        back_up(studio, tmp_path / "file")


def test_a_restored_studio_never_replaces_another(tmp_path, studio):
    back_up(studio, tmp_path / "safe")
    with pytest.raises(Refused, match=r"is not empty\. Restore into a new folder"):
        restore(tmp_path / "safe", studio.folder)


KILLED = """
import os, shutil, sys
from printlore.records.scans import ScanStore
from printlore.services import backup
shutil.copyfile = lambda *_: os.kill(os.getpid(), 9)
backup.restore(sys.argv[1], sys.argv[2])
"""


def test_a_restore_that_was_killed_is_gone_on_with(tmp_path, studio):
    log_trial(studio, ENTRY)
    scan = keep_scan(studio, b"pixels", media_type="image/tiff")
    safe, again = back_up(studio, tmp_path / "safe").folder, tmp_path / "again"
    killed = subprocess.run([sys.executable, "-c", KILLED, str(safe), str(again)], check=False)
    assert killed.returncode == -9
    assert [path.name for path in again.iterdir()] == ["scans"]
    (again / ".partial-0123456789abcdef").write_bytes(b"half")
    with Database.open(restore(safe, again)) as restored:
        assert len(list_trials(restored)) == 1
        assert restored.scans.get(scan.sha256) == b"pixels"
    with pytest.raises(Refused, match="is not empty"):
        restore(safe, again)


def test_scans_of_another_studio_are_not_taken_for_what_a_killed_restore_left(tmp_path, studio):
    keep_scan(studio, b"pixels", media_type="image/tiff")
    back_up(studio, tmp_path / "safe")
    ScanStore(tmp_path / "other" / "scans").put(b"other pixels")
    (tmp_path / "mixed" / "scans").mkdir(parents=True)
    (tmp_path / "mixed" / "scans" / "note.txt").write_text("mine")
    for name in ("other", "mixed"):
        with pytest.raises(Refused, match="is not empty"):
            restore(tmp_path / "safe", tmp_path / name)
    assert (tmp_path / "mixed" / "scans" / "note.txt").read_text() == "mine"


def test_a_damaged_or_missing_backup_is_refused_and_nothing_is_made(tmp_path, studio):
    with pytest.raises(UnreadableFile, match=r"There is no studio\.sqlite in .* Choose the folder"):
        restore(tmp_path / "nowhere", tmp_path / "again")
    for _ in range(40):
        log_trial(studio, ENTRY)
    back_up(studio, tmp_path / "safe")
    path = tmp_path / "safe" / FILE_NAME
    content = path.read_bytes()
    path.write_bytes(content[: len(content) // 2])
    with pytest.raises(UnreadableFile, match=r"is not a sound database: .* Choose an older backup"):
        restore(tmp_path / "safe", tmp_path / "again")
    assert not (tmp_path / "again").exists()


def no_room(*_, **__):
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def test_a_disk_that_fills_while_restoring_leaves_the_new_folder_empty(tmp_path, studio, monkeypatch):
    keep_scan(studio, b"pixels", media_type="image/tiff")
    back_up(studio, tmp_path / "safe")
    with monkeypatch.context() as patch:
        patch.setattr(shutil, "copyfile", no_room)
        with pytest.raises(UnreadableFile, match=r"No space left on device\. Make room on that disk"):
            restore(tmp_path / "safe", tmp_path / "again")
    assert list((tmp_path / "again").iterdir()) == []
    assert restore(tmp_path / "safe", tmp_path / "again").is_dir()
    with pytest.raises(Refused, match=r"is not empty"):
        restore(tmp_path / "safe", tmp_path / "safe" / FILE_NAME)


def test_a_disk_that_fills_while_backing_up_keeps_the_earlier_backup_and_no_half(tmp_path, studio, monkeypatch):
    back_up(studio, tmp_path / "safe")
    before = sorted(path.name for path in (tmp_path / "safe").iterdir())
    monkeypatch.setattr(backup, "check_sound", no_room)
    with pytest.raises(StudioUnavailable, match=r"was not finished: No space left .* Make room on that disk"):
        back_up(studio, tmp_path / "safe")
    monkeypatch.setattr(backup, "check_sound", lambda _: Database.open(tmp_path / "nowhere", create=False))
    with pytest.raises(StudioUnavailable, match=r"The backup in .* was not finished\. There is no studio"):
        back_up(studio, tmp_path / "safe")
    assert sorted(path.name for path in (tmp_path / "safe").iterdir()) == before
