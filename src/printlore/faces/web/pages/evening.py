"""The evening at the bench: five kinds of light, the dark, the drums, live on every device that shows it."""

import asyncio
import itertools
import json
import secrets
from collections.abc import AsyncIterator, Mapping
from dataclasses import dataclass
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Query, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, Response, StreamingResponse
from pydantic import BaseModel, ConfigDict, Field

from printlore.core.evening.care import CAUTIONS, HOLDS_SILVER, WASTE
from printlore.core.evening.events import KINDS, LoadPlanned, RunBegun, Undone, What
from printlore.core.evening.exposure import LIGHTS, stretches
from printlore.core.evening.light import RULES, Light
from printlore.core.evening.load import Piece
from printlore.core.evening.process import Sequence, StepKind, doubts
from printlore.core.evening.rehearsal import QUESTIONS, SHORTEST_WAIT
from printlore.core.evening.script import Beat
from printlore.core.evening.state import ENTER_DARK, what_next
from printlore.core.figure import DECIMAL_MARK, Figure
from printlore.core.plain import from_plain
from printlore.core.quantities import parse_size
from printlore.errors import UnknownRecord, ValueOutOfRange
from printlore.faces import typed, words
from printlore.faces.evening_typed import AUDIO, order
from printlore.faces.web.evening import (
    Near,
    OpenPages,
    Time,
    lanes_of,
    line_of,
    plain_cue,
    plain_evening,
    sounds,
    wall_time,
)
from printlore.faces.web.frames import frame_of
from printlore.faces.web.page import Ask, Db, Page, Typed, dark_light, go, render
from printlore.records.database import Database
from printlore.records.evening import EveningRecord
from printlore.records.negatives import Frame
from printlore.services.advice import AdviceReport, AdviceRequest, advise
from printlore.services.entry import frames_at_hand, list_records
from printlore.services.evening import (
    Clock,
    Written,
    begin_run,
    claim_voice,
    compare_pour,
    evening_now,
    evenings,
    find_evening,
    newest,
    open_evening,
    release_voice,
    this_evening,
    who_speaks,
    write,
)
from printlore.services.evening_plan import (
    PieceOrder,
    developers_in_use,
    heads_to_plan,
    in_turn_words,
    plan_load,
    save_sequence,
    sequences,
)
from printlore.services.run_card import cue_sheet, run_card

PAGE = Page(title="Bench", path="/evening", order=15)
router = APIRouter(prefix="/evening")
api = APIRouter(prefix="/evening", tags=["evening"])

AT_HAND = 40
"""Frames offered by name; any other is found by typing its name."""

PIECES = 7
"""Most pieces in one drum that clipped corners tell apart."""

LOOK = 0.2
"""[s] How often a stream looks for something new."""

HEARTBEAT = 5.0
"""[s]"""


# pages


@router.get("")
def show(request: Request, db: Db, clock: Time, near: Near) -> HTMLResponse:
    """Where the evening is, in one sentence, and everything that can be done next."""
    record = this_evening(db, now=clock.now())
    if record is None:
        return render(request, "evening/open.html", past=evenings(db))
    return render(request, "evening/bench.html", **_seen(db, record, clock, near))


@router.get("/part")
def part(request: Request, db: Db, clock: Time, near: Near) -> HTMLResponse:
    """What changes on the bench, by itself."""
    return render(request, "evening/bench_part.html", **_seen(db, find_evening(db, None, now=clock.now()), clock, near))


def _seen(db: Database, record: EveningRecord, clock: Clock, near: OpenPages) -> dict[str, Any]:
    evening = evening_now(db, record, now=clock.now())
    line, now, start = line_of(evening)
    frames = {frame.name: frame for frame in frames_at_hand(db, AT_HAND)}
    for name in (*evening.frames, *(p.frame for lane in evening.loads.values() for p in lane.load.pieces if p.frame)):
        if name not in frames:
            frames |= {frame.name: frame for frame in list_records(db, Frame, name=name)}
    return {
        "record": record,
        "evening": evening,
        "next_words": what_next(evening, counting=True),
        "rules": RULES,
        "lanes": lanes_of(evening),
        "line": line,
        "line_now": now,
        "line_clock": lambda minute: wall_time(start + 60 * minute),
        "cautions": CAUTIONS,
        "waste": WASTE,
        "silver": HOLDS_SILVER,
        "frames": frames,
        "devices": sorted(near.devices(record.id)),
        "state": plain_evening(record, evening),
        "sounds": sounds(),
        "wall_time": wall_time,
    }


