"""On paper and as sound: the run card of an evening, and a piece's or a drum's cues as a file any player plays."""

from pathlib import Path

from printlore.core.evening.care import CAUTIONS, WASTE
from printlore.core.evening.cues import PROMPTS, Cue, words_of
from printlore.core.evening.exposure import COUNT_IN, Exposure, exposure_cues
from printlore.core.evening.load import Load, Piece
from printlore.core.evening.process import ANNOUNCED, Moment, doubts, moments, process_cues
from printlore.core.evening.script import SHEET_GATES
from printlore.core.evening.track import Samples, render
from printlore.core.figure import Figure
from printlore.devices.paper_pages import typeset
from printlore.devices.sound import read_mu_law, wav_bytes
from printlore.errors import Refused, UnknownRecord
from printlore.records.database import Database
from printlore.records.evening import EveningRecord
from printlore.services.evening import evening_now

_TEMPLATE = Path(__file__).with_name("run_card.typ")

BETWEEN = 8.0
"""[s] Between two exposures of a piece on a cue sheet, to move the card or the hands."""


NAMED = 2.0
"""[s] Before its count-in, one of three lights is named."""


def run_card(db: Database, record: EveningRecord, *, now: float) -> bytes:
    """The run card as a PDF: settings, cues and sequences of every load planned, in large type.

    Raises
    ------
    Refused
        If nothing is planned.
    """
    evening = evening_now(db, record, now=now)
    if not evening.loads:
        raise Refused("Nothing is planned tonight, so there is nothing to put on a run card. Plan a load first.")
    data = {
        "evening": record.name,
        "intro": "Made at the desk, for the dark. Times of a drum count from its first pour, drain included.",
        "cautions": [caution.ask for caution in CAUTIONS],
        "gates": [PROMPTS[gate] for gate in SHEET_GATES]
        + ["Sheet out, box closed, expose, drum, lid, box closed, light."],
        "loads": [_load(state.load) for state in evening.loads.values()],
        "waste": WASTE,
    }
    return typeset(_TEMPLATE, data, at=record.opened_at.timestamp())


def _load(load: Load) -> dict[str, object]:
    bath = load.baths[0][1] if load.baths else ""
    return {
        "name": load.name,
        "drum": str(load.drum),
        "pieces": [_piece(piece, alone=len(load.pieces) == 1) for piece in load.pieces],
        "sequence": load.sequence.name,
        "bath": bath,
        "steps": [_step(moment) for moment in moments(load.sequence)],
        "doubts": list(doubts(load.sequence)),
    }


def _piece(piece: Piece, *, alone: bool) -> dict[str, object]:
    return {
        "name": piece.name,
        "setting": ", ".join(filter(None, (piece.size, piece.setting))),
        "code": "" if alone else piece.code.words,
        "exposures": [
            {
                "name": " ".join(filter(None, (exposure.name, exposure.light))),
                "time": f"{Figure(exposure.time):g}",
                "notes": _notes(exposure),
            }
            for exposure in piece.exposures
        ],
    }


def _notes(exposure: Exposure) -> str:
    notes = [f"{dodge.name}: {Figure(dodge.begin):g} to {Figure(dodge.end):g}" for dodge in exposure.dodges]
    if exposure.filters and not exposure.light:
        notes.append(f"filters {exposure.filters}")
    return "; ".join(notes)


def _step(moment: Moment) -> dict[str, str]:
    step = moment.step
    return {
        "at": clock_time(moment.begin),
        "kind": step.kind.words,
        "time": f"{Figure(step.time):g}",
        "drain": clock_time(moment.drain),
        "end": clock_time(moment.end),
        "volume": f"{Figure(step.volume):g}",
        "temperature": "" if step.temperature is None else f"{Figure(step.temperature):g}",
    }


def clock_time(seconds: float) -> str:
    """Minutes and seconds, for example 2:05."""
    whole = round(seconds)
    return f"{whole // 60}:{whole % 60:02d}"


def cue_sheet_cues(load: Load, piece: int | None = None) -> tuple[tuple[Cue, ...], float]:
    """Cues of one piece's exposures one after the other, or of the drum's sequence; and the lead before 0 [s].

    Raises
    ------
    UnknownRecord
        If the load has no such piece.
    Refused
        If that piece is not exposed.
    """
    if piece is None:
        return process_cues(moments(load.sequence)), ANNOUNCED
    if not 0 <= piece < len(load.pieces):
        raise UnknownRecord(f'Load "{load.name}" has {len(load.pieces)} pieces; there is no piece {piece + 1}.')
    exposures = load.pieces[piece].exposures
    if not exposures:
        raise Refused(f'"{load.pieces[piece].name}" is not exposed here, so it has no cues.')
    cues: list[Cue] = []
    at = 0.0
    for exposure in exposures:
        if exposure.light:
            cues.append(Cue(at=at - COUNT_IN - NAMED, say=(f"in_{exposure.light}",)))
        cues += [cue.later(at) for cue in exposure_cues(exposure)]
        at += exposure.time + BETWEEN + COUNT_IN
    return tuple(cues), -min(cue.at for cue in cues)


def cue_sheet(
    db: Database, record: EveningRecord, load: str, piece: int | None = None, *, audio: Path, now: float
) -> bytes:
    """The same cues as the page speaks, as a WAV file for any player.

    Parameters
    ----------
    load : str
    piece : int or None
        Number of the piece from 0; ``None``: the drum's sequence.
    audio : Path
        Folder of the prompts.
    """
    cues, lead = cue_sheet_cues(evening_now(db, record, now=now).load(load).load, piece)
    prompts: dict[str, Samples] = {}
    rate = 0
    for name in sorted({name for cue in cues for name in cue.say}):
        prompts[name], rate = read_mu_law(audio / f"{name}.wav")
    rate = rate or 12_000
    return wav_bytes(render(cues, prompts, rate=rate, lead=lead), rate)


def cue_lines(cues: tuple[Cue, ...]) -> list[str]:
    """The cues as text, one a line: time, tone, words."""
    return [f"{Figure(cue.at):8.1f} s  {cue.tone or '':6}  {words_of(cue.say)}".rstrip() for cue in cues]
