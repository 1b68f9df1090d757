"""What a flatbed or camera would give of the room's paper and negatives, with the truth beside it.

All scans are (rows, columns, 3) uint16 arrays: y down, x right, channels red, green, blue. The scanner has channels of
its own, so the picture's density through them is not status A: for each patch both are told. The wedge is silver grey,
not dye: a reader that trusts it for a print's dyes errs by the difference ("metameric"), which ``Patch`` tells.

    scanner = Scanner(room)
    scan = scanner.strip(room.expose_strip(frame, settings_around(room.usual, (-0.2, 0.0, 0.2))))
    save_tiff(path, scan); scan.patches[0].box; scan.patches[0].density
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
import tifffile
from numpy.typing import NDArray
from scipy.ndimage import affine_transform, gaussian_filter, map_coordinates

from printroom.chance import generator
from printroom.room import Conditions, Outcome, Room
from printroom.scenes import Box, Scene, flat
from printroom.spectra import WAVELENGTHS, Floats, bell, density_and_lab

NEGATIVE_GAMMA = 0.58
"""Printing density of the negative per log10 of scene exposure."""

WEDGE_DENSITIES = tuple(round(0.05 + 0.15 * step, 2) for step in range(16))
"""Steps of the default wedge, 0.05 to 2.30 [visual density]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Faults:
    """What is wrong with a scan.

    Attributes
    ----------
    uneven : float
        Light over the bed, from brightest to darkest [1].
    flare : float
        Share of the picture's mean light that spreads over all of it [1].
    noise : float
        Sd of one pixel at white [of full scale]; less in the darks, with a floor of a fifth.
    dust, scratches : int
        Specks and hairlines.
    blur : float
        Sd of the lens's spread [pixel].
    rotation : float
        Paper turned clockwise on the bed [degree].
    tone : str
        "linear", "gamma" (2.2), or "curve": a bend that the reader is not told.
    rings : float
        Contrast of the rings that a print makes where it nearly touches the glass [1]; see ``_rings``.
    white : float
        Full scale that a perfect white reaches before the tone curve; above 1 clips the lights [1].
    """

    uneven: float = 0.03
    flare: float = 0.006
    noise: float = 0.004
    dust: int = 30
    scratches: int = 2
    blur: float = 0.7
    rotation: float = 0.4
    tone: Literal["linear", "gamma", "curve"] = "gamma"
    rings: float = 0.0
    white: float = 0.92


