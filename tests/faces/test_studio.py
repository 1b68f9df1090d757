"""The driver: its page is run, and what it takes apart from the page."""

import doctest
import time
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from printlore import BathState, Cast, Exposed, FilterPack, Judgement, Setting, Studio, Trimmer
from printlore.errors import ChangedMeanwhile, Refused, UnknownRecord, ValueOutOfRange

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
    for seconds in (10, 12.5, 8, 10):
        level = 0.72 + 2.6 * (seconds / 10 - 1) * 0.43
        studio.log("one", Exposed(setting=Setting(pack=USUAL.pack, time=seconds), density=(level,) * 3))
    longer = Setting(pack=USUAL.pack, time=20)
    guilty = studio.log("one", Exposed(setting=longer, density=(0.72, 0.72, 0.72)))
    advice = studio.advise("one").advice
    (suspect,) = advice.suspects
    assert suspect.trial == guilty
    assert suspect.as_if is not None
    assert suspect.as_if.time == 10
    assert "outlier" in advice.flags


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: FilterPack(magenta="45,5"), "FilterPack, magenta is '45,5'; a number is needed"),
        (
            lambda: Trimmer(blade_length="60 cm", longest_stop=500),
            "Trimmer, blade_length is '60 cm'; a number is needed",
        ),
        (lambda: Setting(pack=FilterPack(), time=None), "Setting, time is None; a number is needed"),
        (lambda: BathState(area_per_litre="0,2"), "BathState, area_per_litre is '0,2'; a number is needed"),
        (lambda: Judgement(cast="purple", strength="10"), 'cast is "purple"; it must be one of: none, red'),
    ],
)
def test_a_value_made_of_something_else_says_so(make, words):
    with pytest.raises(ValueOutOfRange, match=words):
        make()


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda studio: studio.add_film(5), "name is 5; text is needed"),
        (lambda studio: studio.add_film(["a"]), "name is .'a'.; text is needed"),
        (lambda studio: studio.add_film("b", stok="x"), 'There is no "stok" here. Near it: "stock"'),
        (lambda studio: studio.add_film(), "missing a required argument: 'name'. It takes name, stock, note"),
        (lambda studio: studio.add_head("h", dial_stp=1), 'unknown part "dial_stp"; near it is "dial_step"'),
        (lambda studio: studio.add_head("h", dial_step="1,5"), "dial_step is '1,5'; a number is needed"),
        (lambda studio: studio.add_head("h", usual="45M 60Y"), "usual should have named parts, as a Setting has"),
        (lambda studio: studio.add_paper("p", aim_density=(0.7, 0.7)), "aim_density should have 3 items; 2 were given"),
        (
            lambda studio: studio.add_frame("f", film="film", aim_density=(0, 0, 0), paper="paper"),
            "Paper white cannot be an aim",
        ),
        (lambda studio: studio.add_frame("f", film="film", reading="0,4 0,5"), "reading should be a list of 3; it is"),
        (lambda studio: studio.add_frame("f", film="film", reading=(41, 77, 102)), "cannot be those of a negative"),
        (lambda studio: studio.add_frame("f", film="film", reading=(0.4,) * 3, source=" "), "The source is empty"),
        (lambda studio: studio.add_bath("b", process="process", day=float("inf")), "The day inf cannot be"),
        (
            lambda studio: studio.paper.take_box("b", 50, lot="lot", across=20, along=25),
            "The size 20 x 25 mm cannot be that of a sheet",
        ),
        (lambda studio: studio.advise("one", magnification="8x"), "magnification is '8x'; a number is needed"),
        (lambda studio: studio.log("one", None), "exposed is None; an Exposed or a list is needed"),
        (lambda studio: studio.log("one", Exposed(setting="45M")), "exposed, setting should have named parts"),
        (lambda studio: studio.log("one", [Exposed(setting=USUAL, kept="yes")]), "an Exposed or a list is needed"),
        (lambda studio: studio.add_edition("e", frame="one", prints=8.5), "prints is 8.5; a whole number is needed"),
        (lambda studio: Studio.open(3), "folder is 3; a Path or text is needed"),
        (lambda studio: Studio.open(" "), "has no name"),
        (lambda studio: studio.list("film"), "choose one of films, frames"),
    ],
)
def test_what_is_of_another_type_is_refused_in_words_and_nothing_is_recorded(studio, call, words):
    before = [len(studio.list(kind)) for kind in ("films", "frames", "heads", "papers", "baths", "trials")]
    with pytest.raises(ValueOutOfRange, match=words):
        call(studio)
    assert before == [len(studio.list(kind)) for kind in ("films", "frames", "heads", "papers", "baths", "trials")]


