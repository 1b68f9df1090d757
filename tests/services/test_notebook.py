"""Old notebook pages: what can be read is recorded with its doubts, the rest is reported by line, nothing is lost."""

from datetime import UTC, datetime

import pytest

from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Setting
from printlore.core.memory.evidence import Cast, Judgement
from printlore.errors import UnreadableFile, ValueOutOfRange
from printlore.records.database import Database
from printlore.records.negatives import Film, Frame
from printlore.records.papers import Lot
from printlore.records.scans import Scan
from printlore.records.studio import Preferences
from printlore.services.entry import add_film, add_head, add_lot, list_records, write_settings
from printlore.services.evidence import load_evidence
from printlore.services.notebook import PageDefaults, enter_notebook
from printlore.services.trials import find_trial, list_trials

PAGE = """film = Holiday
lot = A12
Harbour 12: 60M 45Y, 9,5 s, f/8, 20x25 cm, 4.3.1998, a trace cyan
Harbour 13: 0/60/45 12 s f5,6 6x kept
Mole: 1000M 10 s
Mole: 60M 0 s
Mole: hello
Mole: 60M 10 s D 0.72/0,70/0.74
"""


def test_a_page_becomes_trials_with_their_doubts(db):
    page = enter_notebook(db, PAGE)
    assert page.entered == 3
    first, second, *_, last = page.lines
    assert first.setting.pack == FilterPack(magenta=60, yellow=45)
    trial = find_trial(db, first.trial)
    assert trial.row.at == datetime(1998, 3, 4, 12, tzinfo=UTC)
    assert (trial.row.frame, trial.row.lot, trial.row.source) == ("Harbour 12", "A12", "notebook")
    assert trial.row.print_size == (200, 250)
    assert trial.patches[0].judgements[0].judgement == Judgement(cast=Cast.CYAN, strength=5)
    assert first.setting.magnification == pytest.approx(200 / 24)
    assert (
        "magnification reckoned from the size and a negative of 36x24 mm. Enlarged 8.33 times, so that the negative "
        "fills the sheet: 17 % of the negative's long side is cropped" in first.doubts
    )
    assert second.setting == Setting(pack=FilterPack(magenta=60, yellow=45), time=12, f_number=5.6, magnification=6)
    assert find_trial(db, second.trial).patches[0].kept
    assert find_trial(db, last.trial).patches[0].readings[0].density == (0.72, 0.70, 0.74)
    assert "no f-number; f/8 is assumed" in last.doubts
    assert len(load_evidence(db).trials) == 3


def test_what_cannot_be_read_is_reported_by_line_and_stops_nothing_else(db):
    page = enter_notebook(db, PAGE)
    assert [(line.number, line.text) for line in page.not_entered] == [
        (5, "Mole: 1000M 10 s"),
        (6, "Mole: 60M 0 s"),
        (7, "Mole: hello"),
    ]
    problems = [line.problem for line in page.not_entered]
    assert problems[0].startswith("magenta filter is 1000 CC; it must be between 0 and 400")
    assert problems[1].startswith("Exposure time is 0 s; it must be above 0")
    assert problems[2] == "No filter pack was found. Write for example 60M 45Y, or none."


def test_the_page_itself_is_kept(db):
    enter_notebook(db, PAGE, original_name="page 3.txt")
    (scan,) = list_records(db, Scan)
    assert db.scans.get(scan.sha256).decode() == PAGE
    assert scan.original_name == "page 3.txt"


def test_a_dry_run_says_the_same_and_records_nothing(db):
    rehearsed = enter_notebook(db, PAGE, dry_run=True)
    assert list_trials(db) == []
    assert list_records(db, Film) == []
    assert list_records(db, Scan) == []
    assert db.scans.names() == []
    entered = enter_notebook(db, PAGE)
    assert rehearsed.added == entered.added
    assert [(x.problem, x.doubts, x.setting) for x in rehearsed.lines] == [
        (x.problem, x.doubts, x.setting) for x in entered.lines
    ]
    assert {line.trial for line in rehearsed.lines} == {None}


