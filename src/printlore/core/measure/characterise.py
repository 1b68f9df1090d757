"""A scanner or camera to colour: from a chart with reference values to XYZ, Lab and status A densities.

The scanner's light is first made linear by its wedge. Two forms are tried for XYZ: root polynomials
of light, whose terms scale with exposure, and polynomials of density, which suit dyes, since dyes
multiply. Form and order are the simplest whose cross-validated error is within one standard error
of the smallest.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike

from printlore.core.colour.lab import D50, delta_e_2000, lab_from_xyz, lab_root_slope, xyz_from_lab
from printlore.core.flags import Flag
from printlore.core.measure.scan import CHANNELS, Floats
from printlore.core.measure.scanner import Material, ScannerCurves
from printlore.core.paper.facts import vector
from printlore.errors import ValueOutOfRange

FEWEST_PATCHES = 12
_FOLDS = 10
_NOT_THE_CHART = 12.0
"""[dE00] No chart reads this badly unless its patches were mistaken."""
DRIFT_LIMIT = 0.012
"""[density] A wedge that reads further off than this has caught a scanner that changed."""


class Form(StrEnum):
    """What the colour of a profile is a polynomial of."""

    ROOTS = "roots"
    DENSITIES = "densities"


_EXPONENTS: dict[int, tuple[tuple[int, int, int], ...]] = {
    degree: tuple(
        (i, j, degree - i - j)
        for i in range(degree, -1, -1)
        for j in range(degree - i, -1, -1)
        if np.gcd.reduce([i, j, degree - i - j]) == 1
    )
    for degree in (1, 2, 3, 4)
}
"""Exponents, over the degree, of the terms that a degree adds."""


def root_terms(light: ArrayLike, degree: int) -> Floats:
    """Terms (..., n) of the root polynomial up to a degree (1 to 4: 3, 6, 13 or 22 terms).

    Parameters
    ----------
    light : (..., 3) array of float
        Linear light, not below 0.

    References
    ----------
    finlayson2015
    """
    light = np.maximum(np.asarray(light, dtype=float), 1e-6)
    log_light = np.log(light)
    columns = []
    for step in range(1, degree + 1):
        for exponents in _EXPONENTS[step]:
            columns.append(np.exp(log_light @ np.array(exponents) / step))
    return np.stack(columns, axis=-1)


@dataclass(frozen=True, slots=True, kw_only=True)
class ResidualReport:
    """How far a profile is from its chart, in dE00.

    Attributes
    ----------
    mean, percentile_95, worst : float
        Of the fitted patches.
    worst_patch : str
    held_out_mean, held_out_95 : float
        Of patches that the fit had not seen (cross-validation): the honest figure.
    by_patch : tuple of (name, dE00 held out)
    """

    mean: float
    percentile_95: float
    worst: float
    worst_patch: str
    held_out_mean: float
    held_out_95: float
    by_patch: tuple[tuple[str, float], ...]

    @property
    def held_out_worst(self) -> tuple[str, float]:
        """The patch that came out worst by colours learned without it, and by how much."""
        return max(self.by_patch, key=lambda patch: patch[1])


@dataclass(frozen=True, slots=True, kw_only=True)
class DensityMap:
    """Densities through the scanner's channels to status A.

    Attributes
    ----------
    degree : int
    coefficients : tuple of three tuples of float
        For the terms of ``density_terms``.
    error : (3,) floats
        Cross-validated standard deviation [density].
    """

    degree: int
    coefficients: tuple[tuple[float, ...], ...]
    error: tuple[float, float, float]

    def density(self, scanner_density: ArrayLike) -> Floats:
        """Status A density (..., 3)."""
        return np.asarray(density_terms(scanner_density, self.degree) @ np.array(self.coefficients).T)


@dataclass(frozen=True, slots=True, kw_only=True)
class ScannerProfile:
    """What is known of one scanner or camera at one setting.

    Attributes
    ----------
    scanner : str
        Its name and setting, in the printer's words.
    made : str
        Date, ISO 8601.
    version : int
        Counts up with each new profile of the same scanner.
    curves : ScannerCurves
        From the wedge.
    form : Form
    degree : int
        Of the polynomial; 0 if only a wedge was scanned.
    matrix : tuple of tuples of float
        (terms, 3) to XYZ under D50, Y of a perfect white at 1.
    report : ResidualReport or None
    to_status_a : DensityMap or None
        If the chart came with densities or spectra.
    material : Material
    flags : tuple of Flag
    """

    scanner: str
    made: str
    version: int = 1
    curves: ScannerCurves
    form: Form = Form.ROOTS
    degree: int = 0
    matrix: tuple[tuple[float, ...], ...] = ()
    report: ResidualReport | None = None
    to_status_a: DensityMap | None = None
    material: Material = Material.UNKNOWN
    flags: tuple[Flag, ...] = ()

    def xyz(self, density: ArrayLike) -> Floats:
        """XYZ (..., 3) of densities (..., 3) through the scanner's channels.

        Raises
        ------
        ValueOutOfRange
            If no chart was scanned for this profile.
        """
        if not self.degree:
            raise ValueOutOfRange(
                f'The profile of "{self.scanner}" was made from a wedge only; scan a chart with known colours for Lab.'
            )
        return _xyz(np.asarray(density, dtype=float), self.form, self.degree, np.array(self.matrix))

    def lab(self, density: ArrayLike) -> Floats:
        """CIELAB (..., 3), D50, of densities (..., 3) through the scanner's channels."""
        return lab_from_xyz(self.xyz(density))

    def status_a(self, density: ArrayLike) -> Floats:
        """Status A densities (..., 3); those of the channels themselves, if the chart had none."""
        return np.asarray(density, dtype=float) if self.to_status_a is None else self.to_status_a.density(density)


