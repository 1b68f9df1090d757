"""What a new lot changes: its offset from the old one, in CC and stops, and whether two lots are one emulsion."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from scipy.special import chdtrc

from printlore.core.estimate import Estimate
from printlore.core.flags import Flag
from printlore.core.light.exposure import LOG10_PER_STOP
from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Setting
from printlore.core.paper.facts import Vector, vector
from printlore.errors import ValueOutOfRange

Floats = npt.NDArray[np.float64]
KEPT_ERROR = 0.02
"""[log10] How far a kept print's setting is from the right one, process noise included (from memory)."""
CONTRADICTED = 0.01
"""Lots stated to be one emulsion are doubted if so large a difference would come by chance less often than this."""
_ANSWERS = np.array([[-100.0, 100.0, 0.0], [-100.0, 0.0, 100.0], [-1 / LOG10_PER_STOP, 0.0, 0.0]])
"""Magenta and yellow [CC] and stops that answer an effect (red, green, blue)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LotEffect:
    """What is known of a lot beside its paper's usual one.

    Attributes
    ----------
    log_exposure : (3,) red, green, blue [log10]
        Above 0: prints darker.
    covariance : (3, 3) [log10^2]
        The layers err together: most of what is not known of a lot is its speed.
    flags : tuple of Flag
    """

    log_exposure: Floats
    covariance: Floats
    flags: tuple[Flag, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LotOffset:
    """By how much a new lot is more sensitive than an old one.

    Attributes
    ----------
    log_exposure : (red, green, blue) Estimates
        New less old [log10]; above 0: the new lot prints darker.
    covariance : (3, 3) of it [log10^2]
    magenta, yellow : Estimate
        To be added to the pack [CC] for the same colour (below 0: taken off).
    stops : Estimate
        To be added to the exposure [stop] for the same darkness, with that pack.
    """

    log_exposure: tuple[Estimate, Estimate, Estimate]
    covariance: tuple[Vector, Vector, Vector]
    magenta: Estimate
    yellow: Estimate
    stops: Estimate

    def rebased(self, setting: Setting) -> Setting:
        """A setting that was right on the old lot, as it should be on the new one; burns and dodges with it."""

        def moved(pack: FilterPack) -> tuple[FilterPack, float]:
            new, neutral = pack.moved(magenta=self.magenta.value, yellow=self.yellow.value)
            return new, 10.0 ** (self.stops.value * LOG10_PER_STOP + neutral / 100)

        pack, factor = moved(setting.pack)
        burns = []
        for burn in setting.burns:
            own, its = (None, factor) if burn.pack is None else moved(burn.pack)
            # a dodge is less of the base's light, whatever is dialled for it
            burns.append(replace(burn, time=burn.time * (its if burn.time > 0 else factor), pack=own))
        return replace(setting, pack=pack, time=setting.time * factor, burns=tuple(burns))


def lot_offset(old: LotEffect, new: LotEffect) -> LotOffset:
    """Offset between two lots from what is known of each.

    Their errors are taken as independent, so the offset's error is an upper bound where one drum held both.
    """
    apart, covariance = new.log_exposure - old.log_exposure, new.covariance + old.covariance
    flags = tuple(dict.fromkeys(old.flags + new.flags))

    def estimate(by_layer: Floats) -> Estimate:
        error = math.sqrt(max(float(by_layer @ covariance @ by_layer), 0.0))
        return Estimate(value=float(by_layer @ apart), standard_error=error, flags=flags)

    red, green, blue = (estimate(layer) for layer in np.eye(3))
    magenta, yellow, stops = (estimate(answer) for answer in _ANSWERS)
    rows = [vector(row) for row in covariance]
    return LotOffset(
        log_exposure=(red, green, blue),
        covariance=(rows[0], rows[1], rows[2]),
        magenta=magenta,
        yellow=yellow,
        stops=stops,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class EmulsionCheck:
    """Whether the data bear out that two lots are one emulsion.

    Attributes
    ----------
    chance : float
        Of a difference as large, if they are [1].
    compared : bool
        False: nothing has been printed that could tell.
    """

    chance: float
    compared: bool = True

    @property
    def contradicted(self) -> bool:
        """The data speak against it."""
        return self.chance < CONTRADICTED

    @property
    def words(self) -> str:
        """As one says it."""
        if not self.compared:
            return "Nothing has been kept on both lots yet, so nothing speaks for or against it."
        if self.contradicted:
            return "Your prints contradict that: the two lots differ by more than noise explains."
        return "Nothing printed so far contradicts that."


def offset_of_kept(pairs: Sequence[tuple[Setting, Setting]]) -> LotOffset:
    """Offset from settings of one frame and head that were kept on an old and on a new lot.

    Parameters
    ----------
    pairs : sequence of (on the old lot, on the new lot)
        At least one. Filters are taken at their marked strength, without reciprocity failure.

    Raises
    ------
    ValueOutOfRange
        If there is no pair.
    """
    if not pairs:
        raise ValueOutOfRange("No frame was kept on both lots, so their settings cannot be compared.")
    differences = np.array([_exposure(old) - _exposure(new) for old, new in pairs])
    covariance = KEPT_ERROR**2 * 2 / len(pairs) * np.eye(3)
    nothing = LotEffect(log_exposure=np.zeros(3), covariance=np.zeros((3, 3)))
    return lot_offset(nothing, LotEffect(log_exposure=differences.mean(axis=0), covariance=covariance))


def _exposure(setting: Setting) -> Floats:
    """(3,) log10 of exposure that a setting gives the layers, apart from what head and frame add."""
    common = math.log10(setting.time) - 2 * math.log10(setting.f_number) - 2 * math.log10(1 + setting.magnification)
    return common - np.array(setting.pack.as_tuple()) / 100


def check_same_emulsion(offset: LotOffset) -> EmulsionCheck:
    """Chi-squared test, three layers, that an offset is 0.

    Raises
    ------
    ValueOutOfRange
        If nothing is unsure of it, so that any difference would contradict.
    """
    if np.linalg.matrix_rank(offset.covariance) < 3:
        raise ValueOutOfRange("The offset of two lots has no error in some layer, so it cannot be tested.")
    apart = np.array([layer.value for layer in offset.log_exposure])
    return EmulsionCheck(chance=float(chdtrc(3, apart @ np.linalg.solve(offset.covariance, apart))))
