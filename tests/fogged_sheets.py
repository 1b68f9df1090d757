"""Scans of unexposed sheets from the simulated print room, sound or with planted leaks of known peak."""

import functools

import numpy as np

from printlore.core.measure.fog import read_fog, sheet_blocks
from printlore.core.measure.scan import Box, Scan
from printlore.core.measure.scanner import grey_wedge
from printlore.core.measure.wedge import read_wedge, wedge_boxes
from printroom.room import Conditions, Room
from printroom.scans import LEAK_LAYERS, WEDGE_DENSITIES, Faults, Leak, Scanner

SOUND = Faults()
PIXELS_PER_MM = 1.5
SIZE_MM = (254.0, 203.0)


@functools.cache
def scanner(seed):
    room = Room(seed=seed)
    room.add_lot("lot")
    room.add_bath("bath")
    return Scanner(room, seed=seed)


CONDITIONS = Conditions(lot="lot", bath="bath")


def true_peak(seed, leak):
    """Density over base (3,) at the edge, from the room itself."""
    room = scanner(seed).room
    exposure = 10.0**leak.log_exposure * np.array(LEAK_LAYERS[leak.light])
    logs = np.log10(np.stack([np.full(3, 1e-8), exposure + 1e-8]))[:, None, :]
    density = [room.paper.density_and_lab(dye)[0] for dye in room.dye_at(logs, CONDITIONS)[:, 0]]
    return density[1] - density[0]


def leak_of_peak(seed, where, light, peak, reach):
    """A leak whose strongest layer has this density over base at the edge."""
    low, high = -4.0, 0.5
    for _ in range(40):
        middle = (low + high) / 2
        leak = Leak(where=where, light=light, log_exposure=middle, reach=reach)
        if true_peak(seed, leak).max() < peak:
            low = middle
        else:
            high = middle
    return Leak(where=where, light=light, log_exposure=high, reach=reach)


def reading(seed, scan, leaks=(), faults=SOUND, known_base=None):
    """Fog read from a scan, the sheet's box and the wedge's ends given, as a person would draw them."""
    made = scanner(seed).blank(
        CONDITIONS,
        leaks=leaks,
        faults=faults,
        wedge=WEDGE_DENSITIES,
        pixels_per_mm=PIXELS_PER_MM,
        size_mm=SIZE_MM,
        scan=scan,
    )
    picture = Scan(pixels=made.pixels, name="blank")
    ends = [Box(left=b[0], top=b[1], right=b[2], bottom=b[3]) for b in (made.wedge[0].box, made.wedge[-1].box)]
    report = read_wedge(picture, grey_wedge(WEDGE_DENSITIES), wedge_boxes(ends[0], ends[1], len(WEDGE_DENSITIES)))
    x, y = np.sort(made.paper[:, 0]), np.sort(made.paper[:, 1])
    box = Box(left=int(x[1]) + 1, top=int(y[1]) + 1, right=int(x[2]), bottom=int(y[2]))
    blocks = sheet_blocks(picture, box, report.curves, millimetres_per_pixel=1 / PIXELS_PER_MM)
    return read_fog(blocks, known_base=known_base, size=SIZE_MM)
