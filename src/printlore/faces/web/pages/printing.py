"""The main job: what was the print like, what to dial next, and why."""

import math
import secrets
from dataclasses import dataclass, replace
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Form, Request
from fastapi.responses import HTMLResponse, Response

from printlore.core.figure import Figure
from printlore.core.flags import Flag
from printlore.core.light.setting import Setting
from printlore.core.measure.scan import Box, box_about
from printlore.core.measure.strip import Exposures, StripKind, StripReading, step_times
from printlore.core.quantities import parse_size, parse_time
from printlore.core.said import parse_said
from printlore.errors import Refused, StillWorking, ValueOutOfRange
from printlore.faces import judging, telling, typed, words
from printlore.faces.job import TOLERANCE_NAMES, Start, choices, job_of, start_without_advice
from printlore.faces.web.evening import Time
from printlore.faces.web.frames import frame_of
from printlore.faces.web.page import WORKING, Ask, Db, Typed, go, render
from printlore.faces.web.scans import Upload, keep_upload, opened
from printlore.records.database import Database
from printlore.records.negatives import Frame
from printlore.records.scans import Scan as ScanRecord
from printlore.records.trials import TrialRecord, TrialRow
from printlore.services.advice import TOLERANCES, AdviceRequest
from printlore.services.doubts import it_was_a_slip, it_was_made_as_logged
from printlore.services.entry import find_record
from printlore.services.evening import this_evening
from printlore.services.pairs import known_dyes
from printlore.services.scanned import BY_SCAN, log_scan, read_again, times_of
from printlore.services.strips import read_strip
from printlore.services.trials import (
    PatchEntry,
    TrialEntry,
    bring_trial_back,
    frame_history,
    frame_history_ever,
    log_trial,
    mark_kept,
    negative_called,
    next_negative,
    numbered_trial,
    remove_trial,
)

router = APIRouter()

USUAL_PATCH = 1 / 40
"""Side of a tapped patch, as a share of the scan's shorter side."""
MOST_NOT_READ = 4
"""Prints that a scan may be of, as offered."""


@router.post("/print")
def start(request: Request, db: Db, name: Typed = "") -> Response:
    """Put a negative on the easel; no name, film, paper or bath is needed. One that is known is gone to."""
    if known := negative_called(db, name):
        said = f'"{known.name}" is here already.'
        return go(request, f"/print/{known.id}", said=said, done="print-start")
    frame = next_negative(db, name)
    return go(request, f"/print/{frame.id}", done="print-start")


def _chosen(
    head: str = "",
    lot: str = "",
    bath: str = "",
    size: str = "",
    negative: str = "",
    fit: str = typed.FITS[0],
    tolerance: str = TOLERANCES[0],
) -> AdviceRequest:
    """What the next print is to be made with, from the address."""
    sheet = typed.sheet(size, negative, fit) if size.strip() else None
    return AdviceRequest(head=head or None, lot=lot or None, bath=bath or None, sheet=sheet, tolerance=tolerance)


Chosen = Annotated[AdviceRequest, Depends(_chosen)]


@router.get("/print/{number}")
def show(
    request: Request,
    db: Db,
    ask: Ask,
    number: int,
    chosen: Chosen,
    clock: Time,
    size: str = "",
    negative: str = "",
    fit: str = typed.FITS[0],
) -> HTMLResponse:
    """Advice for a frame, and the form that logs what came out; while it is worked out, what was printed."""
    frame = frame_of(db, number)
    try:
        job = ask(job_of, frame, chosen)
    except StillWorking:
        rows = telling.trial_lines(frame_history_ever(db, frame.name))
        took = request.app.state.keeper.took
        return render(request, "printing/waiting.html", status=WORKING, frame=frame, rows=rows, took=took)
    return render(
        request,
        "printing/job.html",
        job=job,
        **_board(db, job.frame, job.start),
        choices=choices(db),
        tolerances=TOLERANCES,
        tolerance_names=TOLERANCE_NAMES,
        tolerance=chosen.tolerance,
        size=size,
        negative=negative or "36x24",
        fit=fit,
        fits=typed.FIT_NAMES,
        # a load is planned at the setting for the usual conditions
        to_plan=chosen == AdviceRequest() and this_evening(db, now=clock.now()) is not None,
    )


