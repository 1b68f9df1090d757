"""Cutting: a published optimum, paper against cutting size by size, the large plan in time, fog found.

Instances of the large plan are invented from a seed; sizes and widths are common ones.
"""

import argparse
import csv
import math
import random
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np

from printlore.core.cutting.first_fit import cut_first_fit
from printlore.core.cutting.plan import plan_cuts
from printlore.core.cutting.wanted import Roll, Sheets, Trimmer, Wanted
from printlore.core.measure.fog import PLACES
from printroom.scans import Faults

DATA = Path(__file__).parents[1] / "tests" / "data"
sys.path.insert(0, str(DATA.parent))
from fogged_sheets import leak_of_peak, reading  # noqa: E402

SIDES = (102, 127, 152, 178, 203, 240, 254, 279, 305, 356, 406, 450, 508, 610, 762)
WIDTHS = (305, 508, 610, 762, 1016, 1270)
SECONDS = 30.0


def rows(name: str) -> list[dict[str, str]]:
    lines = (DATA / name).read_text().splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def paper_machine() -> None:
    """Master rolls of 5600 mm: 73 is the published optimum."""
    wanted = [
        Wanted(name=row["item_width_mm"], along=1000, across=float(row["item_width_mm"]), count=int(row["demand"]))
        for row in rows("cut1d_master_roll_5600mm.csv")
    ]
    masters = Sheets(name="master", lot="any", along=1000, across=5600, count=219)
    machine = Trimmer(blade_length=6000, shortest_stop=1)
    began = time.perf_counter()
    plan = plan_cuts(wanted, [masters], machine, settings_per_sitting=None)
    seconds = time.perf_counter() - began
    used = sum(count for sitting in plan.sittings for _, count in sitting.sections)
    greedy = sum(count for _, count in cut_first_fit(wanted, [masters], machine))
    wanted_area = sum(w.area * w.count for w in wanted)
    waste, plain = used * 5600 * 1000 - wanted_area, greedy * 5600 * 1000 - wanted_area
    print(f"paper machine: {used} rolls (published 73), gap {plan.gap:.4f}, {seconds:.2f} s; one size at a time")
    print(f"{greedy} rolls: waste {waste / plain:.2f} of that")


def large(seed: int, plenty: float) -> tuple[list[Wanted], list[Roll], Trimmer]:
    """10 rolls, 40 sizes, 500 sheets; the rolls hold ``plenty`` times the paper wanted."""
    rng = random.Random(seed)
    sizes: set[tuple[int, int]] = set()
    while len(sizes) < 40:
        along, across = rng.choice(SIDES), rng.choice(SIDES)
        if across <= along <= 3 * across:
            sizes.add((along, across))
    counts = [1] * 40
    for _ in range(460):
        counts[rng.randrange(40)] += 1
    wanted = [
        Wanted(name=f"{across} x {along}", along=along, across=across, count=count, may_turn=rng.random() < 0.6)
        for (along, across), count in zip(sorted(sizes), counts, strict=True)
    ]
    area = sum(w.area * w.count for w in wanted)
    rolls = []
    for number in range(10):
        width = rng.choice(WIDTHS) if number else WIDTHS[-1]
        length = round(plenty * area / 10 / width * rng.uniform(0.5, 1.5))
        rolls.append(Roll(name=f"roll {number}", lot="abc"[number % 3], width=width, length=length))
    return wanted, rolls, Trimmer(blade_length=1300)


