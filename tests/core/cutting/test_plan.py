"""Cut plans: the published paper machine, physical limits by an independent checker, area, priorities, trade-off."""

import csv
import itertools
import re
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from cutting_checker import broken_limits
from printlore.core.cutting.drawing import plan_svg
from printlore.core.cutting.first_fit import cut_first_fit
from printlore.core.cutting.plan import plan_cuts, trade_off
from printlore.core.cutting.price import CuttingCosts, sheet_costs
from printlore.core.cutting.sections import Kind
from printlore.core.cutting.wanted import Roll, Sheets, Trimmer, Wanted
from printlore.errors import ValueOutOfRange

DATA = Path(__file__).parents[2] / "data"
TRIMMER = Trimmer(blade_length=700)


def small(count=8, **fields):
    return Wanted(name="small", along=254, across=203, count=count, **fields)


def test_paper_machine_needs_seventy_three_master_rolls():
    """Encyclopaedia example of the cutting stock problem: 5600 mm master rolls, 13 widths, optimum 73."""
    lines = (DATA / "cut1d_master_roll_5600mm.csv").read_text().splitlines()
    table = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    wanted = [
        Wanted(name=r["item_width_mm"], along=1000, across=float(r["item_width_mm"]), count=int(r["demand"]))
        for r in table
    ]
    masters = Sheets(name="master", lot="any", along=1000, across=5600, count=219)
    machine = Trimmer(blade_length=6000, shortest_stop=1)
    plan = plan_cuts(wanted, [masters], machine, settings_per_sitting=None)
    assert sum(count for sitting in plan.sittings for _, count in sitting.sections) == 73
    assert plan.gap == 0
    assert plan.short == {}
    assert broken_limits(plan, wanted, [], [masters], machine, None) == []


def test_ten_inch_cuts_of_a_twelve_inch_roll_give_one_sheet_and_one_strip_without_waste():
    """A roll 305 mm wide: each 254 mm section is one 203 x 254 and one 102 x 254 (worked by hand)."""
    plan = plan_cuts([small(5)], [Roll(name="r", lot="a", width=305, length=2000)], TRIMMER)
    assert plan.settings == 2
    assert plan.paper == pytest.approx(5 * 254 * 305)
    assert plan.area_of(Kind.WASTE) == pytest.approx(0)
    assert plan.spare == {("a", 254.0, 102.0, Kind.STRIP): 5}


def test_a_sheet_as_wide_as_the_roll_needs_one_setting():
    plan = plan_cuts(
        [Wanted(name="w", along=406, across=305, count=3)], [Roll(name="r", lot="a", width=305, length=5000)], TRIMMER
    )
    assert plan.settings == 1


def test_a_trim_that_happens_to_be_a_wanted_size_is_one():
    wanted = [small(4), Wanted(name="other", along=254, across=305, count=4)]
    plan = plan_cuts(wanted, [Roll(name="r", lot="a", width=508, length=3000)], TRIMMER)
    assert plan.settings == 2
    assert plan.area_of(Kind.WASTE) == pytest.approx(0)


def test_pieces_are_not_turned_unless_they_may_be():
    roll = Roll(name="r", lot="a", width=260, length=4000)
    kept = plan_cuts([Wanted(name="w", along=254, across=203, count=4)], [roll], TRIMMER)
    turned = plan_cuts([Wanted(name="w", along=254, across=203, count=4, may_turn=True)], [roll], TRIMMER)
    assert {p.along for s in kept.sittings for x, _ in s.sections for p in x.parts} == {254}
    assert turned.paper < kept.paper


def test_a_sheet_only_from_its_lot_is_not_cut_from_another():
    rolls = [Roll(name="r", lot="a", width=305, length=900), Roll(name="q", lot="b", width=305, length=9000)]
    plan = plan_cuts([small(5, lots=frozenset("a"))], rolls, TRIMMER)
    assert plan.made["small"] == 3
    assert plan.short == {"small": 2}


