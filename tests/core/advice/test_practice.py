"""Advice against the handbooks' arithmetic and against common practice."""

import csv
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from printed_rooms import as_exposure, evidence_of, patch_of, room_of
from printlore.core.advice.advise import advise, history
from printlore.core.flags import Flag
from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import LONGEST_TIME, Setting
from printlore.core.memory.evidence import Cast, Evidence, FrameFacts, HeadFacts, Judgement, Patch, Trial
from printlore.core.memory.forecast import Conditions
from printlore.core.memory.priors import Priors, Spread
from printlore.core.memory.solve import solve
from printlore.core.paper.dyes import generic_paper
from printlore.core.paper.facts import PaperFacts
from printlore.core.paper.layers import LayerCurves
from printlore.records.studio import Tolerances
from printlore.services.advice import TOLERANCES, tolerance_named

EDITION_MATCH, GOOD_ALONE = (tolerance_named(name, Tolerances()) for name in TOLERANCES)

ROWS = {
    row["id"]: row
    for row in csv.DictReader(
        line
        for line in (Path(__file__).parents[2] / "data/filter_pack_worked_examples.csv").read_text().splitlines()
        if not line.startswith("#")
    )
}
DYES = generic_paper("a")
CONDITIONS = Conditions(frame="one", head="head", lot="lot 1", bath="bath 1")
NOTHING = 1e-7
EXACT = replace(
    Priors(),
    dial_scale_common=NOTHING,
    dial_scale=NOTHING,
    dial_leak=0.0,
    dial_leak_sd=NOTHING,
    dial_curvature=NOTHING,
    dial_interaction=NOTHING,
    rise=NOTHING,
    stop=NOTHING,
    size=NOTHING,
    reciprocity=NOTHING,
)
"""Ideal dials: a unit is 1 CC of its own layer, and exposure is time times light."""


def start(magenta=40.0, yellow=60.0, time=10.0, f_number=5.6, magnification=8.0, cyan=0.0):
    return Setting(
        pack=FilterPack(cyan=cyan, magenta=magenta, yellow=yellow),
        time=time,
        f_number=f_number,
        magnification=magnification,
    )


def evidence(*patches, head=None, usual=None):
    facts = head or HeadFacts(
        name="head", usual=usual or start(), dial_step=0.01, timer_step=0.001, shortest=0.5, longest=200
    )
    paper = PaperFacts(name="paper")
    trials = tuple(
        Trial(name=f"print {n + 1}", frame="one", head="head", lot="lot 1", bath="bath 1", patches=(patch,), run=f"{n}")
        for n, patch in enumerate(patches)
    )
    return Evidence(
        heads={"head": facts},
        papers={"paper": paper},
        lots={"lot 1": "paper"},
        baths={"bath 1": "process"},
        frames={"one": FrameFacts(name="one", film="film")},
        trials=trials,
    )


def advice_on(evidence, priors=None, tolerance=EDITION_MATCH, magnification=8.0, **more):
    memory = solve(evidence, priors, learn_scales=False)
    return advise(memory, CONDITIONS, dyes=DYES, tolerance=tolerance, magnification=magnification, **more)


def read(setting, layers=(0.0, 0.0, 0.0)):
    """A patch whose densities show these errors in log exposure (red, green, blue), on the paper of the facts."""

    curves = LayerCurves.from_facts(PaperFacts(name="paper"))
    density = curves.density_at(np.array(layers))
    return Patch(setting=setting, density=tuple(float(v) for v in density), standard_error=1e-4)


def pack_of(advice):
    return np.array(advice.setting.pack.as_tuple())


# the handbooks' arithmetic


def test_no_history_gives_the_usual_setting():
    advice = advice_on(evidence(), EXACT)
    assert pack_of(advice) == pytest.approx((0, 40, 60), abs=0.05)
    assert advice.setting.time == pytest.approx(10.0, rel=2e-3)


@pytest.mark.parametrize(("row", "usual", "other", "factor"), [("M1", 2.0, 4.0, 2.778), ("M3", 8.0, 12.0, 2.086)])
def test_magnification_rule_falls_out(row, usual, other, factor):
    """Rows M1 and M3: m 2 to 4, time x 2.778; m 8 to 12, time x 2.086."""
    assert ROWS[row]["published_result"] == f"time x {factor}"
    advice = advice_on(evidence(usual=start(magnification=usual)), EXACT, magnification=other, f_number=5.6)
    assert advice.setting.time == pytest.approx(10 * factor, rel=1e-3)


@pytest.mark.parametrize(("row", "usual", "other", "factor"), [("A1", 8.0, 11.0, 1.8906), ("A2", 5.6, 16.0, 8.163)])
def test_exposure_ratio_of_marked_stops_falls_out(row, usual, other, factor):
    """Rows A1 and A2: by marked numbers, time x 1.89 and 8.16."""
    assert f"{factor:.2f}" in ROWS[row]["published_result"]
    advice = advice_on(evidence(usual=start(f_number=usual)), EXACT, f_number=other)
    assert advice.setting.time == pytest.approx(10 * factor, rel=1e-3)
    assert pack_of(advice) == pytest.approx((0, 40, 60), abs=0.05)


