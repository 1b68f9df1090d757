"""Measuring that begins later: what a record of another kind is worth to one who measures from now on.

    python -m bench later [--rooms 6] [--processes 2] [--kinds ...]

Each room's line goes to ``bench/out/``; a run that was broken off goes on where it stopped, as the scoreboard does.

In each room twenty negatives are printed before, another twenty after; these are measured, read before they are
printed or not. What the studio holds of those before is

- *nothing*: it begins anew,
- *measured*: they were measured, and read as the later ones are,
- *by eye*: strips and sheets of all were judged,
- *notes*: of fifteen the setting that was right stands in a notebook, and nothing else,
- *unread*: they were measured, but not read; only the later ones are.
"""

import argparse
import hashlib
import shutil
import tempfile
from collections.abc import Sequence
from copy import deepcopy
from pathlib import Path
from typing import Any

import numpy as np

from bench.calibration import coverage, gather
from bench.policies import Printer
from bench.rooms import Desk, Job
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
from bench.tables import mean_and_error, percent, with_error
from printlore import Studio
from printlore.services.notebook import PageDefaults, enter_notebook

BEFORE, AFTER, NOTED = 20, 20, 15
KINDS = ("steady vane", "coarse")
HELD = ("nothing", "measured", "by eye", "notes", "unread")


def work(task: Played) -> dict[str, Any]:
    """A line of one room."""
    return {"key": task.key, "policy": task.policy, "rows": rows_of(task.kind, task.seed)}


def rows_of(kind: str, seed: int, before: int = BEFORE, after: int = AFTER) -> list[dict[str, Any]]:
    """One room: each record of the negatives before, and what the later ones took with it, unread and read."""
    tolerance = TOLERANCE_OF.get(kind, "edition match")
    desk = Desk.of(kind, seed)
    jobs = list(desk.jobs(before + after))
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        printers = {}
        for held, reading in (("by eye", False), ("measured", False), ("measured", True)):
            own = Printer(
                deepcopy(desk), Studio.open(Path(folder, f"{held} {reading}")), tolerance, by_eye=held == "by eye"
            )
            for job in jobs[:before]:
                own.take(job, reading)
            own.studio.database.close()
            own.by_eye = False
            printers[held, reading] = own
        began = printers["measured", False]
        for reading in (False, True):
            for held in HELD if reading else HELD[:-1]:
                if held in ("nothing", "notes"):
                    printer = Printer(deepcopy(began.desk), Studio.in_memory(), tolerance)
                    if held == "notes":
                        note(printer, [job for job in jobs[: min(before, NOTED)] if job.frame in began.good], began)
                else:
                    of = {"measured": ("measured", reading), "by eye": ("by eye", False)}.get(held, ("measured", False))
                    place = shutil.copytree(Path(folder, f"{of[0]} {of[1]}"), Path(folder, f"{held} then {reading}"))
                    printer = printers[of].elsewhere(deepcopy(printers[of].desk), Studio.open(place))
                tallies = [printer.take(job, reading) for job in jobs[before:]]
                printer.studio.database.close()
                rows.append({"kind": kind, "seed": seed, "reading": reading, "held": held, **counted(tallies)})
    return rows


def note(printer: Printer, jobs: Sequence[Job], made: Printer) -> None:
    """Enter a notebook page of what these negatives were printed at when they were right."""
    lines = ["negative;film;lot;cyan;magenta;yellow;time;f;magnification;date"]
    for job in jobs:
        printer.declare(job)
        at = made.good[job.frame].logged
        day = np.datetime64("2000-01-01") + int(job.day)
        lines.append(
            f"{job.frame};{job.film};{job.lot};{at.cyan:.1f};{at.magenta:.1f};{at.yellow:.1f};{at.time:.2f} s;"
            f"f/{at.f_number:g};{at.magnification:g};{day}"
        )
    defaults = PageDefaults(head="head", paper=printer.desk.paper, bath="baths of old notes")
    page = enter_notebook(printer.studio.database, "\n".join(lines), defaults)
    assert page.entered == len(jobs), page.not_entered


def table(rows: Sequence[dict[str, Any]]) -> str:
    """Cycles of the first negatives after the change and of the rest; how true what was stated came."""
    lines = [
        "| room | read | held of those before | rooms | cycles, first three | first ten | later "
        "| 50 % holds | 90 % holds | stated good | came good |",
        "|" + "---|" * 11,
    ]
    for kind in dict.fromkeys(row["kind"] for row in rows):
        for reading in (False, True):
            for held in HELD:
                mine = [r for r in rows if (r["kind"], r["reading"], r["held"]) == (kind, reading, held)]
                if not mine:
                    continue
                cycles = np.array([np.add(row["strips"], row["sheets"]) for row in mine])
                parts = (cycles[:, :3], cycles[:, :10], cycles[:, 10:])
                sheets = gather(mine)
                sheets = sheets.where(~sheets.blunder)
                cells = [kind, "yes" if reading else "no", held, str(len(mine))]
                cells += [with_error(mean_and_error(part.mean(axis=1))) if part.size else "–" for part in parts]
                cells += [percent(coverage(sheets, share)) for share in (0.5, 0.9)]
                cells += [f"{100 * sheets.probability.mean():.0f} %", f"{100 * sheets.good.mean():.0f} %"]
                lines.append("| " + " | ".join(cells) + " |")
    return "\n".join(lines) + "\n"


def main(arguments: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(prog="python -m bench later", description=__doc__)
    parser.add_argument("--rooms", type=int, default=6, help="of each kind")
    parser.add_argument("--kinds", nargs="+", default=KINDS, choices=ALL_KINDS)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--out", type=Path, default=OUT / "later.jsonl")
    parser.add_argument("--results", type=Path, default=RESULTS)
    asked = parser.parse_args(arguments)
    tasks = [
        Played(kind, FIRST_SEED + number + SEEDS_APART * ALL_KINDS.index(kind), "later")
        for number in range(asked.rooms)
        for kind in asked.kinds
    ]
    own = hashlib.sha256(Path(__file__).read_bytes()).hexdigest()[:12]
    lines = worked_out(tasks, asked.out, asked.processes, work, {"later": f"{version_of('memory')} {own}"})
    found = table([row for line in lines for row in line["rows"]])
    asked.results.mkdir(parents=True, exist_ok=True)
    (asked.results / "later.md").write_text(f"## Measuring that begins later\n\n{found}", encoding="utf-8")
    print(found)


if __name__ == "__main__":
    main()
