"""Plan the evening's loads and keep the printer's own sequences."""

import dataclasses
from dataclasses import dataclass

import sqlalchemy as sa

from printlore.core.evening.events import LoadPlanned
from printlore.core.evening.exposure import Exposure, exposures_of, strip_exposures
from printlore.core.evening.load import Load, Piece
from printlore.core.evening.process import Sequence, StepKind, usual_sequence
from printlore.core.evening.touch import touch_codes
from printlore.core.figure import Figure
from printlore.core.light.setting import Setting
from printlore.errors import UnknownRecord, ValueOutOfRange
from printlore.records.baths import Bath
from printlore.records.baths_kept import developers
from printlore.records.database import Database
from printlore.records.evening import EveningRecord, SequenceRecord
from printlore.records.light import Head
from printlore.records.negatives import Frame
from printlore.records.rows import add, correct, every, find, latest
from printlore.records.trials import last_printed
from printlore.services.evening import Written, evening_now, write


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceOrder:
    """A piece of paper as it is asked for.

    Attributes
    ----------
    frame : str or None
        Name of a frame of the studio.
    kind : str
        "sheet", "strip" or "control".
    setting : Setting or None
        Of a sheet; for a strip, its pack, f-number and magnification. ``None`` for a control that came exposed.
    steps : tuple of float
        Exposures of a strip's steps in order [s].
    width, height : float
        [mm]
    name : str
        Made from frame and kind if empty.
    """

    frame: str | None = None
    kind: str = "sheet"
    setting: Setting | None = None
    steps: tuple[float, ...] = ()
    width: float
    height: float
    name: str = ""


def plan_load(
    db: Database,
    record: EveningRecord,
    pieces: tuple[PieceOrder, ...],
    *,
    drum: int,
    key: str,
    device: str,
    now: float,
    sequence: str | None = None,
    bath: str | None = None,
    head: str | None = None,
    name: str = "",
    seen: int | None = None,
) -> Written:
    """Plan a load, or plan it anew: exposures, touch codes and sequence, all that the dark needs.

    Parameters
    ----------
    pieces : tuple of PieceOrder
        What goes into the drum, in the order of exposing.
    drum : int
        Its number.
    sequence, bath : str or None
        By name; the printer's first sequence, and the bath in use that was recorded last, if not given.
    head : str or None
        Under which the load is exposed; the one printed on last, else the one added last, if not given. If it gives
        red, green and blue light in turn, each exposure is three.
    name : str
        Numbered if empty.
    seen : int or None
        The version that is planned anew.

    Raises
    ------
    UnknownRecord
        If a frame, sequence, bath or head is not there.
    ValueOutOfRange, Refused
        If a piece cannot be, there are too many for one drum, the load is in its drum already, or the bath is retired.
    ChangedMeanwhile
        If somebody planned it anew since.
    """
    evening = evening_now(db, record, now=now)
    with db.reading() as conn:
        frames = [None if order.frame is None else find(conn, Frame, order.frame).name for order in pieces]
        in_use = developers(conn)
        mixed = find(conn, Bath, bath) if bath else (in_use[-1] if in_use else None)
        under = find(conn, Head, head) if head else _head_of_today(conn)
    if not name:
        name = next(str(n) for n in range(1, 10_000) if str(n) not in evening.loads)
    in_turn = under.timer_step if under is not None and under.kind == "additive_times" else None
    codes = touch_codes(len(pieces), square=any(order.width == order.height for order in pieces))
    load = Load(
        name=name,
        drum=drum,
        pieces=tuple(
            Piece(
                name=order.name
                or " ".join(filter(None, (frame, order.kind if order.kind != "sheet" else "")))
                or order.kind,
                kind=order.kind,
                frame=frame,
                setting=_words(order),
                exposures=_exposures(order, in_turn),
                area=_area(order),
                size=f"{Figure(order.width):g}x{Figure(order.height):g} mm",
                code=code,
            )
            for order, frame, code in zip(pieces, frames, codes, strict=True)
        ),
        sequence=find_sequence(db, sequence).sequence,
        baths=() if mixed is None else ((StepKind.DEVELOPER.value, mixed.name),),
        head="" if under is None else under.name,
    )
    return write(db, record, LoadPlanned(load=load), key=key, device=device, now=now, seen=seen)


def in_turn_words(load: Load) -> str:
    """That each exposure of a load is three; nothing if it is not."""
    if not any(exposure.light for piece in load.pieces for exposure in piece.exposures):
        return ""
    return f'"{load.head}" gives red, green and blue light in turn: the dark page leads each exposure as three.'


def heads_to_plan(db: Database) -> tuple[list[Head], str]:
    """Heads in the order recorded, and the name of the one that is taken unless another is named."""
    with db.reading() as conn:
        usual = _head_of_today(conn)
        return every(conn, Head), "" if usual is None else usual.name


def _head_of_today(conn: sa.Connection) -> Head | None:
    """The head printed on last, else the one added last."""
    last = last_printed(conn)
    return latest(conn, Head) if last is None else find(conn, Head, last.head)


def developers_in_use(db: Database) -> list[Bath]:
    """Baths that a load may be planned with: developers in use, in the order recorded."""
    with db.reading() as conn:
        return developers(conn)


def _words(order: PieceOrder) -> str:
    if order.setting is None:
        return ""
    made = order.setting
    light = " + ".join(f"{Figure(time):.3g}" for time in order.steps or (made.time,))
    return f"{made.pack}, {light} s, f/{Figure(made.f_number):g}, {Figure(made.magnification):.3g}x"


def _exposures(order: PieceOrder, in_turn: float | None) -> tuple[Exposure, ...]:
    if order.kind == "strip" and order.steps:
        return strip_exposures(order.steps, setting=order.setting, in_turn=in_turn)
    return () if order.setting is None else exposures_of(order.setting, in_turn=in_turn)


def _area(order: PieceOrder) -> float:
    for what, value in (("width", order.width), ("height", order.height)):
        if not 10 <= value <= 3000:
            raise ValueOutOfRange(f"The {what} of a piece is {Figure(value):g} mm; give 10 to 3000.")
    return order.width * order.height / 1e6


def sequences(db: Database) -> list[SequenceRecord]:
    """The printer's own sequences; a starting point if there is none yet (version 0: not recorded)."""
    with db.reading() as conn:
        found = every(conn, SequenceRecord)
    usual = usual_sequence()
    return found or [SequenceRecord(name=usual.name, sequence=usual)]


def find_sequence(db: Database, name: str | None) -> SequenceRecord:
    """A sequence by name, or the first.

    Raises
    ------
    UnknownRecord
        If there is none of that name; says which there are.
    """
    known = sequences(db)
    if not name:
        return known[0]
    for one in known:
        if one.name == name:
            return one
    there = ", ".join(f'"{one.name}"' for one in known)
    raise UnknownRecord(f'No sequence is called "{name}"; there are: {there}.')


def save_sequence(db: Database, sequence: Sequence, *, number: int = 0, version: int = 0) -> SequenceRecord:
    """Keep a sequence: a new one (``number`` 0), or a change of the one that was read.

    Raises
    ------
    ValueOutOfRange
        If its name is another's.
    ChangedMeanwhile
        If somebody changed it since it was read.
    """
    record = SequenceRecord(name=sequence.name, sequence=sequence)
    with db.transaction() as conn:
        if number == 0:
            return add(conn, record)
        return correct(conn, dataclasses.replace(record, id=number, version=version))
