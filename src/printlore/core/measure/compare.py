"""Two scans of one picture side by side: how far apart the prints are, in exposure and to the eye.

Densities of both are laid over each other. What differs smoothly is colour: it is turned into the
change of layer exposure that would make it (stops and CC), apart for light, middle and dark tones.
What differs in one small place is a defect, and is kept out of the colour.
"""

from dataclasses import dataclass
from enum import StrEnum

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.special import chdtrc

from printlore.core.colour.lab import delta_e_2000
from printlore.core.figure import Figure
from printlore.core.flags import Flag
from printlore.core.light.exposure import LOG10_PER_STOP
from printlore.core.measure.characterise import ScannerProfile
from printlore.core.measure.registration import Registration, register, shrunk
from printlore.core.measure.scan import Box, Floats, Scan
from printlore.core.measure.scanner import ScannerCurves
from printlore.core.paper.dyes import generic_paper
from printlore.core.paper.facts import vector
from printlore.core.paper.gradient import generic_curves
from printlore.core.paper.layers import LayerCurves
from printlore.errors import ValueOutOfRange

Picture = NDArray[np.float32]

_SIDE = 800
_LIGHT_BELOW, _DARK_ABOVE = 0.45, 1.15
"""[density] Between them lie the middle tones."""
_LEAST_SHARE = 0.02
_TONE_BINS = 8
GRADIENT_DOUBT = 0.25
"""Standard error of the gradient of a paper that is not known, as a share of it (from memory)."""
CURVE_DOUBT = 0.08
"""Share by which the local slope of our curves is off (rms) where they are fitted to a published paper's
(filmscan-paper-a)."""
UNLIKE_LAYERS = 0.5
"""Part of a gradient's doubt that is not alike in the three layers: by it a mere difference of exposure looks like a
cast; from simulated papers."""
COMMON_ERROR = 0.0025
"""[density] Two scans of one print by one scanner differ by this much alike all over; from simulated scans."""
COLOUR_ERROR = 0.0012
"""[density] And by this much apart for each channel."""
FILTER_STEP = 2.5
"""[CC] The smallest filter step in common use: a trace, seen side by side only (common practice, no source)."""
SEEN_APART = 5.0
"""[CC] Seen with the prints apart (common practice, no source)."""
_DEFECT_DENSITY = 0.06
_DEFECT_PIXELS = 4


class Likeness(StrEnum):
    """How two prints stand to each other."""

    SAME = "same"
    ONE_STEP = "one_step"
    SIDE_BY_SIDE = "side_by_side"
    APART = "apart"
    UNSURE = "unsure"


class DefectKind(StrEnum):
    """What a local difference looks like."""

    SPOT = "spot"
    STREAK = "streak"
    DROP = "drop"


@dataclass(frozen=True, slots=True, kw_only=True)
class ToneShift:
    """How far the second print is from the first in one class of tones.

    Attributes
    ----------
    tones : str
        "all", "light", "middle" or "dark".
    share : float
        Of the picture [1].
    density : (3,) floats
        Mean of the first [1].
    change : (3,) floats
        Second less first [density].
    change_error : (3,) floats
    log_exposure : (3,) floats
        More exposure of the red, green and blue sensitive layer that would make the change [log10].
    log_exposure_error : (3,) floats
        Standard error of each's difference from their mean (the colour of it).
    stops : float
        How much darker the second is, in stops of exposure; below 0: lighter.
    stops_error : float
    cyan, magenta, yellow : float
        What the second has too much (below 0: too little) of, in CC of exposure; their sum is 0.
    delta_e : float
        dE00 between the class's mean colours.
    """

    tones: str
    share: float
    density: tuple[float, float, float]
    change: tuple[float, float, float]
    change_error: tuple[float, float, float]
    log_exposure: tuple[float, float, float]
    log_exposure_error: tuple[float, float, float]
    stops: float
    stops_error: float
    cyan: float
    magenta: float
    yellow: float
    delta_e: float

    @property
    def largest_cc(self) -> float:
        """Largest of the colour differences [CC]."""
        return max(abs(self.cyan), abs(self.magenta), abs(self.yellow))

    @property
    def cc_error(self) -> float:
        """Standard error of the colour differences [CC]."""
        return 100 * max(self.log_exposure_error)


