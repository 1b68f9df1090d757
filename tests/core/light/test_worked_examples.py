"""Worked rows of handbooks, as printed: tests/data/filter_pack_worked_examples.csv names the source of each."""

import csv
from pathlib import Path

import pytest

from printlore.core.light.filters import FilterPack
from printlore.core.light.handbook import TimeRule, handbook_move, pack_time_factor
from printlore.core.light.published import dichroic_time_factor, printing_factor
from printlore.core.light.setting import Burn, Setting
from printlore.errors import ValueOutOfRange

TABLE = Path(__file__).parents[2] / "data" / "filter_pack_worked_examples.csv"
ROWS = {
    row["id"]: row
    for row in csv.DictReader(line for line in TABLE.read_text().splitlines() if not line.startswith("#"))
}


def test_p1_neutral_comes_out_of_a_pack_of_three():
    """US Army subcourse SS0514, p. 5-6: 46Y + 38M + 12C is 34Y + 26M."""
    assert ROWS["P1"]["published_result"] == "34Y+26M"
    assert FilterPack(yellow=46, magenta=38, cyan=12).without_neutral() == FilterPack(yellow=34, magenta=26)


def test_p8_p9_p10_dial_rules():
    """E-142, p. 3: +20M times 1.20; yellow no change; cyan by the sheet factors (CC20C: 1.3)."""
    assert ROWS["P8"]["published_result"] == "time x 1.20"
    assert dichroic_time_factor(magenta=20) == pytest.approx(1.20)
    assert dichroic_time_factor(yellow=35) == 1
    assert dichroic_time_factor(cyan=20) == pytest.approx(1.3)
    assert dichroic_time_factor(magenta=-20) * dichroic_time_factor(magenta=20) == pytest.approx(1)


def test_p12_new_negative_from_the_standard_negative():
    """NAVEDTRA 14209 (1993), ch. 12: 40M + 60Y, 10 s, f/5.6, +10M: 50M + 60Y and 11 s."""
    assert ROWS["P12"]["published_result"] == "50M+60Y, 11 s (10 percent more)"
    standard = Setting(pack=FilterPack(magenta=40, yellow=60), time=10, f_number=5.6)
    moved = handbook_move(standard, "magenta", 20)
    assert moved.pack == FilterPack(magenta=50, yellow=60)
    assert moved.time == pytest.approx(11.0)
    assert moved.f_number == 5.6
    assert handbook_move(standard, "magenta", 20, rule=TimeRule.SHEETS).time == pytest.approx(11.0, abs=0.1)


@pytest.mark.parametrize(
    ("row", "time", "before", "after", "printed"),
    [
        ("P15", 10, FilterPack(magenta=20, yellow=10), FilterPack(magenta=30, yellow=20), 11.33),
        ("P16", 8, FilterPack(), FilterPack(magenta=50, yellow=40), 18.48),
    ],
)
def test_p11_p15_p16_factors_multiply_when_added_and_divide_when_removed(row, time, before, after, printed):
    """E-142, p. 3: old time / factors of the filters removed x factors of those added."""
    assert ROWS[row]["published_result"] == f"{printed:g} s"
    factor = pack_time_factor(before, after, TimeRule.SHEETS)
    assert time * factor == pytest.approx(printed, abs=0.005)
    assert pack_time_factor(after, before, TimeRule.SHEETS) == pytest.approx(1 / factor)


@pytest.mark.parametrize(
    ("cast", "expected"),
    [
        ("magenta", (0, 50, 60)),
        ("yellow", (0, 40, 70)),
        ("red", (0, 50, 70)),
        ("green", (0, 30, 60)),
        ("blue", (0, 40, 50)),
        ("cyan", (0, 30, 50)),
        ("none", (0, 40, 60)),
    ],
)
def test_handbook_adds_the_cast_or_takes_its_complement_by_half_the_viewing_filter(cast, expected):
    """E-142 p. 3 (direction), NAVEDTRA 14209 ch. 12 (half)."""
    start = Setting(pack=FilterPack(magenta=40, yellow=60), time=10)
    assert handbook_move(start, cast, 20 if cast != "none" else 0).pack.as_tuple() == pytest.approx(expected)


def test_handbook_adds_the_other_two_when_there_is_nothing_to_take_away():
    """A green cast with no magenta in the pack: cyan and yellow instead (common practice, no source)."""
    moved = handbook_move(Setting(pack=FilterPack(yellow=30), time=10), "green", 20)
    assert moved.pack == FilterPack(cyan=10, yellow=40)
    assert moved.time == pytest.approx(10 * printing_factor("C", 10))


def test_handbook_halves_the_time_for_a_stop_and_keeps_the_share_of_burns():
    start = Setting(pack=FilterPack(magenta=40, yellow=60), time=10, burns=(Burn(name="sky", time=4.0),))
    moved = handbook_move(start, "none", 0, stops_too_dark=1)
    assert moved.time == pytest.approx(5)
    assert moved.burns[0].time == pytest.approx(2)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (("pink", 10, 0), '"pink" is not a cast; use one of none, magenta'),
        (("red", -5, 0), "viewing filter is -5 CC; give 0 or more"),
        (("red", 5, float("nan")), "nan stops too dark cannot be"),
    ],
)
def test_a_judgement_that_cannot_be_is_refused(call, words):
    with pytest.raises(ValueOutOfRange, match=words):
        handbook_move(Setting(pack=FilterPack(), time=8), *call)
