"""From a colour negative to a neutral, repeatable optical print, with the fewest strips, sheets and millilitres."""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from printlore.faces.studio import (
        AdviceReport,
        BathState,
        Box,
        Cast,
        CsvMapping,
        Exposed,
        FilterPack,
        Judgement,
        Part,
        PieceOrder,
        Setting,
        Sheet,
        Studio,
        ToneEntry,
        Trimmer,
        Wanted,
        Wedge,
        at_day,
    )

__version__ = "0.1.0"

__all__ = [
    "AdviceReport",
    "BathState",
    "Box",
    "Cast",
    "CsvMapping",
    "Exposed",
    "FilterPack",
    "Judgement",
    "Part",
    "PieceOrder",
    "Setting",
    "Sheet",
    "Studio",
    "ToneEntry",
    "Trimmer",
    "Wanted",
    "Wedge",
    "at_day",
]


def __getattr__(name: str) -> Any:
    """Public names, looked up when first used: importing ``printlore.core`` must not load the database."""
    if name in __all__:
        return getattr(import_module("printlore.faces.studio"), name)
    raise AttributeError(f"module 'printlore' has no attribute {name!r}")
