"""The evening from the command line: a whole one, its refusals, and pieces as typed."""

import json
import wave
from datetime import UTC, datetime

import pytest

from printlore.errors import ValueOutOfRange
from printlore.faces.cli.main import main
from printlore.faces.evening_typed import burns_of, piece
from printlore.records.baths import Bath, Process
from printlore.records.database import Database
from printlore.records.negatives import Film, Frame
from printlore.records.rows import add


@pytest.fixture
def run(tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("PRINTLORE_STUDIO", str(tmp_path / "studio"))
    with Database.open(tmp_path / "studio") as db, db.transaction() as conn:
        add(conn, Film(name="roll 3"))
        add(conn, Frame(name="harbour 14", film="roll 3"))
        add(conn, Process(name="own"))
        add(conn, Bath(name="3 March", process="own", mixed_at=datetime(2031, 3, 3, tzinfo=UTC)))

    def go(*arguments, status=0):
        assert main(["evening", *arguments]) == status
        shown = capsys.readouterr()
        return shown.out if status == 0 else shown.err

    return go


def test_an_evening_up_to_the_first_pour(run, tmp_path):
    assert "is open" in run("open")
    run("frame", "harbour 14")
    said = run("plan", "--drum", "1", "--piece", "harbour 14; strip; 60M 70Y; 4 1 1,3; 6x25 cm",
               "--piece", "harbour 14; sheet; 60M 70Y; 8; 20x25 cm; sky +4")  # fmt: skip
    assert "harbour 14 strip: no corner clipped" in said
    assert "harbour 14: one corner clipped" in said
    assert "Before the first pour: Gloves on" in run("begin", "1", status=5)
    assert "silver" in run("care")
    assert "go to wet" in run("begin", "1", status=5)
    run("move", "wet")
    assert "In 10 s" in run("next-start", "1")
    assert "Load 1 begins." in run("begin", "1")
    assert "first pour (prewash) in" in run("show")
    assert json.loads(run("show", "--json"))["light"] == "wet"
    assert "has not been poured yet" in run("hold", "1", status=5)
    assert "Taken back" in run("undo")
    assert "Load 1 is planned for drum 1" in run("show")
    run("card", str(tmp_path / "card.pdf"))
    assert (tmp_path / "card.pdf").read_bytes().startswith(b"%PDF")
    run("cues", "1", "--out", str(tmp_path / "cues.wav"))
    with wave.open(str(tmp_path / "cues.wav")) as file:
        assert file.getnframes() / file.getframerate() > 330
    assert "begin" in run("cues", "1", "--piece", "2")
    assert "is closed" in run("close")


def test_paper_stays_in_its_box_without_rehearsal_and_confirmations(run):
    run("open")
    run("plan", "--drum", "1", "--piece", "; sheet; 60M 70Y; 8; 20x25 cm")
    run("move", "easel")
    assert "has not been rehearsed" in run("move", "paper_out", "--load", "1", status=5)
    every = [
        part
        for name in ("display", "sleep", "switch", "event", "lamps", "devices", "looked")
        for part in ("--yes", name)
    ]
    run("rehearsed", "--waited", "10:05", *every)
    assert "system sleep is off" in run("move", "paper_out", "--load", "1", "--yes", "display", status=5)
    yes = [part for name in ("display", "devices", "sleep", "sound") for part in ("--yes", name)]
    assert "Paper is out: listen." in run("move", "paper_out", "--load", "1", *yes)
    run("beat", "1", "4")
    assert "the box is closed" in run("move", "wet", status=5)
    assert "Wet: white light" in run("move", "wet", "--yes", "box", "--yes", "lid")


def test_own_sequences_go_out_and_in_as_json(run, tmp_path):
    plain = json.loads(run("sequences", "Small drum, 35 degrees"))
    plain["name"] = "mine"
    plain["steps"][1]["time"] = 60
    (tmp_path / "mine.json").write_text(json.dumps(plain))
    assert '"mine" is kept, version 1' in run("keep-sequence", str(tmp_path / "mine.json"))
    assert "developer 60 s" in run("sequences")
    run("keep-sequence", str(tmp_path / "mine.json"), "--changes", "mine", "--version", "1")
    assert "changed meanwhile" in run(
        "keep-sequence", str(tmp_path / "mine.json"), "--changes", "mine", "--version", "1", status=6
    )
    (tmp_path / "bad.json").write_text("{")
    assert "is not JSON" in run("keep-sequence", str(tmp_path / "bad.json"), status=3)


def test_a_pour_is_compared_before_it_is_poured(run):
    run("open")
    run("plan", "--drum", "1", "--piece", "; sheet; 60M 70Y; 8; 20x25 cm")
    assert "too few pours" in run("pour", "1", "2", "--temperature", "31,5", "--ask")


def test_a_piece_on_one_line():
    order = piece("harbour 14; sheet; 60M 70Y; 8,5; 20x25 cm; sky +4,5, face -3, edge +2 60M 80Y; f/5.6; 6")
    assert (order.width, order.height) == (200, 250)
    assert order.setting.time == 8.5
    assert (order.setting.f_number, order.setting.magnification) == (5.6, 6)
    assert [(burn.name, burn.time) for burn in order.setting.burns] == [("sky", 4.5), ("face", -3), ("edge", 2)]
    assert order.setting.burns[2].pack.yellow == 80
    assert piece("; strip; 60M 70Y; 4 1 1,3; 6x25 cm").steps == (4, 1, 1.3)
    assert piece("; control; ; ; 3,5x30 cm").setting is None


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("harbour 14; sheet", "has 2 parts; write at least five"),
        ("a; sheet; 60M; ; 20x25 cm", "has no seconds"),
        ("a; sheet; 60M; 4 5; 20x25 cm", "only a strip has several"),
    ],
)
def test_a_piece_that_cannot_be_read_shows_how_to_write_it(text, said):
    with pytest.raises(ValueOutOfRange, match=said):
        piece(text)


def test_a_burn_needs_name_sign_and_seconds():
    with pytest.raises(ValueOutOfRange, match='"sky 4" is no burn or dodge'):
        burns_of("sky 4")


@pytest.mark.parametrize("text", ["sky +4; face -3", "sky +4/face -3", "sky +4,3rd window -2", "sky +4/face \u22123"])
def test_two_burns_are_never_taken_for_one(text):
    with pytest.raises(ValueOutOfRange, match="reads as more than one burn or dodge"):
        burns_of(text)
