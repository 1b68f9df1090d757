"""Kits, measuring vessels and mixing."""

import math

import numpy as np
import pytest

from printlore.core.bath.kit import WATER, Kit, Nature, Part, Use, check_order
from printlore.core.bath.measure import Measure, Vessel, best_measure
from printlore.core.bath.mixing import (
    Step,
    cost_per_litre,
    effect_of_error,
    largest_mix,
    mixing_steps,
    parts_for,
    water_advice,
)
from printlore.core.memory.model import ageing
from printlore.core.memory.priors import Priors
from printlore.errors import Refused, ValueOutOfRange


def kit(name, use, per_litre):
    return Kit(name=name, use=use, parts=tuple(Part(name=part, per_litre=per_litre) for part in "AB"))


DEVELOPER = kit("one one eight", Use.DEVELOPER, 100)
STOP = Kit(name="stop", use=Use.STOP, parts=(Part(name="acid", per_litre=20, nature=Nature.ACID),))


def test_half_a_litre_of_one_one_eight_takes_fifty_and_fifty():
    """Common practice, no source."""
    assert parts_for(DEVELOPER, 500) == {"A": 50, "B": 50}


def test_one_millilitre_of_fifty_is_harmless_and_says_why():
    effect = effect_of_error(DEVELOPER, "A", 1, 500)
    assert effect.harmless
    assert effect.relative == pytest.approx(1 / 50)
    assert "1 mL of 50 mL is 2 % of this part: harmless" in effect.why
    assert "5 %" in effect.why


def test_five_millilitres_of_fifty_are_not_harmless():
    effect = effect_of_error(DEVELOPER, "B", -5, 500)
    assert not effect.harmless
    assert effect.relative == pytest.approx(-0.1)
    assert effect.shift < 0  # weaker developer prints lighter
    assert "mix again" in effect.why


def test_what_a_mixing_error_does_is_what_the_memory_believes_of_strength():
    """A tenth more of a part moves a print as a bath of strength 1.1 does in the memory: one belief, darker."""
    effect = effect_of_error(DEVELOPER, "A", 5, 500)
    believed = ageing(np.zeros(9), Priors())
    assert effect.shift == pytest.approx(float(np.array([0.0, 0.0, 0.1]) @ believed[:, 0]))
    assert effect.shift > 0


def test_a_kit_without_water_is_poured_without_water_first():
    """Common practice, no source: parts that make the whole litre are poured together and brought to the mark."""
    whole = kit("one one", Use.BLEACH_FIX, 500)
    check_order(whole, ["A", "B", WATER])
    assert [step.what for step in mixing_steps(whole, 500)] == list(whole.order()) == ["A", "B", WATER]
    with pytest.raises(Refused, match='"B" was poured where'):
        check_order(whole, ["B"])


@pytest.mark.parametrize("volume", [100, 500, 750, 5000])
def test_steps_start_with_water_end_at_the_mark_and_add_up(volume):
    steps = mixing_steps(DEVELOPER, volume)
    assert [step.what for step in steps] == list(DEVELOPER.order())
    assert steps[0].what == WATER
    assert steps[-1].to_mark == volume
    assert sum(step.volume for step in steps) == pytest.approx(volume)


@pytest.mark.parametrize("volume", [40, 90, 300, 501, 750, 1000])
def test_the_mark_is_on_a_vessel_that_holds_it_all(volume):
    """A mark of 750 mL is on no 500 mL cylinder, though two fills of one are the more exact."""
    last = mixing_steps(DEVELOPER, volume)[-1]
    assert last.measure.capacity >= volume
    assert last.caution == ""


def test_where_no_vessel_holds_it_all_a_mark_is_made_first():
    last = mixing_steps(DEVELOPER, 5000)[-1]
    assert last.measure.capacity == 1000
    assert last.caution == "No vessel here holds it all: mark a larger one first, by 5 fills of water."


def test_error_of_a_part_is_what_many_pours_show():
    """Monte Carlo over rectangular tolerance, reading and final volume (JCGM 101)."""
    step = mixing_steps(DEVELOPER, 500)[1]
    whole = mixing_steps(DEVELOPER, 500)[-1].measure
    rng = np.random.default_rng(1)
    n = 200_000

    def pours(measure, volume):
        fills = math.ceil(volume / measure.capacity)
        tolerance = measure.tolerance(volume / fills)
        marks = fills * rng.uniform(-tolerance, tolerance, n)
        return volume + marks + rng.uniform(-measure.division / 2, measure.division / 2, (n, fills)).sum(axis=1)

    shares = pours(step.measure, 50) / pours(whole, 500)
    assert step.relative_error == pytest.approx(shares.std() / shares.mean(), rel=0.02)
    assert step.relative_error < 0.05


