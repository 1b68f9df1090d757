"""The mode of the memory: independent of order and start, without trace of what was removed, robust to blunders."""

from dataclasses import replace

import numpy as np
import pytest

from printed_rooms import as_exposure, as_setting, evidence_of, patch_of, printed, room_of
from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Setting
from printlore.core.memory.evidence import (
    LEAST_ALIKE,
    MOST_ALIKE,
    BathState,
    Cast,
    Evidence,
    FrameFacts,
    HeadFacts,
    Judgement,
    NegativeReading,
    Patch,
    Trial,
)
from printlore.core.memory.forecast import Conditions, forecast, look_up
from printlore.core.memory.priors import Priors, Spread
from printlore.core.memory.solve import solve
from printlore.core.paper.facts import PaperFacts
from printlore.core.paper.layers import LayerCurves
from printlore.errors import UnknownRecord, ValueOutOfRange
from printroom.room import settings_around

SAME = 1e-5
"""[log10] Two solutions of equal evidence are the same mode within this (design of the memory)."""


def conditions_of(trial):
    return Conditions(
        frame=trial.frame,
        head=trial.head,
        lot=trial.lot,
        bath=trial.bath,
        date=trial.date,
        bath_state=trial.bath_state,
    )


def log_exposures(memory, trials):
    """What the memory foretells for prints of these trials' frames again, by frame name."""
    return np.array(
        [forecast(look_up(memory, conditions_of(t)), [t.patches[0].setting]).log_exposure[0] for t in trials]
    )


@pytest.fixture(scope="module")
def record():
    return printed("steady vane", 3, 9, lots=2)


@pytest.fixture(scope="module")
def memory(record):
    return solve(record.evidence)


def shuffled(evidence, seed):
    """Equal evidence in another order; lots stay in the order received, for the first is the gauge."""
    rng = np.random.default_rng(seed)

    def mixed(mapping):
        keys = list(mapping)
        return {keys[i]: mapping[keys[i]] for i in rng.permutation(len(keys))}

    return replace(
        evidence,
        frames=mixed(evidence.frames),
        trials=tuple(evidence.trials[i] for i in rng.permutation(len(evidence.trials))),
    )


@pytest.mark.parametrize("kind", ["steady vane", "blundering", "additive times"])
@pytest.mark.parametrize("readings", [True, False])
def test_another_order_of_equal_evidence_gives_the_same_mode(kind, readings):
    evidence = printed(kind, 5, 8, readings=readings).evidence
    one, two = solve(evidence), solve(shuffled(evidence, 1))
    assert log_exposures(two, evidence.trials) == pytest.approx(log_exposures(one, evidence.trials), abs=SAME)


