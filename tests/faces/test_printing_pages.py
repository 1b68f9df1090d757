"""The main job on the page: advice, three touches, a scan, undo, and every wrong entry answered in words."""

import re
from html import unescape

import pytest
from fastapi.testclient import TestClient

from printlore.faces.web.app import create_app
from printlore.records.database import Database
from printlore.records.negatives import Frame
from printlore.services import entry
from printlore.services.trials import frame_history


def said(answer):
    """What a page says, without its markup."""
    return unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.text)))


def fields(answer):
    """What the page's forms would send as they stand, choices not made and boxes not ticked."""
    entries = re.findall(r"<input[^>]*>", answer.text)
    named = [re.search(r'name="([^"]+)".*?value="([^"]*)"', tag, re.S) for tag in entries if "radio" not in tag]
    sent = {found[1]: unescape(found[2]) for found in named if found}
    return {name: value for name, value in sent.items() if name not in ("wet", "negative", "size")}


def test_an_empty_studio_offers_a_first_print_and_asks_for_nothing_else():
    with TestClient(create_app(Database.in_memory()), base_url="http://localhost") as client:
        assert "Nothing is printed here yet" in said(client.get("/"))
        page = client.post("/print", data={})
        assert page.status_code == 200
        assert "unnamed frame 1" in said(page)
        assert "from memory" in said(page)
        assert 'href="/studio#repeats"' in page.text


def test_old_notes_can_be_entered_after_a_first_print_too(client, harbour):
    assert "has a print you kept" in client.get("/").text or "in work" in client.get("/").text
    assert 'href="/notebook"' in client.get("/").text


def test_three_touches_log_a_print_by_eye_and_bring_the_next_setting(client, db):
    page = client.post("/print", data={"name": "quay"})
    sent = fields(page) | {"seen": "slight magenta", "lightness": "a little light"}
    again = client.post(str(page.url.path) + "/eye", data=sent)
    assert "slightly magenta, a little light" in said(again)
    trial = frame_history(db, "quay")[0]
    patch = trial.patches[0]
    assert patch.judgements[0].judgement.strength == 10
    assert patch.advised is not None
    assert patch.advised.setting == patch.made
    assert trial.row.lot == "lot 1"


def magenta_of(page):
    return float(re.search(r"magenta</dt><dd>([\d.]+)", page.text)[1])


@pytest.mark.parametrize(("cast", "way"), [("magenta", 1), ("green", -1)])
def test_too_magenta_brings_more_magenta_and_too_green_less(client, cast, way):
    """Common practice, no source."""
    page = client.post("/print", data={"name": "quay"})
    before = magenta_of(page)
    sent = fields(page) | {"seen": f"strong {cast}", "lightness": "right"}
    after = magenta_of(client.post(str(page.url.path) + "/eye", data=sent))
    assert (after - before) * way > 0


def test_the_same_form_sent_twice_is_logged_once(client, db, harbour):
    sent = fields(client.get(f"/print/{harbour}")) | {"seen": "trace cyan", "lightness": "right"}
    for _ in range(2):
        answer = client.post(f"/print/{harbour}/eye", data=sent)
    assert len(frame_history(db, "harbour")) == 2
    assert "is logged already" in said(answer)
    assert "Logged as" not in said(answer)


def test_a_filter_laid_on_the_print_counts_double(client, db, harbour):
    sent = fields(client.get(f"/print/{harbour}"))
    client.post(
        f"/print/{harbour}/eye",
        data=sent | {"seen": "trace magenta", "lightness": "right", "filter": "7,5", "filter_where": "print"},
    )
    judgement = frame_history(db, "harbour")[-1].patches[0].judgements[0]
    assert judgement.judgement.strength == 15
    assert judgement.filter_at_eye is False


def test_kept_needs_no_words(client, db, harbour):
    sent = fields(client.get(f"/print/{harbour}")) | {"kept": "yes"}
    assert "kept as right" in said(client.post(f"/print/{harbour}/eye", data=sent))
    assert frame_history(db, "harbour")[-1].patches[0].kept


