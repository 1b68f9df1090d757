"""Wear learned from control patches; capacity; keep, top up or retire."""

import math

import numpy as np
import pytest

from printlore.core.bath.balance import Wear, Wears, trace
from printlore.core.bath.capacity import (
    HORIZON,
    Count,
    Harm,
    Work,
    as_printed,
    count_of,
    forecast,
    sentence,
    volume_needed,
)
from printlore.core.bath.choice import BathCosts, mean_age_in_loads, options, plan_steady, steady
from printlore.core.bath.learning import (
    DEPARTURES,
    SIZE,
    ControlReading,
    departures_of,
    draws,
    expected_departure,
    for_next_bath,
    learn,
    reading_from_shift,
    usual_belief,
    wears_of,
)
from printlore.core.bath.pours import SHEET_20X25, Bottle, Carry, DrumLoad, Ledger, Retired
from printlore.core.flags import Flag
from printlore.errors import Refused, ValueOutOfRange

NAN = float("nan")


def used(loads, *, gap=0.5, area=SHEET_20X25, capacity=500.0):
    events = tuple(DrumLoad(day=gap * i, area=area) for i in range(loads))
    return Ledger(day=0, volume=500, events=events, bottle=Bottle(capacity=capacity))


def work(**more):
    return Work(**{"name": "20x25", "area": SHEET_20X25, "need": volume_needed(SHEET_20X25)} | more)


def made_up(truth, ledger, rng, noise=0.004):
    """Readings at each load of a bath whose wear and slopes are ``truth`` (1, SIZE)."""
    amounts = trace(ledger, wears_of(truth), Carry())[1:]
    found = departures_of(truth, amounts)[:, :, 0]
    return [
        ControlReading(
            day=event.day,
            departures=tuple((row + rng.normal(0, noise, DEPARTURES)).tolist()),
            standard_errors=(noise,) * DEPARTURES,
        )
        for event, row in zip(ledger.events, found, strict=True)
    ]


def test_no_reading_leaves_usual_figures_and_says_so():
    belief, weights = learn(usual_belief(), used(3), [])
    assert belief.readings == 0
    assert len(weights) == 0
    assert belief.flags == (Flag.PRIOR_ONLY,)
    assert belief.wear.consumption == pytest.approx(Wear().consumption)


def test_readings_bring_the_forecast_nearer_to_the_truth():
    rng = np.random.default_rng(3)
    prior = usual_belief()
    before, after = [], []
    for _ in range(12):
        truth = draws(prior, rng, 1)
        ledger, later = used(10), used(16)
        learned, _ = learn(prior, ledger, made_up(truth, ledger, rng))
        end = departures_of(truth, trace(later, wears_of(truth), Carry())[-1:])[0, :, 0]
        for belief, errors in ((prior, before), (learned, after)):
            mean, _ = expected_departure(belief, later, later.events[-1].day)
            errors.append(mean - end)
    assert np.sqrt(np.mean(np.square(after))) < 0.35 * np.sqrt(np.mean(np.square(before)))


def test_errors_told_are_errors_made():
    """Truths drawn from the prior itself: 90 % intervals of what comes next hold about 90 % of it."""
    rng = np.random.default_rng(5)
    prior = usual_belief()
    inside = []
    for _ in range(60):
        truth = draws(prior, rng, 1)
        ledger, later = used(6), used(12)
        learned, _ = learn(prior, ledger, made_up(truth, ledger, rng, noise=0.01))
        possible = departures_of(d := draws(learned, rng, 200), trace(later, wears_of(d), Carry())[-1:])[0]
        end = departures_of(truth, trace(later, wears_of(truth), Carry())[-1:])[0, :, 0]
        low, high = np.quantile(possible, [0.05, 0.95], axis=1)
        inside.append(((low <= end) & (end <= high)).mean())
    assert 0.84 < np.mean(inside) < 0.95


