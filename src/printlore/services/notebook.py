"""Old notebook pages, many prints at a time, as first evidence; see core/notes.py for how to write one."""

import dataclasses
import difflib
import hashlib
import re
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime

import sqlalchemy as sa

from printlore.core.calendar import day, sensible
from printlore.core.figure import Figure
from printlore.core.light.enlarging import SMALL_FORMAT, Sheet, enlargement
from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Setting
from printlore.core.memory.evidence import BathState, Judgement
from printlore.core.notes import COLUMNS, NoteLine, decode_page, read_page
from printlore.core.quantities import parse_f_number, parse_number, parse_pack, parse_size, parse_time
from printlore.core.said import parse_said
from printlore.errors import Refused, UnknownRecord, ValueOutOfRange
from printlore.records.baths import UNKNOWN_DAY, Bath, BathEvent, Process
from printlore.records.database import Database
from printlore.records.light import Head
from printlore.records.negatives import Film, Frame
from printlore.records.papers import Lot, PaperFamily
from printlore.records.rows import Record, add, clean_name, every, numbers_called
from printlore.records.studio import Preferences, settled
from printlore.records.trials import PatchReading, TrialRow
from printlore.services.entry import keep_scan
from printlore.services.trials import PatchEntry, TrialEntry, log_trial

_YES = {"1", "x", "yes", "y", "kept", "good", "ok", "true", "final", "\u2713", "*"}
_NO = {"", "0", "no", "n", "false", "-"}


