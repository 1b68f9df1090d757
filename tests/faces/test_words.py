"""Numbers and trials as they are said."""

import dataclasses
import json
import math
import time
from datetime import UTC, date, datetime
from enum import Enum
from pathlib import Path

import numpy as np
import pytest

from printlore.core.estimate import Estimate
from printlore.core.figure import DECIMAL_MARK
from printlore.core.flags import Flag
from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Setting
from printlore.core.memory.evidence import Cast, Judgement
from printlore.core.quantities import parse_number
from printlore.core.said import parse_said
from printlore.errors import ValueOutOfRange
from printlore.faces import judging, typed, words
from printlore.faces.plain import plain


def test_a_minus_is_a_minus_and_never_stands_before_nothing():
    assert words.number(-1.26, 1) == "−1.3"
    assert words.number(-0.04, 1) == "0.0"
    assert words.number(2, signed=True) == "+2"
    assert words.number(0.001, 1, signed=True) == "0.0"


@pytest.mark.parametrize(
    ("days", "said"), [(0, "0 days"), (1, "1 day"), (20, "20 days"), (60, "9 weeks"), (891, "29 months")]
)
def test_a_stretch_of_time_is_said_as_people_say_it(days, said):
    assert words.span(days) == said


@pytest.mark.parametrize(
    ("value", "said"), [(0.0, "0"), (0.00149, "0.0015"), (0.611, "0.61"), (1.0, "1"), (45.8, "46"), (123.4, "120")]
)
def test_an_uncertain_value_has_two_figures(value, said):
    assert words.figures(value) == said


def test_a_day_is_written_one_way_and_as_it_is_here(monkeypatch):
    monkeypatch.setenv("TZ", "Etc/GMT-2")
    time.tzset()
    at = datetime(2026, 3, 3, 23, 30, tzinfo=UTC)
    assert (words.day(at), words.moment(at)) == ("4 Mar 2026", "4 Mar 2026, 01:30")
    monkeypatch.undo()
    time.tzset()


def test_the_studios_decimal_mark_is_used_everywhere():
    before = DECIMAL_MARK.set(",")
    try:
        assert words.shortest(7.5) == "7,5"
        assert words.shortest(7.0) == "7"
        assert words.shortest(100.0) == "100"
        assert words.seconds(7.04) == "7,0 s"
        assert words.density(0.714) == "0,71"
        assert words.factor(0.3) == "×2,00"
    finally:
        DECIMAL_MARK.reset(before)


def test_a_setting_is_said_as_it_is_dialled():
    pack = FilterPack(magenta=62, yellow=71.5)
    assert words.setting(Setting(pack=pack, time=7, f_number=5.6)) == "62 M 71.5 Y, 7.0 s, f/5.6"
    assert words.setting(Setting(pack=FilterPack(), time=24.2)) == "no filters, 24.2 s, f/8"


@pytest.mark.parametrize(
    ("stops", "said"),
    [
        (0.0, "lightness right"),
        (0.33, "1/3 stop too dark"),
        (-0.5, "1/2 stop too light"),
        (-1.05, "1 stop too light"),
        (2.6, "2.5 stops too dark"),
    ],
)
def test_lightness_is_said_in_stops(stops, said):
    assert words.stops(stops) == said


@pytest.mark.parametrize(
    ("probability", "said"),
    [(0.999, "nearly certain"), (0.8, "8 in 10"), (0.96, "9 in 10"), (0.05, "1 in 10"), (0.01, "hardly any chance")],
)
def test_chances_are_said_in_tenths(probability, said):
    assert words.out_of_ten(probability) == said


def test_an_estimate_never_hides_that_its_error_is_unknown():
    assert words.estimate(Estimate(value=0.5, standard_error=0.02)) == "0.50 ± 0.02"
    unknown = Estimate(value=0.5, standard_error=None, flags=(Flag.NO_ERROR_KNOWN,))
    assert words.estimate(unknown) == "0.50 (error not known)"


