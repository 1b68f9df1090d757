"""Log a print or strip: how it was made, and what was read or said of it."""

import click

from printlore.core.quantities import parse_size
from printlore.core.said import parse_said
from printlore.faces import typed
from printlore.faces.cli.desk import Desk, with_desk
from printlore.faces.cli.making import advised, advised_options, made_options, typed_reading
from printlore.faces.telling import outcome_words
from printlore.services.trials import PatchEntry, TrialEntry, log_trial


@click.command()
@click.argument("frame", required=False)
@made_options
@advised_options
@click.option("--density", help='As read, "red green blue", for example "0,71 0,74 0,69".')
@click.option("--error", default="0.006", show_default=True, help="Of each density.")
@click.option("--wet", is_flag=True, help="Read wet: corrected by the paper's measured dry-down, refused without one.")
@click.option("--said", help='By eye, for example "10 magenta, 1/3 stop dark" or "a trace cyan, wet".')
@click.option("--person", default="printer", show_default=True, help="Whose eye.")
@click.option("--light", default="", help="What it was judged under.")
@click.option("--filter-on-print", is_flag=True, help="The viewing filter lay on the print: it counts double.")
@click.option("--kept", is_flag=True, help="Accepted as right.")
@click.option("--strip", is_flag=True, help="It was a strip, not a whole sheet.")
@click.option("--size", help='Of the picture, for example "20x25 cm".')
@click.option("--run", help="Drum load it went through.")
@click.option("--note", default="")
@click.option("--name", help="To be written on the back; made up if not given.")
@click.option("--key", help="Your own mark for this entry: given again, nothing is logged twice.")
@with_desk
def command(
    desk: Desk,
    frame: str | None,
    pack: str,
    time: str,
    f_number: str,
    magnification: str,
    head: str | None,
    lot: str | None,
    bath: str | None,
    advised_pack: str | None,
    advised_time: str | None,
    density: str | None,
    error: str,
    wet: bool,
    said: str | None,
    person: str,
    light: str,
    filter_on_print: bool,
    kept: bool,
    strip: bool,
    size: str | None,
    run: str | None,
    note: str,
    name: str | None,
    key: str | None,
) -> None:
    """Log one exposure of FRAME. Film, lot and bath are taken from the trial before if not named."""
    reading = None if density is None else typed_reading(density, error, wet=wet)
    heard = None if said is None else parse_said(said, person=person)
    setting = typed.made(pack, time, f_number, magnification)
    patch = PatchEntry(
        setting=setting,
        advised=advised(setting, advised_pack, advised_time),
        reading=reading,
        judgement=None if heard is None else heard.judgement,
        kept=kept,
        light=light,
        filter_on_print=filter_on_print,
        judged_with_filter=filter_on_print,
        as_entered=said or "",
    )
    trial = log_trial(
        desk.db,
        TrialEntry(
            patches=(patch,),
            kind="strip" if strip else "sheet",
            frame=frame,
            head=head,
            lot=lot,
            bath=bath,
            run=run,
            print_size=None if size is None else parse_size(size),
            note=note,
            name=name,
            key=key,
        ),
    )
    doubts = () if heard is None else heard.doubts
    said = "It is" if trial.again else "Logged"
    desk.say(trial, f"{said} {trial.name} of {trial.row.frame}: {outcome_words(trial)}.", *trial.remarks, *doubts)
