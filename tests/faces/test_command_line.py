"""The command line as a whole: finding commands, errors, exit statuses, quick start."""

import errno
import json
import os
import re
import subprocess
import sys

import click
import pytest

from printlore import errors
from printlore.faces.cli import main as command_line
from printlore.faces.cli.desk import with_desk

EXITS = {
    errors.ValueOutOfRange: 2,
    errors.UnreadableFile: 3,
    errors.UnknownRecord: 4,
    errors.Refused: 5,
    errors.ChangedMeanwhile: 6,
    errors.StudioUnavailable: 7,
    errors.StillWorking: 8,
    errors.PrintloreError: 1,
}


@pytest.fixture
def failing(monkeypatch):
    """A command that fails with the error whose name it is given."""
    by_name = {kind.__name__: kind for kind in EXITS}

    @click.command()
    @click.argument("name")
    @with_desk
    def command(desk, name):
        raise by_name[name]("The bath is retired. Mix a new one.")

    monkeypatch.setattr(command_line.Commands, "get_command", lambda self, ctx, name: command)


@pytest.mark.parametrize(("kind", "status"), EXITS.items(), ids=lambda value: getattr(value, "__name__", value))
def test_each_error_is_words_on_the_error_stream_and_a_status(failing, capsys, kind, status):
    assert command_line.main(["fail", kind.__name__]) == status
    shown = capsys.readouterr()
    assert "The bath is retired. Mix a new one." in shown.err
    assert shown.out == ""


def test_an_error_is_json_when_json_was_asked_for(failing, capsys):
    assert command_line.main(["fail", "Refused", "--json"]) == 5
    assert json.loads(capsys.readouterr().err)["detail"] == "The bath is retired. Mix a new one."


def test_an_unknown_command_is_a_usage_error(capsys):
    assert command_line.main(["no-such-thing"]) == 2
    assert "no-such-thing" in capsys.readouterr().err


def test_help_lists_every_command_with_what_it_does(capsys):
    assert command_line.main(["--help"]) == 0
    text = capsys.readouterr().out
    assert "serve" in text
    assert "Serve the studio's page on this machine." in text


def test_asking_for_help_loads_neither_the_database_nor_the_page_nor_numbers():
    code = (
        "import sys; from printlore.faces.cli.main import main; main(['--help']); "
        "print([m for m in ('numpy', 'scipy', 'sqlalchemy', 'fastapi', 'cv2') if m in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stderr.strip() == "[]"


def test_a_studio_that_is_not_there_is_said(tmp_path, capsys):
    assert command_line.main(["serve", "--studio", str(tmp_path / "none"), "--port", "0"]) == 7
    assert "There is no studio in" in capsys.readouterr().err


def test_what_the_system_refuses_is_words_whoever_asked(monkeypatch, capsys):
    @click.command()
    @with_desk
    def command(desk):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), "/somewhere/page.pdf")

    monkeypatch.setattr(command_line.Commands, "get_command", lambda self, ctx, name: command)
    assert command_line.main(["fail"]) == 3
    assert '"/somewhere/page.pdf" cannot be read or written: No space left' in capsys.readouterr().err
    assert command_line.main(["fail", "--json"]) == 3
    assert json.loads(capsys.readouterr().err)["name"] == "unreadable_file"


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="this system has no device that is always full")
def test_an_answer_that_cannot_be_written_says_so():
    with open("/dev/full", "w") as full:
        call = [sys.executable, "-m", "printlore.faces.cli.main", "--version"]
        done = subprocess.run(call, stdout=full, stderr=subprocess.PIPE, text=True, check=False)
    assert done.returncode == 3
    assert done.stderr.strip() == (
        "That file cannot be used. The answer cannot be read or written: No space left on device. "
        "Make room on that disk, or choose another place. What was recorded before is safe."
    )


def test_a_call_that_cannot_be_is_json_too_when_json_was_asked_for(capsys):
    for call in (["list", "frames", "--nonsense"], ["log", "--pack"], ["no-such-thing"]):
        assert command_line.main([*call, "--json"] if call != ["log", "--pack"] else ["log", "--json", "--pack"]) == 2
        said = json.loads(capsys.readouterr().err)
        assert said["name"] == "value_out_of_range"
        assert said["detail"].endswith("See --help.")


def test_a_command_that_needs_no_studio_writes_numbers_as_the_studio_does(run, tmp_path):
    assert run("studio", "writing", "--decimal-mark", ",")[0] == 0
    pour = ("baths", "pour", "--volume", "100", "--at", "36", "--drum", "300", "--drum-at", "20")
    probe = ("measure", "probe", "--line", "0.71 0.70 0.72")
    for command in (pour, probe):
        told = run(*command)[1]
        assert re.search(r"\d,\d", told), told
        assert not re.search(r"\d\.\d", told), told
        assert "." in run(*command, studio=tmp_path / "none")[1]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("advsie",), 'There is no command "advsie". Near it: advise'),
        (("zzzz",), 'There is no command "zzzz"'),
        (("--json", "list", "frames"), "--json comes after the command: printlore COMMAND --json."),
        (("--studio", "x", "list", "frames"), "--studio comes after the command"),
        (("list", "frames", "--json", "extra"), "unexpected extra argument (extra). See --help."),
    ],
)
def test_a_command_that_was_mistyped_is_told_with_what_is_near(capsys, arguments, words):
    assert command_line.main(arguments) == 2
    assert words in capsys.readouterr().err


def test_a_reader_that_goes_away_is_no_error(tmp_path):
    environment = os.environ | {"PRINTLORE_STUDIO": str(tmp_path / "studio")}
    printlore = f"{sys.executable} -m printlore.faces.cli.main"
    script = f"set -o pipefail; {printlore} init && {printlore} studio show --json | head -0"
    done = subprocess.run(["bash", "-c", script], env=environment, capture_output=True, text=True)
    assert (done.returncode, done.stderr) == (0, "")
