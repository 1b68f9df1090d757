"""Everything that can be done by a command can be done from Python: each command beside its call of ``Studio``."""

import inspect
from collections.abc import Iterator

import click
import pytest

from printlore import Studio
from printlore.errors import ValueOutOfRange
from printlore.faces.cli.main import group

CALL_OF = {
    "backup": "back_up",
    "edition add": "editions.add",
    "edition bring-back": "editions.bring_back",
    "edition care": "editions.care",
    "edition certificate": "editions.certificate",
    "edition change": "editions.change",
    "edition check": "editions.check",
    "edition correct": "editions.correct",
    "edition label": "editions.labels_pdf",
    "edition line": "editions.line",
    "edition list": "editions.list",
    "edition listing": "editions.listing",
    "edition number": "editions.number",
    "edition price": "editions.price",
    "edition print": "editions.print",
    "edition show": "editions.show",
    "edition take-back": "editions.take_back",
    "evening card": "evening.card_pdf",
    "evening pour": "evening.compare_pour",  # and that it was poured: evening.tell("poured", ...)
    "frame read": "read_negative",
    "import": "from_export",
    "init": "open",
    "measure import": "measure.import_",
    "restore": "from_backup",
    "studio costs": "settings.costs",
    "studio repeats": "settings.repeats",
    "studio show": "settings.writing",  # each of them shows what there is
    "studio tolerances": "settings.tolerances",
    "studio writing": "settings.writing",
    "taught": "lessons",  # and evidence_of
} | dict.fromkeys(
    (
        f"evening {what}"
        for what in ("beat", "care", "close", "dried", "frame", "hold", "move", "move-on", "rehearsed", "resume",
                     "told-apart", "wrong")
    ),
    "evening.tell",
)  # fmt: skip
"""Where a call has other words than its command; all others have the same (``paper take-box``: ``paper.take_box``)."""

OF_THE_COMMAND_LINE_ALONE = {
    "certificate": "for `serve` on other devices",
    "demo": "builds an invented studio and serves it",
    "serve": "the page itself",
}


def commands(found: click.Command, path: tuple[str, ...] = ()) -> Iterator[str]:
    if isinstance(found, click.Group):
        context = click.Context(group)
        for name in found.list_commands(context):
            yield from commands(found.get_command(context, name), (*path, name))
    else:
        yield " ".join(path)


def look_up(owner: object, path: str) -> object | None:
    for name in path.split("."):
        owner = getattr(owner, name, None)
    return owner


def call_of(words: str) -> str:
    if words in CALL_OF:
        return CALL_OF[words]
    same = words.replace("-", "_")
    return same.replace(" ", "_") if hasattr(Studio, same.replace(" ", "_")) else same.replace(" ", ".")


@pytest.mark.parametrize("words", sorted(set(commands(group)) - set(OF_THE_COMMAND_LINE_ALONE)))
def test_every_command_has_a_call_that_says_what_it_does(words):
    call = look_up(Studio.in_memory(), call_of(words))
    assert callable(call), f"Python has no call for: printlore {words}"
    assert (inspect.getdoc(call) or "").strip(), words


def test_the_table_names_commands_that_are_there():
    assert {*CALL_OF, *OF_THE_COMMAND_LINE_ALONE} <= set(commands(group))


def test_what_happens_in_an_evening_is_told_by_its_name_and_taken_back():
    studio = Studio.in_memory()
    studio.add_frame("harbour", film=studio.add_film("film"))
    studio.evening.open("Friday")
    studio.evening.tell("frame_listed", frame="harbour")
    assert studio.evening.show().frames == ("harbour",)
    studio.evening.undo()
    assert studio.evening.show().frames == ()
    with pytest.raises(ValueOutOfRange, match=r'"frame_liste" is nothing that happens .* Near it: "frame_listed"'):
        studio.evening.tell("frame_liste", frame="harbour")
    with pytest.raises(ValueOutOfRange, match='held has an unknown part "lod"; near it is "load"'):
        studio.evening.tell("held", lod="1")
