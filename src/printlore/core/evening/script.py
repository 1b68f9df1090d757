"""What is said and asked while paper is out, beat by beat, so that nothing has to be read in the dark.

A beat says its words and then either waits for a press or runs a timed track. Where the printer is in
the script is one number, so a page that comes back goes on where it was.
"""

from dataclasses import dataclass

from printlore.core.evening.cues import Cue, spoken_number, words_of
from printlore.core.evening.exposure import LIGHTS, exposure_cues
from printlore.core.evening.load import Load, Piece


@dataclass(frozen=True, slots=True, kw_only=True)
class Beat:
    """One thing said, and what ends it.

    Attributes
    ----------
    name : str
        What is asked or done, as a word for files.
    say : tuple of str
        Prompts.
    track : tuple of Cue
        Timed cues after the words [s from the light]; empty: the beat waits for a press.
    piece : int or None
        Which piece of the load, from 0.
    leaves : bool
        Whether it may end in light: only by a deliberate act, never by a single press.
    light : str
        Which light a track gives, where they are given in turn.
    """

    name: str
    say: tuple[str, ...]
    track: tuple[Cue, ...] = ()
    piece: int | None = None
    leaves: bool = False
    light: str = ""

    @property
    def words(self) -> str:
        """What it is, for a note."""
        if self.say:
            return words_of(self.say)
        return f"{_LIGHTS[self.name]}, {self.light} light" if self.light else _LIGHTS[self.name]


_LIGHTS = {"expose_base": "the exposure", "expose_burn": "a burn", "expose_step": "a step of the strip"}
SHEET_GATES = ("gate_lens", "gate_filters", "gate_mask", "gate_swing", "gate_hands", "gate_drum", "gate_lamp")
"""Asked before each sheet leaves the box: every one has spoiled paper (common practice, no source)."""


def paper_out_script(load: Load) -> tuple[Beat, ...]:
    """Everything from display off to the lights on again, for one load.

    The order round each piece: gates, sheet out, box closed, exposures, drum, lid; and once more box
    closed before the light. The lid goes on after each piece, or the lamp would fog the piece before.
    """
    beats = [Beat(name="display", say=("dark_display",))]
    count = len(load.pieces)
    for number, piece in enumerate(load.pieces):
        if number:
            beats.append(_ask("next_sheet", number))
        gates = SHEET_GATES if piece.exposures else ("gate_hands", "gate_drum", "gate_lamp")
        beats += [_ask(gate, number) for gate in gates]
        counted = (piece.kind, *spoken_number(number + 1), "of", *spoken_number(count))
        beats.append(Beat(name="sheet_out", say=(*counted, "sheet_out"), piece=number))
        beats.append(_ask("box_closed", number))
        beats += _exposing(piece, number)
        if count > 1:
            beats.append(Beat(name="clip", say=(piece.code.value,), piece=number))
        beats.append(Beat(name="into_drum", say=("drum", *spoken_number(load.drum), "into_drum"), piece=number))
        beats.append(_ask("drum_lid", number))
    beats.append(Beat(name="box_again", say=("box_again",)))
    beats.append(Beat(name="light", say=("light",), leaves=True))
    return tuple(beats)


def _ask(name: str, piece: int) -> Beat:
    return Beat(name=name, say=(name,), piece=piece)


def _exposing(piece: Piece, number: int) -> list[Beat]:
    beats = []
    burns = 0
    changed = False
    for exposure in piece.exposures:
        first = exposure.light in ("", LIGHTS[0])
        # lights in turn: the filters of a burn are in its three times
        filters = "" if exposure.light else exposure.filters
        say: tuple[str, ...]
        if not first:
            say = (f"in_{exposure.light}", "press")
        elif exposure.part == "burn":
            burns += 1
            if filters:
                beats.append(Beat(name="change_filters", say=("change_filters",), piece=number))
            say = ("burn", *spoken_number(burns), "burn_ready")
        elif exposure.part == "step":
            say = ("cover_next",)
        else:
            say = ("on_easel",)
        if changed and not filters:
            beats.append(Beat(name="filters_back", say=("filters_back",), piece=number))
        changed = bool(filters)
        if exposure.light and first:
            say = (f"in_{exposure.light}", *say)
        beats.append(Beat(name="ready", say=say, piece=number))
        track = exposure_cues(exposure)
        beats.append(Beat(name=f"expose_{exposure.part}", say=(), track=track, piece=number, light=exposure.light))
    return beats
