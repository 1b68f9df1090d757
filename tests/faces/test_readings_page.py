"""Readings on the page, over HTTP and on the command line: characterise, check, compare, batch, watched folder."""

import json
from dataclasses import replace
from io import BytesIO

import numpy as np
import pytest
import tifffile

from measuring_scenes import WEDGE, density_picture, scanned, strip_densities
from printlore.faces.cli.main import main
from printlore.records.database import Database
from printroom.room import Room
from printroom.scans import Faults, Scanner
from printroom.scenes import harbour

TYPED = " ".join(f"{d:g}" for d in WEDGE)


def tiff(pixels):
    out = BytesIO()
    tifffile.imwrite(out, pixels, photometric="rgb")
    return out.getvalue()


@pytest.fixture(scope="module")
def strip_file(tmp_path_factory):
    path = tmp_path_factory.mktemp("scans") / "strip.tif"
    path.write_bytes(tiff(scanned(density_picture(strip_densities(5))).pixels))
    return path


@pytest.fixture(scope="module")
def pair(tmp_path_factory):
    """Two prints of an invented harbour with a wedge, the second 8 CC too magenta."""
    room = Room(1)
    room.add_film("film")
    room.add_lot("lot")
    room.add_bath("bath")
    frame = room.add_frame("film")
    right = room.right_setting(frame)
    made = room.expose(frame, cyan=right.cyan, magenta=right.magenta, yellow=right.yellow, time=right.time)
    folder = tmp_path_factory.mktemp("pair")
    paths = []
    for number, more in enumerate(((0, 0, 0), (0, 0.12, 0)), 1):
        outcome = replace(made, log_exposure=made.log_exposure + np.array(more))
        scan = Scanner(room, seed=1).sheet(
            outcome, harbour(260, 380, 1), faults=Faults(dust=3, scratches=0), wedge=WEDGE, scan=number
        )
        path = folder / f"print {number}.tif"
        path.write_bytes(tiff(scan.pixels))
        paths.append(path)
    return paths


def post(client, path, data, files):
    return client.post(path, data=data, files=files, follow_redirects=False)


def test_a_scanner_is_taught_by_a_wedge_and_checked(client, strip_file):
    scan = {"scan": ("strip.tif", strip_file.read_bytes(), "image/tiff")}
    answer = post(client, "/readings/wedge", {"scanner": "flatbed 600", "wedge": TYPED}, scan)
    assert answer.status_code == 303, answer.text
    assert "flatbed 600: grey only" in client.get("/readings").text
    assert post(client, "/readings/drift", {"wedge": TYPED}, scan).status_code == 303
    assert "The scanner reads as it did" in client.get("/readings").text
    (known,) = client.get("/api/readings/profiles").json()
    assert known["scanner"] == "flatbed 600"
    assert known["number"] == 1


def test_drift_without_a_profile_says_what_to_do(client, strip_file):
    answer = post(
        client, "/readings/drift", {"wedge": TYPED}, {"scan": ("a.tif", strip_file.read_bytes(), "image/tiff")}
    )
    assert answer.status_code == 404
    assert "scan a wedge or a chart and characterise it first" in answer.text


def test_prints_are_compared_kept_and_shown_again(client, pair):
    files = {
        name: (path.name, path.read_bytes(), "image/tiff") for name, path in zip(("first", "second"), pair, strict=True)
    }
    answer = post(client, "/readings/compare", {"wedge": TYPED}, files)
    assert answer.status_code == 303, answer.text
    shown = client.get(answer.headers["location"])
    assert "too magenta" in shown.text
    assert "data:image/png;base64," in shown.text
    assert client.get(f"{answer.headers['location']}/report.pdf").content.startswith(b"%PDF")
    assert "print 1.tif and print 2.tif" in client.get("/readings").text
    (kept,) = client.get("/api/readings/comparisons").json()
    assert "too magenta" in kept["words"]
    assert "reckoned by a generic paper, whose gradient may be 25 % off" in shown.text
    refused = post(client, "/readings/compare", {"wedge": TYPED, "paper": "velvet"}, files)
    assert refused.status_code == 404
    assert "no paper &#34;velvet&#34; in this studio" in refused.text


def test_missing_files_and_wrong_scans_are_told_on_the_page(client):
    answer = post(
        client,
        "/readings/compare",
        {"wedge": TYPED},
        {"first": ("a.tif", b"", "image/tiff"), "second": ("b", b"x", "x")},
    )
    assert answer.status_code == 422
    assert "No first scan was chosen" in answer.text
    files = {"first": ("a.tif", b"junk", "image/tiff"), "second": ("b.tif", b"junk", "image/tiff")}
    assert "is not a TIFF, PNG or JPEG picture" in post(client, "/readings/compare", {"wedge": TYPED}, files).text