def density_terms(density: ArrayLike, degree: int) -> Floats:
    """All products (..., n) of three densities up to a degree (1 to 3: 4, 10 or 20 terms)."""
    density = np.asarray(density, dtype=float)
    exponents = [
        (i, j, k)
        for total in range(degree + 1)
        for i in range(total, -1, -1)
        for j in range(total - i, -1, -1)
        for k in (total - i - j,)
    ]
    return np.stack([np.prod(density ** np.array(powers), axis=-1) for powers in exponents], axis=-1)


def _xyz(density: Floats, form: Form, degree: int, matrix: Floats) -> Floats:
    if form is Form.ROOTS:
        return np.asarray(np.maximum(root_terms(10.0**-density, degree) @ matrix, 1e-6))
    return np.asarray(10.0 ** -np.clip(density_terms(density, degree) @ matrix, -0.5, 6.0))


def _fit_matrix(density: Floats, xyz: Floats, form: Form, degree: int) -> Floats:
    """Matrix (terms, 3), by least squares weighted so that equal errors look alike."""
    seen = lab_root_slope(xyz / D50) / D50
    if form is Form.ROOTS:
        terms, wanted, weight = root_terms(10.0**-density, degree), xyz, seen
    else:
        terms, wanted, weight = density_terms(density, degree), -np.log10(xyz), seen * xyz
    return np.stack(
        [np.linalg.lstsq(terms * weight[:, k : k + 1], wanted[:, k] * weight[:, k], rcond=1e-9)[0] for k in range(3)],
        axis=1,
    )


def _folds(count: int) -> list[np.ndarray[tuple[int], np.dtype[np.bool_]]]:
    """Held-out masks; neighbours on a chart are alike, so they go to different folds."""
    folds = min(_FOLDS, count)
    return [np.arange(count) % folds == fold for fold in range(folds)]


