"""Two months of invented baths: kits, mixes, drum loads, top-ups, control patches, waste. Nobody made any of this."""

from datetime import UTC, datetime, timedelta

import numpy as np

from printlore.core.bath.kit import Nature, Part, Use
from printlore.core.bath.pours import SHEET_20X25
from printlore.core.control.limits import Wedge
from printlore.records.baths import Process
from printlore.records.database import Database
from printlore.records.rows import every
from printlore.services.baths import define_kit, gauge, log_run, mix_bath, open_concentrate, retire, top_up
from printlore.services.control import log_control, log_fault
from printlore.services.entry import add_process
from printlore.services.waste import add_container, pour_waste, record_answer, write_diary

DEVELOPER_KIT, BLEACH_FIX_KIT, STOP_KIT = "two-part developer", "two-part bleach-fix", "acid stop"
_AIM = np.array(
    [[0.09, 0.10, 0.11], [0.71, 0.74, 0.69], [1.46, 1.49, 1.42], [2.31, 2.28, 2.19]],
)
_EVENING = 19 / 24
_SIZES = (("20x25", SHEET_20X25), ("13x18", 0.127 * 0.178), ("30x40", 0.305 * 0.406))


def add_bath_history(db: Database, seed: int, *, now: datetime | None = None) -> str:
    """Invent two months of baths, up to a developer in use; returns its name.

    Parameters
    ----------
    seed : int
        The same seed and ``now`` give the same history.
    now : datetime
        Tonight; by default now.
    """
    rng = np.random.default_rng(seed)
    now = (now or datetime.now(UTC)).astimezone(UTC)
    start = (now - timedelta(days=62)).replace(hour=0, minute=0, second=0, microsecond=0)
    with db.reading() as conn:
        processes = every(conn, Process)
    process = processes[0].name if processes else add_process(db, "45 s at 35 degrees").name
    _kits(db, start)
    silver = add_container(db, "grey drum", "silver", 10.0).name
    old = add_container(db, "white can", "developer", 5.0).name
    said = "Take it closed and labelled to the collection on the first Saturday of the month. (Invented.)"
    record_answer(db, "the district's waste office (invented)", "silver", said, at=start)
    fixer = mix_bath(
        db, "half-litre bleach-fix", process, BLEACH_FIX_KIT, 1000.0, bottle=1000.0, at=start + timedelta(days=_EVENING)
    )
    evenings = sorted(rng.choice(np.arange(1, 61), size=17, replace=False).tolist())
    number, bath, area, mixed_on = 0, "", 0.0, 0
    strength = 1.0
    for evening in evenings:
        at = start + timedelta(days=int(evening) + _EVENING)
        if not bath or area > 1.0 or evening - mixed_on > 26:
            if bath:
                retire(db, bath, at=at, note="invented")
                pour_waste(db, old, 0.42, "tired developer", holds="developer", bath=bath, at=at)
            number += 1
            bath = f"half-litre {number}"
            area, mixed_on, strength = 0.0, int(evening), 1.0
            mix_bath(db, bath, process, DEVELOPER_KIT, 500.0, bottle=520.0, at=at)
        elif area > 0.5:
            top_up(db, bath, 75.0, bled=75.0, at=at)
            strength = 0.85 * strength + 0.15
        elif rng.random() < 0.3:
            gauge(db, bath, 500.0 - 55.0 * area, at=at)
        loads = int(rng.integers(2, 6))
        for load in range(loads):
            moment = at + timedelta(minutes=20 * (load + 1))
            name, sheet = _SIZES[int(rng.choice(3, p=[0.7, 0.2, 0.1]))]
            weighed = rng.random() < 0.5
            run = log_run(
                db,
                bath,
                sheet,
                at=moment,
                drum="small drum",
                water_in=round(1.5 + 70 * sheet + rng.normal(0, 0.3), 1) if weighed else None,
                solution_out=round(4.2 + 82 * sheet + rng.normal(0, 0.4), 1) if weighed else None,
                temperature=round(float(rng.normal(35.0, 0.25)), 1),
                note=f"{name}, invented",
            )
            area += sheet
            strength *= 1 - 0.17 * sheet - 0.009
            if load == 0:
                wedge = _wedge(rng, strength, area, evening - mixed_on)
                log_control(db, bath, wedge, at=moment, run=run.name, source="flatbed", good=number == 1 and area < 0.4)
        pour_waste(db, silver, round(0.06 * loads, 2), "spent bleach-fix and first washes", holds="silver", at=at)
        write_diary(
            db,
            "the printer",
            45.0 + 18 * loads,
            "colour developer, stop, bleach-fix",
            gloves=True,
            goggles=True,
            ventilation=True,
            at=at,
        )
    log_fault(
        db,
        "developer cold or time short",
        ["all_shift", "light_weak_blacks"],
        results={"thermometer in the drum": True},
        at=start + timedelta(days=30),
        note="invented",
    )
    del fixer
    return bath


def _kits(db: Database, start: datetime) -> None:
    developer = define_kit(
        db,
        DEVELOPER_KIT,
        Use.DEVELOPER,
        (
            Part(name="A", per_litre=100.0, nature=Nature.ALKALI),
            Part(name="B", per_litre=100.0, nature=Nature.SENSITISER),
        ),
        life_days=42.0,
        hazards="skin sensitiser, alkaline (invented kit: read your own sheet)",
        safety_sheet_read=True,
    ).name
    fix = define_kit(
        db,
        BLEACH_FIX_KIT,
        Use.BLEACH_FIX,
        (Part(name="A", per_litre=200.0), Part(name="B", per_litre=200.0)),
        life_days=60.0,
        hazards="sulfite, ammonium thiosulfate (invented kit: read your own sheet)",
        safety_sheet_read=True,
    ).name
    stop = define_kit(
        db,
        STOP_KIT,
        Use.STOP,
        (Part(name="acid", per_litre=20.0, nature=Nature.ACID),),
        hazards="acetic acid (invented kit: read your own sheet)",
    ).name
    for kit, part, volume, price in (
        (developer, "A", 1000.0, 18.0),
        (developer, "B", 1000.0, 22.0),
        (fix, "A", 1000.0, 15.0),
        (fix, "B", 1000.0, 14.0),
        (stop, "acid", 500.0, 6.0),
    ):
        open_concentrate(db, f"{kit} {part}, bottle 1", kit, part, volume, opened_at=start, price=price)


def _wedge(rng: np.random.Generator, strength: float, area: float, days: float) -> Wedge:
    """A control patch that fades with the bath, with the noise of a drum and a scanner."""
    loss = -np.log(strength)
    run = rng.normal(0, 0.016) + rng.normal(0, 0.006, 3)
    steps = _AIM.copy()
    steps[0] += 0.0004 * days + 0.002 * area
    steps[1] += run - 0.16 * loss - 0.03 * area * np.array([1.0, 0.9, 1.2])
    steps[2] += run - 0.30 * loss - 0.05 * area * np.array([1.0, 0.9, 1.2])
    steps[3] -= 0.10 * loss
    white, light, dark, black = (tuple(np.round(step + rng.normal(0, 0.005, 3), 3).tolist()) for step in steps)
    return Wedge(white=white, light=light, dark=dark, black=black)
