"""Log a trial, add what was read or said of it, correct it, look at a frame's history."""

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Any

import sqlalchemy as sa

from printlore.core.light.setting import Setting
from printlore.core.memory.evidence import BathState, Judgement
from printlore.core.paper.sizes import refuse_no_sheet
from printlore.errors import Refused, UnknownRecord, ValueOutOfRange
from printlore.records.baths import Bath, Process, Run, bath_state
from printlore.records.baths_kept import developer_after
from printlore.records.database import Database
from printlore.records.light import Head
from printlore.records.negatives import Film, Frame
from printlore.records.papers import Lot, PaperFamily
from printlore.records.rows import (
    Record,
    add,
    bring_back,
    clean_name,
    correct,
    every,
    every_ever,
    find,
    free_name,
    history,
    latest,
    remove,
)
from printlore.records.trials import (
    ExposureRow,
    JudgementRecord,
    KeptMark,
    PatchReading,
    PatchRecord,
    TrialRecord,
    TrialRow,
    last_printed,
    lot_after,
    next_name,
    with_patches,
)
from printlore.services.drums import waiting_drum
from printlore.services.pairs import dried


@dataclass(frozen=True, slots=True, kw_only=True)
class PatchEntry:
    """One exposure as it is logged.

    Attributes
    ----------
    setting : Setting
        As made.
    advised : Setting or None
        As it was advised, if it was.
    reading : PatchReading or None
    judgement : Judgement or None
    kept : bool
        Accepted as right.
    light : str
        What it was judged under.
    filter_on_print : bool
        The viewing filter lay on the print, where light passes it twice: its strength counts double.
    judged_with_filter : bool
        A viewing filter was used at all.
    as_entered : str
        The words or digits that the judgement was typed as.
    """

    setting: Setting
    advised: Setting | None = None
    reading: PatchReading | None = None
    judgement: Judgement | None = None
    kept: bool = False
    light: str = ""
    filter_on_print: bool = False
    judged_with_filter: bool = False
    as_entered: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialEntry:
    """A piece of paper as it is logged. Only a setting is required; what is not named is taken or made, and said.

    Attributes
    ----------
    patches : tuple of PatchEntry
        At least one.
    kind : str
        ``strip``, ``sheet`` or ``control``.
    source : str
        ``bench``, or ``notebook`` for old notes.
    at : datetime or None
        When it was exposed; now if not given.
    frame, head, lot, bath, run, lens : str or None
        A run that does not exist yet is made; everything else must exist. With no run named, a print logged as it is
        made comes out of tonight's drum load that held a piece of its frame (``services.drums``).
    bath_state : BathState or None
        Reckoned from the bath if not given.
    print_size : (width, height) or None
        [mm]
    name : str or None
        Unique; made up if not given.
    key : str or None
        Any text that the client makes up once per entry: the same key again returns what was recorded first. An empty
        one is none.
    """

    patches: tuple[PatchEntry, ...]
    kind: str = "sheet"
    source: str = "bench"
    at: datetime | None = None
    frame: str | None = None
    head: str | None = None
    lot: str | None = None
    bath: str | None = None
    run: str | None = None
    lens: str | None = None
    bath_state: BathState | None = None
    carrier_glass: bool | None = None
    mixing_box: str = ""
    print_size: tuple[float, float] | None = None
    column_mark: str = ""
    note: str = ""
    name: str | None = None
    key: str | None = None

    def __post_init__(self) -> None:
        if not self.patches:
            raise ValueOutOfRange("A trial has no exposure; log at least one setting.")
        if self.print_size is not None:
            refuse_no_sheet(*self.print_size)


def log_trial(db: Database, entry: TrialEntry) -> TrialRecord:
    """Record a trial; on disk when this returns.

    Raises
    ------
    UnknownRecord
        If it names a head, frame, lot, bath or lens that is not there; says which names are near.
    Refused
        If it names a run that went through another bath, a reading is wet and the paper's dry-down not measured, or its
        key was given before with another frame or other settings.
    ValueOutOfRange
        If its name is or was another's.
    """
    with db.transaction() as conn:
        # An empty mark tells no entry from another.
        entry = dataclasses.replace(entry, key=(entry.key or "").strip() or None)
        if entry.key is not None:
            for row in every_ever(conn, TrialRow, entry_key=entry.key):
                if row.removed:
                    raise Refused(
                        f"{row.name} was logged with this key and was taken back since: nothing was logged. "
                        "Bring it back, or give a new key (on the page: open the form anew)."
                    )
                return _logged_before(with_patches(conn, [row])[0], entry)
        return _log(conn, entry)