@router.post("")
def open_(request: Request, db: Db, clock: Time, name: Typed = "") -> Response:
    """Begin an evening."""
    record = open_evening(db, now=clock.now(), name=name)
    return go(request, "/evening", said=f'The evening "{record.name}" is open.')


@router.get("/wet")
def wet(request: Request, db: Db, clock: Time, near: Near) -> HTMLResponse:
    """The drums, for wet gloves."""
    return render(request, "evening/wet.html", **_seen(db, find_evening(db, None, now=clock.now()), clock, near))


@router.get("/wet/part")
def wet_part(request: Request, db: Db, clock: Time, near: Near) -> HTMLResponse:
    """What changes on the wet page."""
    return render(request, "evening/wet_part.html", **_seen(db, find_evening(db, None, now=clock.now()), clock, near))


@router.get("/rehearsal")
def rehearsal(request: Request, db: Db, clock: Time) -> HTMLResponse:
    """The dark rehearsal of this machine."""
    record = find_evening(db, None, now=clock.now())
    return render(
        request, "evening/rehearsal.html", record=record, questions=QUESTIONS, wait=SHORTEST_WAIT, sounds=sounds()
    )


@router.get("/dark/{load:path}")
def dark(request: Request, db: Db, clock: Time, near: Near, load: str) -> HTMLResponse:
    """Paper out: prepared in dim light, then black."""
    record = find_evening(db, None, now=clock.now())
    evening = evening_now(db, record, now=clock.now())
    state = evening.load(load)
    out = evening.light is Light.PAPER_OUT and evening.dark_load == load
    data = {
        "load": load,
        "out": out,
        "beat": state.beat,
        "beats": [_plain_beat(beat) for beat in state.script()],
        "sounds": sounds(),
        "mark": DECIMAL_MARK.get(),
    }
    return render(
        request,
        "evening/dark.html",
        state=state,
        evening=evening,
        out=out,
        data=data,
        enter=ENTER_DARK,
        devices=sorted(near.devices(record.id)),
    )


def _plain_beat(beat: Beat) -> dict[str, Any]:
    return {
        "name": beat.name,
        "words": beat.words,
        "say": list(beat.say),
        "track": [plain_cue(cue) for cue in beat.track],
        "leaves": beat.leaves,
        "piece": beat.piece,
    }


@router.get("/plan")
def show_plan(
    request: Request,
    db: Db,
    ask: Ask,
    clock: Time,
    load: str = "",
    frame: Annotated[list[int], Query()] = [],  # noqa: B006
) -> HTMLResponse:
    """The form that plans a load, filled with the advised setting of each frame chosen, or with the load as planned."""
    record = find_evening(db, None, now=clock.now())
    evening = evening_now(db, record, now=clock.now())
    state = evening.load(load) if load else None
    sizes = {"sheet": USUAL_SHEET} | {
        piece.kind: piece.size for planned in evening.loads.values() for piece in planned.load.pieces
    }
    rows = (
        [_advised_row(ask(advise, AdviceRequest(frame=frame_of(db, number).name)), sizes) for number in frame[:PIECES]]
        if state is None
        else []
    )
    if state is not None:
        rows = [_planned_row(piece) for piece in state.load.pieces]
    while len(rows) < PIECES:
        rows.append(dict.fromkeys(_ROW, ""))
    used = {lane.load.drum for lane in lanes_of(evening) if lane.run is None or not lane.run.finished}
    drum = state.load.drum if state else next(n for n in range(1, 21) if n not in used | set(evening.wet_drums))
    heads, usual_head = heads_to_plan(db)
    return render(
        request,
        "evening/plan.html",
        heads=[(head.name, head.name) for head in heads],
        head=(state and state.load.head) or usual_head,
        rows=rows,
        state=state,
        drum=drum,
        sequences=[(one.name, one.name) for one in sequences(db)],
        baths=[
            ("", "no bath: no line in a ledger"),
            *((bath.name, bath.name) for bath in reversed(developers_in_use(db))),
        ],
        frames=list(dict.fromkeys([*evening.frames, *(frame.name for frame in frames_at_hand(db, AT_HAND))])),
        key=secrets.token_hex(8),
    )


