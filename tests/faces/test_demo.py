"""The demo studio: built, told in the terminal, used again, and never over a real studio."""

import json
from datetime import UTC, datetime

import pytest

from printlore.demo.build import STEPS, TONIGHT, build_demo_studio
from printlore.demo.editions import TITLE
from printlore.demo.invented import is_demo
from printlore.faces.cli.main import main
from printlore.records.database import Database
from printlore.services.editions import edition_view
from printlore.services.export import record_doubts


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    folder = tmp_path_factory.mktemp("demo") / "studio"
    steps = []
    done = build_demo_studio(folder, steps.append)
    return folder, steps, done


def test_progress_is_told_as_often_as_promised(demo):
    assert len(demo[1]) == STEPS


def test_tonights_strip_was_read_from_a_real_scan_within_its_error(demo):
    folder, _, done = demo
    greens = [step.density[1] for step in done.reading.steps]
    assert greens == sorted(greens)
    assert greens[0] < 0.72 < greens[-1]
    with Database.open(folder, read_only=True) as db:
        sha256 = done.trial.patches[0].readings[0].scan
        assert db.scans.get(sha256)[:2] in (b"II", b"MM")


def test_nothing_in_the_demo_is_dated_before_it_could_be(demo):
    with Database.open(demo[0], read_only=True) as db:
        assert record_doubts(db) == ()


def test_what_became_of_the_editions_prints_took_its_days(demo):
    """Printed, signed, sold, delivered: in that order, on several days, none still to come or before the print."""
    with Database.open(demo[0], read_only=True) as db:
        view = edition_view(db, TITLE)
    prints = view.prints
    assert [one.doubts for one in prints] == [()] * len(prints)
    assert prints[0].print.trial is not None
    assert len({one.print.printed_on for one in prints}) > 2
    lines = [line for one in prints for line in one.lines]
    assert len({line.at.date() for line in lines}) > 3
    assert max(line.at for line in lines) < datetime.now(UTC)
    delivered = prints[0]
    assert [line.happened.value for line in delivered.lines] == ["signed", "certificate written", "sold", "delivered"]
    assert all(line.at > one.numbered_at > view.promises[0].at for one in prints for line in one.lines)
    days = [delivered.print.printed_on, *(line.at.astimezone().date().isoformat() for line in delivered.lines)]
    assert days == sorted(days)
    assert len(set(days)) == 4, "the certificate is written when it is signed"


def test_the_terminal_says_the_main_job_in_order(demo, capsys):
    assert main(["demo", "--no-serve", "--studio", str(demo[0])]) == 0
    text = " ".join(capsys.readouterr().out.split())
    order = ["invented", "from the aim in red, green and blue", "it needs", TONIGHT, "whole sheet", "Against", "in all"]
    places = [text.index(part) for part in order]
    assert places == sorted(places)
    assert is_demo(demo[0])


def test_the_demo_answers_in_json_too(demo, capsys):
    assert main(["demo", "--no-serve", "--json", "--studio", str(demo[0])]) == 0
    assert json.loads(capsys.readouterr().out)["conditions"]["frame"] == TONIGHT


def test_a_real_studio_is_never_taken_for_a_demo(tmp_path, capsys):
    Database.open(tmp_path / "mine").close()
    assert main(["demo", "--no-serve", "--studio", str(tmp_path / "mine")]) == 5
    assert "is not a demo; nothing was changed" in capsys.readouterr().err


def test_a_demo_that_was_cut_short_says_so(tmp_path, capsys):
    class Stopped(Exception):
        pass

    def stop(what):
        if what == "three months of paper":
            raise Stopped

    with pytest.raises(Stopped):
        build_demo_studio(tmp_path / "half", stop)
    assert main(["demo", "--no-serve", "--studio", str(tmp_path / "half")]) == 5
    assert "was not finished: building it was cut short. Delete that folder" in capsys.readouterr().err
