"""Warmth by the printer's own measurements: cooling curves of a drum, and times that came out right."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from printlore.core.bath.temperature import DrumCooling, OwnTime, first_trial, fit_drum_cooling, time_for
from printlore.core.estimate import Estimate
from printlore.errors import Refused
from printlore.records.baths import Process
from printlore.records.baths_kept import CoolingCurve, OwnTimeRecord
from printlore.records.database import Database
from printlore.records.rows import add, every, find


def log_cooling_curve(
    db: Database,
    drum: str,
    volume: float,
    wall: float,
    times: Sequence[float],
    temperatures: Sequence[float],
) -> DrumCooling:
    """Record a thermometer's curve in one pour (s, degrees C) and fit it; a curve that cannot be is not recorded."""
    fitted = fit_drum_cooling(times, temperatures, volume, wall)
    with db.transaction() as conn:
        add(
            conn,
            CoolingCurve(
                drum=drum,
                at=datetime.now(UTC),
                volume=volume,
                wall=wall,
                times=tuple(times),
                temperatures=tuple(temperatures),
            ),
        )
    return fitted


@dataclass(frozen=True, slots=True, kw_only=True)
class PourAdvice:
    """At which temperature to pour [degrees C] for the right mean over the step, and how it ends."""

    start: float
    end: float
    drum: DrumCooling


def advise_pour(db: Database, drum: str, *, aim: float, duration: float, volume: float, wall: float) -> PourAdvice:
    """Start temperature for the right mean over the step, from the drum's newest own curve.

    Raises
    ------
    Refused
        If no curve of this drum was measured, or the drum is too cold for it.
    """
    with db.reading() as conn:
        curves = every(conn, CoolingCurve, drum=drum)
    if not curves:
        raise Refused(
            f'No cooling curve of drum "{drum}" is recorded. Put a thermometer into one pour, read it every few '
            "seconds, and record what it shows."
        )
    last = curves[-1]
    fitted = fit_drum_cooling(last.times, last.temperatures, last.volume, last.wall)
    start = fitted.start_for_mean(aim, duration, volume, wall)
    return PourAdvice(start=start, end=fitted.at(duration, volume, start, wall), drum=fitted)


def log_own_time(db: Database, process: str, temperature: float, time: float) -> OwnTimeRecord:
    """Record a trial that came out right against a control patch: developer at this temperature for this time."""
    OwnTime(temperature=temperature, time=time)
    with db.transaction() as conn:
        return add(
            conn,
            OwnTimeRecord(process=process, at=datetime.now(UTC), temperature=temperature, time=time),
        )


def advise_time(db: Database, process: str, temperature: float) -> Estimate:
    """Developer time for today's temperature from the printer's own trials of a process [s].

    Raises
    ------
    Refused
        If they do not reach it; says what to try first, as a trial and not a promise.
    """
    with db.reading() as conn:
        known = find(conn, Process, process)
        trials = [
            OwnTime(temperature=row.temperature, time=row.time) for row in every(conn, OwnTimeRecord, process=process)
        ]
    if known.developer_temperature is not None and known.developer_time is not None:
        trials.append(OwnTime(temperature=known.developer_temperature, time=known.developer_time))
    try:
        return time_for(temperature, trials)
    except Refused as error:
        if not trials:
            raise
        nearest = min(trials, key=lambda trial: abs(trial.temperature - temperature))
        short, long = first_trial(temperature, nearest)
        raise Refused(
            f"{error} What to try first: {short:.0f} to {long:.0f} s (a rule of thumb from memory, not a promise)."
        ) from None
