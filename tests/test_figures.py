"""Numbers in sentences have the studio's decimal mark, wherever they are made; what programs read has a point."""

import ast
import json
import re
import subprocess
from datetime import UTC, datetime
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

import printlore
from printlore import Studio
from printlore.core.control.limits import QUANTITIES, Limits
from printlore.core.cutting.spoken import said, spoken
from printlore.core.evening.exposure import Exposure
from printlore.core.figure import DECIMAL_MARK, Figure
from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Setting
from printlore.errors import PrintloreError
from printlore.faces.cli.main import main
from printlore.faces.web.app import create_app
from printlore.records.baths import Bath
from printlore.records.database import Database
from printlore.records.studio import Preferences
from printlore.services.entry import write_settings

NOON = datetime(2031, 3, 3, 12, tzinfo=UTC)
SOURCE = Path(printlore.__file__).parent
FOR_PROGRAMS = {
    "core/cutting/drawing.py": ("plan_svg", "_box", "_text"),
    "core/cutting/procedure.py": None,
    "core/edition/record.py": ("lines",),
    "demo/build.py": None,
    "devices/exchange.py": None,
    "faces/web/bath_drawings.py": None,
    "faces/web/drawings.py": None,
    "faces/web/pages/paper_fog.py": None,
    "faces/words.py": ("six", "number"),
    "services/scan_folders.py": ("_append",),
    "services/side_by_side.py": ("difference_svg",),
}
"""Where numbers are formatted for a drawing, a table, a key or a form that is sent back; ``None``: all of it."""


@pytest.fixture
def comma():
    before = DECIMAL_MARK.set(",")
    yield
    DECIMAL_MARK.reset(before)


def bare_numbers(path):
    """(function, line, text) of every number with a fraction that an f-string formats without ``Figure``."""
    tree = ast.parse(path.read_text())
    homes = [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)]
    for node in ast.walk(tree):
        if not (isinstance(node, ast.FormattedValue) and node.format_spec is not None):
            continue
        form = "".join(part.value for part in node.format_spec.values if isinstance(part, ast.Constant))
        figure = isinstance(node.value, ast.Call) and getattr(node.value.func, "id", "") == "Figure"
        if re.search(r"g$|\.[1-9]\d*[f%e]$|\.f$", form) and not figure:
            within = [home for home in homes if home.lineno <= node.lineno <= (home.end_lineno or 0)]
            yield min(within, key=lambda home: home.end_lineno - home.lineno).name, node.lineno, ast.unparse(node)


def test_no_sentence_formats_a_number_past_the_studios_decimal_mark():
    found = []
    for path in sorted(SOURCE.rglob("*.py")):
        name = str(path.relative_to(SOURCE))
        homes = FOR_PROGRAMS.get(name, ())
        if homes is not None:
            found += [f"{name}:{line} {text}" for home, line, text in bare_numbers(path) if home not in homes]
    assert not found


def test_a_figure_is_written_as_the_studio_writes(comma):
    assert f"{Figure(2.5):g} CC, {Figure(-0.25):+.2f} stop, {Figure(0.125):.1%}" == "2,5 CC, -0,25 stop, 12,5%"
    assert f"{Figure(8)} and {Figure(1e6):g}" == "8 and 1e+06"
    assert json.dumps(Figure(2.5)) == "2.5"
    DECIMAL_MARK.set(".")
    assert f"{Figure(2.5):g}" == "2.5"


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: FilterPack(magenta=-2.5), "-2,5 CC"),
        (lambda: Setting(pack=FilterPack(), time=-1.5, f_number=8), "-1,5 s"),
        (
            lambda: Bath(name="mix 2.5", process="own", mixed_at=datetime(2031, 3, 3, tzinfo=UTC), volume=-0.5),
            'Bath "mix 2.5": volume is -0,5',
        ),
        (lambda: Exposure(name="sky 1.2", time=-0.5), '"sky 1.2" is -0,5 s'),
    ],
)
def test_an_error_has_the_mark_and_leaves_names_alone(comma, make, words):
    with pytest.raises(PrintloreError, match=re.escape(words)):
        make()


