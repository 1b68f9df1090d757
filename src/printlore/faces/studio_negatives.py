"""Negatives and trials from Python: ``printlore frame``, ``aim``, ``trial``, ``doubts`` and ``tones``."""

from dataclasses import replace
from pathlib import Path
from typing import Any

from printlore.core.paper.facts import Vector
from printlore.core.plain import fitted_parts
from printlore.errors import Refused
from printlore.faces.studio_calls import Room, checked, through
from printlore.records.negatives import Frame as FrameRecord
from printlore.records.negatives import NegativeReadingRecord
from printlore.records.trials import PatchReading, TrialRecord
from printlore.services import aims, doubts, entry, scanned, tones, trials
from printlore.services.strips import Densities, wedge_from
from printlore.services.trials import find_trial


class Frame(Room):
    """One negative."""

    next = through(trials.next_negative)
    picture = through(scanned.choose_picture)

    @checked
    def show(self, frame: str) -> FrameRecord:
        """What it is called and belongs to; see ``readings``, ``aim.show`` and ``history`` for the rest."""
        return entry.find_record(self.database, FrameRecord, frame)

    @checked
    def readings(self, frame: str) -> list[NegativeReadingRecord]:
        """Every reading of its reference patch; the newest counts."""
        return entry.list_records(self.database, NegativeReadingRecord, frame=self.show(frame).name)

    @checked
    def correct(self, frame: str, *, seen: int | None = None, **changes: Any) -> FrameRecord:
        """Correct ``name``, ``film``, ``number`` or ``note``; what it was before stays in its rows.

        Parameters
        ----------
        seen : int, optional
            The version that was read: refused if it was changed since.
        """
        if not changes:
            raise Refused("Nothing to correct was named. Give name, film, number or note.")
        changes = fitted_parts(FrameRecord, changes, where="correct")
        record = self.show(frame)
        return entry.correct_record(self.database, replace(record, version=seen or record.version), **changes)


class Aim(Room):
    """What a negative should come out as."""

    show = through(aims.stated_aims)
    tone = through(aims.state_tone)
    density = through(aims.state_density)
    drop = through(aims.drop_density)
    bring_back = through(aims.bring_density_back)


class Trial(Room):
    """One trial that was logged; a patch is named by its position, from 0."""

    show = through(trials.find_trial_ever)
    versions = through(trials.trial_versions)
    keep = through(trials.mark_kept)
    bring_back = through(trials.bring_trial_back)

    @checked
    def take_back(self, trial: str, *, seen: int | None = None) -> None:
        """Take a trial out of the evidence; its rows stay in the record, and its name is not given again."""
        record = find_trial(self.database, trial)
        trials.remove_trial(self.database, trial, version=seen or record.version)

    @checked
    def read(
        self, trial: str, density: Vector, *, position: int = 0, standard_error: float = 0.006, wet: bool = False
    ) -> TrialRecord:
        """Add densities (red, green, blue) read off a patch; the newest counts, the others stay."""
        reading = PatchReading(density=density, standard_error=standard_error, wet=wet)
        return trials.add_reading(self.database, trial, reading, position=position)

    @checked
    def scan(
        self, trial: str, file: Path | str, *, wedge: Densities, wet: bool = False, kept: bool = False, **how: Any
    ) -> TrialRecord:
        """Add what a scan says of a print that was logged before; ``how`` as in ``Studio.strip``."""
        lot = find_trial(self.database, trial).row.lot
        read = scanned.read_file(self.database, Path(file), wedge_from(wedge), lot=lot, **how)
        as_typed = wedge_words(wedge)
        return scanned.read_again(self.database, trial, read.scan, read.reading, wedge=as_typed, wet=wet, kept=kept)


class Doubts(Room):
    """Trials that were probably not made as logged."""

    list = through(doubts.doubts_of)

    @checked
    def slip(self, trial: str, *, patch: int = 0) -> TrialRecord:
        """Yes: it was the slip that is suspected. Its setting is corrected; what was logged stays in its rows."""
        return doubts.answer_doubt(self.database, trial, slip=True, patch=patch)

    @checked
    def right(self, trial: str, *, patch: int = 0) -> TrialRecord:
        """No: it was made as logged. It is not asked about again."""
        return doubts.answer_doubt(self.database, trial, slip=False, patch=patch)


class Tones(Room):
    """Light, middle and dark tones of a print that want different filters."""

    read = through(tones.read_tones)
    show = through(tones.crossover)


def wedge_words(wedge: Densities) -> str:
    """The visual densities of a wedge as they are kept with a reading."""
    return " ".join(str(round(sum(step) / 3, 4)) for step in wedge_from(wedge).densities)
