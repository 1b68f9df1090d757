"""The memory is solved with one thread, whatever the library of linear algebra was loaded with."""

import numpy as np
import pytest
from threadpoolctl import ThreadpoolController, threadpool_limits

from printlore.records.database import Database
from printlore.services import memory
from printlore.services.one_thread import one_thread


def threads():
    return {library.num_threads for library in ThreadpoolController().select(user_api="blas").lib_controllers}


def test_one_thread_inside_and_as_many_as_before_outside():
    assert len(np.eye(2))
    with threadpool_limits(limits=2, user_api="blas"):
        assert one_thread(threads)() == {1}
        assert threads() == {2}


def test_afterwards_they_are_there_again_if_it_failed():
    def fails():
        raise ValueError("as asked")

    with threadpool_limits(limits=2, user_api="blas"):
        with pytest.raises(ValueError, match="as asked"):
            one_thread(fails)()
        assert threads() == {2}


def test_the_memory_is_solved_so(monkeypatch):
    seen = []
    solve = memory.solve
    monkeypatch.setattr(memory, "solve", lambda evidence: (seen.append(threads()), solve(evidence))[1])
    with threadpool_limits(limits=2, user_api="blas"):
        memory.current_memory(Database.in_memory())
    assert seen == [{1}]
