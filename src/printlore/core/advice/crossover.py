"""What filtration can mend and what it cannot: tones of one print against their aims.

Filters and time move every tone of a layer by the same log exposure. What is left when they have done their best is
crossover (light and dark tones want different filters) or contrast (they want different times).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from printlore.core.advice.cast import LEAST_WORTH_A_WORD_CC, Cast, cast_of
from printlore.core.colour.lab import delta_e_2000
from printlore.core.figure import Figure
from printlore.core.light.exposure import LOG10_PER_STOP
from printlore.core.paper.dyes import DyeModel
from printlore.core.paper.facts import Vector, vector
from printlore.core.paper.layers import LayerCurves
from printlore.errors import ValueOutOfRange

CURED_CC = 2.5
"""A tone whose colour is left within this is cured (common practice, no source)."""
CURED_STOPS = 0.15
"""A tone whose lightness is left within this is cured (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tone:
    """One tone of a print: a patch or a place, and what it should be.

    Attributes
    ----------
    name : str
        For example "light", "mid", "dark", or "sky".
    density, aim_density : (3,) (red, green, blue) [1]
    weight : float
        How much it counts beside the others; above 0.
    """

    name: str
    density: Vector
    aim_density: Vector
    weight: float = 1.0

    def __post_init__(self) -> None:
        if not (np.isfinite((*self.density, *self.aim_density)).all() and 0 < self.weight < np.inf):
            raise ValueOutOfRange(f'Tone "{self.name}": densities must be numbers and the weight above 0.')


@dataclass(frozen=True, slots=True, kw_only=True)
class ToneLeft:
    """A tone before and after the best filtration.

    Attributes
    ----------
    name : str
    before, after : Cast
    delta_e : float
        CIEDE2000 from its aim that is left [1].
    cured : bool
    """

    name: str
    before: Cast
    after: Cast
    delta_e: float
    cured: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Compromise:
    """The best that filters and time can do for all tones at once.

    Attributes
    ----------
    magenta, yellow : float
        To add to the pack [CC]; below 0: take away.
    stops : float
        To add to the exposure, with that pack [stop].
    tones : tuple of ToneLeft
        From light to dark.
    crossover : (2,) float
        Magenta and yellow that the darkest tone needs more than the lightest [CC].
    contrast_stops : float
        Exposure that the darkest tone needs more than the lightest [stop]; above 0: the print is too soft there.
    curable : bool
        Every tone comes within ``CURED_CC`` and ``CURED_STOPS``.
    words : str
    """

    magenta: float
    yellow: float
    stops: float
    tones: tuple[ToneLeft, ...]
    crossover: tuple[float, float]
    contrast_stops: float
    curable: bool
    words: str


def best_compromise(tones: Sequence[Tone], curves: LayerCurves, dyes: DyeModel) -> Compromise:
    """The move of log exposure that leaves the least visible error over the tones.

    Errors count by how they show: each tone's error in log exposure times the slope of density there.

    Raises
    ------
    ValueOutOfRange
        If fewer than two tones are given.
    """
    if len(tones) < 2:
        raise ValueOutOfRange(f"{len(tones)} tone cannot show a crossover; read a light, a middle and a dark one.")
    ordered = sorted(tones, key=lambda tone: sum(tone.aim_density))
    seen, aim = (np.array([getattr(tone, name) for tone in ordered]) for name in ("density", "aim_density"))
    h, _ = curves.log_exposure_at(seen)
    wanted, slope = curves.log_exposure_at(aim)
    miss = h - wanted
    weight = np.array([tone.weight for tone in ordered])
    information = np.einsum("n,nkl,nkm->nlm", weight, slope, slope)
    move = -np.linalg.solve(information.sum(axis=0), np.einsum("nlm,nm->l", information, miss))
    density = curves.density_at(h + move)
    after = curves.log_exposure_at(density)[0] - wanted
    left = np.atleast_1d(delta_e_2000(dyes.lab_from_density(density), dyes.lab_from_density(aim)))
    result = []
    for place, tone in enumerate(ordered):
        cast = cast_of(vector(after[place]), vector(density[place] - aim[place]))
        cured = max(abs(cast.magenta), abs(cast.yellow)) <= CURED_CC and abs(cast.stops_too_dark) <= CURED_STOPS
        result.append(
            ToneLeft(
                name=tone.name,
                before=cast_of(vector(miss[place]), vector(seen[place] - aim[place])),
                after=cast,
                delta_e=float(left[place]),
                cured=cured,
            )
        )
    light, dark = result[0].after, result[-1].after
    crossover = (dark.magenta - light.magenta, dark.yellow - light.yellow)
    contrast = light.stops_too_dark - dark.stops_too_dark
    curable = all(tone.cured for tone in result)
    magenta, yellow = 100 * (move[0] - move[1]), 100 * (move[0] - move[2])
    # Magenta and yellow take nothing from the red layer: what it is to gain or lose is the time's.
    stops = float(move[0]) / LOG10_PER_STOP
    return Compromise(
        magenta=float(magenta),
        yellow=float(yellow),
        stops=stops,
        tones=tuple(result),
        crossover=crossover,
        contrast_stops=contrast,
        curable=curable,
        words=_words(result, crossover, contrast, curable),
    )


def _words(tones: Sequence[ToneLeft], crossover: tuple[float, float], contrast: float, curable: bool) -> str:
    if curable:
        return "Filters and time bring every tone right."
    light, dark = tones[0], tones[-1]
    parts = []
    for name, low, high in (("magenta", "green", "magenta"), ("yellow", "blue", "yellow")):
        size = crossover[("magenta", "yellow").index(name)]
        if abs(size) > CURED_CC:
            one, two = (low, high) if size > 0 else (high, low)
            parts.append(
                f"{light.name} tones stay too {one} and {dark.name} ones too {two}: {abs(size):.0f} CC of {name} apart"
            )
    if abs(contrast) > 2 * CURED_STOPS:
        parts.append(
            f"the print is too {'soft' if contrast > 0 else 'hard'}: {Figure(abs(contrast)):.1f} stops between the ends"
        )
    rest = "; ".join(
        f"{tone.name} {tone.after.words}"
        for tone in tones
        if tone.after.words != "right" and tone.delta_e > LEAST_WORTH_A_WORD_CC
    )
    cause = "; ".join(parts) or "single tones stay off"
    return f"Filtration cannot cure this: {cause}. With the best compromise: {rest or 'little shows'}."
