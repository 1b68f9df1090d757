"""A step that was refused leaves nothing to take back: the undo pressed for it must not reach the pour before it."""

import time

import pytest

from evening_bench import Bench

pytestmark = pytest.mark.browser


@pytest.fixture
def bench(tmp_path):
    made = Bench(tmp_path / "studio")
    made.start()
    yield made
    made.stop()


def until(page, ask, seconds=10):
    deadline = time.monotonic() + seconds
    while not ask():
        assert time.monotonic() < deadline
        page.wait_for_timeout(60)


def test_the_undo_of_a_refused_hold_does_not_take_back_the_pour(page, bench):
    bench.plan()
    bench.care()
    bench.in_drum()
    bench.begin(begin=bench.clock.now() + 60)
    load = next(iter(bench.state().loads))
    page.goto(bench.url + "/evening/wet")
    said = page.locator("[data-say=answer]").first
    # before the first pour there is nothing to hold
    page.evaluate("(load) => import('/static/evening/studio.js').then(({ send }) => { send('held', { load }); })", load)
    until(page, lambda: "not" in said.inner_text())
    page.locator(f'[id="undo-{load}"]').click()
    until(page, lambda: "was refused, so nothing came of it" in said.inner_text())
    page.wait_for_timeout(500)
    assert bench.state().loads[load].begin is not None
    page.locator(f'[id="undo-{load}"]').click()
    until(page, lambda: bench.state().loads[load].begin is None)
