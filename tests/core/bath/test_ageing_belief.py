"""What the memory and the bath's own reckoning believe of a used bath is one belief."""

import numpy as np
import pytest

from printlore.core.bath.balance import AMOUNTS
from printlore.core.bath.learning import LIGHT_GRADIENT, departures_of, usual_belief
from printlore.core.memory.evidence import BathState, Evidence, FrameFacts, HeadFacts
from printlore.core.memory.forecast import Conditions, forecast, look_up
from printlore.core.memory.solve import solve
from printlore.core.paper.facts import PaperFacts


@pytest.fixture(scope="module")
def nothing_printed():
    return solve(
        Evidence(
            heads={"head": HeadFacts(name="head")},
            papers={"paper": PaperFacts(name="paper")},
            lots={"lot": "paper"},
            baths={"bath": "process"},
            frames={"frame": FrameFacts(name="frame", film="film")},
            trials=(),
        )
    )


@pytest.mark.parametrize(
    ("state", "amounts"),
    [
        (BathState(area_per_litre=1.5), {"by_products": 1.5 * 0.5}),
        (BathState(age_days=20), {"age": 20.0 * 500}),
        (BathState(strength=0.9), {"agent": 0.9 * 500}),
    ],
    ids=["by-products", "days", "strength"],
)
def test_the_light_step_is_foretold_as_the_control_patch_is(nothing_printed, state, amounts):
    usual = nothing_printed.evidence.heads["head"].usual
    fresh, used = (
        forecast(
            look_up(nothing_printed, Conditions(frame="frame", head="head", lot="lot", bath="bath", bath_state=one)),
            [usual],
        ).log_exposure[0]
        for one in (BathState(), state)
    )
    trace = np.zeros((1, len(AMOUNTS), 1))
    held = {"volume": 500.0, "agent": 500.0} | amounts
    for name, amount in held.items():
        trace[0, AMOUNTS.index(name), 0] = amount
    light_step = departures_of(usual_belief().mean[None], trace)[0, 3:6, 0]
    assert np.all(light_step < -1e-4)
    assert LIGHT_GRADIENT * (used - fresh) == pytest.approx(light_step, rel=1e-9)
