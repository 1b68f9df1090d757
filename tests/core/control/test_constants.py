"""Shewhart constants as printed in handbooks, and against an independent numerical integration."""

import csv
from pathlib import Path

import pytest

from printlore.core.control.constants import shewhart_constants
from printlore.errors import ValueOutOfRange

DATA = Path(__file__).parents[2] / "data"
NAMES = {"A2": "a2", "A3": "a3", "D3": "lower_range", "D4": "upper_range", "B3": "lower_deviation"} | {
    "B4": "upper_deviation",
    "d2": "d2",
    "d3": "d3",
    "c4": "c4",
}


def rows():
    with (DATA / "shewhart_constants_calculated.csv").open() as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


@pytest.mark.parametrize("row", rows(), ids=lambda row: row["n"])
def test_constants_agree_with_an_independent_integration(row):
    ours = shewhart_constants(int(row["n"]))
    for column, name in NAMES.items():
        assert getattr(ours, name) == pytest.approx(float(row[column]), abs=1.1e-5), column


# Appendix table of Montgomery, Introduction to Statistical Quality Control (same digits in ASTM E2587); from memory.
PRINTED = {
    2: {"A2": 1.880, "A3": 2.659, "c4": 0.7979, "d2": 1.128, "D3": 0.0, "D4": 3.267, "B3": 0.0, "B4": 3.267},
    3: {"A2": 1.023, "A3": 1.954, "c4": 0.8862, "d2": 1.693, "D3": 0.0, "D4": 2.574, "B3": 0.0, "B4": 2.568},
    4: {"A2": 0.729, "A3": 1.628, "c4": 0.9213, "d2": 2.059, "D3": 0.0, "D4": 2.282, "B3": 0.0, "B4": 2.266},
    5: {"A2": 0.577, "A3": 1.427, "c4": 0.9400, "d2": 2.326, "D3": 0.0, "D4": 2.114, "B3": 0.0, "B4": 2.089},
    10: {"A2": 0.308, "A3": 0.975, "c4": 0.9727, "d2": 3.078, "D3": 0.223, "D4": 1.777, "B3": 0.284, "B4": 1.716},
}


@pytest.mark.parametrize(("n", "constant"), [(n, c) for n, by_name in PRINTED.items() for c in by_name])
def test_constants_come_out_to_the_printed_digits(n, constant):
    printed = PRINTED[n][constant]
    places = 4 if constant == "c4" else 3
    # Some printed tables round 2.5746 and 2.1145 down; one unit in the last place is allowed for.
    assert getattr(shewhart_constants(n), NAMES[constant]) == pytest.approx(printed, abs=1.05 * 10**-places)


@pytest.mark.parametrize("n", [1, 26])
def test_samples_without_constants_are_refused(n):
    with pytest.raises(ValueOutOfRange, match=f"Samples of {n} have no constants"):
        shewhart_constants(n)
