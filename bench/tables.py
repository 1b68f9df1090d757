"""Tables and plots of the scoreboard, out of its rows."""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from bench.calibration import FIRST_PRINTS, Foretold, coverage, gather, log_score_gain, reliability, worst_gap
from bench.drawing import cycles_plot, reliability_plot

LATE = 20
"""Negatives before this one are early."""
DRAWS = 1000
LIMITS = ("limit", "limit, strip first")
LIMIT_BY_EYE = "limit, by eye"
"""What those who judge by eye are measured by, where it was played."""
Row = dict[str, Any]


def _cycles(row: Row) -> np.ndarray:
    return np.array(row["strips"]) + np.array(row["sheets"])


def _per_room(rows: Sequence[Row], value: Callable[[Row], np.ndarray], part: slice) -> np.ndarray:
    """(rooms,) mean of a count per negative, in the order of the seeds."""
    return np.array([value(row)[part].mean() for row in sorted(rows, key=lambda r: r["seed"])])


def mean_and_error(values: np.ndarray) -> tuple[float, float]:
    """Mean over rooms and its standard error."""
    error = float(values.std(ddof=1) / np.sqrt(len(values))) if len(values) > 1 else float("nan")
    return float(values.mean()), error


def ratio_to(values: np.ndarray, base: np.ndarray) -> tuple[float, float]:
    """Ratio of means over the same rooms, and its bootstrap standard error, rooms being drawn in pairs."""
    if len(values) < 2:
        return float(values.mean() / base.mean()), float("nan")
    drawn = np.random.default_rng(0).integers(0, len(values), (DRAWS, len(values)))
    return float(values.mean() / base.mean()), float(np.std(values[drawn].mean(axis=1) / base[drawn].mean(axis=1)))


def _group(rows: Sequence[Row], **wanted: Any) -> list[Row]:
    return [row for row in rows if all(row[name] == value for name, value in wanted.items())]


def _kinds(rows: Sequence[Row]) -> list[str]:
    return list(dict.fromkeys(row["kind"] for row in rows))


def with_error(pair: tuple[float, float], digits: int = 2) -> str:
    return f"{pair[0]:.{digits}f} ± {pair[1]:.{digits}f}"


def percent(pair: tuple[float, float]) -> str:
    return f"{100 * pair[0]:.1f} ± {100 * pair[1]:.1f} %"


def _rows_of_policy(rows: Sequence[Row], kind: str, policy: str, reading: bool) -> list[Row]:
    """Those with this use of readings; a policy that takes no reading is the same in both."""
    mine = _group(rows, kind=kind, policy=policy, reading=reading)
    return mine or _group(rows, kind=kind, policy=policy, reading=False)


def _limit_rows(rows: Sequence[Row], kind: str, reading: bool, policy: str) -> dict[int, Row]:
    """By seed, those of the limit of this policy that takes fewer cycles, with a strip first or without."""
    by_eye = _group(rows, kind=kind, policy=LIMIT_BY_EYE, reading=False) if policy.endswith("by eye") else []
    found = [by_eye] if by_eye else [_group(rows, kind=kind, policy=name, reading=reading) for name in LIMITS]
    best = min((rows for rows in found if rows), key=lambda r: np.mean([_cycles(x).mean() for x in r]), default=[])
    return {row["seed"]: row for row in best}


