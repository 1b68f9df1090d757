"""Cholesky factor of the shared system, in the order of time: what never met costs nothing.

A date meets the dates beside it, a bath the dates on which it was used. In the order of their last use, with what
every print has at the end, the rows of the factor begin no further left than those of the system (its envelope), so
that work grows with the record and not with its third power, but for prints that tie times far apart.

References
----------
george-liu1981
"""

from functools import cached_property

import numpy as np
import scipy.linalg
import scipy.sparse

from printlore.core.memory.columns import Floats, Ints

_NOTHING = 1e-14
"""Eigenvalue of a change that counts for nothing, relative to the largest."""
_TILE = 96
"""Rows and columns that are worked on together."""


class Factor:
    """Lower factor L of a symmetric positive definite system, L L' = system, in an order of its own.

    Parameters
    ----------
    general : (g, g) part that everything meets
    cross : (b, g) between the blocks and it
    between : (b, b) sparse, blocks among themselves
    order : (b,) which unknown of the blocks comes when; the general part comes last
    """

    def __init__(self, general: Floats, cross: Floats, between: scipy.sparse.csr_array, order: Ints) -> None:
        size, count = len(general), len(general) + len(order)
        self.general = size
        # general first, as the memory numbers its unknowns
        self._order = np.concatenate([size + order, np.arange(size)])
        place = np.empty(len(order), dtype=np.int64)
        place[order] = np.arange(len(order))
        entries = between.tocoo()
        row, column = place[entries.row], place[entries.col]
        low = row >= column
        row, column = row[low], column[low]
        self._lower = np.zeros((count, count))
        self._lower[row, column] = entries.data[low]
        self._lower[count - size :, : count - size] = cross[order].T
        self._lower[count - size :, count - size :] = general
        # the general part begins a tile of its own
        self._edges = [*range(0, count - size, _TILE), *range(count - size, count, _TILE), count]
        tile_of = np.searchsorted(self._edges, np.arange(count), side="right") - 1
        self._first = np.arange(len(self._edges) - 1)
        np.minimum.at(self._first, tile_of[row], tile_of[column])
        self._first[tile_of[count - size] if size else len(self._first) :] = 0
        for tile in range(len(self._first)):
            self._factorise(tile)

    def __len__(self) -> int:
        return len(self._order)

    def _rows_below(self, tile: int) -> Ints | slice:
        below = np.flatnonzero(self._first[tile + 1 :] <= tile) + tile + 1
        if len(below) == len(self._first) - 1 - tile:
            return slice(self._edges[tile + 1], len(self))
        return np.concatenate([np.arange(self._edges[one], self._edges[one + 1]) for one in below.tolist()])

    def _factorise(self, tile: int) -> None:
        lower, begin, end = self._lower, self._edges[tile], self._edges[tile + 1]
        left = slice(self._edges[self._first[tile]], begin)
        mine = lower[begin:end, left]
        own = scipy.linalg.cholesky(lower[begin:end, begin:end] - mine @ mine.T, lower=True, check_finite=False)
        lower[begin:end, begin:end] = own
        if end < len(self):
            rows = self._rows_below(tile)
            rest = lower[rows, begin:end]
            if left.start < begin:
                rest = rest - lower[rows, left] @ mine.T
            lower[rows, begin:end] = scipy.linalg.solve_triangular(own, rest.T, lower=True, check_finite=False).T

    def half(self, rows: Floats) -> Floats:
        """L^-1 rows' (n, k) for combinations (k, n) of the unknowns: its products are their covariances."""
        right = np.ascontiguousarray(rows[:, self._order].T)
        used = np.flatnonzero(right.any(axis=1))
        if not len(used):
            return right
        start = int(np.searchsorted(self._edges, used[0], side="right")) - 1
        for tile in range(start, len(self._first)):
            begin, end = self._edges[tile], self._edges[tile + 1]
            left = slice(self._edges[max(int(self._first[tile]), start)], begin)
            if left.start < begin:
                right[begin:end] -= self._lower[begin:end, left] @ right[left]
            right[begin:end] = scipy.linalg.solve_triangular(
                self._lower[begin:end, begin:end], right[begin:end], lower=True, check_finite=False
            )
        return right

    @cached_property
    def half_general(self) -> Floats:
        """(n, g) of the general unknowns; all before them is zero."""
        start = len(self) - self.general
        own = np.tril(self._lower[start:, start:])
        found = np.zeros((len(self), self.general))
        found[start:] = scipy.linalg.solve_triangular(own, np.eye(self.general), lower=True)
        return found

    @cached_property
    def covariance_general(self) -> Floats:
        """(g, g) of the general unknowns."""
        last = self.half_general[len(self) - self.general :]
        result: Floats = last.T @ last
        return result

    def back(self, half: Floats) -> Floats:
        """L'^-1 half (n, k), in the order of the unknowns."""
        right = half.copy()
        for tile in reversed(range(len(self._first))):
            begin, end = self._edges[tile], self._edges[tile + 1]
            if end < len(self):
                rows = self._rows_below(tile)
                right[begin:end] -= self._lower[rows, begin:end].T @ right[rows]
            right[begin:end] = scipy.linalg.solve_triangular(
                self._lower[begin:end, begin:end], right[begin:end], lower=True, trans="T", check_finite=False
            )
        result = np.empty_like(right)
        result[self._order] = right
        return result

    def solve(self, right: Floats) -> Floats:
        """What (n,) the system makes this right side (n,) of."""
        result: Floats = self.back(self.half(right[None, :]))[:, 0]
        return result


