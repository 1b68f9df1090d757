"""Opening, upgrading, sharing and losing a studio: every trouble is said in words and nothing entered is lost."""

import sqlite3
import subprocess
import sys
import threading

import pytest
import sqlalchemy as sa

from printlore.errors import Refused, StudioUnavailable
from printlore.records import database as database_module
from printlore.records.database import FILE_NAME, Database, check_sound, schema_version
from printlore.records.editions import Edition, NumberedPrint
from printlore.records.migrations.missing import missing
from printlore.records.migrations.upgrade import scripts, upgrade
from printlore.records.negatives import Film, Frame
from printlore.records.rows import add, every, find


def films(database):
    with database.reading() as conn:
        return [film.name for film in every(conn, Film)]


def put_film(database, name, note=""):
    with database.transaction() as conn:
        return add(conn, Film(name=name, note=note))


def test_what_is_written_is_there_when_opened_again(tmp_path):
    with Database.open(tmp_path) as database:
        put_film(database, "Holiday")
    with Database.open(tmp_path, create=False) as database:
        assert films(database) == ["Holiday"]


def test_the_file_is_kept_as_promised(studio):
    with studio.reading() as conn:
        assert conn.exec_driver_sql("PRAGMA journal_mode").scalar() == "wal"
        assert conn.exec_driver_sql("PRAGMA foreign_keys").scalar() == 1
        assert conn.exec_driver_sql("PRAGMA synchronous").scalar() == 2
        assert conn.exec_driver_sql("PRAGMA busy_timeout").scalar() > 0


def test_migrations_make_exactly_the_declared_tables():
    """If this fails, a migration is missing: ``python -m printlore.records.migrations.missing`` prints its SQL."""
    assert missing() == ({}, {})


def test_migrations_are_one_chain_in_the_order_of_their_numbers():
    revisions = [script.revision for script in scripts().walk_revisions()][::-1]
    assert revisions == sorted(revisions)
    assert revisions[0] == "0001"
    assert revisions[-1] == schema_version()
    assert [script.down_revision for script in scripts().walk_revisions()][::-1] == [None, *revisions[:-1]]


def make_old(path, revision="0001"):
    path.parent.mkdir(parents=True, exist_ok=True)
    engine = sa.create_engine(f"sqlite:///{path}")
    with engine.connect() as conn:
        upgrade(conn, revision)
    with engine.begin() as conn:
        conn.exec_driver_sql("INSERT INTO films (name, note) VALUES ('Holiday', 'old')")
    engine.dispose()


@pytest.fixture
def newer_program(monkeypatch, tmp_path_factory):
    """This program with one more migration than it has."""
    folder = tmp_path_factory.mktemp("migrations")
    (folder / "versions").mkdir()
    last = schema_version()
    for path in database_module._VERSIONS.glob("[0-9]*.py"):
        (folder / "versions" / path.name).write_text(path.read_text())
    revision = f"{int(last) + 1:04}"
    step = f'from alembic import op\nrevision = "{revision}"\ndown_revision = "{last}"\ndef upgrade():\n'
    path = folder / "versions" / f"{revision}_more.py"

    def install(body):
        path.write_text(step + "".join(f"    op.execute({line!r})\n" for line in body))
        (folder / "script.py.mako").write_text("")
        monkeypatch.setattr(database_module, "_VERSIONS", folder / "versions")
        monkeypatch.setattr("printlore.records.migrations.upgrade.FOLDER", folder)
        return revision

    return install


def test_an_older_studio_is_brought_up_to_date_after_a_backup(tmp_path):
    make_old(tmp_path / FILE_NAME)
    with Database.open(tmp_path) as database:
        with database.reading() as conn:
            assert find(conn, Film, "Holiday").note == "old"
            version = conn.exec_driver_sql("SELECT version_num FROM alembic_version").scalar_one()
            assert conn.exec_driver_sql("SELECT max(id) FROM films").scalar() == 1
        assert version == schema_version()
        put_film(database, "Garden")
    if schema_version() != "0001":
        (backup,) = (tmp_path / "backups").glob("before-*.sqlite")
        old = sqlite3.connect(backup)
        assert old.execute("SELECT version_num FROM alembic_version").fetchone() == ("0001",)
        assert old.execute("SELECT name FROM films").fetchall() == [("Holiday",)]
        old.close()


