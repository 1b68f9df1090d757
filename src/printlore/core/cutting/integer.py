"""Whole-number programs: a thin, typed way to HiGHS with a time limit, progress and a way to stop.

References
----------
huangfu2018
"""

import math
import os
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache

import highspy
import numpy as np

Progress = Callable[[float, float, float], None]
"""Called with (best so far, proven bound, seconds) whenever one of the first two gets better."""

Stop = Callable[[], bool]
"""Asked now and then; true ends the search with the best found."""


@dataclass(slots=True, kw_only=True)
class Program:
    """Minimise cost over whole numbers between 0 and their tops, under linear rows.

    Built row by row, then given to `solve`; not changed after that.
    """

    tops: list[float] = field(default_factory=list)
    costs: list[float] = field(default_factory=list)
    rows: list[tuple[float, dict[int, float], float]] = field(default_factory=list)

    def variable(self, top: float) -> int:
        """Add a whole number from 0 to ``top``; its column."""
        self.tops.append(top)
        self.costs.append(0.0)
        return len(self.tops) - 1

    def row(self, terms: Mapping[int, float], *, least: float = -math.inf, most: float = math.inf) -> None:
        """Require ``least <= sum of terms <= most``."""
        self.rows.append((least, dict(terms), most))


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What a search found.

    Attributes
    ----------
    values : tuple of int or None
        Best found, ``None`` if none was.
    cost, bound : float
        Of the best found (inf if none) and the least that is still possible.
    """

    values: tuple[int, ...] | None
    cost: float
    bound: float

    @property
    def gap(self) -> float:
        """(cost - bound) / cost: 0 is proven best."""
        if self.values is None:
            return math.inf
        return 0.0 if self.cost <= self.bound else (self.cost - self.bound) / max(abs(self.cost), 1e-9)


def solve(
    program: Program,
    *,
    seconds: float,
    gap: float = 0.0,
    start: Sequence[float] | None = None,
    progress: Progress | None = None,
    stop: Stop | None = None,
) -> Answer:
    """Search for the cheapest answer until it is proven to a gap, the time is over, or ``stop`` says so."""
    _print_the_banner_to_nowhere()
    model = highspy.Highs()
    model.silent()
    model.setOptionValue("time_limit", max(seconds, 0.01))
    model.setOptionValue("mip_rel_gap", gap)
    model.setOptionValue("mip_abs_gap", 1e-6)
    model.passModel(_lp(program))
    if start is not None:
        solution = highspy.HighsSolution()
        solution.col_value = list(start)
        model.setSolution(solution)
    if progress is not None:
        seen = [math.inf, -math.inf]

        def tell(event: highspy.highs.HighsCallbackEvent) -> None:
            out = event.data_out
            best, bound = out.objective_function_value, out.mip_dual_bound
            if best < seen[0] - 1e-9:
                seen[:] = [best, bound]
                progress(best, bound, out.running_time)

        model.cbMipImprovingSolution += tell
    if stop is not None:

        def ask(event: highspy.highs.HighsCallbackEvent) -> None:
            if stop():
                event.interrupt()

        model.cbMipInterrupt += ask
    model.run()
    status, info = model.getModelStatus(), model.getInfo()
    if info.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
        return Answer(values=None, cost=math.inf, bound=info.mip_dual_bound)
    values = tuple(round(v) for v in model.getSolution().col_value)
    cost = float(np.dot(program.costs, values))
    bound = cost if status == highspy.HighsModelStatus.kOptimal and gap == 0 else min(info.mip_dual_bound, cost)
    return Answer(values=values, cost=cost, bound=bound)


@cache
def _print_the_banner_to_nowhere() -> None:
    """The first solver of a process writes two lines to standard output, before it can be told not to.

    They would spoil what a command prints.
    """
    sys.stdout.flush()
    kept, nowhere = os.dup(1), os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        highspy.Highs()
    finally:
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)


def _lp(program: Program) -> highspy.HighsLp:
    starts: list[int] = [0]
    index: list[int] = []
    value: list[float] = []
    for _, terms, _ in program.rows:
        index.extend(terms)
        value.extend(terms.values())
        starts.append(len(index))
    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = len(program.tops), len(program.rows)
    lp.col_cost_ = np.array(program.costs)
    lp.col_lower_, lp.col_upper_ = np.zeros(lp.num_col_), np.array(program.tops, dtype=np.float64)
    lp.row_lower_ = np.array([least for least, _, _ in program.rows], dtype=np.float64)
    lp.row_upper_ = np.array([most for _, _, most in program.rows], dtype=np.float64)
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    lp.a_matrix_.start_ = np.array(starts, dtype=np.int32)
    lp.a_matrix_.index_ = np.array(index, dtype=np.int32)
    lp.a_matrix_.value_ = np.array(value, dtype=np.float64)
    lp.integrality_ = [highspy.HighsVarType.kInteger] * lp.num_col_
    return lp
