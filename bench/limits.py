"""What can be known of a room at best: three printers who are told most of it.

The *information limit* is told all but the frame and the noise. The *ideal learner* is told the same, but what changes:
each new paper lot, each new bath with its ageing, and the lamp's walk it has to learn from its own prints, knowing the
laws they are drawn from. *Perfect* knowledge has the frame, too.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

import numpy as np
import scipy.linalg

from bench.rooms import MOST_CYCLES, STRIP_OF_SHEET, Desk, Job, Tally, is_good
from bench.trade import strip_of
from printroom.room import REFERENCE_F_NUMBER, REFERENCE_MAGNIFICATION, Conditions, Exposure, Outcome, Room

STEP = 1e-4
"""Of numerical slopes."""
SURE = 1e-14
"""Variance of what is known: a covariance must have an inverse."""


def limit(desk: Desk, with_reading: bool, tolerance: str, negatives: int) -> list[Tally]:
    """The information limit: all of the room is known but the frame and the noise; slips are told. Sheets only."""
    return play_knowing(desk, Told(desk.room), desk.jobs(negatives), tolerance, with_reading=with_reading)


def limit_with_strip(desk: Desk, with_reading: bool, tolerance: str, negatives: int) -> list[Tally]:
    """The same with a strip of five times, half-stops apart, before the first sheet: it pays where no reading tells."""
    changing, jobs = Told(desk.room), desk.jobs(negatives)
    return play_knowing(desk, changing, jobs, tolerance, with_reading=with_reading, with_strip=True)


def learner(desk: Desk, with_reading: bool, tolerance: str, negatives: int) -> list[Tally]:
    """The ideal learner: as the limit, but lots, baths, their ageing and the lamp are learned. Sheets only."""
    return play_knowing(desk, Learned(desk.room), desk.jobs(negatives), tolerance, with_reading=with_reading)


def perfect(desk: Desk, with_reading: bool, tolerance: str, negatives: int) -> list[Tally]:
    """Perfect knowledge: the frame is known too; only noise and the steps of dials and timer remain."""
    del with_reading
    room = desk.room
    tallies = []
    for job in desk.jobs(negatives):
        cycles, good = 0, False
        latent = room.latent_of(job.frame)
        while cycles < MOST_CYCLES and not good:
            exposure = nearest_setting(room, job, latent, room.shift(desk.conditions(job)))
            outcome = desk.expose(job, exposure, f"{job.frame} run {cycles}")
            desk.used(job, 1.0)
            cycles += 1
            good = is_good(room, outcome, tolerance)
        tallies.append(Tally(0, cycles, good))
    return tallies


class Told:
    """Lots, baths and the lamp as they are: nothing to learn."""

    def __init__(self, room: Room) -> None:
        self.room = room
        self.mean, self.covariance = np.zeros(0), np.zeros((0, 0))

    def meet(self, at: Conditions) -> None:
        """What is new since the last print."""

    def shift(self, unknown: np.ndarray, at: Conditions) -> np.ndarray:
        """(..., 3) log exposure that unknowns (..., n) add."""
        return np.broadcast_to(self.room.shift(at), (*unknown.shape[:-1], 3))


class Learned:
    """What is known of lot, bath, its change per m2/L and per day, and the lamp: three each, in this order."""

    LOT, BATH, AREA, DAY, LAMP = (slice(3 * place, 3 * place + 3) for place in range(5))

    def __init__(self, room: Room) -> None:
        self.law = room.change_prior()
        self.mean, self.covariance = np.zeros(15), SURE * np.eye(15)
        self.met = Conditions(lot="", bath="")

    def meet(self, at: Conditions) -> None:
        """A new lot or bath is drawn from its law whatever the last one was; the lamp walks on."""
        law = self.law
        if at.lot != self.met.lot:
            self._forget(self.LOT, np.zeros(3), law.lot)
        if at.bath != self.met.bath:
            self._forget(self.BATH, np.zeros(3), law.bath)
            self._forget(self.AREA, law.per_area, law.per_area_sd**2 * np.eye(3))
            self._forget(self.DAY, law.per_day, law.per_day_sd**2 * np.eye(3))
        self.covariance[self.LAMP, self.LAMP] += (at.date - self.met.date) * law.lamp
        self.met = at

    def _forget(self, where: slice, mean: np.ndarray, covariance: np.ndarray) -> None:
        self.mean[where] = mean
        self.covariance[where] = 0.0
        self.covariance[:, where] = 0.0
        self.covariance[where, where] = covariance + SURE * np.eye(3)

    def shift(self, unknown: np.ndarray, at: Conditions) -> np.ndarray:
        """(..., 3) log exposure that unknowns (..., 15) add."""
        lot, bath, area, day, lamp = np.moveaxis(unknown.reshape(*unknown.shape[:-1], 5, 3), -2, 0)
        found: np.ndarray = lot + bath + area * at.area_per_litre + day * at.age_days + lamp
        return found


def play_knowing(
    desk: Desk,
    changing: Told | Learned,
    jobs: Iterable[Job],
    tolerance: str,
    *,
    with_reading: bool,
    with_strip: bool = False,
    frames_told: bool = False,
) -> list[Tally]:
    """Sheets until each is good, by one who knows all of the room but frames, noise, and what changes."""
    room = desk.room
    tallies = []
    for job in jobs:
        changing.meet(desk.conditions(job))
        known = Known(room, job, changing, with_reading, told=frames_told)
        strips = sheets = 0
        good = False
        while strips + sheets < MOST_CYCLES and not good:
            at = desk.conditions(job)
            known.meet(at)
            run = f"{job.name} run {strips + sheets}"
            exposure = nearest_setting(room, job, known.latent, known.shift(at))
            if with_strip and not strips:
                strips = 1
                desk.used(job, STRIP_OF_SHEET)
                known.learn(desk.expose_strip(job, strip_of(exposure), run), at)
                continue
            outcome = desk.expose(job, exposure, run)
            desk.used(job, 1.0)
            sheets += 1
            good = is_good(room, outcome, tolerance)
            known.learn((outcome,), at)
        known.hand_on()
        tallies.append(Tally(strips, sheets, good))
    return tallies


Look = tuple[Callable[[np.ndarray], np.ndarray], np.ndarray, np.ndarray]
"""What unknowns would show, what was seen, and the covariance of its noise."""


class Known:
    """What is known of a frame's dye amounts (three) and of what changes: one normal law, by iterated linearisation."""

    def __init__(
        self, room: Room, job: Job, changing: Told | Learned, with_reading: bool, *, told: bool = False
    ) -> None:
        self.room, self.job, self.changing = room, job, changing
        law = room.latent_prior(job.film)
        mean, covariance = (room.latent_of(job.frame), SURE * np.eye(3)) if told else (law.mean, law.covariance)
        self.mean = np.concatenate([mean, changing.mean])
        self.covariance = scipy.linalg.block_diag(covariance, changing.covariance)
        self._begin()
        if with_reading:
            reading = room.read_negative(job.frame)
            noise = room.kind.negative_reading_sd**2 * np.eye(3)
            self._see([(lambda x: room.reading_for_latent(job.film, x[..., :3]), reading, noise)])

    def _begin(self) -> None:
        """From here on what was seen is counted anew."""
        self._prior, self._looks = (self.mean.copy(), np.linalg.inv(self.covariance)), list[Look]()

    @property
    def latent(self) -> np.ndarray:
        return self.mean[:3]

    def shift(self, at: Conditions) -> np.ndarray:
        """(3,) as believed."""
        return self.changing.shift(self.mean[3:], at)

    def meet(self, at: Conditions) -> None:
        """A bath may be changed between two sheets of one negative."""
        if isinstance(self.changing, Learned) and at.bath != self.changing.met.bath:
            changing = self.changing
            changing.mean, changing.covariance = self.mean[3:].copy(), self.covariance[3:, 3:].copy()
            changing.meet(at)
            kept = self.covariance[:3, 3:].copy()
            for where in (changing.BATH, changing.AREA, changing.DAY):
                kept[:, where] = 0.0
            self.mean = np.concatenate([self.mean[:3], changing.mean])
            self.covariance = np.block([[self.covariance[:3, :3], kept], [kept.T, changing.covariance]])
            self._begin()

    def hand_on(self) -> None:
        """What was learned of lots, baths and lamp, for the next frame."""
        self.changing.mean, self.changing.covariance = self.mean[3:].copy(), self.covariance[3:, 3:].copy()

    def learn(self, outcomes: Sequence[Outcome], at: Conditions) -> None:
        """From patches of one run: its noise is common to them."""
        room, film = self.room, self.job.film
        # a slip is told: it is neither the frame nor the noise
        made = [o.made if o.blunder else o.logged for o in outcomes]
        slopes = []
        for setting in made:
            middle = room.light_for_latent(film, self.latent, setting) + self.shift(at)
            density = room.density_at(middle + np.vstack([np.zeros(3), STEP * np.eye(3)]), at)[0]
            slopes.append((density[1:] - density[0]).T / STEP)
        stacked = np.vstack(slopes)
        noise = stacked @ room.run_covariance() @ stacked.T
        for place, slope in enumerate(slopes):
            own = slice(3 * place, 3 * place + 3)
            noise[own, own] += slope @ room.patch_covariance() @ slope.T
            noise[own, own] += room.kind.density_reading_sd**2 * np.eye(3)

        def predict(unknown: np.ndarray) -> np.ndarray:
            shift = self.changing.shift(unknown[..., 3:], at)
            light = [room.light_for_latent(film, unknown[..., :3], setting) for setting in made]
            return np.concatenate([room.density_at(one + shift, at)[0] for one in light], axis=-1)

        self._see([(predict, np.concatenate([o.measured for o in outcomes]), noise)])

    def _see(self, looks: list[Look]) -> None:
        self._looks += looks
        mean, inverse = self._prior
        points = np.vstack([np.zeros(len(mean)), STEP * np.eye(len(mean))])
        for _ in range(12):
            normal = inverse.copy()
            right = inverse @ (mean - self.mean)
            for predict, seen, noise in self._looks:
                values = predict(self.mean + points)
                slope = (values[1:] - values[0]).T / STEP
                weight = slope.T @ np.linalg.inv(noise)
                normal += weight @ slope
                right += weight @ (seen - values[0])
            step = np.linalg.solve(normal, right)
            self.mean = self.mean + step
            if np.abs(step).max() < 1e-8:
                break
        self.covariance = np.linalg.inv(normal)


