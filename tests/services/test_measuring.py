"""Profiles are kept and come back the same; charts by file; CSV mappings are remembered."""

import errno
import os
from pathlib import Path

import numpy as np
import pytest

from measuring_scenes import WEDGE, density_picture, scanned, strip_densities
from printlore.core.colour.lab import delta_e_2000
from printlore.core.measure.measurements import MeasurementTable
from printlore.core.measure.scan import Scan
from printlore.core.measure.scanner import Material
from printlore.devices.exchange import write_cgats
from printlore.errors import UnknownRecord, UnreadableFile, ValueOutOfRange
from printlore.records.database import Database
from printlore.services.measuring import (
    characterise_by_chart,
    characterise_by_wedge,
    import_measurements,
    latest_profile,
    profile_words,
    profiles,
)
from printlore.services.scan_folders import new_scans, read_folder, watch_folder, watched_folder
from printlore.services.strips import read_strip
from printroom.room import Room
from printroom.scans import scanner_channels


@pytest.fixture
def db():
    with Database.in_memory() as database:
        yield database


def chart(seed=2, rows=8, columns=12):
    """Scan of a chart on a simulated paper, its reference as a CGATS file, and the corners."""
    room, rng, channels = Room(seed), np.random.default_rng(seed), scanner_channels(seed)
    dye = rng.uniform(0.02, 0.85, (rows * columns, 3)) * room.paper.most_dye
    dye[:14] = np.linspace(0.02, 2.0, 14)[:, None] * room.paper.aim_dye
    density, lab = room.paper.density_and_lab(dye)
    lab[:14, 1:] = lab[:14, 1:]
    names = [f"{chr(65 + k // columns)}{k % columns + 1}" for k in range(len(dye))]
    light = room.paper.reflectance(dye) @ channels
    side = 24
    picture = np.repeat(np.repeat(light.reshape(rows, columns, 3), side, axis=0), side, axis=1)
    picture = picture * 0.95 * 10.0 ** rng.normal(0, 0.004, picture.shape)
    fields = ("SAMPLE_ID", "SAMPLE_NAME", "LAB_L", "LAB_A", "LAB_B", "D_RED", "D_GREEN", "D_BLUE")
    table = MeasurementTable(
        fields=fields,
        rows=tuple((str(k + 1), name, *(f"{v:.4f}" for v in (*lab[k], *density[k]))) for k, name in enumerate(names)),
    )
    half = side / 2
    right, bottom = (columns - 0.5) * side, (rows - 0.5) * side
    corners = ((half, half), (right, half), (right, bottom), (half, bottom))
    scan = Scan(pixels=np.rint(np.clip(picture, 0, 1) * 65535).astype(np.uint16), name="chart")
    return room, channels, scan, write_cgats([table]), corners


def test_chart_and_its_file_give_a_profile_that_is_kept_and_comes_back_the_same(db):
    room, channels, scan, reference, corners = chart()
    record = characterise_by_chart(
        db, "flatbed", scan, reference, corners, material=Material.PHOTOGRAPHIC_PAPER, made="2026-11-01"
    )
    again = latest_profile(db, "flatbed")
    assert again.profile() == record.profile()
    profile = again.profile()
    assert profile.report.held_out_mean < 1.0
    assert "dE00 off on average" in profile_words(profile)
    rng = np.random.default_rng(9)
    dye = rng.uniform(0.1, 0.8, (100, 3)) * room.paper.most_dye
    light = 0.95 * room.paper.reflectance(dye) @ channels
    lab = profile.lab(profile.curves.density(light))
    assert delta_e_2000(lab, room.paper.density_and_lab(dye)[1]).mean() < 1.2


def test_profiles_of_a_scanner_count_up(db):
    scan = scanned(density_picture(strip_densities(4)))
    for _ in range(2):
        characterise_by_wedge(db, "flatbed", scan, WEDGE)
    characterise_by_wedge(db, "camera", scan, WEDGE)
    assert [(p.scanner, p.number) for p in profiles(db)] == [("flatbed", 1), ("flatbed", 2), ("camera", 1)]
    with pytest.raises(UnknownRecord, match='There is no profile of "drum" yet; scan a wedge or a chart'):
        latest_profile(db, "drum")
    with pytest.raises(ValueOutOfRange, match="The scanner has no name"):
        characterise_by_wedge(db, " ", scan, WEDGE)


def test_a_profile_turns_strip_readings_into_lab(db):
    _, _, scan, reference, corners = chart()
    record = characterise_by_chart(db, "flatbed", scan, reference, corners, material=Material.PHOTOGRAPHIC_PAPER)
    reading = read_strip(scanned(density_picture(strip_densities(3))), WEDGE, profile=record.profile())
    assert all(step.lab is not None for step in reading.steps)
    assert reading.steps[0].lab[0] > reading.steps[-1].lab[0]


def test_csv_mapping_is_remembered_for_the_next_file_with_its_headings(db):
    from printlore.devices.exchange import CsvMapping

    data = b"x1;x2;x3\n0,7;0,8;0,9\n"
    with pytest.raises(UnreadableFile, match="Say which column is which"):
        import_measurements(db, data, name="probe.csv")
    mapping = CsvMapping(delimiter=";", decimal=",", columns=(("D_RED", "x3"), ("D_GREEN", "x2"), ("D_BLUE", "x1")))
    import_measurements(db, data, name="probe.csv", mapping=mapping)
    table = import_measurements(db, b"x1;x2;x3\n1,0;1,1;1,2\n", name="next.csv")
    assert table.density().tolist() == [[1.2, 1.1, 1.0]]


def test_a_folder_that_is_not_there_is_not_watched(db):
    with pytest.raises(UnreadableFile, match='There is no folder "/nowhere/at/all"'):
        watch_folder(db, "/nowhere/at/all")


def test_a_folder_is_watched_wherever_the_next_program_is_started(db, tmp_path, monkeypatch):
    (tmp_path / "scans").mkdir()
    monkeypatch.chdir(tmp_path)
    watch_folder(db, "scans")
    monkeypatch.chdir("/")
    assert watched_folder(db) == tmp_path / "scans"


def test_a_scan_that_is_renamed_meanwhile_hides_no_other(db, tmp_path, monkeypatch):
    (tmp_path / "there.tif").write_bytes(b"x")
    watch_folder(db, str(tmp_path))
    monkeypatch.setattr(Path, "iterdir", lambda _: iter([tmp_path / "renamed.tif", tmp_path / "there.tif"]))
    monkeypatch.setattr(Path, "is_file", lambda _: True)
    assert new_scans(db) == (tmp_path / "there.tif",)


def test_a_disk_that_was_pulled_out_offers_no_scans(db, tmp_path, monkeypatch):
    def gone(_):
        raise OSError(errno.ESTALE, os.strerror(errno.ESTALE))

    watch_folder(db, str(tmp_path))
    monkeypatch.setattr(Path, "iterdir", gone)
    assert new_scans(db) == ()


def test_a_file_that_cannot_be_opened_stops_no_other_of_its_folder(tmp_path, monkeypatch):
    for name in ("a.tif", "b.tif"):
        (tmp_path / name).write_bytes(name.encode())
    read = Path.read_bytes

    def refused(path):
        if path.name == "a.tif":
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
        return read(path)

    monkeypatch.setattr(Path, "read_bytes", refused)
    first, second = read_folder(tmp_path, (0.1, 0.2), tmp_path / "out.csv")
    assert '"a.tif" cannot be opened: Permission denied.' in first.problem
    assert '"b.tif" cannot be used as a scan' in second.problem