def test_a_new_scan_in_the_watched_folder_offers_itself(client, harbour_frame, tmp_path, strip_file):
    assert post(client, "/readings/watch", {"folder": str(tmp_path)}, None).status_code == 303
    assert "New in the watched folder" not in client.get("/readings").text
    (tmp_path / "tonight.tif").write_bytes(strip_file.read_bytes())
    assert "Read it for harbour" in client.get("/readings").text
    answer = post(client, "/readings/offered", {"name": "tonight.tif", "frame": str(harbour_frame)}, None)
    assert answer.headers["location"].startswith(f"/print/{harbour_frame}/scan/")
    assert client.get(answer.headers["location"]).status_code == 200
    assert "Read it for harbour" in client.get("/readings").text, "nothing was logged from it yet"
    made = {"wedge": TYPED, "times": "8 9 10 11 12", "count": "5", "what": "strip", "magenta": "60", "yellow": "50"}
    assert post(client, answer.headers["location"] + "/log", made, None).status_code == 303
    assert "New in the watched folder" not in client.get("/readings").text
    gone = post(client, "/readings/offered", {"name": "tonight.tif", "frame": str(harbour_frame)}, None)
    assert gone.status_code == 404
    assert "no longer new" in gone.text


@pytest.fixture
def harbour_frame(harbour):
    return harbour


@pytest.fixture
def studio(tmp_path):
    folder = tmp_path / "studio"
    Database.open(folder).close()
    return str(folder)


