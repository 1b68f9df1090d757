"""Add a head, lens, film, frame, paper, lot, process or bath."""

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import click

from printlore.core.quantities import parse_f_number, parse_pack, parse_time
from printlore.faces import typed
from printlore.faces.cli.desk import Desk, Steps, with_desk
from printlore.records.light import Head
from printlore.records.rows import Record
from printlore.services import entry


@click.group(cls=Steps)
def command() -> None:
    """Add what the studio has. Only a name is needed; the rest has usual values, shown with --json."""


def _say(desk: Desk, record: Record, name: str) -> None:
    desk.say(record, f"{record.word.capitalize()} {name} is added.")


name_ = click.argument("name")
note_ = click.option("--note", default="")


@command.command()
@name_
@click.option("--stock", default="", help="Kind of film.")
@note_
@with_desk
def film(desk: Desk, name: str, stock: str, note: str) -> None:
    """Add a film: what its frames share."""
    _say(desk, entry.add_film(desk.db, name, stock=stock, note=note), name)


@command.command()
@name_
@click.option("--film", required=True)
@click.option("--number", default="", help="As on the film's edge.")
@click.option("--tone", help='L* a* b* of its reference patch on a good print, if not a middle grey: "65 18 17".')
@note_
@with_desk
def frame(desk: Desk, name: str, film: str, number: str, tone: str | None, note: str) -> None:
    """Add a frame, that is one negative."""
    aim = {} if tone is None else {"aim": typed.lab(tone, "The tone")}
    _say(desk, entry.add_frame(desk.db, name, film=film, number=number, note=note, **aim), name)


@command.command()
@name_
@click.option(
    "--kind",
    type=click.Choice(["subtractive", "additive_times", "additive_levels"]),
    default="subtractive",
    show_default=True,
)
@click.option("--usual", help='A pack to begin with, for example "60M 50Y"; of three lights "12R 7G 6B".')
@click.option("--usual-time", help="A time to begin with [s].")
@click.option("--dial-step", help="What can be read on a dial.")
@click.option("--timer-step", help="What the timer can be set to [s].")
@click.option("--f-numbers", help='Marked on the lens, for example "4 5,6 8 11".')
@note_
@with_desk
def head(desk: Desk, name: str, kind: str, note: str, **given: str | None) -> None:
    """Add an enlarger head with its lamp and timer."""
    fields: dict[str, Any] = {}
    pack, time = given["usual"], given["usual_time"]
    if pack is not None or time is not None:
        start = Head(name=name).usual
        fields["usual"] = replace(
            start,
            pack=start.pack if pack is None else parse_pack(pack),
            time=start.time if time is None else typed.number(time, "usual time", parse=parse_time),
        )
    for field in ("dial_step", "timer_step"):
        text = given[field]
        if text is not None:
            fields[field] = typed.number(text, field.replace("_", " "))
    if given["f_numbers"] is not None:
        fields["f_numbers"] = typed.numbers(given["f_numbers"], "f-numbers", parse=parse_f_number)
    _say(desk, entry.add_head(desk.db, name, kind=kind, note=note, **fields), name)


@command.command()
@name_
@click.option("--focal-length", help="[mm]")
@click.option("--pupil-factor", default="1", show_default=True, help="Exit over entrance pupil.")
@note_
@with_desk
def lens(desk: Desk, name: str, focal_length: str | None, pupil_factor: str, note: str) -> None:
    """Add an enlarging lens."""
    length = None if focal_length is None else typed.number(focal_length, "focal length")
    factor = typed.number(pupil_factor, "pupil factor")
    _say(desk, entry.add_lens(desk.db, name, focal_length=length, pupil_factor=factor, note=note), name)


@command.command()
@name_
@click.option("--surface", default="")
@click.option("--aim-density", help='Of the reference patch on a good print: "0,71 0,70 0,72".')
@note_
@with_desk
def paper(desk: Desk, name: str, surface: str, aim_density: str | None, note: str) -> None:
    """Add a paper: one family of emulsions."""
    aim = {} if aim_density is None else {"aim_density": typed.three(aim_density, "The aim")}
    _say(desk, entry.add_paper(desk.db, name, surface=surface, note=note, **aim), name)


@command.command()
@name_
@click.option("--paper", required=True)
@click.option("--emulsion-number", default="", help="As on the label.")
@click.option("--received", is_flag=True, help="It has come now.")
@note_
@with_desk
def lot(desk: Desk, name: str, paper: str, emulsion_number: str, received: bool, note: str) -> None:
    """Add an emulsion lot of a paper."""
    came = datetime.now(UTC) if received else None
    lot = entry.add_lot(desk.db, name, paper=paper, emulsion_number=emulsion_number, received_at=came, note=note)
    _say(desk, lot, name)


@command.command()
@name_
@note_
@with_desk
def process(desk: Desk, name: str, note: str) -> None:
    """Add a process."""
    _say(desk, entry.add_process(desk.db, name, note=note), name)


@command.command()
@name_
@click.option("--process", required=True)
@click.option("--volume", help="[mL]")
@note_
@with_desk
def bath(desk: Desk, name: str, process: str, volume: str | None, note: str) -> None:
    """Add a bath, mixed now and fresh."""
    holds = None if volume is None else typed.number(volume, "Volume")
    _say(desk, entry.add_bath(desk.db, name, process=process, volume=holds, note=note), name)