def test_ten_magenta_more_is_fifty_and_the_colour_of_one_layer():
    """Row P12's pack: 40M + 60Y and 10M more is 50M + 60Y. One layer had 0.10 log10 (row E1) too much: too magenta."""
    assert ROWS["P12"]["published_result"].startswith("50M+60Y")
    assert ROWS["E1"]["published_result"] == "0.10 log10 = 1/3 stop"
    advice = advice_on(evidence(read(start(), (0.0, 0.10, 0.0))), EXACT)
    assert pack_of(advice) == pytest.approx((0, 50, 60), abs=0.3)
    # with ideal dials magenta costs the other layers nothing, so no time; the handbook's 10 % is for real filters
    assert advice.setting.time == pytest.approx(10.0, rel=5e-3)


def test_neutral_density_never_stays_in_the_pack():
    """Row P1: 46Y + 38M + 12C is 34Y + 26M; the time falls by what the neutral took, 0.12 log10."""
    assert ROWS["P1"]["published_result"] == "34Y+26M"
    made = start(cyan=12, magenta=38, yellow=46)
    advice = advice_on(evidence(read(made)), EXACT)
    assert pack_of(advice) == pytest.approx((0, 26, 34), abs=0.3)
    assert advice.setting.time == pytest.approx(10 * 10**-0.12, rel=5e-3)


def test_a_thirty_cc_error_of_all_layers_is_one_stop():
    """Row E1: 30 CC = 1 stop (0.301)."""
    assert "30 CC = 1 stop" in ROWS["E1"]["note"]
    advice = advice_on(evidence(read(start(), (0.301, 0.301, 0.301))), EXACT)
    assert advice.setting.time == pytest.approx(5.0, rel=0.01)


# common practice, no source


def judged(cast, strength=20.0, stops=0.0, setting=None):
    return Patch(setting=setting or start(), judgement=Judgement(cast=cast, strength=strength, stops_too_dark=stops))


@pytest.mark.parametrize(
    ("cast", "less", "more"),
    [
        (Cast.MAGENTA, (), ("magenta",)),
        (Cast.YELLOW, (), ("yellow",)),
        (Cast.RED, (), ("magenta", "yellow")),
        (Cast.CYAN, ("magenta", "yellow"), ()),
        (Cast.GREEN, ("magenta",), ()),
        (Cast.BLUE, ("yellow",), ()),
    ],
)
@pytest.mark.parametrize("priors", [EXACT, None])
def test_filters_go_the_way_that_practice_says(cast, less, more, priors):
    """Common practice, no source: add the colour of the cast, or take away its complement."""
    pack = advice_on(evidence(judged(cast)), priors).setting.pack
    for name in more:
        assert getattr(pack, name) > getattr(start().pack, name) + 2
    for name in less:
        assert getattr(pack, name) < getattr(start().pack, name) - 2
    assert pack.neutral == 0


@pytest.mark.parametrize("stops", [-1.0, -0.5, 0.5, 1.0])
def test_too_dark_asks_for_less_time(stops):
    """Common practice, no source."""
    advice = advice_on(evidence(judged(Cast.NONE, 0.0, stops)))
    assert (advice.setting.time < 10) == (stops > 0)
    assert abs(math.log2(advice.setting.time / 10)) < 1.25 * abs(stops)


def test_prints_judged_on_either_side_of_neutral_give_a_pack_between():
    """Common practice, no source: 20 CC apart, one too magenta and the other too green."""
    low, high = start(magenta=30), start(magenta=50)
    advice = advice_on(evidence(judged(Cast.MAGENTA, 10, setting=low), judged(Cast.GREEN, 10, setting=high)))
    assert 33 < advice.setting.pack.magenta < 47
    assert advice.setting.pack.yellow == pytest.approx(60, abs=3)


def test_the_published_half_rule_falls_out_of_the_gradient():
    """NAVEDTRA 14209, ch. 12: half of the viewing filter; 0.33 to 0.5 by the paper's gradient at a mid grey.

    Many like judgements by an eye whose scale is known leave no doubt to hold the correction back.
    """
    sure = replace(EXACT, eye=Spread(common=0.004, colour=0.004), eye_share=0.0, eye_scale=1e-6)
    for cast, place in ((Cast.MAGENTA, 1), (Cast.YELLOW, 2)):
        advice = advice_on(evidence(*[judged(cast)] * 4), sure)
        share = (pack_of(advice)[place] - (0, 40, 60)[place]) / 20
        assert 0.33 < share < 0.5


