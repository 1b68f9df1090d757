"""An evening at a given second: a function of its events and the time, and of nothing else.

So it is the same after a reload, on a second device, and after the server died.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from printlore.core.evening.care import CAUTIONS, check_cautions
from printlore.core.evening.cues import Cue, in_order
from printlore.core.evening.events import (
    BeatDone,
    CareConfirmed,
    Closed,
    DrumDried,
    Event,
    FrameDropped,
    FrameListed,
    Held,
    LoadPlanned,
    Moved,
    MovedOn,
    Poured,
    Rehearsed,
    Resumed,
    RunBegun,
    RunWritten,
    ToldApart,
    Undone,
    WentWrong,
    What,
)
from printlore.core.evening.light import Light, check_move
from printlore.core.evening.load import Load
from printlore.core.evening.process import process_cues
from printlore.core.evening.rehearsal import Rehearsal, check_rehearsal
from printlore.core.evening.rotation import Clash, clashes, hands
from printlore.core.evening.run import Run, Turn, follow
from printlore.core.evening.script import Beat, paper_out_script
from printlore.errors import Refused, UnknownRecord

ENTER_DARK = {
    "display": "the display is off or covered",
    "devices": "every other connected device is out of the room",
    "sleep": "system sleep is off",
    "sound": "the cues are ready and were heard",
}
"""What the printer confirms before paper comes out."""

LEAVE_DARK = {"box": "the box is closed", "lid": "the lid is on, or no paper is out"}
"""What the printer confirms before there is light again."""

LATE_START = 900.0
"""[s] A first pour may be set at most this far ahead."""

NOT_UNDONE = (Moved, Undone, RunWritten, Closed, Rehearsed)
"""What happened to the room or is written elsewhere is not taken back; the next event puts it right."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """Something that went wrong, in words."""

    at: float
    note: str
    load: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadState:
    """A load and how far it has come.

    Attributes
    ----------
    load : Load
        As last planned.
    version : int
        Number of the event that planned it; a page that edits it says which version it saw.
    beat : int
        Beats of the paper-out script that have passed.
    begin : float or None
        First pour [s].
    turns : tuple of Turn
        Holds and moves on.
    pours : tuple of Poured
        What was said at the pours.
    found : frozenset of int
        Pieces told apart after the wash.
    ledger : str or None
        Its name in the bath ledger.
    """

    load: Load
    version: int
    beat: int = 0
    begin: float | None = None
    turns: tuple[Turn, ...] = ()
    pours: tuple[Poured, ...] = ()
    found: frozenset[int] = frozenset()
    ledger: str | None = None

    def run(self, now: float) -> Run | None:
        """Where its drum is at ``now`` [s]; ``None`` before the lid is on."""
        return None if self.begin is None else follow(self.load.sequence, self.begin, self.turns, now)

    def script(self) -> tuple[Beat, ...]:
        return paper_out_script(self.load)


@dataclass(frozen=True, slots=True, kw_only=True)
class Evening:
    """Everything known about an evening at ``now``.

    Attributes
    ----------
    now : float
        [s since 1970-01-01 UTC]
    number : int
        Of the last event, 0 if none.
    light : Light
        Where the printer is.
    dark_load : str or None
        Which load is being exposed while paper is out.
    cautions : frozenset of str
        Confirmed tonight.
    rehearsals : dict of str to Rehearsal
        By device.
    frames : tuple of str
        Tonight's list.
    loads : dict of str to LoadState
        In the order planned.
    wet_drums : dict of int to str
        Drums not dried since their last load, and which load that was.
    notes : tuple of Note
        What went wrong.
    last : Event or None
        The latest event that can be undone.
    closed : bool
        Whether the evening is over.
    """

    now: float
    number: int = 0
    light: Light = Light.DESK
    dark_load: str | None = None
    cautions: frozenset[str] = frozenset()
    rehearsals: dict[str, Rehearsal] = field(default_factory=dict)
    frames: tuple[str, ...] = ()
    loads: dict[str, LoadState] = field(default_factory=dict)
    wet_drums: dict[int, str] = field(default_factory=dict)
    notes: tuple[Note, ...] = ()
    last: Event | None = None
    closed: bool = False

    def load(self, name: str) -> LoadState:
        """A load by name.

        Raises
        ------
        UnknownRecord
            If there is none of that name; says which there are.
        """
        if name not in self.loads:
            there = ", ".join(f'"{known}"' for known in self.loads) or "none yet"
            raise UnknownRecord(f'There is no load "{name}" tonight; there are: {there}.')
        return self.loads[name]

    def under_way(self) -> dict[str, Run]:
        """Runs that have begun and not finished, by load."""
        runs = {name: state.run(self.now) for name, state in self.loads.items()}
        return {name: run for name, run in runs.items() if run is not None and not run.finished}

    def busy(self) -> bool:
        """Whether a voice that falls silent would be missed."""
        return self.light is Light.PAPER_OUT or bool(self.under_way())

    def cues(self, since: float | None = None) -> tuple[Cue, ...]:
        """What drums under way will say from now on, or since an earlier moment [s]; drums are named if two are going.

        Held drums say nothing.
        """
        runs = self.under_way()
        named = len(runs) > 1
        start = self.now if since is None else since
        cues: list[Cue] = []
        for name, run in runs.items():
            if run.held_since is None:
                drum = self.loads[name].load.drum if named else None
                cues += [cue for cue in process_cues(run.moments, drum=drum) if cue.at >= start - 1e-9]
        return in_order(cues)

    def clashes(self) -> tuple[Clash, ...]:
        """Where two drums under way will need hands at once."""
        busy = [hands(run.future, drum=f"drum {self.loads[name].load.drum}") for name, run in self.under_way().items()]
        return tuple(clash for clash in clashes(busy) if clash.at >= self.now)


def evening_at(events: Iterable[Event], now: float) -> Evening:
    """The evening as its events up to ``now`` [s] make it; later events are not looked at.

    Events are taken by their own time, then by number, so one that arrives late still counts from when it happened.
    """
    known = sorted((event for event in events if event.at <= now), key=lambda event: (event.at, event.number))
    undone = {event.what.key for event in known if isinstance(event.what, Undone)}
    evening = Evening(now=now, number=max((event.number for event in known), default=0))
    for event in known:
        if event.key not in undone:
            evening = _then(evening, event)
    return evening


def _then(evening: Evening, event: Event) -> Evening:
    what = event.what
    if not isinstance(what, NOT_UNDONE):
        evening = replace(evening, last=event)
    match what:
        case CareConfirmed():
            return replace(evening, cautions=evening.cautions | set(what.items))
        case Rehearsed():
            return replace(evening, rehearsals={**evening.rehearsals, what.rehearsal.device: what.rehearsal})
        case Moved():
            dark = what.load if what.to is Light.PAPER_OUT else None
            return replace(evening, light=what.to, dark_load=dark)
        case FrameListed():
            return evening if what.frame in evening.frames else replace(evening, frames=(*evening.frames, what.frame))
        case FrameDropped():
            return replace(evening, frames=tuple(frame for frame in evening.frames if frame != what.frame))
        case LoadPlanned():
            planned = LoadState(load=what.load, version=event.number)
            return replace(evening, loads={**evening.loads, what.load.name: planned})
        case WentWrong():
            note = Note(at=event.at, note=what.note, load=what.load)
            return replace(evening, notes=(*evening.notes, note))
        case DrumDried():
            return replace(evening, wet_drums={n: load for n, load in evening.wet_drums.items() if n != what.drum})
        case Closed():
            return replace(evening, closed=True)
        case Undone():
            return evening
        case _:
            return _then_load(evening, event)


def _then_load(evening: Evening, event: Event) -> Evening:
    what = event.what
    assert isinstance(what, BeatDone | RunBegun | Held | Resumed | MovedOn | Poured | RunWritten | ToldApart)
    state = evening.loads.get(what.load)
    if state is None:  # its planning was undone
        return evening
    match what:
        case BeatDone():
            state = replace(state, beat=what.beat)
        case RunBegun():
            state = replace(state, begin=what.begin)
            evening = replace(evening, wet_drums={**evening.wet_drums, state.load.drum: what.load})
        case Held():
            state = replace(state, turns=(*state.turns, Turn(at=event.at, what="held")))
        case Resumed():
            state = replace(state, turns=(*state.turns, Turn(at=event.at, what="resumed")))
        case MovedOn():
            state = replace(state, turns=(*state.turns, Turn(at=event.at, what="moved_on")))
        case Poured():
            state = replace(state, pours=(*(p for p in state.pours if p.step != what.step), what))
        case RunWritten():
            state = replace(state, ledger=what.ledger)
        case ToldApart():
            state = replace(state, found=state.found | {what.piece})
    return replace(evening, loads={**evening.loads, what.load: state})


def check(evening: Evening, what: What, *, device: str, events: Iterable[Event] = ()) -> None:
    """Refuse an event that cannot follow.

    Parameters
    ----------
    evening : Evening
        As it stands when the event happens.
    what : What
        The event.
    device : str
        Which page or program sends it.
    events : iterable of Event
        All so far; needed to undo one.

    Raises
    ------
    Refused
        With the reason and the cure.
    UnknownRecord
        If it speaks of a load or event that is not there.
    """
    if evening.closed:
        raise Refused("This evening is closed; open a new one.")
    match what:
        case CareConfirmed():
            names = {caution.name for caution in CAUTIONS}
            for item in what.items:
                if item not in names:
                    raise UnknownRecord(f'There is no caution "{item}"; there are: {", ".join(sorted(names))}.')
        case Moved():
            _check_moved(evening, what, device)
        case LoadPlanned():
            state = evening.loads.get(what.load.name)
            if state is not None and (state.beat or state.begin is not None):
                raise Refused(f'Load "{what.load.name}" has paper in it already; plan the rest under a new name.')
        case BeatDone():
            state = evening.load(what.load)
            if evening.light is not Light.PAPER_OUT or evening.dark_load != what.load:
                raise Refused(f'Load "{what.load}" is not the one being exposed; take its paper out first.')
            if not 0 <= what.beat <= len(state.script()):
                raise Refused(f'The script of load "{what.load}" has {len(state.script())} beats, not {what.beat}.')
        case RunBegun():
            _check_begun(evening, what)
        case Held() | Resumed() | MovedOn():
            _check_turn(evening, what)
        case Poured():
            state = evening.load(what.load)
            if state.begin is None or not 0 <= what.step < len(state.load.sequence.steps):
                raise Refused(
                    f'Load "{what.load}" has no step {what.step + 1} under way; say what was poured when it is.'
                )
        case ToldApart():
            run = evening.load(what.load).run(evening.now)
            if run is None or not run.finished or not 0 <= what.piece < len(evening.load(what.load).load.pieces):
                raise Refused(f'The pieces of load "{what.load}" can be told apart when its last wash is over.')
        case RunWritten():
            run = evening.load(what.load).run(evening.now)
            if run is None or not run.finished:
                raise Refused(f'Load "{what.load}" is not finished; it goes into the ledger when it is.')
        case DrumDried():
            for name in evening.under_way():
                if evening.loads[name].load.drum == what.drum:
                    raise Refused(f'Drum {what.drum} is under way with load "{name}"; dry it afterwards.')
        case Undone():
            _check_undo(evening, what, list(events))
        case Closed():
            if evening.under_way():
                raise Refused(
                    f"Still under way: {', '.join(evening.under_way())}. Close the evening when they are done."
                )
            if evening.light is Light.PAPER_OUT:
                raise Refused("Paper is out; box it before you close the evening.")
        case _:
            pass


def _check_moved(evening: Evening, what: Moved, device: str) -> None:
    check_move(evening.light, what.to)
    if what.to is Light.PAPER_OUT:
        check_rehearsal(evening.rehearsals.get(device), device)
        missing = [words for name, words in ENTER_DARK.items() if name not in what.confirmed]
        if missing:
            raise Refused(f"Paper stays in the box until you confirm that {', that '.join(missing)}.")
        if what.load is None:
            raise Refused("Say which load is exposed; everything said in the dark is prepared at the desk.")
        state = evening.load(what.load)
        if state.begin is not None:
            raise Refused(f'Load "{what.load}" is in its drum already; plan the next one.')
        wet = evening.wet_drums.get(state.load.drum)
        if wet is not None:
            raise Refused(
                f'Drum {state.load.drum} is wet from load "{wet}". Rinse and dry drum, lid and hands, and say so; '
                "a drop of bleach-fix or stop stains the next print."
            )
    if evening.light is Light.PAPER_OUT:
        missing = [words for name, words in LEAVE_DARK.items() if name not in what.confirmed]
        if missing:
            raise Refused(f"It stays dark until you confirm that {' and that '.join(missing)}.")


def _check_begun(evening: Evening, what: RunBegun) -> None:
    state = evening.load(what.load)
    check_cautions(evening.cautions)
    if state.begin is not None:
        raise Refused(f'Load "{what.load}" has begun already.')
    if evening.light is not Light.WET:
        raise Refused(f"You are at {evening.light.words}; go to wet, lid on, before the first pour.")
    drum = state.load.drum
    for name in evening.under_way():
        if evening.loads[name].load.drum == drum:
            raise Refused(f'Drum {drum} is under way with load "{name}".')
    if drum in evening.wet_drums:
        raise Refused(
            f'Drum {drum} is wet from load "{evening.wet_drums[drum]}". Rinse and dry drum, lid and hands first.'
        )
    if not evening.now - 5 <= what.begin <= evening.now + LATE_START:
        raise Refused(
            f"The first pour is {what.begin - evening.now:.0f} s from now; set it between now and 15 minutes on."
        )


def _check_turn(evening: Evening, what: Held | Resumed | MovedOn) -> None:
    run = evening.load(what.load).run(evening.now)
    if run is None or run.waiting:
        raise Refused(f'Load "{what.load}" has not been poured yet.')
    if run.finished:
        raise Refused(f'Load "{what.load}" is finished.')
    if isinstance(what, Held) and run.held_since is not None:
        raise Refused(f'Load "{what.load}" is held already.')
    if isinstance(what, Resumed) and run.held_since is None:
        raise Refused(f'Load "{what.load}" is not held.')


def _check_undo(evening: Evening, what: Undone, events: list[Event]) -> None:
    gone = {event.what.key for event in events if isinstance(event.what, Undone)}
    event = next((event for event in events if event.key == what.key), None)
    if event is None or event.key in gone:
        raise UnknownRecord("That event is not there, or is undone already.")
    if isinstance(event.what, NOT_UNDONE):
        raise Refused(
            "That cannot be taken back: what was moved, seen or written stays. Put it right with the next step."
        )
    load = getattr(event.what, "load", None)
    name = load.name if isinstance(load, Load) else load
    state = evening.loads.get(name) if isinstance(name, str) else None
    if state is None:
        return
    if isinstance(event.what, LoadPlanned) and (state.beat or state.begin is not None):
        raise Refused(f'Load "{name}" has paper in it already; its plan cannot be taken back.')
    if state.ledger is not None:
        raise Refused(f'Load "{name}" is in the bath ledger; correct the run there.')


def unwritten(evening: Evening) -> tuple[str, ...]:
    """Finished loads that are not in the bath ledger yet."""
    found = []
    for name, state in evening.loads.items():
        run = state.run(evening.now)
        if run is not None and run.finished and state.ledger is None:
            found.append(name)
    return tuple(found)


def what_next(evening: Evening, *, counting: bool = False) -> str:
    """One sentence on what is under way and what comes next.

    Parameters
    ----------
    counting : bool
        It stands on a page that counts seconds beside it, and must not name any itself.
    """
    if evening.closed:
        return "The evening is closed."
    if evening.light is Light.PAPER_OUT:
        return "Paper is out: listen."
    lines = []
    for name, run in evening.under_way().items():
        where = run.standing if counting else run.words
        lines.append(f"Drum {evening.loads[name].load.drum} (load {name}): {where}.")
    for clash in evening.clashes()[:1]:
        when = "Soon" if counting else f"In {clash.at - evening.now:.0f} s"
        lines.append(f"{when} {clash.words} Hold one of them.")
    for name in unwritten(evening):
        lines.append(f"Load {name} is finished and not in the bath ledger yet.")
    if lines:
        return " ".join(lines)
    ready = [name for name, state in evening.loads.items() if state.begin is None]
    if ready:
        state = evening.loads[ready[0]]
        if evening.light is Light.WET and state.beat >= len(state.script()) - 1:
            return f"Lid on: load {ready[0]} is in drum {state.load.drum}. Press to begin the sequence."
        if state.load.drum in evening.wet_drums:
            return f"Rinse and dry drum {state.load.drum}, its lid and your hands, then load {ready[0]}."
        if evening.light is Light.WET:
            return f"Load {ready[0]} is planned for drum {state.load.drum}: is it in, and the lid on? Press to begin."
        way = "go to the easel" if evening.light is not Light.EASEL else "project and focus, then press Paper out"
        if not evening.rehearsals:
            way = f"do the dark rehearsal first (ten minutes, without paper), then {way}"
        return f"Load {ready[0]} is planned for drum {state.load.drum}: {way}."
    for drum, name in evening.wet_drums.items():
        state = evening.loads[name]
        apart = 1 < len(state.load.pieces) != len(state.found)
        first = "feel the corners to tell its pieces apart, then rinse" if apart else "rinse"
        return f"Load {name} is finished: {first} and dry drum {drum}, its lid and your hands."
    if evening.frames:
        return f'Plan a load for "{evening.frames[0]}".'
    return "Put the negatives you want to print on tonight's list."