def test_a_studio_from_before_editions_can_promise_one(tmp_path):
    make_old(tmp_path / FILE_NAME, "0009")
    with Database.open(tmp_path) as database:
        with database.transaction() as conn:
            add(conn, Frame(name="low tide", film="Holiday"))
            add(conn, Edition(name="Low tide", frame="low tide", prints=5))
            add(conn, NumberedPrint(name="34AC-E9H", edition="Low tide", number=1))
        with pytest.raises(Refused, match=r"UNIQUE constraint failed: .*number"), database.transaction() as conn:
            add(conn, NumberedPrint(name="34AC-EKW", edition="Low tide", number=1))
        with database.reading() as conn:
            assert [one.name for one in every(conn, NumberedPrint)] == ["34AC-E9H"]


KILLED = """
import os, sys
from printlore.records.database import Database
os.fsync = lambda handle: os.kill(os.getpid(), 9)
Database.open(sys.argv[1])
"""


def test_a_copy_that_a_kill_cut_short_does_not_pass_for_one(tmp_path):
    make_old(tmp_path / FILE_NAME)
    assert subprocess.run([sys.executable, "-c", KILLED, tmp_path], check=False).returncode == -9
    assert list((tmp_path / "backups").glob("before-*")) == []
    with Database.open(tmp_path) as database:
        assert films(database) == ["Holiday"]
    (backup,) = (tmp_path / "backups").glob("before-*")
    check_sound(backup)


def test_a_studio_of_today_is_opened_by_the_next_version(tmp_path, newer_program):
    with Database.open(tmp_path) as database:
        put_film(database, "Holiday")
    revision = newer_program(["ALTER TABLE films ADD COLUMN speed REAL", "CREATE TABLE more (id INTEGER PRIMARY KEY)"])
    with Database.open(tmp_path) as database, database.reading() as conn:
        assert conn.exec_driver_sql("SELECT version_num FROM alembic_version").scalar() == revision
        assert conn.exec_driver_sql("SELECT name, speed FROM films_now").all() == [("Holiday", None)]
    assert len(list((tmp_path / "backups").glob(f"before-{revision}-*.sqlite"))) == 1


def test_an_upgrade_that_fails_changes_nothing_and_says_where_the_copy_is(tmp_path, newer_program):
    with Database.open(tmp_path) as database:
        put_film(database, "Holiday")
    newer_program(["CREATE TABLE more (id INTEGER PRIMARY KEY)", "ALTER TABLE nowhere ADD COLUMN x"])
    with pytest.raises(StudioUnavailable, match=r"could not be brought up to date \(no such table: nowhere\).*a copy"):
        Database.open(tmp_path)
    raw = sqlite3.connect(tmp_path / FILE_NAME)
    assert raw.execute("SELECT count(*) FROM sqlite_master WHERE name = 'more'").fetchone() == (0,)
    assert raw.execute("SELECT name FROM films").fetchall() == [("Holiday",)]
    raw.close()


def test_an_older_studio_open_for_reading_only_is_left_alone(tmp_path, newer_program):
    Database.open(tmp_path).close()
    newer_program(["CREATE TABLE more (id INTEGER PRIMARY KEY)"])
    with pytest.raises(StudioUnavailable, match=r"is of an older version .* Open it once for writing"):
        Database.open(tmp_path, read_only=True)
    assert not (tmp_path / "backups").exists()


def test_a_studio_of_a_newer_version_is_refused_in_words(tmp_path):
    Database.open(tmp_path).close()
    raw = sqlite3.connect(tmp_path / FILE_NAME)
    raw.execute("UPDATE alembic_version SET version_num = '9999'")
    raw.commit()
    raw.close()
    before = (tmp_path / FILE_NAME).read_bytes()
    with pytest.raises(StudioUnavailable, match=r"written by a newer version .*revision 9999.* Bring this program up"):
        Database.open(tmp_path)
    assert (tmp_path / FILE_NAME).read_bytes() == before