_ROW = ("frame", "kind", "pack", "seconds", "size", "burns", "f_number", "magnification", "why")


USUAL_SHEET = "20x25 cm"
"""What a sheet is taken to be until another was planned this evening."""


def _advised_row(report: AdviceReport, sizes: Mapping[str, str]) -> dict[str, str]:
    """A piece as advised, of the size last planned for its kind."""
    advice = report.advice
    times = sorted({setting.time for setting in advice.strip_settings})
    strip = advice.next == "strip" and len(times) > 1 and len({s.pack for s in advice.strip_settings}) == 1
    kind = "strip" if strip else "sheet"
    why = "as advised; each time is the light after moving the card, they add up" if strip else "as advised"
    each = [lights.as_tuple() for lights in report.lights]
    seconds = [times[0], *(b - a for a, b in itertools.pairwise(times))] if strip else [advice.setting.time]
    return {
        "frame": report.conditions.frame,
        "kind": kind,
        "pack": words.lights_typed(max(each, key=sum)) if each else str(advice.setting.pack),
        "seconds": " ".join(f"{Figure(second):.4g}" for second in seconds),
        "size": sizes.get(kind, ""),
        "burns": "",
        "f_number": f"{Figure(advice.setting.f_number):g}",
        "magnification": f"{Figure(advice.setting.magnification):.4g}",
        "why": why,
    }


def _planned_row(piece: Piece) -> dict[str, str]:
    pack, _, f_number, magnification = piece.setting.split(", ") if piece.setting else ("", "", "", "")
    # of three lights in turn the longest is what was planned
    strongest = [max(lights, key=lambda light: light.time) for lights in stretches(piece.exposures)]
    lights = [exposure for exposure in strongest if exposure.part != "burn"]
    if any(light.light for light in lights):
        given = [one for one in piece.exposures if one.part != "burn"]
        red, green, blue = (sum(one.time for one in given if one.light == light) for light in LIGHTS)
        pack = words.lights_typed((red, green, blue))
    extra = [f"{dodge.name} -{Figure(dodge.end - dodge.begin):g}" for light in lights for dodge in light.dodges]
    extra += [f"{burn.name} +{Figure(burn.time):g} {burn.filters}".strip() for burn in strongest if burn.part == "burn"]
    return {
        "frame": piece.frame or "",
        "kind": piece.kind,
        "pack": pack,
        "seconds": " ".join(f"{Figure(light.time):g}" for light in lights),
        "size": piece.size,
        "burns": ", ".join(extra),
        "f_number": f_number,
        "magnification": magnification.removesuffix("x"),
        "why": "as planned",
    }


@router.post("/plan")
async def post_plan(request: Request, db: Db, clock: Time) -> Response:
    """Plan a load from the form: its pieces row by row."""
    form = await request.form()
    text = {name: str(value) for name, value in form.items()}
    return await run_in_threadpool(_plan, request, db, clock, text)


def _plan(request: Request, db: Database, clock: Clock, form: dict[str, str]) -> Response:
    record = find_evening(db, form.get("evening", ""), now=clock.now())
    pieces = tuple(_piece(form, row) for row in range(PIECES) if form.get(f"kind-{row}", "").strip())
    drum = typed.number(form.get("drum", ""), "Drum")
    seen = form.get("seen", "")
    done = plan_load(
        db,
        record,
        pieces,
        drum=round(drum),
        sequence=form.get("sequence") or None,
        bath=form.get("bath") or None,
        head=form.get("head") or None,
        name=form.get("load", ""),
        seen=typed.carried(seen) or None,
        key=form.get("key") or secrets.token_hex(8),
        device=form.get("device") or "page",
        now=clock.now(),
    )
    planned = done.event.what
    assert isinstance(planned, LoadPlanned)
    said = f"Load {planned.load.name} is planned. {in_turn_words(planned.load)} Print the run card if you like."
    return go(request, "/evening", said=" ".join(said.split()), done="evening-plan")


