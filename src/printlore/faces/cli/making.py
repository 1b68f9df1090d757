"""Options that say how a print was made, shared by the commands that log one."""

from collections.abc import Callable
from typing import Any

import click

from printlore.core.light.setting import Setting
from printlore.core.quantities import parse_f_number, parse_pack, parse_time
from printlore.faces import typed

_OPTIONS = (
    click.option("--pack", required=True, help='As dialled, for example "60M 45Y".'),
    click.option("--time", required=True, help="Exposure, for example 9,5 or 1:20."),
    click.option("--f-number", default="8", show_default=True),
    click.option("--magnification", default="8", show_default=True, help="Print length over negative length."),
    click.option("--head"),
    click.option("--lot"),
    click.option("--bath"),
)


def made_options(function: Callable[..., Any]) -> Callable[..., Any]:
    """Give a command the options of one exposure."""
    for option in reversed(_OPTIONS):
        function = option(function)
    return function


def made(pack: str, time: str, f_number: str, magnification: str) -> Setting:
    """The setting that these options say."""
    return Setting(
        pack=parse_pack(pack),
        time=typed.number(time, "time", parse=parse_time),
        f_number=typed.number(f_number, "f-number", parse=parse_f_number),
        magnification=typed.number(magnification, "magnification"),
    )
