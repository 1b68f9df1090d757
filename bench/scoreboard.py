"""The scoreboard: policies side by side in the same simulated rooms, with the same noise.

    python -m bench scoreboard [--rooms 20] [--negatives 40] [--kinds ...] [--policies ...] [--processes 2]

One line of JSON for each room, policy, reading and tolerance goes to ``bench/out/``; a run that was broken off goes
on where it stopped, unless the code that a line rests on has changed. Tables and plots go to ``bench/results/``.
"""

import argparse
import hashlib
import json
import multiprocessing
import os
import sys
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol, TypeVar

from bench.published import PUBLISHED_KINDS
from bench.rooms import Tally
from printroom.kinds import KINDS

HERE = Path(__file__).parent
ALL_KINDS = (*KINDS, *PUBLISHED_KINDS)
OUT = HERE / "out"
RESULTS = HERE / "results"
NEGATIVES = 40
FIRST_SEED = 1
SEEDS_APART = 1000
SAME_LUCK = {"blundering": "steady vane"}
"""Kinds set against another one room by room share its seeds. All others have rooms of their own: noise goes by the
seed, and one run of luck, met in ten kinds of room, would pass for ten."""
FIRST_ONLY = {"memory, told": 12}
"""Policies that are played for their first prints only: with so many negatives at most."""
TOLERANCE_OF = {"coarse": "good alone", "coarse gel": "good alone"}
"""By kind of room; elsewhere "edition match"."""
SHOWN_KINDS = (
    "steady vane",
    "noisy vane",
    "steady gel",
    "noisy gel",
    "additive times",
    "additive levels",
    "ageing baths",
    "blundering",
    "coarse",
    "coarse gel",
)


@dataclass(frozen=True, slots=True, order=True)
class Task:
    """One room under one policy."""

    seed: int
    kind: str
    reading: bool
    policy: str
    tolerance: str
    negatives: int

    @property
    def key(self) -> str:
        reading = "reading" if self.reading else "no reading"
        return f"{self.kind}/{self.seed}/{self.policy}/{reading}/{self.tolerance}/{self.negatives}"


@dataclass(frozen=True, slots=True)
class Played:
    """One room that is played in a way of its own."""

    kind: str
    seed: int
    policy: str

    @property
    def key(self) -> str:
        return f"{self.kind}/{self.seed}"


def version_of(policy: str) -> str:
    """Of the code that a result rests on: the room and the policies, and for Printlore all that advises."""
    files = [HERE / name for name in ("rooms.py", "policies.py", "limits.py", "eye_limit.py", "published.py")]
    files += sorted((HERE.parent / "src" / "printroom").glob("*.py"))
    if policy != "perfect" and not policy.startswith("memory"):
        files.append(HERE / "trade.py")
    if policy.startswith("memory"):
        for part in ("core/memory", "core/advice", "core/paper", "core/light", "core/colour"):
            files += sorted((HERE.parent / "src" / "printlore" / part).glob("*.py"))
    digest = hashlib.sha256()
    for file in files:
        digest.update(file.read_bytes())
    return digest.hexdigest()[:12]


def work(task: Task) -> dict[str, Any]:
    """Play one room; a plain record of what each negative took and of what was foretold."""
    from bench.policies import POLICIES
    from bench.rooms import Desk

    began = time.process_time()
    desk = Desk.of(task.kind, task.seed)
    tallies = POLICIES[task.policy](desk, task.reading, task.tolerance, task.negatives)
    return {
        "key": task.key,
        "kind": task.kind,
        "seed": task.seed,
        "policy": task.policy,
        "reading": task.reading,
        "tolerance": task.tolerance,
        "seconds": round(time.process_time() - began, 2),
        **counted(tallies),
    }


def counted(tallies: Sequence[Tally]) -> dict[str, Any]:
    """What tallies of one room say, as a line of JSON holds it."""
    return {
        "strips": [t.strips for t in tallies],
        "sheets": [t.sheets for t in tallies],
        "good": [int(t.good) for t in tallies],
        # negative, how many-th sheet, after a strip, stated probability, good, three normed errors, blunder
        "foretold": [
            [
                number,
                s.order,
                int(s.after_strip),
                round(s.probability, 4),
                int(s.good),
                *(round(z, 3) for z in s.off),
                int(s.blunder),
            ]
            for number, t in enumerate(tallies)
            for s in t.foretold
        ],
        "pieces": [
            [number, int(p.blunder), int(p.named), int(p.rightly)] for number, t in enumerate(tallies) for p in t.pieces
        ],
    }


