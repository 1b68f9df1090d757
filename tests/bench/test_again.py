"""The same print again, under changes, each way."""

import numpy as np
import pytest
from bench.again import CHANGES, Change, by_law, notebook, plot, rows_of, table
from bench.rooms import Desk

from printroom.room import Exposure


def test_the_printed_laws_of_stop_and_size():
    """A thin lens at magnification m stands f (m + 1) from the paper: light there goes by 1 / (N^2 (m + 1)^2)."""
    job = next(Desk.of("steady vane", 3).jobs(1))
    (asked,) = Change(name="both", f_number=5.6, magnification=12.0).asked([job], 0.0)
    noted = Exposure(magenta=50, yellow=60, time=10.0, f_number=8.0, magnification=8.0)
    assert by_law(noted, asked).time == pytest.approx(10.0 * (5.6 / 8) ** 2 * (13 / 9) ** 2)
    assert by_law(noted, job) == noted


def test_the_notebook_carries_what_a_new_lot_took():
    """Where nothing is noisy but the lot, what the first print took brings the others near at once."""
    desk = Desk.of("ideal", 3)
    jobs = list(desk.jobs(6))
    good = {
        job.frame: desk.expose(job, desk.room.right_setting(job.frame, desk.conditions(job)), job.frame) for job in jobs
    }
    desk.room = desk.room.on_paper(lambda *_: desk.room.paper, 0.12)
    desk.room.add_lot("other lot")
    asked = Change(name="a lot far off", lot=True).asked(jobs, 0.0)
    sheets = [tally.sheets for tally in notebook(desk, good, asked, "edition match")]
    assert sheets[0] > max(sheets[1:])


def test_a_room_is_played_each_way_and_told_in_a_table(monkeypatch):
    by_name = {change.name: change for change in CHANGES}
    rows = rows_of("steady vane", 5, [by_name["nothing"], by_name["all of it"]], negatives=6)
    assert {(row["change"], row["way"]) for row in rows} == {
        (change, way) for change in ("nothing", "all of it") for way in ("memory", "notebook", "ideal learner")
    }
    assert all(row["good"] == [1, 1] for row in rows)
    unchanged = [np.add(r["strips"], r["sheets"]).sum() for r in rows if r["change"] == "nothing"]
    assert max(unchanged[0], unchanged[2]) <= 4
    lines = table([{**row, "seed": seed} for row in rows for seed in (1, 2)]).splitlines()
    assert len(lines) == 4
    monkeypatch.setattr("bench.again.DRAWN", ("nothing", "all of it"))
    assert plot(rows).count("<polyline") == 4
    assert lines[3].startswith("| steady vane | all of it | ")