def test_what_was_really_made_is_kept_beside_what_was_advised(client, db, harbour):
    sent = fields(client.get(f"/print/{harbour}")) | {"seen": "none", "lightness": "right"}
    client.post(f"/print/{harbour}/eye", data=sent | {"magenta": "12,5", "time": "1:05"})
    patch = frame_history(db, "harbour")[-1].patches[0]
    assert patch.made.pack.magenta == 12.5
    assert patch.made.time == 65
    assert patch.advised.setting != patch.made


def test_undo_takes_the_print_back_and_says_so(client, db, harbour):
    sent = fields(client.get(f"/print/{harbour}")) | {"seen": "trace cyan", "lightness": "right"}
    page = client.post(f"/print/{harbour}/eye", data=sent)
    undo = re.search(r'action="(/trials/\d+/undo)"', page.text)[1]
    assert "it no longer counts" in said(client.post(undo))
    assert len(frame_history(db, "harbour")) == 1
    assert client.post("/trials/99/undo").status_code == 404


def test_a_print_taken_back_is_marked_and_brought_back_on_the_page(client, db, harbour):
    number = frame_history(db, "harbour")[0].row.id
    taken = client.post(f"/trials/{number}/undo")
    assert f'action="/trials/{number}/bring-back"' in taken.text
    assert client.post(f"/trials/{number}/undo").status_code == 409
    for page in (client.get(f"/negatives/{harbour}"), client.get(f"/print/{harbour}/log")):
        assert "taken back" in page.text
    assert "it counts again" in said(client.post(f"/trials/{number}/bring-back"))
    assert "taken back" not in client.get(f"/negatives/{harbour}").text
    assert [trial.row.id for trial in frame_history(db, "harbour")] == [number]
    assert client.post(f"/trials/{number}/bring-back").status_code == 409
    name = frame_history(db, "harbour")[0].name
    client.delete(f"/api/trials/{name}?version=3")
    assert client.get(f"/api/trials/{name}").json()["row"]["removed"] is True
    assert client.post(f"/api/trials/{name}/bring-back").json()["row"]["removed"] is False


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"time": "0"}, "Exposure time is 0 s; it must be above 0"),
        ({"time": "soon"}, 'Time: The time "soon" cannot be read'),
        ({"time": ""}, "Time is empty"),
        ({"magenta": "1000"}, "magenta filter is 1000 CC; it must be between 0 and 400"),
        ({"yellow": "nan"}, "cannot be read"),
        ({"seen": ""}, "Nothing was said of the colour"),
        ({"f_number": "0"}, "The f-number is 0; it must be above 0"),
        ({"filter": "500"}, "A cast of 500 CC cannot be"),
    ],
)
def test_a_wrong_entry_is_answered_in_words_and_logs_nothing(client, db, harbour, wrong, words):
    sent = fields(client.get(f"/print/{harbour}")) | {"seen": "trace cyan", "lightness": "right"}
    answer = client.post(f"/print/{harbour}/eye", data=sent | wrong)
    assert answer.status_code == 422
    assert words in said(answer)
    inside = client.post(f"/print/{harbour}/eye", data=sent | wrong, headers={"HX-Request": "true"})
    assert inside.status_code == 422
    assert words in said(inside)
    assert "<html" not in inside.text
    assert len(frame_history(db, "harbour")) == 1


def test_the_page_says_the_cast_in_words_in_density_and_in_cc(client, harbour):
    text = said(client.get(f"/print/{harbour}"))
    assert re.search(r"T1 at 8\.0 s is .*too .*: density [+−]0\.\d\d [+−]0\.\d\d [+−]?0\.\d\d from the aim", text)
    assert re.search(r"it needs [+−]\d+\.\d M [+−]?\d+\.\d Y", text)
    assert "in 10 that a whole sheet" in text or "chance that a whole sheet" in text


