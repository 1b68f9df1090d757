"""Records whose days cannot be as they stand: a load before its bath was mixed, a print before its paper came.

What is entered is held to this where it is entered; what comes in from elsewhere is told.
"""

from collections import defaultdict
from collections.abc import Iterable
from datetime import date, datetime

import sqlalchemy as sa

from printlore.core.calendar import day
from printlore.records.baths import UNKNOWN_DAY, Bath, BathEvent, Run
from printlore.records.baths_control import ControlRecord
from printlore.records.papers import Lot
from printlore.records.rows import every
from printlore.records.stock import RollMeasure, RollRecord, StockLine
from printlore.records.trials import TrialRow

_NAMED = 3
"""Of many that are told together, these are named."""
_Dated = tuple[str, datetime]


def order_troubles(conn: sa.Connection) -> list[str]:
    """Sentences that name what was done before it could be."""
    prints = [row for row in every(conn, TrialRow) if row.source == "bench"]  # a page of old notes names no bath's day
    return [*_of_baths(conn, prints), *_of_loads(conn, prints), *_of_lots(conn, prints), *_of_rolls(conn)]


def _of_baths(conn: sa.Connection, prints: list[TrialRow]) -> list[str]:
    said = []
    through: dict[str, list[_Dated]] = defaultdict(list)
    for run in every(conn, Run):
        through[run.bath].append((f'the load "{run.name}"', run.at))
    for event in every(conn, BathEvent):
        through[event.bath].append((f"a line ({event.kind})", event.at))
    for patch in every(conn, ControlRecord):
        through[patch.bath].append((f"control patch {patch.id}", patch.at))
    for row in prints:
        through[row.bath].append((row.name, row.at))
    for bath in every(conn, Bath):
        if bath.mixed_at != UNKNOWN_DAY:
            early = [one for one in through[bath.name] if one[1] < bath.mixed_at]
            if early:
                mixed = day(bath.mixed_at)
                said.append(f'Of the bath "{bath.name}", mixed on {mixed}, {_are(early)} dated before that.')
    return said


def _of_loads(conn: sa.Connection, prints: list[TrialRow]) -> list[str]:
    bath_of = {run.name: run.bath for run in every(conn, Run)}
    return [
        f'{row.name} was in the load "{row.run}" of the bath "{bath_of[row.run]}", and is said to be of "{row.bath}".'
        for row in prints
        if row.run in bath_of and bath_of[row.run] != row.bath
    ]


def _of_lots(conn: sa.Connection, prints: list[TrialRow]) -> list[str]:
    came = {lot.name: lot.received_at for lot in every(conn, Lot) if lot.received_at is not None}
    early: dict[str, list[_Dated]] = defaultdict(list)
    for row in prints:
        if row.lot in came and _on(row.at) < _on(came[row.lot]):
            early[row.lot].append((row.name, row.at))
    return [
        f'Of the lot "{lot}", which came on {day(came[lot])}, {_are(rows)} dated before that.'
        for lot, rows in early.items()
    ]


def _of_rolls(conn: sa.Connection) -> list[str]:
    of_rolls: dict[str, list[_Dated]] = defaultdict(list)
    for line in every(conn, StockLine):
        if line.roll is not None:
            of_rolls[line.roll].append((f"line {line.id} of the ledger ({line.happened.value})", line.at))
    for measure in every(conn, RollMeasure):
        of_rolls[measure.roll].append(("a measure", measure.at))
    said = []
    for roll in every(conn, RollRecord):
        early = [one for one in of_rolls[roll.name] if _on(one[1]) < _on(roll.received_at)]
        if early:
            came = day(roll.received_at)
            said.append(f'Of the roll "{roll.name}", which came on {came}, {_are(early)} dated before that.')
    return said


def _on(at: datetime) -> date:
    """What came on a day may be used on it, whenever either was written down."""
    return at.astimezone().date()


def _are(found: Iterable[_Dated]) -> str:
    told = [f"{what} on {day(at)}" for what, at in sorted(found, key=lambda one: one[1])]
    rest = f" and {len(told) - _NAMED} more" if len(told) > _NAMED else ""
    return f"{', '.join(told[:_NAMED])}{rest} {'is' if len(told) == 1 else 'are'}"
