"""The bath's mass balance."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from printlore.core.bath.balance import Wear, content_at, contents, followed_by
from printlore.core.bath.pours import (
    Bled,
    Bottle,
    Carry,
    DrumLoad,
    Gauged,
    Ledger,
    Retired,
    TopUp,
    order_events,
    weighed,
)
from printlore.errors import Refused, ValueOutOfRange

NO_WEAR = Wear(consumption=0, oxidation=0)

amounts = st.floats(0, 40, allow_nan=False)
pours = st.one_of(
    st.builds(
        lambda gap, area, water, out, minutes: (
            gap,
            lambda day: DrumLoad(day=day, area=area, water_in=water, solution_out=out, open_minutes=minutes),
        ),
        st.floats(0, 9),
        st.floats(0, 0.3),
        st.one_of(st.none(), amounts),
        st.one_of(st.none(), amounts),
        st.floats(0, 90),
    ),
    st.builds(
        lambda gap, volume, bled, strength: (
            gap,
            lambda day: TopUp(day=day, volume=volume, bled=bled, strength=strength),
        ),
        st.floats(0, 9),
        amounts,
        amounts,
        st.floats(0, 1.5),
    ),
    st.builds(lambda gap, volume: (gap, lambda day: Bled(day=day, volume=volume)), st.floats(0, 9), amounts),
    st.builds(
        lambda gap, volume: (gap, lambda day: Gauged(day=day, volume=volume)), st.floats(0, 9), st.floats(1, 990)
    ),
)


@settings(max_examples=150, deadline=None)
@given(st.lists(pours, max_size=60), st.floats(50, 900), st.booleans())
def test_nothing_is_lost_whatever_is_poured(steps, volume, no_air):
    ledger, day = Ledger(day=0, volume=volume, bottle=Bottle(capacity=1000, no_air=no_air)), 0.0
    for gap, make in steps:
        day += gap
        try:
            ledger = followed_by(ledger, make(day))
        except Refused:
            continue  # what cannot be is refused; what is left must balance
    for content in contents(ledger):
        agent = content.agent_in - content.agent_out - content.agent_used - content.agent_oxidised
        assert content.volume == pytest.approx(content.volume_in - content.volume_out, abs=1e-9)
        assert content.agent == pytest.approx(agent, abs=1e-9)
        assert content.by_products == pytest.approx(content.area - content.by_products_out, abs=1e-9)
        assert min(content.volume, content.agent, content.by_products, content.age) >= -1e-9
        content.state()


def test_six_in_and_six_out_thirty_times_leave_seven_tenths():
    """Calculated: (500 / 506) to the power 30; the trade's figure is 0.70 (0.89 and 0.79 after 10 and 20)."""
    loads = tuple(DrumLoad(day=i / 10, area=0, water_in=6, solution_out=6) for i in range(30))
    chain = contents(Ledger(day=0, volume=500, events=loads, bottle=Bottle(capacity=506)), NO_WEAR)
    for times, strength in ((10, 0.89), (20, 0.79), (30, 0.70)):
        assert chain[times].strength == pytest.approx(strength, abs=0.005)
        assert chain[times].strength == pytest.approx((500 / 506) ** times, rel=1e-12)
    assert chain[30].volume == pytest.approx(500)


def test_a_top_up_brings_strength_back_and_takes_by_products_out():
    loads = [DrumLoad(day=0, area=0.05, water_in=0, solution_out=0) for _ in range(10)]
    before = contents(Ledger(day=0, volume=500, events=tuple(loads)))[-1]
    after = contents(Ledger(day=0, volume=500, events=(*loads, TopUp(day=0, volume=100, bled=100))))[-1]
    assert after.volume == pytest.approx(500)
    assert after.strength == pytest.approx(0.8 * before.strength + 0.2)
    assert after.area_per_litre == pytest.approx(0.8 * before.area_per_litre)


def test_air_over_the_bath_ages_it_faster_and_none_does_not():
    full = content_at(Ledger(day=0, volume=500, bottle=Bottle(capacity=500)), 14)
    half = content_at(Ledger(day=0, volume=250, bottle=Bottle(capacity=500)), 14)
    collapsed = content_at(Ledger(day=0, volume=250, bottle=Bottle(capacity=500, no_air=True)), 14)
    assert full.age_days == pytest.approx(14)
    assert half.age_days == pytest.approx(14 * (1 + 5 * 0.5))
    assert half.strength < full.strength == pytest.approx(math.exp(-0.004 * 14))
    assert collapsed.strength == pytest.approx(full.strength)