def _held_out(density: Floats, lab: Floats, form: Form, degree: int) -> Floats:
    """dE00 (patches,) of each patch by a fit that has not seen it."""
    out, xyz = np.empty(len(density)), np.maximum(xyz_from_lab(lab), 1e-5)
    for mask in _folds(len(density)):
        matrix = _fit_matrix(density[~mask], xyz[~mask], form, degree)
        out[mask] = delta_e_2000(lab_from_xyz(_xyz(density[mask], form, degree, matrix)), lab[mask])
    return out


def fit_density_map(scanner_density: ArrayLike, status_a: ArrayLike) -> DensityMap:
    """Map from a scanner's densities to status A, its degree (1 to 3) by cross-validation.

    Parameters
    ----------
    scanner_density, status_a : (patches, 3) arrays of float
        At least 12 patches.

    Raises
    ------
    ValueOutOfRange
        If there are fewer than 12 patches.
    """
    x, y = np.asarray(scanner_density, dtype=float), np.asarray(status_a, dtype=float)
    _enough(len(x))
    best: tuple[float, int, Floats] | None = None
    for degree in (1, 2, 3):
        terms = density_terms(x, degree)
        if 2 * terms.shape[1] > len(x):
            break
        left = np.empty_like(y)
        for mask in _folds(len(x)):
            found = np.linalg.lstsq(terms[~mask], y[~mask], rcond=None)[0]
            left[mask] = y[mask] - terms[mask] @ found
        error = float(np.sqrt(np.mean(left**2)))
        if best is None or error < 0.95 * best[0]:
            best = (error, degree, left)
    assert best is not None
    _, degree, left = best
    found = np.linalg.lstsq(density_terms(x, degree), y, rcond=None)[0]
    return DensityMap(
        degree=degree,
        coefficients=tuple(tuple(float(c) for c in channel) for channel in found.T),
        error=vector(np.sqrt(np.mean(left**2, axis=0))),
    )


def _enough(count: int) -> None:
    if count < FEWEST_PATCHES:
        raise ValueOutOfRange(
            f"A chart of {count} patches tells too little of colour; {FEWEST_PATCHES} or more are needed."
        )


