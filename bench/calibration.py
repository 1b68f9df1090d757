"""Are the stated intervals and probabilities true? By kind of room, first prints and later, clustered by room."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.special import ndtri

FIRST_PRINTS = 10
BINS = 10
DRAWS = 400


@dataclass(frozen=True, slots=True)
class Foretold:
    """Sheets of a set of rooms as they were foretold and as they came out; all arrays are (n,) or (n, 3).

    Attributes
    ----------
    room : which room each sheet is of
    place : how many-th sheet of its room, from 0
    negative, order, after_strip : its negative, how many-th sheet of it (from 1), whether a strip had been read
    probability, good : stated, and whether it came true
    off : (n, 3) true density less the foretold, in stated standard errors
    blunder : whether the room slipped
    """

    room: np.ndarray
    place: np.ndarray
    negative: np.ndarray
    order: np.ndarray
    after_strip: np.ndarray
    probability: np.ndarray
    good: np.ndarray
    off: np.ndarray
    blunder: np.ndarray

    def where(self, chosen: np.ndarray) -> "Foretold":
        return Foretold(*(getattr(self, name)[chosen] for name in self.__slots__))

    def __len__(self) -> int:
        return len(self.room)


def gather(rows: Sequence[dict[str, Any]]) -> Foretold:
    """All sheets of the rows of one kind of room."""
    lines, rooms, places = [], [], []
    for row in rows:
        for place, line in enumerate(row["foretold"]):
            lines.append(line)
            rooms.append(row["seed"])
            places.append(place)
    table = np.array(lines, dtype=float).reshape(-1, 9)
    return Foretold(
        room=np.array(rooms, dtype=np.int64),
        place=np.array(places, dtype=np.int64),
        negative=table[:, 0].astype(np.int64),
        order=table[:, 1].astype(np.int64),
        after_strip=table[:, 2].astype(bool),
        probability=table[:, 3],
        good=table[:, 4],
        off=table[:, 5:8],
        blunder=table[:, 8].astype(bool),
    )


def by_room(values: np.ndarray, rooms: np.ndarray, statistic: Callable[[np.ndarray], float]) -> tuple[float, float]:
    """Value of a statistic of row indices, and its bootstrap standard error, whole rooms being drawn."""
    names = np.unique(rooms)
    members = [np.flatnonzero(rooms == name) for name in names]
    value = statistic(values)
    if len(names) < 2:
        return value, float("nan")
    rng = np.random.default_rng(0)
    drawn = [
        statistic(values[np.concatenate([members[i] for i in rng.integers(0, len(names), len(names))])])
        for _ in range(DRAWS)
    ]
    return value, float(np.nanstd(drawn))


def coverage(sheets: Foretold, probability: float) -> tuple[float, float]:
    """Share of true densities inside the stated central intervals, and its error clustered by room."""
    inside = (np.abs(sheets.off) <= ndtri(0.5 + probability / 2)).mean(axis=1)
    return by_room(inside, sheets.room, lambda x: float(np.mean(x)))


def reliability(sheets: Foretold, bins: int = BINS) -> list[tuple[float, float, float, int]]:
    """(mean stated probability, share that came true, its error clustered by room, sheets) of each bin that has any."""
    found = []
    bin_of = np.minimum((sheets.probability * bins).astype(int), bins - 1)
    for number in range(bins):
        mine = sheets.where(bin_of == number)
        if len(mine):
            true, error = by_room(mine.good, mine.room, lambda x: float(np.mean(x)))
            found.append((float(mine.probability.mean()), true, error, len(mine)))
    return found


def worst_gap(found: Sequence[tuple[float, float, float, int]], least: int = 40) -> float:
    """Largest distance of a bin with enough sheets from the diagonal; NaN if none has."""
    return max((abs(true - stated) for stated, true, _, count in found if count >= least), default=float("nan"))


def log_score_gain(sheets: Foretold) -> tuple[float, float]:
    """Mean log score of the stated probabilities less that of the constant base rate [nat]; above 0: better."""
    stated = np.clip(sheets.probability, 0.002, 0.998)
    pairs = np.stack([sheets.good, np.log(np.where(sheets.good > 0, stated, 1 - stated))], axis=1)

    def gain(x: np.ndarray) -> float:
        rate = np.clip(x[:, 0].mean(), 1e-6, 1 - 1e-6)
        return float(x[:, 1].mean() - (rate * np.log(rate) + (1 - rate) * np.log(1 - rate)))

    return by_room(pairs, sheets.room, gain)
