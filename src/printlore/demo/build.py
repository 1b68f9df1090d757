"""The demo studio: an invented print room, a few evenings in it, and tonight's first strip as a scan.

Nobody printed any of this. The negatives, paper, baths and people do not exist; the densities and scans
come from ``printroom``, a simulation that knows nothing of the advice it is used to show.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Setting
from printlore.core.measure.scan import Box
from printlore.core.measure.strip import StripReading
from printlore.core.memory.evidence import BathState, NegativeReading
from printlore.core.paper.facts import vector
from printlore.demo.baths import add_bath_history
from printlore.demo.editions import add_edition_history
from printlore.demo.invented import mark_as_demo
from printlore.demo.paper import add_paper_history
from printlore.files import make_folder
from printlore.records.database import FILE_NAME, Database
from printlore.records.negatives import Frame
from printlore.records.trials import PatchReading, TrialRecord
from printlore.services import entry
from printlore.services.advice import AdviceReport, AdviceRequest, advise
from printlore.services.strips import read_strip
from printlore.services.trials import PatchEntry, TrialEntry, frame_history, log_trial
from printroom.kinds import KINDS
from printroom.room import Exposure, Outcome, Room
from printroom.scans import WEDGE_DENSITIES, Faults, Scan, Scanner, save_tiff
from printroom.scenes import harbour

HEAD, PAPER, PROCESS = "column enlarger", "semi-matt paper", "45 s developer, half a litre"
TONIGHT = "harbour steps 14"
EDITION_OF = "blue door 3"
"""The negative of which an edition is promised."""
_NEAR_ENOUGH = 3.0
"""dE00 at which the invented printer keeps a sheet."""
_MOST_SHEETS = 4
_SHEET, _VOLUME = 0.203 * 0.254, 0.5
"""Paper that goes through a drum [m2] and the bath it goes through [L]."""
_FIRST_DAY = 60
"""The room counts its days from 0, before the first evening."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Evening:
    days_ago: int
    lot: str
    bath: str
    frames: tuple[tuple[str, str, float], ...]
    """(film, frame, magnification)"""


EVENINGS = (
    _Evening(
        days_ago=33,
        lot="lot 41",
        bath="developer 1",
        frames=(("summer 3", "blue door 3", 8.0), ("summer 3", "net loft 5", 8.0), ("summer 3", "low tide 21", 8.0)),
    ),
    _Evening(
        days_ago=19,
        lot="lot 41",
        bath="developer 1",
        frames=(("summer 4", "ferry queue 2", 8.0), ("summer 4", "rope store 8", 12.0)),
    ),
    _Evening(
        days_ago=5,
        lot="lot 47",
        bath="developer 2",
        frames=(("summer 4", "blue hour 30", 8.0), ("summer 3", "blue door 3", 12.0)),
    ),
)
_SEED = 5
STEPS = 6 + sum(len(evening.frames) for evening in EVENINGS)
"""How often ``build_demo_studio`` reports progress."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MainJob:
    """The main job, done: what was read off tonight's strip, what it was logged as, and what comes next."""

    frame: str
    scan_name: str
    reading: StripReading
    trial: TrialRecord
    report: AdviceReport


def build_demo_studio(
    folder: Path, progress: Callable[[str], None] = lambda _: None, *, now: datetime | None = None
) -> MainJob:
    """Make the demo studio in a new folder, up to tonight's first advice.

    Parameters
    ----------
    folder : Path
    progress : callable
        Called ``STEPS`` times, with a few words for what comes next.
    now : datetime
        Tonight; by default now.
    """
    # the mark comes first: a demo that was cut short is not taken for a studio
    make_folder(folder)
    mark_as_demo(folder)
    with Database.open(folder) as db:
        progress("the print room")
        demo = _Demo(db, now or datetime.now(UTC))
        progress("two months of baths")
        demo.furnish()
        progress("three months of paper")
        add_paper_history(db, _SEED, now=demo.now)
        for evening in EVENINGS:
            for place, (film, frame, magnification) in enumerate(evening.frames):
                progress(frame)
                demo.print_frame(evening, place, film, frame, magnification)
        progress("a scan of a sheet")
        demo.scan_sheet()
        progress("a few numbered prints")
        add_edition_history(db, EDITION_OF, PAPER, now=demo.now)
        progress("tonight's strip")
        return demo.tonight()


def has_studio(folder: Path) -> bool:
    """Whether there is a studio in a folder already."""
    return (folder / FILE_NAME).exists()


