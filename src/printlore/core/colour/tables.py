"""Printed tables that ship inside the package: constants that happen to be easier to read as CSV."""

import csv
from functools import cache
from importlib import resources

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@cache
def read_table(package: str, name: str) -> dict[str, Floats]:
    """Number columns of a packaged table, by their names. An empty cell is NaN; lines with ``#`` name the source."""
    text = (resources.files(package) / name).read_text(encoding="utf-8")
    rows = list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))
    columns = {}
    for column in rows[0]:
        values = np.array([float(row[column]) if row[column] else np.nan for row in rows])
        values.flags.writeable = False
        columns[column] = values
    return columns


@cache
def read_rows(package: str, name: str) -> tuple[dict[str, str], ...]:
    """Rows of a packaged table with words in it."""
    text = (resources.files(package) / name).read_text(encoding="utf-8")
    return tuple(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))
