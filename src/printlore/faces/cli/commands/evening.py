"""An evening at the bench: plan loads, run drums, run card and cue sheet."""

import json
import secrets
import time
from pathlib import Path
from typing import TextIO

import click

from printlore.core.calendar import moment
from printlore.core.evening.care import CAUTIONS, WASTE
from printlore.core.evening.events import (
    BeatDone,
    CareConfirmed,
    Closed,
    DrumDried,
    FrameDropped,
    FrameListed,
    Held,
    LoadPlanned,
    Moved,
    MovedOn,
    Poured,
    Rehearsed,
    Resumed,
    ToldApart,
    Undone,
    WentWrong,
    What,
)
from printlore.core.evening.light import RULES, Light
from printlore.core.evening.process import Sequence, doubts
from printlore.core.evening.rehearsal import QUESTIONS, Rehearsal
from printlore.core.evening.state import ENTER_DARK, LEAVE_DARK, Evening, what_next
from printlore.core.plain import from_plain, to_plain
from printlore.core.quantities import parse_time
from printlore.errors import Refused, UnreadableFile
from printlore.faces import typed, words
from printlore.faces.cli.desk import Desk, OutFile, Steps, table, with_desk
from printlore.faces.evening_typed import AUDIO, SHAPE, piece
from printlore.files import write_file
from printlore.records.evening import EveningRecord
from printlore.services.evening import (
    Written,
    begin_run,
    best_start,
    compare_pour,
    deviations,
    evening_now,
    evenings,
    find_evening,
    open_evening,
    write,
)
from printlore.services.evening_plan import find_sequence, in_turn_words, plan_load, save_sequence, sequences
from printlore.services.run_card import cue_lines, cue_sheet, cue_sheet_cues, run_card

DEVICE = "command line"


def _this(desk: Desk) -> EveningRecord:
    return find_evening(desk.db, None, now=time.time())


def _key(key: str | None) -> str:
    return key or secrets.token_hex(8)


def _tell(desk: Desk, what: What, said: str) -> None:
    done = write(desk.db, _this(desk), what, key=_key(None), device=DEVICE, now=time.time())
    _say(desk, done, said)


def _say(desk: Desk, done: Written, said: str) -> None:
    answer = {"key": done.event.key, "number": done.event.number, "again": done.again, "said": done.said}
    desk.say(answer, *filter(None, (said, done.said, what_next(done.evening))))


@click.group(cls=Steps)
def command() -> None:
    """One evening: its frames, loads and drums. The page and this command write the same record."""


@command.command("open")
@click.argument("name", required=False, default="")
@with_desk
def open_(desk: Desk, name: str) -> None:
    """Begin an evening; it is called by its date unless NAME is given."""
    record = open_evening(desk.db, now=time.time(), name=name)
    desk.say(record, f'The evening "{record.name}" is open.')


@command.command("list")
@with_desk
def list_(desk: Desk) -> None:
    """All evenings, newest first."""
    found = evenings(desk.db)
    desk.say(found, *(f"{record.name}  opened {moment(record.opened_at)}" for record in found))


@command.command()
@click.argument("name", required=False)
@with_desk
def show(desk: Desk, name: str | None) -> None:
    """Where everything is."""
    now = time.time()
    evening = evening_now(desk.db, find_evening(desk.db, name, now=now), now=now)
    desk.say(_plain(evening), what_next(evening), *_lines(evening))


def _lines(evening: Evening) -> list[str]:
    lines = [f"Light: {evening.light.words}. Tonight: {', '.join(evening.frames) or 'no frames yet'}."]
    rows = []
    for name, state in evening.loads.items():
        run = state.run(evening.now)
        where = "planned" if run is None else run.words
        pieces = "; ".join(f"{piece.name} ({piece.code.words})" for piece in state.load.pieces)
        rows.append((name, str(state.load.drum), where, pieces, ", ".join(deviations(state, evening.now))))
    if rows:
        lines += table(("load", "drum", "where", "pieces", "not as planned"), rows)
    lines += [f"Drum {drum} is wet from load {load}." for drum, load in evening.wet_drums.items()]
    return lines + [f"Note: {note.note}" for note in evening.notes]