def characterise(
    density: ArrayLike,
    lab: ArrayLike,
    curves: ScannerCurves,
    *,
    names: Sequence[str] = (),
    scanner: str,
    made: str,
    version: int = 1,
    status_a: ArrayLike | None = None,
    material: Material = Material.UNKNOWN,
) -> ScannerProfile:
    """Profile of a scanner or camera from a chart.

    Parameters
    ----------
    density : (patches, 3) array of float
        Through the scanner's channels and its wedge [1].
    lab : (patches, 3) array of float
        Reference values, D50.
    curves : ScannerCurves
        That gave the densities.
    names : sequence of str
    scanner, made, version, material
        See ``ScannerProfile``.
    status_a : (patches, 3) array of float, optional
        Reference densities, if they are known.

    Raises
    ------
    ValueOutOfRange
        If there are fewer than 12 patches, numbers do not match, or the chart was read wrongly.

    References
    ----------
    finlayson2015, sharma2005
    """
    density, lab = np.asarray(density, dtype=float), np.asarray(lab, dtype=float)
    if density.shape != lab.shape:
        raise ValueOutOfRange(
            f"{len(density)} patches were read, but the reference has {len(lab)}. Check the corners of the chart."
        )
    _enough(len(density))
    for what, values in (("read", density), ("reference", lab)):
        bad = np.argwhere(~np.isfinite(values))
        if len(bad):
            patch, channel = bad[0]
            label = names[patch] if names else str(patch + 1)
            raise ValueOutOfRange(f'Patch "{label}", {what} value {CHANNELS[channel]}: not a number. Leave it out.')
    tried = []
    for form, degree in ((Form.ROOTS, 1), (Form.DENSITIES, 1), (Form.ROOTS, 2), (Form.DENSITIES, 2), (Form.ROOTS, 3),
                         (Form.DENSITIES, 3), (Form.ROOTS, 4)):  # fmt: skip
        count = (root_terms if form is Form.ROOTS else density_terms)(density[:1], degree).shape[1]
        if 2 * count > len(density):
            continue
        held_out = _held_out(density, lab, form, degree)
        tried.append((float(held_out.mean()), float(held_out.std() / np.sqrt(len(held_out))), form, degree, held_out))
    smallest, doubt, *_ = min(tried, key=lambda one: one[0])
    _, _, form, degree, held_out = next(one for one in tried if one[0] <= smallest + doubt)
    if held_out.mean() > _NOT_THE_CHART:
        raise ValueOutOfRange(
            f"The chart as read is {held_out.mean():.0f} dE00 from its reference on average: the patches are not those "
            "that the reference names. Check the chart's corners, which way up it lies, and the reference file."
        )
    matrix = _fit_matrix(density, np.maximum(xyz_from_lab(lab), 1e-5), form, degree)
    fitted = delta_e_2000(lab_from_xyz(_xyz(density, form, degree, matrix)), lab)
    labels = list(names) or [str(k + 1) for k in range(len(lab))]
    flags = list(curves.flags)
    if material is not Material.PHOTOGRAPHIC_PAPER:
        flags.append(Flag.OTHER_DYES)
    if len(lab) < 40:
        flags.append(Flag.FEW_PATCHES)
    return ScannerProfile(
        scanner=scanner,
        made=made,
        version=version,
        curves=curves,
        form=form,
        degree=degree,
        matrix=tuple(tuple(float(c) for c in row) for row in matrix),
        report=ResidualReport(
            mean=float(fitted.mean()),
            percentile_95=float(np.quantile(fitted, 0.95)),
            worst=float(fitted.max()),
            worst_patch=labels[int(np.argmax(fitted))],
            held_out_mean=float(held_out.mean()),
            held_out_95=float(np.quantile(held_out, 0.95)),
            by_patch=tuple((label, float(value)) for label, value in zip(labels, held_out, strict=True)),
        ),
        to_status_a=None if status_a is None else fit_density_map(density, status_a),
        material=material,
        flags=tuple(dict.fromkeys(flags)),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class DriftCheck:
    """Whether a scanner still reads as when it was characterised.

    Attributes
    ----------
    shift : (3,) floats
        Mean density by which today's wedge reads off under the old curves [1].
    largest : float
        Largest at any step [1].
    standard_error : float
        Of the shift [1].
    flags : tuple of Flag
        DRIFTED if the shift is beyond the limit and its error.
    """

    shift: tuple[float, float, float]
    largest: float
    standard_error: float
    flags: tuple[Flag, ...]


def drift_check(profile: ScannerProfile, light: ArrayLike, stated: ArrayLike) -> DriftCheck:
    """Drift from a small wedge in a later scan.

    Parameters
    ----------
    light, stated : (steps, 3) arrays of float
        Mean light of the wedge's steps today [1], and their stated densities.
    """
    stated = np.asarray(stated, dtype=float)
    off = profile.curves.density(light) - stated
    # A change of contrast leaves the mean alone: a straight line through what is off tells it from scatter.
    centred = stated - stated.mean(axis=0)
    shift = off.mean(axis=0)
    tilt = (centred * off).sum(axis=0) / np.maximum((centred**2).sum(axis=0), 1e-9)
    scatter = (off - shift - tilt * centred).std(axis=0, ddof=2 if len(off) > 3 else 0)
    scatter = np.sqrt(scatter**2 + np.array(profile.curves.residual) ** 2 + 0.003**2)
    error = float(scatter.max() / np.sqrt(len(off)))
    ends = np.abs(tilt) * np.ptp(stated, axis=0) / 2
    moved = float(np.abs(shift).max()) - 2 * error > DRIFT_LIMIT or float(ends.max()) - 4 * error > DRIFT_LIMIT
    return DriftCheck(
        shift=vector(shift),
        largest=float(np.abs(off).max()),
        standard_error=error,
        flags=(Flag.DRIFTED,) if moved else (),
    )
