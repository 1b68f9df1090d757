"""A studio of many years, invented: 50,000 trials of 15,000 frames, written through the record's own import path."""

import json
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from bench.invented import invented_evidence
from printlore.core.paper.layers import LayerCurves
from printlore.records.database import Database
from printlore.records.light import Head
from printlore.records.papers import PaperFamily
from printlore.records.rows import add
from printlore.records.schema import metadata
from printlore.records.tables import moment_to_text
from printlore.records.transfer import put_rows

TRIALS = 50_000
YEARS = 8
STRIPS, BY_EYE, KEPT = 0.25, 0.2, 0.25
"""Shares of strips (three steps), of trials judged and not read, and of frames' last prints that were kept."""
FILMS = 420
_LAST = datetime(2026, 11, 20, 22, tzinfo=UTC)


def build(folder: Path | str, trials: int = TRIALS, seed: int = 3) -> None:
    """Make the studio."""
    with Database.open(folder) as db:
        write_record(db, trials, seed)


def write_record(db: Database, trials: int = TRIALS, seed: int = 3) -> None:
    """Put the invented record into an empty studio."""
    with db.transaction() as conn:
        assert add(conn, Head(name="head")).id == add(conn, PaperFamily(name="paper")).id == 1
        for table, rows in _tables(trials, seed):
            blank = {c.name: None if c.nullable else "" for c in metadata.tables[table].columns}
            put_rows(conn, table, ({**blank, **row} for row in rows))


class _Table:
    """Rows of one table, numbered."""

    def __init__(self) -> None:
        self.rows: list[dict[str, Any]] = []
        self.numbers: dict[str, int] = {}

    def put(self, moment: str, /, **values: Any) -> int:
        number = len(self.rows) + 1
        self.rows.append({"id": number, "created_at": moment, "version": 1, "removed": 0, **values})
        if "name" in values:
            self.numbers[values["name"]] = number
        return number


