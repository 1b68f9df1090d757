"""Aim, look and stop limits, and finding the cause."""

import numpy as np
import pytest

from printlore.core.control.faults import (
    CAUSES,
    SOMETHING_ELSE,
    SYMPTOMS,
    TESTS,
    Place,
    by_place,
    diagnose,
    entropy,
    next_tests,
    shares,
)
from printlore.core.control.limits import (
    PUBLISHED_WHITE,
    QUANTITIES,
    USUAL_SIGMA,
    Limits,
    Verdict,
    Wedge,
    aim_from,
    judge,
    limits_of,
)
from printlore.errors import ValueOutOfRange


def wedge(light=0.70, contrast=0.75, white=0.10, black=2.2):
    return Wedge(white=(white,) * 3, light=(light,) * 3, dark=(light + contrast,) * 3, black=(black,) * 3)


GOOD = [wedge(0.70), wedge(0.71), wedge(0.69), wedge(0.70), wedge(0.70)]


def test_aim_is_the_mean_of_the_first_good_patches():
    aim = aim_from(GOOD)
    assert aim.values[1] == pytest.approx([0.70] * 3)
    assert aim.values[2] == pytest.approx([0.75] * 3)
    assert aim.readings == 5


def test_spread_starts_as_usual_and_gives_way_to_the_studios_own():
    few, many = aim_from(GOOD[:1]), aim_from([wedge(0.70 + 0.001 * (i % 2)) for i in range(200)])
    assert few.sigma == pytest.approx([USUAL_SIGMA[name] for name in QUANTITIES])
    assert many.sigma[1] < 0.2 * USUAL_SIGMA["light step"]


def test_limits_follow_the_spread_and_whites_the_published_figure():
    """Control limit of the open paper process for D-min: +0.02 (process-monitoring table)."""
    aim = aim_from(GOOD)
    limits = limits_of(aim)
    wide = aim.sigma[1] * np.sqrt(1 + 1 / 5)  # one reading about the mean of five
    assert limits.look["light step"] == pytest.approx(2.5 * wide)
    assert limits.stop["light step"] == pytest.approx(3.5 * wide)
    assert limits.stop["white"] >= PUBLISHED_WHITE == 0.02


def test_within_limits_is_good_beyond_look_is_a_warning_beyond_stop_asks_for_a_second_patch():
    aim = aim_from(GOOD)
    limits = limits_of(aim)
    assert judge([*GOOD, wedge(0.71)], aim, limits).verdict is Verdict.GOOD
    look = judge([*GOOD, wedge(0.70 - 1.1 * limits.look["light step"])], aim, limits)
    assert look.verdict is Verdict.LOOK
    assert "work may go on" in look.advice
    stop = judge([*GOOD, wedge(0.70 - 1.1 * limits.stop["light step"])], aim, limits)
    assert stop.verdict is Verdict.STOP
    assert "second control patch" in stop.advice
    assert all("filter" in one.advice for one in (look, stop))
    assert "light step, red" in str(stop.findings[0])
    assert "below the aim" in str(stop.findings[0])


def test_a_good_process_is_seldom_looked_at_and_hardly_ever_stopped():
    """Twelve lines at once, aim and spread from five readings, run noise common to the channels: by simulation."""
    rng = np.random.default_rng(8)
    looks = stops = patches = 0
    for _ in range(60):

        def patch():
            light = 0.70 + rng.normal(0, 0.02) + rng.normal(0, 0.011, 3)
            contrast = 0.75 + rng.normal(0, 0.008) + rng.normal(0, 0.012, 3)
            return Wedge(
                white=tuple(0.1 + rng.normal(0, 0.007, 3)),
                light=tuple(light),
                dark=tuple(light + contrast),
                black=tuple(2.2 + rng.normal(0, 0.011, 3)),
            )

        series = [patch() for _ in range(25)]
        aim = aim_from(series[:5])
        for last in range(6, 26):
            verdict = judge(series[:last], aim, limits_of(aim)).verdict
            patches += 1
            looks += verdict is not Verdict.GOOD
            stops += verdict is Verdict.STOP
    assert looks / patches < 0.15
    assert stops / patches < 0.01


def test_cleaner_whites_are_no_fault():
    aim = aim_from(GOOD)
    assert judge([*GOOD, *[wedge(white=0.05)] * 6], aim, limits_of(aim)).verdict is Verdict.GOOD


def test_whites_that_were_cleaner_and_are_now_at_the_aim_are_no_drift():
    """Only a rise of the whites counts: an average below the aim says nothing, whatever the newest patch reads."""
    aim = aim_from(GOOD)
    white = float(aim.values[0, 0])
    series = [*GOOD, *[wedge(white=white - 0.05)] * 8, wedge(white=white + 0.001)]
    assert judge(series, aim, limits_of(aim)).verdict is Verdict.GOOD
    risen = [*GOOD, *[wedge(white=white + away * float(aim.sigma[0])) for away in (2.6, 1.5) * 6]]
    found = judge(risen, aim, limits_of(aim)).findings
    assert any(one.quantity == "white" and "slow drift" in one.why for one in found)