def cycles_table(rows: Sequence[Row]) -> str:
    """Cycles per good print, early and late, against the limit in the same rooms."""
    text = [
        "| room | reading | policy | rooms | cycles, first 20 | cycles, later | strips + sheets, later | paper, later"
        " [sheet] | of the limit, later | never good |",
        "|---|---|---|---|---|---|---|---|---|---|",
    ]
    for kind in _kinds(rows):
        for reading in sorted({row["reading"] for row in rows if row["kind"] == kind}, reverse=True):
            for policy in dict.fromkeys(row["policy"] for row in rows):
                mine = _rows_of_policy(rows, kind, policy, reading)
                if not mine or len(mine[0]["good"]) <= LATE:
                    continue
                late = slice(LATE, None)
                cycles = _per_room(mine, _cycles, late)
                strips = _per_room(mine, lambda r: np.array(r["strips"]), late)
                sheets = _per_room(mine, lambda r: np.array(r["sheets"]), late)
                limits = _limit_rows(rows, kind, reading, policy)
                both = [row for row in mine if row["seed"] in limits]
                ratio = "–"
                if both and policy not in (*LIMITS, LIMIT_BY_EYE):
                    base = _per_room([limits[row["seed"]] for row in both], _cycles, late)
                    ratio = with_error(ratio_to(_per_room(both, _cycles, late), base))
                failed = np.mean([1 - np.array(row["good"])[late].mean() for row in mine])
                text.append(
                    f"| {kind} | {'yes' if reading else 'no'} | {policy} | {len(mine)} "
                    f"| {with_error(mean_and_error(_per_room(mine, _cycles, slice(0, LATE))))} "
                    f"| {with_error(mean_and_error(cycles))} | {strips.mean():.2f} + {sheets.mean():.2f} "
                    f"| {(sheets + 0.1 * strips).mean():.2f} | {ratio} | {100 * failed:.1f} % |"
                )
    return "\n".join(text)


def _splits(sheets: Foretold) -> dict[str, Foretold]:
    return {
        f"first {FIRST_PRINTS} prints": sheets.where(sheets.place < FIRST_PRINTS),
        "later": sheets.where(sheets.place >= FIRST_PRINTS),
    }


def calibration_table(rows: Sequence[Row], policy: str = "memory") -> str:
    """Intervals, probabilities and log score of what the memory foretold. Sheets made otherwise than logged are out."""
    text = [
        "| room | reading | prints | sheets | 50 % holds | 90 % holds | stated good | came good "
        "| worst bin of 40 or more | log score over base rate |",
        "|---|---|---|---|---|---|---|---|---|---|",
    ]
    for kind in _kinds(rows):
        for reading in (True, False):
            mine = _group(rows, kind=kind, policy=policy, reading=reading)
            if not mine:
                continue
            sheets = gather(mine)
            for name, part in _splits(sheets.where(~sheets.blunder)).items():
                if not len(part) or (name == "later" and len(mine[0]["good"]) <= LATE):
                    continue
                fifty, ninety = coverage(part, 0.5), coverage(part, 0.9)
                gap = 100 * worst_gap(reliability(part))
                worst = f"{gap:.1f} points" if np.isfinite(gap) else "–"
                text.append(
                    f"| {kind} | {'yes' if reading else 'no'} | {name} | {len(part)} "
                    f"| {percent(fifty)} | {percent(ninety)} "
                    f"| {100 * part.probability.mean():.1f} % | {100 * part.good.mean():.1f} % "
                    f"| {worst} | {with_error(log_score_gain(part), 3)} |"
                )
    return "\n".join(text)


def reliability_table(rows: Sequence[Row]) -> str:
    """Stated probability against what came true, all rooms."""
    sheets = gather(_group(rows, policy="memory"))
    text = ["| prints | stated | came true | sheets |", "|---|---|---|---|"]
    for name, part in _splits(sheets.where(~sheets.blunder)).items():
        for stated, true, error, count in reliability(part):
            text.append(f"| {name} | {100 * stated:.1f} % | {100 * true:.1f} ± {100 * error:.1f} % | {count} |")
    return "\n".join(text)


