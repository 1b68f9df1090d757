"""Numbers in sentences: wherever a sentence is made, its numbers have the studio's decimal mark."""

from contextvars import ContextVar

DECIMAL_MARK: ContextVar[str] = ContextVar("decimal mark", default=".")
"""As the studio writes numbers. This and the unit below are all that ``core`` takes from around it: a face sets them
for each page and command, so that sentences agree wherever they are made; names, dates and files stay as they are."""
LENGTH_UNIT: ContextVar[str] = ContextVar("length unit", default="cm")
"""Of a size of paper that is typed without a unit, as the studio writes lengths: cm or inch."""


class Figure(float):
    """A number in a sentence: an f-string formats it as it would a float, with the studio's decimal mark.

    What programs read (JSON, CSV, drawings, keys) is formatted from plain numbers, and keeps its point.

    Examples
    --------
    >>> f"{Figure(2.5):g} CC"
    '2.5 CC'
    """

    def __format__(self, form: str) -> str:
        return super().__format__(form).replace(".", DECIMAL_MARK.get())

    def __str__(self) -> str:
        return f"{Figure(self):g}"
