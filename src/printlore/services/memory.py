"""The studio's memory, solved and kept at hand while the record does not change."""

from dataclasses import dataclass
from threading import Lock
from weakref import WeakKeyDictionary

from printlore.core.memory.evidence import Evidence
from printlore.core.memory.solve import Memory, solve
from printlore.records.bulk import Held
from printlore.records.database import Database
from printlore.services.evidence import hold_evidence


@dataclass(slots=True)
class _Kept:
    held: Held
    memory: Memory


_KEPT: "WeakKeyDictionary[Database, _Kept]" = WeakKeyDictionary()
_LOCK = Lock()


def drums_tell(evidence: Evidence) -> bool:
    """Whether a drum held pieces of one frame only, so that the spread of drums can be learned; else it stays as usual.

    The first evening of a studio may have nothing but shared drums; the memory learns spreads from the others.
    """
    cells: dict[str, set[tuple[str, str, str]]] = {}
    for trial in evidence.trials:
        cells.setdefault(trial.run or trial.name, set()).add((trial.frame, trial.lot, trial.bath))
    return not cells or any(len(of_run) == 1 for of_run in cells.values())


def current_memory(db: Database) -> Memory:
    """Memory of everything recorded up to now; solved anew only if something changed since the last call."""
    with _LOCK:
        kept = _KEPT.get(db)
        held = hold_evidence(db, kept.held if kept else None)
        if kept is not None and held.evidence is kept.held.evidence:
            return kept.memory
        memory = solve(
            held.evidence,
            learn_scales=drums_tell(held.evidence),
            start=kept.memory if kept else None,
        )
        _KEPT[db] = _Kept(held, memory)
        return memory
