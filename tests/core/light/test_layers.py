"""Light adds, not time."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from printlore.core.light.filters import FilterPack
from printlore.core.light.head import AdditiveHead, SubtractiveHead
from printlore.core.light.layers import layer_log_exposure, rounded_time, segments_of
from printlore.core.light.setting import Burn, Setting
from printlore.errors import ValueOutOfRange

HEAD = SubtractiveHead()
PACK = FilterPack(magenta=40, yellow=60)


def setting(time=8.0, **more):
    return Setting(**({"pack": PACK, "time": time} | more))


def test_at_the_references_only_the_pack_counts():
    assert np.allclose(layer_log_exposure(setting(), HEAD), (0.0, -0.4, -0.6))


def test_time_stop_and_magnification_move_all_layers_alike():
    """One stop is log10(2); (m + 1)^2 for magnification (hunt2004)."""
    moved = layer_log_exposure(setting(time=16.0, f_number=16.0, magnification=17.0), HEAD)
    assert np.allclose(moved - layer_log_exposure(setting(), HEAD), math.log10(2 / 4 / 4))


def test_a_burn_of_the_same_pack_adds_its_seconds():
    burnt = setting(burns=(Burn(name="sky", time=4.0),))
    assert np.allclose(layer_log_exposure(burnt, HEAD, part="sky"), layer_log_exposure(setting(12.0), HEAD))
    assert np.allclose(layer_log_exposure(burnt, HEAD), layer_log_exposure(setting(), HEAD))


def test_a_dodge_shortens_the_base_exposure():
    dodged = setting(burns=(Burn(name="face", time=-2.0),))
    assert np.allclose(layer_log_exposure(dodged, HEAD, part="face"), layer_log_exposure(setting(6.0), HEAD))


def test_a_burn_with_its_own_pack_adds_light_not_cc():
    """8 s of (0, .4, .6) and 8 s of no filter: log10(10^-.4 + 1) in green, worked by hand."""
    burnt = setting(burns=(Burn(name="sky", time=8.0, pack=FilterPack()),))
    expected = [math.log10(10**-cc + 1) for cc in (0.0, 0.4, 0.6)]
    assert np.allclose(layer_log_exposure(burnt, HEAD, part="sky"), expected)


def test_every_switching_on_costs_the_rise_of_the_lamp():
    two = setting(time=4.1, burns=(Burn(name="sky", time=4.1),))
    assert np.allclose(
        layer_log_exposure(two, HEAD, part="sky", rise=0.1), layer_log_exposure(setting(8.1), HEAD, rise=0.1)
    )


def test_reciprocity_works_on_each_layer_and_each_light():
    slow = layer_log_exposure(setting(80.0), HEAD, reciprocity=(1.0, 0.97, 0.95))
    assert np.allclose(slow - layer_log_exposure(setting(), HEAD), (1.0, 0.97, 0.95))
    apart = AdditiveHead()
    shorter = layer_log_exposure(setting(), apart, reciprocity=(1.0, 0.9, 1.0))
    assert shorter[1] == pytest.approx(-0.9 * 0.4)
    together = layer_log_exposure(setting(), AdditiveHead(one_after_another=False), reciprocity=(1.0, 0.9, 1.0))
    assert together[1] == pytest.approx(-0.4)


@given(
    st.tuples(*[st.floats(0, 120)] * 3),
    st.tuples(*[st.floats(-60, 60)] * 3),
    st.floats(1, 60),
)
def test_a_moved_pack_with_its_time_exposes_the_layers_as_asked(start, move, time):
    """moved() shifts the pack by neutral; ten to the shift over 100 on the time gives the layers what was asked."""
    pack = FilterPack(cyan=start[0], magenta=start[1], yellow=start[2])
    after, shift = pack.moved(cyan=move[0], magenta=move[1], yellow=move[2])
    made = layer_log_exposure(Setting(pack=after, time=time * 10 ** (shift / 100)), HEAD)
    before = layer_log_exposure(Setting(pack=pack, time=time), HEAD)
    assert np.allclose(made, before - np.array(move) / 100, atol=1e-9)


@given(st.tuples(*[st.floats(0, 120)] * 3))
def test_taking_out_the_neutral_keeps_the_balance(strengths):
    pack = FilterPack(cyan=strengths[0], magenta=strengths[1], yellow=strengths[2])
    change = HEAD.layer_log_exposure(pack.without_neutral()) - HEAD.layer_log_exposure(pack)
    assert np.allclose(change, pack.neutral / 100, atol=1e-12)
    assert pack.without_neutral().neutral == 0


def test_an_unknown_part_is_refused_with_the_known_ones():
    with pytest.raises(ValueOutOfRange, match='no burn or dodge named "sea"; it has: sky'):
        segments_of(setting(burns=(Burn(name="sky", time=1.0),)), HEAD, "sea")


def test_dodges_that_leave_nothing_are_refused():
    both = setting(burns=(Burn(name="face", time=-5.0), Burn(name="face", time=-5.0)))
    with pytest.raises(ValueOutOfRange, match='Dodges of "face" take all of the 8 s'):
        segments_of(both, HEAD, "face")


def test_times_round_to_the_timer_but_never_to_nothing():
    assert rounded_time(7.26, 0.5) == 7.5
    assert rounded_time(0.1, 0.5) == 0.5
    assert rounded_time(7.263, 0) == 7.263


@pytest.mark.parametrize(("time", "step", "words"), [(0, 0.1, "time is 0 s"), (8, -1, "timer's step is -1 s")])
def test_a_time_or_step_that_cannot_be_is_refused(time, step, words):
    with pytest.raises(ValueOutOfRange, match=words):
        rounded_time(time, step)
