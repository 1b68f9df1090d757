"""Find the wedge and the steps of a test strip in a scan, and read them.

A strip is of one of two kinds. On a *same-tone* strip every step shows the reference patch (a slot
mask over it, the paper moved): each step informs the reference. On an *across-picture* strip the
steps cross the picture, and only the step that holds the reference does.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from printlore.core.figure import Figure
from printlore.core.flags import Flag
from printlore.core.measure.characterise import ScannerProfile
from printlore.core.measure.evenness import Evenness
from printlore.core.measure.pairs import LearnedShift, PairKind
from printlore.core.measure.patches import PatchReading, read_light, read_patch
from printlore.core.measure.scan import Box, Floats, Scan
from printlore.core.measure.scanner import Material, ScannerCurves, Wedge, calibrate, fit_tone_curve
from printlore.errors import ValueOutOfRange

_SEARCH_SIDE = 400
_DARKEST = 1e-5
_INSET = 0.2
_NOT_A_WEDGE = 0.035
"""[density] Median misfit above which equally wide steps are not the wedge that is looked for."""
_MOST_STEPS = 24
_LEAST_STEP = 0.015
"""[log10 light] Smaller differences between neighbours along a strip are not taken for an edge of a step."""


_FAINT_STEP = 0.005
"""[log10 light] The same beyond the end of a strip, where a light step lies on light ground."""


class StripKind(StrEnum):
    """What the steps of a strip show."""

    SAME_TONE = "same_tone"
    ACROSS_PICTURE = "across_picture"


class Exposures(StrEnum):
    """How the steps were exposed: each for itself, or each uncovered part once more with every exposure."""

    SEPARATE = "separate"
    CUMULATIVE = "cumulative"


def step_times(times: Sequence[float], exposures: Exposures) -> tuple[float, ...]:
    """Seconds that each step has had in all.

    Parameters
    ----------
    times : sequence of float
        As given one after the other [s]. Cumulative: the first step stays open throughout, the
        last is open only for the last exposure.

    Raises
    ------
    ValueOutOfRange
        If a time is not above 0.
    """
    for number, time in enumerate(times, 1):
        if not (np.isfinite(time) and time > 0):
            raise ValueOutOfRange(f"Exposure {number} of the strip is {Figure(time):g} s; it must be above 0.")
    if exposures is Exposures.SEPARATE:
        return tuple(float(time) for time in times)
    return tuple(float(total) for total in np.cumsum(np.asarray(times, dtype=float)[::-1])[::-1])


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


@dataclass(frozen=True, slots=True, kw_only=True)
class StripReading:
    """What a strip says.

    Attributes
    ----------
    steps : tuple of PatchReading
        In the order along the strip (left to right, or top to bottom), or of the boxes given.
    wedge : WedgeReport
    kind : StripKind
    exposures : Exposures
    reference_step : int or None
        From 0; on an across-picture strip, the step that holds the reference.
    flags : tuple of Flag
        About the scan as a whole.
    """

    steps: tuple[PatchReading, ...]
    wedge: WedgeReport
    kind: StripKind = StripKind.SAME_TONE
    exposures: Exposures = Exposures.SEPARATE
    reference_step: int | None = None
    flags: tuple[Flag, ...] = ()

    @property
    def informative(self) -> tuple[int, ...]:
        """Steps, from 0, that say something of the reference patch."""
        if self.kind is StripKind.SAME_TONE:
            return tuple(range(len(self.steps)))
        return () if self.reference_step is None else (self.reference_step,)


def _log(light: NDArray[np.float32]) -> Floats:
    return np.log10(np.maximum(light, _DARKEST)).astype(float)


# --- the wedge ---------------------------------------------------------------------------------


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
    light, block = scan.reduced(_SEARCH_SIDE)
    picture = _log(light)
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
        left, right = start + (step + _INSET) * pitch, start + (step + 1 - _INSET) * pitch
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
        margin = _INSET * (high - low)
        sides = np.rint(np.array([left, low + margin, right, high - margin]) * block).astype(int)
        if turned:
            sides = sides[[1, 0, 3, 2]]
        inner.append(_inside(scan, sides))
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
        [_between(band, start + pitch * (k + _INSET), start + pitch * (k + 1 - _INSET)) for k in range(count)]
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


def _inside(scan: Scan, sides: NDArray[np.int_]) -> Box:
    columns, rows = scan.size
    left, top = int(np.clip(sides[0], 0, columns - 2)), int(np.clip(sides[1], 0, rows - 2))
    return Box(
        left=left,
        top=top,
        right=int(np.clip(sides[2], left + 1, columns)),
        bottom=int(np.clip(sides[3], top + 1, rows)),
    )


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


# --- the steps ---------------------------------------------------------------------------------


def change_points(
    profile: Floats, count: int | None = None, *, shortest: int = 3, least: float = _LEAST_STEP
) -> list[int]:
    """Edges of the steps in a profile along a strip, both ends included.

    Parameters
    ----------
    profile : (length, channels) array of float
        log10 of light along the strip.
    count : int, optional
        Number of steps, if known; otherwise the number that a penalised least-squares cut takes.
    shortest : int
        Fewest samples of a step.
    least : float
        Smaller differences between neighbours are not taken for an edge, if the number is not known.

    Returns
    -------
    list of int
        Increasing, from 0 to length.
    """
    length, channels = profile.shape
    running = np.concatenate([np.zeros((1, channels)), np.cumsum(profile, axis=0)])
    squares = np.concatenate([[0.0], np.cumsum((profile**2).sum(axis=1))])

    def cost(starts: NDArray[np.intp], stop: int) -> Floats:
        size = stop - starts
        sums = running[stop] - running[starts]
        return np.asarray(squares[stop] - squares[starts] - (sums**2).sum(axis=1) / size)

    noise = 1.4826 * np.median(np.abs(np.diff(profile, axis=0)), axis=0) / np.sqrt(2)
    variance = float(np.maximum(noise, 0.003).mean()) ** 2 * channels
    most = min(count or _MOST_STEPS, length // shortest)
    table = np.full((most + 1, length + 1), np.inf)
    back = np.zeros((most + 1, length + 1), dtype=int)
    table[0, 0] = 0.0
    for stop in range(shortest, length + 1):
        starts = np.arange(0, stop - shortest + 1)
        price = cost(starts, stop)
        reach = table[:most, starts] + price
        at = np.argmin(reach, axis=1)
        table[1:, stop] = reach[np.arange(most), at]
        back[1:, stop] = at
    totals = table[1:, length]
    steps = most if count else 1 + int(np.argmin(totals + 6 * variance * np.log(length) * np.arange(1, most + 1)))
    edges = [length]
    for k in range(steps, 0, -1):
        edges.append(int(back[k, edges[-1]]))
    edges.reverse()
    if count:
        return edges
    # Faint neighbours are one step: slow unevenness is cut up by least squares, too.
    # So is a sliver between two steps, where a block of the reduced picture holds both.
    while len(edges) > 2:
        widths = np.diff(edges)
        sliver = int(np.argmin(widths))
        if widths[sliver] < 0.35 * np.median(widths) and 0 < sliver < len(widths) - 1:
            levels = _levels(profile, edges)
            nearer = np.abs(levels[[sliver - 1, sliver + 1]] - levels[sliver]).max(axis=1)
            del edges[sliver + int(np.argmin(nearer))]
            continue
        means = _levels(profile, edges)
        contrast = np.abs(np.diff(means, axis=0)).max(axis=1)
        faintest = int(np.argmin(contrast))
        if contrast[faintest] >= least:
            break
        del edges[faintest + 1]
    return edges


def _levels(profile: Floats, edges: list[int]) -> Floats:
    """Level of each step, (steps, channels)."""
    return np.array([np.median(profile[a:b], axis=0) for a, b in pairwise(edges)])


def _even(profile: Floats, count: int) -> list[int]:
    """Edges of equally wide steps from end to end."""
    return [round(edge) for edge in np.linspace(0, len(profile), count + 1)]


def _misfit(profile: Floats, edges: list[int]) -> float:
    return float(sum(((part - np.median(part, axis=0)) ** 2).sum() for part in np.split(profile, edges[1:-1])))


def find_paper(scan: Scan, wedge: Sequence[Box] = ()) -> Box:
    """Bounding box of the picture on the largest paper in the scan that is not the wedge.

    Raises
    ------
    ValueOutOfRange
        If nothing stands out.
    """
    light, block = scan.reduced(_SEARCH_SIDE)
    picture = _log(light)
    rim = np.concatenate([picture[0], picture[-1], picture[:, 0], picture[:, -1]])
    background = np.median(rim, axis=0)
    stands_out = np.abs(picture - background).max(axis=2) > 0.035
    if wedge:
        x = sorted(v / block for b in wedge for v in (b.left, b.right))
        y = sorted(v / block for b in wedge for v in (b.top, b.bottom))
        # The boxes were drawn in from the edges of the steps; the whole wedge is to go.
        wide, tall = (wedge[0].width / block, wedge[0].height / block)
        margin_x, margin_y = 0.6 * wide + 1, 0.6 * tall + 1
        stands_out[
            max(int(y[0] - margin_y), 0) : int(y[-1] + margin_y) + 1,
            max(int(x[0] - margin_x), 0) : int(x[-1] + margin_x) + 1,
        ] = False
    paper = _largest(stands_out)
    if paper is None:
        raise ValueOutOfRange(
            f'No paper was found in scan "{scan.name}" apart from the wedge. Lay it on a background of another tone, '
            "or draw the boxes of the steps."
        )
    # Paper often has a border that the easel covered; the picture is what differs from that.
    left, top, right, bottom = paper
    part = picture[top:bottom, left:right]
    inner = max(2, min(part.shape[:2]) // 50)
    rim = np.concatenate([part[inner], part[-1 - inner], part[:, inner], part[:, -1 - inner]])
    border = np.median(rim, axis=0)
    if np.mean(np.abs(rim - border).max(axis=1) < 0.03) > 0.8:
        within = _largest(np.abs(part - border).max(axis=2) > 0.035, full=0.08)
        if within is not None:
            # An easel's border is alike on opposite sides; a step as light as it may hide at one of them.
            x, y = (
                max(min(near, size - far), 0)
                for near, far, size in zip(within[:2], within[2:], part.shape[1::-1], strict=True)
            )
            if (part.shape[1] - 2 * x) * (part.shape[0] - 2 * y) > 0.2 * part.shape[0] * part.shape[1]:
                left, top, right, bottom = left + x, top + y, right - x, bottom - y
    return _inside(scan, np.array([left, top, right, bottom]) * block)


def _largest(mask: NDArray[np.bool_], *, full: float = 0.25) -> tuple[int, int, int, int] | None:
    """(left, top, right, bottom) of the largest connected part, if it is worth it."""
    labels, count = ndimage.label(ndimage.binary_opening(mask, iterations=1))
    if not count:
        return None
    sizes = np.bincount(labels.ravel())
    sizes[0] = 0
    largest = labels == int(np.argmax(sizes))
    rows, columns = np.flatnonzero(_mostly(largest, 1, full)), np.flatnonzero(_mostly(largest, 0, full))
    if sizes.max() < 0.005 * labels.size or len(rows) < 3 or len(columns) < 3:
        return None
    return int(columns[0]), int(rows[0]), int(columns[-1]) + 1, int(rows[-1]) + 1


def _mostly(mask: NDArray[np.bool_], axis: int, full: float) -> NDArray[np.bool_]:
    """Rows or columns that hold at least this share of what the fullest holds."""
    filled = mask.sum(axis=axis)
    return np.asarray(filled > full * np.quantile(filled[filled > 0], 0.9))


def find_steps(
    scan: Scan,
    paper: Box,
    *,
    count: int | None = None,
    kind: StripKind = StripKind.SAME_TONE,
    wedge: Sequence[Box] = (),
) -> tuple[tuple[Box, ...], tuple[Flag, ...]]:
    """Boxes of a strip's steps, drawn in from their edges, and doubts about them.

    Steps about as light as what the strip lies on are looked for beyond ``paper``, which ends where they begin.

    Parameters
    ----------
    paper : Box
        Where the strip lies, or what stands out of it.
    count : int, optional
        Number of steps, if known.
    wedge : sequence of Box, optional
        Of the wedge in the scan: no step lies there.

    Raises
    ------
    ValueOutOfRange
        If fewer than one step is asked for.
    """
    if count is not None and not 1 <= count <= 60:
        raise ValueOutOfRange(f"A strip of {count} steps cannot be; give 1 to 60, or none to have them counted.")
    part = Scan(pixels=scan.codes(paper), tone=scan.tone, name=scan.name, flags=scan.flags)
    light, block = part.reduced(300)
    picture = _log(light)
    profiles = [_profile(picture, along, kind) for along in (0, 1)]
    if kind is StripKind.ACROSS_PICTURE:
        along = int(paper.width > paper.height)
    else:
        along = int(np.argmax([np.var(profile, axis=0).sum() for profile in profiles]))
    profile = profiles[along]
    shortest = max(3, len(profile) // 60)
    counted = change_points(profile, shortest=shortest)
    if kind is StripKind.SAME_TONE:
        seen_edges = _trimmed(counted)
        levels = _levels(profile, seen_edges)
        longer, unsure = _with_light_ends(scan, paper, seen_edges, levels, block, along, wedge, count)
        if longer != paper:
            found, doubts = find_steps(scan, longer, count=count, kind=kind)
            return found, tuple(dict.fromkeys((*doubts, *unsure)))
    if count is None:
        counted = edges = _trimmed(counted)
    else:
        # Steps are equally wide unless seen otherwise: faint neighbours cannot be told apart by their tone.
        edges, even = change_points(profile, count, shortest=shortest), _even(profile, count)
        seen = max(min(abs(edge - known) for known in even) for edge in counted) < 0.2 * len(profile) / count
        if seen or _misfit(profile, even) < 2 * _misfit(profile, edges) + len(profile) * 0.01**2:
            edges = even
    flags: tuple[Flag, ...] = ()
    contrasts = np.abs(np.diff(_levels(profile, counted), axis=0)).max(axis=1) if len(counted) > 2 else np.array([])
    astray = any(
        contrast > 0.03 and min(abs(edge - known) for known in edges) > 0.2 * np.median(np.diff(edges))
        for edge, contrast in zip(counted[1:-1], contrasts, strict=True)
    )
    widths = np.diff(edges)
    means = _levels(profile, edges)
    faint = len(means) > 1 and np.abs(np.diff(means, axis=0)).max(axis=1).min() < _LEAST_STEP
    astray = astray or len(counted) != len(edges)
    if astray or (len(widths) > 1 and (widths.max() > 1.7 * np.median(widths) or faint)):
        flags = (Flag.STEPS_UNSURE,)
    boxes = []
    for first, last in pairwise(edges):
        low, high = first * block, last * block
        box = (
            Box(left=paper.left + low, top=paper.top, right=paper.left + high, bottom=paper.bottom)
            if along
            else Box(left=paper.left, top=paper.top + low, right=paper.right, bottom=paper.top + high)
        )
        boxes.append(box.inset(_INSET))
    return tuple(boxes), flags


def _trimmed(edges: list[int]) -> list[int]:
    """Edges without rims of unexposed paper, which are narrower than a step."""
    edges = list(edges)
    width = float(np.median(np.diff(edges)))
    while len(edges) > 3 and edges[1] - edges[0] < 0.5 * width:
        del edges[0]
    while len(edges) > 3 and edges[-1] - edges[-2] < 0.5 * width:
        del edges[-1]
    return edges


def _with_light_ends(
    scan: Scan,
    paper: Box,
    edges: list[int],
    levels: Floats,
    block: int,
    along: int,
    wedge: Sequence[Box],
    count: int | None,
) -> tuple[Box, tuple[Flag, ...]]:
    """The box of a strip with the steps that are about as light as the ground beyond its light end."""
    widths = np.diff(edges)
    missing = None if count is None else count - len(widths)
    if len(widths) < 2 or widths.max() > 1.4 * widths.min() or missing == 0:
        return paper, ()
    pitch = float(np.median(widths)) * block
    sides = (paper.left, paper.right) if along else (paper.top, paper.bottom)
    ends = [sides[0] + edges[0] * block, sides[0] + edges[-1] * block]
    rows = (paper.top, paper.bottom) if along else (paper.left, paper.right)
    limits = [0, scan.size[0] if along else scan.size[1]]
    for box in wedge:
        low, high = (box.top, box.bottom) if along else (box.left, box.right)
        if low < rows[1] and rows[0] < high:
            near, far = (box.right, box.left) if along else (box.bottom, box.top)
            limits = [
                max(limits[0], near) if near <= ends[0] else limits[0],
                min(limits[1], far) if far >= ends[1] else limits[1],
            ]
    light_end = int(levels[-1].sum() > levels[0].sum())
    start, stop = sorted((ends[light_end], limits[light_end]))
    room = (stop - start) / pitch
    if room < 0.8:
        return paper, ()
    found, unsure = _light_steps(scan, (start, stop), rows, along, pitch, levels[-light_end], reverse=not light_end)
    if missing is not None and found != missing:
        found, unsure = (missing, (Flag.STEPS_UNSURE,)) if 0 < missing <= room + 0.1 else (0, ())
    ends[light_end] += round((1 if light_end else -1) * found * pitch)
    low, high = max(ends[0], 0), min(ends[1], limits[1])
    if not found:
        return paper, ()
    if along:
        return Box(left=low, top=paper.top, right=high, bottom=paper.bottom), unsure
    return Box(left=paper.left, top=low, right=paper.right, bottom=high), unsure


def _light_steps(
    scan: Scan,
    span: tuple[int, int],
    rows: tuple[int, int],
    along: int,
    pitch: float,
    neighbour: Floats,
    *,
    reverse: bool,
) -> tuple[int, tuple[Flag, ...]]:
    """How many steps of this width [px] go on from a strip's light end into a span beside it, and any doubt."""
    place = (
        Box(left=span[0], top=rows[0], right=span[1], bottom=rows[1])
        if along
        else Box(left=rows[0], top=span[0], right=rows[1], bottom=span[1])
    )
    light, block = Scan(pixels=scan.codes(place), tone=scan.tone, name=scan.name).reduced(300)
    profile = _profile(_log(light), along, StripKind.SAME_TONE)
    profile = profile[::-1] if reverse else profile
    width = pitch / block
    edges = change_points(profile, shortest=3, least=_FAINT_STEP)
    found, before, doubt = 0, neighbour, False
    for first, last in pairwise(edges):
        steps = (last - first) / width
        level = np.median(profile[first:last], axis=0)
        # The ground ends at the scan's edge; a border beside the last step may look like it.
        whole = max(round(steps - 0.1), 0)
        if last == edges[-1] or not 1 <= whole <= 2 or abs(steps - whole) > 0.3 or (level - before).mean() < 0:
            break
        beyond = np.median(profile[last : last + max(int(0.2 * width), 2)], axis=0)
        doubt = doubt or whole > 1 or min(np.abs(level - before).max(), np.abs(level - beyond).max()) < _LEAST_STEP
        found, before = found + whole, level
    return found, (Flag.STEPS_UNSURE,) if doubt else ()


