"""Slips and tones on the page, over HTTP and on the command line: the same questions and answers."""

import re

from printlore.faces.cli.main import main
from printlore.records.database import Database
from printlore.services.trials import find_trial


def hidden(text):
    form = re.search(r'<form method="post" action="(/trials/\d+/doubt)".*?</form>', text, re.S)
    return form[1], dict(re.findall(r'name="(\w+)" value="([^"]*)"', form[0]))


def test_the_main_job_and_the_history_ask_and_yes_corrects(client, slipped):
    page = client.get("/print/2").text
    assert "reads as if 4 s had been given, not 8 s" in page or "reads as if the lens stood at" in page
    assert "Was that it?" in client.get("/negatives/2/weighed").text
    action, sent = hidden(page)
    answer = client.post(action, data=sent | {"answer": "slip"}, follow_redirects=True)
    assert "slip is corrected to" in answer.text
    assert "Was that it?" not in answer.text
    assert find_trial(slipped, "slip").version == 2
    assert client.post(action, data=sent | {"answer": "slip"}).status_code == 409


def test_steps_are_counted_from_one_on_the_page_and_by_command(client, slipped, run):
    action, sent = hidden(client.get("/print/2").text)
    assert sent["step"] == "1"
    refused = client.post(action, data=sent | {"step": "0", "answer": "right"})
    assert (refused.status_code, "Step 0 is none. The steps of a strip are counted from 1" in refused.text) == (
        422,
        True,
    )
    (doubt,) = client.get("/api/doubts").json()
    assert (doubt["step"], doubt["suspect"]["patch"]) == (1, 0)
    run("log", "--pack", "60M 50Y", "--time", "8", "--density", "0.70 0.72 0.71")
    for option in ("--step", "--patch"):
        status, _, error = run("doubts", "right", "T1", option, "0")
        assert (status, "0 is no step. The steps of a strip are counted from 1." in error) == (2, True)
        assert run("doubts", "right", "T1", option, "1")[0] == 0
        status, _, error = run("doubts", "right", "T1", option, "2")
        assert (status, 'Trial "T1" has 1 step, counted from 1; there is no step 2' in error) == (4, True)


def test_no_is_not_asked_again(client, slipped):
    action, sent = hidden(client.get("/negatives/2/weighed").text)
    answer = client.post(action, data=sent | {"answer": "right"}, follow_redirects=True)
    assert "not asked about again" in answer.text
    assert str(answer.url).endswith("/negatives/2")
    assert client.get("/api/doubts", params={"frame": "market"}).json() == []


def test_a_program_asks_and_answers(client, slipped):
    (doubt,) = client.get("/api/doubts", params={"frame": "market"}).json()
    assert doubt["suspect"]["trial"] == "slip"
    done = client.post("/api/trials/slip/doubt", json={"slip": True, "version": doubt["version"]})
    assert done.status_code == 200
    assert client.post("/api/trials/slip/doubt", json={"slip": True}).status_code == 409


def test_tones_are_entered_and_the_compromise_shown(client, slipped):
    assert "Read three places of one print" in client.get("/negatives/2/weighed").text
    sent = {"trial": "M0", "light": "0,31 0,36 0,31", "mid": "0.70 0.70 0.70", "dark": "1.40 1.25 1.40"}
    assert "tones of M0 are recorded" in client.post("/negatives/2/tones", data=sent, follow_redirects=True).text
    part = client.get("/negatives/2/weighed").text
    assert "Filtration cannot cure this" in part
    assert part.count('<th scope="row">') == 3
    assert "Light and dark tones of M0" in client.get("/print/2").text
    answer = client.get("/api/frames/market/tones").json()
    assert [tone["name"] for tone in answer["compromise"]["tones"]] == ["light", "mid", "dark"]
    sent = {"trial": "M0", "light": "0,31 0,36"}
    assert "needs three densities" in client.post("/negatives/2/tones", data=sent, headers={"HX-Request": "true"}).text
    sent = {"trial": "M0", "light": "0,31 0,36 0,31", "light_aim": "0 0 0"}
    assert "Paper white cannot be an aim" in client.post("/negatives/2/tones", data=sent).text


def test_the_command_line_has_the_same(tmp_path, capsys):
    folder = str(tmp_path / "studio")
    Database.open(folder).close()
    for pack, density in (("60M 50Y", "0.70 0.72 0.71"), ("61M 50Y", "0.70 0.70 0.71")):
        main(["log", "--pack", pack, "--time", "8", "--density", density, "--studio", folder])
    capsys.readouterr()
    assert main(["doubts", "list", "--studio", folder]) in (0, None)
    assert "Every trial agrees" in capsys.readouterr().out
    main(["tones", "read", "T1", "--tone", "light: 0,31 0,36 0,31", "--tone", "dark: 1,4 1,25 1,4", "--studio", folder])
    main(["tones", "show", "unnamed frame 1", "--json", "--studio", folder])
    assert '"compromise"' in capsys.readouterr().out