def test_one_blunder_neither_poisons_nor_passes_unseen():
    rng = np.random.default_rng(1)
    truth = usual_belief().mean[None].copy()
    ledger = used(10)
    good = made_up(truth, ledger, rng, noise=0.01)
    bad = list(good)
    bad[4] = ControlReading(day=good[4].day, departures=(0.4,) * DEPARTURES, standard_errors=(0.01,) * DEPARTURES)
    clean, _ = learn(usual_belief(), ledger, good)
    hit, weights = learn(usual_belief(), ledger, bad)
    assert weights[4] < 0.4
    assert np.delete(weights, 4).min() > 0.4
    clean_end, error = expected_departure(clean, ledger, 6.0)
    hit_end, _ = expected_departure(hit, ledger, 6.0)
    assert np.all(np.abs(hit_end - clean_end) < 1.5 * error)


def test_equal_readings_in_another_order_teach_the_same():
    rng = np.random.default_rng(2)
    readings = made_up(usual_belief().mean[None], used(6), rng)
    one, _ = learn(usual_belief(), used(6), readings)
    other, _ = learn(usual_belief(), used(6), readings[::-1])
    assert one.mean == pytest.approx(other.mean, abs=1e-9)


def test_the_next_bath_starts_from_what_the_last_taught_a_little_less_sure():
    rng = np.random.default_rng(4)
    learned, _ = learn(usual_belief(), used(8), made_up(usual_belief().mean[None], used(8), rng))
    following = for_next_bath(learned)
    assert following.mean[: SIZE - DEPARTURES] == pytest.approx(learned.mean[: SIZE - DEPARTURES])
    assert not following.mean[-DEPARTURES:].any()
    assert np.all(np.diag(following.covariance)[:4] > np.diag(learned.covariance)[:4])


def test_what_prints_taught_moves_the_light_step_alone():
    reading = reading_from_shift(3.0, (-0.04, -0.03, -0.05), (0.01, 0.01, 0.01), gradient=2.0)
    assert reading.departures[3:6] == pytest.approx((-0.08, -0.06, -0.10))
    assert all(math.isnan(value) for i, value in enumerate(reading.departures) if not 3 <= i < 6)
    learned, _ = learn(usual_belief(), used(8), [reading])
    plain, _ = expected_departure(usual_belief(), used(8), 4.0)
    told, _ = expected_departure(learned, used(8), 4.0)
    seen = np.array(reading.departures[3:6])
    assert np.abs(told[3:6] - seen).mean() < 0.5 * np.abs(plain[3:6] - seen).mean()


def test_three_limits_and_the_first_of_them_counts():
    belief, rng = usual_belief(), np.random.default_rng(0)
    plain = forecast(belief, used(4), 4, work(), rng)
    assert plain.together.middle <= min(plain.volume.middle, plain.strength.middle, plain.age.middle)
    assert plain.limit == "strength"
    deep = forecast(belief, used(4), 4, work(name="drum that needs 470 mL", need=470), rng)
    assert deep.limit == "volume"
    old = forecast(belief, used(4), 4, work(), rng, life_days=4.5)
    assert old.limit == "age"
    assert old.together.high < plain.together.high


def test_what_nothing_ends_within_the_horizon_names_no_limit():
    """Scraps through fifty litres in an afternoon: neither volume, strength nor age is near."""
    large = Ledger(day=0, volume=50_000, bottle=Bottle(capacity=50_000))
    capacity = forecast(usual_belief(), large, 0, work(area=0.001, need=10, gap=0), np.random.default_rng(0))
    assert str(capacity) == "more than 80 more 20x25"
    assert capacity.limit == ""


def test_small_pieces_end_for_lack_of_volume_not_strength():
    """Common practice, no source: 40 to 50 drum runs of a half-litre in a drum that must be covered."""
    capacity = forecast(
        usual_belief(),
        used(0),
        0,
        work(name="9x13", area=0.0117, need=300, gap=0.5, a_session=10),
        np.random.default_rng(0),
    )
    assert capacity.limit == "volume"
    assert 35 <= capacity.volume.middle <= 55


