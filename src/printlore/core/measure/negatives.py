"""A negative by camera or flatbed: density against the empty carrier.

Both scans must be linear (a profile with curves, or a camera file by ``devices.raw``) and taken at the
same settings. Averages are of light, as an eye or a probe would make them, never of densities.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from printlore.core.figure import Figure
from printlore.core.flags import Flag
from printlore.core.measure.patches import read_light
from printlore.core.measure.scan import CHANNELS, Box, Scan
from printlore.core.memory.evidence import NegativeReading
from printlore.core.paper.facts import vector
from printlore.errors import ValueOutOfRange

_LEVEL_ERROR = 0.003
"""[density] How far a light table or a lamp moves between two pictures; from memory."""


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


def _same_size(frame: Scan, empty: Scan) -> None:
    if frame.size != empty.size:
        raise ValueOutOfRange(
            f"The negative is {frame.size[0]} x {frame.size[1]} pixels, the empty carrier {empty.size[0]} x "
            f"{empty.size[1]}: take both at the same settings, with nothing moved but the film."
        )


def read_negative(frame: Scan, empty: Scan, boxes: Sequence[Box]) -> tuple[NegativePatch, ...]:
    """Densities of places of a negative against the empty carrier.

    Parameters
    ----------
    frame, empty : Scan
        With the film, and with the carrier empty, at the same settings.
    boxes : sequence of Box

    Raises
    ------
    ValueOutOfRange
        If the two differ in size, a box reaches outside, or the negative is not darker than the carrier is bright.
    """
    _same_size(frame, empty)
    known = frame.tone is not None and empty.tone is not None
    patches = []
    for box in boxes:
        film, none = read_light(frame, box), read_light(empty, box)
        if any(none.clipped_channels):
            raise ValueOutOfRange(
                f'The empty carrier "{empty.name}" is clipped in box {box}, so nothing can be held against it. '
                "Take both again with less exposure."
            )
        through = np.array(film.light) / np.array(none.light)
        for channel, value in zip(CHANNELS, through, strict=True):
            if not 0 < value < 1.05:
                raise ValueOutOfRange(
                    f'Box {box} of "{frame.name}", {channel}: {Figure(value):.3f} of the empty carrier\'s light '
                    "comes through, which no film does. Check which scan is which, and that the exposure was not "
                    "changed."
                )
        error = np.sqrt(np.array(film.standard_error) ** 2 + np.array(none.standard_error) ** 2 + _LEVEL_ERROR**2)
        patches.append(
            NegativePatch(
                density=vector(-np.log10(through)),
                standard_error=vector(error),
                box=box,
                flags=(*film.flags, *(() if known else (Flag.NO_PROFILE,))),
            )
        )
    return tuple(patches)


def large_area_density(frame: Scan, empty: Scan, box: Box) -> tuple[float, float, float]:
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
    film, none = (scan.light(box).mean(axis=(0, 1), dtype=float) for scan in (frame, empty))
    if not (np.all(film > 0) and np.all(none > 0)):
        raise ValueOutOfRange(f'Box {box} of "{frame.name}" or of the empty carrier is black; was the lamp on?')
    return vector(-np.log10(film / none))
