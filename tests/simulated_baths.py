"""Simulated bath lives, for tests and benchmarks: a small chemical model that shares nothing with the forecasts.

It imports nothing of the package. Where the forecasts take loss of developer by air as exponential
and effects as straight lines, this one has an antioxidant that is eaten first, a poured portion that
mixes back, halide that slows development by saturation, alkali that water wears down, dye that
saturates, and a density curve. The figures are invented, in ranges that agree with what the trade
says of reused half-litres (0.5 to 1 m2 with recipes left alone; from memory).
"""

import dataclasses
from dataclasses import dataclass

import numpy as np

SHEET = 0.203 * 0.254
LIGHT_STEP, DARK_STEP = -0.18, 0.115
"""Exposure of the steps of the wedge, log10 from the middle of the curve."""


@dataclass
class Life:
    """One bath's hidden nature."""

    agent_use: float  # mmol per m2 at mean image
    halide_per_m2: float
    antioxidant: float  # days of air it holds off
    air_rate: float
    closed_rate: float
    air_power: float
    film: float  # mL of water left in the drum after draining
    soak: float  # mL per m2
    lost: float  # mL more out than water in, each load
    agent_power: np.ndarray  # (3,) speed against agent
    halide_half: np.ndarray  # (3,) mmol/L
    contrast_power: np.ndarray
    alkali_power: float
    black_rate: np.ndarray
    stain: np.ndarray
    mixed_strength: float
    run_noise: float
    layer_noise: float
    reading_noise: float
    steepness: np.ndarray
    bottle: float  # mL


FULL_AGENT = 16.0  # mmol/L
FULL_ALKALI = 1.0


def draw_life(rng, kind="mixed"):
    """A life in a kind of studio: ``mixed``, ``airy`` (slow, half-full), ``wet`` (badly drained), ``hungry`` paper."""

    def around(middle, spread):
        return middle * np.exp(spread * rng.standard_normal())

    def layers(middle, common, own):
        return middle * np.exp(common * rng.standard_normal() + own * rng.standard_normal(3))

    return Life(
        agent_use=around(1.5 if kind == "hungry" else 1.05, 0.25),
        halide_per_m2=around(3.2 if kind == "hungry" else 2.4, 0.3),
        antioxidant=around(5.0 if kind == "airy" else 7.0, 0.35),
        air_rate=around(0.05 if kind == "airy" else 0.028, 0.35),
        closed_rate=around(0.0025, 0.4),
        air_power=rng.uniform(0.5, 1.0),
        film=around(2.4 if kind == "wet" else 1.2, 0.3),
        soak=around(65.0, 0.2),
        lost=around(5.0 if kind == "wet" else 3.0, 0.3),
        agent_power=layers(0.19, 0.3, 0.2),
        halide_half=layers(55.0, 0.3, 0.25),
        contrast_power=layers(0.14, 0.35, 0.25),
        alkali_power=around(0.06, 0.4),
        black_rate=layers(3.8, 0.08, 0.05),
        stain=layers(0.0055, 0.4, 0.3),
        mixed_strength=around(1.0, 0.015),
        run_noise=around(0.008, 0.2),
        layer_noise=around(0.003, 0.2),
        reading_noise=0.006,
        steepness=layers(5.2, 0.0, 0.06),
        bottle=1000.0 if kind == "airy" else 600.0,
    )


