"""The studio's memory, solved and kept at hand while the record does not change."""

from dataclasses import dataclass
from threading import Lock
from weakref import WeakKeyDictionary

from printlore.core.memory.solve import Memory, solve
from printlore.core.memory.update import update
from printlore.records.bulk import Held
from printlore.records.database import Database
from printlore.services.evidence import hold_evidence


@dataclass(slots=True)
class _Kept:
    held: Held
    memory: Memory


_KEPT: "WeakKeyDictionary[Database, _Kept]" = WeakKeyDictionary()
_LOCK = Lock()


def current_memory(db: Database) -> Memory:
    """Memory of everything recorded up to now; brought up to date if something changed since the last call."""
    with _LOCK:
        kept = _KEPT.get(db)
        held = hold_evidence(db, kept.held if kept else None)
        if kept is not None and held.evidence is kept.held.evidence:
            return kept.memory
        memory = update(kept.memory, held.evidence) if kept else solve(held.evidence)
        _KEPT[db] = _Kept(held, memory)
        return memory
