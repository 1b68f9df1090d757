"""Editions: promise, number, certify and deliver prints; check a certificate; the price floor."""

import json
from dataclasses import replace
from typing import Any

import click

from printlore.core.calendar import day
from printlore.core.edition.record import in_groups
from printlore.core.quantities import parse_size
from printlore.errors import ValueOutOfRange
from printlore.faces import edition_telling, edition_typed, typed, words
from printlore.faces.cli.desk import Desk, OutFile, Steps, table, with_desk
from printlore.faces.edition_typed import HAPPENINGS, count
from printlore.faces.telling import TAKEN_BACK
from printlore.files import write_file
from printlore.records.editions import Edition
from printlore.records.studio import Preferences
from printlore.services import editions as ledger
from printlore.services import print_lines
from printlore.services.doubts import slip_questions
from printlore.services.edition_price import price_floor
from printlore.services.edition_sheets import care_pdf, care_words, certificate_pdf, labels_pdf, listing
from printlore.services.entry import find_record, read_settings


@click.group(cls=Steps)
def command() -> None:
    """Promise editions, number their prints, and write down what becomes of each."""


@command.command("list")
@click.option("--frame", help="Of this negative alone.")
@with_desk
def list_(desk: Desk, frame: str | None) -> None:
    """Every edition, and where its prints are."""
    views = ledger.editions_of(desk.db, frame)
    rows = [(one.edition.name, one.edition.frame, one.promises[-1].words, _counted(one)) for one in views]
    lines = table(("edition", "negative", "promised", "prints"), rows)
    desk.say(views, *(lines if rows else ("No edition is promised yet: printlore edition add.",)))


def _counted(view: ledger.EditionView) -> str:
    return ", ".join(f"{what} {number}" for what, number in edition_telling.counts(view))


@command.command()
@click.argument("title")
@click.option("--frame", required=True, help="The negative.")
@click.option("--prints", required=True, help="Numbered prints in all, over all sizes and papers.")
@click.option("--proofs", default="0", show_default=True, help="Artist's proofs beside.")
@click.option("--artist", default="", help="As it stands on certificates.")
@click.option("--sizes", default="", help="In which it is offered, in words.")
@with_desk
def add(desk: Desk, title: str, frame: str, prints: str, proofs: str, artist: str, sizes: str) -> None:
    """Promise the edition TITLE of a negative."""
    made = ledger.add_edition(
        desk.db,
        title,
        frame=frame,
        prints=count(prints, "Prints"),
        proofs=count(proofs, "Artist's proofs"),
        artist=artist,
        sizes=sizes,
    )
    view = ledger.edition_view(desk.db, made.name)
    desk.say(made, f"{made.name} is promised as {view.promises[-1].words}.", *(f"? {one}" for one in view.warnings))


@command.command()
@click.argument("title")
@with_desk
def show(desk: Desk, title: str) -> None:
    """The edition TITLE: its prints, what was promised when, and whether paper covers what is left."""
    view = ledger.edition_view(desk.db, title)
    unit = read_settings(desk.db, Preferences).length_unit
    paper = ledger.paper_left(desk.db, view)
    rows = [
        (
            f"{one.facts.number_words}{f' ({one.beside})' if one.beside else ''}",
            one.print.name,
            f"numbering {TAKEN_BACK}" if one.print.removed else one.state,
            edition_telling.size_words(one.facts.size, unit),
            one.print.trial or "not logged",
        )
        for one in view.prints
    ]
    lines = [f"{view.edition.name}, of {view.edition.frame}: {_counted(view)}."]
    lines += table(("number", "code", "state", "size", "sheet"), rows) if rows else []
    lines += [
        f"Promised{f' on {day(one.at)}' if one.at else ''}: {one.words}{f' ({one.reason})' if one.reason else ''}"
        f"{', raised knowingly with prints out' if one.confirmed else ''}."
        for one in view.promises
    ]
    lines += [f"To match: {view.reference.name}."] if view.reference else []
    lines += [edition_telling.paper_words(paper, unit)] if paper else []
    sheets = ledger.sheets_to_number(desk.db, view.edition)
    if sheets:
        asked = slip_questions(desk.db, view.edition.frame)
        sheets = ledger.sheets_to_number(desk.db, view.edition, asked)
        lines += [f"Without a number: {', '.join(row.name for row, _ in sheets)}."]
    lines += [f"? {doubt}" for one in view.prints for doubt in one.doubts]
    lines += [f"? {doubt}" for _, doubts in sheets for doubt in doubts]
    lines += [f"? {warning}" for warning in view.warnings]
    waiting = [{"sheet": row, "doubts": doubts} for row, doubts in sheets]
    desk.say({"view": view, "paper": paper, "sheets": waiting}, *lines)


