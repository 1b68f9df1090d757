"""Length of a roll against published figures and geometry."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from printlore.core.cutting.roll import (
    combined_length,
    length_from_diameter,
    length_from_turns,
    length_from_weight,
    turns_length,
    usable_length,
)
from printlore.core.estimate import Estimate
from printlore.core.flags import Flag
from printlore.errors import ValueOutOfRange


@pytest.mark.parametrize(
    ("thickness", "core", "outer", "published"),
    [(0.06, 18, 60, 42882.74547004675), (0.1, 2, 3, 39.27313461871492)],
)
def test_length_is_that_of_the_published_spiral_but_for_its_known_small_part(thickness, core, outer, published):
    """Package documentation of roll-calc 1.0.0; the spiral is longer by thickness / 4 pi * ln(D / d)."""
    found = length_from_diameter(outer, core, thickness).value
    assert abs(published - found) < 0.05
    assert published - found == pytest.approx(thickness / (4 * math.pi) * math.log(outer / core), rel=0.01)


def test_a_roll_of_eighty_four_metres_is_found_from_its_diameter():
    """84 m of 0.23 mm paper on a 76 mm core: its face is a ring of 84000 x 0.23 mm2."""
    outer = math.sqrt(76**2 + 4 * 84_000 * 0.23 / math.pi)
    assert length_from_diameter(outer, 76, 0.23).value == pytest.approx(84_000)


@given(st.floats(1, 400), st.floats(20, 150), st.floats(0.1, 0.4))
def test_turns_and_diameter_tell_the_same_length(turns, core, thickness):
    outer = core + 2 * turns * thickness
    by_turns = length_from_turns(turns, core, thickness).value
    assert by_turns == pytest.approx(length_from_diameter(outer, core, thickness).value, rel=1e-9)


def test_length_from_weight_is_area_over_width():
    """2.1 kg of 250 g/m2 paper, 305 mm wide, less a 100 g core: 2000 g are 8 m2, 26.23 m long."""
    assert length_from_weight(2100, 100, 305, 250).value == pytest.approx(8e6 / 305)


def test_error_of_the_length_follows_the_errors_of_the_measures():
    """Checked against the spread of lengths when the measures are shaken; that they are assumed is flagged."""
    rng = np.random.default_rng(7)
    outer, core, turns, heavy, empty, by = rng.standard_normal((6, 40_000))
    outer, core, turns, heavy, empty = 180 + outer, 76 + core, 200 + 0.5 * turns, 2100 + 5 * heavy, 100 + 5 * empty
    thickness, grammage = 0.23 * (1 + 0.02 * by), 250 * (1 + 0.03 * by)
    for stated, lengths in (
        (length_from_diameter(180, 76, 0.23), np.pi * (outer**2 - core**2) / (4 * thickness)),
        (length_from_turns(200, 76, 0.23), np.pi * turns * (core + turns * thickness)),
        (length_from_weight(2100, 100, 305, 250), (heavy - empty) / (grammage * 305) * 1e6),
    ):
        assert stated.standard_error == pytest.approx(lengths.std(), rel=0.03)
        assert stated.flags == (Flag.NO_ERROR_KNOWN,)


def test_two_measures_are_weighted_by_their_errors():
    both = combined_length([Estimate(value=1000, standard_error=10), Estimate(value=1020, standard_error=20)])
    assert both.value == pytest.approx(1004)
    assert both.standard_error == pytest.approx(math.sqrt(80))


def test_measures_that_disagree_are_flagged_and_widened():
    apart = combined_length([Estimate(value=1000, standard_error=10), Estimate(value=1100, standard_error=10)])
    assert Flag.MEASURES_DISAGREE in apart.flags
    assert apart.standard_error == pytest.approx(50)


def test_plans_rely_on_the_safe_end_of_the_length():
    assert usable_length(Estimate(value=10_000, standard_error=100), first_turns=500, last_turns=300) == pytest.approx(
        10_000 - 164.5 - 800
    )
    assert usable_length(Estimate(value=100, standard_error=10), first_turns=500, last_turns=0) == 0
    assert turns_length(2, 100) == pytest.approx(200 * math.pi)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: length_from_diameter(70, 76, 0.2), "the core must be the smaller"),
        (lambda: length_from_diameter(100, 76, 0), "Measure ten sheets together"),
        (lambda: length_from_turns(-1, 76, 0.2), "count the turns on the core"),
        (lambda: length_from_weight(50, 100, 305, 250), "the core must be the lighter"),
        (lambda: combined_length([]), "No length to combine"),
        (lambda: combined_length([Estimate(value=1, standard_error=0)]), "Say how well it was measured"),
    ],
)
def test_measures_that_cannot_be_are_refused_in_words(call, words):
    with pytest.raises(ValueOutOfRange, match=words):
        call()
