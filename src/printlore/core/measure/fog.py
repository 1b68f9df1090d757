"""Fog on an unexposed, processed sheet: where, of what colour, how far in, and what probably did it.

The sheet's density is taken apart into its base, a smooth neutral field (the scanner's uneven light) and fog that
falls off from edges or corners, each layer by itself. Axes: x right, y down. What is visible and how likely a cause is
are assumed, from memory.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from printlore.core.figure import Figure
from printlore.core.flags import DOUBTFUL, Flag
from printlore.core.measure.leak import LeakLight, light_of, toe, toe_inverse
from printlore.core.measure.scan import Box, Floats, Scan
from printlore.core.measure.scanner import ScannerCurves
from printlore.core.paper.facts import vector
from printlore.errors import ValueOutOfRange

BLOCK_MM = 4.0
"""Side of a block [mm]."""
RIM_MM = 1.5
"""[mm] Left out all round: the sheet lies a little crooked, and its edge throws a shadow."""
_EDGE_SIDE = 1000
"""[px] Longer side of the reduced scan in which the edges of a sheet are followed."""
_OF_THE_GROUND = 0.035
"""[log10 light] Pixels that differ less from the rim of the scan are the ground, not the sheet."""
_TURNED_LEAST, _TURNED_MOST = math.radians(0.15), math.radians(6.0)
"""Less lies within the rim that is left out; a sheet that seems turned by more was not followed along its edges."""
_MOST_OF_A_BLOCK = 24
"""[px] Side of a block that is looked up pixel by pixel."""
VISIBLE = 0.02
"""[density] Fog below this is not seen against white (from memory)."""
FOUND = 0.02
"""[density] Fog below this is not told from the scanner's own unevenness (from simulated scans)."""
_UNEVEN = 0.006
"""[density] Expected size of each term of the scanner's smooth field (from memory)."""
_MOST_PLACES = 2
_REACHES = tuple(float(reach) for reach in np.geomspace(0.015, 1.0, 13))
_TOGETHER = 10.0
"""Blocks of a smooth field err together: the sheet counts as if it had fewer blocks by the square of this."""
_BENDS = (-3.0, 0.0, 1.5)
"""Log exposure at the edge past the toe's corner: weak fog falls off as an exponential, strong fog straighter."""

PLACES = ("left", "right", "top", "bottom", "top left", "top right", "bottom left", "bottom right")


_HUES = {
    (True, False, False): "cyan",
    (False, True, False): "magenta",
    (False, False, True): "yellow",
    (True, True, False): "blue",
    (True, False, True): "green",
    (False, True, True): "red",
    (True, True, True): "grey",
}
_SHARE_SEEN = 0.6


class Verdict(StrEnum):
    """What the sheet's box may still be used for."""

    SOUND = "sound"
    TRIM = "trim"
    TESTS_ONLY = "tests only"
    REJECT = "reject"


