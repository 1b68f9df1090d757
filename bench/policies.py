"""Ways to get from a negative to a good print: Printlore, habits of the trade, and limits of what can be known."""

from collections.abc import Callable, Sequence
from copy import copy

import numpy as np

from bench.eye_limit import limit_by_eye
from bench.limits import learner, limit, limit_with_strip, perfect
from bench.rooms import MOST_CYCLES, STRIP_OF_SHEET, Desk, Job, Piece, Sheet, Tally, is_good
from bench.trade import by_eye, handbook, handbook_without_strip
from printlore import BathState, Exposed, FilterPack, Judgement, Setting, Studio
from printlore.core.advice.advise import Advice
from printlore.core.memory.evidence import Cast
from printlore.core.memory.slips import suspects
from printlore.services.memory import current_memory
from printroom.room import Exposure, Outcome

Policy = Callable[[Desk, bool, str, int], list[Tally]]


SHORTEST = 2.0
"""Comfortable time that the head is declared with [s]."""


def as_setting(exposure: Exposure) -> Setting:
    return Setting(
        pack=FilterPack(cyan=exposure.cyan, magenta=exposure.magenta, yellow=exposure.yellow),
        time=exposure.time,
        f_number=exposure.f_number,
        magnification=exposure.magnification,
    )


def as_exposure(setting: Setting) -> Exposure:
    pack = setting.pack
    return Exposure(
        cyan=pack.cyan,
        magenta=pack.magenta,
        yellow=pack.yellow,
        time=setting.time,
        f_number=setting.f_number,
        magnification=setting.magnification,
    )


def vector(values: np.ndarray) -> tuple[float, float, float]:
    return float(values[0]), float(values[1]), float(values[2])


def memory_told(desk: Desk, with_reading: bool, tolerance: str, negatives: int) -> list[Tally]:
    """The same, told beforehand how well this room's prints repeat, as its printer would say."""
    return memory(desk, with_reading, tolerance, negatives, alike=desk.expected_scatter())


def memory(
    desk: Desk, with_reading: bool, tolerance: str, negatives: int, *, alike: float | None = None
) -> list[Tally]:
    """Printlore through its driver: does what the advice says, logs what came out."""
    printer = Printer(desk, Studio.in_memory(), tolerance, alike)
    return [printer.take(job, with_reading) for job in desk.jobs(negatives)]


def memory_by_eye(desk: Desk, with_reading: bool, tolerance: str, negatives: int) -> list[Tally]:
    """The same, but nothing is measured: of each piece the best patch is judged, as in the habit ``by_eye``."""
    del with_reading
    printer = Printer(desk, Studio.in_memory(), tolerance, by_eye=True)
    return [printer.take(job, with_reading=False) for job in desk.jobs(negatives)]


