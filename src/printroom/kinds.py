"""What kind of room: its head, how steady it is, how well it reads. All figures are assumed, from memory."""

from dataclasses import dataclass, fields, replace
from typing import Literal

Head = Literal["vane", "gel", "additive_times", "additive_levels"]


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomKind:
    """Figures that a room is drawn from; sds are of one layer or channel, log10 of exposure unless said.

    Attributes
    ----------
    head : str
        "vane": dichroic vanes that enter a mixed beam, so the response saturates. "gel": filters with broad and
        unwanted absorptions. "additive_times": three coloured exposures. "additive_levels": three coloured lights
        at once.
    dial_scale_spread : float
        The dials' scales (subtractive heads) lie between ``1 / (1 + spread)`` and ``1 + spread`` of CC.
    dial_step, time_step : float
        What dials [dial units] and timer [s] can be set to; ``expose`` goes to the nearest.
    dial_setting_sd, timer_sd : float
        Error of setting a dial to its mark [dial units]; jitter of the timer [s].
    rise_sd : float
        Of the lamp's effective delay, one figure per room [s].
    stop_sd : float
        Of the error of each marked f-number.
    reciprocity_sd : float
        Of the exponent of each layer about 1 [1].
    lamp_drift_sd : float
        Of the lamp's random walk per day.
    run_sd, run_common : float
        Of one drum load; share of its variance that the three layers have in common [1].
    patch_sd : float
        Of one patch within a load.
    density_reading_sd, negative_reading_sd : float
        Of a reading of the print and of the negative [density].
    lot_sd, bath_sd, lot_contrast_sd, bath_contrast_sd : float
        Of a paper lot and of a newly mixed bath; relative contrast [1].
    ageing_per_area, ageing_per_day, contrast_per_area, ageing_spread : float
        Mean change per m2/L, per day, relative contrast per m2/L; spread between layers and baths, relative [1].
    strength_exponent : float
        Shift of log exposure per log10 of the bath's strength [1].
    film_sd_common, film_sd_colour, frame_sd_common, frame_sd_colour : float
        Of the printing density of films, and of frames within a film: common to the layers, and of each layer apart.
    interlayer : float
        Speed that a layer loses per unit of dye in each other layer [log10 per density].
    blunder_rate : float
        Share of exposures made otherwise than logged, by 0.15 log10 or more in a layer [1].
    eye_sd : float
        Noise of a judgement, as exposure [log10].
    """

    head: Head = "vane"
    dial_scale_spread: float = 0.4
    dial_step: float = 1.0
    time_step: float = 0.1
    dial_setting_sd: float = 0.15
    timer_sd: float = 0.01
    rise_sd: float = 0.04
    stop_sd: float = 0.03
    reciprocity_sd: float = 0.02
    lamp_drift_sd: float = 0.0015
    run_sd: float = 0.008
    run_common: float = 0.75
    patch_sd: float = 0.003
    density_reading_sd: float = 0.006
    negative_reading_sd: float = 0.006
    lot_sd: float = 0.05
    bath_sd: float = 0.015
    lot_contrast_sd: float = 0.02
    bath_contrast_sd: float = 0.01
    ageing_per_area: float = -0.05
    ageing_per_day: float = -0.004
    contrast_per_area: float = -0.02
    ageing_spread: float = 0.35
    strength_exponent: float = 0.6
    film_sd_common: float = 0.08
    film_sd_colour: float = 0.05
    frame_sd_common: float = 0.16
    frame_sd_colour: float = 0.05
    interlayer: float = 0.012
    blunder_rate: float = 0.0
    eye_sd: float = 0.025

    def __post_init__(self) -> None:
        if self.head not in ("vane", "gel", "additive_times", "additive_levels"):
            raise ValueError(f'head is "{self.head}"; use vane, gel, additive_times or additive_levels.')
        for item in fields(self):
            value = getattr(self, item.name)
            if (item.name.endswith(("_sd", "_spread", "_rate", "_common")) and value < 0) or (
                item.name in ("run_common", "blunder_rate") and value > 1
            ):
                raise ValueError(f"{item.name} is {value:g}; it cannot be.")
        if self.dial_step <= 0 or self.time_step <= 0:
            raise ValueError("dial_step and time_step must be above 0.")


STEADY_VANE = RoomKind()
NOISY_VANE = replace(STEADY_VANE, run_sd=0.015, patch_sd=0.006, lamp_drift_sd=0.004)
STEADY_GEL = replace(STEADY_VANE, head="gel", dial_scale_spread=0.1)
NOISY_GEL = replace(STEADY_GEL, run_sd=0.015, patch_sd=0.006, lamp_drift_sd=0.004)
ADDITIVE_TIMES = replace(STEADY_VANE, head="additive_times", dial_scale_spread=0.0)
ADDITIVE_LEVELS = replace(STEADY_VANE, head="additive_levels", dial_scale_spread=0.0)
COARSE = replace(STEADY_VANE, run_sd=0.02, dial_step=5.0, time_step=0.5)
"""Run sd 2 CC, dials read to 5: the room of the tolerance "good alone"."""
COARSE_GEL = replace(COARSE, head="gel", dial_scale_spread=0.1, dial_step=2.5)
"""Run sd 2 CC, loose filters down to 2.5."""
BLUNDERING = replace(STEADY_VANE, blunder_rate=0.05)
AGEING = replace(STEADY_VANE, ageing_per_area=-0.10, ageing_per_day=-0.010, contrast_per_area=-0.05, bath_sd=0.02)
IDEAL = RoomKind(
    dial_setting_sd=0.0, timer_sd=0.0, rise_sd=0.0, stop_sd=0.0, reciprocity_sd=0.0, lamp_drift_sd=0.0, run_sd=0.0,
    patch_sd=0.0, density_reading_sd=0.0, negative_reading_sd=0.0, lot_sd=0.0, bath_sd=0.0, lot_contrast_sd=0.0,
    bath_contrast_sd=0.0, ageing_per_area=0.0, ageing_per_day=0.0, contrast_per_area=0.0, interlayer=0.0, eye_sd=0.0,
    dial_step=1e-6, time_step=1e-6,
)  # fmt: skip
"""Nothing moves but the negatives: for tests of direction and arithmetic."""

KINDS: dict[str, RoomKind] = {
    "steady vane": STEADY_VANE,
    "noisy vane": NOISY_VANE,
    "steady gel": STEADY_GEL,
    "noisy gel": NOISY_GEL,
    "additive times": ADDITIVE_TIMES,
    "additive levels": ADDITIVE_LEVELS,
    "coarse": COARSE,
    "coarse gel": COARSE_GEL,
    "blundering": BLUNDERING,
    "ageing baths": AGEING,
    "ideal": IDEAL,
}
"""Named presets. With or without readings of the negative is the caller's choice, not the room's."""