def test_strength_lasts_half_to_one_square_metre_per_half_litre_with_recipes_left_alone():
    """From memory, the trade's usual range."""
    capacity = forecast(usual_belief(), used(0), 0, work(gap=1.0), np.random.default_rng(0), corrected=False)
    assert 0.5 <= capacity.strength.middle * SHEET_20X25 <= 1.0


def test_the_forecast_is_said_as_a_printer_would():
    rng = np.random.default_rng(0)
    some = forecast(usual_belief(), used(3), 3, work(), rng)
    none = forecast(usual_belief(), used(3), 3, work(name="50x60", area=0.3, need=510), rng)
    said = sentence([some, none])
    assert said.startswith(f"{some.together.middle} more 20x25 (90 %: {some.together.low} to ")
    assert said.endswith("no more 50x60 (volume).")
    assert str(Count(middle=0, low=0, high=0)) == "no more"
    assert str(Count(middle=HORIZON, low=HORIZON, high=HORIZON)) == "more than 80 more"
    assert str(count_of(np.array([6, 7, 9, 9, 9, 10, 12.0]))) == "9 more (90 %: 6 to 12)"


def test_exposure_as_foreseen_takes_away_the_mean_shift_and_some_contrast():
    departures = np.zeros((1, 12, 2))
    departures[0, 3:6] = [-0.06, -0.04]
    departures[0, 6:9] = -0.05
    printed = as_printed(departures)
    assert printed[0, 3:6].mean(axis=1) == pytest.approx(0.0)
    assert printed[0, 6] == pytest.approx([-0.04, -0.04])


def test_a_tired_bath_is_not_kept_and_a_fresh_one_is():
    rng = np.random.default_rng(0)
    assert options(usual_belief(), used(1), 1, work(), 4, rng)[0].what == "keep"
    tired = options(usual_belief(), used(40), 21, work(), 4, rng)
    assert tired[0].what != "keep"
    assert [one.cost for one in tired] == sorted(one.cost for one in tired)
    kept = next(one for one in tired if one.what == "keep")
    assert kept.changes_after == 1
    assert "After 1 load mix a fresh bath." in str(kept)


def test_a_top_up_says_how_much_in_and_out():
    found = options(usual_belief(), used(10), 6, work(), 4, np.random.default_rng(0), strengths=(1.25,))
    top = next(one for one in found if one.what == "top up" and one.bled > 1)
    assert f"take {top.bled:.0f} mL out, then add {top.added:.0f} mL mixed 25 % stronger than usual" in str(top)


def test_dear_sheets_and_cheap_chemistry_renew_sooner():
    rng = np.random.default_rng(0)
    thrifty = options(
        usual_belief(), used(9), 5, work(), 4, rng, costs=BathCosts(millilitre=1, spoiled=0.1), amounts=()
    )
    careful = options(
        usual_belief(), used(9), 5, work(), 4, rng, costs=BathCosts(millilitre=0.0001, spoiled=50, fresh=0), amounts=()
    )
    assert thrifty[0].what == "keep"
    assert thrifty[0].changes_after is None
    assert careful[0].what == "retire"


@pytest.mark.parametrize(
    ("width", "height", "low", "high"),
    [(0.203, 0.254, 50, 70), (0.28, 0.36, 100, 120), (0.40, 0.50, 150, 200), (0.50, 0.60, 250, 300)],
)
def test_volume_in_a_drum_is_what_the_trade_pours(width, height, low, high):
    """Volumes of the trade by paper size (from memory)."""
    assert low <= volume_needed(width * height, drum_minimum=0) <= high
    assert volume_needed(width * height, drum_minimum=500) == 500


@pytest.mark.parametrize(("top_up", "loads"), [(8, 62), (10, 50), (15, 33), (20, 25)])
def test_mean_age_of_a_replenished_half_litre_is_the_trades(top_up, loads):
    """Calculated: 500 mL over the top-up; 8, 10, 15, 20 mL give 62, 50, 33, 25 prints."""
    assert mean_age_in_loads(500, top_up) == pytest.approx(loads, abs=0.5)