def test_the_lines_of_the_bill_add_up(client, db, harbour):
    entry.add_lot(db, "lot 2", paper="matt")
    page = client.get(f"/print/{harbour}", params={"lot": "lot 2", "size": "30x40 cm"})
    bill = re.search(r'<div class="bill".*?</div>\s*(?=<p class="hint">In CC)', page.text, re.S)[0]
    rows = [
        [float(cell.replace("−", "-").replace("×", "")) for cell in row]
        for row in re.findall(
            r'<span class="amount">([+−]?[\d.]+)</span><span class="amount">([+−]?[\d.]+)</span>'
            r'<span class="amount">(×[\d.]+)</span>',
            bill,
        )
    ]
    *lines, total = rows
    assert len(lines) >= 3
    for column in (0, 1):
        assert sum(line[column] for line in lines) == pytest.approx(total[column], abs=0.051 * len(rows))
    factor = 1.0
    for line in lines:
        factor *= line[2]
    assert factor == pytest.approx(total[2], rel=0.02 * len(rows))
    assert "size" in bill


def test_the_reasons_start_from_what_the_eye_said_and_name_their_unit(client):
    place = client.post("/print", data={"name": "by eye"}).url.path
    made = {"magenta": "50", "yellow": "50", "time": "9", "f_number": "8", "magnification": "8", "kind": "sheet"}
    client.post(f"{place}/eye", data={**made, "seen": "strong cyan", "lightness": "right"})
    page = client.get(place).text
    bill = page[page.index('<div class="bill"') :]
    assert ", by eye: strongly cyan, lightness right" in bill
    assert "a little too cyan" not in bill
    assert 'M <span class="unit">CC</span>' in bill
    assert re.search(r"In CC\. One step of the magenta dial is about \d\.\d\d of them, of the yellow \d\.\d\d\.", bill)


def test_another_size_asks_for_another_time(client, harbour):
    """Illuminance goes as 1/(m + 1)^2: NAVEDTRA 14209 gives the same ratio for its magnification example."""

    def time_at(size):
        page = client.get(f"/print/{harbour}", params={"size": size, "negative": "36x24"})
        aperture = float(re.search(r"f/</span>([\d.]+)", page.text)[1])
        return float(re.search(r'id="time"[^>]* value="([\d.]+)"', page.text)[1]) / aperture**2

    small, large = time_at("18 x 12 cm"), time_at("36 x 24 cm")
    assert large / small == pytest.approx((11 / 6) ** 2, rel=0.08)


def test_the_size_asked_for_is_logged_with_the_print_and_the_crop_is_said(client, db, harbour):
    page = client.get(f"/print/{harbour}", params={"size": "20x25 cm", "negative": "36x24", "fit": "filled"})
    assert (
        "Enlarged 8.33 times, so that the negative fills the sheet: 17 % of the negative's long side is cropped."
        in said(page)
    )
    sent = fields(page) | {"seen": "10 cyan"}
    assert client.post(f"/print/{harbour}/eye", data=sent).status_code == 200
    newest = frame_history(db, "harbour")[-1]
    assert newest.row.print_size == (200, 250)
    assert newest.patches[0].made.magnification == pytest.approx(200 / 24, abs=0.005)
    whole = client.get(f"/print/{harbour}", params={"size": "20x25 cm", "negative": "", "fit": "whole"})
    assert 'value="whole" selected' in whole.text
    refused = client.get(f"/print/{harbour}", params={"size": "20x25 cm", "negative": "36"})
    assert refused.status_code == 422
    assert "Write both sides in mm, for example 36x24 or 56x56" in said(refused)


@pytest.mark.parametrize(
    ("asked", "status"), [({"size": "big"}, 422), ({"head": "no such"}, 404), ({"lot": "no such"}, 404)]
)
def test_conditions_that_cannot_be_are_said(client, harbour, asked, status):
    assert client.get(f"/print/{harbour}", params=asked).status_code == status


def test_a_negative_that_is_not_there_is_said(client):
    answer = client.get("/print/999")
    assert answer.status_code == 404
    assert "There is no negative number 999" in said(answer)


