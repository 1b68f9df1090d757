"""A printer's eye: what it says about a print, on a scale of its own."""

from dataclasses import dataclass

import numpy as np

from printroom.spectra import Floats

CASTS: dict[str, tuple[float, float, float]] = {
    "red": (-2 / 3, 1 / 3, 1 / 3),
    "green": (1 / 3, -2 / 3, 1 / 3),
    "blue": (1 / 3, 1 / 3, -2 / 3),
    "cyan": (2 / 3, -1 / 3, -1 / 3),
    "magenta": (-1 / 3, 2 / 3, -1 / 3),
    "yellow": (-1 / 3, -1 / 3, 2 / 3),
}
"""Density error (red, green, blue) of a cast of unit strength; mean zero."""

FILTERS = (5.0, 10.0, 15.0, 20.0, 30.0, 40.0, 60.0, 80.0)
"""Viewing filters at hand [CC of density]."""

DARKNESS = np.array([0.3, 0.45, 0.25])
LOG10_PER_STOP = 0.30103


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """What was said.

    Attributes
    ----------
    cast : str
        none, red, green, blue, cyan, magenta or yellow: what the print has too much of.
    strength : float
        Viewing filter that would mend it, held at the eye [CC of density]; 0 with no cast.
    stops_too_dark : float
        In tenths of a stop of exposure; below 0: too light.
    """

    cast: str
    strength: float
    stops_too_dark: float


def judge(
    density_error: Floats, *, gradient: float, scale: float, noise_sd: float, rng: np.random.Generator
) -> Judgement:
    """Words for a density error (red, green, blue).

    The person sees ``scale`` times the cast, with noise of ``noise_sd`` [log10 of exposure] per layer; a cast below
    half the weakest viewing filter is "none". Darkness is weighted to green, as lightness is.
    """
    noisy = density_error + gradient * noise_sd * rng.standard_normal(3)
    colour = scale * (noisy - noisy.mean())
    word, strength = max(
        ((name, 1.5 * float(np.dot(colour, shape))) for name, shape in CASTS.items()), key=lambda pair: pair[1]
    )
    filter_strength = min((0.0, *FILTERS), key=lambda at: abs(at - 100 * strength))
    stops = float(DARKNESS @ noisy) / gradient / LOG10_PER_STOP
    return Judgement(
        cast=word if filter_strength else "none", strength=filter_strength, stops_too_dark=round(stops, 1) + 0.0
    )