@command.command()
@click.argument("title")
@click.option("--name", help="Another title.")
@click.option("--prints", help="Numbered prints in all.")
@click.option("--proofs", help="Artist's proofs beside.")
@click.option("--artist")
@click.option("--sizes")
@click.option(
    "--reason", default="", help="Why the promise changes; needed if it does. It stands on certificates: name nobody."
)
@click.option("--confirm", is_flag=True, help="Raise it although prints are out under the old promise.")
@click.option("--seen", type=click.IntRange(min=1), help="The version that was read: refused if it was changed since.")
@with_desk
def change(
    desk: Desk,
    title: str,
    name: str | None,
    prints: str | None,
    proofs: str | None,
    artist: str | None,
    sizes: str | None,
    reason: str,
    confirm: bool,
    seen: int | None,
) -> None:
    """Correct the edition TITLE or change its promise; every earlier promise stays readable."""
    there = find_record(desk.db, Edition, title)
    changes: dict[str, Any] = {
        field: value for field, value in (("name", name), ("artist", artist), ("sizes", sizes)) if value is not None
    }
    for field, text, what in (("prints", prints, "Prints"), ("proofs", proofs, "Artist's proofs")):
        if text is not None:
            changes[field] = count(text, what)
    if not changes:
        raise ValueOutOfRange("Nothing was named to be changed. Give --prints, --proofs, --name, --artist or --sizes.")
    there = there if seen is None else replace(there, version=seen)
    made = ledger.change_edition(desk.db, there, reason=reason, confirmed=confirm, **changes)
    desk.say(made, f"{made.name}: {ledger.edition_view(desk.db, made.name).promises[-1].words}.")


@command.command()
@click.argument("title")
@click.option("--trial", help="The sheet it is; without one, a print that was never logged.")
@click.option("--number", help="The next that was not given, if not said.")
@click.option("--proof", is_flag=True, help="An artist's proof.")
@click.option("--size", default="", help="As logged, if not said.")
@click.option("--on", default="", help="Day it was printed; as logged, if not said.")
@click.option("--paper", default="", help="In words, if it was never logged.")
@click.option("--over-copies", is_flag=True, help="Go beyond 30 copies of the negative knowingly.")
@with_desk
def number(
    desk: Desk,
    title: str,
    trial: str | None,
    number: str | None,
    proof: bool,
    size: str,
    on: str,
    paper: str,
    over_copies: bool,
) -> None:
    """Give a print of the edition TITLE its number and its code."""
    printed = typed.day_if(on, "On")
    asked = ledger.NOTHING_ASKED
    if trial is not None:
        asked = slip_questions(desk.db, find_record(desk.db, Edition, title).frame)
    made = ledger.number_print(
        desk.db,
        title,
        trial=trial,
        number=None if number is None else count(number, "Number"),
        proof=proof,
        size=parse_size(size) if size.strip() else None,
        printed_on=printed.isoformat() if printed else None,
        paper=paper,
        over_copies=over_copies,
        asked=asked,
    )
    lines = [f"{made.facts.number_words} has the code {made.print.name}: write it on the back."]
    desk.say(made, *lines, *(f"? {doubt}" for doubt in made.doubts))


@command.command("print")
@click.argument("code")
@with_desk
def print_(desk: Desk, code: str) -> None:
    """The print of this CODE and what became of it; lines by their number."""
    view = ledger.find_print(desk.db, code)
    currency = read_settings(desk.db, Preferences).currency
    rows = [
        (str(one.id), day(one.at), edition_telling.line_words(one, currency), TAKEN_BACK if one.removed else "")
        for one in view.lines
    ]
    lines = [f"{what}: {value}" for what, value in view.facts.lines()]
    lines += [edition_telling.numbered_words(view)] if view.beside else []
    lines += ["", *table(("line", "when", "what", ""), rows)] if rows else []
    desk.say(view, *lines, *(f"? {doubt}" for doubt in view.doubts))


@command.command()
@click.argument("code")
@click.argument("happened", type=click.Choice([one.value for one in HAPPENINGS]))
@click.option("--on", default="", help="Day; now if not said.")
@click.option("--price", default="")
@click.option("--to", "person", default="", help="May stay empty: names of buyers are personal data.")
@click.option("--packed", default="", help="How, if it was delivered.")
@click.option("--note", default="", help="Why, if it was destroyed.")
@with_desk
def line(desk: Desk, code: str, happened: str, on: str, price: str, person: str, packed: str, note: str) -> None:
    """Write down what HAPPENED to the print of this CODE."""
    made = print_lines.add_line(
        desk.db,
        code,
        edition_typed.happened(happened),
        at=typed.moment_if(on, "On"),
        price=typed.number_if(price, "Price"),
        person=person,
        packed=packed,
        note=note,
    )
    told = edition_telling.line_words(made, read_settings(desk.db, Preferences).currency)
    doubts = [f"? {doubt}" for doubt in ledger.find_print(desk.db, made.print).doubts]
    desk.say(made, f"{made.print}: {told}.", *doubts, *([ledger.PERSONAL] if made.person else []))


