"""Why one setting differs from another: parts in log exposure that add up exactly."""

from dataclasses import dataclass, replace

import numpy as np

from printlore.core.light.setting import Setting
from printlore.core.memory.forecast import Conditions, Forecast, forecast, look_up
from printlore.core.memory.model import inverse
from printlore.core.memory.solve import Memory
from printlore.core.paper.facts import Vector, vector

_CONDITIONS = (
    ("negative", ("frame",)),
    ("head", ("head",)),
    ("paper", ("lot",)),
    ("bath", ("bath", "bath_state")),
    ("lamp", ("date",)),
)
_DIALS = (("size", "magnification"), ("f-number", "f_number"), ("filters", "pack"), ("time", "time"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One reason for a change.

    Attributes
    ----------
    name : str
        Of a condition (negative, head, paper, bath, lamp), or of what was dialled (size, f-number, filters, time).
    log_exposure : (3,) change of log exposure of the layers that it brings [log10]
    standard_error : (3,) of that change [log10]
    dialled : bool
        True if the printer brought it about, False if it came with the conditions.
    """

    name: str
    log_exposure: Vector
    standard_error: Vector
    dialled: bool


def difference(memory: Memory, old: tuple[Conditions, Setting], new: tuple[Conditions, Setting]) -> tuple[Part, ...]:
    """Parts of the change in log exposure from one print to another, in order; they add up exactly.

    One thing after another is exchanged, old for new, and the change it makes is its part. The order does not matter to
    1e-6, but between the negative, the filters and another paper, which sees both otherwise than the usual one: there
    what they do together falls to the one that is exchanged later; and between filters and time under a learned delay.
    """
    (conditions, setting), (to_conditions, to_setting) = old, new
    parts: list[Part] = []
    before = forecast(look_up(memory, conditions), [setting])
    for name, fields in _CONDITIONS:
        changes = {field: getattr(to_conditions, field) for field in fields}
        if all(getattr(conditions, field) == value for field, value in changes.items()):
            continue
        conditions = replace(conditions, **changes)
        after = forecast(look_up(memory, conditions), [setting])
        parts.append(_part(name, before, after, dialled=False))
        before = after
    for name, field in _DIALS:
        value = getattr(to_setting, field)
        if getattr(setting, field) == value:
            continue
        setting = replace(setting, burns=(), **{field: value})
        after = forecast(before.standpoint, [setting])
        parts.append(_part(name, before, after, dialled=True))
        before = after
    return tuple(parts)


def _part(name: str, before: Forecast, after: Forecast, *, dialled: bool) -> Part:
    change = after.log_exposure[0] - before.log_exposure[0]
    half = after.half(inverse(after.by_layer)) - before.half(inverse(before.by_layer))
    variance = np.einsum("sk,sk->k", half, half)
    if not dialled:
        old, new = before.standpoint.spread, after.standpoint.spread
        variance = variance + np.diag(old) * (name == "negative") + np.diag(new - old).clip(0)
    return Part(
        name=name,
        log_exposure=vector(change),
        standard_error=vector(np.sqrt(np.maximum(variance, 0.0))),
        dialled=dialled,
    )
