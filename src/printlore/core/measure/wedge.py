"""Find the grey wedge in a scan and read the scanner's curves off it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from printlore.core.flags import Flag
from printlore.core.measure.evenness import Evenness
from printlore.core.measure.patches import read_light
from printlore.core.measure.scan import Box, Floats, Scan
from printlore.core.measure.scanner import Material, ScannerCurves, Wedge, calibrate, fit_tone_curve
from printlore.errors import ValueOutOfRange

SEARCH_SIDE = 400
"""[px] Longer side of the reduced scan in which wedge and paper are looked for."""
INSET = 0.2
"""Share of a step that is left out at each of its edges."""

_LIGHTER_THAN_WHITE = -0.05
"""[density] No ground is; steps read one place along make it so."""

_NOT_A_WEDGE = 0.035
"""[density] Median misfit above which equally wide steps are not the wedge that is looked for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WedgeReport:
    """How the wedge in a scan was read.

    Attributes
    ----------
    name : str
    boxes : tuple of Box
        Where each step was read, in the order of the stated densities.
    curves : ScannerCurves
    flare : (3,) floats
        Stray light as a share of white [1].
    lightest, darkest : (3,) floats
        Densities [1] between which the curves hold.
    material : Material
    """

    name: str
    boxes: tuple[Box, ...]
    curves: ScannerCurves
    flare: tuple[float, float, float]
    lightest: tuple[float, float, float]
    darkest: tuple[float, float, float]
    material: Material = Material.UNKNOWN


