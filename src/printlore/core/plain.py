"""Frozen values to plain dictionaries and back, checked by their type hints: as they are kept, sent or handed over."""

import dataclasses
import difflib
import math
import numbers
import reprlib
import types
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from datetime import date
from enum import Enum
from functools import cache, wraps
from typing import Any, Literal, TypeVar, Union, get_args, get_origin, get_type_hints

from printlore.core.calendar import sensible
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


def fitted(kind: Any, value: Any, *, where: str) -> Any:
    """A value that a program hands over, as its type hint asks: lists and arrays as tuples, a word as its choice.

    Raises
    ------
    ValueOutOfRange
        If it is of another type; says which value, what it is and what is needed.
    """
    return _read(kind, value, where)


def fitted_parts(kind: type, parts: Mapping[str, Any], *, where: str) -> dict[str, Any]:
    """Some of a dataclass's fields by name, each ``fitted``. Raises ValueOutOfRange if it has no such field, too."""
    _refuse_strange(parts, [field.name for field in dataclasses.fields(kind)], where)
    return {name: _read(_hints(kind)[name], value, f"{where}, {name}") for name, value in parts.items()}


def says_what_fits(kind: type[T]) -> type[T]:
    """Let a dataclass that is made of values of other types than its hints ask for say so as one of our errors."""
    check: Callable[[T], None] = kind.__post_init__  # type: ignore[attr-defined]

    @wraps(check)
    def checked(self: T) -> None:
        try:
            check(self)
        except (AttributeError, TypeError, ValueError) as error:
            if isinstance(error, ValueOutOfRange):
                raise
            _read(kind, self, kind.__name__)
            raise

    kind.__post_init__ = checked  # type: ignore[attr-defined]
    return kind


@cache
def _hints(kind: type) -> dict[str, Any]:
    return get_type_hints(kind)


_WORDS: dict[Any, str] = {
    str: "text",
    bytes: "bytes",
    float: "a number",
    int: "a whole number",
    bool: "yes or no (True or False)",
}
_MANY = (tuple, list, frozenset, Sequence, Iterable)
_NUMBERS: dict[Any, Any] = {float: numbers.Real, int: numbers.Integral}
"""What passes for one: the scalars of arrays, too."""


def _read(kind: Any, plain: Any, where: str) -> Any:
    origin, inner = get_origin(kind), get_args(kind)
    if origin in (types.UnionType, Union):
        return _read_one_of(inner, plain, where)
    if origin is Literal:
        if plain not in inner:
            raise ValueOutOfRange(f"{where} is {_shown(plain)}; it must be one of: {', '.join(map(str, inner))}.")
        return plain
    if isinstance(origin, type) and issubclass(origin, Mapping):
        if not isinstance(plain, Mapping):
            raise ValueOutOfRange(f"{where} is {_shown(plain)}; {_called(kind)} is needed.")
        return {_read(inner[0], key, where): _read(inner[1], item, f"{where}, {key}") for key, item in plain.items()}
    if origin in _MANY:
        return _read_many(origin, inner, plain, where)
    kind = origin or kind
    if not isinstance(kind, type):
        return plain  # anything at all
    if dataclasses.is_dataclass(kind):
        return _read_dataclass(kind, plain, where)
    if issubclass(kind, Enum):
        try:
            return kind(plain)
        except ValueError:
            allowed = ", ".join(str(member.value) for member in kind)
            raise ValueOutOfRange(f'{where} is "{plain}"; it must be one of: {allowed}.') from None
    if kind in (float, int) and isinstance(plain, _NUMBERS[kind]) and not isinstance(plain, bool):
        return kind(plain)
    if isinstance(plain, bool) is not (kind is bool) or not isinstance(plain, kind):
        raise ValueOutOfRange(f"{where} is {_shown(plain)}; {_called(kind)} is needed.")
    return sensible(plain) if isinstance(plain, date) else plain