def test_a_steady_bath_settles_where_the_balance_says():
    """Solved apart: what goes in with the top-up goes out with carry and bleed, and is used."""
    belief = usual_belief()
    exact = belief.__class__(mean=belief.mean, covariance=np.eye(SIZE) * 1e-12)
    carry = Carry(in_drum=6, in_area=0, out_drum=6, out_area=0)
    one = steady(exact, 500, work(gap=0.0, open_minutes=0.0), 20, np.random.default_rng(0), carry=carry)
    area, use = SHEET_20X25, exact.wear.consumption
    # after a load and its top-up: a = (a - use) * 500/506 * (1 - 20/500) + 20
    keep = 500 / 506 * (1 - 20 / 500)
    assert one.strength == pytest.approx((20 - area * use * keep) / (1 - keep) / 500, rel=0.01)
    assert one.area_per_litre == pytest.approx(2 * area * keep / (1 - keep), rel=0.01)
    assert one.a_square_metre == pytest.approx(20 / area)


def test_the_planner_finds_the_least_top_up_that_holds():
    best, tried = plan_steady(usual_belief(), 500, work(gap=1.0), np.random.default_rng(0), at_most=0.2)
    assert best is not None
    assert all(one.spoiled > 0.2 for one in tried if one.top_up < best.top_up)
    assert [one.spoiled for one in tried] == sorted((one.spoiled for one in tried), reverse=True)
    none, _ = plan_steady(usual_belief(), 500, work(area=1.0, need=100), np.random.default_rng(0), at_most=0.01)
    assert none is None


@pytest.mark.parametrize(
    ("call", "error", "words"),
    [
        (lambda: ControlReading(day=0, departures=(0.0,) * 5), ValueOutOfRange, "12 numbers"),
        (lambda: ControlReading(day=0, departures=(5.0,) * 12), ValueOutOfRange, "no density of a print"),
        (lambda: ControlReading(day=0, departures=(NAN,) * 12), ValueOutOfRange, "says nothing"),
        (
            lambda: learn(usual_belief(), Ledger(day=5, volume=500), [ControlReading(day=1, departures=(0.0,) * 12)]),
            ValueOutOfRange,
            "before the bath was mixed",
        ),
        (lambda: Harm(black=0), ValueOutOfRange, "limit for black is 0"),
        (lambda: work(area=0), ValueOutOfRange, "area is 0"),
        (lambda: work(a_session=0), ValueOutOfRange, "at least one load an evening"),
        (lambda: volume_needed(-1), ValueOutOfRange, "-1 m2"),
        (lambda: sentence([]), ValueOutOfRange, "at least one paper size"),
        (lambda: BathCosts(spoiled=-1), ValueOutOfRange, "cost of spoiled is -1"),
        (lambda: mean_age_in_loads(500, 0), ValueOutOfRange, "0 mL for each load"),
        (
            lambda: options(usual_belief(), used(1), 1, work(), 0, np.random.default_rng(0)),
            ValueOutOfRange,
            "No sheet is planned",
        ),
        (
            lambda: forecast(
                usual_belief(),
                Ledger(day=0, volume=500, events=(Retired(day=1),)),
                2,
                work(),
                np.random.default_rng(0),
            ),
            Refused,
            "The bath was retired",
        ),
    ],
)
def test_nonsense_is_refused_in_words(call, error, words):
    with pytest.raises(error, match=words):
        call()


def test_a_trace_of_many_equals_many_traces():
    """The vectorised balance against itself one by one."""
    parameters = draws(usual_belief(), np.random.default_rng(0), 5)
    together = trace(used(6), wears_of(parameters), Carry())
    for i in range(5):
        wears = wears_of(parameters[i : i + 1])
        assert isinstance(wears, Wears)
        assert trace(used(6), wears, Carry())[..., 0] == pytest.approx(together[..., i])
