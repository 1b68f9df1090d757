"""A chart turns a scanner into a colour instrument; the held-out error is the honest one."""

import importlib.util
import json
import subprocess
import sys

import numpy as np
import pytest

from printlore.core.colour.lab import delta_e_2000, lab_from_xyz
from printlore.core.colour.spectra import status_a_density, xyz_from_reflectance
from printlore.core.flags import Flag
from printlore.core.measure.characterise import (
    Form,
    characterise,
    drift_check,
    fit_density_map,
    root_terms,
)
from printlore.core.measure.chart import chart_boxes, chart_places
from printlore.core.measure.scanner import Material, calibrate, grey_wedge
from printlore.errors import ValueOutOfRange
from printroom.room import Room
from printroom.scans import scanner_channels

STEPS = np.linspace(0.05, 2.3, 16)
CURVES = calibrate(np.tile(10.0 ** -STEPS[:, None], 3), grey_wedge(list(STEPS)))


def paper_chart(seed):
    """Patches of a simulated paper: a grid of dyes, and greys; and others that are held out."""
    room, rng = Room(seed), np.random.default_rng(seed)
    paper, channels = room.paper, scanner_channels(seed)
    axis = np.linspace(0.0, 0.9, 5)
    grid = np.stack(np.meshgrid(axis, axis, axis, indexing="ij"), axis=-1).reshape(-1, 3) * paper.most_dye
    greys = np.linspace(0.02, 2.0, 16)[:, None] * paper.aim_dye
    return paper, channels, np.concatenate([grid, greys]), rng.uniform(0, 0.9, (300, 3)) * paper.most_dye, rng


def seen(paper, channels, dye, rng):
    """Densities through the scanner's channels, with the noise of reading."""
    density = -np.log10(paper.reflectance(dye) @ channels)
    return density + rng.normal(0, 0.003, density.shape)


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_chart_on_the_prints_paper_gives_lab_and_status_a_of_patches_not_seen(seed):
    """Goals: dE00 mean at most 1 on held-out patches; mid-grey bias 0.005, sd 0.010."""
    paper, channels, dye, held_out, rng = paper_chart(seed)
    density, lab = paper.density_and_lab(dye)
    profile = characterise(
        seen(paper, channels, dye, rng),
        lab,
        CURVES,
        scanner="flatbed",
        made="2026-11-01",
        status_a=density,
        material=Material.PHOTOGRAPHIC_PAPER,
    )
    true_density, true_lab = paper.density_and_lab(held_out)
    read = seen(paper, channels, held_out, rng)
    off = delta_e_2000(profile.lab(read), true_lab)
    assert off.mean() < 0.7
    assert profile.report.held_out_mean == pytest.approx(off.mean(), abs=0.25)
    assert (profile.status_a(read) - true_density).std() < 0.006
    grey = paper.aim_dye + rng.normal(0, 0.04, (200, 3))
    error = profile.status_a(seen(paper, channels, grey, rng)) - paper.density_and_lab(grey)[0]
    assert np.abs(error.mean(axis=0)).max() < 0.005
    assert error.std(axis=0).max() < 0.010
    assert profile.flags == ()


def test_root_terms_scale_with_exposure():
    """Finlayson, Mackiewicz and Hurlbert (2015): root polynomials are homogeneous of degree one."""
    light = np.random.default_rng(1).uniform(0.05, 1, (20, 3))
    for degree, count in ((1, 3), (2, 6), (3, 13), (4, 22)):
        terms = root_terms(light, degree)
        assert terms.shape == (20, count)
        assert root_terms(0.37 * light, degree) == pytest.approx(0.37 * terms, rel=1e-12)


