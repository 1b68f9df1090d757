"""Every sentence spoken while paper is cut in the dark, by the name of its sound file, and numbers as words.

Numbers are spoken from the prompts of the evening (``number_0`` to ``number_60``); larger ones digit by digit.
"""

from collections.abc import Iterable

from printlore.core.evening.cues import HIGHEST_NUMBER, PROMPTS
from printlore.core.figure import DECIMAL_MARK

CUT_PROMPTS: dict[str, str] = {
    # at the desk, light on
    "care_blade": "Blade guarded and parked? Fingers never past the guide.",
    "care_floor": "Floor clear, nothing to trip over? Door shut, sign out, somebody knows?",
    "care_light": "Look for lights: standby lamps, watch, phone, chargers, luminous tape.",
    "care_static": "Air not too dry? Pull the paper slowly. Fast and dry makes sparks.",
    "warm": "Is the paper as warm as the room, in its sealed bag?",
    "boxes": "Boxes and bags open and in order, left to right?",
    "first_stop": "Set the stop now, in the light, and try it on waste paper.",
    "dark": "Light off. Display covered or off. Press when it is dark.",
    # paper out
    "take_roll": "Take the roll out of its bag. Emulsion towards you.",
    "take_pile": "Take the sheets out of their box. Emulsion towards you.",
    "square": "Cut off the outer turns and drop them.",
    "set_stop": "Set the stop to",
    "edge_stop": "For the edge, set the stop to",
    "across": "Cut across",
    "edge_off": "Cut the near edge off",
    "slit": "Quarter turn to the right, same side up. Cut",
    "times": "times. Press after each cut.",
    "once": "once. Press after the cut.",
    "sections_box": "Sections in the box, emulsion down. Lid on. Press.",
    "roll_away": "Roll back in its bag. Bag folded and sealed, in its carton. Press.",
    "pile_away": "What is left of the sheets back in their box. Lid on. Press.",
    "take_sections": "Take the sections of pile",
    "pile_ready": "Same side up, edges together. Press.",
    "mark": "Hold the pile, emulsion towards you. Clip the top right corner. Press.",
    "into_box": "Into box",
    "box_shut": "Box closed before anything else. Press.",
    "strips_box": "Strips into the strip box. Lid on. Press.",
    # before light
    "confirm_roll": "Before light: feel for the roll. Bag sealed? Press.",
    "confirm_boxes": "Before light: feel every box. All closed? Press.",
    "confirm_table": "Before light: feel the table. No paper left out? Press.",
    "light": "Blade parked. Everything is put away. Press for light.",
    "labels": "Print the labels and stick them on now.",
    # on the way
    "point": "point",
    "comma": "comma",
    "undone": "Taken back.",
    "spoiled": "One spoiled. It does not count.",
    "ended": "Ended here. What is cut counts.",
    "resumed_at": "Going on where you were. Counted so far:",
    "done": "All done.",
}
"""Every sentence of cutting, by the name of its sound file."""


_MARKS = {".": "point", ",": "comma"}


def spoken(number: float) -> tuple[str, ...]:
    """A number as prompts: up to sixty as a word, above digit by digit, tenths after the studio's decimal mark."""
    tenths = round(number * 10)
    whole, rest = divmod(tenths, 10)
    if whole <= HIGHEST_NUMBER and not rest:
        return (f"number_{whole}",)
    words = tuple(f"number_{digit}" for digit in str(whole))
    return (*words, _MARKS[DECIMAL_MARK.get()], f"number_{rest}") if rest else words


def said(cues: Iterable[str]) -> str:
    """What is said, as text."""
    return " ".join(CUT_PROMPTS.get(name) or PROMPTS[name] for name in cues)


_STOPS = ("first_stop", "set_stop", "edge_stop")


def written(cues: Iterable[str]) -> str:
    """What is said, as it is read: a number in one piece (254, not 2 5 4), that of a stop with its unit."""
    found: list[str] = []
    number, before = "", ""
    for name in [*cues, ""]:
        if name.startswith("number_"):
            number += name.removeprefix("number_")
        elif number and name in _MARKS.values():
            number += next(mark for mark, word in _MARKS.items() if word == name)
        else:
            sentence = said([name]) if name else ""
            if number:
                stop = " mm" if before in _STOPS else ""
                found.append(f"{number}{stop}{'.' if stop or sentence[:1].isupper() else ''}")
                number = ""
            if sentence:
                found.append(sentence)
            before = name
    return " ".join(found)
