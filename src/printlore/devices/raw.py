"""A camera's raw file as linear light, with no hidden correction.

Done by LibRaw, and then here: the black level that the camera states is taken off; missing colours are put in from
the neighbours, linearly; values are stretched so that the camera's white level is full scale. Off: white balance,
brightening, tone curve, colour matrix, sharpening, noise reduction, highlight repair, lens corrections. The colours
stay the camera's own.
"""

from pathlib import Path

import numpy as np

from printlore.core.measure.scan import Scan
from printlore.devices.scans import decoded


def read_raw(source: Path | str | bytes, *, half: bool = False, name: str = "") -> Scan:
    """Linear light of a camera's raw file.

    Parameters
    ----------
    source : path or bytes
    half : bool
        One pixel from each two by two, with nothing put in from neighbours; four times quicker.
    name : str

    Raises
    ------
    UnreadableFile
        If it is no raw file that LibRaw knows, is damaged, or too slow to read.
    """
    pixels, _, label = decoded(source, name=name, raw="half" if half else "full")
    line = np.linspace(0.0, 1.0, 65536, dtype=np.float32)
    return Scan(pixels=pixels, tone=np.stack([line] * 3), flags=(), name=label)
