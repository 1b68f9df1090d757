"""What the studio is set up with, on the command line: the same figures and the same rules as on the page."""

import pytest

from printlore.records.database import Database
from printlore.records.rows import add
from printlore.records.studio import Tolerances


def test_costs_are_changed_one_by_one_and_the_others_stay(run):
    assert run("studio", "costs", "--sheet", "2,5", "--cycle-minutes", "20")[0] == 0
    status, costs, _ = run("studio", "costs", "--strip", "0.3", "--json")
    assert status == 0
    assert (costs["sheet"], costs["strip"], costs["cycle_minutes"], costs["minute"]) == (2.5, 0.3, 20.0, 0.5)
    assert costs["version"] == 2
    _, words, _ = run("studio", "costs")
    assert "A sheet of paper [unit]: 2.5." in words
    assert run("studio", "costs", "--json")[1]["version"] == 2


def test_tolerances_are_set_and_one_that_no_print_can_meet_is_refused(run):
    status, near, _ = run("studio", "tolerances", "--good-alone-cc", "3,5", "--json")
    assert status == 0
    assert (near["good_alone_cc"], near["edition_delta_e"]) == (3.5, 3.0)
    status, _, error = run("studio", "tolerances", "--edition-delta-e", "0")
    assert status == 2
    assert 'A tolerance of 0 no print can meet, and for "edition match" the colour difference [dE00] is that' in error
    for option, text in (("--good-alone-cc", "1e-12"), ("--good-alone-cc", "0,0001"), ("--edition-delta-e", "0,001")):
        assert run("studio", "tolerances", option, text)[0] == 2
    for option, text in (("--good-alone-time", "0,0001"), ("--good-alone-time", "11"), ("--good-alone-cc", "1000")):
        status, _, error = run("studio", "tolerances", option, text)
        assert (status, 'for "good alone"' in error, "Give 0.0" in error) == (2, True, True)
    assert run("studio", "tolerances", "--json")[1]["edition_delta_e"] == 3.0


def test_a_tolerance_of_0_set_long_ago_is_still_read_and_can_be_mended(run, tmp_path):
    with Database.open(tmp_path / "studio") as db, db.transaction() as conn:
        add(conn, Tolerances(good_alone_cc=0))
    assert run("studio", "show", "--json")[1]["tolerances"]["good_alone_cc"] == 0
    assert run("studio", "costs", "--sheet", "2")[0] == 0
    assert run("studio", "tolerances", "--good-alone-cc", "2")[0] == 0
    assert run("studio", "show", "--json")[1]["tolerances"]["good_alone_cc"] == 2


def test_numbers_are_written_with_the_mark_that_was_chosen(run):
    status, words, _ = run("studio", "writing", "--decimal-mark", ",", "--currency", "crown")
    assert status == 0
    assert "Lengths are written in cm, numbers as 7,5, money in crown." in words
    shown = run("studio", "show")[1]
    assert "A minute of your time [crown]: 0,5." in shown
    assert run("studio", "writing", "--length-unit", "inch", "--json")[1]["decimal_mark"] == ","


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("costs", "--sheet", "dear"), "A sheet of paper: The number"),
        (("costs", "--sheet", "-1"), "Costs: sheet is -1"),
        (("writing", "--length-unit", "ell"), 'The length unit "ell" cannot be; use one of cm inch'),
    ],
)
def test_what_cannot_be_set_is_said_and_changes_nothing(run, arguments, words):
    before = run("studio", "show", "--json")[1]
    status, _, error = run("studio", *arguments)
    assert status == 2
    assert words in error
    assert run("studio", "show", "--json")[1] == before


def test_what_is_expected_of_prints_made_alike_is_said_and_shown_beside_what_they_taught(run):
    assert "nothing is said; 1.1 is taken, from memory" in run("studio", "repeats")[1]
    assert "[CC]: 1.6 is expected." in run("studio", "repeats", "--alike-cc", "1,6")[1]
    assert run("studio", "show", "--json")[1]["repeatability"]["alike_cc"] == 1.6
    assert run("taught", "--repeats", "--json")[1]["expected"] == pytest.approx(1.6)
    assert "1.6 was expected before any print" in run("taught", "--repeats")[1]
    status, _, error = run("studio", "repeats", "--alike-cc", "21")
    assert status == 2
    assert "cannot scatter by 21 CC" in error
    assert "nothing is said" in run("studio", "repeats", "--alike-cc", "")[1]
    assert run("taught", "--repeats", "--json")[1]["expected"] == pytest.approx(1.118, abs=1e-3)


@pytest.mark.parametrize("currency", ["", "  ", "cro\nwn", "c" * 21])
def test_money_is_in_something_that_can_be_shown(run, currency):
    status, _, error = run("studio", "writing", "--currency", currency)
    assert (status, "cannot be what money is in" in error) == (2, True)
    assert run("studio", "writing", "--json")[1]["currency"] == "unit"


def test_columns_that_are_not_known_are_named_and_remembered(run, tmp_path):
    (tmp_path / "probe.csv").write_text("x1;x2;x3\n0,7;0,8;0,9\n")
    (tmp_path / "next.csv").write_text("x1;x2;x3\n1,0;1,1;1,2\n")
    status, _, error = run("measure", "import", str(tmp_path / "probe.csv"))
    assert status == 3
    assert "(printlore measure import --column)" in error
    named = [text for pair in ("D_RED=x3", "d_green = x2", "D_BLUE=x1") for text in ("--column", pair)]
    status, table, _ = run(
        "measure", "import", str(tmp_path / "probe.csv"), *named, "--delimiter", ";", "--decimal", ",", "--json"
    )
    assert (status, table["rows"]) == (0, [["0.9", "0.8", "0.7"]])
    assert run("measure", "import", str(tmp_path / "next.csv"), "--json")[1]["rows"] == [["1.2", "1.1", "1.0"]]


@pytest.mark.parametrize(
    ("options", "status", "words"),
    [
        (("--delimiter", ";"), 2, "go with --column"),
        (("--column", "D_RED"), 2, '"D_RED" names no column'),
        (("--column", "RED=x1"), 2, '"RED" is no field of a measurement; use one of SAMPLE_NAME, D_RED'),
        (("--column", "D_RED=x1", "--column", "D_RED=x2"), 2, "D_RED is named twice (x1, x2)"),
        (("--column", "D_RED=x9"), 3, "no column x9; parted by ',', it has x1;x2;x3."),
    ],
)
def test_columns_that_cannot_be_are_told(run, tmp_path, options, status, words):
    (tmp_path / "probe.csv").write_text("x1;x2;x3\n0,7;0,8;0,9\n")
    given, _, error = run("measure", "import", str(tmp_path / "probe.csv"), *options)
    assert given == status
    assert words in error