@dataclass(frozen=True, slots=True, kw_only=True)
class FogAt:
    """Fog from one edge or corner.

    Attributes
    ----------
    where : str
        One of ``PLACES``, as the sheet lay on the scanner.
    peak : (3,) floats
        Density over base at the edge through red, green and blue [1].
    standard_error : float
        Of the strongest of them [1].
    light, or_light : LeakLight
        Likeliest to have leaked, and the next if it cannot be ruled out (``None``: no other).
    depth : float
        How far in the fog can be seen [mm].
    """

    where: str
    peak: tuple[float, float, float]
    standard_error: float
    light: LeakLight
    or_light: LeakLight | None
    depth: float

    @property
    def colour(self) -> str:
        """Colour of the fog, as seen."""
        strongest = max(self.peak)
        red, green, blue = (value >= _SHARE_SEEN * strongest for value in self.peak)
        return _HUES[red, green, blue]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FogReading:
    """What an unexposed, processed sheet tells.

    Attributes
    ----------
    base : (3,) floats
        Density of the sheet where no fog reaches: its D-min [1].
    over_known : (3,) floats or None
        Base over the paper's known D-min [1]: fog all over (age, heat, chemistry).
    over_base : (rows, columns, 3) array
        Density over base, the scanner's smooth field taken out [1], in blocks of ``BLOCK_MM``.
    fog : tuple of FogAt
        Strongest first.
    verdict : Verdict
    trim : Mapping of place to mm
        To be cut off each fogged edge, if that is the verdict.
    flags : tuple of Flag
    """

    base: tuple[float, float, float]
    over_known: tuple[float, float, float] | None
    over_base: Floats
    fog: tuple[FogAt, ...]
    verdict: Verdict
    trim: Mapping[str, float]
    flags: tuple[Flag, ...] = ()

    @property
    def words(self) -> str:
        """The verdict as a sentence, and what may have made it look fogged."""
        said, doubt = self._verdict_words(), Flag.SHEET_NOT_FOUND
        if self.verdict is Verdict.SOUND or doubt not in self.flags:
            return said
        return f"{said}{DOUBTFUL}{doubt.words}."

    def _verdict_words(self) -> str:
        if self.verdict is Verdict.SOUND:
            return "Sound: no fog that can be seen."
        if not self.fog:
            return f"The whole sheet is darker than its paper should be: {self.verdict.value}."
        worst = self.fog[0]
        if self.verdict is Verdict.TRIM:
            cuts = " and ".join(f"{mm:.0f} mm off the {edge}" for edge, mm in self.trim.items())
            return f"{worst.colour.capitalize()} fog from the {worst.where}: trim {cuts}."
        ending = {Verdict.TESTS_ONLY: "good for test strips only", Verdict.REJECT: "reject it"}[self.verdict]
        return f"{worst.colour.capitalize()} fog from the {worst.where}, {worst.depth:.0f} mm deep: {ending}."


def laid_straight(scan: Scan, box: Box) -> tuple[Box, float]:
    """The box that a sheet would fill if it were turned straight about its middle, and how far it lies turned [rad].

    Clockwise is above 0. Each edge is followed along the middle of the sheet's side, from the inside to where the
    ground of the scan begins; a sheet that reaches the rim of the scan is taken as it is.

    Parameters
    ----------
    box : Box
        About the sheet, which stands out from what lies round it.
    """
    picture, block = scan.log_reduced(_EDGE_SIDE)
    rim = np.concatenate([picture[0], picture[-1], picture[:, 0], picture[:, -1]])
    sheet = np.abs(picture - np.median(rim, axis=0)).max(axis=2) > _OF_THE_GROUND
    sheet = ndimage.binary_closing(np.pad(sheet, 3), iterations=3)[3:-3, 3:-3]
    left, top, right, bottom = (side / block for side in (box.left, box.top, box.right, box.bottom))
    x, y = (left + right) / 2, (top + bottom) / 2
    lines = []
    for view, (low, high), (middle, along) in (
        (sheet, (top, bottom), (x, y)),
        (sheet.T, (left, right), (y, x)),
    ):
        inset = 0.15 * (high - low)
        at = np.arange(round(low + inset), round(high - inset))
        if len(at) < 8:
            return box, 0.0
        before, after = ~view[at, : round(middle)][:, ::-1], ~view[at, round(middle) :]
        if not (before.any(axis=1).all() and after.any(axis=1).all()):
            return box, 0.0
        for edge in (round(middle) - before.argmax(axis=1), round(middle) + after.argmax(axis=1)):
            half = len(at) // 2
            slope = float(np.median(edge[half:] - edge[: len(edge) - half])) / half
            lines.append((slope, float(np.median(edge - slope * (at + 0.5 - along)))))
    (left_slope, left), (right_slope, right), (top_slope, top), (bottom_slope, bottom) = lines
    wide, tall = right - left, bottom - top
    turned = math.atan((wide * (top_slope + bottom_slope) - tall * (left_slope + right_slope)) / (2 * (wide + tall)))
    if abs(turned) < _TURNED_LEAST or abs(turned) > _TURNED_MOST:
        return box, 0.0
    middle_x, middle_y = (left + right) / 2, (top + bottom) / 2
    wide, tall = wide * math.cos(turned), tall * math.cos(turned)
    sides = (middle_x - wide / 2, middle_y - tall / 2, middle_x + wide / 2, middle_y + tall / 2)
    return scan.box_within(np.rint(np.array(sides) * block).astype(int)), turned