@dataclass(frozen=True, slots=True, kw_only=True)
class Defect:
    """One place where one print has what the other has not.

    Attributes
    ----------
    kind : DefectKind
    box : Box
        In the first scan.
    in_second : bool
        Which print has it.
    change : float
        Density against its surroundings [1]; below 0: lighter.
    """

    kind: DefectKind
    box: Box
    in_second: bool
    change: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OwnPaper:
    """The paper of two prints, as its own prints have shown it.

    Attributes
    ----------
    name : str
    curves : LayerCurves
    doubt : float
        Standard error of its gradient, as a share of it [1]: of what is learned, and ``CURVE_DOUBT``.
    """

    name: str
    curves: LayerCurves
    doubt: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Comparison:
    """Two prints side by side.

    Attributes
    ----------
    registration : Registration
    overall : ToneShift
    by_tone : tuple of ToneShift
        Those of light, middle and dark that the picture has enough of.
    crossover : float or None
        Largest difference of colour between the light and the dark tones [CC]; ``None``: not both there.
    crossover_error : float or None
    delta_e_map : (rows, columns) array of float32
        dE00 at each place of the shrunk first scan; NaN where the two do not both lie.
    block : int
        Side of a place in the map, in pixels of the first scan.
    delta_e_median, delta_e_95 : float
    histogram : tuple of (upper edge of dE00, share)
    defects : tuple of Defect
        Largest first.
    paper : str
        Whose gradient made exposures of densities; empty: generic paper's.
    gradient_doubt : float
        Share of an exposure that enters its error for that [1].
    likeness : Likeness
    words : str
        The verdict as a sentence.
    flags : tuple of Flag
    """

    registration: Registration
    overall: ToneShift
    by_tone: tuple[ToneShift, ...]
    crossover: float | None
    crossover_error: float | None
    delta_e_map: NDArray[np.float32]
    block: int
    delta_e_median: float
    delta_e_95: float
    histogram: tuple[tuple[float, float], ...]
    defects: tuple[Defect, ...]
    paper: str
    gradient_doubt: float
    likeness: Likeness
    words: str
    flags: tuple[Flag, ...]


