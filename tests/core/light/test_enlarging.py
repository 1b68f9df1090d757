"""How far a negative is enlarged on a sheet, by hand arithmetic."""

from math import log2

import pytest
from hypothesis import given
from hypothesis import strategies as st

from printlore.core.light.enlarging import Sheet, enlarged_as, enlargement
from printlore.errors import ValueOutOfRange


@pytest.mark.parametrize(
    ("size", "negative", "whole", "magnification", "long_side", "cropped", "free"),
    [
        # 200 / 24; the image is 300 x 200, and 50 of its 300 mm lie beside the sheet
        ((200, 250), (36, 24), False, 200 / 24, True, 50 / 300, 0),
        # 250 / 36; the image is 250 x 166.67, and 33.33 of the sheet's 200 mm stay white
        ((200, 250), (36, 24), True, 250 / 36, False, 0, 200 - 24 * 250 / 36),
        # a square on an oblong sheet: 250 / 56 fills it, 50 of the image's 250 mm are cropped above and below
        ((200, 250), (56, 56), False, 250 / 56, False, 50 / 250, 0),
        ((200, 250), (56, 56), True, 200 / 56, True, 0, 50),
        # a panorama longer than the sheet: 200 / 24 again, the image 65 x 24 -> 541.67 long
        ((200, 250), (65, 24), False, 200 / 24, True, 1 - 250 / (65 * 200 / 24), 0),
        # one shape: nothing cropped, nothing free
        ((240, 360), (36, 24), False, 10, True, 0, 0),
        ((360, 240), (24, 36), True, 10, True, 0, 0),
    ],
)
def test_a_negative_fills_a_sheet_or_lies_whole_inside_it(
    size, negative, whole, magnification, long_side, cropped, free
):
    found = enlargement(Sheet(size=size, negative=negative, whole=whole))
    assert found.magnification == pytest.approx(magnification)
    assert found.cropped == pytest.approx(cropped)
    assert found.free == pytest.approx(free)
    if cropped or free:
        assert found.long_side is long_side


def test_the_crop_is_said_in_words():
    assert enlargement(Sheet(size=(200, 250))).words == (
        "Enlarged 8.33 times, so that the negative fills the sheet: 17 % of the negative's long side is cropped."
    )
    assert enlargement(Sheet(size=(200, 250), whole=True)).words == (
        "Enlarged 6.94 times, so that the whole negative is on the sheet: 33 mm of the sheet's short side stay free."
    )
    assert enlargement(Sheet(size=(240, 360))).words.endswith("both are of one shape.")


of_sheets, of_negatives = st.floats(40, 1850), st.floats(8, 510)


@given(st.tuples(of_sheets, of_sheets), st.tuples(of_negatives, of_negatives), st.booleans())
def test_whichever_way_the_sheet_is_named_and_never_whole_larger_than_filled(size, negative, whole):
    one = enlargement(Sheet(size=size, negative=negative, whole=whole)).magnification
    assert one == enlargement(Sheet(size=size[::-1], negative=negative[::-1], whole=whole)).magnification
    filled = enlargement(Sheet(size=size, negative=negative)).magnification
    assert enlargement(Sheet(size=size, negative=negative, whole=True)).magnification <= filled
    assert all(side * filled >= paper * (1 - 1e-9) for side, paper in zip(sorted(negative), sorted(size), strict=True))


def test_the_crop_between_sheets_of_other_shapes_was_a_sixth_of_a_stop():
    """From 20 x 25 to 30 x 40 cm: (13.5 / 9.333)^2 filled, (12.11 / 7.944)^2 long side by long side."""
    by_long = 2 * log2((400 / 36 + 1) / (250 / 36 + 1))
    filled = [enlargement(Sheet(size=size)).magnification for size in ((200, 250), (300, 400))]
    assert filled == pytest.approx([200 / 24, 300 / 24])
    assert 2 * log2((filled[1] + 1) / (filled[0] + 1)) == pytest.approx(1.065, abs=0.001)
    assert by_long == pytest.approx(1.217, abs=0.001)


def test_an_earlier_print_is_moved_to_another_sheet_as_it_was_laid():
    sheet = Sheet(size=(300, 400))
    assert enlarged_as(sheet, (200, 250), 200 / 24) == pytest.approx(12.5)
    # cropped a little more than the sheet asks for: 8.5 x 12.5 / 8.333
    assert enlarged_as(sheet, (200, 250), 8.5) == pytest.approx(12.75)
    # as recorded long side by long side: the same sheet again is the same print again
    assert enlarged_as(Sheet(size=(250, 200)), (200, 250), 250 / 36) == pytest.approx(250 / 36)


@pytest.mark.parametrize("bad", [{"size": (0, 250)}, {"size": (200, 250), "negative": (36, -24)}])
def test_a_side_that_cannot_be_is_refused(bad):
    with pytest.raises(ValueOutOfRange, match="it must be above 0"):
        Sheet(**bad)
