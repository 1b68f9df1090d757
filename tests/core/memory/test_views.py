"""A negative that is known from one paper, printed on another: papers see it by other light."""

from dataclasses import replace
from functools import partial

import numpy as np
import pytest
from bench.published import published_paper
from bench.rooms import Desk

from printed_rooms import printed
from printlore.core.advice.pictures import pictures
from printlore.core.memory.forecast import Conditions, forecast, look_up
from printlore.core.memory.priors import Priors, Spread
from printlore.core.memory.solve import solve
from printlore.core.memory.update import update

LEVEL = np.ones(3) / 3
COLOUR = np.array([[0, 1, -1], [2, -1, -1]]) / np.sqrt([[2], [6]])


def spread_of(deviations):
    """What layers have in common and what they have not, of deviations (n, 3)."""
    level = np.mean(deviations, axis=1)
    colour = np.mean(np.sum((deviations - level[:, None]) ** 2, axis=1)) / 2
    return np.sqrt(max(np.mean(level**2) - colour / 3, 0.0)), np.sqrt(colour)


def test_the_belief_is_what_two_published_papers_do():
    """Sources: filmscan-paper-a, filmscan-paper-b: log exposures of negatives at settings that are right on one."""
    of_level, of_colour, of_light, left = [], [], [], []
    for kind, other in (("published paper A", "b"), ("published paper B", "a")):
        for seed in range(1, 5):
            desk = Desk.of(kind, seed)
            here = desk.room
            there = here.on_paper(partial(published_paper, other), 0.0)
            there.add_lot("lot")
            apart, negatives = [], []
            for job in desk.jobs(18):
                right = here.right_setting(job.frame, here.conditions("lot 1", "bath 1"))
                film, latent = here.film_of(job.frame), here.latent_of(job.frame)
                apart.append(there.light_for_latent(film, latent, right) - here.light_for_latent(film, latent, right))
                negatives.append(here.light_for_latent(film, latent, here.usual))
            apart = np.array(apart) - np.mean(apart, axis=0)
            negatives = np.array(negatives) - np.mean(negatives, axis=0)
            seen = negatives @ np.vstack([LEVEL, COLOUR]).T
            sight = np.linalg.lstsq(seen, apart, rcond=None)[0]
            of_level.append(sight[0])
            of_colour += [sight[1], sight[2]]
            left += list(apart - seen @ sight)
            # light behind the same negative, through 20 more of one filter
            more = [replace(here.usual, **{name: getattr(here.usual, name) + 20}) for name in ("magenta", "yellow")]
            here_less, there_less = (
                np.array([room.light_for_latent(film, latent, s) for s in more])
                - room.light_for_latent(film, latent, here.usual)
                for room in (here, there)
            )
            of_light += list(np.linalg.solve(here_less @ COLOUR.T, there_less - here_less))
    believed = Priors()
    for spread, found in (
        (believed.sight_level, spread_of(of_level)),
        (believed.sight_colour, spread_of(of_colour)),
        (believed.sight_light, spread_of(of_light)),
        (believed.view, spread_of(left)),
    ):
        assert spread.colour == pytest.approx(found[1], rel=0.35)
        assert spread.common == pytest.approx(found[0], rel=0.35, abs=spread.colour / 2)


@pytest.fixture(scope="module")
def record():
    """Nine negatives on one paper; the last trial again on another, a fifth of a stop denser in one layer."""
    evidence = printed("steady vane", 3, 9, lots=1).evidence
    (paper,) = evidence.papers
    lot = next(iter(evidence.lots))
    other = replace(evidence.papers[paper], name="other paper")
    last = evidence.trials[-1]
    seen = tuple(replace(p, density=(p.density[0] + 0.2, *p.density[1:])) for p in last.patches if p.density)
    again = replace(last, name="again", run="again", lot="other lot", date=last.date + 1, patches=seen)
    return replace(
        evidence,
        papers={**evidence.papers, "other paper": other},
        lots={lot: paper, "other lot": "other paper"},
        trials=(*evidence.trials, again),
    )


def on(memory, trial, lot):
    at = Conditions(frame=trial.frame, head=trial.head, lot=lot, bath=trial.bath, date=trial.date)
    return forecast(look_up(memory, at), [trial.patches[0].setting])


def test_what_another_paper_shows_of_one_negative_is_less_sure_of_the_next(record):
    memory = solve(record, learn_scales=False)
    first, last = record.trials[0], record.trials[-1]
    here = next(iter(record.lots))
    known, carried = on(memory, first, here), on(memory, first, "other lot")
    assert ("view", last.frame, "other paper") in memory.columns.names.blocks
    assert np.trace(carried.knowledge[0]) > np.trace(known.knowledge[0])
    sure = replace(memory, learned=replace(memory.learned, view=replace(memory.learned.view, common=0.0, colour=1e-6)))
    wider = carried.knowledge[0] - on(sure, first, "other lot").knowledge[0]
    slope = carried.by_layer[0]
    view = memory.learned.view
    assert wider == pytest.approx(slope @ (view.common**2 + view.colour**2 * np.eye(3)) @ slope.T, abs=1e-9)
    # the one that was printed there is known as it is there
    assert np.trace(on(memory, last, "other lot").knowledge[0]) < np.trace(carried.knowledge[0])


