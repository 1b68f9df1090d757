"""A scanned blank goes in; verdict, causes and the unsafe bag come out and are remembered."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
import tifffile

from printlore.core.measure.fog import Cause, CoinTest, Verdict
from printlore.core.measure.scan import Box
from printlore.errors import Refused, UnknownRecord, ValueOutOfRange
from printlore.records.rows import add
from printlore.records.stock import FogRecord, RollRecord
from printlore.services.entry import add_lot, add_paper
from printlore.services.fog import (
    base_over_months,
    blame_container,
    bring_reading_back,
    coin_test_showed,
    fog_reports,
    lightest_base,
    log_blank,
    read_blank,
    readings_taken_back,
    take_reading_back,
)
from printlore.services.stock import receive_roll, roll_status

NOW = datetime(2026, 3, 1, tzinfo=UTC)


@pytest.fixture
def papers(db):
    add_paper(db, "gloss")
    add_lot(db, "lot 1", paper="gloss")
    receive_roll(db, RollRecord(name="r", lot="lot 1", width=305, received_at=NOW, container="bag 3"))
    return db


def blank(tmp_path, *, fog=(0.0, 0.0, 0.0), base=0.08, name="blank.tif", seed=2):
    """254 x 203 mm at 2 pixels a mm, cropped to the sheet; fog from the left over 25 mm."""
    rows, columns = 406, 508
    x = np.arange(columns)[None, :, None] / 2
    density = base + np.asarray(fog) * 10.0 ** (-x / 25) + np.zeros((rows, 1, 1))
    light = 10.0**-density * 10.0 ** np.random.default_rng(seed).normal(0, 0.003, (rows, columns, 3))
    path = tmp_path / name
    tifffile.imwrite(path, np.round(65535 * np.clip(light, 0, 1)).astype(np.uint16), photometric="rgb")
    return path


def test_a_fogged_sheet_is_read_kept_and_its_bag_remembered(papers, tmp_path):
    report = log_blank(papers, "lot 1", blank(tmp_path, fog=(0.1, 0.12, 0.1)), size=(254, 203), from_roll="r", at=NOW)
    assert report.record.places[0]["where"] == "left"
    assert report.record.container == "bag 3"
    assert report.record.scan
    assert report.causes[0][0] is Cause.CONTAINER
    assert not roll_status(papers, "r").unsafe
    blame_container(papers, report.record.id)
    assert roll_status(papers, "r").unsafe


def test_fog_at_the_same_place_again_makes_the_bag_likelier(papers, tmp_path):
    first = log_blank(papers, "lot 1", blank(tmp_path, fog=(0.1, 0.12, 0.1)), size=(254, 203), from_roll="r", at=NOW)
    later = NOW + timedelta(days=9)
    again = blank(tmp_path, fog=(0.1, 0.1, 0.1), name="b.tif", seed=4)
    second = log_blank(papers, "lot 1", again, size=(254, 203), from_roll="r", at=later)
    assert len(second.seen_before) == 1
    assert dict(second.causes)[Cause.CONTAINER] > dict(first.causes)[Cause.CONTAINER]


def test_a_coin_test_is_added_to_a_reading(papers, tmp_path):
    report = log_blank(papers, "lot 1", blank(tmp_path, fog=(0.12, 0.01, 0.01)), size=(254, 203), at=NOW)
    after = coin_test_showed(papers, report.record.id, CoinTest.OUTLINES)
    assert after.causes[0][0] is Cause.ROOM
    assert after.record.coin_test == "outlines of the coins"
    with pytest.raises(UnknownRecord, match="No fog reading has the number 99"):
        coin_test_showed(papers, 99, CoinTest.EVEN)


def test_base_is_followed_over_the_months_and_a_rise_is_told(papers, tmp_path):
    log_blank(papers, "lot 1", blank(tmp_path), size=(254, 203), at=NOW)
    old = blank(tmp_path, base=0.14, name="old.tif")
    aged = log_blank(papers, "lot 1", old, size=(254, 203), at=NOW + timedelta(days=300))
    assert [round(one.base[0], 2) for one in base_over_months(papers, "lot 1")] == [0.08, 0.14]
    assert aged.record.verdict == Verdict.TESTS_ONLY.value
    assert len(fog_reports(papers, "lot 1")) == 2


def test_a_scan_cropped_to_a_fogged_sheet_is_read_whole(tmp_path):
    """The fog stands out from the rest, but is not the sheet: 0.1 falls to 0.02 within 17 mm, by hand."""
    found = read_blank(blank(tmp_path, fog=(0.1, 0.1, 0.1)), size=(254, 203)).fog[0]
    assert found.depth == pytest.approx(17.5, abs=6)


def test_a_sheet_in_its_box_is_read_and_a_wrong_size_is_refused(tmp_path):
    path = blank(tmp_path, fog=(0.0, 0.1, 0.0))
    inside = read_blank(path, size=(200, 203), box=Box(left=0, top=0, right=400, bottom=406))
    assert inside.fog[0].where == "left"
    with pytest.raises(ValueOutOfRange, match="enter its size"):
        read_blank(path, size=(0, 203))


def test_a_bag_is_not_blamed_without_cause(papers, tmp_path):
    sound = log_blank(papers, "lot 1", blank(tmp_path), size=(254, 203), from_roll="r", at=NOW)
    with pytest.raises(ValueOutOfRange, match="That sheet was sound"):
        blame_container(papers, sound.record.id)
    nameless = log_blank(papers, "lot 1", blank(tmp_path, fog=(0.1, 0.1, 0.1)), size=(254, 203), at=NOW)
    with pytest.raises(ValueOutOfRange, match="was not named"):
        blame_container(papers, nameless.record.id)
    with pytest.raises(UnknownRecord, match="No fog reading"):
        blame_container(papers, 99)


def laid_on_something(tmp_path, *, turned=0.0, fog=(0.0, 0.0, 0.0), ground=2.0, base=0.08):
    """254 x 203 mm at 2 pixels a mm, turned clockwise [degree] about its middle; fog from its left over 25 mm."""
    rows, columns = 480, 600
    y, x = np.mgrid[0:rows, 0:columns] + 0.5
    x, y, angle = (x - columns / 2) / 2, (y - rows / 2) / 2, np.radians(turned)
    along, down = x * np.cos(angle) + y * np.sin(angle) + 127, y * np.cos(angle) - x * np.sin(angle) + 101.5
    sheet = (along >= 0) & (along <= 254) & (down >= 0) & (down <= 203)
    density = base + np.asarray(fog) * (10.0 ** (-np.maximum(along, 0) / 25))[..., None]
    density = np.where(sheet[..., None], density, ground)
    light = 10.0**-density * 10.0 ** np.random.default_rng(5).normal(0, 0.003, density.shape)
    path = tmp_path / f"laid {turned} {ground}.tif"
    tifffile.imwrite(path, np.round(65535 * np.clip(light, 0, 1)).astype(np.uint16), photometric="rgb")
    return path


@pytest.mark.parametrize("turned", [-3, -1, -0.5, 0, 0.5, 1, 2, 5])
def test_a_sheet_laid_askew_is_read_along_its_own_edges(tmp_path, turned):
    """The dark ground along a crooked edge was read as grey fog of density 1.8, to be trimmed off."""
    assert read_blank(laid_on_something(tmp_path, turned=turned), size=(254, 203)).verdict is Verdict.SOUND
    (fog,) = read_blank(laid_on_something(tmp_path, turned=turned, fog=(0.12, 0.02, 0.02)), size=(254, 203)).fog
    assert fog.where == "left"
    assert fog.peak == pytest.approx((0.12, 0.02, 0.02), abs=0.015)
    # by hand: 25 mm times the logarithm of 0.12 over 0.02
    assert fog.depth == pytest.approx(19.5, abs=4)


def test_a_size_typed_the_other_way_round_is_told(tmp_path):
    with pytest.raises(ValueOutOfRange, match="wider than high, but its size is that of a sheet upright"):
        read_blank(laid_on_something(tmp_path), size=(203, 254))
    with pytest.raises(ValueOutOfRange, match="wider than high"):
        read_blank(blank(tmp_path), size=(203, 254))


def test_a_doubtful_reading_is_nothing_to_compare_sheets_with(papers, tmp_path):
    """A sheet on a white lid that was read with the lid looked lighter; every sound sheet after it was refused."""
    lid = log_blank(papers, "lot 1", laid_on_something(tmp_path, ground=0.05, base=0.084), size=(254, 203), at=NOW)
    assert lid.record.told[1]
    assert lid.record.base[0] < 0.06
    assert lightest_base(papers, "lot 1", wedge="") is None
    after = log_blank(papers, "lot 1", blank(tmp_path, base=0.084), size=(254, 203), at=NOW + timedelta(days=1))
    assert after.record.verdict == Verdict.SOUND.value


def test_sheets_are_compared_with_those_read_alike(papers, tmp_path):
    """What was read without a wedge is off by the scanner's tone curve."""
    rough = log_blank(papers, "lot 1", blank(tmp_path, base=0.05), size=(254, 203), at=NOW)
    assert rough.record.wedge == ""
    by_wedge = FogRecord(lot="lot 1", at=NOW, base=(0.09, 0.1, 0.11), verdict="sound", wedge="0.05 0.2")
    with papers.transaction() as conn:
        add(conn, by_wedge)
    assert lightest_base(papers, "lot 1", wedge="0.05 0.2 0.35") == (0.09, 0.1, 0.11)
    assert lightest_base(papers, "lot 1", wedge="") == rough.record.base


def test_a_reading_is_taken_back_and_brought_back(papers, tmp_path):
    wrong = log_blank(papers, "lot 1", blank(tmp_path, base=0.02), size=(254, 203), at=NOW).record
    take_reading_back(papers, wrong.id)
    assert fog_reports(papers) == []
    assert [record.id for record in readings_taken_back(papers)] == [wrong.id]
    sound = log_blank(papers, "lot 1", blank(tmp_path), size=(254, 203), at=NOW + timedelta(days=1))
    assert sound.record.verdict == Verdict.SOUND.value
    with pytest.raises(Refused, match="was taken back before"):
        take_reading_back(papers, wrong.id)
    bring_reading_back(papers, wrong.id)
    assert len(fog_reports(papers)) == 2
    with pytest.raises(Refused, match="nothing to bring back"):
        bring_reading_back(papers, wrong.id)
    with pytest.raises(UnknownRecord, match="No fog reading has the number 99"):
        take_reading_back(papers, 99)