def order_table(rows: Sequence[Row]) -> str:
    """Late negatives: how often the n-th sheet succeeds, and what was stated; the limit beside it."""
    text = [
        "| room | reading | strips | limit, 1st sheet | memory, 1st sheet | stated | limit, 2nd | memory, 2nd | stated "
        "| memory, 3rd and on | stated |",
        "|---|---|---|---|---|---|---|---|---|---|---|",
    ]
    for kind in _kinds(rows):
        for reading in (True, False):
            mine = _group(rows, kind=kind, policy="memory", reading=reading)
            limits = _group(rows, kind=kind, policy="limit", reading=reading)
            if not mine or not limits:
                continue
            counts = np.concatenate([np.array(r["sheets"])[LATE:] for r in limits])
            sheets = gather(mine)
            late = sheets.where((sheets.negative >= LATE) & ~sheets.blunder)
            cells = []
            for order in (1, 2, 3):
                part = late.where(late.order == order if order < 3 else late.order >= 3)
                if order < 3:
                    reached = counts >= order
                    cells.append(f"{100 * np.mean(counts[reached] == order):.0f} %" if reached.any() else "–")
                if not len(part):
                    cells += ["–", "–"]
                    continue
                cells += [f"{100 * part.good.mean():.0f} % of {len(part)}", f"{100 * part.probability.mean():.0f} %"]
            strips = np.mean([np.array(r["strips"])[LATE:].mean() for r in mine])
            text.append(f"| {kind} | {'yes' if reading else 'no'} | {strips:.2f} | " + " | ".join(cells) + " |")
    return "\n".join(text)


def blunder_table(rows: Sequence[Row]) -> str:
    """What slips cost against the same rooms without any, and how many were named."""
    text = [
        "| reading | rooms | cycles with slips | without | more | slips | named | with the right slip | false alarms |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    for reading in (True, False):
        with_slips = {r["seed"]: r for r in _group(rows, kind="blundering", policy="memory", reading=reading)}
        without = {r["seed"]: r for r in _group(rows, kind="steady vane", policy="memory", reading=reading)}
        seeds = sorted(with_slips.keys() & without.keys())
        if not seeds:
            continue
        a = _per_room([with_slips[s] for s in seeds], _cycles, slice(None))
        b = _per_room([without[s] for s in seeds], _cycles, slice(None))
        pieces = np.array([piece for s in seeds for piece in with_slips[s]["pieces"]])
        slipped = pieces[:, 1] == 1
        more = ratio_to(a, b)
        text.append(
            f"| {'yes' if reading else 'no'} | {len(seeds)} | {with_error(mean_and_error(a))} "
            f"| {with_error(mean_and_error(b))} | {100 * (more[0] - 1):.1f} ± {100 * more[1]:.1f} % | {slipped.sum()} "
            f"| {100 * pieces[slipped, 2].mean():.0f} % | {100 * pieces[slipped, 3].mean():.0f} % "
            f"| {100 * pieces[~slipped, 2].mean():.1f} % |"
        )
    return "\n".join(text)


def write_all(rows: Sequence[Row], results: Path) -> str:
    """Write tables and plots into a folder; returns the text of the tables."""
    results.mkdir(parents=True, exist_ok=True)
    parts = [("Cycles per good print", cycles_table(rows))]
    if _group(rows, policy="memory"):
        parts += [
            ("Sheet by sheet, after the first 20 negatives", order_table(rows)),
            ("Calibration", calibration_table(rows)),
            ("Stated probability of a good print, all rooms", reliability_table(rows)),
            ("Slips", blunder_table(rows)),
        ]
        if _group(rows, policy="memory, told"):
            title = "Calibration of first prints where the printer said how well prints repeat"
            parts.append((title, calibration_table(rows, "memory, told")))
        sheets = gather(_group(rows, policy="memory"))
        drawn = {name: reliability(part) for name, part in _splits(sheets.where(~sheets.blunder)).items()}
        (results / "reliability.svg").write_text(reliability_plot(drawn), encoding="utf-8")
    curves = {
        (policy, reading): np.mean([_cycles(r) for r in mine], axis=0)
        for policy in dict.fromkeys(row["policy"] for row in rows)
        for reading in (True, False)
        if (mine := _group(rows, policy=policy, reading=reading)) and len(mine[0]["good"]) > LATE
    }
    (results / "cycles.svg").write_text(cycles_plot(curves), encoding="utf-8")
    text = "\n\n".join(f"## {title}\n\n{table}" for title, table in parts) + "\n"
    (results / "scoreboard.md").write_text(text, encoding="utf-8")
    return text
