"""Sizes in another unit than the one asked for are told, with what was probably meant."""

import pytest

from printlore.core.light.enlarging import Sheet
from printlore.core.paper.sizes import refuse_no_roll, refuse_no_sheet
from printlore.errors import ValueOutOfRange


@pytest.mark.parametrize("size", [(50, 100), (203, 254), (1270, 1830), (300, 20_000), (30, 200)])
def test_sheets_and_strips_as_they_are_sold_and_cut_are_taken(size):
    refuse_no_sheet(*size)
    refuse_no_sheet(*size[::-1])


@pytest.mark.parametrize(
    ("size", "words"),
    [
        ((20, 25), "20 x 25 mm .* has 40 to 1850 mm. If cm were meant, give 200 x 250 mm"),
        ((30, 40), "30 x 40 mm .* has 40 to 1850 mm. If cm were meant, give 300 x 400 mm"),
        ((2030, 2540), "2030 x 2540 mm .* has 40 to 1850 mm. If mm were meant, give 203 x 254 mm"),
    ],
)
def test_a_sheet_that_is_off_by_ten_is_told(size, words):
    with pytest.raises(ValueOutOfRange, match=words):
        refuse_no_sheet(*size)
    with pytest.raises(ValueOutOfRange, match=words):
        Sheet(size=size)


@pytest.mark.parametrize("negative", [(6, 7), (3.6, 2.4)])
def test_a_negative_in_centimetres_is_told(negative):
    with pytest.raises(ValueOutOfRange, match="cannot be that of a picture on film: its short side has 8 to 510 mm"):
        Sheet(size=(203, 254), negative=negative)


@pytest.mark.parametrize(
    ("what", "value"),
    [
        ("width", 30.5),
        ("width", 3050),
        ("core", 7.6),
        ("length on the label", 84),
        ("diameter over the paper", 1800),
        ("paper thickness", 230),
    ],
)
def test_a_measure_of_a_roll_in_another_unit_is_told(what, value):
    with pytest.raises(ValueOutOfRange, match=rf"The {what} of {value:g} mm cannot be that of a roll; it lies between"):
        refuse_no_roll({what: value})


def test_a_roll_as_it_is_sold_is_taken():
    refuse_no_roll({"width": 305, "core": 76, "length on the label": 84_000, "diameter over the paper": None})
