"""The most valuable way to cut one sheet by straight cuts from edge to edge, any number of them one after another.

Pieces keep their orientation unless they may turn. Without limits on copies: exact dynamic programming over the
places where a cut can make a difference. With limits: pieces are built up side by side, the most promising first,
and dropped as soon as a bound proves that nothing better can come of them.

References
----------
beasley1985, christofides1977, viswanathan1993
"""

import heapq
import itertools
import time
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from printlore.core.cutting.integer import Stop
from printlore.errors import ValueOutOfRange


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A size with its value; sides in whole steps of one measure (for example mm or 0.1 mm).

    Attributes
    ----------
    along, across : int
    value : float
        Above 0.
    most : int or None
        Copies at most; ``None``: any number.
    """

    name: str
    along: int
    across: int
    value: float
    most: int | None = None

    def __post_init__(self) -> None:
        if min(self.along, self.across) < 1 or self.value <= 0 or (self.most is not None and self.most < 0):
            raise ValueOutOfRange(
                f'Piece "{self.name}" is {self.along} by {self.across}, worth {self.value:g}, at most {self.most}; '
                "sides must be at least 1, the value above 0, the copies not below 0."
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A piece on the sheet, its corner counted from the sheet's corner."""

    name: str
    at_along: int
    at_across: int
    along: int
    across: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PlatePlan:
    """Where the pieces lie, what they are worth together, and the bound that proves it.

    ``bound`` equals ``value`` unless the time was over first.
    """

    value: float
    bound: float
    placed: tuple[Placed, ...]
    seconds: float


def best_plate(
    along: int,
    across: int,
    pieces: Sequence[Piece],
    *,
    may_turn: bool = False,
    seconds: float = 60.0,
    stop: Stop | None = None,
) -> PlatePlan:
    """The cutting of an ``along`` by ``across`` sheet that is worth most.

    Raises
    ------
    ValueOutOfRange
        If the sheet has no area or there is no piece.
    """
    if min(along, across) < 1:
        raise ValueOutOfRange(f"The sheet is {along} by {across}; both sides must be at least 1.")
    if not pieces:
        raise ValueOutOfRange("There is no piece to cut; add one.")
    began = time.monotonic()
    shapes = [
        _Shape(i, a, b, p.value)
        for i, p in enumerate(pieces)
        for a, b in dict.fromkeys([(p.along, p.across)] + ([(p.across, p.along)] if may_turn else []))
        if a <= along and b <= across and p.most != 0
    ]
    table = _Table(along, across, shapes)
    caps = [_cap(p, along, across) for p in pieces]
    if all(p.most is None or p.most >= cap for p, cap in zip(pieces, caps, strict=True)):
        placed = table.traced()
        value = bound = float(table.value[-1, -1])
    else:
        most = [cap if p.most is None else min(p.most, cap) for p, cap in zip(pieces, caps, strict=True)]
        value, bound, placed = _limited(table, shapes, most, began + seconds, stop)
    return PlatePlan(
        value=value,
        bound=bound,
        placed=tuple(
            Placed(name=pieces[s.piece].name, at_along=x, at_across=y, along=s.along, across=s.across)
            for s, x, y in placed
        ),
        seconds=time.monotonic() - began,
    )


def _cap(piece: Piece, along: int, across: int) -> int:
    return (along * across) // (piece.along * piece.across)


@dataclass(frozen=True, slots=True)
class _Shape:
    piece: int
    along: int
    across: int
    value: float


def _places(length: int, sides: Sequence[int]) -> npt.NDArray[np.int64]:
    """Lengths up to ``length`` that are sums of sides (0 and ``length`` too): cutting elsewhere gains nothing."""
    reached = np.zeros(length + 1, dtype=bool)
    reached[0] = True
    for side in sorted(set(sides)):
        for at in range(side, length + 1):
            reached[at] |= reached[at - side]
    reached[length] = True
    return np.flatnonzero(reached)


