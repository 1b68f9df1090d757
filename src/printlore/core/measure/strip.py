"""Find the steps of a test strip in a scan, and read them.

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
from printlore.core.measure.patches import PatchReading, read_patch
from printlore.core.measure.scan import Box, Floats, Scan
from printlore.core.measure.scanner import Material
from printlore.core.measure.wedge import INSET, SEARCH_SIDE, WedgeReport
from printlore.errors import ValueOutOfRange

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
    picture, block = scan.log_reduced(SEARCH_SIDE)
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
    return scan.box_within(np.array([left, top, right, bottom]) * block)


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
    picture, block = part.log_reduced(300)
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
        boxes.append(box.inset(INSET))
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
    picture, block = Scan(pixels=scan.codes(place), tone=scan.tone, name=scan.name).log_reduced(300)
    profile = _profile(picture, along, StripKind.SAME_TONE)
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