def test_dials_and_settings_said_below_the_faces_have_the_mark(comma):
    assert str(FilterPack(magenta=60.5, yellow=45)) == "60,5 M 45 Y"
    assert "9,5 s, f/5,6" in str(Setting(pack=FilterPack(), time=9.5, f_number=5.6))


def test_a_sentence_that_states_a_figure_of_the_program_has_the_mark(comma):
    steps = dict.fromkeys(QUANTITIES, 0.02)
    assert "ours: 2,5 and 3,5 times" in Limits(look=steps, stop=steps).source
    assert "at least the published 0,02" in Limits(look=steps, stop=steps).source


@pytest.fixture
def studio(tmp_path):
    with Database.open(tmp_path / "studio") as db:
        write_settings(db, Preferences(decimal_mark=","))
    return str(tmp_path / "studio")


def test_commands_write_sentences_with_the_mark_and_json_with_numbers(studio, capsys):
    add = ["add", "head", "left 1.5", "--usual", "50,5M 40Y", "--usual-time", "8,5", "--studio", studio]
    assert main([*add, "--json"]) == 0
    made = json.loads(capsys.readouterr().out)
    assert made["name"] == "left 1.5"
    assert json.dumps(made).count("50.5") >= 1
    assert main(["evening", "open", "--studio", studio]) == 0
    piece = "; sheet; 50,5M 40Y; 8,5; 20x25 cm; sky +2,5"
    assert main(["evening", "plan", "--piece", piece, "--drum", "1", "--studio", studio]) == 0
    card = Path(studio).parent / "card.pdf"
    assert main(["evening", "card", str(card), "--studio", studio]) == 0
    text = subprocess.run(["pdftotext", "-layout", str(card), "-"], capture_output=True, text=True, check=True).stdout
    assert "50,5 M 40 Y, 8,5 s" in text
    assert not re.search(r"\d\.\d", text)
    assert DECIMAL_MARK.get() == "."


def test_python_writes_sentences_as_the_studio_asked_last_does(comma, tmp_path):
    with Database.open(tmp_path / "studio") as db:
        write_settings(db, Preferences(decimal_mark=","))
    point, there = Studio.in_memory(), Studio.open(tmp_path / "studio")
    assert str(FilterPack(magenta=2.5)) == "2,5 M", "as the one that was opened last"
    with pytest.raises(PrintloreError, match=r"scatter by -2\.5 CC"):
        point.expect_repeats(-2.5)
    with pytest.raises(PrintloreError, match="scatter by -2,5 CC"):
        there.expect_repeats(-2.5)
    there.write_numbers(".")
    assert str(FilterPack(magenta=2.5)) == "2.5 M"
    point.write_numbers(",")
    film = point.add_film("film 1.5")
    point.add_frame("low tide", film=film)
    setting = Setting(pack=FilterPack(magenta=45.5, yellow=60), time=10.5)
    point.log("low tide", printlore.Exposed(setting=setting, density=(0.7, 0.71, 0.7)))
    report = point.advise("low tide", f_number=5.6)
    assert "f/5,6" in str(report.advice.setting)
    assert not re.search(r"\d\.\d", " ".join(report.remarks))
    with pytest.raises(PrintloreError, match='The decimal mark ";" cannot be'):
        point.write_numbers(";")
    there.add_film("film")
    assert str(FilterPack(magenta=2.5)) == "2.5 M", "that one writes a point now"


@pytest.mark.parametrize(("mark", "words"), [(".", "2 0 3 point 2"), (",", "2 0 3 comma 2")])
def test_a_number_is_spoken_with_the_mark(comma, mark, words):
    DECIMAL_MARK.set(mark)
    assert said(spoken(203.2)) == words


def test_what_a_page_or_a_command_refuses_is_said_with_the_mark(studio, capsys):
    assert main(["studio", "tolerances", "--edition-delta-e", "-2,5", "--studio", studio]) != 0
    assert "edition delta e is -2,5" in capsys.readouterr().err
    with Database.open(Path(studio)) as db, TestClient(create_app(db), base_url="http://localhost") as client:
        sent = {"edition_delta_e": "-2,5", "good_alone_cc": "3", "good_alone_time": "0.1", "version": "0"}
        assert "edition delta e is -2,5" in client.post("/studio/tolerances", data=sent).text
