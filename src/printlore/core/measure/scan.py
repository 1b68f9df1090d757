"""Scan: a picture as the scanner or camera gave it, and how its numbers stand to light."""

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from printlore.core.flags import Flag
from printlore.core.plain import says_what_fits
from printlore.errors import ValueOutOfRange

Floats = NDArray[np.float64]
Pixels = NDArray[np.uint8] | NDArray[np.uint16]

CHANNELS = ("red", "green", "blue")
DARKEST = np.float32(1e-5)
"""Light [1] below which a logarithm says nothing."""


@says_what_fits
@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """Rectangle in a scan: (left, top, right, bottom) in pixels, right and bottom outside.

    Raises
    ------
    ValueOutOfRange
        If it holds no pixel.
    """

    left: int
    top: int
    right: int
    bottom: int

    def __post_init__(self) -> None:
        if not (self.left < self.right and self.top < self.bottom):
            raise ValueOutOfRange(
                f"Box {self} holds no pixel; give left, top, right, bottom with right beyond left and bottom below top."
            )

    def __str__(self) -> str:
        return f"({self.left}, {self.top}, {self.right}, {self.bottom})"

    @property
    def width(self) -> int:
        return self.right - self.left

    @property
    def height(self) -> int:
        return self.bottom - self.top

    @property
    def centre(self) -> tuple[float, float]:
        """(x, y) [px]"""
        return (self.left + self.right) / 2, (self.top + self.bottom) / 2

    def inset(self, share: float) -> "Box":
        """Smaller box about the same centre: this share of width and height goes from each side."""
        x, y = int(self.width * share), int(self.height * share)
        return Box(left=self.left + x, top=self.top + y, right=self.right - x, bottom=self.bottom - y)


def box_about(x: float, y: float, side: int) -> Box:
    """Square box of a side [px] about a tapped point (x right, y down)."""
    left, top = round(x - side / 2), round(y - side / 2)
    return Box(left=left, top=top, right=left + side, bottom=top + side)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scan:
    """One picture and what its numbers mean.

    Attributes
    ----------
    pixels : (rows, columns, 3) array of uint8 or uint16
        Codes as they stood in the file; red, green, blue.
    tone : (3, levels) array of float32 or None
        Linear light [1], 0 to 1, of each code, from the file's colour profile. ``None``: no
        usable profile; codes over the largest code are taken, and only a wedge gives them meaning.
    to_xyz : (3, 3) array of float or None
        Linear (red, green, blue) to CIE XYZ under D50, from the profile.
    resolution : float or None
        Pixels per inch.
    profile : bytes
        The ICC profile as it stood in the file; empty if none.
    flags : tuple of Flag
    name : str
        File name or other name, for messages.

    References
    ----------
    icc2022
    """

    pixels: Pixels
    tone: NDArray[np.float32] | None = None
    to_xyz: Floats | None = None
    resolution: float | None = None
    profile: bytes = b""
    flags: tuple[Flag, ...] = ()
    name: str = "scan"
    levels: int = field(init=False)

    def __post_init__(self) -> None:
        if self.pixels.ndim != 3 or self.pixels.shape[2] != 3 or self.pixels.dtype not in (np.uint8, np.uint16):
            raise ValueOutOfRange(
                f'Scan "{self.name}" is an array {self.pixels.shape} of {self.pixels.dtype}; '
                "it must be rows x columns x 3 of 8 or 16 bits."
            )
        object.__setattr__(self, "levels", 256 if self.pixels.dtype == np.uint8 else 65536)

    @property
    def bits(self) -> int:
        return self.pixels.dtype.itemsize * 8

    @property
    def size(self) -> tuple[int, int]:
        """(columns, rows) [px]"""
        return self.pixels.shape[1], self.pixels.shape[0]

    def codes(self, box: Box) -> Pixels:
        """Pixels of a box as they stood in the file.

        Raises
        ------
        ValueOutOfRange
            If the box reaches outside the scan.
        """
        columns, rows = self.size
        if box.left < 0 or box.top < 0 or box.right > columns or box.bottom > rows:
            raise ValueOutOfRange(
                f'Box {box} reaches outside scan "{self.name}", which is {columns} x {rows} pixels. '
                "Move the patch inside the picture."
            )
        return self.pixels[box.top : box.bottom, box.left : box.right]

    def light_of(self, codes: Pixels) -> NDArray[np.float32]:
        """Linear light [1] of an array (..., 3) of codes: by the profile, else code over largest code."""
        if self.tone is None:
            return codes.astype(np.float32) / np.float32(self.levels - 1)
        return np.stack([self.tone[channel][codes[..., channel]] for channel in range(3)], axis=-1)

    def light(self, box: Box) -> NDArray[np.float32]:
        """Linear light [1] of a box, (rows, columns, 3)."""
        return self.light_of(self.codes(box))

    def reduced(self, longest: int) -> tuple[NDArray[np.float32], int]:
        """Light averaged over square blocks, the longer side at most this many, and the block's side [px]."""
        columns, rows = self.size
        step = max(1, math.ceil(max(columns, rows) / longest))
        rows, columns = max(rows // step, 1) * step, max(columns // step, 1) * step
        if rows > self.size[1] or columns > self.size[0]:
            step, rows, columns = 1, self.size[1], self.size[0]
        # A block's light is linear only after the tone table, but within a block codes differ little:
        # a few rows and columns of each block are looked at, turned into light, and averaged.
        each = min(step, 3)
        looked_at = np.linspace(0, step - 1, each + 2)[1:-1].round().astype(int).tolist() if step > 1 else [0]
        blocks = np.zeros((rows // step, columns // step, 3), np.float32)
        for down in looked_at:
            for across in looked_at:
                blocks += self.light_of(self.pixels[down:rows:step, across:columns:step])
        return blocks / np.float32(len(looked_at) ** 2), step

    def log_reduced(self, longest: int) -> tuple[Floats, int]:
        """As ``reduced``, log10 of the light; black is taken as ``DARKEST``."""
        light, step = self.reduced(longest)
        return np.log10(np.maximum(light, DARKEST)).astype(float), step

    def box_within(self, sides: NDArray[np.int_]) -> Box:
        """The box with these sides (left, top, right, bottom) [px], brought inside the picture."""
        columns, rows = self.size
        left, top = int(np.clip(sides[0], 0, columns - 2)), int(np.clip(sides[1], 0, rows - 2))
        return Box(
            left=left,
            top=top,
            right=int(np.clip(sides[2], left + 1, columns)),
            bottom=int(np.clip(sides[3], top + 1, rows)),
        )