def sheet_blocks(
    scan: Scan, box: Box, curves: ScannerCurves | None, *, millimetres_per_pixel: float, turned: float = 0.0
) -> Floats:
    """Densities (rows, columns, 3) of a sheet in blocks, each the median of its pixels so that dust does not count.

    Parameters
    ----------
    box : Box
        About the sheet; if it lies turned, as ``laid_straight`` gives it.
    turned : float
        Clockwise about the middle of the box [rad].
    curves : ScannerCurves or None
        From a wedge in the scan; ``None``: plain -log10 of light, which is off by the scanner's tone curve.

    Raises
    ------
    ValueOutOfRange
        If the sheet is smaller than four blocks either way, or the scale is not above 0.
    """
    if not (math.isfinite(millimetres_per_pixel) and millimetres_per_pixel > 0):
        raise ValueOutOfRange(
            f"The scale is {Figure(millimetres_per_pixel):g} mm a pixel; it must be above 0. Enter the sheet's size."
        )
    side = max(1, round(BLOCK_MM / millimetres_per_pixel))
    rim = round(RIM_MM / millimetres_per_pixel)
    rows, columns = (box.height - 2 * rim) // side, (box.width - 2 * rim) // side
    if min(rows, columns) < 4:
        raise ValueOutOfRange(
            f"The sheet in the scan is {box.width} by {box.height} pixels: too few to map fog. Scan it larger."
        )
    left, top = box.left + (box.width - columns * side) // 2, box.top + (box.height - rows * side) // 2
    if turned:
        # as many pixels of a block as its median needs, each looked up where it lies
        side, step = min(side, _MOST_OF_A_BLOCK), side / min(side, _MOST_OF_A_BLOCK)
        down, across = ((np.arange(count * side) + 0.5 - count * side / 2) * step for count in (rows, columns))
        x, y = across[None, :], down[:, None]
        at_x = (box.left + box.right) / 2 + x * math.cos(turned) - y * math.sin(turned)
        at_y = (box.top + box.bottom) / 2 + x * math.sin(turned) + y * math.cos(turned)
        last_x, last_y = scan.size[0] - 1, scan.size[1] - 1
        light = scan.light_of(scan.pixels[np.clip(at_y.astype(int), 0, last_y), np.clip(at_x.astype(int), 0, last_x)])
    else:
        light = scan.light(Box(left=left, top=top, right=left + columns * side, bottom=top + rows * side))
    blocks = light.reshape(rows, side, columns, side, 3).transpose(0, 2, 1, 3, 4).reshape(rows, columns, -1, 3)
    middle = np.median(blocks, axis=2).astype(float)
    if curves is not None:
        return curves.density(middle)
    return np.asarray(-np.log10(np.maximum(middle, 1e-4)))


