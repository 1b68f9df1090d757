"""How a bath wears and what that does to paper: usual figures, and what control patches teach.

A control patch gives twelve departures from the aim: white, light step, contrast (dark less light
step) and black, each in red, green and blue. Each is taken as a sum of straight lines in the loss of
strength, its square, the by-products and the age that the ledger works out, plus an offset of this
bath. Four figures of wear and the slopes are learned together; a bath that follows starts from what
the last one taught, a little less sure.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from printlore.core.bath.balance import AMOUNTS, Wear, Wears, trace
from printlore.core.bath.pours import Carry, Ledger, Looked, order_events
from printlore.core.control.limits import CHANNELS, QUANTITIES
from printlore.core.figure import Figure
from printlore.core.flags import Flag
from printlore.core.memory.priors import Priors
from printlore.errors import ValueOutOfRange

Array = NDArray[np.float64]

DEPARTURES = len(QUANTITIES) * len(CHANNELS)
"""In order: all channels of white, then of the light step, the contrast, the black."""

WEAR = ("consumption", "oxidation", "air", "carry")
"""Figures of wear, learned as logs: ``Wear``'s three, and the factor on usual carry-in and carry-out."""
_SLOPES = 4
_WEAR = len(WEAR)
SIZE = _WEAR + _SLOPES * DEPARTURES + DEPARTURES

