"""Evidence for the memory out of the record, whole or what is new."""

from printlore.core.memory.evidence import Evidence
from printlore.records.bulk import Held, read_all, read_since
from printlore.records.database import Database


def load_evidence(db: Database) -> Evidence:
    """Everything the memory may learn from; trials that say nothing yet are left out."""
    return hold_evidence(db).evidence


def hold_evidence(db: Database, held: Held | None = None) -> Held:
    """The same with a mark; given what was held before, only what changed since is read, and named."""
    with db.reading() as conn:
        return read_all(conn) if held is None else read_since(conn, held)