def test_when_paper_is_short_the_first_priority_is_served_first():
    roll = Roll(name="r", lot="a", width=305, length=1600)
    wanted = [small(5, priority=2), Wanted(name="first", along=356, across=279, count=3)]
    plan = plan_cuts(wanted, [roll], TRIMMER)
    assert plan.made == {"small": 2, "first": 3}
    assert broken_limits(plan, wanted, [roll], [], TRIMMER, 2) == []


def test_what_fits_no_roll_is_short_and_the_rest_is_cut():
    roll = Roll(name="r", lot="a", width=305, length=3000)
    wanted = [small(2), Wanted(name="poster", along=900, across=700, count=1)]
    plan = plan_cuts(wanted, [roll], TRIMMER)
    assert plan.made == {"small": 2, "poster": 0}
    assert plan.short == {"poster": 1}


def test_a_roll_wider_than_the_blade_is_not_used():
    plan = plan_cuts([small()], [Roll(name="r", lot="a", width=1270, length=9000)], TRIMMER)
    assert plan.sittings == ()
    assert plan.short == {"small": 8}
    assert plan.proof == "Nothing is cut."


def test_more_settings_buy_less_paper_and_each_step_is_proven():
    wanted = [
        small(40, may_turn=True),
        Wanted(name="large", along=356, across=279, count=10, may_turn=True),
        Wanted(name="strips", along=250, across=60, count=20, strip=True),
    ]
    rolls = [Roll(name="r", lot="a", width=305, length=20_000), Roll(name="q", lot="b", width=508, length=10_000)]
    plans = trade_off(wanted, rolls, TRIMMER)
    assert len(plans) >= 2
    assert [p.settings for p in plans] == sorted({p.settings for p in plans})
    assert all(a.paper > b.paper for a, b in itertools.pairwise(plans))
    assert plans[0].settings == plan_cuts(wanted, rolls, TRIMMER).settings
    assert "No plan needs fewer than 4 stop settings" in plans[0].proof


def test_news_of_better_plans_comes_while_it_searches_and_it_stops_when_asked():
    news = []
    plan = plan_cuts([small()], [Roll(name="r", lot="a", width=508, length=9000)], TRIMMER, report=news.append)
    assert news[0].settings is not None
    assert news[-1].paper == pytest.approx(plan.paper)
    stopped = plan_cuts(
        [small()], [Roll(name="r", lot="a", width=508, length=9000)], TRIMMER, stop=lambda: True, seconds=5
    )
    assert stopped.made == {"small": 8}


sides = st.sampled_from([102, 127, 203, 254, 279, 305, 356.5, 406])
wishes = st.lists(
    st.tuples(sides, sides, st.integers(1, 9), st.booleans(), st.integers(1, 2), st.booleans()), min_size=1, max_size=4
)
stocks = st.lists(
    st.tuples(st.sampled_from([203, 305, 406, 508, 610, 762]), st.integers(0, 6000), st.sampled_from("ab")),
    min_size=1,
    max_size=3,
)


