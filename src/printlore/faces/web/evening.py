"""What the evening's pages share: the clock, which pages are open, and the evening as pages and programs read it."""

import itertools
import threading
import time
from dataclasses import dataclass, field
from datetime import datetime
from typing import Annotated, Any, cast

from fastapi import Depends, Request

from printlore.core.evening.cues import PROMPTS, TONES, Cue
from printlore.core.evening.load import Load
from printlore.core.evening.process import ANNOUNCED, Moment, StepKind
from printlore.core.evening.run import Run
from printlore.core.evening.state import Evening, LoadState, what_next
from printlore.core.evening.touch import TouchCode
from printlore.core.plain import to_plain
from printlore.faces.web.drawings import LineLane, LineStep
from printlore.records.evening import EveningRecord
from printlore.services.evening import Clock, deviations

GONE = 8.0
"""[s] A page that closed its stream still counts as near for this long: a reload, or a screen about to wake."""


@dataclass(slots=True)
class OpenPages:
    """Which pages show an evening right now, and what was pushed to them. Lives as long as the server does."""

    _lock: threading.Lock = field(default_factory=threading.Lock)
    _pages: dict[int, tuple[int, str]] = field(default_factory=dict)
    _left: dict[tuple[int, str], float] = field(default_factory=dict)
    _pushed: dict[int, int] = field(default_factory=dict)
    _numbers: Any = field(default_factory=itertools.count)

    def enter(self, evening: int, device: str) -> int:
        """A page opened its stream; returns a ticket to leave with."""
        with self._lock:
            ticket = next(self._numbers)
            self._pages[ticket] = (evening, device)
            return int(ticket)

    def leave(self, ticket: int) -> None:
        """Its stream is closed."""
        with self._lock:
            page = self._pages.pop(ticket, None)
            if page is not None:
                self._left[page] = time.monotonic()

    def devices(self, evening: int) -> frozenset[str]:
        """Devices that show the evening, or did a moment ago."""
        with self._lock:
            now = time.monotonic()
            self._left = {page: at for page, at in self._left.items() if now - at < GONE}
            near = {*self._pages.values(), *self._left}
            return frozenset(device for number, device in near if number == evening)

    def push(self, evening: int) -> None:
        """Send an event that means nothing to every page, to see what lights up."""
        with self._lock:
            self._pushed[evening] = self._pushed.get(evening, 0) + 1

    def pushed(self, evening: int) -> int:
        """How often that was done."""
        with self._lock:
            return self._pushed.get(evening, 0)


_MAKING = threading.Lock()


def bench_clock(request: Request) -> Clock:
    """The evening's clock; ``app.state.evening_clock`` sets another."""
    return cast(Clock, getattr(request.app.state, "evening_clock", None) or Clock())


def _open_pages(request: Request) -> OpenPages:
    state = request.app.state
    with _MAKING:
        if not hasattr(state, "evening_pages"):
            state.evening_pages = OpenPages()
    return cast(OpenPages, state.evening_pages)


Time = Annotated[Clock, Depends(bench_clock)]
"""Parameter type of a handler that needs the evening's clock."""

Near = Annotated[OpenPages, Depends(_open_pages)]
"""Parameter type of a handler that needs the open pages."""


def plain_cue(cue: Cue) -> dict[str, Any]:
    """A cue for a page: time, tone, prompts."""
    return {"at": cue.at, "tone": cue.tone, "say": list(cue.say)}


def plain_moment(moment: Moment) -> dict[str, Any]:
    """A step's times for a page."""
    return {
        "kind": moment.step.kind.words,
        "begin": moment.begin,
        "drain": moment.drain,
        "end": moment.end,
        "volume": moment.step.volume,
        "temperature": moment.step.temperature,
    }


def plain_evening(record: EveningRecord, evening: Evening) -> dict[str, Any]:
    """Where everything is, for a page or a program."""
    return {
        "evening": record.name,
        "number": evening.number,
        "now": evening.now,
        "light": evening.light.value,
        "next": what_next(evening),
        "dark_load": evening.dark_load,
        "closed": evening.closed,
        "frames": list(evening.frames),
        "cautions": sorted(evening.cautions),
        "wet_drums": [{"drum": drum, "load": load} for drum, load in sorted(evening.wet_drums.items())],
        "notes": [{"at": note.at, "note": note.note, "load": note.load} for note in evening.notes],
        "last": None if evening.last is None else evening.last.key,
        "loads": [_plain_load(state, evening.now) for state in evening.loads.values()],
        "cues": [plain_cue(cue) for cue in evening.cues(since=evening.now - 1)],
        "clashes": [{"at": clash.at, "words": clash.words} for clash in evening.clashes()],
    }