def test_volume_read_off_the_bottle_corrects_without_inventing_developer():
    low = contents(Ledger(day=0, volume=500, events=(Gauged(day=0, volume=470),)), NO_WEAR)[-1]
    high = contents(
        Ledger(day=0, volume=480, events=(Gauged(day=0, volume=500),), bottle=Bottle(capacity=600)), NO_WEAR
    )[-1]
    assert (low.volume, low.strength) == (pytest.approx(470), pytest.approx(1))
    assert (high.volume, high.agent) == (pytest.approx(500), pytest.approx(480))


def test_usual_carry_is_told_from_weighed():
    events = (
        DrumLoad(day=0, area=0.05),
        DrumLoad(day=0, area=0.05, water_in=5, solution_out=7),
        DrumLoad(day=0, area=0.05, water_in=5),
    )
    assert weighed(events) == (1, 3)
    usual = contents(Ledger(day=0, volume=500, events=events[:1]))[-1]
    carry = Carry()
    assert usual.volume == pytest.approx(500 + carry.water_in(0.05) - carry.solution_out(0.05))


def test_usual_carry_of_small_pieces_empties_a_half_litre_in_the_trades_time():
    """Common practice, no source: 40 to 50 drum runs of a half-litre, then too little is left for the drum."""
    loads = tuple(DrumLoad(day=0, area=0.02) for _ in range(50))
    volumes = [content.volume for content in contents(Ledger(day=0, volume=500, events=loads))]
    assert volumes[-1] < volumes[0]
    assert 250 < volumes[45] < 350


def test_a_run_on_a_retired_bath_is_refused():
    ledger = followed_by(Ledger(day=0, volume=500), Retired(day=2))
    with pytest.raises(Refused, match="The bath was retired; a drum load on day 3 cannot follow"):
        followed_by(ledger, DrumLoad(day=3, area=0.05))
    assert len(ledger.events) == 1


def test_dates_out_of_order_are_refused_and_can_be_put_in_order():
    ledger = followed_by(Ledger(day=5, volume=500), DrumLoad(day=7, area=0.05))
    with pytest.raises(Refused, match="A drum load on day 6 is dated before what happened on day 7"):
        followed_by(ledger, DrumLoad(day=6, area=0.05))
    with pytest.raises(Refused, match="before what happened on day 5"):
        followed_by(Ledger(day=5, volume=500), DrumLoad(day=4, area=0.05))
    late, early = DrumLoad(day=7, area=0.05), DrumLoad(day=6, area=0.05)
    assert order_events([late, early]) == (early, late)


@pytest.mark.parametrize(
    ("call", "error", "words"),
    [
        (lambda: Ledger(day=0, volume=900), ValueOutOfRange, "900 mL do not go into a bottle of 500 mL"),
        (lambda: Ledger(day=0, volume=-5), ValueOutOfRange, "-5 mL cannot be"),
        (lambda: Ledger(day=0, volume=5, strength=0), ValueOutOfRange, "strength of 0"),
        (lambda: DrumLoad(day=1, area=-0.1), ValueOutOfRange, "area is -0.1"),
        (lambda: TopUp(day=1, volume=-20), ValueOutOfRange, "volume is -20"),
        (lambda: Bled(day=1, volume=math.nan), ValueOutOfRange, "volume is nan"),
        (lambda: Gauged(day=1, volume=-1), ValueOutOfRange, "volume is -1"),
        (lambda: Bottle(capacity=0), ValueOutOfRange, "bottle of 0 mL"),
        (lambda: Wear(oxidation=-1), ValueOutOfRange, "oxidation is -1"),
        (lambda: followed_by(Ledger(day=0, volume=500), TopUp(day=1, volume=400)), Refused, "bottle of 500 mL"),
        (lambda: followed_by(Ledger(day=0, volume=100), Bled(day=1, volume=150)), Refused, "only 100.0 mL are in"),
        (lambda: content_at(Ledger(day=3, volume=100), 2), ValueOutOfRange, "mixed on day 3"),
    ],
)
def test_balance_nonsense_is_refused_in_words(call, error, words):
    with pytest.raises(error, match=words):
        call()
