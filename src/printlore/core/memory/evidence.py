"""What the memory learns from: plain values, as they were recorded.

Vectors are (red, green, blue): the layer sensitive to it, or the density read through it.
Names (of heads, lots, frames ...) are any strings; equal strings mean the same thing.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from printlore.core.figure import Figure
from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Setting
from printlore.core.paper.facts import PaperFacts, Vector
from printlore.core.plain import says_what_fits
from printlore.errors import ValueOutOfRange


def _finite(name: str, values: Vector) -> None:
    for channel, value in zip(("red", "green", "blue"), values, strict=True):
        if not math.isfinite(value):
            raise ValueOutOfRange(f"{name}, {channel}: {value} is not a number. Read it again, or leave the patch out.")


@says_what_fits
@dataclass(frozen=True, slots=True, kw_only=True)
class BathState:
    """State of a developer at one run, as the bath's ledger works it out.

    Attributes
    ----------
    area_per_litre : float
        Developed area whose by-products are still in the bath [m2/L]; top-ups and bleeds count.
    age_days : float
        Days since it was mixed, weighted for air if known [d].
    strength : float
        Developing agent relative to a fresh bath [1]; below 1 by carried-in water or use.
    """

    area_per_litre: float = 0.0
    age_days: float = 0.0
    strength: float = 1.0

    def __post_init__(self) -> None:
        for name in ("area_per_litre", "age_days", "strength"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value >= 0):
                raise ValueOutOfRange(f"Bath state: {name} is {Figure(value):g}; it must be finite and not below 0.")


@says_what_fits
@dataclass(frozen=True, slots=True, kw_only=True)
class NegativeReading:
    """Reference patch of a frame: -log10(transmittance) in three channels against the empty carrier.

    Attributes
    ----------
    density : (3,) floats
        (red, green, blue) [1]
    source : str
        Which probe, camera or scanner; each has its own reading matrix.
    standard_error : float
        Of each channel [1].
    """

    density: Vector
    source: str = "probe"
    standard_error: float = 0.01

    def __post_init__(self) -> None:
        _finite("Reading of the negative", self.density)
        if max(self.density) > 6 or min(self.density) < -0.5:
            raise ValueOutOfRange(
                f"Densities {self.density} cannot be those of a negative; against the empty carrier they run from 0 to "
                "about 3.5 (from memory). Check the decimal marks, and that the carrier was read first."
            )
        if not (math.isfinite(self.standard_error) and self.standard_error >= 0):
            raise ValueOutOfRange(f"Error of the reading is {Figure(self.standard_error):g}; it must be 0 or more.")


class Cast(StrEnum):
    """The six casts a print can have, and none."""

    NONE = "none"
    RED = "red"
    GREEN = "green"
    BLUE = "blue"
    CYAN = "cyan"
    MAGENTA = "magenta"
    YELLOW = "yellow"


@says_what_fits
@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """What an eye said about a patch or print.

    Attributes
    ----------
    cast : Cast
        What the print has too much of.
    strength : float
        The viewing filter that would mend it, as seen with the filter at the eye [CC of density]; 0 with no cast.
    stops_too_dark : float
        By how many stops of exposure the print has had too much [stop]; below 0: too light.
    person : str
        Whose eye; each has a learned scale and noise.
    wet : bool
        Judged before it was dry.
    """

    cast: Cast = Cast.NONE
    strength: float = 0.0
    stops_too_dark: float = 0.0
    person: str = "printer"
    wet: bool = False

    def __post_init__(self) -> None:
        if not (math.isfinite(self.strength) and 0 <= self.strength <= 200):
            raise ValueOutOfRange(
                f"A cast of {Figure(self.strength):g} CC cannot be; give 0 to 200 (a trace is about 5)."
            )
        if not (math.isfinite(self.stops_too_dark) and abs(self.stops_too_dark) <= 10):
            raise ValueOutOfRange(f"{Figure(self.stops_too_dark):g} stops cannot be; give between -10 and 10.")
        if (self.cast == Cast.NONE) != (self.strength == 0):
            raise ValueOutOfRange(
                f"A cast of {Figure(self.strength):g} CC and the word {self.cast} do not go together; name the "
                "cast and its strength, or neither."
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Patch:
    """One exposure on a piece of paper, and what is known of how it came out.

    Attributes
    ----------
    setting : Setting
        As made.
    density : (3,) floats or None
        Reflection density, status A (red, green, blue), with the paper's base [1].
    standard_error : float
        Of each density [1].
    judgement : Judgement or None
    kept : bool
        The print was accepted as right.
    beyond : tuple of bool
        Channels in which the reading was clipped: the density is at least (dark) or at most (light) what is given.
    """

    setting: Setting
    density: Vector | None = None
    standard_error: float = 0.006
    judgement: Judgement | None = None
    kept: bool = False
    beyond: tuple[bool, bool, bool] = (False, False, False)

    def __post_init__(self) -> None:
        if self.density is not None:
            _finite("Density of the patch", self.density)
            if max(self.density) > 4 or min(self.density) < -0.5:
                raise ValueOutOfRange(
                    f"Densities {self.density} cannot be those of a print; they run from 0 to about 2.6. "
                    "Check the order (red, green, blue) and the wedge."
                )
        if self.density is None and self.judgement is None and not self.kept:
            raise ValueOutOfRange("A patch has no density, no judgement and was not kept: it says nothing. Add one.")
        if not (math.isfinite(self.standard_error) and self.standard_error >= 0):
            raise ValueOutOfRange(f"Error of the density is {Figure(self.standard_error):g}; it must be 0 or more.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """One piece of paper, exposed and processed.

    Attributes
    ----------
    name : str
        Unique.
    frame, head, lot, bath : str
    date : float
        Days since any fixed day; evidence is about order and distance in days only [d].
    run : str
        Drum load: trials of one run share its noise.
    bath_state : BathState
        At this run.
    patches : tuple of Patch
        At least one.
    strip : bool
        True for a test strip, False for a whole sheet.
    """

    name: str
    frame: str
    head: str
    lot: str
    bath: str
    date: float = 0.0
    run: str = ""
    bath_state: BathState = field(default_factory=BathState)
    patches: tuple[Patch, ...]
    strip: bool = False

    def __post_init__(self) -> None:
        if not self.patches:
            raise ValueOutOfRange(f'Trial "{self.name}" has no patch; log at least one exposure.')
        if not math.isfinite(self.date):
            raise ValueOutOfRange(f'Trial "{self.name}" has no date.')


@says_what_fits
@dataclass(frozen=True, slots=True, kw_only=True)
class HeadFacts:
    """An enlarger head, its timer and its lens, as the printer describes them.

    Attributes
    ----------
    name : str
    usual : Setting
        Where printing usually starts on this head: the memory counts everything from here.
    additive : bool
        Red, green and blue light dialled apart; the pack then says by how many CC each is
        below the strongest, so its scale is known.
    dial_step, dial_max : float
        Finest useful step and end of the dials [dial units].
    timer_step : float
        [s]
    shortest, longest : float
        Comfortable range of exposure times [s] (common practice, no source; ss0514, p. 3-11, has 5 to 45 s).
    f_numbers : tuple of float
        Marked stops the printer is willing to use.
    """

    name: str
    usual: Setting = field(
        default_factory=lambda: Setting(
            pack=FilterPack(magenta=50, yellow=50), time=8.0, f_number=8.0, magnification=8.0
        )
    )
    additive: bool = False
    dial_step: float = 1.0
    dial_max: float = 200.0
    timer_step: float = 0.1
    shortest: float = 4.0
    longest: float = 40.0
    f_numbers: tuple[float, ...] = (4.0, 5.6, 8.0, 11.0, 16.0)

    def __post_init__(self) -> None:
        for name in ("dial_step", "dial_max", "timer_step", "shortest"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0):
                raise ValueOutOfRange(f'Head "{self.name}": {name} is {Figure(value):g}; it must be above 0.')
        if not (self.shortest < self.longest < math.inf):
            raise ValueOutOfRange(
                f'Head "{self.name}": times from {Figure(self.shortest):g} to {Figure(self.longest):g} s leave '
                "nothing between."
            )
        if not self.f_numbers or min(self.f_numbers) <= 0:
            raise ValueOutOfRange(f'Head "{self.name}" has no usable f-number; give at least one.')


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameFacts:
    """One negative.

    Attributes
    ----------
    name, film : str
    reading : NegativeReading or None
    aims : mapping of paper name to (3,) density
        Where this frame's aim differs from the paper's usual one.
    kept_on : float
        Date of the print that these aims are of; -inf if of none.
    earlier_aims : mapping as ``aims``
        Up to then.
    misread : bool
        It has a reading that is left out here, for its prints contradict it.
    """

    name: str
    film: str
    reading: NegativeReading | None = None
    aims: Mapping[str, Vector] = field(default_factory=dict)
    kept_on: float = -math.inf
    earlier_aims: Mapping[str, Vector] = field(default_factory=dict)
    misread: bool = False


WET_ERROR = 0.03
"""[1] Densities read wet are uncertain by this much at least (from memory): prints dry down."""


def proofs(trials: Iterable[Trial], lots: Mapping[str, str]) -> dict[tuple[str, str], tuple[Trial, Vector]]:
    """By frame and paper: the first logged trial that was kept and measured, and its density.

    It is what the frame's later prints should match. The first, for with each later one the aim would wander by what
    equal prints differ by. Measured means within range, with an error below ``WET_ERROR``.
    """
    found: dict[tuple[str, str], tuple[Trial, Vector]] = {}
    for trial in trials:
        for patch in trial.patches:
            if patch.kept and patch.density and patch.standard_error < WET_ERROR and not any(patch.beyond):
                found.setdefault((trial.frame, lots[trial.lot]), (trial, patch.density))
    return found


LEAST_ALIKE, MOST_ALIKE = 0.003, 0.05
"""[log10] Prints made alike scatter at least by what a patch does by itself; those further apart were not made alike
(from memory). A word outside would outlast many prints: too small, it makes sound ones look like slips."""


def checked_alike(sd: float) -> float:
    """How far prints made alike scatter [log10]. Raises ValueOutOfRange if none scatter so little, or so much."""
    if not LEAST_ALIKE - 1e-9 <= sd <= MOST_ALIKE + 1e-9:
        raise ValueOutOfRange(
            f"Prints made alike cannot scatter by {Figure(100 * sd):g} CC. Give {Figure(100 * LEAST_ALIKE):g} to "
            f"{Figure(100 * MOST_ALIKE):g}: 1 if you just see side by side that two from separate drum loads differ. "
            "Or say nothing."
        )
    return sd


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """Everything the memory may learn from.

    Attributes
    ----------
    heads, papers, frames : mapping of name to its facts
    lots : mapping of lot name to paper name, in the order received
    baths : mapping of bath name to process name
    trials : tuple of Trial
    alike : float or None
        Standard deviation of a layer among prints made alike in separate drum loads, as the printer expects it
        [log10]; None: not said.

    Raises
    ------
    ValueOutOfRange
        If ``alike`` is not between ``LEAST_ALIKE`` and ``MOST_ALIKE``.
    """

    heads: Mapping[str, HeadFacts]
    papers: Mapping[str, PaperFacts]
    lots: Mapping[str, str]
    baths: Mapping[str, str]
    frames: Mapping[str, FrameFacts]
    trials: tuple[Trial, ...] = ()
    alike: float | None = None

    def __post_init__(self) -> None:
        if self.alike is not None:
            checked_alike(self.alike)

    def aim_density(self, frame: str, paper: str) -> Vector:
        """Density the reference patch of this frame should have on this paper [1]."""
        return self.frames[frame].aims.get(paper, self.papers[paper].aim_density)

    def aim_judged_by(self, trial: Trial) -> Vector:
        """The same as it was when a trial was judged: before its frame's first print was kept, as without that [1].

        Else what an eye said of the kept print itself would be said of its being unlike itself.
        """
        facts, paper = self.frames[trial.frame], self.lots[trial.lot]
        if trial.date > facts.kept_on:
            return self.aim_density(trial.frame, paper)
        return facts.earlier_aims.get(paper, self.papers[paper].aim_density)
