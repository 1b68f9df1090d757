"""Files are written whole or not at all, and what the system refuses is said in words with what to do."""

import errno
import os
import resource
import subprocess
import sys
import time
from pathlib import Path

import pytest

from printlore import files
from printlore.errors import UnreadableFile
from printlore.files import append_to_file, beside, must_be_writable, write_file


def refuse(monkeypatch, number, *, what="replace"):
    def no(*_, **__):
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(os, what, no)


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (errno.ENOSPC, r"No space left on device\. Make room on that disk"),
        (errno.EACCES, r"Permission denied\. Allow writing to it and in its folder"),
        (errno.EROFS, r"That disk can only be read"),
        (errno.EXDEV, r"Choose another name or folder"),
    ],
)
@pytest.mark.parametrize("what", ["replace", "fsync"])
def test_what_the_system_refuses_is_said_and_the_file_is_as_it_was(tmp_path, monkeypatch, number, words, what):
    path = tmp_path / "labels.pdf"
    path.write_bytes(b"before")
    refuse(monkeypatch, number, what=what)
    with pytest.raises(UnreadableFile, match=rf'"{path}" cannot be written: .*{words}'):
        write_file(path, b"after")
    assert [one.name for one in tmp_path.iterdir()] == ["labels.pdf"]
    assert path.read_bytes() == b"before"


def test_a_file_is_replaced_with_its_rights_and_a_link_is_followed(tmp_path):
    path, link = tmp_path / "plan.svg", tmp_path / "link.svg"
    path.write_bytes(b"before")
    path.chmod(0o640)
    link.symlink_to(path)
    write_file(link, b"after")
    assert (path.read_bytes(), path.stat().st_mode & 0o777, link.is_symlink()) == (b"after", 0o640, True)
    write_file(tmp_path / "new.svg", b"new")
    mask = os.umask(0)
    os.umask(mask)
    assert (tmp_path / "new.svg").stat().st_mode & 0o777 == 0o666 & ~mask
    assert not list(tmp_path.glob(".partial*"))


def test_what_cannot_be_a_file_is_refused_beforehand_and_nothing_is_left(tmp_path):
    for path, words in (
        (tmp_path, "Is a directory. Give the name of a file in that folder"),
        (tmp_path / "nowhere" / "a.pdf", f'there is no folder "{tmp_path / "nowhere"}". Make it'),
        (tmp_path / ("x" * 300), "File name too long. Choose a shorter name"),
        (tmp_path / "a\0b", "it is no file name"),
        (Path(""), "Give the name of a file in that folder"),
    ):
        for attempt in (must_be_writable, lambda path: write_file(path, b"x")):
            with pytest.raises(UnreadableFile) as found:
                attempt(path)
            assert words in str(found.value), path
    must_be_writable(tmp_path / "fine.pdf")
    assert list(tmp_path.iterdir()) == []


def test_an_error_in_between_leaves_nothing_and_is_not_taken_for_the_system_s(tmp_path):
    def half():
        with beside(tmp_path / "a.pdf") as place:
            place.write_bytes(b"half")
            raise ValueError("no such plan")

    with pytest.raises(ValueError, match="no such plan"):
        half()
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="this system has no device that is always full")
def test_a_device_is_written_to_as_it_is(tmp_path):
    with pytest.raises(UnreadableFile, match="No space left on device"):
        write_file(Path("/dev/full"), b"x")
    write_file(Path(os.devnull), b"x")
    assert Path("/dev/full").is_char_device()
    assert Path(os.devnull).is_char_device()


def cut_short(body, *arguments):
    """Run Python in a process whose files can have 100 kB only, as on a disk that is nearly full."""
    done = subprocess.run(
        [sys.executable, "-c", f"import sys\nfrom pathlib import Path\n{body}", *map(str, arguments)],
        capture_output=True,
        text=True,
        check=False,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, 100_000)),
    )
    return done.returncode, done.stdout, done.stderr


def test_a_disk_that_fills_while_a_file_is_written_leaves_what_was_there(tmp_path):
    path = tmp_path / "out.csv"
    path.write_bytes(b"before")
    body = "from printlore.files import write_file\nwrite_file(Path(sys.argv[1]), bytes(300_000))"
    assert "File too large. Make room on that disk" in cut_short(body, path)[2]
    body = "from printlore.files import append_to_file\nappend_to_file(Path(sys.argv[1]), bytes(300_000))"
    assert "File too large. Make room on that disk" in cut_short(body, path)[2]
    assert path.read_bytes() == b"before"
    assert [one.name for one in tmp_path.iterdir()] == ["out.csv"]
    append_to_file(path, b" and after")
    assert path.read_bytes() == b"before and after"


KILLED = """
import os
from printlore import files
real = os.fsync
os.fsync = lambda handle: os.kill(os.getpid(), 9)
files.write_file(Path(sys.argv[1]), bytes(50_000))
"""


def test_a_kill_in_the_middle_leaves_what_was_there(tmp_path):
    path = tmp_path / "card.pdf"
    path.write_bytes(b"before")
    assert cut_short(KILLED, path)[0] == -9
    assert path.read_bytes() == b"before"


def made_long_ago(path):
    yesterday = time.time() - files.LEFT - 60
    os.utime(path, (yesterday, yesterday))


def test_what_a_kill_left_is_cleared_by_a_later_write_but_never_what_is_being_written(tmp_path):
    path = tmp_path / "card.pdf"
    assert cut_short(KILLED, path)[0] == -9
    assert cut_short(KILLED, path)[0] == -9
    old, new = sorted(tmp_path.glob(".partial-*"))
    made_long_ago(old)
    (tmp_path / f"{old.name}-wal").write_bytes(b"of a copied database")
    made_long_ago(tmp_path / f"{old.name}-wal")
    mine = [tmp_path / ".partial-notes", tmp_path / "old.pdf", tmp_path / ".partial-0123456789abcdef0"]
    for one in mine:
        one.write_bytes(b"mine")
        made_long_ago(one)
    (tmp_path / ".partial-00112233445566aa").mkdir()
    with beside(path) as place:
        place.write_bytes(b"slowly")
        write_file(tmp_path / "other.pdf", b"quickly")
        assert place.exists()
    assert path.read_bytes() == b"slowly"
    left = {new.name, ".partial-00112233445566aa", "card.pdf", "other.pdf", *(one.name for one in mine)}
    assert {one.name for one in tmp_path.iterdir()} == left


def test_no_other_module_writes_files_of_its_own():
    """Scans and prompts have reasons of their own; all else goes through here."""
    source = Path(files.__file__).parent
    own = {"files.py", "records/scans.py", "devices/sound.py", "devices/scans.py"}
    found = {
        str(path.relative_to(source))
        for path in source.rglob("*.py")
        if any(call in path.read_text(encoding="utf-8") for call in (".write_bytes(", ".write_text(", "os.replace("))
    }
    assert found <= own
