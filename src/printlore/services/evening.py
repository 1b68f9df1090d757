"""An evening at the bench: open it, write what happens, know where everything is, and who may speak."""

import threading
import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime

import sqlalchemy as sa

from printlore.core.calendar import evening_of, moment
from printlore.core.evening.cues import Cue
from printlore.core.evening.events import (
    Event,
    FrameListed,
    LoadPlanned,
    Moved,
    Poured,
    RunBegun,
    RunWritten,
    WentWrong,
    What,
)
from printlore.core.evening.light import Light
from printlore.core.evening.load import Load
from printlore.core.evening.pour import PourCheck, check_pour
from printlore.core.evening.process import ANNOUNCED, StepKind
from printlore.core.evening.rotation import hands, next_start
from printlore.core.evening.run import missed
from printlore.core.evening.state import Evening, LoadState, check, evening_at, unwritten
from printlore.core.evening.voice import Voice, claim, release
from printlore.errors import ChangedMeanwhile, Refused, UnknownRecord, ValueOutOfRange
from printlore.records.baths import Bath, is_retired
from printlore.records.database import Database
from printlore.records.evening import (
    EveningRecord,
    append,
    event_by_key,
    events_of,
    give_voice,
    last_number,
    pours_before,
    voice_of,
)
from printlore.records.negatives import Frame
from printlore.records.rows import add, every, find
from printlore.services.baths import log_run

AHEAD = 2.0
"""[s] An event's time may run this far ahead of the server's clock; it is then taken as now."""

HABIT = 40
"""Newest pours that make the printer's usual temperature."""


