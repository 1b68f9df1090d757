"""Cut plans: from rolls and sheets on hand to the sizes wanted, with few stop settings and little waste.

Exact within this class of plans: sections cut off across the roll and slit, all at distances of the stop, at most so
many settings in a sitting. Both steps (fewest settings, then least paper) are solved to a proven bound or to the end
of the time given, and say which.

References
----------
gilmore1965, huangfu2018
"""

import math
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from printlore.core.cutting.first_fit import cut_first_fit
from printlore.core.cutting.integer import Answer, Program, Stop, solve
from printlore.core.cutting.sections import Kind, Section, Setting, SittingKind, Size, Way, sitting_kinds
from printlore.core.cutting.wanted import Roll, Source, Trimmer, Wanted, check_names
from printlore.core.figure import Figure

_MOST_PLANS = 5
SETTINGS_PER_SITTING = 2
"""Default: setting the stop anew in the dark hurts more than waste does."""

_AREA_UNIT = 1e4
"""[mm2] Areas go to the solver in square decimetres, so that numbers stay near 1."""

_SETTINGS_SHARE = 0.4
"""Of the time, for proving the fewest settings; the rest is for paper."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sitting:
    """One time in the dark with one roll or pile: which sections, and how many of each."""

    source: str
    lot: str
    sections: tuple[tuple[Section, int], ...]

    @property
    def settings(self) -> tuple[Setting, ...]:
        """In the order of the work: across the roll, then the edge, then slits; the longer first."""
        found = {setting for section, _ in self.sections for setting in section.settings}
        return tuple(sorted(found, key=lambda s: (list(Way).index(s.way), -s.distance)))

    @property
    def strokes(self) -> int:
        """Strokes of the blade in all."""
        return sum(times * count for section, count in self.sections for _, times in section.cuts)

    @property
    def length(self) -> float:
        """Length of roll it uses up [mm] (for sheets: the sum of their lengths)."""
        return sum(section.length * count for section, count in self.sections)


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A cut plan, what comes of it and what is proven about it.

    Attributes
    ----------
    sittings : tuple of Sitting
    made, short : dict of wanted name to pieces
        Served, and still missing.
    spare : dict of (lot, along, across, kind) to pieces
        Sheets and strips beyond what is wanted.
    settings_bound : float
        No plan of this kind has fewer settings (0 if not asked for).
    paper_bound : float
        No plan with these settings uses up less paper [mm2].
    seconds : float
        The search took.
    """

    sittings: tuple[Sitting, ...]
    made: Mapping[str, int]
    short: Mapping[str, int]
    spare: Mapping[tuple[str, float, float, Kind], int]
    settings_bound: float
    paper_bound: float
    seconds: float

    @property
    def settings(self) -> int:
        """How often the stop is set, over all sittings."""
        return sum(len(sitting.settings) for sitting in self.sittings)

    @property
    def paper(self) -> float:
        """Paper used up [mm2]."""
        return sum(section.area * count for sitting in self.sittings for section, count in sitting.sections)

    def area_of(self, kind: Kind) -> float:
        """Paper [mm2] that ends as sheets, as strips or as waste (kerf and edges included)."""
        if kind is Kind.WASTE:
            return sum(section.waste * count for sitting in self.sittings for section, count in sitting.sections)
        return sum(
            part.area * count
            for sitting in self.sittings
            for section, count in sitting.sections
            for part in section.parts
            if part.kind is kind
        )

    @property
    def waste_share(self) -> float:
        """Waste over paper used up; 0 if nothing is cut."""
        return self.area_of(Kind.WASTE) / self.paper if self.sittings else 0.0

    @property
    def gap(self) -> float:
        """How much of the paper used up, at most, a better plan with these settings could save; 0 is proven best."""
        return max(0.0, 1 - self.paper_bound / self.paper) if self.sittings else 0.0

    @property
    def proof(self) -> str:
        """What is proven, in words."""
        if not self.sittings:
            return "Nothing is cut."
        few = (
            f"No plan needs fewer than {self.settings} stop settings"
            if self.settings <= self.settings_bound + 1e-6
            else f"A plan with {math.ceil(self.settings_bound - 1e-6)} stop settings is not ruled out"
        )
        paper = (
            "none with so many uses less paper"
            if self.gap < 1e-6
            else f"none with so many saves more than {Figure(100 * self.gap):.2g} % of the paper"
        )
        return f"{few}, and {paper}." if self.settings_bound else f"{paper[0].upper()}{paper[1:]}."


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """News from the search: a better plan so far."""

    settings: float | None
    paper: float | None
    bound: float
    seconds: float


Report = Callable[[Found], None]


