"""The demo studio: built, told in the terminal, used again, and never over a real studio."""

import json

import pytest

from printlore.demo.build import STEPS, TONIGHT, build_demo_studio
from printlore.demo.invented import is_demo
from printlore.faces.cli.main import main
from printlore.records.database import Database


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
