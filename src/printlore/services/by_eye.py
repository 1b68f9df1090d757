"""What was said of a frame's prints by eye, as points of the cast map beside those that were read."""

from printlore.core.advice.advise import Seen
from printlore.core.advice.cast import cast_of
from printlore.core.light.exposure import LOG10_PER_STOP
from printlore.core.memory.columns import cast_in_density
from printlore.core.memory.forecast import Conditions
from printlore.records.database import Database
from printlore.services.memory import current_memory


def judged_patches(db: Database, conditions: Conditions) -> tuple[Seen, ...]:
    """Patches of the frame that were judged but not read, in the order made.

    A word for a cast is a density error; the paper's gradient at the aim turns it into the move
    that would mend it. People's own scales, as far as learned, are in the advice, not in the points.
    """
    memory = current_memory(db)
    evidence = memory.evidence
    paper_name = evidence.lots.get(conditions.lot)
    if paper_name is None or conditions.frame not in evidence.frames:
        return ()
    gradient = evidence.papers[paper_name].gradient
    aim = evidence.aim_density(conditions.frame, paper_name)
    points = []
    for trial in memory.trials_of(conditions.frame):
        for place, patch in enumerate(trial.patches):
            if patch.density is not None or patch.judgement is None:
                continue
            darkness = patch.judgement.stops_too_dark * LOG10_PER_STOP
            cast = [float(value) for value in cast_in_density(patch.judgement)]
            exposure = [error / slope + darkness for error, slope in zip(cast, gradient, strict=True)]
            error = [error + slope * darkness for error, slope in zip(cast, gradient, strict=True)]
            points.append(
                Seen(
                    trial=trial.name,
                    patch=place,
                    setting=patch.setting,
                    cast=cast_of((exposure[0], exposure[1], exposure[2]), (error[0], error[1], error[2])),
                    density=(aim[0] + error[0], aim[1] + error[1], aim[2] + error[2]),
                )
            )
    return tuple(points)