# --- scans


@pytest.fixture
def scanned(client, db, strip):
    content, wedge, truth = strip
    market = entry.find_record(db, Frame, "market").id
    page = client.post(f"/print/{market}/scan", files={"scan": ("strip 1.tif", content, "image/tiff")})
    assert page.status_code == 200
    return page, wedge, truth


def test_an_uploaded_scan_is_kept_and_shown_for_tapping(client, scanned):
    page, _, truth = scanned
    rows, columns = truth.pixels.shape[:2]
    assert f"{columns} × {rows} pixels, 16 bits" in said(page)
    image = client.get(re.search(r'src="(/scans/[0-9a-f]{64}\.jpg)"', page.text)[1])
    assert image.headers["content-type"] == "image/jpeg"
    assert "immutable" in image.headers["cache-control"]


def middle(patch):
    left, top, right, bottom = patch.box
    return {"x": str((left + right) // 2), "y": str((top + bottom) // 2)}


def test_a_tapped_patch_reads_within_its_error_of_the_truth(client, scanned):
    """The simulated scan knows its own status A densities; the wedge is grey, the paper is dye, so 0.05 is allowed."""
    page, wedge, truth = scanned
    step = truth.patches[1]
    sent = {"wedge": wedge, "what": "patch", "times": "8", **middle(step)}
    read = client.post(str(page.url.path) + "/read", data=sent, headers={"HX-Request": "true"})
    assert read.status_code == 200
    values = [float(v) for v in re.search(r"It reads ([\d.]+) ([\d.]+) ([\d.]+)", said(read)).groups()]
    assert values == pytest.approx(step.density.tolist(), abs=0.05)
    assert read.text.count('class="wedge-box"') == len(wedge.split())


def test_a_reading_is_logged_with_its_scan_and_its_place(client, db, scanned):
    page, wedge, truth = scanned
    sent = fields(page) | {"wedge": wedge, "what": "patch", "times": "9,5", **middle(truth.patches[1])}
    assert "one patch read from the scan" in said(client.post(str(page.url.path) + "/log", data=sent))
    trial = frame_history(db, "market")[-1]
    reading = trial.patches[0].readings[0]
    assert trial.patches[0].made.time == 9.5
    assert reading.scan is not None
    assert reading.box[0] < int(sent["x"]) < reading.box[2]
    assert "0.05" in client.get(str(page.url.path)).text


def test_steps_of_a_strip_are_logged_with_their_own_times(client, db, scanned):
    page, wedge, truth = scanned
    sent = fields(page) | {"wedge": wedge, "what": "strip", "count": "3", "times": "6,4 8 10"}
    answer = client.post(str(page.url.path) + "/log", data=sent)
    assert "3 steps read from the scan" in said(answer)
    trial = frame_history(db, "market")[-1]
    assert [patch.made.time for patch in trial.patches] == [6.4, 8.0, 10.0]
    greens = [patch.readings[0].density[1] for patch in trial.patches]
    assert greens == pytest.approx([patch.density[1] for patch in truth.patches], abs=0.05)


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"wedge": ""}, "fewer than three steps"),
        ({"wedge": "0.05 x 0.3"}, "Densities of the wedge: The number"),
        ({"x": "", "y": ""}, "No patch was tapped"),
        ({"x": "100000"}, "reaches outside scan"),
        ({"x": "-1"}, "reaches outside scan"),
        ({"times": "0"}, "must be above 0"),
        ({"times": "4 8"}, "One patch was read, but 2 times are given"),
        ({"wedge": "2.0 0.1 1.0 0.2 1.7 0.4"}, "No wedge of 6 steps was found"),
    ],
)
def test_a_reading_that_cannot_be_is_said_and_logs_nothing(client, db, scanned, wrong, words):
    page, wedge, truth = scanned
    sent = fields(page) | {"wedge": wedge, "what": "patch", "times": "8", **middle(truth.patches[1])}
    answer = client.post(str(page.url.path) + "/log", data=sent | wrong)
    assert answer.status_code == 422
    assert words in said(answer)
    assert frame_history(db, "market") == []


