"""What a bath is: a discrete mass balance over everything poured in, carried out, used up and aged.

Four amounts are kept, each of them an amount and not a concentration, so that pouring adds and
nothing gets lost: volume; developing agent, as the volume of fresh solution that would hold it;
by-products, as the area of paper that gave them; and age, as volume times days. What is
carried out or bled takes its share of all four.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from printlore.core.bath.pours import Bled, Carry, DrumLoad, Event, Gauged, Ledger, Looked, Retired, TopUp, said
from printlore.core.figure import Figure
from printlore.core.memory.evidence import BathState
from printlore.errors import Refused, ValueOutOfRange

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Wear:
    """How a bath wears. Defaults are from memory and wide; ``core.bath.learning`` learns them.

    Attributes
    ----------
    consumption : float
        Developing agent used by paper, as volume of fresh solution [mL/m2].
    oxidation : float
        Rate at which agent is lost in a full closed bottle [1/d].
    air : float
        How many times faster in a bottle that is all air, pro rata for the share of air [1].
    open_hour : float
        Days of closed age that an hour in an open tray or drum counts for [d/h].
    """

    consumption: float = 75.0
    oxidation: float = 0.004
    air: float = 6.0
    open_hour: float = 0.5

    def __post_init__(self) -> None:
        for name in ("consumption", "oxidation", "air", "open_hour"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value >= 0):
                raise ValueOutOfRange(
                    f"Wear of a bath: {name} is {Figure(value):g}; it must be finite and not below 0."
                )


@dataclass(frozen=True, slots=True, kw_only=True)
class Content:
    """What is in the bottle, and where the rest went.

    Attributes
    ----------
    volume : float
        [mL]
    agent : float
        Developing agent, as volume of fresh solution [mL].
    by_products : float
        As area of the paper that gave them [m2].
    age : float
        Volume times closed-bottle days [mL d].
    day : float
        Of the last event [d].
    volume_in, volume_out : float
        Poured in and gone since mixing [mL].
    agent_in, agent_out, agent_used, agent_oxidised : float
        [mL of fresh solution]
    area, by_products_out : float
        Paper since mixing; share of its by-products that left [m2].
    loads : int
        Drum loads since mixing.
    retired : bool
    """

    volume: float
    agent: float
    by_products: float = 0.0
    age: float = 0.0
    day: float = 0.0
    volume_in: float = 0.0
    volume_out: float = 0.0
    agent_in: float = 0.0
    agent_out: float = 0.0
    agent_used: float = 0.0
    agent_oxidised: float = 0.0
    area: float = 0.0
    by_products_out: float = 0.0
    loads: int = 0
    retired: bool = False

    @property
    def strength(self) -> float:
        """Developing agent relative to a fresh bath [1]."""
        return self.agent / self.volume if self.volume > 0 else 0.0

    @property
    def area_per_litre(self) -> float:
        """Paper whose by-products are still in the bath [m2/L]."""
        return 1000 * self.by_products / self.volume if self.volume > 0 else 0.0

    @property
    def age_days(self) -> float:
        """Mean age in closed-bottle days [d]."""
        return self.age / self.volume if self.volume > 0 else 0.0

    def state(self) -> BathState:
        """As the printing memory takes it."""
        return BathState(area_per_litre=self.area_per_litre, age_days=self.age_days, strength=self.strength)


AMOUNTS = (
    "volume",
    "agent",
    "by_products",
    "age",
    "volume_in",
    "volume_out",
    "agent_in",
    "agent_out",
    "agent_used",
    "agent_oxidised",
    "area",
    "by_products_out",
)
"""Rows of a trace, in order; units as in ``Content``."""
_VOLUME, _AGENT, _BY, _AGE, _V_IN, _V_OUT, _A_IN, _A_OUT, _A_USED, _A_OXIDISED, _AREA, _BY_OUT = range(len(AMOUNTS))


@dataclass(frozen=True, slots=True, kw_only=True)
class Wears:
    """Many possible ways of wearing at once: arrays of shape (M,) with the units of ``Wear``.

    ``carry`` is a factor on what is carried in and out where it was not weighed [1].
    """

    consumption: Array
    oxidation: Array
    air: Array
    open_hour: float
    carry: Array


def _age(now: Array, closed_days: Array | float, oxidation: Array) -> None:
    left = now[_AGENT] * np.exp(-oxidation * closed_days)
    now[_A_OXIDISED] += now[_AGENT] - left
    now[_AGENT] = left
    now[_AGE] += now[_VOLUME] * closed_days


def _pour_out(now: Array, volume: Array | float) -> None:
    share = np.where(now[_VOLUME] > 0, volume / np.where(now[_VOLUME] > 0, now[_VOLUME], 1.0), 0.0)
    now[_V_OUT] += volume
    now[_A_OUT] += now[_AGENT] * share
    now[_BY_OUT] += now[_BY] * share
    now[_VOLUME] -= volume
    now[[_AGENT, _BY, _AGE]] *= 1 - share


def _pour_in(now: Array, volume: Array | float, strength: float) -> None:
    now[_VOLUME] += volume
    now[_V_IN] += volume
    now[_AGENT] += volume * strength
    now[_A_IN] += volume * strength


def _can_follow(event: Event, last_day: float, retired: bool) -> None:
    what = said(event)
    if retired:
        raise Refused(
            f"The bath was retired; {what[0].lower()}{what[1:]} cannot follow. "
            "Mix a new bath, or take the retirement back if it was entered by mistake."
        )
    if event.day < last_day:
        raise Refused(
            f"{what} is dated before what happened on day {Figure(round(last_day, 1)):g}. "
            "Correct the date, or enter events in the order they happened."
        )


def _taken(now: Array, event: Event, volume: Array | float, what: str, strict: bool) -> Array:
    most = now[_VOLUME]
    if strict and np.any(volume > most * (1 + 1e-12)):
        raise Refused(
            f"{said(event)}: {Figure(np.max(volume)):.4g} mL {what}, but only {Figure(np.min(most)):.1f} mL are in "
            "the bottle. Correct the volume, or enter the top-up that is missing."
        )
    return np.asarray(np.minimum(volume, most))


def trace(ledger: Ledger, wears: Wears, carry: Carry, *, strict: bool = False) -> Array:
    """Amounts after mixing and after each event, for many possible ways of wearing at once.

    Returns
    -------
    (events + 1, len(AMOUNTS), M) array

    Raises
    ------
    Refused
        If an event cannot follow: after retirement, dated too early; with ``strict`` also if more
        is taken out than there is, or more poured in than the bottle holds.
    """
    now = np.zeros((len(AMOUNTS), len(wears.consumption)))
    _pour_in(now, ledger.volume, ledger.strength)
    now[[_BY, _AREA]] += ledger.area_per_litre * ledger.volume / 1000
    now[_AGE] += ledger.age_days * ledger.volume
    chain, day, retired, bottle = [now.copy()], ledger.day, False, ledger.bottle
    for event in ledger.events:
        _can_follow(event, day, retired)
        _age(now, (event.day - day) * (1 + (wears.air - 1) * bottle.air(now[_VOLUME])), wears.oxidation)
        day = event.day
        if isinstance(event, DrumLoad):
            water = wears.carry * carry.water_in(event.area) if event.water_in is None else event.water_in
            out = wears.carry * carry.solution_out(event.area) if event.solution_out is None else event.solution_out
            _age(now, event.open_minutes / 60 * wears.open_hour, wears.oxidation)
            used = np.minimum(event.area * wears.consumption, now[_AGENT])
            now[_AGENT] -= used
            now[_A_USED] += used
            now[_BY] += event.area
            now[_AREA] += event.area
            _pour_in(now, water, 0.0)
            _pour_out(now, _taken(now, event, out, "carried out", strict))
        elif isinstance(event, TopUp):
            _pour_out(now, _taken(now, event, event.bled, "taken out", strict))
            _pour_in(now, event.volume, event.strength)
        elif isinstance(event, Bled):
            _pour_out(now, _taken(now, event, event.volume, "taken out", strict))
        elif isinstance(event, Gauged):
            change = event.volume - now[_VOLUME]
            _pour_in(now, np.maximum(change, 0.0), 0.0)
            _pour_out(now, np.maximum(-change, 0.0))
        elif isinstance(event, Retired):
            retired = True
        if strict and np.any(now[_VOLUME] > bottle.capacity * (1 + 1e-9)):
            raise Refused(
                f"{said(event)} brings the bath to {Figure(np.max(now[_VOLUME])):.1f} mL in a bottle of "
                f"{Figure(bottle.capacity):g} mL. Take some out first (a bleed), or enter a larger bottle."
            )
        chain.append(now.copy())
    return np.array(chain)


def contents(
    ledger: Ledger, wear: Wear | None = None, carry: Carry | None = None, *, strict: bool = True
) -> list[Content]:
    """What is in the bottle after mixing and after each event.

    Parameters
    ----------
    strict : bool
        Refuse what cannot be; otherwise, for records that were kept before, no more goes out than there is.

    Returns
    -------
    list of Content
        One more than there are events.

    Raises
    ------
    Refused
        If an event cannot follow: after retirement, dated too early, more out than in, more than the bottle holds.

    Notes
    -----
    The portion poured is taken as mixed back into the whole before anything is carried out.
    """
    wear = wear or Wear()
    one = Wears(
        consumption=np.array([wear.consumption]),
        oxidation=np.array([wear.oxidation]),
        air=np.array([wear.air]),
        open_hour=wear.open_hour,
        carry=np.ones(1),
    )
    amounts = trace(ledger, one, carry or Carry(), strict=strict)[:, :, 0]
    days = [ledger.day, *(event.day for event in ledger.events)]
    loads, retired, chain = 0, False, []
    for event, day, row in zip((None, *ledger.events), days, amounts, strict=True):
        loads += isinstance(event, DrumLoad)
        retired = retired or isinstance(event, Retired)
        values = dict(zip(AMOUNTS, map(float, row), strict=True))
        chain.append(Content(day=day, loads=loads, retired=retired, **values))
    return chain


def followed_by(ledger: Ledger, event: Event) -> Ledger:
    """Ledger with one more event.

    Raises
    ------
    Refused
        If the event cannot follow; see ``contents``.
    """
    longer = replace(ledger, events=(*ledger.events, event))
    contents(longer)
    return longer


def content_at(
    ledger: Ledger, day: float, wear: Wear | None = None, carry: Carry | None = None, *, strict: bool = True
) -> Content:
    """What is in the bottle at a moment [d]: all events up to it, then age.

    Raises
    ------
    ValueOutOfRange
        If the moment lies before the bath was mixed.
    """
    if day < ledger.day:
        raise ValueOutOfRange(
            f"The bath was mixed on day {Figure(ledger.day):.4g}; there is nothing to say of day {Figure(day):.4g}."
        )
    before = tuple(event for event in ledger.events if event.day <= day)
    if not (before and isinstance(before[-1], Retired)):
        before = (*before, Looked(day=day))
    return contents(replace(ledger, events=before), wear, carry, strict=strict)[-1]