def _piece(form: dict[str, str], row: int) -> PieceOrder:
    def given(name: str) -> str:
        return form.get(f"{name}-{row}", "").strip()

    size = given("size") or form.get("size-0", "")
    if not size:
        raise ValueOutOfRange(f"Piece {row + 1} has no size. Write for example 20x25 cm.")
    width, height = parse_size(size)
    kind = given("kind")
    if kind == "control" and not given("seconds"):
        return PieceOrder(frame=given("frame") or None, kind=kind, width=width, height=height)
    times = typed.numbers(given("seconds"), f"Seconds of piece {row + 1}")
    if not times or (len(times) > 1 and kind != "strip"):
        raise ValueOutOfRange(f"Piece {row + 1} needs one time in seconds; only a strip has several, apart by spaces.")
    return order(
        frame=given("frame"),
        kind=kind,
        pack=given("pack"),
        times=times,
        width=width,
        height=height,
        burns=given("burns"),
        f_number=given("f_number"),
        magnification=given("magnification"),
    )


@router.get("/sequences")
def show_sequences(request: Request, db: Db, edit: str = "") -> HTMLResponse:
    """The printer's own sequences, and the form that changes one."""
    known = sequences(db)
    chosen = next((one for one in known if one.name == edit), known[0])
    return render(
        request,
        "evening/sequences.html",
        known=known,
        chosen=chosen,
        kinds=[(kind.value, kind.words) for kind in StepKind],
        doubts=doubts(chosen.sequence),
        rows=[*chosen.sequence.steps, None, None],
    )


@router.post("/sequences")
async def post_sequence(request: Request, db: Db) -> Response:
    """Keep a sequence from the form: its steps row by row."""
    form = await request.form()
    text = {name: str(value) for name, value in form.items()}
    return await run_in_threadpool(_keep_sequence, request, db, text)


def _keep_sequence(request: Request, db: Database, form: dict[str, str]) -> Response:
    steps = []
    for row in range(30):
        kind = form.get(f"kind-{row}", "")
        if not kind or form.get(f"time-{row}", "").strip() == "":
            continue
        where = f"step {row + 1}, "
        temperature = form.get(f"temperature-{row}", "").strip()
        steps.append(
            {
                "kind": kind,
                "time": typed.number(form[f"time-{row}"], where + "time"),
                "drain": typed.number_or(form.get(f"drain-{row}", ""), where + "drain", 0.0),
                "volume": typed.number(form.get(f"volume-{row}", ""), where + "volume"),
                "temperature": typed.number(temperature, where + "temperature") if temperature else None,
                "source": form.get(f"source-{row}", ""),
            }
        )
    name = form.get("name", "").strip()
    sequence = from_plain(Sequence, {"name": name, "steps": steps}, where="the sequence")
    old = form.get("was", "")
    number, version = (typed.carried(form.get(field, "")) for field in ("number", "version"))
    same = old == name and number > 0
    kept = save_sequence(db, sequence, number=number if same else 0, version=version if same else 0)
    return go(
        request, f"/evening/sequences?edit={quote(kept.name)}", said=f'"{kept.name}" is kept.', done="evening-sequence"
    )


@router.post("/event")
def post_event(
    request: Request,
    db: Db,
    clock: Time,
    near: Near,
    kind: Typed,
    body: Typed = "{}",
    key: Typed = "",
    device: Typed = "page",
    back: Typed = "/evening",
) -> Response:
    """One event from a form, for a browser without scripts."""
    try:
        plain = json.loads(body)
        entry = EventEntry(kind=kind, body=plain, key=key or secrets.token_hex(8), device=device)
    except (ValueError, RecursionError):
        raise ValueOutOfRange("The event cannot be read as one. Load the page again.") from None
    done = _write(db, clock, near, entry)
    safe = back if back.startswith("/evening") else "/evening"
    return go(request, safe, said=done.said or "Noted.")


