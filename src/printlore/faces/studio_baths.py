"""Baths and waste from Python, with the words of ``printlore baths``."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from printlore.core.bath.temperature import WALL_SHARES, hot_volume, poured
from printlore.core.plain import fitted_parts
from printlore.errors import ValueOutOfRange
from printlore.faces.studio_calls import HasRecord, Room, checked, through
from printlore.records.baths import Run
from printlore.records.baths_kept import KitRecord
from printlore.services import bath_book, bath_report, baths, control, entry, warmth, waste
from printlore.services.bath_book import Entry
from printlore.services.bath_labels import labels


class Baths(Room):
    """Mix, use, top up and retire baths; control patches, faults, warmth. Volumes in mL, areas in m2, degrees C."""

    list = through(bath_report.baths_in_use)
    kit = through(baths.define_kit)
    sheet_read = through(baths.mark_safety_sheet_read)
    open = through(baths.open_concentrate)
    concentrates = through(baths.concentrates_left)
    plan = through(baths.plan_mixing)
    mix = through(baths.mix_bath)
    run = through(baths.log_run)
    top_up = through(baths.top_up)
    bleed = through(baths.bleed)
    gauge = through(baths.gauge)
    retire = through(baths.retire)
    book = through(bath_book.bath_book)
    show = through(bath_report.bath_report)
    steady = through(bath_report.steady_plan)
    labels = through(labels)
    process = through(control.control_report)
    patches = through(control.control_patches)
    take_patch_back = through(control.take_control_back)
    bring_patch_back = through(control.bring_control_back)
    limits = through(control.set_limits)
    fault = through(control.find_fault)
    fault_was = through(control.log_fault)
    control = through(control.log_control)
    curve = through(warmth.log_cooling_curve)
    start = through(warmth.advise_pour)
    own_time = through(warmth.log_own_time)
    time = through(warmth.advise_time)

    def __init__(self, studio: HasRecord) -> None:
        super().__init__(studio)
        self.waste = Waste(studio)

    def kits(self) -> Sequence[KitRecord]:
        """Kits that are defined, and whether the safety sheet of each was read."""
        return entry.list_records(self.database, KitRecord)

    @checked
    def take_back(self, bath: str, *, event: int | None = None, load: str | None = None) -> Entry:
        """Take something done to a bath back: the last thing, or what is named. It stays in its book, with a mark."""
        if event is None and load is None:
            return bath_book.take_back(self.database, bath)
        there = bath_book.named_entry(self.database, bath, event=event, load=load)
        return bath_book.take_entry_back(self.database, there)

    @checked
    def bring_back(self, bath: str, *, event: int | None = None, load: str | None = None) -> Entry:
        """Let something done to a bath that was taken back count again, as it stood."""
        there = bath_book.named_entry(self.database, bath, event=event, load=load)
        return bath_book.bring_entry_back(self.database, there)

    @checked
    def correct_load(self, load: str, *, seen: int | None = None, **changes: Any) -> Run:
        """Put a drum load right: ``area``, ``water_in``, ``solution_out``, ``temperature``, ``drum``, ``note``."""
        if not changes:
            raise ValueOutOfRange(
                "Nothing was named to be put right. Give area, water_in, solution_out, temperature, drum or note."
            )
        changes = fitted_parts(Run, changes, where="correct_load")
        there = bath_book.find_load(self.database, load)
        return bath_book.correct_load(self.database, replace(there, version=seen or there.version), **changes)

    @checked
    def water(self, *, total: float, aim: float, cold: float, hot: float) -> tuple[float, float]:
        """(hot, cold) water [mL] that make the total at the aimed temperature."""
        part = hot_volume(total, aim, cold, hot)
        return part, total - part

    @checked
    def pour(self, *, volume: float, temperature: float, drum: float, drum_at: float) -> tuple[float, ...]:
        """Where a small pour in a cold drum settles if 15 %, 30 % and all of its wall warms.

        Parameters
        ----------
        drum : float
            Mass of its plastic [g].
        """
        return tuple(poured(volume, temperature, drum, drum_at, share) for share in WALL_SHARES)


class Waste(Room):
    """What is spent, with the words of ``printlore baths waste``. Volumes in litres."""

    list = through(waste.waste_report)
    book = through(waste.waste_book)
    container = through(waste.add_container)
    pour = through(waste.pour_waste)
    hand_over = through(waste.hand_over)
    answer = through(waste.record_answer)
    take_back = through(waste.take_waste_back)
    bring_back = through(waste.bring_waste_back)
    diary = through(waste.write_diary)
    diary_lines = through(waste.diary)
    take_diary_back = through(waste.take_diary_back)
    bring_diary_back = through(waste.bring_diary_back)
