"""Negatives and trials on the command line: everything that their pages do."""

import pytest

from printlore.records.database import Database
from printlore.services.entry import add_film, add_frame


@pytest.fixture
def harbour(run):
    run("add", "film", "film 1")
    run("add", "frame", "harbour", "--film", "film 1", "--number", "14", "--note", "fog on the quay")
    run("log", "harbour", "--pack", "60M 50Y", "--time", "8", "--density", "0,80 0,62 0,71")
    return run


def test_a_negative_comes_on_the_easel_with_a_name_or_without(run):
    assert "unnamed frame 1 is on the easel" in run("frame", "next")[1]
    assert run("log", "--pack", "60M", "--time", "8", "--kept", "--json")[1]["row"]["frame"] == "unnamed frame 1"
    named = run("frame", "next", "market", "--json")[1]
    assert run("log", "--pack", "60M", "--time", "8", "--kept", "--json")[1]["row"]["frame"] == "market"
    assert (named["name"], named["film"]) == ("market", "unnamed film")
    status, _, error = run("frame", "next", "market")
    assert status == 2
    assert 'A frame called "market" is or was in the studio' in error


def test_a_frame_is_corrected_and_what_changed_meanwhile_is_not_overwritten(harbour):
    status, frame, _ = harbour(
        "frame", "correct", "harbour", "--name", "harbour at dawn", "--note", "", "--seen", "1", "--json"
    )
    assert status == 0
    assert (frame["name"], frame["note"], frame["number"], frame["version"]) == ("harbour at dawn", "", "14", 2)
    status, _, error = harbour("frame", "correct", "harbour at dawn", "--number", "15", "--seen", "1")
    assert status == 6
    assert "changed meanwhile" in error
    assert "harbour at dawn" in harbour("history", "harbour at dawn", "--json")[1][0]["row"]["frame"]
    status, _, error = harbour("frame", "correct", "harbour at dawn")
    assert status != 0
    assert "Nothing to correct was named" in error


def test_a_later_reading_of_a_negative_counts_and_the_earlier_stays(harbour):
    assert harbour("frame", "read", "harbour", "0,41 0.77 1,02")[0] == 0
    status, reading, _ = harbour("frame", "read", "harbour", "0,43 0.77 1,02", "--source", "camera", "--json")
    assert status == 0
    assert (reading["as_entered"], reading["reading"]["source"]) == ("0,43 0.77 1,02", "camera")
    words = harbour("frame", "show", "harbour")[1]
    assert "Read 0.41 0.77 1.02 by probe" in words
    assert "Read 0.43 0.77 1.02 by camera" in words
    shown = harbour("frame", "show", "harbour", "--json")[1]
    assert [len(shown[part]) for part in ("readings", "trials")] == [2, 1]
    assert harbour("frame", "read", "harbour", "1 2")[0] == 2


def test_frames_are_found_by_words_and_by_film(harbour):
    harbour("add", "film", "film 2")
    harbour("add", "frame", "market", "--film", "film 2")
    assert harbour("list", "frames", "--find", "fog quay")[1].split() == ["harbour"]
    assert harbour("list", "frames", "--film", "film 2")[1].split() == ["market"]
    assert harbour("list", "frames", "--find", "fog", "--film", "film 2", "--json")[1] == []
    assert "--film and --find are for frames" in harbour("list", "lots", "--find", "x")[2]


def test_tonight_says_how_each_negative_stands(run):
    assert "Nothing is printed here yet" in run("tonight")[1]
    run("log", "--pack", "60M", "--time", "8", "--said", "neutral")
    run("frame", "next", "market")
    words = run("tonight")[1]
    assert "market           nothing printed yet" in words
    assert "unnamed frame 1  T1: " in words
    assert run("tonight", "--json")[1][0]["frame"]["name"] == "unnamed frame 1"


