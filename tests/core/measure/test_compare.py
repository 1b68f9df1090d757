"""Two prints side by side: their shift in exposure is found, equal prints are called the same, defects stand apart."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from printlore.core.measure.compare import (
    DefectKind,
    Likeness,
    OwnPaper,
    compare,
    equal_prints_probability,
    shift_words,
)
from printlore.core.measure.scan import Scan
from printlore.core.measure.scanner import Wedge
from printlore.core.measure.strip import find_paper
from printlore.core.measure.wedge import read_wedge
from printlore.core.paper.facts import PaperFacts
from printlore.core.paper.layers import LayerCurves
from printroom.room import Room
from printroom.scans import Faults, Scanner
from printroom.scenes import harbour

STEPS = tuple(float(d) for d in np.arange(0.05, 2.3, 0.15).round(2))


class Prints:
    """Sheets of one frame in a simulated room, scanned."""

    def __init__(self, seed):
        self.room = room = Room(seed)
        room.add_film("film")
        room.add_lot("lot")
        room.add_bath("bath")
        frame = room.add_frame("film")
        right = room.right_setting(frame)
        self.outcome = room.expose(frame, cyan=right.cyan, magenta=right.magenta, yellow=right.yellow, time=right.time)
        # What the memory learns of a paper's gradient; here told by the room.
        gradient = tuple(float(g) for g in np.diag(room.gradients()))
        self.paper = OwnPaper(
            name="paper", curves=LayerCurves.from_facts(PaperFacts(name="paper", gradient=gradient)), doubt=0.05
        )
        self.scanner, self.scene = Scanner(room, seed=seed), harbour(300, 420, seed)
        self.first = self.scan((0, 0, 0), 1)

    def scan(self, more, number, *, dust=10):
        """A sheet of more layer exposure (3,) [log10], scanned; and the scanner's curves by its wedge."""
        outcome = replace(self.outcome, log_exposure=self.outcome.log_exposure + np.array(more))
        faults = Faults(rotation=0.4 - 0.3 * number, dust=dust, scratches=0)
        sheet = self.scanner.sheet(outcome, self.scene, faults=faults, wedge=STEPS, scan=number)
        scan = Scan(pixels=sheet.pixels, name=f"print {number}")
        wedge = Wedge(densities=tuple(tuple(float(d) for d in step.density) for step in sheet.wedge))
        return scan, read_wedge(scan, wedge)

    @cache  # noqa: B019  (one room for the whole module)
    def compared(self, more, number=2):
        first, report = self.first
        second, other = self.scan(more, number)
        within = find_paper(first, report.boxes)
        return compare(first, second, (report.curves, other.curves), within=within, paper=self.paper)


@pytest.fixture(scope="module")
def prints():
    return Prints(0)


@pytest.mark.parametrize("more", [(0, 0.02, 0), (0, 0, 0.02), (0.02, 0, 0), (0.03, 0.03, 0.03), (0, -0.02, 0)], ids=str)
def test_a_shift_of_2_cc_is_found_within_half_a_cc(prints, more):
    shift = prints.compared(more).overall
    cast = 100 * (np.array(more) - np.mean(more))
    assert np.array([shift.cyan, shift.magenta, shift.yellow]) == pytest.approx(cast, abs=0.5)
    assert shift.stops == pytest.approx(np.mean(more) / np.log10(2), abs=0.03)


def test_equal_prints_are_called_the_same_at_the_stated_rate(prints):
    """The test's level is 5 %; of six pairs of scans of one print at most one may be called different."""
    called = [prints.compared((0, 0, 0), number).likeness for number in range(2, 8)]
    assert sum(likeness is not Likeness.SAME for likeness in called) <= 1


def test_verdicts_follow_the_size_of_the_difference(prints):
    small, middle, large = (prints.compared((0, cc, 0)).likeness for cc in (0.01, 0.05, 0.25))
    assert small in (Likeness.ONE_STEP, Likeness.UNSURE)
    assert middle is Likeness.SIDE_BY_SIDE
    assert large is Likeness.APART


def test_words_say_what_the_second_print_has_too_much_of(prints):
    result = prints.compared((0.02, 0.06, 0.02))
    assert "CC too magenta" in result.words
    assert "stop darker" in result.words
    assert "green" in shift_words(prints.compared((0, -0.02, 0)).overall)


def test_map_histogram_and_tones_agree_with_each_other(prints):
    result = prints.compared((0, 0.05, 0))
    assert sum(share for _, share in result.histogram) == pytest.approx(1.0)
    assert np.nanmedian(result.delta_e_map) == pytest.approx(result.delta_e_median)
    assert {shift.tones for shift in result.by_tone} == {"light", "middle", "dark"}
    assert sum(shift.share for shift in result.by_tone) <= 1.0
    assert equal_prints_probability(result.overall) < 0.05


def test_drops_and_streaks_are_found_apart_from_colour(prints):
    first, report = prints.scan((0, 0, 0), 1, dust=0)
    second, other = prints.scan((0, 0, 0), 2, dust=0)
    box = find_paper(first, report.boxes)
    pixels = second.pixels.copy()
    x, y = (box.left + box.right) // 2, box.top + box.height // 5
    yy, xx = np.mgrid[: pixels.shape[0], : pixels.shape[1]]
    drop = (xx - x) ** 2 + (yy - y) ** 2 < 9**2
    pixels[drop] = (pixels[drop] * 0.8).astype(np.uint16)
    streak = (abs(yy - y - 60) < 2) & (abs(xx - x) < 60)
    pixels[streak] = (pixels[streak] * 1.15).clip(0, 65535).astype(np.uint16)
    damaged = replace(second, pixels=pixels)
    result = compare(first, damaged, (report.curves, other.curves), within=box)
    kinds = {defect.kind: defect for defect in result.defects[:2]}
    assert set(kinds) == {DefectKind.DROP, DefectKind.STREAK}
    assert kinds[DefectKind.DROP].change > 0.06
    assert kinds[DefectKind.STREAK].change < -0.03
    assert all(defect.in_second for defect in kinds.values())
    assert abs(result.overall.stops) < 0.01
