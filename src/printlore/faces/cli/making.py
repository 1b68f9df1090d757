"""What the commands that log a print share: options that say how it was made, and how its scan is read."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import click

from printlore.core.light.setting import Setting
from printlore.core.measure.scan import Box
from printlore.core.measure.strip import Exposures, StripKind
from printlore.core.quantities import parse_pack, parse_time
from printlore.errors import ValueOutOfRange
from printlore.faces import typed
from printlore.records.trials import PatchReading

_TIME = click.option("--time", required=True, help="Exposure, for example 9,5 or 1:20.")
_TIMES = click.option("--time", required=True, help='Exposure of each step in order, for example "8 10 12,5".')
_OPTIONS = (
    click.option("--pack", required=True, help='As dialled, for example "60M 45Y"; of three lights "12R 10G 9B".'),
    click.option("--f-number", default="8", show_default=True),
    click.option("--magnification", default="8", show_default=True, help="Image length over negative length."),
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


def typed_reading(density: str, error: str, *, wet: bool) -> PatchReading:
    """Densities red, green and blue as typed, and the error of each [1]."""
    return PatchReading(
        density=typed.three(density, "density"),
        standard_error=typed.number(error, "error"),
        wet=wet,
        device="typed",
        as_entered=density,
    )


def advised_options(function: Command) -> Command:
    """Give a command the options that say how the print was advised."""
    return _with(function, *_ADVISED)


class _StepNumber(click.ParamType[int]):
    """Number of a step as a printer counts the steps of a strip."""

    name = "integer"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:
        """The number; fails in words below 1."""
        number: int = click.INT.convert(value, param, ctx)
        if number < 1:
            self.fail(f"{number} is no step. The steps of a strip are counted from 1.", param, ctx)
        return number


def step_option(*names: str) -> Callable[[Command], Command]:
    """Give a command the option that names a step of a strip, from 1; its argument is ``step``."""
    return click.option(
        "--step", *names, "step", type=_StepNumber(), default=1, show_default=True, help="Of a strip, from 1."
    )


_HOW_READ = (
    click.option("--box", "boxes", type=int, nargs=4, multiple=True, help="left top right bottom [pixels]; repeat."),
    click.option("--count", type=click.IntRange(min=1), help="Number of steps, if they should not be counted."),
    click.option("--across", is_flag=True, help="The steps cross the picture."),
    click.option("--holds", type=_StepNumber(), help="Step that holds the reference, from 1 (with --across)."),
    click.option("--cumulative", is_flag=True, help="Uncovered or covered in turn."),
)


def how_read_options(function: Command) -> Command:
    """Give a command the options that say how a scan is to be read."""
    return _with(function, *_HOW_READ)


def how_read(
    *, boxes: Sequence[tuple[int, int, int, int]], count: int | None, across: bool, holds: int | None, cumulative: bool
) -> dict[str, Any]:
    """What these options say, as ``services.strips.read_strip`` takes it.

    Raises
    ------
    ValueOutOfRange
        If one of them would do nothing beside the others.
    """
    if boxes and count is not None:
        raise ValueOutOfRange("With --box the steps are those boxes, so --count says nothing. Leave one of them out.")
    if holds is not None and not across:
        raise ValueOutOfRange("--holds is for steps that cross the picture. Give --across too, or leave it out.")
    return {
        "boxes": [Box(left=left, top=top, right=right, bottom=bottom) for left, top, right, bottom in boxes] or None,
        "count": count,
        "kind": StripKind.ACROSS_PICTURE if across else StripKind.SAME_TONE,
        "exposures": Exposures.CUMULATIVE if cumulative else Exposures.SEPARATE,
        "reference_step": None if holds is None else holds - 1,
    }


def advised(made: Setting, pack: str | None, time: str | None) -> Setting | None:
    """The setting as it was advised: as made but for what these options say; none if they say nothing."""
    if pack is None and time is None:
        return None
    return replace(
        made,
        pack=made.pack if pack is None else parse_pack(pack),
        time=made.time if time is None else typed.number(time, "advised time", parse=parse_time),
    )
