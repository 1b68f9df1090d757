"""What was said of a frame's prints by eye, as points of the cast map beside those that were read."""

import numpy as np

from printlore.core.advice.advise import Seen
from printlore.core.advice.cast import cast_of
from printlore.core.light.exposure import LOG10_PER_STOP
from printlore.core.memory.columns import cast_in_density, darkness_in_density
from printlore.core.memory.forecast import Conditions
from printlore.core.paper.facts import vector
from printlore.core.paper.layers import LayerCurves
from printlore.records.database import Database
from printlore.services.memory import current_memory


def judged_patches(db: Database, conditions: Conditions) -> tuple[Seen, ...]:
    """Patches of the frame that were judged but not read, in the order made.

    A word for a cast is a density error; the paper's gradient at the aim turns it into the move that would mend it.
    Darkness is a move; the paper's curve turns it into density. People's own scales, as far as learned, are in the
    advice, not in the points.
    """
    memory = current_memory(db)
    evidence = memory.evidence
    paper_name = evidence.lots.get(conditions.lot)
    if paper_name is None or conditions.frame not in evidence.frames:
        return ()
    facts = evidence.papers[paper_name]
    curves = LayerCurves.from_facts(facts)
    aim = np.array(evidence.aim_density(conditions.frame, paper_name))
    points = []
    for trial in memory.trials_of(conditions.frame):
        for place, patch in enumerate(trial.patches):
            if patch.density is not None or patch.judgement is None:
                continue
            stops, cast = patch.judgement.stops_too_dark, cast_in_density(patch.judgement)
            red, green, blue = (LOG10_PER_STOP * stops + cast / facts.gradient).tolist()
            error = cast + darkness_in_density(curves, aim[None], np.array([stops]))
            points.append(
                Seen(
                    trial=trial.name,
                    patch=place,
                    setting=patch.setting,
                    cast=cast_of((red, green, blue), vector(error)),
                    density=vector(aim + error),
                )
            )
    return tuple(points)