class SimulatedBath:
    """A bottle of developer. Everything in mmol and mL."""

    def __init__(self, life, volume=500.0, day=0.0):
        self.life, self.capacity, self.day = life, life.bottle, day
        self.volume = volume
        strength = life.mixed_strength
        self.agent = FULL_AGENT * strength * volume / 1000
        self.alkali = FULL_ALKALI * strength * volume / 1000
        self.halide = 0.0
        self.oxidised = 0.0
        self.guard = life.antioxidant * volume / 1000
        self.portion_agent = FULL_AGENT * strength

    def wait(self, day):
        """Stand in its bottle until a day."""
        life, litres = self.life, self.volume / 1000
        span = max(day - self.day, 0.0)
        steps = max(int(span * 4), 1)
        air = min(max(1 - self.volume / self.capacity, 0.0), 1.0) ** life.air_power
        for _ in range(steps):
            dt = span / steps
            eaten = air * dt * litres
            guard_left = max(self.guard - eaten, 0.0)
            unguarded = 1.0 if eaten == 0 else 1 - (self.guard - guard_left) / eaten
            self.guard = guard_left
            lost = self.agent * (1 - np.exp(-(life.closed_rate + life.air_rate * air * unguarded) * dt))
            self.agent -= lost
            self.oxidised += lost
        self.day = max(day, self.day)

    def load(self, area, rng, image=None, portion=None):
        """One drum load; returns what the paper saw (agent, alkali, halide in mmol/L, oxidised)."""
        life = self.life
        image = rng.uniform(0.6, 1.4) if image is None else image
        portion = min(portion or max(60.0, 1300 * area), self.volume)
        share = portion / self.volume
        agent, alkali, halide, oxidised = (
            share * amount for amount in (self.agent, self.alkali, self.halide, self.oxidised)
        )
        water = life.film + life.soak * area
        wet = portion + water
        used = min(life.agent_use * area * image, 0.9 * agent)
        before = np.array([agent, alkali, halide, oxidised]) * 1000 / wet
        agent -= used
        halide += life.halide_per_m2 * area * image
        oxidised += 0.15 * used
        after = np.array([agent, alkali, halide, oxidised]) * 1000 / wet
        out = min(water + life.lost, wet)
        back = 1 - out / wet
        self.agent += back * agent - share * self.agent
        self.alkali += back * alkali - share * self.alkali
        self.halide += back * halide - share * self.halide
        self.oxidised += back * oxidised - share * self.oxidised
        self.volume += water - out
        return (before + after) / 2

    def top_up(self, volume, bled=0.0, strength=1.0):
        keep = 1 - bled / self.volume
        self.agent *= keep
        self.alkali *= keep
        self.halide *= keep
        self.oxidised *= keep
        self.guard *= keep
        self.volume += volume - bled
        self.agent += FULL_AGENT * strength * self.life.mixed_strength * volume / 1000
        self.alkali += FULL_ALKALI * strength * self.life.mixed_strength * volume / 1000
        self.guard += self.life.antioxidant * strength * volume / 1000

    def wedge(self, seen, shift=0.0):
        """Densities (4, 3) that this developer gives: white, light step, dark step, black."""
        life = self.life
        agent, alkali, halide, oxidised = seen
        a = max(agent / FULL_AGENT, 1e-3)
        k = max(alkali / FULL_ALKALI, 1e-3)
        held = np.log10(1 + halide / life.halide_half)
        speed = life.agent_power * np.log10(a) - held + 0.5 * life.alkali_power * np.log10(k)
        steep = life.steepness * a**life.contrast_power * k**life.alkali_power * 10 ** (-0.25 * held)
        full = 2.3 * (1 - np.exp(-life.black_rate * a**0.35)) / (1 - np.exp(-life.black_rate))
        white = 0.08 + life.stain * (oxidised / 1.2) ** 1.2

        def density(log_exposure):
            return white + (full - white) / (1 + np.exp(-steep * (log_exposure + speed + shift)))

        return np.stack([white + 0 * full, density(LIGHT_STEP), density(DARK_STEP), density(1.6)])


def fresh_wedge(life):
    """What the first 20x25 in a fresh bath of nominal strength shows: the studio's aim."""
    bath = SimulatedBath(dataclasses.replace(life, mixed_strength=1.0))
    return bath.wedge(bath.load(SHEET, None, image=1.0))


def departures(wedge, aim):
    """(12,): white, light step, contrast, black, each red, green, blue, less the aim."""
    got, want = (np.stack([w[0], w[1], w[2] - w[1], w[3]]) for w in (wedge, aim))
    return (got - want).ravel()


def control_reading(life, wedge, aim, rng):
    """A read control patch: run noise moves exposure, reading noise the densities."""
    slope = 0.25 * 2.2 * life.steepness * 0.8
    noise = rng.normal(0, life.run_noise) + rng.normal(0, life.layer_noise, 3)
    noisy = wedge.copy()
    noisy[1] += slope * noise
    noisy[2] += slope * 0.9 * noise
    noisy = noisy + rng.normal(0, life.reading_noise, (4, 3))
    return departures(noisy, aim)


def draw_bath(life, rng):
    """The next bath in the same studio: the same kit and hands, not quite the same mix."""

    def nearly(value, spread):
        return value * np.exp(spread * rng.standard_normal())

    return dataclasses.replace(
        life,
        agent_use=nearly(life.agent_use, 0.06),
        halide_per_m2=nearly(life.halide_per_m2, 0.06),
        antioxidant=nearly(life.antioxidant, 0.15),
        air_rate=nearly(life.air_rate, 0.15),
        lost=nearly(life.lost, 0.08),
        mixed_strength=nearly(1.0, 0.015),
    )
