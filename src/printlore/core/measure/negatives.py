"""A negative by camera or flatbed: density against the empty carrier, and whether paper can hold its range.

Both scans must be linear (a profile with curves, or a camera file by ``devices.raw``) and taken at the
same settings. Averages are of light, as an eye or a probe would make them, never of densities.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from printlore.core.flags import Flag
from printlore.core.measure.patches import read_light
from printlore.core.measure.scan import CHANNELS, Box, Floats, Scan
from printlore.core.memory.evidence import NegativeReading
from printlore.core.paper.gradient import generic_curves
from printlore.core.paper.layers import LayerCurve
from printlore.errors import ValueOutOfRange

_MAP_SIDE = 600
_LEVEL_ERROR = 0.003
"""[density] How far a light table or a lamp moves between two pictures; from memory."""
_PAPER_WHITE, _PAPER_BLACK = 0.04, 0.93
"""Share of the most dye at which paper is as good as white or black (from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NegativePatch:
    """One place of a negative.

    Attributes
    ----------
    density : (3,) floats
        -log10 of transmittance against the empty carrier (red, green, blue) [1].
    standard_error : (3,) floats
    box : Box
    flags : tuple of Flag
    """

    density: tuple[float, float, float]
    standard_error: tuple[float, float, float]
    box: Box
    flags: tuple[Flag, ...]

    def reading(self, source: str) -> NegativeReading:
        """As the memory takes it."""
        return NegativeReading(density=self.density, source=source, standard_error=max(self.standard_error))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PaperRange:
    """What of a picture the paper cannot hold, once the reference patch prints as it should.

    Attributes
    ----------
    beyond : (rows, columns) array of int8
        1 where the print is as good as black, -1 where it is as good as white, 0 between; of the shrunk picture.
    block : int
        Side of a place, in pixels of the scan.
    blocked, burnt : float
        Shares of the picture that print black, and white [1].
    range : float
        Log exposure from the 1st to the 99th hundredth of the picture, green [log10].
    holds : float
        Log exposure that the paper holds between white and black, green [log10].
    """

    beyond: NDArray[np.int8]
    block: int
    blocked: float
    burnt: float
    range: float
    holds: float


def _same_size(frame: Scan, empty: Scan) -> None:
    if frame.size != empty.size:
        raise ValueOutOfRange(
            f"The negative is {frame.size[0]} x {frame.size[1]} pixels, the empty carrier {empty.size[0]} x "
            f"{empty.size[1]}: take both at the same settings, with nothing moved but the film."
        )


def read_negative(
    frame: Scan, empty: Scan, boxes: Sequence[Box], *, dark: Box | None = None
) -> tuple[NegativePatch, ...]:
    """Densities of places of a negative against the empty carrier.

    Parameters
    ----------
    frame, empty : Scan
        With the film, and with the carrier empty, at the same settings.
    boxes : sequence of Box
    dark : Box, optional
        A place of the carrier that no light passes; its light is taken off as stray light.

    Raises
    ------
    ValueOutOfRange
        If the two differ in size, a box reaches outside, or the negative is not darker than the carrier is bright.
    """
    _same_size(frame, empty)
    stray = _stray(frame, empty, dark)
    known = frame.tone is not None and empty.tone is not None
    patches = []
    for box in boxes:
        film, none = read_light(frame, box), read_light(empty, box)
        if any(none.clipped_channels):
            raise ValueOutOfRange(
                f'The empty carrier "{empty.name}" is clipped in box {box}, so nothing can be held against it. '
                "Take both again with less exposure."
            )
        through = (np.array(film.light) - stray[0]) / (np.array(none.light) - stray[1])
        for channel, value in zip(CHANNELS, through, strict=True):
            if not 0 < value < 1.05:
                raise ValueOutOfRange(
                    f'Box {box} of "{frame.name}", {channel}: {value:.3f} of the empty carrier\'s light comes through, '
                    "which no film does. Check which scan is which, and that the exposure was not changed."
                )
        error = np.sqrt(np.array(film.standard_error) ** 2 + np.array(none.standard_error) ** 2 + _LEVEL_ERROR**2)
        red, green, blue = (float(d) for d in -np.log10(through))
        error_red, error_green, error_blue = (float(e) for e in error)
        patches.append(
            NegativePatch(
                density=(red, green, blue),
                standard_error=(error_red, error_green, error_blue),
                box=box,
                flags=(*film.flags, *(() if known else (Flag.NO_PROFILE,))),
            )
        )
    return tuple(patches)


def _stray(frame: Scan, empty: Scan, dark: Box | None) -> tuple[Floats, Floats]:
    if dark is None:
        return np.zeros(3), np.zeros(3)
    return np.array(read_light(frame, dark).light), np.array(read_light(empty, dark).light)


def large_area_density(frame: Scan, empty: Scan, box: Box, *, dark: Box | None = None) -> tuple[float, float, float]:
    """Density of a whole part of a negative: of its mean light, against that of the empty carrier there.

    Raises
    ------
    ValueOutOfRange
        As for ``read_negative``.

    References
    ----------
    evans1951
    """
    _same_size(frame, empty)
    stray = _stray(frame, empty, dark)
    film, none = (
        scan.light(box).mean(axis=(0, 1), dtype=float) - away for scan, away in zip((frame, empty), stray, strict=True)
    )
    if not (np.all(film > 0) and np.all(none > 0)):
        raise ValueOutOfRange(f'Box {box} of "{frame.name}" or of the empty carrier is black; was the lamp on?')
    red, green, blue = (float(d) for d in -np.log10(film / none))
    return red, green, blue


def paper_range(
    frame: Scan,
    empty: Scan,
    picture: Box,
    reference: NegativePatch,
    *,
    curves: tuple[LayerCurve, LayerCurve, LayerCurve] | None = None,
) -> PaperRange:
    """What will print black or white when the reference patch prints as aimed.

    Parameters
    ----------
    picture : Box
        The frame without its rebate.
    reference : NegativePatch
    curves : three LayerCurve, optional
        Of the paper's layers through the reference tone; default: the generic paper's.

    Raises
    ------
    ValueOutOfRange
        As for ``read_negative``.
    """
    _same_size(frame, empty)
    curves = curves or generic_curves()
    block = max(1, -(-max(picture.width, picture.height) // _MAP_SIDE))
    size = (max(picture.width // block, 1), max(picture.height // block, 1))
    film, none = (
        cv2.resize(scan.light(picture), size, interpolation=cv2.INTER_AREA).astype(float) for scan in (frame, empty)
    )
    density = -np.log10(np.clip(film / np.maximum(none, 1e-6), 1e-5, 1.0))
    exposure = np.array(reference.density) - density
    low = np.array([float(c.log_exposure(_PAPER_WHITE * c.maximum)) for c in curves])
    high = np.array([float(c.log_exposure(_PAPER_BLACK * c.maximum)) for c in curves])
    beyond = np.zeros(exposure.shape[:2], np.int8)
    beyond[(exposure > high).all(axis=2)] = 1
    beyond[(exposure < low).all(axis=2)] = -1
    ends = np.quantile(exposure[..., 1], [0.01, 0.99])
    return PaperRange(
        beyond=beyond,
        block=block,
        blocked=float((beyond == 1).mean()),
        burnt=float((beyond == -1).mean()),
        range=float(ends[1] - ends[0]),
        holds=float(high[1] - low[1]),
    )
