"""A studio on a disk that can only be read is opened for reading, says so, and refuses what would write in words."""

import json
import os
import shutil
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from printlore.errors import StudioUnavailable
from printlore.faces.web.app import create_app
from printlore.records.database import FILE_NAME, Database
from printlore.services.backup import back_up
from printlore.services.entry import add_film, keep_scan
from printlore.services.export import export_studio

SAYS = "it can be read but not written. Allow writing to the file and its folder, or work on a copy"


@pytest.fixture
def only_read(tmp_path):
    """Makes a folder one that can only be read: takes the rights away or, from root, mounts it so."""
    undo = []

    def protect(folder):
        if os.geteuid() != 0:
            for path in (*folder.rglob("*"), folder):
                path.chmod(path.stat().st_mode & ~0o222)
            undo.append(lambda: [path.chmod(path.stat().st_mode | 0o200) for path in (folder, *folder.rglob("*"))])
            return folder
        for options in (["--bind", folder], ["-o", "remount,bind,ro"]):
            done = subprocess.run(["mount", *options, folder], capture_output=True, text=True, check=False)
            if done.returncode:
                pytest.skip(f"root may write anywhere, and nothing can be mounted here: {done.stderr.strip()}")
            if options[0] == "--bind":
                undo.append(lambda: subprocess.run(["umount", folder], check=True))
        return folder

    if os.geteuid() == 0 and not shutil.which("mount"):
        pytest.skip("root may write anywhere, and this system has no mount")
    yield protect
    for step in undo:
        step()


@pytest.fixture
def full(tmp_path, run):
    """A studio with a negative and a print, and an evening under way."""
    run("add", "film", "film 1")
    run("add", "frame", "harbour", "--film", "film 1")
    run("log", "harbour", "--pack", "60M 50Y", "--time", "8", "--density", "0,80 0,62 0,71")
    run("evening", "open")
    return tmp_path / "studio"


def command(*arguments, studio):
    done = subprocess.run(
        [sys.executable, "-m", "printlore.faces.cli.main", *map(str, arguments), "--studio", str(studio)],
        capture_output=True,
        text=True,
        check=False,
    )
    return done.returncode, done.stdout, done.stderr


def names_in(folder):
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*"))


def test_the_commands_read_it_say_so_and_refuse_to_write(full, only_read, tmp_path):
    studio = only_read(full)
    before = names_in(studio)
    for reading in ("history harbour", "tonight", "advise harbour", "list frames", "evening show", "evening list"):
        status, words, error = command(*reading.split(), studio=studio)
        assert (status, words != "", SAYS in error) == (0, True, True), (reading, error)
    assert "harbour" in command("tonight", studio=studio)[1]
    status, words, error = command("studio", "show", "--json", studio=studio)
    assert (status, error) == (0, "")
    assert SAYS in json.loads(words)["only_read"]
    for writing in (
        ["add", "film", "film 2"],
        ["evening", "close"],
        ["log", "harbour", "--pack", "60M", "--time", "8", "--kept"],
    ):
        status, _, error = command(*writing, studio=studio)
        assert (status, SAYS in error, "What was entered before is safe." in error) == (7, True, True), writing
    error = json.loads(command("add", "film", "film 2", "--json", studio=studio)[2])
    assert (error["name"], SAYS in error["detail"]) == ("studio_unavailable", True)
    assert command("backup", tmp_path / "copy", studio=studio)[0] == 0
    assert command("export", tmp_path / "out.zip", studio=studio)[0] == 0
    assert command("trial", "show", "T1", studio=tmp_path / "copy")[0] == 0
    assert names_in(studio) == before


def test_the_page_shows_it_says_so_and_refuses_to_write(full, only_read):
    studio = only_read(full)
    with TestClient(create_app(studio), base_url="http://localhost", raise_server_exceptions=False) as client:
        pages = ("/", "/negatives", "/negatives/1", "/print/1/log", "/baths", "/baths/of/1", "/paper", "/paper/cut",
                 "/readings", "/studio", "/evening", "/evening/plan", "/notebook", "/taught")  # fmt: skip
        for page in pages:
            answer = client.get(page)
            assert answer.status_code in (200, 202), (page, answer.text)
            assert SAYS in answer.text, page
        assert SAYS in client.get("/api/settings").json()["only_read"]
        assert client.get("/api/advice", params={"frame": "harbour"}).status_code == 200
        assert client.get("/api/export.zip").status_code == 200
        refused = client.post("/negatives/film", data={"film_name": "film 2"})
        assert (refused.status_code, SAYS in refused.text) == (503, True)
        assert client.post("/api/forms/evening", data={}).json()["name"] == "studio_unavailable"


def test_from_python_it_is_read_backed_up_and_not_written(full, only_read, tmp_path):
    with Database.open(full) as db:
        scan = keep_scan(db, b"pixels", media_type="image/tiff")
        assert (db.read_only, db.only_read) == (False, "")
    with Database.open(only_read(full)) as db:
        assert db.read_only
        assert db.scans.get(scan.sha256) == b"pixels"
        with pytest.raises(StudioUnavailable, match=SAYS):
            add_film(db, "film 2")
        with pytest.raises(StudioUnavailable, match="The scan could not be kept"):
            keep_scan(db, b"other pixels", media_type="image/tiff")
        assert back_up(db, tmp_path / "copy").scans_copied == 1
        export_studio(db, tmp_path / "out")


def left_in_the_log(folder):
    """A studio as a machine leaves it whose power fails: the last entry is in the log beside the database only."""
    raw = sqlite3.connect(folder / FILE_NAME)
    raw.execute("PRAGMA wal_autocheckpoint = 0")
    raw.execute("INSERT INTO films (name, stock, note) VALUES ('last of all', '', '')")
    raw.commit()
    copy = folder.with_name("copy")
    shutil.copytree(folder, copy)
    raw.close()
    assert (copy / f"{FILE_NAME}-wal").stat().st_size
    return copy


def test_what_is_only_in_the_log_is_read_or_the_studio_is_refused_in_words_but_never_left_out(full, only_read):
    copy = left_in_the_log(full)
    with_shared = only_read(copy)
    with Database.open(with_shared) as db, db.reading() as conn:
        assert "last of all" in conn.exec_driver_sql("SELECT name FROM films_now").scalars().all()


def test_without_what_belongs_to_the_log_it_is_refused_with_what_to_do(full, only_read):
    copy = left_in_the_log(full)
    (copy / f"{FILE_NAME}-shm").unlink()
    with pytest.raises(StudioUnavailable, match="from a disk that can only be read, copy the studio to one that can"):
        Database.open(only_read(copy))


def test_an_older_studio_is_refused_with_what_to_do(full, only_read):
    raw = sqlite3.connect(full / FILE_NAME)
    raw.execute("UPDATE alembic_version SET version_num = '0001'")
    raw.commit()
    raw.close()
    with pytest.raises(StudioUnavailable, match="Open it once for writing, or a copy of its folder where it can be"):
        Database.open(only_read(full))


def test_no_studio_is_made_where_nothing_can_be_written(only_read, tmp_path):
    (tmp_path / "disk").mkdir()
    status, _, error = command("init", studio=only_read(tmp_path / "disk") / "studio")
    assert status == 7
    assert "Choose a folder that can be written" in error


def test_a_folder_that_can_be_written_is_opened_for_writing(full):
    assert Path(full / FILE_NAME).exists()
    assert command("tonight", studio=full)[2] == ""