class _Wall:
    """The wall clock of this machine, which is never set back while the program runs: what passed has passed.

    Put right, it would bring back the evening of an hour ago, with the light it had then and paper in its box.
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._shown, self._passed = time.time(), time.monotonic()
        self._set_back = 0.0

    def now(self) -> float:
        """[s since 1970-01-01 UTC]"""
        with self._lock:
            shown, passed = time.time(), time.monotonic()
            lost = (passed - self._passed) - (shown - self._shown)
            # the other way may be a machine that slept
            if lost > SET_BACK:
                self._set_back += lost
            self._shown, self._passed = shown, passed
            return shown + self._set_back


SET_BACK = 1.0
"""[s] By less than this the two clocks of a machine differ when nobody set one."""
_WALL = _Wall()


@dataclass(frozen=True, slots=True)
class Clock:
    """The evening's clock; a drill may run it faster than the wall.

    Attributes
    ----------
    pace : float
        Seconds of the evening in a second of the wall.
    origin : float
        When both showed the same [s since 1970-01-01 UTC].
    """

    pace: float = 1.0
    origin: float = 0.0

    def now(self) -> float:
        """[s since 1970-01-01 UTC]"""
        return self.origin + self.pace * (_WALL.now() - self.origin)


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """What came of sending an event.

    Attributes
    ----------
    event : Event
        As it is on disk.
    again : bool
        It was there already under its key.
    evening : Evening
        As it stands now.
    said : str
        What the printer should know, if anything.
    """

    event: Event
    again: bool
    evening: Evening
    said: str = ""


def open_evening(db: Database, *, now: float, name: str = "") -> EveningRecord:
    """Begin an evening; without a name it is called by its day, and a number if there was one that day.

    Begun between midnight and the morning it is called by the night, with both days.

    Raises
    ------
    Refused
        If one is under way: there is one bench.
    """
    opened = datetime.fromtimestamp(now, UTC)
    with db.transaction() as conn:
        under_way = this_evening(db, now=now)
        if under_way is not None:
            raise Refused(
                f'The evening "{under_way.name}" is under way since {moment(under_way.opened_at)}: nothing was opened. '
                "Go on with it, or close it first."
            )
        if not name:
            said = evening_of(opened)
            taken = {evening.name for evening in every(conn, EveningRecord)}
            name = next(n for n in (said, *(f"{said} ({k})" for k in range(2, 1000))) if n not in taken)
        return add(conn, EveningRecord(name=name, opened_at=opened))


def evenings(db: Database) -> list[EveningRecord]:
    """All evenings, newest first."""
    with db.reading() as conn:
        return every(conn, EveningRecord)[::-1]


def this_evening(db: Database, *, now: float) -> EveningRecord | None:
    """The newest evening that is not closed; ``None`` if there is none."""
    return under_way[0] if (under_way := _newest_if_open(db, now)) else None


def light_at_bench(db: Database, *, now: float) -> Light | None:
    """The light of the evening under way; ``None`` if there is none."""
    return under_way[1].light if (under_way := _newest_if_open(db, now)) else None


def _newest_if_open(db: Database, now: float) -> tuple[EveningRecord, Evening] | None:
    with db.reading() as conn:
        for record in every(conn, EveningRecord)[::-1]:
            evening = _as_it_stands(events_of(conn, record), now)
            return None if evening.closed else (record, evening)
    return None


def _not_before(events: Sequence[Event], now: float) -> float:
    """Now, or the latest of what happened: a clock may have been set back since, or have run a drill."""
    return max([now, *(event.at for event in events)])


def _as_it_stands(events: Sequence[Event], now: float) -> Evening:
    return evening_at(events, _not_before(events, now))


def find_evening(db: Database, name: str | None, *, now: float) -> EveningRecord:
    """An evening by name, or the one under way.

    Raises
    ------
    UnknownRecord
        If there is none.
    """
    if name:
        with db.reading() as conn:
            return find(conn, EveningRecord, name)
    record = this_evening(db, now=now)
    if record is None:
        raise UnknownRecord("No evening is under way; open one first.")
    return record


def evening_now(db: Database, record: EveningRecord, *, now: float) -> Evening:
    """Where everything is at ``now`` [s]; finished runs go into the bath ledger on the way."""
    with db.reading() as conn:
        evening = _as_it_stands(events_of(conn, record), now)
    if unwritten(evening) and not db.read_only:
        with db.transaction() as conn:
            return _write_finished(db, conn, record, now)
    return evening


def newest(db: Database, record: EveningRecord) -> int:
    """Number of the newest event: changes when anything happened."""
    with db.reading() as conn:
        return last_number(conn, record)


def write(
    db: Database,
    record: EveningRecord,
    what: What,
    *,
    key: str,
    device: str,
    now: float,
    at: float | None = None,
    seen: int | None = None,
    connected: Iterable[str] = (),
) -> Written:
    """Write one event; on disk when this returns. The same key again changes nothing.

    Parameters
    ----------
    what : What
        The event.
    key : str
        Made up once by the sender.
    device : str
        The sender.
    now, at : float
        The server's clock, and when it happened if that was earlier [s].
    seen : int or None
        The version of the load that the sender edited.
    connected : iterable of str
        Other devices that show this evening; each must be confirmed out of the room before paper comes out.

    Raises
    ------
    Refused
        If it cannot follow.
    ChangedMeanwhile
        If somebody planned the load anew since the sender read it.
    """
    with db.transaction() as conn:
        there = event_by_key(conn, record, key)
        if there is not None:
            return Written(event=there, again=True, evening=_write_finished(db, conn, record, now))
        events = events_of(conn, record)
        now = _not_before(events, now)
        at = now if at is None else at
        if at > now + AHEAD:
            raise Refused(
                f"The event is {at - now:.0f} s ahead of the studio's clock. Load the page again to set its clock."
            )
        at = max(min(at, now), record.opened_at.timestamp())
        then = evening_at(events, at)
        said = ""
        match what:
            case FrameListed():
                what = FrameListed(frame=find(conn, Frame, what.frame).name)
            case LoadPlanned():
                _check_seen(then, what.load, seen)
                for _, bath in what.load.baths:
                    find(conn, Bath, bath)
                    if is_retired(conn, bath):
                        raise Refused(
                            f'The bath "{bath}" is retired, so nothing more goes through it. Plan load '
                            f'"{what.load.name}" with a bath in use, or mix one first.'
                        )
            case Moved() if what.to is Light.PAPER_OUT:
                _check_connected(what, connected)
            case Poured():
                what, said = _pour(conn, then, what)
            case _:
                pass
        check(then, what, device=device, events=events)
        event = append(conn, record, key=key, at=at, device=device, what=what)
        evening = _write_finished(db, conn, record, now)
        return Written(event=event, again=False, evening=evening, said=said)


def _check_seen(evening: Evening, load: Load, seen: int | None) -> None:
    there = evening.loads.get(load.name)
    if there is None:
        if seen:
            raise ChangedMeanwhile(f'Load "{load.name}" is no longer planned. Look at the evening again.')
    elif seen != there.version:
        raise ChangedMeanwhile(
            f'Load "{load.name}" was planned {"anew " if seen else ""}by somebody else meanwhile. '
            "Look at it again before you change it; nothing was overwritten."
        )


def _check_connected(what: Moved, connected: Iterable[str]) -> None:
    near = sorted(device for device in set(connected) if f"out:{device}" not in what.confirmed)
    if near:
        raise Refused(
            f"Still connected: {', '.join(near)}. Take each out of the room and confirm it, or close its page; "
            "a screen that wakes fogs the paper."
        )


def _pour(conn: sa.Connection, evening: Evening, what: Poured) -> tuple[Poured, str]:
    state = evening.load(what.load)
    steps = state.load.sequence.steps
    if not 0 <= what.step < len(steps):
        return what, ""
    step = steps[what.step]
    if what.temperature is None:
        return replace(what, kind=step.kind), ""
    answer = check_pour(step, what.temperature, pours_before(conn, step.kind.value, HABIT))
    return replace(what, kind=step.kind), answer.words if answer.warn else ""


def compare_pour(
    db: Database, record: EveningRecord, load: str, step: int, temperature: float, *, now: float
) -> PourCheck:
    """Compare a temperature with the printer's usual one, before pouring.

    Raises
    ------
    UnknownRecord, Refused
        If there is no such load or step.
    """
    with db.reading() as conn:
        steps = _as_it_stands(events_of(conn, record), now).load(load).load.sequence.steps
        if not 0 <= step < len(steps):
            raise Refused(f'Load "{load}" has {len(steps)} steps; there is no step {step + 1}.')
        return check_pour(steps[step], temperature, pours_before(conn, steps[step].kind.value, HABIT))


def best_start(evening: Evening, load: str) -> float:
    """First pour [s] for a load, the soonest at which no two drums need hands at once."""
    state = evening.load(load)
    busy = [
        stretch
        for name, run in evening.under_way().items()
        for stretch in hands(run.future, drum=f"drum {evening.loads[name].load.drum}")
    ]
    return next_start(busy, state.load.sequence, earliest=evening.now + ANNOUNCED, drum=f"drum {state.load.drum}")


def begin_run(
    db: Database, record: EveningRecord, load: str, *, key: str, device: str, now: float, begin: float | None = None
) -> Written:
    """Lid on: begin the sequence of a load, ten seconds from now or when the hands are free.

    ``begin`` [s] overrides; a clash is then told, not refused.
    """
    evening = evening_now(db, record, now=now)
    chosen = begin is None and evening.load(load).begin is None
    what = RunBegun(load=load, begin=best_start(evening, load) if chosen else (now if begin is None else begin))
    done = write(db, record, what, key=key, device=device, now=now)
    gone = _retired_since(db, done.evening.load(load).load)
    clash = done.evening.clashes()
    wait = what.begin - now
    said = ""
    if not done.again and clash:
        said = clash[0].words
    elif not done.again and chosen and wait > ANNOUNCED + 0.5:
        said = f"First pour in {wait:.0f} s: until then another drum needs you."
    return replace(done, said=" ".join(filter(None, (gone, said))))


def _retired_since(db: Database, load: Load) -> str:
    """The paper is in the drum: what a bath's retirement after the plan means is told, not refused."""
    with db.reading() as conn:
        gone = [bath for _, bath in load.baths if is_retired(conn, bath)]
    return f"Retired since this load was planned: {', '.join(gone)}. Pour from a bath in use." if gone else ""