def plan_cuts(
    wanted: Sequence[Wanted],
    sources: Sequence[Source],
    trimmer: Trimmer,
    *,
    settings_per_sitting: int | None = SETTINGS_PER_SITTING,
    seconds: float = 30.0,
    gap: float = 0.0,
    report: Report | None = None,
    stop: Stop | None = None,
) -> Plan:
    """The best plan found in the time given, with its proof.

    Parameters
    ----------
    settings_per_sitting : int or None
        At most so many stop settings in a sitting, the fewest in all come first, then the least paper. ``None``:
        settings do not count, only paper.
    seconds : float
        Time for the whole search.
    gap : float
        Stop when the paper is proven to this share of the best.
    report, stop : callable
        Told of every better plan; asked whether to end with what there is.

    Raises
    ------
    ValueOutOfRange
        If nothing is wanted or on hand, a name is there twice, or there are too many ways to list.
    """
    search = _Search(wanted, sources, trimmer, settings_per_sitting, seconds, gap, report, stop)
    return search.best()


def trade_off(
    wanted: Sequence[Wanted],
    sources: Sequence[Source],
    trimmer: Trimmer,
    *,
    settings_per_sitting: int = SETTINGS_PER_SITTING,
    seconds: float = 30.0,
    stop: Stop | None = None,
) -> list[Plan]:
    """Plans from the fewest stop settings on, each with the least paper for its settings, until more do not help."""
    search = _Search(wanted, sources, trimmer, settings_per_sitting, seconds, 0.0, None, stop)
    return search.frontier()