def _plain(evening: Evening) -> dict[str, object]:
    return {
        "now": evening.now,
        "light": evening.light.value,
        "next": what_next(evening),
        "frames": list(evening.frames),
        "loads": [
            {"load": to_plain(state.load), "version": state.version, "where": run.words if run else "planned"}
            for state in evening.loads.values()
            for run in [state.run(evening.now)]
        ],
        "wet_drums": evening.wet_drums,
        "notes": [to_plain(note) for note in evening.notes],
    }


@command.command()
@click.argument("name")
@click.option("--drop", is_flag=True, help="Take it off the list.")
@with_desk
def frame(desk: Desk, name: str, drop: bool) -> None:
    """Put a frame on tonight's list."""
    _tell(
        desk,
        FrameDropped(frame=name) if drop else FrameListed(frame=name),
        f'"{name}" is {"off" if drop else "on"} the list.',
    )


@command.command()
@click.option("--drum", type=int, required=True, help="Number on the drum.")
@click.option("--piece", "pieces", multiple=True, required=True, help=f'In order of exposing: "{SHAPE}".')
@click.option("--sequence", help="One of your own; the first if not given.")
@click.option("--bath", help="Developer; the one mixed last if not given.")
@click.option("--head", help="Under which it is exposed; the one printed on last if not given.")
@click.option("--load", "name", default="", help="Its name; numbered if not given.")
@click.option("--seen", type=int, help="Version of the load that is planned anew.")
@click.option("--key", help="Your own mark for this entry: given again, nothing happens twice.")
@with_desk
def plan(
    desk: Desk,
    drum: int,
    pieces: tuple[str, ...],
    sequence: str | None,
    bath: str | None,
    head: str | None,
    name: str,
    seen: int | None,
    key: str | None,
) -> None:
    """Plan a load: what goes into one drum, how each piece is exposed, which corners are clipped."""
    done = plan_load(
        desk.db,
        _this(desk),
        tuple(piece(text) for text in pieces),
        drum=drum,
        sequence=sequence,
        bath=bath,
        head=head,
        name=name,
        seen=seen,
        key=_key(key),
        device=DEVICE,
        now=time.time(),
    )
    assert isinstance(done.event.what, LoadPlanned)
    load = done.event.what.load
    lines = [f"Load {load.name}, drum {load.drum}, version {done.event.number}."]
    lines += [f"  {piece.name}: {piece.code.words}" for piece in load.pieces]
    lines += filter(None, (in_turn_words(load),))
    desk.say({"load": to_plain(load), "version": done.event.number}, *lines)


@command.command()
@with_desk
def care(desk: Desk) -> None:
    """Say yes to every caution before the first pour."""
    for caution in CAUTIONS:
        if not desk.json:
            click.echo(f"{caution.ask} {caution.why}", err=True)
    _tell(desk, CareConfirmed(items=tuple(caution.name for caution in CAUTIONS)), f"Seen to. {WASTE}")


@command.command()
@click.option("--waited", required=True, help="How long you sat in the dark, for example 10:00.")
@click.option("--light-seen", default="", help="Any light you saw.")
@click.option("--yes", "confirmed", multiple=True, type=click.Choice([question.name for question in QUESTIONS]))
@with_desk
def rehearsed(desk: Desk, waited: str, light_seen: str, confirmed: tuple[str, ...]) -> None:
    """Record a dark rehearsal of this machine, question by question (--yes display --yes sleep ...)."""
    seconds = typed.number(waited, "The wait", parse=parse_time)
    rehearsal = Rehearsal(device=DEVICE, seconds=seconds, confirmed=frozenset(confirmed), light_seen=light_seen)
    _tell(desk, Rehearsed(rehearsal=rehearsal), "Rehearsal recorded.")


