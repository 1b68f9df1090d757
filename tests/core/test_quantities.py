"""Numbers as people write them."""

import pytest

from printlore.core.figure import DECIMAL_MARK
from printlore.core.light.filters import FilterPack
from printlore.core.quantities import (
    parse_f_number,
    parse_length,
    parse_number,
    parse_pack,
    parse_size,
    parse_time,
)
from printlore.errors import ValueOutOfRange


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("9,5", 9.5),
        (" 9.5 ", 9.5),
        (",5", 0.5),
        ("1/3", 1 / 3),
        ("8 1/2", 8.5),
        ("8\u00bd", 8.5),
        ("-1/4", -0.25),
        ("\u22123", -3.0),
        ("1,234", 1.234),
        ("1.234,5", 1234.5),
        ("1,234.5", 1234.5),
        ("1.234.567", 1234567.0),
    ],
)
def test_a_number_is_read_with_comma_or_point_or_as_a_fraction(text, value):
    assert parse_number(text) == pytest.approx(value, rel=1e-15)


@pytest.mark.parametrize("text", ["", "abc", "1.2.3", "1/0", "9,5,5", "1,23.4", "nan", "inf", "1e3", "--1", "1 -1/2"])
def test_what_is_no_number_is_refused_with_the_way_to_write_it(text):
    with pytest.raises(ValueOutOfRange, match=r"cannot be read. Write digits with one decimal comma or point"):
        parse_number(text)


@pytest.mark.parametrize(
    ("text", "unit", "millimetres"),
    [
        ("20", "cm", 200),
        ("8", "inch", 203.2),  # the international inch is 25.4 mm exactly
        ("8 in", "cm", 203.2),
        ('8 1/2"', "cm", 215.9),
        ("203mm", "cm", 203),
        ("20,3 cm", "inch", 203),
        ("84 m", "cm", 84000),
        ("275 ft", "cm", 83820),  # 12 inches each
    ],
)
def test_a_length_is_read_in_centimetres_inches_or_millimetres(text, unit, millimetres):
    assert parse_length(text, unit=unit) == pytest.approx(millimetres, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "unit", "size"),
    [
        ("20x25", "cm", (200, 250)),
        ("8x10", "inch", (203.2, 254)),
        ("8x10 in", "cm", (203.2, 254)),
        ("8 in x 10 in", "cm", (203.2, 254)),
        ("20,3 \u00d7 25,4 cm", "inch", (203, 254)),
        ("8\u00bdx11 in", "cm", (215.9, 279.4)),
    ],
)
def test_a_size_is_read_in_either_unit(text, unit, size):
    assert parse_size(text, unit=unit) == pytest.approx(size, abs=1e-9)


@pytest.mark.parametrize("text", ["", "20", "0x5", "-3x4", "20x25 furlongs", "axb"])
def test_a_size_that_cannot_be_is_refused(text):
    with pytest.raises(ValueOutOfRange, match=r"cannot be read. Write for example|is not above 0|is not known. Use mm"):
        parse_size(text)


@pytest.mark.parametrize(
    ("text", "seconds"),
    [("9,5 s", 9.5), ("9.5", 9.5), ("1:20", 80), ("1 min 20 s", 80), ("2 min", 120), ("90 sec", 90), ("0", 0)],
)
def test_a_time_is_read_in_seconds_or_minutes(text, seconds):
    assert parse_time(text) == seconds


def test_a_list_with_commas_is_not_taken_for_thousands():
    assert parse_number("100,200,300") == 100_200_300
    with pytest.raises(ValueOutOfRange, match="cannot be read"):
        parse_number("0,100,200")


@pytest.mark.parametrize("parse", [parse_time, parse_pack, parse_size, parse_number, parse_f_number])
@pytest.mark.parametrize("digits", [100, 400, 20_000])
def test_what_nobody_types_is_refused_at_once(parse, digits):
    for text in ("9" * digits, f"{'9' * digits}:00", f"{'9' * digits}M 45Y", f"{'9' * digits}x10 in"):
        with pytest.raises(ValueOutOfRange):
            parse(text)


def test_a_time_that_cannot_be_read_is_refused():
    with pytest.raises(
        ValueOutOfRange, match=r'The time "soon" cannot be read. Write seconds, for example 9.5, or 1:20'
    ):
        parse_time("soon")


@pytest.mark.parametrize(("text", "f_number"), [("8", 8), ("f/5,6", 5.6), ("F8", 8), ("1:4", 4), ("f 11", 11)])
def test_an_f_number_is_read_as_on_the_lens(text, f_number):
    assert parse_f_number(text) == f_number


def test_an_f_number_that_cannot_be_read_is_refused():
    with pytest.raises(ValueOutOfRange, match=r'The f-number "wide" cannot be read. Write it as on the lens'):
        parse_f_number("wide")


@pytest.mark.parametrize(
    "text",
    [
        "60M 45Y",
        "M60+Y45",
        "60m,45y",
        "45Y 60M 0C",
        "60M45Y",
        "60M-45Y",
        "60M - 45Y",
        "0/60/45",
        "0-60-45",
        "60,0M 45,0Y",
        "0 60 45",
    ],
)
def test_a_pack_is_read_with_letters_or_in_a_stated_order(text):
    assert parse_pack(text) == FilterPack(magenta=60, yellow=45)


def test_bare_numbers_can_stand_in_another_order():
    assert parse_pack("45/60/0", order="YMC") == FilterPack(magenta=60, yellow=45)
    assert parse_pack("none") == FilterPack()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("60", 'The pack "60" cannot be read. Write 60M 45Y, or 0/60/45 for C/M/Y.'),
        ("60M 60M", 'The pack "60M 60M" names M twice. Give each colour once.'),
        ("1000M", "magenta filter is 1000 CC; it must be between 0 and 400"),
        ("60X", "cannot be read"),
        ("60M -5Y", 'The pack "60M -5Y" has a filter below 0'),
        ("-5Y", "add as much to the other two"),
        ("\u22125Y 60M", "has a filter below 0"),
        ("0/-60/45", "has a filter below 0"),
        ("60M and some", "cannot be read"),
    ],
)
def test_a_pack_that_cannot_be_is_refused(text, words):
    with pytest.raises(ValueOutOfRange) as caught:
        parse_pack(text)
    assert words in str(caught.value)


@pytest.mark.parametrize("text", ["9" * 400, "9" * 400 + "/1", "1/" + "9" * 5000])
def test_a_number_of_endless_digits_is_refused_in_words(text):
    with pytest.raises(ValueOutOfRange, match=r"signs; (60|500) are the most"):
        parse_number(text)


def test_an_example_in_an_error_is_written_as_the_studio_writes():
    kept = DECIMAL_MARK.set(",")
    try:
        with pytest.raises(ValueOutOfRange, match=r"Write seconds, for example 9,5, or 1:20"):
            parse_time("ten")
    finally:
        DECIMAL_MARK.reset(kept)


@pytest.mark.parametrize(("text", "unit"), [("500ml", "ml"), ("2 weeks", "weeks"), ("8x", "x"), ("7,5 s", "s")])
def test_a_number_with_a_unit_is_asked_for_without(text, unit):
    with pytest.raises(ValueOutOfRange, match=f'Write it without "{unit}", in the unit asked for'):
        parse_number(text)
