"""Old notes of good settings: they say how negatives lie, not what dials and paper do."""

from dataclasses import replace

import numpy as np
import pytest

from printed_rooms import as_setting, evidence_of, patch_of, room_of
from printlore.core.memory.evidence import Patch, Trial
from printlore.core.memory.forecast import Conditions, forecast, look_up
from printlore.core.memory.solve import solve


def noted(seed, negatives=15, *, measured=False, error=0.0):
    """A room, and the settings of which each of its negatives was right at once: made by one who knew them."""
    room = room_of("steady vane", seed)
    trials = []
    for number in range(negatives):
        frame, day = room.add_frame(("film A", "film B")[number % 2]), float(number // 3)
        at = room.conditions("lot 1", "bath 1", date=day)
        (outcome,) = room.expose_strip(frame, [room.right_setting(frame, at)], at, run=frame)
        kept = Patch(setting=as_setting(outcome.logged), kept=True, standard_error=error)
        patch = patch_of(room, outcome, kept=True) if measured else kept
        trials.append(Trial(name=f"note {number}", frame=frame, head="head", lot="lot 1", bath="bath 1", date=day,
                            run=frame, patches=(patch,)))  # fmt: skip
    return room, evidence_of(room, trials, readings=False)


@pytest.mark.parametrize("measured", [False, True])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_settings_that_were_right_at_once_teach_nothing_of_dials_and_gradient(seed, measured):
    """They stay what is believed beforehand, and as unsure: before, fifteen notes had dials do half of what they do."""
    _, evidence = noted(seed, measured=measured)
    memory = solve(evidence)
    believed = solve(replace(evidence, trials=()))
    error, before = (np.sqrt(np.diag(m.elimination.factor.covariance_general)) for m in (memory, believed))
    dials = memory.layout.head[0].start + np.arange(3)
    gradient = memory.layout.paper[0].start + 3 + np.arange(3)
    assert np.abs(memory.state.general[dials]).max() < 0.02
    assert error[dials] == pytest.approx(before[dials], rel=0.05)
    assert np.abs(memory.state.general[gradient]).max() < 0.1
    assert memory.settled


def test_they_say_where_the_next_negative_of_a_film_lies():
    """By the mean of eight, a film of 12 CC in either direction beforehand; and a noted print comes out as noted."""
    room, evidence = noted(4)
    memory = solve(evidence)
    for name in list(evidence.frames)[:2]:
        note = next(trial for trial in evidence.trials if trial.frame == name)
        at = Conditions(frame=name, head="head", lot="lot 1", bath="bath 1", date=note.date)
        seen = forecast(look_up(memory, at), [note.patches[0].setting])
        assert np.abs(seen.log_exposure[0]).max() < 0.02
        assert np.sqrt(np.diag(seen.knowledge[0])).max() < 0.1
    new = room.add_frame("film A")
    asked = evidence_of(room, evidence.trials, readings=False)
    spread = []
    for known in (asked, replace(asked, trials=())):
        at = Conditions(frame=new, head="head", lot="lot 1", bath="bath 1", date=4.0)
        seen = forecast(look_up(solve(known), at), [asked.heads["head"].usual])
        back = np.linalg.inv(seen.by_layer[0])
        spread.append((back @ seen.knowledge[0] @ back.T).mean())
    assert spread[0] < 0.3 * spread[1]


def test_a_note_counts_by_its_own_error_where_that_is_wider():
    """Of what old notes call right no more is known than that; of a print kept today, as much as an eye sees."""
    wide, usual = solve(noted(2, 1, error=0.12)[1]), solve(noted(2, 1)[1])
    assert np.sqrt(np.diag(wide.columns.noise[0])) == pytest.approx(np.full(3, 0.12))
    assert np.sqrt(np.diag(usual.columns.noise[0])) == pytest.approx(np.full(3, usual.priors.kept_by_eye))


def test_a_setting_that_was_found_by_trying_teaches_of_dials_as_ever():
    """A kept mark on a negative's later print is no knowledge from elsewhere: how it was found is in the record."""
    _, evidence = noted(3, 6, measured=True)
    first = [replace(trial, name=f"{trial.name} first", date=-1.0, run=f"{trial.run} first",
                     patches=(replace(trial.patches[0], kept=False),)) for trial in evidence.trials]  # fmt: skip
    tried = solve(replace(evidence, trials=(*first, *evidence.trials)))
    assert np.all(tried.columns.frame_head == -1)
    assert np.all(solve(evidence).columns.frame_head == 0)