def test_a_trial_is_taken_back_and_no_longer_counts(harbour):
    assert "T1 of harbour, sheet" in harbour("trial", "show", "T1")[1]
    status, _, error = harbour("trial", "take-back", "T1", "--seen", "7")
    assert status == 6
    assert "changed meanwhile" in error
    assert "it no longer counts. No other print is called T1." in harbour("trial", "take-back", "T1")[1]
    assert harbour("list", "trials", "--json")[1] == []
    assert harbour("trial", "take-back", "T1")[0] == 4


def test_a_trial_taken_back_is_listed_with_a_mark_and_brought_back(harbour):
    status, _, error = harbour("trial", "bring-back", "T1")
    assert (status, "T1 was not taken back" in error) == (5, True)
    harbour("trial", "take-back", "T1")
    assert 'The trial "T1" was taken back' in harbour("trial", "keep", "T1")[2]
    for command in (("history", "harbour"), ("frame", "show", "harbour"), ("trial", "show", "T1")):
        assert "taken back" in harbour(*command)[1].lower(), command
    assert harbour("history", "harbour", "--json")[1][0]["row"]["removed"]
    assert harbour("trial", "bring-back", "T1", "--seen", "1")[0] == 6
    assert "T1 is brought back; it counts again." in harbour("trial", "bring-back", "T1")[1]
    assert "taken back" not in harbour("history", "harbour")[1]
    assert "Corrected" not in harbour("trial", "show", "T1")[1]
    assert [one["row"]["name"] for one in harbour("list", "trials", "--json")[1]] == ["T1"]


def test_a_trial_is_read_again_and_kept_or_not(harbour):
    status, trial, _ = harbour("trial", "read", "T1", "0,70 0,71 0,72", "--json")
    assert status == 0
    assert [reading["density"] for reading in trial["patches"][0]["readings"]] == [[0.8, 0.62, 0.71], [0.7, 0.71, 0.72]]
    assert "T1 is kept as right" in harbour("trial", "keep", "T1")[1]
    assert "kept" in harbour("trial", "show", "T1")[1]
    assert "T1 is not kept any more" in harbour("trial", "keep", "T1", "--not")[1]
    assert harbour("trial", "show", "T1", "--json")[1]["trial"]["patches"][0]["kept"] == []
    assert "counted from 1; there is no step 5" in harbour("trial", "keep", "T1", "--step", "5")[2]


def test_what_was_advised_is_kept_beside_what_was_made(harbour):
    made = ("--pack", "60M 50Y", "--time", "8,5", "--kept", "--json")
    (patch,) = harbour("log", "harbour", *made, "--advised-pack", "62M 50Y", "--advised-time", "9")[1]["patches"]
    assert patch["advised"]["setting"]["pack"]["magenta"] == 62
    assert (patch["advised"]["setting"]["time"], patch["exposure"]["setting"]["time"]) == (9, 8.5)


@pytest.fixture
def scan(strip, tmp_path):
    """(path of a scanned strip, wedge as typed, boxes of its steps as options)."""
    content, wedge, truth = strip
    path = tmp_path / "strip.tif"
    path.write_bytes(content)
    return path, wedge, [option for patch in truth.patches for option in ("--box", *map(str, patch.box))]


def test_a_scan_is_kept_read_and_logged_and_stands_for_the_negative(harbour, scan, tmp_path):
    path, wedge, boxes = scan
    made = ("--wedge", wedge, "--pack", "60M 50Y", "--time", "8 10 12,5", *boxes)
    status, words, error = harbour("log-scan", str(path), "harbour", *made)
    assert status == 0, error
    assert "Logged T2 of harbour: 3 steps read from the scan." in words
    trial = harbour("trial", "show", "T2", "--json")[1]["trial"]
    assert trial["row"]["kind"] == "strip"
    assert [patch["exposure"]["setting"]["time"] for patch in trial["patches"]] == [8, 10, 12.5]
    kept = trial["patches"][0]["readings"][0]["scan"]
    assert harbour("frame", "picture", "harbour", "--trial", "T2", "--json")[1]["thumbnail"] == kept
    assert harbour("frame", "picture", "harbour", "--scan", str(path), "--json")[1]["thumbnail"] == kept
    assert "was not read from a scan" in harbour("frame", "picture", "harbour", "--trial", "T1")[2]
    assert "Give either --trial or --scan" in harbour("frame", "picture", "harbour")[2]
    with Database.open(tmp_path / "studio") as db:
        assert db.scans.get(kept) == path.read_bytes()