@dataclass(slots=True)
class _Search:
    wanted: Sequence[Wanted]
    sources: Sequence[Source]
    trimmer: Trimmer
    limit: int | None
    seconds: float
    gap: float
    report: Report | None
    stop: Stop | None
    began: float = field(default_factory=time.monotonic)
    kinds: list[SittingKind] = field(default_factory=list)
    short: dict[str, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        check_names(self.wanted, self.sources)
        for source in self.sources:
            self.kinds += sitting_kinds(source, self.wanted, self.trimmer, settings_per_sitting=self.limit)

    def left(self, share: float = 1.0) -> float:
        return max(0.05, (self.seconds - (time.monotonic() - self.began)) * share)

    def best(self) -> Plan:
        model, start = self._reachable()
        if model is None:
            return self._plan(None, None, 0.0, 0.0)
        settings_bound, most = 0.0, None
        if self.limit is not None:
            answer = self._solve(model.settings_program(), share=_SETTINGS_SHARE, start=start, counting="settings")
            if answer.values is not None:
                start, most = answer.values, round(answer.cost)
            settings_bound = max(0.0, math.ceil(answer.bound - 1e-6)) if math.isfinite(answer.bound) else 0.0
        if most is not None and start is not None:
            # With the settings of the first step held, the paper is soon found; a good place to start from.
            held = self._solve(model.paper_program(most, held=start), share=0.2, start=start, counting="paper")
            start = held.values or start
        answer = self._solve(model.paper_program(most), start=start, counting="paper", gap=self.gap)
        values = answer.values or start
        bound = answer.bound if math.isfinite(answer.bound) else 0.0
        return self._plan(model, values, settings_bound, bound)

    def frontier(self) -> list[Plan]:
        model, start = self._reachable()
        if model is None:
            return [self._plan(None, None, 0.0, 0.0)]
        answer = self._solve(model.settings_program(), share=0.3, start=start, counting="settings")
        if answer.values is None:
            return [self._plan(model, start, 0.0, 0.0)]
        start, fewest = answer.values, round(answer.cost)
        least = self._solve(model.paper_program(None), share=0.3, start=start, counting="paper", gap=1e-4)
        plans: list[Plan] = []
        for step in range(_MOST_PLANS):
            paper = self._solve(
                model.paper_program(fewest + step),
                share=1 / (_MOST_PLANS - step),
                start=start,
                counting="paper",
                gap=1e-4,
            )
            start = paper.values or start
            plan = self._plan(model, start, answer.bound if step == 0 else 0.0, max(paper.bound, 0.0))
            if not plans or plan.paper < plans[-1].paper * (1 - 1e-4):
                plans.append(plan)
            if (self.stop and self.stop()) or (least.values and plan.paper <= least.cost * _AREA_UNIT * (1 + 1e-4)):
                break
        return plans

    def _reachable(self) -> "tuple[_Model | None, tuple[int, ...] | None]":
        """The model with what cannot be served left out by priority, and a first plan if one is at hand."""
        if not any(kind.sections for kind in self.kinds):
            return None, None
        model = _Model(self.wanted, self.sources, self.kinds, {})
        start = model.start(cut_first_fit(self.wanted, self.sources, self.trimmer))
        if start is not None:
            self._tell(sum(start[y] for y in model.set_at.values()), None, 0.0, "settings")
            return model, start
        short: dict[str, int] = {}
        for priority in sorted({w.priority for w in self.wanted}):
            loose = _Model(self.wanted, self.sources, self.kinds, short, loose=True)
            now = [w.name for w in self.wanted if w.priority == priority]
            answer = self._solve(loose.shortfall_program(now), share=0.2, start=None, counting="settings", tell=False)
            if answer.values is None:
                return None, None
            short |= {name: answer.values[loose.missing[name]] for name in now}
            start = answer.values
            if not any(answer.values[column] for column in loose.missing.values()):
                short = {w.name: 0 for w in self.wanted}
                break
        assert start is not None
        return _Model(self.wanted, self.sources, self.kinds, short), start[: loose.columns_without_missing]

    def _solve(
        self,
        program: Program,
        *,
        start: Sequence[float] | None,
        counting: str,
        share: float = 1.0,
        gap: float = 0.0,
        tell: bool = True,
    ) -> Answer:
        return solve(
            program,
            seconds=self.left(share),
            gap=gap,
            start=start,
            progress=(lambda best, bound, _: self._tell(best, bound, bound, counting)) if tell else None,
            stop=self.stop,
        )

    def _tell(self, best: float, _: float | None, bound: float, counting: str) -> None:
        if self.report is None or not math.isfinite(best):
            return
        seconds = time.monotonic() - self.began
        if counting == "settings":
            self.report(Found(settings=best, paper=None, bound=bound, seconds=seconds))
        else:
            self.report(Found(settings=None, paper=best * _AREA_UNIT, bound=bound * _AREA_UNIT, seconds=seconds))

    def _plan(
        self, model: "_Model | None", values: Sequence[int] | None, settings_bound: float, paper_bound: float
    ) -> Plan:
        if model is None or values is None:
            return Plan(
                sittings=(),
                made={w.name: 0 for w in self.wanted},
                short={w.name: w.count for w in self.wanted},
                spare={},
                settings_bound=0.0,
                paper_bound=0.0,
                seconds=time.monotonic() - self.began,
            )
        made = {w.name: 0 for w in self.wanted}
        spare: dict[tuple[str, float, float, Kind], int] = {}
        for (j, size), pieces in model.produced(values).items():
            key = (model.kinds[j].source.lot, *size)
            spare[key] = spare.get(key, 0) + pieces
        for (j, size, name), column in model.given.items():
            made[name] += values[column]
            spare[model.kinds[j].source.lot, *size] -= values[column]
        return Plan(
            sittings=_merged(model.sittings(values), self.limit),
            made=made,
            short={w.name: w.count - made[w.name] for w in self.wanted if made[w.name] < w.count},
            spare={key: count for key, count in spare.items() if count},
            settings_bound=settings_bound,
            paper_bound=paper_bound * _AREA_UNIT,
            seconds=time.monotonic() - self.began,
        )


class _Model:
    """The whole-number program of a plan: how often each section, which settings, which piece serves which wish."""

    def __init__(
        self,
        wanted: Sequence[Wanted],
        sources: Sequence[Source],
        kinds: Sequence[SittingKind],
        short: Mapping[str, int],
        *,
        loose: bool = False,
    ) -> None:
        self.wanted, self.kinds = wanted, kinds
        self.base = Program()
        self.times: dict[tuple[int, int], int] = {}
        self.set_at: dict[tuple[int, Setting], int] = {}
        self.given: dict[tuple[int, Size, str], int] = {}
        self.missing: dict[str, int] = {}
        by_name = {s.name: s for s in sources}
        used: dict[str, dict[int, float]] = {s.name: {} for s in sources}
        taken: dict[str, dict[int, float]] = {w.name: {} for w in wanted}
        for j, kind in enumerate(kinds):
            lot, source = kind.source.lot, by_name[kind.source.name]
            settings = {s: self.base.variable(1) for s in kind.settings}
            self.set_at |= {(j, s): column for s, column in settings.items()}
            serves = {
                size: [w for w in wanted if w.served_by(size[0], size[1], lot, trim=size[2] is Kind.STRIP)]
                for section in kind.sections
                for size in section.pieces()
            }
            makers: dict[Size, dict[int, float]] = {size: {} for size in serves}
            needs: dict[Size, set[Setting]] = {}
            for i, section in enumerate(kind.sections):
                pieces = section.pieces()
                enough = max(math.ceil(sum(w.count for w in serves[size]) / n) for size, n in pieces.items())
                top = min(enough, _room(source, section))
                column = self.times[j, i] = self.base.variable(top)
                for setting in section.settings:
                    self.base.row({column: 1, settings[setting]: -top}, most=0)
                used[source.name][column] = section.length if isinstance(source, Roll) else 1
                for size, n in pieces.items():
                    makers[size][column] = n
                    needs[size] = needs.get(size, set(section.settings)) & set(section.settings)
            for size, columns in makers.items():
                goes: dict[int, float] = {}
                most = max(n * self.base.tops[column] for column, n in columns.items())
                for wish in serves[size]:
                    column = self.given[j, size, wish.name] = self.base.variable(wish.count)
                    goes[column] = taken[wish.name][column] = 1
                    # Not needed for a right answer, but without it the bounds are too weak to prove anything.
                    for setting in needs[size]:
                        self.base.row({column: 1, settings[setting]: -min(wish.count, most)}, most=0)
                if goes:
                    self.base.row(goes | {column: -n for column, n in columns.items()}, most=0)
        for source in sources:
            if used[source.name]:
                self.base.row(used[source.name], most=source.length if isinstance(source, Roll) else source.count)
        self.columns_without_missing = len(self.base.tops)
        for wish in wanted:
            terms = taken[wish.name]
            count = wish.count - short.get(wish.name, 0)
            if loose and wish.name not in short:
                self.missing[wish.name] = self.base.variable(wish.count)
                terms = terms | {self.missing[wish.name]: 1}
            if terms:
                self.base.row(terms, least=count, most=wish.count)
            elif count:
                self.base.row({}, least=1)

    def _with(self, costs: Mapping[int, float], *rows: tuple[Mapping[int, float], float]) -> Program:
        program = Program(tops=self.base.tops, costs=[0.0] * len(self.base.tops), rows=list(self.base.rows))
        for column, cost in costs.items():
            program.costs[column] = cost
        for terms, most in rows:
            program.row(terms, most=most)
        return program

    def settings_program(self) -> Program:
        return self._with(dict.fromkeys(self.set_at.values(), 1.0))

    def paper_program(self, most_settings: int | None, *, held: Sequence[int] | None = None) -> Program:
        areas = {c: self.kinds[j].sections[i].area / _AREA_UNIT for (j, i), c in self.times.items()}
        if most_settings is None:
            return self._with(areas)
        program = self._with(areas, (dict.fromkeys(self.set_at.values(), 1.0), most_settings))
        if held is not None:
            unset = {column for column in self.set_at.values() if not held[column]}
            program.tops = [0.0 if column in unset else top for column, top in enumerate(program.tops)]
        return program

    def shortfall_program(self, names: Sequence[str]) -> Program:
        return self._with({self.missing[name]: 1.0 for name in names})

    def start(self, cut: Sequence[tuple[Section, int]]) -> tuple[int, ...] | None:
        """A plan from elsewhere as values of this program; ``None`` if it does not serve all."""
        values = [0] * len(self.base.tops)
        where = {section: (j, i) for j, kind in enumerate(self.kinds) for i, section in enumerate(kind.sections)}
        for section, count in cut:
            if section not in where:
                return None
            j, i = where[section]
            values[self.times[j, i]] += count
            for setting in section.settings:
                values[self.set_at[j, setting]] = 1
        produced = self.produced(values)
        open_ = {w.name: w.count for w in self.wanted}
        for (j, size, name), column in self.given.items():
            values[column] = min(open_[name], produced[j, size])
            open_[name] -= values[column]
            produced[j, size] -= values[column]
        return None if any(open_.values()) else tuple(values)

    def produced(self, values: Sequence[int]) -> dict[tuple[int, Size], int]:
        """Pieces by kind of sitting and size."""
        tally: dict[tuple[int, Size], int] = {}
        for (j, i), column in self.times.items():
            for size, n in self.kinds[j].sections[i].pieces().items():
                tally[j, size] = tally.get((j, size), 0) + n * values[column]
        return tally

    def sittings(self, values: Sequence[int]) -> list[Sitting]:
        found = []
        for j, kind in enumerate(self.kinds):
            sections = [
                (section, values[self.times[j, i]])
                for i, section in enumerate(kind.sections)
                if values[self.times[j, i]]
            ]
            if sections:
                found.append(Sitting(source=kind.source.name, lot=kind.source.lot, sections=tuple(sections)))
        return found


def _room(source: Source, section: Section) -> int:
    """How often a section can come off a source."""
    return int((source.length + 1e-6) / section.length) if isinstance(source, Roll) else source.count


def _merged(sittings: Sequence[Sitting], limit: int | None) -> tuple[Sitting, ...]:
    """Sittings on one source put together as far as the limit on settings allows: fewer times in the dark."""
    merged: list[Sitting] = []
    for sitting in sorted(sittings, key=lambda s: -len(s.settings)):
        for i, other in enumerate(merged):
            joint = Sitting(source=other.source, lot=other.lot, sections=other.sections + sitting.sections)
            if other.source == sitting.source and (limit is None or len(joint.settings) <= limit):
                merged[i] = joint
                break
        else:
            merged.append(sitting)
    return tuple(sorted(merged, key=lambda s: (s.source, -s.settings[0].distance if s.settings else 0)))
