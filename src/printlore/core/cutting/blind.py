"""Where one is in a spoken cut, from nothing but the events so far: it can be laid down and taken up anywhere.

A state is never stored. It is folded from the events, so a count cannot differ from the presses that made it.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from printlore.core.cutting.procedure import Pile, Procedure, Step
from printlore.core.cutting.sections import Size, Way
from printlore.core.cutting.spoken import said, spoken
from printlore.errors import Refused


class Event(StrEnum):
    """What the worker does: foot down, take the last one back, this one is spoiled, no more of these."""

    PRESS = "press"
    UNDO = "undo"
    SPOILED = "spoiled"
    END = "end"


@dataclass(frozen=True, slots=True, kw_only=True)
class Position:
    """Where one is.

    Attributes
    ----------
    step : Step or None
        To be done now; ``None``: all done.
    number, steps : int
        Which step of how many, from 1.
    counted, needed : int
        Cuts made and wanted in this step.
    counts, spoiled : mapping of step key to cuts
    say : tuple of str
        Prompts to speak now, after the last event.
    """

    step: Step | None
    number: int
    steps: int
    counted: int
    needed: int
    counts: Mapping[str, int]
    spoiled: Mapping[str, int]
    say: tuple[str, ...]

    @property
    def dark(self) -> bool:
        """Whether paper is out."""
        return self.step is not None and self.step.dark

    @property
    def words(self) -> str:
        """What is spoken now."""
        return said(self.say)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What a sitting has made so far.

    Attributes
    ----------
    length : float
        Of roll cut off [mm], spoiled sections and discarded turns included; 0 from sheets.
    sheets_used : int
        Of the pile cut up; 0 from a roll.
    pieces : mapping of size to count
    uncut : mapping of (along, across) to count
        Sections cut off but not slit to the end.
    spoiled : mapping of (along, across) to count
    """

    length: float
    sheets_used: int
    pieces: Mapping[Size, int]
    uncut: Mapping[tuple[float, float], int]
    spoiled: Mapping[tuple[float, float], int]


@dataclass(slots=True)
class _Run:
    procedure: Procedure
    index: int
    counts: dict[str, int]
    spoiled: dict[str, int]
    ended: set[str]

    def needed(self, step: Step) -> int:
        if step.key in self.ended:
            return self.counts.get(step.key, 0)
        if step.pile is None or step.starts_pile:
            return step.count
        return step.per_unit * self.units(self.procedure.piles[step.pile - 1])

    def units(self, pile: Pile) -> int:
        """Sections of a pile cut off so far (of sheets: cut up; all, if they need no cross cut)."""
        for step in self.procedure.steps:
            if step.pile == pile.number and step.starts_pile:
                return self.counts.get(step.key, 0) // step.per_unit
        return pile.planned

    def settle(self) -> None:
        """Move on over every step that is done or has nothing to do."""
        while self.index < len(self.procedure.steps):
            step = self.procedure.steps[self.index]
            if self.counts.get(step.key, 0) < self.needed(step):
                return
            self.index += 1


def position(procedure: Procedure, events: Iterable[Event]) -> Position:
    """Where one is after these events, and what is spoken now.

    Raises
    ------
    Refused
        If an event cannot be at that point: spoiled or end where nothing is counted, anything after the end, or an
        undo with nothing to take back.
    """
    events = list(events)
    before, run = _run(procedure, events[:-1]), _run(procedure, events)
    step = procedure.steps[run.index] if run.index < len(procedure.steps) else None
    return Position(
        step=step,
        number=min(run.index + 1, len(procedure.steps)),
        steps=len(procedure.steps),
        counted=run.counts.get(step.key, 0) if step else 0,
        needed=run.needed(step) if step else 0,
        counts=run.counts,
        spoiled=run.spoiled,
        say=_say(procedure, before, run, events[-1] if events else None),
    )


def resume_prompts(place: Position) -> tuple[str, ...]:
    """What is spoken when a laid-down cut is taken up: the step again, and the count so far."""
    if place.step is None:
        return ("done",)
    if place.step.counted:
        return (*place.step.say, "resumed_at", *spoken(place.counted))
    return place.step.say