@pytest.mark.parametrize(
    ("measure", "volume", "tolerance"),
    [
        (Measure(vessel=Vessel.CYLINDER_A, capacity=100), 50, 0.5),
        (Measure(vessel=Vessel.CYLINDER_B, capacity=100), 50, 1.0),
        (Measure(vessel=Vessel.CYLINDER_B, capacity=1000), 500, 10.0),
        (Measure(vessel=Vessel.SYRINGE, capacity=10), 8, 0.32),
        (Measure(vessel=Vessel.SYRINGE, capacity=10), 2, 0.17),
        (Measure(vessel=Vessel.SYRINGE, capacity=2), 2, 0.1),
    ],
)
def test_tolerances_are_those_of_the_standards(measure, volume, tolerance):
    """ISO 4788 and ISO 7886-1, figures from memory."""
    assert measure.tolerance(volume) == pytest.approx(tolerance)
    assert "from memory" in measure.source


def test_the_smallest_vessel_that_fits_is_the_most_exact():
    assert best_measure(50).capacity in (60, 100)
    assert best_measure(5).capacity == 10
    assert best_measure(500).capacity == 500


def test_acid_goes_into_water():
    with pytest.raises(Refused, match="acid goes into water, never water into acid"):
        check_order(STOP, ["acid"])
    check_order(STOP, [WATER, "acid", WATER])


def test_wrong_part_order_is_refused_in_words():
    with pytest.raises(Refused, match='"B" was poured where kit "one one eight" has "A"'):
        check_order(DEVELOPER, [WATER, "B"])
    with pytest.raises(Refused, match="no part of this kit"):
        check_order(DEVELOPER, [WATER, "C"])
    with pytest.raises(Refused, match="water goes in first"):
        check_order(DEVELOPER, ["A", WATER])
    with pytest.raises(Refused, match="after the last part"):
        check_order(DEVELOPER, [WATER, "A", "B", "B"])
    check_order(DEVELOPER, [WATER, "A"])
    check_order(DEVELOPER, [])


def test_caution_stands_at_the_step_where_it_matters():
    assert "Acid into water" in mixing_steps(STOP, 500)[1].caution
    developer = Kit(name="d", use=Use.DEVELOPER, parts=(Part(name="C", per_litre=50, nature=Nature.SENSITISER),))
    assert "nitrile gloves" in mixing_steps(developer, 500)[1].caution


def test_concentrate_left_limits_the_mix_and_prices_add():
    assert largest_mix(DEVELOPER, {"A": 100, "B": 30}) == pytest.approx(300)
    assert largest_mix(DEVELOPER, {"A": 100}) == 0
    assert cost_per_litre(DEVELOPER, {"A": 20, "B": 30}) == pytest.approx(5.0)


def test_hard_water_asks_for_distilled():
    assert "deionised or distilled" in water_advice(350)
    assert "tap water will do" in water_advice(80)
    assert "not known" in water_advice(None)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: mixing_steps(DEVELOPER, -10), "-10 mL cannot be mixed"),
        (lambda: mixing_steps(DEVELOPER, 900, bottle=500), "900 mL do not go into a bottle of 500 mL"),
        (lambda: mixing_steps(DEVELOPER, math.nan), "nan mL"),
        (lambda: Part(name="A", per_litre=-5), "-5 mL per litre"),
        (lambda: Part(name="water", per_litre=5), "cannot be the name of a part"),
        (lambda: Kit(name="k", use=Use.STOP, parts=()), "has no parts"),
        (lambda: Kit(name="k", use=Use.STOP, parts=(Part(name="A", per_litre=5),) * 2), 'has part "A" twice'),
        (
            lambda: Kit(name="k", use=Use.STOP, parts=(Part(name="A", per_litre=600), Part(name="B", per_litre=600))),
            "1200 mL in 1000 mL",
        ),
        (lambda: Kit(name="k", use=Use.STOP, parts=(Part(name="A", per_litre=5),), life_days=0), "life of 0 days"),
        (lambda: Measure(vessel=Vessel.CYLINDER_A, capacity=77), "No tolerance is known"),
        (lambda: Measure(vessel=Vessel.JUG, capacity=0), "largest mark"),
        (lambda: best_measure(5, []), "there is: none"),
        (lambda: best_measure(0), "0 mL cannot be measured"),
        (lambda: effect_of_error(DEVELOPER, "Z", 1, 500), 'no part "Z"'),
        (lambda: effect_of_error(DEVELOPER, "A", -50, 500), "cannot be missing"),
        (lambda: water_advice(-1), "hardness of -1"),
        (lambda: cost_per_litre(DEVELOPER, {"A": 1}), 'Price of part "B"'),
    ],
)
def test_mixing_nonsense_is_refused_in_words(call, words):
    with pytest.raises(ValueOutOfRange, match=words):
        call()


def test_a_vessel_that_is_filled_several_times_says_how_often():
    """25 mL by a 10 mL syringe are three fillings, 10 mL are one."""
    syringe = Measure(vessel=Vessel.SYRINGE, capacity=10)
    assert Step(what="B", volume=25, measure=syringe).vessel.endswith(", 3 times")
    assert Step(what="B", volume=10, measure=syringe).vessel == str(syringe)
    assert Step(what="water", volume=290).vessel == ""
