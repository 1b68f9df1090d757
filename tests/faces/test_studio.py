"""The driver: its page is run, and what it takes apart from the page."""

import doctest
from pathlib import Path

import pytest

from printlore import Exposed, FilterPack, Setting, Studio
from printlore.errors import ChangedMeanwhile, UnknownRecord, ValueOutOfRange

DOCS = Path(__file__).parents[2] / "docs"
USUAL = Setting(pack=FilterPack(magenta=45, yellow=60), time=10)


@pytest.mark.parametrize(("name", "least"), [("driver.md", 20), ("memory.md", 5)])
def test_examples_give_what_the_page_prints(name, least):
    failed, tried = doctest.testfile(str(DOCS / name), module_relative=False, optionflags=doctest.NORMALIZE_WHITESPACE)
    assert tried >= least
    assert failed == 0


@pytest.fixture
def studio():
    studio = Studio.in_memory()
    studio.add_head("head", usual=USUAL)
    studio.add_paper("paper")
    studio.add_lot("lot", paper="paper")
    studio.add_process("process")
    studio.add_bath("bath", process="process")
    studio.add_film("film")
    studio.add_frame("one", film="film")
    return studio


def test_an_empty_studio_gives_advice_from_usual_figures_and_says_so():
    report = Studio.in_memory().advise()
    assert report.advice.probability_good < 0.2
    assert any("No head is in the studio yet" in remark for remark in report.remarks)


def test_a_printer_whose_prints_repeat_badly_is_promised_less(studio):
    for _ in range(4):
        advised = studio.advise("one").advice.setting
        studio.log("one", [Exposed(setting=advised, density=(0.72, 0.71, 0.70))])
    before = studio.advise("one").advice.probability_good
    studio.expect_repeats(4.0)
    worse = studio.advise("one").advice.probability_good
    studio.expect_repeats(0.3)
    assert worse < before < studio.advise("one").advice.probability_good


def test_the_same_key_records_a_trial_once(studio):
    exposed = Exposed(setting=USUAL, density=(0.7, 0.8, 0.7))
    first = studio.log("one", exposed, key="evening 1")
    assert studio.log("one", exposed, key="evening 1") == first
    assert len(studio.advise("one").seen) == 1


def test_a_studio_in_a_folder_is_there_again_when_opened(tmp_path):
    studio = Studio.open(tmp_path / "studio")
    studio.add_film("film")
    studio.add_frame("one", film="film", reading=(0.4, 0.5, 0.8))
    studio.log("one", Exposed(setting=USUAL, density=(0.7, 0.8, 0.7)))
    before = studio.advise("one", day=1).advice.setting
    studio.database.close()
    assert Studio.open(tmp_path / "studio").advise("one", day=1).advice.setting == before


def test_an_aim_of_a_frame_is_followed(studio):
    studio.add_frame("pale", film="film", aim_density=(0.5, 0.5, 0.5), paper="paper")
    assert studio.advise("pale").advice.setting.time < studio.advise("one").advice.setting.time
    assert studio.advise("pale").advice.aim_density == (0.5, 0.5, 0.5)


@pytest.mark.parametrize(
    ("density", "words"),
    [((0.7, float("nan"), 0.7), "nan"), ((7.0, 7.0, 7.0), "cannot be those of a print")],
)
def test_densities_that_cannot_be_are_refused_and_nothing_is_logged(studio, density, words):
    with pytest.raises(ValueOutOfRange, match=words):
        studio.log("one", Exposed(setting=USUAL, density=density))
    assert studio.advise("one").seen == ()


def test_aim_without_its_paper_is_refused(studio):
    with pytest.raises(ValueOutOfRange, match="give aim_density and paper together, or neither"):
        studio.add_frame("two", film="film", aim_density=(0.5, 0.5, 0.5))


def test_a_tolerance_of_another_name_is_refused(studio):
    with pytest.raises(ValueOutOfRange, match=r'no tolerance "perfect"; use one of: edition match, good alone'):
        studio.advise("one", tolerance="perfect")


def test_removing_twice_is_refused(studio):
    name = studio.log("one", Exposed(setting=USUAL, density=(0.7, 0.8, 0.7)))
    studio.remove(name)
    with pytest.raises((UnknownRecord, ChangedMeanwhile)):
        studio.remove(name)


def test_a_trial_that_is_most_likely_mis_dialled_is_told_with_the_advice(studio):
    for time in (10, 12.5, 8, 10):
        level = 0.72 + 2.6 * (time / 10 - 1) * 0.43
        studio.log("one", Exposed(setting=Setting(pack=USUAL.pack, time=time), density=(level,) * 3))
    longer = Setting(pack=USUAL.pack, time=20)
    guilty = studio.log("one", Exposed(setting=longer, density=(0.72, 0.72, 0.72)))
    advice = studio.advise("one").advice
    (suspect,) = advice.suspects
    assert suspect.trial == guilty
    assert suspect.as_if is not None
    assert suspect.as_if.time == 10
    assert "outlier" in advice.flags