def outcome(procedure: Procedure, events: Iterable[Event]) -> Outcome:
    """What the cuts so far have made; sections of which a slit is missing count as uncut, or as spoiled if begun."""
    run = _run(procedure, list(events))
    length = procedure.discard if run.counts.get("square") else 0.0
    sheets_used = 0
    pieces: dict[Size, int] = {}
    uncut: dict[tuple[float, float], int] = {}
    spoiled: dict[tuple[float, float], int] = {}

    def lose(along: float, across: float, count: int) -> None:
        if count:
            spoiled[along, across] = spoiled.get((along, across), 0) + count

    taken = bool(run.counts.get("take"))
    for pile in procedure.piles:
        section = pile.section
        steps = [step for step in procedure.steps if step.pile == pile.number]
        units = run.units(pile) if taken else 0
        lost = sum(run.spoiled.get(step.key, 0) for step in steps if step.starts_pile)
        band = section.parts[0].along
        if procedure.from_roll:
            length += (units + lost) * section.length
        else:
            sheets_used += units
        lose(band, section.width, lost)
        slits = [step for step in steps if not step.starts_pile]
        whole = min([units, *(run.counts.get(step.key, 0) // step.per_unit for step in slits)])
        begun = min(units, max([0, *(-(-run.counts.get(step.key, 0) // step.per_unit) for step in slits)])) - whole
        lose(band, section.width, begun)
        if units - whole - begun:
            bands = len({part.at_along for part in section.parts if part.along == band})
            uncut[band, section.width] = uncut.get((band, section.width), 0) + bands * (units - whole - begun)
        for size, n in section.pieces().items():
            pieces[size] = pieces.get(size, 0) + n * whole
        for step in slits:
            bad = run.spoiled.get(step.key, 0)
            distance = float(step.key.rsplit(" ", 1)[1])
            hit = [size for size in section.pieces() if abs(size[1] - distance) < 0.06]
            if bad and hit and Way.SLIT in step.key:
                bad = min(bad, pieces[hit[0]])
                pieces[hit[0]] -= bad
                lose(hit[0][0], hit[0][1], bad)
    return Outcome(
        length=length,
        sheets_used=sheets_used,
        pieces={size: n for size, n in pieces.items() if n},
        uncut=uncut,
        spoiled=spoiled,
    )


def _run(procedure: Procedure, events: list[Event]) -> _Run:
    kept: list[Event] = []
    for event in events:
        if event is Event.UNDO:
            if not kept:
                raise Refused("There is nothing to take back.")
            kept.pop()
        else:
            kept.append(event)
    run = _Run(procedure=procedure, index=0, counts={}, spoiled={}, ended=set())
    run.settle()
    for event in kept:
        if run.index >= len(procedure.steps):
            raise Refused("This sitting is done. Take the last press back if something is left to do.")
        step = procedure.steps[run.index]
        if event is not Event.PRESS and not step.counted:
            raise Refused('Nothing is counted in this step; "spoiled" and "no more" belong to cuts.')
        if event is Event.END:
            run.ended.add(step.key)
        elif event is Event.SPOILED:
            run.spoiled[step.key] = run.spoiled.get(step.key, 0) + 1
        if event is Event.PRESS or (event is Event.SPOILED and not step.starts_pile):
            run.counts[step.key] = run.counts.get(step.key, 0) + 1
        run.settle()
    return run


def _say(procedure: Procedure, before: _Run, after: _Run, event: Event | None) -> tuple[str, ...]:
    steps = procedure.steps
    if after.index >= len(steps):
        return ("done",)
    step = steps[after.index]
    count = after.counts.get(step.key, 0)
    moved = event is None or before.index != after.index
    if event is Event.UNDO:
        return ("undone", *step.say, *(("resumed_at", *spoken(count)) if step.counted else ()))
    opening = {Event.SPOILED: ("spoiled",), Event.END: ("ended",)}.get(event, ()) if event else ()
    if moved:
        last = steps[before.index] if event is not None and before.index < len(steps) else None
        number = spoken(after.counts.get(last.key, 0)) if last and last.counted and event is Event.PRESS else ()
        return (*opening, *number, *_step_say(after, step))
    return (*opening, *spoken(count))


def _step_say(run: _Run, step: Step) -> tuple[str, ...]:
    """The step's words with the count that is needed now, should fewer sections have been cut than planned."""
    needed = run.needed(step)
    if step.counted and needed != step.count:
        return (step.say[0], *(("once",) if needed == 1 else (*spoken(needed), "times")))
    return step.say