# the ledger


def _write_finished(db: Database, conn: sa.Connection, record: EveningRecord, now: float) -> Evening:
    """Put every finished load into the bath ledger, once; the evening afterwards."""
    evening = _as_it_stands(events_of(conn, record), now)
    now = evening.now
    waiting = sorted((run.end, name) for name in unwritten(evening) if (run := evening.loads[name].run(now)))
    for end, name in waiting:
        state = evening.loads[name]
        key = f"ledger {name} {state.version}"
        if event_by_key(conn, record, key) is not None:
            # written meanwhile by somebody whose clock was read later than ours
            continue
        ledger, trouble = _ledger_run(db, record, state, evening, end)
        if trouble:
            what = WentWrong(load=name, note=f"not in the bath ledger: {trouble}")
            append(conn, record, key=f"{key} trouble", at=now, device="studio", what=what)
        append(conn, record, key=key, at=now, device="studio", what=RunWritten(load=name, ledger=ledger))
    return _as_it_stands(events_of(conn, record), now) if waiting else evening


def _ledger_run(db: Database, record: EveningRecord, state: LoadState, evening: Evening, end: float) -> tuple[str, str]:
    """Name of the run in the ledger, empty if it has none; and why it could not be written, if it should have been."""
    bath = dict(state.load.baths).get(StepKind.DEVELOPER.value)
    if bath is None:
        return "", ""
    developers = [number for number, step in enumerate(state.load.sequence.steps) if step.kind is StepKind.DEVELOPER]
    poured = [pour.temperature for pour in state.pours if pour.step in developers and pour.temperature is not None]
    notes = [note.note for note in evening.notes if note.load == state.load.name]
    trouble = ""
    for at in (end, evening.now):  # a top-up recorded meanwhile leaves no room for a run dated before it
        try:
            run = log_run(
                db,
                bath,
                state.load.area,
                name=f"{record.name}, load {state.load.name}",
                at=datetime.fromtimestamp(at, UTC),
                drum=str(state.load.drum),
                temperature=poured[0] if poured else None,
                note="; ".join([*deviations(state, evening.now), *notes]),
            )
        except (Refused, ValueOutOfRange) as error:
            trouble = trouble or str(error)
        else:
            return run.name, ""
    return "", trouble


