"""The examples in the pages on light and paper give what they print."""

import doctest
from pathlib import Path

import numpy as np
import pytest

from printlore.core.light.published import compare_published_factors

DOCS = Path(__file__).parents[3] / "docs"


@pytest.mark.parametrize("name", ["light.md", "paper.md"])
def test_examples_give_what_the_page_prints(name):
    failed, tried = doctest.testfile(str(DOCS / name), module_relative=False)
    assert tried > 3
    assert failed == 0


def test_differences_from_the_published_factors_are_those_the_page_states():
    """docs/light.md: root mean square 0.11 stop, largest 0.27 (CC40G), red within 0.04, blue within 0.13."""
    stops = {row.filter: row.difference_stops for row in compare_published_factors()}
    assert np.sqrt(np.mean(np.square(list(stops.values())))) == pytest.approx(0.11, abs=0.005)
    assert max(stops, key=lambda name: abs(stops[name])) == "CC40G"
    assert stops["CC40G"] == pytest.approx(0.27, abs=0.005)
    for letter, most in (("R", 0.045), ("B", 0.135)):
        assert max(abs(stop) for name, stop in stops.items() if name.endswith(letter)) < most