def _board(db: Database, frame: Frame, start: Start) -> dict[str, Any]:
    """What the form that logs a print is made of."""
    return {
        "frame": frame,
        "start": start,
        "rows": telling.trial_lines(frame_history_ever(db, frame.name)),
        "casts": [cast.value for cast in judging.CASTS],
        "strengths": judging.STRENGTHS,
        "lightness": judging.LIGHTNESS,
        "lights": [(light, light) for light in judging.LIGHTS],
        "key": secrets.token_hex(8),
    }


@router.get("/print/{number}/log")
def show_log(request: Request, db: Db, number: int) -> HTMLResponse:
    """The form that logs a print, without waiting for advice."""
    frame = frame_of(db, number)
    board = _board(db, frame, start_without_advice(db, frame))
    return render(request, "printing/log.html", **board)


@router.post("/print/{number}/eye")
def log_by_eye(
    request: Request,
    db: Db,
    number: int,
    seen: Typed = "",
    lightness: Typed = "right",
    cyan: Typed = "",
    magenta: Typed = "",
    yellow: Typed = "",
    lights: Typed = "",
    in_turn: Typed = "",
    time: Typed = "",
    step: Typed = "",
    f_number: Typed = "",
    magnification: Typed = "",
    advised: Typed = "",
    kind: Typed = "sheet",
    filter_: Annotated[str, Form(alias="filter")] = "",
    filter_where: Typed = "eye",
    wet: Typed = "",
    light: Typed = "",
    person: Typed = "",
    kept: Typed = "",
    key: Typed = "",
    head: Typed = "",
    lot: Typed = "",
    bath: Typed = "",
    print_size: Typed = "",
) -> Response:
    """Log a print, or the step of a strip that is nearest to right, from what an eye says of it."""
    frame = frame_of(db, number)
    typed.one_of(("eye", "print"), filter_where, "Where the filter was")
    before = _advised(advised)
    if lights.strip() and in_turn:
        time = f"{max(typed.numbers(lights, 'Red, green, blue'))!r}"
    # a time that was typed under "Made at" is meant, whatever step is still marked
    typed_time = typed.number(time, "Time", parse=parse_time) if time.strip() else None
    meant = before is not None and typed_time is not None and not math.isclose(typed_time, before.time, abs_tol=0.006)
    if kind != "strip" or meant:
        step = ""
    made = typed.setting(
        cyan=cyan,
        magenta=magenta,
        yellow=yellow,
        lights=lights,
        time=step or time,
        f_number=f_number,
        magnification=magnification,
    )
    judgement = None
    if seen:
        cast = seen.split()[-1]
        colour = (
            f"{Figure(typed.number(filter_, 'Filter that mends it')):g} {cast}"
            if filter_.strip() and cast != "none"
            else seen
        )
        said = "neutral" if cast == "none" else colour
        judgement = parse_said(f"{said}, {lightness}", person=person or "printer").judgement
        judgement = replace(judgement, wet=wet == "yes")
    elif kept != "yes":
        raise ValueOutOfRange("Nothing was said of the colour. Choose a cast, or “no cast”.")
    patch = PatchEntry(
        setting=made,
        advised=before,
        judgement=judgement,
        kept=kept == "yes",
        light=light,
        filter_on_print=bool(filter_.strip()) and filter_where == "print",
        judged_with_filter=bool(filter_.strip()),
        as_entered=f"{seen}, {lightness}" if seen else "",
    )
    trial = log_trial(
        db,
        TrialEntry(
            patches=(patch,),
            kind=kind,
            frame=frame.name,
            head=head or None,
            lot=lot or None,
            bath=bath or None,
            print_size=parse_size(print_size) if print_size else None,
            key=key or None,
        ),
    )
    outcome = judging.words_of(judgement) if judgement else "kept as right"
    if judgement and patch.kept:
        outcome += "; kept"
    return go(
        request,
        f"/print/{frame.id}",
        said=_said_of(trial, outcome),
        undo=f"/trials/{trial.row.id}/undo",
        done=f"eye-{frame.id}",
    )