def _logged_before(record: TrialRecord, entry: TrialEntry) -> TrialRecord:
    name, row = record.name, record.row
    # What was corrected since differs from what was entered first, and that may well be sent again.
    corrected = row.version > 1 or any(patch.exposure.version > 1 for patch in record.patches)
    other = ""
    if entry.frame is not None and clean_name("frame", entry.frame) != row.frame:
        other = f'a print of "{row.frame}", not of "{entry.frame}"'
    elif [patch.setting for patch in entry.patches] != [patch.made for patch in record.patches]:
        other = "made with other settings"
    if other and not corrected:
        raise Refused(
            f'The key "{entry.key}" was given before: {name} is {other}. Nothing was logged; give a new key, or none.'
        )
    said = f"{name} is logged already: the same entry came twice, so nothing was added."
    return dataclasses.replace(record, again=True, remarks=(said,))


def _log(conn: sa.Connection, entry: TrialEntry) -> TrialRecord:
    at = (entry.at or datetime.now(UTC)).astimezone(UTC)
    last = last_printed(conn) if None in (entry.head, entry.lot, entry.bath, entry.frame) else None
    remarks: list[str] = []
    head = entry.head or _assumed(conn, Head, last, remarks)
    lot = entry.lot or _assumed(conn, Lot, last, remarks)
    frame = entry.frame or _assumed_frame(conn, last, remarks)
    run, of_run = _run_of(conn, entry, frame, at, remarks)
    bath = entry.bath or of_run or _assumed(conn, Bath, last, remarks, at=at)
    if run is not None:
        _find_or_make_run(conn, run, bath, at)
    row = add(
        conn,
        TrialRow(
            name=entry.name or next_name(conn),
            entry_key=entry.key,
            kind=entry.kind,
            source=entry.source,
            at=at,
            frame=frame,
            head=head,
            lot=lot,
            bath=bath,
            run=run,
            lens=entry.lens,
            bath_state=entry.bath_state or bath_state(conn, bath, at),
            carrier_glass=entry.carrier_glass,
            mixing_box=entry.mixing_box,
            print_size=entry.print_size,
            column_mark=entry.column_mark,
            note=entry.note,
        ),
    )
    patches = tuple(_log_patch(conn, row, position, patch) for position, patch in enumerate(entry.patches))
    record = TrialRecord(row=row, patches=patches, remarks=tuple(remarks))
    twin = _twin(conn, record) if entry.at is None else None
    if twin is not None:
        logged = f"{twin.name}, logged at {twin.row.at.astimezone():%H:%M}, says the same"
        remark = f"{logged}: if it is the same sheet, take this one back."
        return dataclasses.replace(record, remarks=(remark, *record.remarks))
    return record


TWIN_MINUTES = 10.0
"""[min] No second print of a negative is processed, looked at and found alike sooner (from memory)."""


def _twin(conn: sa.Connection, record: TrialRecord) -> TrialRecord | None:
    """A trial of a moment before that says the same, as two devices with one form open make it."""
    since = record.row.at - timedelta(minutes=TWIN_MINUTES)
    rows = [row for row in every(conn, TrialRow, frame=record.row.frame) if row.at >= since and row.id != record.row.id]

    def says(one: TrialRecord) -> list[object]:
        return [
            (
                patch.made,
                [judged.judgement for judged in patch.judgements],
                [reading.density for reading in patch.readings],
                bool(patch.kept),
            )
            for patch in one.patches
        ]

    if not any(patch.judgements or patch.readings or patch.kept for patch in record.patches):
        return None
    return next((one for one in with_patches(conn, rows)[::-1] if says(one) == says(record)), None)


def _log_patch(conn: sa.Connection, row: TrialRow, position: int, patch: PatchEntry) -> PatchRecord:
    exposure = add(conn, ExposureRow(trial_id=row.id, position=position, setting=patch.setting))
    advised: ExposureRow | None = None
    readings: tuple[PatchReading, ...] = ()
    judgements: tuple[JudgementRecord, ...] = ()
    kept: tuple[KeptMark, ...] = ()
    if patch.advised is not None:
        advised = add(conn, ExposureRow(trial_id=row.id, position=position, role="advised", setting=patch.advised))
    if patch.reading is not None:
        reading = dried(conn, patch.reading, row.lot)
        readings = (add(conn, dataclasses.replace(reading, exposure_id=exposure.id)),)
    if patch.judgement is not None:
        judgements = (_add_judgement(conn, exposure.id, patch, row.at),)
    if patch.kept:
        kept = (add(conn, KeptMark(exposure_id=exposure.id, at=row.at)),)
    return PatchRecord(exposure=exposure, advised=advised, readings=readings, judgements=judgements, kept=kept)