@pytest.mark.parametrize("at", [datetime(1, 1, 1), datetime(1, 1, 1, tzinfo=UTC), datetime.max, datetime(1899, 12, 31)])
@pytest.mark.parametrize("zone", ["Etc/GMT-3", "Etc/GMT+5"])
def test_a_year_that_no_record_can_be_of_is_refused_in_words(studio, monkeypatch, at, zone):
    """Ahead of Greenwich and behind it, where the first or last day of all has no moment."""
    monkeypatch.setenv("TZ", zone)
    time.tzset()
    calls = [
        lambda: studio.baths.run("bath", 0.05, at=at),
        lambda: studio.baths.top_up("bath", 50, at=at),
        lambda: studio.baths.retire("bath", at=at),
        lambda: studio.paper.take_roll("roll", lot="lot", width=300, stated_length=80_000, received_at=at),
    ]
    try:
        for call in calls:
            with pytest.raises(ValueOutOfRange, match=r"cannot be that of a record\. Correct the year; 1900 to 2100"):
                call()
        assert studio.baths.book("bath") == []
    finally:
        monkeypatch.undo()
        time.tzset()


def test_arrays_lists_and_the_words_of_choices_do_as_well(studio):
    studio.add_frame("two", film="film", reading=[np.float32(0.5), 1, 0.75])
    assert studio.frame.readings("two")[0].reading.density == (0.5, 1.0, 0.75)
    cyan = Judgement(cast="cyan", strength=10)
    trial = studio.log("two", [Exposed(setting=USUAL, density=np.array((0.7, 0.8, 0.9)), judgement=cyan)])
    (patch,) = studio.trial.show(trial).patches
    assert patch.readings[0].density == (0.7, 0.8, 0.9)
    assert patch.judgements[0].judgement.cast is Cast.CYAN


@pytest.mark.parametrize(
    ("load", "words"),
    [
        ({"area": 516.0}, "516 m2 of paper cannot be in one drum load; give at most 10"),
        ({"area": 0.05, "temperature": float("nan")}, "not poured at nan degrees C"),
        ({"area": 0.05, "temperature": 350}, "not poured at 350 degrees C"),
    ],
)
def test_a_load_in_another_unit_is_refused_when_it_is_logged_and_when_it_is_put_right(studio, load, words):
    with pytest.raises(ValueOutOfRange, match=words):
        studio.baths.run("bath", **load)
    good = studio.baths.run("bath", 0.05, temperature=35)
    with pytest.raises(ValueOutOfRange, match=words):
        studio.baths.correct_load(good.name, **load)
    assert [entry.temperature for entry in studio.baths.book("bath")] == [35]


def test_words_of_an_eye_are_heard_as_by_the_command(studio):
    trial = studio.log("one", Exposed(setting=USUAL, judgement="10 magenta, 1/3 stop dark"))
    later = studio.judge(trial, "a trace cyan", person="visitor", kept=True)
    first, second = (one.judgement for one in later.patches[0].judgements)
    assert (first.cast, first.strength) == (Cast.MAGENTA, 10)
    assert first.stops_too_dark == pytest.approx(1 / 3)
    assert (second.cast, second.person) == (Cast.CYAN, "visitor")
    assert later.patches[0].kept


