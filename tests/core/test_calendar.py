"""Days as a printer says them, by a calendar of 2026: 3 March is a Tuesday."""

from datetime import UTC, date, datetime

import pytest

from printlore.core.calendar import evening_of, sensible
from printlore.errors import ValueOutOfRange


@pytest.mark.parametrize(
    ("at", "called"),
    [
        (datetime(2026, 3, 3, 20, 30), "Tuesday 3 March 2026"),
        (datetime(2026, 3, 3, 23, 59), "Tuesday 3 March 2026"),
        (datetime(2026, 3, 4, 0, 10), "Night of Tuesday 3 to Wednesday 4 March 2026"),
        (datetime(2026, 3, 4, 3, 59), "Night of Tuesday 3 to Wednesday 4 March 2026"),
        (datetime(2026, 3, 4, 4, 0), "Wednesday 4 March 2026"),
        (datetime(2026, 4, 1, 1, 0), "Night of Tuesday 31 March to Wednesday 1 April 2026"),
        (datetime(2027, 1, 1, 1, 0), "Night of Thursday 31 December 2026 to Friday 1 January 2027"),
    ],
)
def test_an_evening_is_called_by_its_day_and_after_midnight_by_the_night(at, called):
    assert evening_of(at.replace(tzinfo=UTC)) == called  # the clock of the tests stands at Greenwich


def test_years_of_no_record_are_told_and_others_passed_on():
    for at in (date(1900, 1, 1), date(2100, 12, 31), datetime(2026, 3, 3, tzinfo=UTC)):
        assert sensible(at) is at
    for at in (date.min, date.max, date(1899, 12, 31), datetime(2101, 1, 1, tzinfo=UTC)):
        with pytest.raises(ValueOutOfRange, match="Correct the year; 1900 to 2100 can be"):
            sensible(at)
