"""Wedge and steps are found by themselves, and their densities come out right."""

import numpy as np
import pytest

from measuring_scenes import WEDGE, density_picture, scanned, strip_densities
from printlore.core.flags import Flag
from printlore.core.measure.scan import Box, Scan
from printlore.core.measure.scanner import grey_wedge
from printlore.core.measure.strip import (
    Exposures,
    StripKind,
    change_points,
    find_paper,
    read_strip,
    step_times,
)
from printlore.core.measure.wedge import find_wedge, read_wedge, wedge_boxes
from printlore.errors import ValueOutOfRange

KNOWN = grey_wedge(WEDGE)


def read(scan, **choices):
    return read_strip(scan, read_wedge(scan, KNOWN), **choices)


def off(reading, truth):
    assert len(reading.steps) == len(truth)
    return np.abs(np.array([step.density for step in reading.steps]) - truth).max()


@pytest.mark.parametrize("count", [1, 3, 5, 7, 10])
def test_steps_are_counted_and_read(count):
    truth = strip_densities(count, step=(0.10, 0.12, 0.09))
    assert off(read(scanned(density_picture(truth))), truth) < 0.006


@pytest.mark.parametrize(
    "fault",
    [{"skew": 1.5}, {"skew": -2.5}, {"exponent": 2.2}, {"exponent": 1.8, "bits": 8}, {"noise": 0.02}, {"specks": 150}],
    ids=str,
)
def test_usual_faults_do_not_hinder(fault):
    truth = strip_densities(6)
    assert off(read(scanned(density_picture(truth), **fault)), truth) < 0.012


def test_wedge_is_found_turned_and_upright():
    truth = strip_densities(5)
    backwards = density_picture(truth, wedge=WEDGE[::-1])
    assert off(read(scanned(backwards)), truth) < 0.006
    upright = np.ascontiguousarray(density_picture(truth).transpose(1, 0, 2))
    assert off(read(scanned(upright)), truth) < 0.006


def test_dark_background_does_as_well():
    truth = strip_densities(5)
    assert off(read(scanned(density_picture(truth, background=2.3))), truth) < 0.006


def test_stated_error_covers_what_is_off():
    truth = strip_densities(6)
    ratios = []
    for seed in range(12):
        reading = read(scanned(density_picture(truth), seed=seed, noise=0.02))
        for step, true in zip(reading.steps, truth, strict=True):
            ratios.extend((np.array(step.density) - true) / step.standard_error)
    assert np.sqrt(np.mean(np.square(ratios))) < 1.3


def test_given_boxes_are_read_as_given():
    truth = strip_densities(4)
    scan = scanned(density_picture(truth))
    boxes = find_boxes = read(scan).steps
    again = read(scan, boxes=[step.box for step in reversed(find_boxes)])
    assert [s.density for s in again.steps] == [s.density for s in reversed(boxes)]


def test_wedge_boxes_can_be_given_by_their_ends():
    scan = scanned(density_picture(strip_densities(4)))
    found = find_wedge(scan, KNOWN)
    given = wedge_boxes(found[0], found[-1], len(WEDGE))
    assert read_wedge(scan, KNOWN, given).curves.residual[1] < 0.004


@pytest.mark.parametrize("left_out", [slice(1, None), slice(None, -1), slice(None, -2)], ids=["first", "last", "two"])
@pytest.mark.parametrize("background", [0.07, 2.3])
def test_a_stated_density_too_few_is_told_where_every_reading_is_off(left_out, background):
    """Every density was 0.15 off with the error bars of a good reading."""
    truth = strip_densities(5)
    scan = scanned(density_picture(truth, background=background))
    reading = read_strip(scan, read_wedge(scan, grey_wedge(WEDGE[left_out])))
    assert off(reading, truth) < 0.02 or Flag.WEDGE_COUNT in reading.flags


@pytest.mark.parametrize("fault", [{}, {"skew": -2.5}, {"exponent": 2.2}, {"noise": 0.02}, {"flare": 0.01}], ids=str)
@pytest.mark.parametrize("wedge", [WEDGE, WEDGE[::-1], WEDGE[2:]], ids=["light first", "dark first", "begins dark"])
@pytest.mark.parametrize("background", [0.04, 0.07, 0.3, 2.3])
def test_a_wedge_stated_in_full_is_not_doubted(fault, wedge, background):
    scan = scanned(density_picture(strip_densities(5), wedge=wedge, background=background), **fault)
    assert Flag.WEDGE_COUNT not in read_wedge(scan, grey_wedge(wedge)).curves.flags


def test_across_picture_steps_are_found_in_spite_of_the_picture():
    def picture(rows, columns):
        rng = np.random.default_rng(8)
        y, x = np.mgrid[:rows, :columns]
        out = np.zeros((rows, columns))
        for _ in range(60):
            across, down, radius = rng.integers(0, columns), rng.integers(0, rows), rng.integers(8, 40)
            out[(x - across) ** 2 + (y - down) ** 2 < radius**2] = rng.normal(0, 0.25)
        return out

    steps = strip_densities(5)
    scan = scanned(density_picture(steps, picture=picture))
    reading = read(scan, kind=StripKind.ACROSS_PICTURE, count=5, reference_step=2)
    assert len(reading.steps) == 5
    assert reading.informative == (2,)
    width = int(0.7 * 640 / 5)
    for number, step in enumerate(reading.steps):
        assert step.box.left > 80 + number * width - 2
        assert step.box.right < 80 + (number + 1) * width + 2


def test_every_step_of_a_same_tone_strip_informs():
    reading = read(scanned(density_picture(strip_densities(4))))
    assert reading.informative == (0, 1, 2, 3)
    assert Flag.NOT_LEVELLED in reading.flags


