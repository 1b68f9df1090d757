"""What each error means to a caller: one table for the page, the API and the exit status."""

from dataclasses import dataclass

from printlore.errors import (
    ChangedMeanwhile,
    PrintloreError,
    Refused,
    StillWorking,
    StudioUnavailable,
    UnknownRecord,
    UnreadableFile,
    ValueOutOfRange,
)
from printlore.files import why_not


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """An error as it is shown.

    Attributes
    ----------
    name : str
        For a machine.
    title : str
        For a person, a few words.
    detail : str
        What was wrong, where, and what to do.
    http_status, exit_status : int
    """

    name: str
    title: str
    detail: str
    http_status: int
    exit_status: int


_KINDS: tuple[tuple[type[PrintloreError], str, str, int, int], ...] = (
    (ValueOutOfRange, "value_out_of_range", "That entry cannot be", 422, 2),
    (UnreadableFile, "unreadable_file", "That file cannot be used", 422, 3),
    (UnknownRecord, "unknown_record", "Not in this studio", 404, 4),
    (Refused, "refused", "Not as things stand", 409, 5),
    (ChangedMeanwhile, "changed_meanwhile", "Changed in the meantime", 409, 6),
    (StudioUnavailable, "studio_unavailable", "The studio cannot be reached", 503, 7),
    (StillWorking, "still_working", "Still being worked out", 503, 8),
    (PrintloreError, "problem", "That did not work", 500, 1),
)


def refused_by_system(problem: OSError) -> UnreadableFile:
    """What the system refused and no part of the program had words for."""
    what = "The answer" if problem.filename is None else f'"{problem.filename}"'
    return UnreadableFile(f"{what} cannot be read or written: {why_not(problem)} What was recorded before is safe.")


def problem_of(error: PrintloreError) -> Problem:
    """The row for this error; a subclass nobody named falls to its nearest parent."""
    for kind, name, title, http_status, exit_status in _KINDS:
        if isinstance(error, kind):
            return Problem(name=name, title=title, detail=str(error), http_status=http_status, exit_status=exit_status)
    raise AssertionError("PrintloreError is the last row")