def _add_judgement(conn: sa.Connection, exposure_id: int, patch: PatchEntry, at: datetime) -> JudgementRecord:
    said = patch.judgement
    assert said is not None
    if patch.filter_on_print:
        said = dataclasses.replace(said, strength=2 * said.strength)
    return add(
        conn,
        JudgementRecord(
            exposure_id=exposure_id,
            judgement=said,
            at=at,
            light=patch.light,
            filter_at_eye=False if patch.filter_on_print else (True if patch.judged_with_filter else None),
            as_entered=patch.as_entered,
        ),
    )


def _assumed(
    conn: sa.Connection, kind: type[Record], last: TrialRow | None, remarks: list[str], *, at: datetime | None = None
) -> str:
    of_last = getattr(last, kind.word) if last else None
    if kind is Bath:
        name = developer_after(conn, of_last)
    elif kind is Lot:
        name = lot_after(conn, last)
    else:
        there = latest(conn, kind)
        name = of_last or (None if there is None else str(getattr(there, "name")))  # noqa: B009
    if name is not None:
        why = "as in the trial before" if name == of_last else "added last"
        remarks.append(f'No {kind.word} was named: taken to be "{name}", {why}.')
        return name
    name = free_name(conn, kind, f"unnamed {kind.word}")
    if kind is Head:
        add(conn, Head(name=name))
    elif kind is Lot:
        paper = latest(conn, PaperFamily) or add(conn, PaperFamily(name="unnamed paper"))
        add(conn, Lot(name=name, family=paper.name))
    else:
        assert at is not None
        process = latest(conn, Process) or add(conn, Process(name="unnamed process"))
        add(conn, Bath(name=name, process=process.name, mixed_at=at))
    none = "no developer is in use" if kind is Bath else "none is in the studio"
    remarks.append(f'No {kind.word} was named and {none}: "{name}" was added. Rename it when you can.')
    return name


_UNNAMED_FRAME = "unnamed frame"
_PUT_ON_EASEL = (
    sa.select(Frame.table.c.id)
    .where(Frame.table.c.corrects_id.is_(None), Frame.table.c.name.startswith(_UNNAMED_FRAME))
    .order_by(Frame.table.c.id.desc())
)


def _assumed_frame(conn: sa.Connection, last: TrialRow | None, remarks: list[str]) -> str:
    easel = _on_easel(conn, last)
    if easel is not None:
        remarks.append(f'No negative was named: taken to be the negative that is on the easel ("{easel.name}").')
        return easel.name
    name = _add_unnamed_frame(conn).name
    remarks.append(f'No negative was named: "{name}" was added. Rename it when you can.')
    return name


def _on_easel(conn: sa.Connection, last: TrialRow | None) -> Frame | None:
    """The negative put on the easel last, whatever it is called now; none if another was printed since.

    What is put on the easel is recorded without a name and then named: that tells it from one that was only added.
    """
    for number in conn.execute(_PUT_ON_EASEL).scalars():
        for frame in every(conn, Frame, id=number):
            another = last is not None and last.frame != frame.name
            return None if another and _first_written(conn, last) > _first_written(conn, frame) else frame
    return None


def _first_written(conn: sa.Connection, record: Record | None) -> datetime:
    assert record is not None
    written: datetime = history(conn, record)[0]["created_at"]
    return written


def _add_unnamed_frame(conn: sa.Connection) -> Frame:
    film = _newest_film(conn)
    used = set(conn.execute(sa.select(Frame.table.c.name)).scalars())
    number = 1
    while f"{_UNNAMED_FRAME} {number}" in used:
        number += 1
    return add(conn, Frame(name=f"{_UNNAMED_FRAME} {number}", film=film.name))


def _newest_film(conn: sa.Connection) -> Film:
    return latest(conn, Film) or add(conn, Film(name="unnamed film"))


