"""Ways to get from a negative to a good print: Printlore, habits of the trade, and two limits of what can be known."""

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from bench.rooms import MOST_CYCLES, STRIP_OF_SHEET, Desk, Job, Piece, Sheet, Tally, is_good
from bench.trade import by_eye, handbook, handbook_without_strip, strip_of
from printlore import BathState, Exposed, FilterPack, Setting, Studio
from printlore.core.advice.advise import Advice
from printlore.core.memory.slips import suspects
from printlore.services.memory import current_memory
from printroom.room import Conditions, Exposure, Outcome, Room

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


def memory(desk: Desk, with_reading: bool, tolerance: str, negatives: int) -> list[Tally]:
    """Printlore through its driver: does what the advice says, logs what came out.

    The head is declared comfortable down to 2 s: with the default 4 s the advice would change the stop, which brings
    in an unknown error of that stop, where the limit keeps the lens as it is.
    """
    room = desk.room
    studio = Studio.in_memory()
    kind = "subtractive" if room.kind.head in ("vane", "gel") else room.kind.head
    studio.add_head(
        "head",
        kind=kind,
        usual=as_setting(room.usual),
        dial_step=room.kind.dial_step,
        timer_step=room.kind.time_step,
        shortest=SHORTEST,
    )
    studio.add_paper("paper", aim_density=vector(room.aim_density))
    studio.add_process("process")
    lots: set[str] = set()
    films: set[str] = set()
    baths: set[str] = set()
    tallies = []
    for job in desk.jobs(negatives):
        for name, known, add in (
            (job.lot, lots, lambda n: studio.add_lot(n, paper="paper")),
            (job.film, films, studio.add_film),
        ):
            if name not in known:
                add(name)
                known.add(name)
        reading = vector(room.read_negative(job.frame)) if with_reading else None
        studio.add_frame(job.frame, film=job.film, reading=reading, reading_error=room.kind.negative_reading_sd)
        strips = sheets = 0
        good = False
        foretold = []
        made: dict[str, tuple[Outcome, ...]] = {}
        while strips + sheets < MOST_CYCLES and not good:
            if desk.bath not in baths:
                studio.add_bath(desk.bath, process="process", day=job.day)
                baths.add(desk.bath)
            at = desk.conditions(job)
            state = BathState(area_per_litre=at.area_per_litre, age_days=at.age_days, strength=at.strength)
            where = {"head": "head", "lot": job.lot, "bath": desk.bath, "bath_state": state, "day": job.day}
            advice = studio.advise(job.frame, tolerance=tolerance, **where).advice
            strip = advice.next == "strip"
            wanted = advice.strip_settings if strip else (advice.setting,)
            run = f"{job.frame} run {strips + sheets}"
            outcomes = desk.expose_strip(job, tuple(as_exposure(s) for s in wanted), run)
            studio.log(
                job.frame,
                [
                    Exposed(
                        setting=as_setting(o.logged),
                        density=vector(o.measured),
                        standard_error=room.kind.density_reading_sd,
                    )
                    for o in outcomes
                ],
                run=run,
                strip=strip,
                **where,
            )
            desk.used(job, STRIP_OF_SHEET if strip else 1.0)
            made[run] = outcomes
            if strip:
                strips += 1
                continue
            sheets += 1
            good = is_good(room, outcomes[0], tolerance)
            foretold.append(_sheet(advice, outcomes[0], sheets, strips > 0, good))
        pieces = pieces_named(studio, job.frame, made)
        tallies.append(Tally(strips, sheets, good, tuple(foretold), pieces))
    return tallies


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


def limit(desk: Desk, with_reading: bool, tolerance: str, negatives: int) -> list[Tally]:
    """The information limit: all of the room is known but the frame and the noise; slips are told. Sheets only."""
    return _limit(desk, with_reading, tolerance, negatives, with_strip=False)


def limit_with_strip(desk: Desk, with_reading: bool, tolerance: str, negatives: int) -> list[Tally]:
    """The same with a strip of five times, half-stops apart, before the first sheet: it pays where no reading tells."""
    return _limit(desk, with_reading, tolerance, negatives, with_strip=True)


def _limit(desk: Desk, with_reading: bool, tolerance: str, negatives: int, with_strip: bool) -> list[Tally]:
    room = desk.room
    tallies = []
    for job in desk.jobs(negatives):
        knowledge = Frame(room, job, with_reading)
        strips = sheets = 0
        good = False
        while strips + sheets < MOST_CYCLES and not good:
            at = desk.conditions(job)
            run = f"{job.frame} run {strips + sheets}"
            exact = room.right_setting_for_latent(job.film, knowledge.mean, at)
            exposure = on_the_steps(room, job, exact, knowledge.mean, at)
            if with_strip and not strips:
                strips = 1
                desk.used(job, STRIP_OF_SHEET)
                knowledge.learn(desk.expose_strip(job, strip_of(exposure), run), at)
                continue
            outcome = desk.expose(job, exposure, run)
            desk.used(job, 1.0)
            sheets += 1
            good = is_good(room, outcome, tolerance)
            if not good:
                knowledge.learn((outcome,), at)
        tallies.append(Tally(strips, sheets, good))
    return tallies


