"""What can go wrong, one class for each thing a caller would do differently.

Every message says what was wrong, where, and what to do about it.
"""


class PrintloreError(Exception):
    """Any error that Printlore raises on purpose."""


class ValueOutOfRange(PrintloreError, ValueError):
    """A number or choice cannot be: correct the entry and try again."""


class UnreadableFile(PrintloreError):
    """A file cannot be used as what it was given as: make it again, or choose another."""


class UnknownRecord(PrintloreError, KeyError):
    """A record of that name is not in the studio: list what there is, or add it."""

    def __str__(self) -> str:
        return str(self.args[0]) if self.args else ""


class Refused(PrintloreError):
    """The record as it stands does not allow this step (for example a run on a retired bath)."""


class ChangedMeanwhile(PrintloreError):
    """Somebody else changed the record since it was read: look at it again before writing."""


class StillWorking(PrintloreError):
    """The answer is being worked out and is not there yet: ask again in a moment."""


class StudioUnavailable(PrintloreError):
    """The studio cannot be opened or written (read-only, full, locked, made by a newer version)."""
