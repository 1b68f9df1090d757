"""The same print again: how many cycles an earlier print takes once something has changed, beside two other ways.

    python -m bench again [--rooms 20] [--processes 2] [--kinds ...]

Each room's line goes to ``bench/out/``; a run that was broken off goes on where it stopped, as the scoreboard does.

In each room eighteen negatives are printed with Printlore on one lot. Then eight of them are asked for again, one
after another, under each change. Every way starts from the same earlier prints; nobody reads a negative.

- *memory*: Printlore goes on from its record.
- *notebook*: the noted setting, by the printed laws of stop and size; what the last print took on top of its note is
  carried over to the next; half of a density difference goes into pack and time, as in ``bench/trade.py``.
- *ideal learner*: told head, stops, papers, these negatives and all laws; it learns the lot, the bath and the lamp's
  walk from its own prints. No printer can know as much.
"""

import argparse
import hashlib
import shutil
import tempfile
from collections.abc import Sequence
from copy import deepcopy
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from bench.calibration import coverage, gather
from bench.drawing import again_plot
from bench.limits import Learned, play_knowing
from bench.policies import Printer
from bench.published import PUBLISHED_KINDS, published_paper
from bench.rooms import MOST_CYCLES, Desk, Job, Tally, is_good
from bench.scoreboard import (
    ALL_KINDS,
    FIRST_SEED,
    OUT,
    RESULTS,
    SEEDS_APART,
    TOLERANCE_OF,
    Played,
    counted,
    version_of,
    worked_out,
)
from bench.tables import mean_and_error, percent, ratio_to, with_error
from bench.trade import GRADIENT, moved
from printlore import Studio
from printroom.paper import draw_paper
from printroom.room import REFERENCE_F_NUMBER, REFERENCE_MAGNIFICATION, Exposure, Outcome