def tasks_for(
    kinds: Sequence[str], policies: Sequence[str], rooms: int, negatives: int, reads: Iterable[str]
) -> list[Task]:
    """Room by room of every kind, so that a run broken off has whole rooms."""
    tasks = []
    for number in range(rooms):
        for kind in kinds:
            seed = FIRST_SEED + number + SEEDS_APART * ALL_KINDS.index(SAME_LUCK.get(kind, kind))
            for policy in policies:
                for reading in (True, False) if policy in reads else (False,):
                    tolerance = TOLERANCE_OF.get(kind, "edition match")
                    played = min(negatives, FIRST_ONLY.get(policy, negatives))
                    tasks.append(Task(seed, kind, reading, policy, tolerance, played))
    return tasks


def kept(path: Path, versions: dict[str, str], *, any_version: bool = False) -> dict[str, dict[str, Any]]:
    """Finished lines by key; those of other versions of the code only if asked for. The last one counts."""
    if not path.exists():
        return {}
    found = {}
    for line in path.read_text(encoding="utf-8").splitlines():
        try:
            row = json.loads(line)
        except json.JSONDecodeError:
            continue
        if any_version or row["version"] == versions.get(row["policy"]):
            found[row["key"]] = row
    return found


class Keyed(Protocol):
    """What can be played: told by a key, and which policy's version of the code its line rests on."""

    @property
    def key(self) -> str: ...

    @property
    def policy(self) -> str: ...


_Task = TypeVar("_Task", bound=Keyed)


def play(tasks: Sequence[Task], path: Path, processes: int, *, any_version: bool = False) -> list[dict[str, Any]]:
    """Rows of all tasks, those that are missing played now."""
    versions = {policy: version_of(policy) for policy in {task.policy for task in tasks}}
    return worked_out(tasks, path, processes, work, versions, any_version=any_version)


def worked_out(
    tasks: Sequence[_Task],
    path: Path,
    processes: int,
    by: Callable[[_Task], dict[str, Any]],
    versions: dict[str, str],
    *,
    any_version: bool = False,
) -> list[dict[str, Any]]:
    """Rows of all tasks, with the key and policy of each; those that are missing worked out now.

    Parameters
    ----------
    versions : by policy
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    done = kept(path, versions, any_version=any_version)
    missing = [task for task in tasks if task.key not in done]
    began = time.monotonic()
    # threads inside a linear-algebra library would fight the other process for the cores
    os.environ["OPENBLAS_NUM_THREADS"] = os.environ["OMP_NUM_THREADS"] = "1"
    context = multiprocessing.get_context("spawn")
    if missing:
        with path.open("a", encoding="utf-8") as sink, context.Pool(processes) as pool:
            for count, row in enumerate(pool.imap_unordered(by, missing), start=1):
                row["version"] = versions[row["policy"]]
                done[row["key"]] = row
                sink.write(json.dumps(row) + "\n")
                sink.flush()
                spent = time.monotonic() - began
                left = spent / count * (len(missing) - count)
                print(f"\r{count} of {len(missing)}, {left / 60:.0f} min left   ", end="", file=sys.stderr, flush=True)
        print(file=sys.stderr)
    return [done[task.key] for task in tasks]


def main(arguments: Sequence[str] | None = None) -> None:
    from bench.policies import POLICIES, READS
    from bench.tables import write_all

    parser = argparse.ArgumentParser(prog="python -m bench scoreboard", description=__doc__)
    parser.add_argument("--rooms", type=int, default=20, help="of each kind")
    parser.add_argument("--negatives", type=int, default=NEGATIVES)
    parser.add_argument("--kinds", nargs="+", default=SHOWN_KINDS, choices=ALL_KINDS)
    parser.add_argument("--policies", nargs="+", default=list(POLICIES), choices=list(POLICIES))
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--out", type=Path, default=OUT / "scoreboard.jsonl")
    parser.add_argument("--results", type=Path, default=RESULTS)
    parser.add_argument("--any-version", action="store_true", help="keep lines of older code too")
    asked = parser.parse_args(arguments)
    tasks = tasks_for(asked.kinds, asked.policies, asked.rooms, asked.negatives, READS)
    rows = play(tasks, asked.out, asked.processes, any_version=asked.any_version)
    print(write_all(rows, asked.results))


if __name__ == "__main__":
    main()