class Printer:
    """Works by the advice: exposes what it says, logs what came out, until the print is good.

    The head is declared comfortable down to 2 s: with the default 4 s the advice would change the stop, which brings
    in an unknown error of that stop, where the limit keeps the lens as it is.

    Attributes
    ----------
    desk, studio
        The room as it is now, and the record of it.
    good : dict
        Last good sheet of each negative.
    """

    def __init__(
        self, desk: Desk, studio: Studio, tolerance: str, alike: float | None = None, *, by_eye: bool = False
    ) -> None:
        self.desk, self.studio, self.tolerance, self.by_eye = desk, studio, tolerance, by_eye
        self.good: dict[str, Outcome] = {}
        self._known: set[str] = set()
        room = desk.room
        if alike is not None:
            studio.expect_repeats(alike)
        kind = "subtractive" if room.kind.head in ("vane", "gel") else room.kind.head
        studio.add_head(
            "head",
            kind=kind,
            usual=as_setting(room.usual),
            dial_step=room.kind.dial_step,
            timer_step=room.kind.time_step,
            shortest=SHORTEST,
        )
        studio.add_process("process")

    def elsewhere(self, desk: Desk, studio: Studio) -> "Printer":
        """The same printer with a copy of the room and of the record."""
        other = copy(self)
        other.desk, other.studio, other.good, other._known = desk, studio, dict(self.good), set(self._known)
        return other

    def take(self, job: Job, with_reading: bool) -> Tally:
        """Print a negative that was never printed."""
        room, studio = self.desk.room, self.studio
        self.declare(job)
        reading = vector(room.read_negative(job.frame)) if with_reading else None
        studio.add_frame(job.frame, film=job.film, reading=reading, reading_error=room.kind.negative_reading_sd)
        return self.print(job)

    def print(self, job: Job) -> Tally:
        """Strips and sheets of a negative until one is good."""
        desk, room, studio = self.desk, self.desk.room, self.studio
        strips = sheets = 0
        good = False
        foretold = []
        made: dict[str, tuple[Outcome, ...]] = {}
        while strips + sheets < MOST_CYCLES and not good:
            self.declare(job)
            at = desk.conditions(job)
            state = BathState(area_per_litre=at.area_per_litre, age_days=at.age_days, strength=at.strength)
            where = {"head": "head", "lot": job.lot, "bath": desk.bath, "bath_state": state, "day": job.day}
            advice = studio.advise(
                job.frame, tolerance=self.tolerance, magnification=job.magnification, f_number=job.f_number, **where
            ).advice
            strip = advice.next == "strip"
            wanted = advice.strip_settings if strip else (advice.setting,)
            run = f"{job.name} run {strips + sheets}"
            outcomes = desk.expose_strip(job, tuple(as_exposure(s) for s in wanted), run)
            studio.log(job.frame, self._told(outcomes), run=run, strip=strip, **where)
            desk.used(job, STRIP_OF_SHEET if strip else 1.0)
            made[run] = outcomes
            if strip:
                strips += 1
                continue
            sheets += 1
            good = is_good(room, outcomes[0], self.tolerance)
            if good:
                self.good[job.frame] = outcomes[0]
            foretold.append(_sheet(advice, outcomes[0], sheets, strips > 0, good))
        return Tally(strips, sheets, good, tuple(foretold), pieces_named(studio, job.frame, made))

    def _told(self, outcomes: Sequence[Outcome]) -> list[Exposed]:
        """What is logged of a piece: every patch measured, or the one judged that looks nearest to right."""
        room = self.desk.room
        if not self.by_eye:
            error = room.kind.density_reading_sd
            return [
                Exposed(setting=as_setting(o.logged), density=vector(o.measured), standard_error=error)
                for o in outcomes
            ]
        seen = [room.judge(outcome, "printer") for outcome in outcomes]
        best = min(range(len(seen)), key=lambda place: abs(seen[place].stops_too_dark))
        said = Judgement(
            cast=Cast(seen[best].cast), strength=seen[best].strength, stops_too_dark=seen[best].stops_too_dark
        )
        return [
            Exposed(setting=as_setting(o.logged), judgement=said if place == best else None)
            for place, o in enumerate(outcomes)
        ]

    def declare(self, job: Job) -> None:
        """What the studio does not know yet of paper, bath and film."""
        desk, studio = self.desk, self.studio
        if desk.paper not in self._known:
            studio.add_paper(desk.paper, aim_density=vector(desk.room.aim_density))
        if job.lot not in self._known:
            studio.add_lot(job.lot, paper=desk.paper)
        if desk.bath not in self._known:
            studio.add_bath(desk.bath, process="process", day=job.day)
        if job.film not in self._known:
            studio.add_film(job.film)
        self._known |= {desk.paper, job.lot, desk.bath, job.film}


def pieces_named(studio: Studio, frame: str, made: dict[str, tuple[Outcome, ...]]) -> tuple[Piece, ...]:
    """Every run of a frame: whether the room slipped, whether that is said once the frame is done, and rightly."""
    solved = current_memory(studio.database)
    runs = {trial.name: trial.run for trial in solved.evidence.trials if trial.frame == frame}
    named = {runs[one.trial]: one for one in suspects(solved, [frame]) if one.probability >= 0.5}
    pieces = []
    for run, outcomes in made.items():
        suspect = named.get(run)
        rightly = False
        if suspect is not None and suspect.as_if is not None and outcomes[suspect.patch].blunder:
            rightly = _same(as_exposure(suspect.as_if), outcomes[suspect.patch].made)
        pieces.append(Piece(any(o.blunder for o in outcomes), suspect is not None, rightly))
    return tuple(pieces)


def _same(told: Exposure, made: Exposure) -> bool:
    """One setting, but for the dials' and timer's own errors; time and stop count together as light."""
    light = np.log10(told.time / made.time) - 2 * np.log10(told.f_number / made.f_number)
    return bool(np.abs(told.dials - made.dials).max() < 1.0 and abs(light) < 0.03)


def _sheet(advice: Advice, outcome: Outcome, order: int, after_strip: bool, good: bool) -> Sheet:
    off = [
        (truth - estimate.value) / estimate.standard_error
        for estimate, truth in zip(advice.predicted_density, outcome.density.tolist(), strict=True)
    ]
    return Sheet(order, after_strip, advice.probability_good, good, vector(off), bool(outcome.blunder))


POLICIES: dict[str, Policy] = {
    "memory": memory,
    "memory, told": memory_told,
    "memory, by eye": memory_by_eye,
    "limit": limit,
    "limit, strip first": limit_with_strip,
    "limit, by eye": limit_by_eye,
    "ideal learner": learner,
    "perfect": perfect,
    "handbook": handbook,
    "handbook, no strip": handbook_without_strip,
    "by eye": by_eye,
}
READS = {"memory", "memory, told", "limit", "limit, strip first", "ideal learner", "handbook", "handbook, no strip"}
"""Policies for which a reading of the negative makes a difference."""
