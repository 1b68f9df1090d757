"""An edition told: where its prints are, their lines, the terms of a price. The page and the terminal say the same."""

from collections.abc import Sequence
from dataclasses import replace

from printlore.core.calendar import day
from printlore.core.edition.state import Place, PrintEvent
from printlore.faces import words
from printlore.faces.telling import TAKEN_BACK
from printlore.records.editions import PrintLine
from printlore.services.edition_price import PriceFloor
from printlore.services.editions import EditionView, PaperLeft, PrintView

STILL_TO_MAKE = "still to make"
SOLD_HERE = "sold, still here"


def counts(view: EditionView) -> list[tuple[str, int]]:
    """How many numbered prints are where, artist's proofs left out; what is not there is left out."""
    here = [one for one in view.counted if one.place is Place.HERE]
    sold = sum(one.sold for one in here)
    reserved = sum(one.print.removed and not one.print.proof for one in view.prints)
    found = [
        ("here", len(here) - sold),
        (SOLD_HERE, sold),
        ("away", view.at(Place.AWAY)),
        ("destroyed", view.at(Place.DESTROYED)),
        (f"numbering {TAKEN_BACK}", reserved),
        (STILL_TO_MAKE, view.left),
    ]
    return [(what, count) for what, count in found if count]


def shape(view: PrintView) -> str:
    """Which of ``counts`` a print belongs to."""
    if view.print.removed:
        return f"numbering {TAKEN_BACK}"
    if view.place is Place.HERE:
        return SOLD_HERE if view.sold else "here"
    return view.place.value


def print_words(view: PrintView) -> str:
    """A print by its number, and what happened to it last."""
    state = f"numbering {TAKEN_BACK}" if view.print.removed else view.state
    return f"{view.facts.number_words}: {state}"


def numbered_words(view: PrintView) -> str:
    """What is promised since a print got its number, in a sentence; empty if that is as it was."""
    if not view.beside:
        return ""
    number = view.facts.number_words
    said = f"Numbered {number} on {day(view.numbered_at)}; {view.beside}."
    if view.life or view.print.removed:
        return said
    anew = replace(view.facts, of=None).number_words
    return (
        f"{said} If {number} is written nowhere yet, take the numbering back and bring it back: then it reads {anew}."
    )


def line_words(line: PrintLine, currency: str) -> str:
    """What happened, for how much, to whom, how packed, why."""
    unit = "" if currency == "unit" else f" {currency}"
    money = "" if line.price is None else f"{words.shortest(line.price, 2)}{unit}"
    parts = [
        line.happened.value,
        f"for {money}" if money else "",
        f"to {line.person}" if line.person else "",
        f"packed {line.packed}" if line.packed else "",
        line.note,
    ]
    return ", ".join(part for part in parts if part)


def likely_next(view: PrintView) -> str:
    """What is likely to be written down next, for the form to begin with; nothing once the print is with its buyer."""
    if PrintEvent.SIGNED not in view.life:
        return PrintEvent.SIGNED
    if not view.sold:
        return PrintEvent.SOLD
    return PrintEvent.DELIVERED if PrintEvent.DELIVERED not in view.life else ""


def size_words(size: tuple[float, float] | None, unit: str) -> str:
    """A size in the studio's unit, or that none is recorded."""
    if size is None:
        return "size not recorded"
    return f"{words.length(size[0], unit)} × {words.length(size[1], unit)} {unit}"


def paper_words(left: PaperLeft, unit: str) -> str:
    """Whether paper covers what is left, and of which lot and size that is said."""
    return f"{left.cover.words} Looked at: {left.lot}, {size_words(left.size, unit)}."


def care_rules(parts: Sequence[tuple[str, Sequence[tuple[str, str]]]]) -> list[dict[str, object]]:
    """How to keep a print, for programs: each part with its rules, each rule with what it rests on."""
    return [
        {"part": part, "rules": [{"words": said, "source": source} for said, source in rules]} for part, rules in parts
    ]


def price_parts(floor: PriceFloor) -> list[tuple[str, float, str]]:
    """(term, money, what it is reckoned from) of what one print costs; they add up to it."""
    terms, minute = floor.terms, words.shortest(floor.terms.minute, 3)
    since = f"since {floor.since}, the last numbered print," if floor.since else "of this negative so far"
    tried = f"{words.counted(floor.sheets, 'sheet')} and {words.counted(floor.strips, 'strip')} {since}"
    cycles = words.shortest(floor.tries.value, 1)
    if not floor.sheets + floor.strips:
        took = f"nothing is logged: {cycles} drum cycles a good print are taken (from memory)"
    elif not floor.good:
        took = f"{tried} gave none that is right yet: {cycles} drum cycles at least"
    else:
        took = f"{tried} gave {floor.good} right: {cycles} drum cycles a good print"
    return [
        (
            "Printing",
            floor.tries.value * floor.cycle_minutes * terms.minute,
            f"{took}, {words.shortest(floor.cycle_minutes)} min each at {minute} a minute",
        ),
        ("Finishing", floor.finishing * terms.minute, f"{words.shortest(floor.finishing)} min at {minute} a minute"),
        (
            "Paper",
            terms.sheets * terms.sheet + terms.strips * terms.strip,
            f"{words.shortest(terms.sheets)} sheets at {words.shortest(terms.sheet, 2)}, "
            f"{words.shortest(terms.strips)} strips at {words.shortest(terms.strip, 2)}",
        ),
        ("Chemistry", terms.chemistry, f"{words.number(floor.solution)} mL of working solution"),
        ("Mount and packing", terms.mount, "as said" if terms.mount else "nothing was said"),
    ]


def price_steps(floor: PriceFloor) -> list[tuple[str, float]]:
    """From what a print costs to the price floor, each step with its share named."""
    terms = floor.terms
    share, kept = (words.shortest(100 * one) for one in (terms.reject_share, terms.commission))
    spoiled = f"with its part of the {share} % that are spoiled" if terms.reject_share else "if none is spoiled"
    commission = f"so that {kept} % commission leaves that" if terms.commission else "and nobody takes a commission"
    return [
        ("One print", terms.made),
        (spoiled, terms.good),
        (commission, terms.floor),
    ]


def floor_words(floor: PriceFloor) -> str:
    """The price floor with its error, as one says it."""
    money = " units" if floor.currency == "unit" else f" {floor.currency}"
    if floor.floor.standard_error:
        return f"{words.figures(floor.floor.value)} ± {words.figures(floor.floor.standard_error)}{money}"
    return f"{words.figures(floor.floor.value, 3)}{money}"