@pytest.mark.parametrize("readings", [True, False])
def test_a_start_from_an_earlier_solution_ends_in_the_same_mode_as_a_cold_one(readings):
    evidence = printed("steady vane", 7, 8, readings=readings).evidence
    for cut in (len(evidence.trials) - 1, len(evidence.trials) // 2, 0):
        earlier = solve(replace(evidence, trials=evidence.trials[:cut]))
        cold, warm = solve(evidence), solve(evidence, start=earlier.as_start())
        assert log_exposures(warm, evidence.trials) == pytest.approx(log_exposures(cold, evidence.trials), abs=SAME)


def test_a_removed_trial_leaves_no_trace(record):
    evidence = record.evidence
    without = replace(evidence, trials=evidence.trials[:-1])
    clean = solve(without)
    after = solve(without, start=solve(evidence).as_start())
    assert log_exposures(after, without.trials) == pytest.approx(log_exposures(clean, without.trials), abs=SAME)


def test_with_every_trial_removed_nothing_is_left_of_what_was_learned(record, memory):
    left = solve(replace(record.evidence, trials=()), start=memory.as_start()).learned
    for name in ("frame_read", "frame_blind", "run", "film", "film_read", "lot", "bath", "pace", "drift_per_root_day"):
        spread, believed = getattr(left, name), getattr(Priors(), name)
        assert (spread.common, spread.colour) == pytest.approx((believed.common, believed.colour))


def test_a_removed_trial_does_matter_while_it_is_there(record, memory):
    evidence = record.evidence
    clean = solve(replace(evidence, trials=evidence.trials[:-1]))
    moved = log_exposures(memory, evidence.trials[-1:]) - log_exposures(clean, evidence.trials[-1:])
    assert np.abs(moved).max() > 100 * SAME


def test_nothing_printed_means_the_prior_mean():
    room = room_of()
    room.add_frame("film A", "one")
    memory = solve(evidence_of(room, readings=False))
    usual = memory.evidence.heads["head"].usual
    seen = forecast(look_up(memory, Conditions(frame="one", head="head", lot="lot 1", bath="bath 1")), [usual])
    assert seen.log_exposure == pytest.approx(np.zeros((1, 3)))
    priors = Priors()
    spread = priors.base.common**2 + priors.film.common**2 + priors.frame_blind.common**2
    slope = seen.by_layer[0]
    back = np.linalg.inv(slope)
    assert (back @ seen.knowledge[0] @ back.T)[0, 1] == pytest.approx(spread, rel=0.02)


def test_more_trials_narrow_the_forecast(record):
    evidence = record.evidence
    widths = []
    for count in (1, 4, 12, 18):
        memory = solve(replace(evidence, trials=evidence.trials[:count]))
        trial = evidence.trials[-1]
        seen = forecast(look_up(memory, conditions_of(trial)), [trial.patches[0].setting])
        widths.append(float(np.trace(seen.knowledge[0])))
    assert widths == sorted(widths, reverse=True)


def one_frame(*patches, readings=False, strip=True):
    room = room_of("ideal")
    room.add_frame("film A", "one")
    evidence = evidence_of(room, readings=readings)
    if not patches:
        return evidence
    trial = Trial(name="t", frame="one", head="head", lot="lot 1", bath="bath 1", patches=patches, strip=strip)
    return replace(evidence, trials=(trial,))


CONDITIONS = Conditions(frame="one", head="head", lot="lot 1", bath="bath 1")


def error_at_usual(evidence):
    memory = solve(evidence)
    usual = evidence.heads["head"].usual
    return forecast(look_up(memory, CONDITIONS), [usual]).log_exposure[0]


def usual_of(evidence):
    return evidence.heads["head"].usual


def test_a_print_kept_by_eye_is_taken_as_about_right():
    bare = one_frame()
    half = replace(usual_of(bare), time=usual_of(bare).time / 2)
    memory = solve(one_frame(Patch(setting=half, kept=True)))
    seen = forecast(look_up(memory, CONDITIONS), [half])
    aim = np.array(memory.evidence.aim_density("one", "paper"))
    assert np.abs(seen.density[0] - aim).max() < Priors().kept_by_eye
    assert np.sqrt(np.diag(seen.knowledge[0])).max() < 0.1


def test_a_kept_print_that_was_measured_counts_by_its_measure():
    bare = one_frame()
    aim = np.array(bare.aim_density("one", "paper"))
    dark = tuple(float(v) for v in aim + 0.2)
    setting = usual_of(bare)
    both = error_at_usual(one_frame(Patch(setting=setting, density=dark, kept=True)))
    read = error_at_usual(one_frame(Patch(setting=setting, density=dark)))
    # how it was come by says a little of the curve
    assert both == pytest.approx(read, abs=1e-5)


@pytest.mark.parametrize(
    ("cast", "signs"),
    [
        (Cast.MAGENTA, (-1, 1, -1)),
        (Cast.CYAN, (1, -1, -1)),
        (Cast.YELLOW, (-1, -1, 1)),
        (Cast.RED, (-1, 1, 1)),
        (Cast.GREEN, (1, -1, 1)),
        (Cast.BLUE, (1, 1, -1)),
    ],
)
def test_a_judged_cast_moves_the_layers_that_form_it(cast, signs):
    bare = one_frame()
    judged = Patch(setting=usual_of(bare), judgement=Judgement(cast=cast, strength=20))
    error = error_at_usual(one_frame(judged))
    assert np.sign(error - error.mean()).tolist() == list(signs)


def test_a_print_judged_too_dark_has_had_too_much_exposure():
    bare = one_frame()
    for stops in (-1.0, -0.3, 0.3, 1.0):
        error = error_at_usual(one_frame(Patch(setting=usual_of(bare), judgement=Judgement(stops_too_dark=stops))))
        assert np.all(np.sign(error) == np.sign(stops))
        assert np.abs(error).max() < abs(stops) * 0.40


@pytest.mark.parametrize("stops", [-1.0, -0.5, 0.5, 1.0])
def test_what_a_sure_eye_says_of_darkness_is_believed_as_it_was_said(stops):
    """A stop too light and a stop too dark ask for as much: along the curve, though in density they differ by half."""
    bare = one_frame()
    sure = Priors(eye=Spread(common=0.005, colour=0.005), eye_share=0.001, eye_scale=0.001)
    judged = Patch(setting=usual_of(bare), judgement=Judgement(stops_too_dark=stops))
    memory = solve(one_frame(judged), sure)
    error = forecast(look_up(memory, CONDITIONS), [usual_of(bare)]).log_exposure[0]
    assert error.mean() == pytest.approx(stops * np.log10(2), rel=0.06)


def test_an_eye_is_trusted_less_than_a_reading():
    bare = one_frame()
    setting, aim = usual_of(bare), bare.aim_density("one", "paper")
    sd = []
    for patch in (Patch(setting=setting, density=aim), Patch(setting=setting, judgement=Judgement())):
        memory = solve(one_frame(patch))
        knowledge = forecast(look_up(memory, CONDITIONS), [setting]).knowledge[0]
        sd.append(float(np.sqrt(np.trace(knowledge))))
    assert sd[0] < sd[1] / 2


def test_a_clipped_black_patch_says_at_least_so_dark_and_no_more():
    bare = one_frame()
    setting = usual_of(bare)
    bound = 2.0
    low = error_at_usual(one_frame(Patch(setting=setting, density=(bound,) * 3, beyond=(True,) * 3)))
    exact = error_at_usual(one_frame(Patch(setting=setting, density=(bound,) * 3)))
    assert np.all(low > 0.1)
    # a layer with the most side absorption needs the least exposure for that density; the others draw it along
    assert np.all(low <= exact.max() + 0.02)
    assert low.mean() <= exact.mean() + 0.02
    # together with a reading that is darker still, the bound is met and adds nothing
    dark = Patch(setting=replace(setting, time=setting.time / 2), density=(1.9,) * 3)
    clipped = Patch(setting=setting, density=(1.0,) * 3, beyond=(True,) * 3)
    assert error_at_usual(one_frame(dark, clipped)) == pytest.approx(error_at_usual(one_frame(dark)), abs=1e-6)


def test_a_clipped_white_patch_says_at_most_so_dark():
    bare = one_frame()
    setting = usual_of(bare)
    error = error_at_usual(one_frame(Patch(setting=setting, density=(0.2,) * 3, beyond=(True,) * 3)))
    assert np.all(error < -0.1)


def test_two_patches_of_one_strip_share_the_noise_of_their_run():
    """Within-strip noise is common to the patches: ten patches on one strip tell little more than two."""
    bare = one_frame()
    setting, aim = usual_of(bare), bare.aim_density("one", "paper")
    priors = Priors(run=Spread(common=0.02, colour=0.01))

    def width(evidence):
        memory = solve(evidence, priors, learn_scales=False)
        seen = forecast(look_up(memory, CONDITIONS), [setting])
        back = np.linalg.inv(seen.by_layer[0])
        return float(np.sqrt(np.trace(back @ seen.knowledge[0] @ back.T) / 3))

    patch = Patch(setting=setting, density=aim)
    assert width(one_frame(*[patch] * 10)) > 0.95 * np.sqrt(priors.run.common**2 + priors.run.colour**2)


def blundered(readings, amount=0.3):
    """A record of two prints of each of eight negatives, in which one print was given much less time than logged."""
    record = printed("steady vane", 21, 8, readings=readings, prints=3)
    room, evidence = record.room, record.evidence
    guilty = evidence.trials[13]
    outcome = record.outcomes[guilty.name]
    made = replace(outcome.made, time=outcome.made.time * 10**-amount)
    exposed = room.expose_strip(outcome.frame, [made], outcome.conditions, run=outcome.run + " again")[0]
    patch = replace(patch_of(room, exposed), setting=guilty.patches[0].setting)
    trials = tuple(replace(t, patches=(patch,)) if t is guilty else t for t in evidence.trials)
    return record, replace(evidence, trials=trials), guilty.name


def trust_by_trial(memory):
    names = [memory.evidence.trials[t].name for t in memory.columns.trial]
    return dict(zip(names, memory.trust[memory.columns.cell], strict=True))


@pytest.mark.parametrize("readings", [True, False])
def test_a_mis_dialled_trial_gets_low_trust_and_does_not_poison_the_rest(readings):
    _, evidence, guilty = blundered(readings)
    memory = solve(evidence)
    trust = trust_by_trial(memory)
    assert trust.pop(guilty) < 0.01
    assert min(trust.values()) > 0.9
    rest = [t for t in evidence.trials if t.name != guilty]
    without = solve(replace(evidence, trials=tuple(rest)))
    assert np.abs(log_exposures(memory, rest) - log_exposures(without, rest)).max() < 0.003


@pytest.mark.parametrize("readings", [True, False])
def test_one_exposure_given_twice_does_not_cost_the_strip(readings):
    record = printed("steady vane", 11, 6, readings=readings)
    room, frame = record.room, record.room.add_frame("film A", "striped")
    right = room.right_setting(frame)
    asked = settings_around(right, (-0.24, -0.12, 0.0, 0.12, 0.24))
    guilty = 1
    made = [replace(e, time=2 * e.time) if i == guilty else e for i, e in enumerate(asked)]
    outcomes = room.expose_strip(frame, made, run="strip")
    patches = tuple(
        replace(patch_of(room, o), setting=replace(as_setting(o.logged), time=e.time))
        for o, e in zip(outcomes, asked, strict=True)
    )
    strip = replace(record.evidence.trials[-1], name="strip", run="strip", frame=frame, patches=patches, strip=True)
    evidence = evidence_of(room, (*record.evidence.trials, strip), readings=readings)
    memory = solve(evidence)
    mine = memory.patch_trust[memory.columns.trial == len(evidence.trials) - 1]
    assert mine[guilty] < 0.01
    assert np.delete(mine, guilty).min() > 0.9
    assert trust_by_trial(memory)["strip"] > 0.9
    without = replace(strip, patches=tuple(np.delete(np.array(patches, dtype=object), guilty)))
    sound = solve(replace(evidence, trials=(*evidence.trials[:-1], without)))
    again = replace(strip, patches=(patches[2],))
    assert np.abs(log_exposures(memory, [again]) - log_exposures(sound, [again])).max() < 0.003


def used_up(seed):
    """Two half-litres used up, twelve read negatives each, printed once or twice; and the room."""
    room, rng = room_of("ageing baths", seed), np.random.default_rng(seed)
    trials, litres, sheet = [], 0.5, 0.0516
    for bath in ("bath 1", "bath 2"):
        room.add_bath(bath)
        for number in range(24):
            name = f"{bath} {number // 2}"
            frame = room.add_frame("film A", name) if number % 2 == 0 else name
            at = room.conditions("lot 1", bath, area_per_litre=number * sheet / litres, age_days=number / 4)
            right = room.right_setting(frame, at)
            asked = replace(right, time=right.time * 10 ** rng.normal(0, 0.04), yellow=right.yellow + rng.normal(0, 4))
            outcome = room.expose_strip(frame, [asked], at, run=f"{bath} run {number}")[0]
            state = BathState(area_per_litre=at.area_per_litre, age_days=at.age_days)
            trials.append(
                Trial(
                    name=outcome.run,
                    frame=frame,
                    head="head",
                    lot="lot 1",
                    bath=bath,
                    run=outcome.run,
                    bath_state=state,
                    patches=(patch_of(room, outcome),),
                )
            )
    return room, replace(evidence_of(room, trials), baths={"bath 1": "process", "bath 2": "process"})


def test_each_bath_ages_at_its_own_pace():
    errors, alike, stated = [], [], []
    for seed in range(1, 5):
        room, evidence = used_up(seed)
        setting = evidence.trials[0].patches[0].setting
        for priors, into in ((Priors(), errors), (Priors(pace=Spread(common=1e-5, colour=1e-5)), alike)):
            memory = solve(evidence, priors)
            for bath in evidence.baths:
                moved, truth = [], []
                for area, age in ((0.0, 0.0), (2.4, 6.0)):
                    state = BathState(area_per_litre=area, age_days=age)
                    there = Conditions(frame="bath 1 0", head="head", lot="lot 1", bath=bath, bath_state=state)
                    told = forecast(look_up(memory, there), [setting])
                    moved.append(told.log_exposure[0])
                    at = room.conditions("lot 1", bath, area_per_litre=area, age_days=age)
                    truth.append(
                        room.log_exposure_for_latent("film A", room.latent_of("bath 1 0"), as_exposure(setting), at)
                    )
                into.append((moved[1] - moved[0]) - (truth[1] - truth[0]))
                if into is errors:
                    slope = told.by_layer[0]
                    stated.append(np.diag(np.linalg.solve(slope, np.linalg.solve(slope, told.knowledge[0]).T)))
    assert np.sqrt(np.mean(np.square(errors))) < 0.8 * np.sqrt(np.mean(np.square(alike)))
    assert np.mean(np.square(errors)) < 3 * np.mean(stated)


def test_of_two_prints_that_contradict_each_other_neither_is_believed_and_the_answer_is_wide():
    bare = one_frame()
    setting, aim = usual_of(bare), np.array(bare.aim_density("one", "paper"))
    trials = tuple(
        Trial(
            name=name,
            frame="one",
            head="head",
            lot="lot 1",
            bath="bath 1",
            patches=(Patch(setting=setting, density=tuple(float(v) for v in aim + off)),),
        )
        for name, off in (("light", -0.4), ("dark", 0.4))
    )
    agree = solve(replace(bare, trials=(trials[0], replace(trials[0], name="again"))))
    torn = solve(replace(bare, trials=trials))
    assert trust_by_trial(torn)["light"] < 0.5
    assert trust_by_trial(torn)["dark"] < 0.5
    sd = [float(np.sqrt(np.trace(forecast(look_up(m, CONDITIONS), [setting]).knowledge[0]))) for m in (agree, torn)]
    assert sd[1] > 5 * sd[0]


def test_the_gradient_does_not_creep_upwards_with_many_read_frames():
    record = printed("steady vane", 8, 150)
    memory = solve(record.evidence)
    prior, where = memory.layout.curves[0], memory.layout.paper[0]
    theta = prior.theta + memory.state.general[where.start + 3 : where.stop]
    slope = LayerCurves(aim=prior.aim, theta=theta).log_exposure_at(np.array(record.room.aim_density))[1]
    # of a grey, by the room's own paper; lots and baths of the room differ by 2 % in contrast
    assert slope.sum(axis=1) == pytest.approx(record.room.gradients().sum(axis=1), rel=0.06)


def test_noise_of_runs_is_learned_and_never_collapses():
    evidence = printed("steady vane", 4, 20, prints=3).evidence
    learned = solve(evidence).learned
    # drawn with 0.008 a layer, of which three quarters of the variance are common
    assert 0.005 < np.hypot(learned.run.common, learned.run.colour) < 0.012
    few = solve(replace(evidence, trials=evidence.trials[:2])).learned
    assert few.run.common > 0.5 * Priors().run.common


def scatter(memory):
    return float(np.hypot(memory.learned.run.common, memory.learned.run.colour))


def test_what_is_said_of_prints_made_alike_is_believed_until_prints_say_otherwise():
    evidence = printed("steady vane", 4, 20, prints=3).evidence
    nothing = replace(evidence, trials=())
    assert scatter(solve(replace(nothing, alike=0.02))) == pytest.approx(0.02)
    assert scatter(solve(nothing)) == pytest.approx(np.hypot(Priors().run.common, Priors().run.colour))
    few = replace(evidence, trials=evidence.trials[:6])
    unsteady, steady = (scatter(solve(replace(few, alike=said))) for said in (0.02, 0.005))
    assert unsteady > 1.5 * steady
    unsteady, steady = (scatter(solve(replace(evidence, alike=said))) for said in (0.02, 0.005))
    # counted as two runs among forty
    assert unsteady < 1.35 * steady


@pytest.mark.parametrize("said", [LEAST_ALIKE, 0.005, 0.02, MOST_ALIKE])
def test_a_wrong_word_on_prints_made_alike_makes_no_slips_of_sound_ones(said):
    memory = solve(replace(printed("steady vane", 4, 15).evidence, alike=said))
    assert memory.settled
    assert memory.trust.min() > 0.5
    assert 0.003 < scatter(memory) < 0.02


def test_what_is_said_of_prints_made_alike_keeps_its_colour():
    priors = Priors()
    told = priors.repeating(0.02).run
    assert told.common / told.colour == pytest.approx(priors.run.common / priors.run.colour)
    assert priors.repeating(None) is priors


@pytest.mark.parametrize("said", [0.0, 0.002, 0.06, -0.01, np.inf, np.nan])
def test_prints_made_alike_always_differ_a_little_and_not_too_much(record, said):
    with pytest.raises(ValueOutOfRange, match=r"Give 0\.3 to 5"):
        replace(record.evidence, alike=said)


def test_a_trial_that_names_what_the_studio_does_not_have_is_refused(record):
    evidence = record.evidence
    for change, words in (
        ({"head": "lost"}, 'names the head "lost", which the studio does not have'),
        ({"lot": "lost"}, 'names the lot "lost"'),
        ({"bath": "lost"}, 'names the bath "lost"'),
        ({"frame": "lost"}, 'names the frame "lost"'),
    ):
        with pytest.raises(UnknownRecord, match=words):
            solve(replace(evidence, trials=(replace(evidence.trials[0], **change),)))


def test_an_empty_studio_can_be_solved():
    empty = Evidence(heads={}, papers={}, lots={}, baths={}, frames={})
    assert solve(empty).steps >= 1


def test_filters_on_this_head_are_learned_from_prints():
    """In the ideal room with a head of another scale, twelve prints settle the effect of 20 M to 2 CC."""
    record = printed("steady vane", 9, 12, prints=2, spread=0.15)
    memory = solve(record.evidence)
    frame = record.evidence.trials[0].frame
    base = Setting(pack=FilterPack(magenta=50, yellow=50), time=10)
    more = replace(base, pack=FilterPack(magenta=70, yellow=50))
    seen = forecast(look_up(memory, replace(CONDITIONS, frame=frame)), [base, more]).log_exposure
    room = record.room
    latent, film, at = room.latent_of(frame), room.film_of(frame), record.outcomes[record.evidence.trials[0].name]
    truth = [
        room.log_exposure_for_latent(film, latent, as_exposure(setting), at.conditions) for setting in (base, more)
    ]
    assert seen[1] - seen[0] == pytest.approx(truth[1] - truth[0], abs=0.02)


FIRST = ((10, (0.08, 0.07, 0.06)), (20, (0.28, 0.1, 0.09)), (33, (0.83, 0.22, 0.15)), (54, (1.43, 0.34, 0.29)))
SECOND = ((11, (0.07, 0.07, 0.07)), (21, (0.3, 0.11, 0.09)), (33, (0.8, 0.21, 0.16)), (53, (1.4, 0.35, 0.32)))
NEARLY_WHITE = (
    ((100.5, 75.5), 0.0, (*FIRST, (110, (1.96, 0.62, 0.88)))),
    ((98, 73.5), 0.01, (*SECOND, (102, (1.92, 0.6, 0.86)))),
    ((18.5, 20.5), 0.02, ((20, (0.26, 0.3, 0.36)), (22, (0.34, 0.4, 0.44)))),
    ((23, 26.5), 0.03, ((27, (0.53, 0.49, 0.53)),)),
    ((22, 27.5), 0.13, ((28, (0.49, 0.49, 0.51)),)),
    ((22, 28), 0.24, ((29, (0.46, 0.48, 0.5)),)),
    ((23, 29.5), 0.34, ((31, (0.43, 0.44, 0.48)),)),
    ((23.5, 32), 0.44, ((36, (0.52, 0.53, 0.54)),)),
)
"""Pack, area per litre, times and densities of a simulated room's first negative, begun far from right on an additive
head: two strips are white in green and blue, but for what cyan dye absorbs there."""


def test_a_start_far_from_right_leads_to_no_curve_that_no_paper_has():
    """The search took whole steps to a green layer whose black is hardly darker than its grey, and beyond."""
    usual = Setting(pack=FilterPack(magenta=100, yellow=75), time=32.7)
    trials = tuple(
        Trial(
            name=f"trial {number}",
            frame="negative",
            head="head",
            lot="lot",
            bath="bath",
            bath_state=BathState(area_per_litre=area),
            patches=tuple(
                Patch(setting=replace(usual, pack=FilterPack(magenta=magenta, yellow=yellow), time=time), density=read)
                for time, read in patches
            ),
        )
        for number, ((magenta, yellow), area, patches) in enumerate(NEARLY_WHITE)
    )
    evidence = Evidence(
        heads={"head": HeadFacts(name="head", usual=usual, additive=True)},
        papers={"paper": PaperFacts(name="paper", aim_density=(0.575, 0.565, 0.558))},
        lots={"lot": "paper"},
        baths={"bath": "process"},
        frames={"negative": FrameFacts(name="negative", film="film", reading=NegativeReading(density=(2.6, 2.8, 2.3)))},
        trials=trials,
    )
    memory = solve(evidence)
    assert memory.settled
    (paper,) = memory.layout.paper
    believed = np.sqrt(np.diag(np.linalg.inv(memory.layout.precision)))[paper]
    assert np.abs(memory.state.general[paper] / believed).max() < 5
