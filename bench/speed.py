"""Speed and memory with a long record: cold solution, from the last one as kept in the studio's folder (shorter records
are not kept), one trial more, advice; and how they grow.

    python -m bench speed [--trials 100000] [--growth 1000 3000 10000 30000 100000]

The record is invented (bench/invented.py): negatives of a busy studio, each printed until it is right.
Each size is measured in a process of its own, so that its peak memory is its own. Linear algebra is held to
one thread: the matrices are small, and threads that wait for each other on a busy machine made it 24 times slower.
"""

import argparse
import json
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

RESULTS = Path(__file__).parent / "results"
REPEATS = 7
_START = "import sys; from printlore.faces.cli.main import main; sys.exit(main())"


def measure(trials: int) -> dict[str, Any]:
    """Times [s] and peak memory [MiB] at this size; what is timed includes turning evidence into arrays."""
    from dataclasses import replace

    from bench.invented import invented_evidence
    from printlore.core.advice.advise import advise
    from printlore.core.advice.tolerance import Tolerance
    from printlore.core.memory.forecast import Conditions
    from printlore.core.memory.solve import solve
    from printlore.core.memory.update import update
    from printlore.core.paper.dyes import generic_paper
    from printlore.records.database import Database
    from printlore.services.last_solution import keep_solution, kept_solution

    whole = invented_evidence(trials)
    before = _peak()
    later = whole.trials[-REPEATS:]
    held = replace(whole, trials=whole.trials[:-REPEATS])
    began = time.perf_counter()
    memory = solve(held)
    cold = time.perf_counter() - began
    with tempfile.TemporaryDirectory() as folder, Database.open(folder) as db:
        keep_solution(db, memory)
        began = time.perf_counter()
        memory = solve(held, start=kept_solution(db))
        next_start = time.perf_counter() - began
    again, advice = [], []
    for trial in later:
        held = replace(held, trials=(*held.trials, trial))
        began = time.perf_counter()
        memory = update(memory, held)
        again.append(time.perf_counter() - began)
        at = Conditions(
            frame=trial.frame,
            head="head",
            lot=trial.lot,
            bath=trial.bath,
            date=trial.date,
            bath_state=trial.bath_state,
        )
        began = time.perf_counter()
        advise(memory, at, dyes=generic_paper("a"), tolerance=Tolerance(name="match", delta_e=3.0), magnification=8.0)
        advice.append(time.perf_counter() - began)
    return {
        "trials": trials,
        "frames": len(whole.frames),
        "cold": cold,
        "next_start": next_start,
        "one_more": statistics.median(again),
        "one_more_worst": max(again),
        "advice": statistics.median(advice),
        "advice_worst": max(advice),
        "evidence_mib": before,
        "peak_mib": _peak(),
    }


def _peak() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def command_line_start(repeats: int = 5) -> float:
    """Median time of ``printlore --help`` [s], the interpreter's own start included."""
    spent = []
    for _ in range(repeats):
        began = time.perf_counter()
        subprocess.run([sys.executable, "-c", _START, "--help"], check=True, stdout=subprocess.DEVNULL)
        spent.append(time.perf_counter() - began)
    return statistics.median(spent)


def page_times(repeats: int = 5) -> dict[str, float]:
    """First and median later answer of the front page, in process without a network [s]; an empty studio."""
    from fastapi.testclient import TestClient

    from printlore.faces.studio import Studio
    from printlore.faces.web.app import create_app

    studio = Studio.in_memory()
    with TestClient(create_app(studio.database), base_url="http://localhost") as client:
        spent = []
        for _ in range(repeats + 1):
            began = time.perf_counter()
            client.get("/").raise_for_status()
            spent.append(time.perf_counter() - began)
    return {"first": spent[0], "later": statistics.median(spent[1:])}


def in_own_process(trials: int) -> dict[str, Any]:
    """``measure`` in a new interpreter."""
    done = subprocess.run(
        [sys.executable, "-m", "bench.speed", "--measure", str(trials)],
        check=True,
        capture_output=True,
        text=True,
        env=dict(os.environ, OPENBLAS_NUM_THREADS="1"),
    )
    return json.loads(done.stdout.splitlines()[-1])


def table(rows: Sequence[dict[str, Any]]) -> str:
    text = [
        "| trials | frames | cold solution [s] | from the last one [s] "
        "| one trial more, median (worst) [ms] | advice, median (worst) [ms] "
        "| peak memory, of which evidence and libraries [MiB] |",
        "|---|---|---|---|---|---|---|",
    ]
    for row in rows:
        text.append(
            f"| {row['trials']:,} | {row['frames']:,} | {row['cold']:.2f} | {row['next_start']:.2f} "
            f"| {1000 * row['one_more']:.0f} ({1000 * row['one_more_worst']:.0f}) "
            f"| {1000 * row['advice']:.0f} ({1000 * row['advice_worst']:.0f}) "
            f"| {row['peak_mib']:.0f}, {row['evidence_mib']:.0f} |"
        )
    return "\n".join(text)


def main(arguments: Sequence[str] | None = None) -> None:
    from bench.drawing import growth_plot
    from bench.invented import FULL

    parser = argparse.ArgumentParser(prog="python -m bench speed", description=__doc__)
    parser.add_argument("--growth", type=int, nargs="+", default=[1000, 3000, 10_000, 30_000, FULL])
    parser.add_argument("--measure", type=int, help=argparse.SUPPRESS)
    parser.add_argument("--results", type=Path, default=RESULTS)
    asked = parser.parse_args(arguments)
    if asked.measure:
        print(json.dumps(measure(asked.measure)))
        return
    rows = []
    for trials in asked.growth:
        rows.append(in_own_process(trials))
        print(json.dumps(rows[-1]), flush=True)
    text = table(rows)
    text += f"\n\nCommand line, `--help`: {command_line_start():.2f} s. "
    page = page_times()
    first, later = 1000 * page["first"], 1000 * page["later"]
    text += f"Front page of an empty studio without a network: {first:.0f} ms the first time, then {later:.0f} ms.\n"
    asked.results.mkdir(parents=True, exist_ok=True)
    (asked.results / "speed.md").write_text("## Speed with a long record\n\n" + text, encoding="utf-8")
    (asked.results / "growth.svg").write_text(growth_plot(rows), encoding="utf-8")
    print(text)


if __name__ == "__main__":
    main()