def negative_called(db: Database, name: str) -> Frame | None:
    """The negative of this name, or else the newest whose name differs by capitals alone."""
    tidy = " ".join(name.split())
    with db.reading() as conn:
        alike = [frame for frame in every(conn, Frame) if frame.name.casefold() == tidy.casefold()]
    return next((frame for frame in alike if frame.name == tidy), alike[-1] if alike else None)


def next_negative(db: Database, name: str = "") -> Frame:
    """Another negative is on the easel, of the newest film, named now or later.

    Trials without a frame are of this one from now on, until one of another negative is logged. Raises
    ValueOutOfRange if its name is or was another's, or differs from another's by capitals alone.
    """
    with db.transaction() as conn:
        known = negative_called(db, name)
        if known is not None and known.name != " ".join(name.split()):
            raise ValueOutOfRange(f'"{known.name}" is here already. Name it so, or call the new one otherwise.')
        frame = _add_unnamed_frame(conn)
        return correct(conn, dataclasses.replace(frame, name=name)) if name.strip() else frame


def _run_of(
    conn: sa.Connection, entry: TrialEntry, frame: str, at: datetime, remarks: list[str]
) -> tuple[str | None, str | None]:
    """The drum load that an entry names, or tonight's that held a piece of the frame; and its bath, if it is known."""
    if entry.run is not None:
        return entry.run, next((run.bath for run in every(conn, Run, name=entry.run)), None)
    if entry.at is not None or entry.source != "bench":
        return None, None
    drum = waiting_drum(conn, frame, at)
    if drum is None or entry.bath not in (None, drum.bath):
        return None, None
    remarks.append(f"No drum load was named: taken to be {drum.words} of tonight, with what else was in it.")
    return drum.run, drum.bath


def _find_or_make_run(conn: sa.Connection, name: str, bath: str, at: datetime) -> None:
    if not every_ever(conn, Run, name=clean_name(Run.word, name)):
        add(conn, Run(name=name, bath=bath, at=at))
        return
    run = find(conn, Run, name)
    if run.bath != bath:
        raise Refused(f'Run "{run.name}" went through the bath "{run.bath}", not "{bath}". Name the right bath or run.')


def add_reading(db: Database, trial: str, reading: PatchReading, *, position: int = 0) -> TrialRecord:
    """Add densities read off a trial's patch (position from 0); the newest counts, the others stay."""
    with db.transaction() as conn:
        record = _trial(conn, trial)
        reading = dried(conn, reading, record.row.lot)
        add(conn, dataclasses.replace(reading, exposure_id=exposure_at(record, position).id))
        return _trial(conn, trial)


def add_judgement(
    db: Database,
    trial: str,
    judgement: Judgement,
    *,
    position: int = 0,
    light: str = "",
    filter_on_print: bool = False,
    judged_with_filter: bool = False,
    as_entered: str = "",
) -> TrialRecord:
    """Add what an eye said of a trial's patch; the newest counts, the others stay."""
    with db.transaction() as conn:
        exposure = exposure_at(_trial(conn, trial), position)
        patch = PatchEntry(
            setting=exposure.setting,
            judgement=judgement,
            light=light,
            filter_on_print=filter_on_print,
            judged_with_filter=judged_with_filter,
            as_entered=as_entered,
        )
        _add_judgement(conn, exposure.id, patch, datetime.now(UTC))
        return _trial(conn, trial)


def mark_kept(db: Database, trial: str, *, position: int = 0, kept: bool = True) -> TrialRecord:
    """Accept the print of a trial's patch as right, or take that back."""
    with db.transaction() as conn:
        record = _trial(conn, trial)
        exposure = exposure_at(record, position)
        marks = record.patches[position].kept
        if kept and not marks:
            add(conn, KeptMark(exposure_id=exposure.id, at=datetime.now(UTC)))
        for mark in () if kept else marks:
            remove(conn, mark)
        return _trial(conn, trial)


def correct_trial(
    db: Database,
    trial: str,
    *,
    version: int,
    settings: Mapping[int, Setting] | None = None,
    **fields: Any,
) -> TrialRecord:
    """Correct a trial as it was read at a version; what was recorded before stays in its rows.

    Parameters
    ----------
    settings : mapping of position (from 0) to the setting that was really made
    **fields
        Fields of ``records.trials.TrialRow``: ``frame``, ``lot``, ``kind``, ``note`` ...

    Raises
    ------
    ChangedMeanwhile
        If the trial was corrected since it was read.
    UnknownRecord
        If there is no such trial or patch.
    """
    with db.transaction() as conn:
        record = _trial(conn, trial)
        row = correct(conn, dataclasses.replace(record.row, version=version, **fields))
        for position, setting in (settings or {}).items():
            correct(conn, dataclasses.replace(exposure_at(record, position), setting=setting))
        return with_patches(conn, [row])[0]


