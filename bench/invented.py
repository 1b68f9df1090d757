"""Evidence of a busy studio of many years, invented: drawn from the memory's own kind of curve, made as printers work.

Each negative is printed until it is right: the first setting knows the film's level (and a reading, if there is one,
to 0.03), each later one is mended by what was measured. So what was chosen depends on what was seen, as in life.
"""

import numpy as np

from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Setting
from printlore.core.memory.evidence import BathState, Evidence, FrameFacts, HeadFacts, NegativeReading, Patch, Trial
from printlore.core.paper.facts import PaperFacts
from printlore.core.paper.layers import LayerCurves

FULL = 100_000
FRAMES, FILMS, LOTS, BATHS, DATES = 30_000, 12, 40, 400, 800
"""Of the full record; smaller ones have fewer in proportion, but for the films."""
DIAL_SCALE = 0.92
"""What the head really does of what is dialled."""
_RUN, _READING, _GUESS, _MEMORY = 0.008, 0.006, 0.03, 0.06


def invented_evidence(
    trials: int, seed: int = 1, *, unread: float = 0.3, by_heart: bool = False, steeper: float = 0.0
) -> Evidence:
    """So many trials, with frames, lots, baths and dates in the proportions of the full record.

    Parameters
    ----------
    unread : float
        Share of the negatives that were not read.
    by_heart : bool
        The first setting knows each negative to 0.06 by something that is not in the record.
    steeper : float
        ln of the paper's gradient over the one believed beforehand.
    """
    rng = np.random.default_rng(seed)
    paper, head = PaperFacts(name="paper"), HeadFacts(name="head")
    believed = LayerCurves.from_facts(paper)
    curves = LayerCurves(aim=believed.aim, theta=believed.theta + np.repeat([steeper, 0.0], [3, 15]))
    gradient, usual = np.array(paper.gradient), head.usual
    frames = max(round(trials * FRAMES / FULL), 3)
    lots, baths, dates = (max(round(trials * count / FULL), 1) for count in (LOTS, BATHS, DATES))
    film_level = 0.08 * rng.standard_normal((FILMS, 1)) + 0.04 * rng.standard_normal((FILMS, 3))
    lot_level = 0.03 * rng.standard_normal((lots, 3))
    bath_level = 0.01 * rng.standard_normal((baths, 3))
    lot_level[0] = 0.0
    facts: dict[str, FrameFacts] = {}
    made: list[Trial] = []
    for frame in range(frames):
        film = frame % FILMS
        level = 0.16 * rng.standard_normal() + 0.05 * rng.standard_normal(3) + film_level[film]
        is_read = rng.uniform() >= unread
        seen = level + _READING * rng.standard_normal(3) + 0.7
        reading = NegativeReading(density=tuple(seen.tolist()), standard_error=_READING) if is_read else None
        facts[f"frame {frame}"] = FrameFacts(name=f"frame {frame}", film=f"film {film}", reading=reading)
        if by_heart:
            wanted = level + _MEMORY * rng.standard_normal(3)
        else:
            wanted = level + _GUESS * rng.standard_normal(3) if is_read else film_level[film]
        for _ in range(trials // frames + (frame < trials % frames)):
            place = len(made) / trials
            lot, bath, date = int(place * lots), int(place * baths), float(int(place * dates))
            pack = np.array([usual.pack.magenta, usual.pack.yellow]) - 100 * (wanted[1:] - wanted[0]) / DIAL_SCALE
            magenta, yellow = np.clip(pack, 0, 190).round().tolist()
            seconds = max(round(usual.time * 10 ** float(wanted[0]), 1), 0.5)
            dial = np.array([0.0, magenta - usual.pack.magenta, yellow - usual.pack.yellow]) / 100
            exposure = np.log10(seconds / usual.time) - DIAL_SCALE * dial
            exposure += lot_level[lot] + bath_level[bath] - level + _RUN * rng.standard_normal(3)
            density = curves.density_at(exposure[None])[0] + _READING * rng.standard_normal(3)
            wanted = wanted - 0.95 * np.clip((density - believed.aim) / gradient, -0.35, 0.35)
            made.append(
                Trial(
                    name=f"trial {len(made)}",
                    frame=f"frame {frame}",
                    head="head",
                    lot=f"lot {lot}",
                    bath=f"bath {bath}",
                    date=date,
                    run=f"run {len(made)}",
                    bath_state=BathState(area_per_litre=float(rng.uniform(0, 2)), age_days=float(rng.uniform(0, 20))),
                    patches=(
                        Patch(
                            setting=Setting(
                                pack=FilterPack(magenta=magenta, yellow=yellow),
                                time=seconds,
                                f_number=usual.f_number,
                                magnification=usual.magnification,
                            ),
                            density=tuple(density.tolist()),
                        ),
                    ),
                )
            )
    return Evidence(
        heads={"head": head},
        papers={"paper": paper},
        lots={f"lot {number}": "paper" for number in range(lots)},
        baths={f"bath {number}": "process" for number in range(baths)},
        frames=facts,
        trials=tuple(made),
    )
