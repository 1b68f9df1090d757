"""Everything that was printed of a frame."""

import click

from printlore.faces.cli.desk import Desk, table, with_desk
from printlore.faces.telling import made_words, outcome_words, when
from printlore.records.negatives import Frame
from printlore.services.entry import find_record
from printlore.services.trials import frame_history_ever


@click.command()
@click.argument("frame")
@with_desk
def command(desk: Desk, frame: str) -> None:
    """The trials of FRAME, oldest first; one that was taken back has a mark."""
    find_record(desk.db, Frame, frame)
    trials = frame_history_ever(desk.db, frame)
    rows = [
        (trial.name, trial.row.kind, made_words(trial), outcome_words(trial), when(trial.row.at)) for trial in trials
    ]
    head = ("trial", "kind", "made at", "came out", "when")
    desk.say(trials, *table(head, rows, none="Nothing is printed of it yet."))
