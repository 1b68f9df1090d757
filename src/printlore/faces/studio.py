"""Printlore from Python: one studio, in memory or in a folder, driven by plain calls.

Signs, units and gauge are those of ``docs/conventions.md``: vectors are (red, green, blue), packs are cyan,
magenta, yellow in the head's own dial units, more log exposure is darker. ``docs/driver.md`` has an example
that is run as a test.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Self

from printlore.core.edition.state import PrintEvent
from printlore.core.figure import DECIMAL_MARK
from printlore.core.light.enlarging import Sheet
from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Setting
from printlore.core.memory.evidence import BathState, Cast, Judgement, NegativeReading
from printlore.core.paper.facts import Vector
from printlore.errors import ValueOutOfRange
from printlore.faces import typed
from printlore.records.bulk import EPOCH
from printlore.records.database import Database
from printlore.records.negatives import Lab
from printlore.records.studio import Preferences, Repeatability
from printlore.records.trials import PatchReading
from printlore.services import aims, editions, entry, print_lines
from printlore.services.advice import AdviceReport, AdviceRequest
from printlore.services.advice import advise as advise_next
from printlore.services.editions import EditionView
from printlore.services.names import rename
from printlore.services.one_print import OnePrint, one_print
from printlore.services.print_lines import CertificateCheck
from printlore.services.trials import PatchEntry, TrialEntry, bring_trial_back, find_trial, log_trial, remove_trial


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
    judgement : Judgement or None
    kept : bool
    """

    setting: Setting
    density: Vector | None = None
    standard_error: float = 0.006
    wet: bool = False
    judgement: Judgement | None = None
    kept: bool = False


def at_day(day: float) -> datetime:
    """Moment that lies this many days after the fixed day that trials are counted from."""
    return datetime.fromtimestamp(EPOCH + 86400 * day, UTC)