@settings(max_examples=50, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(wishes, stocks, st.sampled_from([1, 2, 3]), st.sampled_from([(0, 0), (0, 5), (0.5, 0), (0.4, 6)]), st.booleans())
def test_no_plan_breaks_a_physical_limit_and_all_area_is_accounted_for(wants, stock, limit, losses, piles):
    wanted = [
        Wanted(name=f"w{i}", along=a, across=b, count=n, may_turn=turn, priority=first, strip=strip)
        for i, (a, b, n, turn, first, strip) in enumerate(wants)
    ]
    rolls = [Roll(name=f"r{i}", lot=lot, width=w, length=length) for i, (w, length, lot) in enumerate(stock)]
    sheets = [Sheets(name="s", lot="a", along=508, across=406, count=3)] if piles else []
    trimmer = Trimmer(blade_length=620, longest_stop=450, shortest_stop=30, kerf=losses[0], edge=losses[1])
    plan = plan_cuts(wanted, [*rolls, *sheets], trimmer, settings_per_sitting=limit, seconds=3)
    assert broken_limits(plan, wanted, rolls, sheets, trimmer, limit) == []
    for roll in rolls:
        cut = [(x, n) for s in plan.sittings if s.source == roll.name for x, n in s.sections]
        used = sum(x.length * n for x, n in cut)
        parts = sum(p.area * n for x, n in cut for p in x.parts if p.kind is not Kind.WASTE)
        waste = sum(x.waste * n for x, n in cut)
        assert parts + waste + (roll.length - used) * roll.width == pytest.approx(roll.length * roll.width)
        in_waste = sum(p.area * n for x, n in cut for p in x.parts if p.kind is Kind.WASTE)
        kerfs = waste - in_waste
        assert kerfs >= -1e-6
        if not trimmer.kerf:
            assert kerfs == pytest.approx(0, abs=1e-3)


@settings(max_examples=30, deadline=None)
@given(wishes, st.sampled_from([406, 508, 762]))
def test_planning_is_never_worse_than_cutting_size_by_size(wants, width):
    wanted = [Wanted(name=f"w{i}", along=a, across=b, count=n) for i, (a, b, n, *_) in enumerate(wants)]
    roll = Roll(name="r", lot="a", width=width, length=90_000)
    wide = Trimmer(blade_length=800)
    greedy = cut_first_fit(wanted, [roll], wide)
    by_settings = plan_cuts(wanted, [roll], wide, seconds=3)
    by_paper = plan_cuts(wanted, [roll], wide, settings_per_sitting=None, seconds=3)
    assert by_settings.settings <= sum(len(section.settings) for section, _ in greedy)
    assert by_paper.paper <= sum(section.area * n for section, n in greedy) + 1e-3


def brute_force_least_paper(wanted, roll, trimmer):
    """Try every number of sections of one size at a time, k per section: right where nothing is shared."""
    total = 0
    for w in wanted:
        per = int((roll.width + 0.05) // w.across)
        total += -(-w.count // per) * w.along * roll.width
    return total


def test_with_unrelated_sizes_the_least_paper_is_that_of_each_size_alone():
    roll = Roll(name="r", lot="a", width=610, length=50_000)
    wanted = [
        small(7),
        Wanted(name="b", along=301, across=281, count=5),
        Wanted(name="c", along=150, across=110, count=23),
    ]
    plan = plan_cuts(wanted, [roll], TRIMMER)
    assert plan.paper == pytest.approx(brute_force_least_paper(wanted, roll, TRIMMER))
    assert plan.settings == 6


def test_an_edge_allowance_costs_a_setting_of_its_own():
    roll = Roll(name="r", lot="a", width=305, length=9000)
    edged = Trimmer(blade_length=700, edge=5)
    assert plan_cuts([small()], [roll], edged, settings_per_sitting=2).short == {"small": 8}
    plan = plan_cuts([small()], [roll], edged, settings_per_sitting=3)
    assert plan.settings == 3
    assert broken_limits(plan, [small()], [roll], [], edged, 3) == []


def test_drawing_shows_every_section_to_one_scale():
    plan = plan_cuts([small(5)], [Roll(name="r", lot="a", width=305, length=2000)], TRIMMER)
    drawing = plan_svg(plan)
    assert "5 × 305 × 254 mm" in drawing
    assert "203 × 254" in drawing
    heights = [float(height) for height in re.findall(r'<rect [^>]* height="([0-9.]+)"', drawing)]
    assert heights[1] / heights[2] == pytest.approx(203 / 102, rel=0.01)


def test_a_pack_costs_its_paper_its_waste_and_its_minutes():
    """By hand: 5 sections of 254 x 305; half the strokes each way; the strip is free, so its paper is waste here."""
    plan = plan_cuts([small(5)], [Roll(name="r", lot="a", width=305, length=2000)], TRIMMER)
    costs = CuttingCosts(
        per_area={"r": 10.0},
        hourly=30,
        minutes_per_sitting=20,
        minutes_per_setting=2,
        seconds_per_stroke=12,
        spread=0.25,
    )
    (cost,) = sheet_costs(plan, costs)
    minutes = 20 + 2 * 2 + 10 * 12 / 60
    assert cost.paper == pytest.approx(0.254 * 0.203 * 10)
    assert cost.waste == pytest.approx(0.254 * 0.102 * 10)
    assert cost.work == pytest.approx(minutes / 60 * 30 / 5)
    assert cost.cost.value == pytest.approx(cost.paper + cost.waste + cost.work)
    assert cost.pack(5, 1.5).value == pytest.approx(5 * cost.cost.value + 1.5)
    assert cost.cost.standard_error == pytest.approx(0.25 * cost.work)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: plan_cuts([], [Roll(name="r", lot="a", width=305, length=1)], TRIMMER), "no wanted sizes"),
        (lambda: plan_cuts([small()], [], TRIMMER), "no rolls or sheets"),
        (
            lambda: plan_cuts([small(), small()], [Roll(name="r", lot="a", width=305, length=1)], TRIMMER),
            'Two wanted sizes are called "small"',
        ),
        (
            lambda: plan_cuts(
                [small()], [Roll(name="r", lot="a", width=305, length=999)], TRIMMER, settings_per_sitting=0
            ),
            "allow at least 1",
        ),
        (lambda: Wanted(name="x", along=0, across=1, count=1), "must be above 0"),
        (lambda: Wanted(name="x", along=1, across=1, count=-1), "enter 0 or more"),
        (lambda: Wanted(name="x", along=1, across=1, count=1, priority=0), "the first is 1"),
        (lambda: Roll(name="r", lot="a", width=305, length=-1), "it must be 0 or more"),
        (lambda: Sheets(name="s", lot="a", along=1, across=1, count=-2), "enter 0 or more"),
        (lambda: Trimmer(blade_length=0), "Measure the longest cut"),
        (lambda: Trimmer(blade_length=9, longest_stop=3, shortest_stop=5), "The stop reaches from 5 to 3"),
        (lambda: Trimmer(blade_length=9, kerf=-1), "The kerf is -1 mm"),
        (lambda: CuttingCosts(per_area={}, hourly=-1), "hourly is -1"),
    ],
)
def test_plans_that_cannot_be_are_refused_in_words(call, words):
    with pytest.raises(ValueOutOfRange, match=words):
        call()