def deviations(state: LoadState, now: float) -> list[str]:
    """Steps of a run that did not take the planned time, in words."""
    run = state.run(now)
    if run is None:
        return []
    found = []
    for gone in run.past:
        took, planned = gone.end - gone.begin, gone.step.time
        if abs(took - planned) >= 1:
            held = f", held {gone.held:.0f} s" if gone.held else ""
            found.append(f"{gone.step.kind.words} {took:.0f} s instead of {planned:.0f}{held}")
    return found


# the voice


@dataclass(frozen=True, slots=True, kw_only=True)
class Speaking:
    """The voice, and what nobody could say since it was last heard."""

    voice: Voice
    missed: tuple[Cue, ...] = ()


def claim_voice(
    db: Database, record: EveningRecord, page: str, *, now: float, asked: bool = False, heard: float | None = None
) -> Speaking:
    """Take or renew the voice for a page.

    Parameters
    ----------
    page : str
        Who.
    asked : bool
        A person pressed "speak here".
    heard : float or None
        Until when this page spoke by itself, cut off from the server [s].

    Raises
    ------
    Refused
        If another page speaks.
    """
    with db.transaction() as conn:
        before = voice_of(conn, record)
        evening = _as_it_stands(events_of(conn, record), now)
        dark = evening.light is Light.PAPER_OUT
        voice = claim(before, page, now, under_way=evening.busy(), asked=asked, dark=dark)
        give_voice(conn, record, voice)
    until = max(before.renewed, heard or 0.0)
    gone: tuple[Cue, ...] = ()
    if before.turn and now - until > 2:
        gone = missed(evening.cues(since=until), until, now)
    return Speaking(voice=voice, missed=gone)


def release_voice(db: Database, record: EveningRecord, page: str, *, now: float) -> Voice:
    """Give the voice up, if the page holds it."""
    with db.transaction() as conn:
        voice = release(voice_of(conn, record), page, now)
        give_voice(conn, record, voice)
    return voice


def who_speaks(db: Database, record: EveningRecord) -> Voice:
    """Which page has the voice."""
    with db.reading() as conn:
        return voice_of(conn, record)
