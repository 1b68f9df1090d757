"""Say what an eye sees in a trial that was logged before."""

import click

from printlore.core.said import parse_said
from printlore.faces.cli.desk import Desk, with_desk
from printlore.faces.cli.making import step_option
from printlore.faces.judging import words_of
from printlore.services.trials import add_judgement, mark_kept


@click.command()
@click.argument("trial")
@click.argument("said")
@step_option()
@click.option("--person", default="printer", show_default=True, help="Whose eye.")
@click.option("--light", default="", help="What it was judged under.")
@click.option("--filter-on-print", is_flag=True, help="The viewing filter lay on the print: it counts double.")
@click.option("--kept", is_flag=True, help="And it is right: keep it.")
@with_desk
def command(
    desk: Desk, trial: str, said: str, step: int, person: str, light: str, filter_on_print: bool, kept: bool
) -> None:
    """Judge TRIAL by eye: "10 magenta, 1/3 stop dark"; "a trace cyan, a little light, wet"; "neutral".

    A figure is the viewing filter that would mend it, in CC, held at the eye.
    """
    heard = parse_said(said, person=person)
    record = add_judgement(
        desk.db,
        trial,
        heard.judgement,
        position=step - 1,
        light=light,
        filter_on_print=filter_on_print,
        judged_with_filter=filter_on_print,
        as_entered=said,
    )
    if kept:
        record = mark_kept(desk.db, trial, position=step - 1)
    judgement = record.patches[step - 1].judgements[-1].judgement
    desk.say(record, f"{record.name}: {words_of(judgement)}{', kept' if kept else ''}.", *heard.doubts)
