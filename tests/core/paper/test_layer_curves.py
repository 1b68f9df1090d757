"""Curves of a paper's layers: they pass the aim, rise, go back, and have the slopes they say."""

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import least_squares

from printlore.core.paper.facts import PaperFacts
from printlore.core.paper.layers import LayerCurve, LayerCurves, curve, curve_inverse
from printlore.errors import ValueOutOfRange

curves = st.builds(
    lambda share, maximum, gradient, asymmetry: np.array((gradient, maximum, asymmetry, share * maximum)),
    st.floats(0.05, 0.9),
    st.floats(0.5, 4.0),
    st.floats(0.5, 6.0),
    st.floats(-0.9, 0.9),
)
exposures = st.floats(-1.0, 1.0)


@given(curves)
def test_no_change_of_exposure_gives_the_aim_at_the_stated_gradient(shape):
    change, slope, _ = curve(np.array(0.0), *shape)
    assert change == pytest.approx(0.0, abs=1e-12)
    assert slope == pytest.approx(shape[0], rel=1e-10)


@given(curves)
def test_more_exposure_never_prints_lighter_and_ends_are_white_and_maximum(shape):
    gradient, maximum, asymmetry, aim = shape.tolist()
    layer = LayerCurve(aim=aim, maximum=maximum, gradient=gradient, asymmetry=asymmetry)
    assert (np.diff(layer.value(np.linspace(-1.0, 1.0, 101))) >= 0).all()
    assert layer.value(-1e4) == pytest.approx(0.0, abs=1e-6)
    assert layer.value(1e4) == pytest.approx(maximum, rel=1e-9)


@given(curves, st.floats(0.005, 0.995))
def test_inverse_is_exact_inside_the_range(shape, share):
    gradient, maximum, asymmetry, aim = shape.tolist()
    layer = LayerCurve(aim=aim, maximum=maximum, gradient=gradient, asymmetry=asymmetry)
    assert layer.value(layer.log_exposure(share * maximum)) == pytest.approx(share * maximum, rel=1e-7)


@given(curves, exposures)
def test_slopes_are_those_of_the_curve(shape, h):
    """Derivatives by ln gradient, ln range, asymmetry and amount, and by h; finite differences."""
    here = np.array(h)
    _, by_h, by_parameters = curve(here, *shape)
    step = 1e-6
    numeric = (curve(here + step, *shape)[0] - curve(here - step, *shape)[0]) / (2 * step)
    assert by_h == pytest.approx(numeric, abs=1e-5)
    for place in range(4):
        size = step * (shape[place] if place in (0, 1) else 1.0)
        move = np.zeros(4)
        move[place] = size
        numeric = (curve(here, *(shape + move))[0] - curve(here, *(shape - move))[0]) / (2 * step)
        assert by_parameters[place] == pytest.approx(numeric, abs=1e-5 * max(1.0, abs(float(numeric)) * 10))


def test_amounts_out_of_reach_are_taken_to_the_end_of_the_range():
    layer = LayerCurve(aim=0.6, maximum=2.0, gradient=3.0)
    low, white, black, high = layer.log_exposure([-0.1, 0.0, 2.0, 2.5])
    assert low == white < -0.5
    assert high == black > 0.5


def test_three_layers_of_a_paper_pass_its_aim_and_go_back_through_side_absorptions():
    paper = LayerCurves.from_facts(PaperFacts(name="paper"))
    assert paper.density_at(np.zeros(3)) == pytest.approx((0.72, 0.72, 0.72))
    h = np.array([[-0.2, 0.1, 0.05], [0.2, 0.15, -0.1]])
    back, slope = paper.log_exposure_at(paper.density_at(h))
    assert back == pytest.approx(h, abs=1e-9)
    assert (slope > 0).all()
    assert paper.log_exposure_at(np.full(3, 0.72))[1].diagonal() == pytest.approx(PaperFacts(name="p").gradient)


def test_one_layer_agrees_with_the_functions():
    layer = LayerCurve(aim=0.6, maximum=2.5, gradient=3.0, asymmetry=0.2)
    pieces = np.array((3.0, 2.5, 0.2, 0.6))
    assert layer.value(0.13) == 0.6 + curve(np.array(0.13), *pieces)[0]
    assert layer.log_exposure(1.0) == curve_inverse(np.array(0.4), *pieces)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"gradient": 0.0}, r"gradient of a layer's curve is 0; it must be above 0"),
        ({"maximum": float("nan")}, r"maximum of a layer's curve is nan"),
        ({"asymmetry": 1.0}, r"asymmetry of a layer's curve is 1; it runs from -1 to 1"),
        ({"aim": 2.5}, r"cannot pass 2.5 if it never goes beyond 2.5; choose a lighter aim"),
    ],
)
def test_a_curve_that_cannot_be_is_refused(change, words):
    with pytest.raises(ValueOutOfRange, match=words):
        LayerCurve(**({"aim": 0.6, "maximum": 2.5, "gradient": 3.0} | change))


def nist(name):
    lines = (Path(__file__).parents[2] / "data" / name).read_text().splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def test_the_curve_fits_rat42_to_the_certified_parameters():
    """NIST StRD Rat42 is an even curve in the printer's terms: height at x = 40, maximum, slope there."""
    x, y = (np.array([float(row[axis]) for row in nist("nist_strd_rat42_data.csv")]) for axis in "xy")
    b = [float(row["certified_value"]) for row in nist("nist_strd_certified_parameters.csv")]

    def misfit(p):
        aim, maximum, gradient = p
        return aim + curve(x - 40.0, *np.array((gradient, maximum, 0.0, aim)))[0] - y

    def slopes(p):
        aim, maximum, gradient = p
        _, _, (by_gradient, by_range, _, by_aim) = curve(x - 40.0, *np.array((gradient, maximum, 0.0, aim)))
        return np.column_stack([1 + by_aim, by_range / maximum, by_gradient / gradient])

    tight = {"xtol": 1e-14, "ftol": 1e-14, "gtol": 1e-14}
    aim, maximum, gradient = least_squares(misfit, (40.0, 80.0, 1.5), jac=slopes, method="lm", **tight).x
    rate = gradient / (aim * (1 - aim / maximum))
    assert (maximum, rate) == pytest.approx((b[0], b[2]), rel=1e-6)
    assert 40.0 * rate - np.log(aim / (maximum - aim)) == pytest.approx(b[1], rel=1e-6)
