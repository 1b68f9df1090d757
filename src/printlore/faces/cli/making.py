"""Options that say how a print was made, shared by the commands that log one."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import click

from printlore.core.light.setting import Setting
from printlore.core.quantities import parse_f_number, parse_pack, parse_time
from printlore.faces import typed

_TIME = click.option("--time", required=True, help="Exposure, for example 9,5 or 1:20.")
_TIMES = click.option("--time", required=True, help='Exposure of each step in order, for example "8 10 12,5".')
_OPTIONS = (
    click.option("--pack", required=True, help='As dialled, for example "60M 45Y".'),
    click.option("--f-number", default="8", show_default=True),
    click.option("--magnification", default="8", show_default=True, help="Print length over negative length."),
    click.option("--head"),
    click.option("--lot"),
    click.option("--bath"),
)


_ADVISED = (
    click.option("--advised-pack", help="As it was advised, if it was dialled otherwise."),
    click.option("--advised-time", help="As it was advised, if it was exposed otherwise."),
)

Command = Callable[..., Any]


def _with(function: Command, *options: Callable[[Command], Command]) -> Command:
    for option in reversed(options):
        function = option(function)
    return function


def made_options(function: Command) -> Command:
    """Give a command the options of one exposure."""
    return _with(function, _OPTIONS[0], _TIME, *_OPTIONS[1:])


def steps_options(function: Command) -> Command:
    """Give a command the options of a strip: as of one exposure, with a time for each step."""
    return _with(function, _OPTIONS[0], _TIMES, *_OPTIONS[1:])


def advised_options(function: Command) -> Command:
    """Give a command the options that say how the print was advised."""
    return _with(function, *_ADVISED)


def advised(made: Setting, pack: str | None, time: str | None) -> Setting | None:
    """The setting as it was advised: as made but for what these options say; none if they say nothing."""
    if pack is None and time is None:
        return None
    return replace(
        made,
        pack=made.pack if pack is None else parse_pack(pack),
        time=made.time if time is None else typed.number(time, "advised time", parse=parse_time),
    )


def made(pack: str, time: str, f_number: str, magnification: str) -> Setting:
    """The setting that these options say."""
    return Setting(
        pack=parse_pack(pack),
        time=typed.number(time, "time", parse=parse_time),
        f_number=typed.number(f_number, "f-number", parse=parse_f_number),
        magnification=typed.number(magnification, "magnification"),
    )
