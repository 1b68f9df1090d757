"""What every command gets: the studio it works in, and one way to answer (words, or JSON)."""

import json
import sys
from collections.abc import Callable, Iterable
from contextlib import AbstractContextManager, suppress
from contextvars import Token
from functools import partial, wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from printlore.core.figure import DECIMAL_MARK, LENGTH_UNIT
from printlore.errors import StudioUnavailable
from printlore.faces.plain import plain
from printlore.files import must_be_writable

if TYPE_CHECKING:
    from click._termui_impl import ProgressBar

    from printlore.records.database import Database

STUDIO = "studio"
"""Folder used when none is named."""


class Steps(click.Group):
    """Several steps under one name; their list says of each all that its first sentence says."""

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, step.get_short_help_str(1000)) for name, step in sorted(self.commands.items())])


class Desk:
    """Where a command works.

    Attributes
    ----------
    folder : Path
        The studio's folder.
    json : bool
        Answer in JSON.
    """

    def __init__(self, folder: Path, *, json: bool) -> None:
        self.folder = folder
        self.json = json
        self._database: Database | None = None
        self._before: tuple[Token[str], Token[str]] | None = None

    @property
    def db(self) -> "Database":
        """The studio's database, opened when it is first asked for."""
        if self._database is None:
            # The database takes longer to load than the rest of the command line.
            from printlore.records.database import Database
            from printlore.records.studio import Preferences
            from printlore.services.entry import read_settings

            self._database = Database.open(self.folder, create=False)
            if self._database.read_only and not self.json:
                click.echo(self._database.only_read, err=True)
            writing = read_settings(self._database, Preferences)
            self._before = DECIMAL_MARK.set(writing.decimal_mark), LENGTH_UNIT.set(writing.length_unit)
        return self._database

    def write_as_studio(self) -> None:
        """Numbers and sizes as the studio writes them, for a command that asks nothing else of it, or only later; with
        a point, and in cm, if there is none."""
        with suppress(StudioUnavailable):
            _ = self.db

    def close(self) -> None:
        if self._before is not None:
            DECIMAL_MARK.reset(self._before[0])
            LENGTH_UNIT.reset(self._before[1])
        if self._database is not None:
            self._database.close()

    def say(self, answer: object, *lines: str) -> None:
        """Show the answer: as JSON if that was asked for, otherwise as these lines."""
        if self.json:
            click.echo(json.dumps(plain(answer), ensure_ascii=False, indent=2))
        else:
            for line in lines:
                click.echo(line)

    def progress(self, steps: int, label: str) -> AbstractContextManager["ProgressBar[int]"]:
        """A progress bar on the error stream (``bar.update(1)``), so that JSON on the other stays clean."""
        return click.progressbar(length=steps, label=label, file=sys.stderr, width=28)


def with_desk(function: Callable[..., Any] | None = None, *, default: str = STUDIO) -> Callable[..., Any]:
    """Give a command ``--studio`` and ``--json``, and a ``Desk`` as its first argument.

    Used as ``@with_desk``, or ``@with_desk(default=...)`` for another usual folder.
    """
    if function is None:
        return partial(with_desk, default=default)

    @click.option(
        "--studio",
        "desk_folder",
        type=click.Path(path_type=Path, file_okay=False),
        default=default,
        envvar="PRINTLORE_STUDIO",
        show_default=True,
        help="The studio's folder (or PRINTLORE_STUDIO).",
    )
    @click.option("--json", "as_json", is_flag=True, help="Answer in JSON.")
    @wraps(function)
    def wrapped(desk_folder: Path, as_json: bool, **rest: Any) -> Any:
        desk = Desk(desk_folder, json=as_json)
        try:
            return function(desk, **rest)
        finally:
            desk.close()

    return wrapped


class OutFile(click.Path):
    """A file to be written (``files.write_file``), tried before anything is recorded.

    Raises
    ------
    UnreadableFile
        If its folder is not there, or it cannot be written.
    """

    def __init__(self) -> None:
        super().__init__(path_type=Path)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Path:
        path = Path(value)
        must_be_writable(path)
        return path


def table(head: Iterable[str], rows: Iterable[Iterable[str]], *, none: str = "") -> list[str]:
    """Lines of a plain table; with no rows, what is to be said then, if that is given."""
    lines = [tuple(head), *(tuple(row) for row in rows)]
    if none and len(lines) == 1:
        return [none]
    widths = [max(len(line[column]) for line in lines) for column in range(len(lines[0]))]
    return ["  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip() for line in lines]
