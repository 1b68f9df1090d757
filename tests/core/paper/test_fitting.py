"""The fitter against certified fits, and step series against curves known beforehand."""

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from printlore.core.flags import Flag
from printlore.core.paper.fitting import UsualResponse, fit_curve, fit_step_series
from printlore.core.paper.layers import LayerCurve, curve
from printlore.errors import ValueOutOfRange

DATA = Path(__file__).parents[2] / "data"


def rows(name):
    return list(csv.DictReader(line for line in (DATA / name).read_text().splitlines() if not line.startswith("#")))


def dataset(name):
    points = rows(f"nist_strd_{name.lower()}_data.csv")
    certified = [row for row in rows("nist_strd_certified_parameters.csv") if row["dataset"] == name]
    return (
        np.array([float(row["x"]) for row in points]),
        np.array([float(row["y"]) for row in points]),
        {key: np.array([float(row[key]) for row in certified]) for key in certified[0] if key[0] in "sc"},
    )


def rat42(x, b):
    """b1 / (1 + exp(b2 - b3 x)), as NIST writes it."""
    s = np.exp(-np.logaddexp(0.0, b[1] - b[2] * x))
    return b[0] * s, np.column_stack([s, -b[0] * s * (1 - s), b[0] * s * (1 - s) * x])


def rat43(x, b):
    """b1 / (1 + exp(b2 - b3 x)) ** (1 / b4), as NIST writes it."""
    log_s = -np.logaddexp(0.0, b[1] - b[2] * x)
    root = np.exp(np.clip(log_s / b[3], -700, 700))
    by_log = b[0] * root / b[3]
    rest = -np.expm1(log_s)
    return b[0] * root, np.column_stack([root, -by_log * rest, by_log * rest * x, -by_log * log_s / b[3]])


@pytest.mark.parametrize("start", ["start_1", "start_2"])
@pytest.mark.parametrize(("name", "family"), [("Rat42", rat42), ("Rat43", rat43)])
def test_certified_fits_are_met_from_both_published_starts(name, family, start):
    """NIST StRD Rat42 and Rat43: parameters to 6 digits and more, standard deviations to 5."""
    x, y, certified = dataset(name)
    fit = fit_curve(family, x, y, certified[start])
    assert np.allclose(fit.parameters, certified["certified_value"], rtol=1e-7, atol=0)
    assert np.allclose(fit.standard_errors, certified["certified_standard_deviation"], rtol=1e-5, atol=0)


def test_our_own_curve_fits_rat42_to_the_certified_parameters():
    """Rat42 is an even curve in the printer's terms: height at x = 40, maximum, slope there; turned back to NIST's."""
    x, y, certified = dataset("Rat42")
    b = certified["certified_value"]

    def even(at, p):
        aim, maximum, gradient = p
        change, _, (by_gradient, by_range, _, by_aim) = curve(at - 40.0, *np.array((gradient, maximum, 0.0, aim)))
        return aim + change, np.column_stack([1 + by_aim, by_range / maximum, by_gradient / gradient])

    aim, maximum, gradient = fit_curve(even, x, y, (40.0, 80.0, 1.5)).parameters
    rate = gradient / (aim * (1 - aim / maximum))
    assert (maximum, rate) == pytest.approx((b[0], b[2]), rel=1e-6)
    assert 40.0 * rate - np.log(aim / (maximum - aim)) == pytest.approx(b[1], rel=1e-6)


def test_a_known_error_gives_the_textbook_covariance_of_a_straight_line():
    """Weighted straight line: variances sigma^2 / n and sigma^2 / Sxx about the mean (any statistics text)."""
    x = np.arange(-5.0, 6.0)
    y = 2 + 3 * x
    fit = fit_curve(
        lambda at, p: (p[0] + p[1] * at, np.column_stack([np.ones_like(at), at])), x, y, (0, 0), standard_error=0.1
    )
    assert np.allclose(fit.parameters, (2, 3))
    assert np.allclose(fit.covariance, np.diag((0.01 / 11, 0.01 / 110)))


def test_too_few_points_for_the_unknowns_are_refused():
    with pytest.raises(ValueOutOfRange, match="2 steps cannot settle 3 unknowns of a curve; read more steps"):
        fit_curve(rat42, (1, 2), (1, 2), (100, 1, 0.1))


