"""The memory worked out beside the page: a process of its own solves it, so that nothing at the bench waits for it.

A long record takes many seconds to solve. What is logged is on disk at once; what follows from it is asked of the
keeper and comes when it is ready, always of the record as it stood when it was asked, or later.
"""

import gc
import multiprocessing
import os
import signal
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path
from typing import Any, Concatenate, ParamSpec, TypeVar, cast

from printlore.core.figure import DECIMAL_MARK
from printlore.errors import StillWorking
from printlore.records.database import Database
from printlore.records.rows import record_version
from printlore.services.memory import current_memory

P = ParamSpec("P")
R = TypeVar("R")

KEPT_ANSWERS = 64
KEPT_SECONDS = 120.0
"""[s] Lamp and bath grow older meanwhile: an answer is asked for anew after this."""

PASSING = 0.5
"""[s] An answer that took less was not waited for."""

_OWN: Database | None = None
"""The worker process's own connection."""


class Keeper:
    """Answers that need the solved memory, worked out in a process of its own.

    A studio in memory cannot be seen from another process: there the answer is worked out at once.

    Attributes
    ----------
    took : float or None
        How long the last answer took for which the memory was solved anew [s].
    """

    def __init__(self, db: Database) -> None:
        self.took: float | None = None
        self._db = db
        self._pool: ProcessPoolExecutor | None = None
        self._answers: OrderedDict[Any, tuple[float, Future[Any]]] = OrderedDict()
        self._lock = threading.Lock()

    def start(self) -> None:
        """Begin to solve; called when the studio is opened, so that the first advice is not waited for from then on."""
        if self._db.folder is not None:
            self._submit(_solve)

    def ask(self, function: Callable[Concatenate[Database, P], R], *args: P.args, **kwargs: P.kwargs) -> "Future[R]":
        """The answer of ``function(db, *args)`` for the record as it stands; worked out once while that stays.

        Parameters
        ----------
        function : callable
            Of a module, so that another process finds it; its arguments are frozen values.
        """
        if self._db.folder is None:
            return _at_once(function, self._db, *args, **kwargs)
        now = time.monotonic()
        with self._db.reading() as conn:
            key = (record_version(conn), function, args, tuple(sorted(kwargs.items())))
        with self._lock:
            known = self._answers.get(key)
            if known is None or (known[1].done() and (now - known[0] > KEPT_SECONDS or _lost(known[1]))):
                known = now, self._submit(function, *args, **kwargs)
                self._answers[key] = known
                if len(self._answers) > KEPT_ANSWERS:
                    self._answers.popitem(last=False)
                known[1].add_done_callback(lambda _: self._note(time.monotonic() - now))
            return cast("Future[R]", known[1])

    def soon(
        self, patience: float, function: Callable[Concatenate[Database, P], R], *args: P.args, **kwargs: P.kwargs
    ) -> R:
        """The answer, if it comes within so many seconds.

        Raises
        ------
        StillWorking
            If it does not. Errors of the function are raised as they are.
        """
        asked = self.ask(function, *args, **kwargs)
        if not wait([asked], timeout=patience).done or _lost(asked):
            raise StillWorking("The prints so far are still being weighed. Ask again in a moment; nothing is lost.")
        return asked.result()

    def close(self) -> None:
        """End the process, whatever it is doing."""
        with self._lock:
            pool, self._pool = self._pool, None
        if pool is not None:
            for worker in list((pool._processes or {}).values()):
                worker.terminate()
            pool.shutdown(wait=True, cancel_futures=True)
            self._answers.clear()
            del pool
            # its semaphores are given back now: a server that is ended by a signal has no later
            gc.collect()

    def _note(self, took: float) -> None:
        if took > PASSING:
            self.took = took

    def _submit(self, function: Callable[..., Any], *args: Any, **kwargs: Any) -> "Future[Any]":
        for _ in range(2):
            if self._pool is None:
                assert self._db.folder is not None
                self._pool = ProcessPoolExecutor(
                    max_workers=1,
                    mp_context=multiprocessing.get_context("spawn"),
                    initializer=_begin,
                    initargs=(self._db.folder, self._db.read_only),
                )
            try:
                # the other process writes sentences, too
                return self._pool.submit(_answer, DECIMAL_MARK.get(), function, args, kwargs)
            except BrokenProcessPool:
                # killed from outside, for want of memory perhaps: a new one starts over
                self._pool = None
        raise AssertionError("a new pool takes what it is given")


def _lost(answer: "Future[Any]") -> bool:
    """The process ended before it answered."""
    return answer.done() and isinstance(answer.exception(), BrokenProcessPool)


def _at_once(function: Callable[..., R], *args: Any, **kwargs: Any) -> "Future[R]":
    answer: Future[R] = Future()
    try:
        answer.set_result(function(*args, **kwargs))
    except Exception as error:
        answer.set_exception(error)
    return answer


# in the worker


def _begin(folder: Path, read_only: bool) -> None:
    global _OWN
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    os.nice(5)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    _OWN = Database.open(folder, create=False, read_only=read_only)


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    assert parent is not None
    parent.join()
    os._exit(0)


def _answer(mark: str, function: Callable[..., Any], args: tuple[Any, ...], kwargs: dict[str, Any]) -> Any:
    assert _OWN is not None
    DECIMAL_MARK.set(mark)
    return function(_OWN, *args, **kwargs)


def _solve(db: Database) -> None:
    current_memory(db)
