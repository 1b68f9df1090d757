"""Printlore from Python: one studio, in memory or in a folder, driven by plain calls.

Signs, units and gauge are those of ``docs/conventions.md``: vectors are (red, green, blue), packs are cyan,
magenta, yellow in the head's own dial units, more log exposure is darker. ``docs/driver.md`` has an example
that is run as a test. The main job is here; the rest is in rooms with the words of the commands
(``printlore paper take-box`` is ``studio.paper.take_box``): ``faces/studio_*.py``.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Self

from printlore.core.advice.taught import Bearing
from printlore.core.bath.kit import Part
from printlore.core.control.limits import Wedge
from printlore.core.cutting.wanted import Trimmer, Wanted
from printlore.core.edition.state import PrintEvent
from printlore.core.figure import DECIMAL_MARK, LENGTH_UNIT
from printlore.core.light.enlarging import Sheet
from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Setting
from printlore.core.measure.scan import Box
from printlore.core.measure.strip import Exposures, StripKind, StripReading
from printlore.core.memory.evidence import BathState, Cast, Judgement, NegativeReading
from printlore.core.paper.facts import Vector
from printlore.core.plain import fitted_parts
from printlore.core.said import parse_said
from printlore.devices.exchange import CsvMapping
from printlore.errors import Refused, ValueOutOfRange
from printlore.faces import typed
from printlore.faces.studio_baths import Baths
from printlore.faces.studio_calls import checked, through
from printlore.faces.studio_editions import Editions
from printlore.faces.studio_evening import Evening
from printlore.faces.studio_measure import Measure
from printlore.faces.studio_negatives import Aim, Doubts, Frame, Tones, Trial, wedge_words
from printlore.faces.studio_paper import Paper
from printlore.faces.studio_settings import Settings
from printlore.faces.tonight import in_work
from printlore.records.baths import Bath
from printlore.records.bulk import EPOCH
from printlore.records.database import Database
from printlore.records.light import Head, Lens
from printlore.records.negatives import Frame as FrameRecord
from printlore.records.negatives import Lab
from printlore.records.papers import Lot, PaperFamily
from printlore.records.rows import Record
from printlore.records.studio import Preferences, Repeatability
from printlore.records.trials import PatchReading, TrialRecord
from printlore.services import aims, editions, entry, print_lines, scanned, trials
from printlore.services.advice import AdviceReport, AdviceRequest
from printlore.services.advice import advise as advise_next
from printlore.services.backup import back_up, restore
from printlore.services.entry import LISTED
from printlore.services.evening_plan import PieceOrder
from printlore.services.export import export_studio, import_studio, record_doubts
from printlore.services.names import rename
from printlore.services.notebook import NotebookPage, PageDefaults, enter_notebook
from printlore.services.one_print import OnePrint, one_print
from printlore.services.pairs import known_dyes
from printlore.services.print_lines import CertificateCheck
from printlore.services.strips import Densities, read_strip, wedge_from
from printlore.services.taught import evidence_of, lessons
from printlore.services.tones import ToneEntry
from printlore.services.trials import PatchEntry, TrialEntry, bring_trial_back, log_trial


@dataclass(frozen=True, slots=True, kw_only=True)
class Exposed:
    """One exposure of a trial, and what is known of how it came out: densities, a judgement, or that it was kept.

    Attributes
    ----------
    setting : Setting
        As made.
    density : (3,) floats or None
        Reflection density, status A (red, green, blue).
    standard_error : float
        Of each density [1].
    wet : bool
        Read wet: corrected by the paper's measured dry-down, refused without one.
    judgement : Judgement, or its words ("10 magenta, 1/3 stop dark"), or None
    kept : bool
    light : str
        What it was judged under.
    filter_on_print : bool
        The viewing filter lay on the print, where light passes it twice: its strength counts double.
    """

    setting: Setting
    density: Vector | None = None
    standard_error: float = 0.006
    wet: bool = False
    judgement: Judgement | str | None = None
    kept: bool = False
    light: str = ""
    filter_on_print: bool = False


_DAYS = 36500
"""Trials and baths lie within a century of the day they are counted from."""


def at_day(day: float) -> datetime:
    """Moment that lies this many days after the fixed day that trials are counted from.

    Raises
    ------
    ValueOutOfRange
        If it is not a number of days within a century.
    """
    if not (isinstance(day, int | float) and math.isfinite(day) and abs(day) <= _DAYS):
        raise ValueOutOfRange(f"The day {day!r} cannot be; give a number of days between {-_DAYS} and {_DAYS}.")
    return datetime.fromtimestamp(EPOCH + 86400 * day, UTC)


class Studio:
    """A printer's studio.

    Numbers in sentences, in what it answers and in what is made of that afterwards (``print(advice.setting)``), have
    the decimal mark of the studio that was asked last.

    Attributes
    ----------
    frame, aim, trial, tones, doubts, editions, paper, baths, measure, evening, settings
        Rooms, with the words of the commands of these names.

    Examples
    --------
    >>> studio = Studio.in_memory()
    >>> head = studio.add_head("left enlarger")
    """

    def __init__(self, database: Database) -> None:
        self._database = database
        _ = self.database
        self.frame, self.aim, self.trial = Frame(self), Aim(self), Trial(self)
        self.tones, self.doubts = Tones(self), Doubts(self)
        self.editions, self.paper, self.baths = Editions(self), Paper(self), Baths(self)
        self.measure, self.evening, self.settings = Measure(self), Evening(self), Settings(self)

    @property
    def database(self) -> Database:
        """The studio's record; every call goes through here, so that its sentences are written as the studio writes."""
        writing = entry.read_settings(self._database, Preferences)
        DECIMAL_MARK.set(writing.decimal_mark)
        LENGTH_UNIT.set(writing.length_unit)
        return self._database

    @classmethod
    def in_memory(cls) -> Self:
        """A studio that lasts as long as the object."""
        return cls(Database.in_memory())

    @classmethod
    @checked
    def open(cls, folder: Path | str) -> Self:
        """The studio in a folder; made if it is not there."""
        if not str(folder).strip():
            raise ValueOutOfRange("The folder of the studio has no name. Give one.")
        return cls(Database.open(folder))

    @classmethod
    @checked
    def from_export(cls, path: Path | str, folder: Path | str) -> Self:
        """A new studio in a folder, made out of an export; one that cannot be brought in leaves nothing behind.

        Records that cannot all be as they stand come in; ``record_doubts`` tells them.
        """
        with Database.made(Path(folder)) as database:
            import_studio(database, path)
        return cls.open(folder)

    @classmethod
    @checked
    def from_backup(cls, copy: Path | str, folder: Path | str) -> Self:
        """A studio in a new folder, made out of a backup."""
        return cls.open(restore(copy, folder))

    export = through(export_studio)
    back_up = through(back_up)
    record_doubts = through(record_doubts)
    lessons = through(lessons)
    tonight = through(in_work)

    def close(self) -> None:
        """Let go of the studio's file; what was recorded is on disk already."""
        self._database.close()

    def write_numbers(self, decimal_mark: str) -> None:
        """Write numbers in sentences with "." or ",", here and on every other face of this studio."""
        self.settings.writing(decimal_mark=decimal_mark)

    @checked
    def expect_repeats(self, alike_cc: float | None) -> None:
        """Say how far prints made alike in separate drum loads scatter: standard deviation of a layer [CC], or None."""
        entry.change_settings(self.database, Repeatability, alike_cc=alike_cc)

    @checked
    def add_head(self, name: str, *, usual: Setting | None = None, **more: Any) -> str:
        """Declare an enlarger head; ``usual`` is where printing starts on it.

        More: ``kind`` ("subtractive", "additive_times", "additive_levels"), ``dial_step``, ``dial_max``,
        ``timer_step`` [s], ``shortest``, ``longest`` [s], ``f_numbers``, ``note``.
        """
        if usual is not None:
            more["usual"] = usual
        return entry.add_head(self.database, name, **fitted_parts(Head, more, where="add_head")).name

    @checked
    def add_lens(self, name: str, **more: Any) -> str:
        """Declare an enlarging lens. More: ``focal_length`` [mm], ``pupil_factor`` (exit over entrance), ``note``."""
        return entry.add_lens(self.database, name, **fitted_parts(Lens, more, where="add_lens")).name

    @checked
    def add_paper(self, name: str, *, aim_density: Vector | None = None, **more: Any) -> str:
        """Declare a paper family; ``aim_density`` is that of the reference patch on a good print.

        More: ``base_density``, ``black_density``, ``gradient`` (as in ``PaperFacts``), ``dye_model`` ("generic" or
        "b"), ``surface``, ``note``.
        """
        if aim_density is not None:
            more["aim_density"] = aim_density
        return entry.add_paper(self.database, name, **fitted_parts(PaperFamily, more, where="add_paper")).name

    @checked
    def add_lot(self, name: str, *, paper: str, **more: Any) -> str:
        """Declare an emulsion lot of a paper; a paper's first lot is the one that others are measured from.

        More: ``emulsion_number``, ``received_at``, ``note``.
        """
        return entry.add_lot(self.database, name, paper=paper, **fitted_parts(Lot, more, where="add_lot")).name

    @checked
    def add_process(self, name: str, *, note: str = "") -> str:
        """Declare a process (a sequence of baths with times and temperatures)."""
        return entry.add_process(self.database, name, note=note).name

    @checked
    def add_bath(
        self, name: str, *, process: str, state: BathState | None = None, day: float = 0.0, **more: Any
    ) -> str:
        """Declare a mixed bath of a process; one that is mixed from a kit is ``baths.mix``.

        More: ``volume`` [mL], ``note``.
        """
        more = fitted_parts(Bath, more, where="add_bath")
        return entry.add_bath(self.database, name, process=process, state=state, mixed_at=at_day(day), **more).name

    @checked
    def rename(self, word: str, name: str, new: str) -> str:
        """Call a "head", "lens", "paper", "lot", "process", "bath" or "film" by another name."""
        return str(rename(self.database, word, name, new).name)

    @checked
    def add_film(self, name: str, *, stock: str = "", note: str = "") -> str:
        """Declare a film."""
        return entry.add_film(self.database, name, stock=stock, note=note).name

    @checked
    def add_frame(
        self,
        name: str,
        *,
        film: str,
        reading: Vector | None = None,
        source: str = "probe",
        reading_error: float = 0.01,
        tone: Lab | None = None,
        aim_density: Vector | None = None,
        paper: str | None = None,
        number: str = "",
        note: str = "",
    ) -> str:
        """Declare a negative.

        Parameters
        ----------
        reading : (3,), optional
            -log10(transmittance) of its reference patch against the empty carrier (red, green, blue).
        source : str
            Which probe, camera or scanner read it.
        reading_error : float
            Standard error of each channel [1].
        tone : (L*, a*, b*), optional
            Of its reference patch on a good print; a neutral middle grey by default.
        aim_density, paper : optional
            The density its reference patch should have on a paper, where it differs from the paper's usual one.
        number : str
            As on the film's edge.
        """
        if (aim_density is None) != (paper is None):
            raise ValueOutOfRange(f'Frame "{name}": give aim_density and paper together, or neither.')
        aim = {} if tone is None else {"aim": tone}
        with self.database.transaction():
            frame = entry.add_frame(self.database, name, film=film, number=number, note=note, **aim)
            if reading is not None:
                self.read_negative(name, reading, source=source, reading_error=reading_error)
            if aim_density is not None and paper is not None:
                aims.state_density(self.database, name, paper, aim_density)
        return frame.name

    @checked
    def read_negative(self, frame: str, reading: Vector, *, source: str = "probe", reading_error: float = 0.01) -> None:
        """Record a reading of a frame's reference patch; the newest counts."""
        values = NegativeReading(density=reading, source=source, standard_error=reading_error)
        entry.read_negative(self.database, frame, values)

    @checked
    def list(self, kind: str, *, film: str | None = None, find: str | None = None) -> Sequence[Record | TrialRecord]:
        """Everything of a kind: "films", "frames", "heads", "lenses", "papers", "lots", "processes", "baths", "trials".

        Frames can be those of a film, or those in whose name, number, film or note words are found.
        """
        if kind == "trials":
            return trials.list_trials(self.database)
        known = typed.one_of(LISTED, kind, "What is listed")
        if (film, find) != (None, None) and known != "frames":
            raise Refused(f"Film and words are for frames, not for {kind}. Leave them out.")
        if find is not None:
            return entry.find_frames(self.database, find, film=film).frames
        return entry.list_records(self.database, LISTED[known], **({} if film is None else {"film": film}))

    @checked
    def history(self, frame: str) -> Sequence[TrialRecord]:
        """The trials of a frame, oldest first; one that was taken back is marked so."""
        entry.find_record(self.database, FrameRecord, frame)
        return trials.frame_history_ever(self.database, frame)

    @checked
    def evidence_of(self, kind: str, name: str, *, unread: bool = False) -> tuple[Bearing, ...]:
        """Which prints say what was learned of a "lot", "bath" or "film", the weightiest first.

        Parameters
        ----------
        unread : bool
            Of a film: of its negatives that were not read, where others were.
        """
        return evidence_of(self.database, kind, name, unread)

    @checked
    def advise(
        self,
        frame: str | None = None,
        *,
        head: str | None = None,
        lot: str | None = None,
        bath: str | None = None,
        bath_state: BathState | None = None,
        day: float | None = None,
        magnification: float | None = None,
        sheet: Sheet | None = None,
        f_number: float | None = None,
        tolerance: str = "edition match",
        compare_with: str | None = None,
    ) -> AdviceReport:
        """The next setting, how it will come out, print or strip, and why. What is left out is assumed, and said."""
        return advise_next(
            self.database,
            AdviceRequest(
                frame=frame,
                head=head,
                lot=lot,
                bath=bath,
                bath_state=bath_state,
                at=None if day is None else at_day(day),
                magnification=magnification,
                sheet=sheet,
                f_number=f_number,
                tolerance=tolerance,
                compare_with=compare_with,
            ),
        )

    @checked
    def one_print(
        self,
        *,
        head: str | None = None,
        lot: str | None = None,
        bath: str | None = None,
        day: float | None = None,
        magnification: float | None = None,
        sheet: Sheet | None = None,
    ) -> OnePrint:
        """Which negative, printed once under these conditions and read, would let all earlier settings follow."""
        at = None if day is None else at_day(day)
        return one_print(self.database, head=head, lot=lot, bath=bath, at=at, magnification=magnification, sheet=sheet)

    @checked
    def log(
        self,
        frame: str | None,
        exposed: Exposed | Sequence[Exposed],
        *,
        head: str | None = None,
        lot: str | None = None,
        bath: str | None = None,
        bath_state: BathState | None = None,
        run: str | None = None,
        day: float | None = None,
        strip: bool = False,
        advised: Setting | None = None,
        size: tuple[float, float] | None = None,
        note: str = "",
        name: str | None = None,
        key: str | None = None,
    ) -> str:
        """Record a piece of paper that was exposed and processed; returns the trial's name.

        Parameters
        ----------
        frame : str or None
            None: the negative that is on the easel.
        exposed : Exposed, or several for a strip
        run : str, optional
            Drum load; trials of one run share its noise.
        size : (float, float), optional
            Of the picture [mm].
        name : str, optional
            Made up if not given; a name is given once, also if its trial is taken back.
        key : str, optional
            Of the caller's choosing: a second call with the same key records nothing and returns the same name.
        """
        several = (exposed,) if isinstance(exposed, Exposed) else tuple(exposed)
        record = log_trial(
            self.database,
            TrialEntry(
                patches=tuple(_patch(one, advised) for one in several),
                kind="strip" if strip else "sheet",
                at=None if day is None else at_day(day),
                frame=frame,
                head=head,
                lot=lot,
                bath=bath,
                run=run,
                bath_state=bath_state,
                print_size=size,
                note=note,
                name=name,
                key=key,
            ),
        )
        return record.row.name

    @checked
    def judge(
        self,
        trial: str,
        said: Judgement | str,
        *,
        position: int = 0,
        person: str = "printer",
        light: str = "",
        filter_on_print: bool = False,
        kept: bool = False,
    ) -> TrialRecord:
        """Say what an eye sees in a trial: a judgement, or its words, for example "10 magenta, 1/3 stop dark".

        Parameters
        ----------
        position : int
            Step of a strip, from 0.
        person : str
            Whose eye, of words; a judgement names it itself.
        light : str
            What it was judged under.
        filter_on_print : bool
            The viewing filter lay on the print: it counts double.
        kept : bool
            And it is right: keep it.
        """
        with self.database.transaction():
            record = trials.add_judgement(
                self.database,
                trial,
                _heard(said, person),
                position=position,
                light=light,
                filter_on_print=filter_on_print,
                judged_with_filter=filter_on_print,
                as_entered=said if isinstance(said, str) else "",
            )
            return trials.mark_kept(self.database, trial, position=position) if kept else record

    @checked
    def strip(
        self,
        scan: Path | str,
        wedge: Densities,
        *,
        boxes: Sequence[Box] | None = None,
        count: int | None = None,
        kind: StripKind = StripKind.SAME_TONE,
        exposures: Exposures = Exposures.SEPARATE,
        reference_step: int | None = None,
        paper: str | None = None,
    ) -> StripReading:
        """Densities of the steps in a scan with a grey wedge beside them, with their errors. Nothing is recorded.

        Parameters
        ----------
        wedge : densities of its steps
        boxes : of the steps; found if not given
        kind : "same_tone", or "across_picture" with the ``reference_step`` (from 0) that shows the reference patch
        exposures : "separate" or "cumulative"
        paper : str, optional
            Correct by what the studio knows of this paper in its scanner.
        """
        known = known_dyes(self.database, paper=paper) if paper else None
        return read_strip(
            scan,
            wedge,
            boxes,
            count=count,
            kind=kind,
            exposures=exposures,
            reference_step=reference_step,
            profile=known.profile if known else None,
            dyes=known.shift if known else None,
        )

    @checked
    def log_scan(
        self,
        frame: str | None,
        scan: Path | str,
        wedge: Densities,
        *,
        made: Setting,
        times: Sequence[float] | None = None,
        boxes: Sequence[Box] | None = None,
        count: int | None = None,
        kind: StripKind = StripKind.SAME_TONE,
        exposures: Exposures = Exposures.SEPARATE,
        reference_step: int | None = None,
        wet: bool = False,
        kept: bool = False,
        advised: Setting | None = None,
        head: str | None = None,
        lot: str | None = None,
        bath: str | None = None,
        run: str | None = None,
        day: float | None = None,
        note: str = "",
        key: str | None = None,
    ) -> TrialRecord:
        """Record a print, or a strip of several ``times`` [s], from its scan; how it is read is as in ``strip``.

        The scan is kept even if no step is then found in it.
        """
        if frame is not None:
            entry.find_record(self.database, FrameRecord, frame)
        read = scanned.read_file(
            self.database,
            Path(scan),
            wedge_from(wedge),
            lot=lot,
            boxes=boxes,
            count=count,
            kind=kind,
            exposures=exposures,
            reference_step=reference_step,
        )
        return scanned.log_scan(
            self.database,
            read.scan,
            read.reading,
            made,
            (made.time,) if times is None else times,
            wedge=wedge_words(wedge),
            wet=wet,
            kept=kept,
            advised=advised,
            kind="sheet" if times is None else "strip",
            at=None if day is None else at_day(day),
            frame=frame,
            head=head,
            lot=lot,
            bath=bath,
            run=run,
            note=note,
            key=key,
        )

    @checked
    def notebook(self, page: str | bytes, *, check: bool = False, **defaults: Any) -> NotebookPage:
        """Enter an old notebook page, a print a line: "Harbour 12: 60M 45Y, 9.5 s, f/8, 20x25 cm, 1998-03-04".

        Parameters
        ----------
        check : bool
            Read and check everything, record nothing.
        **defaults
            Of lines that do not say: ``film``, ``head``, ``paper``, ``lot``, ``bath``, ``person``, ``pack_order``,
            ``negative``, ``whole``, as in ``services.notebook.PageDefaults``.
        """
        known = PageDefaults(**fitted_parts(PageDefaults, defaults, where="notebook"))
        return enter_notebook(self.database, page, known, dry_run=check)

    @checked
    def add_edition(
        self, title: str, *, frame: str, prints: int, proofs: int = 0, artist: str = "", sizes: str = ""
    ) -> str:
        """Promise an edition of a frame: so many numbered prints in all, so many artist's proofs beside."""
        made = editions.add_edition(
            self.database, title, frame=frame, prints=prints, proofs=proofs, artist=artist, sizes=sizes
        )
        return made.name

    def number(self, edition: str, *, trial: str | None = None, proof: bool = False, **more: Any) -> str:
        """Give a print its number; returns its print code. ``more`` as in ``editions.number``, which shows doubts."""
        return self.editions.number(edition, trial=trial, proof=proof, **more).print.name

    @checked
    def happened(
        self,
        code: str,
        what: PrintEvent | str,
        *,
        at: datetime | None = None,
        price: float | None = None,
        person: str = "",
        packed: str = "",
        note: str = "",
    ) -> None:
        """Write down what happened to a numbered print: "signed", "certificate written", "sold", "delivered" ..."""
        happened = typed.one_of(PrintEvent, str(what), "What happened")
        print_lines.add_line(self.database, code, happened, at=at, price=price, person=person, packed=packed, note=note)

    edition = through(editions.edition_view)

    @checked
    def check_certificate(self, code: str, digest: str) -> CertificateCheck:
        """Whether a certificate with this digest was written for the print, and in what the ledger differs now."""
        return print_lines.check_certificate(self.database, code, digest)

    def remove(self, trial: str) -> None:
        """Take a trial out of the evidence; its rows stay in the record, and its name is not given again."""
        self.trial.take_back(trial)

    @checked
    def bring_back(self, trial: str) -> None:
        """Let a trial that was removed count again, as it stood."""
        bring_trial_back(self.database, trial)


def _patch(one: Exposed, advised: Setting | None) -> PatchEntry:
    reading = None
    if one.density is not None:
        reading = PatchReading(density=one.density, standard_error=one.standard_error, wet=one.wet)
    return PatchEntry(
        setting=one.setting,
        advised=advised,
        reading=reading,
        judgement=None if one.judgement is None else _heard(one.judgement, "printer"),
        kept=one.kept,
        light=one.light,
        filter_on_print=one.filter_on_print,
        judged_with_filter=one.filter_on_print,
        as_entered=one.judgement if isinstance(one.judgement, str) else "",
    )


def _heard(said: Judgement | str, person: str) -> Judgement:
    return parse_said(said, person=person).judgement if isinstance(said, str) else said


__all__ = [
    "AdviceReport",
    "BathState",
    "Box",
    "Cast",
    "CsvMapping",
    "Exposed",
    "FilterPack",
    "Judgement",
    "Part",
    "PieceOrder",
    "Setting",
    "Sheet",
    "Studio",
    "ToneEntry",
    "Trimmer",
    "Wanted",
    "Wedge",
    "at_day",
]