CLEAN = Faults(uneven=0.0, flare=0.0, noise=0.0, dust=0, scratches=0, blur=0.0, rotation=0.0, tone="linear")
"""A perfect scanner, but for its channels."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Leak:
    """Light that fogged paper before it was processed.

    Attributes
    ----------
    where : str
        left, right, top, bottom, or a corner such as "top left".
    light : str
        white, red, green or blue; the fog has the complementary colour.
    log_exposure : float
        At the edge, of the layers that the light hits; 0 makes white light as dark as the aim [log10].
    reach : float
        Distance over which it falls to a tenth [share of the sheet's diagonal].
    """

    where: str
    light: Literal["white", "red", "green", "blue"] = "white"
    log_exposure: float = 0.0
    reach: float = 0.25


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Patch:
    """A flat part of a scan and what it truly is.

    Attributes
    ----------
    name : str
    corners : (4, 2) array
        (x, y) in pixels: top left, top right, bottom right, bottom left of the paper's patch.
    box : Box
        Upright box inside the corners, a little inside the edges.
    density : (3,) array
        Print or wedge: status A. Negative: against the empty carrier, in the scanner's channels.
    scanner_density : (3,) array
        Through the scanner's channels, without any fault.
    lab : (3,) array
        D50, 2 degrees; of a negative not given (NaN).
    """

    name: str
    corners: Floats
    box: Box
    density: Floats
    scanner_density: Floats
    lab: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scan:
    """Pixels and truth.

    Attributes
    ----------
    pixels : (rows, columns, 3) uint16 array
    patches : tuple of Patch
        Steps of a strip in order, or the flat parts of a picture ("grey card" is the reference).
    wedge : tuple of Patch
        Steps of the wedge, light to dark; empty if none lies there.
    paper : (4, 2) array
        Corners of the paper or film (x, y) [pixel].
    faults : Faults
    """

    pixels: NDArray[np.uint16]
    patches: tuple[Patch, ...]
    wedge: tuple[Patch, ...]
    paper: Floats
    faults: Faults


def scanner_channels(seed: int) -> Floats:
    """(81, 3) weights of a scanner's channels times its light, each summing to 1."""
    shift = generator(seed, "scanner").normal(0.0, 4.0, 3)
    channels = np.stack(
        [
            bell(622 + shift[0], 16, 24),
            bell(533 + shift[1], 18, 17),
            bell(446 + 0.7 * shift[2], 15, 15),
        ],
        axis=1,
    )
    return np.asarray(channels / channels.sum(axis=0))


class _Look:
    """Scanner densities of three dye amounts, tabulated once so that whole pictures are quick."""

    def __init__(self, spectra: Callable[[Floats], Floats], channels: Floats, most: float, nodes: int = 33) -> None:
        axis = np.linspace(0.0, most, nodes)
        grid = np.stack(np.meshgrid(axis, axis, axis, indexing="ij"), axis=-1)
        self._table = -np.log10(np.stack([spectra(plane) @ channels for plane in grid]))
        self._per_node = (nodes - 1) / most

    def __call__(self, dye: Floats) -> Floats:
        at = np.moveaxis(dye * self._per_node, -1, 0)
        return np.stack(
            [map_coordinates(self._table[..., channel], at, order=1, mode="nearest") for channel in range(3)], axis=-1
        )


class _Bed:
    """A scanner's bed on which pieces are laid; in reflectance or transmittance, before any fault."""

    def __init__(self, rows: int, columns: int, ground: float, faults: Faults) -> None:
        self.light = np.full((rows, columns, 3), ground)
        self._faults = faults
        turn = np.radians(faults.rotation)
        self._turn = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
        self._centre = np.array([(columns - 1) / 2, (rows - 1) / 2])

    def lay(self, picture: Floats, left: int, top: int) -> None:
        rows, columns = picture.shape[:2]
        self.light[top : top + rows, left : left + columns] = picture

    def corners(self, box: Box) -> Floats:
        """Where the corners of a box end up once the paper is turned."""
        left, top, right, bottom = box
        flat_corners = np.array([[left, top], [right, top], [right, bottom], [left, bottom]]) - 0.5
        return np.asarray((flat_corners - self._centre) @ self._turn.T + self._centre)

    def patch(self, name: str, box: Box, density: Floats, scanner_density: Floats, lab: Floats) -> Patch:
        corners = self.corners(box)
        x, y = np.sort(corners[:, 0]), np.sort(corners[:, 1])
        inset = 2 + 2 * self._faults.blur
        inner = (int(x[1] + inset) + 1, int(y[1] + inset) + 1, int(x[2] - inset), int(y[2] - inset))
        return Patch(
            name=name, corners=corners, box=inner, density=density, scanner_density=scanner_density, lab=lab
        )  # fmt: skip

    def scan(self, bed_rng: np.random.Generator, rng: np.random.Generator) -> NDArray[np.uint16]:
        """Turn, dust, blur, flare, uneven light, noise, tone, 16 bits: in this order."""
        faults, light = self._faults, self.light
        rows, columns = light.shape[:2]
        if faults.rotation:
            back = self._turn[::-1, ::-1].T
            centre = self._centre[::-1]
            light = np.stack(
                [
                    affine_transform(
                        light[..., channel], back, offset=centre - back @ centre, order=1, mode="nearest"
                    )
                    for channel in range(3)
                ],
                axis=-1,
            )  # fmt: skip
        else:
            light = light.copy()
        _soil(light, faults, rng)
        if faults.blur:
            light = gaussian_filter(light, (faults.blur, faults.blur, 0))
        if faults.flare:
            light = (1 - faults.flare) * light + faults.flare * light.mean(axis=(0, 1))
        light = light * _unevenness(rows, columns, faults.uneven, bed_rng)[..., None]
        if faults.rings:
            light = light * _rings(rows, columns, faults.rings, rng)
        light = light + faults.noise * (0.2 + 0.8 * np.sqrt(np.clip(light, 0, 1))) * rng.standard_normal(light.shape)
        value = _tone(np.clip(light * faults.white, 0.0, 1.0), faults.tone)
        return np.asarray(np.round(65535 * value), dtype=np.uint16)


def _tone(light: Floats, tone: str) -> Floats:
    if tone == "gamma":
        return np.asarray(light ** (1 / 2.2))
    if tone == "curve":
        return np.asarray(0.85 * light ** (1 / 1.9) + 0.15 * light**2 * (3 - 2 * light))
    return light


def _unevenness(rows: int, columns: int, amount: float, rng: np.random.Generator) -> Floats:
    """Smooth field, mean about 1, ``amount`` from its brightest to its darkest."""
    y, x = np.linspace(-1, 1, rows)[:, None], np.linspace(-1, 1, columns)[None, :]
    a, b, c, d, e = rng.uniform(-1, 1, 5)
    field = a * x + b * y - (1 + 0.5 * c) * (x**2 + 0.6 * y**2) + 0.6 * d * x * y + 0.3 * e * np.sin(2.2 * x + 1)
    span = float(field.max() - field.min())
    return np.asarray(1 + amount * (field - field.mean()) / span)


def _rings(rows: int, columns: int, contrast: float, rng: np.random.Generator) -> Floats:
    """Interference in the wedge of air between glass and a slightly bulging print (Newton's rings; from memory).

    Light of wavelength w meets itself after twice the gap: the m-th ring lies where the gap is m w / 2, at a radius
    that grows as the root of m. A channel's width blurs the rings away as the gap grows.
    """
    x, y = rng.uniform(0.2, 0.8) * columns, rng.uniform(0.2, 0.8) * rows
    first = rng.uniform(0.06, 0.15) * rows
    yy, xx = np.mgrid[0:rows, 0:columns]
    gap = 0.5 * 550.0 * ((xx - x) ** 2 + (yy - y) ** 2) / first**2
    out = np.empty((rows, columns, 3))
    for channel, (peak, width) in enumerate(((622.0, 20.0), (533.0, 18.0), (446.0, 15.0))):
        phase = 4 * np.pi * gap / peak
        out[..., channel] = 1 + contrast * np.exp(-0.5 * (phase * width / peak) ** 2) * np.cos(phase)
    return out


def _soil(light: Floats, faults: Faults, rng: np.random.Generator) -> None:
    """Dust, mostly light, and hairline scratches, drawn into ``light``."""
    rows, columns = light.shape[:2]
    for _ in range(faults.dust):
        x, y = rng.uniform(0, columns), rng.uniform(0, rows)
        wide, high = rng.uniform(0.6, 2.6, 2)
        value = rng.uniform(0.5, 0.95) if rng.random() < 0.7 else rng.uniform(0.02, 0.15)
        top, left = max(int(y) - 4, 0), max(int(x) - 4, 0)
        window = light[top : int(y) + 5, left : int(x) + 5]
        yy, xx = np.mgrid[top : top + window.shape[0], left : left + window.shape[1]]
        window[((xx - x) / wide) ** 2 + ((yy - y) / high) ** 2 < 1] = value
    for _ in range(faults.scratches):
        x, y, angle = rng.uniform(0, columns), rng.uniform(0, rows), rng.uniform(0, np.pi)
        along = np.arange(rng.uniform(0.05, 0.25) * max(rows, columns))
        xs = np.round(x + along * np.cos(angle)).astype(int)
        ys = np.round(y + along * np.sin(angle)).astype(int)
        inside = (xs >= 0) & (xs < columns) & (ys >= 0) & (ys < rows)
        light[ys[inside], xs[inside]] = 0.5 * light[ys[inside], xs[inside]] + 0.45


LEAK_LAYERS = {
    "white": (1.0, 0.7, 0.5),
    "red": (1.0, 0.01, 0.002),
    "green": (0.02, 1.0, 0.02),
    "blue": (0.004, 0.02, 1.0),
}
"""Exposure of the (red, green, blue) sensitive layers by a leaking light, relative."""


def _fog(rows: int, columns: int, leaks: Sequence[Leak]) -> Floats:
    """(rows, columns, 3) exposure by leaks; 1 gives the aim."""
    y, x = np.linspace(0, rows, rows)[:, None], np.linspace(0, columns, columns)[None, :]
    fog = np.zeros((rows, columns, 3))
    for leak in leaks:
        sides = {"left": x, "right": columns - x, "top": y, "bottom": rows - y}
        try:
            away = np.hypot(*[sides[word] for word in leak.where.split()]) if " " in leak.where else sides[leak.where]
        except KeyError:
            raise ValueError(f'A leak at "{leak.where}" cannot be; use left, "top left" and the like.') from None
        fall = 10.0 ** -(away / (leak.reach * np.hypot(rows, columns)))
        fog += np.broadcast_to(fall, (rows, columns))[..., None] * (
            10.0**leak.log_exposure * np.array(LEAK_LAYERS[leak.light])
        )
    return fog


_UNEXPOSED = -8.0


class Scanner:
    """A flatbed with a light of its own; or a camera over a light table for negatives.

    Parameters
    ----------
    room : Room
        Whose paper and film are laid on it.
    seed : int
        Of the scanner: its channels and its uneven light.
    """

    def __init__(self, room: Room, seed: int = 0) -> None:
        self.room, self.seed = room, seed
        self.channels = scanner_channels(seed)
        self._paper_look: _Look | None = None

    # parts

    def _through(self, spectra: Floats) -> Floats:
        return np.asarray(-np.log10(spectra @ self.channels))

    def _generators(self, scan: int, *words: object) -> tuple[np.random.Generator, np.random.Generator]:
        return generator(self.seed, "bed"), generator(self.seed, "scan", self.room.seed, scan, *words)

    def _paper_picture(self, dye: Floats) -> Floats:
        if self._paper_look is None:
            most = float(self.room.paper.most_dye.max()) + 0.05
            self._paper_look = _Look(self.room.paper.reflectance, self.channels, most)
        return np.asarray(10.0 ** -self._paper_look(dye))

    def _print_patch(self, bed: _Bed, name: str, box: Box, dye: Floats) -> Patch:
        density, lab = self.room.paper.density_and_lab(dye)
        return bed.patch(name, box, density, self._through(self.room.paper.reflectance(dye)), lab)

    def _lay_wedge(self, bed: _Bed, densities: Sequence[float], box: Box) -> tuple[Patch, ...]:
        left, top, right, bottom = box
        ends = np.round(np.linspace(left, right, len(densities) + 1)).astype(int).tolist()
        steps = []
        for number, (density, start, end) in enumerate(zip(densities, ends, ends[1:], strict=False)):
            reflectance = 10.0 ** -(density * (1 + 0.06 * (560.0 - WAVELENGTHS) / 1000))
            place = (start, top, end, bottom)
            seen = self._through(reflectance)
            bed.lay(np.broadcast_to(10.0**-seen, (bottom - top, end - start, 3)), start, top)
            status_a, lab = density_and_lab(reflectance)
            steps.append(bed.patch(f"wedge {number + 1}", place, status_a, seen, lab))
        return tuple(steps)

    def _lay_print(
        self,
        log_exposure: Floats,
        conditions: Conditions,
        patches: Sequence[tuple[str, Box]],
        *,
        faults: Faults,
        wedge: Sequence[float],
        leaks: Sequence[Leak],
        pixels_per_mm: float,
        scan: int,
        stain: Sequence[float] = (0.0, 0.0, 0.0),
    ) -> Scan:
        """A print of these layer log exposures on the bed, a wedge below it."""
        if leaks:
            log_exposure = np.log10(10.0**log_exposure + _fog(log_exposure.shape[0], log_exposure.shape[1], leaks))
        dye = self.room.dye_at(log_exposure, conditions) + np.asarray(stain)
        rows, columns = dye.shape[:2]
        margin = round(6 * pixels_per_mm)
        strip = round(14 * pixels_per_mm) if wedge else 0
        bed = _Bed(rows + 2 * margin + (strip + margin if wedge else 0), columns + 2 * margin, 0.80, faults)
        bed.lay(self._paper_picture(dye), margin, margin)

        def on_bed(box: Box) -> Box:
            return (box[0] + margin, box[1] + margin, box[2] + margin, box[3] + margin)

        truth = tuple(
            self._print_patch(bed, name, on_bed(box), dye[(box[1] + box[3]) // 2, (box[0] + box[2]) // 2])
            for name, box in patches
        )
        below = rows + 2 * margin
        steps = self._lay_wedge(bed, wedge, (margin, below, margin + columns, below + strip)) if wedge else ()
        corners = bed.corners(on_bed((0, 0, columns, rows)))
        pixels = bed.scan(*self._generators(scan))
        return Scan(pixels=pixels, patches=truth, wedge=steps, paper=corners, faults=faults)

    # scans

    def strip(
        self,
        outcomes: Sequence[Outcome],
        *,
        scene: Scene | None = None,
        faults: Faults = Faults(),
        wedge: Sequence[float] = WEDGE_DENSITIES,
        leaks: Sequence[Leak] = (),
        patch_mm: tuple[float, float] = (16.0, 34.0),
        border_mm: float = 4.0,
        pixels_per_mm: float = 6.0,
        scan: int = 0,
    ) -> Scan:
        """A test strip of several exposures side by side, with a white border.

        Without a scene each step shows the reference patch (a slot over it, the paper moved). With one (see
        ``strip_pixels`` for its size) the picture lies across the strip and each step exposes its own part of it: the
        truth then lists the scene's patches that lie wholly within one step, as "step 2: grey card".
        """
        high, wide = round(patch_mm[1] * pixels_per_mm), round(patch_mm[0] * pixels_per_mm)
        border = round(border_mm * pixels_per_mm)
        whole = scene or flat(high, wide * len(outcomes))
        if whole.log_exposure.shape[:2] != (high, wide * len(outcomes)):
            raise ValueError(
                f"The scene is {whole.log_exposure.shape[:2]} pixels; the strip {(high, wide * len(outcomes))}."
            )
        log_exposure = np.full((high + 2 * border, wide * len(outcomes) + 2 * border, 3), _UNEXPOSED)
        patches: list[tuple[str, Box]] = []
        for number, outcome in enumerate(outcomes):
            start, end = number * wide, (number + 1) * wide
            step = outcome.log_exposure - NEGATIVE_GAMMA * whole.log_exposure[:, start:end]
            log_exposure[border : border + high, border + start : border + end] = step
            if scene is None:
                patches.append((f"step {number + 1}", (border + start, border, border + end, border + high)))
                continue
            patches.extend(
                (f"step {number + 1}: {name}", (left + border, top + border, right + border, bottom + border))
                for name, (left, top, right, bottom) in scene.patches.items()
                if start <= left and right <= end
            )
        return self._lay_print(
            log_exposure, outcomes[0].conditions, patches,
            faults=faults, wedge=wedge, leaks=leaks, pixels_per_mm=pixels_per_mm, scan=scan,
        )  # fmt: skip

    def sheet(
        self,
        outcome: Outcome,
        scene: Scene,
        *,
        faults: Faults = Faults(),
        wedge: Sequence[float] = (),
        leaks: Sequence[Leak] = (),
        border_mm: float = 6.0,
        pixels_per_mm: float = 4.0,
        scan: int = 0,
    ) -> Scan:
        """A whole print of a scene, whose grey card came out as ``outcome``; white border, a wedge if asked for."""
        border = round(border_mm * pixels_per_mm)
        rows, columns = scene.log_exposure.shape[:2]
        log_exposure = np.full((rows + 2 * border, columns + 2 * border, 3), _UNEXPOSED)
        inner = outcome.log_exposure - NEGATIVE_GAMMA * scene.log_exposure
        log_exposure[border : border + rows, border : border + columns] = inner
        patches = [
            (name, (left + border, top + border, right + border, bottom + border))
            for name, (left, top, right, bottom) in scene.patches.items()
        ]
        return self._lay_print(
            log_exposure, outcome.conditions, patches,
            faults=faults, wedge=wedge, leaks=leaks, pixels_per_mm=pixels_per_mm, scan=scan,
        )  # fmt: skip

    def blank(
        self,
        conditions: Conditions,
        *,
        leaks: Sequence[Leak] = (),
        stain: tuple[float, float, float] = (0.0, 0.0, 0.0),
        size_mm: tuple[float, float] = (254.0, 203.0),
        faults: Faults = Faults(),
        wedge: Sequence[float] = (),
        pixels_per_mm: float = 3.0,
        scan: int = 0,
    ) -> Scan:
        """An unexposed, processed sheet (width, height), fogged by leaks and stained by (cyan, magenta, yellow) dye.

        The truth gives nine places, named from "top left" to "bottom right".
        """
        rows, columns = round(size_mm[1] * pixels_per_mm), round(size_mm[0] * pixels_per_mm)
        half = round(4 * pixels_per_mm)
        patches = []
        for high, y in (("top", half), ("", rows // 2), ("bottom", rows - half)):
            for side, x in (("left", half), ("", columns // 2), ("right", columns - half)):
                name = f"{high} {side}".strip() or "centre"
                patches.append((name, (x - half, y - half, x + half, y + half)))
        return self._lay_print(
            np.full((rows, columns, 3), _UNEXPOSED), conditions, patches, stain=stain,
            faults=faults, wedge=wedge, leaks=leaks, pixels_per_mm=pixels_per_mm, scan=scan,
        )  # fmt: skip

    def negative(
        self,
        frame: str,
        scene: Scene,
        *,
        faults: Faults = Faults(tone="linear", rotation=0.0),
        scan: int = 0,
    ) -> tuple[Scan, Scan]:
        """The frame as taken of this scene, and the empty carrier at the same setting of the camera.

        A rebate of clear film surrounds the picture, the dark carrier surrounds that. Densities in the truth are
        against the empty carrier, in the scanner's channels; "clear film" is the film's base.
        """
        latent = self.room.latent_of(frame)
        rows, columns = scene.log_exposure.shape[:2]
        rebate = max(rows // 20, 8)
        dye = np.zeros((rows + 2 * rebate, columns + 2 * rebate, 3))
        offset = self.room.dye_for_printing_density(frame, NEGATIVE_GAMMA * scene.log_exposure)
        dye[rebate:-rebate, rebate:-rebate] = np.maximum(latent + offset, 0.0)

        def spectra(amount: Floats) -> Floats:
            return self.room.transmittance_of(frame, amount)

        density = _Look(spectra, self.channels, float(dye.max()) + 0.1)(dye)
        dark = 2 * rebate
        whole = (dye.shape[0] + 2 * dark, dye.shape[1] + 2 * dark)
        taken, empty = (_Bed(*whole, 0.0005, faults) for _ in range(2))
        taken.lay(10.0**-density, dark, dark)
        empty.lay(np.ones_like(dye), dark, dark)
        shift = dark + rebate
        boxes = {
            name: (left + shift, top + shift, right + shift, bottom + shift)
            for name, (left, top, right, bottom) in scene.patches.items()
        }
        boxes["clear film"] = (shift, dark, shift + columns, shift)
        patches = []
        for name, (left, top, right, bottom) in boxes.items():
            seen = self._through(spectra(dye[(top + bottom) // 2 - dark, (left + right) // 2 - dark]))
            patches.append(taken.patch(name, (left, top, right, bottom), seen, seen, np.full(3, np.nan)))
        corners = taken.corners((dark, dark, dark + dye.shape[1], dark + dye.shape[0]))
        bed_rng, rng = self._generators(scan, frame, "negative")
        negative = Scan(
            pixels=taken.scan(bed_rng, rng), patches=tuple(patches), wedge=(), paper=corners, faults=faults
        )  # fmt: skip
        bed_rng, rng = self._generators(scan, frame, "carrier")
        carrier = Scan(pixels=empty.scan(bed_rng, rng), patches=(), wedge=(), paper=corners, faults=faults)
        return negative, carrier


def save_tiff(path: Path, scan: Scan) -> None:
    """The pixels as a plain 16-bit RGB TIFF."""
    tifffile.imwrite(path, scan.pixels, photometric="rgb")
