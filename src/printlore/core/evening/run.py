"""One drum under way: where its sequence is at a given second, from what happened to it."""

from collections.abc import Sequence as Many
from dataclasses import dataclass

from printlore.core.evening.cues import Cue, in_order
from printlore.core.evening.process import Moment, Sequence, Step, process_cues


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """A hold, a going on or a moving on: ``what`` is "held", "resumed" or "moved_on", at ``at`` [s]."""

    at: float
    what: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """A sequence under way, as far as it can be known at ``now``.

    Attributes
    ----------
    begin, now : float
        First pour, and the moment it was asked for [s].
    past : tuple of Moment
        Steps that have ended, as they happened.
    future : tuple of Moment
        The step under way and those to come, if nothing more happens; while held, as if it went on now.
    held_since : float or None
        When the step under way was held [s].
    """

    begin: float
    now: float
    past: tuple[Moment, ...]
    future: tuple[Moment, ...]
    held_since: float | None

    @property
    def moments(self) -> tuple[Moment, ...]:
        return (*self.past, *self.future)

    @property
    def end(self) -> float:
        """When the last step ends [s]."""
        return self.moments[-1].end

    @property
    def finished(self) -> bool:
        return not self.future

    @property
    def waiting(self) -> bool:
        """Before its first pour."""
        return self.now < self.begin

    @property
    def step_number(self) -> int:
        """Of the step under way, from 0; the number of steps when finished."""
        return len(self.past)

    @property
    def step(self) -> Step | None:
        return self.future[0].step if self.future else None

    @property
    def left(self) -> float:
        """Seconds to the next pour, to the end in the last step, or to the first pour before it [s]."""
        if not self.future:
            return 0.0
        return self.begin - self.now if self.waiting else self.future[0].end - self.now

    @property
    def draining(self) -> bool:
        return bool(self.future) and not self.waiting and self.now >= self.future[0].drain and self.held_since is None

    def cues(self) -> tuple[Cue, ...]:
        """Everything still to be heard [s]; nothing while held but the hold itself."""
        if self.held_since is not None or not self.future:
            return ()
        return tuple(cue for cue in process_cues(self.moments) if cue.at >= self.now - 1e-9)

    @property
    def words(self) -> str:
        """Where it is, in a sentence."""
        if self.finished:
            return "finished"
        assert self.step is not None
        name = self.step.kind.words
        if self.waiting:
            return f"first pour ({name}) in {self.left:.0f} s"
        if self.held_since is not None:
            return f"{name}, held for {self.now - self.held_since:.0f} s"
        return f"{name}, {'draining, ' if self.draining else ''}{self.left:.0f} s left"

    @property
    def standing(self) -> str:
        """Where it is and what comes next, for a page that counts the seconds itself: true until the step ends."""
        if self.step is None:
            return "finished"
        name = self.step.kind.words
        if self.waiting:
            return f"first pour: {name}"
        if self.held_since is not None:
            return f"{name}, held"
        later = self.future[1:]
        return f"{name}, then {later[0].step.kind.words}" if later else f"{name}, the last step"


def follow(sequence: Sequence, begin: float, turns: Many[Turn], now: float) -> Run:
    """Where a run is at ``now`` [s].

    A hold lengthens the step by as long as it lasts; the bath goes on working, and the moment's
    ``held`` says so. Turns later than ``now``, before the first pour or after the last end change nothing.
    """
    steps = sequence.steps
    past: list[Moment] = []
    step_begin = begin
    held, held_since = 0.0, None
    drain = begin + steps[0].time - steps[0].drain

    def end() -> float:
        return step_begin + steps[len(past)].time + held

    def close(at: float) -> None:
        nonlocal step_begin, held, held_since, drain
        past.append(Moment(step=steps[len(past)], begin=step_begin, drain=min(drain, at), end=at, held=held))
        step_begin, held, held_since = at, 0.0, None
        if len(past) < len(steps):
            drain = at + steps[len(past)].time - steps[len(past)].drain

    def advance(to: float) -> None:
        while held_since is None and len(past) < len(steps) and end() <= to + 1e-9:
            close(end())

    for turn in sorted((t for t in turns if begin <= t.at <= now), key=lambda t: t.at):
        advance(turn.at)
        if len(past) == len(steps):
            break
        if turn.what == "held" and held_since is None:
            held_since = turn.at
        elif turn.what == "resumed" and held_since is not None:
            if held_since < drain:
                drain += turn.at - held_since
            held += turn.at - held_since
            held_since = None
        elif turn.what == "moved_on":
            if held_since is not None:
                held += turn.at - held_since
            close(turn.at)
    advance(now)
    future: list[Moment] = []
    if len(past) < len(steps):
        extra = max(0.0, now - held_since) if held_since is not None else 0.0
        shown_drain = drain + extra if held_since is not None and held_since < drain else drain
        at = end() + extra
        future.append(
            Moment(step=steps[len(past)], begin=step_begin, drain=min(shown_drain, at), end=at, held=held + extra)
        )
        for step in steps[len(past) + 1 :]:
            future.append(Moment(step=step, begin=at, drain=at + step.time - step.drain, end=at + step.time))
            at += step.time
    return Run(begin=begin, now=now, past=tuple(past), future=tuple(future), held_since=held_since)


def missed(cues: Many[Cue], heard_until: float, now: float) -> tuple[Cue, ...]:
    """Pours, drains and ends that nobody could speak between two moments [s]."""
    marks = {"begin", "out", "end"}
    return in_order(cue for cue in cues if cue.tone in marks and heard_until < cue.at <= now)