def remove_trial(db: Database, trial: str, *, version: int) -> None:
    """Take a trial out of the evidence (a slip, a spoiled sheet); its rows stay. Raises ChangedMeanwhile."""
    with db.transaction() as conn:
        remove(conn, dataclasses.replace(find(conn, TrialRow, trial), version=version))


def bring_trial_back(db: Database, trial: str, *, version: int | None = None) -> TrialRecord:
    """Let a trial that was taken back count again, as it stood: with its readings, judgements and marks.

    Parameters
    ----------
    version : int, optional
        That was read (``find_trial_ever``), so that a change in between is noticed.

    Raises
    ------
    Refused
        If it was not taken back.
    UnknownRecord
        If there never was such a trial.
    ChangedMeanwhile
        If it was brought back and taken back again since it was read.
    """
    with db.transaction() as conn:
        row = _row_ever(conn, trial)
        if not row.removed:
            raise Refused(f"{row.name} was not taken back: it counts. There is nothing to bring back.")
        row = bring_back(conn, dataclasses.replace(row, version=row.version if version is None else version))
        return with_patches(conn, [row])[0]


def find_trial_ever(db: Database, trial: str) -> TrialRecord:
    """As ``find_trial``, also if it was taken back."""
    with db.reading() as conn:
        return with_patches(conn, [_row_ever(conn, trial)])[0]


def numbered_trial(db: Database, number: int) -> TrialRecord:
    """The trial of a record number, also if it was taken back. Raises UnknownRecord."""
    with db.reading() as conn:
        found = every_ever(conn, TrialRow, id=number)
        if not found:
            raise UnknownRecord(f"There is no trial number {number}. Look at the history of its negative.")
        return with_patches(conn, found)[0]


def _row_ever(conn: sa.Connection, trial: str) -> TrialRow:
    for row in every_ever(conn, TrialRow, name=clean_name(TrialRow.word, trial)):
        return row
    return find(conn, TrialRow, trial)


def find_trial(db: Database, trial: str) -> TrialRecord:
    """One trial as it stands. Raises UnknownRecord with near names."""
    with db.reading() as conn:
        return _trial(conn, trial)


def list_trials(db: Database, **where: Any) -> list[TrialRecord]:
    """Trials in the order logged, for example ``list_trials(db, frame="Harbour")``."""
    with db.reading() as conn:
        return with_patches(conn, every(conn, TrialRow, **where))


def frame_history(db: Database, frame: str) -> list[TrialRecord]:
    """Every trial of a frame that counts, oldest exposure first."""
    return [trial for trial in frame_history_ever(db, frame) if not trial.taken_back]


def frame_history_ever(db: Database, frame: str) -> list[TrialRecord]:
    """As ``frame_history``, with the trials that were taken back."""
    with db.reading() as conn:
        trials = with_patches(conn, every_ever(conn, TrialRow, frame=frame))
    return sorted(trials, key=lambda record: (record.row.at, record.row.id))


def trial_versions(db: Database, trial: str) -> list[dict[str, Any]]:
    """Every version of a trial's own row as plain columns, oldest first: what was corrected, taken back, and when."""
    with db.reading() as conn:
        return history(conn, _row_ever(conn, trial))


def times_corrected(versions: list[dict[str, Any]]) -> int:
    """How many of a trial's versions are corrections: taking back and bringing back are none."""
    return sum(this["removed"] == before["removed"] for before, this in pairwise(versions))


def _trial(conn: sa.Connection, name: str) -> TrialRecord:
    return with_patches(conn, [find(conn, TrialRow, name)])[0]


def exposure_at(record: TrialRecord, position: int) -> ExposureRow:
    """An exposure of a trial, counted from 0. Raises UnknownRecord if it has none there."""
    if not 0 <= position < len(record.patches):
        raise UnknownRecord(
            f'Trial "{record.name}" has {len(record.patches)} {"step" if len(record.patches) == 1 else "steps"}, '
            f"counted from 1; there is no step {position + 1} (patch {position}, counted from 0)."
        )
    return record.patches[position].exposure