@pytest.mark.parametrize(
    ("content", "words"),
    [(b"", "or it is empty"), (b"not a picture", "not a picture"), (b"II*\0", "cut short")],
    ids=["empty", "text", "truncated"],
)
def test_a_file_that_is_no_scan_is_said(client, harbour, content, words):
    answer = client.post(f"/print/{harbour}/scan", files={"scan": ("strip.tif", content, "image/tiff")})
    assert answer.status_code == 422
    assert "strip.tif" in said(answer) or words in said(answer)


def test_a_truncated_scan_is_said(client, harbour, strip):
    answer = client.post(f"/print/{harbour}/scan", files={"scan": ("cut.tif", strip[0][:5000], "image/tiff")})
    assert answer.status_code == 422
    assert "cut.tif" in said(answer)


def test_a_scan_that_is_not_kept_here_is_said(client, harbour):
    assert client.get(f"/print/{harbour}/scan/{'0' * 64}").status_code == 404
    assert client.get(f"/scans/{'0' * 64}.jpg").status_code == 404


# --- tonight


def test_tonight_lists_what_is_in_work_before_what_is_kept(client, harbour):
    sent = fields(client.get(f"/print/{harbour}")) | {"kept": "yes"}
    client.post(f"/print/{harbour}/eye", data=sent)
    text = said(client.get("/"))
    assert "1 negative is in work; 1 has a print you kept" in text
    assert text.index("market") < text.index("harbour", text.index("market"))


def test_nothing_already_entered_is_lost_when_the_studio_cannot_be_written(tmp_path, db):
    with Database.open(tmp_path) as made:
        entry.add_film(made, "film")
        entry.add_frame(made, "quay", film="film")
    with Database.open(tmp_path, read_only=True) as read_only:
        client = TestClient(create_app(read_only), base_url="http://localhost")
        page = client.get("/print/1/log")
        assert page.status_code == 200
        sent = fields(page) | {"seen": "none", "lightness": "right"}
        answer = client.post("/print/1/eye", data=sent, headers={"HX-Request": "true"})
        assert answer.status_code == 503
        assert "can be read but not written" in said(answer)


def test_what_was_done_is_still_said_when_the_advice_comes_after_a_wait(tmp_path):
    """The sentence and its undo stand on the page that waits and on the one that follows."""
    with Database.open(tmp_path / "studio") as studio:
        entry.add_film(studio, "film")
        entry.add_frame(studio, "quay", film="film")
        app = create_app(studio)
        client = TestClient(app, base_url="http://localhost")
        sent = {"seen": "none", "lightness": "right", "magenta": "60", "yellow": "50", "time": "8"}
        waiting = client.post("/print/1/eye", data=sent, follow_redirects=True)
        assert waiting.status_code == 202
        assert "Logged as T1" in waiting.text
        for _ in range(60):
            answer = client.get("/print/1", headers={"X-Still-Working": "1"})
            if answer.status_code != 202:
                break
        shown = client.get("/print/1")
        app.state.keeper.close()
    assert shown.status_code == 200
    assert "Logged as T1" in shown.text
    assert "/trials/1/undo" in shown.text


MADE = {"magenta": "60", "yellow": "50", "time": "8", "f_number": "8", "magnification": "8"}


def test_what_the_eye_said_last_stands_before_an_older_reading(client, harbour):
    assert "T1 at 8.0 s is " in said(client.get(f"/print/{harbour}"))
    client.post(f"/print/{harbour}/eye", data={**MADE, "seen": "slight magenta"})
    page = said(client.get(f"/print/{harbour}"))
    assert "T2, by eye: slightly magenta, lightness right." in page
    assert "T1 at 8.0 s is " not in page


