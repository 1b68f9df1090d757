"""Filter packs, exposure and settings: properties that hold for any, and what is refused."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Burn, Setting
from printlore.errors import ValueOutOfRange

strengths = st.floats(0, 130)
packs = st.builds(lambda c, m, y: FilterPack(cyan=c, magenta=m, yellow=y), strengths, strengths, strengths)


@given(packs)
def test_taking_out_the_neutral_keeps_differences_and_leaves_one_colour_empty(pack):
    plain = pack.without_neutral()
    assert min(plain.as_tuple()) == 0
    assert plain.cyan - plain.yellow == pytest.approx(pack.cyan - pack.yellow, abs=1e-9)
    assert plain.magenta - plain.yellow == pytest.approx(pack.magenta - pack.yellow, abs=1e-9)
    assert plain.without_neutral() == plain


@given(packs, st.tuples(*[st.floats(-100, 100)] * 3))
def test_a_move_and_its_neutral_shift_are_what_was_asked(pack, move):
    after, shift = pack.moved(cyan=move[0], magenta=move[1], yellow=move[2])
    assert after.neutral == pytest.approx(0, abs=1e-9)
    for new, old, asked in zip(after.as_tuple(), pack.as_tuple(), move, strict=True):
        assert new - shift == pytest.approx(old + asked, abs=1e-9)


@given(packs)
def test_a_move_and_its_opposite_bring_the_balance_back(pack):
    there, _ = pack.moved(magenta=15, yellow=-7)
    back, _ = there.moved(magenta=-15, yellow=7)
    assert back.as_tuple() == pytest.approx(pack.without_neutral().as_tuple(), abs=1e-9)


def test_like_colours_add_and_a_pack_reads_as_a_printer_writes_it():
    pack = FilterPack(magenta=30) + FilterPack(magenta=20, yellow=2.5)
    assert pack == FilterPack(magenta=50, yellow=2.5)
    assert str(pack) == "50 M 2.5 Y"
    assert str(FilterPack()) == "no filters"
    assert str(FilterPack(cyan=0.04, magenta=40)) == "40 M"


@pytest.mark.parametrize("strength", [-1, 1000, float("nan"), float("inf")])
def test_a_filter_that_cannot_be_is_refused(strength):
    with pytest.raises(ValueOutOfRange, match=r"magenta filter is .* CC; it must be between 0 and 400.*other two\."):
        FilterPack(magenta=strength)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: Setting(pack=FilterPack(), time=0), r"Exposure time is 0 s; it must be above 0 and at most 3600"),
        (lambda: Setting(pack=FilterPack(), time=float("nan")), "Exposure time is nan s"),
        (lambda: Setting(pack=FilterPack(), time=8, f_number=0), "The f-number is 0"),
        (lambda: Setting(pack=FilterPack(), time=8, magnification=-2), "The magnification is -2"),
        (lambda: Setting(pack=FilterPack(), time=8, magnification=4e9), "above 0 and at most 1000"),
        (lambda: Burn(name="sky", time=0), '"sky" is 0 s; give seconds more or less than 0'),
        (
            lambda: Setting(pack=FilterPack(), time=8, burns=(Burn(name="face", time=-8),)),
            'Dodge "face" takes 8 s from an exposure of 8 s; nothing is left',
        ),
    ],
)
def test_numbers_that_cannot_be_are_refused_with_a_cure(call, words):
    with pytest.raises(ValueOutOfRange, match=words):
        call()


def test_a_setting_reads_as_one_line():
    assert str(Setting(pack=FilterPack(magenta=40, yellow=60), time=9.5)) == "40 M 60 Y, 9.5 s, f/8, 8x"