def large_plans(seeds: int) -> None:
    """First plan within a second, proven or within 1 % in 30 s; surplus paper against cutting size by size."""
    print("seed plenty  first s  settings (bound)   gap %   total s   paper m2  one by one m2  surplus ratio")
    for plenty in (6.0, 2.0):
        for seed in range(1, seeds + 1):
            wanted, rolls, trimmer = large(seed, plenty)
            first: list[float] = []
            plan = plan_cuts(
                wanted,
                rolls,
                trimmer,
                seconds=SECONDS,
                gap=0.01,
                report=lambda found, first=first: first.append(found.seconds),
            )
            greedy = sum(section.area * count for section, count in cut_first_fit(wanted, rolls, trimmer))
            area = sum(w.area * w.count for w in wanted)
            ratio = (plan.paper - area) / (greedy - area)
            late = "" if first[0] <= 1 and plan.gap <= 0.01 and plan.settings <= plan.settings_bound else "  MISSED"
            paper, plain = plan.paper / 1e6, greedy / 1e6
            print(
                f"{seed:4} {plenty:6.0f} {first[0]:8.2f} {plan.settings:9} ({plan.settings_bound:.0f}) "
                f"{100 * plan.gap:10.2f} {plan.seconds:9.1f} {paper:10.2f} {plain:14.2f} {ratio:14.2f}{late}"
            )


FIRST_ROOM, ROOMS = 300, 60
"""Rooms (papers, scanners) of the fog sheets; none of them was looked at while the method was made."""


def fog_sheet(number: int, leaking: bool) -> tuple[str, str, bool, str, str]:
    """Light, light named first, whether the place was right, the other light named, first place named.

    A sound sheet has no light; a sheet on which no fog was found names none.
    """
    rng = np.random.default_rng([17, number, leaking])
    room = FIRST_ROOM + number % ROOMS
    faults = Faults(uneven=rng.uniform(0, 0.05), rotation=rng.uniform(-0.5, 0.5), noise=rng.uniform(0.002, 0.008))
    if not leaking:
        found = reading(room, number, faults=faults).fog
        return "", str(found[0].light) if found else "", False, "", found[0].where if found else ""
    where, light = str(rng.choice(PLACES)), str(rng.choice(["red", "green", "blue", "white"]))
    peak = float(np.exp(rng.uniform(np.log(0.03), np.log(0.4))))
    leak = leak_of_peak(room, where, light, peak, float(rng.uniform(0.1, 0.5)))
    found = reading(room, 5000 + number, [leak], faults).fog
    if not found:
        return light, "", False, "", ""
    return light, str(found[0].light), found[0].where == where, str(found[0].or_light), found[0].where


def share(right: int, of: int) -> str:
    """Per cent with its standard error (binomial, one success and failure added so that 0 has one too)."""
    guess = (right + 1) / (of + 2)
    return f"{right / of:.1%} +- {math.sqrt(guess * (1 - guess) / of):.1%}"


def fog(leaks: int, sound: int) -> None:
    """Planted leaks from the simulated print room, peak 0.03 to 0.4; sound sheets beside them."""
    with ProcessPoolExecutor(2) as pool:
        leaked = list(pool.map(fog_sheet, range(leaks), [True] * leaks, chunksize=8))
        clean = list(pool.map(fog_sheet, range(sound), [False] * sound, chunksize=8))
    accused = sum(bool(named) for _, named, *_ in clean)
    place = sum(at_edge for _, _, at_edge, *_ in leaked)
    first = sum(at_edge and light == named for light, named, at_edge, *_ in leaked)
    either = sum(at_edge and light in (named, other) for light, named, at_edge, other, _ in leaked)
    print(f"fog: {leaks} planted leaks in {ROOMS} rooms: place right {share(place, leaks)},")
    print(f"     place and light right {share(first, leaks)},")
    print(f"     place right and the light one of the two named {share(either, leaks)};")
    print(f"     {sound} sound sheets, accused {share(accused, sound)}")
    print("     planted  named red  green  blue  white   none or elsewhere")
    for planted in ("red", "green", "blue", "white"):
        mine = [(named if at_edge else "") for light, named, at_edge, *_ in leaked if light == planted]
        red, green, blue, white, none = (mine.count(name) for name in ("red", "green", "blue", "white", ""))
        print(f"     {planted:8} {red:9} {green:6} {blue:5} {white:6} {none:9}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=3, help="large plans of each kind")
    parser.add_argument("--leaks", type=int, default=480, help="fogged sheets")
    parser.add_argument("--sound", type=int, default=240, help="sound sheets")
    asked = parser.parse_args()
    paper_machine()
    large_plans(asked.seeds)
    fog(asked.leaks, asked.sound)


if __name__ == "__main__":
    main()
