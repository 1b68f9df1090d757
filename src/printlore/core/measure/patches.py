"""The mean of a patch: dust and scratches left out, clipping counted, grain's correlation heeded."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from printlore.core.flags import Flag
from printlore.core.measure.characterise import ScannerProfile
from printlore.core.measure.evenness import Evenness
from printlore.core.measure.pairs import LearnedShift
from printlore.core.measure.scan import Box, Floats, Scan
from printlore.core.measure.scanner import ScannerCurves
from printlore.core.paper.facts import vector
from printlore.errors import ValueOutOfRange

FEWEST_PIXELS = 16
_SMALL_PATCH = 100
_DUST_CUT = 4.5
_DUSTY_SHARE = 0.02
_CLIPPED_SHARE = 0.01
_NOISY = 0.06
_UNEVEN = 0.04
_FEWEST_FOR_RINGS = 16
_RING_SIZE = 0.001
"""[log10 light] Root mean square of swings below which they do no harm to the mean of a patch."""
_RING_EXCESS = 3.0
_IN_STEP = 0.6
"""Correlation of two channels above which what swings is no interference."""
LEVELLING_ERROR = 0.004
"""[density] Left in a flatbed's evenness with no blank sheet to level by; from memory."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PatchCounts:
    """Pixels of a patch: all, clipped (at an end of the scale, dust apart) and left out as dust or scratch."""

    pixels: int
    clipped: int
    dusty: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PatchLight:
    """Mean light of a patch.

    Attributes
    ----------
    light : (3,) floats
        Mean over clean pixels [1].
    standard_error : (3,) floats
        Of the mean, in log10 of light, correlation between neighbours included.
    noise : (3,) floats
        Standard deviation of one pixel about the patch's own slope, in log10 of light.
    clipped_channels : (3,) bools
    counts : PatchCounts
    box : Box
    flags : tuple of Flag
    """

    light: tuple[float, float, float]
    standard_error: tuple[float, float, float]
    noise: tuple[float, float, float]
    clipped_channels: tuple[bool, bool, bool]
    counts: PatchCounts
    box: Box
    flags: tuple[Flag, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PatchReading:
    """Reflection density of a patch, and any doubt about it.

    Attributes
    ----------
    density : (3,) floats
        (red, green, blue) [1], through the wedge.
    standard_error : (3,) floats
        Of each [1]: patch, curve, wedge and unlevelled light together.
    shared_error : (3,) floats
        Of each [1]: what all readings by this wedge and scanner on this paper have in common, since a scanner sees the
        paper's dyes otherwise than the wedge. Cancels in the difference of two such readings.
    clipped_channels : (3,) bools
        Where true, the density is a bound only.
    counts : PatchCounts
    box : Box
    flags : tuple of Flag
    lab : (3,) floats or None
        CIELAB, D50, if the scanner was characterised by a chart.
    """

    density: tuple[float, float, float]
    standard_error: tuple[float, float, float]
    clipped_channels: tuple[bool, bool, bool]
    counts: PatchCounts
    box: Box
    flags: tuple[Flag, ...]
    lab: tuple[float, float, float] | None = None
    shared_error: tuple[float, float, float] = (0.0, 0.0, 0.0)


def _plane(values: Floats, keep: NDArray[np.bool_]) -> tuple[Floats, Floats]:
    """Slopes (2, channels) over the whole of x and y of a plane through the kept pixels, and (channels, rows, columns)
    of what is left beside it."""
    rows, columns = keep.shape
    y, x = np.linspace(-0.5, 0.5, rows), np.linspace(-0.5, 0.5, columns)
    down, across = keep.sum(axis=1), keep.sum(axis=0)
    sums = np.array([keep.sum(), across @ x, down @ y, across @ x**2, y @ (keep @ x), down @ y**2])
    kept = np.where(keep, values, 0.0)
    by_row, by_column = kept.sum(axis=2), kept.sum(axis=1)
    normal = sums[[[0, 1, 2], [1, 3, 4], [2, 4, 5]]] + 1e-9 * np.eye(3)
    found = np.linalg.solve(normal, np.stack([by_row.sum(axis=1), by_column @ x, by_row @ y]))
    level, slope_x, slope_y = found[:, :, None, None]
    return found[1:], values - (level + slope_x * x + slope_y * y[:, None])


def _spread(values: Floats) -> Floats:
    """Robust standard deviation about their median, of each channel of (channels, pixels)."""
    sample = np.ascontiguousarray(values[:, :: max(1, values.shape[1] // 4000)])
    off = np.abs(sample - np.median(sample, axis=1, keepdims=True))
    return np.asarray(1.4826 * np.median(off, axis=1))


def _ringed(left: Floats) -> bool:
    """Whether what is left (channels, rows, columns) of a patch beside its plane swings in rings or bands.

    Three or more swings across the patch must be stronger than what is coarser and finer, which grain and pictures are
    not; and out of step between channels: rings of red light are wider than those of blue, whereas dirt, texture and
    the picture itself change all channels alike.
    """
    rows, columns = (size // 2 for size in left.shape[1:])
    if min(rows, columns) < _FEWEST_FOR_RINGS:
        return False
    halved = left[:, : 2 * rows, : 2 * columns].reshape(3, rows, 2, columns, 2).mean(axis=(2, 4))
    window = np.hanning(rows + 2)[1:-1, None] * np.hanning(columns + 2)[1:-1]
    waves = np.fft.rfft2(halved * window)
    # In cycles across the shorter side, so that a long patch is looked at alike in both directions.
    short = min(rows, columns)
    cycles = short * np.hypot(np.fft.fftfreq(rows)[:, None], np.fft.rfftfreq(columns))
    power = np.abs(waves) ** 2
    coarse, fine = ((cycles >= low) & (cycles < high) for low, high in ((1.0, 2.5), (short / 3, short / 2)))
    usual = np.maximum(power[:, coarse].mean(axis=1), power[:, fine].mean(axis=1))
    for low in np.arange(3.0, short / 4):
        band = (cycles >= low) & (cycles < low + 2)
        excess = power[:, band].mean(axis=1) - usual
        # Twice: a real picture's spectrum holds half of its waves.
        size = np.sqrt(2 * np.maximum(excess, 0) * band.sum() / (window**2).sum() / window.size)
        if size.max() > _RING_SIZE and np.max(excess / usual) > _RING_EXCESS:
            cross = np.real(waves[:, band] @ waves[:, band].conj().T)
            alike = cross / np.sqrt(np.outer(np.diag(cross), np.diag(cross)))
            if alike.min() < _IN_STEP:
                return True
    return False


def _grown(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Mask with its four neighbours: the soft edge of a speck."""
    out = mask.copy()
    out[1:] |= mask[:-1]
    out[:-1] |= mask[1:]
    out[:, 1:] |= mask[:, :-1]
    out[:, :-1] |= mask[:, 1:]
    return out


def read_light(scan: Scan, box: Box) -> PatchLight:
    """Mean light of a box.

    Parameters
    ----------
    scan : Scan
    box : Box
        Inside the scan, at least 16 pixels.

    Raises
    ------
    ValueOutOfRange
        If the box reaches outside the scan or is too small.
    """
    codes = scan.codes(box)
    rows, columns = codes.shape[:2]
    if rows * columns < FEWEST_PIXELS:
        raise ValueOutOfRange(
            f'Box {box} in scan "{scan.name}" has {rows * columns} pixels; at least {FEWEST_PIXELS} are needed. '
            "Draw it larger, or scan at a higher resolution."
        )
    step = max(1, math.ceil(math.sqrt(rows * columns / 16_000)))
    codes = np.moveaxis(codes[::step, ::step], 2, 0)
    rows, columns = codes.shape[1:]
    light = np.ascontiguousarray(np.moveaxis(scan.light_of(np.moveaxis(codes, 0, 2)), 2, 0), dtype=float)
    at_end = (codes == 0) | (codes == scan.levels - 1)
    quantum = 0.5 / (scan.levels - 1)
    log_light = np.log10(np.maximum(light, quantum))

    flat = log_light.reshape(3, -1)
    centre = np.median(flat, axis=1)
    code_step = quantum / 10.0**centre
    cut = np.maximum(8 * np.maximum(_spread(flat), 0.5 * code_step), 0.02)
    keep = np.all(np.abs(log_light - centre[:, None, None]) < cut[:, None, None], axis=0)
    for _ in range(3):
        if keep.sum() < FEWEST_PIXELS:
            break
        _, left = _plane(log_light, keep)
        sigma = np.maximum(_spread(left[:, keep]), np.maximum(0.3 * code_step, 2e-4))
        off = (np.abs(left) / sigma[:, None, None]).max(axis=0)
        new = ~((off > _DUST_CUT) | _grown(off > 2 * _DUST_CUT))
        if np.array_equal(new, keep):
            break
        keep = new
    flags: list[Flag] = []
    if keep.sum() < max(FEWEST_PIXELS, 0.25 * keep.size):
        keep = np.ones((rows, columns), bool)
        flags.append(Flag.NOISY)
    slopes, left = _plane(log_light, keep)
    left = np.where(keep, left, 0.0)
    count = int(keep.sum())
    noise = np.sqrt((left**2).sum(axis=(1, 2)) / max(count - 3, 1))
    # Means of blocks, larger than the grain, tell what the mean's error is; pixels alone would flatter it.
    by = int(np.clip(min(rows, columns) // 4, 1, 6))
    first_row, first_column = (-(-np.arange(by) * size // by) for size in (rows, columns))

    def in_blocks(values: Floats) -> Floats:
        summed = np.add.reduceat(np.add.reduceat(values, first_row, axis=-2), first_column, axis=-1)
        return np.asarray(summed.reshape(*summed.shape[:-2], by * by))

    per_block, sums = in_blocks(keep.astype(float)), in_blocks(left)
    good = per_block > 0.3 * per_block.max()
    blocks = sums[:, good] / per_block[good]
    if good.sum() > 6:
        between = np.sqrt((blocks**2).sum(axis=1) / (good.sum() - 3) / good.sum())
    else:
        between = noise * np.sqrt(4.0 / count)
    standard_error = np.maximum(between, noise / np.sqrt(count))

    # The mean is of light, not of its logarithm: what an instrument's aperture would average.
    mean = light[:, keep].mean(axis=1)
    clipped = at_end & keep
    clipped_channels = clipped.mean(axis=(1, 2)) > _CLIPPED_SHARE
    if clipped_channels.any():
        flags.append(Flag.CLIPPED)
    if keep.size - count > _DUSTY_SHARE * keep.size:
        flags.append(Flag.DUSTY)
    if noise.max() > _NOISY and Flag.NOISY not in flags:
        flags.append(Flag.NOISY)
    if _ringed(left):
        flags.append(Flag.RINGS)
    if np.abs(slopes).sum(axis=0).max() > _UNEVEN:
        flags.append(Flag.UNEVEN)
    if box.width * box.height < _SMALL_PATCH:
        flags.append(Flag.SMALL_PATCH)
    scale = box.width * box.height / keep.size
    return PatchLight(
        light=vector(np.maximum(mean, quantum)),
        standard_error=vector(standard_error),
        noise=vector(noise),
        clipped_channels=(bool(clipped_channels[0]), bool(clipped_channels[1]), bool(clipped_channels[2])),
        counts=PatchCounts(
            pixels=box.width * box.height,
            clipped=round(int(clipped.any(axis=0).sum()) * scale),
            dusty=round((keep.size - count) * scale),
        ),
        box=box,
        flags=tuple(flags),
    )


def read_patch(
    scan: Scan,
    box: Box,
    curves: ScannerCurves,
    *,
    evenness: Evenness | None = None,
    profile: ScannerProfile | None = None,
    dyes: LearnedShift | None = None,
) -> PatchReading:
    """Reflection density of a box, through a scanner's curves.

    Parameters
    ----------
    scan, box
        As for ``read_light``.
    curves : ScannerCurves
    evenness : Evenness, optional
        Of this scanner at these settings; without it, unlevelled light enters the error.
    profile : ScannerProfile, optional
        Turns densities through the scanner's channels into status A and Lab.
    dyes : LearnedShift, optional
        What known patches say of the paper's dyes in this scanner; not heeded if the profile knows them.

    Raises
    ------
    ValueOutOfRange
        As for ``read_light``.

    References
    ----------
    iso5-3, jcgm100
    """
    patch = read_light(scan, box)
    light = np.array(patch.light)
    density = curves.density(light)
    own = np.array(patch.standard_error) * np.abs(curves.slope(light))
    levelling = LEVELLING_ERROR if evenness is None else max(0.001, 0.2 * evenness.residual)
    standard_error = np.sqrt(own**2 + curves.standard_error(light) ** 2 + levelling**2)
    outside = curves.outside(light)
    # Beyond the wedge the curve's form is taken on trust: a tenth of the way out is added.
    ends = np.array([curve.density(10.0 ** np.array(curve.span)) for curve in curves.curves])
    if evenness is not None:
        density = density - evenness.density_offset(curves, box.centre, scan.size)
    beyond = np.maximum(np.maximum(density - ends.max(axis=1), ends.min(axis=1) - density), 0.0)
    standard_error = np.where(outside, np.hypot(standard_error, 0.1 * beyond), standard_error)
    flags = list(patch.flags)
    if outside.any():
        flags.append(Flag.OUTSIDE_WEDGE)
    if Flag.WEDGE_POOR in curves.flags:
        flags.append(Flag.WEDGE_POOR)
    lab, shared = None, np.zeros(3)
    if profile is not None and profile.degree:
        lab = vector(profile.lab(density))
    if profile is not None and profile.to_status_a is not None:
        density = profile.status_a(density)
        standard_error = np.hypot(standard_error, profile.to_status_a.error)
    elif dyes is not None:
        density, shared = dyes.corrected(density)
    return PatchReading(
        density=vector(density),
        standard_error=vector(standard_error),
        clipped_channels=patch.clipped_channels,
        counts=patch.counts,
        box=box,
        flags=tuple(flags),
        lab=lab,
        shared_error=vector(shared),
    )
