"""Heads: from what is dialled to what each layer of the paper receives.

Two kinds behind one interface. A subtractive head (dials of vanes, or loose filters) takes light away from one lamp;
an additive head gives red, green and blue light apart, one after another or all at once. Vectors are
(red, green, blue); packs are cyan, magenta, yellow.
"""

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from printlore.core.light.filters import FilterPack
from printlore.errors import ValueOutOfRange

Floats = NDArray[np.float64]
Matrix = tuple[tuple[float, float, float], tuple[float, float, float], tuple[float, float, float]]

IDENTITY: Matrix = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
ZERO: Matrix = ((0.0, 0.0, 0.0), (0.0, 0.0, 0.0), (0.0, 0.0, 0.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Segment:
    """Light that falls on the paper for a while.

    Attributes
    ----------
    log_light : (3,) floats
        log10 of the light each layer receives, against the open head.
    time : float
        Seconds.
    """

    log_light: tuple[float, float, float]
    time: float


class Head(Protocol):
    """What advice and memory ask of a head."""

    def layer_log_exposure(self, pack: FilterPack) -> Floats:
        """Change of log exposure (3,) of the red, green and blue layer by the pack, against the open head [log10]."""

    def segments(self, pack: FilterPack, time: float) -> tuple[Segment, ...]:
        """The light of one exposure of ``time`` seconds; light of several segments adds."""

    def rounded(self, pack: FilterPack) -> FilterPack:
        """The nearest pack that can be dialled."""

    def dials_for(self, layer: ArrayLike) -> tuple[FilterPack, float]:
        """Pack that takes ``layer`` (3,) [CC] away from each layer, and the neutral [CC] that comes with it.

        The pack has one colour at 0. The second value is what is taken from all three layers on top of what was
        asked (below 0: less), so the time changes by ``10 ** (neutral / 100)``.
        """


def _check_matrix(owner: str, matrix: Matrix) -> None:
    if not np.isfinite(np.array(matrix, dtype=float)).all():
        raise ValueOutOfRange(f"{owner} has a figure that is not a number; enter all nine.")


def _layer_cc(layer: ArrayLike) -> Floats:
    wanted = np.asarray(layer, dtype=float)
    if wanted.shape != (3,) or not np.isfinite(wanted).all():
        raise ValueOutOfRange(f"Layer CC must be three numbers (red, green, blue); got {wanted.tolist()}.")
    return wanted


def _check_dial(step: float, largest: float) -> None:
    if not (math.isfinite(step) and step >= 0 and math.isfinite(largest) and largest > 0):
        raise ValueOutOfRange(
            f"Dial step {step:g} and largest dial {largest:g}: give a step of 0 or more, a largest above 0."
        )


def _rounded(pack: FilterPack, step: float, largest: float) -> FilterPack:
    if step == 0:
        nearest = list(pack.as_tuple())
    else:
        last = math.floor(largest / step + 1e-9) * step
        nearest = [min(round(dial / step) * step, last) for dial in pack.as_tuple()]
    cyan, magenta, yellow = (min(dial, largest) for dial in nearest)
    return FilterPack(cyan=cyan, magenta=magenta, yellow=yellow)


@dataclass(frozen=True, slots=True, kw_only=True)
class SubtractiveHead:
    """Dials that take light away.

    Attributes
    ----------
    response : 3 x 3
        Row per layer, column per dial: CC taken from the layer per dial unit at small dials. The identity is
        the ideal head; unwanted absorptions are off the diagonal.
    curvature : 3 x 3
        Row per layer; columns for magenta squared, yellow squared and magenta times yellow [CC per dial unit
        squared]. Vanes saturate: the figures are small.
    step, largest : float
        Finest step and end of each dial [dial units]; step 0 is a dial without clicks.

    Raises
    ------
    ValueOutOfRange
        If a figure is not finite, a dial does not darken its own layer most, or not on to its end, or the step or
        range cannot be.
    """

    response: Matrix = IDENTITY
    curvature: Matrix = ZERO
    step: float = 1.0
    largest: float = 200.0

    def __post_init__(self) -> None:
        _check_matrix("The dial response", self.response)
        _check_matrix("The curvature of the dials", self.curvature)
        _check_dial(self.step, self.largest)
        full = self.largest
        corners = [self._slope(np.array((0.0, m, y))) for m in (0.0, full) for y in (0.0, full)]
        for dial, name in enumerate(("cyan", "magenta", "yellow")):
            if corners[0][:, dial].argmax() != dial or any(slope[dial, dial] <= 0 for slope in corners):
                raise ValueOutOfRange(
                    f"The {name} dial does not darken its own layer most, or stops doing so before its end "
                    f"({full:g}); check the dial response and curvature, or lower the largest dial."
                )

    def _taken(self, dials: Floats) -> Floats:
        _, m, y = dials
        bend = np.array((m * m, y * y, m * y))
        return np.asarray(np.array(self.response) @ dials + np.array(self.curvature) @ bend)

    def _slope(self, dials: Floats) -> Floats:
        _, m, y = dials
        bend = np.array(((0.0, 2 * m, 0.0), (0.0, 0.0, 2 * y), (0.0, y, m)))
        return np.asarray(np.array(self.response) + np.array(self.curvature) @ bend)

    def layer_log_exposure(self, pack: FilterPack) -> Floats:
        """Change of log exposure (3,) by the pack, against the open head [log10]."""
        return -self._taken(np.array(pack.as_tuple())) / 100.0

    def segments(self, pack: FilterPack, time: float) -> tuple[Segment, ...]:
        """One segment: all light at once."""
        red, green, blue = self.layer_log_exposure(pack).tolist()
        return (Segment(log_light=(red, green, blue), time=time),)

    def rounded(self, pack: FilterPack) -> FilterPack:
        """The nearest pack on the clicks of the dials, inside their range."""
        return _rounded(pack, self.step, self.largest)

    def dials_for(self, layer: ArrayLike) -> tuple[FilterPack, float]:
        """Pack, one dial at 0, that takes ``layer`` (3,) [CC] and a common neutral away; see :class:`Head`.

        Raises
        ------
        ValueOutOfRange
            If a dial would have to go beyond its end.
        """
        wanted = _layer_cc(layer)
        found: list[tuple[float, Floats, float]] = []
        for zero in range(3):
            dials, neutral = np.zeros(3), 0.0
            for _ in range(60):
                slope = self._slope(dials)
                slope[:, zero] = -1.0
                move = np.linalg.lstsq(slope, wanted + neutral - self._taken(dials), rcond=None)[0]
                neutral += float(move[zero])
                move[zero] = 0.0
                dials = np.clip(dials + move, -4 * self.largest, 4 * self.largest)
                if np.abs(move).max() < 1e-12:
                    break
            short = float(np.max([0.0, -dials.min(), dials.max() - self.largest]))
            found.append((short, dials, neutral))
        short, dials, neutral = min(found, key=lambda item: (round(item[0], 6), item[1].sum()))
        if short > 1e-6:
            raise ValueOutOfRange(
                f"Taking {', '.join(f'{cc:.0f}' for cc in wanted)} CC from the red, green and blue layer needs a dial "
                f"{short:.0f} beyond its end ({self.largest:g}). Add a loose filter below the lens and log it as such."
            )
        cyan, magenta, yellow = np.clip(dials, 0.0, self.largest).tolist()
        return FilterPack(cyan=cyan, magenta=magenta, yellow=yellow), neutral


@dataclass(frozen=True, slots=True, kw_only=True)
class AdditiveHead:
    """Red, green and blue light given apart.

    A pack (cyan, magenta, yellow) on such a head says by how many CC the red, green and blue light is below the
    strongest: light k is ``10 ** (-pack_k / 100)`` of it.

    Attributes
    ----------
    cross_talk : 3 x 3
        Row per layer, column per light: share of the layer's exposure that comes from the light when all three are
        at full. Rows are scaled to sum 1; the identity is the ideal head.
    one_after_another : bool
        True: three times, so reciprocity works on each; False: three levels together for one time.
    step, largest : float
        Finest step and end of the range of each light [CC]; step 0: continuous.

    Raises
    ------
    ValueOutOfRange
        If a share is below 0 or not finite, a layer does not receive most from its own light, or the step or range
        cannot be.
    """

    cross_talk: Matrix = IDENTITY
    one_after_another: bool = True
    step: float = 1.0
    largest: float = 200.0

    def __post_init__(self) -> None:
        _check_matrix("The cross-talk of the lights", self.cross_talk)
        _check_dial(self.step, self.largest)
        shares = np.array(self.cross_talk, dtype=float)
        if (shares < 0).any() or (shares.argmax(axis=1) != np.arange(3)).any() or (np.diag(shares) <= 0).any():
            raise ValueOutOfRange(
                "Cross-talk shares must be 0 or more, and each layer must receive most from its own light; "
                "check that rows are layers and columns are lights."
            )

    @property
    def _shares(self) -> Floats:
        shares = np.array(self.cross_talk, dtype=float)
        return np.asarray(shares / shares.sum(axis=1, keepdims=True))

    def layer_log_exposure(self, pack: FilterPack) -> Floats:
        """Change of log exposure (3,) by the pack, against all three lights at full [log10]."""
        return np.asarray(np.log10(self._shares @ 10.0 ** (-np.array(pack.as_tuple()) / 100.0)))

    def segments(self, pack: FilterPack, time: float) -> tuple[Segment, ...]:
        """One segment a light, of its own time; or, of three levels together, one segment.

        ``time`` is that of the strongest light.
        """
        if not self.one_after_another:
            red, green, blue = self.layer_log_exposure(pack).tolist()
            return (Segment(log_light=(red, green, blue), time=time),)
        with np.errstate(divide="ignore"):
            columns = np.log10(self._shares).T.tolist()
        return tuple(
            Segment(log_light=(column[0], column[1], column[2]), time=seconds)
            for column, seconds in zip(columns, self.times(pack, time), strict=True)
        )

    def times(self, pack: FilterPack, time: float) -> tuple[float, float, float]:
        """Seconds of red, green and blue light, if ``time`` is that of a light with nothing in the pack."""
        red, green, blue = (time * 10.0 ** (-cc / 100.0) for cc in pack.as_tuple())
        return red, green, blue

    def pack_of_times(self, times: tuple[float, float, float]) -> tuple[FilterPack, float]:
        """Pack and time of three exposure times (red, green, blue) [s]; the longest sets the time.

        Raises
        ------
        ValueOutOfRange
            If a time is not above 0.
        """
        for name, seconds in zip(("red", "green", "blue"), times, strict=True):
            if not (math.isfinite(seconds) and seconds > 0):
                raise ValueOutOfRange(
                    f"The {name} light was on for {seconds:g} s; it must be above 0. Enter its seconds."
                )
        longest = max(times)
        cyan, magenta, yellow = (100.0 * math.log10(longest / seconds) for seconds in times)
        return FilterPack(cyan=cyan, magenta=magenta, yellow=yellow), longest

    def rounded(self, pack: FilterPack) -> FilterPack:
        """The nearest pack in steps of the lights, inside their range."""
        return _rounded(pack, self.step, self.largest)

    def dials_for(self, layer: ArrayLike) -> tuple[FilterPack, float]:
        """Pack, strongest light at full, that takes ``layer`` (3,) [CC] and a common neutral away; see :class:`Head`.

        Raises
        ------
        ValueOutOfRange
            If the lights cannot be apart enough, for want of range or for cross-talk.
        """
        wanted = _layer_cc(layer)
        light = np.linalg.solve(self._shares, 10.0 ** (-(wanted - wanted.min()) / 100.0))
        strongest = float(light.max())
        if light.min() < strongest * 10.0 ** (-(self.largest + 1e-6) / 100.0):
            raise ValueOutOfRange(
                f"Taking {', '.join(f'{cc:.0f}' for cc in wanted)} CC from the red, green and blue layer needs a light "
                f"weaker than this head gives ({self.largest:g} CC below full, with its cross-talk). "
                "Use a filter below the lens and log it as such."
            )
        cyan, magenta, yellow = np.maximum(-100.0 * np.log10(light / strongest), 0.0).tolist()
        neutral = 100.0 * math.log10(strongest) - float(wanted.min())
        return FilterPack(cyan=cyan, magenta=magenta, yellow=yellow), neutral