@router.get("/card.pdf")
def card(db: Db, clock: Time) -> Response:
    """The run card."""
    pdf = run_card(db, find_evening(db, None, now=clock.now()), now=clock.now())
    return Response(
        pdf, media_type="application/pdf", headers={"Content-Disposition": 'inline; filename="run-card.pdf"'}
    )


@router.get("/cues/{load:path}.wav")
def cue_file(db: Db, clock: Time, load: str, piece: int | None = None) -> Response:
    """A drum's sequence, or the exposures of one piece, as sound."""
    record = find_evening(db, None, now=clock.now())
    sound = cue_sheet(db, record, load, piece, audio=AUDIO, now=clock.now())
    return Response(sound, media_type="audio/wav")


# programs


class EventEntry(BaseModel):
    """An event as it is sent: kind and body as in the record, a key made up once, and when it happened."""

    model_config = ConfigDict(strict=True, extra="forbid")

    kind: str = Field(examples=["held"])
    body: dict[str, Any] = Field(default_factory=dict, examples=[{"load": "1"}])
    key: str = Field(min_length=1, max_length=100)
    device: str = Field(default="program", min_length=1, max_length=100)
    at: float | None = Field(default=None, description="Seconds since 1970-01-01 UTC, by the server's clock.")
    seen: int | None = None


class EventAnswer(BaseModel):
    """What came of it: the event's number, whether its key was there before, and what the printer should know."""

    number: int
    key: str
    again: bool
    said: str
    next: str


class VoiceEntry(BaseModel):
    """A page that wants to speak."""

    model_config = ConfigDict(strict=True, extra="forbid")

    page: str = Field(min_length=1, max_length=100)
    asked: bool = False
    heard: float | None = None


def _what(entry: EventEntry) -> What:
    if entry.kind not in KINDS:
        raise UnknownRecord(f'There is no event "{entry.kind}"; there are: {", ".join(KINDS)}.')
    kind: type[What] = KINDS[entry.kind]
    return from_plain(kind, entry.body, where=entry.kind)


def _write(db: Database, clock: Clock, near: OpenPages, entry: EventEntry) -> Written:
    record = find_evening(db, None, now=clock.now())
    what = (
        RunBegun(load=str(entry.body.get("load", "")), begin=clock.now())
        if entry.kind == "run_begun" and "begin" not in entry.body
        else _what(entry)
    )
    if isinstance(what, RunBegun):
        begin = what.begin if "begin" in entry.body else None
        return begin_run(db, record, what.load, key=entry.key, device=entry.device, now=clock.now(), begin=begin)
    return write(
        db,
        record,
        what,
        key=entry.key,
        device=entry.device,
        now=clock.now(),
        at=entry.at,
        seen=entry.seen,
        connected=near.devices(record.id) - {entry.device},
    )


@api.get("", summary="Where the evening is")
def get_evening(db: Db, clock: Time, name: str | None = None) -> dict[str, Any]:
    """Light, loads, drums, cues still to come."""
    record = find_evening(db, name, now=clock.now())
    return plain_evening(record, evening_now(db, record, now=clock.now()))


@api.post("", summary="Open an evening")
def post_open(db: Db, clock: Time, name: str = "") -> dict[str, Any]:
    """Begin an evening; it is called by its date unless named."""
    record = open_evening(db, now=clock.now(), name=name)
    return {"evening": record.name}


@api.post("/events", summary="Say that something happened")
def post_events(db: Db, clock: Time, near: Near, entry: EventEntry) -> EventAnswer:
    """On disk when this answers; the same key again changes nothing."""
    done = _write(db, clock, near, entry)
    return EventAnswer(
        number=done.event.number, key=done.event.key, again=done.again, said=done.said, next=what_next(done.evening)
    )


@api.post("/undo", summary="Take back the last step")
def post_undo(db: Db, clock: Time, near: Near) -> EventAnswer:
    """The last event that can be taken back."""
    record = find_evening(db, None, now=clock.now())
    last = evening_now(db, record, now=clock.now()).last
    if last is None:
        raise UnknownRecord("There is nothing to take back.")
    done = write(
        db, record, Undone(key=last.key), key=f"undo {last.key}", device="page", now=clock.now(),
        connected=near.devices(record.id),
    )  # fmt: skip
    return EventAnswer(
        number=done.event.number, key=done.event.key, again=done.again, said="Taken back.", next=what_next(done.evening)
    )


