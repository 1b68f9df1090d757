"""Steps of ``printlore baths``: mixing water, a small pour in a cold drum, own cooling curves and times."""

import click

from printlore.core.bath.temperature import WALL_SHARES, hot_volume, poured
from printlore.faces import typed, words
from printlore.faces.cli.desk import Desk, with_desk
from printlore.services.warmth import advise_pour, advise_time, log_cooling_curve, log_own_time


@click.command()
@click.option("--cold", required=True, help="Degrees C.")
@click.option("--hot", required=True, help="Degrees C.")
@click.option("--aim", required=True, help="Degrees C.")
@click.option("--total", required=True, help="mL")
@with_desk
def water(desk: Desk, cold: str, hot: str, aim: str, total: str) -> None:
    """How much hot and cold water make the total at the aimed temperature."""
    desk.write_as_studio()
    whole = typed.number(total, "Total")
    part = hot_volume(whole, typed.number(aim, "Aim"), typed.number(cold, "Cold"), typed.number(hot, "Hot"))
    desk.say({"hot": part, "cold": whole - part}, f"{part:.0f} mL hot and {whole - part:.0f} mL cold.")


@click.command()
@click.option("--volume", required=True, help="Poured, mL.")
@click.option("--at", "temperature", required=True, help="Degrees C.")
@click.option("--drum", required=True, help="Mass of its plastic, g.")
@click.option("--drum-at", required=True, help="Degrees C.")
@with_desk
def pour(desk: Desk, volume: str, temperature: str, drum: str, drum_at: str) -> None:
    """Where a small pour in a cold drum settles, for 15, 30 and all of the wall warming."""
    desk.write_as_studio()
    values = [
        poured(
            typed.number(volume, "Volume"),
            typed.number(temperature, "Temperature"),
            typed.number(drum, "Drum"),
            typed.number(drum_at, "Drum at"),
            share,
        )
        for share in WALL_SHARES
    ]
    desk.say(
        values,
        f"{words.number(values[0], 1)} degrees C if 15 % of the wall warms, {words.number(values[1], 1)} if 30 %, "
        f"{words.number(values[2], 1)} if all. "
        "Prewarm the drum; measure a pour of plain water to know (shares from memory).",
    )


@click.command("curve")
@click.argument("drum")
@click.option("--volume", required=True, help="Poured, mL.")
@click.option("--drum-at", required=True, help="Drum before, degrees C.")
@click.option("--times", required=True, help='"0 10 20 40": s since the pour.')
@click.option("--degrees", required=True, help='"35 34.2 33.7 33.1"')
@with_desk
def curve(desk: Desk, drum: str, volume: str, drum_at: str, times: str, degrees: str) -> None:
    """Record how a pour cooled in DRUM."""
    fitted = log_cooling_curve(
        desk.db,
        drum,
        typed.number(volume, "Volume"),
        typed.number(drum_at, "Drum at"),
        typed.numbers(times, "Times"),
        typed.numbers(degrees, "Degrees"),
    )
    desk.say(
        fitted,
        f"{drum}: the wall takes {fitted.wall_heat:.0f} ± {fitted.wall_heat_error:.0f} J/K, "
        f"half of the way in {0.693 / fitted.rate:.0f} s.",
        *(f"? {flag.words}" for flag in fitted.flags),
    )


@click.command("start")
@click.argument("drum")
@click.option("--aim", required=True, help="Mean over the step, degrees C.")
@click.option("--seconds", required=True, help="Of the step.")
@click.option("--volume", required=True, help="Poured, mL.")
@click.option("--drum-at", required=True, help="Degrees C.")
@with_desk
def start(desk: Desk, drum: str, aim: str, seconds: str, volume: str, drum_at: str) -> None:
    """At which temperature to pour into DRUM for the right mean."""
    advice = advise_pour(
        desk.db,
        drum,
        aim=typed.number(aim, "Aim"),
        duration=typed.number(seconds, "Seconds"),
        volume=typed.number(volume, "Volume"),
        wall=typed.number(drum_at, "Drum at"),
    )
    desk.say(advice, f"Pour at {words.number(advice.start, 1)} degrees C; it ends at {words.number(advice.end, 1)}.")


@click.command("own-time")
@click.argument("process_name")
@click.argument("temperature")
@click.argument("seconds")
@with_desk
def own_time(desk: Desk, process_name: str, temperature: str, seconds: str) -> None:
    """Record a trial that came out right: developer at TEMPERATURE for SECONDS."""
    made = log_own_time(
        desk.db, process_name, typed.number(temperature, "Temperature"), typed.number(seconds, "Seconds")
    )
    desk.say(made, f"{words.shortest(made.time, 2)} s at {words.shortest(made.temperature, 2)} degrees C is recorded.")


@click.command("time")
@click.argument("process_name")
@click.argument("temperature")
@with_desk
def time_(desk: Desk, process_name: str, temperature: str) -> None:
    """Developer time for today's TEMPERATURE, from own trials of a process only."""
    today = typed.number(temperature, "Temperature")
    found = advise_time(desk.db, process_name, today)
    desk.say(
        found,
        f"{words.estimate(found, 0)} s at {words.shortest(today, 2)} degrees C.",
        *(f"? {flag.words}" for flag in found.flags),
    )


STEPS = (water, pour, curve, start, own_time, time_)
