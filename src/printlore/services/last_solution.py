"""The last solution of a long record, kept in the studio's folder so that the next start need not find it again.

Plain JSON, and only a place to begin from: the record itself is solved whatever it says, from nothing if it does not
come to rest from there. It is no part of a backup. It holds no name: what a number belongs to is found by a mark made
of the name, so that what was taken back, or is called otherwise now, is named nowhere in it.
"""

import contextlib
import hashlib
import json
from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from printlore.core.memory.priors import Priors, Spread
from printlore.core.memory.solve import Memory
from printlore.core.memory.start import Start
from printlore.errors import UnreadableFile
from printlore.files import write_file
from printlore.records.database import Database

FILE_NAME = "last-solution.json"
WORTH = 2000
"""Trials: a shorter record is solved in about a second from nothing."""
_FORM = 4
_LONGEST = 200_000_000
"""[byte] Ten times a record of 100,000 trials."""
_PROPORTION = 4.0
"""[1] Most that the logarithm of a learned spread lies from that of the one believed beforehand."""
_LARGEST = 10.0
"""[log10, or the unit of the effect] Nothing that was ever solved lies further from what is believed beforehand."""


def keep_solution(db: Database, memory: Memory) -> None:
    """Write a long record's solution beside it; a folder that cannot be written is left as it is."""
    if db.folder is None or db.read_only or len(memory.evidence.trials) < WORTH or not memory.settled:
        return
    text = json.dumps(_document(memory.as_start()), separators=(",", ":"))
    path = db.folder / FILE_NAME
    with contextlib.suppress(OSError, UnreadableFile):
        if path.is_symlink():
            path.unlink()
        write_file(path, text.encode())


def kept_solution(db: Database) -> Start | None:
    """What was kept; None if there is nothing that can be used. A file that cannot be used is deleted."""
    if db.folder is None:
        return None
    path = db.folder / FILE_NAME
    try:
        if not path.is_file() or path.stat().st_size > _LONGEST:
            return None
        return _start(json.loads(path.read_text(encoding="utf-8")))
    except (ValueError, TypeError, KeyError, AttributeError, OverflowError, MemoryError, RecursionError):
        if not db.read_only:
            with contextlib.suppress(OSError):
                path.unlink()
        return None
    except OSError:
        return None


def _document(start: Start) -> dict[str, Any]:
    return {
        "form": _FORM,
        "learned": {name: [spread.common, spread.colour] for name, spread in start.learned.items()},
        "general": _listed(start.general),
        "blocks": _listed(start.blocks),
        "frames": _listed(start.frames),
        "trials": _listed(start.trials),
    }


def _listed(parts: Mapping[Any, np.ndarray]) -> dict[str, Any]:
    """Marks of the names, how many numbers each has, and all numbers."""
    values = np.concatenate([part.ravel() for part in parts.values()]) if parts else np.zeros(0)
    return {
        "marks": [_mark(name) for name in parts],
        "sizes": [part.size for part in parts.values()],
        "values": np.round(values, 10).tolist(),
    }


def _mark(name: str | tuple[str, ...]) -> str:
    return hashlib.sha256(json.dumps(name).encode()).hexdigest()[:16]


class _Marked(Mapping[Any, np.ndarray]):
    """Numbers by name, though only the marks of the names are known."""

    def __init__(self, by_mark: Mapping[str, np.ndarray]) -> None:
        self._by_mark = by_mark

    def __getitem__(self, name: Any) -> np.ndarray:
        return self._by_mark[_mark(name)]

    def __iter__(self) -> Iterator[str]:
        return iter(self._by_mark)

    def __len__(self) -> int:
        return len(self._by_mark)


def _start(document: dict[str, Any]) -> Start:
    """Raises ``ValueError`` and its like for anything that ``_document`` would not write."""
    if document["form"] != _FORM:
        raise ValueError("another form")
    learned = {name: _spread(name, *values) for name, values in document["learned"].items()}
    general, blocks, frames, trials = (_parts(document[kind]) for kind in ("general", "blocks", "frames", "trials"))
    rows = {name: values.reshape(-1, 5) for name, values in trials.items()}
    trust = np.concatenate([values[:, 3:].ravel() for values in rows.values()]) if rows else np.ones(0)
    if any(len(values) != 3 for values in (*blocks.values(), *frames.values())) or not np.all(
        (trust > 0) & (trust <= 1)
    ):
        raise ValueError("no three layers, or no trust")
    return Start(
        general=_Marked(general),
        blocks=_Marked(blocks),
        frames=_Marked(frames),
        trials=_Marked(rows),
        learned=learned,
    )


def _spread(name: str, common: float, colour: float) -> Spread:
    """One that is not out of all proportion to what is believed beforehand."""
    prior = getattr(Priors(), name)
    if common < 0 or colour <= 0:
        raise ValueError("no spread")
    # across the grey direction, and along it
    now = np.log([colour, np.hypot(colour, np.sqrt(3) * common)])
    before = np.log([prior.colour, np.hypot(prior.colour, np.sqrt(3) * prior.common)])
    if not np.all(np.abs(now - before) < _PROPORTION):
        raise ValueError("out of proportion")
    return Spread(common=common, colour=colour)


def _parts(listed: dict[str, Any]) -> dict[str, np.ndarray]:
    """Back from ``_listed``."""
    values, sizes = np.array(listed["values"], dtype=float), np.array(listed["sizes"], dtype=np.int64)
    marks = listed["marks"]
    if values.shape != (sizes.sum(),) or np.any(sizes < 0) or not np.all(np.abs(values) < _LARGEST):
        raise ValueError("no such numbers")
    return dict(zip(marks, np.split(values, np.cumsum(sizes)[:-1]) if marks else (), strict=True))
