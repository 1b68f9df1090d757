"""A trial told in a line: how it was made, and what came of it. The page and the terminal say the same."""

from collections.abc import Iterable
from datetime import UTC, datetime

from printlore.core.advice.pictures import Line, Picture
from printlore.core.advice.taught import Repeats
from printlore.core.calendar import day, moment
from printlore.core.flags import Flag
from printlore.faces import judging, words
from printlore.records.baths import Run
from printlore.records.baths_waste import DiaryEntry, WasteEntry
from printlore.records.stock import Container, FogRecord, Happened, StockLine
from printlore.records.trials import PatchRecord, TrialRecord
from printlore.services.bath_book import Entry
from printlore.services.paper_slip import Sold
from printlore.services.stock import BoxStatus


def made_words(trial: TrialRecord) -> str:
    """The setting, or how the steps of a strip differ."""
    first = trial.patches[0].made
    if len(trial.patches) == 1:
        return words.setting(first)
    times = " ".join(words.shortest(patch.made.time) for patch in trial.patches)
    return f"{words.pack(first.pack)}, {times} s, f/{words.shortest(first.f_number)}"


def patch_words(patch: PatchRecord) -> str:
    """What was read and said of one exposure."""
    parts = []
    if patch.readings:
        reading = patch.readings[-1]
        parts.append(f"reads {words.densities(reading.density)}")
        if Flag.CLIPPED in reading.flags or any(reading.beyond):
            parts.append("clipped in part")
    if patch.judgements:
        parts.append(judging.words_of(patch.judgements[-1].judgement))
    if patch.kept:
        parts.append("kept")
    return "; ".join(parts) or "not judged yet"


TAKEN_BACK = "taken back"
"""The mark of what is listed and does not count."""


def taken_back(what: str) -> str:
    """Of an entry, when it is taken back."""
    return f"Taken back: {what}."


def trial_taken_back(name: str) -> str:
    """Of a trial, when it is taken back: its name stands on the back of a print, so it is given once for ever."""
    return f"{name} is taken back; it no longer counts. No other print is called {name}."


def brought_back(what: str) -> str:
    """Of an entry that was taken back, when it is brought back."""
    return f"Brought back: {what}; it counts again."


def entry_words(entry: Entry) -> str:
    """What was done to a bath, with how much."""
    if isinstance(entry, Run):
        weighed = ", ".join(
            f"{words.shortest(volume)} mL {way}"
            for volume, way in ((entry.water_in, "carried in"), (entry.solution_out, "carried out"))
            if volume is not None
        )
        paper = "no area" if entry.area is None else f"{words.number(10_000 * entry.area)} cm²"
        return f"drum load {entry.name}: {paper}{f', {weighed}' if weighed else ''}"
    if entry.kind == "top up":
        return f"top up: {words.shortest(entry.bled or 0.0)} mL out, {words.shortest(entry.volume or 0.0)} mL in"
    return entry.kind if entry.volume is None else f"{entry.kind}: {words.shortest(entry.volume)} mL"


def waste_words(entry: WasteEntry) -> str:
    """What was poured into a container, or handed over of it."""
    size = f"{words.shortest(abs(entry.litres), 2)} L"
    if entry.litres > 0:
        return f"{size} into {entry.container}: {entry.what}"
    return f"{size} of {entry.container} handed to {entry.handed_to}"


def diary_words(entry: DiaryEntry) -> str:
    """Who worked with what for how long, behind what protection, and any symptom."""
    kept = {"gloves": entry.gloves, "goggles": entry.goggles, "fan": entry.ventilation}
    worked = f"{entry.person}, {words.number(entry.minutes)} min, {entry.substances}"
    worked += "".join(f", {'with' if worn else 'no'} {name}" for name, worn in kept.items())
    return f"{worked}; {entry.symptoms}" if entry.symptoms else worked


def booking_words(line: StockLine) -> str:
    """What came or went of a box or roll."""
    if line.happened is Happened.SPOILED and not (line.length or line.sheets):
        return line.note  # what a sitting spoiled went with the length or sheets that it cut
    if line.roll is not None:
        size = f"{words.number(abs(line.length or 0.0) / 1000, 2)} m of roll {line.roll}"
    elif line.happened is Happened.COUNTED:
        return f"{line.box}: {words.counted(line.sheets or 0, 'sheet')} counted{_noted(line)}"
    else:
        way = "out of" if (line.sheets or 0) < 0 else "into"
        size = f"{words.counted(abs(line.sheets or 0), 'sheet')} {way} box {line.box}"
    return f"{size}, {line.happened.value}{_noted(line)}"