@command.command()
@click.argument("code")
@click.option("--again", is_flag=True, help="Write a new one although there is one.")
@click.option("--out", type=OutFile(), help="PDF to write.")
@with_desk
def certificate(desk: Desk, code: str, again: bool, out: Any) -> None:
    """Write the certificate of the print of this CODE, unless it is written; print it with --out."""
    made = ledger.find_print(desk.db, code).certificate
    if made is None or again:
        made = print_lines.write_certificate(desk.db, code)
    if out is not None:
        write_file(out, certificate_pdf(desk.db, code))
    lines = [*made.record.splitlines()[1:], f"Digest: {in_groups(made.digest)}", ledger.CERTIFICATE_DUTY]
    desk.say(made, *lines, *([f"Written to {out}."] if out else []))


@command.command()
@click.argument("codes", nargs=-1)
@click.option("--edition", "title", help="All prints of this edition.")
@click.option("--out", type=OutFile(), required=True, help="PDF to write.")
@with_desk
def label(desk: Desk, codes: tuple[str, ...], title: str | None, out: Any) -> None:
    """Labels for the backs of the prints of these CODES, or of a whole edition."""
    if title is not None:
        codes += tuple(one.print.name for one in ledger.edition_view(desk.db, title).prints if not one.print.removed)
    if not codes:
        raise ValueOutOfRange("No print was named. Give print codes, or --edition with its title.")
    write_file(out, labels_pdf(desk.db, codes))
    desk.say({"out": out, "codes": codes}, f"{words.counted(len(codes), 'label')} written to {out}.")


@command.command()
@click.argument("code")
@click.option("--lux", default="", help="Where it will hang, lx.")
@click.option("--hours", default="", help="Of that light a day.")
@click.option("--dose", default="", help="Dose stated by the paper's maker, million lx h.")
@click.option("--out", type=OutFile(), help="PDF to write.")
@with_desk
def care(desk: Desk, code: str, lux: str, hours: str, dose: str, out: Any) -> None:
    """Packing slip and care of the print of this CODE, with the light it will receive."""
    stated = typed.number_if(dose, "Dose")
    light: dict[str, float | None] = {
        "lux": typed.number_if(lux, "Lux"),
        "hours": typed.number_if(hours, "Hours"),
        "stated_dose": None if stated is None else stated * 1e6,
    }
    code = ledger.find_print(desk.db, code).print.name
    parts = care_words(**light)
    if out is not None:
        write_file(out, care_pdf(desk.db, code, **light))
    lines = [f"{part}: {said} ({source})" for part, rules in parts for said, source in rules]
    desk.say(edition_telling.care_rules(parts), *lines, *([f"Written to {out}."] if out else []))


@command.command()
@click.argument("code")
@click.argument("digest", default="")
@click.option("--says", multiple=True, help='What else it says, for example "Number: 3/15".')
@with_desk
def check(desk: Desk, code: str, digest: str, says: tuple[str, ...]) -> None:
    """Compare a certificate with the ledger: its CODE and DIGEST, or at least the first 8 digits of that."""
    found = print_lines.check_certificate(desk.db, code, digest, read=edition_typed.read_off(says))
    rows = [*found.differs]
    lines = table(("what", "on the certificate", "in the ledger"), rows) if rows else []
    desk.say(found, found.words, *lines)


@command.command()
@click.argument("title")
@click.option("--size", default="", help="As the last numbered print, if not said.")
@click.option("--finishing", default="", help="Minutes to spot, trim, sign, mount and pack.")
@click.option("--mount", default="", help="Mount, sleeve and packing.")
@click.option("--solution", default="", help="Working solution used up, mL/m2.")
@click.option("--spoiled", default="", help="Of finished prints, percent.")
@click.option("--commission", default="", help="Percent.")
@with_desk
def price(
    desk: Desk, title: str, size: str, finishing: str, mount: str, solution: str, spoiled: str, commission: str
) -> None:
    """The price below which the next print of the edition TITLE is sold at a loss, term by term."""
    floor = price_floor(
        desk.db,
        title,
        size=parse_size(size) if size.strip() else None,
        finishing=typed.number_if(finishing, "Finishing"),
        mount=typed.number_if(mount, "Mount"),
        solution=typed.number_if(solution, "Solution"),
        spoiled=edition_typed.share(spoiled, "Spoiled"),
        commission=edition_typed.share(commission, "Commission"),
    )
    rows = [(what, words.number(amount, 2), why) for what, amount, why in edition_telling.price_parts(floor)]
    rows += [(what, words.number(amount, 2), "") for what, amount in edition_telling.price_steps(floor)]
    lines = [f"Below {edition_telling.floor_words(floor)} the next print of {floor.edition} is sold at a loss."]
    lines += table(("term", "cost", "reckoned from"), rows)
    lines += [f"? {flag.words}" for flag in floor.floor.flags] + [f"Assumed: {one}." for one in floor.assumed]
    desk.say(floor, *lines)