OPEN_HOUR = Wear().open_hour
LIGHT_GRADIENT = 2.4
"""[1] Density of the light step per log10 of exposure (from memory: 2.2 to 2.8)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ControlReading:
    """Departures of one control patch from the aim.

    Attributes
    ----------
    day : float
        When it went through the bath [d].
    departures : (12,) floats
        Densities less the aim's, in the order of ``QUANTITIES`` and ``CHANNELS``; NaN where not read.
    standard_errors : (12,) floats or None
        Of these numbers, run noise included; ``None``: usual ones.
    """

    day: float
    departures: tuple[float, ...]
    standard_errors: tuple[float, ...] | None = None

    def __post_init__(self) -> None:
        if len(self.departures) != DEPARTURES:
            raise ValueOutOfRange(
                f"A control reading has {DEPARTURES} numbers (white, light step, contrast, black; red, green, blue); "
                f"{len(self.departures)} were given."
            )
        for value in self.departures:
            if not math.isnan(value) and abs(value) > 3:
                raise ValueOutOfRange(
                    f"A departure of {Figure(value):g} from the aim is no density of a print; check the reading and "
                    "the aim."
                )
        if all(math.isnan(value) for value in self.departures):
            raise ValueOutOfRange("A control reading with no number says nothing; read at least one patch.")


def reading_from_shift(
    day: float, shift: Sequence[float], standard_error: Sequence[float], *, gradient: float = LIGHT_GRADIENT
) -> ControlReading:
    """What the printing memory learned of a bath, as a reading of the light step alone.

    Parameters
    ----------
    shift, standard_error : (3,) floats
        Loss or gain of exposure by the bath, per layer (red, green, blue) [log10]; above 0 prints darker.
    """
    nan = float("nan")
    light = [gradient * value for value in shift]
    errors = [gradient * value for value in standard_error]
    return ControlReading(
        day=day,
        departures=(nan,) * 3 + tuple(light) + (nan,) * 6,
        standard_errors=(1.0,) * 3 + tuple(errors) + (1.0,) * 6,
    )


# sd common to the channels and of each channel; run noise of 0.008 log10 and reading noise of 0.006 (from memory)
_NOISE = ((0.002, 0.007), (0.020, 0.011), (0.008, 0.012), (0.004, 0.010))
_OFFSET = ((0.002, 0.002), (0.012, 0.004), (0.010, 0.005), (0.008, 0.004))
_PER_AREA, _PER_DAY, _PER_STRENGTH = (LIGHT_GRADIENT * shift for shift in Priors().usual_ageing)
# mean and sd of each slope, common to the channels: loss of strength, its square, by-products, age (all from memory)
_USUAL_SLOPES = (
    ((0.0, 0.006), (0.0, 0.005), (0.002, 0.002), (0.0004, 0.0004)),
    ((-_PER_STRENGTH, 0.07), (0.0, 0.04), (_PER_AREA, 0.010), (_PER_DAY, 0.0006)),
    ((-0.20, 0.07), (0.0, 0.05), (-0.025, 0.010), (-0.0005, 0.0006)),
    ((-0.08, 0.04), (-0.05, 0.05), (-0.006, 0.004), (-0.0002, 0.0003)),
)
_OWN_SHARE = 0.25
"""[1] Spread of one channel's slope about the common one, as a share of the common spread (from memory)."""
_USUAL_WEAR_SPREAD = (0.30, 0.60, 0.50, 0.30)
_BETWEEN_BATHS = (0.10, 0.25, 0.20, 0.10)
"""Standard deviations of the logs of ``WEAR``: at first, and from bath to bath (from memory)."""
_SLOPE_DRIFT = 0.15
"""[1] How much a slope may change from bath to bath, as a share of its usual spread (from memory)."""
_STEPS = 8
"""Of Gauss-Newton, at most."""
_MEMBERS = 300
"""Draws of what may be, when a patch is foreseen."""
_TAIL = 6.0
"""Degrees of freedom of the noise: one blunder neither poisons the figures nor passes unseen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Belief:
    """What is known of how baths of one kit wear: a normal distribution.

    Attributes
    ----------
    mean : (SIZE,) array
        Logs of the figures of wear, slopes (12 x 4), offsets (12).
    covariance : (SIZE, SIZE) array
    readings : int
        Control patches it rests on, in all baths.
    """

    mean: Array
    covariance: Array
    readings: int = 0

    @property
    def wear(self) -> Wear:
        """Most likely figures of wear."""
        consumption, oxidation, air = np.exp(self.mean[:3])
        return Wear(consumption=float(consumption), oxidation=float(oxidation), air=float(air), open_hour=OPEN_HOUR)

    def wear_table(self) -> list[tuple[str, float, float, float]]:
        """(name, most likely, low, high) of each figure of wear, 90 % interval."""
        spread = 1.6449 * np.sqrt(np.diag(self.covariance)[:_WEAR])
        middle = self.mean[:_WEAR]
        return [
            (name, float(np.exp(m)), float(np.exp(m - s)), float(np.exp(m + s)))
            for name, m, s in zip(WEAR, middle, spread, strict=True)
        ]

    @property
    def flags(self) -> tuple[Flag, ...]:
        if self.readings == 0:
            return (Flag.PRIOR_ONLY,)
        return (Flag.FEW_CONTROLS,) if self.readings < 4 else ()


def _blocks(spreads: Sequence[tuple[float, float]]) -> Array:
    """(12, 12) covariance: per quantity, a part common to the channels and one of each."""
    out = np.zeros((DEPARTURES, DEPARTURES))
    for q, (common, own) in enumerate(spreads):
        block = slice(3 * q, 3 * q + 3)
        out[block, block] = common**2 + np.diag([own**2] * 3)
    return out


def _slope_index(f: int) -> Array:
    return np.asarray(_WEAR + _SLOPES * np.arange(DEPARTURES) + f)


def _slope_covariance(scale: float) -> Array:
    out = np.zeros((SIZE, SIZE))
    for f in range(_SLOPES):
        index = _slope_index(f).astype(int)
        spreads = [(scale * quantity[f][1], scale * _OWN_SHARE * quantity[f][1]) for quantity in _USUAL_SLOPES]
        out[np.ix_(index, index)] = _blocks(spreads)
    return out


def _with_offsets(mean: Array, covariance: Array) -> tuple[Array, Array]:
    """Offsets back to none known: they belong to one bath."""
    mean, covariance = mean.copy(), covariance.copy()
    mean[-DEPARTURES:] = 0
    covariance[-DEPARTURES:, :] = 0
    covariance[:, -DEPARTURES:] = 0
    covariance[-DEPARTURES:, -DEPARTURES:] = _blocks(_OFFSET)
    return mean, covariance


def usual_belief() -> Belief:
    """Before any control patch: usual figures from memory, wide."""
    wear = Wear()
    mean = np.zeros(SIZE)
    mean[:_WEAR] = np.log([wear.consumption, wear.oxidation, wear.air, 1.0])
    for q, quantity in enumerate(_USUAL_SLOPES):
        for f, (middle, _) in enumerate(quantity):
            mean[_slope_index(f)[3 * q : 3 * q + 3].astype(int)] = middle
    covariance = _slope_covariance(1.0)
    covariance[:_WEAR, :_WEAR] = np.diag(np.square(_USUAL_WEAR_SPREAD))
    mean, covariance = _with_offsets(mean, covariance)
    return Belief(mean=mean, covariance=covariance)


def for_next_bath(belief: Belief) -> Belief:
    """What one bath teaches about the next of the same kit: the same, a little less sure."""
    covariance = belief.covariance.copy()
    covariance[:_WEAR, :_WEAR] += np.diag(np.square(_BETWEEN_BATHS))
    covariance += _slope_covariance(_SLOPE_DRIFT)
    mean, covariance = _with_offsets(belief.mean, covariance)
    return replace(belief, mean=mean, covariance=covariance)


def features(amounts: Array) -> Array:
    """What the slopes multiply, (..., 4, M), from a trace (..., len(AMOUNTS), M)."""
    volume = np.maximum(amounts[..., AMOUNTS.index("volume"), :], 1e-6)
    strength = amounts[..., AMOUNTS.index("agent"), :] / volume
    by_products = 1000 * amounts[..., AMOUNTS.index("by_products"), :] / volume
    age = amounts[..., AMOUNTS.index("age"), :] / volume
    loss = 1 - strength
    return np.stack([loss, loss**2, by_products, age], axis=-2)


def wears_of(parameters: Array) -> Wears:
    """Figures of wear of parameter vectors (M, SIZE)."""
    consumption, oxidation, air, carry = np.exp(parameters[:, :_WEAR].T)
    return Wears(consumption=consumption, oxidation=oxidation, air=air, open_hour=OPEN_HOUR, carry=carry)


def departures_of(parameters: Array, amounts: Array) -> Array:
    """Expected departures (N, 12, M) for parameter vectors (M, SIZE) and a trace (N, len(AMOUNTS), M)."""
    slopes = parameters[:, _WEAR : _WEAR + _SLOPES * DEPARTURES].reshape(-1, DEPARTURES, _SLOPES)
    offsets = parameters[:, -DEPARTURES:]
    return np.asarray(np.einsum("mdf,nfm->ndm", slopes, features(amounts)) + offsets.T)


def _looked_at(ledger: Ledger, days: Sequence[float]) -> tuple[Ledger, list[int]]:
    """Ledger with a look at each day, after what else happened then, and the trace rows of the looks."""
    looks = [Looked(day=day) for day in days]
    events = order_events([*ledger.events, *looks])
    wanted = {id(look) for look in looks}
    return replace(ledger, events=events), [i + 1 for i, event in enumerate(events) if id(event) in wanted]


def learn(belief: Belief, ledger: Ledger, readings: Sequence[ControlReading]) -> tuple[Belief, Array]:
    """Belief after control patches of one bath.

    Parameters
    ----------
    belief : Belief
        Before any reading of this bath: ``usual_belief`` or ``for_next_bath``.

    Returns
    -------
    belief : Belief
        Mode by damped Gauss-Newton with Student-t weights; covariance by Laplace.
    weights : (len(readings),) array
        How far each reading was trusted, about 1 for a good one; below 0.4 it disagrees with everything else.

    Raises
    ------
    ValueOutOfRange
        If a reading lies before the bath was mixed.
    """
    readings = sorted(readings, key=lambda reading: reading.day)
    if not readings:
        return belief, np.zeros(0)
    if readings[0].day < ledger.day:
        raise ValueOutOfRange(
            f"A control reading of day {Figure(readings[0].day):.4g} lies before the bath was mixed on day "
            f"{Figure(ledger.day):.4g}. Correct its date, or choose the bath it went through."
        )
    looked, rows = _looked_at(ledger, [reading.day for reading in readings])
    y = np.array([reading.departures for reading in readings])
    known = ~np.isnan(y)
    noise = []
    for reading, have in zip(readings, known, strict=True):
        full = _blocks(_NOISE) if reading.standard_errors is None else np.diag(np.square(reading.standard_errors))
        noise.append(np.linalg.inv(full[np.ix_(have, have)]))

    def expected(theta: Array) -> tuple[Array, Array]:
        amounts = trace(looked, wears_of(theta), Carry())[rows]
        return departures_of(theta, amounts), features(amounts)

    prior = np.linalg.inv(belief.covariance)
    theta, damping = belief.mean.copy(), 1e-3
    weights = np.ones(len(readings))

    def cost(theta: Array, fit: Array) -> float:
        away = theta - belief.mean
        total = float(away @ prior @ away)
        for i, have in enumerate(known):
            miss = (y[i] - fit[i])[have]
            distance = float(miss @ noise[i] @ miss)
            total += (_TAIL + have.sum()) * math.log1p(distance / _TAIL)
        return total

    nudges = np.zeros((_WEAR + 1, SIZE))
    nudges[np.arange(1, _WEAR + 1), np.arange(_WEAR)] = 1e-4
    best = cost(theta, expected(theta[None])[0][:, :, 0])
    normal = prior
    for _ in range(_STEPS):
        fits, feats = expected(theta + nudges)
        jacobian = np.zeros((len(readings), DEPARTURES, SIZE))
        jacobian[:, :, :_WEAR] = (fits[:, :, 1:] - fits[:, :, :1]) / 1e-4
        for d in range(DEPARTURES):
            jacobian[:, d, _WEAR + _SLOPES * d : _WEAR + _SLOPES * (d + 1)] = feats[:, :, 0]
            jacobian[:, d, SIZE - DEPARTURES + d] = 1
        normal, right = prior.copy(), prior @ (belief.mean - theta)
        for i, have in enumerate(known):
            miss = (y[i] - fits[i, :, 0])[have]
            weights[i] = (_TAIL + have.sum()) / (_TAIL + float(miss @ noise[i] @ miss))
            j = jacobian[i][have]
            normal += weights[i] * j.T @ noise[i] @ j
            right += weights[i] * j.T @ noise[i] @ miss
        for _ in range(6):
            step = np.linalg.solve(normal + damping * np.diag(np.diag(normal)), right)
            trial = theta + step
            value = cost(trial, expected(trial[None])[0][:, :, 0])
            if value <= best + 1e-9:
                theta, best, damping = trial, value, max(damping / 5, 1e-9)
                break
            damping *= 8
        if float(np.max(np.abs(step))) < 1e-7:
            break
    covariance = np.linalg.inv(normal)
    covariance = (covariance + covariance.T) / 2
    return Belief(mean=theta, covariance=covariance, readings=belief.readings + len(readings)), weights


def draws(belief: Belief, rng: np.random.Generator, members: int) -> Array:
    """Parameter vectors (members, SIZE) that the belief holds possible."""
    slight = 1e-12 * np.diag(np.diag(belief.covariance))
    root = np.linalg.cholesky(belief.covariance + slight)
    return np.asarray(belief.mean + rng.standard_normal((members, SIZE)) @ root.T)


def expected_departure(belief: Belief, ledger: Ledger, day: float) -> tuple[Array, Array]:
    """What the next control patch should read: departures (12,) and their standard errors (12,), noise included."""
    looked, rows = _looked_at(ledger, [day])
    parameters = draws(belief, np.random.default_rng(0), _MEMBERS)
    found = departures_of(parameters, trace(looked, wears_of(parameters), Carry())[rows])[0]
    spread = found.var(axis=1) + np.diag(_blocks(_NOISE))
    return found.mean(axis=1), np.sqrt(spread)
