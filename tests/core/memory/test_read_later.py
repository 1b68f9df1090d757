"""Readings of negatives that begin late, or change hands: what is known without them, and beside another source."""

from dataclasses import replace

import numpy as np
import pytest

from printed_rooms import as_setting, printed, vector
from printlore.core.memory.evidence import FrameFacts, NegativeReading
from printlore.core.memory.forecast import Conditions, forecast, look_up
from printlore.core.memory.solve import solve


def next_negative(seed, *, readings, source):
    """Light that a new negative was foretold to need, its error as stated and as it was (mean of layers) [log10]."""
    record = printed("steady vane", seed, 12, readings=readings)
    room, evidence, day = record.room, record.evidence, record.evidence.trials[-1].date
    name = room.add_frame("film A")
    reading = source and NegativeReading(density=vector(room.read_negative(name)), source=source, standard_error=0.002)
    facts = FrameFacts(name=name, film="film A", reading=reading or None)
    memory = solve(replace(evidence, frames={**evidence.frames, name: facts}))
    at = room.conditions("lot 1", "bath 1", date=day)
    right = room.right_setting(name, at)
    asked = Conditions(frame=name, head="head", lot="lot 1", bath="bath 1", date=day)
    seen = forecast(look_up(memory, asked), [as_setting(right)])
    back = np.linalg.inv(seen.by_layer[0])
    stated = np.sqrt((back @ seen.covariance[0] @ back.T).mean())
    # at the right setting every layer is at nothing
    return stated, seen.log_exposure[0].mean()


@pytest.mark.parametrize(
    ("readings", "source"), [(False, "probe"), (True, "scanner"), (True, ""), (False, "")],
    ids=["the first that is read", "the first of another source", "one unread", "all unread"],
)  # fmt: skip
def test_a_negative_is_known_as_well_as_it_says(readings, source):
    """Of one negative that was read, as of none, it is known how the others lie, not how it lies among them."""
    stated, off = np.array([next_negative(seed, readings=readings, source=source) for seed in range(1, 13)]).T
    assert 0.6 < np.sqrt(np.mean(np.square(off / stated))) < 1.4


def test_a_second_reading_source_costs_one_negative():
    """Once one of its negatives was printed, a source says how the next ones lie beside that."""
    record = printed("steady vane", 5, 12)
    frames = list(record.evidence.frames)
    facts = dict(record.evidence.frames)
    for name in frames[8:]:
        facts[name] = replace(facts[name], reading=replace(facts[name].reading, source="scanner"))
    memory = solve(replace(record.evidence, frames=facts))
    alone = solve(record.evidence)
    for trial in record.evidence.trials[-4:]:
        at = Conditions(frame=trial.frame, head="head", lot=trial.lot, bath=trial.bath, date=trial.date)
        one, other = (forecast(look_up(m, at), [trial.patches[0].setting]).log_exposure[0] for m in (memory, alone))
        assert one == pytest.approx(other, abs=0.005)
