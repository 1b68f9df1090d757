"""Call something by another name: what was made with it stays with it, for records refer to each other by number."""

import time
from typing import Any

from printlore.errors import Refused, ValueOutOfRange
from printlore.records.baths import Bath, Process
from printlore.records.database import Database
from printlore.records.light import Head, Lens
from printlore.records.negatives import Film
from printlore.records.papers import Lot, PaperFamily
from printlore.records.rows import every, find
from printlore.services.entry import correct_record
from printlore.services.evening import evening_now, this_evening

NAMED: dict[str, Any] = {kind.word: kind for kind in (Head, Lens, PaperFamily, Lot, Process, Bath, Film)}
"""What can be renamed here, by its word; a negative is corrected with its film and number."""


def names_given(db: Database) -> list[tuple[str, str]]:
    """Everything that can be renamed, as (word, name)."""
    with db.reading() as conn:
        return [(word, record.name) for word, kind in NAMED.items() for record in every(conn, kind)]


def rename(db: Database, word: str, name: str, new: str) -> Any:
    """Give a head, lens, paper, lot, process, bath or film another name.

    Raises
    ------
    Refused
        If it is a bath that a load of tonight still has to go through: the plan knows it by its name.
    UnknownRecord
        If there is none of this name.
    ValueOutOfRange
        If the word is none of these, or the new name is or was another's.
    """
    if word not in NAMED:
        raise ValueOutOfRange(f'"{word}" is nothing that can be renamed; use one of {", ".join(NAMED)}.')
    with db.reading() as conn:
        record = find(conn, NAMED[word], name)
    if word == Bath.word and record.name in _planned_tonight(db):
        raise Refused(f'A load of tonight goes through "{record.name}". Rename the bath when it is washed.')
    return correct_record(db, record, name=new)


def _planned_tonight(db: Database) -> set[str]:
    now = time.time()
    evening = this_evening(db, now=now)
    if evening is None:
        return set()
    loads = evening_now(db, evening, now=now).loads.values()
    return {bath for state in loads if state.ledger is None for _, bath in state.load.baths}