def test_a_patch_of_a_sheet_is_logged_once_for_its_key(harbour, scan):
    path, wedge, boxes = scan
    made = ("--wedge", wedge, "--pack", "60M 50Y", "--time", "8", *boxes[:5], "--sheet", "--key", "k", "--json")
    first = harbour("log-scan", str(path), "harbour", *made)[1]
    assert first["row"]["kind"] == "sheet"
    assert harbour("log-scan", str(path), "harbour", *made)[1]["row"]["name"] == first["row"]["name"]


def test_times_that_do_not_fit_the_steps_are_told_and_nothing_is_logged(harbour, scan):
    path, wedge, boxes = scan
    status, _, error = harbour(
        "log-scan", str(path), "harbour", "--wedge", wedge, "--pack", "60M", "--time", "8", *boxes
    )
    assert status == 2
    assert "3 steps were read, but 1 times are given" in error
    across = ("--across", "--wedge", wedge, "--pack", "60M", "--time", "8 10 12", *boxes)
    assert "only one step shows the reference patch" in harbour("log-scan", str(path), "harbour", *across)[2]
    assert len(harbour("list", "trials", "--json")[1]) == 1


def test_what_is_advised_has_the_time_of_the_step_that_holds_the_reference(harbour, scan):
    path, wedge, boxes = scan
    made = ("--wedge", wedge, "--pack", "60M", "--time", "8 10 12", *boxes, "--advised-pack", "62M")
    (patch,) = harbour("log-scan", str(path), "harbour", *made, "--across", "--holds", "2", "--json")[1]["patches"]
    assert patch["exposure"]["setting"]["time"] == patch["advised"]["setting"]["time"] == 10
    assert "kept beside one only" in harbour("log-scan", str(path), "harbour", *made)[2]


def test_options_that_would_do_nothing_are_refused(harbour, scan):
    path, wedge, boxes = scan
    made = ("--wedge", wedge, "--pack", "60M", "--time", "8 10 12", *boxes)
    for command in (("log-scan", str(path), "harbour", *made), ("strip", str(path), "--wedge", wedge, *boxes)):
        assert "Give --across too" in harbour(*command, "--holds", "2")[2]
        assert "--count says nothing" in harbour(*command, "--count", "3")[2]
    assert "Give one of them at a time" in harbour("taught", "--repeats", "--pictures")[2]
    assert "Give --size too" in harbour("advise", "harbour", "--negative", "36x24")[2]
    assert "Leave --sheet out" in harbour("log-scan", str(path), "harbour", *made, "--sheet")[2]


def test_a_key_given_again_shows_what_was_recorded(harbour, scan):
    path, wedge, boxes = scan
    made = ("--wedge", wedge, "--pack", "60M", "--time", "8", "--sheet", "--key", "k")
    assert harbour("log-scan", str(path), "harbour", *made, *boxes[:5])[0] == 0
    (patch,) = harbour("trial", "show", "T2", "--json")[1]["trial"]["patches"]
    again = harbour("log-scan", str(path), "harbour", *made, *boxes[5:10])[1]
    assert "T2 is logged already" in again
    assert f"{patch['readings'][0]['density'][0]:.2f}" in again
    status, _, error = harbour("log", "harbour", "--pack", "50M", "--time", "8", "--kept", "--key", "k")
    assert (status, "T2 is made with other settings" in error) == (5, True)


