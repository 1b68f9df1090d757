"""Evidence of a busy studio of many years, invented: drawn from the memory's own kind of curve, made as printers work.

Each negative is printed until it is right: the first setting knows the film's level (and a reading, if there is one,
to 0.03), each later one is mended by what was measured. So what was chosen depends on what was seen, as in life.
"""

from typing import Any

import numpy as np

from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Setting
from printlore.core.memory.columns import cast_in_density, darkness_in_density
from printlore.core.memory.evidence import (
    BathState,
    Cast,
    Evidence,
    FrameFacts,
    HeadFacts,
    Judgement,
    NegativeReading,
    Patch,
    Trial,
)
from printlore.core.paper.facts import PaperFacts
from printlore.core.paper.layers import LayerCurves

FULL = 100_000
FRAMES, FILMS, LOTS, BATHS, DATES = 30_000, 12, 40, 400, 800
"""Of the full record; smaller ones have fewer in proportion, but for the films."""
DIAL_SCALE = 0.92
"""What the head really does of what is dialled."""
LEAK = 0.92 * np.eye(3) + 0.08
"""(3, 3) what each dial takes from each layer, where that is told."""
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


def judged_evidence(seed: int = 1, *, eyes: tuple[float, ...] = (1.0,), frames: int = 30, prints: int = 6) -> Evidence:
    """Negatives that nobody read, printed by eye; each next setting is mended by what was said of the last.

    Eyes err as is believed of them; runs differ somewhat more.

    Parameters
    ----------
    eyes : by how much more of a cast than there is each eye sees; they judge in turn
    """
    rng = np.random.default_rng(seed)
    paper, head = PaperFacts(name="paper"), HeadFacts(name="head")
    curves, usual, gradient = LayerCurves.from_facts(paper), head.usual, np.array(paper.gradient)
    film_level = 0.1 * rng.standard_normal((FILMS, 1)) + 0.05 * rng.standard_normal((FILMS, 3))
    levels = [film_level[n % 3] + 0.16 * rng.standard_normal() + 0.06 * rng.standard_normal(3) for n in range(frames)]
    made: list[Trial] = []
    for number in range(frames * prints):
        frame = number // prints
        if number % prints == 0:
            wanted = film_level[frame % 3]
        pack = np.array([usual.pack.magenta, usual.pack.yellow]) - 100 * (wanted[1:] - wanted[0])
        magenta, yellow = np.clip(pack, 0, 190).round().tolist()
        seconds = max(round(usual.time * 10 ** float(wanted[0]), 1), 0.5)
        dial = np.array([0.0, magenta - usual.pack.magenta, yellow - usual.pack.yellow]) / 100
        exposure = np.log10(seconds / usual.time) - LEAK @ (DIAL_SCALE * dial) - levels[frame]
        exposure += 0.015 * rng.standard_normal() + 0.01 * rng.standard_normal(3)
        off = curves.density_at(exposure[None])[0] - curves.aim
        scale = eyes[number % len(eyes)]
        cast = scale * (off - off.mean())
        cast += np.hypot(0.06, 0.35 * np.abs(cast).max()) * rng.standard_normal(3)
        dark = off.mean() + np.hypot(0.08, 0.35 * off.mean()) * rng.standard_normal()
        wanted = wanted - 0.7 * np.clip((cast - cast.mean() + dark) / gradient, -0.35, 0.35)
        judgement = in_words(cast, dark, curves, f"printer {number % len(eyes)}")
        setting = Setting(
            pack=FilterPack(magenta=magenta, yellow=yellow),
            time=seconds,
            f_number=usual.f_number,
            magnification=usual.magnification,
        )
        made.append(
            Trial(
                name=f"trial {number}",
                frame=f"frame {frame}",
                head="head",
                lot="lot",
                bath="bath",
                date=0.0,
                run=f"run {number}",
                patches=(Patch(setting=setting, judgement=judgement),),
            )
        )
    return Evidence(
        heads={"head": head},
        papers={"paper": paper},
        lots={"lot": "paper"},
        baths={"bath": "process"},
        frames={f"frame {n}": FrameFacts(name=f"frame {n}", film=f"film {n % 3}") for n in range(frames)},
        trials=tuple(made),
    )


def in_words(cast: Any, dark: float, curves: LayerCurves, person: str) -> Judgement:
    """What an eye says of density errors: the nearest of six casts (3,), and stops along the curve for the darkness."""
    shapes = {one: cast_in_density(Judgement(cast=one, strength=100)) for one in Cast if one is not Cast.NONE}
    word = max(shapes, key=lambda one: float(cast @ shapes[one]))
    strength = 150 * float(cast @ shapes[word])
    stops = np.linspace(-6, 6, 2401)
    at = np.abs(darkness_in_density(curves, np.tile(curves.aim, (len(stops), 1)), stops) - dark).argmin()
    return Judgement(cast=word, strength=strength, stops_too_dark=float(stops[at]), person=person)