def test_readings_that_do_not_pair_up_are_refused():
    with pytest.raises(ValueOutOfRange, match="as many readings as steps"):
        fit_curve(rat42, (1, 2, 3), (1, 2), (100, 1, 0.1))


def test_steps_that_leave_an_unknown_open_are_refused():
    with pytest.raises(ValueOutOfRange, match="leave an unknown of the curve open"):
        fit_curve(lambda at, p: (p[0] + p[1] + 0 * at, np.ones((at.size, 2))), np.arange(5.0), np.arange(5.0), (0, 0))


TRUE = LayerCurve(aim=0.62, maximum=2.35, gradient=3.1, asymmetry=0.15)
STEPS = np.arange(-0.6, 0.61, 0.1)


def test_a_step_series_gives_back_the_curve_it_was_made_from():
    fit = fit_step_series(
        STEPS + 1.7,
        0.08 + TRUE.value(STEPS),
        aim_density=0.70,
        standard_error=1e-4,
        usual=UsualResponse(range_error=1.0, gradient_error=1.0, asymmetry_error=2.0),
    )
    assert fit.aim_log_exposure.value == pytest.approx(1.7, abs=1e-5)
    assert fit.minimum.value == pytest.approx(0.08, abs=1e-4)
    assert fit.gradient.value == pytest.approx(3.1, rel=1e-3)
    assert fit.maximum.value == pytest.approx(2.43, rel=1e-3)
    assert fit.curve.asymmetry == pytest.approx(0.15, abs=5e-3)
    assert np.allclose(fit.density(STEPS + 1.7), 0.08 + TRUE.value(STEPS), atol=1e-4)
    assert fit.flags == ()


def test_errors_of_a_step_series_cover_the_truth_as_often_as_they_say():
    """90 % intervals of the aim's log exposure over 300 noisy series hold the truth in 84 to 96 % (binomial, 3 sd)."""
    rng = np.random.default_rng(11)
    inside = 0
    for _ in range(300):
        density = 0.09 + TRUE.value(STEPS[3:10]) + rng.normal(0, 0.006, 7)
        fit = fit_step_series(STEPS[3:10], density, aim_density=0.71)
        low, high = fit.aim_log_exposure.interval(0.9)
        inside += low <= 0.0 <= high
    assert 252 <= inside <= 288


@given(st.floats(0.15, 2.2), st.floats(-3, 3))
def test_one_patch_places_the_curve_with_an_honest_error(density, exposure):
    fit = fit_step_series([exposure], [density], aim_density=0.7)
    assert Flag.ONE_PATCH in fit.flags
    assert fit.density(exposure) == pytest.approx(density, abs=0.01)
    assert fit.aim_log_exposure.standard_error >= 0.0015


def test_the_further_the_only_patch_from_the_aim_the_wider_the_answer():
    errors = [
        fit_step_series([0.0], [d], aim_density=0.7).aim_log_exposure.standard_error for d in (0.7, 1.0, 1.6, 2.3)
    ]
    assert errors == sorted(errors)
    assert errors[-1] > 5 * errors[0]


def test_doubts_about_a_series_are_named():
    assert Flag.EXTRAPOLATED in fit_step_series([0.0, 0.1], [1.2, 1.5], aim_density=0.7).flags
    assert Flag.SATURATED in fit_step_series([0.0, 0.1], [2.58, 2.59], aim_density=0.7).flags
    blunder = 0.09 + TRUE.value(STEPS)
    blunder[6] += 0.3
    assert Flag.OUTLIER in fit_step_series(STEPS, blunder, aim_density=0.71).flags


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (([], [], 0.7, 0.006), "no step to fit; read at least one patch"),
        (([0.0], [float("nan")], 0.7, 0.006), "all numbers"),
        (([0.0], [0.7], 3.0, 0.006), r"aim density is 3; paper holds about 0.09 to 2.59. Choose another"),
        (([0.0], [0.7], 0.7, 0.0), "error of a density is 0; it must be above 0"),
    ],
)
def test_a_series_that_says_nothing_is_refused(arguments, words):
    steps, density, aim, error = arguments
    with pytest.raises(ValueOutOfRange, match=words):
        fit_step_series(steps, density, aim_density=aim, standard_error=error)
