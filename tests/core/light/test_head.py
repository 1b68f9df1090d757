"""Heads of two kinds behind one interface."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from printlore.core.light.filters import FilterPack
from printlore.core.light.head import AdditiveHead, SubtractiveHead
from printlore.errors import ValueOutOfRange

LEAKY = SubtractiveHead(
    response=((0.9, 0.08, 0.02), (0.1, 1.1, 0.12), (0.04, 0.1, 1.3)),
    curvature=((0.0, 0.0, 0.0), (-0.0008, 0.0, 0.0002), (0.0001, -0.001, 0.0)),
)
CROSSED = AdditiveHead(cross_talk=((0.97, 0.03, 0.0), (0.04, 0.94, 0.02), (0.0, 0.05, 0.95)))
heads = st.sampled_from([SubtractiveHead(), LEAKY, AdditiveHead(), CROSSED, AdditiveHead(one_after_another=False)])
strengths = st.floats(0, 90)
packs = st.builds(lambda c, m, y: FilterPack(cyan=c, magenta=m, yellow=y), strengths, strengths, strengths)


@given(packs)
def test_an_ideal_head_takes_what_the_pack_says(pack):
    """1 CC is 0.01 log10 of exposure of one layer, by definition."""
    for head in (SubtractiveHead(), AdditiveHead(), AdditiveHead(one_after_another=False)):
        assert np.allclose(head.layer_log_exposure(pack), -np.array(pack.as_tuple()) / 100)


@given(heads, packs)
def test_dials_for_undoes_layer_exposure_but_for_neutral(head, pack):
    taken = -100 * head.layer_log_exposure(pack)
    found, neutral = head.dials_for(taken)
    assert found.neutral == pytest.approx(0, abs=1e-9)
    assert np.allclose(-100 * head.layer_log_exposure(found), taken + neutral, atol=1e-6)


@given(heads, st.tuples(*[st.floats(-60, 60)] * 3), st.floats(-50, 50))
def test_a_neutral_more_or_less_asks_for_the_same_dials(head, layer, grey):
    try:
        one, shift_one = head.dials_for(layer)
    except ValueOutOfRange:
        return
    other, shift_other = head.dials_for(np.array(layer) + grey)
    assert np.allclose(one.as_tuple(), other.as_tuple(), atol=1e-6)
    assert shift_one - grey == pytest.approx(shift_other, abs=1e-6)


@given(heads, packs)
def test_more_filter_of_any_colour_never_lets_more_light_to_its_layer(head, pack):
    for k, name in enumerate(("cyan", "magenta", "yellow")):
        more = FilterPack(**(pack.by_colour() | {name: pack.by_colour()[name] + 5}))
        assert head.layer_log_exposure(more)[k] <= head.layer_log_exposure(pack)[k] + 1e-12


@given(heads, packs, st.floats(0.5, 60))
def test_segments_add_up_to_the_layer_exposure(head, pack, time):
    light = sum(10.0 ** np.array(segment.log_light) * segment.time for segment in head.segments(pack, time))
    assert np.allclose(np.log10(light), head.layer_log_exposure(pack) + math.log10(time))


def test_three_times_and_their_pack_are_the_same_thing():
    head = AdditiveHead()
    pack, time = head.pack_of_times((20.0, 10.0, 5.0))
    assert time == 20.0
    assert pack.as_tuple() == pytest.approx((0.0, 30.103, 60.206), abs=1e-3)
    assert head.times(pack, time) == pytest.approx((20.0, 10.0, 5.0))


def test_a_subtractive_head_gives_one_segment_and_three_times_give_three():
    pack = FilterPack(magenta=30, yellow=50)
    assert len(SubtractiveHead().segments(pack, 8)) == 1
    assert len(AdditiveHead(one_after_another=False).segments(pack, 8)) == 1
    assert [s.time for s in AdditiveHead().segments(pack, 8)] == pytest.approx([8, 8 * 10**-0.3, 8 * 10**-0.5])


def test_dials_round_to_the_clicks_and_stay_in_range():
    head = SubtractiveHead(step=2.5, largest=131)
    assert head.rounded(FilterPack(cyan=1.2, magenta=41.3, yellow=200)).as_tuple() == (0.0, 42.5, 130.0)
    assert SubtractiveHead(step=0).rounded(FilterPack(magenta=41.37)).magenta == 41.37
    assert AdditiveHead(step=0, largest=90).rounded(FilterPack(magenta=91)).magenta == 90


@pytest.mark.parametrize("head", [SubtractiveHead(largest=60), AdditiveHead(largest=60)])
def test_asking_for_more_than_the_head_has_says_what_to_do(head):
    with pytest.raises(
        ValueOutOfRange, match=r"Taking 0, 90, 70 CC from the red, green and blue layer.*log it as such"
    ):
        head.dials_for((0, 90, 70))


def test_cross_talk_limits_how_far_lights_can_be_apart():
    with pytest.raises(ValueOutOfRange, match="with its cross-talk"):
        CROSSED.dials_for((0.0, 200.0, 0.0))


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: SubtractiveHead(response=((1, 0, 0), (0, 0.1, 0.9), (0, 1, 0.1))), "magenta dial does not darken"),
        (lambda: SubtractiveHead(response=((1, 0, 0), (0, math.nan, 0), (0, 0, 1))), "dial response has a figure"),
        (lambda: SubtractiveHead(curvature=((0, 0, 0), (0, 0, 0), (0, -0.01, 0))), "yellow dial.*lower the largest"),
        (lambda: SubtractiveHead(step=-1), "Dial step -1 and largest dial 200"),
        (lambda: AdditiveHead(cross_talk=((0.5, 0.6, 0), (0, 1, 0), (0, 0, 1))), "rows are layers"),
        (lambda: AdditiveHead(cross_talk=((1, 0, -0.1), (0, 1, 0), (0, 0, 1))), "shares must be 0 or more"),
        (lambda: AdditiveHead().pack_of_times((8.0, 0.0, 8.0)), "green light was on for 0 s"),
        (lambda: SubtractiveHead().dials_for((0, 0)), "must be three numbers"),
    ],
)
def test_a_head_that_cannot_be_is_refused(make, words):
    with pytest.raises(ValueOutOfRange, match=words):
        make()