def perfect(desk: Desk, with_reading: bool, tolerance: str, negatives: int) -> list[Tally]:
    """Perfect knowledge: the frame is known too; only noise and the steps of dials and timer remain."""
    del with_reading
    room = desk.room
    tallies = []
    for job in desk.jobs(negatives):
        cycles, good = 0, False
        latent = room.latent_of(job.frame)
        while cycles < MOST_CYCLES and not good:
            at = desk.conditions(job)
            exact = room.right_setting_for_latent(job.film, latent, at)
            outcome = desk.expose(job, on_the_steps(room, job, exact, latent, at), f"{job.frame} run {cycles}")
            desk.used(job, 1.0)
            cycles += 1
            good = is_good(room, outcome, tolerance)
        tallies.append(Tally(0, cycles, good))
    return tallies


class Frame:
    """What is known of a frame's dye amounts: a normal law, brought up to date by iterated linearisation."""

    def __init__(self, room: Room, job: Job, with_reading: bool) -> None:
        self.room, self.job = room, job
        prior = room.latent_prior(job.film)
        self.prior = prior
        self.mean = prior.mean.copy()
        self.looks: list[tuple[Callable[[np.ndarray], np.ndarray], np.ndarray, np.ndarray]] = []
        if with_reading:
            reading = room.read_negative(job.frame)
            noise = room.kind.negative_reading_sd**2 * np.eye(3)
            self.looks.append((lambda x: room.reading_for_latent(job.film, x), reading, noise))
            self._settle()

    def learn(self, outcomes: Sequence[Outcome], at: Conditions) -> None:
        """From patches of one run: its noise is common to them."""
        room, film = self.room, self.job.film
        # a slip is told: it is neither the frame nor the noise
        made = [o.made if o.blunder else o.logged for o in outcomes]
        slopes = []
        for setting in made:
            points = room.log_exposure_for_latent(film, self.mean, setting, at) + np.vstack(
                [np.zeros(3), 1e-4 * np.eye(3)]
            )
            density = room.density_at(points, at)[0]
            slopes.append((density[1:] - density[0]).T / 1e-4)
        stacked = np.vstack(slopes)
        noise = stacked @ room.run_covariance() @ stacked.T
        for place, slope in enumerate(slopes):
            own = slice(3 * place, 3 * place + 3)
            noise[own, own] += slope @ room.patch_covariance() @ slope.T
            noise[own, own] += room.kind.density_reading_sd**2 * np.eye(3)

        def predict(latent: np.ndarray) -> np.ndarray:
            return np.concatenate([room.density_for_latent(film, latent, setting, at) for setting in made], axis=-1)

        self.looks.append((predict, np.concatenate([o.measured for o in outcomes]), noise))
        self._settle()

    def _settle(self) -> None:
        inverse = np.linalg.inv(self.prior.covariance)
        for _ in range(12):
            normal = inverse.copy()
            right = inverse @ (self.prior.mean - self.mean)
            for predict, seen, noise in self.looks:
                points = self.mean + np.vstack([np.zeros(3), 1e-4 * np.eye(3)])
                values = predict(points)
                slope = (values[1:] - values[0]).T / 1e-4
                weight = slope.T @ np.linalg.inv(noise)
                normal += weight @ slope
                right += weight @ (seen - values[0])
            step = np.linalg.solve(normal, right)
            self.mean = self.mean + step
            if np.abs(step).max() < 1e-8:
                return


def on_the_steps(room: Room, job: Job, exact: Exposure, latent: np.ndarray, at) -> Exposure:
    """Setting on the steps of dials and timer that comes nearest to the aim without noise."""
    step, tick = room.kind.dial_step, room.kind.time_step
    dials = [[0.0] if v < 1e-9 else sorted({np.floor(v / step) * step, np.ceil(v / step) * step}) for v in exact.dials]
    best, best_miss = exact, np.inf
    for cyan in dials[0]:
        for magenta in dials[1]:
            for yellow in dials[2]:
                trial = replace(exact, cyan=float(cyan), magenta=float(magenta), yellow=float(yellow))
                h = room.log_exposure_for_latent(job.film, latent, trial, at)
                time = exact.time * 10 ** float(-h @ np.array([0.3, 0.55, 0.15]))
                for seconds in {np.floor(time / tick) * tick, np.ceil(time / tick) * tick}:
                    timed = replace(trial, time=max(float(seconds), tick))
                    miss = room.log_exposure_for_latent(job.film, latent, timed, at)
                    size = float(np.sqrt(miss @ np.diag([0.3, 1.0, 0.6]) @ miss))
                    if size < best_miss:
                        best, best_miss = timed, size
    return best


POLICIES: dict[str, Policy] = {
    "memory": memory,
    "limit": limit,
    "limit, strip first": limit_with_strip,
    "perfect": perfect,
    "handbook": handbook,
    "handbook, no strip": handbook_without_strip,
    "by eye": by_eye,
}
READS = {"memory", "limit", "limit, strip first", "handbook", "handbook, no strip"}
"""Policies for which a reading of the negative makes a difference."""
