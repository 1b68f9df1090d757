"""Everything that can be done on a page can be done by a command: each form of the page beside its command."""

import click
import pytest

from printlore.faces.cli.main import group
from printlore.faces.web.app import _page_modules

COMMAND_OF = {
    "/baths/concentrate": "baths open",
    "/baths/control": "baths control",
    "/baths/control/{number}/bring-back": "baths patches --bring-back",
    "/baths/control/{number}/undo": "baths patches --remove",
    "/baths/event/{number}/bring-back": "baths bring-back --event",
    "/baths/event/{number}/undo": "baths take-back --event",
    "/baths/fault": "baths fault --was",
    "/baths/kit": "baths kit",
    "/baths/kit/{name}/read": "baths sheet-read",
    "/baths/load/{number}/bring-back": "baths bring-back --load",
    "/baths/load/{number}/correct": "baths correct-load",
    "/baths/load/{number}/undo": "baths take-back --load",
    "/baths/mix": "baths mix",
    "/baths/of/{number}/gauge": "baths gauge",
    "/baths/of/{number}/retire": "baths retire",
    "/baths/of/{number}/run": "baths run",
    "/baths/of/{number}/top-up": "baths top-up",
    "/baths/warmth/curve": "baths curve",
    "/baths/warmth/time": "baths own-time",
    "/baths/waste/answer": "baths waste answer",
    "/baths/waste/container": "baths waste container",
    "/baths/waste/diary": "baths waste diary",
    "/baths/waste/diary/{number}/bring-back": "baths waste diary --bring-back",
    "/baths/waste/diary/{number}/undo": "baths waste diary --take-back",
    "/baths/waste/hand-over": "baths waste hand-over",
    "/baths/waste/lines/{number}/bring-back": "baths waste bring-back",
    "/baths/waste/lines/{number}/undo": "baths waste take-back",
    "/baths/waste/pour": "baths waste pour",
    "/editions": "edition add",
    "/editions/lines/{number}/bring-back": "edition bring-back --line",
    "/editions/lines/{number}/undo": "edition take-back --line",
    "/editions/prints/{number}/bring-back": "edition bring-back --print",
    "/editions/prints/{number}/certificate": "edition certificate",
    "/editions/prints/{number}/correct": "edition correct",
    "/editions/prints/{number}/line": "edition line",
    "/editions/prints/{number}/undo": "edition take-back --print",
    "/editions/{number}/bring-back": "edition bring-back --edition",
    "/editions/{number}/change": "edition change",
    "/editions/{number}/number": "edition number",
    "/editions/{number}/undo": "edition take-back --edition",
    "/evening": "evening open",
    "/evening/event": "evening wrong",  # one command for each kind of event, see below
    "/evening/plan": "evening plan",
    "/evening/sequences": "evening keep-sequence",
    "/negatives/film": "add film",
    "/negatives/frame": "add frame",
    "/negatives/{number}": "frame correct",
    "/negatives/{number}/density/{paper}": "aim density",
    "/negatives/{number}/density/{paper}/bring-back": "aim bring-back",
    "/negatives/{number}/density/{paper}/drop": "aim drop",
    "/negatives/{number}/picture": "frame picture",
    "/negatives/{number}/reading": "frame read",
    "/negatives/{number}/tone": "aim tone",
    "/negatives/{number}/tones": "tones read",
    "/notebook": "notebook",
    "/paper/book": "paper book",
    "/paper/book-roll": "paper book-roll",
    "/paper/boxes": "paper take-box",
    "/paper/containers": "paper container",
    "/paper/cut": "paper plan",
    "/paper/cut/search/{number}/keep": "paper plan --which",
    "/paper/cut/search/{number}/stop": "paper plan",  # interrupt it: the best plan so far is shown and kept
    "/paper/fog": "paper fog",
    "/paper/fog/{number}/blame": "paper fog --blame",
    "/paper/fog/{number}/bring-back": "paper fog --bring-back",
    "/paper/fog/{number}/coins": "paper fog --coins",
    "/paper/fog/{number}/undo": "paper fog --take-back",
    "/paper/ledger/{number}/bring-back": "paper bring-back",
    "/paper/ledger/{number}/undo": "paper take-back",
    "/paper/lots": "add lot --received",
    "/paper/lots/relations": "paper lot --same-as",
    "/paper/move": "paper move",
    "/paper/plans/{number}/sittings/{which}": "paper cut",
    "/paper/rolls": "paper take-roll",
    "/paper/rolls/measure": "paper measure",
    "/paper/trimmer": "paper trimmer",
    "/print": "frame next",
    "/print/{number}/eye": "log --said",
    "/print/{number}/scan": "log-scan",
    "/print/{number}/scan/{sha256}/log": "log-scan",
    "/readings/chart": "measure chart",
    "/readings/compare": "measure compare --keep",
    "/readings/drift": "measure drift",
    "/readings/offered": "log-scan",
    "/readings/pairs": "measure pair",
    "/readings/pairs/{number}/bring-back": "measure pairs --bring-back",
    "/readings/pairs/{number}/undo": "measure pairs --remove",
    "/readings/scan": "log-scan",
    "/readings/watch": "measure watch",
    "/readings/wedge": "measure wedge",
    "/studio/backup": "backup",
    "/studio/costs": "studio costs",
    "/studio/head": "add head",
    "/studio/lens": "add lens",
    "/studio/name": "rename",
    "/studio/preferences": "studio writing",
    "/studio/repeats": "studio repeats",
    "/studio/tolerances": "studio tolerances",
    "/trials/{number}/bring-back": "trial bring-back",
    "/trials/{number}/doubt": "doubts slip",
    "/trials/{number}/keep": "trial keep",
    "/trials/{number}/undo": "trial take-back",
}

