"""A head with three lights: what each is set to.

A CC is 0.01 of density, and density is log10 of 1 / transmittance (ISO 5-2:2009): 30 of it let half of the light
through, a stop (log10 2 = 0.301).
"""

import pytest

from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Setting
from printlore.core.light.three_lights import lights_of, pack_of
from printlore.core.quantities import parse_pack
from printlore.errors import ValueOutOfRange


def test_thirty_cc_is_half_the_seconds_or_half_the_light():
    setting = Setting(pack=FilterPack(magenta=30.1, yellow=60.2), time=20)
    assert lights_of(setting, in_turn=True).as_tuple() == pytest.approx((20, 10, 5))
    assert lights_of(setting, in_turn=False).as_tuple() == pytest.approx((100, 50, 25))


def test_the_timer_has_its_steps_and_no_light_is_left_out():
    setting = Setting(pack=FilterPack(magenta=30.1, yellow=190), time=20)
    assert lights_of(setting, in_turn=True, step=0.5).as_tuple() == pytest.approx((20, 10, 0.5))


def test_the_pack_of_three_lights_is_what_each_is_below_the_strongest():
    assert pack_of(5, 10, 20).as_tuple() == pytest.approx((60.2, 30.1, 0), abs=0.01)
    assert pack_of(25, 50, 100) == pack_of(5, 10, 20)


@pytest.mark.parametrize("text", ["20R 10G 5B", "5B 20R 10G", "R20, G10, B5", "20r+10g+5b", "100R 50G 25B"])
def test_three_lights_are_typed_as_a_pack(text):
    assert parse_pack(text).as_tuple() == pytest.approx((0, 30.1, 60.2), abs=0.01)


@pytest.mark.parametrize("text", ["20R 10G", "20R 10G 5Y", "20R 10G 5B 3M"])
def test_lights_that_are_not_three_are_no_pack(text):
    with pytest.raises(ValueOutOfRange, match=r"Of three lights: 12R 10G 9B"):
        parse_pack(text)


def test_a_light_that_is_not_there_is_refused():
    with pytest.raises(ValueOutOfRange, match="The green light is 0"):
        parse_pack("20R 0G 5B")
