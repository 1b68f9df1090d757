"""One negative: put it on the easel, look at it, correct it, read it, choose its picture."""

from dataclasses import replace
from pathlib import Path

import click

from printlore.core.memory.evidence import NegativeReading
from printlore.errors import Refused
from printlore.faces import typed, words
from printlore.faces.cli.desk import Desk, Steps, table, with_desk
from printlore.faces.telling import trial_lines, when
from printlore.records.negatives import Frame, NegativeReadingRecord
from printlore.services.aims import stated_aims
from printlore.services.entry import correct_record, find_record, list_records, read_negative
from printlore.services.scanned import choose_picture
from printlore.services.trials import frame_history_ever, next_negative


@click.group(cls=Steps)
def command() -> None:
    """One negative. A new one with its film is added by `printlore add frame`; all are listed by `list frames`."""


@command.command("next")
@click.argument("name", default="")
@with_desk
def next_(desk: Desk, name: str) -> None:
    """Put another negative on the easel; it needs no film and no NAME yet. Prints that name none are of it."""
    frame = next_negative(desk.db, name)
    desk.say(frame, f"{frame.name} is on the easel.")


@command.command()
@click.argument("frame")
@with_desk
def show(desk: Desk, frame: str) -> None:
    """Everything that is known of FRAME: what it belongs to, its readings, its aims, its prints."""
    record = find_record(desk.db, Frame, frame)
    readings = list_records(desk.db, NegativeReadingRecord, frame=record.name)
    aims, trials = stated_aims(desk.db, record.name), frame_history_ever(desk.db, record.name)
    lines = [f"{record.name}, {' '.join(filter(None, (record.film, record.number)))}."]
    lines += [record.note] if record.note else []
    lines += [
        f"Read {words.densities(one.reading.density)} by {one.reading.source}, {when(one.at)}." for one in readings
    ]
    lines += [f"Tone: {words.tone(aims.tone)}{' (the usual grey)' if aims.usual else ''}."]
    lines += [f"On {one.family}: density {words.densities(one.density)}." for one in aims.densities]
    lines += table(("trial", "made at", "came out", "when"), trial_lines(trials), none="Nothing is printed of it yet.")
    desk.say({"frame": record, "readings": readings, "aims": aims, "trials": trials}, *lines)


@command.command()
@click.argument("frame")
@click.option("--name", help="What it is to be called.")
@click.option("--film")
@click.option("--number", help="As on the film's edge.")
@click.option("--note")
@click.option("--seen", type=click.IntRange(min=1), help="The version that was read: refused if it was changed since.")
@with_desk
def correct(desk: Desk, frame: str, seen: int | None, **given: str | None) -> None:
    """Correct what FRAME is called and belongs to; what it was before stays in its rows."""
    record = find_record(desk.db, Frame, frame)
    changes = {field: text for field, text in given.items() if text is not None}
    if not changes:
        raise Refused("Nothing to correct was named. Give --name, --film, --number or --note.")
    record = correct_record(desk.db, replace(record, version=seen or record.version), **changes)
    desk.say(record, f"{record.name} is corrected.")


@command.command()
@click.argument("frame")
@click.argument("density")
@click.option("--source", default="probe", show_default=True, help="Which probe, camera or scanner.")
@click.option("--error", default="0.01", show_default=True, help="Of each density.")
@with_desk
def read(desk: Desk, frame: str, density: str, source: str, error: str) -> None:
    """Record a reading of FRAME's reference patch: red green blue, for example "0,41 0,77 1,02". The newest counts."""
    reading = NegativeReading(
        density=typed.three(density, "The reading"), source=source, standard_error=typed.number(error, "error")
    )
    record = read_negative(desk.db, frame, reading, as_entered=density)
    desk.say(record, f"{record.frame} reads {words.densities(reading.density)} by {source}.")


@command.command()
@click.argument("frame")
@click.option("--trial", help="The scan that this trial was read from.")
@click.option("--scan", type=click.Path(path_type=Path, exists=True, dir_okay=False), help="A file; it is kept.")
@with_desk
def picture(desk: Desk, frame: str, trial: str | None, scan: Path | None) -> None:
    """Choose the scan that stands for FRAME in lists."""
    if (trial is None) == (scan is None):
        raise Refused("Give either --trial or --scan.")
    record = choose_picture(desk.db, frame, trial=trial, file=scan)
    desk.say(record, f"{record.name} is shown with this picture.")