def test_after_a_print_is_kept_that_comes_first_and_the_chance_is_of_another_sheet(client, harbour):
    client.post(f"/print/{harbour}/eye", data={**MADE, "seen": "none", "kept": "yes"})
    page = said(client.get(f"/print/{harbour}"))
    assert "T2 is kept. It is right to the eye and was not read" in page
    assert "A scan of T2 makes it the print to match" in page
    assert "strip first" not in page


def test_a_print_kept_by_eye_is_scanned_afterwards_and_counts_once(client, db, strip):
    content, wedge, truth = strip
    market = entry.find_record(db, Frame, "market").id
    client.post(f"/print/{market}/eye", data={**MADE, "seen": "none", "kept": "yes"})
    page = client.post(f"/print/{market}/scan", files={"scan": ("print.tif", content, "image/tiff")})
    kept = frame_history(db, "market")[-1].name
    assert f'<option value="{kept}" selected>' in page.text
    sent = fields(page) | {"wedge": wedge, "what": "patch", "of": kept, **middle(truth.patches[1])}
    answer = client.post(page.url.path + "/log", data=sent)
    (trial,) = frame_history(db, "market")
    assert trial.name == kept
    assert trial.patches[0].kept
    assert trial.patches[0].made.time == 8.0
    assert trial.patches[0].readings[0].density == pytest.approx(truth.patches[1].density, abs=0.05)
    assert f"It is to match {kept}, the first print of it that was kept and measured" in said(answer)
    assert f"{kept} is kept." in said(client.get(f"/print/{market}"))
    several = sent | {"what": "strip", "count": "3", "times": "6,4 8 10"}
    assert client.post(page.url.path + "/log", data=several).status_code == 422


def test_a_print_is_kept_as_it_is_read_and_afterwards_in_its_history(client, db, scanned):
    page, wedge, truth = scanned
    sent = fields(page) | {"wedge": wedge, "what": "patch", "times": "8", "kept": "yes", **middle(truth.patches[0])}
    assert "; kept." in said(client.post(page.url.path + "/log", data=sent))
    (trial,) = frame_history(db, "market")
    assert trial.patches[0].kept
    page = client.post(f"/trials/{trial.row.id}/keep", data={"kept": "no"})
    assert "It is right: keep it" in said(page)
    assert not frame_history(db, "market")[0].patches[0].kept


def test_a_scan_of_a_print_on_another_lot_is_logged_on_that_lot(client, db, strip):
    content, wedge, truth = strip
    entry.add_lot(db, "lot 2", paper="matt")
    market = entry.find_record(db, Frame, "market").id
    page = client.get(f"/print/{market}", params={"lot": "lot 2"})
    action = unescape(re.search(r'action="(/print/[^"]*/scan[^"]*)"', page.text)[1])
    page = client.post(action, files={"scan": ("print.tif", content, "image/tiff")})
    assert "lot 2" in said(page)
    sent = fields(page) | {"wedge": wedge, "what": "patch", "times": "8", **middle(truth.patches[0])}
    client.post(page.url.path + "/log", data=sent)
    assert [trial.row.lot for trial in frame_history(db, "market")] == ["lot 2"]


def test_for_another_size_a_kept_print_is_no_promise_and_the_handbook_says_nothing(client, harbour):
    client.post(f"/print/{harbour}/eye", data={**MADE, "seen": "none", "kept": "yes"})
    assert "T2 is kept." in said(client.get(f"/print/{harbour}"))
    page = said(client.get(f"/print/{harbour}", params={"size": "40x50 cm"}))
    assert "T2 is kept." not in page
    assert "handbook" not in page


def test_a_lot_that_came_is_one_press_away(client, db, harbour):
    entry.add_lot(db, "lot 9", paper="matt")
    page = client.get(f"/print/{harbour}", params={"size": "30x40 cm"})
    assert '"lot 9" was added since the last print' in said(page)
    offered = unescape(re.search(r'href="(/print/[^"]*lot=[^"]*)"', page.text)[1])
    page = client.get(offered)
    assert 'value="30x40 cm"' in page.text
    assert "lot 9" in said(page)
    assert "was added since" not in said(page)
