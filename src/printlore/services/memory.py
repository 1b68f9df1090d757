"""The studio's memory, solved and kept at hand while the record does not change."""

from dataclasses import dataclass
from threading import Lock
from weakref import WeakKeyDictionary

from printlore.core.memory.evidence import Evidence
from printlore.core.memory.misread import Contradicted, misread, still_so, without
from printlore.core.memory.solve import Memory, solve, solve_from
from printlore.core.memory.update import update
from printlore.records.bulk import Held
from printlore.records.database import Database
from printlore.services.evidence import hold_evidence
from printlore.services.last_solution import keep_solution, kept_solution
from printlore.services.one_thread import one_thread


@dataclass(slots=True)
class _Kept:
    held: Held
    memory: Memory
    misread: Contradicted


_KEPT: "WeakKeyDictionary[Database, _Kept]" = WeakKeyDictionary()
_LOCK = Lock()


@one_thread
def current_memory(db: Database) -> Memory:
    """Memory of everything recorded up to now; brought up to date if something changed since the last call."""
    with _LOCK:
        kept = _KEPT.get(db)
        held = hold_evidence(db, kept.held if kept else None)
        if kept is not None and held.evidence is kept.held.evidence:
            return kept.memory
        wrong = still_so(kept.misread, held.evidence) if kept else {}
        counted = without(held.evidence, wrong)
        memory = update(kept.memory, counted) if kept else _solved(db, counted)
        if found := misread(memory):
            wrong = {**wrong, **found}
            memory = solve(without(held.evidence, wrong))
        _KEPT[db] = _Kept(held, memory, wrong)
        if not memory.added:
            keep_solution(db, memory)
        return memory


def _solved(db: Database, evidence: Evidence) -> Memory:
    """From where the last start of this studio ended, if that is known; else, or if it leads nowhere, from nothing."""
    start = kept_solution(db)
    return solve(evidence) if start is None else solve_from(evidence, start)
