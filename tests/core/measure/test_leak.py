"""The light that leaked: single dyes are told from several layers, with the doubt that published dyes leave."""

import numpy as np
import pytest

from printlore.core.colour.tables import read_table
from printlore.core.measure.leak import (
    LEAST_CHANCE,
    SIDES,
    SIDES_UNSURE,
    TOE,
    TOE_RISE,
    LeakLight,
    chances,
    light_of,
    toe,
    toe_inverse,
)
from printlore.core.paper.dyes import generic_paper
from printlore.errors import ValueOutOfRange


@pytest.mark.parametrize(
    ("peak", "light"),
    [
        ((0.2, 0.03, 0.01), LeakLight.RED),
        ((0.01, 0.2, 0.03), LeakLight.GREEN),
        ((0.004, 0.03, 0.2), LeakLight.BLUE),
        ((0.04, 0.15, 0.2), LeakLight.WHITE),
        ((0.2, 0.2, 0.2), LeakLight.WHITE),
        ((0.2, 0.08, 0.03), LeakLight.WHITE),
        ((0.12, 0.2, 0.02), LeakLight.WHITE),
        ((0.02, 0.12, 0.2), LeakLight.WHITE),
    ],
)
def test_the_leaking_light_is_the_complement_of_the_fog(peak, light):
    """Red light makes cyan dye, green magenta, blue yellow: the paper's three layers (handbook physics)."""
    assert light_of(peak)[0] is light


@pytest.mark.parametrize("which", ["a", "b"])
def test_side_absorptions_agree_with_the_published_dyes(which):
    """filmscan-paper-a and -b, seen by scanners in the middle of the ranges that the module states: within one sd."""
    paper = generic_paper(which)
    channels = np.stack(
        [np.exp(-0.5 * ((paper.wavelength - peak) / 18) ** 2) for peak in (620.0, 535.0, 455.0)], axis=1
    )
    channels /= channels.sum(axis=0)

    def density(dye):
        return -np.log10((paper.surface + (1 - paper.surface) * 10.0 ** -(paper.base + paper.dyes @ dye)) @ channels)

    seen = np.stack([density(0.1 * unit) - density(np.zeros(3)) for unit in np.eye(3)], axis=1)
    off = np.abs(seen / np.diag(seen) - SIDES)[~np.eye(3, dtype=bool)]
    assert (off <= SIDES_UNSURE[~np.eye(3, dtype=bool)]).all()


def test_the_toe_follows_the_published_curves():
    """Log exposure from one dye amount to the next at the foot of paper A's curves, within 0.02 (filmscan-paper-a)."""
    table = read_table("printlore.core.paper", "paper_a_curves.csv")
    dyes = generic_paper("a").dyes_from_density(np.stack([table[name] for name in ("red", "green", "blue")], axis=1))
    dyes = dyes - np.median(dyes[table["log_exposure"] < -2.3], axis=0)
    for layer in range(3):
        rising = slice(0, int(np.argmax(dyes[:, layer])))
        for low, high in ((0.02, 0.03), (0.03, 0.1), (0.1, 0.2), (0.2, 0.4)):
            published = np.diff(np.interp((low, high), dyes[rising, layer], table["log_exposure"][rising]))[0]
            ours = TOE * (toe_inverse(high / TOE_RISE) - toe_inverse(low / TOE_RISE))
            assert ours == pytest.approx(published, abs=0.02)
    assert float(toe(toe_inverse(0.3))) == pytest.approx(0.3)


def test_lag_of_the_second_layer_in_white_light_is_within_what_is_assumed():
    """Sensitivities of paper A (filmscan-paper-a) under black bodies of 2000 to 6500 K; blackbody law by hand."""
    table = read_table("printlore.core.paper", "paper_a_sensitivity.csv")
    wavelength = table["wavelength_nm"]
    layers = np.stack([np.nan_to_num(10.0 ** table[f"{dye}_layer"]) for dye in ("cyan", "magenta", "yellow")], axis=1)
    lags = []
    for kelvin in (2000, 2856, 4000, 5000, 6500):
        power = wavelength**-5 / np.expm1(1.4388e7 / (wavelength * kelvin))
        exposure = np.sort(np.log10(power @ layers))
        lags.append(exposure[2] - exposure[1])
    assert min(lags) == pytest.approx(0.04, abs=0.02)
    assert max(lags) == pytest.approx(0.6, abs=0.02)


def test_a_worse_reading_leaves_more_doubt():
    sure = chances((0.05, 0.018, 0.008), 1e-7 * np.eye(3))
    doubtful = chances((0.05, 0.018, 0.008), 3e-5 * np.eye(3))
    assert sum(sure.values()) == pytest.approx(1)
    assert sure[LeakLight.WHITE] > 0.95
    assert doubtful[LeakLight.RED] > sure[LeakLight.RED] + 0.1


def test_an_error_common_to_all_densities_does_not_hide_a_second_layer():
    """What the scanner's uneven light leaves open moves the densities together, so their differences still tell."""
    together = 1e-5 * np.ones((3, 3)) + 1e-8 * np.eye(3)
    apart = 1e-5 * np.eye(3)
    peak = (0.03, 0.0135, 0.004)
    assert chances(peak, together)[LeakLight.WHITE] > chances(peak, apart)[LeakLight.WHITE]


def test_the_other_light_is_named_only_if_it_may_be():
    clear, other = light_of((0.2, 0.16, 0.14))
    assert (clear, other) == (LeakLight.WHITE, None)
    first, other = light_of((0.2, 0.055, 0.022))
    assert {first, other} == {LeakLight.RED, LeakLight.WHITE}
    weights = chances((0.2, 0.055, 0.022))
    assert weights[first] >= weights[other] > LEAST_CHANCE


def test_no_fog_has_no_light():
    with pytest.raises(ValueOutOfRange, match="no fog whose colour"):
        light_of((0.0, 0.0, 0.0))