def test_a_mended_page_records_only_what_was_mended(db):
    first = enter_notebook(db, PAGE)
    again = enter_notebook(db, PAGE.replace("1000M 10 s", "100M 10 s"))
    assert again.entered == 4
    assert [line.again for line in again.lines] == [True, True, False, False, False, True]
    assert again.lines[0].trial == first.lines[0].trial
    assert again.added == ()
    assert len(list_trials(db)) == 4


def test_the_same_line_twice_on_a_page_is_two_prints(db):
    page = enter_notebook(db, "A: 60M 9s kept\nA: 60M 9s kept\n")
    assert len({line.trial for line in page.lines}) == 2
    assert len(list_trials(db)) == 2


def test_a_print_older_than_the_lot_it_is_taken_to_be_of_is_doubted(db):
    """A print of 1998 was taken to be of a lot of 2026 in the words of any other guess."""
    add_lot(db, "box A", paper="gloss", new_paper=True, received_at=datetime(2026, 12, 1, tzinfo=UTC))
    text = "Mole: 60M 10 s 1998-03-04\nQuay: 60M 10 s 2027-01-02\nlot = A1\nPier: 60M 10 s 1998-03-04\n"
    page = enter_notebook(db, text)
    told = [any("came later than this print, on 1 Dec 2026" in doubt for doubt in line.doubts) for line in page.lines]
    assert told == [True, False, False]


def test_what_had_to_be_added_for_a_line_is_said_there():
    with Database.in_memory() as empty:
        first, second = enter_notebook(empty, "A: 50M 50Y, 10 s, f/8, 8x, kept\nB: 52M 50Y, 10 s, f/8, 8x, kept").lines
        assert 'no film named; "unnamed film" was added' in first.doubts
        assert 'no film named; taken to be "unnamed film"' in second.doubts
        assert [film.name for film in list_records(empty, Film)] == ["unnamed film"]


def test_a_line_that_fails_adds_nothing_to_the_studio(db):
    page = enter_notebook(db, "film = Garden\nRose: 60M 0 s\n")
    assert page.added == ()
    assert list_records(db, Film) == []
    good = enter_notebook(db, "film = Garden\nRose: 60M 0 s\nRose: 60M 9 s\n")
    assert [film.name for film in list_records(db, Film)] == ["Garden"]
    assert 'film "Garden"' in good.added
    assert 'frame "Rose"' in good.added


def test_a_table_with_decimal_commas_is_read(db):
    write_settings(db, Preferences(length_unit="inch", decimal_mark=","))
    table = (
        "Frame;Film;C;M;Y;Seconds;Aperture;Size;Date;Judgement;Good;Weather\n"
        '"Boat; red";Holiday;0;62,5;44;9,5;5,6;8x10;4.3.1998;10 magenta, 1/4 stop dark;;rain\n'
        "Boat 2;Holiday;0;x;44;9,5;8;8x10;;;yes;\n"
        "Boat 3;Holiday;;40;44;9,5;8;20x25 cm;;;yes;\n"
    )
    page = enter_notebook(db, table)
    first, second, third = page.lines
    assert first.setting.pack == FilterPack(magenta=62.5, yellow=44)
    assert first.setting.time == 9.5
    trial = find_trial(db, first.trial)
    assert trial.row.frame == "Boat; red"
    assert trial.row.print_size == pytest.approx((203.2, 254))
    assert trial.row.note == "Weather: rain"
    assert trial.patches[0].judgements[0].judgement == Judgement(cast=Cast.MAGENTA, strength=10, stops_too_dark=0.25)
    assert not trial.patches[0].kept
    assert second.problem.startswith('The number "x" cannot be read')
    assert find_trial(db, third.trial).row.print_size == (200, 250)
    assert find_trial(db, third.trial).patches[0].kept


def test_names_that_are_nearly_known_are_doubted(db):
    add_film(db, "Holiday")
    page = enter_notebook(db, "film = Holidey\nRose: 60M 9 s kept\n")
    assert 'the film "Holidey" is new; is it "Holiday"?' in page.lines[0].doubts


