"""A scanned blank goes in; verdict, causes and the unsafe bag come out and are remembered."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
import tifffile

from printlore.core.measure.fog import Cause, CoinTest, Verdict
from printlore.core.measure.scan import Box
from printlore.errors import UnknownRecord, ValueOutOfRange
from printlore.records.stock import RollRecord
from printlore.services.entry import add_lot, add_paper
from printlore.services.fog import (
    base_over_months,
    blame_container,
    coin_test_showed,
    fog_reports,
    log_blank,
    read_blank,
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
    assert [round(base[0], 2) for _, base in base_over_months(papers, "lot 1")] == [0.08, 0.14]
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
