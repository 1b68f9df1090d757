"""One patch read twice: by a scanner and an instrument, or wet and dry. What such pairs say of later readings.

A silver wedge tells a scanner's tones, not how its channels see the dyes of a paper; a wet print reads other than
the same print dry. Both are shifts of density that vary slowly with the colour, the same way each time, so that a
few pairs tell them: ridge regression with the usual size of such shifts as prior. With no pair nothing is
corrected, and the usual size is the error that all such readings share.
"""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike

from printlore.core.figure import Figure
from printlore.core.measure.scan import CHANNELS, Floats
from printlore.errors import ValueOutOfRange

MID_DENSITY = 0.75
"""[density] Where the usual offset is meant: about the mid-grey of a print."""


class PairKind(StrEnum):
    """What a pair compares."""

    DYES = "dyes"
    DRY_DOWN = "dry_down"


@dataclass(frozen=True, slots=True, kw_only=True)
class UsualShift:
    """How large a shift usually is: root mean squares, before any pair was read.

    Attributes
    ----------
    offset : float
        At mid-grey [density].
    tone : float
        More per unit of the three densities' mean above mid-grey [1].
    cast : float
        More per unit by which another channel's density is above this one's [1].
    left : float
        What no such shift explains [density].
    """

    offset: float
    tone: float
    cast: float
    left: float


USUAL: dict[PairKind, UsualShift] = {
    PairKind.DYES: UsualShift(offset=0.028, tone=0.044, cast=0.15, left=0.002),
    PairKind.DRY_DOWN: UsualShift(offset=0.03, tone=0.04, cast=0.05, left=0.004),
}
"""Dyes: two papers' published dyes (filmscan-paper-a, filmscan-paper-b) through 300 scanners of usual channels, the
channels from memory; ``python -m bench measuring`` works it out. Dry-down: from memory, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """One patch read twice.

    Attributes
    ----------
    read : (3,) floats
        (red, green, blue) as the reading to be corrected says it: by the scanner, or wet [density].
    known : (3,) floats
        As it truly is: by the instrument, or dry [density].
    standard_error : float
        Of their difference [density].

    Raises
    ------
    ValueOutOfRange
        If a density cannot be a print's, the two are more than 0.4 apart, or the error is not above 0.
    """

    read: tuple[float, float, float]
    known: tuple[float, float, float]
    standard_error: float = 0.007

    def __post_init__(self) -> None:
        for name, read, known in zip(CHANNELS, self.read, self.known, strict=True):
            if not (-0.1 <= read <= 4 and -0.1 <= known <= 4):
                raise ValueOutOfRange(
                    f"Pair of readings, {name}: {Figure(read):g} and {Figure(known):g} cannot both be densities of a "
                    "print (0 to {Figure(2.6):g}). Check the order (red, green, blue)."
                )
            if abs(read - known) > 0.4:
                raise ValueOutOfRange(
                    f"Pair of readings, {name}: {Figure(read):g} and {Figure(known):g} are too far apart to be of one "
                    "patch. Check that both are of the same place, and the order (red, green, blue)."
                )
        if not 0 < self.standard_error < 1:
            raise ValueOutOfRange(
                f"Error of a pair is {Figure(self.standard_error):g}; give a number above 0 and below 1."
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class LearnedShift:
    """What pairs of one kind, of one paper (and scanner), say of later readings.

    Attributes
    ----------
    kind : PairKind
    pairs : tuple of Pair
    """

    kind: PairKind
    pairs: tuple[Pair, ...] = ()

    def corrected(self, density: ArrayLike) -> tuple[Floats, Floats]:
        """Density (3,) as it truly is, and the error (3,) that is left in all such readings alike.

        Parameters
        ----------
        density : (3,) array of float
            As read.

        References
        ----------
        rasmussen2006
        """
        density = np.asarray(density, dtype=float)
        usual = USUAL[self.kind]
        prior = np.array([usual.offset, usual.tone, usual.cast, usual.cast]) ** 2
        read = np.array([pair.read for pair in self.pairs]).reshape(-1, 3)
        known = np.array([pair.known for pair in self.pairs]).reshape(-1, 3)
        noise = np.array([pair.standard_error**2 + usual.left**2 for pair in self.pairs])
        shift, error = np.empty(3), np.empty(3)
        for channel in range(3):
            here, there = _terms(density[None], channel)[0], _terms(read, channel)
            precision = np.diag(1 / prior) + there.T @ (there / noise[:, None])
            covariance = np.linalg.inv(precision)
            shift[channel] = here @ covariance @ there.T @ ((known - read)[:, channel] / noise)
            error[channel] = np.sqrt(here @ covariance @ here + usual.left**2)
        return (density + shift if self.pairs else density), error


def _terms(density: Floats, channel: int) -> Floats:
    """(readings, 4): 1, mean above mid-grey, and the two other densities above this channel's."""
    own = density[:, channel : channel + 1]
    return np.hstack(
        [
            np.ones((len(density), 1)),
            density.mean(axis=1, keepdims=True) - MID_DENSITY,
            np.delete(density, channel, axis=1) - own,
        ]
    )
