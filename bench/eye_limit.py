"""What can be known from an eye's words alone: all of the room is told but the frame and the noise.

The printer knows the law of the eye, too: its scale, how far it errs, that it names the nearest of six casts, the
nearest viewing filter and tenths of a stop. What words say of a frame is reckoned with whole (no straight line stands
for it): frames are drawn, and each counts by how likely it makes what was said.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from bench.limits import STEP, nearest_setting
from bench.rooms import MOST_CYCLES, STRIP_OF_SHEET, Desk, Job, Tally, is_good
from bench.trade import strip_of
from printroom import eye
from printroom.chance import generator
from printroom.room import Conditions, Exposure, Outcome, Room

DRAWS, ROUNDS = 3000, 5
"""Frames drawn, and how often they are drawn anew about what was found."""
WIDER, FREEDOM = 1.6, 6
"""Drawn from Student's law with so much more variance, so that no likely frame is missed."""
HALF_SECTOR = np.pi / 6
"""Half of the angle in which one cast is the nearest."""
WEAKEST = 0.025
"""Half the weakest viewing filter: below it "none" is said [density]."""
_FILTERS = np.array([0.0, *eye.FILTERS])
_EDGES = np.concatenate([[0.0], (_FILTERS[1:] + _FILTERS[:-1]) / 2, [120.0]]) / 100
_FEW, _MORE = np.polynomial.legendre.leggauss(3), np.polynomial.legendre.leggauss(6)


def limit_by_eye(desk: Desk, with_reading: bool, tolerance: str, negatives: int) -> list[Tally]:
    """A strip of five half-stops of which the best patch is judged, then sheets, each judged; slips are told."""
    del with_reading
    room = desk.room
    tallies = []
    for job in desk.jobs(negatives):
        known = Seen(room, job)
        strips = sheets = 0
        good = False
        while strips + sheets < MOST_CYCLES and not good:
            at = desk.conditions(job)
            run = f"{job.name} run {strips + sheets}"
            exposure = nearest_setting(room, job, known.mean, room.shift(at))
            outcomes = desk.expose_strip(job, (exposure,) if strips else strip_of(exposure), run)
            desk.used(job, 1.0 if strips else STRIP_OF_SHEET)
            seen = [(outcome, room.judge(outcome, "printer")) for outcome in outcomes]
            outcome, said = min(seen, key=lambda pair: abs(pair[1].stops_too_dark))
            if strips:
                sheets += 1
                good = is_good(room, outcome, tolerance)
            strips = 1
            known.learn(outcome, said, at)
        tallies.append(Tally(strips, sheets, good))
    return tallies


@dataclass(frozen=True, slots=True)
class Look:
    """What was said of one patch, and how it was made.

    Attributes
    ----------
    slope : (3, 3) density by log exposure of each layer
    """

    made: Exposure
    said: eye.Judgement
    at: Conditions
    slope: np.ndarray


class Seen:
    """What is known of a frame's dye amounts: mean (3,) and covariance (3, 3)."""

    def __init__(self, room: Room, job: Job) -> None:
        self.room, self.job, self.scale = room, job, room.scale_of("printer")
        self.law = room.latent_prior(job.film)
        self.mean, self.covariance = self.law.mean.copy(), self.law.covariance.copy()
        self._looks: list[Look] = []
        self._rng = generator(room.seed, "eye limit", job.frame)

    def learn(self, outcome: Outcome, said: eye.Judgement, at: Conditions) -> None:
        """From one patch that was judged."""
        # a slip is told: it is neither the frame nor the noise
        made = outcome.made if outcome.blunder else outcome.logged
        middle = self._light(self.mean, made, at) + np.vstack([np.zeros(3), STEP * np.eye(3)])
        density = self.room.density_at(middle, at)[0]
        self._looks.append(Look(made, said, at, (density[1:] - density[0]).T / STEP))
        inverse = np.linalg.inv(self.law.covariance)
        for _ in range(ROUNDS):
            shares = np.sqrt(self._rng.chisquare(FREEDOM, DRAWS) / FREEDOM)[:, None]
            drawn = self._rng.standard_normal((DRAWS, 3)) / shares
            latent = self.mean + drawn @ np.linalg.cholesky(WIDER * self.covariance).T
            off = latent - self.law.mean
            log_weight = -0.5 * np.einsum("ni,ij,nj->n", off, inverse, off)
            log_weight += 0.5 * (FREEDOM + 3) * np.log1p((drawn**2).sum(axis=1) / FREEDOM)
            for look in self._looks:
                log_weight += np.log(self._likelihood(latent, look) + 1e-30)
            weight = np.exp(log_weight - log_weight.max())
            weight /= weight.sum()
            self.mean = weight @ latent
            off = latent - self.mean
            self.covariance = (weight[:, None] * off).T @ off + 1e-12 * np.eye(3)

    def _light(self, latent: np.ndarray, made: Exposure, at: Conditions) -> np.ndarray:
        return self.room.light_for_latent(self.job.film, latent, made) + self.room.shift(at)

    def _likelihood(self, latent: np.ndarray, look: Look) -> np.ndarray:
        """(n,) of dye amounts (n, 3)."""
        room = self.room
        error = room.density_at(self._light(latent, look.made, look.at), look.at)[0] - room.aim_density
        gradient = float(room.gradients().diagonal().mean())
        noise = look.slope @ (room.run_covariance() + room.patch_covariance()) @ look.slope.T
        noise = noise + (gradient * room.kind.eye_sd) ** 2 * np.eye(3)
        return probability_said(look.said, error, noise, gradient=gradient, scale=self.scale)


def probability_said(
    said: eye.Judgement, error: np.ndarray, noise: np.ndarray, *, gradient: float, scale: float
) -> np.ndarray:
    """(n,) that these words are said of density errors (n, 3), with noise of this covariance (3, 3) before they are."""
    place = int(np.argmin(np.abs(_FILTERS - said.strength)))
    casts = (said.cast,) if said.cast != "none" else tuple(eye.CASTS)
    low, high = (_EDGES[place], _EDGES[place + 1]) if said.cast != "none" else (0.0, WEAKEST)
    found: np.ndarray = np.zeros(len(error))
    for cast in casts:
        # darkness in stops, strength along the cast, and across it; mean and covariance of all three
        shape = np.array(eye.CASTS[cast])
        across = np.cross(shape, np.ones(3))
        across /= np.linalg.norm(across)
        see = np.array([eye.DARKNESS / gradient / eye.LOG10_PER_STOP, scale * 1.5 * shape, scale * 1.5**0.5 * across])
        mean, covariance = error @ see.T, see @ noise @ see.T
        inverse = np.linalg.inv(covariance[:2, :2])
        follows = covariance[2, :2] @ inverse
        left = np.sqrt(covariance[2, 2] - follows @ covariance[:2, 2])
        norm = 2 * np.pi * np.sqrt(np.linalg.det(covariance[:2, :2]))
        for dark, share in zip(said.stops_too_dark + 0.05 * _FEW[0], 0.05 * _FEW[1], strict=True):
            half = (high - low) / 2
            for strength, part in zip((low + high) / 2 + half * _MORE[0], half * _MORE[1], strict=True):
                off = np.array([dark, strength]) - mean[:, :2]
                height = np.exp(-0.5 * np.einsum("ni,ij,nj->n", off, inverse, off)) / norm
                middle, edge = mean[:, 2] + off @ follows, strength * np.tan(HALF_SECTOR)
                found += share * part * height * (ndtr((edge - middle) / left) - ndtr((-edge - middle) / left))
    return found
