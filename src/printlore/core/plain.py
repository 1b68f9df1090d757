"""Frozen values to plain dictionaries and back, checked by their own type hints: as they are kept and sent."""

import dataclasses
import math
import types
from enum import Enum
from functools import cache
from typing import Any, TypeVar, Union, get_args, get_origin, get_type_hints

from printlore.errors import ValueOutOfRange

T = TypeVar("T")


def to_plain(value: object) -> Any:
    """Dictionaries, lists, words and numbers that say the same, fit for JSON; one that is not finite becomes None."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {field.name: to_plain(getattr(value, field.name)) for field in dataclasses.fields(value)}
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, tuple | list):
        return [to_plain(item) for item in value]
    if isinstance(value, frozenset):
        return sorted(to_plain(item) for item in value)
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def from_plain(kind: type[T], plain: Any, *, where: str = "the entry") -> T:
    """The frozen value that ``to_plain`` made these from.

    Raises
    ------
    ValueOutOfRange
        If something is missing, superfluous, of the wrong type, or the value refuses itself; says where.
    """
    return _read(kind, plain, where)  # type: ignore[no-any-return]


@cache
def _hints(kind: type) -> dict[str, Any]:
    return get_type_hints(kind)


def _read(kind: Any, plain: Any, where: str) -> Any:
    origin, inner = get_origin(kind), get_args(kind)
    if origin in (types.UnionType, Union):
        if plain is None and type(None) in inner:
            return None
        return _read(next(one for one in inner if one is not type(None)), plain, where)
    if origin is tuple or origin is frozenset:
        if not isinstance(plain, list | tuple):
            raise ValueOutOfRange(f"{where} should be a list.")
        if origin is frozenset:
            return frozenset(_read(inner[0], item, where) for item in plain)
        if len(inner) == 2 and inner[1] is Ellipsis:
            return tuple(_read(inner[0], item, f"{where}, item {n}") for n, item in enumerate(plain, start=1))
        if len(plain) != len(inner):
            raise ValueOutOfRange(f"{where} should have {len(inner)} items.")
        return tuple(_read(one, item, where) for one, item in zip(inner, plain, strict=True))
    if dataclasses.is_dataclass(kind):
        return _read_dataclass(kind, plain, where)
    if isinstance(kind, type) and issubclass(kind, Enum):
        try:
            return kind(plain)
        except ValueError:
            allowed = ", ".join(str(member.value) for member in kind)
            raise ValueOutOfRange(f'{where} is "{plain}"; it must be one of: {allowed}.') from None
    if kind is float and isinstance(plain, int) and not isinstance(plain, bool):
        return float(plain)
    if isinstance(plain, bool) is not (kind is bool) or not isinstance(plain, kind):
        raise ValueOutOfRange(f"{where} is {plain!r}; a {_WORDS.get(kind, kind.__name__)} is needed.")
    return plain


_WORDS = {str: "text", float: "number", int: "whole number", bool: "yes or no"}


def _read_dataclass(kind: Any, plain: Any, where: str) -> Any:
    if not isinstance(plain, dict):
        raise ValueOutOfRange(f"{where} should have named parts.")
    fields = {field.name: field for field in dataclasses.fields(kind)}
    strange = sorted(set(plain) - set(fields))
    if strange:
        raise ValueOutOfRange(f'{where} has an unknown part "{strange[0]}"; it has: {", ".join(fields) or "none"}.')
    values = {}
    for name, field in fields.items():
        if name in plain:
            values[name] = _read(_hints(kind)[name], plain[name], f"{where}, {name}")
        elif field.default is dataclasses.MISSING and field.default_factory is dataclasses.MISSING:
            raise ValueOutOfRange(f'{where} lacks "{name}".')
    return kind(**values)