def test_a_slow_drift_inside_the_limits_is_seen():
    aim = aim_from(GOOD)
    drift = [wedge(0.70 - 2.3 * float(aim.sigma[1]))] * 8
    judged = judge([*GOOD, *drift], aim, limits_of(aim))
    assert judged.verdict is Verdict.LOOK
    assert any("on one side" in finding.why for finding in judged.findings)
    sinking = [wedge(0.70 - step * float(aim.sigma[1])) for step in (1.0, 1.6, 2.2, 1.4, 2.5, 2.6, 1.3, 2.6, 2.5)]
    judged = judge([*GOOD, *sinking[:-2], wedge(0.70 - 1.2 * float(aim.sigma[1])), *sinking[-2:]], aim, limits_of(aim))
    assert judged.verdict is Verdict.LOOK


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: aim_from([]), "known to be good"),
        (lambda: judge([], aim_from(GOOD), limits_of(aim_from(GOOD))), "No control patch has been read"),
        (lambda: wedge(light=9), "no density of a print"),
        (lambda: wedge(black=0.2), "do not grow darker"),
        (lambda: Limits(look={}, stop={}), "Limits for white"),
        (
            lambda: Limits(look=dict.fromkeys(QUANTITIES, 0.2), stop=dict.fromkeys(QUANTITIES, 0.1)),
            "look not beyond stop",
        ),
    ],
)
def test_control_nonsense_is_refused_in_words(call, words):
    with pytest.raises(ValueOutOfRange, match=words):
        call()


def test_a_tenth_is_kept_for_something_else_whatever_is_seen():
    for seen in ([], ["streaks"], ["all_shift", "light_weak_blacks", "flat"], list(SYMPTOMS)[:6]):
        suspects = diagnose(seen)
        assert sum(one.probability for one in suspects) == pytest.approx(1)
        other = next(one for one in suspects if one.place is Place.ELSE)
        assert other.probability >= SOMETHING_ELSE - 1e-12


@pytest.mark.parametrize(
    ("seen", "cause"),
    [
        (["one_negative"], "the negative or its scene"),
        (["brown_blacks", "muddy"], "bleach-fix tired or short of air"),
        (["streaks"], "uneven pour or drum"),
        (["cyan_whites"], "bleach-fix in the developer"),
        (["edge_fog", "dark_grey_whites"], "stray light or fogged paper"),
        (["light_weak_blacks", "flat", "drift"], "developer tired or diluted"),
        (["blank"], "baths in the wrong order, or dead developer"),
        (["pink_whites"], "no stop or rinse before the bleach-fix"),
    ],
)
def test_typical_pictures_point_at_the_trades_first_cause(seen, cause):
    """The trade's fault table: symptom and most likely cause (common practice, no source)."""
    assert cause in [one.name for one in diagnose(seen)[:2]]


def test_the_next_test_is_the_one_that_takes_most_doubt_for_its_minutes():
    suspects = diagnose(["all_shift", "light_weak_blacks"])
    tests = next_tests(suspects)
    assert [one.bits_a_minute for one in tests] == sorted((one.bits_a_minute for one in tests), reverse=True)
    assert tests[0].test.minutes <= 3
    assert tests[0].splits[0] != tests[0].splits[1]
    assert tests[0].test.name not in [one.test.name for one in next_tests(suspects, done=(tests[0].test.name,))]


def test_expected_doubt_taken_is_what_sampling_gives():
    """Entropy by its definition, over simulated outcomes of one test."""
    suspects = diagnose(["all_shift"])
    test = next(one for one in next_tests(suspects) if one.test.name == "control patch")
    p = np.array([one.probability for one in suspects])
    chance = np.array(
        [0.3 if s.place is Place.ELSE else test.test.positive.get(s.name, test.test.otherwise) for s in suspects]
    )
    rng = np.random.default_rng(0)
    left = []
    for _ in range(4000):
        cause = rng.choice(len(p), p=p)
        likelihood = chance if rng.random() < chance[cause] else 1 - chance
        left.append(entropy(p * likelihood / (p * likelihood).sum()))
    assert test.bits == pytest.approx(entropy(p) - np.mean(left), abs=0.03)


def test_a_test_that_speaks_for_a_cause_makes_it_likelier():
    seen = ["all_shift", "light_weak_blacks"]
    cold = "developer cold or time short"

    def chance(results):
        return next(one.probability for one in diagnose(seen, results) if one.name == cold)

    assert chance({"thermometer in the drum": True}) > 2 * chance({})
    assert chance({"thermometer in the drum": False}) < 0.5 * chance({})


def test_logged_outcomes_replace_the_elicited_shares():
    names = [cause.name for cause in CAUSES]
    often = shares({"lamp or mains": 200})
    assert often[names.index("lamp or mains")] > 0.8
    assert often.sum() == pytest.approx(1)
    assert often[-1] >= SOMETHING_ELSE - 1e-12


def test_places_come_in_the_order_to_look():
    assert [place.value for place, _ in by_place(diagnose(["all_shift"]))] == [
        "light",
        "paper",
        "process",
        "viewing",
        "negative",
        "something else",
    ]


def test_every_test_and_sign_names_what_there_is():
    names = {cause.name for cause in CAUSES}
    for test in TESTS:
        assert set(test.positive) <= names, test.name
    for cause in CAUSES:
        assert set(cause.signs) <= set(SYMPTOMS), cause.name


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: diagnose(["sad"]), '"sad" is no symptom'),
        (lambda: diagnose([], {"pray": True}), '"pray" is no test'),
        (lambda: diagnose(["flat"], not_seen=["flat"]), "as seen and as not seen"),
    ],
)
def test_unknown_words_are_refused(call, words):
    with pytest.raises(ValueOutOfRange, match=words):
        call()
