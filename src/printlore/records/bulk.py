"""The whole record as the memory learns from it, by plain SQL and tuples: quick for a hundred thousand trials."""

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

import numpy as np
import sqlalchemy as sa

from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Setting
from printlore.core.memory.evidence import (
    WET_ERROR,
    BathState,
    Cast,
    Evidence,
    FrameFacts,
    HeadFacts,
    Judgement,
    NegativeReading,
    Patch,
    Trial,
    proofs,
)
from printlore.core.paper.dyes import paper_named
from printlore.core.paper.facts import PaperFacts, Vector
from printlore.errors import ValueOutOfRange
from printlore.records.light import Head
from printlore.records.negatives import NEUTRAL_GREY, Lab
from printlore.records.papers import PaperFamily
from printlore.records.rows import newest
from printlore.records.studio import Repeatability
from printlore.records.trials import burns_from_json

EPOCH = datetime.fromisoformat("2000-01-01T00:00:00Z").timestamp()
"""Day 0 of ``Trial.date``."""


def day_number(at: datetime) -> float:
    """A moment as ``Trial.date`` counts it [d]."""
    return (at.timestamp() - EPOCH) / 86400.0


NOTED_ERROR = 0.12
"""[1] Error of a density that old notes say was right (from memory): wider than of a print judged today."""

_DECLARED = ("heads", "paper_families", "lots", "processes", "baths", "runs", "films", "frames")
_OF_FRAMES = ("negative_readings", "frame_aims")
_OF_PATCHES = ("patch_readings", "judgements", "kept_marks")