SHOWN_BY = {
    "/": "tonight",
    "/baths": "baths list",
    "/baths/control": "baths process",
    "/baths/fault": "baths fault --seen",
    "/baths/labels": "baths labels",
    "/baths/mix": "baths plan",
    "/baths/of/{number}": "baths show",
    "/baths/warmth": "baths water",
    "/baths/waste": "baths waste list",
    "/editions": "edition list",
    "/editions/check": "edition check",
    "/editions/prints/{number}": "edition print",
    "/editions/prints/{number}/care.pdf": "edition care --out",
    "/editions/prints/{number}/certificate.pdf": "edition certificate --out",
    "/editions/prints/{number}/label.pdf": "edition label --out",
    "/editions/{number}": "edition show",
    "/editions/{number}/labels.pdf": "edition label --edition",
    "/editions/{number}/price": "edition price",
    "/evening": "evening show",
    "/evening/card.pdf": "evening card",
    "/evening/cues/{load:path}.wav": "evening cues",
    "/evening/sequences": "evening sequences",
    "/negatives": "list --find",
    "/negatives/{number}": "frame show",
    "/negatives/{number}/weighed": "tones show",
    "/paper": "paper stock",
    "/paper/cut": "paper trimmer",
    "/paper/edition": "paper cover",
    "/paper/fog": "paper fog",
    "/paper/ledger/{number}/slip.pdf": "paper slip",
    "/paper/lots": "paper lots",
    "/paper/plans/{number}": "paper plans",
    "/paper/plans/{number}/plan.pdf": "paper plans --pdf",
    "/paper/sittings/{number}/labels.pdf": "paper cut --labels",
    "/print/{number}": "advise",
    "/readings": "measure profiles",
    "/readings/compared/{number}": "measure compared",
    "/readings/compared/{number}/report.pdf": "measure compared --report",
    "/studio": "studio show",
    "/studio/export.zip": "export",
    "/taught": "taught",
    "/taught/one-print": "one-print",
    "/taught/{kind}": "taught --of",
}

OF_THE_PAGE_ALONE = {
    "/api": "for programs: it lists what they can ask",
    "/evening/dark/{load:path}": "spoken, driven by a foot switch in the dark; its steps are `evening card` and `cues`",
    "/evening/part": "a piece of /evening, drawn again as time goes by",
    "/evening/plan": "an empty form; `evening plan` takes what it asks for",
    "/evening/rehearsal": "a drill with the keyboard in the dark; `evening rehearsed` says that it was done",
    "/evening/wet": "/evening as one large target for wet gloves",
    "/evening/wet/part": "a piece of that, drawn again as time goes by",
    "/notebook": "an empty form; `notebook` takes what it asks for",
    "/paper/cut/search/{number}": "a search under way; `paper plan` tells of its own as it goes",
    "/paper/cut/search/{number}/part": "a piece of that, drawn again as time goes by",
    "/paper/sittings/{number}": "spoken and driven by a foot switch in the dark; `paper cut` takes the same presses",
    "/print/{number}/log": "an empty form; `log` takes what it asks for",
    "/print/{number}/scan/{sha256}": "a scan to be tapped; `log-scan` and `strip` find the steps or take boxes",
    "/scans/{sha256}.jpg": "a picture; the scan itself is a file",
}
"""Each page that shows no result of its own, and why no command stands beside it."""

EVENTS = {
    "care_confirmed": "care",
    "rehearsed": "rehearsed",
    "moved": "move",
    "frame_listed": "frame",
    "frame_dropped": "frame --drop",
    "load_planned": "plan",
    "beat_done": "beat",
    "run_begun": "begin",
    "held": "hold",
    "resumed": "resume",
    "moved_on": "move-on",
    "poured": "pour",
    "went_wrong": "wrong",
    "told_apart": "told-apart",
    "drum_dried": "dried",
    "undone": "undo",
    "closed": "close",
}


def options_of(words):
    """Every option of a command that must be there."""
    found = group
    context = click.Context(group)
    for word in words.split(" --")[0].split():
        assert isinstance(found, click.Group), words
        found = found.get_command(context, word)
        assert found is not None, f"there is no command for: printlore {words}"
    return {name for parameter in found.params for name in parameter.opts}


def test_every_form_of_the_page_has_a_command(client):
    paths = client.get("/api/openapi.json").json()["paths"]
    forms = {path.removeprefix("/api/forms") for path in paths if path.startswith("/api/forms")}
    assert forms == set(COMMAND_OF)


def test_every_page_has_a_command_or_a_reason_why_not():
    routers = (router for module in _page_modules() if (router := getattr(module, "router", None)) is not None)
    shown = [route.path for router in routers for route in router.routes if "GET" in route.methods]
    assert set(shown) == {*SHOWN_BY, *OF_THE_PAGE_ALONE}
    assert not set(SHOWN_BY) & set(OF_THE_PAGE_ALONE)


def test_every_event_of_an_evening_has_a_command():
    from printlore.core.evening.events import KINDS

    # a run is written into the ledger by the program itself
    assert set(KINDS) - {"run_written"} == set(EVENTS)


@pytest.mark.parametrize(
    "words",
    sorted({*COMMAND_OF.values(), *SHOWN_BY.values(), *(f"evening {words}" for words in EVENTS.values())}),
)
def test_each_of_them_is_there_and_answers_in_json(words):
    options = options_of(words)
    assert "--json" in options
    for option in words.split()[1:]:
        assert not option.startswith("--") or option in options, words
