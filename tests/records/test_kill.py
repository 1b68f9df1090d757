"""Kill -9 at random points of logging: every acknowledged trial is there, the database is sound."""

import os
import random
import signal
import time

import pytest

from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Setting
from printlore.core.memory.evidence import Cast, Judgement
from printlore.records.database import FILE_NAME, Database, check_sound
from printlore.records.rows import every
from printlore.records.trials import ExposureRow, JudgementRecord, PatchReading, TrialRow
from printlore.services.entry import keep_scan
from printlore.services.trials import PatchEntry, TrialEntry, log_trial

KILLS = 200

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork and kill -9")


def in_child(work):
    """Run work(write) in a child process; returns its number and the end of a pipe that holds what it wrote."""
    out, into = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(out)
        try:
            work(lambda text: os.write(into, (text + "\n").encode()))
        finally:
            os._exit(1)
    os.close(into)
    return child, out


def killed_after(lines, seconds, child, out):
    """Kill the child with -9 a time after it wrote so many lines; returns the whole lines it wrote."""
    said = b""
    while said.count(b"\n") < lines:
        more = os.read(out, 65536)
        assert more, "the child died by itself"
        said += more
    time.sleep(seconds)
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    assert os.WIFSIGNALED(status), "the child died by itself"
    while more := os.read(out, 65536):
        said += more
    os.close(out)
    return said.decode().split("\n")[:-1]


def log_on(folder, number):
    def work(write):
        database = Database.open(folder)
        write("ready")
        count = 0
        while True:
            name = f"child {number}, trial {count}"
            patches = tuple(
                PatchEntry(
                    setting=Setting(pack=FilterPack(magenta=50, yellow=count % 90), time=8 + step),
                    reading=PatchReading(density=(0.7, 0.7, 0.7)),
                    judgement=Judgement(cast=Cast.MAGENTA, strength=5),
                )
                for step in range(3)
            )
            log_trial(database, TrialEntry(patches=patches, kind="strip", name=name, key=name))
            write(name)
            count += 1

    return work


@pytest.mark.slow
def test_what_was_acknowledged_survives_kill_9_at_random_points_of_logging(tmp_path):
    dice = random.Random(20260301)
    acknowledged = []
    for number in range(KILLS):
        said = killed_after(dice.randint(1, 4), dice.uniform(0, 0.02), *in_child(log_on(tmp_path, number)))
        assert said[0] == "ready"
        acknowledged += said[1:]
        if number % 25 == 0:
            check_sound(tmp_path / FILE_NAME)
    check_sound(tmp_path / FILE_NAME)
    assert len(acknowledged) > KILLS
    with Database.open(tmp_path) as database, database.reading() as conn:
        there = [trial.name for trial in every(conn, TrialRow)]
        assert set(acknowledged) <= set(there)
        assert len(there) - len(acknowledged) <= KILLS, "at most the one in flight at each kill"
        for kind in (ExposureRow, PatchReading, JudgementRecord):
            assert len(every(conn, kind)) == 3 * len(there), "no trial is half there"


def test_a_studio_whose_making_was_killed_can_be_opened(tmp_path):
    dice = random.Random(7)

    def make(folder):
        def work(write):
            write("x")
            Database.open(folder)
            while True:
                time.sleep(1)

        return work

    for number in range(12):
        folder = tmp_path / str(number)
        killed_after(1, dice.uniform(0, 0.04), *in_child(make(folder)))
        with Database.open(folder) as database:
            log_trial(database, TrialEntry(patches=(PatchEntry(setting=Setting(pack=FilterPack(), time=8)),)))
        check_sound(folder / FILE_NAME)


def test_scans_are_whole_or_not_there_when_killed(tmp_path):
    dice = random.Random(8)

    def keep(folder, number):
        def work(write):
            database = Database.open(folder)
            write("ready")
            count = 0
            while True:
                content = f"{number} {count} ".encode() * 20_000
                write(keep_scan(database, content, media_type="image/tiff").sha256)
                count += 1

        return work

    acknowledged = []
    for number in range(12):
        acknowledged += killed_after(dice.randint(1, 4), dice.uniform(0, 0.02), *in_child(keep(tmp_path, number)))[1:]
    with Database.open(tmp_path) as database:
        assert set(acknowledged) <= set(database.scans.names())
        for sha256 in database.scans.names():
            database.scans.get(sha256)
