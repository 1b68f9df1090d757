"""Where the patches of a chart lie in its scan, from the corners that the printer tapped."""

import re
from collections.abc import Sequence

import numpy as np

from printlore.core.measure.scan import Box, box_about
from printlore.errors import ValueOutOfRange

Corners = tuple[tuple[float, float], tuple[float, float], tuple[float, float], tuple[float, float]]
"""(x, y) of the middles of the corner patches: top left, top right, bottom right, bottom left."""

_SIDE = 0.5
"""Of a box, as a share of the distance between patches."""
_PLACE = re.compile(r"([A-Za-z])0*(\d{1,3})")


def chart_places(names: Sequence[str]) -> dict[str, tuple[int, int]]:
    """(row, column), from 0, of patches named by letter and number, as A1, B12.

    By ISO 12641 and most charts, letters count rows downwards and numbers count columns.

    Raises
    ------
    ValueOutOfRange
        If fewer than two rows and columns can be told from the names.

    References
    ----------
    iso12641
    """
    places = {}
    for name in names:
        match = _PLACE.fullmatch(name.strip())
        if match:
            places[name] = (ord(match[1].upper()) - ord("A"), int(match[2]))
    rows, columns = ({place[axis] for place in places.values()} for axis in (0, 1))
    if len(rows) < 2 or len(columns) < 2:
        raise ValueOutOfRange(
            "The names of the patches do not tell their rows and columns (as A1, B12 do). "
            "Give the boxes of the patches, or a reference file with such names."
        )
    first_row, first_column = min(rows), min(columns)
    return {name: (row - first_row, column - first_column) for name, (row, column) in places.items()}


def chart_boxes(corners: Corners, names: Sequence[str]) -> dict[str, Box]:
    """Box of each patch that has a place, drawn about its middle.

    Parameters
    ----------
    corners
        Of the whole grid, whichever of its places are in use.
    names : sequence of str

    Raises
    ------
    ValueOutOfRange
        If the corners do not span an area, or the names do not tell places.
    """
    places = chart_places(names)
    rows, columns = (max(place[axis] for place in places.values()) for axis in (0, 1))
    top_left, top_right, bottom_right, bottom_left = (np.array(corner, dtype=float) for corner in corners)
    across, down = np.linalg.norm(top_right - top_left) / columns, np.linalg.norm(bottom_left - top_left) / rows
    side = int(min(across, down) * _SIDE)
    sides = np.diff(np.array([*corners, corners[0]], dtype=float), axis=0)
    turns = [float(a[0] * b[1] - a[1] * b[0]) for a, b in zip(sides, np.roll(sides, -1, axis=0), strict=True)]
    if side < 4 or min(turns) <= 0:
        raise ValueOutOfRange(
            "The four corners of the chart do not span it; tap the middles of its corner patches: "
            "top left, top right, bottom right, bottom left."
        )
    boxes = {}
    for name, (row, column) in places.items():
        v, u = row / rows, column / columns
        x, y = (1 - v) * ((1 - u) * top_left + u * top_right) + v * ((1 - u) * bottom_left + u * bottom_right)
        boxes[name] = box_about(x, y, side)
    return boxes