def test_one_doubtful_look_is_corrected_less_than_a_sure_one():
    sure = replace(EXACT, eye=Spread(common=0.004, colour=0.004), eye_share=0.0, eye_scale=1e-6)
    unsure = replace(sure, eye=Spread(common=0.1, colour=0.1))
    moves = [advice_on(evidence(judged(Cast.MAGENTA)), priors).setting.pack.magenta - 40 for priors in (unsure, sure)]
    assert 0 < moves[0] < moves[1]


def test_a_print_within_the_noise_is_left_alone():
    head = replace(evidence().heads["head"], dial_step=1.0, timer_step=0.1)
    patch = replace(read(start(), (0.001, -0.001, 0.001)), standard_error=0.006)
    advice = advice_on(evidence(patch, head=head))
    assert pack_of(advice) == pytest.approx((0, 40, 60), abs=1.0)
    assert advice.setting.time == pytest.approx(10, abs=0.11)
    assert advice.next == "print"


def test_a_comfortable_stop_is_chosen_and_said():
    head = HeadFacts(name="head", usual=start(f_number=8.0))
    dark = evidence(read(start(f_number=8.0), (0.75, 0.75, 0.75)), head=head)
    advice = advice_on(dark)
    assert advice.setting.f_number > 8.0
    assert head.shortest <= advice.setting.time <= head.longest


def test_a_pack_beyond_the_end_of_a_dial_is_said():
    """By hand: 0.30 log10 too much in green and blue at 40M + 60Y wants 70M + 90Y; such dials end at 60, or do not."""
    for end, said in ((60.0, True), (200.0, False)):
        head = HeadFacts(name="head", usual=start(), dial_max=end)
        advice = advice_on(evidence(read(start(), (0.0, 0.3, 0.3)), head=head), EXACT)
        assert (Flag.DIALS_END in advice.flags) == said
        assert (advice.probability_good < 0.01) == said
        assert max(pack_of(advice)) == pytest.approx(min(90, end), abs=3)


def test_more_light_than_an_hour_gives_ends_at_the_hour_and_says_so():
    advice = advice_on(evidence(read(start(time=3000), (-1.2, -1.2, -1.2))), EXACT, f_number=16.0)
    assert advice.setting.time <= LONGEST_TIME
    assert Flag.OUTSIDE_COMFORT in advice.flags
    assert advice.probability_good < 0.01


def test_good_alone_is_easier_than_edition_match():
    patch = replace(read(start()), standard_error=0.006)
    alone, match = (advice_on(evidence(patch), tolerance=t).probability_good for t in (GOOD_ALONE, EDITION_MATCH))
    assert alone > match


def test_history_names_the_cast_of_each_patch():
    memory = solve(evidence(read(start(), (0.0, 0.10, 0.0))), EXACT, learn_scales=False)
    (seen,) = history(memory, CONDITIONS)
    assert seen.trial == "print 1"
    assert seen.cast.magenta == pytest.approx(10, abs=1)
    assert "magenta" in seen.cast.words


def test_reasons_add_up_to_the_miss_that_is_left():
    advice = advice_on(evidence(read(start(), (0.05, 0.10, -0.03))))
    change = np.sum([part.log_exposure for part in advice.reasons], axis=0)
    assert np.array(advice.new_miss) - np.array(advice.old_miss) == pytest.approx(change, abs=1e-9)
    assert np.abs(advice.new_miss).max() < 0.005


def second_nearer_than_first(seed):
    """Print at the usual setting, read a strip of three times, print as advised: by colour difference to the aim."""
    room = room_of("steady vane", 1000 + seed)
    frame = room.add_frame("film A", "one")
    bare = evidence_of(room, readings=False)
    usual = bare.heads["head"].usual
    asked = [replace(usual, time=usual.time * factor) for factor in (0.7, 1.0, 1.4)]
    outcomes = room.expose_strip(frame, [as_exposure(s) for s in asked], run="first")
    trial = Trial(
        name="strip",
        frame="one",
        head="head",
        lot="lot 1",
        bath="bath 1",
        run="first",
        patches=tuple(patch_of(room, outcome) for outcome in outcomes),
        strip=True,
    )
    memory = solve(replace(bare, trials=(trial,)))
    advice = advise(memory, CONDITIONS, dyes=DYES, tolerance=EDITION_MATCH, magnification=usual.magnification)
    second = room.expose_strip(frame, [as_exposure(advice.setting)], run="second")[0]
    return room.delta_e(second) < room.delta_e(outcomes[1])


@pytest.mark.slow
def test_the_second_sheet_is_nearer_the_aim_than_the_first_in_95_of_100_rooms():
    assert sum(second_nearer_than_first(seed) for seed in range(200)) >= 190


def test_the_second_sheet_is_nearer_the_aim_in_most_of_a_few_rooms():
    assert sum(second_nearer_than_first(seed) for seed in range(200, 220)) >= 18