def read_fog(
    blocks: Floats,
    *,
    known_base: Sequence[float] | None = None,
    size: tuple[float, float] | None = None,
    flags: tuple[Flag, ...] = (),
) -> FogReading:
    """Find fog in a map of densities.

    Parameters
    ----------
    blocks : (rows, columns, 3) array of float
        Density [1] of each block of ``BLOCK_MM`` of the sheet.
    known_base : (3,) sequence of float, optional
        D-min that sound paper of the lot has had [1].
    size : (width, height), optional
        Of the sheet [mm], whose middle the blocks fill; ``None``: the usual rim is added to them.
    flags : tuple of Flag
        Doubts about the densities, handed on.

    Raises
    ------
    ValueOutOfRange
        If the map is not (rows, columns, 3), is smaller than 4 by 4, or holds a number that is not finite.
    """
    blocks = np.asarray(blocks, dtype=float)
    if blocks.ndim != 3 or blocks.shape[2] != 3 or min(blocks.shape[:2]) < 4:
        raise ValueOutOfRange(
            f"The map of densities is {blocks.shape}; it must be rows by columns by 3, at least 4 by 4."
        )
    if not np.isfinite(blocks).all():
        raise ValueOutOfRange("The map of densities holds a value that is no number. Scan the sheet again.")
    rows, columns = blocks.shape[:2]
    size = size or (columns * BLOCK_MM + 2 * RIM_MM, rows * BLOCK_MM + 2 * RIM_MM)
    rim = (max((size[0] / BLOCK_MM - columns) / 2, 0.0), max((size[1] / BLOCK_MM - rows) / 2, 0.0))
    separation = _Separation(blocks, rim)
    places = separation.search()
    found = tuple(sorted((_described(place, blocks.shape[:2]) for place in places), key=lambda f: -max(f.peak)))
    red, green, blue = base = vector(separation.base)
    over = None
    if known_base is not None:
        over = (red - known_base[0], green - known_base[1], blue - known_base[2])
    verdict, trim = _verdict(found, over, size)
    return FogReading(
        base=base,
        over_known=over,
        over_base=separation.over_base(),
        fog=found,
        verdict=verdict,
        trim=trim,
        flags=flags,
    )


@dataclass(frozen=True, slots=True)
class _Place:
    where: str
    reach: float
    """[share of the diagonal] over which weak fog falls to a tenth"""
    bend: float
    amounts: Floats
    """(3,) density at the edge, none below 0"""
    error: float
    light: LeakLight
    or_light: LeakLight | None


