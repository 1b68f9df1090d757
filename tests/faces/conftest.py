"""A small studio to show pages and commands of, and a scanned strip."""

import json
import os
from io import BytesIO

import pytest
import tifffile
from fastapi.testclient import TestClient

from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Setting
from printlore.faces.cli.main import main
from printlore.faces.web.app import create_app
from printlore.records.database import Database
from printlore.records.negatives import Frame
from printlore.records.trials import PatchReading
from printlore.services import entry
from printlore.services.trials import PatchEntry, TrialEntry, log_trial
from printroom.room import Room
from printroom.scans import WEDGE_DENSITIES, Faults, Scanner

# As the command line does for itself: small products are quicker on one thread.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


def setting(magenta=60.0, yellow=50.0, time=8.0):
    return Setting(pack=FilterPack(magenta=magenta, yellow=yellow), time=time)


@pytest.fixture
def db():
    with Database.in_memory() as database:
        entry.add_head(database, "column head")
        entry.add_paper(database, "matt")
        entry.add_lot(database, "lot 1", paper="matt")
        entry.add_process(database, "45 s")
        entry.add_bath(database, "bath 1", process="45 s")
        entry.add_film(database, "film 1")
        entry.add_frame(database, "harbour", film="film 1", number="14", note="fog on the quay")
        entry.add_frame(database, "market", film="film 1")
        reading = PatchReading(density=(0.80, 0.62, 0.71))
        log_trial(database, TrialEntry(patches=(PatchEntry(setting=setting(), reading=reading),), frame="harbour"))
        yield database


@pytest.fixture
def log_a_slip():
    """Log five prints of the market that agree, and one that had half the light it was logged with."""

    def log(db):
        prints = [(f"M{number}", 60.0 + number, (0.70, 0.72 - 0.024 * number, 0.71)) for number in range(5)]
        for name, magenta, density in (*prints, ("slip", 60.0, (0.24, 0.25, 0.24))):
            patch = PatchEntry(setting=setting(magenta=magenta), reading=PatchReading(density=density))
            log_trial(db, TrialEntry(patches=(patch,), frame="market", name=name))

    return log


@pytest.fixture
def slipped(db, log_a_slip):
    log_a_slip(db)
    return db


@pytest.fixture
def client(db):
    with TestClient(create_app(db), base_url="http://localhost", raise_server_exceptions=False) as client:
        yield client


@pytest.fixture
def harbour(db):
    return entry.find_record(db, Frame, "harbour").id


@pytest.fixture(scope="session")
def strip():
    """(bytes of a 16-bit TIFF, wedge densities as typed, the simulated scan with its truth)."""
    room = Room(seed=5)
    room.add_film("film")
    room.add_lot("lot")
    room.add_bath("bath")
    frame = room.add_frame("film")
    right = room.right_setting(frame)
    dialled = {"cyan": right.cyan, "magenta": right.magenta, "yellow": right.yellow, "f_number": right.f_number}
    outcomes = [room.expose(frame, time=right.time * factor, run="one drum", **dialled) for factor in (0.8, 1.0, 1.25)]
    scan = Scanner(room).strip(outcomes, faults=Faults(rotation=0.0, dust=3, scratches=0), wedge=WEDGE_DENSITIES)
    out = BytesIO()
    tifffile.imwrite(out, scan.pixels, photometric="rgb")
    return out.getvalue(), " ".join(f"{density:g}" for density in WEDGE_DENSITIES), scan


@pytest.fixture
def run(tmp_path, capsys):
    """Run a command in a studio of its own; gives (status, words or JSON, error words)."""
    folder = tmp_path / "studio"

    def call(*arguments, studio=folder):
        status = main([*arguments, "--studio", str(studio)])
        shown = capsys.readouterr()
        return status, json.loads(shown.out) if "--json" in arguments and shown.out else shown.out, shown.err

    assert call("init")[0] == 0
    return call
