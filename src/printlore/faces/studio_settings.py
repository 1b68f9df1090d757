"""What a studio is set up with, from Python, with the words of ``printlore studio``."""

from typing import Any, TypeVar

from printlore.core.figure import DECIMAL_MARK
from printlore.core.plain import fitted_parts
from printlore.faces.studio_calls import Room, checked
from printlore.records.studio import Costs, Preferences, Repeatability, Tolerances
from printlore.services.entry import change_settings, read_settings

S = TypeVar("S", Costs, Tolerances, Repeatability, Preferences)


class Settings(Room):
    """Costs, tolerances, repeats, ways of writing. What is not named stays; with nothing named, it is only shown."""

    @checked
    def costs(self, **changes: Any) -> Costs:
        """What things cost: ``minute``, ``sheet``, ``strip``, ``millilitre``, ``cycle_minutes`` [min]."""
        return self._set(Costs, changes)

    @checked
    def tolerances(self, **changes: Any) -> Tolerances:
        """How near is near enough: ``edition_delta_e``, ``good_alone_cc`` [CC], ``good_alone_time`` (share)."""
        return self._set(Tolerances, changes)

    @checked
    def repeats(self, **changes: Any) -> Repeatability:
        """How far prints made alike in separate drum loads scatter: ``alike_cc`` [CC], or None."""
        return self._set(Repeatability, changes)

    @checked
    def writing(self, **changes: Any) -> Preferences:
        """How lengths, numbers and money are written: ``length_unit``, ``decimal_mark``, ``currency``."""
        set_up = self._set(Preferences, changes)
        DECIMAL_MARK.set(set_up.decimal_mark)
        return set_up

    def _set(self, kind: type[S], changes: dict[str, Any]) -> S:
        if not changes:
            return read_settings(self.database, kind)
        return change_settings(self.database, kind, **fitted_parts(kind, changes, where=kind.word))
