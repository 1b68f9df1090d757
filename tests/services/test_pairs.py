"""Patches read twice, kept for a paper: wet readings are refused or corrected, scanner readings learn the dyes."""

import dataclasses

import numpy as np
import pytest

from measuring_scenes import WEDGE, density_picture, scanned, strip_densities
from printlore.core.flags import Flag
from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Setting
from printlore.core.measure.pairs import Pair, PairKind
from printlore.core.memory.evidence import WET_ERROR
from printlore.errors import Refused, UnknownRecord
from printlore.records.rows import add
from printlore.records.trials import PatchReading
from printlore.services.entry import add_lot, add_paper
from printlore.services.evidence import load_evidence
from printlore.services.pairs import add_pair, bring_pair_back, learned, pairs, remove_pair, shift_words
from printlore.services.strips import read_strip
from printlore.services.trials import PatchEntry, TrialEntry, add_reading, log_trial

SETTING = Setting(pack=FilterPack(magenta=50, yellow=40), time=9)
DRY = PatchReading(density=(0.70, 0.80, 0.75))
WET = dataclasses.replace(DRY, wet=True)
DRIES_BY = Pair(read=(0.70, 0.80, 0.75), known=(0.72, 0.81, 0.78), standard_error=0.001)


@pytest.fixture
def paper(db):
    add_paper(db, "gloss")
    add_lot(db, "lot 1", paper="gloss")
    return db


def logged(db, reading):
    return log_trial(db, TrialEntry(patches=(PatchEntry(setting=SETTING, reading=reading),)))


def test_a_wet_reading_is_refused_until_the_dry_down_was_measured(paper):
    with pytest.raises(Refused, match=r'how "gloss" dries down was never measured\. Dry it and read it again'):
        logged(paper, WET)
    trial = logged(paper, DRY)
    with pytest.raises(Refused, match="never measured"):
        add_reading(paper, trial.name, WET)
    assert load_evidence(paper).trials[0].patches[0].density == DRY.density


def test_a_wet_reading_is_corrected_by_the_papers_own_dry_down_and_says_so(paper):
    add_pair(paper, PairKind.DRY_DOWN, DRIES_BY)
    reading = logged(paper, WET).patches[0].readings[0]
    assert reading.density == pytest.approx((0.72, 0.81, 0.78), abs=0.002)
    assert DRY.standard_error < reading.standard_error < 0.01
    assert reading.flags == (Flag.DRIED,)
    assert not reading.wet
    assert reading.as_entered == "read wet: 0.700 0.800 0.750"
    (trial,) = load_evidence(paper).trials
    assert trial.patches[0].standard_error == reading.standard_error
    assert logged(paper, DRY).patches[0].readings[0].density == DRY.density


def test_far_from_the_pair_the_correction_is_less_sure(paper):
    add_pair(paper, PairKind.DRY_DOWN, DRIES_BY)
    near = logged(paper, WET).patches[0].readings[0].standard_error
    far = logged(paper, dataclasses.replace(WET, density=(1.7, 1.8, 1.75))).patches[0].readings[0].standard_error
    assert far > 3 * near


def test_another_papers_dry_down_does_not_count(paper):
    add_paper(paper, "matt")
    add_pair(paper, PairKind.DRY_DOWN, DRIES_BY, paper="matt")
    with pytest.raises(Refused, match="gloss"):
        logged(paper, WET)


def test_a_pair_taken_back_no_longer_counts(paper):
    record = add_pair(paper, PairKind.DRY_DOWN, DRIES_BY)
    assert [one.pair for one in pairs(paper)] == [DRIES_BY]
    remove_pair(paper, record.id)
    assert [(one.id, one.removed) for one in pairs(paper)] == [(record.id, True)]
    with pytest.raises(Refused):
        logged(paper, WET)
    with pytest.raises(UnknownRecord, match="No pair of readings has the number 99"):
        remove_pair(paper, 99)
    with pytest.raises(Refused, match=f"Pair {record.id} was taken back before"):
        remove_pair(paper, record.id)


def test_a_pair_brought_back_corrects_as_if_it_had_never_been_away(paper):
    record = add_pair(paper, PairKind.DRY_DOWN, DRIES_BY)
    before = learned(paper, PairKind.DRY_DOWN)
    remove_pair(paper, record.id)
    assert learned(paper, PairKind.DRY_DOWN) != before
    assert bring_pair_back(paper, record.id).pair == DRIES_BY
    assert learned(paper, PairKind.DRY_DOWN) == before
    with pytest.raises(Refused, match=f"Pair {record.id} was not taken back"):
        bring_pair_back(paper, record.id)


def test_what_was_recorded_wet_before_counts_with_a_wider_error(paper):
    exposure = logged(paper, DRY).patches[0].exposure
    with paper.transaction() as conn:
        add(conn, dataclasses.replace(WET, exposure_id=exposure.id))
    assert load_evidence(paper).trials[0].patches[0].standard_error == WET_ERROR


def test_a_pair_needs_a_paper(db):
    with pytest.raises(UnknownRecord, match="no paper yet"):
        add_pair(db, PairKind.DYES, DRIES_BY)


def test_pairs_of_one_scanner_say_nothing_of_another(paper):
    add_pair(paper, PairKind.DYES, DRIES_BY, scanner="flatbed")
    assert len(learned(paper, PairKind.DYES).pairs) == 1
    assert learned(paper, PairKind.DYES, scanner="camera").pairs == ()
    assert learned(paper, PairKind.DYES, lot="lot 1", scanner="flatbed").pairs == (DRIES_BY,)


def test_a_strip_is_read_by_the_known_patches_and_the_doubt_about_dyes_goes(paper):
    scan = scanned(density_picture(strip_densities(4)))
    before = read_strip(scan, WEDGE)
    assert Flag.OTHER_DYES in before.flags
    assert min(before.steps[1].shared_error) > 0.02
    read = before.steps[1].density
    known = tuple(d + move for d, move in zip(read, (0.02, -0.015, 0.03), strict=True))
    add_pair(paper, PairKind.DYES, Pair(read=read, known=known, standard_error=0.003))
    after = read_strip(scan, WEDGE, dyes=learned(paper, PairKind.DYES))
    assert Flag.OTHER_DYES not in after.flags
    assert after.steps[1].density == pytest.approx(known, abs=0.002)
    assert max(after.steps[1].shared_error) < 0.01
    moved = np.array(after.steps[2].density) - np.array(before.steps[2].density)
    assert moved == pytest.approx((0.02, -0.015, 0.03), abs=0.01)


def test_words_say_what_the_pairs_come_to(paper):
    assert "wet readings are refused" in shift_words(learned(paper, PairKind.DRY_DOWN))
    assert "off alike, ± 0.028 at mid-grey" in shift_words(learned(paper, PairKind.DYES))
    add_pair(paper, PairKind.DRY_DOWN, DRIES_BY)
    assert "By 1 known patch, a mid-grey dries by +0.01" in shift_words(learned(paper, PairKind.DRY_DOWN))
