"""Negative film: an orange base and three dyes; what an instrument reads from them."""

from dataclasses import dataclass

import numpy as np

from printroom.spectra import Floats, bell, black_body, edge, wavenumber_bell


@dataclass(frozen=True, slots=True, eq=False)
class Film:
    """One film.

    Attributes
    ----------
    base : (81,) array
        Density of the clear edge, mask included.
    dyes : (3, 81) array
        Density spectra of unit cyan, magenta, yellow dye.
    mean : (3,) array
        Dye of the reference patch of the film's average frame.
    covariance : (3, 3) array
        Of that dye between frames.
    """

    base: Floats
    dyes: Floats
    mean: Floats
    covariance: Floats

    def transmittance(self, latent: Floats) -> Floats:
        """Spectral transmittance (..., 81) of dye amounts (..., 3)."""
        return 10.0 ** -(self.base + latent @ self.dyes)


def draw_film_spectra(rng: np.random.Generator) -> tuple[Floats, Floats]:
    """Base (81,) and dyes (3, 81) around the textbook shapes; films of one room differ a little."""
    shift, level = rng.normal(0.0, 1.0, 3), rng.uniform(0.9, 1.1, 3)
    base = 0.16 + level[0] * 0.34 * bell(535, 38, 30) + level[1] * 0.55 * bell(440, 60, 32) + 0.03 * bell(690, 60)
    unwanted = rng.uniform(0.75, 1.25, 3)
    dyes = np.stack(
        [
            wavenumber_bell(695 + 2 * shift[0], 60) + 0.08 * unwanted[0] * bell(580, 40),
            wavenumber_bell(552 + 2 * shift[1], 32) + 0.08 * unwanted[1] * bell(640, 45) + 0.05 * bell(440, 30),
            wavenumber_bell(448 + 2 * shift[2], 38) + 0.06 * unwanted[2] * bell(535, 30),
        ]
    )
    return base, dyes


def draw_reader(rng: np.random.Generator) -> Floats:
    """(81, 3) weights of a three-channel reader of transmittance (lamp times channels), each summing to 1.

    Broader than the paper's layers and centred elsewhere, as cameras and probes are.
    """
    shift = rng.normal(0.0, 3.0, 3)
    cut = 1 - edge(705.0, 8.0)
    channels = np.stack(
        [
            bell(662 + shift[0], 24, 30) * cut + 0.02 * bell(540, 30),
            bell(541 + shift[1], 28, 27) + 0.01 * bell(620, 30),
            bell(456 + shift[2], 24, 24) + 0.02 * bell(530, 30),
        ],
        axis=1,
    )
    weights = black_body(rng.normal(4500.0, 300.0))[:, None] * channels
    return np.asarray(weights / weights.sum(axis=0))