def nearest_setting(room: Room, job: Job, latent: np.ndarray, shift: np.ndarray) -> Exposure:
    """Setting on the steps of dials and timer that is right for dye amounts (3,) and a shift (3,), both believed."""
    exact = room.right_setting_for_latent(
        job.film,
        latent,
        shift,
        f_number=job.f_number or REFERENCE_F_NUMBER,
        magnification=job.magnification or REFERENCE_MAGNIFICATION,
    )
    step, tick = room.kind.dial_step, room.kind.time_step
    dials = [[0.0] if v < 1e-9 else sorted({np.floor(v / step) * step, np.ceil(v / step) * step}) for v in exact.dials]
    best, best_miss = exact, np.inf
    for cyan in dials[0]:
        for magenta in dials[1]:
            for yellow in dials[2]:
                trial = replace(exact, cyan=float(cyan), magenta=float(magenta), yellow=float(yellow))
                h = room.light_for_latent(job.film, latent, trial) + shift
                time = exact.time * 10 ** float(-h @ np.array([0.3, 0.55, 0.15]))
                for seconds in {np.floor(time / tick) * tick, np.ceil(time / tick) * tick}:
                    timed = replace(trial, time=max(float(seconds), tick))
                    miss = room.light_for_latent(job.film, latent, timed) + shift
                    size = float(np.sqrt(miss @ np.diag([0.3, 1.0, 0.6]) @ miss))
                    if size < best_miss:
                        best, best_miss = timed, size
    return best
