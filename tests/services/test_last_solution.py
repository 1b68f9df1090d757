"""A long record's solution is a place to begin from: quick if it fits, harmless if it does not."""

import json
import os

import numpy as np
import pytest
from bench.long_record import write_record

from printlore import Exposed, FilterPack, Setting, Studio
from printlore.core.memory.solve import solve
from printlore.records.database import Database
from printlore.services import last_solution
from printlore.services.backup import back_up
from printlore.services.memory import current_memory

TRIALS = 120


@pytest.fixture(autouse=True)
def long_enough(monkeypatch):
    monkeypatch.setattr(last_solution, "WORTH", TRIALS)


@pytest.fixture
def folder(tmp_path):
    """A studio whose memory was solved once."""
    with Database.open(tmp_path / "studio") as db:
        write_record(db, TRIALS)
        current_memory(db)
    return tmp_path / "studio"


def apart(one, two):
    """How far two memories lie apart in anything that a print sees [log10]."""
    pairs = [(one.state.frames, two.state.frames), (one.state.blocks, two.state.blocks)]
    return max(float(np.abs(a - b).max(initial=0.0)) for a, b in pairs)


def test_the_next_start_has_next_to_nothing_left_to_do(folder):
    with Database.open(folder) as db:
        memory = current_memory(db)
        assert memory.steps <= 4
        cold = solve(memory.evidence)
    assert cold.steps > 2 * memory.steps
    assert apart(memory, cold) < 1e-5


def test_a_record_that_has_changed_meanwhile_is_solved_as_it_is_now(folder):
    kept = (folder / last_solution.FILE_NAME).read_bytes()
    with Database.open(folder) as db:
        studio = Studio(db)
        studio.add_film("another film")
        studio.add_frame("new", film="another film")
        patch = Exposed(setting=Setting(pack=FilterPack(magenta=40, yellow=55), time=9), density=(0.9, 0.6, 0.8))
        studio.log("new", patch)
    (folder / last_solution.FILE_NAME).write_bytes(kept)
    with Database.open(folder) as db:
        memory = current_memory(db)
        assert len(memory.evidence.trials) == TRIALS + 1
        assert apart(memory, solve(memory.evidence)) < 1e-5


def with_changes(kept, *changes):
    """The document with values at paths replaced."""
    document = json.loads(kept)
    for *path, last, value in changes:
        place = document
        for step in path:
            place = place[step]
        place[last] = value
    return json.dumps(document)