class Updated:
    """A factor after a little more was learned: the one before, new unknowns, and a change of low rank.

    Parameters
    ----------
    before : Factor or Updated
    tied : (m,) unknown from which three new ones are counted; -1: from nothing
    spread : (m, 3, 3) covariance of the new ones about that
    """

    def __init__(self, before: "Factor | Updated", tied: Ints, spread: Floats) -> None:
        self._before, self._tied = before, tied
        self.general: int = before.general
        self._own = scipy.linalg.block_diag(*np.linalg.cholesky(spread)) if len(tied) else np.zeros((0, 0))
        self._basis = np.zeros((len(before) + 3 * len(tied), 0))
        self._root = np.zeros((0, 0))

    def __len__(self) -> int:
        return len(self._basis)

    def change(self, half: Floats, information: Floats) -> None:
        """Add information (k, k) about combinations with this half (n, k); it may be taken away, too."""
        values, axes = np.linalg.eigh(information)
        large = np.abs(values) > _NOTHING * np.max(np.abs(values), initial=0.0)
        self._basis, upper = np.linalg.qr(half @ axes[:, large])
        inner = np.eye(len(upper)) + upper @ (values[large, None] * upper.T)
        values, axes = np.linalg.eigh(inner)
        self._root = (axes / np.sqrt(values)) @ axes.T - np.eye(len(upper))
        # as it was before the change, if it was asked for
        for known in ("half_general", "covariance_general"):
            self.__dict__.pop(known, None)

    def _turned(self, half: Floats) -> Floats:
        result: Floats = half + self._basis @ (self._root @ (self._basis.T @ half))
        return result

    def half(self, rows: Floats) -> Floats:
        """As of ``Factor``."""
        count = len(self._before)
        old, new = rows[:, :count].copy(), rows[:, count:]
        for number, place in enumerate(self._tied.tolist()):
            if place >= 0:
                old[:, place : place + 3] += new[:, 3 * number : 3 * number + 3]
        return self._turned(np.concatenate([self._before.half(old), self._own.T @ new.T]))

    def back(self, half: Floats) -> Floats:
        """As of ``Factor``."""
        count = len(self._before)
        half = self._turned(half)
        old, new = self._before.back(half[:count]), self._own @ half[count:]
        for number, place in enumerate(self._tied.tolist()):
            if place >= 0:
                new[3 * number : 3 * number + 3] += old[place : place + 3]
        return np.concatenate([old, new])

    @cached_property
    def half_general(self) -> Floats:
        """As of ``Factor``."""
        before = self._before.half_general
        return self._turned(np.concatenate([before, np.zeros((len(self) - len(before), self.general))]))

    @cached_property
    def covariance_general(self) -> Floats:
        """As of ``Factor``."""
        result: Floats = self.half_general.T @ self.half_general
        return result
