"""What filters and time can mend, and what they cannot."""

import numpy as np
import pytest

from printlore.core.advice.crossover import Tone, best_compromise
from printlore.core.paper.dyes import generic_paper
from printlore.core.paper.facts import PaperFacts
from printlore.core.paper.layers import LayerCurves
from printlore.errors import ValueOutOfRange

CURVES = LayerCurves.from_facts(PaperFacts(name="paper"))
DYES = generic_paper("a")
LEVELS = {"light": -0.25, "mid": 0.0, "dark": 0.2}


def tones(error):
    """Light, mid and dark greys with errors of log exposure (red, green, blue) by name of the tone."""
    made = []
    for name, level in LEVELS.items():
        aim = CURVES.density_at(np.full(3, level))
        seen = CURVES.density_at(np.full(3, level) + np.array(error(name)))
        made.append(Tone(name=name, density=tuple(seen), aim_density=tuple(aim)))
    return made


def test_an_error_alike_in_all_tones_is_cured_by_the_pack_and_time_that_made_it():
    """0.10 log10 too much of the green layer: 10 M more (row E1: CC 10 is 0.10 log10); no crossover is left.

    What is 0.05 too much in all three is the time's: the 10 M leave the red layer alone.
    """
    found = best_compromise(tones(lambda name: (0.05, 0.15, 0.05)), CURVES, DYES)
    assert found.curable
    assert found.magenta == pytest.approx(10, abs=0.01)
    assert found.yellow == pytest.approx(0, abs=0.01)
    assert found.stops == pytest.approx(-0.05 / 0.30103, abs=1e-3)
    assert max(tone.delta_e for tone in found.tones) < 0.01
    assert found.words == "Filters and time bring every tone right."


def test_pack_and_time_together_take_away_what_every_layer_has_too_much():
    """By hand: a filter takes 0.01 of its layer for each CC; a stop gives 0.30103 to all."""
    error = (0.03, 0.12, -0.04)
    found = best_compromise(tones(lambda name: error), CURVES, DYES)
    made = 0.30103 * found.stops - np.array([0.0, found.magenta, found.yellow]) / 100
    assert made == pytest.approx([-0.03, -0.12, 0.04], abs=1e-3)


def test_opposite_casts_at_the_ends_are_said_to_be_beyond_filtration():
    shift = {"light": -0.06, "mid": 0.0, "dark": 0.06}
    found = best_compromise(tones(lambda name: (0.0, shift[name], 0.0)), CURVES, DYES)
    assert not found.curable
    assert found.crossover[0] == pytest.approx(12, abs=0.01)
    assert found.crossover[1] == pytest.approx(0, abs=0.01)
    assert "Filtration cannot cure this" in found.words
    assert "light tones stay too green and dark ones too magenta: 12 CC of magenta apart" in found.words
    light, _, dark = found.tones
    assert light.after.magenta < 0 < dark.after.magenta
    assert (light.name, dark.name) == ("light", "dark")


def test_a_print_that_is_too_soft_is_said_so_and_not_called_a_cast():
    shift = {"light": 0.1, "mid": 0.0, "dark": -0.1}
    found = best_compromise(tones(lambda name: (shift[name],) * 3), CURVES, DYES)
    assert not found.curable
    assert found.contrast_stops == pytest.approx(0.2 / 0.30103, abs=0.01)
    assert "too soft: 0.7 stops between the ends" in found.words
    assert "apart" not in found.words
    hard = best_compromise(tones(lambda name: (-shift[name],) * 3), CURVES, DYES)
    assert "too hard" in hard.words


def test_the_compromise_leaves_less_than_mending_one_tone_alone():
    shift = {"light": -0.06, "mid": 0.0, "dark": 0.06}

    def worst(weights):
        made = [
            Tone(name=t.name, density=t.density, aim_density=t.aim_density, weight=weights.get(t.name, 1.0))
            for t in tones(lambda name: (0.0, shift[name], 0.0))
        ]
        return max(tone.delta_e for tone in best_compromise(made, CURVES, DYES).tones)

    assert worst({}) < worst({"light": 1000.0})
    assert worst({}) < worst({"dark": 1000.0})


def test_a_tone_that_counts_more_is_left_nearer():
    shift = {"light": -0.06, "mid": 0.0, "dark": 0.06}
    made = tones(lambda name: (0.0, shift[name], 0.0))
    heavy = [*made[:2], Tone(name="dark", density=made[2].density, aim_density=made[2].aim_density, weight=10)]
    even, skewed = (best_compromise(t, CURVES, DYES).tones[-1].delta_e for t in (made, heavy))
    assert skewed < even


def test_one_tone_cannot_show_a_crossover():
    with pytest.raises(ValueOutOfRange, match="1 tone cannot show a crossover; read a light, a middle and a dark one"):
        best_compromise(tones(lambda name: (0, 0, 0))[:1], CURVES, DYES)


def test_densities_that_are_no_numbers_are_refused():
    with pytest.raises(ValueOutOfRange, match='Tone "sky": densities must be numbers'):
        Tone(name="sky", density=(float("nan"), 0.3, 0.3), aim_density=(0.3, 0.3, 0.3))
