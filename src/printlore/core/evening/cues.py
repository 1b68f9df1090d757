"""Cues: what is heard when. A tone carries the moment; words come before it and may wait for each other."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

from printlore.core.figure import Figure
from printlore.errors import ValueOutOfRange


@dataclass(frozen=True, slots=True, kw_only=True)
class Tone:
    """A beep.

    Attributes
    ----------
    frequency : float
        [Hz]
    duration : float
        [s]
    level : float
        Amplitude, 0 to 1.
    """

    frequency: float
    duration: float
    level: float


TONES: dict[str, Tone] = {
    "tick": Tone(frequency=1000.0, duration=0.03, level=0.35),
    "count": Tone(frequency=1320.0, duration=0.06, level=0.5),
    "ready": Tone(frequency=660.0, duration=0.12, level=0.6),
    "begin": Tone(frequency=880.0, duration=0.35, level=0.8),
    "end": Tone(frequency=440.0, duration=0.6, level=0.8),
    "in": Tone(frequency=1760.0, duration=0.15, level=0.6),
    "out": Tone(frequency=587.0, duration=0.15, level=0.6),
    "event": Tone(frequency=740.0, duration=0.08, level=0.3),
    "wrong": Tone(frequency=220.0, duration=0.5, level=0.7),
}
"""Tones by name: told apart by pitch and by length, for ears that hear high notes badly."""

HIGHEST_NUMBER = 60

PROMPTS: dict[str, str] = {
    **{f"number_{n}": str(n) for n in range(HIGHEST_NUMBER + 1)},
    "of": "of",
    "seconds": "seconds",
    "minutes": "minutes",
    # around each sheet
    "dark_display": "The display goes off now. Switch it off or cover it. Press when it is dark.",
    "gate_lens": "Lens stopped down?",
    "gate_filters": "Filters back in?",
    "gate_mask": "Negative masked, no stray light?",
    "gate_swing": "Swing filter out of the way?",
    "gate_hands": "Hands dry?",
    "gate_drum": "Drum and lid rinsed and dry?",
    "gate_lamp": "Enlarger lamp off, room dark?",
    "sheet": "Sheet",
    "strip": "Strip",
    "control": "Control",
    "sheet_out": "Take one sheet out.",
    "box_closed": "Box closed?",
    "on_easel": "Emulsion up on the easel. Press to begin.",
    "cover_next": "Move the card. Press to begin.",
    "in_red": "Red exposure.",
    "in_green": "Green exposure.",
    "in_blue": "Blue exposure.",
    "press": "Press to begin.",
    "burn": "Burn",
    "burn_ready": "Cover the rest. Press to begin.",
    "change_filters": "Cover the paper. Change the filters for this burn. Press when done.",
    "filters_back": "Cover the paper. Filters back to the base.",
    "dodge": "Dodge",
    "lamp_off": "Light off.",
    "into_drum": "Into the drum, emulsion inward. Press when it is in.",
    "drum_lid": "Paper in the drum. Lid on?",
    "next_sheet": "Next sheet.",
    "box_again": "Box closed again?",
    "light": "Everything is safe. To leave the dark, hold the switch or the L key for three seconds.",
    "leave_confirm": "Leave the dark? Box closed, lid on? Press enter to leave. Any other key stays.",
    "left_dark": "You have left the dark. Light.",
    "still_dark": "Staying in the dark.",
    "stopped": "Stopped.",
    "noted": "Noted.",
    "again": "Again.",
    "back": "One step back.",
    "not_reached": "The server does not answer. What you do is kept here.",
    "reached": "The server answers again.",
    # touch codes
    "clip_none": "No corner clipped.",
    "clip_one": "Clip one corner.",
    "clip_short_side": "Clip two corners on a short side.",
    "clip_long_side": "Clip two corners on a long side.",
    "clip_opposite": "Clip two opposite corners.",
    "clip_three": "Clip three corners.",
    "clip_four": "Clip four corners.",
    # the drum
    "drum": "Drum",
    "begins": "Start turning.",
    "next": "Next:",
    "pour": "Pour.",
    "drain": "Drain.",
    "drain_soon": "Drain soon.",
    "step_prewash": "prewash",
    "step_developer": "developer",
    "step_stop": "stop bath",
    "step_rinse": "rinse",
    "step_bleach_fix": "bleach fix",
    "step_wash": "wash",
    "step_final": "final rinse",
    "held": "Held.",
    "resumed": "Going on.",
    "moved_on": "Moved on.",
    "finished": "Finished. Open the drum.",
    "missed": "You missed a cue. Look at the page.",
    # before and during the evening
    "care": "Gloves, goggles, fan, floor, switch?",
    "temperature": "The pour is not at your usual temperature.",
    "rehearsal_begins": "Dark rehearsal. Sit without paper for ten minutes and look for any light.",
    "rehearsal_event": "This is a pushed event. Did anything light up?",
    "rehearsal_minute": "minutes to go",
    "rehearsal_ends": "The rehearsal is over. Was there any light?",
    "sound_check": "If you hear this, sound works.",
}
"""Every sentence the tool can speak, by the name of its sound file."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cue:
    """One thing heard.

    Attributes
    ----------
    at : float
        When it begins [s], from the start of the plan it belongs to.
    tone : str or None
        A name in ``TONES``; sounds exactly then.
    say : tuple of str
        Names in ``PROMPTS``, one after the other; may begin a little later if other words still sound.

    Raises
    ------
    ValueOutOfRange
        If the time is not finite, nothing is heard, or a name is unknown.
    """

    at: float
    tone: str | None = None
    say: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not math.isfinite(self.at):
            raise ValueOutOfRange(f"A cue is at {self.at} s; give a finite time.")
        if self.tone is None and not self.say:
            raise ValueOutOfRange(f"The cue at {Figure(self.at):g} s is silent; give it a tone or words.")
        if self.tone is not None and self.tone not in TONES:
            raise ValueOutOfRange(f'There is no tone "{self.tone}"; there are: {", ".join(TONES)}.')
        for name in self.say:
            if name not in PROMPTS:
                raise ValueOutOfRange(f'There is no prompt "{name}"; see PROMPTS in core/evening/cues.py.')

    def later(self, seconds: float) -> "Cue":
        """The same cue, so many seconds later [s]."""
        return replace(self, at=self.at + seconds)


def in_order(cues: Iterable[Cue]) -> tuple[Cue, ...]:
    """By time; at the same moment the tone comes first."""
    return tuple(sorted(cues, key=lambda cue: (cue.at, cue.tone is None)))


def spoken_number(number: int) -> tuple[str, ...]:
    """A count as prompts.

    Raises
    ------
    ValueOutOfRange
        If it is not from 0 to 60.
    """
    if not 0 <= number <= HIGHEST_NUMBER:
        raise ValueOutOfRange(f"The number {number} has no spoken prompt; counts go from 0 to {HIGHEST_NUMBER}.")
    return (f"number_{number}",)


def words_of(say: Iterable[str]) -> str:
    """What is said, as text for the page and the run card."""
    return " ".join(PROMPTS[name] for name in say)
