"""The print room's own colour difference, against the published pairs."""

import csv
from pathlib import Path

import numpy as np
import pytest

from printroom.colour_difference import ciede2000

TABLE = Path(__file__).parents[1] / "data" / "ciede2000_published_pairs.csv"


def published_pairs():
    lines = [line for line in TABLE.read_text().splitlines() if not line.startswith("#")]
    return [{name: float(value) for name, value in row.items()} for row in csv.DictReader(lines)]


@pytest.mark.parametrize("pair", published_pairs(), ids=lambda pair: f"pair {pair['pair']:.0f}")
def test_ciede2000_matches_published_pairs(pair):
    """Sharma, Wu and Dalal (2005), Table 1, doi:10.1002/col.20070; printed to 4 decimals."""
    first = np.array([pair["L1"], pair["a1"], pair["b1"]])
    second = np.array([pair["L2"], pair["a2"], pair["b2"]])
    assert float(ciede2000(first, second)) == pytest.approx(pair["dE00_published"], abs=5e-5)
    assert float(ciede2000(second, first)) == pytest.approx(pair["dE00_published"], abs=5e-5)


def test_many_pairs_at_once_equal_one_by_one():
    pairs = published_pairs()
    first = np.array([[p["L1"], p["a1"], p["b1"]] for p in pairs])
    second = np.array([[p["L2"], p["a2"], p["b2"]] for p in pairs])
    assert ciede2000(first, second) == pytest.approx([p["dE00_published"] for p in pairs], abs=5e-5)