def test_what_is_odd_is_doubted(db):
    add_head(db, "left")
    page = enter_notebook(db, "Rose: 20C 60M 40Y 400 s f/7 kept, burned the sky\n")
    assert set(page.lines[0].doubts) >= {
        "the pack holds 20 CC of neutral density; no colour is at 0",
        'f/7 is not among the stops marked for the head "left"',
        "400 s is far from the usual 4 to 40 s",
        '"burned the sky" is kept as a note',
        "no date; the day of entry is used",
    }
    assert find_trial(db, page.lines[0].trial).row.note == "burned the sky"


def test_a_silent_line_is_of_a_kept_print_unless_told_otherwise(db):
    page = enter_notebook(db, "Rose: 60M 9 s\n")
    assert "nothing is said of how it came out; taken as a print that was kept" in page.lines[0].doubts
    assert find_trial(db, page.lines[0].trial).patches[0].kept
    strict = enter_notebook(db, "Tulip: 60M 9 s\n", PageDefaults(kept_if_silent=False))
    assert strict.lines[0].problem.startswith("Nothing is said of how it came out")


def test_defaults_hold_where_a_line_says_nothing(db):
    defaults = PageDefaults(
        film="Garden", paper="matt", lot="B7", bath="old", person="Ana", negative=(56, 56), pack_order="YMC"
    )
    page = enter_notebook(db, "Rose: 45/60/0 9 s 20x28 cm 5 magenta\n", defaults)
    record = find_trial(db, page.lines[0].trial)
    assert record.patches[0].made.pack == FilterPack(magenta=60, yellow=45)
    assert record.patches[0].made.magnification == pytest.approx(5)
    assert record.patches[0].judgements[0].judgement.person == "Ana"
    assert (record.row.lot, record.row.bath) == ("B7", "old")
    assert list_records(db, Lot)[0].family == "matt"
    assert list_records(db, Frame)[0].film == "Garden"


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("60M 9 s kept", "No negative was named. Begin the line with it"),
        ("A: 60M kept", "No exposure time was found. Write for example 9.5 s."),
        ("A: 60M 9 s 3.4.1026", "The date 1026-04-03 cannot be that of a record. Correct the year"),
        ("A: 60M 9 s 31.2.1998", 'The date "31.2.1998" cannot be read. Write 1998-03-04 or 4.3.1998.'),
        ("A: 60M 9 s D 9/9/9", "cannot be those of a print"),
    ],
)
def test_each_trouble_of_a_line_has_its_words(db, line, words):
    (found,) = enter_notebook(db, line).lines
    assert words in found.problem
    assert list_trials(db) == []


def test_a_table_with_one_density_missing_is_refused_by_line(db):
    page = enter_notebook(db, "frame;pack;time;red;green\nA;60M;9;0,7;0,7\n")
    assert page.lines[0].problem == "The density through blue is missing. Give red, green and blue, or none."


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: PageDefaults(pack_order="CMX"), 'The order "CMX" must name C, M and Y once each'),
        (lambda: PageDefaults(negative=(36, 0)), "A negative with a side of 0 mm cannot be"),
        (
            lambda: PageDefaults(columns={"Bild": "picture"}),
            '"picture" is not what a column can mean; use',
        ),
    ],
)
def test_defaults_that_cannot_be_are_refused(make, words):
    with pytest.raises(ValueOutOfRange) as caught:
        make()
    assert words in str(caught.value)


def test_what_is_no_page_is_refused_and_nothing_is_kept(db):
    with pytest.raises(UnreadableFile, match=r"This is not a page of notes"):
        enter_notebook(db, b"II*\0\x08\0\0\0")
    assert list_records(db, Scan) == []


def test_hundreds_of_lines_are_entered_in_one_go(db):
    page = enter_notebook(
        db, "".join(f"Frame {n}: {n % 80}M {n % 70}Y {5 + n % 20} s f/8 8x kept\n" for n in range(500))
    )
    assert page.entered == 500
    assert len(load_evidence(db).trials) == 500