class Studio:
    """A printer's studio.

    Numbers in sentences, in what it answers and in what is made of that afterwards (``print(advice.setting)``), have
    the decimal mark of the studio that was asked last.

    Examples
    --------
    >>> studio = Studio.in_memory()
    >>> head = studio.add_head("left enlarger")
    """

    def __init__(self, database: Database) -> None:
        self._database = database
        _ = self.database

    @property
    def database(self) -> Database:
        """The studio's record; every call goes through here, so that its sentences are written as the studio writes."""
        DECIMAL_MARK.set(entry.read_settings(self._database, Preferences).decimal_mark)
        return self._database

    def write_numbers(self, decimal_mark: str) -> None:
        """Write numbers in sentences with "." or ",", here and on every other face of this studio."""
        entry.change_settings(self.database, Preferences, decimal_mark=decimal_mark)
        DECIMAL_MARK.set(decimal_mark)

    @classmethod
    def in_memory(cls) -> Self:
        """A studio that lasts as long as the object."""
        return cls(Database.in_memory())

    @classmethod
    def open(cls, folder: Path | str) -> Self:
        """The studio in a folder; made if it is not there."""
        return cls(Database.open(folder))

    def add_head(
        self,
        name: str,
        *,
        kind: str = "subtractive",
        usual: Setting | None = None,
        dial_step: float = 1.0,
        timer_step: float = 0.1,
        **more: Any,
    ) -> str:
        """Declare an enlarger head; ``usual`` is where printing starts on it. Fields as in ``HeadFacts``."""
        if usual is not None:
            more["usual"] = usual
        return entry.add_head(self.database, name, kind=kind, dial_step=dial_step, timer_step=timer_step, **more).name

    def add_paper(self, name: str, *, aim_density: Vector | None = None, **more: Any) -> str:
        """Declare a paper family; ``aim_density`` is that of the reference patch on a good print.

        Fields as in ``PaperFacts`` (base_density, black_density, gradient), and ``dye_model``: "generic" or "b".
        """
        if aim_density is not None:
            more["aim_density"] = aim_density
        return entry.add_paper(self.database, name, **more).name

    def add_lot(self, name: str, *, paper: str) -> str:
        """Declare an emulsion lot of a paper; a paper's first lot is the one that others are measured from."""
        return entry.add_lot(self.database, name, paper=paper).name

    def add_process(self, name: str) -> str:
        """Declare a process (a sequence of baths with times and temperatures)."""
        return entry.add_process(self.database, name).name

    def add_bath(self, name: str, *, process: str, state: BathState | None = None, day: float = 0.0) -> str:
        """Declare a mixed bath of a process."""
        return entry.add_bath(self.database, name, process=process, state=state, mixed_at=at_day(day)).name

    def rename(self, word: str, name: str, new: str) -> str:
        """Call a "head", "lens", "paper", "lot", "process", "bath" or "film" by another name."""
        return str(rename(self.database, word, name, new).name)

    def expect_repeats(self, alike_cc: float | None) -> None:
        """Say how far prints made alike in separate drum loads scatter: standard deviation of a layer [CC], or None."""
        entry.change_settings(self.database, Repeatability, alike_cc=alike_cc)

    def add_film(self, name: str) -> str:
        """Declare a film."""
        return entry.add_film(self.database, name).name

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
        """
        frame = entry.add_frame(self.database, name, film=film, **({} if tone is None else {"aim": tone}))
        if reading is not None:
            self.read_negative(name, reading, source=source, reading_error=reading_error)
        if (aim_density is None) != (paper is None):
            raise ValueOutOfRange(f'Frame "{name}": give aim_density and paper together, or neither.')
        if aim_density is not None and paper is not None:
            aims.state_density(self.database, name, paper, aim_density)
        return frame.name

    def read_negative(self, frame: str, reading: Vector, *, source: str = "probe", reading_error: float = 0.01) -> None:
        """Record a reading of a frame's reference patch; the newest counts."""
        values = NegativeReading(density=reading, source=source, standard_error=reading_error)
        entry.read_negative(self.database, frame, values)

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
        key: str | None = None,
    ) -> str:
        """Record a piece of paper that was exposed and processed; returns the trial's name.

        Parameters
        ----------
        exposed : Exposed, or several for a strip
        run : str, optional
            Drum load; trials of one run share its noise.
        key : str, optional
            Of the caller's choosing: a second call with the same key records nothing and returns the same name.
        """
        several = (exposed,) if isinstance(exposed, Exposed) else tuple(exposed)
        record = log_trial(
            self.database,
            TrialEntry(
                patches=tuple(
                    PatchEntry(
                        setting=one.setting,
                        advised=advised,
                        reading=None
                        if one.density is None
                        else PatchReading(density=one.density, standard_error=one.standard_error, wet=one.wet),
                        judgement=one.judgement,
                        kept=one.kept,
                    )
                    for one in several
                ),
                kind="strip" if strip else "sheet",
                at=None if day is None else at_day(day),
                frame=frame,
                head=head,
                lot=lot,
                bath=bath,
                run=run,
                bath_state=bath_state,
                key=key,
            ),
        )
        return record.row.name

    def add_edition(self, title: str, *, frame: str, prints: int, proofs: int = 0, artist: str = "") -> str:
        """Promise an edition of a frame: so many numbered prints in all, so many artist's proofs beside."""
        return editions.add_edition(self.database, title, frame=frame, prints=prints, proofs=proofs, artist=artist).name

    def number(self, edition: str, *, trial: str | None = None, proof: bool = False, **more: Any) -> str:
        """Give a print its number; returns its print code. ``more`` as in ``services.editions.number_print``."""
        return editions.number_print(self.database, edition, trial=trial, proof=proof, **more).print.name

    def happened(self, code: str, what: PrintEvent | str, **more: Any) -> None:
        """Write down what happened to a numbered print ("signed", "sold", "delivered" ...; "certificate written" too).

        ``more``: ``at``, ``price``, ``person``, ``packed``, ``note``.
        """
        print_lines.add_line(self.database, code, typed.one_of(PrintEvent, str(what), "What happened"), **more)

    def edition(self, title: str) -> EditionView:
        """An edition with its prints, what is still promised and what to beware of."""
        return editions.edition_view(self.database, title)

    def check_certificate(self, code: str, digest: str) -> CertificateCheck:
        """Whether a certificate with this digest was written for the print, and in what the ledger differs now."""
        return print_lines.check_certificate(self.database, code, digest)

    def remove(self, trial: str) -> None:
        """Take a trial out of the evidence; its rows stay in the record."""
        record = find_trial(self.database, trial)
        remove_trial(self.database, trial, version=record.row.version)

    def bring_back(self, trial: str) -> None:
        """Let a trial that was removed count again, as it stood."""
        bring_trial_back(self.database, trial)


__all__ = [
    "AdviceReport",
    "BathState",
    "Cast",
    "Exposed",
    "FilterPack",
    "Judgement",
    "Setting",
    "Studio",
    "at_day",
]