def _said_of(trial: TrialRecord, what: str) -> str:
    """What was logged, and what was assumed; of a form that was sent again, only what its trial says."""
    return " ".join([*(() if trial.again else (f"Logged as {trial.name}: {what}.",)), *trial.remarks])


def _advised(text: str) -> Setting | None:
    """The setting that stood on the page when the print was made."""
    if not text:
        return None
    if len(text.split()) != 6:
        raise ValueOutOfRange(f'The setting "{text[:60]}" has not six numbers. Load the page again.')
    cyan, magenta, yellow, time, f_number, magnification = text.split()
    return typed.setting(
        cyan=cyan, magenta=magenta, yellow=yellow, time=time, f_number=f_number, magnification=magnification
    )


@router.post("/trials/{number}/undo")
def undo(request: Request, db: Db, number: int) -> Response:
    """Take a trial out of the evidence; its rows stay."""
    row = _trial_row(db, number)
    remove_trial(db, row.name, version=row.version)
    frame = find_record(db, Frame, row.frame)
    return go(
        request,
        f"/print/{frame.id}",
        said=telling.trial_taken_back(row.name),
        undo=f"/trials/{number}/bring-back",
    )


@router.post("/trials/{number}/keep")
def keep(request: Request, db: Db, number: int, kept: Typed = "yes") -> Response:
    """Accept a print that was logged before as right, or take that back."""
    row = _trial_row(db, number)
    typed.one_of(("yes", "no"), kept, "Whether it is kept")
    trial = mark_kept(db, row.name, kept=kept == "yes")
    said = f"{trial.name} is kept as right." if kept == "yes" else f"{trial.name} is not kept any more."
    return go(request, f"/negatives/{find_record(db, Frame, row.frame).id}", said=said)


@router.post("/trials/{number}/bring-back")
def bring_back(request: Request, db: Db, number: int) -> Response:
    """Let a trial that was taken back count again, as it stood."""
    trial = bring_trial_back(db, numbered_trial(db, number).name)
    frame = find_record(db, Frame, trial.row.frame)
    return go(
        request,
        f"/negatives/{frame.id}",
        said=f"{trial.name} is brought back; it counts again.",
        undo=f"/trials/{number}/undo",
    )


@router.post("/trials/{number}/doubt")
def post_doubt(
    request: Request,
    db: Db,
    number: int,
    answer: Typed,
    version: Typed,
    step: Typed = "1",
    as_if: Typed = "",
    back: Typed = "",
) -> Response:
    """Whether a trial that looks like a slip was one: correct it, leave it out, or do not ask again."""
    typed.one_of(("slip", "right"), answer, "Answer")
    trial = _trial_row(db, number)
    where = back if back.startswith(("/print/", "/negatives/")) else f"/print/{find_record(db, Frame, trial.frame).id}"
    place, seen = typed.step(step, "Step") - 1, round(typed.number(version, "Version"))
    if answer == "right":
        it_was_made_as_logged(db, trial.name, patch=place)
        return go(request, where, said=f"{trial.name} was made as logged; it is not asked about again.")
    really = _advised(as_if)
    if really is None:
        remove_trial(db, trial.name, version=seen)
        said = f"{trial.name} is left out; it no longer counts."
        return go(request, where, said=said, undo=f"/trials/{number}/bring-back")
    it_was_a_slip(db, trial.name, really, patch=place, version=seen)
    return go(
        request, where, said=f"{trial.name} is corrected to {words.setting(really)}; what was logged stays in its rows."
    )


def _trial_row(db: Database, number: int) -> TrialRow:
    trial = numbered_trial(db, number)
    if trial.taken_back:
        raise Refused(f"{trial.name} was taken back before. Bring it back in the history of its negative first.")
    return trial.row


@router.post("/print/{number}/scan")
def upload(request: Request, db: Db, number: int, scan: Upload) -> Response:
    """Keep a scan by its content, if it can be read."""
    frame = frame_of(db, number)
    kept = keep_upload(db, scan)
    # what the print was to be made with goes along: another lot, head or size
    made_with = f"?{request.url.query}" if request.url.query else ""
    return go(request, f"/print/{frame.id}/scan/{kept.sha256}{made_with}")