def test_a_database_of_something_else_is_not_touched(tmp_path):
    raw = sqlite3.connect(tmp_path / FILE_NAME)
    raw.execute("CREATE TABLE recipes (id)")
    raw.commit()
    raw.close()
    with pytest.raises(StudioUnavailable, match=r"is a database, but not one of a studio. Choose another folder"):
        Database.open(tmp_path)


def test_no_studio_where_none_may_be_made(tmp_path):
    for how in ({"create": False}, {"read_only": True}):
        with pytest.raises(
            StudioUnavailable, match=r"There is no studio in .* Check the folder, or make a studio there"
        ):
            Database.open(tmp_path / "nothing", **how)
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(StudioUnavailable, match=r"No studio can be made in .*: .* Choose a folder that can be written"):
        Database.open(tmp_path / "file" / "studio")


def test_a_read_only_studio_can_be_read_and_says_why_it_cannot_be_written(tmp_path):
    with Database.open(tmp_path) as database:
        put_film(database, "Holiday")
    with Database.open(tmp_path, read_only=True) as database:
        assert films(database) == ["Holiday"]
        with pytest.raises(
            StudioUnavailable, match=r"can be read but not written. Allow writing .* entered before is safe"
        ):
            put_film(database, "Garden")
        assert films(database) == ["Holiday"]


@pytest.mark.parametrize("another", [False, True])
def test_a_studio_that_is_moved_while_it_is_open_is_not_written_in_two_places(tmp_path, another):
    words = r"was moved away, or another put in its place, while it was open. Stop this program and start it again"
    with Database.open(tmp_path / "here") as database:
        put_film(database, "Holiday")
        (tmp_path / "here").rename(tmp_path / "there")
        if another:
            Database.open(tmp_path / "here").close()
        with pytest.raises(StudioUnavailable, match=words):
            put_film(database, "Garden")
        with pytest.raises(StudioUnavailable, match=words):
            films(database)
        with pytest.raises(StudioUnavailable, match=words):
            database.copy_to(tmp_path / "copy.sqlite")
        assert (tmp_path / "here").exists() == another
    with Database.open(tmp_path / "there", create=False) as database:
        assert films(database) == ["Holiday"]


def test_a_full_disk_loses_nothing_that_was_entered(studio):
    with studio.reading() as conn:
        pages = conn.exec_driver_sql("PRAGMA page_count").scalar_one()
        conn.exec_driver_sql(f"PRAGMA max_page_count = {pages + 8}")
    written = []

    def write_on():
        for number in range(1000):
            put_film(studio, f"Film {number}", note="x" * 2000)
            written.append(f"Film {number}")

    with pytest.raises(StudioUnavailable, match=r"is full. Make room and enter the last step again.* before is safe"):
        write_on()
    assert 0 < len(written) < 1000
    assert films(studio) == written
    with studio.reading() as conn:
        conn.exec_driver_sql("PRAGMA max_page_count = 1000000")
    put_film(studio, "after")
    studio.close()
    check_sound(studio.folder / FILE_NAME)


def test_another_writer_that_holds_on_too_long_is_named(studio, monkeypatch):
    monkeypatch.setattr(database_module, "PATIENCE", 0.05)
    raw = sqlite3.connect(studio.folder / FILE_NAME, isolation_level=None)
    raw.execute("BEGIN IMMEDIATE")
    with Database.open(studio.folder) as second:
        with pytest.raises(StudioUnavailable, match=r"another program has been writing to it for too long"):
            put_film(second, "Holiday")
        assert films(second) == []
        raw.execute("ROLLBACK")
        put_film(second, "Holiday")
    raw.close()


def test_a_damaged_file_is_said_to_be_damaged(tmp_path):
    with Database.open(tmp_path) as database:
        for number in range(200):
            put_film(database, f"Film {number}", note="x" * 500)
    path = tmp_path / FILE_NAME
    content = bytearray(path.read_bytes())
    content[4096 * 3 :] = b"\xff" * (len(content) - 4096 * 3)
    path.write_bytes(content)
    words = r"is damaged. Do not write to it; restore the newest backup"
    with pytest.raises(StudioUnavailable, match=words), Database.open(tmp_path) as database:
        films(database)
    with pytest.raises(StudioUnavailable, match=r"is not a sound database"):
        check_sound(path)