Mark = Mapping[str, int]
"""Last row of each table that has been seen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """Evidence as of a moment, and what changed in it since the one before.

    Attributes
    ----------
    evidence : Evidence
        Trials in the order logged.
    mark : Mark
        Where it stands in the record.
    numbers : tuple of int
        Record number of each trial in ``evidence.trials``.
    changed : tuple of str
        Names of trials that were logged, corrected or added to since the last time; all of them after a full reading.
    gone : tuple of str
        Names of trials that were removed, or say nothing any more, since the last time.
    whole : bool
        Everything was read anew.
    """

    evidence: Evidence
    mark: Mark
    numbers: tuple[int, ...]
    changed: tuple[str, ...]
    gone: tuple[str, ...] = ()
    whole: bool = True


def _rows(conn: sa.Connection, query: str, values: Sequence[Any] = ()) -> Iterator[tuple[Any, ...]]:
    """Rows straight from the driver: half the time of a result object for hundreds of thousands of rows."""
    return iter(conn.connection.cursor().execute(query, values))


def _numbers(conn: sa.Connection, query: str, values: Sequence[Any] = ()) -> set[int]:
    return {number for (number,) in _rows(conn, query, values)}


def read_mark(conn: sa.Connection) -> dict[str, int]:
    """Last row of each table that evidence comes from."""
    tables = (*_DECLARED, *_OF_FRAMES, "repeatability", "trials", "exposures", *_OF_PATCHES)
    query = " UNION ALL ".join(f"SELECT '{table}', coalesce(max(id), 0) FROM {table}" for table in tables)
    return {table: int(last) for table, last in _rows(conn, query)}


def read_all(conn: sa.Connection) -> Held:
    """All evidence there is."""
    mark = read_mark(conn)
    names = _names(conn)
    numbers, trials = _trials(conn, names, None)
    used = _used(conn)
    lots = _lots(conn, names, used["lots"])
    evidence = Evidence(
        heads=_heads(conn, used["heads"]),
        papers=_papers(conn),
        lots=lots,
        baths=_baths(conn, names, used["baths"]),
        frames=_frames(conn, names, None, used["frames"], trials, lots),
        trials=trials,
        alike=_alike(conn),
    )
    return Held(evidence=evidence, mark=mark, numbers=numbers, changed=tuple(trial.name for trial in trials))


def read_since(conn: sa.Connection, held: Held) -> Held:
    """Evidence brought up to date; only what changed is read, unless something declared was corrected."""
    mark = read_mark(conn)
    if mark == held.mark:
        return Held(evidence=held.evidence, mark=mark, numbers=held.numbers, changed=(), whole=False)
    if mark["paper_families"] != held.mark["paper_families"]:
        return read_all(conn)
    for table in _DECLARED:
        since = f"SELECT 1 FROM {table} WHERE id > ? AND corrects_id IS NOT NULL LIMIT 1"
        if mark[table] != held.mark[table] and any(_rows(conn, since, (held.mark[table],))):
            return read_all(conn)
    names = _names(conn, held)
    old = held.evidence
    frames = old.frames
    touched = _touched_trials(conn, held.mark)
    numbers, trials = _trials(conn, names, touched)
    all_numbers, all_trials, gone = _merge(held, touched, numbers, trials)
    lots = old.lots if mark["lots"] == held.mark["lots"] else _lots(conn, names, None)
    touched_frames = _touched_frames(conn, held.mark)
    there: set[int] | None = None
    if _any_kept(trials) or _any_kept(_before(held, touched)):
        # a trial may have been of a frame that was removed since
        there = {*touched_frames, *_used(conn)["frames"]}
        touched_frames = sorted({*touched_frames, *_frames_of(conn, touched)})
    if touched_frames:
        frames = {**old.frames, **_frames(conn, names, touched_frames, there, all_trials, lots)}
    evidence = Evidence(
        heads=old.heads if mark["heads"] == held.mark["heads"] else _heads(conn, None),
        papers=old.papers,
        lots=lots,
        baths=old.baths if mark["baths"] == held.mark["baths"] else _baths(conn, names, None),
        frames=frames,
        trials=all_trials,
        alike=old.alike if mark["repeatability"] == held.mark["repeatability"] else _alike(conn),
    )
    changed = tuple(trial.name for trial in trials)
    return Held(evidence=evidence, mark=mark, numbers=all_numbers, changed=changed, gone=gone, whole=False)


def _before(held: Held, touched: Sequence[int]) -> list[Trial]:
    """What these trials said before."""
    if not held.numbers or all(number > held.numbers[-1] for number in touched):
        return []
    wanted = set(touched)
    return [t for number, t in zip(held.numbers, held.evidence.trials, strict=True) if number in wanted]


def _any_kept(trials: Iterable[Trial]) -> bool:
    return any(patch.kept for trial in trials for patch in trial.patches)


def _frames_of(conn: sa.Connection, trials: Sequence[int]) -> set[int]:
    """Record numbers of the frames that these trials are or were of."""
    among = ",".join(str(int(number)) for number in trials)
    return _numbers(conn, f"SELECT frame_id FROM trials WHERE id IN ({among}) OR corrects_id IN ({among})")


def _merge(
    held: Held, touched: Sequence[int], numbers: tuple[int, ...], trials: tuple[Trial, ...]
) -> tuple[tuple[int, ...], tuple[Trial, ...], tuple[str, ...]]:
    last = held.numbers[-1] if held.numbers else 0
    if all(number > last for number in touched):
        return held.numbers + numbers, held.evidence.trials + trials, ()
    now = dict(zip(held.numbers, held.evidence.trials, strict=True))
    before = {number: now.pop(number).name for number in touched if number in now}
    now.update(zip(numbers, trials, strict=True))
    gone = tuple(name for number, name in before.items() if number not in now)
    order = sorted(now)
    return tuple(order), tuple(now[number] for number in order), gone


def _names(conn: sa.Connection, held: Held | None = None) -> dict[str, dict[int, str]]:
    """Table -> record number -> name, also of what was removed: trials may still name it."""
    return {table: _Names(conn, table, whole=held is None) for table in _DECLARED}


class _Names(dict[int, str]):
    """Names by record number; looked up one by one when only a few are needed."""

    def __init__(self, conn: sa.Connection, table: str, *, whole: bool) -> None:
        super().__init__()
        self._conn, self._table = conn, table
        if whole:
            self.update((int(number), str(name)) for number, name in _rows(conn, newest(table, "name")))

    def __missing__(self, number: int) -> str:
        query = f"SELECT name FROM {self._table} WHERE id = ? OR corrects_id = ? ORDER BY version DESC LIMIT 1"
        self[number] = str(next(_rows(self._conn, query, (number, number)))[0])
        return self[number]


def _used(conn: sa.Connection) -> dict[str, set[int]]:
    """Record numbers that trials name."""
    query = "SELECT DISTINCT {0}_id FROM trials_now"
    return {f"{what}s": _numbers(conn, query.format(what)) for what in ("head", "lot", "bath", "frame")}


def _there(conn: sa.Connection, table: str, used: set[int] | None, *columns: str) -> Iterable[tuple[Any, ...]]:
    """Newest rows (record number, columns ...) of what was not removed, or is still named by a trial."""
    for number, removed, *values in _rows(conn, newest(table, "removed", *columns)):
        if not removed or used is None or number in used:
            yield (number, *values)


def _records(conn: sa.Connection, kind: type[Head] | type[PaperFamily], used: set[int] | None) -> list[Any]:
    columns = [c.name for c in kind.table.columns if c.name not in ("id", "created_at", "corrects_id", "removed")]
    found = []
    for number, *values in _there(conn, kind.table.name, used, *columns):
        own = {"id": number, "created_at": None, **dict(zip(columns, values, strict=True))}
        for name in ("f_numbers", "aim_density", "base_density", "black_density", "gradient"):
            if name in own:
                own[name] = json.loads(own[name])
        found.append(kind.from_columns(own))
    return found


def _heads(conn: sa.Connection, used: set[int] | None) -> dict[str, HeadFacts]:
    return {head.name: head.facts() for head in _records(conn, Head, used)}


def _papers(conn: sa.Connection) -> dict[str, PaperFacts]:
    return {paper.name: paper.facts() for paper in _records(conn, PaperFamily, None)}


def _lots(conn: sa.Connection, names: Mapping[str, Mapping[int, str]], used: set[int] | None) -> dict[str, str]:
    """In the order received; by when it was recorded if that is not known."""
    rows = sorted(
        _there(conn, "lots", used, "name", "family_id", "coalesce(received_at, created_at)"), key=lambda r: r[3]
    )
    return {str(name): names["paper_families"][family] for _, name, family, _ in rows}


def _baths(conn: sa.Connection, names: Mapping[str, Mapping[int, str]], used: set[int] | None) -> dict[str, str]:
    rows = _there(conn, "baths", used, "name", "process_id")
    return {str(name): names["processes"][process] for _, name, process in rows}


def _alike(conn: sa.Connection) -> float | None:
    """How far prints made alike scatter, if that was said [log10]."""
    for (cc,) in _rows(conn, "SELECT alike_cc FROM repeatability_now ORDER BY record_id LIMIT 1"):
        return Repeatability(alike_cc=cc).alike()
    return None


def _among(column: str, numbers: Sequence[int] | None) -> str:
    return "" if numbers is None else f" AND {column} IN ({','.join(str(int(number)) for number in numbers)})"


def _frames(
    conn: sa.Connection,
    names: Mapping[str, Mapping[int, str]],
    numbers: Sequence[int] | None,
    used: set[int] | None,
    trials: Iterable[Trial],
    lots: Mapping[str, str],
) -> dict[str, FrameFacts]:
    readings: dict[int, NegativeReading] = {}
    query = "SELECT frame_id, red, green, blue, source, standard_error FROM negative_readings_now WHERE 1"
    for frame, red, green, blue, source, error in _rows(
        conn, query + _among("frame_id", numbers) + " ORDER BY record_id"
    ):
        readings[frame] = NegativeReading(density=(red, green, blue), source=source, standard_error=error)
    aims: dict[int, dict[str, Vector]] = {}
    query = "SELECT frame_id, family_id, density FROM frame_aims_now WHERE 1"
    for frame, family, density in _rows(conn, query + _among("frame_id", numbers) + " ORDER BY record_id"):
        red, green, blue = json.loads(density)
        aims.setdefault(frame, {})[names["paper_families"][family]] = (red, green, blue)
    kept: dict[str, dict[str, Vector]] = {}
    kept_on: dict[str, float] = {}
    for (of_frame, paper), (trial, proof) in proofs(trials, lots).items():
        kept.setdefault(of_frame, {})[paper] = proof
        kept_on.setdefault(of_frame, trial.date)
    found = {}
    tones = _Tones(conn)
    columns = ("removed", "name", "film_id", "aim_lightness", "aim_a", "aim_b")
    query = newest("frames", *columns) + _among("coalesce(this.corrects_id, this.id)", numbers)
    for number, removed, name, film, *tone in _rows(conn, query):
        if not removed or used is None or number in used:
            toned = {} if tuple(tone) == NEUTRAL_GREY else tones.on_papers(tuple(tone))
            stated = {**toned, **aims.get(number, {})}
            facts = FrameFacts(name=name, film=names["films"][film], reading=readings.get(number), aims=stated)
            if name in kept:
                as_kept = {**toned, **tones.as_kept(toned, kept[name]), **aims.get(number, {})}
                facts = replace(facts, aims=as_kept, kept_on=kept_on[name], earlier_aims=stated)
            found[name] = facts
    return found


class _Tones:
    """Densities that make a tone other than the usual grey, on each paper that can show it."""

    def __init__(self, conn: sa.Connection) -> None:
        self._conn = conn
        self._papers: list[PaperFamily] | None = None
        self._known: dict[Lab, dict[str, Vector]] = {}
        self._slopes: dict[str, np.ndarray[tuple[int, ...], np.dtype[np.float64]]] = {}

    def on_papers(self, tone: Lab) -> dict[str, Vector]:
        if tone not in self._known:
            self._known[tone] = {paper.name: aim for paper in self._all() if (aim := self._on(paper, tone))}
        return self._known[tone]

    def as_kept(self, toned: Mapping[str, Vector], kept: Mapping[str, Vector]) -> dict[str, Vector]:
        """Aims on all papers of a frame with prints kept on some: those, and on the others the colour of the first.

        How far the kept print is from the tone that was wanted is carried over by the dye models' slopes at grey.
        """
        found = dict(kept)
        first, proof = next(iter(kept.items()))
        papers = {paper.name: paper for paper in self._all()}
        # a paper that cannot show the tone has no aim of it to count from
        toned = toned if first in toned else {}
        off = np.array(proof) - toned.get(first, papers[first].aim_density)
        for name, paper in papers.items():
            if name not in found:
                move = np.linalg.solve(self._slope(paper), self._slope(papers[first]) @ off)
                red, green, blue = (np.array(toned.get(name, paper.aim_density)) + move).tolist()
                found[name] = (red, green, blue)
        return found

    def _all(self) -> list[PaperFamily]:
        if self._papers is None:
            self._papers = _records(self._conn, PaperFamily, None)
        return self._papers

    def _slope(self, paper: PaperFamily) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
        """(3 Lab, 3 densities) change of Lab with density about grey."""
        if paper.dye_model not in self._slopes:
            dyes = paper_named(paper.dye_model)
            self._slopes[paper.dye_model] = dyes.lab_jacobian_of_density(dyes.density_from_lab(NEUTRAL_GREY))
        return self._slopes[paper.dye_model]

    @staticmethod
    def _on(paper: PaperFamily, tone: Lab) -> Vector | None:
        """The paper's own grey, moved by what its dye model says lies between grey and the tone."""
        dyes = paper_named(paper.dye_model)
        try:
            move = dyes.density_from_lab(tone) - dyes.density_from_lab(NEUTRAL_GREY)
        except ValueOutOfRange:
            # Said when the tone is entered; a paper that cannot show it must not stop all other advice.
            return None
        red, green, blue = (float(grey + by) for grey, by in zip(paper.aim_density, move, strict=True))
        return red, green, blue