@router.get("/print/{number}/scan/{sha256}")
def show_scan(request: Request, db: Db, ask: Ask, number: int, sha256: str, chosen: Chosen) -> HTMLResponse:
    """A scan with the form that reads and logs it."""
    frame = frame_of(db, number)
    scan = opened(db, sha256)
    columns, rows = scan.size
    try:
        # asked as the page before did, so that its answer is found; what was advised says what is on the scan
        start = ask.patiently(job_of, frame, chosen).start
    except StillWorking:
        start = start_without_advice(db, frame)
    logged = _not_read(db, frame.name)
    return render(
        request,
        "printing/scan.html",
        frame=frame,
        logged=logged,
        telling=telling,
        of=logged[0].name if logged and _is_newest_and_kept(db, frame.name, logged[0]) else "",
        whence=start.whence,
        scan=find_record(db, ScanRecord, sha256),
        columns=columns,
        rows=rows,
        bits=scan.bits,
        made=start.made,
        advised=start.as_sent,
        lights=start.lights,
        conditions=start.conditions,
        wedge=_last_wedge(db, frame.name),
        times=" ".join(words.shortest(time, 2) for time in start.strip_times or (start.made.time,)),
        count=str(len(start.strip_times)) if start.strip_times else "",
        what="strip" if start.strip_times else "patch",
        key=secrets.token_hex(8),
    )


def _not_read(db: Database, frame: str) -> list[TrialRecord]:
    """Prints of a frame that were judged and not read, newest first: a scan may be of one of them."""
    prints = (trial for trial in reversed(frame_history(db, frame)) if len(trial.patches) == 1)
    return [trial for trial in prints if not trial.patches[0].readings][:MOST_NOT_READ]


def _is_newest_and_kept(db: Database, frame: str, trial: TrialRecord) -> bool:
    return bool(trial.patches[0].kept) and frame_history(db, frame)[-1].name == trial.name


def _last_wedge(db: Database, frame: str) -> str:
    """The wedge that was used last for this frame, or else for the newest trials."""
    for trial in reversed(frame_history(db, frame)):
        for patch in trial.patches:
            for reading in patch.readings:
                if reading.device.startswith(BY_SCAN):
                    return reading.device.removeprefix(BY_SCAN)
    return ""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    """How a scan is to be read, as typed."""

    wedge: str
    what: str
    x: str
    y: str
    side: str
    count: str
    holds: str
    times: str
    exposed: str
    lot: str

    @property
    def kind(self) -> StripKind:
        typed.one_of(("patch", "strip", "across"), self.what, "What is to be read")
        return StripKind.ACROSS_PICTURE if self.what == "across" else StripKind.SAME_TONE


def _asked(
    wedge: Typed = "",
    what: Typed = "patch",
    x: Typed = "",
    y: Typed = "",
    side: Typed = "",
    count: Typed = "",
    holds: Typed = "",
    times: Typed = "",
    exposed: Typed = "separate",
    lot: Typed = "",
) -> _Asked:
    return _Asked(
        wedge=wedge, what=what, x=x, y=y, side=side, count=count, holds=holds, times=times, exposed=exposed, lot=lot
    )


Asked = Annotated[_Asked, Depends(_asked)]


def _read(db: Database, sha256: str, asked: _Asked) -> tuple[StripReading, str]:
    """What the scan says, and in words what is known of how the scanner sees the paper's dyes."""
    scan = opened(db, sha256)
    wedge = typed.numbers(asked.wedge, "Densities of the wedge")
    if len(wedge) < 3:
        raise ValueOutOfRange("The wedge has fewer than three steps. Enter the density of each step as stated on it.")
    boxes: tuple[Box, ...] | None = None
    if asked.what == "patch":
        if not (asked.x and asked.y):
            raise ValueOutOfRange("No patch was tapped. Tap the reference patch on the scan, then read it.")
        side = typed.number_or(asked.side, "Patch", max(min(scan.size) * USUAL_PATCH, 12))
        boxes = (box_about(float(asked.x), float(asked.y), round(side)),)
    known = known_dyes(db, lot=asked.lot or None)
    reading = read_strip(
        scan,
        wedge,
        boxes,
        count=round(typed.number(asked.count, "Steps on the strip")) if asked.count.strip() else None,
        kind=asked.kind,
        exposures=typed.one_of(Exposures, asked.exposed, "How it was exposed"),
        reference_step=typed.step(asked.holds, "Reference in step") - 1 if asked.holds.strip() else None,
        profile=known.profile,
        dyes=known.shift,
    )
    return reading, known.words


