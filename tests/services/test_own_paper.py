"""Two prints compared by the gradient of the paper they are on, as the studio's prints have shown it."""

from dataclasses import replace
from io import BytesIO

import numpy as np
import pytest
import tifffile

from measuring_scenes import WEDGE
from printed_rooms import as_exposure, as_setting, room_of, vector
from printlore import Exposed, Studio
from printlore.core.paper.dyes import generic_paper
from printlore.core.paper.gradient import density_gradient, generic_curves
from printlore.errors import UnknownRecord
from printlore.services.comparing import compare_and_keep, compare_prints, comparison_again, own_paper, paper_words
from printroom.scans import Faults, Scanner
from printroom.scenes import harbour

MORE_MAGENTA = 0.12


def tiff(pixels):
    out = BytesIO()
    tifffile.imwrite(out, pixels, photometric="rgb")
    return out.getvalue()


@pytest.fixture(scope="module")
def printed():
    """(studio, room): twelve negatives printed twice, three of them with a strip first."""
    room = room_of("steady vane", 8)
    studio = Studio.in_memory()
    studio.add_head("head", usual=as_setting(room.usual))
    studio.add_paper("paper", aim_density=vector(room.aim_density))
    studio.add_lot("lot 1", paper="paper")
    studio.add_process("process")
    studio.add_bath("bath 1", process="process", day=0)
    studio.add_film("film A")
    for number in range(12):
        frame = room.add_frame("film A")
        studio.add_frame(frame, film="film A", reading=vector(room.read_negative(frame)), reading_error=0.006)
        for turn in range(2):
            advice = studio.advise(frame, lot="lot 1", day=number).advice
            strip = turn == 0 and number % 4 == 0
            asked = advice.strip_settings if strip else [advice.setting]
            at, run = room.conditions("lot 1", "bath 1", date=float(number)), f"{frame} {turn}"
            made = room.expose_strip(frame, [as_exposure(setting) for setting in asked], at, run=run)
            exposed = [Exposed(setting=as_setting(one.logged), density=vector(one.measured)) for one in made]
            studio.log(frame, exposed, lot="lot 1", day=number, run=run, strip=strip)
    return studio, room


def two_sheets(room, more):
    """Two scanned sheets of one frame on the room's paper; the second has so much more exposure [log10] by layer."""
    frame = room.add_frame("film A")
    right = room.right_setting(frame)
    made = room.expose(frame, cyan=right.cyan, magenta=right.magenta, yellow=right.yellow, time=right.time)
    sheets = []
    for number, change in enumerate(((0, 0, 0), more), 1):
        outcome = replace(made, log_exposure=made.log_exposure + np.array(change))
        faults = Faults(dust=3, scratches=0)
        scan = Scanner(room, seed=1).sheet(outcome, harbour(260, 380, 1), faults=faults, wedge=WEDGE, scan=number)
        sheets.append(tiff(scan.pixels))
    return tuple(sheets)


@pytest.fixture(scope="module")
def pair(printed):
    """The second has more exposure in the magenta layer."""
    return two_sheets(printed[1], (0, MORE_MAGENTA, 0))


def test_prints_show_the_gradient_better_than_a_generic_paper_does(printed):
    studio, room = printed
    own, true = own_paper(studio.database, "paper"), np.diag(room.gradients())
    learned = np.diag(own.curves.log_exposure_at(np.array(room.aim_density))[1])
    generic = np.diag(density_gradient(generic_paper(), generic_curves()))
    off, off_generic = (np.sqrt(np.mean(np.square(slope / true - 1))) for slope in (learned, generic))
    assert off < 0.6 * off_generic
    assert off < 2 * own.doubt


def test_a_cast_is_measured_closer_on_the_paper_that_is_named(printed, pair):
    studio, _ = printed
    own = own_paper(studio.database, "paper")
    by_own, by_generic = (compare_prints(*pair, WEDGE, paper=paper) for paper in (own, None))
    cast = 100 * MORE_MAGENTA * 2 / 3
    assert abs(by_own.overall.magenta - cast) < abs(by_generic.overall.magenta - cast)
    assert abs(by_own.overall.magenta - cast) < 2 * by_own.overall.cc_error
    assert by_own.overall.cc_error < 0.6 * by_generic.overall.cc_error
    assert paper_words(by_own).startswith("Exposures are reckoned by paper, whose gradient is known to ")
    assert paper_words(by_generic).endswith("may be 25 % off: say which paper it is.")


def test_a_mere_difference_of_exposure_is_no_sure_cast_in_any_tone(printed):
    """Layers whose gradients are off by unlike shares answer the same exposure unlike."""
    studio, room = printed
    one_darker = two_sheets(room, (0.2, 0.2, 0.2))
    for paper in (own_paper(studio.database, "paper"), None):
        found = compare_prints(*one_darker, WEDGE, paper=paper)
        for shift in (found.overall, *found.by_tone):
            assert shift.largest_cc < 2 * shift.cc_error, shift.tones


def test_a_kept_comparison_is_shown_again_as_it_was_said(printed, pair):
    studio, _ = printed
    record, said = compare_and_keep(studio.database, *pair, WEDGE, names=("one", "two"), paper="paper")
    studio.add_lot("lot 2", paper="paper")
    _, again = comparison_again(studio.database, record.id)
    assert again.words == said.words == record.words
    assert (again.paper, again.gradient_doubt) == ("paper", said.gradient_doubt)


def test_a_paper_that_is_not_there_is_refused(printed, pair):
    studio, _ = printed
    with pytest.raises(UnknownRecord, match='no paper "velvet" in this studio; it has: paper'):
        compare_and_keep(studio.database, *pair, WEDGE, names=("one", "two"), paper="velvet")