@command.command()
@click.argument("light", type=click.Choice([light.value for light in Light]))
@click.option("--load", help="Which load is exposed, when paper comes out.")
@click.option("--yes", "confirmed", multiple=True, help=f"Out: {' '.join(ENTER_DARK)}. Back: {' '.join(LEAVE_DARK)}.")
@with_desk
def move(desk: Desk, light: str, load: str | None, confirmed: tuple[str, ...]) -> None:
    """Go from one kind of light to another."""
    to = Light(light)
    _tell(
        desk,
        Moved(to=to, load=load, confirmed=confirmed),
        f"{to.words.capitalize()}: {RULES[to].room}; display {RULES[to].display}.",
    )


@command.command()
@click.argument("load")
@click.argument("beat", type=int)
@with_desk
def beat(desk: Desk, load: str, beat: int) -> None:
    """Say how far the script in the dark has come."""
    _tell(desk, BeatDone(load=load, beat=beat), f"{beat} beats done.")


@command.command()
@click.argument("load")
@click.option("--in", "wait", help="First pour so long from now, for example 0:30; when hands are free if not given.")
@click.option("--key")
@with_desk
def begin(desk: Desk, load: str, wait: str | None, key: str | None) -> None:
    """Lid on: begin the sequence of LOAD."""
    now = time.time()
    start = None if wait is None else now + typed.number(wait, "The wait", parse=parse_time)
    done = begin_run(desk.db, _this(desk), load, key=_key(key), device=DEVICE, now=now, begin=start)
    _say(desk, done, f"Load {load} begins.")


@command.command("next-start")
@click.argument("load")
@with_desk
def next_start_(desk: Desk, load: str) -> None:
    """When LOAD could be poured without two pours at once."""
    now = time.time()
    start = best_start(evening_now(desk.db, _this(desk), now=now), load)
    desk.say({"seconds": start - now}, f"In {start - now:.0f} s.")


@command.command()
@click.argument("load")
@with_desk
def hold(desk: Desk, load: str) -> None:
    """Stay in the step under way; the bath goes on working."""
    _tell(desk, Held(load=load), "Held.")


@command.command()
@click.argument("load")
@with_desk
def resume(desk: Desk, load: str) -> None:
    """Go on with a held step."""
    _tell(desk, Resumed(load=load), "Going on.")


@command.command("move-on")
@click.argument("load")
@with_desk
def move_on(desk: Desk, load: str) -> None:
    """The next step was poured now."""
    _tell(desk, MovedOn(load=load), "Moved on.")


@command.command()
@click.argument("load")
@click.argument("step", type=int)
@click.option("--temperature", help="As read [degrees C].")
@click.option("--volume", help="[mL]")
@click.option("--ask", is_flag=True, help="Only compare with your usual temperature.")
@with_desk
def pour(desk: Desk, load: str, step: int, temperature: str | None, volume: str | None, ask: bool) -> None:
    """Say what was poured in STEP (from 1), and hear if it is unlike your usual."""
    degrees = None if temperature is None else typed.number(temperature, "Temperature")
    if ask:
        if degrees is None:
            raise Refused("Give --temperature to compare.")
        answer = compare_pour(desk.db, _this(desk), load, step - 1, degrees, now=time.time())
        desk.say(answer, answer.words)
        return
    millilitres = None if volume is None else typed.number(volume, "Volume")
    _tell(desk, Poured(load=load, step=step - 1, temperature=degrees, volume=millilitres), "Noted.")


@command.command()
@click.argument("note")
@click.option("--load")
@with_desk
def wrong(desk: Desk, note: str, load: str | None) -> None:
    """Note that something went wrong."""
    _tell(desk, WentWrong(note=note, load=load), "Noted.")