def twin_words(twin: StockLine | Entry, what: str) -> str:
    """That the same was entered a moment before, perhaps of the same thing."""
    at = twin.at.astimezone()
    when_ = f"at {at:%H:%M}" if at.date() == datetime.now().astimezone().date() else f"for {day(at)}"
    return f"The same was booked {when_}: if it is the same {what}, take this back."


def box_words(status: BoxStatus) -> str:
    """What a box holds, and how far a count was from the ledger."""
    held = f"Box {status.box.name} holds {words.counted(status.sheets, 'sheet')}"
    if status.booked is None or status.booked.happened is not Happened.COUNTED:
        told = f"{held} by the ledger."
        if status.twin is not None:
            told += f" {twin_words(status.twin, 'paper')}"
        if status.came_back:
            told += (
                " What was away may have seen light or heat: keep it apart, and process a sheet of it unexposed before "
                "it is used or sold."
            )
        return told
    if not status.more:
        return f"{held}, as the ledger had it."
    if status.more > 0:
        return f"{held} by your count, {status.more} more than the ledger had: was the right box counted?"
    return (
        f"{held} by your count, {-status.more} fewer than the ledger had. If you know where they went, take the count "
        "back and book that first."
    )


def sale_words(found: Sold) -> str:
    """What to beware of before sold paper leaves, and where its packing slip is."""
    return " ".join([*found.beware, "Its packing slip is with its line of the ledger."])


def fog_words(record: FogRecord) -> str:
    """Which sheet was read for fog, and with what verdict."""
    return f"the sheet of {record.lot} read on {day(record.at)}, {record.verdict}"


def container_words(container: Container) -> str:
    """Whether a bag or box keeps light out, as it is remembered."""
    return f"{container.name} {'is remembered as unsafe' if container.unsafe else 'counts as light-tight again'}."


def moved_words(name: str, ready: datetime | None) -> str:
    """What to do with a roll or box that was moved, and will be warm by then if it was brought into the room."""
    if ready is None:
        return f"{name} is in the cold."
    return f"Leave {name} sealed until {moment(ready)}." if ready > datetime.now(UTC) else f"{name} is warm."


def _noted(line: StockLine) -> str:
    return "".join(f"; {text}" for text in (line.trial, line.note) if text)


def outcome_words(trial: TrialRecord) -> str:
    """What came of a trial; of a strip, how many steps say something; first of all, whether it was taken back."""
    said = _outcome_words(trial)
    return f"{TAKEN_BACK}; {said}" if trial.taken_back else said


def trial_lines(trials: Iterable[TrialRecord]) -> list[tuple[str, str, str, str]]:
    """Rows of the table of what was printed: name, made at, came out, when."""
    return [(trial.name, made_words(trial), outcome_words(trial), when(trial.row.at)) for trial in trials]


def _outcome_words(trial: TrialRecord) -> str:
    if len(trial.patches) == 1:
        return patch_words(trial.patches[0])
    read = sum(1 for patch in trial.patches if patch.readings or patch.judgements)
    return f"strip of {len(trial.patches)} steps, {read} read"


def when(at: datetime) -> str:
    """Day and time where we are."""
    return moment(at)


PICTURES = {
    "paper": "How {} answers light",
    "sight": "How otherwise {} sees negatives",
    "filters": "What the dials of {} take",
    "ageing": "How baths of {} age",
    "lamp": "How the light of {} has moved",
}
"""What a picture of something learned is called."""


def repeats_words(repeats: Repeats) -> str:
    """How far prints made alike scatter."""
    return (
        f"Prints made alike in separate drum loads scatter by {words.estimate(repeats.learned, 1)} CC in a layer; "
        f"{words.number(repeats.expected, 1)} was expected before any print."
    )


def picture_title(picture: Picture) -> str:
    """What it shows."""
    return PICTURES[picture.kind].format(picture.name)


def picture_words(picture: Picture) -> list[str]:
    """A picture in words: what it shows, and each line at its end."""
    lines = [f"  {line}" for line in line_words(picture)]
    return [f"{picture_title(picture)}: {picture.up} by {picture.across}", *lines]


def line_words(picture: Picture) -> list[str]:
    """Each line of a picture at the end of what prints have shown."""
    return [_line_words(picture, line) for line in picture.lines]


def _line_words(picture: Picture, line: Line) -> str:
    end = len(picture.at) - 1
    if picture.seen is not None:
        end = max((n for n, at in enumerate(picture.at) if at <= picture.seen[1]), default=end)
    decimals = 2 if picture.kind == "paper" else 1
    value, error, before = (words.number(one[end], decimals) for one in (line.values, line.errors, line.before))
    where = words.number(picture.at[end], 2 if picture.kind == "paper" else 1)
    believed = f", believed before {before}" if picture.kind in ("paper", "filters") else ""
    return f"{line.name} {value} ± {error} at {where}{believed}"