@pytest.mark.parametrize("strength", judging.STRENGTHS)
@pytest.mark.parametrize("cast", judging.CASTS)
@pytest.mark.parametrize(("lightness", "shown"), judging.LIGHTNESS)
def test_every_cell_of_the_board_is_understood_without_doubt(strength, cast, lightness, shown):
    heard = parse_said(f"{strength} {cast.value}, {lightness}")
    assert heard.doubts == ()
    assert heard.judgement.cast is cast
    assert (
        ("light" in shown and heard.judgement.stops_too_dark < 0)
        or ("dark" in shown and heard.judgement.stops_too_dark > 0)
        or (shown == "right" and heard.judgement.stops_too_dark == 0)
    )


def test_the_boards_strengths_and_lightnesses_grow_in_order():
    strengths = [parse_said(f"{word} magenta").judgement.strength for word in judging.STRENGTHS]
    assert strengths == sorted(set(strengths))
    stops = [parse_said(f"neutral, {value}").judgement.stops_too_dark for value, _ in judging.LIGHTNESS]
    assert stops == sorted(set(stops))


@pytest.mark.parametrize("mark", [".", ","])
@pytest.mark.parametrize("value", [0.0, 9.0, 9.5, -0.001, -2.5, 100.0, 0.126, 123456.7])
def test_a_number_that_is_shown_reads_back(value, mark):
    before = DECIMAL_MARK.set(mark)
    try:
        assert parse_number(words.shortest(value, 2)) == pytest.approx(value, abs=0.0051)
    finally:
        DECIMAL_MARK.reset(before)


def test_a_judgement_is_told_back_in_words():
    said = Judgement(cast=Cast.MAGENTA, strength=10, stops_too_dark=-0.25, wet=True)
    assert judging.words_of(said) == "slightly magenta, a little light, judged wet"
    assert judging.words_of(Judgement()) == "no cast, lightness right"
    assert judging.words_of(Judgement(cast=Cast.CYAN, strength=7.5)) == "cyan of 7.5 CC, lightness right"


def test_typed_numbers_take_comma_and_point_and_name_the_entry():
    assert typed.number("7,5", "Time") == 7.5
    assert typed.numbers("4 5,6; 8, 11", "times") == (4.0, 5.6, 8.0, 11.0)
    assert typed.number_or(" ", "Time", 3.0) == 3.0
    with pytest.raises(ValueOutOfRange, match=r'Time: The number "soon" cannot be read. Write digits'):
        typed.number("soon", "Time")
    with pytest.raises(ValueOutOfRange, match=r"Time is empty. Enter it"):
        typed.number("", "Time")


def test_only_the_last_part_of_an_uploads_name_is_kept():
    assert typed.file_name("C:\\scans\\strip 1.tif") == "strip 1.tif"
    assert typed.file_name("../../etc/passwd") == "passwd"
    assert typed.file_name(None) == ""
    assert len(typed.file_name("x" * 500)) == 120


class _Kind(Enum):
    ONE = "one"


@dataclasses.dataclass
class _Value:
    at: datetime
    many: tuple[float, ...]
    flag: Flag


def test_every_value_becomes_json_without_loss_of_meaning():
    value = _Value(datetime(2026, 3, 1, tzinfo=UTC), (1.5, math.inf, math.nan), Flag.CLIPPED)
    said = plain({"value": value, "kind": _Kind.ONE, "array": np.eye(2), "day": date(2026, 1, 2), "path": Path("a/b")})
    again = json.loads(json.dumps(said, allow_nan=False))
    assert again["value"]["at"] == "2026-03-01T00:00:00+00:00"
    assert again["value"]["many"] == [1.5, None, None]
    assert again["value"]["flag"] == {"flag": "clipped", "words": Flag.CLIPPED.words}
    assert again["kind"] == "one"
    assert again["array"] == [[1.0, 0.0], [0.0, 1.0]]
    assert again["day"] == "2026-01-02"
    assert again["path"] == "a/b"