def _read_one_of(kinds: tuple[Any, ...], plain: Any, where: str) -> Any:
    """The first of several kinds that it can be."""
    if plain is None and type(None) in kinds:
        return None
    several = [one for one in kinds if one is not type(None)]
    own = type(plain) if type(plain) in several and dataclasses.is_dataclass(plain) else None
    if own is not None or len(several) == 1:
        return _read(own or several[0], plain, where)
    for one in several:
        with suppress(ValueOutOfRange):
            return _read(one, plain, where)
    needed = " or ".join(dict.fromkeys(_called(one) for one in several))
    raise ValueOutOfRange(f"{where} is {_shown(plain)}; {needed} is needed.")


def _read_many(origin: Any, inner: tuple[Any, ...], plain: Any, where: str) -> Any:
    sized = origin is tuple and not (len(inner) == 2 and inner[1] is Ellipsis)
    if hasattr(plain, "tolist"):
        plain = plain.tolist()
    if isinstance(plain, str | bytes | Mapping) or not isinstance(plain, Iterable):
        raise ValueOutOfRange(f"{where} should be a list{f' of {len(inner)}' if sized else ''}; it is {_shown(plain)}.")
    items = tuple(plain)
    if sized:
        if len(items) != len(inner):
            raise ValueOutOfRange(f"{where} should have {len(inner)} items; {len(items)} were given.")
        return tuple(_read(one, item, where) for one, item in zip(inner, items, strict=True))
    read = tuple(_read(inner[0], item, f"{where}, item {n}") for n, item in enumerate(items, start=1))
    return origin(read) if origin in (frozenset, list) else read


def _called(kind: Any) -> str:
    """What is needed, with its article."""
    origin = get_origin(kind) or kind
    if origin in _WORDS:
        return _WORDS[origin]
    if origin in _MANY:
        return "a list"
    word: str = getattr(kind, "__name__", str(kind))
    return f"{'an' if word[0] in 'AEIOUaeiou' else 'a'} {word}"


def _shown(value: Any) -> str:
    """Short, however large it is."""
    plain = value is None or isinstance(value, str | bytes | int | float | list | tuple | dict)
    return reprlib.repr(value) if plain else f"of the type {type(value).__name__}"


def _refuse_strange(given: Iterable[str], known: list[str], where: str) -> None:
    strange = sorted(set(given) - set(known))
    if strange:
        near = difflib.get_close_matches(strange[0], known, n=1)
        hint = f'near it is "{near[0]}".' if near else f"it has: {', '.join(known) or 'none'}."
        raise ValueOutOfRange(f'{where} has an unknown part "{strange[0]}"; {hint}')


def _read_dataclass(kind: Any, plain: Any, where: str) -> Any:
    fields = {field.name: field for field in dataclasses.fields(kind)}
    if isinstance(plain, kind):
        return _with_parts_fitted(plain, fields, where)
    if not isinstance(plain, Mapping):
        raise ValueOutOfRange(f"{where} should have named parts, as {_called(kind)} has; it is {_shown(plain)}.")
    _refuse_strange(plain, list(fields), where)
    values = {}
    for name, field in fields.items():
        if name in plain:
            values[name] = _read(_hints(kind)[name], plain[name], f"{where}, {name}")
        elif field.default is dataclasses.MISSING and field.default_factory is dataclasses.MISSING:
            raise ValueOutOfRange(f'{where} lacks "{name}".')
    return kind(**values)


def _with_parts_fitted(value: Any, fields: Mapping[str, Any], where: str) -> Any:
    there = {name: getattr(value, name) for name, field in fields.items() if field.init}
    hints = _hints(value.__class__)
    read = {name: _read(hints[name], part, f"{where}, {name}") for name, part in there.items()}
    changed = {name: part for name, part in read.items() if part is not there[name]}
    return dataclasses.replace(value, **changed) if changed else value
