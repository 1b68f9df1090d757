"""Every command that the docs show is there, with the options that they give it."""

import re
import shlex
from pathlib import Path

import click
import pytest

from printlore.faces.cli.main import group

ROOT = Path(__file__).parents[2]
PAGES = (ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md")))


def commands_in(text):
    """Lines of code and code in sentences that begin with the program's name."""
    for line in re.findall(r"^ {4}(printlore .+)$", text, re.MULTILINE):
        yield from (part.strip() for part in re.split(r"\s(?:#|&&|\|)\s", line.split("  #")[0]) if "printlore" in part)
    yield from re.findall(r"`(printlore [^`\n<]+)`", text)


def troubles(words):
    """What is wrong with a command as words; "" if nothing is."""
    command, rest = group, words[1:]
    while rest and isinstance(command, click.Group) and not rest[0].startswith("-"):
        found = command.get_command(click.Context(command), rest[0])
        if found is None:
            return f'no command "{rest[0]}"'
        command, rest = found, rest[1:]
    there = {name for one in (*command.params, *group.params) for name in (*one.opts, *one.secondary_opts)}
    there |= {"--json", "--studio", "--help", "-h"}
    unknown = [word for word in (word.split("=")[0] for word in rest) if word.startswith("--") and word not in there]
    return f"no option {unknown}" if unknown else ""


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_the_commands_of_the_docs_are_there(page):
    wrong = []
    for text in commands_in(page.read_text()):
        if why := troubles(shlex.split(text)):
            wrong.append(f"{text}: {why}")
    assert wrong == []


def test_a_wrong_command_would_be_found():
    found = list(commands_in("Say `printlore adivse --jsn` or\n\n    printlore studio repeats --alike 1   # CC\n"))
    assert [troubles(shlex.split(text)) for text in found] == ["no option ['--alike']", 'no command "adivse"']


def test_the_example_of_the_readme_runs(capsys):
    (example,) = re.findall(r"^```python\n(.*?)^```", (ROOT / "README.md").read_text(), re.MULTILINE | re.DOTALL)
    exec(compile(example, "README.md", "exec"), {})
    assert re.match(r"\d+ M \d+ Y, [\d.]+ s", capsys.readouterr().out)