def was_cut_short(db: Database) -> bool:
    """Whether building the demo stopped before tonight's strip was logged."""
    return not any(frame.name == TONIGHT for frame in entry.list_records(db, Frame)) or not frame_history(db, TONIGHT)


class _Demo:
    """One print room and the studio that keeps its record."""

    def __init__(self, db: Database, now: datetime) -> None:
        self.db, self.now = db, now
        self.room = Room(seed=21, kind=KINDS["steady vane"])
        self.scanner = Scanner(self.room, seed=4)
        self._area: dict[str, float] = {}
        self._mixed: dict[str, datetime] = {}
        self._known: set[str] = set()

    def furnish(self) -> None:
        """Declare what the studio has."""
        usual, kind = self.room.usual, self.room.kind
        entry.add_head(self.db, HEAD, usual=_setting(usual), dial_step=kind.dial_step, timer_step=kind.time_step)
        red, green, blue = self.room.aim_density.tolist()
        entry.add_paper(self.db, PAPER, surface="semi-matt", aim_density=(red, green, blue))
        entry.add_process(self.db, PROCESS)
        add_bath_history(self.db, _SEED, now=self.now)
        for film in dict.fromkeys(film for evening in EVENINGS for film, _, _ in evening.frames):
            entry.add_film(self.db, film, note="invented")
            self.room.add_film(film)
        for evening in EVENINGS:
            if evening.lot not in self._known:
                entry.add_lot(self.db, evening.lot, paper=PAPER)
                self.room.add_lot(evening.lot)
            if evening.bath not in self._known:
                self._mixed[evening.bath] = self._at(evening, -30)
                entry.add_bath(self.db, evening.bath, process=PROCESS, mixed_at=self._mixed[evening.bath])
                self.room.add_bath(evening.bath)
            self._known |= {evening.lot, evening.bath}

    def print_frame(self, evening: _Evening, place: int, film: str, frame: str, magnification: float) -> None:
        """Print a frame as advised until it is near enough, and log every sheet."""
        self._add_frame(film, frame, read_at=self._at(evening, -20))
        for sheet in range(_MOST_SHEETS):
            at = self._at(evening, 15 * (place * 5 + sheet))
            advice = advise(
                self.db,
                AdviceRequest(
                    frame=frame,
                    head=HEAD,
                    lot=evening.lot,
                    bath=evening.bath,
                    magnification=magnification,
                    at=at,
                ),
            ).advice
            outcome = self._expose(frame, advice.setting, evening, at)
            good = self.room.delta_e(outcome) <= _NEAR_ENOUGH
            reading = PatchReading(density=vector(outcome.measured), device="reflection densitometer (invented)")
            patch = PatchEntry(setting=advice.setting, advised=advice.setting, reading=reading, kept=good)
            self._log(frame, evening.lot, evening.bath, at, (patch,))
            if good:
                return

    def scan_sheet(self) -> None:
        """Scan the last kept sheet, so that its history holds a picture."""
        evening = EVENINGS[-1]
        frame = evening.frames[0][1]
        at = self._at(evening, 120)
        advice = advise(self.db, AdviceRequest(frame=frame, lot=evening.lot, bath=evening.bath, at=at)).advice
        outcome = self._expose(frame, advice.setting, evening, at)
        scan = self.scanner.sheet(
            outcome, harbour(600, 860, seed=3), faults=Faults(rotation=0.0), wedge=WEDGE_DENSITIES
        )
        card = next(patch for patch in scan.patches if patch.name == "grey card")
        sha256, reading = self._read(scan, f"{frame}.tif", (card.box,))
        patch = PatchEntry(
            setting=advice.setting,
            advised=advice.setting,
            reading=_reading_of(reading, 0, sha256),
            kept=self.room.delta_e(outcome) <= _NEAR_ENOUGH,
        )
        self._log(frame, evening.lot, evening.bath, at, (patch,))
        entry.correct_record(self.db, entry.find_record(self.db, Frame, frame), thumbnail=sha256)

    def tonight(self) -> MainJob:
        """Strip of a negative that was never read or printed, its scan, and the advice that follows."""
        evening = EVENINGS[-1]
        self._add_frame(evening.frames[0][0], TONIGHT, read_at=None)
        asked = AdviceRequest(frame=TONIGHT, lot=evening.lot, bath=evening.bath, at=self.now, magnification=8.0)
        settings = advise(self.db, asked).advice.strip_settings
        run = "tonight's first drum"
        outcomes = [self._expose(TONIGHT, setting, evening, self.now, run=run) for setting in settings]
        scan = self.scanner.strip(outcomes, faults=Faults(), wedge=WEDGE_DENSITIES)
        name = f"{TONIGHT}, strip.tif"
        sha256, reading = self._read(scan, name, tuple(patch.box for patch in scan.patches))
        patches = tuple(
            PatchEntry(setting=setting, advised=setting, reading=_reading_of(reading, index, sha256))
            for index, setting in enumerate(settings)
        )
        trial = self._log(TONIGHT, evening.lot, evening.bath, self.now, patches, kind="strip")
        return MainJob(frame=TONIGHT, scan_name=name, reading=reading, trial=trial, report=advise(self.db, asked))

    def _add_frame(self, film: str, frame: str, *, read_at: datetime | None) -> None:
        if frame in self._known:
            return
        self._known.add(frame)
        self.room.add_frame(film, frame)
        entry.add_frame(self.db, frame, film=film, number=frame.rsplit(" ", 1)[-1], note="invented")
        if read_at is not None:
            red, green, blue = self.room.read_negative(frame).tolist()
            entry.read_negative(
                self.db,
                frame,
                NegativeReading(density=(red, green, blue), source="probe", standard_error=0.01),
                at=read_at,
            )

    def _expose(self, frame: str, setting: Setting, evening: _Evening, at: datetime, run: str | None = None) -> Outcome:
        state = self._state(evening.bath, at)
        return self.room.expose(
            frame,
            **setting.pack.by_colour(),
            time=setting.time,
            f_number=setting.f_number,
            magnification=setting.magnification,
            lot=evening.lot,
            bath=evening.bath,
            area_per_litre=state.area_per_litre,
            age_days=state.age_days,
            date=float(_FIRST_DAY - evening.days_ago),
            run=run,
        )

    def _state(self, bath: str, at: datetime) -> BathState:
        age = (at - self._mixed[bath]).total_seconds() / 86400
        return BathState(area_per_litre=self._area.get(bath, 0.0), age_days=max(age, 0.0))

    def _log(
        self,
        frame: str,
        lot: str,
        bath: str,
        at: datetime,
        patches: tuple[PatchEntry, ...],
        kind: str = "sheet",
    ) -> TrialRecord:
        trial = log_trial(
            self.db,
            TrialEntry(
                patches=patches,
                kind=kind,
                at=at,
                frame=frame,
                head=HEAD,
                lot=lot,
                bath=bath,
                print_size=(203.0, 254.0),
                note="invented",
            ),
        )
        self._area[bath] = self._area.get(bath, 0.0) + _SHEET / _VOLUME
        entry.declare_bath_state(self.db, bath, self._state(bath, at), at=at)
        return trial

    def _read(self, scan: Scan, name: str, boxes: tuple[tuple[int, int, int, int], ...]) -> tuple[str, StripReading]:
        """Through a real file, kept and read as any other; the invented printer drew the boxes."""
        with TemporaryDirectory(prefix="printlore-") as folder:
            path = Path(folder) / "scan.tif"
            save_tiff(path, scan)
            content = path.read_bytes()
        kept = entry.keep_scan(self.db, content, media_type="image/tiff", original_name=name)
        places = [Box(left=left, top=top, right=right, bottom=bottom) for left, top, right, bottom in boxes]
        return kept.sha256, read_strip(content, WEDGE_DENSITIES, places)

    def _at(self, evening: _Evening, minutes: float) -> datetime:
        day = (self.now - timedelta(days=evening.days_ago)).replace(hour=19, minute=30, second=0, microsecond=0)
        return day + timedelta(minutes=minutes)


def _setting(exposure: Exposure) -> Setting:
    return Setting(
        pack=FilterPack(cyan=exposure.cyan, magenta=exposure.magenta, yellow=exposure.yellow),
        time=exposure.time,
        f_number=exposure.f_number,
        magnification=exposure.magnification,
    )


def _reading_of(reading: StripReading, index: int, sha256: str) -> PatchReading:
    step = reading.steps[index]
    return PatchReading(
        density=step.density,
        standard_error=max(step.standard_error),
        beyond=step.clipped_channels,
        flags=step.flags,
        scan=sha256,
        box=(step.box.left, step.box.top, step.box.right, step.box.bottom),
        device="scan, wedge " + " ".join(f"{density:g}" for density in WEDGE_DENSITIES),
    )