@command.command("told-apart")
@click.argument("load")
@click.argument("piece", type=int)
@with_desk
def told_apart(desk: Desk, load: str, piece: int) -> None:
    """After the wash: piece number PIECE (from 1) was found by its corners."""
    _tell(desk, ToldApart(load=load, piece=piece - 1), "Told apart.")


@command.command()
@click.argument("drum", type=int)
@with_desk
def dried(desk: Desk, drum: int) -> None:
    """Drum, lid and hands are rinsed and dry."""
    _tell(desk, DrumDried(drum=drum), f"Drum {drum} is dry.")


@command.command()
@click.argument("key", required=False)
@with_desk
def undo(desk: Desk, key: str | None) -> None:
    """Take back the last step, or the one with KEY."""
    if key is None:
        last = evening_now(desk.db, _this(desk), now=time.time()).last
        if last is None:
            raise Refused("There is nothing to take back.")
        key = last.key
    _tell(desk, Undone(key=key), "Taken back.")


@command.command()
@with_desk
def close(desk: Desk) -> None:
    """End the evening."""
    _tell(desk, Closed(), f"The evening is closed. {WASTE}")


@command.command()
@click.argument("file", type=OutFile())
@with_desk
def card(desk: Desk, file: Path) -> None:
    """Write the run card (PDF) to FILE."""
    write_file(file, run_card(desk.db, _this(desk), now=time.time()))
    desk.say({"file": str(file)}, f"The run card is in {file}.")


@command.command()
@click.argument("load")
@click.option("--piece", type=int, help="Its number from 1; the drum's sequence if not given.")
@click.option("--out", type=OutFile(), help="Write a WAV file.")
@with_desk
def cues(desk: Desk, load: str, piece: int | None, out: Path | None) -> None:
    """The cues of LOAD as lines, or as a sound file for any player."""
    now, number = time.time(), None if piece is None else piece - 1
    if out is not None:
        write_file(out, cue_sheet(desk.db, _this(desk), load, number, audio=AUDIO, now=now))
        desk.say({"file": str(out)}, f"The cue sheet is in {out}.")
        return
    found, _ = cue_sheet_cues(evening_now(desk.db, _this(desk), now=now).load(load).load, number)
    desk.say([to_plain(cue) for cue in found], *cue_lines(found))


@command.command("sequences")
@click.argument("name", required=False)
@with_desk
def sequences_(desk: Desk, name: str | None) -> None:
    """Your own processing sequences, or one as JSON to edit and keep."""
    if name:
        record = find_sequence(desk.db, name)
        click.echo(json.dumps(to_plain(record.sequence), indent=2))
        return
    found = sequences(desk.db)
    steps = [[f"{s.kind.words} {words.shortest(s.time)} s" for s in record.sequence.steps] for record in found]
    lines = [f"{record.name}: {', '.join(each)}" for record, each in zip(found, steps, strict=True)]
    desk.say([to_plain(record.sequence) for record in found], *lines)


@command.command("keep-sequence")
@click.argument("file", type=click.File("r"))
@click.option("--changes", help="Name of the sequence that this changes.")
@click.option("--version", type=int, default=0, help="The version that was read.")
@with_desk
def keep_sequence(desk: Desk, file: TextIO, changes: str | None, version: int) -> None:
    """Keep a sequence from a JSON FILE, as `sequences NAME` shows it."""
    try:
        plain = json.load(file)
    except ValueError as error:
        raise UnreadableFile(
            f"{file.name} is not JSON: {error}. Start from what `printlore evening sequences` shows."
        ) from error
    sequence = from_plain(Sequence, plain, where=file.name)
    number = find_sequence(desk.db, changes).id if changes else 0
    record = save_sequence(desk.db, sequence, number=number, version=version)
    desk.say(to_plain(record.sequence), f'"{record.name}" is kept, version {record.version}.', *doubts(sequence))
