"""A studio with an evening, served by a process of its own that can be killed; its clock may run fast."""

import os
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from datetime import UTC, datetime
from pathlib import Path

from printlore.core.evening.care import CAUTIONS
from printlore.core.evening.events import BeatDone, CareConfirmed, FrameListed, Moved, Rehearsed
from printlore.core.evening.light import Light
from printlore.core.evening.process import Sequence, Step, StepKind
from printlore.core.evening.rehearsal import QUESTIONS, Rehearsal
from printlore.core.evening.state import ENTER_DARK, LEAVE_DARK
from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Burn, Setting
from printlore.records.baths import Bath, Process
from printlore.records.database import Database
from printlore.records.negatives import Film, Frame
from printlore.records.rows import add
from printlore.services.evening import Clock, begin_run, evening_now, find_evening, open_evening, write
from printlore.services.evening_plan import PieceOrder, plan_load, save_sequence

SERVE = """
import sys, uvicorn
from printlore.faces.web.app import create_app
from printlore.services.evening import Clock
app = create_app(sys.argv[1])
app.state.evening_clock = Clock(pace=float(sys.argv[3]), origin=float(sys.argv[4]))
uvicorn.run(app, host="127.0.0.1", port=int(sys.argv[2]), log_level="error", timeout_graceful_shutdown=1)
"""
FIVE_MINUTES = Sequence(
    name="five minutes",
    steps=(
        Step(kind=StepKind.PREWASH, time=45, drain=10, volume=150, temperature=37),
        Step(kind=StepKind.DEVELOPER, time=60, drain=10, volume=70, temperature=35),
        Step(kind=StepKind.STOP, time=30, drain=8, volume=70),
        Step(kind=StepKind.RINSE, time=30, drain=8, volume=150),
        Step(kind=StepKind.BLEACH_FIX, time=60, drain=10, volume=70),
        Step(kind=StepKind.WASH, time=75, drain=10, volume=150),
    ),
)
"""Five minutes in all."""

PACK = FilterPack(magenta=60.0, yellow=70.0)


class Bench:
    """A furnished studio and its server.

    ``pace`` is how fast the evening's clock runs against the wall.
    """

    def __init__(self, folder: Path, *, pace: float = 1.0) -> None:
        self.folder, self.clock = folder, Clock(pace=pace, origin=time.time())
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.url = f"http://127.0.0.1:{self.port}"
        self.server: subprocess.Popen[bytes] | None = None
        self.sent = 0
        self.db = Database.open(folder)
        with self.db.transaction() as conn:
            add(conn, Film(name="roll 3"))
            for number in (14, 15, 16):
                add(conn, Frame(name=f"harbour {number}", film="roll 3"))
            add(conn, Process(name="own"))
            add(conn, Bath(name="3 March", process="own", mixed_at=datetime(2026, 3, 3, tzinfo=UTC), volume=500))
        save_sequence(self.db, FIVE_MINUTES)
        self.record = open_evening(self.db, now=self.clock.now(), name="an evening")

    def start(self) -> None:
        self.server = subprocess.Popen(
            [
                sys.executable,
                "-c",
                SERVE,
                str(self.folder),
                str(self.port),
                str(self.clock.pace),
                str(self.clock.origin),
            ]
        )
        for _ in range(600):
            try:
                urllib.request.urlopen(f"{self.url}/api/evening/clock", timeout=1)
                return
            except OSError:
                time.sleep(0.1)
        raise AssertionError("the server did not start")

    def kill(self) -> None:
        assert self.server is not None
        os.kill(self.server.pid, signal.SIGKILL)
        self.server.wait()

    def stop(self) -> None:
        if self.server is not None and self.server.poll() is None:
            self.server.terminate()
            try:
                self.server.wait(timeout=5)
            except subprocess.TimeoutExpired:
                self.kill()
        self.db.close()

    def tell(self, what, **more):
        self.sent += 1
        return write(
            self.db,
            self.record,
            what,
            key=f"test {self.sent}",
            device=more.pop("device", "test"),
            now=self.clock.now(),
            **more,
        )

    def state(self):
        return evening_now(self.db, find_evening(self.db, "an evening", now=self.clock.now()), now=self.clock.now())

    def plan(self, *pieces, drum=1, **more):
        self.sent += 1
        default = PieceOrder(frame="harbour 14", setting=Setting(pack=PACK, time=3), width=200, height=250)
        return plan_load(
            self.db, self.record, pieces or (default,), drum=drum, key=f"test {self.sent}", device="test",
            now=self.clock.now(), **more,
        )  # fmt: skip

    def care(self):
        self.tell(CareConfirmed(items=tuple(caution.name for caution in CAUTIONS)))

    def rehearsed(self, device):
        confirmed = frozenset(question.name for question in QUESTIONS)
        self.tell(Rehearsed(rehearsal=Rehearsal(device=device, seconds=610, confirmed=confirmed)), device=device)

    def in_drum(self, load="1"):
        """Everything up to lid on, without the page."""
        self.rehearsed("test")
        self.tell(Moved(to=Light.EASEL))
        self.tell(Moved(to=Light.PAPER_OUT, confirmed=tuple(ENTER_DARK), load=load))
        self.tell(BeatDone(load=load, beat=5))
        self.tell(Moved(to=Light.WET, confirmed=tuple(LEAVE_DARK)))

    def begin(self, load="1", begin=None):
        self.sent += 1
        return begin_run(
            self.db, self.record, load, key=f"test {self.sent}", device="test", now=self.clock.now(), begin=begin
        )

    def list(self, frame):
        self.tell(FrameListed(frame=frame))


def burnt(time=3.0):
    """A sheet with a dodge and a burn."""
    setting = Setting(pack=PACK, time=time, burns=(Burn(name="sky", time=2.0), Burn(name="face", time=-1.0)))
    return PieceOrder(frame="harbour 14", setting=setting, width=200, height=250)
