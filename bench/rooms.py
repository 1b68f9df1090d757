"""One simulated room with its evening routine: the same negatives, lots, baths and noise for every policy."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial

import numpy as np

from bench.published import PUBLISHED_KINDS, published_paper
from printroom.chance import generator
from printroom.kinds import KINDS, STEADY_VANE
from printroom.room import Conditions, Exposure, Outcome, Room

FILMS = ("film A", "film B", "film C")
NEGATIVES_PER_LOT = 18
PRINTS_PER_BATH = 24
AREA_PER_SHEET = 0.0516
"""m2 of a 20.3 x 25.4 cm sheet."""
BATH_LITRES = 0.5
DAYS_BETWEEN_EVENINGS = 2.0
NEGATIVES_PER_EVENING = 3
MOST_CYCLES = 12
WORD_SD = 0.25
STRIP_OF_SHEET = 0.1
"""Paper of a strip [sheet]."""
KINDS_WITH_NEW_BATHS = ("ageing baths", "noisy gel")
"""Rooms that use a half-litre up and mix another; elsewhere one bath is kept steady by topping up."""


@dataclass(frozen=True, slots=True)
class Job:
    """A negative to be printed, and when; its size and stop if they are not the room's usual ones."""

    number: int
    frame: str
    film: str
    lot: str
    day: float
    magnification: float | None = None
    f_number: float | None = None
    again: bool = False

    @property
    def name(self) -> str:
        """What its runs are called by: a print made again has noise of its own."""
        return f"{self.frame} again" if self.again else self.frame


@dataclass(slots=True)
class Desk:
    """What every policy meets: a room, jobs in order, a bath that ages with what is developed in it."""

    room: Room
    paper: str = "paper"
    bath: str = "bath 1"
    baths: int = 1
    mixed: float = 0.0
    area: float = 0.0
    one_bath: bool = True

    @classmethod
    def of(cls, kind: str, seed: int) -> "Desk":
        if kind in PUBLISHED_KINDS:
            room = Room(seed=seed, kind=STEADY_VANE, draw=partial(published_paper, PUBLISHED_KINDS[kind]))
        else:
            room = Room(seed=seed, kind=KINDS[kind])
        for film in FILMS:
            room.add_film(film)
        room.add_lot("lot 1")
        room.add_bath("bath 1")
        return cls(room, one_bath=kind not in KINDS_WITH_NEW_BATHS)

    def expected_scatter(self) -> float:
        """What its printer says of prints made alike [CC]: right to about a quarter, as people are (assumed)."""
        word = np.exp(WORD_SD * generator(self.room.seed, "printer's word").standard_normal())
        return round(100 * self.room.kind.run_sd * float(word), 1)

    def jobs(self, negatives: int) -> Iterator[Job]:
        """Negatives in the order printed; films come mixed, a new lot is opened now and then."""
        lots = {"lot 1"}
        for number in range(negatives):
            lot = f"lot {1 + number // NEGATIVES_PER_LOT}"
            if lot not in lots:
                self.room.add_lot(lot)
                lots.add(lot)
            film = FILMS[(number * 7 // 3) % len(FILMS)]
            frame = self.room.add_frame(film, f"negative {number + 1}")
            day = DAYS_BETWEEN_EVENINGS * (number // NEGATIVES_PER_EVENING)
            yield Job(number, frame, film, lot, day)

    def conditions(self, job: Job) -> Conditions:
        if self.one_bath:
            return self.room.conditions(job.lot, self.bath, date=job.day)
        return self.room.conditions(
            job.lot,
            self.bath,
            area_per_litre=self.area / BATH_LITRES,
            age_days=max(job.day - self.mixed, 0.0),
            date=job.day,
        )

    def expose(self, job: Job, exposure: Exposure, run: str) -> Outcome:
        return self.expose_strip(job, (exposure,), run)[0]

    def expose_strip(self, job: Job, exposures: tuple[Exposure, ...], run: str) -> tuple[Outcome, ...]:
        return self.room.expose_strip(job.frame, exposures, self.conditions(job), run=run)

    def used(self, job: Job, share: float) -> None:
        """Count the paper developed; mix a new bath when the old one has done its work."""
        self.area += AREA_PER_SHEET * share
        if not self.one_bath and self.area > AREA_PER_SHEET * PRINTS_PER_BATH:
            self.baths += 1
            self.bath = f"bath {self.baths}"
            self.room.add_bath(self.bath)
            self.area, self.mixed = 0.0, job.day


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet as it was foretold and as it came out.

    Attributes
    ----------
    order : how many-th sheet of its negative, from 1
    after_strip : whether a strip of this negative was read before
    probability : stated probability of a good print
    good : whether it was
    off : (3,) true density less the foretold, in stated standard errors
    blunder : whether the room slipped
    """

    order: int
    after_strip: bool
    probability: float
    good: bool
    off: tuple[float, float, float]
    blunder: bool


@dataclass(frozen=True, slots=True)
class Piece:
    """A strip or sheet: whether the room slipped, whether that was said, and with the right slip."""

    blunder: bool
    named: bool
    rightly: bool = False


@dataclass(frozen=True, slots=True)
class Tally:
    """What one negative took.

    Attributes
    ----------
    strips, sheets : int
    good : whether a good print came out before ``MOST_CYCLES``
    foretold : its sheets, where the policy foretells
    pieces : all its paper, where the policy names slips
    """

    strips: int
    sheets: int
    good: bool
    foretold: tuple[Sheet, ...] = ()
    pieces: tuple[Piece, ...] = ()

    @property
    def cycles(self) -> int:
        return self.strips + self.sheets

    @property
    def paper(self) -> float:
        """In sheets."""
        return self.sheets + STRIP_OF_SHEET * self.strips


def good_alone(room: Room, outcome: Outcome, colour_cc: float = 2.5, time_share: float = 0.10) -> bool:
    """Within CC and time of right, noise included: errors of magenta and yellow against cyan, and of the mean layer."""
    error = outcome.log_exposure
    colour = float(np.abs(error[1:] - error[0]).max())
    return colour <= colour_cc / 100 and abs(float(error.mean())) <= float(np.log10(1 + time_share))


def is_good(room: Room, outcome: Outcome, tolerance: str) -> bool:
    if tolerance == "edition match":
        return bool(room.delta_e(outcome) <= 3.0)
    return good_alone(room, outcome)