def compare(
    first: Scan,
    second: Scan,
    curves: tuple[ScannerCurves, ScannerCurves],
    *,
    within: Box | None = None,
    profile: ScannerProfile | None = None,
    paper: OwnPaper | None = None,
) -> Comparison:
    """Compare the second of two prints of one picture with the first.

    Parameters
    ----------
    first, second : Scan
    curves : (ScannerCurves, ScannerCurves)
        Each scan's own, by the wedge in it; twice the same if only one has a wedge and the scanner was left alone.
    within : Box, optional
        The picture in the first scan (``strip.find_paper`` finds it). By default all that both scans show:
        then what lies beside the picture, such as a wedge, waters the difference down.
    profile : ScannerProfile, optional
        Of the scanner, by a chart.
    paper : OwnPaper, optional
        That both are on. Without it exposures are reckoned by generic paper, and 25 % of them enters their error.

    Raises
    ------
    ValueOutOfRange
        If the two do not show the same picture.
    """
    registration = register(first, second, within=within)
    light_1, block = shrunk(first, _SIDE)
    light_2, block_2 = shrunk(second, _SIDE)
    rows, columns = light_1.shape[:2]
    # From places of the shrunk first to those of the shrunk second.
    matrix = registration.as_array()
    linear = matrix[:, :2] * block / block_2
    offset = (matrix[:, :2] @ np.full(2, (block - 1) / 2) + matrix[:, 2] - (block_2 - 1) / 2) / block_2
    to_second = np.column_stack([linear, offset])
    density_1 = _density(light_1, curves[0], profile)
    density_2 = cv2.warpAffine(
        _density(light_2, curves[1], profile),
        to_second,
        (columns, rows),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=(np.nan, np.nan, np.nan),
    )
    seen = np.isfinite(density_2).all(axis=2)
    if within is not None:
        inside = np.zeros((rows, columns), bool)
        inside[within.top // block : within.bottom // block, within.left // block : within.right // block] = True
        seen &= inside
    seen = ndimage.binary_erosion(seen, iterations=2, border_value=0)
    if seen.sum() < 2000:
        raise ValueOutOfRange(f'"{first.name}" and "{second.name}" share too little of the picture to be compared.')
    density_2 = np.where(seen[..., None], density_2, density_1).astype(np.float32)
    change = density_2 - density_1
    local = _local_part(change)
    steep = _steepness(density_1)
    # At an edge in the picture a small misfit of the two makes a difference that is none.
    misfit = 0.35 + registration.residual / block
    suspicious = np.abs(local) > np.maximum(_DEFECT_DENSITY, 5 * _spread(local, seen)) + misfit * steep
    odd = np.asarray(suspicious.any(axis=2), dtype=bool)
    defects = _defects(odd & seen, local, density_1, density_2, block)
    clean = seen & ~ndimage.binary_dilation(odd, iterations=2) & (steep.max(axis=2) < 0.08)
    if clean.sum() < 1000:
        clean = seen
    overall = _shift("all", density_1, change, clean, paper, seen.sum())
    tone = density_1.mean(axis=2)
    classes = {
        "light": tone < _LIGHT_BELOW,
        "middle": (tone >= _LIGHT_BELOW) & (tone <= _DARK_ABOVE),
        "dark": tone > _DARK_ABOVE,
    }
    by_tone = tuple(
        _shift(name, density_1, change, clean & which, paper, seen.sum())
        for name, which in classes.items()
        if (clean & which).sum() > max(_LEAST_SHARE * clean.sum(), 400)
    )
    # Colour is seen over areas: the map is averaged over two by two places.
    area = (columns // 2, rows // 2)
    both = [
        cv2.resize(d[: area[1] * 2, : area[0] * 2], area, interpolation=cv2.INTER_AREA) for d in (density_1, density_2)
    ]
    at = seen[: area[1] * 2, : area[0] * 2].reshape(area[1], 2, area[0], 2).all(axis=(1, 3))
    difference = np.full(at.shape, np.nan, np.float32)
    difference[at] = delta_e_2000(*(_lab(density[at]) for density in both))
    values = difference[at]
    edges = (0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 12.0)
    counted = np.histogram(values, bins=[0.0, *edges, np.inf])[0] / values.size
    crossover, crossover_error = _crossover(by_tone)
    likeness, words = _verdict(overall, crossover, crossover_error, len(defects))
    flags = [*registration.flags, *curves[0].flags, *curves[1].flags]
    if profile is None or Flag.OTHER_DYES in profile.flags:
        flags.append(Flag.OTHER_DYES)
    return Comparison(
        registration=registration,
        overall=overall,
        by_tone=by_tone,
        crossover=crossover,
        crossover_error=crossover_error,
        delta_e_map=difference,
        block=2 * block,
        delta_e_median=float(np.median(values)),
        delta_e_95=float(np.quantile(values, 0.95)),
        histogram=tuple((float(e), float(s)) for e, s in zip([*edges, np.inf], counted, strict=True)),
        defects=defects,
        paper=paper.name if paper else "",
        gradient_doubt=paper.doubt if paper else GRADIENT_DOUBT,
        likeness=likeness,
        words=words,
        flags=tuple(dict.fromkeys(flags)),
    )


def _density(light: Picture, curves: ScannerCurves, profile: ScannerProfile | None) -> Picture:
    """Densities of a picture by tables over log light, since curves are smooth."""
    out = np.empty(light.shape, np.float32)
    table = np.linspace(-4.5, 0.3, 1500)
    log_light = cv2.log(np.maximum(light, np.float32(1e-5))) / np.float32(np.log(10))
    for channel, curve in enumerate(curves.curves):
        out[..., channel] = np.interp(log_light[..., channel], table, curve.density(10.0**table))
    if profile is not None and profile.to_status_a is not None:
        out = profile.status_a(out).astype(np.float32)
    return out


def _lab(density: Picture) -> Floats:
    return generic_paper().lab_from_density(np.clip(density, 0.0, 2.6))


def _local_part(change: Picture) -> Picture:
    """What of a difference is not shared by its surroundings."""
    smooth = cv2.medianBlur(
        np.ascontiguousarray(cv2.resize(change, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA), np.float32), 5
    )
    smooth = cv2.GaussianBlur(smooth, (0, 0), 3.0)
    return np.asarray(change - cv2.resize(smooth, change.shape[1::-1], interpolation=cv2.INTER_LINEAR))


def _steepness(density: Picture) -> Picture:
    """Largest change of density from a place to its neighbours."""
    kernel = np.ones((3, 3), np.uint8)
    return np.asarray(cv2.dilate(density, kernel) - cv2.erode(density, kernel))


def _spread(local: Picture, seen: NDArray[np.bool_]) -> Floats:
    sample = local[seen][::7]
    return np.asarray(1.4826 * np.median(np.abs(sample), axis=0))


def _defects(
    mask: NDArray[np.bool_], local: Picture, density_1: Picture, density_2: Picture, block: int
) -> tuple[Defect, ...]:
    joined = ndimage.binary_closing(mask, iterations=1)
    labels, _ = ndimage.label(joined, structure=np.ones((3, 3)))
    found = []
    for number, place in enumerate(ndimage.find_objects(labels), 1):
        part = labels[place] == number
        pixels = int(part.sum())
        if pixels < _DEFECT_PIXELS:
            continue
        y, x = np.nonzero(part)
        spread = np.linalg.eigvalsh(np.cov(np.stack([x, y]).astype(float)) + np.eye(2) / 12)
        long = float(np.sqrt(spread[1] / spread[0]))
        channel = int(np.argmax(np.abs(local[place][part]).mean(axis=0)))
        # The print whose own tone breaks there is the one with the defect.
        around = tuple(slice(max(s.start - 4, 0), s.stop + 4) for s in place)
        ring = ~ndimage.binary_dilation(labels[around] == number, iterations=1)
        breaks = [
            abs(float(d[place][part][:, channel].mean() - np.median(d[around][ring][:, channel])))
            if ring.any()
            else 0.0
            for d in (density_1, density_2)
        ]
        in_second = breaks[1] >= breaks[0]
        value = float(local[place][part][:, channel].mean())
        kind = DefectKind.STREAK if long > 3.5 and pixels > 8 else DefectKind.DROP if pixels > 60 else DefectKind.SPOT
        rows, columns = place
        box = Box(
            left=columns.start * block, top=rows.start * block, right=columns.stop * block, bottom=rows.stop * block
        )
        found.append(
            (
                pixels * abs(value),
                Defect(kind=kind, box=box, in_second=in_second, change=value if in_second else -value),
            )
        )
    found.sort(key=lambda one: -one[0])
    return tuple(defect for _, defect in found[:50])


def _trimmed(values: Floats) -> Floats:
    """Mean (3,) of the middle nine tenths."""
    low, high = np.quantile(values, [0.05, 0.95], axis=0)
    return np.asarray(np.mean(np.clip(values, low, high), axis=0))


def _shift(
    tones: str, density: Picture, change: Picture, where: NDArray[np.bool_], paper: OwnPaper | None, whole: int
) -> ToneShift:
    values, own = change[where].astype(float), density[where].astype(float)
    base, moved = own.mean(axis=0), _trimmed(values)
    error, colour_error = _tile_errors(values, where)
    # Light and dark ends answer exposure faintly: tones are weighed by how strongly the paper answers there.
    tone = own.mean(axis=1)
    edges = np.quantile(tone, np.linspace(0, 1, _TONE_BINS + 1))
    bin_of = np.clip(np.searchsorted(edges, tone, side="right") - 1, 0, _TONE_BINS - 1)
    normal, pull = np.zeros((3, 3)), np.zeros(3)
    for number in range(_TONE_BINS):
        inside = bin_of == number
        if inside.sum() < 50:
            continue
        middle = _trimmed(values[inside])
        slope = _slope(own[inside].mean(axis=0) + middle / 2, paper)
        weight = inside.sum() / len(tone)
        normal += weight * slope.T @ slope
        pull += weight * slope.T @ middle
    log_exposure = np.linalg.solve(normal, pull)
    common = float(log_exposure.mean())
    stops = common / LOG10_PER_STOP
    doubt = paper.doubt if paper else GRADIENT_DOUBT
    answer = np.linalg.cholesky(normal)
    inverse = np.asarray(np.linalg.norm(np.linalg.inv(answer), axis=1), dtype=float)
    by_gradient = doubt * np.hypot(log_exposure - common, UNLIKE_LAYERS * common)
    colour_doubt = np.hypot(colour_error * inverse, by_gradient)
    cast = 100 * (log_exposure - common)
    lab = generic_paper().lab_from_density(np.clip([base, base + moved], 0.0, 2.6))
    return ToneShift(
        tones=tones,
        share=float(where.sum() / whole),
        density=vector(base),
        change=vector(moved),
        change_error=vector(error),
        log_exposure=vector(log_exposure),
        log_exposure_error=vector(colour_doubt),
        stops=stops,
        stops_error=float(np.hypot(np.mean(error * inverse) / LOG10_PER_STOP, doubt * stops)),
        cyan=float(cast[0]),
        magenta=float(cast[1]),
        yellow=float(cast[2]),
        delta_e=float(delta_e_2000(lab[0], lab[1])),
    )


def _tile_errors(values: Floats, where: NDArray[np.bool_]) -> tuple[Floats, Floats]:
    """Standard errors (3,) of the mean change, and of its part that differs between channels.

    Means of large tiles tell how sure the mean is: what is left of uneven light is alike over a tile.
    """
    rows, columns = np.nonzero(where)
    tile = (rows * 6 // where.shape[0]) * 6 + columns * 6 // where.shape[1]
    count = np.bincount(tile, minlength=36)
    good = count > 0.2 * count.max()
    means = np.stack([np.bincount(tile, values[:, k], 36) for k in range(3)], axis=1)[good] / count[good][:, None]
    if len(means) < 3:
        return np.full(3, 2 * COMMON_ERROR), np.full(3, 2 * COLOUR_ERROR)
    colour = means - means.mean(axis=1, keepdims=True)
    own, colour_own = (part.std(axis=0, ddof=1) / np.sqrt(len(means)) for part in (means, colour))
    return np.hypot(own, COMMON_ERROR), np.hypot(colour_own, COLOUR_ERROR)


def _slope(density: Floats, paper: OwnPaper | None) -> Floats:
    """d density / d layer log exposure (3, 3) of the paper at a density (3,)."""
    if paper is not None:
        return paper.curves.log_exposure_at(density)[1]
    dyes, curves = generic_paper(), generic_curves()
    amounts = np.clip(dyes.dyes_from_density(np.clip(density, 0.12, 2.3)), 0.03, [0.97 * c.maximum for c in curves])
    step = 0.01
    rise = []
    for curve, amount in zip(curves, amounts, strict=True):
        at = float(curve.log_exposure(amount))
        rise.append((float(curve.value(at + step)) - float(curve.value(at - step))) / (2 * step))
    return np.asarray(dyes.density_jacobian_of_dyes(amounts) * np.array(rise))


def _crossover(by_tone: tuple[ToneShift, ...]) -> tuple[float | None, float | None]:
    known = {shift.tones: shift for shift in by_tone}
    if "light" not in known or "dark" not in known:
        return None, None
    light, dark = known["light"], known["dark"]
    apart = np.array([dark.cyan - light.cyan, dark.magenta - light.magenta, dark.yellow - light.yellow])
    return float(np.abs(apart).max()), float(np.hypot(light.cc_error, dark.cc_error))


def equal_prints_probability(shift: ToneShift) -> float:
    """How often two scans of equal prints would be at least this far apart [1]."""
    cast = np.array([shift.cyan, shift.magenta]) / (100 * np.array(shift.log_exposure_error[:2]))
    # Three casts that sum to 0 have two degrees of freedom; their covariance is 2/3, -1/3 of each layer's.
    value = (shift.stops / shift.stops_error) ** 2 + float(cast @ np.linalg.solve([[1.0, -0.5], [-0.5, 1.0]], cast))
    return float(chdtrc(3, value))


def _verdict(
    overall: ToneShift,
    crossover: float | None,
    crossover_error: float | None,
    defects: int,
) -> tuple[Likeness, str]:
    time = abs(overall.stops) * LOG10_PER_STOP * 100
    size, doubt = (
        max(overall.largest_cc, 0.5 * time),
        max(overall.cc_error, 1.0 * overall.stops_error * LOG10_PER_STOP * 100),
    )
    if equal_prints_probability(overall) > 0.05:
        likeness, words = Likeness.SAME, "The same, as far as these scans can tell"
    elif size + 2 * doubt <= FILTER_STEP:
        likeness, words = Likeness.ONE_STEP, f"The same within one filter step of {Figure(FILTER_STEP):g} CC"
    elif size - 2 * doubt > SEEN_APART:
        likeness, words = Likeness.APART, "Different enough to be seen with the prints apart"
    elif size - 2 * doubt > 0.5 * FILTER_STEP or size > FILTER_STEP:
        likeness, words = Likeness.SIDE_BY_SIDE, "Visible side by side, not apart"
    else:
        likeness, words = Likeness.UNSURE, "Too little difference to be sure of from these scans"
    tail = f": {shift_words(overall)}."
    if crossover is not None and crossover_error is not None and crossover > max(2.0, 3 * crossover_error):
        tail += f" Light and dark tones differ by {Figure(crossover):.1f} CC in colour, which no filter mends."
    if defects:
        tail += (
            f" {defects} small place{'s' if defects > 1 else ''} differ{'' if defects > 1 else 's'} apart from colour."
        )
    return likeness, words + tail


def shift_words(shift: ToneShift) -> str:
    """What a shift is, in a printer's words, with its error."""
    parts = []
    if abs(shift.stops) >= 0.005:
        parts.append(f"the second is {Figure(abs(shift.stops)):.2f} stop {'darker' if shift.stops > 0 else 'lighter'}")
    casts = {"cyan": shift.cyan, "magenta": shift.magenta, "yellow": shift.yellow}
    name, value = max(casts.items(), key=lambda one: abs(one[1]))
    opposite = {"cyan": "red", "magenta": "green", "yellow": "blue"}
    if abs(value) >= 0.3:
        parts.append(f"{Figure(abs(value)):.1f} CC too {name if value > 0 else opposite[name]}")
    if not parts:
        parts.append("no shift")
    return " and ".join(parts) + f" (± {Figure(shift.stops_error):.2f} stop, ± {Figure(shift.cc_error):.1f} CC)"