def test_only_a_scan_becomes_a_picture_and_messages_name_the_file(harbour, tmp_path):
    text, empty = tmp_path / "notes.tif", tmp_path / "empty.tif"
    text.write_text("no scan")
    empty.touch()
    for path in (text, empty):
        made = ("--wedge", "0,05 0,2 0,35 0,5 0,65 0,8", "--pack", "60M", "--time", "8")
        for command in (("frame", "picture", "harbour", "--scan", str(path)), ("log-scan", str(path), *made)):
            status, _, error = harbour(*command)
            assert (status, f'"{path.name}" cannot be used as a scan' in error) == (3, True), error
    assert not [file for file in (tmp_path / "studio" / "scans").rglob("*") if file.is_file()]


def test_a_negative_is_read_by_something(harbour):
    assert "Say which probe" in harbour("frame", "read", "harbour", "0,4 0,7 1,0", "--source", " ")[2]


def test_frames_of_a_film_are_found_behind_sixty_newer_ones_and_more_are_told_of(harbour, tmp_path):
    with Database.open(tmp_path / "studio") as db:
        add_film(db, "film 2")
        for number in range(61):
            add_frame(db, f"fog {number}", film="film 2")
    assert harbour("list", "frames", "--find", "fog", "--film", "film 1")[1].split() == ["harbour"]
    status, words, error = harbour("list", "frames", "--find", "fog")
    assert (status, len(words.splitlines())) == (0, 60)
    assert "62 frames match; these are the newest 60" in error


def test_old_notes_of_another_negative_size_are_reckoned_by_it(run, tmp_path):
    page = tmp_path / "page.txt"
    page.write_text("film = Holiday\nHarbour 12: 60M 45Y, 9,5 s, f/8, 20x25 cm, 1998-03-04, a trace cyan\n")
    assert run("notebook", str(page), "--negative", "125x100")[0] == 0
    (trial,) = run("list", "trials", "--json")[1]
    assert trial["patches"][0]["exposure"]["setting"]["magnification"] == pytest.approx(2.0)


def test_a_density_is_stated_taken_back_and_brought_back_by_command(harbour):
    harbour("add", "paper", "matt")
    status, _, error = harbour("aim", "density", "harbour", "0 0 0", "--paper", "matt")
    assert (status, "comes out at red 0: unexposed it reads 0.1, fully exposed 2.4" in error) == (2, True)
    stated = harbour("aim", "density", "harbour", "0,71 0,70 0,72", "--paper", "matt", "--seen", "0", "--json")[1]
    assert stated["version"] == 1
    status, _, error = harbour("aim", "density", "harbour", "0,5 0,5 0,5", "--paper", "matt", "--seen", "0")
    assert (status, "was changed meanwhile" in error) == (6, True)
    assert harbour("aim", "drop", "harbour", "--paper", "matt")[0] == 0
    assert "On matt: density 0.71 0.70 0.72, taken back." in harbour("aim", "show", "harbour")[1]
    shown = harbour("aim", "show", "harbour", "--json")[1]
    assert (shown["densities"], [one["family"] for one in shown["taken_back"]]) == ([], ["matt"])
    assert harbour("aim", "drop", "harbour", "--paper", "matt")[0] == 4
    assert "is to read 0.71 0.70 0.72 on matt again" in harbour("aim", "bring-back", "harbour", "--paper", "matt")[1]
    assert harbour("aim", "bring-back", "harbour", "--paper", "matt")[0] == 5
    shown = harbour("aim", "show", "harbour", "--json")[1]
    assert ([one["version"] for one in shown["densities"]], shown["taken_back"]) == ([3], [])


def test_a_density_stated_anew_after_it_was_taken_back_is_the_same_record(harbour):
    harbour("add", "paper", "matt")
    assert harbour("aim", "bring-back", "harbour", "--paper", "matt")[0] == 4
    for density in ("0,71 0,70 0,72", "0,6 0,6 0,6"):
        harbour("aim", "density", "harbour", density, "--paper", "matt")
        harbour("aim", "drop", "harbour", "--paper", "matt")
    shown = harbour("aim", "show", "harbour", "--json")[1]
    assert [(one["id"], one["density"]) for one in shown["taken_back"]] == [(1, [0.6, 0.6, 0.6])]
