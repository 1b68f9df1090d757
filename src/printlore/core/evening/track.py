"""Cues to samples: the same sound the page makes, for a cue sheet that any player can play."""

import math
from collections.abc import Callable, Mapping
from collections.abc import Sequence as Many

import numpy as np
import numpy.typing as npt

from printlore.core.evening.cues import TONES, Cue, Tone, in_order
from printlore.core.figure import Figure
from printlore.errors import ValueOutOfRange

Samples = npt.NDArray[np.float32]

RISE = 0.002
"""[s] A tone swells and fades this fast: no click, and an onset sharp to 2 ms."""

PAUSE = 0.08
"""[s] Between two words of one cue."""

AFTER_TONE = 0.12
"""[s] Words of a cue that also has a tone begin this long after it, so that the tone stands alone."""

WORD_LEVEL = 0.9
LONGEST = 3 * 3600.0
"""[s]"""


def tone_samples(tone: Tone, rate: int) -> Samples:
    """(n,) samples of one tone at so many a second."""
    count = round(tone.duration * rate)
    seconds = np.arange(count) / rate
    swell = np.minimum(1.0, np.minimum(seconds, tone.duration - seconds) / RISE)
    sound: Samples = (tone.level * swell * np.sin(2 * math.pi * tone.frequency * seconds)).astype(np.float32)
    return sound


def placed_words(cues: Many[Cue], duration: Callable[[str], float]) -> tuple[tuple[float, str], ...]:
    """When each prompt begins [s]: in order, one at a time, words waiting for words.

    Parameters
    ----------
    cues : sequence of Cue
    duration : function
        Seconds of a prompt by its name.
    """
    free = -math.inf
    found = []
    for cue in in_order(cues):
        at = max(cue.at + (AFTER_TONE if cue.tone and cue.say else 0.0), free)
        for name in cue.say:
            found.append((at, name))
            at += duration(name) + PAUSE
            free = at
    return tuple(found)


def render(cues: Many[Cue], prompts: Mapping[str, Samples], *, rate: int, lead: float = 0.0) -> Samples:
    """One track of all cues.

    Parameters
    ----------
    cues : sequence of Cue
        Times from the start of the plan [s]; may be below 0 as far as ``lead``.
    prompts : mapping of str to (n,) array
        Samples of every prompt used, at ``rate``.
    rate : int
        Samples a second.
    lead : float
        Seconds of the track before the plan's 0.

    Returns
    -------
    (n,) array of float32
        Within -1 to 1.

    Raises
    ------
    ValueOutOfRange
        If a cue lies before the track, or the track would be longer than three hours.
    """
    cues = in_order(cues)
    if cues and cues[0].at + lead < -1e-9:
        raise ValueOutOfRange(
            f"A cue at {Figure(cues[0].at):g} s lies before the track; give it a lead of {Figure(-cues[0].at):g} s."
        )
    words = placed_words(cues, lambda name: len(prompts[name]) / rate)
    pieces = [(cue.at, tone_samples(TONES[cue.tone], rate)) for cue in cues if cue.tone is not None]
    pieces += [(at, prompts[name] * np.float32(WORD_LEVEL)) for at, name in words]
    length = max((at + lead + len(sound) / rate for at, sound in pieces), default=0.0)
    if length > LONGEST:
        raise ValueOutOfRange(
            f"The track would last {Figure(length / 3600):.1f} h; at most {LONGEST / 3600:.0f} h. Split it."
        )
    track: Samples = np.zeros(math.ceil(length * rate) + 1, dtype=np.float32)
    for at, sound in pieces:
        first = round((at + lead) * rate)
        track[first : first + len(sound)] += sound
    return np.clip(track, -1.0, 1.0)
