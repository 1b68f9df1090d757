"""Values as plain JSON: the same form from the command line and from the HTTP API."""

import dataclasses
import datetime
import math
from collections.abc import Mapping
from enum import Enum
from pathlib import PurePath

from printlore.core.flags import Flag

Plain = None | bool | int | float | str | list["Plain"] | dict[str, "Plain"]


def plain(value: object) -> Plain:
    """Dataclasses become objects, sequences and arrays lists, dates ISO 8601; a flag brings its words.

    A number that is not finite becomes null, since JSON has none.
    """
    if isinstance(value, Flag):
        return {"flag": value.value, "words": value.words}
    if isinstance(value, Enum):
        return plain(value.value)
    if value is None or isinstance(value, bool | int | str):
        return value
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {field.name: plain(getattr(value, field.name)) for field in dataclasses.fields(value)}
    if isinstance(value, datetime.date | datetime.time):
        return value.isoformat()
    if isinstance(value, PurePath):
        return str(value)
    if isinstance(value, Mapping):
        return {str(plain(key)): plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple | set | frozenset):
        return [plain(item) for item in value]
    if hasattr(value, "tolist"):
        return plain(value.tolist())
    return str(value)
