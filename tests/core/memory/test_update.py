"""One trial more, added without solving for everything again."""

from dataclasses import replace

import numpy as np
import pytest

from printed_rooms import printed
from printlore.core.memory import update as updating
from printlore.core.memory.evidence import Cast, FrameFacts, Judgement, Patch
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

    monkeypatch.setattr(updating, "solve_from", refuse)


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
    whole = updating._some(memory, evidence, names, memory.state.blocks, *everything, np.arange(len(record.trials)))
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
    factor = quick.elimination.factor
    assert factor.half_general == pytest.approx(half[:, :size], abs=1e-12)
    assert factor.covariance_general == pytest.approx(half[:, :size].T @ half[:, :size], abs=1e-12)
    if not drum_shared:
        # those are of the new mode; it lies hardly beside the old one unless an earlier trial turns out to share a drum
        assert half.T @ half == pytest.approx(np.linalg.inv(system), rel=1e-3, abs=1e-7)


def test_trials_added_one_by_one_share_the_drum_they_name(record, memory, never_whole, monkeypatch):
    monkeypatch.setattr(updating, "_FAR", 1.0)
    evidence, quick = record, memory
    pieces = [replace(record.trials[place], name=f"piece {place}", run="one load") for place in (0, 7, -1)]
    for piece in pieces:
        evidence = replace(evidence, trials=(*evidence.trials, piece))
        quick = update(quick, evidence)
    numbers = range(len(record.trials), len(evidence.trials))
    cells = [int(quick.columns.cell[quick.columns.trial == number][0]) for number in numbers]
    assert len(set(cells)) == len(pieces)
    assert len(set(quick.columns.cell_run[cells].tolist())) == 1
    again = quick.columns.cell_load[cells]
    assert again.tolist() == [quick.columns.loads["one load"]] * len(pieces)
    assert np.array_equal(np.flatnonzero(quick.columns.cell_load == again[0]), np.sort(cells))


def test_a_trial_that_tells_much_ends_in_the_mode_of_a_cold_start(record):
    for count in (5, len(record.trials) - 1):
        before = solve(replace(record, trials=record.trials[:count]))
        evidence = replace(record, trials=record.trials[: count + 1])
        quick, cold = update(before, evidence), solve(evidence)
        near = SAME if quick.steps else updating._FAR / 5
        for one, two in zip(foretold(quick, evidence.trials), foretold(cold, evidence.trials), strict=True):
            assert one.log_exposure == pytest.approx(two.log_exposure, abs=near)


def partly_read(record):
    """The same record; the first negative was not read."""
    name, facts = next(iter(record.frames.items()))
    return replace(record, frames={**record.frames, name: replace(facts, reading=None)})


def test_a_new_day_a_new_bath_and_a_new_frame_need_no_full_solution(record, monkeypatch):
    record = partly_read(record)
    memory = solve(record)
    monkeypatch.setattr(updating, "solve_from", None)
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


def corrections(record):
    """What a correction, a mark or a move leaves different, by name."""
    last, other = record.trials[-1], next(f for f in record.frames if f != record.trials[-1].frame)
    (patch,) = last.patches
    seen = Judgement(cast=Cast.MAGENTA, strength=5.0)
    moved = replace(record.frames[last.frame], aims={"paper": (0.7, 0.71, 0.69)})
    return {
        "a wider error": ((*record.trials[:-1], replace(last, patches=(replace(patch, standard_error=0.02),))), {}),
        "judged, too": ((*record.trials[:-1], replace(last, patches=(replace(patch, judgement=seen),))), {}),
        "judged, not read": (
            (*record.trials[:-1], replace(last, patches=(replace(patch, density=None, judgement=seen),))),
            {},
        ),
        "of another frame": ((*record.trials[:-1], replace(last, frame=other)), {}),
        "the first, kept, and its aim": (
            (replace(record.trials[0], patches=(replace(record.trials[0].patches[0], kept=True),)), *record.trials[1:]),
            {last.frame: moved},
        ),
    }


@pytest.mark.parametrize("what", ["a wider error", "judged, too", "judged, not read", "of another frame",
                                  "the first, kept, and its aim"])  # fmt: skip
def test_what_says_something_else_now_counts_as_it_is(record, what, monkeypatch):
    """As a cold start, within 0.2 CC, as far as one linearisation of the others goes: in a record as short as this."""
    monkeypatch.setattr(updating, "_FAR", 0.2)
    first = record.trials[0]
    judged = replace(first, name="seen", run="seen", patches=(replace(first.patches[0], judgement=Judgement()),))
    record = replace(record, trials=(judged, *record.trials))
    memory = solve(record)
    trials, frames = corrections(record)[what]
    evidence = replace(record, trials=trials, frames={**record.frames, **frames})
    quick, cold = update(memory, evidence), solve(evidence)
    assert quick.steps == 0
    for one, two in zip(foretold(quick, trials), foretold(cold, trials), strict=True):
        assert one.log_exposure == pytest.approx(two.log_exposure, abs=0.002)
        assert np.sqrt(np.diagonal(one.knowledge[0])) == pytest.approx(np.sqrt(np.diagonal(two.knowledge[0])), rel=0.15)


def test_what_was_removed_or_read_anew_is_solved_for_together(record, memory):
    assert update(memory, replace(record, trials=record.trials[1:])).steps > 0
    name, facts = next((name, facts) for name, facts in record.frames.items() if facts.reading)
    reading = replace(facts.reading, density=(0.9, 0.9, 0.9))
    read = replace(record, frames={**record.frames, name: replace(facts, reading=reading)})
    assert update(memory, replace(read, trials=(*read.trials, replace(read.trials[-1], name="n", run="n")))).steps > 0


@pytest.mark.parametrize("first", ["read", "not read"])
def test_the_first_negative_of_a_film_that_is_read_or_is_not_is_solved_for_together(record, first):
    """What its film is known by is another thing then: the level of its negatives, or what readings leave open."""
    film = next(iter(record.frames.values())).film
    facts = {name: replace(f, reading=None) if f.film == film else f for name, f in record.frames.items()}
    if first == "not read":
        facts = record.frames
    before = replace(record, frames=facts, trials=record.trials[:-1])
    last = record.trials[-1]
    reading = next(f.reading for f in record.frames.values()) if first == "read" else None
    after = replace(
        before,
        frames={**facts, "new": FrameFacts(name="new", film=film, reading=reading)},
        trials=(*before.trials, replace(last, name="n", run="n", frame="new")),
    )
    assert update(solve(before), after).steps > 0


def test_a_negative_that_comes_in_beside_a_print_of_another_is_at_home_nowhere_yet(record, memory, never_whole):
    evidence = one_more(record, memory, np.array([1e-4, 0.0, 0.0]))
    old = next(iter(record.frames.values()))
    new = replace(old, name="new")
    columns = update(memory, replace(evidence, frames={**evidence.frames, "new": new})).columns
    place = columns.names.place_of_frame["new"]
    assert (columns.frame_home[place], columns.frame_head[place], columns.frame_source[place]) == (-1, -1, -1)
