"""All that page and terminal say of a frame: advice in sentences, points of the map, lines of the bill."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from printlore.core.advice.advise import Advice, Seen
from printlore.core.advice.cast import cast_of
from printlore.core.light.enlarging import Sheet
from printlore.core.light.setting import Setting
from printlore.core.light.three_lights import Lights
from printlore.core.memory.explain import Part
from printlore.faces import judging, telling, words
from printlore.faces.points import Forecast, PastPrint
from printlore.records.database import Database
from printlore.records.light import Head
from printlore.records.negatives import Frame
from printlore.records.papers import Lot
from printlore.records.rows import every, latest
from printlore.records.trials import TrialRecord
from printlore.services.advice import BATH_OF_TODAY, LOT_OF_TODAY, AdviceReport, AdviceRequest, advise, lights_on
from printlore.services.by_eye import judged_patches
from printlore.services.drums import DrumRun, drum_of
from printlore.services.entry import find_record, list_records
from printlore.services.evening_plan import developers_in_use
from printlore.services.tones import Crossover, crossover
from printlore.services.trials import frame_history

_PART_WORDS = {
    "negative": "another negative",
    "head": "another head",
    "paper": "paper lot",
    "bath": "bath",
    "lamp": "lamp, since then",
    "size": "size",
    "f-number": "f-number",
}
_PART_EVIDENCE = {
    "negative": "The two negatives differ by this much.",
    "head": "Learned from what was printed under both heads.",
    "paper": "Learned from what was printed on both lots.",
    "bath": "The bath's age and use, from its ledger, and what prints in it taught.",
    "lamp": "The lamp drifts slowly; this is what the prints since then say.",
    "size": "Reckoned from the magnifications: light falls as (m + 1) squared.",
    "f-number": "Reckoned from the marked stops, with what was learned of them.",
}
TOLERANCE_NAMES = {"edition match": "a match for others", "good alone": "good by itself"}
"""What a print must be, as it is said; the tolerances' own names are for commands and programs."""
_MOVES = ("filters", "time")
"""Parts that are the answer, not the reason."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BillLine:
    """One reason, as the move that answers it: magenta and yellow to add [CC], exposure to give [log10]."""

    what: str
    magenta: float
    yellow: float
    light: float
    band: str = ""
    evidence: str = ""

    @property
    def nothing(self) -> bool:
        """Too small to show, band and all."""
        return max(abs(self.magenta), abs(self.yellow), abs(100 * self.light)) < 0.05 and not self.band


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """What the form that logs a print starts from.

    Attributes
    ----------
    made : Setting
    as_sent : str
        The advised setting as six numbers, for the log to keep beside what was made; "" if nothing was advised.
    strip_times : tuple of float
        Seconds of the advised strip's steps; empty for a sheet.
    lights : Lights or None
        The advised setting on a head with three lights.
    strip : bool
    conditions : dict
        Head, lot, bath and size of the sheet to be logged with the print, as far as they are known.
    drum : DrumRun or None
        What it came out of tonight.
    whence : str
        For example "as advised".
    """

    made: Setting
    as_sent: str = ""
    strip_times: tuple[float, ...] = ()
    lights: Lights | None = None
    strip: bool = False
    conditions: dict[str, str]
    drum: DrumRun | None
    whence: str

    @property
    def middle_step(self) -> int:
        """The strip's step nearest to the time that a sheet would have had."""
        return min(range(len(self.strip_times)), key=lambda n: abs(self.strip_times[n] / self.made.time - 1))