@api.get("/clock", summary="The evening's clock")
def get_clock(clock: Time) -> dict[str, float]:
    """Seconds since 1970-01-01 UTC, and seconds of the evening in a second of the wall."""
    return {"now": clock.now(), "pace": clock.pace}


@api.get("/light", summary="The light while the room is dark")
def get_light(request: Request) -> dict[str, str]:
    """ "easel" or "paper_out", at the bench or where paper is cut; "" where a page may be bright."""
    return {"light": dark_light(request)}


@api.get("/pour", summary="Compare a temperature with the usual one")
def get_pour(db: Db, clock: Time, load: str, step: int, temperature: float) -> dict[str, Any]:
    """Before pouring."""
    record = find_evening(db, None, now=clock.now())
    answer = compare_pour(db, record, load, step, temperature, now=clock.now())
    return {"warn": answer.warn, "words": answer.words, "usual": answer.usual, "spread": answer.spread}


@api.post("/voice", summary="Take or renew the voice")
def post_voice(db: Db, clock: Time, entry: VoiceEntry) -> dict[str, Any]:
    """One page speaks at a time; answers 409 while another does."""
    record = find_evening(db, None, now=clock.now())
    speaking = claim_voice(db, record, entry.page, now=clock.now(), asked=entry.asked, heard=entry.heard)
    return {"turn": speaking.voice.turn, "missed": [plain_cue(cue) for cue in speaking.missed]}


@api.post("/voice/release", summary="Give the voice up")
def post_release(db: Db, clock: Time, entry: VoiceEntry) -> dict[str, Any]:
    """Nothing happens if the page does not hold it."""
    return {"turn": release_voice(db, find_evening(db, None, now=clock.now()), entry.page, now=clock.now()).turn}


@api.post("/push", summary="Send an event that means nothing to every page")
def post_push(db: Db, clock: Time, near: Near) -> dict[str, Any]:
    """For the dark rehearsal: what lights up?"""
    record = find_evening(db, None, now=clock.now())
    near.push(record.id)
    return {"pushed": near.pushed(record.id)}


class EventStream(StreamingResponse):
    """Server-sent events (WHATWG HTML, 9.2)."""

    media_type = "text/event-stream"


@api.get("/stream", summary="What changes, as server-sent events", response_class=EventStream)
def get_stream(request: Request, db: Db, clock: Time, near: Near, device: str = "program") -> EventStream:
    """ "change" when anything happened, "push" when an event was pushed, "beat" every few seconds with the time."""
    record = find_evening(db, None, now=clock.now())
    return EventStream(_changes(request, db, record, clock, near, device), headers={"X-Accel-Buffering": "no"})


@dataclass(frozen=True, slots=True)
class _Sign:
    number: int
    turn: int
    devices: frozenset[str]


async def _changes(
    request: Request, db: Database, record: EveningRecord, clock: Clock, near: OpenPages, device: str
) -> AsyncIterator[str]:
    ticket = near.enter(record.id, device)
    loop = asyncio.get_running_loop()
    try:
        known: _Sign | None = None
        pushed, beaten = near.pushed(record.id), 0.0
        yield "retry: 1000\n\n"
        while not await request.is_disconnected():
            number, voice = await run_in_threadpool(lambda: (newest(db, record), who_speaks(db, record)))
            sign = _Sign(number, voice.turn, near.devices(record.id))
            if sign != known:
                known = sign
                yield _message("change", number=number, turn=voice.turn, page=voice.page, devices=sorted(sign.devices))
            if near.pushed(record.id) != pushed:
                pushed = near.pushed(record.id)
                yield _message("push", pushed=pushed)
            if loop.time() - beaten > HEARTBEAT:
                beaten = loop.time()
                yield _message("beat", now=clock.now())
            await asyncio.sleep(LOOK)
    finally:
        near.leave(ticket)


def _message(name: str, **data: Any) -> str:
    return f"event: {name}\ndata: {json.dumps(data)}\n\n"