def test_commands_teach_check_and_compare(studio, strip_file, pair, tmp_path, capsys):
    assert (
        main(["measure", "wedge", str(strip_file), "--scanner", "flatbed", "--wedge", TYPED, "--studio", studio]) == 0
    )
    assert main(["measure", "drift", str(strip_file), "--wedge", TYPED, "--studio", studio]) == 0
    out = capsys.readouterr().out
    assert "flatbed: grey only" in out
    assert "It reads as it did" in out
    page = tmp_path / "page.pdf"
    compared = ["measure", "compare", *map(str, pair), "--wedge", TYPED, "--report", str(page), "--json"]
    assert main([*compared, "--keep", "--studio", studio]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["overall"]["magenta"] > 3
    assert page.read_bytes().startswith(b"%PDF")
    assert main(["measure", "compared", "--json", "--studio", studio]) == 0
    (kept,) = json.loads(capsys.readouterr().out)
    again = ["measure", "compared", str(kept["id"]), "--json", "--studio", studio]
    assert main(again) == 0
    assert json.loads(capsys.readouterr().out)["overall"] == answer["overall"]
    assert main(["measure", "compared", "9", "--studio", studio]) == 4
    assert "list them first" in capsys.readouterr().err
    assert main([*compared, "--paper", "velvet", "--studio", studio]) == 4
    assert 'no paper "velvet"' in json.loads(capsys.readouterr().err)["detail"]
    assert main(["measure", "compare", *map(str, pair), "--wedge", TYPED, "--report", "page.doc"]) == 2
    assert "neither .pdf nor .png" in capsys.readouterr().err


def test_the_watched_folder_and_what_is_new_in_it_on_the_command_line(studio, strip_file, tmp_path, capsys):
    folder = tmp_path / "scans"
    folder.mkdir()
    assert main(["measure", "watch", str(folder), "--studio", studio]) == 0
    (folder / "tonight.tif").write_bytes(strip_file.read_bytes())
    capsys.readouterr()
    assert main(["measure", "watched", "--json", "--studio", studio]) == 0
    new = [str(folder / "tonight.tif")]
    assert json.loads(capsys.readouterr().out) == {"folder": str(folder), "new": new}
    made = ["--wedge", TYPED, "--pack", "60M 50Y", "--time", "8 9 10 11 12", "--count", "5"]
    assert main(["log-scan", *new, *made[:-2], "--count", "3", "--studio", studio]) == 2
    assert main(["log-scan", *new, *made, "--wedge", "x", "--studio", studio]) == 2
    capsys.readouterr()
    assert main(["measure", "watched", "--json", "--studio", studio]) == 0
    assert json.loads(capsys.readouterr().out)["new"] == new, "nothing was logged from it"
    assert main(["log-scan", *new, *made, "--studio", studio]) == 0, capsys.readouterr().err
    capsys.readouterr()
    assert main(["measure", "watched", "--json", "--studio", studio]) == 0
    assert json.loads(capsys.readouterr().out)["new"] == []


def test_a_folder_is_read_and_a_stopped_run_goes_on(studio, strip_file, tmp_path, capsys):
    folder, out = tmp_path / "scans", tmp_path / "readings.csv"
    folder.mkdir()
    (folder / "a.tif").write_bytes(strip_file.read_bytes())
    (folder / "broken.tif").write_bytes(strip_file.read_bytes()[:5000])
    (folder / "notes.txt").write_text("not a picture")
    call = ["measure", "folder", str(folder), str(out), "--wedge", TYPED, "--json", "--studio", studio]
    assert main(call) == 0
    assert json.loads(capsys.readouterr().out) == {"steps": 5, "failed": 1}
    assert "cut short" in out.read_text()
    more = scanned(density_picture(strip_densities(3)), seed=7)
    (folder / "b.tif").write_bytes(tiff(more.pixels))
    assert main(call) == 0
    assert json.loads(capsys.readouterr().out) == {"steps": 3, "failed": 0}
    assert len(out.read_text().splitlines()) == 1 + 5 + 1 + 3


def test_probe_line_and_instrument_file_on_the_command_line(studio, tmp_path, capsys):
    assert main(["measure", "probe", "--line", "R 0.71 G 0.84 B 1.02", "--studio", studio]) == 0
    assert capsys.readouterr().out.split() == ["0.71", "0.84", "1.02"]
    assert main(["measure", "probe", "--studio", studio]) == 2
    assert "Give either a port or --line" in capsys.readouterr().err
    file = tmp_path / "patches.csv"
    file.write_text("patch;red;green;blue\ngrey;0,71;0,72;0,69\n")
    copy = tmp_path / "patches.txt"
    assert main(["measure", "import", str(file), "--to", str(copy), "--studio", studio]) == 0
    assert "BEGIN_DATA" in copy.read_text()
    assert main(["measure", "import", str(copy), "--studio", studio, "--json"]) == 0
    assert "0.71" in capsys.readouterr().out


def test_negative_on_the_command_line(studio, tmp_path, capsys):
    for name, level in (("frame", 6000), ("empty", 60000)):
        tifffile.imwrite(tmp_path / f"{name}.tif", np.full((60, 80, 3), level, np.uint16), photometric="rgb")
    call = ["measure", "negative", str(tmp_path / "frame.tif"), str(tmp_path / "empty.tif"), "--studio", studio]
    assert main([*call, "--box", "10", "10", "50", "50"]) == 0
    assert "1.00" in capsys.readouterr().out


def test_the_command_line_keeps_a_dry_down_and_corrects_a_wet_reading_by_it(tmp_path, capsys):
    folder = str(tmp_path / "studio")
    assert main(["init", "--studio", folder]) == 0
    log = ["log", "--pack", "50M 40Y", "--time", "9", "--density", "0,70 0,80 0,75", "--studio", folder]
    assert main(log) == 0
    assert main([*log, "--wet"]) != 0
    assert "dries down was never measured" in capsys.readouterr().err
    pair = ["measure", "pair", "dry_down", "--read", "0,70 0,80 0,75", "--known", "0,72 0,81 0,78", "--studio", folder]
    assert main(pair) == 0
    assert "a mid-grey dries by +0.0" in capsys.readouterr().out
    assert main([*log, "--wet", "--json"]) == 0
    (reading,) = json.loads(capsys.readouterr().out)["patches"][0]["readings"]
    assert reading["density"][2] == pytest.approx(0.78, abs=0.004)
    assert main(["measure", "pairs", "--remove", "1", "--studio", folder]) == 0
    assert capsys.readouterr().out.rstrip().endswith("taken back")


def test_the_command_line_reads_a_strip_by_a_known_patch(tmp_path, capsys, strip_file):
    folder = str(tmp_path / "studio")
    assert main(["init", "--studio", folder]) == 0
    assert main(["log", "--pack", "50M 40Y", "--time", "9", "--studio", folder]) == 0
    strip = ["strip", str(strip_file), "--wedge", TYPED, "--studio", folder, "--json"]
    capsys.readouterr()
    assert main(strip) == 0
    before = json.loads(capsys.readouterr().out)["steps"][1]
    known = " ".join(f"{d + 0.03:.3f}" for d in before["density"])
    read = " ".join(f"{d:.3f}" for d in before["density"])
    assert main(["measure", "pair", "dyes", "--read", read, "--known", known, "--studio", folder]) == 0
    capsys.readouterr()
    assert main([*strip, "--paper", "unnamed paper"]) == 0
    after = json.loads(capsys.readouterr().out)["steps"][1]
    assert after["density"] == pytest.approx([d + 0.03 for d in before["density"]], abs=0.004)
    assert max(after["shared_error"]) < min(before["shared_error"]) / 2
