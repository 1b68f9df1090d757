"""Each step on the command line: words, JSON, and what is wrong."""

import pytest


def test_a_first_print_needs_no_film_no_lot_and_no_bath(run):
    status, words, _ = run("log", "--pack", "60M 50Y", "--time", "9,5", "--said", "10 magenta, 1/3 stop dark")
    assert status == 0
    assert "Logged T1 of unnamed frame 1: slightly magenta" in words
    assert "Rename it when you can" in words
    status, words, _ = run("advise")
    assert status == 0
    assert "unnamed frame 1 at" in words
    assert "so dialled, in all" in words
    assert "`printlore studio repeats --alike-cc` says it" in " ".join(words.split())
    assert run("studio", "repeats", "--alike-cc", "1")[0] == 0
    assert "how well prints repeat" not in " ".join(run("advise")[1].split())


def test_a_new_studio_is_made_once_and_left_alone_after(run):
    assert "There is a studio in" in run("init")[1]


def test_everything_a_studio_has_is_added_and_listed(run):
    assert run("add", "film", "film 1", "--stock", "neutral 160")[0] == 0
    assert run("add", "frame", "harbour", "--film", "film 1")[0] == 0
    assert run("add", "paper", "matt")[0] == 0
    assert run("add", "lot", "lot 1", "--paper", "matt")[0] == 0
    assert run("add", "process", "45 s")[0] == 0
    assert run("add", "bath", "bath 1", "--process", "45 s")[0] == 0
    assert run("add", "lens", "taking turns", "--focal-length", "80")[0] == 0
    status, head, _ = run(
        "add", "head", "loft", "--usual", "55M 60Y", "--usual-time", "9,5", "--f-numbers", "5,6 8", "--json"
    )
    assert status == 0
    assert head["usual"]["pack"] == {"cyan": 0.0, "magenta": 55.0, "yellow": 60.0}
    assert head["f_numbers"] == [5.6, 8.0]
    paper = run("add", "paper", "gloss", "--aim-density", "0,71 0,70 0,72", "--json")[1]
    assert paper["aim_density"] == [0.71, 0.7, 0.72]
    assert run("add", "bath", "bath 2", "--process", "45 s", "--volume", "500,5", "--json")[1]["volume"] == 500.5
    assert run("list", "frames")[1].strip() == "harbour"
    assert run("list", "heads", "--json")[1][0]["name"] == "loft"


@pytest.fixture
def harbour(run):
    run("add", "film", "film 1")
    run("add", "frame", "harbour", "--film", "film 1")
    run("log", "harbour", "--pack", "60M 50Y", "--time", "8", "--density", "0,80 0,62 0,71")
    return run


def test_a_print_is_judged_and_its_history_told(harbour):
    status, words, _ = harbour("judge", "T1", "a trace cyan, a little light, wet", "--kept")
    assert status == 0
    assert "T1: a trace of cyan, a little light, judged wet, kept." in words
    _, words, _ = harbour("history", "harbour")
    assert "reads 0.80 0.62 0.71; a trace of cyan, a little light, judged wet; kept" in words
    assert harbour("list", "trials", "--json")[1][0]["row"]["name"] == "T1"


def test_advice_is_said_in_words_and_in_json(harbour):
    _, words, _ = harbour("advise", "harbour")
    assert "T1 at 8.0 s is" in words
    assert "from the aim in red, green and blue" in " ".join(words.split())
    assert "whole sheet" in words
    status, body, _ = harbour("advise", "harbour", "--tolerance", "good alone", "--json")
    assert status == 0
    assert body["advice"]["tolerance"]["name"] == "good alone"
    sized = harbour("advise", "harbour", "--size", "50x40 cm", "--negative", "62,5x50", "--json")[1]
    assert sized["advice"]["setting"]["magnification"] == pytest.approx(8.0)
    assert "Give either" in harbour("advise", "harbour", "--size", "5x4 cm", "--magnification", "8")[2]


def test_the_aim_of_a_frame_is_stated_and_taken_back(harbour):
    tone = "65 12 10"
    before = harbour("advise", "harbour", "--json")[1]["advice"]["setting"]["time"]
    assert "L* 52, a* 0, b* 0 (the usual grey)" in harbour("aim", "show", "harbour")[1]
    assert "harbour is to come out as L* 65, a* 12, b* 10" in harbour("aim", "tone", "harbour", tone)[1]
    assert harbour("aim", "show", "harbour", "--json")[1]["tone"] == [65.0, 12.0, 10.0]
    # lighter than the grey: less light on the paper
    assert harbour("advise", "harbour", "--json")[1]["advice"]["setting"]["time"] < before
    paper = harbour("list", "papers", "--json")[1][0]["name"]
    assert harbour("aim", "density", "harbour", "0,5 0,6 0,7", "--paper", paper)[0] == 0
    assert harbour("aim", "density", "harbour", "0,51 0,6 0,7", "--paper", paper)[0] == 0
    assert f"On {paper}: density 0.51 0.60 0.70" in harbour("aim", "show", "harbour")[1]
    assert harbour("aim", "drop", "harbour", "--paper", paper)[0] == 0
    assert f"On {paper}: density 0.51 0.60 0.70, taken back." in harbour("aim", "show", "harbour")[1]
    status, _, error = harbour("aim", "drop", "harbour", "--paper", paper)
    assert (status, "No density was stated" in error) == (4, True)
    status, _, error = harbour("aim", "tone", "harbour", "60 90 -90")
    assert status == 2
    assert "it can show" in error
    assert harbour("add", "frame", "quay", "--film", "film 1", "--tone", tone, "--json")[1]["aim"] == [65.0, 12.0, 10.0]


