"""List what the studio has: films, frames, heads, papers, lots, baths, trials."""

from collections.abc import Sequence

import click

from printlore.errors import Refused
from printlore.faces.cli.desk import Desk, table, with_desk
from printlore.faces.telling import made_words, outcome_words, when
from printlore.records.rows import Record
from printlore.services.entry import LISTED, find_frames, list_records
from printlore.services.trials import list_trials


@click.command()
@click.argument("kind", type=click.Choice([*LISTED, "trials"]))
@click.option("--film", help="Frames of this film only.")
@click.option("--find", help="Frames in whose name, number, film or note these words occur; newest first.")
@with_desk
def command(desk: Desk, kind: str, film: str | None, find: str | None) -> None:
    """List records of a kind, in the order they were added."""
    if kind != "frames" and (film, find) != (None, None):
        raise Refused("--film and --find are for frames: printlore list frames --find WORDS.")
    if kind == "trials":
        trials = list_trials(desk.db)
        rows = [
            (trial.name, trial.row.frame, made_words(trial), outcome_words(trial), when(trial.row.at))
            for trial in trials
        ]
        desk.say(trials, *table(("trial", "frame", "made at", "came out", "when"), rows))
        return
    records: Sequence[Record]
    more = ""
    if find is not None:
        found = find_frames(desk.db, find, film=film)
        records = found.frames
        if found.count > len(records):
            more = f"{found.count} frames match; these are the newest {len(records)}. Add a word to find fewer."
    else:
        records = list_records(desk.db, LISTED[kind], **({} if film is None else {"film": film}))
    desk.say(records, *(str(getattr(record, record.naming)) for record in records))
    if more:
        click.echo(more, err=True)
