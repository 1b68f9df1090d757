"""Slips in a record must not keep the search for the mode from ending."""

from dataclasses import replace

import numpy as np
import pytest
from bench.invented import invented_evidence

from printlore.core.memory.solve import solve


def with_slips(evidence, count, factor):
    """So many trials logged with this much longer a time than they were made with."""
    trials = list(evidence.trials)
    for number in np.random.default_rng(2).choice(len(trials), count, replace=False).tolist():
        patch = trials[number].patches[0]
        slipped = replace(patch, setting=replace(patch.setting, time=patch.setting.time * factor))
        trials[number] = replace(trials[number], patches=(slipped, *trials[number].patches[1:]))
    return replace(evidence, trials=tuple(trials))


@pytest.mark.parametrize(("count", "factor"), [(6, 2.5), (15, 2.0), (15, 1.6)])
def test_a_record_with_slips_comes_to_rest_and_its_run_noise_is_that_of_the_sound_prints(count, factor):
    """Before the share seen of a doubted print was weighed by its trust, two of these went on to the last step."""
    sound = invented_evidence(300, 3)
    clean, memory = solve(sound), solve(with_slips(sound, count, factor))
    assert memory.settled
    assert memory.steps < 50
    assert memory.learned.run.colour == pytest.approx(clean.learned.run.colour, rel=0.1)
