"""A long record's solution is a place to begin from: quick if it fits, harmless if it does not."""

import json

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
        assert memory.steps <= 3
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


def damaged(kept):
    document = json.loads(kept)
    yield "cut short", kept[: len(kept) // 2]
    yield "nothing", ""
    yield "another thing", "[1, 2]"
    yield "nested without end", "[" * 100_000
    yield "not a number", kept.replace('"values":[', '"values":[NaN,', 1)
    for kind, value in (("far away", 1e300), ("no trust at all", 0.0)):
        other = json.loads(kept)
        other["trials"]["values"] = [value] * len(document["trials"]["values"])
        yield kind, json.dumps(other)
    other = json.loads(kept)
    other["frames"]["sizes"][0] = -3
    yield "a size that cannot be", json.dumps(other)
    other = json.loads(kept)
    other["learned"]["run"] = [0.0, -1.0]
    yield "a spread that cannot be", json.dumps(other)


def test_a_damaged_file_is_as_none(folder):
    path = folder / last_solution.FILE_NAME
    with Database.open(folder) as db:
        for what, text in damaged(path.read_text()):
            path.write_text(text)
            assert last_solution.kept_solution(db) is None, what
        memory = current_memory(db)
    assert memory.steps > 3
    assert json.loads(path.read_text())["form"] == 1


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