def _spans(starts: Floats, pitches: Floats, count: int, length: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """First sample of the middle of each step, and the one beyond the last, (steps, layouts)."""
    edge = starts + pitches * np.arange(count)[:, None]
    first = np.clip(np.rint(edge + 0.15 * pitches).astype(np.intp), 0, length - 1)
    return first, np.clip(np.rint(edge + 0.85 * pitches).astype(np.intp), first + 1, length)


def _layouts(profile: Floats, spans: tuple[NDArray[np.intp], NDArray[np.intp]], stated: Floats) -> Floats:
    """Score of a wedge laid in each way on a profile (length,): 1 fits; below 0, it is turned."""
    first, last = spans
    count = len(stated)
    running = np.concatenate([[0.0], np.cumsum(profile)])
    squares = np.concatenate([[0.0], np.cumsum(profile**2)])
    size = last - first
    mean = (running[last] - running[first]) / size
    square = ((squares[last] - squares[first]) / size).sum(axis=0) / count
    of_means = (mean**2).sum(axis=0) / count
    total = np.maximum(of_means - (mean.sum(axis=0) / count) ** 2, 0.0)
    within = np.maximum(square - of_means, 0.0)
    x = stated.mean() - stated
    slope = (x @ mean) / (x @ x)
    unexplained = np.maximum(total - slope**2 * (x @ x) / count, 0.0)
    score = np.maximum(1.0 - (unexplained + 4.0 * within) / np.maximum(total + within, 1e-9), 0.0)
    plausible = (np.abs(slope) > 0.2) & (np.abs(slope) < 1.5)
    return np.asarray(np.where(plausible, score, 0.0) * np.sign(slope))


_Layout = tuple[bool, bool, int, int, float, float]
"""Turned round, lying upright, top and height of the band that shows it, start, width of a step [px]."""


def find_wedge(scan: Scan, wedge: Wedge) -> tuple[Box, ...]:
    """Boxes of the wedge's steps, in the order of the stated densities.

    The wedge may lie along either side of the picture, either way round, and up to about 3
    degrees askew; its steps are equally wide.

    Raises
    ------
    ValueOutOfRange
        If nothing in the scan looks like this wedge.
    """
    picture, block = scan.log_reduced(SEARCH_SIDE)
    stated = wedge.as_array()[:, 1]
    count = len(stated)
    found = None
    for coarse in (2, 1):  # half the detail finds most wedges in a quarter of the time
        found = found or _laid_out(
            picture, _candidates(picture[coarse // 2 :: coarse, ::coarse], stated, coarse), stated
        )
    if found is None:
        raise ValueOutOfRange(
            f'No wedge of {count} steps was found in scan "{scan.name}". Lay the wedge straight beside the strip and '
            "scan again, or draw a box about its first and last step."
        )
    turned_round, turned, top, height, start, pitch = found
    view = picture.transpose(1, 0, 2) if turned else picture
    boxes = []
    for step in range(count):
        left, right = start + (step + INSET) * pitch, start + (step + 1 - INSET) * pitch
        first, last = max(round(left), 0), max(round(right), round(left) + 1)
        across = np.median(view[:, first:last], axis=1)
        level = np.median(across[top : top + height], axis=0)
        nearest = top + int(np.argmin(np.abs(across[top : top + height] - level).max(axis=1)))
        low, high = _extent(across, nearest, level)
        boxes.append((left, low, right, high))
    # A step may melt into its surroundings; its neighbours say how tall it is.
    lows, highs = np.array([b[1] for b in boxes], float), np.array([b[3] for b in boxes], float)
    line = np.arange(count)
    low_line, high_line = _robust_line(line, lows), _robust_line(line, highs)
    if turned_round:
        boxes.reverse()
        low_line, high_line = low_line[::-1], high_line[::-1]
    inner = []
    for (left, _, right, _), low, high in zip(boxes, low_line, high_line, strict=True):
        margin = INSET * (high - low)
        sides = np.rint(np.array([left, low + margin, right, high - margin]) * block).astype(int)
        if turned:
            sides = sides[[1, 0, 3, 2]]
        inner.append(scan.box_within(sides))
    return tuple(inner)


def _candidates(picture: Floats, stated: Floats, coarse: int) -> list[_Layout]:
    """Where a wedge may lie in a picture, best first, in pixels of a picture ``coarse`` times as large."""
    count = len(stated)
    candidates: list[tuple[float, _Layout]] = []
    for turned in (False, True):
        view = picture.transpose(1, 0, 2) if turned else picture
        rows, length = view.shape[:2]
        narrowest, widest = max(3.0, 0.15 * length / count), length / count
        if widest < 3.0:
            continue
        starts, pitches = [], []
        pitch = narrowest
        while pitch <= widest:
            at = np.arange(0.0, length - pitch * count + 0.5, max(1.0, 0.2 * pitch))
            starts.append(at)
            pitches.append(np.full(len(at), pitch))
            pitch *= 1 + 0.35 / count
        all_starts, all_pitches = np.concatenate(starts), np.concatenate(pitches)
        spans = _spans(all_starts, all_pitches, count, length)
        height = max(2, rows // 40)
        for top in range(0, rows - height + 1, height):
            profile = np.median(view[top : top + height, :, 1], axis=0)
            if np.ptp(profile) < 0.2:
                continue
            scores = _layouts(profile, spans, stated)
            peak = int(np.argmax(np.abs(scores)))
            if abs(scores[peak]) > 0.9:
                start, pitch = float(all_starts[peak]) * coarse, float(all_pitches[peak]) * coarse
                layout = (bool(scores[peak] < 0), turned, top * coarse, height * coarse, start, pitch)
                candidates.append((abs(float(scores[peak])), layout))
    return [layout for _, layout in sorted(candidates, key=lambda candidate: -candidate[0])]


def _laid_out(picture: Floats, candidates: list[_Layout], stated: Floats) -> _Layout | None:
    """The candidate that fits best, its place made finer, if it is a wedge at all."""
    found: list[tuple[float, _Layout]] = []
    for turned_round, turned, top, height, start, pitch in candidates[:4]:
        view = picture.transpose(1, 0, 2) if turned else picture
        band = np.median(view[top : top + height, :, 1], axis=0)
        start, pitch = _refined(band, start, pitch, stated)
        # One step along, a layout fits nearly as well: an unknown gain hides the shift.
        along = stated[::-1] if turned_round else stated
        misfits = [_misfit_of_wedge(band, start + move * pitch, pitch, along) for move in (-1, 0, 1)]
        if min(misfits) < _NOT_A_WEDGE:
            start += (int(np.argmin(misfits)) - 1) * pitch
            found.append((min(misfits), (turned_round, turned, top, height, start, pitch)))
    if not found:
        return None
    # Of the bands that fit about equally well, the middle one is well inside the wedge.
    best = min(misfit for misfit, _ in found)
    good = sorted((layout for misfit, layout in found if misfit <= 1.5 * best + 0.001), key=lambda layout: layout[2])
    return good[len(good) // 2]


def _misfit_of_wedge(band: Floats, start: float, pitch: float, stated: Floats) -> float:
    """How far [density, rms] steps laid out on a band (length,) are from a wedge; infinite if they leave it.

    Another staircase, such as the strip itself, can look much like a wedge; its levels give it away. On
    both sides of a wedge lies the same ground; where it does not, a step was left over.
    """
    count = len(stated)
    if start + 0.5 * pitch < 0 or start + (count - 0.5) * pitch > len(band):
        return np.inf
    level = np.array(
        [_between(band, start + pitch * (k + INSET), start + pitch * (k + 1 - INSET)) for k in range(count)]
    )
    try:
        curve = fit_tone_curve(10.0**level, stated)
    except ValueOutOfRange:
        return np.inf
    left = np.sort(np.abs(curve.density(10.0**level) - stated))
    misfit = float(np.sqrt(np.mean(left[: max(count - count // 10, 4)] ** 2))) + 0.1 * float(left[-1])
    before = _between(band, start - 0.7 * pitch, start - 0.3 * pitch)
    after = _between(band, start + (count + 0.3) * pitch, start + (count + 0.7) * pitch)
    unlike = abs(before - after) if np.isfinite(before + after) else 0.0
    return misfit + 0.01 * min(unlike / 0.1, 1.0)


def _between(band: Floats, start: float, stop: float) -> float:
    """Median of a band between two places; NaN outside it."""
    first, last = max(round(start), 0), min(max(round(stop), round(start) + 1), len(band))
    return float(np.median(band[first:last])) if first < last else float("nan")


def _robust_line(x: NDArray[np.int_], y: Floats) -> Floats:
    """Straight line through most of the points (median of slopes, then median of offsets)."""
    i, j = np.triu_indices(len(x), 1)
    slope = float(np.median((y[j] - y[i]) / (x[j] - x[i])))
    return np.asarray(np.median(y - slope * x) + slope * x, dtype=float)


def _refined(profile: Floats, start: float, pitch: float, stated: Floats) -> tuple[float, float]:
    """Better start and pitch, on a finely sampled profile."""
    fine = 8
    sampled = np.interp(np.arange(0, len(profile), 1 / fine), np.arange(len(profile)), profile)
    for spread in (1.0, 0.3):
        moves, stretches = np.meshgrid(
            np.linspace(-0.4, 0.4, 17) * pitch * spread, np.linspace(-0.5, 0.5, 17) * spread / len(stated)
        )
        starts, pitches = (start + moves).ravel(), (pitch * (1 + stretches)).ravel()
        spans = _spans(starts * fine, pitches * fine, len(stated), len(sampled))
        score = np.abs(_layouts(sampled, spans, stated))
        # Many layouts are as good when steps are clean: the middle of them is the best guess.
        good = score >= score.max() - 0.02 * (1 - score.max()) - 1e-6
        start, pitch = float(starts[good].mean()), float(pitches[good].mean())
    return start, pitch


def _extent(across: Floats, middle: int, level: Floats) -> tuple[int, int]:
    """Rows about the middle in which a profile (rows, 3) stays at a level."""
    same = np.all(np.abs(across - level) < 0.04, axis=1)
    low = high = int(np.clip(middle, 0, len(same) - 1))
    while low > 0 and same[low - 1]:
        low -= 1
    while high < len(same) - 1 and same[high + 1]:
        high += 1
    return low, high + 1


def wedge_boxes(first: Box, last: Box, count: int) -> tuple[Box, ...]:
    """Boxes of all steps from those drawn about the first and the last, evenly between them."""
    ends = [np.array([b.left, b.top, b.right, b.bottom], dtype=float) for b in (first, last)]
    boxes = []
    for share in np.linspace(0, 1, count):
        left, top, right, bottom = (int(v) for v in np.rint(ends[0] + share * (ends[1] - ends[0])))
        boxes.append(Box(left=left, top=top, right=right, bottom=bottom))
    return tuple(boxes)


def _steps_beyond(scan: Scan, boxes: Sequence[Box], curves: ScannerCurves) -> bool:
    """Whether the wedge seems to go on beyond the stated steps, or to have been read one place along.

    A gain that is not known hides such a shift: every density is off by a step then, and the fit is as good.
    """
    here = [float(curves.density(np.array(read_light(scan, box).light)).mean()) for box in boxes]
    beyond = []
    for end, inner in ((0, 1), (-1, -2)):
        x, y = (2 * a - b for a, b in zip(boxes[end].centre, boxes[inner].centre, strict=True))
        width, height = boxes[end].width, boxes[end].height
        if not (width / 2 <= x <= scan.size[0] - width / 2 and height / 2 <= y <= scan.size[1] - height / 2):
            return False
        left, top = round(x - width / 2), round(y - height / 2)
        box = scan.box_within(np.array([left, top, left + width, top + height]))
        beyond.append(float(curves.density(np.array(read_light(scan, box).light)).mean()))
    if min(beyond) < _LIGHTER_THAN_WHITE:
        return True
    darkest, next_to_it, outside, ground = (
        (here[0], here[1], beyond[0], beyond[1]) if here[0] > here[-1] else (here[-1], here[-2], beyond[1], beyond[0])
    )
    step = darkest - next_to_it
    return abs(outside - darkest - step) < 0.3 * step and abs(outside - ground) > step


def read_wedge(
    scan: Scan, wedge: Wedge, boxes: Sequence[Box] | None = None, *, evenness: Evenness | None = None
) -> WedgeReport:
    """Scanner curves from the wedge in a scan.

    Parameters
    ----------
    boxes : sequence of Box, optional
        One for each stated density, in its order; ``None``: found in the scan.
    evenness : Evenness, optional
        Of this scanner at these settings.

    Raises
    ------
    ValueOutOfRange
        If no wedge is found, or too few of its steps are usable.
    """
    boxes = tuple(boxes) if boxes is not None else find_wedge(scan, wedge)
    if len(boxes) != len(wedge.densities):
        raise ValueOutOfRange(
            f'Wedge "{wedge.name}" has {len(wedge.densities)} steps, but {len(boxes)} boxes were given.'
        )
    patches = [read_light(scan, box) for box in boxes]
    light = [patch.light for patch in patches]
    usable = [not any(patch.clipped_channels) and Flag.NOISY not in patch.flags for patch in patches]
    curves = calibrate(light, wedge, usable=usable)
    if evenness is not None:
        for _ in range(2):  # what uneven light adds is known through the curves only
            added = np.array([evenness.density_offset(curves, box.centre, scan.size) for box in boxes])
            curves = calibrate(light, wedge, usable=usable, added=added)
    if _steps_beyond(scan, boxes, curves):
        curves = replace(curves, flags=(*curves.flags, Flag.WEDGE_COUNT))
    ends = [curve.density(10.0 ** np.array(curve.span)) for curve in curves.curves]
    flares = [curve.flare / curve.gain for curve in curves.curves]
    return WedgeReport(
        name=wedge.name,
        boxes=boxes,
        curves=curves,
        flare=(flares[0], flares[1], flares[2]),
        lightest=(float(ends[0].min()), float(ends[1].min()), float(ends[2].min())),
        darkest=(float(ends[0].max()), float(ends[1].max()), float(ends[2].max())),
        material=wedge.material,
    )
