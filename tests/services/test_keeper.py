"""The memory worked out beside the page: nothing waits for it, and nothing stale is shown."""

import os
import signal
import time

import pytest

from printlore import Exposed, FilterPack, Setting, Studio
from printlore.core.figure import DECIMAL_MARK
from printlore.core.light.enlarging import Sheet
from printlore.errors import StillWorking, UnknownRecord
from printlore.records.database import Database
from printlore.services.advice import AdviceRequest, advise
from printlore.services.keeper import Keeper
from printlore.services.trials import find_trial, list_trials


def log(db, density=(0.8, 0.7, 0.7)):
    setting = Setting(pack=FilterPack(magenta=45, yellow=60), time=10)
    return Studio(db).log("one", Exposed(setting=setting, density=density))


@pytest.fixture
def db(tmp_path):
    with Database.open(tmp_path / "studio") as db:
        studio = Studio(db)
        studio.add_film("film")
        studio.add_frame("one", film="film")
        log(db)
        yield db


@pytest.fixture
def keeper(db):
    keeper = Keeper(db)
    yield keeper
    keeper.close()


def test_a_page_is_told_that_it_is_working_and_gets_what_the_service_says(db, keeper):
    asked = AdviceRequest(frame="one")
    with pytest.raises(StillWorking, match="nothing is lost"):
        keeper.soon(0.0, advise, asked)
    kept = keeper.ask(advise, asked).result(timeout=60)
    assert kept.advice.setting == advise(db, asked).advice.setting
    assert keeper.soon(0.0, advise, asked) is kept


def test_what_the_other_process_says_has_the_studios_decimal_mark(keeper):
    before = DECIMAL_MARK.set(",")
    try:
        asked = AdviceRequest(frame="one", sheet=Sheet(size=(300, 400)))
        [remark] = [one for one in keeper.ask(advise, asked).result(timeout=60).remarks if "Enlarged" in one]
    finally:
        DECIMAL_MARK.reset(before)
    assert remark.startswith("Enlarged 12,5 times")


def test_after_any_new_row_an_earlier_answer_is_not_shown(db, keeper):
    before = keeper.ask(list_trials, frame="one").result(timeout=60)
    name = log(db)
    with pytest.raises(StillWorking):
        keeper.soon(0.0, list_trials, frame="one")
    after = keeper.ask(list_trials, frame="one").result(timeout=60)
    assert [record.name for record in after] == [*(record.name for record in before), name]


def test_an_error_comes_as_the_service_raised_it(keeper):
    with pytest.raises(UnknownRecord, match='No trial is called "T99"'):
        keeper.ask(find_trial, "T99").result(timeout=60)


def test_a_process_that_was_killed_is_replaced(keeper):
    pid = keeper.ask(process).result(timeout=60)
    os.kill(pid, signal.SIGKILL)
    deadline = time.monotonic() + 60
    while time.monotonic() < deadline:
        try:
            assert keeper.soon(30.0, find_trial, "T1").name == "T1"
            break
        except StillWorking:
            continue
    else:
        pytest.fail("no answer came")


def test_a_studio_in_memory_is_answered_at_once():
    with Database.in_memory() as db:
        log_db = Studio(db)
        log_db.add_film("film")
        log_db.add_frame("one", film="film")
        log(db)
        assert Keeper(db).soon(0.0, find_trial, "T1").name == "T1"


def process(db):
    """Number of the process that answers."""
    return os.getpid()
