"""A wedge's densities come back through any usual scanner, with an error that is honest."""

import numpy as np
import pytest

from printlore.core.flags import Flag
from printlore.core.measure.scanner import Wedge, calibrate, fit_tone_curve, grey_wedge
from printlore.errors import ValueOutOfRange

DENSITIES = np.linspace(0.05, 2.2, 16)
BETWEEN = np.linspace(0.10, 2.1, 40)


def srgb(light):
    """IEC 61966-2-1, its encoding."""
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * np.maximum(light, 1e-9) ** (1 / 2.4) - 0.055)


SCANNERS = {
    "linear": lambda light: 0.9 * light + 0.002,
    "no flare": lambda light: 0.97 * light,
    "power": lambda light: (0.9 * light + 0.002) ** (1 / 2.2),
    "IEC 61966-2-1": lambda light: srgb(0.9 * light + 0.002),
}


@pytest.mark.parametrize("scanner", SCANNERS)
def test_density_between_steps_is_found_through_any_tone_curve(scanner):
    rng = np.random.default_rng(4)
    errors, stated = [], []
    for _ in range(20):
        densities = DENSITIES + rng.normal(0, 0.005, len(DENSITIES))
        curve = fit_tone_curve(SCANNERS[scanner](10.0**-DENSITIES), densities)
        errors.append(curve.density(SCANNERS[scanner](10.0**-BETWEEN)) - BETWEEN)
        stated.append(curve.standard_error(SCANNERS[scanner](10.0**-BETWEEN)))
    errors = np.array(errors)
    assert np.abs(errors.mean(axis=0)).max() < 0.006
    assert errors.std() < 0.006
    ratio = np.sqrt(np.mean((errors / np.array(stated)) ** 2))
    assert 0.5 < ratio < 1.6


def test_stray_light_is_told_from_gain():
    curve = fit_tone_curve(0.8 * 10.0**-DENSITIES + 0.004, DENSITIES)
    assert curve.flare / curve.gain == pytest.approx(0.005, rel=0.05)
    assert curve.gain == pytest.approx(0.8, rel=0.01)


def test_curve_falls_everywhere_between_its_ends():
    rng = np.random.default_rng(5)
    for _ in range(30):
        noisy = DENSITIES + rng.normal(0, 0.03, len(DENSITIES))
        curve = fit_tone_curve((0.9 * 10.0**-DENSITIES + 0.002) ** 0.5, noisy)
        light = 10.0 ** np.linspace(*curve.span, 500)
        assert np.all(np.diff(curve.density(light)) < 0)


def test_a_step_that_disagrees_is_left_out_and_named():
    light = np.tile(0.9 * 10.0 ** -DENSITIES[:, None] + 0.001, 3)
    light[6] *= 1.2
    curves = calibrate(light, grey_wedge(list(DENSITIES)))
    assert curves.left_out == (6,)
    assert Flag.WEDGE_STEP_LEFT_OUT in curves.flags
    assert curves.density(light[3])[0] == pytest.approx(DENSITIES[3], abs=0.003)


def test_a_wedge_that_fits_badly_is_called_poor():
    rng = np.random.default_rng(6)
    light = np.tile(0.9 * 10.0 ** -DENSITIES[:, None], 3) * 10.0 ** rng.normal(0, 0.06, (16, 3))
    assert Flag.WEDGE_POOR in calibrate(light, grey_wedge(list(DENSITIES))).flags


def test_light_beyond_the_wedge_is_told():
    curves = calibrate(np.tile(10.0 ** -DENSITIES[:, None], 3), grey_wedge(list(DENSITIES)))
    outside = curves.outside(np.array([[10.0**-2.4, 10.0**-1.0, 10.0**0.0]]))
    assert outside.tolist() == [[True, False, True]]


def test_errors_say_what_where_and_what_to_do():
    with pytest.raises(ValueOutOfRange, match="has 3 steps; a curve needs at least 5"):
        grey_wedge([0.1, 0.5, 1.0])
    with pytest.raises(ValueOutOfRange, match="step 2, red: density nan cannot be; it must be a number"):
        grey_wedge([0.1, float("nan"), 0.6, 1.0, 1.4])
    with pytest.raises(ValueOutOfRange, match=r"within 0\.3 of each other"):
        grey_wedge([0.1, 0.15, 0.2, 0.25, 0.3])
    with pytest.raises(ValueOutOfRange, match="give 0 to 1"):
        grey_wedge([0.1, 0.5, 1.0, 1.5, 2.0], standard_error=-1)
    with pytest.raises(ValueOutOfRange, match="does not get darker"):
        fit_tone_curve(10.0**-DENSITIES, DENSITIES[::-1])
    with pytest.raises(ValueOutOfRange, match="Wedge step 3 has no light at all"):
        fit_tone_curve([0.9, 0.5, 0.0, 0.2, 0.1], [0.1, 0.3, 0.5, 0.7, 1.0])
    with pytest.raises(ValueOutOfRange, match="at least 5 wedge steps"):
        fit_tone_curve([0.9, 0.5], [0.1, 0.3])
    wedge = Wedge(densities=tuple((d, d, d) for d in (0.1, 0.4, 0.8, 1.2, 1.6)))
    with pytest.raises(ValueOutOfRange, match="5 stated densities, but 4 steps"):
        calibrate(np.full((4, 3), 0.5), wedge)
    with pytest.raises(ValueOutOfRange, match="Only 3 steps of wedge"):
        calibrate(10.0 ** -np.array(wedge.densities), wedge, usable=[True, True, True, False, False])