def test_a_file_that_is_no_database_is_said_to_be_none(tmp_path):
    (tmp_path / FILE_NAME).write_bytes(b"not a database at all, but long enough to be looked at\n" * 20)
    with pytest.raises(StudioUnavailable, match=r"is not a database. Restore the newest backup, or choose another"):
        Database.open(tmp_path)


def test_an_empty_file_left_by_a_crash_becomes_a_studio(tmp_path):
    (tmp_path / FILE_NAME).touch()
    with Database.open(tmp_path) as database:
        put_film(database, "Holiday")


@pytest.mark.parametrize("where", ["memory", "disk"])
def test_a_transaction_is_all_or_nothing(where, db, studio):
    database = db if where == "memory" else studio

    def fail():
        with database.transaction() as conn:
            add(conn, Film(name="Holiday"))
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail()
    assert films(database) == []


@pytest.mark.parametrize("where", ["memory", "disk"])
def test_a_part_of_a_transaction_can_fail_by_itself(where, db, studio):
    database = db if where == "memory" else studio

    def fail():
        with database.transaction() as inner:
            add(inner, Film(name="Garden"))
            raise ZeroDivisionError

    with database.transaction() as conn:
        add(conn, Film(name="Holiday"))
        with pytest.raises(ZeroDivisionError):
            fail()
        with database.transaction() as inner:
            add(inner, Film(name="Harbour"))
        assert films(database) == ["Holiday", "Harbour"]
    assert films(database) == ["Holiday", "Harbour"]


@pytest.mark.parametrize("where", ["memory", "disk"])
def test_two_writers_at_once_lose_nothing(where, db, studio):
    database = db if where == "memory" else studio
    other = database if where == "memory" else Database.open(studio.folder)
    errors = []

    def write(own, who):
        try:
            for number in range(40):
                put_film(own, f"{who} {number}")
        except Exception as error:
            errors.append(error)

    threads = [threading.Thread(target=write, args=(own, who)) for own, who in ((database, "a"), (other, "b"))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    if other is not database:
        other.close()
    assert errors == []
    assert sorted(films(database)) == sorted(f"{who} {number}" for who in "ab" for number in range(40))


def test_a_reader_sees_one_state_while_another_writes(studio):
    put_film(studio, "Holiday")
    with studio.reading() as conn:
        assert len(every(conn, Film)) == 1
        writer = threading.Thread(target=put_film, args=(studio, "Garden"))
        writer.start()
        writer.join()
        assert len(every(conn, Film)) == 1
    assert films(studio) == ["Holiday", "Garden"]


@pytest.mark.parametrize("where", ["memory", "disk"])
def test_reading_and_writing_may_stand_inside_each_other(where, db, studio):
    database = db if where == "memory" else studio
    with database.reading():
        assert films(database) == []
        put_film(database, "Holiday")
        with database.transaction():
            put_film(database, "Garden")
            assert films(database) == ["Holiday", "Garden"]
    assert films(database) == ["Holiday", "Garden"]


def test_a_folder_may_have_any_name(tmp_path):
    folder = tmp_path / "d\u00e9j\u00e0 vu #1?mode=ro%20&x"
    with Database.open(folder) as database:
        put_film(database, "Holiday")
    with Database.open(folder, read_only=True) as database:
        assert films(database) == ["Holiday"]
    assert (folder / FILE_NAME).exists()


def test_a_rule_that_is_broken_at_the_end_undoes_the_whole_block(studio):

    def fail():
        with studio.transaction() as conn:
            add(conn, Film(name="Holiday"))
            conn.exec_driver_sql("INSERT INTO lots (name, family_id) VALUES ('lot', 7)")

    with pytest.raises(Refused):
        fail()
    assert films(studio) == []


def test_a_studio_that_another_process_makes_at_the_same_time_is_opened(tmp_path):
    body = "import sys\nfrom printlore.records.database import Database\nDatabase.open(sys.argv[1]).close()"
    call = [sys.executable, "-c", body, str(tmp_path / "studio")]
    together = [subprocess.Popen(call, stderr=subprocess.PIPE, text=True) for _ in range(4)]
    assert [(one.communicate()[1], one.returncode) for one in together] == [("", 0)] * 4
