"""The command line: one group, its commands found by file name and loaded only when called.

``commands/add.py`` is ``printlore add``: its first docstring line is the short help, and it holds
``command``, a click command. This is also the one place that turns an error into words and an exit status.
"""

import ast
import difflib
import gc
import json
import os
import sys
from collections.abc import Sequence
from contextlib import suppress
from importlib import import_module
from pathlib import Path

import click

from printlore.errors import PrintloreError, ValueOutOfRange
from printlore.faces.problems import problem_of, refused_by_system

_FOLDER = Path(__file__).parent / "commands"
_MODULE = "printlore.faces.cli.commands"


def _modules() -> dict[str, Path]:
    """Commands and their files; ``import_.py`` is ``import``, a word that Python keeps for itself."""
    return {path.stem.rstrip("_").replace("_", "-"): path for path in _FOLDER.glob("[a-z]*.py")}


class Commands(click.Group):
    """Commands by file name. Listing them reads their first line but imports none of them."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return sorted(_modules())

    def get_command(self, ctx: click.Context, name: str) -> click.Command | None:
        path = _modules().get(name)
        if path is None:
            return None
        # what is imported stays: looking through it for what could be thrown away took a fifth of the start
        gc.disable()
        try:
            command = import_module(f"{_MODULE}.{path.stem}").command
        finally:
            gc.enable()
        assert isinstance(command, click.Command)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        name = args[0]
        if not name.startswith("-") and not ctx.resilient_parsing and self.get_command(ctx, name) is None:
            near = " or ".join(difflib.get_close_matches(name, _modules(), cutoff=0.5))
            raise click.UsageError(f'There is no command "{name}". {f"Near it: {near}." if near else ""}'.rstrip(), ctx)
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        rows = []
        for name, path in sorted(_modules().items()):
            source = path.read_text(encoding="utf-8")
            rows.append((name, (ast.get_docstring(ast.parse(source)) or "").partition("\n")[0]))
        with formatter.section("Commands"):
            formatter.write_dl(rows)


@click.group(
    cls=Commands,
    context_settings={"help_option_names": ["-h", "--help"]},
    epilog="Colour paper is handled in total darkness. Read your own safety data sheets before you pour.",
)
@click.version_option(package_name="printlore", message="%(prog)s %(version)s")
def group() -> None:
    """From a colour negative to a neutral, repeatable optical print, in few strips and sheets."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; returns its exit status (0 done; see ``faces/problems.py`` for the others)."""
    # Our matrices are small: threads inside each product cost more than they bring (twice the time, measured).
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    arguments = list(sys.argv[1:] if arguments is None else arguments)
    try:
        group.main(args=arguments, prog_name="printlore", standalone_mode=False)
    except click.exceptions.Exit as leaving:
        return leaving.exit_code
    except click.Abort:
        click.echo("Stopped.", err=True)
        return 130
    except click.ClickException as error:
        error = _after_the_command(error)
        if "--json" not in arguments:
            error.show()
            return error.exit_code
        return _say(ValueOutOfRange(f"{error.format_message().rstrip('.')}. See --help."), as_json=True)
    except PrintloreError as error:
        return _say(error, as_json="--json" in arguments)
    except SystemExit:
        # whoever read the answer has gone, as `head` does: click leaves, and nothing is wrong
        return 0
    except OSError as problem:
        return _refused_by_system(problem, as_json="--json" in arguments)
    return 0


def _after_the_command(error: click.ClickException) -> click.ClickException:
    """What every command takes and the program itself does not: said in words, not as an option that is unknown."""
    if isinstance(error, click.NoSuchOption) and error.ctx is not None and error.ctx.parent is None:
        option = error.option_name
        if option in ("--json", "--studio"):
            return click.UsageError(f"{option} comes after the command: printlore COMMAND {option}.", error.ctx)
    return error


def _say(error: PrintloreError, *, as_json: bool) -> int:
    """An error in words, or as JSON, on the error stream; returns the exit status."""
    problem = problem_of(error)
    if as_json:
        click.echo(json.dumps({"name": problem.name, "title": problem.title, "detail": problem.detail}), err=True)
    else:
        click.echo(f"{problem.title}. {problem.detail}", err=True)
    return problem.exit_status


def _refused_by_system(problem: OSError, *, as_json: bool) -> int:
    """A file, or the answer itself where the output is a full disk."""
    if problem.filename is None:
        # what could not be written is still held, and would fail again at the end
        with suppress(OSError, ValueError), open(os.devnull, "wb") as nowhere:
            os.dup2(nowhere.fileno(), sys.stdout.fileno())
    return _say(refused_by_system(problem), as_json=as_json)


if __name__ == "__main__":
    sys.exit(main())
