"""What the studio is set up with: costs, tolerances, how well prints repeat, how numbers are written."""

from typing import Any

import click

from printlore.core.memory.priors import Priors
from printlore.faces import words
from printlore.faces.cli.desk import Desk, Steps, with_desk
from printlore.faces.studio_typed import ALIKE_WORDS, COST_WORDS, TOLERANCE_WORDS, Words, alike_entered, entered
from printlore.records.light import Head, Lens
from printlore.records.studio import Costs, Preferences, Repeatability, Tolerances
from printlore.services.entry import change_settings, list_records, read_settings


@click.group(cls=Steps)
def command() -> None:
    """What the studio is set up with. What is not named stays as it is; with nothing named, it is only shown."""


@command.command()
@with_desk
def show(desk: Desk) -> None:
    """Heads and lenses, costs, tolerances, how well prints repeat, and how numbers are written."""
    heads, lenses = list_records(desk.db, Head), list_records(desk.db, Lens)
    costs, tolerances = read_settings(desk.db, Costs), read_settings(desk.db, Tolerances)
    repeatability, preferences = read_settings(desk.db, Repeatability), read_settings(desk.db, Preferences)
    answer = {
        "folder": desk.folder,
        "only_read": desk.db.only_read,
        "heads": heads,
        "lenses": lenses,
        "costs": costs,
        "tolerances": tolerances,
        "repeatability": repeatability,
        "preferences": preferences,
    }
    desk.say(
        answer,
        f"Everything you enter lies in {desk.folder}.",
        *(f"Head {head.name}: usually {words.setting(head.usual)}." for head in heads),
        *(f"Lens {lens.name}." for lens in lenses),
        *_figures(tolerances, TOLERANCE_WORDS),
        *_figures(costs, COST_WORDS, preferences.currency),
        _alike(repeatability),
        _writing(preferences),
    )


@command.command()
@click.option("--minute", help="Of your time.")
@click.option("--sheet")
@click.option("--strip")
@click.option("--millilitre", help="Of working solution.")
@click.option("--cycle-minutes", help="One cycle: expose, process, judge [min].")
@with_desk
def costs(desk: Desk, **given: str | None) -> None:
    """Set what things cost; it decides between a strip and a sheet."""
    there = read_settings(desk.db, Costs)
    if changes := entered(COST_WORDS, given):
        there = change_settings(desk.db, Costs, **changes)
    currency = read_settings(desk.db, Preferences).currency
    desk.say(there, *(["The costs are set."] if changes else []), *_figures(there, COST_WORDS, currency))


@command.command()
@click.option("--edition-delta-e", help="A print that must match others: dE00 of the reference patch at most.")
@click.option("--good-alone-cc", help="A print that hangs alone: within so many CC.")
@click.option("--good-alone-time", help="And within this share of the exposure time, for example 0,1.")
@with_desk
def tolerances(desk: Desk, **given: str | None) -> None:
    """Set how near is near enough."""
    there = read_settings(desk.db, Tolerances)
    if changes := entered(TOLERANCE_WORDS, given):
        there = change_settings(desk.db, Tolerances, **changes)
    desk.say(there, *(["The tolerances are set."] if changes else []), *_figures(there, TOLERANCE_WORDS))


@command.command()
@click.option("--alike-cc", help='[CC] 1 if side by side you just see that two differ; "" takes back what was said.')
@with_desk
def repeats(desk: Desk, alike_cc: str | None) -> None:
    """Say how far prints made alike in separate drum loads scatter; `taught --repeats` says what they taught.

    It is the standard deviation of a layer.
    """
    there = read_settings(desk.db, Repeatability)
    if alike_cc is not None:
        there = change_settings(desk.db, Repeatability, alike_cc=alike_entered(alike_cc))
    desk.say(there, _alike(there))


@command.command()
@click.option("--length-unit", help="cm or inch.")
@click.option("--decimal-mark", help='"." or ",". Both are understood wherever you type.')
@click.option("--currency", help="What money is in.")
@with_desk
def writing(desk: Desk, **given: str | None) -> None:
    """Set how lengths, numbers and money are written."""
    there = read_settings(desk.db, Preferences)
    changes: dict[str, Any] = {name: text for name, text in given.items() if text is not None}
    if changes:
        there = change_settings(desk.db, Preferences, **changes)
    desk.say(there, _writing(there))


def _figures(record: Costs | Tolerances, called: Words, money: str = "") -> list[str]:
    units = {name: f" [{unit or money}]" if unit or money else "" for name, _, unit in called}
    return [f"{what}{units[name]}: {words.shortest(getattr(record, name), 4)}." for name, what, _ in called]


def _alike(repeatability: Repeatability) -> str:
    if repeatability.alike_cc is None:
        return f"{ALIKE_WORDS} [CC]: nothing is said; {words.number(100 * Priors().alike, 1)} is taken, from memory."
    return f"{ALIKE_WORDS} [CC]: {words.shortest(repeatability.alike_cc, 2)} is expected."


def _writing(preferences: Preferences) -> str:
    return (
        f"Lengths are written in {preferences.length_unit}, numbers as 7{preferences.decimal_mark}5, "
        f"money in {preferences.currency}."
    )
