"""What one would do by hand, for comparison and as a first plan: the largest size first, off the first roll it fits."""

import math
from collections.abc import Sequence

from printlore.core.cutting.sections import Kind, Section, sitting_kinds
from printlore.core.cutting.wanted import Roll, Source, Trimmer, Wanted, same


def cut_first_fit(wanted: Sequence[Wanted], sources: Sequence[Source], trimmer: Trimmer) -> list[tuple[Section, int]]:
    """Sections one size at a time, by priority and then from the largest, each off the first source that has room.

    A size is cut as it is given, never turned and never mixed with another; trims that serve as wanted strips are
    counted. What does not fit is left out.
    """
    left = {s.name: s.length if isinstance(s, Roll) else float(s.count) for s in sources}
    open_ = {w.name: w.count for w in wanted}
    limit = 3 if trimmer.edge else 2
    plain = {
        source.name: [
            section
            for kind in sitting_kinds(source, wanted, trimmer, settings_per_sitting=limit)
            for section in kind.sections
            if len(section.settings) <= limit
        ]
        for source in sources
    }
    cut: list[tuple[Section, int]] = []
    for wish in sorted(wanted, key=lambda w: (w.strip, w.priority, -w.area)):
        for source in sources:
            if not open_[wish.name]:
                break
            section, per_section = _plain_section(plain[source.name], wish)
            if section is None:
                continue
            takes = section.length if isinstance(source, Roll) else 1.0
            times = min(math.ceil(open_[wish.name] / per_section), int((left[source.name] + 1e-6) / takes))
            if not times:
                continue
            cut.append((section, times))
            left[source.name] -= takes * times
            for (along, across, kind), n in section.pieces().items():
                made = n * times
                for other in sorted(wanted, key=lambda w: w is not wish):
                    if other.served_by(along, across, source.lot, trim=kind is Kind.STRIP):
                        given = min(made, open_[other.name])
                        open_[other.name] -= given
                        made -= given
    return cut


def _plain_section(sections: Sequence[Section], wish: Wanted) -> tuple[Section | None, int]:
    """The section that gives most of one size as it is given (a strip either way), and how many."""
    sizes = {(wish.along, wish.across), (wish.across, wish.along)} if wish.strip else {(wish.along, wish.across)}
    best: Section | None = None
    most = 0
    for section in sections:
        n = sum(
            count
            for (along, across, _), count in section.pieces().items()
            if any(same(along, a) and same(across, b) for a, b in sizes)
        )
        if n > most:
            best, most = section, n
    return best, most
