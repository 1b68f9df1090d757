"""The mean of a patch holds against dust, scratches and clipping, and knows how sure it is."""

import numpy as np
import pytest

from printlore.core.flags import Flag
from printlore.core.measure.patches import read_light, read_patch
from printlore.core.measure.scan import Box, Scan, box_about
from printlore.core.measure.scanner import calibrate, grey_wedge
from printlore.errors import ValueOutOfRange

BOX = Box(left=10, top=10, right=90, bottom=90)


def grey(light=(0.2, 0.25, 0.15), *, noise=0.01, seed=1, dtype=np.uint16):
    rng = np.random.default_rng(seed)
    values = np.array(light) * 10.0 ** rng.normal(0, noise, (100, 100, 3))
    return np.rint(np.clip(values, 0, 1) * np.iinfo(dtype).max).astype(dtype)


def test_clean_patch_gives_the_mean_light():
    patch = read_light(Scan(pixels=grey()), BOX)
    assert patch.light == pytest.approx((0.2, 0.25, 0.15), rel=2e-3)
    assert patch.flags == ()
    assert patch.counts.clipped == 0
    assert patch.counts.pixels == 6400


def test_dust_and_a_scratch_do_not_move_the_mean():
    pixels = grey()
    rng = np.random.default_rng(2)
    for _ in range(12):
        y, x = rng.integers(10, 85, 2)
        pixels[y : y + 4, x : x + 4] = 60000
    pixels[:, 40:42] = 3000
    patch = read_light(Scan(pixels=pixels), BOX)
    assert patch.light == pytest.approx((0.2, 0.25, 0.15), rel=2e-3)
    assert Flag.DUSTY in patch.flags
    assert patch.counts.dusty >= 12 * 16 * 0.7


def test_clipped_channel_is_counted_and_named():
    pixels = grey(light=(0.2, 0.999, 0.15), noise=0.02)
    patch = read_light(Scan(pixels=pixels), BOX)
    assert patch.clipped_channels == (False, True, False)
    assert Flag.CLIPPED in patch.flags
    assert patch.counts.clipped > 1000


def test_standard_error_covers_the_truth_with_correlated_grain():
    """With grain several pixels wide, pixel noise over root n is far too small; the stated error is not."""
    from scipy import ndimage

    off, naive, stated = [], [], []
    for seed in range(60):
        rng = np.random.default_rng(seed)
        grain = ndimage.gaussian_filter(rng.normal(0, 1, (100, 100)), 3)
        grain *= 0.01 / grain.std()
        pixels = np.rint(np.repeat((0.2 * 10.0**grain)[..., None], 3, axis=2) * 65535).astype(np.uint16)
        patch = read_light(Scan(pixels=pixels), BOX)
        off.append(np.log10(patch.light[1] / 0.2))
        stated.append(patch.standard_error[1])
        naive.append(patch.noise[1] / np.sqrt(6400))
    assert 0.6 < np.std(off) / np.mean(stated) < 1.5
    assert np.std(off) > 3 * np.mean(naive)


def test_slope_across_the_patch_is_flagged_and_not_taken_for_dust():
    ramp = np.linspace(0.9, 1.1, 100)[None, :, None]
    patch = read_light(Scan(pixels=(grey() * ramp).astype(np.uint16)), BOX)
    assert Flag.UNEVEN in patch.flags
    assert Flag.DUSTY not in patch.flags
    assert patch.light[0] == pytest.approx(0.2, rel=3e-3)


def test_small_patch_is_flagged():
    assert Flag.SMALL_PATCH in read_light(Scan(pixels=grey()), box_about(50, 50, 6)).flags


def test_patch_darker_than_the_wedge_is_flagged_and_less_sure():
    densities = np.linspace(0.05, 1.2, 8)
    curves = calibrate(np.tile(10.0 ** -densities[:, None], 3), grey_wedge(list(densities)))
    inside = read_patch(Scan(pixels=grey(light=(0.1, 0.1, 0.1))), BOX, curves)
    beyond = read_patch(Scan(pixels=grey(light=(0.01, 0.01, 0.01))), BOX, curves)
    assert Flag.OUTSIDE_WEDGE not in inside.flags
    assert inside.density == pytest.approx((1.0, 1.0, 1.0), abs=0.004)
    assert Flag.OUTSIDE_WEDGE in beyond.flags
    assert beyond.standard_error[1] > 0.07


def test_box_outside_and_tiny_boxes_say_what_to_do():
    scan = Scan(pixels=grey(), name="strip 7")
    with pytest.raises(ValueOutOfRange, match=r'Box \(90, 10, 120, 40\) reaches outside scan "strip 7"'):
        read_light(scan, Box(left=90, top=10, right=120, bottom=40))
    with pytest.raises(ValueOutOfRange, match="has 9 pixels; at least 16 are needed"):
        read_light(scan, box_about(50, 50, 3))
    with pytest.raises(ValueOutOfRange, match="holds no pixel"):
        Box(left=10, top=10, right=10, bottom=20)
    with pytest.raises(ValueOutOfRange, match="it must be rows x columns x 3"):
        Scan(pixels=np.zeros((4, 4), np.uint8))


@pytest.mark.parametrize("longest", [37, 50, 73, 100, 140, 400, 1000])
def test_reduced_picture_keeps_every_place_where_it_is(longest):
    """Codes rise evenly across and down: each block's mean is that of its middle."""
    y, x = np.mgrid[0:300, 0:700]
    ramp = np.stack([x, y, x + y], axis=-1).astype(np.uint16) * 40
    scan = Scan(pixels=ramp)
    light, block = scan.reduced(longest)
    rows, columns = light.shape[:2]
    assert max(rows, columns) <= longest or block == 1
    middle_x, middle_y = ((np.arange(n) + 0.5) * block - 0.5 for n in (columns, rows))
    assert np.abs(light[..., 0] * 65535 / 40 - middle_x).max() <= 0.3
    assert np.abs(light[..., 1] * 65535 / 40 - middle_y[:, None]).max() <= 0.3


def ringed(contrast, *, seed=1, grain=0.006, alike=False):
    """A grey patch of 160 x 160 pixels with rings of its own spacing in each channel (or of one), on white grain."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[0:160, 0:160]
    gap = ((x + 40.0) ** 2 + (y - 60.0) ** 2) / 60.0**2
    waves = [622, 622, 622] if alike else [622, 533, 446]
    swing = np.stack([np.cos(2 * np.pi * gap * 550 / wave) for wave in waves], axis=-1)
    log_light = -0.7 + contrast * swing + rng.normal(0, grain, swing.shape)
    return Scan(pixels=np.rint(65535 * 10.0**log_light).astype(np.uint16))


def test_rings_of_interference_are_flagged_and_their_mean_stands():
    whole = Box(left=0, top=0, right=160, bottom=160)
    for seed in range(5):
        patch = read_light(ringed(0.006, seed=seed), whole)
        assert Flag.RINGS in patch.flags
        assert np.log10(patch.light) == pytest.approx([-0.7] * 3, abs=0.001)


def test_what_swings_alike_in_all_channels_and_bare_grain_are_no_rings():
    whole = Box(left=0, top=0, right=160, bottom=160)
    for seed in range(20):
        assert Flag.RINGS not in read_light(ringed(0.0, seed=seed, grain=0.01), whole).flags
    assert Flag.RINGS not in read_light(ringed(0.006, alike=True), whole).flags