def test_reasons_start_from_no_trial_that_is_not_there(studio):
    with pytest.raises(UnknownRecord, match='No trial is called "T9"'):
        studio.advise("one", compare_with="T9")


def test_a_print_of_an_edition_is_put_right_and_its_papers_are_fetched(studio):
    sheet = studio.log("one", Exposed(setting=USUAL, kept=True))
    edition = studio.add_edition("Harbour", frame="one", prints=5)
    code = studio.number(edition)
    right = studio.editions.correct(code, trial=sheet, size=(203, 254))
    assert (right.print.trial, right.facts.size) == (sheet, (203.0, 254.0))
    with pytest.raises(ValueOutOfRange, match='unknown part "siz"; near it is "size"'):
        studio.editions.correct(code, siz=(1, 2))
    with pytest.raises(ChangedMeanwhile):
        studio.editions.correct(code, note="late", seen=1)
    assert studio.editions.certificate(code).id == studio.editions.certificate(code).id
    for paper in (
        studio.editions.certificate_pdf(code),
        studio.editions.labels_pdf([code]),
        studio.editions.care_pdf(code, lux=50, hours=8),
    ):
        assert paper.startswith(b"%PDF")
    with pytest.raises(Refused, match="had its certificate written"):
        studio.editions.take_back(code=code)
    studio.editions.take_back(line=studio.editions.certificate(code).id)
    studio.editions.take_back(code=code)
    assert studio.edition(edition).prints[0].print.removed
    studio.editions.bring_back(code=code)
    with pytest.raises(ValueOutOfRange, match="Name one of three"):
        studio.editions.take_back(edition, code=code)


def test_baths_paper_and_settings_have_the_words_of_their_commands(studio):
    studio.baths.kit("kit", "developer", [{"name": "A", "per_litre": 100, "nature": "alkali"}])
    studio.baths.mix("bath 2", "process", "kit", 500)
    load = studio.baths.run("bath 2", 0.05)
    studio.baths.correct_load(load.name, area=0.1)
    assert [entry.area for entry in studio.baths.book("bath 2")] == [0.1]
    studio.baths.take_back("bath 2")
    assert all(entry.removed for entry in studio.baths.book("bath 2"))
    studio.paper.take_box("box", 50, lot="lot", across=203, along=254)
    studio.paper.book("box", "spoiled", 2)
    assert studio.paper.stock().boxes[0].sheets == 48
    with pytest.raises(ValueOutOfRange, match='happened is "spoilt"; it must be one of: '):
        studio.paper.book("box", "spoilt", 2)
    assert studio.settings.costs(sheet=2.5).sheet == studio.settings.costs().sheet == 2.5
    with pytest.raises(ValueOutOfRange, match="sheet is '2,5'; a number is needed"):
        studio.settings.costs(sheet="2,5")
    with pytest.raises(Refused, match="Nothing to correct"):
        studio.frame.correct("one")


def test_a_studio_goes_out_and_comes_in_again(studio, tmp_path):
    studio.log("one", Exposed(setting=USUAL, density=(0.7, 0.8, 0.7)))
    studio.export(tmp_path / "out.zip")
    again = Studio.from_export(tmp_path / "out.zip", tmp_path / "again")
    assert again.advise("one", day=1).advice.setting == studio.advise("one", day=1).advice.setting
    assert again.record_doubts() == ()
    again.back_up(tmp_path / "copy")
    again.close()
    third = Studio.from_backup(tmp_path / "copy", tmp_path / "third")
    assert [trial.name for trial in third.history("one")] == ["T1"]


def test_the_name_of_a_trial_that_was_taken_back_is_given_to_no_other(studio):
    kept = Exposed(setting=USUAL, kept=True)
    first = studio.log("one", kept)
    studio.remove(first)
    assert (first, studio.log("one", kept)) == ("T1", "T2")
    with pytest.raises(ValueOutOfRange, match='called "T1" is or was in the studio'):
        studio.log("one", kept, name="T1")
    studio.bring_back(first)
    assert [trial.name for trial in studio.history("one")] == ["T1", "T2"]