def test_across_picture_strip_with_no_reference_named_informs_nothing():
    scan = scanned(density_picture(strip_densities(4)))
    assert read(scan, kind=StripKind.ACROSS_PICTURE, count=4).informative == ()


def test_cumulative_exposures_add_from_the_last_uncovered():
    """Common practice, no source: the card moves on, the first step gets every exposure."""
    assert step_times([4, 2, 2, 2], Exposures.CUMULATIVE) == (10.0, 6.0, 4.0, 2.0)
    assert step_times([4, 5, 6], Exposures.SEPARATE) == (4.0, 5.0, 6.0)
    with pytest.raises(ValueOutOfRange, match="Exposure 2 of the strip is 0 s; it must be above 0"):
        step_times([4, 0], Exposures.SEPARATE)


def test_change_points_find_a_known_number_of_edges():
    rng = np.random.default_rng(9)
    levels = np.repeat([0.0, -0.1, -0.2, -0.05], [30, 50, 20, 40])
    profile = levels[:, None] + rng.normal(0, 0.01, (140, 3))
    assert change_points(profile) == [0, 30, 80, 100, 140]
    assert change_points(profile, 4) == [0, 30, 80, 100, 140]


def test_flat_profile_has_no_edges():
    assert change_points(np.random.default_rng(1).normal(0, 0.01, (200, 3))) == [0, 200]


def test_two_equal_steps_are_called_unsure():
    truth = strip_densities(5)
    truth[3] = truth[2]
    reading = read(scanned(density_picture(truth)))
    assert Flag.STEPS_UNSURE in reading.flags


def test_scan_without_wedge_says_so():
    density = density_picture(strip_densities(5))
    density[: 420 // 4] = 0.07
    with pytest.raises(ValueOutOfRange, match="No wedge of 14 steps was found in scan"):
        read(scanned(density))


def test_scan_of_nothing_but_a_wedge_has_no_paper():
    density = density_picture(strip_densities(5))
    density[420 // 4 :] = 0.07
    scan = scanned(density, specks=0)
    with pytest.raises(ValueOutOfRange, match="No paper was found"):
        find_paper(scan, find_wedge(scan, KNOWN))


def test_blank_scan_has_no_wedge():
    with pytest.raises(ValueOutOfRange, match="No wedge"):
        find_wedge(Scan(pixels=np.full((200, 300, 3), 40000, np.uint16)), KNOWN)


def test_wrong_choices_are_named():
    scan = scanned(density_picture(strip_densities(3)))
    with pytest.raises(ValueOutOfRange, match="Step 9 is said to hold the reference, but the strip has 3 steps"):
        read(scan, reference_step=8)
    with pytest.raises(ValueOutOfRange, match="reaches outside"):
        read(scan, boxes=[Box(left=600, top=0, right=900, bottom=50)])
    with pytest.raises(ValueOutOfRange, match="No box was given"):
        read(scan, boxes=[])
    with pytest.raises(ValueOutOfRange, match="A strip of 0 steps cannot be"):
        read(scan, count=0)
    with pytest.raises(ValueOutOfRange, match="14 steps, but 2 boxes were given"):
        read_wedge(scan, KNOWN, [Box(left=0, top=0, right=9, bottom=9)] * 2)


@pytest.mark.parametrize("lid", [0.04, 0.07, 0.10])
@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize(("first", "step"), [(0.085, 0.06), (0.11, 0.2)])
def test_steps_about_as_light_as_the_lid_are_found(lid, turned, first, step):
    """The lightest step differs from the scanner's white lid by as little as 0.01 of density."""
    densities = (first + np.arange(5)[:, None] * step + np.zeros(3))[:: -1 if turned else 1]
    scan = scanned(density_picture(densities, background=lid), fall=0.01)
    reading = read_strip(scan, read_wedge(scan, grey_wedge(WEDGE)))
    assert len(reading.steps) == 5
    assert np.abs([step.density for step in reading.steps] - densities).max() < 0.008


@pytest.mark.parametrize("turned", [False, True])
def test_a_step_that_cannot_be_told_from_the_lid_is_placed_by_the_number_of_steps_and_flagged(turned):
    densities = (0.1 + np.arange(5)[:, None] * 0.1 + np.zeros(3))[:: -1 if turned else 1]
    scan = scanned(density_picture(densities, background=0.1))
    reading = read_strip(scan, read_wedge(scan, grey_wedge(WEDGE)), count=5)
    assert np.abs([step.density for step in reading.steps] - densities).max() < 0.008
    assert Flag.STEPS_UNSURE in reading.flags


def test_an_unexposed_end_narrower_than_a_step_is_none():
    densities = 0.3 + np.arange(4)[:, None] * 0.15 + np.zeros(3)
    picture = density_picture(densities, background=0.07)
    left = 640 // 8
    picture[126:336, left - 50 : left] = 0.10
    scan = scanned(picture)
    reading = read_strip(scan, read_wedge(scan, grey_wedge(WEDGE)))
    assert np.abs([step.density for step in reading.steps] - densities).max() < 0.008


def test_faint_steps_are_evenly_placed_by_their_number():
    """Two lightest steps 0.005 apart; their number is known, so the others keep their places."""
    densities = np.array([0.08, 0.085, 0.15, 0.4, 1.0])[:, None] + np.zeros(3)
    scan = scanned(density_picture(densities, background=0.10))
    reading = read_strip(scan, read_wedge(scan, grey_wedge(WEDGE)), count=5)
    assert np.abs([step.density for step in reading.steps] - densities).max() < 0.01