def _touched_frames(conn: sa.Connection, mark: Mark) -> list[int]:
    query = "SELECT id FROM frames WHERE id > ? " + "".join(
        f"UNION SELECT frame_id FROM {table} WHERE id > ? " for table in _OF_FRAMES
    )
    return sorted(_numbers(conn, query, (mark["frames"], *(mark[table] for table in _OF_FRAMES))))


def _touched_trials(conn: sa.Connection, mark: Mark) -> list[int]:
    query = (
        "SELECT coalesce(corrects_id, id) FROM trials WHERE id > ? UNION SELECT trial_id FROM exposures WHERE id > ? "
    ) + "".join(
        f"UNION SELECT e.trial_id FROM {table} AS r JOIN exposures AS e ON e.id = r.exposure_id WHERE r.id > ? "
        for table in _OF_PATCHES
    )
    marks = (mark["trials"], mark["exposures"], *(mark[table] for table in _OF_PATCHES))
    return sorted(_numbers(conn, query, marks))


def _trials(
    conn: sa.Connection, names: Mapping[str, Mapping[int, str]], numbers: Sequence[int] | None
) -> tuple[tuple[int, ...], tuple[Trial, ...]]:
    """Trials that say anything, in the order logged."""
    of_trial = _among("trial_id", numbers)
    of_exposure = (
        "" if numbers is None else f" AND exposure_id IN (SELECT id FROM exposures WHERE role = 'made'{of_trial})"
    )
    densities = {}
    query = "SELECT exposure_id, red, green, blue, standard_error, beyond, wet FROM patch_readings_now WHERE 1"
    for exposure, red, green, blue, error, beyond, wet in _rows(conn, query + of_exposure + " ORDER BY record_id"):
        if wet:
            error = max(error, WET_ERROR)
        densities[exposure] = (red, green, blue), error, _three_bools(beyond)
    said = {}
    query = "SELECT exposure_id, colour_cast, strength, stops_too_dark, person, wet FROM judgements_now WHERE 1"
    for exposure, cast, strength, dark, person, wet in _rows(conn, query + of_exposure + " ORDER BY record_id"):
        said[exposure] = Judgement(
            cast=Cast(cast), strength=strength, stops_too_dark=dark, person=person, wet=bool(wet)
        )
    kept = _numbers(conn, "SELECT exposure_id FROM kept_marks_now WHERE 1" + of_exposure)
    query = "SELECT record_id FROM trials_now WHERE source = 'notebook'" + _among("record_id", numbers)
    noted = _numbers(conn, query)
    patches: dict[int, list[Patch]] = {}
    query = (
        "SELECT trial_id, record_id, cyan, magenta, yellow, time, f_number, magnification, burns "
        "FROM exposures_now WHERE role = 'made'"
    )
    for trial, exposure, cyan, magenta, yellow, time, f_number, magnification, burns in _rows(
        conn, query + of_trial + " ORDER BY trial_id, position"
    ):
        density, error, beyond = densities.get(exposure, (None, NOTED_ERROR if trial in noted else 0.0, _NO_BEYOND))
        judgement = said.get(exposure)
        if density is None and judgement is None and exposure not in kept:
            continue
        setting = Setting(
            pack=FilterPack(cyan=cyan, magenta=magenta, yellow=yellow),
            time=time,
            f_number=f_number,
            magnification=magnification,
            burns=() if burns == "[]" else burns_from_json(json.loads(burns)),
        )
        patches.setdefault(trial, []).append(
            Patch(
                setting=setting,
                density=density,
                standard_error=error,
                judgement=judgement,
                kept=exposure in kept,
                beyond=beyond,
            )
        )
    found, trials = [], []
    query = (
        "SELECT record_id, name, frame_id, head_id, lot_id, bath_id, run_id, at, kind, "
        "bath_area_per_litre, bath_age_days, bath_strength FROM trials_now WHERE 1"
    )
    frames, heads, lots, baths, runs = (names[table] for table in ("frames", "heads", "lots", "baths", "runs"))
    for number, name, frame, head, lot, bath, run, at, kind, area, age, strength in _rows(
        conn, query + _among("record_id", numbers) + " ORDER BY record_id"
    ):
        if number in patches:
            found.append(number)
            trials.append(
                Trial(
                    name=name,
                    frame=frames[frame],
                    head=heads[head],
                    lot=lots[lot],
                    bath=baths[bath],
                    date=_days(at),
                    run="" if run is None else runs[run],
                    bath_state=BathState(area_per_litre=area, age_days=age, strength=strength),
                    patches=tuple(patches[number]),
                    strip=kind == "strip",
                )
            )
    return tuple(found), tuple(trials)


_NO_BEYOND = (False, False, False)


def _three_bools(text: str) -> tuple[bool, bool, bool]:
    if "true" not in text:
        return _NO_BEYOND
    red, green, blue = json.loads(text)
    return red, green, blue


def _days(at: str) -> float:
    return day_number(datetime.fromisoformat(at))