def test_what_the_prints_taught_is_listed(harbour):
    status, words, _ = harbour("taught")
    assert status == 0
    assert "film 1" in words
    status, words, _ = harbour("taught", "--of", "film", "film 1")
    assert status == 0
    assert "film 1 is known to" in words
    assert "error without it" in words
    (one,) = harbour("taught", "--of", "film", "film 1", "--json")[1]
    assert one["trials"] == ["T1"]
    assert one["without"] > one["error"]
    status, _, error = harbour("taught", "--of", "film", "film 1", "--unread")
    assert (status, "by negatives that were not read where others were" in error) == (4, True)
    harbour("add", "frame", "market", "--film", "film 1")
    harbour("frame", "read", "market", "0,41 0,77 1,02")
    assert "film 1, of its negatives that were not read" in harbour("taught")[1]
    status, words, _ = harbour("taught", "--of", "film", "film 1", "--unread")
    assert "film 1, of its negatives that were not read is known to" in words
    status, words, _ = harbour("taught", "--pictures")
    assert "answers light: density by log exposure" in words
    assert {"paper", "filters"} <= {one["kind"] for one in harbour("taught", "--pictures", "--json")[1]}
    status, _, error = harbour("taught", "--of", "lot", "none")
    assert status == 4
    assert "printlore taught" in error


def test_a_notebook_page_is_checked_then_entered(run, tmp_path):
    page = tmp_path / "page.txt"
    page.write_text("film = Holiday\nHarbour 12: 60M 45Y, 9,5 s, f/8, 1998-03-04, a trace cyan\nHarbour 13: nonsense\n")
    status, words, _ = run("notebook", str(page), "--check")
    assert status == 0
    assert "1 of 2 lines would be entered" in words
    _, words, _ = run("notebook", str(page))
    assert "line 3: not entered." in words
    assert "1 of 2 lines entered." in words


def test_a_scan_is_read_without_a_studio(run, strip, tmp_path):
    content, wedge, truth = strip
    scan = tmp_path / "strip.tif"
    scan.write_bytes(content)
    left, top, right, bottom = map(str, truth.patches[0].box)
    status, words, _ = run(
        "strip", str(scan), "--wedge", wedge, "--box", left, top, right, bottom, studio=tmp_path / "none"
    )
    assert status == 0
    reads = [float(number) for number in words.splitlines()[1].split()[1:4]]
    assert reads == pytest.approx(truth.patches[0].density.tolist(), abs=0.05)
    assert "Doubt:" in words


def test_the_studio_goes_out_and_comes_back_by_backup_and_by_export(harbour, tmp_path):
    before = harbour("list", "trials", "--json")[1]
    assert harbour("backup", str(tmp_path / "copy"))[0] == 0
    assert harbour("restore", str(tmp_path / "copy"), studio=tmp_path / "restored")[0] == 0
    assert harbour("list", "trials", "--json", studio=tmp_path / "restored")[1] == before
    assert harbour("export", str(tmp_path / "all.zip"))[0] == 0
    assert harbour("import", str(tmp_path / "all.zip"), studio=tmp_path / "again")[0] == 0
    assert harbour("list", "trials", "--json", studio=tmp_path / "again")[1] == before


@pytest.mark.parametrize(
    ("arguments", "status", "words"),
    [
        (("log", "--pack", "60M", "--time", "0", "--kept"), 2, "must be above 0"),
        (("log", "--pack", "1000M", "--time", "8", "--kept"), 2, "must be between 0 and 400"),
        (("log", "--pack", "60M", "--time", "soon", "--kept"), 2, "time: The time"),
        (("log", "--pack", "60M", "--time", "8", "--density", "1 2"), 2, "needs three densities"),
        (("log", "--pack", "60M", "--time", "8", "--said", "lovely"), 2, "does not say how the print looks"),
        (("log", "no such", "--pack", "60M", "--time", "8", "--kept"), 4, 'No frame is called "no such"'),
        (("judge", "T9", "neutral"), 4, 'No trial is called "T9"'),
        (("history", "no such"), 4, "No frame is called"),
        (("advise", "--head", "no such"), 4, "There is no negative in the studio yet"),
        (("restore", "."), 3, "There is no studio.sqlite"),
    ],
)
def test_what_cannot_be_is_said_with_its_status(run, arguments, status, words):
    got, out, error = run(*arguments)
    assert got == status
    assert words in error
    assert out == ""


def test_a_file_that_is_no_scan_is_said(run, tmp_path):
    for name, content in (("empty.tif", b""), ("cut.tif", b"II*\0\x08\0\0\0")):
        path = tmp_path / name
        path.write_bytes(content)
        status, _, error = run("strip", str(path), "--wedge", "0.05 0.2 0.5 1 1.5")
        assert status == 3
        assert name in error


def test_a_scan_is_added_to_a_print_that_was_judged_before(harbour, strip, tmp_path):
    content, wedge, truth = strip
    (tmp_path / "print.tif").write_bytes(content)
    assert harbour("log", "harbour", "--pack", "60M 50Y", "--time", "8", "--said", "neutral")[0] == 0
    box = [str(round(side)) for side in truth.patches[0].box]
    status, words, error = harbour(
        "trial", "scan", "T2", str(tmp_path / "print.tif"), "--wedge", wedge, "--box", *box, "--kept"
    )
    assert status == 0, error
    assert "T2: reads" in words
    assert "kept" in words
    assert len(harbour("list", "trials", "--json")[1]) == 2
    status, _, error = harbour("trial", "scan", "T2", str(tmp_path / "print.tif"), "--wedge", wedge, "--count", "3")
    assert status == 2
    assert "Only one patch is added" in error
