"""One trial more, added without solving for everything again."""

from dataclasses import replace

import numpy as np
import pytest

from printed_rooms import printed
from printlore.core.memory import update as updating
from printlore.core.memory.evidence import FrameFacts, Patch
from printlore.core.memory.forecast import Conditions, forecast, look_up
from printlore.core.memory.solve import solve
from printlore.core.memory.update import update

SAME = 1e-5
"""[log10] Two solutions of equal evidence are the same mode within this (design of the memory)."""


def conditions_of(trial):
    return Conditions(
        frame=trial.frame, head=trial.head, lot=trial.lot, bath=trial.bath, date=trial.date, bath_state=trial.bath_state
    )


def foretold(memory, trials):
    return [forecast(look_up(memory, conditions_of(t)), [t.patches[0].setting]) for t in trials]


@pytest.fixture(scope="module")
def record():
    return printed("steady vane", 3, 9, lots=2).evidence


@pytest.fixture(scope="module")
def memory(record):
    return solve(record)


def one_more(evidence, memory, off):
    """The last trial again, reading what was foretold for it and a little more."""
    last = evidence.trials[-1]
    density = foretold(memory, [last])[0].density[0] + off
    patch = Patch(setting=last.patches[0].setting, density=tuple(density.tolist()))
    more = replace(last, name="more", run="more", patches=(patch,))
    return replace(evidence, trials=(*evidence.trials, more))


@pytest.fixture
def never_whole(monkeypatch):
    def refuse(*_, **__):
        raise AssertionError("everything was solved again")

    monkeypatch.setattr(updating, "solve", refuse)


@pytest.mark.parametrize("drum_shared", [False, True])
def test_at_one_linearisation_and_weight_it_is_the_full_solution(record, memory, never_whole, drum_shared, monkeypatch):
    """Mode and covariances after one round, against all trials eliminated and a dense system solved."""
    monkeypatch.setattr(updating._Some, "doubt", lambda self, seen: 0.0)
    monkeypatch.setattr(updating, "_DONE", 1e3)
    monkeypatch.setattr(updating, "_FAR", 1.0)
    evidence = one_more(record, memory, np.array([1e-5, -2e-5, 1e-5]))
    if drum_shared:
        with_earlier = replace(evidence.trials[-1], run=evidence.trials[0].run)
        evidence = replace(evidence, trials=(*evidence.trials[:-1], with_earlier))
    quick = update(memory, evidence)
    names, layout, blocks = memory.columns.names, memory.layout, len(memory.state.blocks)
    everything = np.arange(len(names.frames)), np.arange(len(evidence.trials))
    whole = updating._some(memory, evidence, names, memory.state.blocks, *everything)
    size, shared = layout.size, memory.elimination.shared
    reduced = whole.reduced(whole.look())
    system, right = updating._widened(reduced, whole.part.blocks, np.arange(blocks), size)
    system[:size, :size] += layout.precision
    system[size:, size:] += layout.between.toarray()
    right[:size] -= layout.precision @ memory.state.general
    right[size:] -= layout.between @ memory.state.blocks.ravel()
    # the blocks' prior is on them times the gradient: d (g b) / d ln g = b
    at, deviation = layout.paper[0].start + 3, np.vstack([np.diag(block) for block in memory.state.blocks])
    times = layout.between @ deviation
    system[size:, at : at + 3] += times
    system[at : at + 3, size:] += times.T
    system[at : at + 3, at : at + 3] += deviation.T @ times
    right[at : at + 3] -= times.T @ memory.state.blocks.ravel()
    step = np.linalg.solve(system, right)
    moved = np.concatenate(
        [quick.state.general - memory.state.general, (quick.state.blocks - memory.state.blocks).ravel()]
    )
    assert np.abs(moved).max() > 1e-7
    assert moved == pytest.approx(step, abs=1e-9)
    half = quick.elimination.half(np.eye(shared))
    if not drum_shared:
        # those are of the new mode; it lies hardly beside the old one unless an earlier trial turns out to share a drum
        assert half.T @ half == pytest.approx(np.linalg.inv(system), rel=1e-3, abs=1e-7)


def test_a_trial_that_tells_much_ends_in_the_mode_of_a_cold_start(record):
    for count in (5, len(record.trials) - 1):
        before = solve(replace(record, trials=record.trials[:count]))
        evidence = replace(record, trials=record.trials[: count + 1])
        quick, cold = update(before, evidence), solve(evidence)
        near = SAME if quick.steps else updating._FAR / 5
        for one, two in zip(foretold(quick, evidence.trials), foretold(cold, evidence.trials), strict=True):
            assert one.log_exposure == pytest.approx(two.log_exposure, abs=near)


def test_a_new_day_a_new_bath_and_a_new_frame_need_no_full_solution(record, memory, never_whole):
    film = next(iter(record.frames.values())).film
    evidence = replace(
        record,
        frames={**record.frames, "new": FrameFacts(name="new", film=film)},
        baths={**record.baths, "bath 2": "process"},
    )
    last = record.trials[-1]
    new = replace(last, name="n", run="n", frame="new", bath="bath 2", date=last.date + 9)
    evidence = replace(evidence, trials=(*evidence.trials, new))
    at = conditions_of(new)
    setting = last.patches[0].setting
    # a reading as foretold moves nothing that is shared, but tells where the frame lies
    before = replace(memory, evidence=replace(evidence, trials=memory.evidence.trials))
    density = forecast(look_up(before, at), [setting]).density[0]
    patch = Patch(setting=setting, density=tuple(density.tolist()))
    evidence = replace(evidence, trials=(*evidence.trials[:-1], replace(new, patches=(patch,))))
    quick = update(memory, evidence)
    seen = forecast(look_up(quick, at), [setting])
    assert seen.density[0] == pytest.approx(density, abs=1e-4)
    assert np.trace(seen.knowledge[0]) < 0.05 * np.trace(forecast(look_up(before, at), [setting]).knowledge[0])
    cold = forecast(look_up(solve(evidence), at), [setting])
    assert seen.knowledge == pytest.approx(cold.knowledge, rel=0.1, abs=1e-6)


def test_what_is_corrected_is_solved_for_together(record, memory):
    corrected = replace(record.trials[0], patches=(replace(record.trials[0].patches[0], standard_error=0.05),))
    evidence = replace(record, trials=(corrected, *record.trials[1:]))
    assert update(memory, evidence).steps > 0
