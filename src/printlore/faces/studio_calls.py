"""How a call from Python reaches a service: each value as its type hint asks, or refused in words; then the service."""

import difflib
import inspect
from collections.abc import Callable
from functools import cache, wraps
from typing import Any, Concatenate, ParamSpec, Protocol, TypeVar, get_type_hints

from printlore.core.plain import fitted
from printlore.errors import ValueOutOfRange
from printlore.records.database import Database

P = ParamSpec("P")
R = TypeVar("R")


class HasRecord(Protocol):
    """A studio, or a part of one."""

    @property
    def database(self) -> Database: ...


class Room:
    """A part of a studio, with the words of the command of the same name."""

    def __init__(self, studio: HasRecord) -> None:
        self._studio = studio

    @property
    def database(self) -> Database:
        """The studio's record."""
        return self._studio.database


def checked(call: Callable[P, R]) -> Callable[P, R]:
    """A call that refuses, in words, what it has no name for and what is not of the type that its hints ask for."""
    signature = inspect.signature(call)

    @wraps(call)
    def answered(*given: P.args, **named: P.kwargs) -> R:
        try:
            asked = signature.bind(*given, **named)
        except TypeError as error:
            raise ValueOutOfRange(_why_not(signature, named, str(error))) from None
        for name, value in asked.arguments.items():
            hint = _hints(call).get(name)
            if hint is not None and signature.parameters[name].kind is not inspect.Parameter.VAR_KEYWORD:
                asked.arguments[name] = fitted(hint, value, where=name)
        return call(*asked.args, **asked.kwargs)

    return answered


def through(service: Callable[Concatenate[Database, P], R]) -> Callable[Concatenate[HasRecord, P], R]:
    """A method that is a service with the studio's record given to it, ``checked``."""
    sound = checked(service)

    @wraps(service)
    def call(room: HasRecord, /, *given: P.args, **named: P.kwargs) -> R:
        return sound(room.database, *given, **named)

    signature = inspect.signature(service)
    database, *rest = signature.parameters.values()
    of_room = [database.replace(name="self", annotation=database.empty), *rest]
    call.__signature__ = signature.replace(parameters=of_room)  # type: ignore[attr-defined]
    return call


@cache
def _hints(call: Callable[..., Any]) -> dict[str, Any]:
    return get_type_hints(call)


def _why_not(signature: inspect.Signature, named: dict[str, Any], error: str) -> str:
    known = [name for name in signature.parameters if name not in ("self", "cls", "db")]
    strange = [name for name in named if name not in known]
    if not strange:
        return f"This call cannot be: {error}. It takes {', '.join(known)}."
    near = difflib.get_close_matches(strange[0], known, n=1)
    return f'There is no "{strange[0]}" here. ' + (
        f'Near it: "{near[0]}".' if near else f"It takes {', '.join(known)}."
    )
