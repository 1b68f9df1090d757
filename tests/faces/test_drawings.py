"""The drawings: right places, no hue, no text that could be markup."""

import re
from xml.etree import ElementTree

import pytest

from printlore.faces.web.drawings import (
    Forecast,
    LineLane,
    LineStep,
    PastPrint,
    band,
    cast_map,
    cast_words,
    evening_line,
    move_words,
)

SVG = "{http://www.w3.org/2000/svg}"


def parsed(drawing):
    """The drawing as XML (the page needs no namespace inside HTML)."""
    return ElementTree.fromstring(str(drawing))


def texts(drawing):
    return {element.text: element for element in parsed(drawing).iter("text") if element.get("x")}


def test_a_print_that_is_too_magenta_stands_above_the_middle_and_one_too_yellow_right_of_it():
    """Common practice, no source: too magenta -> add M; so up is magenta, and across is yellow."""
    drawing = cast_map(past=[PastPrint(yellow=10, magenta=0, number="1"), PastPrint(yellow=0, magenta=10, number="2")])
    places = {text: (float(found.get("x")), float(found.get("y"))) for text, found in texts(drawing).items()}
    assert places["1"][0] > 240
    assert places["1"][1] == pytest.approx(244.5)
    assert places["2"][1] < 240
    assert places["magenta"][1] < places["2"][1]
    assert places["cyan"][0] < 240 < places["red"][0]


def test_six_words_name_the_casts_and_nothing_is_coloured():
    drawing = str(cast_map(past=[PastPrint(yellow=3, magenta=4, number="1", kept=True, by_eye=True)]))
    for word in ("magenta", "green", "red", "cyan", "blue", "yellow"):
        assert f">{word}<" in drawing
    assert not re.search(r"(fill|stroke)=|rgb|hsl|#[0-9a-f]{3}", drawing)


def test_the_grid_is_in_this_heads_dial_steps():
    fine = str(cast_map(past=[PastPrint(yellow=8, magenta=0, number="1")], step_yellow=1, step_magenta=5))
    grid = re.search(r'class="line" d="([^"]*)"', fine)[1]
    assert grid.count("V") == 2 * 10 + 1
    assert grid.count("H") == 2 * 2 + 1


def test_settings_that_pass_are_outlined_by_asking_each():
    asked = []

    def passes(yellow, magenta):
        asked.append((yellow, magenta))
        return abs(yellow) <= 2 and abs(magenta) <= 1

    drawing = str(cast_map(passes=passes, step_yellow=1, step_magenta=1))
    cells = re.search(r'class="pass" d="([^"]*)"', drawing)[1]
    assert cells.count("M") == 5 * 3
    assert (0, 0) in asked


def test_the_cloud_has_the_spread_of_the_forecast():
    forecast = Forecast(yellow=1.0, magenta=-2.0, variance_yellow=4.0, variance_magenta=1.0, covariance=1.0)
    dots = [(float(dot.get("cx")), float(dot.get("cy"))) for dot in parsed(cast_map(forecast=forecast)).iter("circle")]
    scale = 200 / 6
    across = [(x - 240) / scale for x, _ in dots]
    up = [(240 - y) / scale for _, y in dots]
    mean = (sum(across) / len(dots), sum(up) / len(dots))
    assert mean == pytest.approx((1.0, -2.0), abs=0.1)
    variance = sum((x - mean[0]) ** 2 for x in across) / len(dots)
    covariance = sum((x - mean[0]) * (y - mean[1]) for x, y in zip(across, up, strict=True)) / len(dots)
    assert variance == pytest.approx(4.0, rel=0.12)
    assert covariance == pytest.approx(1.0, abs=0.2)


def test_the_map_is_told_in_words_too():
    past = [PastPrint(yellow=-4.2, magenta=10, number="1", lightness="1/3 stop too light", kept=True)]
    assert "Print 1: needs +10 M −4 Y, 1/3 stop too light, kept" in cast_words(past, None)
    assert "Nothing printed yet" in cast_words([], None)
    assert move_words(0.2, -0.3) == "needs no move"


def test_names_in_a_drawing_are_never_markup():
    nasty = '"><script>'
    for drawing in (
        cast_map(past=[PastPrint(yellow=0, magenta=0, number=nasty, lightness=nasty)]),
        evening_line([LineLane(name=nasty, steps=(LineStep(name=nasty, start=0, end=90),))], now=0, clock=str),
    ):
        assert "<script>" not in str(drawing)
        parsed(drawing)


def test_steps_stand_where_their_minutes_are_and_show_their_state_by_shape():
    lane = LineLane(
        name="drum 1",
        steps=(
            LineStep(name="developer", start=0, end=20, state="done"),
            LineStep(name="bleach-fix", start=20, end=40, state="now"),
            LineStep(name="wash", start=40, end=60),
        ),
    )
    boxes = list(parsed(evening_line([lane], now=30, clock=str)).iter("rect"))
    assert [box.get("class") for box in boxes] == ["fill", "sheet", "axis"]
    assert boxes[2].get("stroke-dasharray")
    lefts = [float(box.get("x")) for box in boxes]
    assert lefts[1] - lefts[0] == pytest.approx(lefts[2] - lefts[1], abs=0.2)


def test_a_band_reaches_two_standard_errors_each_way():
    drawing = parsed(band(2.0, 1.0, 16.0))
    low, high = re.search(r"M([\d.]+) 11H([\d.]+)", ElementTree.tostring(drawing).decode()).groups()
    scale = (150 / 2 - 4) / 16
    assert float(high) - float(low) == pytest.approx(4 * scale, abs=0.2)
    assert (float(low) + float(high)) / 2 == pytest.approx(75 + 2 * scale, abs=0.2)


def test_the_words_at_a_print_do_not_lie_on_the_word_in_the_middle():
    print_ = PastPrint(yellow=3.9, magenta=-0.4, number="1", lightness="lightness right", kept=False, by_eye=False)
    forecast = Forecast(magenta=0, yellow=0, variance_magenta=1, variance_yellow=1, covariance=0)
    drawn = str(cast_map(past=[print_], forecast=forecast, passes=lambda _y, _m: False))
    at = {said: float(y) for y, said in re.findall(r'<text[^>]* y="([\d.]+)"[^>]*>([^<]+)</text>', drawn)}
    assert abs(at["lightness right"] - at["right"]) >= 14