def test_one_more_print_on_another_paper_is_as_if_all_were_solved_together(record):
    again = record.trials[-1]
    more = tuple(
        replace(trial, name=f"again {trial.frame}", run=f"again {trial.frame}", lot="other lot", date=again.date + 1)
        for trial in {trial.frame: trial for trial in record.trials[:-1] if len(trial.patches) == 1}.values()
        if trial.frame != again.frame
    )
    whole = replace(record, trials=(*record.trials, *more))
    before = solve(replace(whole, trials=whole.trials[:-1]), learn_scales=False)
    added, solved = update(before, whole), solve(whole, learn_scales=False)
    assert added.added == 1
    assert ("view", more[-1].frame, "other paper") in added.columns.names.blocks
    for trial in (more[0], more[-1]):
        for lot in record.lots:
            one, two = on(added, trial, lot), on(solved, trial, lot)
            assert one.log_exposure == pytest.approx(two.log_exposure, abs=2e-3)


def test_an_old_page_on_another_paper_entered_later_moves_the_negatives_home(record):
    late = replace(record.trials[-1], date=record.trials[0].date - 30)
    moved = replace(record, trials=(*record.trials[:-1], late))
    before = solve(replace(record, trials=record.trials[:-1]))
    memory = update(before, moved)
    assert memory.added == 0
    (home,) = {key[2] for key in memory.columns.names.blocks if key[0] == "view"}
    assert home == next(iter(record.papers))


@pytest.mark.parametrize("what", ["another day", "another negative"])
def test_a_print_put_right_later_takes_what_only_it_had_met_along(record, what):
    """The only print of a day, or of a negative's second paper, was of another: nothing is looked for that is gone."""
    again = record.trials[-1]
    other = record.trials[0]
    put = replace(again, date=other.date) if what == "another day" else replace(again, frame=other.frame)
    right = replace(record, trials=(*record.trials[:-1], put))
    memory, whole = update(solve(record, learn_scales=False), right), solve(right, learn_scales=False)
    for trial in (other, again):
        for lot in record.lots:
            one, two = on(memory, trial, lot), on(whole, trial, lot)
            assert one.log_exposure == pytest.approx(two.log_exposure, abs=0.01)


def test_of_many_negatives_on_another_paper_the_newest_are_learned_there(record, monkeypatch):
    monkeypatch.setattr("printlore.core.memory.columns._MOST_VIEWS", 1)
    older = replace(record.trials[0], name="older", run="older", lot="other lot", date=record.trials[-1].date - 0.5)
    memory = solve(replace(record, trials=(*record.trials, older)), learn_scales=False)
    views = [key for key in memory.columns.names.blocks if key[0] == "view"]
    assert len(views) == 1
    assert on(memory, record.trials[0], "other lot").log_exposure.shape == (1, 3)


# of levels it sees nothing else: that would pass for its reciprocity
SIGHT = np.array([[0.15, -0.05, -0.10], [-0.05, 0.20, -0.15], [0.05, 0.05, -0.10]])


@pytest.fixture(scope="module")
def two_papers():
    """Sixteen negatives on one paper, all but two of them on another that sees negatives by SIGHT; their sheets on the
    first, and what the other sees of each negative more than the first."""
    memory = solve(printed("steady vane", 5, 16, lots=1).evidence)
    record = memory.evidence
    (paper,) = record.papers
    here = next(iter(record.lots))
    curves = memory.layout.curves[0]
    sheets = {trial.frame: trial for trial in record.trials if len(trial.patches) == 1}
    apart = {name: SIGHT @ on(memory, sheet, here).prediction.negative[0] for name, sheet in sheets.items()}
    again = []
    # the two that the other paper sees most apart are never printed there
    for name in sorted(sheets, key=lambda name: apart[name][0])[1:-1]:
        seen = curves.density_at(on(memory, sheets[name], here).log_exposure[0] + apart[name])
        patch = replace(sheets[name].patches[0], density=tuple(seen.tolist()))
        new = {"name": f"again {name}", "run": f"again {name}", "lot": "other lot", "date": record.trials[-1].date + 1}
        again.append(replace(sheets[name], patches=(patch,), **new))
    both = replace(
        record,
        papers={**record.papers, "other paper": replace(record.papers[paper], name="other paper")},
        lots={**record.lots, "other lot": "other paper"},
        trials=(*record.trials, *again),
    )
    return both, here, sheets, apart


def test_how_another_paper_sees_negatives_is_learned_from_some_and_foretold_of_others(two_papers):
    both, here, sheets, apart = two_papers
    learned = solve(both)
    none = Spread(common=1e-6, colour=1e-6)
    blind = solve(both, replace(Priors(), sight_level=none, sight_colour=none, sight_light=none))
    one, *_, two = sorted(sheets, key=lambda name: apart[name][0])

    def missed(memory, name):
        there, known = (on(memory, sheets[name], lot).log_exposure[0] for lot in ("other lot", here))
        return there - known - apart[name]

    def between(memory):
        return np.abs(missed(memory, one) - missed(memory, two)).max()

    assert between(learned) < 0.5 * between(blind)


def test_the_picture_of_it_is_the_papers_within_its_band(two_papers):
    both, *_ = two_papers
    (picture,) = (one for one in pictures(solve(both)) if one.kind == "sight")
    assert picture.name == "other paper"
    at = np.array(picture.at)
    for line, layer in zip(picture.lines, (1, 2), strict=False):
        truth = at * (SIGHT[layer, layer] - SIGHT[0, layer])
        assert np.array(line.values) == pytest.approx(truth, abs=3 * max(line.errors))
        assert max(line.errors) < 2.5
    magenta, yellow, light = picture.lines
    assert (magenta.name, yellow.name, light.name) == ("magenta", "yellow", "light")
    assert np.array(light.values) == pytest.approx(0, abs=3 * max(light.errors))
