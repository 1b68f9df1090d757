"""Several drums in rotation, one pair of hands: no two pours or drains at once."""

from collections.abc import Sequence as Many
from dataclasses import dataclass

from printlore.core.evening.process import Moment, Sequence, moments
from printlore.core.figure import Figure
from printlore.errors import Refused, ValueOutOfRange

REACH = 5.0
"""[s] Hands are at the drum this long before a pour: measuring cup up, lid in reach."""

FILL = 5.0
"""[s] And this long after: the developer covers all paper within 3 to 5 s (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Busy:
    """A stretch of time that needs both hands [s]; ``what`` says for what."""

    begin: float
    end: float
    what: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Clash:
    """Two drums that need hands at once, from ``at`` [s] for ``seconds``."""

    at: float
    seconds: float
    first: str
    second: str

    @property
    def words(self) -> str:
        return f"{self.first} and {self.second} need hands at once for {self.seconds:.0f} s."


def hands(when: Many[Moment], *, drum: str, load: float = 0.0) -> tuple[Busy, ...]:
    """When a drum needs hands: loading it, and from each drain to the end of the next fill.

    Parameters
    ----------
    when : sequence of Moment
        Its steps [s].
    drum : str
        Its name, for words.
    load : float
        Seconds of exposing and loading just before the first pour.
    """
    if not when:
        return ()
    found = [Busy(begin=when[0].begin - max(load, REACH), end=when[0].begin + FILL, what=f"{drum}, first pour")]
    for moment, after in zip(when, [*when[1:], None], strict=True):
        if after is None:
            found.append(Busy(begin=moment.drain, end=moment.end, what=f"{drum}, last drain"))
        else:
            begin = min(moment.drain, after.begin - REACH)
            found.append(Busy(begin=begin, end=after.begin + FILL, what=f"{drum}, {after.step.kind.words}"))
    return tuple(found)


def clashes(busy: Many[Many[Busy]]) -> tuple[Clash, ...]:
    """Where the hands of different drums overlap, by time."""
    found = []
    for number, mine in enumerate(busy):
        for yours in busy[number + 1 :]:
            for a in mine:
                for b in yours:
                    overlap = min(a.end, b.end) - max(a.begin, b.begin)
                    if overlap > 1e-9:
                        found.append(Clash(at=max(a.begin, b.begin), seconds=overlap, first=a.what, second=b.what))
    return tuple(sorted(found, key=lambda clash: clash.at))


def next_start(
    under_way: Many[Busy],
    sequence: Sequence,
    *,
    earliest: float,
    latest: float | None = None,
    load: float = 0.0,
    drum: str = "the drum",
) -> float:
    """The first moment at which another drum can be poured without two pours or drains at once.

    Exact: every pair of busy stretches forbids an open interval of starts; the answer is the first
    moment at or after ``earliest`` in none of them.

    Parameters
    ----------
    under_way : sequence of Busy
        What the drums already going need.
    sequence : Sequence
        Of the new drum.
    earliest, latest : float
        Between these [s]; ``None``: no end.
    load : float
        Seconds of exposing and loading just before the first pour, which need hands too.

    Raises
    ------
    Refused
        If no such moment comes before ``latest``; says the first that would.
    """
    if load < 0:
        raise ValueOutOfRange(f"Loading takes {Figure(load):g} s; give 0 or more.")
    mine = hands(moments(sequence), drum=drum, load=load)
    forbidden = sorted((b.begin - a.end, b.end - a.begin) for a in mine for b in under_way)
    start = earliest
    for begin, end in forbidden:
        if begin < start - 1e-9 and end > start + 1e-9:
            start = end
    if latest is not None and start > latest + 1e-9:
        raise Refused(
            f"{drum} cannot be poured in the next {latest - earliest:.0f} s without two pours at once; "
            f"the first free moment is {start - earliest:.0f} s from now. Wait for it, or leave this drum for later."
        )
    return start
