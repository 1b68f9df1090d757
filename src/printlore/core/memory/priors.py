"""What the memory believes before anything has been printed.

All figures are from memory or common practice, no source; ``solve`` takes others.
Standard deviations are in log10 of exposure unless said otherwise. A spread of a layer
vector has a part common to the three layers and a part in colour (each layer on its own).
"""

import math
from dataclasses import dataclass, field, replace


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """Standard deviation of a layer vector: common to the layers, and of each layer beside it."""

    common: float
    colour: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Priors:
    """Prior spreads of everything that is learned."""

    # exposure; film_read and frame_read are what a reading of the negative leaves open beside its own error:
    # films differ then only in their spectra
    base: Spread = field(default_factory=lambda: Spread(common=0.40, colour=0.15))
    paper: Spread = field(default_factory=lambda: Spread(common=0.15, colour=0.10))
    other_head: Spread = field(default_factory=lambda: Spread(common=0.40, colour=0.20))
    film: Spread = field(default_factory=lambda: Spread(common=0.12, colour=0.06))
    film_read: Spread = field(default_factory=lambda: Spread(common=0.012, colour=0.012))
    lot: Spread = field(default_factory=lambda: Spread(common=0.04, colour=0.03))
    bath: Spread = field(default_factory=lambda: Spread(common=0.012, colour=0.006))
    process: Spread = field(default_factory=lambda: Spread(common=0.08, colour=0.05))
    drift_per_root_day: Spread = field(default_factory=lambda: Spread(common=0.0015, colour=0.0008))
    # how differently papers of two families see negatives, each behind the filters that it takes, per log10 of what
    # these differ by in level and in colour; per log10 of the colour that light has behind both; and what of one
    # negative all that leaves: as two published papers do
    sight_level: Spread = field(default_factory=lambda: Spread(common=0.065, colour=0.06))
    sight_colour: Spread = field(default_factory=lambda: Spread(common=0.01, colour=0.11))
    sight_light: Spread = field(default_factory=lambda: Spread(common=0.01, colour=0.22))
    view: Spread = field(default_factory=lambda: Spread(common=0.002, colour=0.005))
    frame_blind: Spread = field(default_factory=lambda: Spread(common=0.20, colour=0.08))
    frame_read: Spread = field(default_factory=lambda: Spread(common=0.002, colour=0.002))
    run: Spread = field(default_factory=lambda: Spread(common=0.010, colour=0.005))
    patch: Spread = field(default_factory=lambda: Spread(common=0.003, colour=0.002))
    # the head
    dial_scale_common: float = 0.35
    dial_scale: float = 0.20
    dial_scale_additive: float = 0.03
    dial_leak: float = 0.08
    dial_leak_sd: float = 0.06
    dial_curvature: float = 0.08
    dial_interaction: float = 0.04
    rise: float = 0.05
    stop: float = 0.03
    size: float = 0.03
    reciprocity: float = 0.03
    # the paper: standard deviations of ln gradient, ln range, asymmetry, amount at the aim
    gradient_common: float = 0.10
    gradient: float = 0.06
    density_range: float = 0.08
    asymmetry: float = 0.25
    aim_amount: float = 0.04
    side_absorption_sd: float = 0.06
    # the reading of the negative
    reading_gain: float = 0.20
    reading_leak: float = 0.12
    # ageing of a bath, per m2/L, per day, per unit of strength: what all layers lose or gain; then how far off that may
    # be, wider than control patches find it, for wear is not learned here and many baths see no patch
    usual_ageing: tuple[float, float, float] = (-0.0104, -0.0002, 0.075)
    area: Spread = field(default_factory=lambda: Spread(common=0.05, colour=0.02))
    age: Spread = field(default_factory=lambda: Spread(common=0.003, colour=0.0015))
    strength: Spread = field(default_factory=lambda: Spread(common=0.30, colour=0.10))
    # how much faster or slower one bath ages than the others of its kind, per m2/L
    pace: Spread = field(default_factory=lambda: Spread(common=0.015, colour=0.008))
    # eyes: ln of personal scale; noise in density, of darkness and of the cast, and as a share of what is seen
    eye_scale: float = 0.35
    eye: Spread = field(default_factory=lambda: Spread(common=0.08, colour=0.06))
    eye_share: float = 0.35
    kept_by_eye: float = 0.07
    # the model's own error
    curve_error: float = 0.03
    pseudo_observations: float = 2.0

    @property
    def alike(self) -> float:
        """Standard deviation of a layer among prints made alike in separate drum loads [log10]."""
        return math.hypot(self.run.common, self.run.colour)

    def repeating(self, sd: float | None) -> "Priors":
        """These, but prints made alike in separate drum loads scatter by this standard deviation of a layer [log10].

        How much of it is common to the layers stays as it is; so does all if None.
        """
        if sd is None:
            return self
        share = sd / self.alike
        return replace(self, run=Spread(common=share * self.run.common, colour=share * self.run.colour))