class _Separation:
    """Least squares for base, smooth neutral field and fog from a few places.

    Everything that is tried is made of one library of columns (a constant, the field's terms, each place with each
    reach and bend), whose products are formed once.
    """

    def __init__(self, blocks: Floats, rim: tuple[float, float]) -> None:
        """``rim`` [blocks]: how far the blocks begin inside the sheet's edge, across and down."""
        self.rows, self.columns = blocks.shape[:2]
        y, x = (axis.ravel() for axis in np.mgrid[0 : self.rows, 0 : self.columns] + 0.5)
        data = _without_specks(blocks).reshape(-1, 3)
        self.middle: Floats = np.median(data, axis=0)
        self.data = data - self.middle
        field = _field_terms(2 * x / self.columns - 1, 2 * y / self.rows - 1)
        self.terms = field.shape[1]
        across, down = rim
        away = {
            "left": x + across,
            "right": self.columns - x + across,
            "top": y + down,
            "bottom": self.rows - y + down,
        }
        diagonal = math.hypot(self.rows, self.columns)
        self.tried = [(where, reach, bend) for where in PLACES for reach in _REACHES for bend in _BENDS]
        away_in = {where: np.sqrt(sum(away[word] ** 2 for word in where.split())) / diagonal for where in PLACES}
        self.falls = np.stack(
            [toe(bend - math.log(10) * away_in[where] / reach) / toe(bend) for where, reach, bend in self.tried], axis=1
        )
        library = np.column_stack([np.ones(len(x)), field, self.falls])
        self.field = field
        self.products, self.against = library.T @ library, library.T @ self.data
        self.noise = self._noise()
        self.base: Floats = self.middle
        self.smooth: Floats = np.zeros(len(x))

    def search(self) -> list[_Place]:
        """Places that explain much more than the sheet's roughness, in more than one block, and could be seen."""
        chosen: list[int] = []
        open_places = list(PLACES)
        enough = 30 * self.noise**2
        misfit, _, _ = self._fit(chosen)
        while len(chosen) < _MOST_PLACES and open_places:
            left = self._left(chosen)
            where = self.tried[self._best(chosen, open_places, _BENDS[:1])][0]
            best = self._best(chosen, [where], _BENDS)
            least, amounts, error = self._fit([*chosen, best])
            if amounts[-1].max() < max(FOUND, 4 * error[-1]) or misfit - least < enough:
                break
            open_places.remove(where)
            gain = left - self._left([*chosen, best])
            if gain.sum() - gain.max() < enough:
                continue  # one block only: a speck, not fog
            chosen.append(best)
            misfit = least
        return self._places(chosen)

    def _best(self, chosen: Sequence[int], places: Sequence[str], bends: Sequence[float]) -> int:
        """Which fall, added, leaves least misfit."""
        rest = [i for i, (where, _, bend) in enumerate(self.tried) if where in places and bend in bends]
        return min(rest, key=lambda i: self._fit([*chosen, i])[0])

    def _noise(self) -> float:
        """Roughness from block to block, which no smooth field makes."""
        steps = np.diff(self.data.reshape(self.rows, self.columns, 3), n=2, axis=1).ravel()
        return max(1.4826 * float(np.median(np.abs(steps))) / math.sqrt(6), 2e-4)

    def _fit(self, chosen: Sequence[int]) -> tuple[float, Floats, Floats]:
        """Misfit, amounts (n, 3), none below 0, and largest error (n,) of each; base and field are set by the way."""
        hit = np.ones((len(chosen), 3), dtype=bool)
        while True:
            solution, misfit, covariance = self._solve(chosen, hit)
            amounts, errors = np.zeros(hit.shape), np.zeros(hit.shape)
            amounts[hit] = solution[3 + self.terms :]
            if not (amounts < 0).any():
                break
            hit &= amounts >= 0
        errors[hit] = np.sqrt(np.diag(covariance)[3 + self.terms :])
        self.base = self.middle + solution[:3]
        self.smooth = self.field @ solution[3 : 3 + self.terms]
        return misfit, amounts, errors.max(axis=1, initial=0.0)

    def _places(self, chosen: Sequence[int]) -> list[_Place]:
        _, amounts, errors = self._fit(chosen)
        # Here the field is as free as its expected size: what it leaves open is common to the three densities.
        _, _, covariance = self._solve(chosen, np.ones(amounts.shape, dtype=bool), together=1.0)
        places = []
        for n, i in enumerate(chosen):
            if amounts[n].max() >= FOUND:
                mine = slice(3 + self.terms + 3 * n, 6 + self.terms + 3 * n)
                light, or_light = light_of(amounts[n], covariance[mine, mine])
                places.append(_Place(*self.tried[i], amounts[n], float(errors[n]), light, or_light))
        return places

    def _left(self, chosen: Sequence[int]) -> Floats:
        """(blocks,) squares of what a fit leaves over, summed over the three densities."""
        _, amounts, _ = self._fit(chosen)
        left = self.data + self.middle - self.base - self.smooth[:, None] - self.falls[:, chosen] @ amounts
        return np.asarray((left**2).sum(axis=1))

    def _solve(
        self, chosen: Sequence[int], hit: NDArray[np.bool_], together: float = _TOGETHER
    ) -> tuple[Floats, float, Floats]:
        """Unknowns (3 bases, the field's terms, then the amounts that are hit), misfit, the unknowns' covariance."""
        unknowns = 3 + self.terms + int(hit.sum())
        normal, right = np.zeros((unknowns, unknowns)), np.zeros(unknowns)
        place_of = np.zeros(hit.shape, dtype=int)
        place_of[hit] = np.arange(3 + self.terms, unknowns)
        common = list(range(3, 3 + self.terms))
        for k in range(3):
            mine = [n for n in range(len(chosen)) if hit[n, k]]
            here = [k, *common, *(int(place_of[n, k]) for n in mine)]
            there = [*range(1 + self.terms), *(1 + self.terms + chosen[n] for n in mine)]
            normal[np.ix_(here, here)] += self.products[np.ix_(there, there)]
            right[here] += self.against[there, k]
        # The scanner's field is small; its expected size holds it back.
        normal[common, common] += (together * self.noise / _UNEVEN) ** 2
        normal[range(unknowns), range(unknowns)] += 1e-9
        inverse = np.linalg.inv(normal)
        solution = inverse @ right
        misfit = max(float((self.data**2).sum() - right @ solution), 0.0)
        return solution, misfit, inverse * (misfit / max(self.data.size - unknowns, 1))

    def over_base(self) -> Floats:
        """(rows, columns, 3) density over base with the smooth field taken out."""
        bare = self.data + self.middle - self.base - self.smooth[:, None]
        return np.asarray(bare.reshape(self.rows, self.columns, 3))


