"""Rooms whose paper is a published one: its dyes, its layers' sensitivities and its curves, instead of textbook shapes.

Head, films, lots and all noise are those of "steady vane". A room's base, surface and gradient are drawn a little about
the published paper, as one family lies beside another.

References
----------
filmscan-paper-a : dyes, sensitivities; curves, which paper B is given, too: its own are not published there
filmscan-paper-b : dyes, sensitivities
"""

from dataclasses import dataclass
from functools import cache

import numpy as np

from printlore.core.colour.tables import read_table
from printlore.core.paper.dyes import HERE, generic_paper
from printroom.paper import Paper, dye_for_lab
from printroom.spectra import WAVELENGTHS, Floats

PUBLISHED_KINDS = {"published paper A": "a", "published paper B": "b"}
GREY = (52.0, 0.0, 0.0)


@dataclass(frozen=True, eq=False)
class PublishedPaper(Paper):
    """As the textbook's, but each layer's dye follows a table.

    Attributes
    ----------
    table : (n, 3), (n,) arrays
        Dye by log exposure [log10], rising.
    steeper : (3,) array
        Gradient over the table's [1].
    """

    table: tuple[Floats, Floats]
    steeper: Floats

    def _curve(self, log_exposure: Floats) -> Floats:
        dyes, steps = self.table
        exposure = np.broadcast_to(log_exposure, np.broadcast_shapes(np.shape(log_exposure), (3,)))
        layers = []
        for layer in range(3):
            at_aim = np.interp(self.aim_dye[layer], dyes[:, layer], steps)
            layers.append(np.interp(at_aim + self.steeper[layer] * exposure[..., layer], steps, dyes[:, layer]))
        return np.stack(layers, axis=-1)


def published_paper(letter: str, rng: np.random.Generator, interlayer: float, aim_lab: tuple[float, ...]) -> Paper:
    """Paper A or B, its log exposure 0 at the aim; what layers do to each other is in the published curves already."""
    del interlayer
    dyes, sensitivity = _spectra(letter)
    base = 0.055 + 0.02 * rng.uniform() * np.ones(len(WAVELENGTHS))
    surface = rng.uniform(0.003, 0.006)
    aim, grey = (dye_for_lab(dyes, base, surface, lab) for lab in ((aim_lab[0], aim_lab[1], aim_lab[2]), GREY))
    amounts, steps = _curves()
    generic = generic_paper("a")
    amounts = amounts * grey / generic.dyes_from_density(generic.density_from_lab(GREY))
    none = np.zeros(3)
    return PublishedPaper(
        sensitivity=sensitivity,
        gradient=none,
        toe=none,
        shoulder=none,
        most_dye=amounts[-1],
        aim_dye=aim,
        interlayer=0.0,
        dyes=dyes,
        base=base,
        surface=surface,
        table=(amounts, steps),
        steeper=np.exp(rng.normal(0.0, 0.05) + rng.normal(0.0, 0.03, 3)),
    )


@cache
def _spectra(letter: str) -> tuple[Floats, Floats]:
    """Dyes (3, n) and sensitivities (n, 3); what lies beyond a chart's end counts as its end, or as none."""
    table = read_table(HERE, f"paper_{letter}_dyes.csv")
    dyes = np.stack([_resampled(table, name) for name in ("cyan", "magenta", "yellow")])
    table = read_table(HERE if letter == "a" else "bench", f"paper_{letter}_sensitivity.csv")
    logs = [_resampled(table, f"{name}_layer", beyond=-9.0) for name in ("cyan", "magenta", "yellow")]
    sensitivity = 10.0 ** np.stack(logs, axis=1)
    return dyes, sensitivity / sensitivity.max(axis=0)


def _resampled(table: dict[str, Floats], name: str, beyond: float | None = None) -> Floats:
    known = np.isfinite(table[name])
    return np.interp(WAVELENGTHS, table["wavelength_nm"][known], table[name][known], left=beyond, right=beyond)


@cache
def _curves() -> tuple[Floats, Floats]:
    """Dye of generic paper A (n, 3) by log exposure (n,); the published curve dips after its top, which is left out."""
    table = read_table(HERE, "paper_a_curves.csv")
    densities = np.stack([table[name] for name in ("red", "green", "blue")], axis=1)
    return np.maximum.accumulate(generic_paper("a").dyes_from_density(densities)), table["log_exposure"]
