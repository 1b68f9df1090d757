"""What the prints taught of the lots, developers and films of a studio."""

from dataclasses import dataclass

from printlore.core.advice.pictures import Picture, pictures
from printlore.core.advice.taught import Bearing, Repeats, Taught, bearings, repeats, taught
from printlore.records.baths_kept import other_baths
from printlore.records.database import Database
from printlore.services.memory import current_memory
from printlore.services.one_thread import one_thread


@dataclass(frozen=True, slots=True, kw_only=True)
class Lessons:
    """Learned effects, how well prints repeat, pictures of what all prints have in common; trials and frames."""

    effects: tuple[Taught, ...]
    repeats: Repeats
    pictures: tuple[Picture, ...]
    trials: int
    frames: int


@one_thread
def lessons(db: Database) -> Lessons:
    """Every lot, developer and film with what was learned of it.

    A bleach-fix or a stop has no effect of its own in the memory and is left out.
    """
    memory = current_memory(db)
    with db.reading() as conn:
        others = other_baths(conn)
    trials = memory.evidence.trials
    return Lessons(
        effects=tuple(one for one in taught(memory) if one.kind != "bath" or one.name not in others),
        repeats=repeats(memory),
        pictures=pictures(memory),
        trials=len(trials),
        frames=len({trial.frame for trial in trials}),
    )


@one_thread
def evidence_of(db: Database, kind: str, name: str, unread: bool = False) -> tuple[Bearing, ...]:
    """What each of the newest pieces of paper says of a learned effect, the weightiest first.

    Parameters
    ----------
    unread : bool
        Of a film: of its negatives that were not read, where others were.

    Raises
    ------
    UnknownRecord
        If there is no such effect.
    """
    return bearings(current_memory(db), kind, name, unread=unread)
