"""Offset of a new lot in CC and stops, settings brought onto it, one emulsion stated and contradicted."""

import math

import numpy as np
import pytest

from printlore.core.flags import Flag
from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Burn, Setting
from printlore.core.paper.lots import EmulsionCheck, LotEffect, check_same_emulsion, lot_offset, offset_of_kept
from printlore.errors import ValueOutOfRange


def three(*values, error=0.01, common=0.0, flags=()):
    covariance = error**2 * np.eye(3) + common**2
    return LotEffect(log_exposure=np.array(values, dtype=float), covariance=covariance, flags=flags)


def setting(magenta=50.0, yellow=60.0, time=10.0, **fields):
    return Setting(pack=FilterPack(magenta=magenta, yellow=yellow), time=time, f_number=8, magnification=5, **fields)


def exposure(made):
    """(red, green, blue) log10 of exposure by the handbook: time, less the filters."""
    return [math.log10(made.time) - cc / 100 for cc in made.pack.as_tuple()]


def test_a_lot_faster_in_green_wants_magenta():
    """By hand: 0.05 more sensitive in green alone is 5 CC more magenta and the same time."""
    offset = lot_offset(three(0, 0, 0), three(0, 0.05, 0))
    assert offset.magenta.value == pytest.approx(5)
    assert offset.yellow.value == pytest.approx(0)
    assert offset.stops.value == pytest.approx(0)


def test_a_lot_faster_in_all_layers_wants_a_stop_less():
    offset = lot_offset(three(0, 0, 0), three(math.log10(2), math.log10(2), math.log10(2)))
    assert offset.stops.value == pytest.approx(-1)
    assert offset.magenta.value == pytest.approx(0)


def test_a_rebased_setting_gives_each_layer_what_it_now_needs():
    offset = lot_offset(three(0.01, -0.02, 0.03), three(0.06, 0.05, -0.04))
    for made in (setting(), setting(magenta=3, yellow=2)):
        after = offset.rebased(made)
        needed = [before - e.value for before, e in zip(exposure(made), offset.log_exposure, strict=True)]
        assert exposure(after) == pytest.approx(needed)
        assert min(after.pack.as_tuple()) == 0


def test_burns_and_dodges_go_over_to_the_new_lot_with_the_rest():
    """By hand: half as much light for all, so half of every second; a burn's own pack moves like the base's."""
    faster = math.log10(2)
    own = FilterPack(magenta=20, yellow=80)
    made = setting(burns=(Burn(name="sky", time=6), Burn(name="face", time=-4), Burn(name="edge", time=8, pack=own)))
    after = lot_offset(three(0, 0, 0), three(faster, faster + 0.05, faster)).rebased(made)
    assert after.time == pytest.approx(5)
    assert [burn.time for burn in after.burns] == pytest.approx([3, -2, 4])
    assert [burn.pack for burn in after.burns[:2]] == [None, None]
    assert after.burns[2].pack.as_tuple() == pytest.approx((0, 25, 80))
    shade = Burn(name="face", time=-9.9, pack=FilterPack(cyan=30, magenta=20, yellow=80))
    dodged = lot_offset(three(0, 0, 0), three(faster, faster, faster)).rebased(setting(burns=(shade,)))
    assert dodged.burns[0].time == pytest.approx(-4.95)


def test_a_speed_that_is_not_known_leaves_the_colour_of_a_lot_known():
    """By hand: 0.04 common to the layers and 0.03 of each; the common part cancels in magenta, 0.03 sqrt 2 is left."""
    offset = lot_offset(three(0, 0, 0, error=0.0), three(0.01, 0.02, 0.03, error=0.03, common=0.04))
    assert offset.log_exposure[1].standard_error == pytest.approx(0.05)
    assert offset.magenta.standard_error == pytest.approx(3 * math.sqrt(2))
    assert offset.stops.standard_error == pytest.approx(0.05 / math.log10(2))


def test_lots_that_differ_in_speed_alone_are_one_emulsion_where_speed_is_not_known():
    """By hand: 0.1 in all layers is 0.03 in square along grey, where the variance is 3 0.04^2 + 0.03^2 = 0.0057.

    5.26 with three degrees of freedom comes by chance more often than once in ten (6.251, handbook table).
    """
    faster = lot_offset(three(0, 0, 0, error=0.0), three(0.1, 0.1, 0.1, error=0.03, common=0.04))
    assert check_same_emulsion(faster).chance > 0.1
    cast = lot_offset(three(0, 0, 0, error=0.0), three(0.1, -0.05, -0.05, error=0.03, common=0.04))
    assert check_same_emulsion(cast).contradicted


def test_errors_and_doubts_of_both_lots_go_into_the_offset():
    offset = lot_offset(three(0, 0, 0, error=0.03), three(0, 0, 0, error=0.04, flags=(Flag.PRIOR_ONLY,)))
    assert offset.log_exposure[0].standard_error == pytest.approx(0.05)
    assert offset.stops.standard_error == pytest.approx(0.05 / math.log10(2))
    assert offset.magenta.standard_error == pytest.approx(100 * math.hypot(0.05, 0.05))
    assert offset.magenta.flags == (Flag.PRIOR_ONLY,)


def test_lots_stated_to_be_one_emulsion_are_doubted_when_they_differ():
    """Chi-squared with three degrees of freedom: 11.345 is exceeded once in a hundred (handbook table)."""
    just = 0.01 * math.sqrt(11.345)
    nearly = check_same_emulsion(lot_offset(three(0, 0, 0, error=0.0), three(just, 0, 0)))
    assert nearly.chance == pytest.approx(0.01, abs=1e-4)
    assert check_same_emulsion(lot_offset(three(0, 0, 0), three(0.1, 0, 0))).contradicted
    assert "contradict that" in check_same_emulsion(lot_offset(three(0, 0, 0), three(0.1, 0, 0))).words
    assert not check_same_emulsion(lot_offset(three(0, 0, 0), three(0.01, 0, 0))).contradicted
    assert "nothing speaks" in EmulsionCheck(chance=1.0, compared=False).words


def test_settings_kept_on_both_lots_tell_their_offset():
    """The new lot needed 10 CC more magenta and half a stop less: it is that much more sensitive."""
    less = 2**-0.5
    offset = offset_of_kept([(setting(), setting(magenta=60, time=10 * less))] * 2)
    assert offset.magenta.value == pytest.approx(10)
    assert offset.stops.value == pytest.approx(-0.5)


def test_offsets_that_cannot_be_told_are_refused_in_words():
    with pytest.raises(ValueOutOfRange, match="no error in some layer"):
        check_same_emulsion(lot_offset(three(0, 0, 0, error=0), three(0.1, 0, 0, error=0)))
    with pytest.raises(ValueOutOfRange, match="kept on both lots"):
        offset_of_kept([])