def damaged(kept):
    rows = json.loads(kept)["trials"]["sizes"][0]
    yield "cut short", kept[: len(kept) // 2]
    yield "nothing", ""
    yield "another thing", "[1, 2]"
    yield "nested without end", "[" * 100_000
    yield "another form", with_changes(kept, ("form", 0))
    yield "not a number", with_changes(kept, ("frames", "values", 0, float("nan")))
    yield "far away", with_changes(kept, ("frames", "values", 0, 1e300))
    yield "more than any number", with_changes(kept, ("frames", "sizes", 0, 10**21))
    yield "sizes that cannot be", with_changes(kept, ("frames", "sizes", 0, -3), ("frames", "sizes", 1, 9))
    yield "two layers", with_changes(kept, ("blocks", "sizes", 0, 2), ("blocks", "sizes", 1, 4))
    yield "no trust at all", with_changes(kept, ("trials", "values", 3, 0.0))
    yield "too much trust", with_changes(kept, ("trials", "values", rows - 1, 1.5))
    yield "half a row", with_changes(kept, ("trials", "sizes", 0, rows - 1), ("trials", "sizes", 1, rows + 1))
    yield "a spread that cannot be", with_changes(kept, ("learned", "run", [0.0, -1.0]))
    yield "a spread out of all proportion", with_changes(kept, ("learned", "run", [1e-4, 1e-5]))
    yield "a spread of nothing known", with_changes(kept, ("learned", "what", [0.01, 0.01]))


def test_no_name_of_anything_is_in_it(folder):
    """So nothing that is taken back, or called otherwise, can be read there."""
    text = (folder / last_solution.FILE_NAME).read_text()
    with Database.open(folder) as db, db.reading() as conn:
        for table in ("trials", "frames", "films", "heads", "lots", "baths", "runs"):
            names = conn.exec_driver_sql(f"SELECT name FROM {table}").scalars().all()
            assert [name for name in names if name in text] == [], table
        assert len(json.loads(text)["trials"]["marks"]) == TRIALS


def test_one_written_with_names_is_deleted(folder):
    path = folder / last_solution.FILE_NAME
    path.write_text(with_changes(path.read_text(), ("form", 1), ("frames", "names", ["harbour"])))
    with Database.open(folder, read_only=True) as db:
        assert last_solution.kept_solution(db) is None
    assert path.exists()
    with Database.open(folder) as db:
        assert last_solution.kept_solution(db) is None
    assert not path.exists()


def test_a_damaged_file_is_as_none(folder):
    path = folder / last_solution.FILE_NAME
    kept = path.read_text()
    with Database.open(folder) as db:
        assert last_solution.kept_solution(db) is not None
        for what, text in damaged(kept):
            path.write_text(text)
            assert last_solution.kept_solution(db) is None, what
        memory = current_memory(db)
    assert memory.steps > 3
    assert json.loads(path.read_text())["form"] == 4


def test_a_file_that_leads_astray_is_not_followed_and_is_replaced(folder):
    """Spreads so small that sound prints are doubted: the search from there ends nowhere, and another begins."""
    path = folder / last_solution.FILE_NAME
    document = json.loads(path.read_text())
    for name, (common, colour) in document["learned"].items():
        document["learned"][name] = [common / 6, colour / 6]
    document["general"]["values"] = [9.0 if abs(value) < 0.05 else value for value in document["general"]["values"]]
    path.write_text(json.dumps(document))
    with Database.open(folder) as db:
        assert last_solution.kept_solution(db) is not None
        memory = current_memory(db)
        assert memory.settled
        assert apart(memory, solve(memory.evidence)) < 1e-5
    assert max(map(abs, json.loads(path.read_text())["general"]["values"])) < 2


def test_what_is_no_file_is_not_waited_for_and_nothing_is_written_through_a_link(folder, tmp_path):
    path = folder / last_solution.FILE_NAME
    path.unlink()
    os.mkfifo(path)
    with Database.open(folder) as db:
        assert last_solution.kept_solution(db) is None
    path.unlink()
    outside = tmp_path / "outside"
    outside.write_text("mine")
    path.symlink_to(outside)
    with Database.open(folder) as db:
        current_memory(db)
    assert outside.read_text() == "mine"
    assert not path.is_symlink()
    assert [one.name for one in folder.glob(f"{last_solution.FILE_NAME}*")] == [last_solution.FILE_NAME]


def test_a_start_that_is_far_off_finds_the_same(folder):
    """Numbers that could be, but are not this record's."""
    path = folder / last_solution.FILE_NAME
    document = json.loads(path.read_text())
    rng = np.random.default_rng(1)
    for kind in ("general", "blocks", "frames"):
        values = np.array(document[kind]["values"])
        document[kind]["values"] = (values + 0.1 * rng.standard_normal(len(values))).tolist()
    path.write_text(json.dumps(document))
    with Database.open(folder) as db:
        memory = current_memory(db)
    assert apart(memory, solve(memory.evidence)) < 1e-5


def test_a_studio_that_is_only_read_and_a_backup_get_none(folder, tmp_path):
    (folder / last_solution.FILE_NAME).unlink()
    with Database.open(folder, read_only=True) as db:
        current_memory(db)
        back_up(db, tmp_path / "backup")
    assert not (folder / last_solution.FILE_NAME).exists()
    assert not (tmp_path / "backup" / last_solution.FILE_NAME).exists()


def test_a_short_record_needs_none(tmp_path, monkeypatch):
    monkeypatch.setattr(last_solution, "WORTH", TRIALS + 1)
    with Database.open(tmp_path / "studio") as db:
        write_record(db, TRIALS)
        current_memory(db)
    assert not (tmp_path / "studio" / last_solution.FILE_NAME).exists()
