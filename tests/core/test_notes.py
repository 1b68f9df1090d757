"""A notebook page taken apart."""

import pytest

from printlore.core.notes import COLUMNS, decode_page, read_page
from printlore.errors import UnreadableFile


def parts(text):
    return [dict(line.parts) for line in read_page(text)]


def test_a_typed_line_is_taken_apart_in_any_order():
    assert parts("Harbour 12: 60M 45Y, 9,5 s, f/8, 20x25 cm, 1998-03-04, a trace cyan") == [
        {
            "frame": "Harbour 12",
            "pack": "60M 45Y",
            "time": "9,5 s",
            "f": "f/8",
            "size": "20x25 cm",
            "date": "1998-03-04",
            "free": "a trace cyan",
        }
    ]
    assert parts("Pier: kept 4.3.1998 f5,6 1:20 8x 0/60/45 D 0.72/0,70/0.74") == [
        {
            "frame": "Pier",
            "kept": "kept",
            "date": "4.3.1998",
            "f": "f5,6",
            "time": "1:20",
            "magnification": "8x",
            "pack": "0/60/45",
            "density": "D 0.72/0,70/0.74",
        }
    ]


@pytest.mark.parametrize(
    ("said", "time"),
    [
        ("1/2 s", "1/2 s"),
        ("9 1/2 s", "9 1/2 s"),
        ("1/2 min", "1/2 min"),
        ("1.234,5 s", "1.234,5 s"),
        ("1:20,5", "1:20,5"),
        ("-8 s", "-8 s"),
        ("5-8 s", None),
        ("0:01:20", None),
    ],
)
def test_a_time_is_read_whole_or_not_at_all(said, time):
    assert parts(f"A: 60M 45Y, {said}, f/8")[0].get("time") == time


@pytest.mark.parametrize(
    ("said", "pack"),
    [("60M -45Y", "60M -45Y"), ("-60M 45Y", "-60M 45Y"), ("60M-45Y", "60M-45Y"), ("52 1/2M", None), ("-5/60/45", None)],
)
def test_a_pack_is_read_with_its_sign_or_not_at_all(said, pack):
    assert parts(f"A: {said}, 9 s")[0].get("pack") == pack


def test_a_day_with_strokes_is_no_pack_beside_letters():
    assert parts("A: 55M 50Y 8 s 6x 3/4/98") == [
        {"frame": "A", "pack": "55M 50Y", "time": "8 s", "magnification": "6x", "free": "3/4/98"}
    ]


def test_what_is_set_holds_for_the_lines_below():
    page = "# page 3\nfilm = Holiday\n\nA: 60M 9s\nfilm = Garden\nf = 8\nB: 50M 8s f/11\n"
    assert parts(page) == [
        {"film": "Holiday", "frame": "A", "pack": "60M", "time": "9s"},
        {"film": "Garden", "f": "f/11", "frame": "B", "pack": "50M", "time": "8s"},
    ]


def test_line_numbers_are_those_of_the_page():
    assert [line.number for line in read_page("\n# x\nA: 60M 9s\n\nB: 60M 9s")] == [3, 5]
    assert [line.number for line in read_page('frame,pack,time,note\nA,60M,9,"two\nlines"\nB,60M,9,')] == [2, 4]


def test_what_cannot_be_set_is_a_problem_of_its_line():
    (line,) = read_page("weather = rain")
    assert line.problem == (
        '"weather" cannot be set for the lines below. Use one of film, head, paper, lot, bath, date, size, f, person, '
        "magnification, kind."
    )


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_columns_of_a_table_are_found_by_their_headings(delimiter):
    rows = [["Frame", "Filters", "Time (s)", "Aperture", "Weather"], ["A", "60M 45Y", "9.5", "8", "rain"]]
    assert parts("\n".join(delimiter.join(row) for row in rows)) == [
        {"frame": "A", "pack": "60M 45Y", "time": "9.5", "f": "8", "note": "Weather: rain"}
    ]


def test_headings_in_any_language_can_be_named():
    lines = read_page("Bild;Filterung;Zeit\nA;60M;9,5", {"Bild": "frame", "filterung": "pack", "Zeit": "time"})
    assert dict(lines[0].parts) == {"frame": "A", "pack": "60M", "time": "9,5"}


def test_a_number_split_by_its_decimal_comma_is_noticed():
    (line,) = read_page("frame,pack,time\nA,60M,9,5")
    assert line.doubts == ("1 more cells than headings; a decimal comma may have split a number",)


def test_a_quotation_mark_left_open_swallows_no_print_unsaid():
    first, second = read_page('frame;pack;time;note\nA;60M;9;"dark\nB;60M;9;"dark"\nC;60M;9;dark')
    assert first.doubts == ("2 lines are one cell; quotation marks may have joined prints",)
    assert second.parts["frame"] == "C"
    *_, last = read_page('frame;pack;time;note\nA;60M;9;\nB;60M;9;"dark\nC;60M;9;')
    assert (last.number, last.text) == (3, "B;60M;9;dark\nC;60M;9;")
    assert last.problem == (
        "A quotation mark opens in this line and none closes it: 2 lines were taken for one. "
        "Close it, or take it out, and enter the page again."
    )


def test_a_line_that_is_no_print_for_its_length_is_a_problem_of_its_own():
    first, second = read_page(f"A: {'9' * 20_000}\nB: 60M 45Y, 9 s")
    assert first.problem == "The line has 20003 letters; 1000 are the most. Shorten its remarks."
    assert second.parts["pack"] == "60M 45Y"


def test_lines_may_end_as_on_any_machine():
    for end in ("\n", "\r\n", "\r"):
        assert len(parts(f"frame;pack;time{end}A;60M;9{end}B;60M;9{end}")) == 2


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (f"frame,time,pack,note\nA,1,2,{'x' * 200_000}", "from line 2 on it is no table"),
        ("frame,pack,note\nA,60M,", "it needs a column for time and one for the pack"),
        ("frame,time,sec,pack\nA,1,2,3", "two columns are both taken for time"),
        ("alpha;beta;gamma\n1;2;3", "names no columns that are known. Name them for example"),
    ],
)
def test_a_table_that_cannot_be_read_says_what_it_needs(text, words):
    with pytest.raises(UnreadableFile) as caught:
        read_page(text)
    assert words in str(caught.value)


def test_bytes_of_either_usual_encoding_are_read():
    assert decode_page("Caf\u00e9: 60M 9s".encode("utf-8-sig")) == "Caf\u00e9: 60M 9s"
    assert decode_page("Caf\u00e9: 60M 9s".encode("cp1252")) == "Caf\u00e9: 60M 9s"


@pytest.mark.parametrize(
    ("content", "words"),
    [(b"", "The page is empty"), (" \n ", "The page is empty"), (b"II*\0\x08\0", "This is not a page of notes")],
)
def test_what_is_no_page_is_refused(content, words):
    with pytest.raises(UnreadableFile, match=words):
        decode_page(content)


def test_no_heading_means_two_things():
    headings = [heading for known in COLUMNS.values() for heading in known]
    assert len(headings) == len(set(headings))