def _field_terms(x: Floats, y: Floats) -> Floats:
    """(places, 9) smooth terms up to the third degree over x and y from -1 to 1, the constant left out."""
    across, down = np.polynomial.legendre.legvander(x, 3), np.polynomial.legendre.legvander(y, 3)
    pairs = [(i, j) for i in range(4) for j in range(4 - i) if i + j]
    return np.stack([across[:, i] * down[:, j] for i, j in pairs], axis=1)


def _without_specks(blocks: Floats) -> Floats:
    """Single blocks far beyond neighbours that agree among themselves take the neighbours' median: dust."""
    rows, columns = blocks.shape[:2]
    padded = np.pad(blocks, ((1, 1), (1, 1), (0, 0)), constant_values=np.nan)
    around = np.stack([padded[y : y + rows, x : x + columns] for y in range(3) for x in range(3) if (y, x) != (1, 1)])
    low, high = np.nanmin(around, axis=0), np.nanmax(around, axis=0)
    margin = 3 * (high - low) + 0.003
    speck = ((blocks > high + margin) | (blocks < low - margin)).any(axis=2)
    return np.where(speck[..., None], np.nanmedian(around, axis=0), blocks)


def _described(place: _Place, shape: tuple[int, ...]) -> FogAt:
    strongest = float(place.amounts.max())
    # Where the strongest density has fallen to what is just seen.
    seen = min(VISIBLE / strongest, 1.0) * float(toe(place.bend))
    steps = (place.bend - toe_inverse(seen)) / math.log(10)
    return FogAt(
        where=place.where,
        peak=vector(place.amounts),
        standard_error=place.error,
        light=place.light,
        or_light=place.or_light,
        depth=max(RIM_MM, steps * place.reach * math.hypot(*shape[:2]) * BLOCK_MM),
    )


_TRIM_STEP = 5.0
_MOST_TRIM = 0.25
"""Share of a side that is worth trimming off."""
_TESTS = 0.10
"""[density] Test strips bear no more fog than this (from memory)."""


def _verdict(
    fog: Sequence[FogAt], over: tuple[float, float, float] | None, size: tuple[float, float]
) -> tuple[Verdict, dict[str, float]]:
    whole = max(over) if over is not None else 0.0
    if whole >= _TESTS:
        return Verdict.REJECT, {}
    if not fog:
        return (Verdict.TESTS_ONLY if whole >= VISIBLE + 0.01 else Verdict.SOUND), {}
    trim: dict[str, float] = {}
    for at in fog:
        edges = at.where.split()
        # A corner is trimmed off the side that costs less.
        edge = min(edges, key=lambda e: at.depth / _side(e, size))
        trim[edge] = max(trim.get(edge, 0.0), math.ceil(at.depth / _TRIM_STEP) * _TRIM_STEP)
    if whole < VISIBLE + 0.01 and all(mm <= _MOST_TRIM * _side(edge, size) for edge, mm in trim.items()):
        return Verdict.TRIM, trim
    return (Verdict.TESTS_ONLY if max(max(at.peak) for at in fog) < _TESTS else Verdict.REJECT), {}