@router.post("/print/{number}/scan/{sha256}/read")
def read(request: Request, db: Db, number: int, sha256: str, asked: Asked) -> HTMLResponse:
    """What the scan says at the places asked for; nothing is recorded."""
    frame_of(db, number)
    reading, dyes = _read(db, sha256, asked)
    given = typed.numbers(asked.times, "Exposure", parse=parse_time) if asked.times.strip() else ()
    times = step_times(given, reading.exposures) if len(given) == len(reading.steps) else ()
    columns, rows = opened(db, sha256).size
    steps = [
        {
            "number": index + 1,
            "time": words.seconds(times[index]) if times else "",
            "density": step.density,
            "error": max(step.standard_error),
            "box": step.box,
        }
        for index, step in enumerate(reading.steps)
    ]
    one = reading.steps[0]
    sentence = (
        f"It reads {words.densities(one.density)} in red, green and blue."
        if len(steps) == 1
        else f"{len(steps)} steps are read."
    )
    return render(
        request,
        "printing/read.html",
        sentence=sentence,
        steps=steps,
        flags=_doubts(reading),
        dyes=dyes,
        wedge_boxes=reading.wedge.boxes,
        columns=columns,
        rows=rows,
    )


def _doubts(reading: StripReading) -> tuple[Flag, ...]:
    found = [*reading.flags, *(flag for step in reading.steps for flag in step.flags)]
    return tuple(dict.fromkeys(found))


@router.post("/print/{number}/scan/{sha256}/log")
def log_reading(
    request: Request,
    db: Db,
    number: int,
    sha256: str,
    asked: Asked,
    cyan: Typed = "",
    magenta: Typed = "",
    yellow: Typed = "",
    lights: Typed = "",
    f_number: Typed = "",
    magnification: Typed = "",
    advised: Typed = "",
    wet: Typed = "",
    key: Typed = "",
    head: Typed = "",
    bath: Typed = "",
    print_size: Typed = "",
    of: Typed = "",
    kept: Typed = "",
) -> Response:
    """Read the scan as asked and log what it says: as a new print or strip, or of a print that was logged before."""
    frame = frame_of(db, number)
    reading, _ = _read(db, sha256, asked)
    if of:
        again = read_again(db, of, sha256, reading, wedge=asked.wedge, wet=wet == "yes", kept=kept == "yes")
        said = f"{again.name} {telling.patch_words(again.patches[0])}."
        return go(request, f"/print/{frame.id}", said=said, done=f"scan-{frame.id}")
    times = typed.numbers(asked.times, "Exposure", parse=parse_time)
    each = times_of(reading, times)
    trial = log_scan(
        db,
        sha256,
        reading,
        typed.setting(
            cyan=cyan,
            magenta=magenta,
            yellow=yellow,
            lights=lights,
            time=f"{each[0]!r}",
            f_number=f_number,
            magnification=magnification,
        ),
        times,
        wedge=asked.wedge,
        wet=wet == "yes",
        kept=kept == "yes",
        advised=_advised(advised),
        kind="sheet" if asked.what == "patch" else "strip",
        frame=frame.name,
        head=head or None,
        lot=asked.lot or None,
        bath=bath or None,
        print_size=parse_size(print_size) if print_size else None,
        key=key or None,
    )
    count = f"{len(trial.patches)} steps" if len(trial.patches) > 1 else "one patch"
    return go(
        request,
        f"/print/{frame.id}",
        said=_said_of(trial, f"{count} read from the scan{'; kept' if kept == 'yes' else ''}"),
        undo=f"/trials/{trial.row.id}/undo",
        done=f"scan-{frame.id}",
    )
