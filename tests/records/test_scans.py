"""Scans are kept by content, whole or not at all, and a changed one is noticed."""

import errno
import hashlib
import os
import subprocess
import sys
import time

import pytest

from printlore.errors import StudioUnavailable, UnknownRecord, UnreadableFile
from printlore.records.scans import ScanStore, path_of


@pytest.fixture(params=["memory", "disk"])
def store(request, tmp_path):
    return ScanStore(None if request.param == "memory" else tmp_path)


def test_a_scan_comes_back_by_the_hash_of_its_content(store):
    sha256 = store.put(b"pixels")
    assert sha256 == hashlib.sha256(b"pixels").hexdigest()
    assert store.put(b"pixels") == sha256
    assert store.names() == [sha256]
    assert store.has(sha256)
    assert not store.has("0" * 64)
    assert store.get(sha256) == b"pixels"


def test_a_scan_that_is_not_there_is_said_to_be_missing(store):
    with pytest.raises(UnknownRecord, match=r"The scan 000000000000 is not among the studio's scans; bring it back"):
        store.get("0" * 64)


def test_a_scan_that_changed_on_disk_is_noticed_and_mended_by_adding_it_again(tmp_path):
    store = ScanStore(tmp_path)
    sha256 = store.put(b"pixels")
    (tmp_path / path_of(sha256)).write_bytes(b"pix")
    with pytest.raises(UnreadableFile, match=r"has changed on disk since it was kept\. Bring it back from a backup"):
        store.get(sha256)
    assert store.put(b"pixels") == sha256
    assert store.get(sha256) == b"pixels"


def test_a_full_disk_keeps_nothing_half(tmp_path, monkeypatch):
    store = ScanStore(tmp_path)

    def full(_):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(StudioUnavailable, match=r"could not be kept in .*: No space left on device\. Make room"):
        store.put(b"pixels")
    monkeypatch.undo()
    assert store.names() == []
    assert [path for path in tmp_path.rglob("*") if path.is_file()] == []


KILLED = """
import os, sys
from pathlib import Path
from printlore.records.scans import ScanStore
os.fsync = lambda handle: os.kill(os.getpid(), 9)
ScanStore(Path(sys.argv[1])).put(b"pixels")
"""


def test_what_a_kill_left_of_a_scan_is_no_scan_and_is_cleared_by_a_later_one(tmp_path):
    assert subprocess.run([sys.executable, "-c", KILLED, tmp_path], check=False).returncode == -9
    (left,) = (path for path in tmp_path.rglob("*") if path.is_file())
    store = ScanStore(tmp_path)
    assert store.names() == []
    store.put(b"others")
    assert left.exists()
    os.utime(left, (time.time() - 100_000,) * 2)
    store.put(b"pixels")
    assert sorted(path.name for path in tmp_path.rglob("*") if path.is_file()) == store.names()