def _side(edge: str, size: tuple[float, float]) -> float:
    return size[0] if edge in ("left", "right") else size[1]


class Cause(StrEnum):
    """What fogs a sheet, in the words of the trade."""

    CONTAINER = "the bag or box it was kept in"
    ROOM = "a light in the darkroom: standby lamp, display, watch, phone"
    EASEL = "stray light round the enlarger or easel"
    DRUM = "the drum or its lid"
    CUTTING = "light while the roll was unpacked or cut"
    AGE = "age, heat or damp"
    CHEMISTRY = "the developer: too long, too hot, or contaminated"


class CoinTest(StrEnum):
    """What a coin test showed: an unexposed sheet left in the dark where paper lies, coins on it, then processed."""

    OUTLINES = "outlines of the coins"
    EVEN = "no outlines"


COIN_TEST = (
    "In the dark, lay an unexposed sheet emulsion up where your paper lies, put coins on it, wait five minutes, "
    "process it. Outlines of the coins: a light in the room reaches that place. None: the fog came before or after."
)

_PRIOR: Mapping[Cause, float] = {
    Cause.CONTAINER: 0.30,
    Cause.ROOM: 0.20,
    Cause.EASEL: 0.12,
    Cause.DRUM: 0.13,
    Cause.CUTTING: 0.10,
    Cause.AGE: 0.08,
    Cause.CHEMISTRY: 0.07,
}
"""Share of each cause among fogged sheets (from memory)."""

_SEEN: Mapping[Cause, Mapping[str, float]] = {
    Cause.CONTAINER: {"edge": 0.6, "corner": 0.35, "whole": 0.05, "coloured": 0.15, "outlines": 0.05},
    Cause.ROOM: {"edge": 0.3, "corner": 0.1, "whole": 0.6, "coloured": 0.85, "outlines": 0.9},
    Cause.EASEL: {"edge": 0.6, "corner": 0.2, "whole": 0.2, "coloured": 0.2, "outlines": 0.3},
    Cause.DRUM: {"edge": 0.75, "corner": 0.2, "whole": 0.05, "coloured": 0.05, "outlines": 0.05},
    Cause.CUTTING: {"edge": 0.45, "corner": 0.05, "whole": 0.5, "coloured": 0.6, "outlines": 0.3},
    Cause.AGE: {"edge": 0.25, "corner": 0.05, "whole": 0.7, "coloured": 0.3, "outlines": 0.05},
    Cause.CHEMISTRY: {"edge": 0.05, "corner": 0.02, "whole": 0.93, "coloured": 0.4, "outlines": 0.05},
}
"""How likely each sign is under each cause (from memory)."""


def rank_causes(
    reading: FogReading,
    *,
    coin_test: CoinTest | None = None,
) -> list[tuple[Cause, float]]:
    """Causes of fog with their probabilities, the likeliest first; empty if the sheet is sound.

    Parameters
    ----------
    coin_test : CoinTest or None
        What it showed, if it was made.
    """
    if reading.verdict is Verdict.SOUND:
        return []
    where = "whole" if not reading.fog else "corner" if " " in reading.fog[0].where else "edge"
    coloured = bool(reading.fog) and reading.fog[0].light is not LeakLight.WHITE
    weights = {}
    for cause, share in _PRIOR.items():
        seen = _SEEN[cause]
        weight = share * seen[where]
        if reading.fog:
            weight *= seen["coloured"] if coloured else 1 - seen["coloured"]
        if coin_test is not None:
            weight *= seen["outlines"] if coin_test is CoinTest.OUTLINES else 1 - seen["outlines"]
        weights[cause] = weight
    total = sum(weights.values())
    return sorted(((cause, weight / total) for cause, weight in weights.items()), key=lambda pair: -pair[1])
