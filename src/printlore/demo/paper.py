"""Three months of invented paper: three lots, two rolls, boxes cut from them, one bag that lets light in.

Nobody bought or cut any of this; the fogged sheet is a scan from ``printroom``.
"""

import io
from datetime import UTC, datetime, timedelta

import numpy as np
import numpy.typing as npt
import tifffile

from printlore.core.cutting.blind import Event
from printlore.core.cutting.wanted import Trimmer, Wanted
from printlore.core.measure.scan import Box
from printlore.records.database import Database
from printlore.records.papers import Lot, PaperFamily
from printlore.records.rows import every
from printlore.records.stock import Happened, Place, RollMeasure, RollRecord
from printlore.services.cutting import keep_plan, plan_paper, press, set_trimmer, start_sitting
from printlore.services.entry import add_lot, add_paper
from printlore.services.fog import blame_container, log_blank
from printlore.services.stock import book_sheets, move_paper, receive_roll, set_paper_make, stock
from printroom.room import Conditions, Room
from printroom.scans import WEDGE_DENSITIES, Leak, Scanner

PAPER = "semi-matt paper"
NARROW, WIDE = "narrow roll", "wide roll"
BAD_BAG = "bag 3"
NEWEST = "lot 52"
_SCALE = 1.5
"""Pixels a millimetre of the scanned blanks."""
_SHEET = (254.0, 203.0)


def add_paper_history(db: Database, seed: int, *, now: datetime | None = None) -> str:
    """Invent three months of paper; returns the name of the kept cut plan.

    Parameters
    ----------
    seed : int
        The same seed and ``now`` give the same history.
    now : datetime
        Tonight; by default now. Papers and lots that the studio has are used; what is missing of three lots is added.
    """
    rng = np.random.default_rng(seed)
    now = (now or datetime.now(UTC)).astimezone(UTC)
    paper, lots = _lots(db, now)
    set_paper_make(db, paper, thickness=0.23, grammage=252.0)
    set_trimmer(db, Trimmer(blade_length=660.0, longest_stop=520.0))
    come = now - timedelta(days=80)
    receive_roll(
        db,
        RollRecord(
            name=NARROW,
            lot=lots[-2],
            width=305.0,
            core_diameter=76.0,
            stated_length=30_000.0,
            price=118.0,
            received_at=come,
            container="bag 1",
            note="invented",
        ),
        measure=RollMeasure(roll=NARROW, at=come, outer_diameter=121.0),
    )
    receive_roll(
        db,
        RollRecord(
            name=WIDE,
            lot=lots[-1],
            width=508.0,
            core_diameter=76.0,
            stated_length=50_000.0,
            price=265.0,
            received_at=now - timedelta(days=9),
            container=BAD_BAG,
            note="invented",
        ),
    )
    move_paper(db, Place.ROOM, roll=NARROW, at=come + timedelta(days=1))
    plan = _cut(db, come + timedelta(days=3))
    for day in sorted(rng.choice(np.arange(4, 78), size=14, replace=False).tolist(), reverse=True):
        _evening(db, rng, now - timedelta(days=int(day)) + timedelta(hours=2))
    _blanks(db, seed, lots, now)
    return plan


def _lots(db: Database, now: datetime) -> tuple[str, list[str]]:
    with db.reading() as conn:
        papers, lots = every(conn, PaperFamily), [lot.name for lot in every(conn, Lot)]
    paper = papers[0].name if papers else add_paper(db, PAPER, surface="semi-matt", note="invented").name
    for name in ("lot 41", "lot 47", NEWEST):
        if len(lots) < 3 and name not in lots:
            received = now - timedelta(days=9 if name == NEWEST else 90)
            lots.append(add_lot(db, name, paper=paper, emulsion_number=name[4:] + "07", received_at=received).name)
    return paper, lots


def _cut(db: Database, at: datetime) -> str:
    """Plan sheets of the narrow roll, and cut the first sitting to its end."""
    wanted = [
        Wanted(name="20x25", along=254.0, across=203.0, count=60),
        Wanted(name="28x36", along=356.0, across=279.0, count=8),
        Wanted(name="strips", along=250.0, across=60.0, count=40, strip=True),
    ]
    record = keep_plan(db, plan_paper(db, wanted, rolls=[NARROW], seconds=3), name="spring sheets", at=at)
    large_first = sorted(range(len(record.plan.sittings)), key=lambda i: -record.plan.sittings[i].length)
    state = start_sitting(db, record.name, large_first[0] + 1, at=at)
    minute = at
    while state.position.step is not None:
        minute += timedelta(seconds=12)
        state = press(db, state.sitting.name, Event.PRESS, at=minute)
    return record.name


def _evening(db: Database, rng: np.random.Generator, at: datetime) -> None:
    """Sheets that an evening used up, as far as the boxes go."""
    for box in stock(db, at=at).boxes:
        some = int(rng.integers(0, 3 if box.box.strips else 5))
        there = min(some, box.sheets)
        if there:
            book_sheets(db, box.box.name, Happened.EXPOSED, there, at=at, note="invented")
        if box.sheets - there > 0 and rng.random() < 0.08:
            book_sheets(db, box.box.name, Happened.SPOILED, 1, at=at, note="invented: creased in the dark")


def _blanks(db: Database, seed: int, lots: list[str], now: datetime) -> None:
    """A sound sheet of the older lot twice, and one of the newest, fogged along an edge by its bag."""
    room = Room(seed=seed)
    room.add_lot("lot")
    room.add_bath("bath")
    scanner = Scanner(room, seed=seed)
    conditions = Conditions(lot="lot", bath="bath")
    leak = Leak(where="left", light="white", log_exposure=-0.35, reach=0.35)
    for number, (lot, roll, days, leaks) in enumerate(
        [(lots[-2], NARROW, 76, ()), (lots[-2], NARROW, 30, ()), (lots[-1], WIDE, 6, (leak,))]
    ):
        made = scanner.blank(
            conditions, leaks=leaks, wedge=WEDGE_DENSITIES, size_mm=_SHEET, pixels_per_mm=_SCALE, scan=number
        )
        left, top, right, bottom = _upright(made.paper)
        file = io.BytesIO()
        tifffile.imwrite(file, made.pixels, photometric="rgb", compression="zlib")
        report = log_blank(
            db,
            lot,
            file.getvalue(),
            size=_SHEET,
            box=Box(left=left, top=top, right=right, bottom=bottom),
            wedge=WEDGE_DENSITIES,
            wedge_ends=(_box(made.wedge[0].box), _box(made.wedge[-1].box)),
            from_roll=roll,
            at=now - timedelta(days=days),
        )
    blame_container(db, report.record.id)


def _upright(corners: npt.NDArray[np.float64]) -> tuple[int, int, int, int]:
    x, y = np.sort(corners[:, 0]), np.sort(corners[:, 1])
    return int(x[1]) + 1, int(y[1]) + 1, int(x[2]), int(y[2])


def _box(box: tuple[int, int, int, int]) -> Box:
    left, top, right, bottom = box
    return Box(left=left, top=top, right=right, bottom=bottom)
