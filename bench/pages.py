"""How soon every page of an evening answers, and every action, with a studio of many years.

    python -m bench pages [--trials 50000] [--studio FOLDER] [--advice SECONDS]

The studio is invented (``bench.long_record``) and served by ``printlore serve`` in a process of its own. "Cold" is from
the start of that process to the last byte of the first page; warm answers are the median and the worst of several. A
page that needs the memory answers at once and says that it is being worked out; that time is measured apart.
Beside them, in the same run, what stands at the bottom of each: a file from the same server for a page, one row put
into a plain SQLite file and committed for an action; each answer is stated as a multiple of it, too. A plain loop of
additions shows how busy the machine is.
"""

import argparse
import http.client
import json
import os
import socket
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from urllib.parse import urlencode

RESULTS = Path(__file__).parent / "results"
SERVE = """
import sys
from printlore.faces.cli.main import main
sys.exit(main(["serve", "--studio", sys.argv[1], "--port", sys.argv[2]]))
"""
WARM, ACTIONS = 9, 9


class Served:
    """A served studio and one connection to it."""

    def __init__(self, folder: Path) -> None:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.begun = time.perf_counter()
        environment = {**os.environ, "OPENBLAS_NUM_THREADS": "1"}
        environment.pop("PYTHONDONTWRITEBYTECODE", None)
        self.process = subprocess.Popen(
            [sys.executable, "-c", SERVE, str(folder), str(self.port)], env=environment, stdout=subprocess.DEVNULL
        )

    def first(self, path: str) -> float:
        """Seconds from the start of the process to the last byte of its first page."""
        while True:
            try:
                self.get(path)
                return time.perf_counter() - self.begun
            except OSError:
                assert self.process.poll() is None, "the server ended"
                time.sleep(0.02)

    def get(self, path: str, **headers: str) -> tuple[int, bytes]:
        return self._ask("GET", path, None, headers)

    def post(self, path: str, body: dict, *, form: bool = False) -> tuple[int, bytes]:
        kind = "application/x-www-form-urlencoded" if form else "application/json"
        sent = urlencode(body) if form else json.dumps(body)
        status, answer = self._ask("POST", path, sent, {"Content-Type": kind})
        assert status < 400, (path, status, answer[:300])
        return status, answer

    def _ask(self, method, path, body, headers):
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=120)
        try:
            connection.request(method, path, body, headers)
            answer = connection.getresponse()
            return answer.status, answer.read()
        finally:
            connection.close()

    def stop(self) -> None:
        self.process.terminate()
        try:
            self.process.wait(timeout=10)
        except subprocess.TimeoutExpired:
            self.process.kill()


def timed(deed, count):
    """Milliseconds: median and worst."""
    times = []
    for number in range(count):
        begun = time.perf_counter()
        deed(number)
        times.append(1000 * (time.perf_counter() - begun))
    return statistics.median(times), max(times)


def row(title: str, middle: float, worst: float, bare: float, *more: str) -> str:
    return "| " + " | ".join((title, f"{middle:.0f} ({worst:.0f})", f"{middle / bare:.0f}", *more)) + " |"


def bare_commit(folder: Path) -> float:
    """Median milliseconds of one row put into a SQLite file of its own beside the studio, on disk when it returns."""
    place = folder / "bare.sqlite"
    with sqlite3.connect(place, isolation_level=None) as bare:
        bare.execute("PRAGMA synchronous = FULL")
        bare.execute("CREATE TABLE IF NOT EXISTS trials (name TEXT, magenta REAL, yellow REAL, time REAL)")
        middle, _ = timed(lambda number: bare.execute("INSERT INTO trials VALUES ('x', 50, 60, ?)", (number,)), 30)
    place.unlink()
    return middle


def yardstick() -> float:
    """Seconds of a million additions in a loop."""
    begun, total = time.perf_counter(), 0
    for number in range(1_000_000):
        total += number
    return time.perf_counter() - begun


def pages(frame: int) -> dict[str, str]:
    """What a printer opens in an evening."""
    return {
        "tonight": "/",
        "main job of a frame": f"/print/{frame}",
        "the same, logging only": f"/print/{frame}/log",
        "a frame's history": f"/negatives/{frame}",
        "negatives": "/negatives",
        "search of negatives": "/negatives?q=place+17",
        "bench, evening open": "/evening",
        "wet page": "/evening/wet",
        "plan a load": "/evening/plan",
        "baths": "/baths",
        "paper": "/paper",
        "readings": "/readings",
        "what the prints taught": "/taught",
        "studio": "/studio",
    }


