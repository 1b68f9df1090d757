"""Which cause is likely, and which test tells most for its minutes.

Causes are told apart by what is seen and by how tests come out. The likelihoods are elicited from
the trade's table of faults (common practice, no source): starting points that logged outcomes
overwrite. One tenth is always kept for something else.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from printlore.errors import ValueOutOfRange

Array = NDArray[np.float64]


class Place(StrEnum):
    """Where a cause sits, in the order in which to look: cheap and common first, the negative last."""

    LIGHT = "light"
    PAPER = "paper"
    PROCESS = "process"
    VIEWING = "viewing"
    NEGATIVE = "negative"
    ELSE = "something else"


ORDER = tuple(Place)
SOMETHING_ELSE = 0.10
"""[1] Share kept for what no list holds, however well the list fits (from memory)."""
UNSEEN = 0.06
"""[1] Chance that a symptom a cause does not lead to is seen all the same (from memory)."""
_PRIOR_COUNT = 20.0
"""How many logged outcomes the elicited shares are worth (from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """One thing that can be wrong.

    Attributes
    ----------
    name, place : str, Place
    share : float
        How often it is the culprit among the listed, before anything is seen (relative).
    signs : mapping of symptom to probability
        How often the symptom is seen when this is the cause; others are seen by chance.
    cure : str
        What to do, and never with filters.
    """

    name: str
    place: Place
    share: float
    signs: Mapping[str, float]
    cure: str


SYMPTOMS: Mapping[str, str] = {
    "all_shift": "all prints tonight are off the same way",
    "one_negative": "only this negative is off",
    "light_weak_blacks": "too light, blacks weak",
    "light_good_blacks": "too light, blacks good",
    "dark_grey_whites": "too dark, whites grey",
    "dark_clean_whites": "too dark, whites clean",
    "flat": "flat contrast",
    "harsh": "harsh contrast",
    "brown_blacks": "reddish or brown blacks, little cyan",
    "muddy": "muddy, dull dark colours",
    "yellow_whites": "yellow whites everywhere",
    "pink_whites": "pink or magenta whites",
    "cyan_whites": "cyan or blue veil in the whites",
    "edge_fog": "coloured fog from one edge",
    "streaks": "streaks or one end lighter",
    "crossover": "lights and shadows have opposite casts",
    "drift": "drifts through the evening",
    "next_day": "right last night, off today",
    "blank": "blank white sheet",
}

CAUSES: tuple[Cause, ...] = (
    Cause(
        name="lamp or mains",
        place=Place.LIGHT,
        share=0.10,
        signs={
            "all_shift": 0.8,
            "light_good_blacks": 0.4,
            "dark_clean_whites": 0.35,
            "drift": 0.35,
            "next_day": 0.1,
        },
        cure="Warm the lamp up, read the easel meter; then correct the time, not the pack. Mains that swing are for an "
        "electrician.",
    ),
    Cause(
        name="exposure slip (stop, time, height)",
        place=Place.LIGHT,
        share=0.09,
        signs={"light_good_blacks": 0.5, "dark_clean_whites": 0.5, "all_shift": 0.25},
        cure="Check f-number, time and height against the setting.",
    ),
    Cause(
        name="stray light or fogged paper",
        place=Place.LIGHT,
        share=0.06,
        signs={"edge_fog": 0.6, "dark_grey_whites": 0.6, "cyan_whites": 0.25, "yellow_whites": 0.15, "all_shift": 0.3},
        cure="Find the lamp or the leak; throw the outer sheets away.",
    ),
    Cause(
        name="other paper lot, or old paper",
        place=Place.PAPER,
        share=0.11,
        signs={"all_shift": 0.8, "yellow_whites": 0.3, "flat": 0.3, "crossover": 0.2, "dark_grey_whites": 0.2},
        cure="Print one strip of the old lot beside the new one and let the record carry the difference.",
    ),
    Cause(
        name="developer tired or diluted",
        place=Place.PROCESS,
        share=0.15,
        signs={"all_shift": 0.6, "light_weak_blacks": 0.7, "flat": 0.55, "crossover": 0.3, "drift": 0.5},
        cure="Top up or renew the developer; look at the bath's ledger.",
    ),
    Cause(
        name="developer cold or time short",
        place=Place.PROCESS,
        share=0.10,
        signs={"all_shift": 0.5, "light_weak_blacks": 0.65, "flat": 0.35, "drift": 0.35, "streaks": 0.1},
        cure="Measure in the drum, prewarm it, pour by the clock.",
    ),
    Cause(
        name="developer hot, strong or time long",
        place=Place.PROCESS,
        share=0.07,
        signs={"all_shift": 0.5, "dark_grey_whites": 0.35, "harsh": 0.5, "yellow_whites": 0.3, "pink_whites": 0.25},
        cure="Measure temperature and time; check how the bath was mixed.",
    ),
    Cause(
        name="developer oxidised",
        place=Place.PROCESS,
        share=0.06,
        signs={"pink_whites": 0.35, "yellow_whites": 0.35, "flat": 0.4, "light_weak_blacks": 0.35, "next_day": 0.5},
        cure="Renew it; keep bottles full and closed.",
    ),
    Cause(
        name="bleach-fix in the developer",
        place=Place.PROCESS,
        share=0.04,
        signs={"cyan_whites": 0.6, "flat": 0.35, "all_shift": 0.5, "light_weak_blacks": 0.3, "harsh": 0.1},
        cure="Discard the developer; keep jugs and funnels apart.",
    ),
    Cause(
        name="bleach-fix tired or short of air",
        place=Place.PROCESS,
        share=0.08,
        signs={"brown_blacks": 0.6, "muddy": 0.6, "yellow_whites": 0.2, "all_shift": 0.3},
        cure="Gloves, goggles, fan: shake air into it or renew it, and bleach-fix the prints again.",
    ),
    Cause(
        name="no stop or rinse before the bleach-fix",
        place=Place.PROCESS,
        share=0.04,
        signs={"pink_whites": 0.55, "streaks": 0.25, "yellow_whites": 0.2},
        cure="Put a fresh stop of 30 s between developer and bleach-fix.",
    ),
    Cause(
        name="uneven pour or drum",
        place=Place.PROCESS,
        share=0.06,
        signs={"streaks": 0.85, "light_weak_blacks": 0.1},
        cure="Prewash, more solution, level the drum, pour faster.",
    ),
    Cause(
        name="baths in the wrong order, or dead developer",
        place=Place.PROCESS,
        share=0.02,
        signs={"blank": 0.95},
        cure="Gloves on: put a scrap of paper in the developer with the lights on; live developer turns it dark.",
    ),
    Cause(
        name="judged wet, or by the wrong light",
        place=Place.VIEWING,
        share=0.09,
        signs={"next_day": 0.6, "all_shift": 0.3, "dark_clean_whites": 0.25},
        cure="Judge dry, by the standard light, beside the reference print.",
    ),
    Cause(
        name="the negative or its scene",
        place=Place.NEGATIVE,
        share=0.12,
        signs={"one_negative": 0.9, "crossover": 0.3},
        cure="Now filters are right.",
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultTest:
    """Something to try.

    Attributes
    ----------
    name, do : str
    minutes : float
        Of the printer's time [min].
    positive : mapping of cause to probability
        How often the test comes out yes when this is the cause; other causes: ``otherwise``.
    question : str
        To be answered yes or no.
    """

    name: str
    do: str
    question: str
    minutes: float
    positive: Mapping[str, float]
    otherwise: float = 0.08


_DEVELOPER = ("developer tired or diluted", "developer oxidised", "bleach-fix in the developer")
TESTS: tuple[FaultTest, ...] = (
    FaultTest(
        name="thermometer in the drum",
        do="Pour a rinse at developer temperature and read the thermometer in the drum; check the clock.",
        question="Is temperature or time off?",
        minutes=2,
        positive={"developer cold or time short": 0.85, "developer hot, strong or time long": 0.7},
        otherwise=0.07,
    ),
    FaultTest(
        name="bath's ledger",
        do="Look at the developer's ledger: its strength, its area, its age, how it was mixed.",
        question="Is it out of its usual range?",
        minutes=1,
        positive={
            "developer tired or diluted": 0.75,
            "developer oxidised": 0.65,
            "developer hot, strong or time long": 0.25,
        },
    ),
    FaultTest(
        name="dry and standard light",
        do="Dry the print and judge it again by the standard light beside the reference print.",
        question="Does the fault go away?",
        minutes=5,
        positive={"judged wet, or by the wrong light": 0.9},
        otherwise=0.05,
    ),
    FaultTest(
        name="setting and easel meter",
        do="Check f-number, time and height, and read the easel meter with the carrier empty.",
        question="Is the light or the setting off?",
        minutes=3,
        positive={"lamp or mains": 0.85, "exposure slip (stop, time, height)": 0.9},
        otherwise=0.05,
    ),
    FaultTest(
        name="control patch",
        do="Process a pre-exposed control patch.",
        question="Is it beyond its look limit?",
        minutes=13,
        positive={
            **dict.fromkeys(_DEVELOPER, 0.9),
            "developer cold or time short": 0.85,
            "developer hot, strong or time long": 0.85,
            "bleach-fix tired or short of air": 0.8,
            "no stop or rinse before the bleach-fix": 0.5,
            "uneven pour or drum": 0.3,
            "baths in the wrong order, or dead developer": 0.98,
        },
    ),
    FaultTest(
        name="blank strip in fresh developer",
        do="Process one unexposed strip in the baths and one in a little fresh developer.",
        question="Is only the strip from the old developer stained?",
        minutes=18,
        positive={
            "bleach-fix in the developer": 0.85,
            "developer oxidised": 0.7,
            "developer hot, strong or time long": 0.2,
        },
        otherwise=0.05,
    ),
    FaultTest(
        name="bleach-fix again",
        do="Gloves, goggles, fan: bleach-fix half of the print again in fresh, aerated solution.",
        question="Does that half change?",
        minutes=6,
        positive={"bleach-fix tired or short of air": 0.92},
        otherwise=0.05,
    ),
    FaultTest(
        name="turned in the drum",
        do="Print the same again on another sheet, turned round in the drum.",
        question="Does the fault stay with the drum?",
        minutes=13,
        positive={"uneven pour or drum": 0.9, "developer cold or time short": 0.15},
        otherwise=0.05,
    ),
    FaultTest(
        name="coins in the dark",
        do="Leave a sheet out in the dark with coins on it for five minutes, then process it.",
        question="Do the coins show?",
        minutes=18,
        positive={"stray light or fogged paper": 0.85},
        otherwise=0.03,
    ),
    FaultTest(
        name="old lot",
        do="Print the same setting on paper of the old lot.",
        question="Is the old lot right?",
        minutes=13,
        positive={"other paper lot, or old paper": 0.9, "stray light or fogged paper": 0.3},
        otherwise=0.05,
    ),
    FaultTest(
        name="standard negative",
        do="Print the standard negative at its setting.",
        question="Is it right?",
        minutes=13,
        positive={
            "the negative or its scene": 0.92,
            "uneven pour or drum": 0.4,
            "exposure slip (stop, time, height)": 0.5,
        },
        otherwise=0.08,
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """A cause and how likely it is now."""

    name: str
    place: Place
    probability: float
    cure: str


def _names() -> list[str]:
    return [*(cause.name for cause in CAUSES), Place.ELSE.value]


def shares(outcomes: Mapping[str, int] | None = None) -> Array:
    """How often each cause is the culprit before anything is seen; logged outcomes replace the elicited shares."""
    elicited = np.array([cause.share for cause in CAUSES])
    elicited = np.append(elicited / elicited.sum() * (1 - SOMETHING_ELSE), SOMETHING_ELSE)
    counts = np.array([float((outcomes or {}).get(name, 0)) for name in _names()])
    mixed = (_PRIOR_COUNT * elicited + counts) / (_PRIOR_COUNT + counts.sum())
    # something else never falls below its tenth by outcomes alone
    listed = mixed[:-1] / mixed[:-1].sum()
    rest = max(float(mixed[-1]), SOMETHING_ELSE)
    return np.append(listed * (1 - rest), rest)


def _chance(cause: Cause | None, symptom: str) -> float:
    if cause is None:
        return 0.2
    return cause.signs.get(symptom, UNSEEN)


def _test_chance(test: FaultTest, name: str) -> float:
    if name == Place.ELSE.value:
        return 0.3
    return test.positive.get(name, test.otherwise)


def diagnose(
    seen: Sequence[str],
    results: Mapping[str, bool] | None = None,
    *,
    not_seen: Sequence[str] = (),
    outcomes: Mapping[str, int] | None = None,
) -> tuple[Suspect, ...]:
    """Causes, likeliest first.

    Parameters
    ----------
    seen, not_seen : sequences of symptom names
        Keys of ``SYMPTOMS``; what was not asked is in neither.
    results : mapping of test name to yes or no
    outcomes : mapping of cause name to count
        How often each was found to be the culprit in this studio.

    Raises
    ------
    ValueOutOfRange
        If a symptom or test is not known, or one is both seen and not seen.
    """
    tests = {test.name: test for test in TESTS}
    for symptom in (*seen, *not_seen):
        if symptom not in SYMPTOMS:
            raise ValueOutOfRange(f'"{symptom}" is no symptom known here; use one of {", ".join(SYMPTOMS)}.')
    both = set(seen) & set(not_seen)
    if both:
        raise ValueOutOfRange(f'"{both.pop()}" is given as seen and as not seen; choose one.')
    for name in results or {}:
        if name not in tests:
            raise ValueOutOfRange(f'"{name}" is no test known here; use one of {", ".join(tests)}.')
    causes: list[Cause | None] = [*CAUSES, None]
    log = np.log(shares(outcomes))
    for symptom in set(seen):
        log += np.log([_chance(cause, symptom) for cause in causes])
    for symptom in set(not_seen):
        log += np.log([1 - _chance(cause, symptom) for cause in causes])
    for name, yes in (results or {}).items():
        chance = np.array([_test_chance(tests[name], cause) for cause in _names()])
        log += np.log(chance if yes else 1 - chance)
    posterior = np.exp(log - log.max())
    posterior /= posterior.sum()
    if posterior[-1] < SOMETHING_ELSE:
        posterior[:-1] *= (1 - SOMETHING_ELSE) / posterior[:-1].sum()
        posterior[-1] = SOMETHING_ELSE
    found = [
        Suspect(
            name=name,
            place=cause.place if cause else Place.ELSE,
            probability=float(p),
            cure=cause.cure if cause else "Nothing listed fits: change one thing at a time and write it down.",
        )
        for name, cause, p in zip(_names(), causes, posterior, strict=True)
    ]
    return tuple(sorted(found, key=lambda s: (-s.probability, ORDER.index(s.place))))


def entropy(probabilities: Sequence[float] | Array) -> float:
    """Doubt left, in bits."""
    p = np.asarray(probabilities, dtype=float)
    p = p[p > 0]
    return float(-(p * np.log2(p)).sum())


@dataclass(frozen=True, slots=True, kw_only=True)
class NextTest:
    """A test, how many bits of doubt it is expected to take away, and how many each minute."""

    test: FaultTest
    bits: float
    bits_a_minute: float
    splits: tuple[str, str]


def next_tests(suspects: Sequence[Suspect], done: Sequence[str] = ()) -> tuple[NextTest, ...]:
    """Tests not yet done, the one that takes most doubt away for its minutes first."""
    p = np.array([suspect.probability for suspect in suspects])
    before = entropy(p)
    found = []
    for test in TESTS:
        if test.name in done:
            continue
        chance = np.array([_test_chance(test, suspect.name) for suspect in suspects])
        yes = float(p @ chance)
        after = yes * entropy(p * chance / yes) + (1 - yes) * entropy(p * (1 - chance) / (1 - yes))
        bits = max(before - after, 0.0)
        for_yes = suspects[int(np.argmax(p * chance))].name
        for_no = suspects[int(np.argmax(p * (1 - chance)))].name
        found.append(NextTest(test=test, bits=bits, bits_a_minute=bits / test.minutes, splits=(for_yes, for_no)))
    return tuple(sorted(found, key=lambda one: (-one.bits_a_minute, one.test.minutes)))


def by_place(suspects: Sequence[Suspect]) -> tuple[tuple[Place, float], ...]:
    """Probability of each place, in the order to look: light, paper, process, viewing, then the negative."""
    return tuple(
        (place, math.fsum(suspect.probability for suspect in suspects if suspect.place is place)) for place in ORDER
    )
