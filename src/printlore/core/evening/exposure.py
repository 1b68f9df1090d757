"""An exposure as cues: count-in, one tick a second, dodges in and out, light off."""

import math
from dataclasses import dataclass, replace

from printlore.core.evening.cues import Cue, in_order, spoken_number
from printlore.core.figure import Figure
from printlore.core.light.setting import LONGEST_TIME, Setting
from printlore.core.light.three_lights import lights_of
from printlore.errors import ValueOutOfRange

COUNT_IN = 3
"""[s] Spoken seconds before the light."""

LIGHTS = ("red", "green", "blue")
"""In the order in which a head that gives them in turn gives them."""

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
    light : str
        "red", "green" or "blue" where a head gives the three in turn; empty: all of its light at once.

    Raises
    ------
    ValueOutOfRange
        If the time, the part or the light cannot be.
    """

    name: str
    part: str = "base"
    time: float
    filters: str = ""
    dodges: tuple[Dodge, ...] = ()
    light: str = ""

    def __post_init__(self) -> None:
        if not (math.isfinite(self.time) and 0 < self.time <= LONGEST_TIME):
            raise ValueOutOfRange(
                f'Exposure "{self.name}" is {Figure(self.time):g} s; it must be above 0 and at most '
                f"{Figure(LONGEST_TIME):g}."
            )
        if self.part not in ("base", "burn", "step"):
            raise ValueOutOfRange(f'Exposure "{self.name}" is a "{self.part}"; it must be base, burn or step.')
        if self.light not in ("", *LIGHTS):
            raise ValueOutOfRange(f'Exposure "{self.name}" is in "{self.light}" light; it must be {", ".join(LIGHTS)}.')


def exposures_of(setting: Setting, *, in_turn: float | None = None) -> tuple[Exposure, ...]:
    """The base exposure with its dodges, then each burn apart.

    A dodge is a part that gets less than the base: the dodger stays in for that long. Dodges follow
    each other for one hand with a second to change; what one hand cannot do the other takes.

    Parameters
    ----------
    in_turn : float, optional
        Step of the timer [s] of a head that gives red, green and blue light one after the other: each exposure is
        three then, and a dodger is in for the same share of each.

    Raises
    ------
    ValueOutOfRange
        If two hands cannot do the dodges in the time.
    """
    burns = tuple(burn for burn in setting.burns if burn.time > 0)
    given = [(replace(setting, burns=tuple(burn for burn in setting.burns if burn.time < 0)), "base", "base", "")]
    for burn in burns:
        other = burn.pack is not None and burn.pack != setting.pack
        made = replace(setting, time=burn.time, pack=burn.pack or setting.pack, burns=())
        given.append((made, burn.name, "burn", str(burn.pack) if other else ""))
    return tuple(
        exposure for made, name, part, filters in given for exposure in _given(made, name, part, filters, in_turn)
    )


def strip_exposures(
    times: tuple[float, ...], *, setting: Setting | None = None, in_turn: float | None = None
) -> tuple[Exposure, ...]:
    """One exposure for each move of the card [s each], as planned for the strip; three, if lights are given in turn.

    Parameters
    ----------
    setting : Setting
        Of the strip; needed if lights are given in turn.
    in_turn : float, optional
        As in ``exposures_of``.
    """
    if not times:
        raise ValueOutOfRange("A strip has no steps; give at least one exposure time.")
    found: list[Exposure] = []
    had = dict.fromkeys(LIGHTS, 0.0)
    for number, time in enumerate(times, start=1):
        name, part = f"step {number}", "step" if number > 1 else "base"
        if setting is None or in_turn is None:
            found.append(Exposure(name=name, part=part, time=time))
            continue
        # what a step has had in all is rounded to the timer, lest small moves add up to another colour
        reached = lights_of(replace(setting, time=sum(times[:number])), in_turn=True, step=in_turn).as_tuple()
        for light, until in zip(LIGHTS, reached, strict=True):
            seconds = max(round(until - had[light], 6), in_turn)
            had[light] += seconds
            found.append(Exposure(name=name, part=part, time=seconds, light=light))
    return tuple(found)


def stretches(exposures: tuple[Exposure, ...]) -> list[tuple[Exposure, ...]]:
    """Exposures as they were planned: each by itself, and three lights in turn together."""
    found: list[tuple[Exposure, ...]] = []
    for exposure in exposures:
        if exposure.light in ("", LIGHTS[0]):
            found.append((exposure,))
        else:
            found[-1] = (*found[-1], exposure)
    return found


def _given(made: Setting, name: str, part: str, filters: str, in_turn: float | None) -> list[Exposure]:
    """All light at once, or three lights in turn."""
    if in_turn is None:
        return [Exposure(name=name, part=part, time=made.time, filters=filters, dodges=_placed(made))]
    found = []
    for light, seconds in zip(LIGHTS, lights_of(made, in_turn=True, step=in_turn).as_tuple(), strict=True):
        share = seconds / made.time
        dodges = tuple(replace(dodge, time=round(dodge.time * share, 2)) for dodge in made.burns)
        placed = _placed(replace(made, time=seconds, burns=dodges), light)
        found.append(Exposure(name=name, part=part, time=seconds, filters=filters, dodges=placed, light=light))
    return found


def _placed(setting: Setting, light: str = "") -> tuple[Dodge, ...]:
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
                f"{Figure(setting.time):g} s{f' of {light} light' if light else ''}. Stop the lens down for a longer "
                "time, or dodge two parts with one card."
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
