"""What an eye says, in words and figures."""

import pytest

from printlore.core.advice.cast import lightness_words
from printlore.core.memory.evidence import Cast, Judgement
from printlore.core.said import parse_said
from printlore.errors import ValueOutOfRange


@pytest.mark.parametrize(
    ("text", "judgement"),
    [
        ("10 magenta, 1/3 stop dark", Judgement(cast=Cast.MAGENTA, strength=10, stops_too_dark=1 / 3)),
        ("12,5 cc red", Judgement(cast=Cast.RED, strength=12.5)),
        ("a trace cyan, a little light", Judgement(cast=Cast.CYAN, strength=5, stops_too_dark=-0.25)),
        ("slightly greenish and 0,5 stops too light", Judgement(cast=Cast.GREEN, strength=10, stops_too_dark=-0.5)),
        ("10 blue, wet", Judgement(cast=Cast.BLUE, strength=10, wet=True)),
        ("neutral", Judgement()),
        ("colour good, 1/4 stop dark", Judgement(stops_too_dark=0.25)),
        ("10 magenta,1/3 stop dark", Judgement(cast=Cast.MAGENTA, strength=10, stops_too_dark=1 / 3)),
        ("5 cyan,,5 stop light", Judgement(cast=Cast.CYAN, strength=5, stops_too_dark=-0.5)),
        ("half a stop light", Judgement(stops_too_dark=-0.5)),
        ("one stop too dark", Judgement(stops_too_dark=1)),
        ("1 stop heavy; 5 yellow", Judgement(cast=Cast.YELLOW, strength=5, stops_too_dark=1)),
    ],
)
def test_words_and_figures_become_a_judgement(text, judgement):
    said = parse_said(text)
    assert said.judgement == judgement
    assert said.doubts == ()


@pytest.mark.parametrize("words", ["10 magenta 1/3 stop dark", "1/3 stop dark 10 magenta", "dark magenta"])
def test_a_cast_and_a_darkness_that_no_comma_parts_are_refused(words):
    """The darkness was lost, or its third of a stop became a third of a CC."""
    with pytest.raises(
        ValueOutOfRange, match=r"names a cast and a darkness\. Part them by a comma: 10 magenta, 1/3 stop"
    ):
        parse_said(words)


@pytest.mark.parametrize("words", ["10-15 magenta", "10 % magenta", "10 s dark", "10 cc dark", "1/2 1/3 stop light"])
def test_a_number_of_something_else_is_not_taken_for_a_cast_or_a_darkness(words):
    said = parse_said(f"{words}, {'5 red' if 'magenta' not in words else '1 stop dark'}")
    assert said.judgement in (Judgement(cast=Cast.RED, strength=5), Judgement(stops_too_dark=1))
    assert said.doubts == (f'"{words}" was not understood; say one number, a cast in CC, a darkness in stops',)


def test_of_a_bare_number_that_no_print_is_off_by_the_unit_is_asked_for():
    with pytest.raises(ValueOutOfRange, match=r'"10 dark" would be 10 stops, 1024 times the light.*1/3 stop dark'):
        parse_said("magenta, 10 dark")
    assert parse_said("2 dark").judgement.stops_too_dark == 2
    assert parse_said("5 stops dark").judgement.stops_too_dark == 5


def test_how_dark_is_said_once():
    with pytest.raises(ValueOutOfRange, match="says twice how dark it is, dark and light"):
        parse_said("1/3 stop dark, 1/2 stop light")


def test_a_fraction_may_be_one_sign_and_parts_be_joined_by_any_word():
    assert parse_said("\u00bc stop dark").judgement == Judgement(stops_too_dark=0.25)
    for joined in ("10 red but 1 stop dark", "10 red & 1 stop dark", "10 red + 1 stop dark"):
        assert parse_said(joined).judgement == Judgement(cast=Cast.RED, strength=10, stops_too_dark=1)


def test_stronger_words_mean_more():
    for word in ("{} magenta", "{} dark"):
        amounts = [
            parse_said(word.format(how)).judgement for how in ("a trace", "slightly", "much too", "very much too")
        ]
        measure = [j.strength + j.stops_too_dark for j in amounts]
        assert measure == sorted(measure)
        assert measure[0] < measure[1] < measure[2]


def test_how_much_is_assumed_and_said_when_it_was_not():
    said = parse_said("too magenta, dark")
    assert said.judgement == Judgement(cast=Cast.MAGENTA, strength=15, stops_too_dark=0.5)
    assert said.doubts == ("how magenta was not said; 15 is assumed", "how dark was not said; 0.5 is assumed")


def test_what_was_not_understood_is_said():
    said = parse_said("5 cyan, like last summer")
    assert said.judgement == Judgement(cast=Cast.CYAN, strength=5)
    assert said.doubts == ('"like last summer" was not understood',)


@pytest.mark.parametrize(
    "words",
    [
        "too little magenta",
        "no magenta",
        "needs less magenta",
        "more magenta",
        "-10 magenta",
        "not dark",
        "-1/3 stop dark",
    ],
)
def test_what_could_mean_the_opposite_is_not_taken_for_a_cast(words):
    """Too little magenta is a green print: read by its colour alone it was a magenta one."""
    said = parse_said(f"5 red, {words}" if "dark" in words else f"{words}, 1 stop dark")
    assert said.judgement in (Judgement(cast=Cast.RED, strength=5), Judgement(stops_too_dark=1))
    assert said.doubts == (f'"{words}" was not understood; say what the print has too much of',)
    with pytest.raises(ValueOutOfRange, match="does not say how the print looks"):
        parse_said(words)


@pytest.mark.parametrize("stops", [-1.0, -0.75, -1 / 3, -0.1, 0.17, 0.25, 0.5, 2 / 3, 1.5, 2.0])
def test_the_darkness_that_printlore_says_reads_back(stops):
    said = parse_said(lightness_words(stops))
    assert said.judgement.stops_too_dark == pytest.approx(stops, abs=0.01)
    assert said.doubts == ()


def test_a_person_is_passed_on():
    assert parse_said("neutral", person="Ana").judgement.person == "Ana"


def test_two_casts_are_refused_with_their_sum():
    with pytest.raises(
        ValueOutOfRange, match=r"names two casts, magenta and yellow. .*magenta and yellow together are red"
    ):
        parse_said("10 magenta, 5 yellow")
    for two in ("10 magenta/5 yellow", "5 blue-green"):
        with pytest.raises(ValueOutOfRange, match="names two casts, "):
            parse_said(two)


@pytest.mark.parametrize("text", ["", "pretty", "wet"])
def test_what_says_nothing_is_refused_with_an_example(text):
    with pytest.raises(ValueOutOfRange, match=r'does not say how the print looks. Say for example "10 magenta'):
        parse_said(text)
