"""Lamp and head: the spectrum that reaches the negative for what is dialled.

Additive heads take the same (cyan, magenta, yellow, time) as the others. The one rule: the red, green and blue
channel gets ``10 ** (-p / 100)`` of its time (three exposures) or level (three lights at once), p being the cyan,
magenta and yellow number.
"""

from dataclasses import dataclass

import numpy as np

from printroom.kinds import RoomKind
from printroom.spectra import WAVELENGTHS, Floats, bell, black_body, edge, wavenumber_bell


@dataclass(frozen=True, slots=True, eq=False)
class HeadSpectra:
    """One room's head.

    Attributes
    ----------
    kind : RoomKind
    scale : (3,) array
        Effective CC per dial unit, small dials (cyan, magenta, yellow) [CC/unit].
    light : (channels, 81) array
        Unfiltered beam, one row; or the three lights of an additive head.
    filters : (3, 81) array
        Vane: transmittance of each filter. Gel: absorption of each colour, main peak 1. Additive: unused.
    open_fraction : (3,) array
        Vane: light that passes beside a vane driven fully in [1].
    """

    kind: RoomKind
    scale: Floats
    light: Floats
    filters: Floats
    open_fraction: Floats

    def spectra(self, dials: Floats) -> Floats:
        """(channels, 81) light at the negative for (cyan, magenta, yellow) dials [dial units]."""
        strength = self.scale * dials / 100.0
        if self.kind.head == "gel":
            return self.light * 10.0 ** -(strength @ self.filters)
        if self.kind.head == "vane":
            beside = self.open_fraction + (1 - self.open_fraction) * 10.0**-strength
            through = beside[:, None] + (1 - beside)[:, None] * self.filters
            return np.asarray(self.light * (through[0] * through[1] * through[2]))
        if self.kind.head == "additive_levels":
            return self.light * 10.0 ** -strength[:, None]
        return self.light

    def times(self, dials: Floats, time: float) -> Floats:
        """(channels,) seconds that each row of ``spectra`` is on."""
        if self.kind.head == "additive_times":
            return time * 10.0 ** (-dials / 100.0)
        return np.full(len(self.light), time)


def draw_head(kind: RoomKind, rng: np.random.Generator) -> HeadSpectra:
    """A head of this kind, its filters, lamp and dial scales drawn around the textbook shapes."""
    lamp = black_body(rng.normal(3150.0, 60.0)) * (1 - edge(rng.normal(722.0, 5.0), 8.0)) * edge(392.0, 6.0)
    shift = rng.normal(0.0, 1.0, (3, 4))
    bound = np.log(1 + kind.dial_scale_spread)
    scale = np.exp(np.clip(rng.uniform(-0.7, 0.7) * bound + rng.uniform(-0.5, 0.5, 3) * bound, -bound, bound))
    open_fraction = rng.uniform(0.005, 0.025, 3)
    if kind.head == "vane":
        leak = rng.uniform(0.003, 0.02, 3)
        short, long = edge(505 + 4 * shift[0, 0], 5.0), edge(597 + 4 * shift[1, 0], 5.0)
        passing = np.stack([1 - edge(592 + 4 * shift[2, 0], 6.0), 1 - edge(500 + 4 * shift[1, 1], 5.0) + long, short])
        filters = leak[:, None] + (0.97 - leak)[:, None] * np.clip(passing, 0, 1)
        return HeadSpectra(kind, scale, lamp[None], filters, open_fraction)
    if kind.head == "gel":
        unwanted = rng.uniform(0.6, 1.4, (3, 2))
        filters = np.stack(
            [
                bell(672 + 4 * shift[0, 0], 62, 90)
                + 0.10 * unwanted[0, 0] * bell(540, 40)
                + 0.07 * unwanted[0, 1] * bell(420, 30),
                bell(542 + 3 * shift[1, 0], 38, 30)
                + 0.09 * unwanted[1, 0] * bell(430, 35)
                + 0.02 * unwanted[1, 1] * bell(660, 40),
                bell(452 + 3 * shift[2, 0], 80, 29)
                + 0.05 * unwanted[2, 0] * bell(530, 28)
                + 0.01 * unwanted[2, 1] * bell(650, 60),
            ]
        )
        return HeadSpectra(kind, scale, lamp[None], filters, open_fraction)
    if kind.head == "additive_levels":
        light = [bell(660 + 3 * shift[0, 0], 9), bell(532 + 4 * shift[1, 0], 15), bell(455 + 3 * shift[2, 0], 9)]
        return HeadSpectra(kind, np.ones(3), np.stack(light), np.ones((3, len(WAVELENGTHS))), open_fraction)
    bands = [
        bell(672 + 4 * shift[0, 0], 26),
        wavenumber_bell(541 + 3 * shift[1, 0], 20),
        wavenumber_bell(446 + 3 * shift[2, 0], 20),
    ]
    return HeadSpectra(kind, np.ones(3), lamp * np.stack(bands), np.ones((3, len(WAVELENGTHS))), open_fraction)