def library_chart():
    """Reflectances of a 24-patch chart from a general colour library, in a process of its own (its import is slow)."""
    code = (
        "import os; os.environ['COLOUR_SCIENCE__FILTER_USAGE_WARNINGS']='1'\n"
        "import colour, json, numpy as np\n"
        "sds = colour.SDS_COLOURCHECKERS['ISO 17321-1']\n"
        "shape = colour.SpectralShape(400, 700, 10)\n"
        "print(json.dumps([sd.copy().align(shape).values.tolist() for sd in sds.values()]))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60)
    return np.array(json.loads(done.stdout.splitlines()[-1]))


@pytest.mark.skipif(importlib.util.find_spec("colour") is None, reason="the colour library is for tests only")
def test_reflectances_of_a_library_chart_come_back_through_a_simulated_scanner():
    """24 patches (ISO 17321-1 chart of the library), channels of smooth bands: there and back."""
    wavelength = np.arange(400.0, 701.0, 10.0)
    reflectance = library_chart()
    bands = np.exp(-0.5 * ((wavelength[:, None] - np.array([605.0, 540.0, 455.0])) / np.array([32.0, 34.0, 26.0])) ** 2)
    density = -np.log10(reflectance @ (bands / bands.sum(axis=0)))
    lab = lab_from_xyz(xyz_from_reflectance(wavelength, reflectance))
    profile = characterise(
        density,
        lab,
        CURVES,
        scanner="flatbed",
        made="2026-11-01",
        status_a=status_a_density(wavelength, reflectance),
        material=Material.PAINT,
    )
    assert delta_e_2000(profile.lab(density), lab).mean() < 2.0
    assert profile.report.worst >= profile.report.percentile_95 >= profile.report.mean
    assert Flag.OTHER_DYES in profile.flags
    assert Flag.FEW_PATCHES in profile.flags


def test_a_brighter_scan_keeps_chromaticity_with_roots():
    paper, channels, dye, _, rng = paper_chart(3)
    lab = paper.density_and_lab(dye)[1]
    density = seen(paper, channels, dye, rng)
    from dataclasses import replace

    profile = characterise(density, lab, CURVES, scanner="s", made="2026-11-01")
    roots = replace(profile, form=Form.ROOTS, degree=1, matrix=((0.4, 0.2, 0.0), (0.3, 0.7, 0.1), (0.1, 0.1, 0.8)))
    xyz, brighter = roots.xyz(density[:5]), roots.xyz(density[:5] - 0.1)
    assert brighter / xyz == pytest.approx(np.full((5, 3), 10**0.1))


def test_density_map_learns_side_absorptions():
    rng = np.random.default_rng(2)
    scanner = rng.uniform(0.1, 2.0, (80, 3))
    mixing = np.array([[1.05, 0.04, -0.02], [0.03, 1.02, 0.05], [0.0, 0.06, 1.04]])
    learned = fit_density_map(scanner, scanner @ mixing.T + 0.01 + rng.normal(0, 0.002, (80, 3)))
    assert learned.degree == 1
    fresh = rng.uniform(0.1, 2.0, (20, 3))
    assert learned.density(fresh) == pytest.approx(fresh @ mixing.T + 0.01, abs=0.004)
    assert max(learned.error) < 0.004


def test_a_changed_scanner_is_caught_by_a_small_wedge_and_an_unchanged_one_is_not():
    steps = np.linspace(0.1, 1.8, 6)
    stated = np.tile(steps[:, None], 3)
    profile = wedge_profile()
    rng = np.random.default_rng(5)
    alarms = 0
    for _ in range(100):
        light = 10.0 ** -(stated + rng.normal(0, 0.005, stated.shape))
        alarms += Flag.DRIFTED in drift_check(profile, light, stated).flags
    assert alarms <= 3
    brighter = drift_check(profile, 10.0**-stated * 10**-0.04, stated)
    assert brighter.shift == pytest.approx((0.04, 0.04, 0.04), abs=1e-3)
    assert Flag.DRIFTED in brighter.flags
    harder = drift_check(profile, 10.0 ** -(0.95 + 1.05 * (stated - 0.95)), stated)
    assert Flag.DRIFTED in harder.flags


def wedge_profile():
    from printlore.core.measure.characterise import ScannerProfile

    return ScannerProfile(scanner="flatbed", made="2026-11-01", curves=CURVES)


def test_wedge_only_profile_has_no_colour():
    with pytest.raises(ValueOutOfRange, match="made from a wedge only; scan a chart with known colours for Lab"):
        wedge_profile().lab([0.5, 0.5, 0.5])
    assert wedge_profile().status_a([0.5, 0.6, 0.7]).tolist() == [0.5, 0.6, 0.7]


def test_mistaken_charts_are_refused():
    rng = np.random.default_rng(1)
    lab = np.column_stack([rng.uniform(20, 90, 60), rng.uniform(-50, 50, (60, 2))])
    with pytest.raises(ValueOutOfRange, match="not those that the reference names"):
        characterise(rng.uniform(0.1, 2, (60, 3)), lab, CURVES, scanner="s", made="2026-11-01")
    with pytest.raises(ValueOutOfRange, match="59 patches were read, but the reference has 60"):
        characterise(np.ones((59, 3)), lab, CURVES, scanner="s", made="2026-11-01")
    with pytest.raises(ValueOutOfRange, match="A chart of 5 patches tells too little"):
        characterise(np.ones((5, 3)), lab[:5], CURVES, scanner="s", made="2026-11-01")
    density = rng.uniform(0.1, 2, (60, 3))
    density[7, 1] = np.nan
    names = [f"A{k}" for k in range(60)]
    with pytest.raises(ValueOutOfRange, match='Patch "A7", read value green: not a number'):
        characterise(density, lab, CURVES, names=names, scanner="s", made="2026-11-01")


def test_places_of_patches_follow_their_names():
    assert chart_places(["A1", "A2", "B1", "B02", "GS0"]) == {"A1": (0, 0), "A2": (0, 1), "B1": (1, 0), "B02": (1, 1)}
    boxes = chart_boxes(((10, 10), (110, 10), (110, 60), (10, 60)), ["A1", "A3", "B2", "C1", "C3"])
    assert boxes["B2"].centre == (60.0, 35.0)
    assert boxes["A3"].centre == (110.0, 10.0)
    with pytest.raises(ValueOutOfRange, match="do not tell their rows and columns"):
        chart_places(["1", "2", "3"])
    with pytest.raises(ValueOutOfRange, match="tap the middles of its corner patches"):
        chart_boxes(((110, 10), (10, 10), (10, 60), (110, 60)), ["A1", "A3", "C1"])
