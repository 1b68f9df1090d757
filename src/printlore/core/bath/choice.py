"""Keep, top up or retire a bath before an evening's work, by expected cost; and the top-up that holds a bath steady."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from printlore.core.bath.balance import Content, content_at, trace
from printlore.core.bath.capacity import HORIZON, Capacity, Harm, Work, as_printed, forecast
from printlore.core.bath.learning import Belief, departures_of, draws, for_next_bath, wears_of
from printlore.core.bath.pours import Bottle, Carry, Event, Ledger, TopUp
from printlore.core.figure import Figure
from printlore.errors import ValueOutOfRange


@dataclass(frozen=True, slots=True, kw_only=True)
class BathCosts:
    """What it costs [studio's unit]; defaults from memory, in sheets.

    Attributes
    ----------
    millilitre : float
        Of working solution at normal strength.
    spoiled : float
        A spoiled sheet: paper, the cycle's minutes, bath.
    fresh : float
        Minutes to mix a bath or a top-up, in money.
    """

    millilitre: float = 0.005
    spoiled: float = 7.5
    fresh: float = 3.0

    def __post_init__(self) -> None:
        for name in ("millilitre", "spoiled", "fresh"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value >= 0):
                raise ValueOutOfRange(f"The cost of {name} is {Figure(value):g}; give 0 or more.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One thing to do with a bath before work.

    Attributes
    ----------
    what : str
        "keep", "top up" or "retire".
    added, bled : float
        In and, before it, out [mL].
    strength : float
        Of what is added [1].
    changes_after : int or None
        Loads after which a fresh bath takes over within the work ahead; ``None``: it lasts.
    spoiled : float
        Expected sheets spoiled by the bath in the work ahead.
    cost : float
        Expected cost of chemistry spent and sheets spoiled, less what the bath is still worth after.
    capacity : Capacity
        From then on, if it were not changed.
    """

    what: str
    added: float
    bled: float
    strength: float
    changes_after: int | None
    spoiled: float
    cost: float
    capacity: Capacity

    def __str__(self) -> str:
        if self.what == "retire":
            return f"Retire it and mix {self.added:.0f} mL."
        then = ""
        if self.changes_after is not None:
            then = f" After {self.changes_after} {'load' if self.changes_after == 1 else 'loads'} mix a fresh bath."
        if self.what == "keep":
            return f"Keep it as it is.{then}"
        first = f"take {self.bled:.0f} mL out, then add" if self.bled > 0.5 else "add"
        way = "stronger" if self.strength > 1 else "weaker"
        mixed = "" if self.strength == 1 else f" mixed {abs(self.strength - 1) * 100:.0f} % {way} than usual"
        return f"Top up: {first} {self.added:.0f} mL{mixed}.{then}"


def options(
    belief: Belief,
    ledger: Ledger,
    day: float,
    work: Work,
    loads: int,
    rng: np.random.Generator,
    *,
    costs: BathCosts | None = None,
    harm: Harm | None = None,
    life_days: float | None = None,
    corrected: bool = True,
    strengths: Sequence[float] = (1.0,),
    amounts: Sequence[float] = (0.1, 0.2, 0.4),
    carry: Carry | None = None,
) -> tuple[Option, ...]:
    """What can be done before the next loads, cheapest first.

    Parameters
    ----------
    loads : int
        How many loads are planned before the bath is asked about again.
    strengths : sequence of float
        At which top-up solution can be mixed from the kit, relative to the usual [1].
    amounts : sequence of float
        Top-ups to weigh, as shares of what was mixed [1].

    Raises
    ------
    ValueOutOfRange
        If no load is planned.
    """
    if loads < 1:
        raise ValueOutOfRange("No sheet is planned; give at least one, or leave the bath alone.")
    costs = costs or BathCosts()
    seed = int(rng.integers(2**32))

    def look(which: Ledger, what: Belief) -> Capacity:
        # the same draws for each option, so that they differ by what is done and not by chance
        return forecast(
            what,
            which,
            day,
            work,
            np.random.default_rng(seed),
            harm=harm,
            life_days=life_days,
            corrected=corrected,
            carry=carry,
        )

    bottle = ledger.bottle
    mixed = min(ledger.volume, bottle.capacity)
    new = Ledger(day=day, volume=mixed, bottle=bottle)
    fresh = look(new, for_next_bath(belief))
    price = costs.millilitre * mixed + costs.fresh
    ahead = min(loads, HORIZON)

    whole = float(np.maximum(fresh.members, 1).mean())

    def option(what: str, added: float, bled: float, strength: float, capacity: Capacity, spent: float) -> Option:
        best = math.inf
        for change in range(1, ahead + 1):
            # this bath for so many loads, then, if work is left, a fresh one
            rest = ahead - change
            spoiled = float(capacity.spoiled[:change].sum() + fresh.spoiled[:rest].sum())
            left, used = (fresh, rest) if rest else (capacity, change)
            worth = price * min(float(np.maximum(left.members - used, 0).mean()) / whole, 1.0)
            cost = spent + (price if rest else 0.0) + costs.spoiled * spoiled - worth
            if cost < best:
                best, after, harmed = cost, change, spoiled
        return Option(
            what=what,
            added=added,
            bled=bled,
            strength=strength,
            changes_after=None if after == ahead else after,
            spoiled=harmed,
            cost=best,
            capacity=capacity,
        )

    found = [
        option("keep", 0.0, 0.0, 1.0, look(ledger, belief), 0.0),
        option("retire", mixed, 0.0, 1.0, fresh, price),
    ]
    volume = content_at(ledger, day, belief.wear, carry).volume
    for strength in strengths:
        for share in amounts:
            added = round(share * mixed, 0)
            bled = max(volume + added - bottle.capacity, 0.0)
            if bled >= volume:
                continue
            topped = replace(
                ledger, events=(*ledger.events, TopUp(day=day, volume=added, bled=bled, strength=strength))
            )
            spent = costs.millilitre * added * strength + costs.fresh
            found.append(option("top up", added, bled, strength, look(topped, belief), spent))
    return tuple(sorted(found, key=lambda one: one.cost))


@dataclass(frozen=True, slots=True, kw_only=True)
class Steady:
    """Where a bath settles when the same is added after each load.

    Attributes
    ----------
    top_up, bled : float
        Added and taken out for each load [mL].
    strength : float
        Of the bath in the end [1].
    area_per_litre : float
        By-products in the end [m2/L].
    mean_age : float
        Of what is in the bottle, in loads: volume over top-up.
    spoiled : float
        Probability that a load is spoiled by the settled bath.
    a_square_metre : float
        Solution spent [mL/m2].
    """

    top_up: float
    bled: float
    strength: float
    area_per_litre: float
    mean_age: float
    spoiled: float
    a_square_metre: float


def mean_age_in_loads(volume: float, top_up: float) -> float:
    """Mean age, in loads, of a bath that takes so much at each load: volume over top-up."""
    if not (volume > 0 and top_up > 0):
        raise ValueOutOfRange(
            f"{Figure(top_up):g} mL for each load of a bath of {Figure(volume):g} mL cannot be; both must be above 0."
        )
    return volume / top_up


def steady(
    belief: Belief,
    volume: float,
    work: Work,
    top_up: float,
    rng: np.random.Generator,
    *,
    strength: float = 1.0,
    carry: Carry | None = None,
) -> Steady:
    """The settled bath for a top-up after each load, bled so that the volume stays.

    Reached by running the ledger until nothing changes any more.
    """
    mean_age_in_loads(volume, top_up)
    carry = carry or Carry()
    parameters = draws(belief, rng, 200)
    net = carry.water_in(work.area) - carry.solution_out(work.area)
    bled = max(top_up + net, 0.0)
    count = min(int(6 * volume / top_up) + 10, 400)
    events: list[Event] = []
    for load in work.loads(0.0, count):
        events += [load, TopUp(day=load.day, volume=top_up, bled=bled, strength=strength)]
    bottle = Bottle(capacity=volume * 1.05 + top_up, no_air=False)
    ledger = Ledger(day=0.0, volume=volume, events=tuple(events), bottle=bottle)
    amounts = trace(ledger, wears_of(parameters), carry)
    last_load = amounts[-2:-1]
    departures = as_printed(departures_of(parameters, last_load))
    volume_now, agent, by_products, age = (float(value) for value in amounts[-1].mean(axis=1)[:4])
    content = Content(volume=volume_now, agent=agent, by_products=by_products, age=age)
    return Steady(
        top_up=top_up,
        bled=bled,
        strength=content.strength,
        area_per_litre=content.area_per_litre,
        mean_age=mean_age_in_loads(volume, top_up),
        spoiled=float(Harm().spoiled(departures).mean()),
        a_square_metre=top_up / work.area,
    )


def plan_steady(
    belief: Belief,
    volume: float,
    work: Work,
    rng: np.random.Generator,
    *,
    at_most: float = 0.05,
    strength: float = 1.0,
) -> tuple[Steady | None, tuple[Steady, ...]]:
    """The least top-up for each load with which the settled bath spoils at most such a share, and all that were tried.

    ``None`` if even a tenth of the bath for each load does not hold it.
    """
    seed = int(rng.integers(2**32))
    tried = tuple(
        steady(
            belief,
            volume,
            work,
            round(volume * share, 1),
            np.random.default_rng(seed),
            strength=strength,
        )
        for share in (0.016, 0.02, 0.03, 0.04, 0.06, 0.08, 0.10)
    )
    return next((one for one in tried if one.spoiled <= at_most), None), tried
