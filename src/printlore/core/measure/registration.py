"""Lay one scan over another of the same picture: turned, shifted, a little larger, to a part of a pixel.

Coordinates are pixel middles, x right and y down, at the scans' full resolution.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from printlore.core.flags import Flag
from printlore.core.measure.scan import Box, Floats, Scan
from printlore.errors import ValueOutOfRange

_SIDE = 1400
_FEWEST_MATCHES = 15
_ROUGH_PIXELS = 1.0
_TILES = (96, 64, 48, 32)
"""Even, and quick to transform; an odd tile would be padded, which shifts it."""
_ENOUGH_FOR_SIX = 30


@dataclass(frozen=True, slots=True, kw_only=True)
class Registration:
    """Where each place of a first scan lies in a second.

    Attributes
    ----------
    matrix : tuple of two (3,) tuples of float
        (x2, y2) = matrix @ (x1, y1, 1) [px].
    residual : float
        Root mean square of what the matched places are off [px of the full resolution].
    matches : int
    flags : tuple of Flag
    """

    matrix: tuple[tuple[float, float, float], tuple[float, float, float]]
    residual: float
    matches: int
    flags: tuple[Flag, ...] = ()

    def as_array(self) -> Floats:
        return np.array(self.matrix)

    def moved(self, points: Floats) -> Floats:
        """Places (n, 2) of the first scan, in the second."""
        matrix = self.as_array()
        return np.asarray(np.asarray(points, dtype=float) @ matrix[:, :2].T + matrix[:, 2])

    @property
    def turn(self) -> float:
        """How far the second is turned clockwise against the first [degrees]."""
        (a, _, _), (c, _, _) = self.matrix
        return float(np.degrees(np.arctan2(c, a)))

    @property
    def scale(self) -> float:
        """Size of the second over the first [1]."""
        return float(np.sqrt(abs(np.linalg.det(self.as_array()[:, :2]))))


def shrunk(scan: Scan, longest: int) -> tuple[NDArray[np.float32], int]:
    """Light averaged over whole blocks so that the longer side has at most this many, and the block's side [px]."""
    columns, rows = scan.size
    step = max(1, -(-max(columns, rows) // longest))
    wide, high = columns // step, rows // step
    if min(wide, high) < 16:
        raise ValueOutOfRange(f'Scan "{scan.name}" is only {columns} x {rows} pixels; scan at a higher resolution.')
    codes = scan.pixels[: high * step, : wide * step]
    if step > 1:
        codes = cv2.resize(codes, (wide, high), interpolation=cv2.INTER_AREA)
    return scan.light_of(codes), step


def _grey(light: NDArray[np.float32]) -> NDArray[np.uint8]:
    """8-bit picture for matching, of log light between its usual ends."""
    grey = cv2.log(np.maximum(light[..., 1], np.float32(1e-4)))
    sample = grey[::8, ::8]
    low, high = np.quantile(sample, [0.01, 0.99])
    return np.asarray(cv2.convertScaleAbs(np.clip(grey, low, high) - low, alpha=255.0 / max(high - low, 1e-3)))


def register(first: Scan, second: Scan, *, within: Box | None = None) -> Registration:
    """How a second scan of the same picture lies against a first.

    Parameters
    ----------
    first, second : Scan
        Tone and colour may differ.
    within : Box, optional
        Part of the first to match (the picture, without a wedge beside it that may have moved).

    Raises
    ------
    ValueOutOfRange
        If the two do not show the same picture, or it has too little detail.
    """
    light_1, step_1 = shrunk(first, _SIDE)
    light_2, step_2 = shrunk(second, _SIDE)
    return _registered(_grey(light_1), step_1, _grey(light_2), step_2, within=within, names=(first.name, second.name))


def _registered(
    grey_1: NDArray[np.uint8],
    step_1: int,
    grey_2: NDArray[np.uint8],
    step_2: int,
    *,
    within: Box | None,
    names: tuple[str, str],
) -> Registration:
    mask = None
    if within is not None:
        mask = np.zeros(grey_1.shape, np.uint8)
        mask[within.top // step_1 : within.bottom // step_1, within.left // step_1 : within.right // step_1] = 255
    # Half the detail is enough to start from; the tiles below bring the last tenth of a pixel.
    coarse = 2 if min(grey_1.shape) > 700 else 1
    half = [
        cv2.resize(grey, None, fx=1 / coarse, fy=1 / coarse, interpolation=cv2.INTER_AREA) for grey in (grey_1, grey_2)
    ]
    small_mask = None if mask is None else cv2.resize(mask, half[0].shape[::-1], interpolation=cv2.INTER_NEAREST)
    finder = cv2.SIFT.create(nfeatures=2500)
    places_1, words_1 = finder.detectAndCompute(half[0], small_mask)
    places_2, words_2 = finder.detectAndCompute(half[1], None)
    problem = (
        f'"{names[0]}" and "{names[1]}" could not be laid over each other: too little of one is found in the other. '
        "Check that both show the same picture, whole and the same way up."
    )
    if words_1 is None or words_2 is None or min(len(places_1), len(places_2)) < _FEWEST_MATCHES:
        raise ValueOutOfRange(problem)
    pairs = [
        pair
        for pair in cv2.BFMatcher(cv2.NORM_L2).knnMatch(words_1, words_2, k=2)
        if len(pair) == 2 and pair[0].distance < 0.75 * pair[1].distance
    ]
    if len(pairs) < _FEWEST_MATCHES:
        raise ValueOutOfRange(problem)
    at_1 = np.array([places_1[best.queryIdx].pt for best, _ in pairs]) * coarse + (coarse - 1) / 2
    at_2 = np.array([places_2[best.trainIdx].pt for best, _ in pairs]) * coarse + (coarse - 1) / 2
    cv2.setRNGSeed(1)
    rough, good = cv2.estimateAffinePartial2D(at_1, at_2, method=cv2.RANSAC, ransacReprojThreshold=3.0, maxIters=4000)
    if rough is None or good.sum() < _FEWEST_MATCHES:
        raise ValueOutOfRange(problem)
    scale = np.sqrt(abs(np.linalg.det(rough[:, :2])))
    if not 0.2 < scale * step_2 / step_1 < 5:
        raise ValueOutOfRange(problem)
    inliers = good.ravel().astype(bool)
    matrix = _fitted(at_1[inliers], at_2[inliers])
    matches, residual = int(inliers.sum()), float("nan")
    for _ in range(2):
        places, shifts = _tile_shifts(grey_1, grey_2, matrix, mask)
        if len(places) < 8:
            break
        wanted = places @ matrix[:, :2].T + matrix[:, 2] + shifts
        matrix, off = _robust(places, wanted)
        matches, residual = len(places), off
    if not np.isfinite(residual):
        left = at_2[inliers] - at_1[inliers] @ matrix[:, :2].T - matrix[:, 2]
        residual = float(np.sqrt(np.mean(np.sum(left**2, axis=1))) / np.sqrt(max(matches / 3, 1)))
    # From pixels of the shrunk pictures to those of the scans.
    linear = matrix[:, :2] * step_2 / step_1
    offset = (matrix[:, 2] + 0.5) * step_2 - 0.5 - linear @ np.full(2, (step_1 - 1) / 2)
    residual *= step_2
    (a, b), (c, d) = linear
    return Registration(
        matrix=((float(a), float(b), float(offset[0])), (float(c), float(d), float(offset[1]))),
        residual=residual,
        matches=matches,
        flags=(Flag.POORLY_MATCHED,) if residual > _ROUGH_PIXELS * step_2 else (),
    )


def _fitted(at_1: Floats, at_2: Floats) -> Floats:
    """Matrix (2, 3) by least squares: six numbers from many places; from few, the four of turn, scale and shift."""
    if len(at_1) >= _ENOUGH_FOR_SIX:
        terms = np.column_stack([at_1, np.ones(len(at_1))])
        return np.asarray(np.linalg.lstsq(terms, at_2, rcond=None)[0].T)
    middle_1, middle_2 = at_1.mean(axis=0), at_2.mean(axis=0)
    one, two = at_1 - middle_1, at_2 - middle_2
    size = float((one**2).sum())
    a = float((one * two).sum()) / size
    b = float((one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]).sum()) / size
    linear = np.array([[a, -b], [b, a]])
    return np.column_stack([linear, middle_2 - linear @ middle_1])


def _robust(at_1: Floats, at_2: Floats) -> tuple[Floats, float]:
    """Matrix, and the root mean square of what the mean of its places leaves; places far off left out."""
    keep = np.ones(len(at_1), bool)
    matrix = _fitted(at_1, at_2)
    for _ in range(5):
        off = np.linalg.norm(at_2 - at_1 @ matrix[:, :2].T - matrix[:, 2], axis=1)
        keep = off <= max(2.5 * float(np.median(off)), 0.02)
        matrix = _fitted(at_1[keep], at_2[keep])
    off = np.linalg.norm(at_2[keep] - at_1[keep] @ matrix[:, :2].T - matrix[:, 2], axis=1)
    return matrix, float(np.sqrt(np.mean(off**2)) / np.sqrt(max(keep.sum() / 3, 1)))


def _tile_shifts(
    grey_1: NDArray[np.uint8], grey_2: NDArray[np.uint8], matrix: Floats, mask: NDArray[np.uint8] | None
) -> tuple[Floats, Floats]:
    """Middles (n, 2) of tiles of the first picture with detail, and how far (n, 2) the second still is off there."""
    rows, columns = grey_1.shape
    warped = cv2.warpAffine(
        grey_2, matrix, (columns, rows), flags=cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_CONSTANT
    )
    seen = cv2.warpAffine(
        np.full(grey_2.shape, 255, np.uint8), matrix, (columns, rows), flags=cv2.INTER_NEAREST | cv2.WARP_INVERSE_MAP
    )
    if mask is not None:
        seen = cv2.bitwise_and(seen, mask)
    tile = next(size for size in _TILES if size <= max(min(rows, columns) / 10, _TILES[-1]))
    window = cv2.createHanningWindow((tile, tile), cv2.CV_32F)
    # An edge shows no shift along itself: a tile needs detail both ways.
    both_ways = cv2.boxFilter(cv2.cornerMinEigenVal(grey_1, 5), -1, (tile, tile))
    candidates = []
    for top in range(0, rows - tile + 1, tile * 2 // 3):
        for left in range(0, columns - tile + 1, tile * 2 // 3):
            if seen[top : top + tile, left : left + tile].min() == 255:
                candidates.append((float(both_ways[top + tile // 2, left + tile // 2]), top, left))
    candidates.sort(reverse=True)
    places, shifts = [], []
    for detail, top, left in candidates[:90]:
        if detail < 0.03 * candidates[0][0]:
            break
        part = slice(top, top + tile), slice(left, left + tile)
        one, two = (np.ascontiguousarray(grey[part], dtype=np.float32) for grey in (grey_1, warped))
        (dx, dy), sharpness = cv2.phaseCorrelate(one - one.mean(), two - two.mean(), window)
        if sharpness > 0.25 and np.hypot(dx, dy) < 3:
            middle = np.array([left, top]) + (tile - 1) / 2
            places.append(middle)
            shifts.append(matrix[:, :2] @ np.array([dx, dy]))
    return np.array(places).reshape(-1, 2), np.array(shifts).reshape(-1, 2)
