"""A studio before its first print."""

import numpy as np

from printlore.core.memory.evidence import Evidence, FrameFacts, HeadFacts
from printlore.core.memory.solve import solve
from printlore.core.paper.facts import PaperFacts


def test_without_trials_everything_stands_at_its_prior():
    evidence = Evidence(
        heads={"head": HeadFacts(name="head")},
        papers={"paper": PaperFacts(name="paper")},
        lots={"lot 1": "paper", "lot 2": "paper"},
        baths={"bath": "process"},
        frames={"frame": FrameFacts(name="frame", film="film")},
    )
    assert not np.any(solve(evidence).state.general)


def test_lots_without_a_head_are_no_trouble():
    evidence = Evidence(
        heads={}, papers={"paper": PaperFacts(name="paper")}, lots={"lot 1": "paper"}, baths={}, frames={}
    )
    assert not np.any(solve(evidence).state.blocks)
