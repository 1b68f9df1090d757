"""An exposure as cues: count-in, one tick a second, dodges in and out, light off."""

import math
from dataclasses import dataclass

from printlore.core.evening.cues import Cue, in_order, spoken_number
from printlore.core.figure import Figure
from printlore.core.light.setting import LONGEST_TIME, Setting
from printlore.errors import ValueOutOfRange

COUNT_IN = 3
"""[s] Spoken seconds before the light."""

CHANGE_HANDS = 1.0
"""[s] From one dodge out to the next in, for the same hand (from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Dodge:
    """A part held back during an exposure.

    Attributes
    ----------
    name : str
        Which part.
    begin, end : float
        When the dodger goes in and out [s from the light].
    hand : int
        1 or 2.
    """

    name: str
    begin: float
    end: float
    hand: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Exposure:
    """One stretch of light on the paper.

    Attributes
    ----------
    name : str
        "base", a burn's name, or a strip's step.
    part : str
        "base", "burn" or "step".
    time : float
        Seconds of light; above 0.
    filters : str
        What is dialled for it, in words, if that differs from the base.
    dodges : tuple of Dodge
        Within it.

    Raises
    ------
    ValueOutOfRange
        If the time or the part cannot be.
    """

    name: str
    part: str = "base"
    time: float
    filters: str = ""
    dodges: tuple[Dodge, ...] = ()

    def __post_init__(self) -> None:
        if not (math.isfinite(self.time) and 0 < self.time <= LONGEST_TIME):
            raise ValueOutOfRange(
                f'Exposure "{self.name}" is {Figure(self.time):g} s; it must be above 0 and at most '
                f"{Figure(LONGEST_TIME):g}."
            )
        if self.part not in ("base", "burn", "step"):
            raise ValueOutOfRange(f'Exposure "{self.name}" is a "{self.part}"; it must be base, burn or step.')


def exposures_of(setting: Setting) -> tuple[Exposure, ...]:
    """The base exposure with its dodges, then each burn apart.

    A dodge is a part that gets less than the base: the dodger stays in for that long. Dodges follow
    each other for one hand with a second to change; what one hand cannot do the other takes.

    Raises
    ------
    ValueOutOfRange
        If two hands cannot do the dodges in the time.
    """
    base = Exposure(name="base", time=setting.time, dodges=_placed(setting))
    burns = tuple(
        Exposure(
            name=burn.name,
            part="burn",
            time=burn.time,
            filters="" if burn.pack is None or burn.pack == setting.pack else str(burn.pack),
        )
        for burn in setting.burns
        if burn.time > 0
    )
    return (base, *burns)


def strip_exposures(times: tuple[float, ...]) -> tuple[Exposure, ...]:
    """One exposure for each move of the card [s each], as planned for the strip."""
    if not times:
        raise ValueOutOfRange("A strip has no steps; give at least one exposure time.")
    return tuple(
        Exposure(name=f"step {number}", part="step" if number > 1 else "base", time=time)
        for number, time in enumerate(times, start=1)
    )


def _placed(setting: Setting) -> tuple[Dodge, ...]:
    free = [0.0, 0.0]
    placed = []
    for burn in sorted((b for b in setting.burns if b.time < 0), key=lambda b: b.time):
        for hand in (0, 1):
            if free[hand] - burn.time <= setting.time + 1e-9:
                begin = free[hand]
                placed.append(Dodge(name=burn.name, begin=begin, end=begin - burn.time, hand=hand + 1))
                free[hand] = begin - burn.time + CHANGE_HANDS
                break
        else:
            raise ValueOutOfRange(
                f'Dodge "{burn.name}" of {Figure(-burn.time):g} s does not fit: two hands are busy for the whole '
                f"{Figure(setting.time):g} s. Stop the lens down for a longer time, or dodge two parts with one card."
            )
    return tuple(placed)


def exposure_cues(exposure: Exposure) -> tuple[Cue, ...]:
    """Everything heard during one exposure; the light goes on at 0 and off at its time.

    Count-in on the seconds, "begin" at 0, a tick each second and the count spoken every fifth, "in" and
    "out" for each dodge, "end" when the light goes off. The tones are the plan; the words help.
    """
    cues = [Cue(at=float(-n), tone="count", say=spoken_number(n)) for n in range(COUNT_IN, 0, -1)]
    cues.append(Cue(at=0.0, tone="begin"))
    whole = math.ceil(exposure.time) - 1
    for second in range(1, whole + 1):
        left = exposure.time - second
        every_fifth = second % 5 == 0 and left > 1.5 and exposure.time > 6
        cues.append(
            Cue(
                at=float(second),
                tone="count" if left <= COUNT_IN else "tick",
                say=spoken_number(second % 60) if every_fifth else (),
            )
        )
    for number, dodge in enumerate(exposure.dodges, start=1):
        cues.append(Cue(at=dodge.begin, tone="in", say=("dodge", *spoken_number(number)) if dodge.begin >= 1 else ()))
        cues.append(Cue(at=dodge.end, tone="out"))
    cues.append(Cue(at=exposure.time, tone="end", say=("lamp_off",)))
    return in_order(cues)
