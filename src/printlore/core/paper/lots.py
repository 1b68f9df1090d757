"""What a new lot changes: its offset from the old one, in CC and stops, and whether two lots are one emulsion."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import chdtrc

from printlore.core.estimate import Estimate
from printlore.core.flags import Flag
from printlore.core.light.exposure import LOG10_PER_STOP
from printlore.core.light.setting import Setting
from printlore.errors import ValueOutOfRange

Three = tuple[Estimate, Estimate, Estimate]
KEPT_ERROR = 0.02
"""[log10] How far a kept print's setting is from the right one, process noise included (from memory)."""
CONTRADICTED = 0.01
"""Lots stated to be one emulsion are doubted if so large a difference would come by chance less often than this."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LotOffset:
    """By how much a new lot is more sensitive than an old one.

    Attributes
    ----------
    log_exposure : (red, green, blue) Estimates
        New less old [log10]; above 0: the new lot prints darker.
    magenta, yellow : Estimate
        To be added to the pack [CC] for the same colour (below 0: taken off).
    stops : Estimate
        To be added to the exposure [stop] for the same darkness, with that pack.
    """

    log_exposure: Three
    magenta: Estimate
    yellow: Estimate
    stops: Estimate

    def rebased(self, setting: Setting) -> Setting:
        """A setting that was right on the old lot, as it should be on the new one."""
        pack, neutral = setting.pack.moved(magenta=self.magenta.value, yellow=self.yellow.value)
        factor = 10.0 ** (self.stops.value * LOG10_PER_STOP + neutral / 100)
        return Setting(
            pack=pack,
            time=setting.time * factor,
            f_number=setting.f_number,
            magnification=setting.magnification,
            burns=setting.burns,
        )


def lot_offset(old: Three, new: Three) -> LotOffset:
    """Offset between two lots from what is known of each (red, green, blue) [log10].

    Their errors are taken as independent, so the offset's error is an upper bound where one drum held both.

    Raises
    ------
    ValueOutOfRange
        If an estimate has no standard error.
    """
    differences: list[Estimate] = []
    for before, after in zip(old, new, strict=True):
        if before.standard_error is None or after.standard_error is None:
            raise ValueOutOfRange("A lot's sensitivity has no error, so no offset can be told. Print a trial on it.")
        flags = tuple(dict.fromkeys(before.flags + after.flags))
        error = math.hypot(before.standard_error, after.standard_error)
        differences.append(Estimate(value=after.value - before.value, standard_error=error, flags=flags))
    red, green, blue = differences
    return LotOffset(
        log_exposure=(red, green, blue),
        magenta=_scaled(green, red, 100.0),
        yellow=_scaled(blue, red, 100.0),
        stops=_scaled(None, red, 1 / LOG10_PER_STOP),
    )


def _scaled(plus: Estimate | None, minus: Estimate, factor: float) -> Estimate:
    value = (plus.value if plus else 0.0) - minus.value
    error = math.hypot(plus.standard_error or 0.0 if plus else 0.0, minus.standard_error or 0.0)
    flags: tuple[Flag, ...] = tuple(dict.fromkeys((plus.flags if plus else ()) + minus.flags))
    return Estimate(value=value * factor, standard_error=error * factor, flags=flags)


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


def offset_of_kept(pairs: Sequence[tuple[Setting, Setting]], *, error: float = KEPT_ERROR) -> LotOffset:
    """Offset from settings of one frame and head that were kept on an old and on a new lot.

    Parameters
    ----------
    pairs : sequence of (on the old lot, on the new lot)
        At least one. Filters are taken at their marked strength, without reciprocity failure.
    error : float
        One standard deviation of one kept setting from the right one, each layer [log10].

    Raises
    ------
    ValueOutOfRange
        If there is no pair.
    """
    if not pairs:
        raise ValueOutOfRange("No frame was kept on both lots, so their settings cannot be compared.")
    differences = np.array([_exposure(old) - _exposure(new) for old, new in pairs])
    spread = error * math.sqrt(2 / len(pairs))
    red, green, blue = (Estimate(value=float(d), standard_error=spread) for d in differences.mean(axis=0))
    zero = Estimate(value=0.0, standard_error=0.0)
    return lot_offset((zero, zero, zero), (red, green, blue))


def _exposure(setting: Setting) -> npt.NDArray[np.float64]:
    """(3,) log10 of exposure that a setting gives the layers, apart from what head and frame add."""
    common = math.log10(setting.time) - 2 * math.log10(setting.f_number) - 2 * math.log10(1 + setting.magnification)
    return common - np.array(setting.pack.as_tuple()) / 100


def check_same_emulsion(offset: LotOffset) -> EmulsionCheck:
    """Chi-squared test, three layers, that an offset is 0."""
    total = sum((e.value / e.standard_error) ** 2 for e in offset.log_exposure if e.standard_error)
    return EmulsionCheck(chance=float(chdtrc(3, total)))