def test_too_many_ways_to_cut_are_refused_with_a_way_out():
    wanted = [Wanted(name=str(i), along=100, across=30 + i, count=9) for i in range(30)]
    with pytest.raises(ValueOutOfRange, match="Allow fewer stop settings at a sitting, or plan fewer sizes"):
        plan_cuts(wanted, [Roll(name="r", lot="a", width=690, length=9000)], TRIMMER, settings_per_sitting=None)


def test_a_roll_without_price_is_asked_for():
    plan = plan_cuts([small(5)], [Roll(name="r", lot="a", width=305, length=2000)], TRIMMER)
    with pytest.raises(ValueOutOfRange, match='no price for "r"'):
        sheet_costs(plan, CuttingCosts(per_area={}, hourly=1))
    with pytest.raises(ValueOutOfRange, match="A pack of 0 sheets"):
        sheet_costs(plan, CuttingCosts(per_area={"r": 1}, hourly=1))[0].pack(0)


def test_the_checker_sees_each_limit_broken():
    """The independent check must be able to fail: the same plan against tighter limits."""
    roll = Roll(name="r", lot="a", width=305, length=2000)
    wanted = [small(5)]
    plan = plan_cuts(wanted, [roll], TRIMMER)

    def broken(roll=roll, trimmer=TRIMMER, settings=2, wanted=wanted):
        return " ".join(broken_limits(plan, wanted, [roll], [], trimmer, settings))

    assert broken() == ""
    assert "1000 long, 1270" in broken(roll=Roll(name="r", lot="a", width=305, length=1000))
    assert "outside the paper" in broken(roll=Roll(name="r", lot="a", width=300, length=2000))
    assert "does not reach across" in broken(trimmer=Trimmer(blade_length=280))
    assert "does not reach along" in broken(trimmer=Trimmer(blade_length=240))
    assert "cannot stand at 254" in broken(trimmer=Trimmer(blade_length=700, longest_stop=240))
    assert "2 stop settings" in broken(settings=1)
    assert "edge in it" in broken(trimmer=Trimmer(blade_length=700, edge=3))
    assert "said to be served" in broken(wanted=[Wanted(name="small", along=250, across=203, count=5)])
