"""Why: parts that add up, and effects with their bands."""

from dataclasses import replace

import numpy as np
import pytest

from printed_rooms import printed
from printlore.core.light.filters import FilterPack
from printlore.core.memory.evidence import BathState
from printlore.core.memory.explain import difference
from printlore.core.memory.forecast import Conditions, forecast, look_up
from printlore.core.memory.solve import solve


@pytest.fixture(scope="module")
def memory():
    record = printed("steady vane", 6, 8, lots=2)
    lots = dict(record.evidence.lots) | {"lot 3": "paper"}
    baths = dict(record.evidence.baths) | {"bath 2": "process"}
    return solve(replace(record.evidence, lots=lots, baths=baths))


def ends(memory):
    trial = memory.evidence.trials[0]
    old = Conditions(frame=trial.frame, head="head", lot="lot 1", bath="bath 1", date=trial.date)
    new = Conditions(
        frame=memory.evidence.trials[-1].frame,
        head="head",
        lot="lot 2",
        bath="bath 2",
        date=40.0,
        bath_state=BathState(area_per_litre=0.5, age_days=6, strength=0.95),
    )
    setting = trial.patches[0].setting
    made = replace(setting, pack=FilterPack(cyan=0, magenta=64, yellow=41), time=13.5, f_number=5.6, magnification=12.0)
    return (old, setting), (new, made)


def foretold(memory, end):
    return forecast(look_up(memory, end[0]), [end[1]]).log_exposure[0]


def test_parts_add_up_exactly(memory):
    old, new = ends(memory)
    parts = difference(memory, old, new)
    total = np.sum([part.log_exposure for part in parts], axis=0)
    assert total == pytest.approx(foretold(memory, new) - foretold(memory, old), abs=1e-9)


def test_every_change_has_its_part_and_says_who_made_it(memory):
    parts = {part.name: part for part in difference(memory, *ends(memory))}
    assert set(parts) == {"negative", "paper", "bath", "lamp", "size", "f-number", "filters", "time"}
    assert {name for name, part in parts.items() if part.dialled} == {"size", "f-number", "filters", "time"}


def test_what_did_not_change_has_no_part(memory):
    old, _ = ends(memory)
    assert difference(memory, old, old) == ()
    longer = (old[0], replace(old[1], time=old[1].time * 2))
    (part,) = difference(memory, old, longer)
    assert part.name == "time"
    # twice the time is 0.30 in every layer, but for the reciprocity and lamp delay that were learned
    assert part.log_exposure == pytest.approx((0.301,) * 3, abs=0.03)


def test_a_lot_that_was_never_tried_is_less_sure_than_one_that_was(memory):
    old, _ = ends(memory)
    known, unknown = (
        difference(memory, old, (replace(old[0], lot=lot), old[1]))[0].standard_error for lot in ("lot 2", "lot 3")
    )
    assert max(known) < min(unknown)


def test_size_part_is_the_textbook_rule_within_its_learned_error(memory):
    """Magnification 8 to 12: 2.086 times the time (row M3 of the worked examples)."""
    old, _ = ends(memory)
    larger = (old[0], replace(old[1], magnification=12.0))
    (part,) = difference(memory, old, larger)
    assert part.name == "size"
    assert part.log_exposure == pytest.approx((-np.log10(2.086),) * 3, abs=0.01)