NEGATIVES = 18
EVERY = 2
"""Every second of them is asked for again, but the last: eight, of all films."""
KINDS = ("steady vane", "noisy vane", "coarse", *PUBLISHED_KINDS)
NEXT_EVENING = 2.0
YEARS = 730.0
FAMILIES_APART = 0.12
"""[log10] How much papers of two families differ in a layer's speed, sd (assumed, from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """What is not as it was when an earlier print is asked for again."""

    name: str
    days: float = NEXT_EVENING
    lot: bool = False
    bath: bool = False
    paper: bool = False
    magnification: float | None = None
    f_number: float | None = None

    def asked(self, jobs: Sequence[Job], day: float) -> list[Job]:
        """Earlier jobs as they come again, from a day on."""
        lot = "other lot" if self.lot or self.paper else jobs[-1].lot
        return [
            replace(
                job,
                lot=lot,
                day=day + self.days,
                magnification=self.magnification,
                f_number=self.f_number,
                again=True,
            )
            for job in jobs
        ]

    def made(self, desk: Desk, kind: str) -> None:
        """Change the room."""
        if self.paper:
            beside = {"a": "b", "b": "a"}.get(PUBLISHED_KINDS.get(kind, ""))
            draw = partial(published_paper, beside) if beside else draw_paper
            desk.room, desk.paper = desk.room.on_paper(draw, FAMILIES_APART), "other paper"
        if self.lot or self.paper:
            desk.room.add_lot("other lot")
        if self.bath:
            desk.bath = desk.room.add_bath("other bath")


CHANGES = (
    Change(name="nothing"),
    Change(name="another stop", f_number=5.6),
    Change(name="another size", magnification=12.0),
    Change(name="a new bath", bath=True),
    Change(name="a new lot", lot=True),
    Change(name="two years, lot and bath", days=YEARS, lot=True, bath=True),
    Change(name="another paper", paper=True),
    Change(name="all of it", days=YEARS, lot=True, bath=True, paper=True, magnification=12.0, f_number=5.6),
)


def notebook(desk: Desk, good: dict[str, Outcome], jobs: Sequence[Job], tolerance: str) -> list[Tally]:
    """From the notes of the good prints, by the printed laws; what the last one took on top is carried over."""
    room, tick = desk.room, desk.room.kind.time_step
    carried = np.zeros(3)
    tallies = []
    for job in jobs:
        taken = carried.copy()
        noted = by_law(good[job.frame].logged, job)
        sheets = 0
        done = False
        while sheets < MOST_CYCLES and not done:
            outcome = desk.expose(job, moved(noted, taken.tolist(), tick), f"{job.name} run {sheets}")
            sheets += 1
            done = is_good(room, outcome, tolerance)
            if not done:
                taken = taken + (room.aim_density - outcome.measured) / GRADIENT
        carried = taken
        tallies.append(Tally(0, sheets, done))
    return tallies


def by_law(noted: Exposure, job: Job) -> Exposure:
    """The noted setting at another stop and size: time goes by the f-number squared and (magnification + 1) squared."""
    f_number, size = job.f_number or REFERENCE_F_NUMBER, job.magnification or REFERENCE_MAGNIFICATION
    longer = (f_number / noted.f_number * (size + 1) / (noted.magnification + 1)) ** 2
    return replace(noted, time=noted.time * longer, f_number=f_number, magnification=size)


def work(task: Played) -> dict[str, Any]:
    """A line of one room."""
    return {"key": task.key, "policy": task.policy, "rows": rows_of(task.kind, task.seed)}


def rows_of(
    kind: str, seed: int, changes: Sequence[Change] = CHANGES, negatives: int = NEGATIVES
) -> list[dict[str, Any]]:
    """One room: its first prints, then every change, each way."""
    tolerance = TOLERANCE_OF.get(kind, "edition match")
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        first = Desk.of(kind, seed)
        jobs = list(first.jobs(negatives))
        printer = Printer(first, Studio.open(Path(folder, "before")), tolerance)
        for job in jobs:
            printer.take(job, with_reading=False)
        printer.studio.database.close()
        desk = Desk.of(kind, seed)
        learned = Learned(desk.room)
        play_knowing(desk, learned, desk.jobs(negatives), tolerance, with_reading=False, frames_told=True)
        done = [job for job in jobs[1:-1:EVERY] if job.frame in printer.good]
        for number, change in enumerate(changes):
            again = change.asked(done, jobs[-1].day)
            try:
                ideal = _ideal(learned, _changed(first, change, kind), again, tolerance)
            except ValueError:
                continue  # no pack of this head gives this paper's aim
            place = shutil.copytree(Path(folder, "before"), Path(folder, str(number)))
            going_on = printer.elsewhere(_changed(first, change, kind), Studio.open(place))
            ways = {
                "memory": [going_on.print(job) for job in again],
                "notebook": notebook(_changed(first, change, kind), printer.good, again, tolerance),
                "ideal learner": ideal,
            }
            going_on.studio.database.close()
            for way, tallies in ways.items():
                rows.append({"kind": kind, "seed": seed, "change": change.name, "way": way, **counted(tallies)})
    return rows


def _ideal(learned: Learned, desk: Desk, jobs: Sequence[Job], tolerance: str) -> list[Tally]:
    knowing = deepcopy(learned)
    knowing.law = desk.room.change_prior()
    return play_knowing(desk, knowing, jobs, tolerance, with_reading=False, frames_told=True)


def _changed(desk: Desk, change: Change, kind: str) -> Desk:
    """A copy of the desk after the first prints, with the change made."""
    copied = deepcopy(desk)
    change.made(copied, kind)
    return copied


def table(rows: Sequence[dict[str, Any]]) -> str:
    """Cycles of the first print after the change and of the seven that follow; how true what was stated came."""
    lines = [
        "| room | changed | rooms | first print: memory | notebook | ideal learner | the next seven: memory | notebook "
        "| ideal learner | memory of notebook, all eight | first sheets: stated good | came good | 50 % holds "
        "| 90 % holds |",
        "|" + "---|" * 14,
    ]
    for kind in dict.fromkeys(row["kind"] for row in rows):
        for change in dict.fromkeys(row["change"] for row in rows):
            mine = [row for row in rows if row["kind"] == kind and row["change"] == change]
            cycles = {
                way: np.array([np.add(r["strips"], r["sheets"]) for r in mine if r["way"] == way])
                for way in ("memory", "notebook", "ideal learner")
            }
            sheets = gather([row for row in mine if row["way"] == "memory"])
            sheets = sheets.where((sheets.order == 1) & ~sheets.blunder)
            cells = [kind, change, str(len(cycles["memory"]))]
            cells += [with_error(mean_and_error(of[:, 0])) for of in cycles.values()]
            cells += [with_error(mean_and_error(of[:, 1:].mean(axis=1))) for of in cycles.values()]
            cells.append(with_error(ratio_to(cycles["memory"].mean(axis=1), cycles["notebook"].mean(axis=1))))
            cells += [f"{100 * sheets.probability.mean():.0f} %", f"{100 * sheets.good.mean():.0f} %"]
            cells += [percent(coverage(sheets, share)) for share in (0.5, 0.9)]
            lines.append("| " + " | ".join(cells) + " |")
    return "\n".join(lines) + "\n"


DRAWN = ("nothing", "a new lot", "all of it")


def plot(rows: Sequence[dict[str, Any]]) -> str:
    """Print by print after three of the changes, over all rooms."""
    curves = {
        (change, way): np.mean(
            [np.add(r["strips"], r["sheets"]) for r in rows if r["change"] == change and r["way"] == way], axis=0
        )
        for change in DRAWN
        for way in ("memory", "notebook")
    }
    return again_plot(curves)


def main(arguments: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(prog="python -m bench again", description=__doc__)
    parser.add_argument("--rooms", type=int, default=20, help="of each kind")
    parser.add_argument("--kinds", nargs="+", default=KINDS, choices=ALL_KINDS)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--out", type=Path, default=OUT / "again.jsonl")
    parser.add_argument("--results", type=Path, default=RESULTS)
    asked = parser.parse_args(arguments)
    tasks = [
        Played(kind, FIRST_SEED + number + SEEDS_APART * ALL_KINDS.index(kind), "again")
        for kind in asked.kinds
        for number in range(asked.rooms)
    ]
    own = hashlib.sha256(Path(__file__).read_bytes()).hexdigest()[:12]
    version = f"{version_of('memory')} {version_of('notebook')} {own}"
    lines = worked_out(tasks, asked.out, asked.processes, work, {"again": version})
    rows = [row for line in lines for row in line["rows"]]
    found = table(rows)
    asked.results.mkdir(parents=True, exist_ok=True)
    (asked.results / "again.md").write_text(f"## The same print again\n\n{found}", encoding="utf-8")
    (asked.results / "again.svg").write_text(plot(rows), encoding="utf-8")
    print(found)


if __name__ == "__main__":
    main()
