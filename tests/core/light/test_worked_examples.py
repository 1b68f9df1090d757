"""Worked rows of handbooks, as printed: tests/data/filter_pack_worked_examples.csv names the source of each."""

import csv
from pathlib import Path

import pytest

from printlore.core.light.exposure import (
    f_number_log_exposure,
    magnification_log_exposure,
    stops,
    time_factor,
)
from printlore.core.light.filters import FilterPack, fewest_filters, pack_from_filters
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


def test_p2_neutral_comes_out_of_three_primaries():
    """NAVEDTRA 14209 (1993), ch. 3: 10R + 20G + 30B is 10G + 20B."""
    assert ROWS["P2"]["published_result"] == "10G+20B"
    printed = pack_from_filters({"G": 10, "B": 20})
    assert pack_from_filters({"R": 10, "G": 20, "B": 30}).without_neutral() == printed.without_neutral()


@pytest.mark.parametrize(
    ("row", "filters", "printed"),
    [
        ("P3", [("M", 30), ("M", 20)], ("M", 50)),
        ("P4", [("B", 10), ("B", -5)], ("B", 5)),
        ("P5", [("M", 10), ("C", 10)], ("B", 10)),
        ("P6", [("R", 10), ("G", 10)], ("Y", 10)),
        ("P7", [("Y", 20), ("M", 20)], ("R", 20)),
    ],
)
def test_p3_to_p7_filters_combine_to_the_printed_one(row, filters, printed):
    """NAVEDTRA 14209 (1993), ch. 3 (P3 to P6); ISBN 0-87985-749-8, p. 53 (P7)."""
    letter, strength = printed
    assert ROWS[row]["published_result"] in (f"{strength}{letter}", f"{strength:02d}{letter}")
    total: dict[str, float] = {}
    for name, cc in filters:
        total[name] = total.get(name, 0) + cc
    assert fewest_filters(pack_from_filters(total)) == {letter: pytest.approx(strength)}


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


@pytest.mark.parametrize(("row", "old", "new", "factor"), [("M1", 2, 4, 2.778), ("M3", 8, 12, 2.086)])
def test_m1_m3_magnification(row, old, new, factor):
    """Time goes as (m + 1) squared (hunt2004); M1 from a public page, M3 by the same rule."""
    assert ROWS[row]["published_result"] == f"time x {factor}"
    assert time_factor(-magnification_log_exposure(new, old)) == pytest.approx(factor, abs=0.0005)


def test_m2_area_rule_is_the_limit_of_large_magnification():
    """Published approximation for 8x12 to 12x18: time x 2.25; ours comes to it as magnification grows."""
    assert ROWS["M2"]["published_result"] == "time x 2.25"
    assert time_factor(-magnification_log_exposure(1500, 1000)) == pytest.approx(2.25, abs=0.003)
    assert time_factor(-magnification_log_exposure(12, 8)) < 2.25


def test_m4_inverse_square_of_the_image_distance():
    """W. Hawken: 10 to 15 in, 11 s becomes 24.75 s. With focal length f the image distance is f (m + 1)."""
    assert "11 s becomes 24.75 s" in ROWS["M4"]["published_result"]
    focal_length = 2.0
    change = magnification_log_exposure(15 / focal_length - 1, 10 / focal_length - 1)
    assert 11 * time_factor(-change) == pytest.approx(24.75)


@pytest.mark.parametrize(("row", "old", "new", "factor"), [("A1", 8, 11, 1.89), ("A2", 5.6, 16, 8.16)])
def test_a1_a2_f_numbers_as_marked(row, old, new, factor):
    """Time goes as N squared, by definition of the f-number."""
    assert ROWS[row]["published_result"].startswith(f"time x {factor} by marked numbers")
    assert time_factor(-f_number_log_exposure(new, old)) == pytest.approx(factor, abs=0.005)


def test_e1_ten_cc_is_a_tenth_of_a_log_and_a_third_of_a_stop():
    """By definition: CC10 is 0.10 log10 = 1/3 stop; 30 CC is 1 stop (0.301)."""
    assert ROWS["E1"]["published_result"].startswith("0.10 log10 = 1/3 stop")
    assert stops(0.10) == pytest.approx(1 / 3, abs=0.002)
    assert stops(0.30) == pytest.approx(1, abs=0.004)


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