@command.command("listing")
@click.argument("code")
@with_desk
def listing_(desk: Desk, code: str) -> None:
    """The print of this CODE as JSON-LD in the words of schema.org, for a shop's page."""
    found = listing(desk.db, code)
    desk.say(found, json.dumps(found, ensure_ascii=False, indent=2))


@command.command()
@click.argument("code")
@click.option("--trial", help='The sheet it is; "" if it was never logged.')
@click.option("--size", help='"" if it is not known.')
@click.option("--on", help='Day it was printed; "" if it is not known.')
@click.option("--paper", help="In words, if it was never logged.")
@click.option("--note")
@click.option("--seen", type=click.IntRange(min=1), help="The version that was read: refused if it was changed since.")
@with_desk
def correct(
    desk: Desk,
    code: str,
    trial: str | None,
    size: str | None,
    on: str | None,
    paper: str | None,
    note: str | None,
    seen: int | None,
) -> None:
    """Put the print of this CODE right; number and code stay, and so does what is not named."""
    there = ledger.find_print(desk.db, code).print
    changes: dict[str, Any] = {
        field: value for field, value in (("trial", trial), ("paper", paper), ("note", note)) if value is not None
    }
    if size is not None:
        changes["size"] = parse_size(size) if size.strip() else None
    if on is not None:
        printed = typed.day_if(on, "On")
        changes["printed_on"] = printed.isoformat() if printed else None
    asked = ledger.NOTHING_ASKED
    if trial and trial != there.trial:
        asked = slip_questions(desk.db, find_record(desk.db, Edition, there.edition).frame)
    there = there if seen is None else replace(there, version=seen)
    made = ledger.correct_print(desk.db, there, asked=asked, **changes)
    lines = [f"{made.facts.number_words}, {made.print.name}, is put right."]
    desk.say(made, *lines, *(f"? {doubt}" for doubt in made.doubts))


_TITLE = click.option("--edition", "title", help="The edition of this title.")
_CODE = click.option("--print", "code", help="The numbering of the print of this code.")
_LINE = click.option("--line", type=click.IntRange(min=1), help="The line of this number (see `edition print`).")


def _one_of_three(title: str | None, code: str | None, line: int | None) -> None:
    if sum(one is not None for one in (title, code, line)) != 1:
        raise ValueOutOfRange("Name one of three: --edition TITLE, --print CODE or --line NUMBER.")


@command.command("take-back")
@_TITLE
@_CODE
@_LINE
@with_desk
def take_back(desk: Desk, title: str | None, code: str | None, line: int | None) -> None:
    """Take back a line, a numbering, or an edition without numbers; it stays listed with a mark."""
    _one_of_three(title, code, line)
    if line is not None:
        gone = print_lines.take_print_line_back(desk.db, print_lines.find_print_line(desk.db, line))
        desk.say(gone, f"Taken back: {gone.print}, {gone.happened.value}.")
    elif code is not None:
        there = ledger.take_print_back(desk.db, ledger.find_print(desk.db, code).print)
        desk.say(there, f"The numbering of {there.name} is taken back; no other print gets number {there.number}.")
    else:
        edition = find_record(desk.db, Edition, title or "")
        ledger.take_edition_back(desk.db, edition)
        desk.say(edition, f"{edition.name} is taken back.")


@command.command("bring-back")
@_TITLE
@_CODE
@_LINE
@with_desk
def bring_back(desk: Desk, title: str | None, code: str | None, line: int | None) -> None:
    """Let what was taken back count again, as it stood."""
    _one_of_three(title, code, line)
    if line is not None:
        back = print_lines.bring_print_line_back(desk.db, print_lines.find_print_line(desk.db, line))
        desk.say(back, f"Brought back: {back.print}, {back.happened.value}.")
    elif code is not None:
        there = ledger.bring_print_back(desk.db, ledger.find_print(desk.db, code).print)
        desk.say(there, f"{there.name} counts again, number {there.number}.")
    else:
        edition = ledger.bring_edition_back(desk.db, title or "")
        desk.say(edition, f"{edition.name} counts again.")