def start_without_advice(db: Database, frame: Frame) -> Start:
    """As the frame was last made, or as its head usually starts: what is known before the advice is worked out."""
    trials = frame_history(db, frame.name)
    drum = drum_of(db, frame, datetime.now(UTC))
    conditions = {"bath": drum.bath} if drum else {}
    with db.reading() as conn:
        last = trials[-1].row.head if trials else None
        head = next((one for one in every(conn, Head) if one.name == last), None) if last else latest(conn, Head)
    if trials:
        made = trials[-1].patches[-1].made
        return Start(
            made=made,
            lights=lights_on(head, made),
            strip=trials[-1].row.kind == "strip",
            conditions=conditions,
            drum=drum,
            whence=f"as {trials[-1].name} was",
        )
    usual = (head or Head(name="unnamed head")).usual
    return Start(
        made=usual,
        lights=lights_on(head, usual),
        conditions=conditions,
        drum=drum,
        whence="as this head usually starts",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """What the page shows of one frame."""

    frame: Frame
    report: AdviceReport
    trials: tuple[TrialRecord, ...]
    sheet: Sheet | None = None
    judged: tuple[Seen, ...] = ()
    drum: DrumRun | None = None
    crossover: Crossover | None = None

    @property
    def advice(self) -> Advice:
        return self.report.advice

    @property
    def sentence(self) -> str:
        """What to do next, without the numbers that stand below it."""
        if self.advice.next == "strip" and len(self.advice.strip_settings) > 1:
            return "Make a strip of"
        return "Print" if self.advice.next == "print" else "Make a small test of"

    @property
    def kept_last(self) -> TrialRecord | None:
        """The newest print, if it is kept: what comes next is another one like it."""
        newest = self.trials[-1] if self.trials else None
        if newest is None or self.advice.next != "print" or not self.as_before:
            return None
        return newest if any(patch.kept for patch in newest.patches) else None

    @property
    def as_before(self) -> bool:
        """The next print is of the size of the newest, on its lot and under its head."""
        if not self.trials:
            return False
        newest, conditions = self.trials[-1], self.report.conditions
        same = (newest.row.head, newest.row.lot) == (conditions.head, conditions.lot)
        return same and math.isclose(
            newest.patches[-1].made.magnification, self.advice.setting.magnification, rel_tol=1e-3
        )

    @property
    def handbook(self) -> Setting | None:
        """What the handbook's rule makes of the newest print; it knows nothing of another lot, head or size."""
        return self.report.handbook if self.as_before else None

    @property
    def opening(self) -> str:
        """How likely a whole sheet is right, as people say it; right after a print is kept, first that it is."""
        if self.kept_last:
            return f"{self.kept_last.name} is kept."
        return _capital(words.out_of_ten(self.advice.probability_good))

    @property
    def next_words(self) -> str:
        """The opening finished: the chance, and why print or strip."""
        chance, tolerance = words.out_of_ten(self.advice.probability_good), tolerance_words(self.advice)
        if self.kept_last and self.kept_last.name in {seen.trial for seen in self.report.seen}:
            return f"{_capital(chance)} that another sheet at this setting is good ({tolerance})."
        if self.kept_last:
            return (
                "It is right to the eye and was not read, so how near another sheet comes can't be promised: "
                f"{chance} that it is good ({tolerance}). A scan of {self.kept_last.name} makes it the print to match, "
                "and tells more than another sheet."
            )
        at = f"{words.seconds(self.advice.setting.time)} now" if self.strip_times else "this setting"
        good = f"that a whole sheet at {at} is good ({tolerance})."
        if self.advice.next == "print":
            return f"{good} A strip first would cost more than it saves."
        return f"{good} A strip first is expected to be cheaper."

    @property
    def strip_times(self) -> tuple[float, ...]:
        """Seconds of the advised strip's steps; empty if a sheet is advised or the strip has one step."""
        settings = self.advice.strip_settings
        return tuple(setting.time for setting in settings) if self.advice.next == "strip" and len(settings) > 1 else ()

    @property
    def cast_line(self) -> str:
        """The newest print in words; if it was read, in density and in CC too. Empty if nothing was printed or kept."""
        last = self.trials[-1] if self.trials else None
        if last is None or last is self.kept_last:
            return ""
        if not self.report.seen or self.report.seen[-1].trial != last.name:
            judged = [patch for patch in last.patches if patch.judgements]
            return f"{last.name}, by eye: {telling.patch_words(judged[-1])}." if judged else ""
        newest = self._nearest(seen for seen in self.report.seen if seen.trial == self.report.seen[-1].trial)
        cast = newest.cast
        density = " ".join(words.number(value, 2, signed=True) for value in cast.density)
        if cast.words == "right":
            return f"{newest.trial} came out right (density {density} from the aim)."
        return (
            f"{newest.trial} at {words.seconds(newest.setting.time)} is {cast.words}: density {density} from the aim "
            f"in red, green and blue; it needs {words.number(cast.magenta, 1, signed=True)} M "
            f"{words.number(cast.yellow, 1, signed=True)} Y."
        )

    def _nearest(self, steps: Iterable[Seen]) -> Seen:
        """Of a trial's steps the one that the reasons start from, else the one nearest to the right lightness."""
        start = (self.advice.compared_with, self.advice.old_setting)
        return min(
            steps, key=lambda seen: ((seen.trial, seen.setting) != start, abs(seen.cast.stops_too_dark), seen.patch)
        )

    @property
    def past(self) -> tuple[PastPrint, ...]:
        """Prints on the map, numbered in the order made; of a strip, one step (see ``_nearest``)."""
        steps: dict[str, list[Seen]] = {}
        for seen in (*self.report.seen, *self.judged):
            steps.setdefault(seen.trial, []).append(seen)
        nearest = {trial: self._nearest(of_trial) for trial, of_trial in steps.items()}
        by_eye = {seen.trial for seen in self.judged} - {seen.trial for seen in self.report.seen}
        made = [trial for trial in self.trials if trial.name in nearest]
        return tuple(
            PastPrint(
                yellow=nearest[trial.name].cast.yellow,
                magenta=nearest[trial.name].cast.magenta,
                number=str(number),
                lightness=words.stops(nearest[trial.name].cast.stops_too_dark),
                kept=any(patch.kept for patch in trial.patches),
                by_eye=trial.name in by_eye,
            )
            for number, trial in enumerate(made, 1)
        )

    @property
    def forecast(self) -> Forecast:
        """Where the next print falls, from its log exposure and covariance."""
        red, green, blue = self.advice.new_miss
        (rr, rg, rb), (_, gg, gb), (_, _, bb) = self.advice.spread
        return Forecast(
            magenta=100 * (green - red),
            yellow=100 * (blue - red),
            variance_magenta=1e4 * max(gg + rr - 2 * rg, 0.0),
            variance_yellow=1e4 * max(bb + rr - 2 * rb, 0.0),
            covariance=1e4 * (gb - rb - rg + rr),
        )

    def passes(self, yellow: float, magenta: float) -> bool:
        """Whether a print so far off would be within the tolerance, its lightness being right."""
        edge = self.report.outline
        inside = False
        for (x1, y1), (x2, y2) in zip(edge, (*edge[1:], *edge[:1]), strict=True):
            if (y1 > magenta) != (y2 > magenta) and yellow < (x2 - x1) * (magenta - y1) / (y2 - y1) + x1:
                inside = not inside
        return inside

    @property
    def bill_title(self) -> str:
        """What the reasons start from."""
        old = words.setting(self.advice.old_setting)
        if self.advice.compared_with:
            return f"Against {self.advice.compared_with} ({old})"
        return f"Against this head's usual start ({old})"

    @property
    def _compared(self) -> str:
        """The earlier print; of a strip also which step."""
        name = self.advice.compared_with
        strip = any(trial.name == name and len(trial.patches) > 1 for trial in self.trials)
        return f"{name} at {words.seconds(self.advice.old_setting.time)}" if strip else name

    @property
    def _found(self) -> str:
        """How the earlier print came out: as it was read; one that was not, in the words of the eye that saw it."""
        cast = cast_of(self.advice.old_miss, (0.0, 0.0, 0.0)).words
        if not self.advice.compared_with:
            return f"it would be {cast}"
        compared = next(
            (
                patch
                for trial in self.trials
                for patch in trial.patches
                if (trial.name, patch.made) == (self.advice.compared_with, self.advice.old_setting)
            ),
            None,
        )
        if compared is not None and compared.judgements and not compared.readings:
            return f"{self._compared}, by eye: {judging.words_of(compared.judgements[-1].judgement)}"
        return f"{self._compared} was {cast}"

    @property
    def bill(self) -> tuple[BillLine, ...]:
        """Moves that add up: what the earlier print needed, what changed since, and the rounding to the dials."""
        old = self.advice.old_miss
        first = _line(
            self._found,
            old,
            evidence="How far that print is from right, as the memory now sees it.",
        )
        changes = tuple(_part_line(part) for part in self.advice.reasons if part.name not in _MOVES)
        red, green, blue = self.advice.new_miss
        rounding = _line(
            "rounding to the dials", (-red, -green, -blue), evidence="What the steps of head and timer cannot meet."
        )
        return tuple(line for line in (first, *changes, rounding) if not line.nothing)

    @property
    def bill_total(self) -> BillLine:
        """What is dialled for it, in exposure: filters and time together."""
        moves = [part.log_exposure for part in self.advice.reasons if part.name in _MOVES]
        red, green, blue = (-sum(move[layer] for move in moves) for layer in range(3))
        return _line("so dialled, in all", (red, green, blue))

    @property
    def dials(self) -> str:
        """What the columns of the bill count, beside the dials that are set."""
        if self.report.lights:
            return "In CC, by which a light is below the strongest: 30 of them are half of it."
        magenta, yellow = (words.number(value, 2) for value in self.report.dial_cc)
        return f"In CC. One step of the magenta dial is about {magenta} of them, of the yellow {yellow}."

    @property
    def start(self) -> Start:
        """What the form that logs the print starts from."""
        return Start(
            made=self.advice.setting,
            as_sent=words.six(self.advice.setting),
            strip_times=self.strip_times,
            lights=min(
                self.report.lights,
                key=lambda one: abs(max(one.as_tuple()) - self.advice.setting.time),
                default=None,
            ),
            strip=self.advice.next == "strip",
            conditions=self.known_conditions | self._sheet,
            drum=self.drum,
            whence="as advised",
        )

    @property
    def _sheet(self) -> dict[str, str]:
        """The size asked for, to be logged with the print: an earlier print says how it lay on its sheet."""
        return {} if self.sheet is None else {"print_size": "{:g}x{:g} mm".format(*self.sheet.size)}

    @property
    def known_conditions(self) -> dict[str, str]:
        """Head, lot and bath that the advice is for, to be logged with the print; without what only stands in."""
        conditions = self.report.conditions
        stand_in = {f"unnamed {word}" for word in ("head", "lot", "bath")} if self.report.remarks else set()
        stand_in |= {LOT_OF_TODAY, BATH_OF_TODAY}
        bath = self.drum.bath if self.drum else conditions.bath
        named = {"head": conditions.head, "lot": conditions.lot, "bath": bath}
        return {word: name for word, name in named.items() if name not in stand_in}

    @property
    def told(self) -> str:
        """On what and in what the advice is for."""
        conditions = self.report.conditions
        names = (conditions.lot, conditions.bath, conditions.head)
        return " · ".join(name for name in names if not name.startswith("unnamed"))


def choices(db: Database) -> dict[str, list[str]]:
    """Names of the heads, lots and developers that a print can be made with, by word, in the order added."""
    return {
        "head": [head.name for head in list_records(db, Head)],
        "lot": [lot.name for lot in list_records(db, Lot)],
        "bath": [bath.name for bath in developers_in_use(db)],
    }


def job_of(db: Database, frame: Frame, chosen: AdviceRequest | None = None) -> Job:
    """Advice for a frame under the conditions chosen; what is left open is as in the studio's latest trial, whatever
    negative that was of. A bath that was given up since gives way to the developer in use.
    """
    chosen = chosen or AdviceRequest()
    if chosen.head:
        find_record(db, Head, chosen.head)
    report = advise(db, replace(chosen, frame=frame.name))
    tones = crossover(db, frame.name)
    return Job(
        frame=frame,
        report=report,
        sheet=chosen.sheet,
        trials=tuple(frame_history(db, frame.name)),
        judged=judged_patches(db, report.conditions),
        drum=drum_of(db, frame, datetime.now(UTC)),
        crossover=tones if tones.compromise else None,
    )


def _capital(said: str) -> str:
    return said[0].upper() + said[1:]


def tolerance_words(advice: Advice) -> str:
    """The tolerance in figures."""
    tolerance = advice.tolerance
    name = TOLERANCE_NAMES.get(tolerance.name, tolerance.name)
    if tolerance.delta_e is not None:
        return f"{name}: dE00 at most {words.shortest(tolerance.delta_e)}"
    assert tolerance.colour_cc is not None
    assert tolerance.time_share is not None
    return (
        f"{name}: within {words.shortest(tolerance.colour_cc)} CC and "
        f"{words.shortest(100 * tolerance.time_share)} % of time"
    )


def _line(what: str, log_exposure: tuple[float, float, float], *, band: str = "", evidence: str = "") -> BillLine:
    """An error of log exposure (above 0: too much) as the move that mends it; the time mends what red had too much."""
    red, green, blue = log_exposure
    return BillLine(
        what=what,
        magenta=100 * (green - red),
        yellow=100 * (blue - red),
        light=-red,
        band=band,
        evidence=evidence,
    )


def _part_line(part: Part) -> BillLine:
    largest = max(part.standard_error)
    band = f"± {words.number(100 * largest, 1)} CC." if largest >= 0.0005 else ""
    name = _PART_WORDS.get(part.name, part.name)
    return _line(
        name,
        part.log_exposure,
        band=band,
        evidence=_PART_EVIDENCE.get(part.name, ""),
    )
