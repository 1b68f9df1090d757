"""Advice and readings as lines for the terminal, in the order a printer would ask."""

from collections.abc import Sequence
from textwrap import wrap

from printlore.core.flags import Flag
from printlore.core.light.three_lights import Lights
from printlore.core.measure.strip import StripReading
from printlore.faces import words
from printlore.faces.cli.desk import table
from printlore.faces.job import BillLine, Job

WIDTH = 92
_REMEDY = {Flag.USUAL_REPEATS: "; `printlore studio repeats --alike-cc` says it"}
"""What can be done about a doubt, where a command does it."""


def reading_lines(reading: StripReading, times: Sequence[float] = ()) -> list[str]:
    """What was read off a scan, step by step, with its doubts."""
    rows = [
        (
            str(number),
            words.seconds(times[number - 1]) if times else "",
            *(words.density(value) for value in step.density),
            f"± {words.number(max(step.standard_error), 3)}",
        )
        for number, step in enumerate(reading.steps, 1)
    ]
    doubts = dict.fromkeys([*reading.flags, *(flag for step in reading.steps for flag in step.flags)])
    return [
        *table(("step", "time", "red", "green", "blue", ""), rows),
        *(line for flag in doubts for line in said(f"Doubt: {flag.words}.")),
    ]


def advice_lines(job: Job) -> list[str]:
    """The cast, the next setting, how likely it is right, and why."""
    advice = job.advice
    expected = " ".join(words.estimate(value) for value in advice.predicted_density)
    steps = ", ".join(words.seconds(time)[:-2] for time in job.strip_times)
    return [
        *said(job.cast_line),
        "",
        f"{job.sentence} {job.frame.name} at  {words.setting(advice.setting)}",
        *_three_lights(job.report.lights),
        *([f"Its steps, one beside the other: {steps} s."] if steps and len(job.report.lights) < 2 else []),
        *said(f"{job.opening} {job.next_words}"),
        *said(
            f"A print there is expected to read {expected} "
            f"in red, green and blue, dE00 {words.estimate(advice.delta_e, 1)} from the aim."
        ),
        *(line for flag in advice.flags for line in said(f"Doubt: {flag.words}{_REMEDY.get(flag, '')}.")),
        *(
            line
            for doubt in job.report.doubts
            for line in said(
                f"Made as logged? {doubt.suspect.trial} {doubt.suspect.words}. "
                f"printlore doubts slip {doubt.suspect.trial}, or: printlore doubts right {doubt.suspect.trial}."
            )
        ),
        *(said(f"Light and dark tones: {job.crossover.words}") if job.crossover else ()),
        *(line for remark in job.report.remarks for line in said(remark)),
        "",
        *table((job.bill_title, "M, CC", "Y, CC", "time", ""), [*map(_row, job.bill), _row(job.bill_total)]),
        *said(job.dials),
    ]


def _three_lights(lights: Sequence[Lights]) -> list[str]:
    """What the lights are set to; of a strip where they are given in turn, for each step."""
    if len(lights) < 2:
        return [f"That is {words.lights(one)}." for one in lights]
    return [f"Step {number}: {words.lights(one)}." for number, one in enumerate(lights, 1)]


def said(sentence: str) -> list[str]:
    """A sentence in lines of a comfortable length; nothing for nothing."""
    return wrap(sentence, WIDTH)


def _row(line: BillLine) -> tuple[str, str, str, str, str]:
    return (
        f"  {line.what}",
        words.number(line.magenta, 1, signed=True),
        words.number(line.yellow, 1, signed=True),
        words.factor(line.light),
        line.band,
    )
