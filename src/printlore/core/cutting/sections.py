"""Every way to cut a section off a roll and slit it that a hand can do with a stop in the dark.

A *section* is cut off across the roll at one stop setting and, turned a quarter, slit at others; what is left is trim.
A *setting* is one distance of the stop, for cuts in one direction. A *sitting* works on one roll (or one pile of
sheets) with a few settings, one after the other.
"""

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

from printlore.core.cutting.wanted import TOLERANCE, Roll, Sheets, Source, Trimmer, Wanted, same
from printlore.errors import ValueOutOfRange

MOST_SECTIONS = 20_000
"""More ways to cut than this are not listed: the search would not end in an evening."""


class Way(StrEnum):
    """Direction of a cut: across the roll, off its near long edge, or along it."""

    CROSS = "cross"
    EDGE = "edge"
    SLIT = "slit"


@dataclass(frozen=True, slots=True, order=True)
class Setting:
    """One distance [mm] of the stop from the blade, for cuts in one direction."""

    way: Way
    distance: float


class Kind(StrEnum):
    """What a part of a section is good for."""

    SHEET = "sheet"
    STRIP = "strip"
    WASTE = "waste"


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A rectangle of a section: what it is, where it lies and its size [mm].

    ``at_along`` and ``at_across`` count from the corner where the first cut and the guide meet.
    """

    kind: Kind
    at_along: float
    at_across: float
    along: float
    across: float

    @property
    def area(self) -> float:
        """[mm2]"""
        return self.along * self.across


Size = tuple[float, float, Kind]
"""(along, across, kind) of a piece, in mm."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """One way to cut a section off a roll, or to cut up one sheet.

    Attributes
    ----------
    source, lot : str
    length : float
        Length [mm] of roll it uses up, kerf included; for a sheet its own length.
    width : float
        Of the source [mm].
    cuts : tuple of (Setting, int)
        In the order of the work; how often each cut is made on this one section.
    parts : tuple of Part
    """

    source: str
    lot: str
    length: float
    width: float
    cuts: tuple[tuple[Setting, int], ...]
    parts: tuple[Part, ...]

    @property
    def settings(self) -> tuple[Setting, ...]:
        """Settings it needs, in the order of the work."""
        return tuple(setting for setting, _ in self.cuts)

    @property
    def area(self) -> float:
        """Paper used up [mm2]."""
        return self.length * self.width

    @property
    def waste(self) -> float:
        """Paper [mm2] that ends as neither sheet nor strip, kerf and edges included."""
        return self.area - sum(part.area for part in self.parts if part.kind is not Kind.WASTE)

    def pieces(self) -> dict[Size, int]:
        """How many pieces of each size it gives, waste left out."""
        tally: dict[Size, int] = {}
        for part in self.parts:
            if part.kind is not Kind.WASTE:
                size = (round(part.along, 1), round(part.across, 1), part.kind)
                tally[size] = tally.get(size, 0) + 1
        return tally


@dataclass(frozen=True, slots=True, kw_only=True)
class SittingKind:
    """The settings that one sitting may use on a source, and every section they allow."""

    source: Source
    sections: tuple[Section, ...]

    @property
    def settings(self) -> tuple[Setting, ...]:
        """Every setting that some section needs."""
        return tuple(dict.fromkeys(setting for section in self.sections for setting in section.settings))


def sitting_kinds(
    source: Source, wanted: Sequence[Wanted], trimmer: Trimmer, *, settings_per_sitting: int | None
) -> list[SittingKind]:
    """Every largest set of settings that a sitting may use on this source, with its sections.

    Parameters
    ----------
    settings_per_sitting : int or None
        At most so many settings; ``None``: no limit, one sitting with all.

    Raises
    ------
    ValueOutOfRange
        If the limit is below 1, or there are too many ways to list.
    """
    if settings_per_sitting is not None and settings_per_sitting < 1:
        raise ValueOutOfRange(f"{settings_per_sitting} stop settings at a sitting cut nothing; allow at least 1.")
    mine = [w for w in wanted if w.count and (w.lots is None or source.lot in w.lots)]
    maker = _SectionMaker(source=source, wanted=mine, trimmer=trimmer)
    slits_of = maker.useful_distances()
    kinds: list[SittingKind] = []
    listed = 0
    made: dict[tuple[float, tuple[float, ...]], list[Section]] = {}
    for crosses, slits in _largest_sets(slits_of, settings_per_sitting, edge=maker.edge > 0):
        sections: dict[tuple[float, tuple[tuple[Size, int], ...]], Section] = {}
        for cross in crosses:
            key = cross, tuple(slit for slit in slits_of[cross] if slit in slits)
            if key not in made:
                tried = sum(1 for _ in itertools.islice(_slit_counts(maker.room, key[1], trimmer), MOST_SECTIONS))
                listed += tried
                if listed >= MOST_SECTIONS:
                    raise ValueOutOfRange(
                        f'There are more than {MOST_SECTIONS} ways to cut "{source.name}" into these sizes. '
                        "Allow fewer stop settings at a sitting, or plan fewer sizes at a time."
                    )
                made[key] = list(maker.sections(*key))
            for section in made[key]:
                outcome = section.length, tuple(sorted(section.pieces().items()))
                if outcome not in sections or len(section.settings) < len(sections[outcome].settings):
                    sections[outcome] = section
        if sections:
            kinds.append(SittingKind(source=source, sections=tuple(sections.values())))
    return kinds


@dataclass(frozen=True, slots=True, kw_only=True)
class _SectionMaker:
    source: Source
    wanted: Sequence[Wanted]
    trimmer: Trimmer

    @property
    def edge(self) -> float:
        return self.trimmer.edge if isinstance(self.source, Roll) else 0.0

    @property
    def room(self) -> float:
        """Width [mm] that may end in sheets."""
        return self.source.width - 2 * self.edge - (self.trimmer.kerf if self.edge else 0.0)

    def useful_distances(self) -> dict[float, tuple[float, ...]]:
        """For each distance of the cross cut [mm], the slits that make something wanted of the section (maybe none)."""
        found: dict[float, set[float]] = {}
        for want in self.wanted:
            ways = {(want.along, want.across)}
            if want.may_turn or want.strip:
                ways.add((want.across, want.along))
            for along, across in ((round(a, 1), round(b, 1)) for a, b in ways):
                if not self._can_cross(along):
                    continue
                if not self.edge and same(across, self.room):
                    found.setdefault(along, set())
                elif across < self.room + TOLERANCE and self._can_slit(along, across):
                    found.setdefault(along, set()).add(across)
        for want in (w for w in self.wanted if w.strip):
            for cross, slits in found.items():
                for along, across in ((want.along, want.across), (want.across, want.along)):
                    if along <= cross and across < self.room - TOLERANCE and self._can_slit(cross, across):
                        slits.add(round(across, 1))
        return {cross: tuple(sorted(slits, reverse=True)) for cross, slits in sorted(found.items(), reverse=True)}

    def _can_cross(self, along: float) -> bool:
        if isinstance(self.source, Sheets):
            if same(along, self.source.along):
                return True
            if along > self.source.along:
                return False
        elif along > self.source.length + TOLERANCE:
            return False
        return self.trimmer.can_stop_at(along) and self.trimmer.can_cut(self.source.width)

    def _can_slit(self, along: float, across: float) -> bool:
        return self.trimmer.can_stop_at(across) and self.trimmer.can_cut(along)

    def sections(self, cross: float, slits: tuple[float, ...]) -> Iterator[Section]:
        """Unslit if that is a sheet; slit until nothing more fits; slit so far that the rest is a sheet."""
        if not self.edge and self._kind(cross, self.room, trim=True) is Kind.SHEET:
            yield self._section(cross, ())
        for counts in _slit_counts(self.room, slits, self.trimmer):
            chosen = tuple((slit, n) for slit, n in zip(slits, counts, strict=True) if n)
            if not chosen:
                continue
            rest = self.room - sum(n * (slit + self.trimmer.kerf) for slit, n in chosen)
            full = all(self.trimmer.pieces_within(rest, slit) == 0 for slit in slits)
            if full or (not self.edge and self._kind(cross, rest, trim=True) is Kind.SHEET):
                yield self._section(cross, chosen)

    def _kind(self, along: float, across: float, *, trim: bool) -> Kind:
        """What a piece is good for; a trim may be a sheet only if it happens to be exactly one."""
        if any(not w.strip and w.served_by(along, across, self.source.lot, trim=False) for w in self.wanted):
            return Kind.SHEET
        if not trim and any(w.served_by(along, across, self.source.lot, trim=True) for w in self.wanted):
            return Kind.STRIP
        return Kind.STRIP if self.trimmer.worth_keeping(along, across) else Kind.WASTE

    def _section(self, cross: float, slits: tuple[tuple[float, int], ...]) -> Section:
        kerf = self.trimmer.kerf
        parts: list[Part] = []
        if isinstance(self.source, Sheets):
            bands = self.trimmer.pieces_within(self.source.along, cross)
            length, end = self.source.along, self.source.along - bands * (cross + kerf)
            crosses = bands if end + kerf > TOLERANCE else bands - 1
        else:
            bands, crosses, length, end = 1, 1, cross + kerf, 0.0
        rest = self.room - sum(n * (slit + kerf) for slit, n in slits)
        # The last piece of a section that is used up falls off with the cut before it.
        strokes = dict(slits)
        if slits and not self.edge and rest + kerf <= TOLERANCE:
            last = min(strokes, key=lambda slit: (strokes[slit] != 1, slit))
            strokes[last] -= 1
        for band in range(bands):
            at_along = band * (cross + kerf)
            if self.edge:
                parts.append(_part(Kind.WASTE, at_along, 0.0, cross, self.edge))
            at = self.edge + (kerf if self.edge else 0.0)
            for slit, n in sorted(slits, key=lambda s: (strokes[s[0]] < s[1], -s[0])):
                for _ in range(n):
                    parts.append(_part(self._kind(cross, slit, trim=False), at_along, at, cross, slit))
                    at += slit + kerf
            left = self.source.width - at
            if not slits:
                parts.append(_part(self._kind(cross, left, trim=True), at_along, at, cross, left))
            elif left > TOLERANCE:
                kind = self._kind(cross, left, trim=True)
                if self.edge and kind is Kind.SHEET:
                    kind = Kind.STRIP
                parts.append(_part(kind, at_along, at, cross, left))
        if end > TOLERANCE:
            width = self.source.width
            parts.append(_part(self._kind(end, width, trim=True), bands * (cross + kerf), 0.0, end, width))
        cuts = [(Setting(Way.CROSS, cross), crosses)] if crosses else []
        if self.edge and slits:
            cuts.append((Setting(Way.EDGE, self.edge), bands))
        cuts += [(Setting(Way.SLIT, slit), bands * strokes[slit]) for slit, _ in slits if strokes[slit]]
        return Section(
            source=self.source.name,
            lot=self.source.lot,
            length=length,
            width=self.source.width,
            cuts=tuple(cuts),
            parts=tuple(parts),
        )


def _part(kind: Kind, at_along: float, at_across: float, along: float, across: float) -> Part:
    return Part(kind=kind, at_along=at_along, at_across=at_across, along=along, across=across)


def _slit_counts(room: float, slits: tuple[float, ...], trimmer: Trimmer) -> Iterator[tuple[int, ...]]:
    if not slits:
        yield ()
        return
    for n in range(trimmer.pieces_within(room, slits[0]), -1, -1):
        for others in _slit_counts(room - n * (slits[0] + trimmer.kerf), slits[1:], trimmer):
            yield (n, *others)


_Set = tuple[frozenset[float], frozenset[float]]


def _largest_sets(
    slits_of: dict[float, tuple[float, ...]], limit: int | None, *, edge: bool
) -> list[tuple[tuple[float, ...], frozenset[float]]]:
    """Sets of cross and slit distances that go together within the limit, none inside another."""
    if not slits_of:
        return []
    if limit is None:
        return [(tuple(slits_of), frozenset(slit for slits in slits_of.values() for slit in slits))]
    room = limit - (1 if edge else 0)
    pairs = [(cross, slit) for cross, slits in slits_of.items() for slit in slits]
    found: set[_Set] = set() if edge else {(frozenset([cross]), frozenset()) for cross in slits_of}
    front: set[_Set] = {(frozenset([c]), frozenset([s])) for c, s in pairs} if room >= 2 else set()
    size = 2
    while front:
        found |= front
        if len(found) > MOST_SECTIONS:
            raise ValueOutOfRange(
                f"There are more than {MOST_SECTIONS} sets of stop settings to choose from. "
                "Allow fewer stop settings at a sitting, or plan fewer sizes at a time."
            )
        size += 1
        if size > room:
            break
        front = {
            (crosses | {cross}, slits | {slit})
            for crosses, slits in front
            for cross, slit in pairs
            if (cross in crosses) != (slit in slits)
        }
    kept: list[_Set] = []
    holding: dict[float, list[_Set]] = {}
    for crosses, slits in sorted(found, key=lambda f: (-len(f[0]) - len(f[1]), sorted(f[0]), sorted(f[1]))):
        if not any(crosses <= c and slits <= s for c, s in holding.get(next(iter(crosses)), ())):
            kept.append((crosses, slits))
            for cross in crosses:
                holding.setdefault(cross, []).append((crosses, slits))
    return [(tuple(sorted(crosses, reverse=True)), slits) for crosses, slits in kept]