class _Table:
    """Best value of every sheet up to the given one, copies unlimited."""

    def __init__(self, along: int, across: int, shapes: Sequence[_Shape]) -> None:
        self.shapes = shapes
        self.xs = _places(along, [s.along for s in shapes])
        self.ys = _places(across, [s.across for s in shapes])
        # Index of the largest place not beyond a length.
        self.x_at = np.searchsorted(self.xs, np.arange(along + 1), side="right") - 1
        self.y_at = np.searchsorted(self.ys, np.arange(across + 1), side="right") - 1
        self.value = np.zeros((len(self.xs), len(self.ys)))
        self.shape_at = np.full(self.value.shape, -1)
        for i, shape in enumerate(shapes):
            x, y = np.searchsorted(self.xs, shape.along), np.searchsorted(self.ys, shape.across)
            corner = self.value[x:, y:]
            better = corner < shape.value
            corner[better] = shape.value
            self.shape_at[x:, y:][better] = i
        self._fill()

    def _fill(self) -> None:
        value, xs, ys = self.value, self.xs, self.ys
        for x in range(1, len(xs)):
            halves = np.arange(1, np.searchsorted(xs, xs[x] // 2, side="right"))
            if len(halves):
                rest = self.x_at[xs[x] - xs[halves]]
                np.maximum(value[x], (value[halves] + value[rest]).max(axis=0), out=value[x])
            row = value[x]
            for y in range(1, len(ys)):
                parts = np.arange(1, np.searchsorted(ys, ys[y] // 2, side="right"))
                if len(parts):
                    best = (row[parts] + row[self.y_at[ys[y] - ys[parts]]]).max()
                    if best > row[y]:
                        row[y] = best

    def traced(self) -> list[tuple[_Shape, int, int]]:
        """Pieces with their places, by walking the table back from the whole sheet."""
        placed: list[tuple[_Shape, int, int]] = []
        todo = [(len(self.xs) - 1, len(self.ys) - 1, 0, 0)]
        while todo:
            x, y, at_along, at_across = todo.pop()
            worth = self.value[x, y]
            if worth <= 0:
                continue
            shape = int(self.shape_at[x, y])
            if shape >= 0 and self.shapes[shape].value >= worth:
                placed.append((self.shapes[shape], at_along, at_across))
                continue
            todo += self._split(x, y, at_along, at_across)
        return placed

    def _split(self, x: int, y: int, at_along: int, at_across: int) -> list[tuple[int, int, int, int]]:
        worth = self.value[x, y]
        for i in range(1, x):
            rest = int(self.x_at[self.xs[x] - self.xs[i]])
            if self.value[i, y] + self.value[rest, y] >= worth - 1e-9 * max(1.0, worth):
                return [(i, y, at_along, at_across), (rest, y, at_along + int(self.xs[i]), at_across)]
        for j in range(1, y):
            rest = int(self.y_at[self.ys[y] - self.ys[j]])
            if self.value[x, j] + self.value[x, rest] >= worth - 1e-9 * max(1.0, worth):
                return [(x, j, at_along, at_across), (x, rest, at_along, at_across + int(self.ys[j]))]
        raise AssertionError("a value in the table has no cut that gives it")

    def beyond(self) -> npt.NDArray[np.float64]:
        """For a block in the sheet's corner: the most that the paper around it can be worth, copies unlimited.

        The block is widened step by step to the whole sheet; each step adds a bar beside it.
        """
        along, across = int(self.xs[-1]), int(self.ys[-1])
        around = np.zeros((along + 1, across + 1))
        bars_x = self.value[self.x_at][:, self.y_at]
        for p in range(along, 0, -1):
            for q in range(across, 0, -1):
                best = 0.0
                if p < along:
                    best = max(best, (around[p + 1 :, q] + bars_x[1 : along - p + 1, q]).max())
                if q < across:
                    best = max(best, (around[p, q + 1 :] + bars_x[p, 1 : across - q + 1]).max())
                around[p, q] = best
        return around


@dataclass(frozen=True, slots=True)
class _Block:
    """A rectangle built of pieces: two blocks put side by side, or one shape."""

    along: int
    across: int
    value: float
    used: tuple[int, ...]
    shape: _Shape | None
    first: "_Block | None"
    second: "_Block | None"
    sideways: bool


def _limited(
    table: _Table, shapes: Sequence[_Shape], most: Sequence[int], until: float, stop: Stop | None
) -> tuple[float, float, list[tuple[_Shape, int, int]]]:
    """Best-first building (Viswanathan and Bagchi): always join on to the block with the highest bound."""
    along, across = int(table.xs[-1]), int(table.ys[-1])
    around = table.beyond()
    best: _Block | None = None
    least = 0.0
    ticket = itertools.count()
    waiting: list[tuple[float, int, _Block]] = []
    seen: dict[tuple[int, int, tuple[int, ...]], float] = {}
    done: list[_Block] = []

    def offer(block: _Block) -> None:
        nonlocal best, least
        bound = block.value + around[block.along, block.across]
        if bound <= least:
            return
        key = (block.along, block.across, block.used)
        if seen.get(key, -1.0) >= block.value:
            return
        seen[key] = block.value
        if block.value > least:
            best, least = block, block.value
        heapq.heappush(waiting, (-bound, next(ticket), block))

    for shape in shapes:
        if most[shape.piece]:
            used = tuple(int(i == shape.piece) for i in range(len(most)))
            offer(_Block(shape.along, shape.across, shape.value, used, shape, None, None, False))
    bound = least
    while waiting:
        bound = -waiting[0][0]
        if bound <= least or time.monotonic() > until or (stop is not None and stop()):
            break
        block = heapq.heappop(waiting)[2]
        done.append(block)
        for other in done:
            used = tuple(map(int.__add__, block.used, other.used))
            if any(u > m for u, m in zip(used, most, strict=True)):
                continue
            value = block.value + other.value
            if block.along + other.along <= along:
                wide = max(block.across, other.across)
                offer(_Block(block.along + other.along, wide, value, used, None, block, other, False))
            if block.across + other.across <= across:
                long = max(block.along, other.along)
                offer(_Block(long, block.across + other.across, value, used, None, block, other, True))
    placed: list[tuple[_Shape, int, int]] = []
    if best is not None:
        _unfold(best, 0, 0, placed)
    return least, max(least, bound if waiting else least), placed


def _unfold(block: _Block, at_along: int, at_across: int, placed: list[tuple[_Shape, int, int]]) -> None:
    if block.shape is not None:
        placed.append((block.shape, at_along, at_across))
        return
    assert block.first is not None
    assert block.second is not None
    _unfold(block.first, at_along, at_across, placed)
    if block.sideways:
        _unfold(block.second, at_along, at_across + block.first.across, placed)
    else:
        _unfold(block.second, at_along + block.first.along, at_across, placed)