def _plain_load(state: LoadState, now: float) -> dict[str, Any]:
    run = state.run(now)
    return {
        "load": to_plain(state.load),
        "version": state.version,
        "beat": state.beat,
        "where": "planned" if run is None else run.words,
        "begin": state.begin,
        "held_since": None if run is None else run.held_since,
        "finished": run is not None and run.finished,
        "moments": [] if run is None else [plain_moment(moment) for moment in run.moments],
        "step": None if run is None else run.step_number,
        "found": sorted(state.found),
        "ledger": state.ledger,
        "not_as_planned": deviations(state, now),
    }


def sounds() -> dict[str, Any]:
    """Tones as the page makes them, and the names of the prompts."""
    return {"tones": {name: to_plain(tone) for name, tone in TONES.items()}, "prompts": list(PROMPTS)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Lane:
    """One load on the wet page and in the evening line.

    Attributes
    ----------
    state : LoadState
    run : Run or None
    wet : bool
        Its drum has not been dried since this load.
    """

    state: LoadState
    run: Run | None
    wet: bool

    @property
    def load(self) -> Load:
        return self.state.load

    @property
    def moments(self) -> list[dict[str, Any]]:
        """For the page's own counting."""
        return [] if self.run is None else [plain_moment(moment) for moment in self.run.moments]

    @property
    def usual(self) -> float:
        """Temperature that the entry starts at: the aim of the step poured now, or of the developer [degrees C]."""
        aims = [step.temperature for step in self.load.sequence.steps if step.kind is StepKind.DEVELOPER]
        step = self.run.step if self.run else None
        found = (step.temperature if step else None) or (aims[0] if aims else None)
        return found or 20.0

    @property
    def to_tell(self) -> list[tuple[int, TouchCode, str]]:
        """Pieces not yet told apart: number, corners, name. None if the drum held one alone."""
        if len(self.load.pieces) == 1:
            return []
        return [
            (number, piece.code, piece.name)
            for number, piece in enumerate(self.load.pieces)
            if number not in self.state.found
        ]


def lanes_of(evening: Evening) -> list[Lane]:
    """Every load, those under way first, then those to come, then those done."""
    lanes = [
        Lane(state=state, run=state.run(evening.now), wet=evening.wet_drums.get(state.load.drum) == name)
        for name, state in evening.loads.items()
    ]

    def rank(lane: Lane) -> int:
        if lane.run is None:
            return 1
        return 2 if lane.run.finished else 0

    return sorted(lanes, key=rank)


def line_of(evening: Evening) -> tuple[list[LineLane], float, float]:
    """Lanes of the evening line, now on it [min], and when it starts [s]."""
    begun = [(state, run) for state in evening.loads.values() if (run := state.run(evening.now)) is not None]
    if not begun:
        return [], 0.0, evening.now
    start = min(run.begin for _, run in begun) - ANNOUNCED
    by_drum: dict[int, list[LineStep]] = {}
    for state, run in sorted(begun, key=lambda pair: pair[1].begin):
        steps = by_drum.setdefault(state.load.drum, [])
        for number, moment in enumerate(run.moments):
            stands = "done" if number < run.step_number else "now" if number == run.step_number else "due"
            if stands == "now" and run.waiting:
                stands = "due"
            steps.append(
                LineStep(
                    name=moment.step.kind.words,
                    start=(moment.begin - start) / 60,
                    end=(moment.end - start) / 60,
                    state=stands,
                )
            )
    lanes = [LineLane(name=f"drum {drum}", steps=tuple(steps)) for drum, steps in sorted(by_drum.items())]
    return lanes, (evening.now - start) / 60, start


def wall_time(seconds: float) -> str:
    """Hours and minutes on the wall clock of this machine."""
    return datetime.fromtimestamp(seconds).astimezone().strftime("%H:%M")