def _tables(trials: int, seed: int) -> Iterator[tuple[str, list[dict[str, Any]]]]:
    evidence = invented_evidence(trials, seed)
    rng = np.random.default_rng(seed)
    dates = max(trial.date for trial in evidence.trials) + 1
    spread = YEARS * 365 / dates

    def at(date: float, minutes: float = 0.0) -> str:
        return moment_to_text(_LAST - timedelta(days=(dates - 1 - date) * spread) + timedelta(minutes=minutes))

    names = ("films", "frames", "negative_readings", "processes", "lots", "baths", "bath_events", "runs", "trials",
             "exposures", "patch_readings", "judgements", "kept_marks")  # fmt: skip
    into = {name: _Table() for name in names}
    start = at(0)
    into["processes"].put(start, name="process")
    of_lot = {lot: number / len(evidence.lots) * dates for number, lot in enumerate(evidence.lots)}
    for lot in evidence.lots:
        into["lots"].put(at(of_lot[lot]), name=lot, family_id=1, received_at=at(of_lot[lot]))
    for number, bath in enumerate(evidence.baths):
        mixed, given_up = (at((number + later) / len(evidence.baths) * dates) for later in (0, 1))
        into["baths"].put(mixed, name=bath, process_id=1, mixed_at=mixed, volume=500.0)
        if number + 1 < len(evidence.baths):
            into["bath_events"].put(given_up, bath_id=number + 1, at=given_up, kind="retired", volume=None, drawn={})
    films = min(FILMS, max(len(evidence.frames) // 36, 1))
    for number in range(films):
        into["films"].put(start, name=f"film {number + 1}", stock=f"stock {number % 6}")
    first = {trial.frame: trial.date for trial in reversed(evidence.trials)}
    for number, (name, facts) in enumerate(evidence.frames.items()):
        when = at(first.get(name, 0.0))
        film = min(number * films // len(evidence.frames), films - 1) + 1
        frame = into["frames"].put(
            when, name=name, film_id=film, number=f"{number % 36 + 1}", aim_lightness=52.0, aim_a=0.0, aim_b=0.0,
            note=f"place {number % 180}",
        )  # fmt: skip
        if facts.reading is not None:
            _read(into["negative_readings"], when, frame, facts.reading)
    aim, gradient = (np.array(getattr(evidence.papers["paper"], what)) for what in ("aim_density", "gradient"))
    curves = LayerCurves.from_facts(evidence.papers["paper"])
    last_of = {trial.frame: trial.name for trial in evidence.trials}
    for number, trial in enumerate(evidence.trials):
        when = at(trial.date, number % 60)
        drum = f"{trial.bath}, load {number // 2}"
        if drum not in into["runs"].numbers:
            into["runs"].put(when, name=drum, bath_id=into["baths"].numbers[trial.bath], at=when, drum="1", area=0.05)
        strip = rng.uniform() < STRIPS and trial.name != last_of[trial.frame]
        row = into["trials"].put(
            when,
            name=trial.name,
            kind="strip" if strip else "sheet",
            source="bench",
            at=when,
            frame_id=into["frames"].numbers[trial.frame],
            head_id=1,
            lot_id=into["lots"].numbers[trial.lot],
            bath_id=into["baths"].numbers[trial.bath],
            run_id=into["runs"].numbers[drum],
            bath_area_per_litre=trial.bath_state.area_per_litre,
            bath_age_days=trial.bath_state.age_days,
            bath_strength=trial.bath_state.strength,
        )
        patch = trial.patches[0]
        by_eye = not strip and rng.uniform() < BY_EYE
        for position, factor in enumerate((0.8, 1.0, 1.25) if strip else (1.0,)):
            exposure = into["exposures"].put(
                when, trial_id=row, position=position, role="made", **patch.setting.pack.by_colour(),
                time=round(patch.setting.time * factor, 2), f_number=patch.setting.f_number,
                magnification=patch.setting.magnification, burns=[],
            )  # fmt: skip
            exposed = curves.log_exposure_at(np.array([patch.density]))[0] + np.log10(factor)
            density = curves.density_at(exposed)[0] + 0.004 * rng.standard_normal(3)
            if by_eye:
                _judged(into["judgements"], when, exposure, density - aim, gradient)
            else:
                red, green, blue = np.clip(density, 0.05, 2.4).round(3).tolist()
                into["patch_readings"].put(
                    when, exposure_id=exposure, red=red, green=green, blue=blue, standard_error=0.006,
                    beyond=[False] * 3, flags=[], wet=0, device="scan",
                )  # fmt: skip
            if trial.name == last_of[trial.frame] and rng.uniform() < KEPT:
                into["kept_marks"].put(when, exposure_id=exposure, at=when)
    yield from ((name, table.rows) for name, table in into.items())


def _read(table: _Table, when: str, frame: int, reading: Any) -> None:
    red, green, blue = reading.density
    table.put(
        when, frame_id=frame, red=red, green=green, blue=blue, source="probe", standard_error=reading.standard_error,
        at=when,
    )  # fmt: skip


def _judged(table: _Table, when: str, exposure: int, off: Any, gradient: Any) -> None:
    """What an eye would say of densities so far off, in the words on the board."""
    beside = off - off.mean()
    layer = int(np.argmax(abs(beside)))
    cast = (("red", "cyan"), ("green", "magenta"), ("blue", "yellow"))[layer][int(beside[layer] > 0)]
    size = 100 * abs(beside[layer])
    strength = min((5.0, 10.0, 20.0, 30.0), key=lambda known: abs(known - size))
    dark = round(4 * float(off.mean() / gradient.mean() / 0.301)) / 4
    table.put(
        when, exposure_id=exposure, at=when, colour_cast=cast if size > 2 else "none",
        strength=strength if size > 2 else 0.0, stops_too_dark=dark, person="printer", wet=0,
    )  # fmt: skip


def counts(db: Database) -> Mapping[str, int]:
    """Rows of the larger tables."""
    with db.reading() as conn:
        return {
            table: int(conn.exec_driver_sql(f"SELECT count(*) FROM {table}").scalar_one())
            for table in ("trials", "exposures", "frames", "films", "lots", "baths", "runs")
        }


if __name__ == "__main__":
    import sys

    build(sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else TRIALS)
    with Database.open(sys.argv[1]) as made:
        print(json.dumps(counts(made)))