def _profile(picture: Floats, along: int, kind: StripKind) -> Floats:
    """log10 of light along the strip (along 1: left to right), free of what changes across it."""
    view = picture if along else picture.transpose(1, 0, 2)
    rim = view.shape[0] // 5
    view = view[rim : view.shape[0] - rim]
    if kind is StripKind.SAME_TONE:
        return np.median(view, axis=0)
    # A step changes the whole width at once by one amount; the picture's own edges do not.
    change = np.median(np.diff(view, axis=1), axis=0)
    return np.concatenate([np.zeros((1, 3)), np.cumsum(change, axis=0)])


def read_strip(
    scan: Scan,
    wedge: WedgeReport,
    *,
    boxes: Sequence[Box] | None = None,
    count: int | None = None,
    kind: StripKind = StripKind.SAME_TONE,
    exposures: Exposures = Exposures.SEPARATE,
    reference_step: int | None = None,
    evenness: Evenness | None = None,
    profile: ScannerProfile | None = None,
    dyes: LearnedShift | None = None,
) -> StripReading:
    """Densities of a strip's steps.

    Parameters
    ----------
    scan : Scan
    wedge : WedgeReport
        From this scan, or an earlier one by the same scanner at the same settings.
    boxes : sequence of Box, optional
        Where to read; ``None``: steps are found.
    count : int, optional
        Number of steps, if known.
    reference_step : int, optional
        From 0; needed on an across-picture strip for it to inform the reference.
    evenness : Evenness, optional
        Of this scanner at these settings; the wedge must have been read with it, too.
    profile : ScannerProfile, optional
        Of this scanner, by a chart: gives status A densities and Lab.
    dyes : LearnedShift, optional
        What known patches say of this paper's dyes in this scanner.

    Raises
    ------
    ValueOutOfRange
        If no paper is found, a box reaches outside, or the reference step is not there.
    """
    flags: tuple[Flag, ...] = ()
    if boxes is None:
        boxes, flags = find_steps(scan, find_paper(scan, wedge.boxes), count=count, kind=kind, wedge=wedge.boxes)
    if not boxes:
        raise ValueOutOfRange(f'No box was given for scan "{scan.name}". Draw one about the reference patch.')
    if reference_step is not None and not 0 <= reference_step < len(boxes):
        raise ValueOutOfRange(
            f"Step {reference_step + 1} is said to hold the reference, but the strip has {len(boxes)} steps."
        )
    same_dyes = wedge.material is Material.PHOTOGRAPHIC_PAPER
    dyes = None if same_dyes else dyes or LearnedShift(kind=PairKind.DYES)
    steps = tuple(read_patch(scan, box, wedge.curves, evenness=evenness, profile=profile, dyes=dyes) for box in boxes)
    doubts = [*scan.flags, *wedge.curves.flags, *flags, *([Flag.NOT_LEVELLED] if evenness is None else [])]
    by_chart = profile is not None and Flag.OTHER_DYES not in profile.flags
    if not (by_chart or dyes is None or dyes.pairs):
        doubts.append(Flag.OTHER_DYES)
    if Flag.NO_PROFILE in doubts:
        doubts.remove(Flag.NO_PROFILE)  # the wedge has done its work
    return StripReading(
        steps=steps,
        wedge=wedge,
        kind=kind,
        exposures=exposures,
        reference_step=reference_step,
        flags=tuple(dict.fromkeys(doubts)),
    )
