"""How long a textbook chart takes to see a change, and how often it cries wolf: run lengths by simulation."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from printlore.core.control.rules import RunRule, rule_hits

BEYOND_THREE = RunRule(beyond=3.0, hits=1, of=1)
FOUR_OF_FIVE = RunRule(beyond=1.0, hits=4, of=5)
CLASSICAL_RULES = (BEYOND_THREE, RunRule(beyond=2.0, hits=2, of=3), FOUR_OF_FIVE, RunRule(beyond=0.0, hits=8, of=8))
"""All four together alarm falsely once in about 92 readings of one line (champ_woodall1987, from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RunLength:
    """Readings until a chart signals: mean, its standard error, and the share of runs cut off unseen."""

    mean: float
    standard_error: float
    cut: float


def _lengths(signal: NDArray[np.bool_]) -> RunLength:
    """Censored runs enter by the geometric tail: exact for memoryless charts, close for the others."""
    horizon = signal.shape[1]
    seen = signal.any(axis=1)
    first = np.where(seen, signal.argmax(axis=1) + 1, horizon)
    hits = max(int(seen.sum()), 1)
    mean = float(first.sum()) / hits
    return RunLength(mean=mean, standard_error=mean / math.sqrt(hits), cut=1 - float(seen.mean()))


def run_length_of_rules(
    rules: Sequence[RunRule], shift: float, rng: np.random.Generator, *, runs: int = 4000, horizon: int = 1500
) -> RunLength:
    """Average run length of run rules on single normal readings after a shift of so many sigma."""
    signal = np.zeros((runs, horizon), dtype=bool)
    readings = rng.standard_normal((runs, horizon)) + shift
    for rule in rules:
        signal |= rule_hits(readings, rule)
    return _lengths(signal)


def run_length_of_ewma(
    weight: float,
    width: float,
    shift: float,
    rng: np.random.Generator,
    *,
    runs: int = 4000,
    horizon: int = 1500,
) -> RunLength:
    """Average run length of a two-sided EWMA chart with settled limits after a shift of so many sigma."""
    limit = width * math.sqrt(weight / (2 - weight))
    level = np.zeros(runs)
    signal = np.zeros((runs, horizon), dtype=bool)
    for i in range(horizon):
        level = (1 - weight) * level + weight * (rng.standard_normal(runs) + shift)
        signal[:, i] = np.abs(level) > limit
    return _lengths(signal)


def run_length_of_cusum(
    slack: float,
    limit: float,
    shift: float,
    rng: np.random.Generator,
    *,
    runs: int = 4000,
    horizon: int = 1500,
) -> RunLength:
    """Average run length of a two-sided tabular CUSUM, slack and limit in sigma, after a shift of so many sigma."""
    up, down = np.zeros(runs), np.zeros(runs)
    signal = np.zeros((runs, horizon), dtype=bool)
    for i in range(horizon):
        reading = rng.standard_normal(runs) + shift
        up = np.maximum(0.0, up + reading - slack)
        down = np.maximum(0.0, down - reading - slack)
        signal[:, i] = np.maximum(up, down) > limit
    return _lengths(signal)