def actions(served: Served, frame: int) -> dict[str, object]:
    """What a printer does: each a function of the number of the try."""
    setting = {"magenta": 50.0, "yellow": 60.0, "time": 8.0}
    told: list[str] = []

    def log_by_eye(number):
        made = {name: str(value) for name, value in setting.items()}
        served.post(f"/print/{frame}/eye", {**made, "seen": "slight magenta", "lightness": "right"}, form=True)

    def log_strip(number):
        steps = [{"setting": {**setting, "time": t}, "density": [0.5 + t / 40, 0.6, 0.7]} for t in (6.0, 8.0, 10.0)]
        told.append(
            json.loads(
                served.post("/api/trials", {"kind": "strip", "patches": steps, "frame": f"frame {frame - 1}"})[1]
            )["row"]["name"]
        )

    def log_sheet(number):
        patch = {"setting": setting, "density": [0.7, 0.7, 0.7]}
        told.append(
            json.loads(served.post("/api/trials", {"patches": [patch], "frame": f"frame {frame - 1}"})[1])["row"][
                "name"
            ]
        )

    def add_reading(number):
        served.post(f"/api/trials/{told[-1]}/readings", {"density": [0.71, 0.7, 0.7]})

    def undo(number):
        served._ask("DELETE", f"/api/trials/{told.pop()}?version=1", None, {})

    def light(number):
        to = "easel" if number % 2 == 0 else "desk"
        served.post("/api/evening/events", {"kind": "moved", "body": {"to": to}, "key": f"{time.monotonic_ns()}"})

    def note(number):
        served.post(
            "/api/evening/events", {"kind": "went_wrong", "body": {"note": "x"}, "key": f"{time.monotonic_ns()}"}
        )

    return {
        "log a sheet by eye": log_by_eye,
        "log a strip of three steps": log_strip,
        "log a sheet with a reading": log_sheet,
        "add a reading": add_reading,
        "undo a trial": undo,
        "move to another light": light,
        "note that something went wrong": note,
    }


def main() -> None:
    """Run it and write ``bench/results/pages.md``."""
    parser = argparse.ArgumentParser(prog="python -m bench pages", description=__doc__)
    parser.add_argument("--trials", type=int, default=50_000)
    parser.add_argument("--studio", type=Path, help="A studio that was built before; it is written to.")
    parser.add_argument("--advice", type=float, default=1800.0, help="Longest wait for the memory [s].")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as made:
        folder = asked.studio or Path(made) / "studio"
        if not folder.exists():
            from bench.long_record import build

            build(folder, asked.trials)
        text = measure(folder, asked.advice)
    RESULTS.mkdir(exist_ok=True)
    (RESULTS / "pages.md").write_text(text, encoding="utf-8")
    print(text)


def measure(folder: Path, longest: float) -> str:
    from bench.long_record import counts
    from printlore.records.database import Database

    with Database.open(folder) as db:
        size = counts(db)
    frame = size["frames"] - 10
    stick = yardstick()
    cold = {}
    for title in ("tonight", "main job of a frame"):
        # the first start of all may have to compile; the second is what a printer sees
        for _ in range(2):
            served = Served(folder)
            cold[title] = served.first(pages(frame)[title])
            served.stop()
    served = Served(folder)
    try:
        served.first("/")
        if served.get("/api/evening")[0] == 404:
            served.post("/api/evening", {})
        plain, _ = timed(lambda _: served.get("/static/working.js"), 30)
        commit = bare_commit(folder)
        lines = [table_head("page", "answer [ms], median (worst)", "times a file", "memory being solved")]
        for title, path in pages(frame).items():
            served.get(path)
            status = []
            middle, worst = timed(lambda _, path=path, status=status: status.append(served.get(path)[0]), WARM)
            lines.append(row(title, middle, worst, plain, "says so (202)" if 202 in status else "whole"))
        done = [table_head("action", "answer [ms], median (worst)", "times a commit")]
        for title, deed in actions(served, frame).items():
            middle, worst = timed(deed, ACTIONS)
            done.append(row(title, middle, worst, commit))
        first = wait_for(served, pages(frame)["main job of a frame"], longest)
        again = None
        ready = []
        if first is not None:
            ready = [table_head("page, the memory solved", "answer [ms], median (worst)", "times a file")]
            for title, path in pages(frame).items():
                wait_for(served, path, longest)
                middle, worst = timed(lambda _, path=path: served.get(path), WARM)
                ready.append(row(title, middle, worst, plain))
            actions(served, frame)["log a sheet with a reading"](0)
            again = wait_for(served, pages(frame)["main job of a frame"], longest)
    finally:
        served.stop()
    next_start = None
    if first is not None:
        served = Served(folder)
        served.first("/")
        if wait_for(served, pages(frame)["main job of a frame"], longest) is not None:
            next_start = time.perf_counter() - served.begun
        served.stop()
    told = [
        "## Pages and actions with a long record\n",
        f"{size['trials']:,} trials ({size['exposures']:,} exposures) of {size['frames']:,} frames on "
        f"{size['films']} films, {size['baths']} baths, {size['runs']:,} drum loads; invented. A million additions "
        f"took {1000 * stick:.0f} ms before and {1000 * yardstick():.0f} ms after (30 to 60 on a machine with nothing "
        "else to do).\n",
        f"A file from the same server: {plain:.1f} ms. One row put into a plain SQLite file: {commit:.1f} ms.\n",
        "First page from a cold start: " + ", ".join(f"{title} {taken:.2f} s" for title, taken in cold.items()) + ".\n",
        "\n".join(lines) + "\n",
        "\n".join(done) + "\n",
        "Advice after the start: " + (f"{first:.0f} s." if first else f"not within {longest:.0f} s.")
        + (f" After one trial more: {again:.1f} s." if again else "")
        + (f" After the next start, which begins from that solution: {next_start:.0f} s." if next_start else ""),
        "\n".join(["", *ready]) if ready else "",
    ]  # fmt: skip
    return "\n".join(told) + "\n"


def table_head(*names: str) -> str:
    return "| " + " | ".join(names) + " |\n|" + "---|" * len(names)


def wait_for(served: Served, path: str, longest: float) -> float | None:
    """Seconds until the page is whole."""
    begun = time.perf_counter()
    while time.perf_counter() - begun < longest:
        if served.get(path, **{"X-Still-Working": "1"})[0] != 202:
            return time.perf_counter() - begun
    return None


if __name__ == "__main__":
    main()
