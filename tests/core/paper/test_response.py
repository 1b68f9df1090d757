"""Layer response: passes the aim, rises, goes back, and has the slopes it says."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from printlore.core.paper.response import (
    ResponseCurve,
    log_exposure_for,
    response,
    response_with_slopes,
)
from printlore.errors import ValueOutOfRange

curves = st.builds(
    lambda share, maximum, gradient, shape: np.array((share * maximum, maximum, gradient, shape)),
    st.floats(0.05, 0.9),
    st.floats(0.5, 4.0),
    st.floats(0.5, 6.0),
    st.floats(0.2, 4.0),
)
exposures = st.floats(-1.0, 1.0)


@given(curves)
def test_no_change_of_exposure_gives_the_aim_at_the_stated_gradient(curve):
    value, slope, _ = response_with_slopes(0.0, curve)
    assert value == pytest.approx(curve[0], rel=1e-12)
    assert slope == pytest.approx(curve[2], rel=1e-10)


@given(curves)
def test_more_exposure_never_prints_lighter_and_ends_are_white_and_maximum(curve):
    h = np.linspace(-1.0, 1.0, 101)
    values = response(h, curve)
    assert (np.diff(values) >= 0).all()
    assert response(-60.0, curve) == pytest.approx(0.0, abs=1e-6)
    assert response(60.0, curve) == pytest.approx(curve[1], rel=1e-9)


@given(curves, st.floats(0.001, 0.999))
def test_inverse_is_exact(curve, share):
    amount = share * curve[1]
    assert response(log_exposure_for(amount, curve), curve) == pytest.approx(amount, rel=1e-9)


@given(curves, exposures)
def test_slopes_are_those_of_the_curve(curve, h):
    value, by_h, by_parameters = response_with_slopes(h, curve)
    assert value == pytest.approx(float(response(h, curve)), abs=1e-14)
    step = 1e-6
    assert by_h == pytest.approx((response(h + step, curve) - response(h - step, curve)) / (2 * step), abs=1e-6)
    for k in range(4):
        move = np.zeros(4)
        move[k] = step * curve[k]
        numeric = (response(h, curve + move) - response(h, curve - move)) / (2 * move[k])
        assert by_parameters[k] == pytest.approx(numeric, abs=1e-6 * max(1.0, curve[1] / curve[k]))


def test_three_layers_at_many_exposures_in_one_call():
    layers = np.array([(0.6, 3.0, 3.0, 1.0), (0.5, 2.4, 2.9, 0.9), (0.6, 2.3, 3.2, 1.1)])
    value, by_h, by_parameters = response_with_slopes(np.zeros((7, 3)), layers)
    assert value.shape == by_h.shape == (7, 3)
    assert by_parameters.shape == (7, 3, 4)
    assert np.allclose(value, layers[:, 0])


def test_amounts_out_of_reach_have_no_finite_exposure():
    assert log_exposure_for([-0.1, 0.0, 2.0, 2.5], (0.6, 2.0, 3.0, 1.0)).tolist() == [-np.inf, -np.inf, np.inf, np.inf]


def test_curve_value_and_inverse_agree_with_the_functions():
    curve = ResponseCurve(aim=0.6, maximum=2.5, gradient=3.0, shape=0.8)
    assert curve.log_exposure(curve.value(0.13)) == pytest.approx(0.13)
    assert curve.value(0.13) == response(0.13, curve.parameters)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"gradient": 0.0}, r"gradient of a response curve is 0; it must be above 0"),
        ({"shape": float("nan")}, r"shape of a response curve is nan"),
        ({"aim": 2.5}, r"cannot pass 2.5 if it never goes beyond 2.5; choose a lighter aim"),
    ],
)
def test_a_curve_that_cannot_be_is_refused(change, words):
    with pytest.raises(ValueOutOfRange, match=words):
        ResponseCurve(**({"aim": 0.6, "maximum": 2.5, "gradient": 3.0} | change))


def test_arrays_of_impossible_parameters_are_refused():
    with pytest.raises(ValueOutOfRange, match="aim below the maximum"):
        response(0.0, (3.0, 2.5, 3.0, 1.0))