@dataclass(frozen=True, slots=True, kw_only=True)
class PageDefaults:
    """What holds for every line that says nothing else.

    Attributes
    ----------
    film, head, paper, lot, bath, person : str or None
    negative : (float, float)
        Of the picture on the film [mm]; turns a print size into a magnification.
    whole : bool
        The whole picture is on the sheets, with a border; otherwise it fills them.
    pack_order : str
        Colours of three bare numbers, for example ``CMY`` or ``YMC``.
    kept_if_silent : bool
        A line that does not say how the print came out is of one that was kept.
    columns : mapping of heading to one of ``COLUMNS``
        For headings that are not among the usual ones.
    """

    film: str | None = None
    head: str | None = None
    paper: str | None = None
    lot: str | None = None
    bath: str | None = None
    person: str | None = None
    negative: tuple[float, float] = SMALL_FORMAT
    whole: bool = False
    pack_order: str = "CMY"
    kept_if_silent: bool = True
    columns: Mapping[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if sorted(self.pack_order.upper()) != ["C", "M", "Y"]:
            raise ValueOutOfRange(f'The order "{self.pack_order}" must name C, M and Y once each, for example YMC.')
        for side in self.negative:
            if not 1 <= side <= 1000:
                raise ValueOutOfRange(f"A negative with a side of {Figure(side):g} mm cannot be; give 1 to 1000 mm.")
        for name in self.columns.values():
            if name not in COLUMNS:
                raise ValueOutOfRange(f'"{name}" is not what a column can mean; use one of {", ".join(COLUMNS)}.')


@dataclass(frozen=True, slots=True, kw_only=True)
class NotebookLine:
    """One line as it was read.

    Attributes
    ----------
    number : int
        In the text, from 1.
    text : str
        As it came.
    setting : Setting or None
        ``None`` if it could not be read.
    doubts : tuple of str
        What was assumed or looks odd.
    problem : str or None
        Why it was not entered.
    trial : str or None
        Name of the trial recorded; ``None`` in a dry run.
    again : bool
        It was entered before, and not a second time.
    """

    number: int
    text: str
    setting: Setting | None = None
    doubts: tuple[str, ...] = ()
    problem: str | None = None
    trial: str | None = None
    again: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class NotebookPage:
    """A page as it was read: its lines, and what was added to the studio for them."""

    lines: tuple[NotebookLine, ...]
    added: tuple[str, ...]
    dry_run: bool

    @property
    def entered(self) -> int:
        return sum(line.problem is None for line in self.lines)

    @property
    def not_entered(self) -> tuple[NotebookLine, ...]:
        return tuple(line for line in self.lines if line.problem is not None)


class _DryRun(Exception):
    """Leave the transaction with nothing written."""


def enter_notebook(
    db: Database,
    content: str | bytes,
    defaults: PageDefaults | None = None,
    *,
    dry_run: bool = False,
    original_name: str = "notebook.txt",
) -> NotebookPage:
    """Read a page and record what can be read; the page itself is kept among the scans.

    A line that cannot be read is reported with its number and the reason and stops nothing
    else. Entering a page again, with the bad lines mended, records only those.

    Parameters
    ----------
    content : str or bytes
        Typed lines, or a table with comma, semicolon or tab between columns; bytes are UTF-8 or Windows-1252.
    dry_run : bool
        Read and check everything, record nothing.

    Raises
    ------
    UnreadableFile
        If it is not text, or a table without a column for time or filters.
    """
    defaults = defaults or PageDefaults()
    text = decode_page(content)
    rows = read_page(text, defaults.columns)
    page: NotebookPage | None = None
    try:
        with db.transaction() as conn:
            if not dry_run:
                keep_scan(db, text.encode(), media_type="text/plain", original_name=original_name)
            page = _enter_rows(db, conn, rows, defaults, dry_run)
            if dry_run:
                raise _DryRun
    except _DryRun:
        pass
    assert page is not None
    return page


def _enter_rows(
    db: Database, conn: sa.Connection, rows: list[NoteLine], defaults: PageDefaults, dry_run: bool
) -> NotebookPage:
    names = _NamesForPage(conn, defaults)
    preferences = settled(conn, Preferences)
    seen: dict[str, int] = {}
    lines = []
    for row in rows:
        doubts = list(row.doubts)
        setting: Setting | None = None
        trial, again, problem = None, False, row.problem
        key, before = _key(row, seen), len(names.added)
        try:
            if problem is None:
                with db.transaction():
                    entry = _entry(row, defaults, preferences, names, doubts)
                    setting = entry.patches[0].setting
                    again = bool(every(conn, TrialRow, entry_key=key))
                    record = log_trial(db, dataclasses.replace(entry, key=key))
                    trial = None if dry_run else record.name
        except (ValueOutOfRange, UnknownRecord, Refused) as error:
            problem, again = str(error), False
            names.forget(before)
        seen[_identity(row)] = seen.get(_identity(row), 0) + 1
        lines.append(
            NotebookLine(
                number=row.number,
                text=row.text,
                setting=setting,
                doubts=tuple(doubts),
                problem=problem,
                trial=trial,
                again=again,
            )
        )
    return NotebookPage(lines=tuple(lines), added=tuple(names.added), dry_run=dry_run)


def _identity(row: NoteLine) -> str:
    return "\n".join(f"{key}={value}" for key, value in sorted(row.parts.items()))


def _key(row: NoteLine, seen: Mapping[str, int]) -> str:
    """The same for the same line on any page, unless it stands there twice: then it is two prints."""
    identity = _identity(row)
    return "notebook " + hashlib.sha256(f"{identity}\n{seen.get(identity, 0)}".encode()).hexdigest()


def _entry(
    row: NoteLine, defaults: PageDefaults, preferences: Preferences, names: "_NamesForPage", doubts: list[str]
) -> TrialEntry:
    fields = row.parts
    head = names.head(fields.get("head"), doubts)
    size = parse_size(fields["size"], unit=preferences.length_unit) if "size" in fields else None
    setting = _setting(fields, head, size, defaults, doubts)
    reading = _reading(fields)
    judgement, note, kept = _outcome(fields, defaults, doubts)
    if judgement is None and reading is None and not kept:
        if not defaults.kept_if_silent:
            raise ValueOutOfRange("Nothing is said of how it came out. Add what was seen, densities, or kept.")
        kept = True
        doubts.append("nothing is said of how it came out; taken as a print that was kept")
    at = _date(fields, doubts)
    lot = names.lot(fields.get("lot"), fields.get("paper"), at, doubts)
    film = names.film(fields.get("film"), doubts)
    return TrialEntry(
        patches=(
            PatchEntry(
                setting=setting, reading=reading, judgement=judgement, kept=kept, as_entered=fields.get("said", "")
            ),
        ),
        kind=fields.get("kind", "sheet").lower(),
        source="notebook",
        at=at,
        frame=names.frame(fields.get("frame"), film, doubts),
        head=head.name,
        lot=lot,
        bath=names.bath(fields.get("bath"), doubts),
        bath_state=BathState(),
        print_size=size,
        note=note,
    )


def _setting(
    fields: Mapping[str, str],
    head: Head,
    size: tuple[float, float] | None,
    defaults: PageDefaults,
    doubts: list[str],
) -> Setting:
    if "pack" in fields:
        pack = parse_pack(fields["pack"], order=defaults.pack_order)
    elif any(colour in fields for colour in ("cyan", "magenta", "yellow")):
        pack = FilterPack(**{c: parse_number(fields[c]) for c in ("cyan", "magenta", "yellow") if c in fields})
    else:
        raise ValueOutOfRange("No filter pack was found. Write for example 60M 45Y, or none.")
    if pack.neutral > 0:
        doubts.append(f"the pack holds {Figure(pack.neutral):g} CC of neutral density; no colour is at 0")
    if "time" not in fields:
        raise ValueOutOfRange("No exposure time was found. Write for example 9.5 s.")
    time = parse_time(fields["time"])
    if "f" in fields:
        f_number = parse_f_number(fields["f"])
        if f_number not in head.f_numbers:
            doubts.append(f'f/{Figure(f_number):g} is not among the stops marked for the head "{head.name}"')
    else:
        f_number = head.usual.f_number
        doubts.append(f"no f-number; f/{Figure(f_number):g} is assumed")
    if "magnification" in fields:
        magnification = parse_number(fields["magnification"].lower().replace("times", "").rstrip("xX \u00d7"))
    elif size is not None:
        laid = enlargement(Sheet(size=size, negative=defaults.negative, whole=defaults.whole))
        magnification = laid.magnification
        first, second = (Figure(side) for side in defaults.negative)
        how = laid.words.removesuffix(".")
        doubts.append(f"magnification reckoned from the size and a negative of {first}x{second} mm. {how}")
    else:
        magnification = head.usual.magnification
        doubts.append(f"no size; a magnification of {Figure(magnification):g} is assumed")
    setting = Setting(pack=pack, time=time, f_number=f_number, magnification=magnification)
    if not head.shortest / 4 <= time <= head.longest * 4:
        doubts.append(
            f"{Figure(time):g} s is far from the usual {Figure(head.shortest):g} to {Figure(head.longest):g} s"
        )
    return setting


def _reading(fields: Mapping[str, str]) -> PatchReading | None:
    if "density" in fields:
        text = re.sub(r"^D\s*=?\s*", "", fields["density"])
        parts = [part for part in re.split(r"[/\s]+", text) if part]
        if len(parts) != 3:
            raise ValueOutOfRange(
                f'"{fields["density"]}" is not three densities. Write red/green/blue: D 0.72/0.70/0.74.'
            )
    elif any(channel in fields for channel in ("red", "green", "blue")):
        missing = [channel for channel in ("red", "green", "blue") if channel not in fields]
        if missing:
            raise ValueOutOfRange(f"The density through {missing[0]} is missing. Give red, green and blue, or none.")
        parts = [fields[channel] for channel in ("red", "green", "blue")]
        text = "/".join(parts)
    else:
        return None
    red, green, blue = map(parse_number, parts)
    return PatchReading(density=(red, green, blue), standard_error=0.02, as_entered=text)


def _outcome(
    fields: Mapping[str, str], defaults: PageDefaults, doubts: list[str]
) -> tuple[Judgement | None, str, bool]:
    """Judgement, note and whether it was kept."""
    person = fields.get("person") or defaults.person or "printer"
    note = fields.get("note", "")
    kept_text = fields.get("kept", "").lower()
    kept = kept_text in _YES or kept_text in ("keeper", "accepted")
    if not kept and kept_text not in _NO:
        doubts.append(f'"{fields["kept"]}" is neither yes nor no; taken as not kept')
    judgement = None
    if "said" in fields:
        said = parse_said(fields["said"], person=person)
        judgement = said.judgement
        doubts.extend(said.doubts)
    elif "free" in fields:
        try:
            said = parse_said(fields["free"], person=person)
        except ValueOutOfRange:
            note = "; ".join(part for part in (note, fields["free"]) if part)
            doubts.append(f'"{fields["free"]}" is kept as a note')
        else:
            judgement = said.judgement
            doubts.extend(said.doubts)
            note = "; ".join(part for part in (note, fields["free"]) if part)
    return judgement, note, kept


def _date(fields: Mapping[str, str], doubts: list[str]) -> datetime:
    if "date" not in fields:
        doubts.append("no date; the day of entry is used")
        return datetime.now(UTC)
    text = fields["date"]
    day_first = re.fullmatch(r"(\d{1,2})\.(\d{1,2})\.(\d{4})", text)
    year_first = re.fullmatch(r"(\d{4})-(\d{1,2})-(\d{1,2})", text)
    found = None
    with suppress(ValueError):
        if day_first:
            found = datetime(int(day_first[3]), int(day_first[2]), int(day_first[1]), 12, tzinfo=UTC)
        if year_first:
            found = datetime(int(year_first[1]), int(year_first[2]), int(year_first[3]), 12, tzinfo=UTC)
    if found is None:
        raise ValueOutOfRange(f'The date "{text}" cannot be read. Write 1998-03-04 or 4.3.1998.')
    return sensible(found)


_Maker = Callable[[str], Record]


class _NamesForPage:
    """Names on a page, taken for what is in the studio or added to it; says when one is nearly another."""

    def __init__(self, conn: sa.Connection, defaults: PageDefaults) -> None:
        self._conn, self._defaults = conn, defaults
        self.added: list[str] = []
        self._fresh: list[tuple[dict[str, Record], str]] = []
        self._known: dict[type[Record], dict[str, Record]] = {}

    def head(self, name: str | None, doubts: list[str]) -> Head:
        found = self._take(Head, name or self._defaults.head, lambda own: Head(name=own), doubts)
        assert isinstance(found, Head)
        return found

    def film(self, name: str | None, doubts: list[str]) -> str:
        return self._named(Film, name or self._defaults.film, lambda own: Film(name=own), doubts)

    def frame(self, name: str | None, film: str, doubts: list[str]) -> str:
        if name is None:
            raise ValueOutOfRange("No negative was named. Begin the line with it: Harbour 12: 60M 45Y, 9.5 s.")
        return self._named(Frame, name, lambda own: Frame(name=own, film=film), doubts)

    def lot(self, name: str | None, paper: str | None, at: datetime, doubts: list[str]) -> str:
        def make(own: str) -> Lot:
            family = self._named(
                PaperFamily, paper or self._defaults.paper, lambda other: PaperFamily(name=other), doubts
            )
            return Lot(name=own, family=family)

        name = name or self._defaults.lot
        if name is None and (paper or self._defaults.paper):
            name = f"{paper or self._defaults.paper}, unnamed lot"
        lot = self._take(Lot, name, make, doubts)
        assert isinstance(lot, Lot)
        if name is None and lot.received_at is not None and at < lot.received_at:
            doubts.append(f'"{lot.name}" came later than this print, on {day(lot.received_at)}; name its lot or paper')
        return lot.name

    def bath(self, name: str | None, doubts: list[str]) -> str:
        def make(own: str) -> Bath:
            process = self._named(Process, None, lambda other: Process(name=other), doubts)
            return Bath(name=own, process=process, mixed_at=UNKNOWN_DAY)

        before = len(self._fresh)
        bath = self._named(Bath, name or self._defaults.bath or "baths of old notes", make, doubts)
        if any(fresh == bath for known, fresh in self._fresh[before:] if known is self._known[Bath]):
            # nobody prints in it today: advice for the next print must not take it, nor reckon its age
            add(self._conn, BathEvent(bath=bath, at=UNKNOWN_DAY, kind="retired", drawn={}))
        return bath

    def forget(self, length: int) -> None:
        """Take back what was added for a line that could not be entered."""
        del self.added[length:]
        while len(self._fresh) > length:
            known, name = self._fresh.pop()
            known.pop(name, None)

    def _named(self, kind: type[Record], name: str | None, make: _Maker, doubts: list[str]) -> str:
        return str(getattr(self._take(kind, name, make, doubts), kind.naming))

    def _take(self, kind: type[Record], name: str | None, make: _Maker, doubts: list[str]) -> Record:
        if kind not in self._known:
            self._known[kind] = {getattr(record, kind.naming): record for record in every(self._conn, kind)}
        known = self._known[kind]
        if name is None:
            if known:
                own = next(reversed(known))
                doubts.append(f'no {kind.word} named; taken to be "{own}"')
                return known[own]
            name = f"unnamed {kind.word}"
            doubts.append(f'no {kind.word} named; "{name}" was added')
        own = clean_name(kind.word, name)
        if own in known:
            return known[own]
        called = numbers_called(self._conn, kind, own)
        for name_now, record in known.items():
            if record.id in called:
                doubts.append(f'the {kind.word} "{own}" is called "{name_now}" now')
                return record
        if not re.search(r"\d", own):
            by_folded = {other.casefold(): other for other in known}
            for near in difflib.get_close_matches(own.casefold(), by_folded, n=1, cutoff=0.85):
                doubts.append(f'the {kind.word} "{own}" is new; is it "{by_folded[near]}"?')
        known[own] = add(self._conn, make(own))
        self._fresh.append((known, own))
        self.added.append(f'{kind.word} "{own}"')
        return known[own]
