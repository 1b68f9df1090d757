"""What the prints taught, as moves whose errors know that the layers err together."""

from dataclasses import replace

import numpy as np
import pytest

from printed_rooms import printed
from printlore.core.advice.advise import advise
from printlore.core.advice.taught import KINDS, bearings, repeats, taught
from printlore.core.advice.tolerance import Tolerance
from printlore.core.flags import Flag
from printlore.core.memory.forecast import Conditions
from printlore.core.memory.solve import solve
from printlore.core.paper.dyes import generic_paper
from printlore.errors import UnknownRecord


@pytest.fixture(scope="module")
def memory():
    return solve(printed("steady vane", 6, 8, lots=3).evidence)


def test_effects_are_those_of_the_memory_with_their_evidence(memory):
    found = taught(memory)
    names = memory.columns.names.blocks
    assert [(one.kind, one.name) for one in found] == [key for key in names if key[0] in KINDS]
    assert ("lot", "lot 1") not in names
    for one in found:
        effect = memory.state.blocks[names.index((one.kind, one.name))]
        assert one.log_exposure == pytest.approx(effect.tolist())
        assert one.magenta == pytest.approx(100 * (one.log_exposure[1] - one.log_exposure[0]))
        field = {"lot": "lot", "bath": "bath"}.get(one.kind)
        if field:
            assert set(one.trials) == {t.name for t in memory.evidence.trials if getattr(t, field) == one.name}


def test_a_learned_lot_lies_where_the_room_put_it():
    record = printed("steady vane", 6, 8, lots=3)
    truth = record.room._lots["lot 2"][0] - record.room._lots["lot 1"][0]
    (effect,) = (one for one in taught(solve(record.evidence)) if one.name == "lot 2")
    miss = np.array(effect.log_exposure) - truth
    assert np.abs(miss / np.array(effect.standard_error)).max() < 4


def test_how_well_prints_repeat_is_known_as_well_as_it_says():
    """Rooms with a run noise of 1.5 CC, the patch's own apart: within the errors stated, and these not too wide."""
    normed = []
    for seed in range(1, 11):
        found = repeats(solve(printed("noisy gel", seed, 10, prints=3).evidence))
        assert found.learned.standard_error < 0.5
        normed.append((found.learned.value - 1.5) / found.learned.standard_error)
    assert 0.4 < np.sqrt(np.mean(np.square(normed))) < 1.7


def test_before_any_print_they_repeat_as_was_said():
    evidence = replace(printed("steady vane", 6, 1).evidence, trials=(), alike=0.02)
    found = repeats(solve(evidence))
    assert found.expected == pytest.approx(2.0)
    assert found.learned.value == pytest.approx(2.0)
    assert repeats(solve(replace(evidence, alike=None))).expected == pytest.approx(1.118, abs=1e-3)


def test_that_repeats_are_a_usual_figure_is_told_until_the_printer_or_the_prints_say_more():
    record = printed("steady vane", 6, 12, prints=3)
    last = record.evidence.trials[-1]
    at = Conditions(frame=last.frame, head=last.head, lot=last.lot, bath=last.bath, date=last.date)

    def told(evidence):
        match = Tolerance(name="match", delta_e=3.0)
        asked = advise(solve(evidence), at, dyes=generic_paper("a"), tolerance=match, magnification=8.0)
        return Flag.USUAL_REPEATS in asked.flags

    young = replace(record.evidence, trials=record.evidence.trials[:6])
    assert told(young)
    assert not told(replace(young, alike=0.01))
    assert not told(record.evidence)


@pytest.mark.parametrize("readings", [True, False])
def test_the_weight_of_a_print_is_what_is_lost_without_it(readings):
    """Against the memory solved anew without each of them, spreads held; a strip weighs as one piece of paper."""
    evidence = printed("steady vane", 6, 10, readings=readings, lots=2).evidence
    memory = solve(evidence, learn_scales=False)
    found = bearings(memory, "lot", "lot 2")
    assert {name for one in found for name in one.trials} == {t.name for t in evidence.trials if t.lot == "lot 2"}
    assert [one.without for one in found] == sorted((one.without for one in found), reverse=True)
    (lot,) = (one for one in taught(memory, ("lot",)) if one.name == "lot 2")
    before = max(lot.magenta_error, lot.yellow_error)
    for one in found:
        assert one.error == pytest.approx(before, rel=1e-9)
        less = replace(evidence, trials=tuple(t for t in evidence.trials if t.name not in one.trials))
        (after,) = (x for x in taught(solve(less, learn_scales=False), ("lot",)) if x.name == "lot 2")
        lost = max(after.magenta_error, after.yellow_error)
        assert one.without == pytest.approx(lost, rel=0.02)
    # of negatives that were not read nor printed on both, a lot shows next to nothing
    assert max(one.without for one in found) > (1.01 if readings else 1.0005) * before


def test_what_was_never_learned_is_said(memory):
    for kind, name in (("lot", "lot 1"), ("lot", "none"), ("date", "head")):
        with pytest.raises(UnknownRecord, match="printlore taught"):
            bearings(memory, kind, name)


def test_the_error_of_a_move_is_that_of_the_difference_of_two_layers(memory):
    """By one solution with the contrast itself in the place of the unit vectors."""
    names = memory.columns.names.blocks
    (lot,) = (one for one in taught(memory, ("lot",)) if one.name == "lot 2")
    start = memory.layout.size + 3 * names.index(("lot", "lot 2"))
    contrast = np.zeros((1, memory.elimination.shared))
    contrast[0, start : start + 2] = -1.0, 1.0
    error = 100 * np.linalg.norm(memory.elimination.half(contrast))
    assert lot.magenta_error == pytest.approx(error, rel=1e-8)
    apart = 100 * np.hypot(lot.standard_error[0], lot.standard_error[1])
    assert lot.magenta_error < 0.95 * apart


def test_before_any_print_the_error_is_the_prior_one():
    record = printed("steady vane", 6, 8, lots=2)
    memory = solve(replace(record.evidence, lots={**record.evidence.lots, "lot 3": "paper"}))
    (unused,) = (one for one in taught(memory, ("lot",)) if not one.trials)
    assert unused.name == "lot 3"
    assert max(unused.magenta_error, unused.yellow_error) == pytest.approx(unused.prior, rel=1e-6)


def test_negatives_of_a_film_that_were_not_read_have_a_line_of_their_own():
    """What their film is known by is another thing than what readings leave open."""
    evidence = printed("steady vane", 6, 8).evidence
    name, facts = next((name, facts) for name, facts in evidence.frames.items() if facts.film == "film A")
    mixed = solve(replace(evidence, frames={**evidence.frames, name: replace(facts, reading=None)}))
    lines = {(one.name, one.negatives): one for one in taught(mixed, ("film",))}
    assert set(lines) == {("film A", "read"), ("film A", "unread"), ("film B", "")}
    read, unread = lines["film A", "read"], lines["film A", "unread"]
    assert (read.words, unread.words) == (
        "film A, of its negatives that were read",
        "film A, of its negatives that were not read",
    )
    assert unread.prior > 3 * read.prior
    of = {trial for one in bearings(mixed, "film", "film A", unread=True) for trial in one.trials}
    assert of == set(unread.trials) == {t.name for t in evidence.trials if t.frame == name}
    for kind, of_whom in (("film", "film B"), ("film", "film A unread"), ("lot", "lot 2")):
        with pytest.raises(UnknownRecord, match="by negatives that were not read where others were"):
            bearings(mixed, kind, of_whom, unread=True)
